"""Harmonic valve gear: displacement of the valve, events at both ends of the cylinder, port openings.

A radial gear moves its valve approximately as x = (lap + lead) cos a + B sin a, with a the crank angle from the dead
center of the end in question. The first term comes from the crosshead and is constant; the second comes from the link
and grows toward full gear. x is measured from mid position, positive toward opening that end to steam. The rods of a
real gear shift events by a degree or two, which is not modeled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from locosim.compiled import compiled
from locosim.errors import OutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveEvents:
    """Valve events at one end: crank angles, and piston positions as fractions of the stroke.

    Attributes:
        admission_angle: Crank angle at which the steam port opens, negative before dead center [rad].
        cutoff_angle: Crank angle at which the steam port closes [rad].
        release_angle: Crank angle at which the exhaust opens [rad].
        compression_angle: Crank angle at which the exhaust closes, past half a revolution [rad].
        admission: Fraction of the return stroke remaining when the steam port opens [1].
        cutoff: Fraction of the stroke completed when the steam port closes [1].
        release: Fraction of the stroke completed when the exhaust opens [1].
        compression: Fraction of the return stroke remaining when the exhaust closes [1].
        steam_opening: Maximum opening of the steam port, not limited by the port width [m].
    """

    admission_angle: float
    cutoff_angle: float
    release_angle: float
    compression_angle: float
    admission: float
    cutoff: float
    release: float
    compression: float
    steam_opening: float


@compiled
def piston_position(angle: float, rod_ratio: float) -> float:
    """Fraction of the stroke between the piston and the front dead center.

    Args:
        angle: Crank angle from the front dead center [rad].
        rod_ratio: Length of the connecting rod over the crank radius, above 1 [1].

    Returns:
        Fraction, 0 at the front and 1 at the back dead center [1].
    """
    sine = math.sin(angle)
    obliquity = sine * sine / (rod_ratio + math.sqrt(rod_ratio * rod_ratio - sine * sine))
    return 0.5 * (1.0 - math.cos(angle) + obliquity)


@compiled
def valve_displacement(angle: float, lap_and_lead: float, link_amplitude: float) -> float:
    """Displacement of the valve from mid position, positive toward opening this end to steam.

    Args:
        angle: Crank angle from this end's dead center [rad].
        lap_and_lead: Sum of steam lap and lead [m].
        link_amplitude: Second amplitude B of the gear, from `link_amplitude` [m].

    Returns:
        Displacement [m].
    """
    return lap_and_lead * math.cos(angle) + link_amplitude * math.sin(angle)


def mid_gear_cutoff(*, lap: float, lead: float) -> float:
    """Cutoff in mid gear, where the valve moves by lap and lead only.

    Args:
        lap: Steam lap [m].
        lead: Lead [m].

    Returns:
        Fraction of the stroke, mean of both ends [1].
    """
    return lead / (2.0 * (lap + lead))


def full_gear_cutoff(*, lap: float, lead: float, travel: float) -> float:
    """Longest cutoff that the valve travel allows.

    Args:
        lap: Steam lap [m].
        lead: Lead [m].
        travel: Valve travel in full gear, more than twice the sum of lap and lead [m].

    Returns:
        Fraction of the stroke, mean of both ends [1].

    Raises:
        OutOfRange: The travel does not open the port.
    """
    half = travel / 2.0
    if half <= lap + lead:
        raise OutOfRange(
            f"valve travel {travel:.6g} m does not open the port; write more than {2 * (lap + lead):.6g} m"
        )
    angle = math.acos((lap + lead) / half) + math.acos(lap / half)
    return 0.5 * (1.0 - math.cos(angle))


def link_amplitude(*, cutoff: float, lap: float, lead: float) -> float:
    """Amplitude B of the second term of the valve motion, for a given cutoff.

    At equal crank angles from their dead centers, the obliquity of the connecting rod shifts the piston positions of
    the two ends by equal and opposite amounts. So the mean cutoff of both ends is that of an infinite rod, and the
    amplitude is exact: B = (lap - (lap + lead) cos a) / sin a at cos a = 1 - 2 cutoff.

    Args:
        cutoff: Cutoff, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead [m].

    Returns:
        Amplitude [m].

    Raises:
        OutOfRange: A cutoff shorter than that of mid gear, or not below 1.
    """
    min_cutoff = mid_gear_cutoff(lap=lap, lead=lead)
    if not min_cutoff <= cutoff < 1.0:
        raise OutOfRange(
            f"cutoff {cutoff:.4g} cannot be set; write {min_cutoff:.4g}, the cutoff of this gear in mid gear, or more"
        )
    cosine = 1.0 - 2.0 * cutoff
    return (lap - (lap + lead) * cosine) / math.sqrt(1.0 - cosine * cosine)


def valve_travel(*, cutoff: float, lap: float, lead: float) -> float:
    """Valve travel at a cutoff.

    Args:
        cutoff: Cutoff, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead [m].

    Returns:
        Travel [m].
    """
    return 2.0 * math.hypot(lap + lead, link_amplitude(cutoff=cutoff, lap=lap, lead=lead))


def valve_events(
    *, cutoff: float, lap: float, lead: float, exhaust_lap: float, rod_ratio: float
) -> tuple[ValveEvents, ValveEvents]:
    """Valve events at both ends of the cylinder.

    Args:
        cutoff: Cutoff set, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead [m].
        exhaust_lap: Exhaust lap, negative for exhaust clearance [m].
        rod_ratio: Length of the connecting rod over the crank radius [1].

    Returns:
        Events at the front end, away from the crank, and at the back end.

    Raises:
        OutOfRange: A cutoff that the gear cannot give, or an exhaust lap above the half travel.
    """
    angles = _event_angles(cutoff=cutoff, lap=lap, lead=lead, exhaust_lap=exhaust_lap)
    opening = valve_travel(cutoff=cutoff, lap=lap, lead=lead) / 2.0 - lap
    front = [piston_position(angle, rod_ratio) for angle in angles]
    back = [1.0 - piston_position(angle + math.pi, rod_ratio) for angle in angles]
    return _events(angles, front, opening), _events(angles, back, opening)


@compiled
def steam_opening(displacement: float, lap: float, port_width: float) -> float:
    """Opening of the steam port.

    Args:
        displacement: Valve displacement, from `valve_displacement` [m].
        lap: Steam lap [m].
        port_width: Width of the port in the direction of travel [m].

    Returns:
        Opening, at most the width of the port [m].
    """
    return min(max(displacement - lap, 0.0), port_width)


@compiled
def exhaust_opening(displacement: float, exhaust_lap: float, port_width: float) -> float:
    """Opening of the port to exhaust.

    Args:
        displacement: Valve displacement, from `valve_displacement` [m].
        exhaust_lap: Exhaust lap, negative for exhaust clearance [m].
        port_width: Width of the port in the direction of travel [m].

    Returns:
        Opening, at most the width of the port [m].
    """
    return min(max(-displacement - exhaust_lap, 0.0), port_width)


def _event_angles(
    *, cutoff: float, lap: float, lead: float, exhaust_lap: float
) -> tuple[float, float, float, float]:
    second = link_amplitude(cutoff=cutoff, lap=lap, lead=lead)
    half_travel = math.hypot(lap + lead, second)
    if abs(exhaust_lap) >= half_travel:
        raise OutOfRange(
            f"exhaust lap {exhaust_lap:.4g} m is more than the half travel of {half_travel:.4g} m; write a smaller one"
        )
    max_travel_angle = math.atan2(
        second, lap + lead
    )  # crank angle at which the valve is at the end of its travel
    steam_open = math.acos(lap / half_travel)
    exhaust_open = math.acos(exhaust_lap / half_travel)
    return (
        max_travel_angle - steam_open,
        max_travel_angle + steam_open,
        max_travel_angle + math.pi - exhaust_open,
        max_travel_angle + math.pi + exhaust_open,
    )


def _events(angles: tuple[float, ...], positions: list[float], opening: float) -> ValveEvents:
    return ValveEvents(
        admission_angle=angles[0],
        cutoff_angle=angles[1],
        release_angle=angles[2],
        compression_angle=angles[3],
        admission=positions[0],
        cutoff=positions[1],
        release=positions[2],
        compression=positions[3],
        steam_opening=opening,
    )
