"""Driving plan: steam, cutoff and speed along the line, as arrays made by the habit of the crew.

The kernel reads the arrays alone and knows no habit. `HABITS` is the one place where habits are defined.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from locosim.constants import GRAVITY
from locosim.frozen import frozen
from locosim.journey.setup.mesh import SAME_CHAINAGE
from locosim.model import Crew
from locosim.model.assumptions import Assumptions
from locosim.physics.types import Floats


@frozen(eq=False)
class DrivingPlan:
    """Limits the engineer works within in each step.

    Attributes:
        steam_share: Most steam drawn over the sustained evaporation, shape (n,) [1].
        max_cutoff: Longest cutoff used, shape (n,) [1].
        target_energy: Highest v²/2 aimed at, at the nodes, never above what is allowed, shape (n + 1,) [J/kg].
    """

    steam_share: Floats
    max_cutoff: Floats
    target_energy: Floats


@frozen(eq=False)
class LineAhead:
    """The line as a habit sees it.

    Attributes:
        nodes: Chainages of the nodes, shape (n + 1,) [m].
        grade: Mean grade under the train in each step, shape (n,) [1].
        max_energy: Highest v²/2 allowed at the nodes, shape (n + 1,) [J/kg].
        stops: Chainages of the stops [m].
    """

    nodes: Floats
    grade: Floats
    max_energy: Floats
    stops: Sequence[float]


PlanRule = Callable[[LineAhead, Crew, Assumptions], Floats]


def full_steam(ahead: LineAhead, crew: Crew, assumptions: Assumptions) -> Floats:
    """Steam share of a crew that draws the allowed steam wherever the train may go faster."""
    return np.full(len(ahead.grade), crew.steam_allowance)


def steady_steam(ahead: LineAhead, crew: Crew, assumptions: Assumptions) -> Floats:
    """Steam share of a crew that draws the same moderate steam over the whole line."""
    return np.full(len(ahead.grade), assumptions.steady_steam_share * crew.steam_allowance)


def save_steam_before_climbs(ahead: LineAhead, crew: Crew, assumptions: Assumptions) -> Floats:
    """Steam share of a crew that saves steam before each long climb, and draws the allowed steam on it."""
    share = np.full(len(ahead.grade), crew.steam_allowance)
    for start, _ in climbs(ahead, assumptions):
        approach = (ahead.nodes[:-1] < start) & (ahead.nodes[1:] > start - assumptions.climb_approach)
        # No steam is saved on a climb within the approach of the next one.
        level = ahead.grade < assumptions.long_climb_grade
        share[approach & level] = assumptions.saving_steam_share * crew.steam_allowance
    return share


def follow_envelope(ahead: LineAhead, crew: Crew, assumptions: Assumptions) -> Floats:
    """Speed target that limits and stops allow."""
    return ahead.max_energy


def coast_to_stops(ahead: LineAhead, crew: Crew, assumptions: Assumptions) -> Floats:
    """Speed target lowered before each stop, so that the train coasts to where it brakes.

    It leaves the braking curve at a given share of the kinetic energy the train ran at, and rises backward from
    there by what coasting and the grade take off; a slower train pulls until it meets it.

    Returns:
        Highest v²/2 aimed at, at the nodes, shape (n + 1,) [J/kg].
    """
    target = ahead.max_energy.copy()
    length = np.diff(ahead.nodes)
    lost = np.maximum(
        assumptions.coasting_deceleration + GRAVITY * ahead.grade, assumptions.min_coasting_deceleration
    )
    before = ahead.stops[0]
    for stop in ahead.stops[1:]:
        first, last = (int(np.searchsorted(ahead.nodes, at - SAME_CHAINAGE)) for at in (before, stop))
        running_energy = float(np.max(ahead.max_energy[first:last]))
        low = assumptions.braking_energy_share * running_energy
        i = first + int(np.flatnonzero(ahead.max_energy[first : last + 1] >= low)[-1])
        # Braking begins between two nodes, at the same chainage with any step.
        distance_to_braking = (
            length[i] * (ahead.max_energy[i] - low) / (ahead.max_energy[i] - ahead.max_energy[i + 1])
        )
        energy = low + lost[i] * distance_to_braking
        while i > first and energy < ahead.max_energy[i]:
            target[i] = energy
            i -= 1
            energy += lost[i] * length[i]
        before = stop
    return target


@frozen
class Habit:
    """A way of driving: a rule for the steam and one for the speed."""

    steam_share: PlanRule
    target_energy: PlanRule = follow_envelope


HABITS = {
    "hold_speed_limit": Habit(steam_share=full_steam),
    "steady_steam": Habit(steam_share=steady_steam),
    "save_steam_before_climbs": Habit(steam_share=save_steam_before_climbs),
    "coast_to_stops": Habit(steam_share=full_steam, target_energy=coast_to_stops),
}


def climbs(ahead: LineAhead, assumptions: Assumptions) -> list[tuple[float, float]]:
    """Start and end of each long climb [m]."""
    steep = np.concatenate([[False], ahead.grade >= assumptions.long_climb_grade, [False]])
    starts, ends = np.flatnonzero(~steep[:-1] & steep[1:]), np.flatnonzero(steep[:-1] & ~steep[1:])
    spans = [(float(ahead.nodes[i]), float(ahead.nodes[j])) for i, j in zip(starts, ends, strict=True)]
    return [(start, end) for start, end in spans if end - start >= assumptions.long_climb_length]


def plan_driving(
    ahead: LineAhead, crew: Crew, full_gear_cutoff: float, assumptions: Assumptions
) -> DrivingPlan:
    """Make the driving plan of a crew.

    Args:
        ahead: The line ahead.
        crew: The crew, with its habit and limits.
        full_gear_cutoff: Longest cutoff of the valve gear [1].
        assumptions: Figures of the habits.
    """
    longest = full_gear_cutoff if crew.max_cutoff is None else min(crew.max_cutoff, full_gear_cutoff)
    max_cutoff = np.full(len(ahead.grade), longest)
    for stop in ahead.stops:
        # Starting needs full gear, whatever the cutoff used under way.
        first, last = np.searchsorted(
            ahead.nodes[:-1], [stop - SAME_CHAINAGE, stop + assumptions.starting_distance]
        )
        max_cutoff[first:last] = full_gear_cutoff
    habit = HABITS[crew.habit]
    return DrivingPlan(
        steam_share=habit.steam_share(ahead, crew, assumptions),
        max_cutoff=max_cutoff,
        target_energy=habit.target_energy(ahead, crew, assumptions),
    )
