"""Harmonic valve gear: displacement of the valve, events at both ends of the cylinder, port openings.

A radial gear moves its valve approximately as x = (lap + lead) cos a + B sin a, with a the crank angle from the dead
center of the end in question. The first term comes from the crosshead and is constant; the second comes from the link
and grows toward full gear. x is measured from mid position, positive toward opening that end to steam. The rods of a
real gear shift events by a degree or two, which is not modeled.

A shifting link (Stephenson) has both terms from eccentrics, and its lead grows from full gear to mid gear. By Zeuner's
analysis the first term falls as a parabola of the second: lead(B) = lead + rise (1 - (B/B_full)^2), where rise is the
lead in mid gear less that in full gear. With rise 0 the lead is constant, as in a Walschaerts gear.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_inline, in_python
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.physics.types import Floats


class ValveMotion(NamedTuple):
    """Motion of the valves of one end at one cutoff, as the cylinder cycle uses it.

    A sliding valve has the two amplitudes of its harmonic gear. Poppet valves have opening and closing angles, the same
    at both ends; their lift angle is above 0, that of a sliding valve is 0.

    Attributes:
        lap_and_lead: Sum of steam lap and lead at this cutoff [m].
        link_amplitude: Second amplitude of the gear, which sets the cutoff [m].
        admission_angle: Crank angle at which a steam poppet valve opens, negative before dead center [rad].
        cutoff_angle: Crank angle at which it closes [rad].
        release_angle: Crank angle at which an exhaust poppet valve opens [rad].
        compression_angle: Crank angle at which it closes [rad].
        steam_area: Flow area of the steam poppet valves of one end at full lift [m2].
        exhaust_area: Flow area of the exhaust poppet valves of one end at full lift [m2].
        lift_angle: Crank angle in which a poppet valve reaches full lift [rad].
    """

    lap_and_lead: float
    link_amplitude: float
    admission_angle: float = 0.0
    cutoff_angle: float = 0.0
    release_angle: float = 0.0
    compression_angle: float = 0.0
    steam_area: float = 0.0
    exhaust_area: float = 0.0
    lift_angle: float = 0.0


@compiled_inline
def valve_motion_from_row(row: Floats) -> ValveMotion:
    """The valve motion from a row of numbers, the form the parallel loop needs."""
    return ValveMotion(row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8])


@frozen
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
        steam_opening: Maximum opening of the steam port, not limited by the port width; NaN for poppet valves [m].
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


@compiled_inline
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


@compiled_inline
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


def mid_gear_cutoff(*, lap: float, lead: float, lead_rise: float = 0.0) -> float:
    """Cutoff in mid gear, where the valve moves by lap and lead only.

    Args:
        lap: Steam lap [m].
        lead: Lead in full gear [m].
        lead_rise: Lead in mid gear less that in full gear [m].

    Returns:
        Fraction of the stroke, mean of both ends [1].
    """
    mid_gear_lead = lead + lead_rise
    return mid_gear_lead / (2.0 * (lap + mid_gear_lead))


def full_gear_cutoff(*, lap: float, lead: float, travel: float) -> float:
    """Longest cutoff that the valve travel allows.

    Args:
        lap: Steam lap [m].
        lead: Lead in full gear [m].
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


def lead_at(*, link_amplitude: float, lap: float, lead: float, lead_rise: float, travel: float) -> float:
    """Lead of a gear whose lead grows as it is hooked up.

    Args:
        link_amplitude: Second amplitude B of the gear [m].
        lap: Steam lap [m].
        lead: Lead in full gear [m].
        lead_rise: Lead in mid gear less that in full gear [m].
        travel: Valve travel in full gear; used only where the lead varies [m].

    Returns:
        Lead [m].

    References:
        [Zeuner1866], valve circles of a shifting link lie on a parabola; from memory.
    """
    if lead_rise == 0.0:
        return lead
    return lead + lead_rise * (1.0 - link_amplitude**2 / _full_gear_amplitude_squared(lap, lead, travel))


def _full_gear_amplitude_squared(lap: float, lead: float, travel: float) -> float:
    """Square of the second amplitude in full gear [m2]."""
    return 0.25 * travel**2 - (lap + lead) ** 2


def link_amplitude(
    *, cutoff: float, lap: float, lead: float, lead_rise: float = 0.0, travel: float = 0.0
) -> float:
    """Amplitude B of the second term of the valve motion, for a given cutoff.

    At equal crank angles from their dead centers, the obliquity of the connecting rod shifts the piston positions of
    the two ends by equal and opposite amounts. So the mean cutoff of both ends is that of an infinite rod, and the
    amplitude is exact: B = (lap - (lap + lead) cos a) / sin a at cos a = 1 - 2 cutoff. Where the lead varies with B,
    that is a quadratic equation in B.

    Args:
        cutoff: Cutoff, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead in full gear [m].
        lead_rise: Lead in mid gear less that in full gear [m].
        travel: Valve travel in full gear; used only where the lead varies [m].

    Returns:
        Amplitude [m].

    Raises:
        OutOfRange: A cutoff shorter than that of mid gear, or not below 1.
    """
    min_cutoff = mid_gear_cutoff(lap=lap, lead=lead, lead_rise=lead_rise)
    if not min_cutoff <= cutoff < 1.0:
        raise OutOfRange(
            f"cutoff {cutoff:.4g} cannot be set; write {min_cutoff:.4g}, the cutoff of this gear in mid gear, or more"
        )
    cosine = 1.0 - 2.0 * cutoff
    sine = math.sqrt(1.0 - cosine * cosine)
    overlap = lap - (lap + (lead + lead_rise)) * cosine
    if lead_rise == 0.0:
        return overlap / sine
    curvature = lead_rise * cosine / _full_gear_amplitude_squared(lap, lead, travel)
    discriminant = sine * sine - 4.0 * curvature * overlap
    if discriminant < 0.0:
        raise OutOfRange(
            f"cutoff {cutoff:.4g} cannot be set by this gear: its lead grows by {lead_rise:.4g} m, too much for a "
            f"full-gear travel of {travel:.4g} m; write less lead in mid gear"
        )
    return 2.0 * overlap / (sine + math.sqrt(discriminant))


