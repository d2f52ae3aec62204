"""Effort of an engine that starts from rest: at the worst crank angle, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trials

from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.cylinders.starting import standing_torques, starting_effort
from locosim.model import Auxiliaries
from locosim.physics.cylinder import design_rules


def test_the_worst_angle_is_where_the_torque_is_least() -> None:
    made = trials.locomotive()
    layout = build_cycle_layout(made)
    (torque,) = standing_torques(layout)
    found = starting_effort(layout, 1e5)
    assert found.mean == 1e5
    assert not found.live_steam
    assert found.worst == pytest.approx(np.min(torque.effort))
    assert found.worst_ratio == found.worst / 1e5
    (angle,) = found.worst_angles
    assert torque.effort[np.argmin(np.abs(torque.angle - angle))] == found.worst
    # One cylinder alone after the other has cut off at 83 %: a crank past it stands at sin(arccos(1 - 2 x 0.83)) of the
    # other's full lever; pressure on the piston, less the atmosphere on the other side. The rod adds a tenth or so.
    unit = made.engine_units[0]
    bore, stroke, wheel = unit.cylinders[0].bore, unit.cylinders[0].stroke, unit.driver_diameter
    cutoff = layout.max_cutoff
    lever = abs(math.cos(math.acos(1.0 - 2.0 * cutoff)))
    expected = made.boiler.working_pressure_gauge * 0.25 * math.pi * bore**2 * lever * stroke / wheel
    assert found.worst == pytest.approx(expected, rel=0.15)
    assert found.worst < 0.85 * np.mean(torque.effort)


def test_two_units_may_both_stand_at_their_worst() -> None:
    one = starting_effort(build_cycle_layout(trials.locomotive()), 1e5)
    two = starting_effort(build_cycle_layout(trials.locomotive(units=2)), 2e5)
    assert two.worst == pytest.approx(2.0 * one.worst, rel=1e-6)
    assert len(two.worst_angles) == 2


def test_auxiliaries_leave_the_cylinders_half_of_the_steam_at_least() -> None:
    usual = build_cycle_layout(trials.locomotive())
    own = trials.locomotive().auxiliaries.continuous_demand
    limit = usual.design_steam_rate + own
    hungry = build_cycle_layout(trials.locomotive(auxiliaries=Auxiliaries(train_heat=0.9 * limit)))
    assert hungry.design_steam_rate == pytest.approx(0.5 * limit)


def test_the_steam_passage_follows_the_pistons_that_take_boiler_steam() -> None:
    # 1.24 % of the area of the pistons, which was fitted (docs/theory/cylinder-cycle.md)
    made = trials.locomotive()
    (group,) = build_cycle_layout(made).groups
    bore = made.engine_units[0].cylinders[0].bore
    assert group.passage == pytest.approx(0.0124 * 2 * 0.25 * math.pi * bore**2)


def test_a_short_lap_leaks_more_than_a_long_one() -> None:
    # fitted once: 1.08e-4 of the piston area from a lap of 0.058 of the stroke up, 2.65 times that from 0.040 down
    rates = [
        design_rules.leakage_area_ratio(lap=lap * 0.65, stroke=0.65)
        for lap in (0.07, 0.058, 0.049, 0.040, 0.03)
    ]
    assert rates == pytest.approx(
        [1.08e-4, 1.08e-4, 1.08e-4 * math.sqrt(2.65), 1.08e-4 * 2.65, 1.08e-4 * 2.65]
    )
