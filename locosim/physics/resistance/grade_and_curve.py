"""Resistance of grades and curves."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from locosim.constants import GRAVITY, POUND_PER_SHORT_TON
from locosim.physics.operation.superelevation import degree_of_curve
from locosim.physics.types import Real

# Minimum radius of the laws that are not valid for every curve [m]. Our own bounds, no source: the laws of Röckl grow
# without limit toward 30 and 20 m; that of Launhardt is for main lines.
MIN_RADIUS = {"roeckl": 100.0, "roeckl_meter_gauge": 60.0, "launhardt_1888": 100.0}


class CurveLaw(Protocol):
    """A law of curve resistance."""

    def __call__(self, *, radius: Real, rigid_wheelbase: float) -> Real:
        """Curve resistance per mass.

        Args:
            radius: Radius of the curve; infinite for straight track [m].
            rigid_wheelbase: Rigid wheelbase, used by some laws [m].

        Returns:
            Resistance per mass [N/kg].
        """


def grade_resistance(*, grade: Real) -> Real:
    """Grade resistance: the component of gravity along the track.

    Args:
        grade: Rise over horizontal run, below zero when falling [1].

    Returns:
        Resistance per mass, below zero when falling [N/kg].

    References:
        g sin(arctan(grade)).
    """
    resistance: Real = GRAVITY * grade / np.sqrt(1 + np.square(grade))
    return resistance


def curve_resistance_by_degree(*, degree_of_curve: Real) -> Real:
    """Curve resistance of 0.8 lb per short ton for each degree of curve.

    Args:
        degree_of_curve: Angle subtended at the center by a chord of 100 ft [rad].

    Returns:
        Resistance per mass [N/kg].

    References:
        [Army603] paragraph 2.8; [Randolph1910], discussion. A broad average.
    """
    resistance: Real = 0.8 * POUND_PER_SHORT_TON * np.degrees(degree_of_curve)
    return resistance


def per_degree(*, radius: Real, rigid_wheelbase: float = 0.0) -> Real:
    """Curve resistance of 0.8 lb per short ton and degree, from the radius; as `curve_resistance_by_degree`."""
    return curve_resistance_by_degree(degree_of_curve=degree_of_curve(radius=radius))


def roeckl(*, radius: Real, rigid_wheelbase: float = 0.0) -> Real:
    """Standard gauge: 650/(R - 55) kg per tonne from 300 m, 500/(R - 30) below. [Roeckl1880], from memory.

    The second branch was for lighter lines and starts below the first: locosim uses the value at 300 m until the
    second exceeds it, near 218 m, so that a tighter curve never has less resistance.
    """
    wide = 650 / (np.maximum(radius, 300.0) - 55)
    tight = 500 / (np.minimum(radius, 300.0) - 30)
    resistance: Real = GRAVITY / 1000 * np.maximum(wide, np.where(np.less(radius, 300), tight, 0.0))[()]
    return resistance


def roeckl_meter_gauge(*, radius: Real, rigid_wheelbase: float = 0.0) -> Real:
    """Meter gauge: 400/(R - 20) kg per tonne, R m. [Roeckl1880], from memory."""
    return GRAVITY / 1000 * 400 / (radius - 20)


def launhardt_curve(*, radius: Real, rigid_wheelbase: float = 0.0) -> Real:
    """Standard gauge: 1/R kg/kg, R m. [Launhardt1888] pp. 36-37, numerator inferred from the worked example."""
    return GRAVITY / radius


def protopapadakis_summer(*, radius: Real, rigid_wheelbase: float) -> Real:
    """Standard gauge, dry rail: (233.2 + 103.4 A)/R kg per tonne, A and R m. [Railcars1938] p. 35."""
    return GRAVITY / 1000 * (233.2 + 103.4 * rigid_wheelbase) / radius


def protopapadakis_winter(*, radius: Real, rigid_wheelbase: float) -> Real:
    """Standard gauge, wet rail: (174.9 + 77.6 A)/R kg per tonne, A and R m. [Railcars1938] p. 35."""
    return GRAVITY / 1000 * (174.9 + 77.6 * rigid_wheelbase) / radius


def protopapadakis_meter_gauge(*, radius: Real, rigid_wheelbase: float) -> Real:
    """Meter gauge: (159.7 + 104.1 A)/R kg per tonne, A and R m. [Railcars1938] p. 35."""
    return GRAVITY / 1000 * (159.7 + 104.1 * rigid_wheelbase) / radius


CURVE_LAWS: dict[str, CurveLaw] = {
    "per_degree": per_degree,
    "roeckl": roeckl,
    "roeckl_meter_gauge": roeckl_meter_gauge,
    "launhardt_1888": launhardt_curve,
    "protopapadakis_summer": protopapadakis_summer,
    "protopapadakis_winter": protopapadakis_winter,
    "protopapadakis_meter_gauge": protopapadakis_meter_gauge,
}
