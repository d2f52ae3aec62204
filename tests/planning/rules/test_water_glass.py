"""Rule of the water glass: time with the water out of sight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.model import Locomotive
from locosim.planning.rules.boiler import water_glass

LINE = trials.line([(3000.0, 0.0), (4000.0, 0.018), (6000.0, -0.018)], speed_limit=12.0)


def engine(length: float) -> Locomotive:
    made = trials.locomotive()
    shape = {
        "water_space_length": length,
        "shell_inside_diameter": 1.7,
        "crown_sheet_length": 2.2,
        "crown_sheet_height": 1.2,
    }
    return replace(made, boiler=replace(made.boiler, **shape))


def run(length: float) -> Journey:
    asked = trials.excursion(LINE, engine=engine(length))
    return run_journey(asked, trials.performance(asked), transient_boiler=True)


def test_a_long_boiler_loses_sight_of_the_water_on_a_long_descent() -> None:
    journey = run(16.0)
    found = water_glass(journey)
    assert [finding.verdict for finding in found] == ["stop"]
    assert found[0].value > 60.0
    assert found[0].margin < 0
    # On the descent, where the backhead is highest.
    assert found[0].chainage is not None
    assert found[0].chainage > 7500.0
    # At the foot the train brakes, which lowers the water further: that is left to the other rule.
    assert 0.0 < found[0].facts["lowest"][0] < -float(np.min(journey.glass_reading))
    steady = np.abs(np.diff(journey.speed**2) / np.diff(journey.chainage)) < 1e-3
    assert found[0].facts["lowest"][0] == pytest.approx(
        -float(np.min(journey.glass_reading[steady])), abs=0.005
    )


def test_a_short_boiler_keeps_it_in_sight() -> None:
    journey = run(4.0)
    assert np.min(journey.glass_reading[journey.brake == 0.0]) > 0.0
    assert all(finding.verdict == "clear" for finding in water_glass(journey))


def test_without_boiler_dimensions_there_is_no_finding() -> None:
    asked = trials.excursion(LINE)
    assert water_glass(run_journey(asked, trials.performance(asked), transient_boiler=True)) == []
