"""How the crew runs, as arrays along the line: steam it draws, cutoff it allows, speed it keeps.

A habit is a function that makes these arrays; nothing of it is in the kernel.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from locosim.constants import GRAVITY
from locosim.journey.setup.mesh import SAME_PLACE
from locosim.model import Crew
from locosim.physics.types import Floats

SAVING = 0.80  # share of sustained steam drawn where the boiler is saved; common practice, no source
EVEN = 0.85  # share drawn all the way by a crew that steams evenly; common practice, no source
SUMMIT_APPROACH = 3000.0  # distance before a long climb over which the boiler is filled and fired up [m]
LONG_CLIMB = 1000.0  # rise that lasts less far is taken in the run [m]
STEEP = 0.004  # grade from which a climb counts as one [1]
STARTING_LENGTH = 100.0  # over which the gear is let down when starting [m]; common practice, no source
COASTING_DECELERATION = 0.03  # of a train shut off on the level [m/s²]; common practice, no source
LEAST_SHED = 0.005  # on a fall the driver still sheds speed, by touches of the brake [m/s²]; our own choice
BRAKE_FROM = (
    0.36  # of v²/2 at which coasting ends and braking begins: 0.6 of the speed; common practice, no source
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Driving:
    """What the driver does in each step.

    Attributes:
        steam_share: Steam drawn at most over what the boiler sustains, shape (n,) [1].
        cutoff_most: Longest cutoff used, shape (n,) [1].
        aim: Greatest v²/2 aimed at, at the nodes, never above what is allowed, shape (n + 1,) [J/kg].
    """

    steam_share: Floats
    cutoff_most: Floats
    aim: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """What a habit sees of the line ahead.

    Attributes:
        nodes: Chainages of the nodes, shape (n + 1,) [m].
        grade: Mean grade under the train in each step, shape (n,) [1].
        top: Greatest v²/2 at the nodes, shape (n + 1,) [J/kg].
        stops: Chainages of the stops [m].
    """

    nodes: Floats
    grade: Floats
    top: Floats
    stops: Sequence[float]


def hold_line_speed(way: Way, crew: Crew) -> Floats:
    """Draw what is allowed whenever the line lets the train go faster."""
    return np.full(len(way.grade), crew.steam_allowance)


def steady_steam(way: Way, crew: Crew) -> Floats:
    """Draw the same moderate steam all the way."""
    return np.full(len(way.grade), EVEN * crew.steam_allowance)


def nurse_the_boiler(way: Way, crew: Crew) -> Floats:
    """Save steam on the approach to each long climb, and draw what is allowed on it."""
    share = np.full(len(way.grade), crew.steam_allowance)
    for start, _ in climbs(way):
        approach = (way.nodes[:-1] < start) & (way.nodes[1:] > start - SUMMIT_APPROACH)
        # A climb within the approach of the next one keeps its steam.
        level = way.grade < STEEP
        share[approach & level] = SAVING * crew.steam_allowance
    return share


def coast_to_stops(way: Way, crew: Crew) -> Floats:
    """Lower the speed aimed at before each stop, so that the train rolls down to where it brakes.

    The aim leaves the braking curve where the train has shed down to 0.6 of the speed it ran at, and rises
    backwards from there by what rolling and the grade take; a train that is slower goes on pulling until it
    meets it.

    Args:
        way: The line ahead.
        crew: Not used.

    Returns:
        Greatest v²/2 aimed at, at the nodes, shape (n + 1,) [J/kg].
    """
    top = way.top.copy()
    run = np.diff(way.nodes)
    shed = np.maximum(COASTING_DECELERATION + GRAVITY * way.grade, LEAST_SHED)
    before = way.stops[0]
    for stop in way.stops[1:]:
        first, last = (int(np.searchsorted(way.nodes, place - SAME_PLACE)) for place in (before, stop))
        ran_at = float(np.max(way.top[first:last]))
        low = BRAKE_FROM * ran_at
        i = first + int(np.flatnonzero(way.top[first : last + 1] >= low)[-1])
        # Braking begins between two nodes, at the same place whatever the step.
        way_left = run[i] * (way.top[i] - low) / (way.top[i] - way.top[i + 1])
        energy = low + shed[i] * way_left
        while i > first and energy < way.top[i]:
            top[i] = energy
            i -= 1
            energy += shed[i] * run[i]
        before = stop
    return top


def no_aim(way: Way, crew: Crew) -> Floats:
    """Aim at what limits and stops allow."""
    return way.top


HABITS: dict[str, Callable[[Way, Crew], Floats]] = {
    "hold_line_speed": hold_line_speed,
    "steady_steam": steady_steam,
    "nurse_the_boiler": nurse_the_boiler,
    "coast_to_stops": hold_line_speed,
}
AIMS: dict[str, Callable[[Way, Crew], Floats]] = {"coast_to_stops": coast_to_stops}


def climbs(way: Way) -> list[tuple[float, float]]:
    """Start and end of each long climb [m]."""
    found = []
    start: float | None = None
    for i, grade in enumerate(way.grade):
        if grade >= STEEP and start is None:
            start = float(way.nodes[i])
        if start is not None and (grade < STEEP or i == len(way.grade) - 1):
            end = float(way.nodes[i] if grade < STEEP else way.nodes[i + 1])
            if end - start >= LONG_CLIMB:
                found.append((start, end))
            start = None
    return found


def drive(way: Way, crew: Crew, longest: float) -> Driving:
    """Turn the crew's habit into arrays.

    Args:
        way: The line ahead.
        crew: Whose habit it is.
        longest: Longest cutoff of the gear [1].
    """
    most = np.full(
        len(way.grade), longest if crew.cutoff_greatest is None else min(crew.cutoff_greatest, longest)
    )
    for stop in way.stops:
        # Starting takes full gear whatever the driver keeps to under way.
        most[(way.nodes[:-1] >= stop - SAME_PLACE) & (way.nodes[:-1] < stop + STARTING_LENGTH)] = longest
    return Driving(
        steam_share=HABITS[crew.habit](way, crew),
        cutoff_most=most,
        aim=AIMS.get(crew.habit, no_aim)(way, crew),
    )
