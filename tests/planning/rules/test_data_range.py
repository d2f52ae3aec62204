"""Laws used outside the range of their data."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials
from judged import hills, one, run

from locosim.constants import MPH, SHORT_TON
from locosim.journey.kernel.arrays import MAP_END
from locosim.planning.finding import CLEAR, NOTE
from locosim.planning.rules import data_range as data_range_rules


def test_a_law_used_beyond_its_range_is_a_note() -> None:
    fine = run(hills())
    assert data_range_rules.data_range(fine) == []
    light = trials.coaches(
        2, empty_mass=4e3, people=0, resistance_law="davis_1926_freight", name="light wagon"
    )
    found = data_range_rules.data_range(run(hills(made_of=trials.train(trials.coaches(), light))))
    assert found
    assert {f.verdict for f in found} == {NOTE}
    assert {f.place for f in found} == {"light wagon"}
    assert all("was not published for this" in f.because for f in found)
    assert all(f.margin < 0 for f in found)


def test_of_several_vehicles_the_one_farthest_from_the_data_is_named() -> None:
    # davis_1926_freight from 5 short tons an axle (from memory): 4 t on four axles is 22 % of it, 16 t 88 %
    cars = [
        trials.coaches(1, empty_mass=mass, people=0, resistance_law="davis_1926_freight", name=name)
        for name, mass in (("medium", 16e3), ("light", 4e3), ("heavy", 30e3))
    ]
    for order in (cars, cars[::-1]):
        found = one(data_range_rules.data_range, run(hills(made_of=trials.train(*order))))
        assert found.place == "light"
        assert found.limit == pytest.approx(5 * SHORT_TON)
        assert found.margin == pytest.approx(1e3 / (5 * SHORT_TON) - 1.0)


@pytest.mark.parametrize(("mass", "notes"), [(10e3, 1), (20e3, 0), (60e3, 0), (75e3, 1)])
def test_cars_lighter_or_heavier_than_those_measured_by_schmidt(mass, notes) -> None:
    # 15 to 75 short tons, 13.6 to 68.0 t [Schmidt1910]
    car = trials.coaches(1, empty_mass=mass, people=0, resistance_law="schmidt_1910", name="car")
    found = data_range_rules.data_range(run(hills(made_of=trials.train(car))))
    assert [f.place for f in found if "this mass" in f.because] == ["car"] * notes


@pytest.mark.parametrize(("mph", "beyond"), [(59.9, False), (60.1, True)])
def test_speeds_beyond_the_brake_shoe_data_are_a_note(mph, beyond) -> None:
    # the last speed of Galton's table is 60 mph
    fine = run(hills())
    journey = replace(fine, speed=fine.speed * (mph * MPH / fine.speed.max()))
    found = [f for f in data_range_rules.data_range(journey) if "brake-shoe" in f.because]
    assert len(found) == beyond
    for note in found:
        assert (note.verdict, note.place) == (NOTE, "whole line")
        assert (note.value, note.limit) == pytest.approx((mph * MPH, 60.0 * MPH))


@pytest.mark.parametrize(("share", "verdict"), [(0.99, CLEAR), (0.9995, NOTE), (1.0, NOTE)])
def test_a_run_that_the_end_of_the_map_holds_back_is_a_note(share, verdict) -> None:
    fine = run(hills())
    limit = fine.limit.copy()
    limit[len(limit) // 2] = MAP_END
    top = fine.performance.map.max_speed
    speed = np.minimum(fine.speed, 20.0) * (share * top / np.minimum(fine.speed, 20.0).max())
    found = [
        f
        for f in data_range_rules.data_range(replace(fine, limit=limit, speed=speed))
        if "map of the engine ends" in f.because
    ]
    assert [(f.verdict, f.limit) for f in found] == [(verdict, top)]
    assert found[0].value == pytest.approx(share * top)
