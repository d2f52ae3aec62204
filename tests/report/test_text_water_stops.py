"""What the report of water and fuel stops claims: only what was run or left out by the reach."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
import trials

from locosim.library.supply_results import WaterStopsResult
from locosim.model import Stop
from locosim.planning.water_stops import WaterStops, plan_water_stops
from locosim.plot.water_stops import plot_water_stops
from locosim.report.json.water_stops import water_stops_json
from locosim.report.text.water_stops import water_stops_text


@pytest.fixture(scope="module")
def found() -> WaterStops:
    """One stop of two places, without which the tender does not last."""
    tender = replace(trials.locomotive().tender, water_capacity=2.0)
    made = trials.excursion(
        trials.line([(24000.0, 0.002)], stops=[11000.0, 14000.0]),
        engine=trials.locomotive(tender=tender),
        made_of=trials.train(trials.coaches(4)),
    )
    made = plan_water_stops(replace(made, stops=(Stop(station="A"), Stop(station="D"))))
    assert made.least.best is not None
    assert len(made.least.best.stops) == 1
    return made


def text(found: WaterStops, **changed: object) -> str:
    """The report in one line, with other figures of the search."""
    return " ".join(water_stops_text(replace(found, least=replace(found.least, **changed))).split())


def test_the_least_set_is_called_so_where_each_smaller_one_was_run_or_left_out(found: WaterStops) -> None:
    every = text(found)
    assert "Least set: " in every
    assert "No smaller set will do. Refused, each run and judged by the check" in every
    assert "not run" not in every
    some = text(found, left_out=6461, fewest_by_reach=1)
    assert "No smaller set will do." in some
    assert (
        "6,461 sets were not run, because a tank would not last between the fillings even with a tenth less used than "
        "by a run that never stops for supplies. With so much used, at least 1 stop is needed."
    ) in some
    assert "1 set was not run, because" in text(found, left_out=1)


def test_a_smaller_set_is_not_ruled_out_where_some_were_permitted_and_not_run(found: WaterStops) -> None:
    open_end = text(found, untried=297, left_out=3)
    assert "No smaller set will do" not in open_end
    assert "Least set: " not in open_end
    assert "Least set found: " in open_end
    assert "Smaller sets refused, each run and judged by the check, the nearest first:" in open_end
    assert (
        "297 sets were not run either and may do: only 60 of each number of stops are run. A smaller set is not ruled "
        "out."
    ) in open_end
    assert "may do: only 60" in text(found, best=None, runner_up=None, untried=2)
    assert "ruled out" not in text(found, best=None, runner_up=None, untried=2)
    record = json.loads(water_stops_json(replace(found, least=replace(found.least, untried=297, left_out=3))))
    assert (record["smaller_sets_not_run"], record["smaller_sets_untried"]) == (300, 297)


def test_the_picture_and_the_library_claim_no_more(found: WaterStops) -> None:
    unproven = replace(found, least=replace(found.least, untried=1))
    assert WaterStopsResult(found).proven
    assert not WaterStopsResult(unproven).proven
    titles = [figure.get_suptitle() for figure in map(plot_water_stops, (found, unproven))]
    assert "least set of stops, " in titles[0]
    assert "least set of stops found, " in titles[1]


def test_of_sets_of_one_size_only_those_run_are_compared(found: WaterStops) -> None:
    assert "More than 60 sets of this size may do; only the first 60 were run and compared." in text(
        found, capped=True
    )
    assert "More than 60" not in text(found)


def test_a_runner_up_is_denied_only_of_the_sets_run(found: WaterStops) -> None:
    best = found.least.best
    assert best is not None
    assert "Runner-up: none; of the sets of 1 or 2 stops that were run, no other keeps the reserves." in text(
        found, runner_up=None
    )
    everything = replace(best, stops=best.stops * 2)
    assert "Runner-up: none; every place of the line is in the least set." in text(
        found, runner_up=None, best=everything
    )


def test_the_water_car_claims_no_more_than_was_proven(found: WaterStops) -> None:
    def with_car(**changed: object) -> str:
        changed_car = replace(found.water_car, **changed)
        return " ".join(water_stops_text(replace(found, water_car=changed_car)).split())

    assert found.water_car.proven
    assert "if not fewer" not in with_car()
    assert "stop, if not fewer;" in with_car(proven=False).replace("stops,", "stop,")
    assert "the places of the line do not suffice" in with_car(plan=None)
    assert "no set that was run suffices" in with_car(plan=None, proven=False)
