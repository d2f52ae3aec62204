"""Consists compared: several engines and trains on one line, each with its check, time, water, fuel and cost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial

from locosim.constants import WATER_DENSITY
from locosim.engine.performance import compute_excursion_performance
from locosim.errors import Fault, LocosimError, OutOfRange
from locosim.frozen import frozen
from locosim.model import Excursion
from locosim.planning.bands import with_bands
from locosim.planning.check import Check, run_and_check
from locosim.planning.finding import NOTE, VERDICTS, Finding
from locosim.side_by_side import answer_each


@frozen
class Prices:
    """Prices in the user's own currency; None for what is not counted.

    Attributes:
        fuel: For a mass [1/kg].
        water: For a volume [1/m³].
        time: Of engine and crew, for the time from the first departure to the last arrival [1/s].
    """

    fuel: float | None = None
    water: float | None = None
    time: float | None = None

    @property
    def given(self) -> bool:
        """Whether there is any price."""
        return any(price is not None for price in (self.fuel, self.water, self.time))


@frozen(eq=False)
class Consist:
    """One engine and train that is proposed.

    Attributes:
        name: Its name in the table.
        excursion: The plan with it; None where it could not be read.
        check: Its whole check; None where it could not be made.
        cost: What the run costs; None without prices, or where the train does not arrive.
        problem: What is wrong with it; empty where it was checked.
    """

    name: str
    excursion: Excursion | None = None
    check: Check | None = None
    cost: float | None = None
    problem: str = ""

    @property
    def verdict(self) -> str | None:
        """Verdict of its check; None where there is none."""
        return None if self.check is None else self.check.verdict

    @property
    def worst(self) -> Finding | None:
        """Finding with the worst verdict and of those the least margin; None where there is no check."""
        findings = () if self.check is None else self.check.findings
        return next((f for f in findings if f.verdict != NOTE), None)

    @property
    def arrives(self) -> bool:
        """Whether it arrives."""
        return self.check is not None and self.check.journey.arrived

    @property
    def time(self) -> float | None:
        """Time from the first departure to the last arrival [s]; None where it does not arrive."""
        return self.check.journey.duration if self.check is not None and self.arrives else None

    @property
    def water(self) -> float | None:
        """Water used [kg]; None likewise."""
        return self.check.journey.water_used if self.check is not None and self.arrives else None

    @property
    def fuel(self) -> float | None:
        """Fuel fired [kg]; None likewise."""
        return float(self.check.journey.fuel_fired) if self.check is not None and self.arrives else None


@frozen(eq=False)
class ConsistTable:
    """Consists compared on one line.

    Attributes:
        consists: Sorted; those without a check last.
        prices: Prices of fuel, water and time.
        order: What they are sorted by, one of `ORDERS`.
    """

    consists: tuple[Consist, ...]
    prices: Prices
    order: str

    @property
    def checked(self) -> tuple[Consist, ...]:
        """Those with a check, in order."""
        return tuple(each for each in self.consists if each.check is not None)

    @property
    def method(self) -> str | None:
        """Method of computing the engines of those checked; None where there is none, or more than one."""
        methods = {each.excursion.method for each in self.checked if each.excursion is not None}
        return methods.pop() if len(methods) == 1 else None

    @property
    def excursions(self) -> tuple[Excursion, ...]:
        """The plans that were read, in order."""
        return tuple(each.excursion for each in self.consists if each.excursion is not None)


def _by(value: Callable[[Consist], float | None]) -> Callable[[Consist], tuple[float, ...]]:
    """Order by a value, the smallest first, what has none last, and within equals by verdict."""

    def key(consist: Consist) -> tuple[float, ...]:
        found = value(consist)
        return (float("inf") if found is None else found, *_by_verdict(consist))

    return key


def _by_verdict(consist: Consist) -> tuple[float, ...]:
    worst = consist.worst
    if consist.verdict is None or worst is None:
        return (float(len(VERDICTS)), 0.0)
    return (float(VERDICTS.index(consist.verdict)), -worst.margin)


ORDERS: dict[str, Callable[[Consist], tuple[float, ...]]] = {
    "verdict": _by_verdict,
    "time": _by(lambda each: each.time),
    "water": _by(lambda each: each.water),
    "fuel": _by(lambda each: each.fuel),
    "cost": _by(lambda each: each.cost),
    "mass": _by(lambda each: None if each.excursion is None else -each.excursion.train.mass),
}


def compare_consists(
    proposed: Sequence[Consist], *, prices: Prices = Prices(), order: str = "verdict"
) -> ConsistTable:
    """Check each consist, and sort them; one that cannot be checked keeps its problem, and the rest goes on.

    Args:
        proposed: Consists with their plans, or with the problem of reading it.
        prices: Prices of fuel, water and time.
        order: What to sort by, one of `ORDERS`: the best verdict and margin first, the least time, water, fuel or
            cost, or the largest train.

    Raises:
        OutOfRange: No consist, an order that is not known, cost without a price, or a price below 0.
    """
    _check_request(proposed, prices, order)
    known = [each.excursion for each in proposed if each.excursion is not None]
    line = known[0].route_as_run if known else None
    for excursion in known:  # their maps, which use all cores by themselves
        with suppress(LocosimError):
            compute_excursion_performance(excursion)
    checked = answer_each([partial(_checked, each, prices, line) for each in proposed], known=known)
    ordered = sorted(checked, key=lambda each: (each.check is None, ORDERS[order](each)))
    return ConsistTable(consists=tuple(ordered), prices=prices, order=order)


def _check_request(proposed: Sequence[Consist], prices: Prices, order: str) -> None:
    if not proposed:
        raise OutOfRange("no consists to compare; name excursion files, or a table with --consists")
    if order not in ORDERS:
        raise OutOfRange.by([Fault("order", f"must be one of {', '.join(ORDERS)}, found {order!r}")])
    if order == "cost" and not prices.given:
        raise OutOfRange.by(
            [Fault("order", "is 'cost', but no price is given; give that of fuel, water or time")]
        )
    for name in ("fuel", "water", "time"):
        price = getattr(prices, name)
        if price is not None and not 0.0 <= price < float("inf"):
            raise OutOfRange.by([Fault(f"{name}_price", f"must be at least 0, found {price:g}")])


def _checked(consist: Consist, prices: Prices, line: object) -> Consist:
    """A consist with its check and cost, or with its problem."""
    excursion = consist.excursion
    if excursion is None:
        return consist
    if excursion.route_as_run != line:
        problem = f"runs on {excursion.route_as_run.name}, not on the line of the first: not compared"
        return replace(consist, problem=problem)
    try:
        check = with_bands(run_and_check(excursion))
    except LocosimError as wrong:
        return replace(consist, problem=str(wrong))
    found = replace(consist, check=check)
    return replace(found, cost=_cost(found, prices))


def _cost(consist: Consist, prices: Prices) -> float | None:
    if not prices.given or consist.time is None or consist.water is None or consist.fuel is None:
        return None
    return (
        (prices.fuel or 0.0) * consist.fuel
        + (prices.water or 0.0) * consist.water / WATER_DENSITY
        + (prices.time or 0.0) * consist.time
    )
