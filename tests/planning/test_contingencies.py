"""Contingencies, and the latest departure."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.engine.boiler.steam_supply import heating_value
from locosim.journey.run import run_full_effort
from locosim.model import Auxiliaries, Crew, Criteria, Excursion, Fuel, Stop
from locosim.model.assumptions import Assumptions
from locosim.planning import contingencies
from locosim.planning.bands import with_bands
from locosim.planning.check import run_and_check
from locosim.planning.latest_departure import latest_departure

LINE = trials.line([(4000.0, 0.001), (6000.0, 0.007), (4000.0, -0.004)], stops=(9000.0,), speed_limit=17.0)


def asked(**changes: object) -> Excursion:
    return trials.excursion(LINE, **changes)  # type: ignore[arg-type]


def changed(change: contingencies.Change) -> Excursion:
    assert change.excursion is not None
    return change.excursion


def test_each_contingency_changes_one_thing() -> None:
    excursion = asked()
    two = replace(
        excursion, locomotive=replace(excursion.locomotive, auxiliaries=Auxiliaries(air_compressor_count=2))
    )
    fed = changed(contingencies.feed_device_failed(excursion))
    assert len(fed.locomotive.feed_devices) == len(excursion.locomotive.feed_devices) - 1
    assert changed(contingencies.wet_rail(excursion)).rail == "wet"
    poor = changed(contingencies.poor_fuel(excursion)).fuel.heating_value
    assert poor == pytest.approx(0.8 * heating_value(excursion.fuel))
    wind = changed(contingencies.stronger_headwind(excursion)).weather.headwind
    assert wind == pytest.approx(excursion.weather.headwind + 8.9408)
    air = changed(contingencies.compressor_failed(two)).locomotive.auxiliaries
    assert air.air_compressor_count == 1
    # One compressor doing the work of two uses more steam than both did.
    assert air.continuous_demand > two.locomotive.auxiliaries.continuous_demand


def test_contingencies_change_by_the_assumed_amounts() -> None:
    assumed = Assumptions(poor_coal_share=0.7, added_headwind=3.0, remaining_compressor_steam=1.5)
    excursion = asked(assumptions=assumed)
    two = replace(
        excursion, locomotive=replace(excursion.locomotive, auxiliaries=Auxiliaries(air_compressor_count=2))
    )
    poor = contingencies.poor_fuel(excursion)
    assert poor.name == "poor coal, 30 % less heat"
    assert changed(poor).fuel.heating_value == pytest.approx(0.7 * heating_value(excursion.fuel))
    assert changed(contingencies.stronger_headwind(excursion)).weather.headwind == pytest.approx(3.0)
    before = two.locomotive.auxiliaries
    after = changed(contingencies.compressor_failed(two)).locomotive.auxiliaries
    assert after.air_compressor_steam == pytest.approx(2 * 1.5 * before.air_compressor_steam)


def test_names_follow_the_fuel_and_the_feed_device() -> None:
    excursion = asked()
    assert contingencies.poor_fuel(replace(excursion, fuel=Fuel(kind="wood"))).name.startswith("poor wood")
    assert contingencies.feed_device_failed(excursion).name == "one injector failed"
    devices = tuple(replace(d, kind="pump") for d in excursion.locomotive.feed_devices)
    pumped = replace(excursion, locomotive=replace(excursion.locomotive, feed_devices=devices))
    assert contingencies.feed_device_failed(pumped).name == "one feed pump failed"


def test_a_contingency_that_does_not_apply_has_a_reason() -> None:
    excursion = asked(rail="frost")
    devices = excursion.locomotive.feed_devices
    reasons = []
    for left, compressors in ((devices[:1], 1), ((), 0)):
        engine = replace(
            excursion.locomotive, feed_devices=left, auxiliaries=Auxiliaries(air_compressor_count=compressors)
        )
        check = run_and_check(replace(excursion, locomotive=engine))
        found = contingencies.run_contingencies(check)
        assert len(found) == len(contingencies.CHANGES)
        assert all((each.verdict is None) == bool(each.not_run) for each in found)
        reasons.append({each.name: each.not_run for each in found if each.not_run})
    frost = {"wet rail": "the rail is as slippery already: frost"}
    assert reasons == [
        {
            "one injector failed": "the engine has no other feed device and cannot run without it",
            "one air compressor failed": "the engine has only one, and no air without it",
            **frost,
        },
        {
            "one injector failed": "the engine file lists no feed devices",
            "one air compressor failed": "the engine has none",
            **frost,
        },
    ]


def test_a_contingency_that_stops_a_clear_excursion_is_marked() -> None:
    # On a dry rail a third of the adhesion is to spare; a wet rail has 0.6 of it.
    steep = trials.line([(2000.0, 0.0), (5000.0, 0.016)], speed_limit=12.0)
    check = run_and_check(trials.excursion(steep, crew=Crew(steam_allowance=1.0)))
    wet = next(each for each in contingencies.run_contingencies(check) if each.name == "wet rail")
    assert check.verdict != "stop"
    assert (wet.verdict, wet.becomes_stop) == ("stop", True)
    assert wet.worst is not None


def test_the_latest_departure_just_keeps_the_arrival() -> None:
    excursion = asked(stops=(Stop(station="A"), Stop(station="B", dwell=60.0), Stop(station="C")))
    performance = trials.performance(excursion)
    end = run_and_check(excursion, performance).journey.stops[-1].arrive
    stops = (*excursion.stops[:-1], replace(excursion.stops[-1], arrive=end + 600.0))
    timed = replace(excursion, stops=stops)
    latest = latest_departure(timed, performance)
    assert latest is not None
    assert latest == pytest.approx(excursion.departure + 600.0, abs=6.0)
    kept = run_and_check(replace(timed, departure=latest), performance).journey.stops[-1].arrive
    assert kept <= end + 600.0


def test_the_latest_departure_is_that_of_full_effort_whatever_the_habit() -> None:
    stops = (Stop(station="A"), Stop(station="B", dwell=60.0), Stop(station="C", arrive=36000.0 + 2400.0))
    found = []
    for habit in ("hold_speed_limit", "coast_to_stops"):
        excursion = asked(stops=stops, crew=Crew(habit=habit))
        performance = trials.performance(excursion)
        latest = latest_departure(excursion, performance)
        assert latest is not None
        for departure, kept in ((latest, True), (latest + 10.0, False)):
            run = run_full_effort(replace(excursion, departure=departure), performance)
            assert (run.stops[-1].arrive <= 36000.0 + 2400.0) == kept
        found.append(latest)
    assert found[0] == pytest.approx(found[1], abs=5.0)


def test_waiting_on_the_way_is_not_counted_twice() -> None:
    excursion = asked(stops=(Stop(station="A"), Stop(station="B"), Stop(station="C")))
    performance = trials.performance(excursion)
    stops = run_and_check(excursion, performance).journey.stops
    stops = (
        excursion.stops[0],
        Stop(station="B", depart=stops[1].depart + 300.0),
        Stop(station="C", arrive=stops[2].arrive + 330.0),
    )
    latest = latest_departure(replace(excursion, stops=stops), performance)
    assert latest is not None
    # Of 330 s to spare at the end, 300 are spent waiting on the way; leaving 330 s later is still in time.
    assert latest == pytest.approx(excursion.departure + 330.0, abs=8.0)


def test_without_an_advertised_arrival_there_is_no_latest_departure() -> None:
    excursion = asked()
    assert latest_departure(excursion, trials.performance(excursion)) is None


def test_an_arrival_that_cannot_be_kept_has_no_latest_departure() -> None:
    stops = (Stop(station="A"), Stop(station="B", depart=39600.0), Stop(station="C", arrive=39660.0))
    excursion = asked(stops=stops)
    assert latest_departure(excursion, trials.performance(excursion)) is None


def test_a_generous_timetable_is_searched_to_its_end() -> None:
    excursion = asked(stops=(Stop(station="A"), Stop(station="C")))
    performance = trials.performance(excursion)
    took = run_and_check(excursion, performance).journey.duration
    lax = replace(excursion, stops=(Stop(station="A"), Stop(station="C", arrive=36000.0 + 9 * 3600.0)))
    assert latest_departure(lax, performance) == pytest.approx(36000.0 + 9 * 3600.0 - took, abs=6.0)


def test_an_oil_fired_engine_runs_with_a_stranger_who_has_no_bed_to_begin_with() -> None:
    """Its fire began with green coal on the grate that never burned, and the ledger of fuel did not close."""
    excursion = asked(fuel=Fuel(kind="oil"))
    boiler = replace(excursion.locomotive.boiler, firing="oil")
    oil = replace(excursion, locomotive=replace(excursion.locomotive, boiler=boiler))
    found = contingencies.run_contingencies(run_and_check(oil))
    assert next(each for each in found if each.name == "fireman a stranger to the road").verdict is not None


def test_a_clear_contingency_is_clear_by_a_check_of_its_own() -> None:
    """The bands of the check without the change were taken over; a margin of 30 % and more has none."""
    level = trials.line([(3000.0, 0.0), (6000.0, 0.004)], speed_limit=18.0)
    verdicts = set()
    for least in (0.70, 0.75, 0.80, 0.84, 0.88):
        criteria = Criteria(min_boiler_pressure=least)
        excursion = trials.excursion(level, criteria=criteria, crew=Crew(steam_allowance=1.0))
        check = with_bands(run_and_check(excursion))
        for change, found in zip(contingencies.CHANGES, contingencies.run_contingencies(check), strict=True):
            if found.verdict == "clear":
                alone = with_bands(run_and_check(changed(change(excursion))))
                verdicts.add((least, found.name, alone.verdict))
    assert len(verdicts) >= 10
    assert {verdict for *_, verdict in verdicts} == {"clear"}
