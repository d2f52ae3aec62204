"""Rows of consists from made-up checks: their order, what they cost, and what is asked of each."""

from __future__ import annotations

import itertools
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
import trials
from made_findings import found

from locosim.errors import OutOfRange
from locosim.planning import consists
from locosim.planning.consists import ORDERS, Consist, ConsistTable, Prices, compare_consists
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT

PLAN = trials.excursion(trials.line([(4000.0, 0.0)]))
OTHER = trials.excursion(trials.line([(5000.0, 0.0)], name="another line"))


def row(
    name: str, verdict: str = CLEAR, margin: float = 0.3, *, arrived: bool = True, time: float = 1000.0,
    water: float = 2e3, fuel: float = 300.0, cars: int = 2, cost: float | None = None,
) -> Consist:  # fmt: skip
    journey = SimpleNamespace(arrived=arrived, duration=time, water_used=water, fuel_fired=fuel)
    findings = (
        found("ash", NOTE, margin=-9.0),
        found("climb", verdict, margin=margin),
        found("water", CLEAR),
    )
    check: Any = SimpleNamespace(verdict=verdict, findings=findings, journey=journey)
    excursion = replace(PLAN, train=trials.train(trials.coaches(cars)))
    return Consist(name=name, excursion=excursion, check=check, cost=cost)


def test_a_row_has_the_figures_of_its_check_where_the_train_arrives() -> None:
    made = row("a", TIGHT, 0.05)
    assert (made.verdict, made.arrives, made.time, made.water, made.fuel) == (TIGHT, True, 1000.0, 2e3, 300.0)
    assert made.worst is not None
    assert (made.worst.rule, made.worst.margin) == ("climb", 0.05)
    stalled = row("b", STOP, -1.0, arrived=False)
    assert (stalled.verdict, stalled.arrives) == (STOP, False)
    assert (stalled.time, stalled.water, stalled.fuel) == (None, None, None)
    unread = Consist(name="c", problem="no file")
    assert (unread.verdict, unread.worst, unread.arrives, unread.time) == (None, None, False, None)


def in_order(order: str, *rows: Consist) -> None:
    """The rows are sorted as they are given, from any order."""
    for mixed in itertools.permutations(rows):
        assert [each.name for each in sorted(mixed, key=ORDERS[order])] == [each.name for each in rows]


def test_rows_are_ordered_by_verdict_and_then_by_the_margin() -> None:
    in_order(
        "verdict", row("a", CLEAR, 0.4), row("b", CLEAR, 0.2), row("c", TIGHT, 0.08), row("d", TIGHT, 0.02),
        row("e", STOP, -0.1), row("f", STOP, -0.5), Consist(name="g"),
    )  # fmt: skip


@pytest.mark.parametrize("order", ["time", "water", "fuel", "cost"])
def test_rows_are_ordered_by_the_least_of_a_value_equals_by_verdict_and_none_last(order: str) -> None:
    in_order(
        order, row("a", STOP, -0.5, **{order: 5.0}), row("b", CLEAR, 0.4, **{order: 6.0}),
        row("c", CLEAR, 0.2, **{order: 6.0}), row("d", TIGHT, 0.09, **{order: 6.0}),
        row("e", CLEAR, 0.9, arrived=False), row("f", STOP, -0.9, arrived=False),
    )  # fmt: skip


def test_rows_are_ordered_by_the_largest_train() -> None:
    in_order(
        "mass",
        row("a", STOP, -0.5, cars=5),
        row("b", cars=4),
        row("c", TIGHT, 0.05, cars=4),
        row("d", cars=1),
    )


@pytest.mark.parametrize(
    ("prices", "cost"),
    [
        (Prices(), None), (Prices(fuel=2.0), 600.0), (Prices(water=3.0), 6.0), (Prices(time=0.5), 500.0),
        (Prices(fuel=2.0, water=3.0, time=0.5), 1106.0), (Prices(fuel=0.0), 0.0),
    ],
)  # fmt: skip
def test_a_run_costs_fuel_by_mass_water_by_volume_and_time(prices: Prices, cost: float | None) -> None:
    """300 kg, 2 m³ and 1,000 s."""
    assert consists._cost(row("a"), prices) == cost
    assert prices.given == (cost is not None)
    assert consists._cost(row("a", arrived=False), prices) is None
    assert consists._cost(Consist(name="unread"), prices) is None


def test_what_is_checked_is_the_line_of_the_first_and_comes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: dict[str, Any] = {"ran": [], "performance": []}

    def run_and_check(excursion: Any) -> Any:
        asked["ran"].append(excursion)
        if excursion.train.vehicles[0].count == 3:
            raise OutOfRange("too many cars")
        return row("", time=100.0 * excursion.train.vehicles[0].count).check

    def performance(excursion: Any) -> None:
        asked["performance"].append(excursion)
        raise OutOfRange("no such fuel")

    def answer_each(questions: Any, *, known: Any) -> list[Any]:
        asked["known"] = known
        return [each() for each in questions]

    monkeypatch.setattr(consists, "run_and_check", run_and_check)
    monkeypatch.setattr(consists, "with_bands", lambda check: check)
    monkeypatch.setattr(consists, "compute_excursion_performance", performance)
    monkeypatch.setattr(consists, "answer_each", answer_each)
    plans = {f"{cars} cars": row("", cars=cars).excursion for cars in (4, 3, 2)}
    proposed = [Consist(name="unread", problem="no file"), *(Consist(name=n, excursion=e) for n, e in plans.items()),
                Consist(name="elsewhere", excursion=OTHER)]  # fmt: skip
    table = compare_consists(proposed, prices=Prices(time=2.0), order="cost")
    assert [(each.name, each.cost) for each in table.consists[:2]] == [("2 cars", 400.0), ("4 cars", 800.0)]
    assert {each.name: each.problem for each in table.consists[2:]} == {
        "unread": "no file", "3 cars": "too many cars",
        "elsewhere": "runs on another line, not on the line of the first: not compared",
    }  # fmt: skip
    assert asked["known"] == asked["performance"] == [*plans.values(), OTHER]
    assert len(asked["ran"]) == 3
    assert (table.prices, table.order, len(table.checked), len(table.excursions)) == (
        Prices(time=2.0),
        "cost",
        2,
        4,
    )


def test_a_table_has_one_method_or_none() -> None:
    def of(*rows: Consist) -> str | None:
        return ConsistTable(consists=rows, prices=Prices(), order="time").method

    by_cycle = row("b")
    assert by_cycle.excursion is not None
    by_cycle = replace(by_cycle, excursion=replace(by_cycle.excursion, method="cycle"))
    assert (of(row("a"), row("c")), of(by_cycle), of(row("a"), by_cycle), of()) == (
        "handbook",
        "cycle",
        None,
        None,
    )
    assert of(row("a"), replace(by_cycle, check=None)) == "handbook"


@pytest.mark.parametrize("name", ["fuel", "water", "time"])
def test_a_price_is_nothing_or_more(name: str) -> None:
    consists._check_request([row("a")], Prices(**{name: 0.0}), "cost")
    for price in (-1e-9, float("inf"), float("nan")):
        with pytest.raises(OutOfRange, match=f"^{name}_price must be at least 0"):
            consists._check_request([row("a")], Prices(**{name: price}), "cost")
