"""Curves: degree and radius, superelevation and the speeds it allows, speeds by class of track."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from locosim.constants import FOOT, INCH, MPH
from locosim.errors import OutOfRange
from locosim.physics.types import Real

CHORD = 100.0 * FOOT  # [m] chord that defines the degree of a curve in American practice
SUPERELEVATION_CONSTANT = (
    0.0007  # inches of superelevation per degree of curve and (mile/h)², [CFR213] § 213.57
)


class TrackClassSpeeds(NamedTuple):
    """Maximum speeds on a class of track [m/s]."""

    freight: float
    passenger: float


# [CFR213] § 213.9 (classes 1 to 5) and § 213.307 (6 to 9, one limit for all trains).
TRACK_CLASS_SPEEDS = {
    1: TrackClassSpeeds(10 * MPH, 15 * MPH),
    2: TrackClassSpeeds(25 * MPH, 30 * MPH),
    3: TrackClassSpeeds(40 * MPH, 60 * MPH),
    4: TrackClassSpeeds(60 * MPH, 80 * MPH),
    5: TrackClassSpeeds(80 * MPH, 90 * MPH),
    6: TrackClassSpeeds(110 * MPH, 110 * MPH),
    7: TrackClassSpeeds(125 * MPH, 125 * MPH),
    8: TrackClassSpeeds(160 * MPH, 160 * MPH),
    9: TrackClassSpeeds(220 * MPH, 220 * MPH),
}


def track_class_speeds(*, track_class: int) -> TrackClassSpeeds:
    """Maximum speeds of freight and passenger trains on a class of track.

    Args:
        track_class: Class of track, 1 to 9.

    Returns:
        Speeds [m/s].

    Raises:
        OutOfRange: An unknown class.

    References:
        [CFR213] §§ 213.9 and 213.307.
    """
    if track_class not in TRACK_CLASS_SPEEDS:
        raise OutOfRange(f"track class {track_class} is not known; write a class from 1 to 9")
    return TRACK_CLASS_SPEEDS[track_class]


def radius_of_curve(*, degree_of_curve: Real) -> Real:
    """Radius of a curve from its degree.

    Args:
        degree_of_curve: Angle subtended at the center by a chord of 100 ft [rad].

    Returns:
        Radius [m]; infinite for straight track.

    References:
        American practice: R = 50 ft / sin(D/2). Geometry.
    """
    with np.errstate(divide="ignore"):
        radius: Real = np.divide(CHORD / 2, np.sin(np.divide(degree_of_curve, 2)))
    return radius


def degree_of_curve(*, radius: Real) -> Real:
    """Degree of a curve from its radius.

    Args:
        radius: Radius, at least 50 ft; infinite for straight track [m].

    Returns:
        Angle subtended at the center by a chord of 100 ft [rad].

    References:
        American practice: R = 50 ft / sin(D/2). Geometry.
    """
    degree: Real = 2 * np.arcsin(np.divide(CHORD / 2, radius))
    return degree


def curve_speed(*, degree_of_curve: Real, superelevation: float, unbalanced_superelevation: float) -> Real:
    """Maximum speed on a curve, from its superelevation and the unbalanced superelevation allowed.

    Args:
        degree_of_curve: Angle subtended at the center by a chord of 100 ft, above zero [rad].
        superelevation: Elevation of the outer rail above the inner rail [m].
        unbalanced_superelevation: Unbalanced superelevation allowed at that speed, 3 in by the general rule [m].

    Returns:
        Speed [m/s].

    References:
        [CFR213] § 213.57 and appendix A: V = sqrt((Ea + Eu) / (0.0007 D)), standard gauge.
    """
    inches = (superelevation + unbalanced_superelevation) / INCH
    speed: Real = MPH * np.sqrt(inches / (SUPERELEVATION_CONSTANT * np.degrees(degree_of_curve)))
    return speed


def equilibrium_superelevation(*, degree_of_curve: Real, speed: Real) -> Real:
    """Equilibrium superelevation: that at which a train loads both rails alike at a speed.

    Args:
        degree_of_curve: Angle subtended at the center by a chord of 100 ft [rad].
        speed: Speed [m/s].

    Returns:
        Superelevation [m].

    References:
        [CFR213] § 213.57, the same constant without unbalanced superelevation; standard gauge.
    """
    superelevation: Real = INCH * SUPERELEVATION_CONSTANT * np.degrees(degree_of_curve) * (speed / MPH) ** 2
    return superelevation
