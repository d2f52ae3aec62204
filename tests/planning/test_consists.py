"""Consists compared: what is checked, what keeps its problem, what a run costs, and the order of the rows."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.errors import OutOfRange
from locosim.model import Excursion, Locomotive
from locosim.planning.check import run_and_check
from locosim.planning.consists import ORDERS, Consist, ConsistTable, Prices, compare_consists
from locosim.planning.finding import NOTE, VERDICTS

LINE = trials.line([(4000.0, 0.002), (5000.0, 0.006)], speed_limit=17.0)
PRICES = Prices(fuel=0.25, water=2.0, time=0.05)


def plan(cars: int, **changes: object) -> Excursion:
    return trials.excursion(LINE, made_of=trials.train(trials.coaches(cars)), **changes)  # type: ignore[arg-type]


def unequal_wheels() -> Locomotive:
    """A Mallet compound with larger wheels under its high-pressure cylinders, which the cycle does not cover."""
    engine = trials.locomotive(units=2)
    high, low = engine.engine_units
    driven = replace(low.cylinders[0], bore=0.8, steam_source="receiver")
    return replace(
        engine, engine_units=(replace(high, driver_diameter=1.7), replace(low, cylinders=(driven,)))
    )


PROPOSED = (
    Consist(name="unread", problem="no such file"),
    Consist(name="eight", excursion=plan(8)),
    Consist(name="three", excursion=plan(3)),
    Consist(name="two hundred", excursion=plan(200)),
    Consist(name="elsewhere", excursion=replace(plan(3), route=replace(LINE, name="another line"))),
    Consist(name="cycle", excursion=plan(3, engine=unequal_wheels(), method="cycle")),
)


@pytest.fixture(scope="module")
def compared() -> ConsistTable:
    return compare_consists(PROPOSED, prices=PRICES)


def row(table: ConsistTable, name: str) -> Consist:
    return next(each for each in table.consists if each.name == name)


def test_a_consist_has_the_figures_of_its_check_and_one_that_stalls_has_none(compared: ConsistTable) -> None:
    eight, alone = row(compared, "eight"), run_and_check(plan(8))
    assert (eight.verdict, eight.arrives) == (alone.verdict, True)
    assert eight.time == alone.journey.duration
    assert eight.water == alone.journey.water_used
    assert eight.fuel == alone.journey.fuel_fired
    assert eight.worst is not None
    assert eight.worst.verdict != NOTE
    heavy = row(compared, "two hundred")
    assert (heavy.verdict, heavy.arrives) == ("stop", False)
    assert (heavy.time, heavy.water, heavy.fuel, heavy.cost) == (None, None, None, None)


def test_the_cost_is_fuel_by_mass_water_by_volume_and_time(compared: ConsistTable) -> None:
    eight = row(compared, "eight")
    assert eight.fuel is not None
    assert eight.water is not None
    assert eight.time is not None
    # 1,000 kg of water are a cubic meter
    assert eight.cost == pytest.approx(0.25 * eight.fuel + 2.0 * eight.water / 1000.0 + 0.05 * eight.time)
    by_time = compare_consists([PROPOSED[1]], prices=Prices(time=0.05)).consists[0]
    assert by_time.cost == pytest.approx(0.05 * eight.time)
    assert compare_consists([PROPOSED[1]]).consists[0].cost is None


def test_what_is_not_checked_says_why_and_comes_last(compared: ConsistTable) -> None:
    assert [each.name for each in compared.checked] == [each.name for each in compared.consists[:3]]
    assert row(compared, "unread").problem == "no such file"
    assert (
        row(compared, "elsewhere").problem
        == "runs on another line, not on the line of the first: not compared"
    )
    assert "requires driving wheels of equal diameter" in row(compared, "cycle").problem
    for each in compared.consists[3:]:
        assert (each.verdict, each.worst, each.time, each.arrives) == (None, None, None, False)
    assert len(compared.excursions) == 5
    assert compared.method == "handbook"
    assert compare_consists(PROPOSED[:1]).method is None


def test_each_order_puts_its_own_least_first(compared: ConsistTable) -> None:
    checked = compared.checked
    for order, value in (("time", "time"), ("water", "water"), ("fuel", "fuel"), ("cost", "cost")):
        ordered = sorted(checked, key=ORDERS[order])
        assert [each.name for each in ordered] == ["three", "eight", "two hundred"], order
        assert getattr(ordered[0], value) < getattr(ordered[1], value)
    assert [each.name for each in sorted(checked, key=ORDERS["mass"])] == ["two hundred", "eight", "three"]
    verdicts = [VERDICTS.index(each.verdict or "stop") for each in sorted(checked, key=ORDERS["verdict"])]
    assert verdicts == sorted(verdicts)
    three = row(compared, "three")
    assert three.worst is not None
    near = replace(three, check=None, name="near")
    assert sorted([near, three], key=ORDERS["verdict"])[0] is three
    assert sorted([near, three], key=ORDERS["cost"])[0] is three  # equal costs are told apart by the verdict


@pytest.mark.parametrize(
    ("proposed", "asked", "words"),
    [
        ((), {}, "no consists to compare"),
        (PROPOSED[:1], {"order": "speed"}, "^order must be one of verdict, .*, mass, found 'speed'"),
        (PROPOSED[:1], {"order": "cost"}, "^order is 'cost', but no price is given"),
        (PROPOSED[:1], {"prices": Prices(water=-1.0)}, "^water_price must be at least 0, found -1"),
        (PROPOSED[:1], {"prices": Prices(time=float("inf"))}, "^time_price must be at least 0, found inf"),
    ],
)  # fmt: skip
def test_a_request_that_cannot_be_answered_is_refused(proposed, asked, words) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=words):
        compare_consists(proposed, **asked)
    assert compare_consists(PROPOSED[:1], prices=Prices(fuel=0.0), order="cost").prices.given
