"""Harmonic valve gear: displacement of the valve, events at both ends of the cylinder, port openings.

Any radial gear moves its valve nearly as x = (lap + lead) cos a + B sin a, with a the crank angle from the
dead center of the end looked at: the first term comes from the crosshead and never changes, the second from
the link and grows with the gear the engine is in. x is counted from mid position towards opening that end.
Real gears differ by a degree or two through their own rods; nothing of that is modelled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from locosim.compiled import compiled
from locosim.errors import OutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveEvents:
    """When the valve opens and closes for one end; piston places as fractions of the stroke from that end.

    Attributes:
        admission_angle: Crank angle at which the steam port opens, negative before dead center [rad].
        cutoff_angle: Crank angle at which it closes [rad].
        release_angle: Crank angle at which the exhaust opens [rad].
        compression_angle: Crank angle at which it closes, past a half turn [rad].
        admission: Fraction of the stroke still to go to this end when the steam port opens [1].
        cutoff: Fraction of the stroke gone when it closes [1].
        release: Fraction of the stroke gone when the exhaust opens [1].
        compression: Fraction of the stroke still to go to this end when the exhaust closes [1].
        steam_opening: Greatest opening of the steam port, not cut by the port width [m].
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
    """Displacement of the valve from mid position, towards opening this end to steam.

    Args:
        angle: Crank angle from this end's dead center [rad].
        lap_and_lead: Sum of steam lap and lead [m].
        link_amplitude: The gear's second amplitude B, from `link_amplitude` [m].

    Returns:
        Displacement [m].
    """
    return lap_and_lead * math.cos(angle) + link_amplitude * math.sin(angle)


def mid_gear_cutoff(*, lap: float, lead: float) -> float:
    """Cutoff in mid gear, where the valve moves by lap and lead alone.

    Args:
        lap: Steam lap [m].
        lead: Lead [m].

    Returns:
        Fraction of the stroke, mean of both ends [1].
    """
    return lead / (2.0 * (lap + lead))


def full_gear_cutoff(*, lap: float, lead: float, travel: float) -> float:
    """Longest cutoff the travel allows.

    Args:
        lap: Steam lap [m].
        lead: Lead [m].
        travel: Travel of the valve in full gear, more than twice lap and lead [m].

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
    """Amplitude B of the gear's second term, for a wanted cutoff.

    At the same crank angle from its own dead center the two ends have used fractions of the stroke which the
    rod's obliquity shifts by equal amounts up and down; so the mean cutoff of both ends is that of an endless
    rod, and the amplitude is exact: B = (lap - (lap + lead) cos a) / sin a at cos a = 1 - 2 cutoff.

    Args:
        cutoff: Wanted cutoff, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead [m].

    Returns:
        Amplitude [m].

    Raises:
        OutOfRange: Shorter than mid gear gives, or not below 1.
    """
    shortest = mid_gear_cutoff(lap=lap, lead=lead)
    if not shortest <= cutoff < 1.0:
        raise OutOfRange(
            f"cutoff {cutoff:.4g} cannot be set; this gear gives {shortest:.4g} in mid gear and more below it"
        )
    cosine = 1.0 - 2.0 * cutoff
    return (lap - (lap + lead) * cosine) / math.sqrt(1.0 - cosine * cosine)


def valve_travel(*, cutoff: float, lap: float, lead: float) -> float:
    """Travel of the valve at a cutoff.

    Args:
        cutoff: Cutoff, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead [m].

    Returns:
        Travel, twice the half travel [m].
    """
    return 2.0 * math.hypot(lap + lead, link_amplitude(cutoff=cutoff, lap=lap, lead=lead))


def valve_events(
    *, cutoff: float, lap: float, lead: float, exhaust_lap: float, rod_ratio: float
) -> tuple[ValveEvents, ValveEvents]:
    """Events at both ends of the cylinder.

    Args:
        cutoff: Cutoff set, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead [m].
        exhaust_lap: Exhaust lap, negative for exhaust clearance [m].
        rod_ratio: Length of the connecting rod over the crank radius [1].

    Returns:
        Events at the front end, the one away from the crank, and at the back end.

    Raises:
        OutOfRange: The gear cannot give this cutoff.
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
    """Opening of the same port to exhaust.

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
            f"exhaust lap {exhaust_lap:.4g} m exceeds the half travel of {half_travel:.4g} m; "
            "write a smaller one"
        )
    max_travel_angle = math.atan2(second, lap + lead)  # crank angle at which the valve stands furthest out
    steam_open = math.acos(lap / half_travel)
    exhaust_open = math.acos(exhaust_lap / half_travel)
    return (
        max_travel_angle - steam_open,
        max_travel_angle + steam_open,
        max_travel_angle + math.pi - exhaust_open,
        max_travel_angle + math.pi + exhaust_open,
    )


def _events(angles: tuple[float, ...], places: list[float], opening: float) -> ValveEvents:
    return ValveEvents(
        admission_angle=angles[0],
        cutoff_angle=angles[1],
        release_angle=angles[2],
        compression_angle=angles[3],
        admission=places[0],
        cutoff=places[1],
        release=places[2],
        compression=places[3],
        steam_opening=opening,
    )
