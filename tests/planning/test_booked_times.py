"""Timetables: least times, sharing of the recovery, and laws over random plans, each returned to the check."""

from __future__ import annotations

import itertools
import os
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from plans import plan

from locosim.errors import NoSolution, OutOfRange
from locosim.model import Excursion
from locosim.planning.check import run_and_check
from locosim.planning.recovery import least_fuel_shares, shared_evenly
from locosim.planning.timetable import Timetable, TimetableRequest
from locosim.planning.timetable_search import compute_timetable
from locosim.scenario import load_excursion

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios" / "excursions"
# LOCOSIM_PLANS=300 pytest tests/planning/test_booked_times.py tries more.
PLANS = int(os.environ.get("LOCOSIM_PLANS", "25"))
STEP = 30.0


@cache
def summit_express() -> Timetable:
    return compute_timetable(load_excursion(SCENARIOS / "summit_express.toml"))


def verdict_on_time(excursion: Excursion) -> set[str]:
    """Verdicts of the rule on time."""
    return {finding.verdict for finding in run_and_check(excursion).findings if finding.rule == "time"}


def earlier(excursion: Excursion, number: int) -> Excursion:
    """The excursion with the times from a stop on booked a step earlier."""
    stops = [
        replace(
            stop,
            arrive=stop.arrive - STEP if stop.arrive is not None and place >= number else stop.arrive,
            depart=stop.depart - STEP if stop.depart is not None and place >= number else stop.depart,
        )
        for place, stop in enumerate(excursion.stops)
    ]
    return replace(excursion, stops=tuple(stops))


@pytest.mark.parametrize("seed", range(PLANS))
def test_the_check_keeps_the_times_and_more_recovery_never_costs_more_fuel(seed: int) -> None:
    made = plan(seed)
    found = [
        compute_timetable(made, TimetableRequest(recovery=share, step=STEP)) for share in (0.0, 0.06, 0.15)
    ]
    fuel = [each.fuel for each in found]
    assert fuel == sorted(fuel, reverse=True)
    for each in found:
        assert each.recovery >= each.wanted
        assert each.latest_arrival <= 0.0
        assert verdict_on_time(each.excursion) == {"clear"}
        assert each.fuel <= each.fuel_evenly
        assert all(stop.earliest <= stop.latest + STEP for stop in each.stops if stop.latest is not None)


@pytest.mark.parametrize("seed", range(PLANS))
def test_the_check_refuses_every_least_time_a_step_less(seed: int) -> None:
    least = compute_timetable(plan(seed), TimetableRequest(recovery=0.0, step=STEP))
    for number, section in enumerate(least.sections, start=1):
        assert section.late_if_tighter > 0.0
        assert "stop" in verdict_on_time(earlier(least.excursion, number))


def test_least_fuel_shares_are_those_of_brute_force() -> None:
    draw = np.random.default_rng(7)
    for _ in range(100):
        sections, steps = int(draw.integers(1, 5)), int(draw.integers(0, 7))
        fuel = np.cumsum(draw.uniform(-3.0, 0.5, size=(sections, steps + 1)), axis=1)
        shares = least_fuel_shares(fuel, steps, (0,) * sections)
        ways = itertools.product(range(steps + 1), repeat=sections)
        best = min(sum(fuel[i, k] for i, k in enumerate(way)) for way in ways if sum(way) == steps)
        assert sum(shares) == steps
        assert sum(fuel[i, k] for i, k in enumerate(shares)) == pytest.approx(best, abs=1e-3)


def test_shares_that_make_no_difference_stay_near_those_wished() -> None:
    assert least_fuel_shares(np.full((3, 7), 50.0), 6, (1, 3, 2)) == (1, 3, 2)


def test_even_shares_follow_running_time() -> None:
    assert shared_evenly((600.0, 300.0, 100.0), 10) == (6, 3, 1)
    assert shared_evenly((600.0, 600.0), 3) == (2, 1)
    assert shared_evenly((600.0,), 0) == (0,)


def test_the_latest_departure_keeps_every_arrival_and_a_minute_later_does_not() -> None:
    made = summit_express()
    latest = made.stops[0].latest
    assert latest is not None
    strict = replace(made.excursion, criteria=replace(made.excursion.criteria, max_lateness=0.0))
    assert verdict_on_time(replace(strict, departure=latest)) == {"clear"}
    assert "stop" in verdict_on_time(replace(strict, departure=latest + 60.0))


def test_the_earliest_departures_are_those_of_full_effort_by_hand() -> None:
    # 09:00 and 33:13 of running and 15 minutes at Tarn Hollow, by the columns of the table itself.
    made = summit_express()
    first, second = made.stops[0], made.stops[1]
    assert first.earliest == made.excursion.departure
    assert second.earliest == pytest.approx(made.excursion.departure + made.sections[0].least + second.work)


def test_a_recovery_in_minutes_is_reached_and_not_passed_by_more_than_a_step() -> None:
    excursion = load_excursion(SCENARIOS / "spring_special.toml")
    made = compute_timetable(excursion, TimetableRequest(recovery_time=480.0))
    assert 480.0 <= made.recovery < 540.0


def test_an_excursion_that_does_not_arrive_has_no_timetable() -> None:
    with pytest.raises(NoSolution, match=r"does not reach Dunlarch \(out of water\); check the excursion"):
        compute_timetable(load_excursion(SCENARIOS / "winter_freight.toml"))


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"recovery": -0.01}, "recovery must be 0 to 50 %"),
        ({"recovery": float("nan")}, "recovery must be 0 to 50 %"),
        ({"recovery_time": -60.0}, "recovery must be 0 to 86400 s"),
        ({"step": 1.0}, "step must be 30 s to 3600 s"),
        ({"sharing": "evenly"}, "sharing must be one of least_fuel, even"),
    ],
)
def test_a_request_out_of_range_is_refused(changes: dict[str, object], match: str) -> None:
    with pytest.raises(OutOfRange, match=match):
        TimetableRequest(**changes)  # type: ignore[arg-type]
