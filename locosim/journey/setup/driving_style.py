"""How the crew runs, as arrays along the line: steam it draws, cutoff it allows, speed it keeps.

A habit is a function that makes these arrays; nothing of it is in the kernel.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from locosim.constants import GRAVITY
from locosim.journey.setup.mesh import SAME_CHAINAGE
from locosim.model import Crew
from locosim.physics.types import Floats

SAVING_STEAM_SHARE = (
    0.80  # share of sustained steam drawn where the boiler is saved; common practice, no source
)
STEADY_STEAM_SHARE = (
    0.85  # share drawn over the whole line by a crew that steams evenly; common practice, no source
)
CLIMB_APPROACH = 3000.0  # distance before a long climb over which the boiler is filled and fired up [m]
MIN_LONG_CLIMB = 1000.0  # rise that lasts less far is taken in the run [m]
STEEP_GRADE = 0.004  # grade from which a climb counts as one [1]
STARTING_DISTANCE = 100.0  # over which the gear is let down when starting [m]; common practice, no source
COASTING_DECELERATION = 0.03  # of a train shut off on the level [m/s²]; common practice, no source
MIN_DRIFTING_DECELERATION = (
    0.005  # on a fall the driver still sheds speed, by touches of the brake [m/s²]; our own choice
)
BRAKING_ENERGY_SHARE = (
    0.36  # of v²/2 at which coasting ends and braking begins: 0.6 of the speed; common practice, no source
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrivingPlan:
    """What the driver does in each step.

    Attributes:
        steam_share: Steam drawn at most over what the boiler sustains, shape (n,) [1].
        max_cutoff: Longest cutoff used, shape (n,) [1].
        target_energy: Greatest v²/2 aimed at, at the nodes, never above what is allowed, shape (n + 1,) [J/kg].
    """

    steam_share: Floats
    max_cutoff: Floats
    target_energy: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineAhead:
    """What a habit sees of the line ahead.

    Attributes:
        nodes: Chainages of the nodes, shape (n + 1,) [m].
        grade: Mean grade under the train in each step, shape (n,) [1].
        max_energy: Greatest v²/2 at the nodes, shape (n + 1,) [J/kg].
        stops: Chainages of the stops [m].
    """

    nodes: Floats
    grade: Floats
    max_energy: Floats
    stops: Sequence[float]


def hold_speed_limit(ahead: LineAhead, crew: Crew) -> Floats:
    """Draw what is allowed whenever the line lets the train go faster."""
    return np.full(len(ahead.grade), crew.steam_allowance)


def steady_steam(ahead: LineAhead, crew: Crew) -> Floats:
    """Draw the same moderate steam over the whole line."""
    return np.full(len(ahead.grade), STEADY_STEAM_SHARE * crew.steam_allowance)


def save_steam_before_climbs(ahead: LineAhead, crew: Crew) -> Floats:
    """Save steam on the approach to each long climb, and draw what is allowed on it."""
    share = np.full(len(ahead.grade), crew.steam_allowance)
    for start, _ in climbs(ahead):
        approach = (ahead.nodes[:-1] < start) & (ahead.nodes[1:] > start - CLIMB_APPROACH)
        # A climb within the approach of the next one keeps its steam.
        level = ahead.grade < STEEP_GRADE
        share[approach & level] = SAVING_STEAM_SHARE * crew.steam_allowance
    return share


def coast_to_stops(ahead: LineAhead, crew: Crew) -> Floats:
    """Lower the speed aimed at before each stop, so that the train rolls down to where it brakes.

    The aim leaves the braking curve where the train has shed down to 0.6 of the speed it ran at, and rises
    backwards from there by what rolling and the grade take; a train that is slower goes on pulling until it
    meets it.

    Args:
        ahead: The line ahead.
        crew: Not used.

    Returns:
        Greatest v²/2 aimed at, at the nodes, shape (n + 1,) [J/kg].
    """
    max_energy = ahead.max_energy.copy()
    run = np.diff(ahead.nodes)
    shed = np.maximum(COASTING_DECELERATION + GRAVITY * ahead.grade, MIN_DRIFTING_DECELERATION)
    before = ahead.stops[0]
    for stop in ahead.stops[1:]:
        first, last = (int(np.searchsorted(ahead.nodes, place - SAME_CHAINAGE)) for place in (before, stop))
        running_energy = float(np.max(ahead.max_energy[first:last]))
        low = BRAKING_ENERGY_SHARE * running_energy
        i = first + int(np.flatnonzero(ahead.max_energy[first : last + 1] >= low)[-1])
        # Braking begins between two nodes, at the same place whatever the step.
        distance_to_braking = (
            run[i] * (ahead.max_energy[i] - low) / (ahead.max_energy[i] - ahead.max_energy[i + 1])
        )
        energy = low + shed[i] * distance_to_braking
        while i > first and energy < ahead.max_energy[i]:
            max_energy[i] = energy
            i -= 1
            energy += shed[i] * run[i]
        before = stop
    return max_energy


def follow_envelope(ahead: LineAhead, crew: Crew) -> Floats:
    """Aim at what limits and stops allow."""
    return ahead.max_energy


HABITS: dict[str, Callable[[LineAhead, Crew], Floats]] = {
    "hold_speed_limit": hold_speed_limit,
    "steady_steam": steady_steam,
    "save_steam_before_climbs": save_steam_before_climbs,
    "coast_to_stops": hold_speed_limit,
}
SPEED_TARGETS: dict[str, Callable[[LineAhead, Crew], Floats]] = {"coast_to_stops": coast_to_stops}


def climbs(ahead: LineAhead) -> list[tuple[float, float]]:
    """Start and end of each long climb [m]."""
    found = []
    start: float | None = None
    for i, grade in enumerate(ahead.grade):
        if grade >= STEEP_GRADE and start is None:
            start = float(ahead.nodes[i])
        if start is not None and (grade < STEEP_GRADE or i == len(ahead.grade) - 1):
            end = float(ahead.nodes[i] if grade < STEEP_GRADE else ahead.nodes[i + 1])
            if end - start >= MIN_LONG_CLIMB:
                found.append((start, end))
            start = None
    return found


def plan_driving(ahead: LineAhead, crew: Crew, full_gear_cutoff: float) -> DrivingPlan:
    """Turn the crew's habit into arrays.

    Args:
        ahead: The line ahead.
        crew: Whose habit it is.
        full_gear_cutoff: Longest cutoff of the gear [1].
    """
    most = np.full(
        len(ahead.grade),
        full_gear_cutoff if crew.max_cutoff is None else min(crew.max_cutoff, full_gear_cutoff),
    )
    for stop in ahead.stops:
        # Starting takes full gear whatever the driver keeps to under way.
        most[(ahead.nodes[:-1] >= stop - SAME_CHAINAGE) & (ahead.nodes[:-1] < stop + STARTING_DISTANCE)] = (
            full_gear_cutoff
        )
    return DrivingPlan(
        steam_share=HABITS[crew.habit](ahead, crew),
        max_cutoff=most,
        target_energy=SPEED_TARGETS.get(crew.habit, follow_envelope)(ahead, crew),
    )