def valve_travel(
    *, cutoff: float, lap: float, lead: float, lead_rise: float = 0.0, travel: float = 0.0
) -> float:
    """Valve travel at a cutoff; arguments and errors as `link_amplitude`.

    Returns:
        Travel [m].
    """
    motion = harmonic_motion(cutoff=cutoff, lap=lap, lead=lead, lead_rise=lead_rise, travel=travel)
    return 2.0 * math.hypot(motion.lap_and_lead, motion.link_amplitude)


def harmonic_motion(
    *, cutoff: float, lap: float, lead: float, lead_rise: float = 0.0, travel: float = 0.0
) -> ValveMotion:
    """Motion of a sliding valve at a cutoff; arguments and errors as `link_amplitude`."""
    second = link_amplitude(cutoff=cutoff, lap=lap, lead=lead, lead_rise=lead_rise, travel=travel)
    lead_here = lead_at(link_amplitude=second, lap=lap, lead=lead, lead_rise=lead_rise, travel=travel)
    return ValveMotion(lap_and_lead=lap + lead_here, link_amplitude=second)


def valve_events(
    *,
    cutoff: float,
    lap: float,
    lead: float,
    exhaust_lap: float,
    rod_ratio: float,
    lead_rise: float = 0.0,
    travel: float = 0.0,
) -> tuple[ValveEvents, ValveEvents]:
    """Valve events at both ends of the cylinder.

    Args:
        cutoff: Cutoff set, mean of both ends, as a fraction of the stroke [1].
        lap: Steam lap [m].
        lead: Lead in full gear [m].
        exhaust_lap: Exhaust lap, negative for exhaust clearance [m].
        rod_ratio: Length of the connecting rod over the crank radius [1].
        lead_rise: Lead in mid gear less that in full gear [m].
        travel: Valve travel in full gear; used only where the lead varies [m].

    Returns:
        Events at the front end, away from the crank, and at the back end.

    Raises:
        OutOfRange: A cutoff that the gear cannot give, or an exhaust lap above the half travel.
    """
    motion = harmonic_motion(cutoff=cutoff, lap=lap, lead=lead, lead_rise=lead_rise, travel=travel)
    angles = _event_angles(motion, lap, exhaust_lap)
    opening = math.hypot(motion.lap_and_lead, motion.link_amplitude) - lap
    return events_at_angles(angles, rod_ratio=rod_ratio, steam_opening=opening)


def events_at_angles(
    angles: tuple[float, float, float, float], *, rod_ratio: float, steam_opening: float
) -> tuple[ValveEvents, ValveEvents]:
    """Valve events at both ends of the cylinder, at the same crank angles from their dead centers.

    Args:
        angles: Crank angles of admission, cutoff, release and compression [rad].
        rod_ratio: Length of the connecting rod over the crank radius [1].
        steam_opening: Maximum opening of the steam port [m].

    Returns:
        Events at the front end, away from the crank, and at the back end.
    """
    position = in_python(piston_position)
    front = [position(angle, rod_ratio) for angle in angles]
    back = [1.0 - position(angle + math.pi, rod_ratio) for angle in angles]
    return _events(angles, front, steam_opening), _events(angles, back, steam_opening)


@compiled_inline
def poppet_lift(angle: float, opens: float, closes: float, lift_angle: float) -> float:
    """Lift of a poppet valve as a fraction of its full lift.

    The valve lifts and seats in proportion to crank angle; one that is open for less than twice the lift angle does not
    reach full lift.

    Args:
        angle: Crank angle [rad].
        opens: Crank angle at which the valve opens [rad].
        closes: Crank angle at which it closes, less than a revolution later [rad].
        lift_angle: Crank angle in which it reaches full lift [rad].

    Returns:
        Fraction [1].
    """
    after = (angle - opens) % (2.0 * math.pi)
    return min(max(min(after, closes - opens - after) / lift_angle, 0.0), 1.0)


@compiled_inline
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


@compiled_inline
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


def _event_angles(motion: ValveMotion, lap: float, exhaust_lap: float) -> tuple[float, float, float, float]:
    """Crank angles of admission, cutoff, release and compression of a sliding valve [rad]; laps in m."""
    half_travel = math.hypot(motion.lap_and_lead, motion.link_amplitude)
    if abs(exhaust_lap) >= half_travel:
        raise OutOfRange(
            f"exhaust lap {exhaust_lap:.4g} m is more than the half travel of {half_travel:.4g} m; write a smaller one"
        )
    # Crank angle at which the valve is at the end of its travel.
    max_travel_angle = math.atan2(motion.link_amplitude, motion.lap_and_lead)
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
