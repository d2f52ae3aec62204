"""Runs for the tests of rules, each computed once, and the same runs under other limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import Any

import trials

from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.model import Crew, Criteria, Curve, Excursion, Stop
from locosim.planning.finding import Finding
from locosim.planning.trial_runs import TrialRuns, compute_trial_runs

Rule = Callable[[Journey], list[Finding]]

HILLS = ((2500.0, 0.0), (4000.0, 0.009), (1500.0, 0.0), (3500.0, -0.012), (3000.0, 0.001))


def hill_route(**changes: Any) -> Any:
    bends = (Curve(start=4100.0, end=4500.0, radius=400.0), Curve(start=9000.0, end=9400.0, radius=310.0))
    return trials.line(HILLS, stops=(8000.0,), curves=bends, **changes)


def hills(**changes: Any) -> Excursion:
    """Over a hill with one stop beyond it."""
    return trials.excursion(hill_route(), **changes)


def boilered(excursion: Excursion) -> Excursion:
    """The same with the dimensions of the water space given."""
    engine = excursion.locomotive
    boiler = replace(
        engine.boiler,
        shell_inside_diameter=1.62,
        water_space_length=7.4,
        crown_sheet_length=2.3,
        crown_sheet_height=1.12,
    )
    return replace(excursion, locomotive=replace(engine, boiler=boiler))


@lru_cache(maxsize=32)
def run(excursion: Excursion, live: bool = True) -> Journey:
    return run_journey(excursion, trials.performance(excursion), transient_boiler=live)


@lru_cache(maxsize=32)
def trial_runs(excursion: Excursion) -> TrialRuns:
    return compute_trial_runs(excursion, trials.performance(excursion))


def under(journey: Journey, **criteria: Any) -> Journey:
    """The same run with other limits; none that the driving depends on."""
    excursion = journey.excursion
    changed = replace(excursion.criteria, **criteria)
    return replace(journey, excursion=replace(excursion, criteria=changed))


def one(judge: Rule, journey: Journey, **which: Any) -> Finding:
    """The one finding of a rule, or the one with the given fields."""
    found = [f for f in judge(journey) if all(getattr(f, k) == v for k, v in which.items())]
    assert len(found) == 1, found
    return found[0]


__all__ = ["Crew", "Criteria", "Stop", "boilered", "hill_route", "hills", "one", "run", "trial_runs", "under"]
