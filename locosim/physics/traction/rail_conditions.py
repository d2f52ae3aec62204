"""Rail conditions and their coefficients of adhesion."""

from __future__ import annotations

from typing import NamedTuple

from locosim.errors import OutOfRange


class RailCondition(NamedTuple):
    """Coefficient of adhesion of a rail condition.

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
    "wet sanded": RailCondition(
        0.20, "handbooks give 0.20 to 0.25 for a wet rail with sand, from memory; the low end"
    ),
    "long grade": RailCondition(0.16, "[Randolph1910], share of driver weight used beyond 10 to 15 miles"),
    "wet": RailCondition(0.15, "[Koffman1948], 0.6 of dry; [ElectricalExams] gives 0.05 to 0.15"),
    "greasy": RailCondition(300 / 2240, "[Molesworth1882] p. 224, misty and greasy, 300 lb per long ton"),
    "frost": RailCondition(200 / 2240, "[Molesworth1882] p. 224, frost or snow, 200 lb per long ton"),
    "half wet": RailCondition(1 / 12, "[Bourne1865] Q. 495, half wet or greasy, lower of 1/12 to 1/10"),
}  # from best to worst


def sanded_rail_condition(*, condition: str) -> str:
    """Rail condition with sand: `dry sanded` for a dry rail, `wet sanded` for any other it improves.

    Args:
        condition: A name in `ADHESION_BY_RAIL_CONDITION`.

    Raises:
        OutOfRange: An unknown name.

    References:
        Sand on a wet rail does not make a dry one; common practice, no source.
    """
    sanded = "dry sanded" if condition in ("dry sanded", "very dry", "dry") else "wet sanded"
    better = rail_adhesion_coefficient(condition=sanded) > rail_adhesion_coefficient(condition=condition)
    return sanded if better else condition


def rail_adhesion_coefficient(*, condition: str) -> float:
    """Coefficient of adhesion near rest on a rail in a known condition.

    Args:
        condition: A name in `ADHESION_BY_RAIL_CONDITION`.

    Returns:
        Coefficient of adhesion [1].

    Raises:
        OutOfRange: An unknown name.

    References:
        Those of the entry in `ADHESION_BY_RAIL_CONDITION`.
    """
    if condition not in ADHESION_BY_RAIL_CONDITION:
        raise OutOfRange(
            f"rail condition {condition!r} is not known; write one of {', '.join(ADHESION_BY_RAIL_CONDITION)}"
        )
    return ADHESION_BY_RAIL_CONDITION[condition].coefficient
