"""Effort from rest to a few miles an hour: what a slow turn costs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import trials

from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.cylinders.operating_points import operating_points
from locosim.model import SteamPassages
from locosim.physics.types import Floats

TURNS = np.array([0.1, 0.2, 0.3, 0.5, 1.0])  # of the drivers each second; 0.1 stands for rest


def efforts(**passages: float) -> Floats:
    """Indicated effort in full gear over that of a turn in ten seconds."""
    engine = replace(trials.locomotive(), steam_passages=SteamPassages(**passages))
    layout = build_cycle_layout(engine)
    found = operating_points(
        layout,
        speeds=TURNS * math.pi * 1.57,
        cutoffs=layout.max_cutoff,
        pressures=engine.boiler.absolute_pressure,
    )
    return np.asarray(found.effort / found.effort[0])


def test_effort_hardly_rises_from_rest_and_then_falls() -> None:
    found = efforts()
    assert found.max() < 1.01
    assert np.all(np.diff(found[2:]) < 0.0)


def test_the_rise_is_leakage_into_the_closed_ends() -> None:
    """In a slow turn more steam leaks past the valve into the ends that compress; without leakage nearly none."""
    tight, usual, worn = (efforts(leakage_area_ratio=ratio).max() - 1.0 for ratio in (1e-9, 1e-4, 3e-4))
    assert tight < 0.002
    assert tight <= usual < worn < 0.02
