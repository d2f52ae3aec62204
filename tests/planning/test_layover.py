"""A layover by hand: its work in order, and the water and fuel that go from one leg into the next."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.model import Excursion, Layover, Leg, Train
from locosim.planning import layover
from locosim.planning.layover import LayoverRecord, Task, carry_over, lay_over

TIMES = {
    "turning_time": 100.0,
    "running_around_time": 200.0,
    "switching_time": 400.0,
    "engine_change_time": 800.0,
    "brake_test_time": 1600.0,
    "inspection_time": 3200.0,
    "break_time": 6400.0,
}
LINE = trials.line([(4000.0, 0.0)], stops=(2000.0,))  # water at 0.05 m³/s and fuel at 8 kg/s everywhere
TANK, SPACE = 21e3, 7e3  # of the tender of a trial engine [kg]


def car(name: str, water: float, count: int = 1) -> Any:
    return trials.coaches(count, name=name, kind="water_car", people=0, water=water)


def out(*cars: Any, **changes: Any) -> Excursion:
    return trials.excursion(LINE, made_of=Train(name="train", vehicles=cars), departure=30000.0, **changes)


def home(*cars: Any, **changes: Any) -> Excursion:
    there = out(*cars, **changes)
    stops = tuple(reversed(there.stops))
    return replace(there, direction="reverse", stops=stops, departure=50000.0)


def run(excursion: Excursion, *, depart: float = 40000.0, water: float = 12e3, fuel: float = 5e3) -> Any:
    """The end of a run of a leg."""
    stops = [SimpleNamespace(depart=1.0), SimpleNamespace(depart=depart)]
    return SimpleNamespace(
        excursion=excursion,
        stops=stops,
        tender_water=np.array([9.0, water]),
        tender_fuel=np.array([9.0, fuel]),
    )


def recorded(
    patch: pytest.MonkeyPatch,
    first: Excursion,
    second: Excursion,
    work: Layover,
    *,
    begins: bool = False,
    **end: Any,
) -> tuple[LayoverRecord, list[float]]:
    """The layover before the second leg, and the time that the engine stood."""
    stood = []

    def standing_use(ended: Any, following: Excursion, time: float) -> Any:
        assert ended.excursion is first
        assert following is second
        stood.append(time)
        return SimpleNamespace(water=70.0, fuel=30.0)

    patch.setattr(layover, "standing_use", standing_use)
    day: Any = SimpleNamespace(legs=(Leg(excursion=first), Leg(excursion=second, layover=work)))
    ran = run(first, **end)
    return lay_over(day, 2, ran, None if begins else ran), stood


def names(record: LayoverRecord) -> list[str]:
    return [task.name for task in record.tasks]


def test_each_piece_of_work_takes_its_time_in_its_order(monkeypatch: pytest.MonkeyPatch) -> None:
    work = Layover(turn="turntable", run_around="yes", water=2.0, fuel=800.0, **TIMES)
    record, stood = recorded(monkeypatch, out(trials.coaches(2)), home(trials.coaches(3)), work)
    assert record.tasks == (
        Task("water", pytest.approx(40.0)),
        Task("fuel", pytest.approx(100.0)),
        Task("turning", 100.0),
        Task("running around", 200.0),
        Task("setting out and picking up cars", 400.0),
        Task("inspection", 3200.0),
        Task("break", 6400.0),
        Task("brake test", 1600.0),
    )
    assert record.work == pytest.approx(12040.0)
    assert (record.station, record.arrive, record.booked) == ("C", 40000.0, 50000.0)
    assert record.at_hand == 10000.0
    assert record.delay == pytest.approx(2040.0)
    assert record.departure == pytest.approx(52040.0)
    assert stood == [pytest.approx(12040.0)]
    assert (record.cars_left, record.cars_taken) == ({}, {"coach": 1})
    rates = replace(work, water_rate=0.1, fuel_rate=4.0)
    faster, _ = recorded(monkeypatch, out(trials.coaches(3)), home(trials.coaches(2)), rates)
    assert faster.tasks[:2] == (Task("water", pytest.approx(20.0)), Task("fuel", pytest.approx(200.0)))
    assert (faster.cars_left, faster.cars_taken) == ({"coach": 1}, {})


@pytest.mark.parametrize(
    ("first", "second", "work", "tasks"),
    [
        ((2,), (2,), {}, ["inspection", "break"]),
        ((2,), (2,), {"turn": "wye_with_train"}, ["turning", "inspection", "break"]),
        ((2,), (2,), {"turn": "wye"}, ["turning", "inspection", "break", "brake test"]),
        ((2,), (2,), {"run_around": "yes"}, ["running around", "inspection", "break", "brake test"]),
        ((2,), (1,), {}, ["setting out and picking up cars", "inspection", "break", "brake test"]),
        ((1,), (2,), {}, ["setting out and picking up cars", "inspection", "break", "brake test"]),
        ((2,), (), {}, ["setting out and picking up cars", "inspection", "break"]),
        ((), (), {"turn": "turntable"}, ["turning", "inspection", "break"]),
    ],
)
def test_what_is_done_and_whether_brakes_are_tested(
    monkeypatch: pytest.MonkeyPatch, first: Any, second: Any, work: Any, tasks: list[str]
) -> None:
    one, two = (tuple(trials.coaches(count) for count in counts) for counts in (first, second))
    record, _ = recorded(monkeypatch, out(*one), home(*two), Layover(**TIMES, **work))
    assert names(record) == tasks


def test_another_engine_begins_its_day_with_its_own_supplies(monkeypatch: pytest.MonkeyPatch) -> None:
    second = home(trials.coaches(2), engine=trials.locomotive(name="other"))
    record, stood = recorded(monkeypatch, out(trials.coaches(2)), second, Layover(**TIMES), begins=True)
    assert names(record) == ["changing engines", "inspection", "break", "brake test"]
    assert (record.water, record.fuel, stood) == (None, None, [])
    late = replace(record, arrive=record.arrive + 2000.0)
    leg = Leg(excursion=replace(second, departure_delay=60.0))
    carried = carry_over(leg, late)
    assert carried.departure_delay == pytest.approx(60.0 + late.delay)
    assert carried == replace(leg.excursion, departure_delay=carried.departure_delay)


@pytest.mark.parametrize("late", [0.0, 150.0])
def test_a_leg_that_is_delayed_anyhow_has_that_much_more_time(
    monkeypatch: pytest.MonkeyPatch, late: float
) -> None:
    second = replace(home(trials.coaches(2)), departure_delay=late)
    record, stood = recorded(monkeypatch, out(trials.coaches(2)), second, Layover(inspection_time=0.0))
    assert record.booked == 50000.0 + late
    assert (record.at_hand, record.delay, record.work) == (10000.0 + late, 0.0, 0.0)
    assert stood == [10000.0 + late]
    short, _ = recorded(monkeypatch, out(trials.coaches(2)), second, Layover(inspection_time=0.5))
    assert short.tasks == (Task("inspection", 0.5),)


@pytest.mark.parametrize(
    ("work", "water", "fuel"),
    [
        ({}, 0.0, 0.0),
        ({"take_water": "fill"}, 9e3, 0.0),
        ({"take_fuel": "fill"}, 0.0, 2e3),
        ({"water": 3.0, "fuel": 500.0}, 3e3, 500.0),
        ({"water": 10.0, "fuel": 2500.0}, 9e3, 2e3),
    ],
)
def test_no_more_is_taken_than_there_is_room_for(
    monkeypatch: pytest.MonkeyPatch, work: Any, water: float, fuel: float
) -> None:
    record, _ = recorded(monkeypatch, out(trials.coaches(1)), home(trials.coaches(1)), Layover(**work))
    assert record.water is not None
    assert record.fuel is not None
    assert record.water.taken == pytest.approx(water)
    assert record.fuel.taken == pytest.approx(fuel)
    assert record.water == layover.Carried(
        end=12e3,
        left=0.0,
        brought=0.0,
        taken=record.water.taken,
        used=70.0,
        start=12e3 + record.water.taken - 70.0,
    )
    assert record.fuel == layover.Carried(
        end=5e3,
        left=0.0,
        brought=0.0,
        taken=record.fuel.taken,
        used=30.0,
        start=5e3 + record.fuel.taken - 30.0,
    )


# Water in cars: the tender of 21 t is filled from them, so they hold what is beyond 21 t.
BIG, SMALL = 30e3, 10e3


@pytest.mark.parametrize(
    ("first", "second", "end", "left", "brought"),
    [
        ((), (), 20e3, 0.0, 0.0),
        ((("big", 30.0),), (("big", 30.0),), 41e3, 0.0, 0.0),
        ((("big", 30.0),), (), 41e3, 20e3, 0.0),
        ((("big", 30.0),), (), 20e3, 0.0, 0.0),
        ((("big", 30.0),), (), 51e3, 30e3, 0.0),
        ((), (("big", 30.0),), 20e3, 0.0, 15e3),  # it comes half full
        (
            (("big", 30.0), ("small", 10.0)),
            (("big", 30.0),),
            41e3,
            5e3,
            0.0,
        ),  # a quarter of 20 t is in the small car
        ((("big", 30.0), ("small", 10.0)), (("small", 10.0),), 61e3, 30e3, 0.0),
        ((("small", 10.0),), (("big", 30.0), ("small", 10.0)), 26e3, 0.0, 15e3),
        ((("small", 10.0),), (("big", 30.0),), 26e3, 5e3, 15e3),
        ((("barrel", 0.8),), (), 21.4e3, 0.4e3, 0.0),
        ((), (("barrel", 0.8),), 20e3, 0.0, 0.4e3),
    ],
)
def test_water_in_cars_goes_and_comes_with_them(
    monkeypatch: pytest.MonkeyPatch, first: Any, second: Any, end: float, left: float, brought: float
) -> None:
    one, two = (tuple(car(*each) for each in cars) for cars in (first, second))
    following = replace(home(*two), initial_auxiliary_water=0.5)
    record, _ = recorded(monkeypatch, out(*one), following, Layover(), water=end)
    assert record.water is not None
    assert (record.water.left, record.water.brought) == (pytest.approx(left), pytest.approx(brought))
    assert record.water.start == pytest.approx(end - left + brought - 70.0)
    filled, _ = recorded(monkeypatch, out(*one), following, Layover(take_water="fill"), water=end)
    assert filled.water is not None
    room = TANK + sum(1000.0 * water for _, water in second) - (end - left + brought)
    assert filled.water.taken == pytest.approx(max(room, 0.0))


def test_two_rows_of_like_cars_count_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    record, _ = recorded(
        monkeypatch, out(car("big", 30.0), trials.coaches(1), car("big", 30.0, 2)),
        home(car("big", 30.0)), Layover(), water=66e3,
    )  # fmt: skip
    assert record.water is not None
    assert record.water.left == pytest.approx(30e3)  # two of three cars with 45 t in all
    assert record.cars_left == {"coach": 1, "big": 2}


@pytest.mark.parametrize(
    ("start", "fuel", "cars", "expected"),
    [
        (10.5e3, 3.5e3, (), (0.5, 0.5, 1.0)),
        (36e3, 3.5e3, (("big", 30.0),), (1.0, 0.5, 0.5)),
        (21e3, 7.1e3, (("big", 30.0),), (1.0, 1.0, 0.0)),
        (60e3, 7e3, (("big", 30.0),), (1.0, 1.0, 1.0)),
        (22e3, 1.0, (), (1.0, 1.0 / 7e3, 1.0)),
    ],
)
def test_a_leg_begins_with_what_is_carried_over(
    monkeypatch: pytest.MonkeyPatch,
    start: float,
    fuel: float,
    cars: Any,
    expected: tuple[float, float, float],
) -> None:
    second = home(*(car(*each) for each in cars))
    record, _ = recorded(monkeypatch, out(), second, Layover())
    assert record.water is not None
    assert record.fuel is not None
    record = replace(
        record,
        water=replace(record.water, start=start),
        fuel=replace(record.fuel, start=fuel),
        arrive=51000.0,
    )
    made = carry_over(Leg(excursion=second), record)
    found = (made.initial_water, made.initial_fuel, made.initial_auxiliary_water)
    assert found == pytest.approx(expected)
    assert made.departure_delay == pytest.approx(record.work + 1000.0)
