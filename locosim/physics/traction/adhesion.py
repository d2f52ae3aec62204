"""Adhesion of the driving wheels by the state of the rail and by speed."""

from __future__ import annotations

from typing import NamedTuple

from locosim.constants import GRAVITY, KMH
from locosim.errors import OutOfRange
from locosim.physics.types import Real


class RailCondition(NamedTuple):
    """A state of the rail and its coefficient of adhesion.

    Attributes:
        coefficient: Coefficient of adhesion near rest [1].
        reference: Key of the source, and place.
    """

    coefficient: float
    reference: str


ADHESION_BY_RAIL_CONDITION = {
    "dry sanded": RailCondition(0.30, "[ElectricalExams], table of adhesion, lower of 0.30 to 0.33"),
    "very dry": RailCondition(600 / 2240, "[Molesworth1882] p. 224, 600 lb per long ton"),
    "dry": RailCondition(0.25, "[ElectricalExams], table of adhesion; [Koffman1948] the same"),
    "wet washed": RailCondition(550 / 2240, "[Molesworth1882] p. 224, very wet, 550 lb per long ton"),
    "ordinary": RailCondition(450 / 2240, "[Molesworth1882] p. 224, ordinary weather, 450 lb per long ton"),
    "moist": RailCondition(0.20, "[ElectricalExams], table of adhesion"),
    "long grade": RailCondition(0.16, "[Randolph1910], share of driver weight used beyond 10 to 15 miles"),
    "wet": RailCondition(0.15, "[Koffman1948], 0.6 of dry; [ElectricalExams] gives 0.05 to 0.15"),
    "greasy": RailCondition(300 / 2240, "[Molesworth1882] p. 224, misty and greasy, 300 lb per long ton"),
    "half wet": RailCondition(1 / 12, "[Bourne1865] Q. 495, half wet or greasy, lower of 1/12 to 1/10"),
    "frost": RailCondition(200 / 2240, "[Molesworth1882] p. 224, frost or snow, 200 lb per long ton"),
}


def rail_adhesion_coefficient(*, condition: str) -> float:
    """Coefficient of adhesion near rest by the state of the rail.

    Args:
        condition: A name of `ADHESION_BY_RAIL_CONDITION`.

    Returns:
        Coefficient of adhesion [1].

    Raises:
        OutOfRange: When the name is not known.

    References:
        Those of the entry in `ADHESION_BY_RAIL_CONDITION`.
    """
    if condition not in ADHESION_BY_RAIL_CONDITION:
        raise OutOfRange(
            f"rail condition {condition!r} is not known; write one of {', '.join(ADHESION_BY_RAIL_CONDITION)}"
        )
    return ADHESION_BY_RAIL_CONDITION[condition].coefficient


def curtius_kniffler(*, speed: Real) -> Real:
    """Coefficient of adhesion of electric engines on dry rail, falling with speed.

    Args:
        speed: Speed [m/s].

    Returns:
        Coefficient of adhesion [1].

    References:
        [CurtiusKniffler1944], from memory: 7.5 / (V + 44) + 0.161, V in km/h.
    """
    return 7.5 / (speed / KMH + 44) + 0.161


def adhesion_coefficient(*, coefficient_at_rest: Real, speed: Real) -> Real:
    """Coefficient of adhesion at speed, from the one near rest.

    The shape is that of `curtius_kniffler` over its own value at rest, 0.331. It was measured on electric
    engines, whose torque is even; scaling it to other states of the rail is an assumption of locosim.
    [Koffman1948] keeps 0.25 on dry rail up to 40 to 50 mile/h, so the shape errs to the low side there.

    Args:
        coefficient_at_rest: Coefficient by the state of the rail [1].
        speed: Speed [m/s].

    Returns:
        Coefficient of adhesion [1].

    References:
        [CurtiusKniffler1944], from memory, for the shape.
    """
    return coefficient_at_rest * curtius_kniffler(speed=speed) / curtius_kniffler(speed=0.0)


def adhesion_limited_effort(
    *, mass_on_drivers: Real, coefficient: Real, peak_effort_ratio: Real = 1.0
) -> Real:
    """Greatest mean pull of an engine unit that does not slip at the peak of its crank effort.

    Args:
        mass_on_drivers: Mass on the driving wheels of the engine unit [kg].
        coefficient: Coefficient of adhesion [1].
        peak_effort_ratio: Greatest crank effort over its mean [1].

    Returns:
        Mean pull at the rim [N].

    References:
        Friction; with effort ratio 1 the usual rule, as in [RailText85] p. 25.
    """
    return mass_on_drivers * GRAVITY * coefficient / peak_effort_ratio


def adhesion_required(*, effort: Real, mass_on_drivers: Real) -> Real:
    """Coefficient of adhesion that a pull needs.

    Args:
        effort: Pull at the rim of the engine unit [N].
        mass_on_drivers: Mass on its driving wheels [kg].

    Returns:
        Coefficient [1].

    References:
        Friction.
    """
    return effort / (mass_on_drivers * GRAVITY)
