"""What grade, curve, standing and cold add to the running resistance of a train."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from locosim.constants import GRAVITY, MPH, POUND_PER_SHORT_TON, ZERO_CELSIUS
from locosim.physics.operation.superelevation import degree_of_curve
from locosim.physics.types import Real

# Resistance at the instant of starting on plain bearings and the speed by which it has fallen to the
# running value: [Henderson1907].
STARTING_PLAIN_BEARINGS = 16 * POUND_PER_SHORT_TON  # [N/kg]
BREAKAWAY_END_RESISTANCE = 5 * POUND_PER_SHORT_TON  # [N/kg]
BREAKAWAY_END_SPEED = 6 * MPH  # [m/s]
# [Hay1982], from memory, doubtful: roller bearings start with about 5 lb per short ton; plain bearings
# that have stood in frost with about 35.
STARTING_ROLLER_BEARINGS = 5 * POUND_PER_SHORT_TON  # [N/kg]
STARTING_PLAIN_BEARINGS_COLD = 35 * POUND_PER_SHORT_TON  # [N/kg]

# Least radius of the laws that do not hold for any curve [m]. Our own bounds: the two of Röckl run away towards 30
# and 20 m, where their trains would stand; that of Launhardt is for main lines.
MIN_RADIUS = {"roeckl": 100.0, "roeckl_meter_gauge": 60.0, "launhardt_1888": 100.0}
COLDEST_PUBLISHED_TEMPERATURE = (
    ZERO_CELSIUS + (-20.0 - 32.0) / 1.8
)  # [K], -20 °F: [Army603] table III ends here


class CurveLaw(Protocol):
    """A law of curve resistance."""

    def __call__(self, *, radius: Real, rigid_wheelbase: Real) -> Real:
        """Curve resistance per mass.

        Args:
            radius: Radius of the curve; infinite for straight track [m].
            rigid_wheelbase: Wheelbase that cannot turn under the vehicle, used by some laws [m].

        Returns:
            Resistance per mass [N/kg].
        """


def grade_resistance(*, grade: Real) -> Real:
    """Pull of gravity along the track, per mass.

    Args:
        grade: Rise over horizontal run, below zero when falling [1].

    Returns:
        Resistance per mass, below zero when falling [N/kg].

    References:
        g sin(arctan(grade)).
    """
    return GRAVITY * grade / np.sqrt(1 + np.square(grade))


def grade_resistance_by_rule(*, grade: Real) -> Real:
    """Pull of gravity by the rule of the trade, 20 lb per short ton for each per cent.

    It takes the tangent for the sine: 0.03 % too much at 2.5 %, 0.12 % at 1 in 20.

    Args:
        grade: Rise over horizontal run [1].

    Returns:
        Resistance per mass [N/kg].

    References:
        [Army603] paragraph 2.7; [Molesworth1882] p. 223, 2240/n lb per long ton on 1 in n.
    """
    return GRAVITY * grade


def curve_resistance_by_degree(*, degree_of_curve: Real) -> Real:
    """Curve resistance of 0.8 lb per short ton for each degree of curve.

    Args:
        degree_of_curve: Angle subtended at the center by a chord of 100 ft [rad].

    Returns:
        Resistance per mass [N/kg].

    References:
        [Army603] paragraph 2.8; [Randolph1910], discussion. A broad average.
    """
    return 0.8 * POUND_PER_SHORT_TON * np.degrees(degree_of_curve)


def per_degree(*, radius: Real, rigid_wheelbase: Real = 0.0) -> Real:
    """Curve resistance of 0.8 lb per short ton and degree, from the radius; as `curve_resistance_by_degree`."""
    return curve_resistance_by_degree(degree_of_curve=degree_of_curve(radius=radius))


def roeckl(*, radius: Real, rigid_wheelbase: Real = 0.0) -> Real:
    """Standard gauge: 650/(R - 55) kg per tonne from 300 m, 500/(R - 30) below. [Roeckl1880], from memory.

    The second branch was for lighter lines and starts below the first: locosim keeps the value at 300 m
    until the second exceeds it, near 218 m, so that a tighter curve never resists less.
    """
    wide = 650 / (np.maximum(radius, 300.0) - 55)
    tight = 500 / (np.minimum(radius, 300.0) - 30)
    return GRAVITY / 1000 * np.maximum(wide, np.where(np.less(radius, 300), tight, 0.0))[()]


def roeckl_meter_gauge(*, radius: Real, rigid_wheelbase: Real = 0.0) -> Real:
    """Metre gauge: 400/(R - 20) kg per tonne, R m. [Roeckl1880], from memory."""
    return GRAVITY / 1000 * 400 / (radius - 20)


def launhardt_curve(*, radius: Real, rigid_wheelbase: Real = 0.0) -> Real:
    """1/R kg/kg, R m. [Launhardt1888] pp. 36-37, numerator inferred from the printed work."""
    return GRAVITY / radius


def protopapadakis_summer(*, radius: Real, rigid_wheelbase: Real) -> Real:
    """Standard gauge, dry rail: (233.2 + 103.4 A)/R kg per tonne, A and R m. [Railcars1938] p. 35."""
    return GRAVITY / 1000 * (233.2 + 103.4 * rigid_wheelbase) / radius


def protopapadakis_winter(*, radius: Real, rigid_wheelbase: Real) -> Real:
    """Standard gauge, wet rail: (174.9 + 77.6 A)/R kg per tonne, A and R m. [Railcars1938] p. 35."""
    return GRAVITY / 1000 * (174.9 + 77.6 * rigid_wheelbase) / radius


def protopapadakis_meter_gauge(*, radius: Real, rigid_wheelbase: Real) -> Real:
    """Metre gauge: (159.7 + 104.1 A)/R kg per tonne, A and R m. [Railcars1938] p. 35."""
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


def starting_resistance(*, speed: Real, at_rest: Real = STARTING_PLAIN_BEARINGS) -> Real:
    """Resistance per mass while a train breaks away; the running law holds when it gives more.

    From its value at rest it falls in a straight line to 5 lb per short ton at 6 mile/h, and is nothing
    above. The source says that about 16 lb per ton come in at the instant of starting, falling to 5 lb
    near 6 mile/h; locosim reads this as the whole resistance, not as an addition.

    Args:
        speed: Speed [m/s].
        at_rest: Value at rest: `STARTING_PLAIN_BEARINGS`, `STARTING_PLAIN_BEARINGS_COLD` or `STARTING_ROLLER_BEARINGS` [N/kg].

    Returns:
        Resistance per mass [N/kg].

    References:
        [Henderson1907] for plain bearings; the other values at rest [Hay1982], from memory.
    """
    share = np.clip(np.divide(speed, BREAKAWAY_END_SPEED), 0.0, 1.0)
    falling = at_rest + (np.minimum(BREAKAWAY_END_RESISTANCE, at_rest) - at_rest) * share
    return np.where(np.less_equal(speed, BREAKAWAY_END_SPEED), falling, 0.0)[()]


def cold_weather_factor(*, temperature: Real) -> Real:
    """Share of the drawbar pull that counts in cold weather, in the steps of the source.

    Below the coldest band of the source, `COLDEST_PUBLISHED_TEMPERATURE`, its last value is kept: the caller says so.

    Args:
        temperature: Temperature of the air [K].

    Returns:
        Factor on drawbar pull [1].

    References:
        [Army603] table III: 0.90 from 15 to 0 °F, 0.85 to -10 °F, 0.80 to -20 °F.
    """
    fahrenheit = np.asarray((temperature - ZERO_CELSIUS) * 1.8 + 32)
    bands = [fahrenheit > 15, fahrenheit >= 0, fahrenheit >= -10]
    return np.select(bands, [1.0, 0.90, 0.85], 0.80)[()]
