"""The latest departure over made-up runs, and the changes for the worse at their boundaries."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.journey.kernel.arrays import ARRIVE
from locosim.model import Auxiliaries, Crew, Excursion, FeedDevice, Fuel, Stop, Weather
from locosim.model.assumptions import Assumptions
from locosim.planning import contingencies, latest_departure, station_times
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.latest_departure import Departures, MissedArrival, _last_kept

LINE = trials.line([(9000.0, 0.0)], stops=(3000.0, 6000.0))
START = 36000.0
PLAN = replace(
    trials.excursion(LINE, departure=START),
    stops=(
        Stop(station="A"),
        Stop(station="B", arrive=START + 400.0),
        Stop(station="C"),
        Stop(station="D", arrive=START + 1400.0),
    ),
)


def departures(
    monkeypatch: pytest.MonkeyPatch, running: tuple[float, ...], *, wait: float = 0.0, reached: int = 4
) -> tuple[Departures, list[float]]:
    """Departures of runs that take these times to each stop; one that waits at B until a clock time."""
    shifts: list[float] = []

    def times(start: float) -> list[float]:
        at_b = start + running[1]
        left = max(at_b, wait)
        return [start, at_b, left + running[2] - running[1], left + running[3] - running[1]]

    class Start(tuple):  # type: ignore[type-arg]
        time = 0.0

        def _replace(self, time: float) -> Any:
            made = Start()
            made.time = time
            return made

    def run_prepared(prepared: Any) -> Any:
        shifts.append(prepared.start.time - START)
        nodes = np.zeros((ARRIVE + 1, 40))
        nodes[ARRIVE, [0, 10, 20, 30]] = times(prepared.start.time)
        return SimpleNamespace(last_node=10 * (reached - 1), nodes=nodes)

    @dataclass
    class Prepared:
        start: Any
        stop_nodes: tuple[int, ...] = (0, 10, 20, 30)

    def prepare(asked: Excursion, performance: Any, *, transient_boiler: bool) -> Any:
        assert asked == replace(PLAN, crew=Crew(habit="hold_speed_limit"))
        assert (performance, transient_boiler) == ("known", True)
        return Prepared(Start())

    monkeypatch.setattr(latest_departure, "prepare", prepare)
    monkeypatch.setattr(latest_departure, "run_prepared", run_prepared)
    monkeypatch.setattr(latest_departure, "with_rehearsal", lambda prepared: prepared)
    stops = [SimpleNamespace(arrive=at) for at in times(START)[:reached]]
    full: Any = SimpleNamespace(excursion=PLAN, performance="known", stops=stops)
    return Departures(full), shifts


@pytest.mark.parametrize(
    ("running", "wait", "latest"),
    [
        ((0.0, 300.0, 600.0, 1000.0), 0.0, 100.0),  # B has 100 s to spare, and D 400 s
        ((0.0, 300.0, 600.0, 1390.0), 0.0, 10.0),
        ((0.0, 300.0, 600.0, 2000.0), 0.0, -600.0),
        ((0.0, 300.0, 600.0, 1000.0), START + 450.0, 100.0),
        ((0.0, 300.0, 600.0, 1310.0), START + 380.0, 90.0),  # until 80 s the wait takes it up
        ((0.0, 7590.0, 7700.0, 7800.0), 0.0, -7190.0),
        ((0.0, 304.9, 600.0, 1000.0), 0.0, 95.1),
    ],
)
def test_the_latest_departure_keeps_every_arrival_and_five_seconds_later_one_is_missed(
    monkeypatch: pytest.MonkeyPatch, running: tuple[float, ...], wait: float, latest: float
) -> None:
    made, shifts = departures(monkeypatch, running, wait=wait)
    found = made.latest()
    assert found is not None
    assert latest - 5.0 <= found - START <= latest
    assert made.missed(found - START) == ()
    assert made.missed(found - START + 5.0) != ()
    assert len(set(shifts)) == len(shifts)
    assert len(shifts) <= 14
    assert min(shifts) >= -7200.0
    assert made.never_kept()[:0] == ()


@pytest.mark.parametrize("planned", [1.35, 1.45, 4.0])
def test_departures_that_are_tried_lie_two_and_a_half_to_five_seconds_apart(
    monkeypatch: pytest.MonkeyPatch, planned: float
) -> None:
    """From two hours before the plan to the first booked arrival, in a power of two of equal parts."""
    booked = 7200.0 * planned - 7200.0
    made, shifts = departures(monkeypatch, (0.0, 300.0, 600.0, 1000.0))
    made._booked = {1: START + booked}
    found = made.latest()
    assert found is not None
    width = 7200.0 * planned
    parts = 2048 if planned < 1.42 else 4096 if planned < 2.8 else 8192
    assert 2.5 < width / parts <= 5.0
    steps = (np.array(shifts) + 7200.0) / (width / parts)
    assert steps == pytest.approx(np.round(steps), abs=1e-6)
    assert booked - 300.0 - width / parts <= found - START <= booked - 300.0


def test_arrivals_that_no_departure_keeps_are_named_with_their_lateness(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made, _ = departures(monkeypatch, (0.0, 7700.0, 7800.0, 8900.0))
    assert made.latest() is None
    assert made.never_kept() == (MissedArrival("B", 100.0), MissedArrival("D", 300.0))
    made, _ = departures(monkeypatch, (0.0, 300.0, 600.0, 1000.0), reached=3)
    assert made.latest() is None
    assert made.never_kept() == (MissedArrival("D", None),)
    made, _ = departures(monkeypatch, (0.0, 300.0, 600.0, 1000.0), wait=START + 5000.0)
    assert made.latest() is None
    assert made.never_kept() == (MissedArrival("D", 4300.0),)


def test_an_arrival_is_missed_by_half_a_second_and_kept_to_the_second(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made, _ = departures(monkeypatch, (0.0, 300.0, 600.0, 1000.0))
    assert made.missed(100.5) == (MissedArrival("B", 0.5),)
    assert made.missed(100.0) == ()


def test_where_no_arrival_is_booked_there_is_no_latest_departure(monkeypatch: pytest.MonkeyPatch) -> None:
    made, shifts = departures(monkeypatch, (0.0, 300.0, 600.0, 1000.0))
    made._booked = {}
    assert (made.latest(), made.never_kept(), shifts) == (None, (), [])


@pytest.mark.parametrize("count", [1, 2, 7, 40])
def test_the_last_that_is_kept_is_found_from_any_guess(count: int) -> None:
    for last in range(-1, count):
        for guess in range(count):
            assert _last_kept(lambda number, last=last: number <= last, count, guess) == (
                last if last >= 0 else None
            )  # type: ignore[misc]


# Contingencies


def with_devices(*devices: tuple[str, float]) -> Excursion:
    feed = tuple(
        FeedDevice(name=f"{kind} {k}", kind=kind, max_rate=rate) for k, (kind, rate) in enumerate(devices)
    )
    return replace(PLAN, locomotive=trials.locomotive(feed_devices=feed))


def test_the_largest_feed_device_fails_where_there_is_another() -> None:
    made = contingencies.feed_device_failed(
        with_devices(("injector", 2.0), ("pump_with_feedwater_heater", 3.0), ("injector", 1.0))
    )
    assert made.name == "one feed pump failed"
    assert made.excursion is not None
    assert [device.max_rate for device in made.excursion.locomotive.feed_devices] == [2.0, 1.0]
    assert made.not_run == ""
    one = contingencies.feed_device_failed(with_devices(("injector", 2.0)))
    assert one == (
        "one injector failed",
        None,
        "the engine has no other feed device and cannot run without it",
    )
    assert contingencies.feed_device_failed(with_devices()) == (
        "one injector failed", None, "the engine file lists no feed devices"
    )  # fmt: skip
    alike = contingencies.feed_device_failed(with_devices(("injector", 2.0), ("injector", 2.0)))
    assert alike.excursion is not None
    assert len(alike.excursion.locomotive.feed_devices) == 1


@pytest.mark.parametrize(
    ("count", "words"), [(0, "the engine has none"), (1, "the engine has only one, and no air without it")]
)
def test_without_another_compressor_none_fails(count: int, words: str) -> None:
    engine = trials.locomotive(auxiliaries=Auxiliaries(air_compressor_count=count))
    assert contingencies.compressor_failed(replace(PLAN, locomotive=engine)) == (
        "one air compressor failed",
        None,
        words,
    )


def test_the_compressors_left_take_the_steam_of_all_and_a_quarter_more() -> None:
    auxiliaries = Auxiliaries(air_compressor_count=3, air_compressor_steam=0.02)
    made = contingencies.compressor_failed(
        replace(PLAN, locomotive=trials.locomotive(auxiliaries=auxiliaries))
    )
    assert made.excursion is not None
    left = made.excursion.locomotive.auxiliaries
    assert (left.air_compressor_count, left.air_compressor_steam) == (2, pytest.approx(0.02 * 3 * 1.25 / 2))


@pytest.mark.parametrize(
    ("rail", "applies"), [("wet", False), ("greasy", False), ("moist", True), ("dry sanded", True)]
)
def test_a_rail_as_slippery_is_not_wetted(rail: str, applies: bool) -> None:
    made = contingencies.wet_rail(replace(PLAN, rail=rail))
    assert made.excursion == (replace(PLAN, rail="wet") if applies else None)
    assert made.name == "wet rail"
    assert made.not_run == ("" if applies else f"the rail is as slippery already: {rail}")


def test_changes_stay_within_what_a_file_may_give() -> None:
    strongest = contingencies.declared_field(Weather, "headwind").metadata["below"]
    windy = replace(PLAN, weather=replace(PLAN.weather, headwind=0.998 * strongest))
    made = contingencies.stronger_headwind(windy)
    assert made.excursion is not None
    assert made.excursion.weather.headwind == pytest.approx(0.999 * strongest)
    lowest = contingencies.declared_field(Fuel, "heating_value").metadata["above"]
    lean = replace(PLAN, fuel=replace(PLAN.fuel, heating_value=1.01 * lowest))
    poor = contingencies.poor_fuel(lean)
    assert poor.excursion is not None
    assert poor.excursion.fuel.heating_value == pytest.approx(1.001 * lowest)
    assert poor.name == "poor coal, 20 % less heat"
    wood = contingencies.poor_fuel(replace(PLAN, fuel=Fuel(kind="wood")))
    assert wood.name == "poor wood, 20 % less heat"


@pytest.mark.parametrize(("lag", "slow"), [(20.0, 30.0), (29.0, 30.0), (70.0, 70.0)])
def test_a_slow_fire_is_never_quicker_than_the_one_assumed(lag: float, slow: float) -> None:
    made = contingencies.slow_fire(replace(PLAN, assumptions=Assumptions(air_lag=lag)))
    assert made.excursion is not None
    high = Assumptions.declared()["green_coal_time"].metadata["high"]
    assert made.excursion.assumptions == Assumptions(air_lag=slow, green_coal_time=high)


@pytest.mark.parametrize(("horizon", "applies"), [(1800.0, True), (0.0, False)])
def test_a_stranger_sees_nothing_ahead(horizon: float, applies: bool) -> None:
    made = contingencies.stranger_to_the_road(replace(PLAN, crew=Crew(horizon=horizon)))
    assert made.name == "fireman a stranger to the road"
    assert made.excursion == (replace(PLAN, crew=Crew(horizon=0.0)) if applies else None)
    assert made.not_run == ("" if applies else "crew.horizon is 0 already")


@pytest.mark.parametrize(
    ("base", "verdict", "worst", "becomes"),
    [
        (CLEAR, CLEAR, None, False),
        (CLEAR, TIGHT, "first", False),
        (TIGHT, STOP, "first", True),
        (STOP, STOP, "first", False),
    ],
)
def test_a_contingency_is_the_check_with_one_thing_changed(
    monkeypatch: pytest.MonkeyPatch, base: str, verdict: str, worst: str | None, becomes: bool
) -> None:
    changed = SimpleNamespace(verdict=verdict, findings=("first", "second"))
    monkeypatch.setattr(
        contingencies, "with_bands_that_count", lambda check: changed if check == "checked" else None
    )
    checker: Any = SimpleNamespace(
        base=SimpleNamespace(verdict=base), check=lambda asked: "checked" if asked == PLAN else None
    )
    found = contingencies._run(contingencies.Change("a change", PLAN), checker)
    assert (found.name, found.verdict, found.worst, found.becomes_stop, found.not_run) == (
        "a change", verdict, worst, becomes, ""
    )  # fmt: skip
    none = contingencies._run(contingencies.Change("none", None, "has none"), checker)
    assert (none.verdict, none.worst, none.becomes_stop, none.not_run) == (None, None, False, "has none")


# Station times


def test_times_at_every_station_from_the_first_stop_to_the_last() -> None:
    stops = (
        Stop(station="B"),
        Stop(station="C", arrive=37000.0, depart=37100.0),
        Stop(station="E", arrive=38000.0),
    )
    route = trials.line([(12000.0, 0.0)], stops=(3000.0, 6000.0, 9000.0))
    asked = replace(trials.excursion(route, departure=36000.0), stops=stops, departure_delay=30.0)
    records = [
        SimpleNamespace(arrive=36000.0, depart=36030.0),
        SimpleNamespace(arrive=36960.0, depart=37100.0),
    ]
    run: Any = SimpleNamespace(
        excursion=asked,
        stops=records,
        chainage=np.array([4000.0, 7000.0, 10500.0]),
        time=np.array([36000.0, 36960.0, 37800.0]),
    )
    b, c, d, e = station_times.station_times(run)
    assert [(t.station, t.milepost, t.stops, t.reached) for t in (b, c, d, e)] == [
        ("B", 4000.0, True, True), ("C", 7000.0, True, True), ("D", 10000.0, False, True), ("E", 13000.0, True, False)
    ]  # fmt: skip
    assert (b.booked_arrive, b.arrive, b.booked_depart, b.depart, b.late) == (
        None,
        None,
        36000.0,
        36030.0,
        30.0,
    )
    assert (c.booked_arrive, c.arrive, c.booked_depart, c.depart, c.late) == (
        37000.0,
        36960.0,
        37100.0,
        37100.0,
        -40.0,
    )
    assert (d.arrive, d.late) == (pytest.approx(36960.0 + 840.0 * 3000.0 / 3500.0), None)
    assert (e.booked_arrive, e.arrive, e.depart, e.booked_depart) == (38000.0, None, None, None)
    run.chainage = np.array([4000.0, 7000.0, 10000.0])
    assert station_times.station_times(run)[2].reached
    run.chainage = np.array([4000.0, 7000.0, 9999.0])
    passed = station_times.station_times(run)[2]
    assert (passed.reached, passed.arrive) == (False, None)
    run.stops = [*records, SimpleNamespace(arrive=38010.0, depart=38010.0)]
    last = station_times.station_times(run)[3]
    assert (last.arrive, last.depart, last.late, last.reached) == (38010.0, None, 10.0, True)
    back = replace(
        asked, direction="reverse", stops=tuple(Stop(station=name) for name in "DB"), departure_delay=0.0
    )
    run = SimpleNamespace(
        excursion=back, stops=records, chainage=np.array([3000.0, 9000.0]), time=np.array([36000.0, 37200.0])
    )
    d, c, b = station_times.station_times(run)
    assert [(t.station, t.milepost) for t in (d, c, b)] == [("D", 10000.0), ("C", 7000.0), ("B", 4000.0)]
    assert (d.late, c.arrive) == (None, pytest.approx(36600.0))
