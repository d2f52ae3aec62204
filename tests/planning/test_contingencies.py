"""The check again with something gone wrong, and the latest departure."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.model import Auxiliaries, Crew, Excursion, Stop
from locosim.planning import contingencies as gone_wrong
from locosim.planning.check import check_excursion
from locosim.planning.latest_departure import latest_departure

LINE = trials.line([(4000.0, 0.001), (6000.0, 0.007), (4000.0, -0.004)], stops=(9000.0,), speed_limit=17.0)


def asked(**changes: object) -> Excursion:
    return trials.excursion(LINE, **changes)  # type: ignore[arg-type]


def test_each_trial_changes_what_it_says_and_nothing_else() -> None:
    excursion = asked()
    two = replace(
        excursion, locomotive=replace(excursion.locomotive, auxiliaries=Auxiliaries(air_compressor_count=2))
    )
    fed = gone_wrong.feed_device_out(excursion)
    assert isinstance(fed, Excursion)
    assert len(fed.locomotive.feed_devices) == len(excursion.locomotive.feed_devices) - 1
    wet = gone_wrong.wet_rail(excursion)
    assert isinstance(wet, Excursion)
    assert wet.rail == "wet"
    coal = gone_wrong.poor_coal(excursion).fuel.heating_value
    assert coal == pytest.approx(0.8 * gone_wrong.heating_value(excursion.fuel))
    wind = gone_wrong.headwind(excursion).weather.headwind
    assert wind == pytest.approx(excursion.weather.headwind + 8.9408)
    air = gone_wrong.compressor_out(two)
    assert isinstance(air, Excursion)
    assert air.locomotive.auxiliaries.air_compressor_count == 1
    # One compressor doing the work of two takes more steam than both did.
    assert air.locomotive.auxiliaries.continuous_demand > two.locomotive.auxiliaries.continuous_demand


def test_what_is_not_doubled_cannot_be_lost_and_that_is_said() -> None:
    excursion = asked(rail="frost")
    devices = excursion.locomotive.feed_devices
    said = []
    for left, compressors in ((devices[:1], 1), ((), 0)):
        engine = replace(
            excursion.locomotive, feed_devices=left, auxiliaries=Auxiliaries(air_compressor_count=compressors)
        )
        judged = check_excursion(replace(excursion, locomotive=engine))
        found = {trial.name: trial for trial in gone_wrong.run_contingencies(judged)}
        assert set(found) == set(gone_wrong.CONTINGENCIES)
        untried = {name: trial.not_run for name, trial in found.items() if trial.verdict is None}
        said.append(untried)
        assert all(not trial.not_run for name, trial in found.items() if name not in untried)
    frost = {"wet rail": "the frost rail asked for holds no more than a wet one"}
    assert said == [
        {
            "largest feed device out": "she has only one, and cannot go on without it",
            "one air compressor out": "she has only one, and no air without it",
            **frost,
        },
        {
            "largest feed device out": "the engine file lists none",
            "one air compressor out": "she has none",
            **frost,
        },
    ]


def test_a_trial_that_stops_a_clear_excursion_is_named() -> None:
    # On a dry rail she has a third to spare; a wet one holds 0.6 of it.
    steep = trials.line([(2000.0, 0.0), (5000.0, 0.016)], speed_limit=12.0)
    check = check_excursion(trials.excursion(steep, crew=Crew(steam_allowance=1.0)))
    found = {trial.name: trial for trial in gone_wrong.run_contingencies(check)}
    assert check.verdict != "stop"
    assert found["wet rail"].verdict == "stop"
    assert found["wet rail"].becomes_stop
    assert found["wet rail"].worst is not None


def test_the_latest_departure_just_keeps_the_arrival() -> None:
    excursion = asked(stops=(Stop(station="A"), Stop(station="B", dwell=60.0), Stop(station="C")))
    performance = trials.performance(excursion)
    end = check_excursion(excursion, performance).journey.stops[-1].arrive
    stops = (*excursion.stops[:-1], replace(excursion.stops[-1], arrive=end + 600.0))
    timed = replace(excursion, stops=stops)
    latest = latest_departure(timed, performance)
    assert latest is not None
    assert latest == pytest.approx(excursion.departure + 600.0, abs=6.0)
    kept = check_excursion(replace(timed, departure=latest), performance).journey.stops[-1].arrive
    assert kept <= end + 600.0


def test_waiting_on_the_way_is_not_counted_twice() -> None:
    excursion = asked(stops=(Stop(station="A"), Stop(station="B"), Stop(station="C")))
    performance = trials.performance(excursion)
    stops = check_excursion(excursion, performance).journey.stops
    stops = (
        excursion.stops[0],
        Stop(station="B", depart=stops[1].depart + 300.0),
        Stop(station="C", arrive=stops[2].arrive + 330.0),
    )
    latest = latest_departure(replace(excursion, stops=stops), performance)
    assert latest is not None
    # Five and a half minutes in hand at the end, five of them spent waiting anyhow: she may leave 330 s later.
    assert latest == pytest.approx(excursion.departure + 330.0, abs=8.0)


def test_without_an_advertised_arrival_there_is_no_latest_departure() -> None:
    excursion = asked()
    assert latest_departure(excursion, trials.performance(excursion)) is None


def test_an_arrival_nobody_could_keep_has_no_latest_departure() -> None:
    stops = (Stop(station="A"), Stop(station="B", depart=39600.0), Stop(station="C", arrive=39660.0))
    excursion = asked(stops=stops)
    assert latest_departure(excursion, trials.performance(excursion)) is None


def test_a_lax_timetable_is_searched_to_its_end() -> None:
    excursion = asked(stops=(Stop(station="A"), Stop(station="C")))
    performance = trials.performance(excursion)
    took = check_excursion(excursion, performance).journey.duration
    lax = replace(excursion, stops=(Stop(station="A"), Stop(station="C", arrive=36000.0 + 9 * 3600.0)))
    assert latest_departure(lax, performance) == pytest.approx(36000.0 + 9 * 3600.0 - took, abs=6.0)
