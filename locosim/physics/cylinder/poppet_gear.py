"""Poppet valve gear: release and compression that do not depend on the cutoff.

Separate steam and exhaust valves, each moved by its own cam, open and close at set crank angles. Only the closing of
the steam valve moves with the cutoff. A sliding valve does both jobs with one motion, so it releases and compresses
early when hooked up.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.errors import OutOfRange
from locosim.physics.cylinder.valve_gear import ValveEvents, ValveMotion, events_at_angles


class PoppetGear(NamedTuple):
    """Poppet valves of a cylinder, the same at both ends; positions are means of both ends.

    Attributes:
        preadmission: Fraction of the return stroke remaining when the steam valve opens [1].
        release: Fraction of the stroke completed when the exhaust valve opens [1].
        compression: Fraction of the return stroke remaining when the exhaust valve closes [1].
        steam_area: Flow area of the steam valves of one end at full lift: length of their seats times the lift [m2].
        exhaust_area: Flow area of the exhaust valves of one end at full lift [m2].
        lift_angle: Crank angle in which a valve reaches full lift [rad].
    """

    preadmission: float
    release: float
    compression: float
    steam_area: float
    exhaust_area: float
    lift_angle: float


def _crank_angle(position: float) -> float:
    """Crank angle from dead center at a piston position, mean of both ends [rad]."""
    return math.acos(1.0 - 2.0 * position)


def poppet_motion(gear: PoppetGear, *, cutoff: float) -> ValveMotion:
    """Motion of the poppet valves at a cutoff.

    At equal crank angles the obliquity of the connecting rod shifts both ends equally and oppositely, so positions
    that are means of both ends give the crank angles of an infinite rod.

    Args:
        gear: The valves.
        cutoff: Fraction of the stroke completed when the steam valve closes, mean of both ends [1].

    Returns:
        The motion.

    Raises:
        OutOfRange: A cutoff that is not above 0 and below the release.
    """
    if not 0.0 < cutoff < gear.release:
        raise OutOfRange(
            f"cutoff {cutoff:.4g} cannot be set; write one below the release of the poppet gear, {gear.release:.4g}"
        )
    return ValveMotion(
        lap_and_lead=0.0,
        link_amplitude=0.0,
        admission_angle=-_crank_angle(gear.preadmission),
        cutoff_angle=_crank_angle(cutoff),
        release_angle=_crank_angle(gear.release),
        compression_angle=2.0 * math.pi - _crank_angle(gear.compression),
        steam_area=gear.steam_area,
        exhaust_area=gear.exhaust_area,
        lift_angle=gear.lift_angle,
    )


def poppet_events(gear: PoppetGear, *, cutoff: float, rod_ratio: float) -> tuple[ValveEvents, ValveEvents]:
    """Valve events at both ends of the cylinder.

    Args:
        gear: The valves.
        cutoff: Cutoff, mean of both ends, as a fraction of the stroke [1].
        rod_ratio: Length of the connecting rod over the crank radius [1].

    Returns:
        Events at the front end, away from the crank, and at the back end; without a port opening.

    Raises:
        OutOfRange: A cutoff that is not above 0 and below the release.
    """
    motion = poppet_motion(gear, cutoff=cutoff)
    angles = (motion.admission_angle, motion.cutoff_angle, motion.release_angle, motion.compression_angle)
    return events_at_angles(angles, rod_ratio=rod_ratio, steam_opening=math.nan)
