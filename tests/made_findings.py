"""Made-up findings, of which only the rule, the place, the margin and the verdict count."""

from __future__ import annotations

from dataclasses import replace

from locosim.planning.finding import (
    CLEAR,
    STOP,
    TIGHT,
    Comparison,
    Explanation,
    Finding,
    Location,
    VerdictScale,
    judge,
)

MARGIN = {CLEAR: 1.0, TIGHT: 0.05}  # any other verdict breaks its limit


def found(
    rule: str,
    verdict: str = STOP,
    *,
    place: str = "C",
    chainage: float | None = None,
    margin: float | None = None,
) -> Finding:
    """A finding of a rule with a verdict and the margin of that verdict, or another one."""
    at = MARGIN.get(verdict, -1.0) if margin is None else margin
    made = judge(
        rule, Comparison(at, 1.0, "ratio", at), Location(place, chainage), VerdictScale(0.1),
        Explanation(because=f"because of {rule}", remedy=""),
    )  # fmt: skip
    return replace(made, verdict=verdict)
