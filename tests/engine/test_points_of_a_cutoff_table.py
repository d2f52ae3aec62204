"""Figures of a point of the cutoff table, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import trials

from locosim.engine.cutoff_table import (
    CutoffPoint,
    _unreachable_effort,
    cutoff_table,
    default_cutoffs,
    group_by_throttle,
    locomotive_valve_events,
    options_for_effort,
    valve_events_at,
)
from locosim.engine.performance import compute_performance
from locosim.errors import OutOfRange

HANDBOOK = compute_performance(trials.locomotive(), method="handbook")
POINT = CutoffPoint(
    speed=10.0, throttle=1.0, cutoff=0.3, indicated_effort=5e4, rim_effort=4.8e4, steam=2.0, fuel=0.3,
    back_pressure=3e4, steam_share=0.8,
)  # fmt: skip


def test_work_and_fuel_of_a_point() -> None:
    assert POINT.indicated_power == 5e5
    assert POINT.steam_per_work == 2.0 / 5e5
    assert POINT.fuel_per_distance == 0.03
    still = replace(POINT, speed=0.0)
    assert (still.indicated_power, still.steam_per_work, still.fuel_per_distance) == (0.0, math.inf, math.inf)
    assert replace(POINT, indicated_effort=-1.0).steam_per_work == math.inf
    slow = replace(POINT, speed=0.5, indicated_effort=1.0)  # half a watt
    assert (slow.steam_per_work, slow.fuel_per_distance) == (4.0, 0.6)
    eased = replace(POINT, throttle=0.5)
    later = replace(POINT, cutoff=0.4)
    assert group_by_throttle([POINT, eased, later]) == [[POINT, later], [eased]]


def test_cutoffs_are_every_five_per_cent_with_both_ends() -> None:
    first, last = float(HANDBOOK.map.cutoffs[0]), float(HANDBOOK.map.cutoffs[-1])
    found = default_cutoffs(HANDBOOK)
    assert (found[0], found[-1]) == (first, last)
    inner = [round(100 * cutoff, 9) for cutoff in found[1:-1]]
    assert inner == [n for n in range(5, 100, 5) if first < n / 100 - 1e-9 and n / 100 + 1e-9 < last]


def test_a_point_of_the_handbook_is_read_from_the_map() -> None:
    pressure = HANDBOOK.locomotive.boiler.absolute_pressure
    (point,) = cutoff_table(HANDBOOK, speed=10.0, cutoffs=(0.4,))
    at = {"speed": 10.0, "cutoff": 0.4, "pressure": pressure}
    assert point.indicated_effort == HANDBOOK.map.effort_at(**at)
    assert point.steam == HANDBOOK.map.steam_at(**at)
    assert point.back_pressure == HANDBOOK.map.back_pressure_at(**at)
    assert point.rim_effort == HANDBOOK.map.rim_effort(point.indicated_effort)
    total = point.steam + HANDBOOK.locomotive.auxiliaries.continuous_demand
    assert point.steam_share == pytest.approx(total / HANDBOOK.supply.sustained)
    assert point.fuel == HANDBOOK.supply.firing_rate_for(total)
    assert (point.throttle, point.events, point.chest_pressure) == (1.0, None, None)
    with pytest.raises(OutOfRange, match=r"throttle opening of 50 % needs method = 'cycle'"):
        cutoff_table(HANDBOOK, speed=10.0, cutoffs=(0.4,), throttle=0.5)
    for effort in (0.0, -1.0):
        with pytest.raises(OutOfRange, match="effort must be above") as fault:
            options_for_effort(HANDBOOK, speed=10.0, effort=effort)
        assert fault.value.faults[0].figures == {"least": 0.0, "found": effort}
    with pytest.raises(OutOfRange, match="the shortest cutoff gives"):
        options_for_effort(HANDBOOK, speed=10.0, effort=0.5)
    chosen = options_for_effort(HANDBOOK, speed=10.0, effort=point.rim_effort)
    assert chosen.most_economical.cutoff == pytest.approx(0.4, abs=1e-3)
    assert chosen.points == (chosen.most_economical,)


def test_events_are_means_of_both_ends() -> None:
    assert valve_events_at(HANDBOOK, 0.5) is None
    found = locomotive_valve_events(HANDBOOK.locomotive, 0.5)
    assert found is not None
    assert found.cutoff == pytest.approx(0.5)
    assert found.admission < 0.05
    assert 0.5 < found.release < 1.0
    assert 0.0 < found.compression < 0.5
    # a long-travel piston valve: line and line, so the exhaust opens and closes at the same place of the stroke
    assert found.release == pytest.approx(1.0 - found.compression, abs=1e-9)
    stroke = HANDBOOK.locomotive.engine_units[0].cylinders[0].stroke
    assert found.lead == pytest.approx(0.0095 * stroke)
    assert 0.0 < (found.opening or 0.0) <= 0.07 * stroke
    assert (locomotive_valve_events(HANDBOOK.locomotive, 0.8) or found).opening == pytest.approx(
        0.07 * stroke
    )
    assert locomotive_valve_events(HANDBOOK.locomotive, 0.02) is None


def test_an_effort_that_no_opening_gives_names_the_nearest() -> None:
    tried = [(1.0, 4e4), (0.5, 2e4), (0.25, 9e4)]
    text = str(_unreachable_effort(tried, 5e4, 10.0))
    assert "with the throttle open 100 %" in text
    assert "shortest cutoff gives" in text
    assert "with the throttle open 25 %" in text
    assert "50 %" not in text
    weak = str(_unreachable_effort([(1.0, -3.0)], 5e4, 10.0))
    assert "the most is nothing over machine friction with the throttle open 100 %" in weak
    assert "shortest" not in weak
    strong = str(_unreachable_effort([(0.5, 9e4), (1.0, 8e4)], 5e4, 10.0))
    assert "the most" not in strong
    assert "with the throttle open 100 %" in strong
