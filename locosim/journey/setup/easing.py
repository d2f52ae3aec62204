"""Eased driving: one family of ways to drive, from full effort to the least steam a timetable can ask for.

Driving with the least energy is known to consist of power, hold, coast, brake. One number, the ease, runs through the
family: as it grows, the train shuts off earlier before stops, limits and falling grades, and holds a lower speed. It
draws at most a steam rate that goes by what the train needs to be on time. Ease 0 stands for full effort.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from locosim.frozen import frozen
from locosim.journey.kernel.arrays import InitialState, Line
from locosim.journey.kernel.coasting import coasting_curve
from locosim.journey.setup.prepare import PreparedRun
from locosim.physics.resistance.starting import BREAKAWAY_SPEED
from locosim.physics.types import Floats

# All are our own choices, made by the fuel of the demonstration runs; fuel is flat around each.
HABIT_EASE = 0.15  # ease from which the habit of the crew counts in full: a crew short of time drops it
BRAKING_SPEED_RATIO = 1.5  # speed by which braking begins, over the speed held
LEAST_COASTING_RATIO = 1.1  # speed by which a train is let coast, over that at which it has broken away
LEAST_HOLD_RATIO = 0.3  # speed held at ease 1, over the highest allowed


class LeastSteam(NamedTuple):
    """Least steam rate with which a section is run in its time, and what the search for it has shown.

    Attributes:
        rate: The rate [kg/s]; 0 if unknown.
        gain: Running time that twice the steam would save near it [s]; 0 if unknown.
    """

    rate: float
    gain: float


class SectionDriving(NamedTuple):
    """How a section is driven to its booked time, and what the search for it has shown.

    Attributes:
        ease: 0 for full effort, up to 1 [1].
        made_up: Lateness of the run with the boiler that is made up for [s].
        steam: Least steam of the section.
        slowing: Running time that more ease takes, near this one [s]; 0 if unknown.
    """

    ease: float
    made_up: float
    steam: LeastSteam
    slowing: float

    def sooner(self, time: float, *, quick: bool) -> SectionDriving:
        """The driving from which to search for one that makes up for lateness.

        Args:
            time: The lateness [s].
            quick: Take the ease that is likely to arrive so much sooner, not the one that was late, and read the
                steam off.
        """
        less = time / self.slowing if quick and self.slowing > 0.0 else 0.0
        return self._replace(
            ease=max(self.ease - less, 0.0),
            made_up=self.made_up + time,
            steam=self.steam if quick else self.steam._replace(gain=0.0),
        )


@frozen(eq=False)
class Section:
    """Part of a run from one booked stop to the next, as the family of drivings needs it.

    Attributes:
        first: Node of the stop it begins at.
        last: Node of the stop it ends at.
        line: Its line at full effort.
        contents: Water and fuel carried on arrival at its first stop [kg].
        habit_share: Steam share by the habit of the crew, over the steam allowance, shape (n,) [1].
        below_highest: By how much that share is below its highest, over the highest, shape (n,) [1].
        habit_energy: v²/2 aimed at by the habit, shape (n + 1,) [J/kg].
        max_share: Highest steam share of the family at any ease above 0 [1].
        hold_speeds: Speed held at ease 0 and at ease 1 [m/s].
        at_speed: First step and step after the last of each stretch where the train does not coast or hold a lower
            speed, whatever the ease: climbs that it would lose, and what comes before them.
    """

    first: int
    last: int
    line: Line
    contents: float
    habit_share: Floats
    below_highest: Floats
    habit_energy: Floats
    max_share: float
    hold_speeds: tuple[float, float]
    at_speed: tuple[tuple[int, int], ...] = ()


def build_section(prepared: PreparedRun, first: int, last: int, start: InitialState) -> Section:
    """Build the section between two nodes that are stops.

    Args:
        prepared: The run, with the plan of the habit.
        first: Node of the first stop.
        last: Node of the last stop.
        start: State on arrival at the first stop.
    """
    allowance = prepared.excursion.crew.steam_allowance
    whole = prepared.line._replace(
        envelope=prepared.max_energy,
        shutoff=prepared.max_energy,
        steam_share=np.full(len(prepared.line.grade), allowance),
    )
    habit_share = prepared.line.steam_share[first:last] / allowance
    contents = start.tender_water + start.tender_fuel
    ceiling = math.sqrt(2.0 * float(np.max(prepared.max_energy[first : last + 1])))
    return Section(
        first=first,
        last=last,
        line=line_between(whole, first, last),
        contents=contents,
        habit_share=habit_share,
        below_highest=1.0 - habit_share / float(np.max(habit_share)),
        habit_energy=prepared.line.envelope[first : last + 1],
        max_share=allowance,
        hold_speeds=_hold_speeds(prepared, contents, ceiling),
    )


def line_between(line: Line, first: int, last: int) -> Line:
    """The line between two nodes."""
    ends = {len(line.distance): last + 1, len(line.grade): last}
    parts = {
        name: values[first : ends[len(values)]] if len(values) in ends else values
        for name, values in line._asdict().items()
    }
    return Line(**parts)


def eased_line(prepared: PreparedRun, section: Section, ease: float) -> Line:
    """The line of a section as a driver with an ease runs over it.

    Args:
        prepared: The run.
        section: The section.
        ease: 0 for full effort, up to 1 [1].
    """
    if ease <= 0.0:
        return section.line
    fast, slow = section.hold_speeds
    hold = fast * (slow / fast) ** ease
    braking = braking_speed(prepared, section.contents, BRAKING_SPEED_RATIO * hold)
    shutoff = np.empty(len(section.line.distance))
    coasting_curve(section.line, prepared.load, prepared.engine, section.contents, 0.5 * braking**2, shutoff)
    habit = min(ease / HABIT_EASE, 1.0)
    envelope = section.line.envelope
    np.minimum(shutoff, 0.5 * hold**2, out=shutoff)
    np.minimum(shutoff, envelope + habit * (section.habit_energy - envelope), out=shutoff)
    steam = np.minimum(section.line.steam_share, section.max_share)
    share = np.minimum(
        steam * (1.0 - habit * section.below_highest),
        section.line.steam_share * (1.0 - habit * (1.0 - section.habit_share)),
    )
    for first_step, after in section.at_speed:
        shutoff[first_step : after + 1] = envelope[first_step : after + 1]
        share[first_step:after] = steam[first_step:after]
    return section.line._replace(shutoff=shutoff, steam_share=share)


def braking_speed(prepared: PreparedRun, contents: float, hold: float) -> float:
    """Speed at which braking for a stop begins, of the driving with least energy that holds a speed [m/s].

    With resistance r at a speed v, it is ψ(V)/φ'(V) where φ = v r and ψ = v² r': so far the train coasts. It is not
    below the speed at which a train has broken away: shut off below it, a train that a falling grade would take along
    creeps on.

    Args:
        prepared: The run.
        contents: Water and fuel carried [kg].
        hold: Speed held, V [m/s].
    """
    load = prepared.load
    air_speed = hold + load.wind
    slope = load.b + load.b_contents * contents + 2.0 * load.c * abs(air_speed)
    force = (
        load.a + load.a_contents * contents + prepared.engine.friction + load.c * air_speed * abs(air_speed)
    )
    force += (load.b + load.b_contents * contents) * hold
    speed = hold * hold * slope / max(force + hold * slope, 1.0)
    return max(speed, LEAST_COASTING_RATIO * BREAKAWAY_SPEED)


def _hold_speeds(prepared: PreparedRun, contents: float, ceiling: float) -> tuple[float, float]:
    """Speeds held at ease 0, where the train does not coast before it brakes, and at ease 1 [m/s]."""
    fast = ceiling
    while braking_speed(prepared, contents, BRAKING_SPEED_RATIO * fast) < ceiling and fast < 8.0 * ceiling:
        fast *= 1.1
    slow = max(LEAST_HOLD_RATIO * ceiling, prepared.excursion.min_climbing_speed)
    return fast, min(slow, ceiling)
