"""A train of which the number of one kind of vehicle, or the load of all cars, is varied."""

from __future__ import annotations

import pytest
import trials

from locosim.errors import OutOfRange
from locosim.model import Train, Vehicle
from locosim.planning.varied_train import MAX_MASS, MAX_VEHICLES, varied_train

FULL = Vehicle(name="gondola", count=6, empty_mass=20e3, load=40e3, length=13.0)
LIGHT = Vehicle(name="box car", count=4, empty_mass=18e3, load=5e3, length=12.0)
WATER = Vehicle(name="water car", kind="water_car", count=9, empty_mass=25e3, load=30e3, length=12.0)
MIXED = Train(name="mixed", vehicles=(FULL, LIGHT, WATER))
EMPTY = 6 * 20e3 + 4 * 18e3 + 9 * 55e3  # a water car keeps its water [kg]


def loads(train: Train) -> dict[str, float]:
    return {vehicle.name: vehicle.load for vehicle in train.vehicles}


def test_the_cars_of_which_there_are_most_are_varied_and_no_water_car() -> None:
    varied = varied_train(MIXED)
    assert (varied.what, varied.as_described, varied.max_number) == ("gondola", 6, MAX_VEHICLES)
    assert [v.count for v in varied.at(11).vehicles] == [11, 4, 9]
    assert [v.name for v in varied.at(0).vehicles] == ["box car", "water car"]
    named = varied_train(MIXED, vehicle="water car")
    assert (named.what, named.as_described) == ("water car", 9)
    with pytest.raises(OutOfRange):
        varied.at(MAX_VEHICLES + 1)


def test_mass_is_added_to_every_car_alike() -> None:
    varied = varied_train(MIXED, by_mass=True, step=500.0)
    assert varied.what == "trailing mass"
    assert varied.as_described == (6 * 40e3 + 4 * 5e3) / 500
    assert loads(varied.at(varied.as_described)) == pytest.approx(loads(MIXED))
    heavier = varied.at(varied.as_described + 40)
    assert heavier.mass == pytest.approx(MIXED.mass + 20e3)
    assert loads(heavier) == pytest.approx({"gondola": 42e3, "box car": 7e3, "water car": 30e3})
    assert varied.max_number == int((MAX_MASS - EMPTY) / 500.0)


def test_cars_that_are_empty_first_take_no_further_part() -> None:
    varied = varied_train(MIXED, by_mass=True)
    assert varied.at(0).mass == pytest.approx(EMPTY)
    assert loads(varied.at(0)) == {"gondola": 0.0, "box car": 0.0, "water car": 30e3}
    # 60 t left of 260 t: the box cars are empty, the six gondolas have 10 t each
    assert loads(varied.at(60)) == pytest.approx({"gondola": 10e3, "box car": 0.0, "water car": 30e3})
    masses = [varied.at(number).mass for number in range(0, 400, 7)]
    assert masses == pytest.approx([EMPTY + 1000.0 * number for number in range(0, 400, 7)])


@pytest.mark.parametrize(
    ("train", "asked", "words"),
    [
        (MIXED, {"vehicle": "gondola", "by_mass": True}, "'gondola' has no effect where the mass"),
        (MIXED, {"vehicle": "gondolla"}, "'gondolla' is not in the train.*gondola"),
        (Train(name="none", vehicles=(WATER,)), {}, "'none' has no cars"),
        (Train(name="bare", vehicles=()), {"vehicle": "coach"}, "'bare' has no cars"),
        (MIXED, {"by_mass": True, "step": 0.5}, "mass_step must be between 1 kg"),
        (MIXED, {"by_mass": True, "step": 1.1e6}, "mass_step must be between 1 kg"),
    ],
)
def test_what_cannot_be_varied_is_refused(train, asked, words) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=words):
        varied_train(train, **asked)
    for step in (1.0, 1e6):
        assert varied_train(trials.train(), by_mass=True, step=step).step == step
