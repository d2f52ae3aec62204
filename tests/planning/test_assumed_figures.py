"""Assumed figures of the rules: a changed one changes the findings."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import trials
from judged import boilered, hills, run

from locosim.model import Crew
from locosim.model.assumptions import Assumptions
from locosim.planning.check import BOOKED_RULES, FULL_EFFORT_RULES
from locosim.planning.rules import boiler, braking, stall, traction

CREEPING = trials.excursion(trials.line([(8000.0, 0.010)]), crew=Crew(steam_allowance=0.25))
LONG_FALL = trials.excursion(
    trials.line([(3000.0, 0.0), (4000.0, 0.018), (6000.0, -0.018)], speed_limit=12.0)
)
# A light train started on the grade gains 0.02 m/s² or more all the way.
GAINING = trials.excursion(
    trials.line([(2500.0, 0.006)], speed_limit=30.0), made_of=trials.train(trials.coaches(2))
)
# A train that creep speed decides on: the steam allowed starts it at 1 m/s, but not at 20 m/s.
SHORT_OF_STEAM = trials.excursion(
    trials.line([(3000.0, 0.0), (3000.0, 0.014)], stops=(3400.0,), speed_limit=20.0), rail="wet"
)


@pytest.mark.parametrize(
    ("rule", "excursion", "assumed"),
    [
        (braking.descending, hills(made_of=trials.train(trials.coaches(braking_ratio=0.2))),
         {"low_running_resistance": 0.002}),
        (braking.descending, hills(), {"min_descent_grade": 0.013}),
        (braking.descending, hills(), {"min_descent_length": 4000.0}),
        (traction.climbing, hills(), {"min_climb_grade": 0.010}),
        (traction.climbing, hills(), {"min_climb_length": 3999.0 + 500.0}),
        (traction.climbing, GAINING, {"creep_acceleration": 0.2}),
        (traction.climbing, CREEPING, {"acceleration_distance": 4000.0}),
        (stall.stalling, SHORT_OF_STEAM, {"creep_speed": 20.0}),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)  # fmt: skip
def test_a_changed_figure_changes_the_finding(rule: Any, excursion: Any, assumed: dict[str, float]) -> None:
    assert rule in (stall.stalling, *FULL_EFFORT_RULES, *BOOKED_RULES)
    journey = run(excursion, live=False)
    before = rule(journey)
    changed = replace(excursion, assumptions=Assumptions(**assumed))
    after = rule(replace(journey, excursion=changed))
    assert before or after
    assert [(f.value, f.limit, f.because) for f in after] != [(f.value, f.limit, f.because) for f in before]


def test_the_time_below_the_glass_is_the_limit_of_its_rule() -> None:
    shape = {"water_space_length": 16.0, "shell_inside_diameter": 1.7}
    long = boilered(LONG_FALL)
    engine = replace(long.locomotive, boiler=replace(long.locomotive.boiler, **shape))
    journey = run(replace(long, locomotive=engine))
    (found,) = boiler.water_glass(journey)
    assert (found.limit, found.verdict) == (60.0, "stop")
    patient = replace(journey.excursion, assumptions=Assumptions(max_time_below_glass=600.0))
    (found,) = boiler.water_glass(replace(journey, excursion=patient))
    assert (found.limit, found.verdict) == (600.0, "clear")
