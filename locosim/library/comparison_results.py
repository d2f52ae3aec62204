"""Functions and results for two engines side by side."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.engine.comparison import ChangeEffect, Comparison, compare_engines
from locosim.frozen import frozen
from locosim.library.quantities import Quantity, quantity
from locosim.library.table import Column, Result, Table, column
from locosim.model import Assumptions, Fuel, Locomotive
from locosim.report.text.compare import value_text
from locosim.units import show


@frozen(eq=False)
class ComparedSpeeds(Table):
    """Two engines at the same speeds.

    Attributes:
        comparison: The comparison, in SI.
    """

    comparison: Comparison

    def title(self) -> str:
        """Names of the engines."""
        return f"{_names(self.comparison)}, by speed"

    def columns(self) -> Sequence[Column]:
        """One row for each speed."""
        columns = [column("speed", "speed", self.comparison.first.rows, lambda p: p.speed)]
        for letter, side in (("A", self.comparison.first), ("B", self.comparison.second)):
            columns += [
                column(f"drawbar pull {letter}", "force", side.rows, lambda p: p.drawbar_pull),
                column(f"drawbar power {letter}", "power", side.rows, lambda p: p.drawbar_power),
                column(f"limited by {letter}", None, side.rows, lambda p: p.limit),
            ]
        return columns


class ComparisonResult(Result[Comparison]):
    """Two engines side by side, change by change."""

    command = "compare"

    @property
    def rows(self) -> tuple[ChangeEffect, ...]:
        """Effect of each change alone, and of all combined."""
        return (*self.content.changes, self.content.combined)

    @property
    def speeds(self) -> ComparedSpeeds:
        """Drawbar pull and power of both engines by speed."""
        return ComparedSpeeds(comparison=self.content)

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.first.performance.method

    def title(self) -> str:
        """Names of the engines, speed and rail."""
        found = self.content
        speed = show(found.speed, "speed")
        return f"{_names(found)}, effect of changes at {speed}, {found.rail} rail"

    def columns(self) -> Sequence[Column]:
        """One row for each change from the first engine to the second, then all combined."""

        def value(effect: ChangeEffect, side: str) -> str | None:
            return value_text(getattr(effect, side), effect.unit) if effect.fields else None

        return [
            column("change", None, self.rows, lambda e: e.label),
            column("A", None, self.rows, lambda e: value(e, "before")),
            column("B", None, self.rows, lambda e: value(e, "after")),
            column("starting tractive effort", "ratio", self.rows, lambda e: e.start),
            column("drawbar power", "ratio", self.rows, lambda e: e.power),
            column("fuel for drawbar work", "ratio", self.rows, lambda e: e.fuel),
        ]


def compare(
    first: Locomotive,
    second: Locomotive,
    *,
    speed: Quantity | None = None,
    rail: str = "dry",
    fuel: Fuel | None = None,
    method: str = "cycle",
    assumptions: Assumptions = Assumptions(),
) -> ComparisonResult:
    """Compare two engines, and compute the effect of each change that leads from the first to the second.

    Args:
        first: The engine the changes are made to.
        second: The engine they lead to.
        speed: Speed at which the changes are valued, a text with its unit or a number in m/s; 30 mph, or the
            permitted speed of the slower engine, if omitted.
        rail: Rail condition.
        fuel: Fuel of both; each engine's usual one when left out.
        method: `cycle` or `handbook`.
        assumptions: Assumed figures.

    Raises:
        UnitError: A speed without a unit that fits.
        OutOfRange: A speed, rail, fuel or method that does not apply to one of them.
    """
    found = compare_engines(
        first,
        second,
        speed=None if speed is None else quantity(speed, "m/s", "speed"),
        rail=rail,
        method=method,
        fuel=fuel,
        assumptions=assumptions,
    )
    return ComparisonResult(found)


def _names(found: Comparison) -> str:
    first, second = found.first.performance.locomotive, found.second.performance.locomotive
    return f"A {first.name}, B {second.name}"
