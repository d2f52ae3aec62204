"""Driving chosen section by section: the everyday driving or a plan, each confirmed by a run of the whole."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field
from typing import NamedTuple

from locosim.frozen import frozen
from locosim.journey.least_fuel import PLANS
from locosim.journey.result import Journey
from locosim.journey.run import run_sections
from locosim.journey.timetable import TimetableDriving

EVERYDAY = 0  # number of the everyday driving among the drivings
# By which a slower plan is tried, over the axis of prices: the next plan, then parts of the way to it.
SLOWER = (1.0 / PLANS, 0.5 / PLANS, 0.25 / PLANS)
MAX_PASSES = 6  # over the sections; what a section burns depends a little on the others


class SectionChoice(NamedTuple):
    """How a section is driven.

    Attributes:
        driving: Number of the driving whose plans it uses; `EVERYDAY` for the everyday driving.
        ease: Ease of the plan, from 0 at the highest price of time to 1 at the lowest.
    """

    driving: int
    ease: float


Choices = tuple[SectionChoice, ...]


@frozen(eq=False)
class SectionRuns:
    """Runs of an excursion by the choices of its sections.

    Attributes:
        drivings: The everyday driving, then those with plans for the least fuel.
        made: Runs made so far.
    """

    drivings: Sequence[TimetableDriving]
    made: dict[Choices, Journey] = field(default_factory=dict)

    def whole(self, number: int) -> Choices:
        """The choices of a driving as it was found."""
        return tuple(SectionChoice(number, ease) for ease in self.drivings[number].ease)

    def run(self, choices: Choices) -> Journey:
        """Run the excursion with these choices, with the boiler."""
        if choices not in self.made:
            self.made[choices] = run_sections(
                self.drivings[EVERYDAY], [(self.drivings[number], ease) for number, ease in choices]
            )
        return self.made[choices]


def neighbors(choices: Choices) -> list[Choices]:
    """The choices with the next slower plan in one section, for each section with a plan that has one."""
    return [
        slower
        for number in range(len(choices))
        if (slower := _slower(choices, number, SLOWER[0])) is not None
    ]


def best_choices(runs: SectionRuns, start: Choices, better: Callable[[Journey, Journey], bool]) -> Choices:
    """Improve choices section by section, until no other driving and no slower plan of a section is better.

    Args:
        runs: Runs of the excursion.
        start: Choices to begin with.
        better: Whether the first of two runs may be chosen in place of the second.
    """
    best = start
    for _ in range(MAX_PASSES):
        before = best
        for number in range(len(best)):
            best = _best_driving(runs, best, number, better)
            best = _slowest(runs, best, number, better)
        if best == before:
            break
    return best


def _best_driving(
    runs: SectionRuns, choices: Choices, number: int, better: Callable[[Journey, Journey], bool]
) -> Choices:
    """The choices with the driving of one section that is better than that of the others."""
    best = choices
    for other in range(len(runs.drivings)):
        if other == choices[number].driving:
            continue
        tried = _with(best, number, SectionChoice(other, runs.drivings[other].ease[number]))
        if better(runs.run(tried), runs.run(best)):
            best = tried
    return best


def _slowest(
    runs: SectionRuns, choices: Choices, number: int, better: Callable[[Journey, Journey], bool]
) -> Choices:
    """The choices with ever slower plans in one section, as long as they are better."""
    best = choices
    for step in SLOWER:
        while True:
            tried = _slower(best, number, step)
            if tried is None or not better(runs.run(tried), runs.run(best)):
                break
            best = tried
    return best


def _slower(choices: Choices, number: int, step: float) -> Choices | None:
    """The choices with a slower plan in one section; None where there is none."""
    driving, ease = choices[number]
    if driving == EVERYDAY or not 0.0 < ease < 1.0:
        return None
    return _with(choices, number, SectionChoice(driving, min(ease + step, 1.0)))


def _with(choices: Choices, number: int, choice: SectionChoice) -> Choices:
    return (*choices[:number], choice, *choices[number + 1 :])
