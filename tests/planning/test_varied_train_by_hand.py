"""Trains by the number of their cars or by steps of their load, car by car, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest
import trials

from locosim.errors import OutOfRange
from locosim.planning.varied_train import MASS_STEP, VariedTrain, is_car, varied_train


def cars(name: str, count: int, load: float = 0.0, *, kind: str = "freight_car", empty: float = 20e3) -> Any:
    water = {"water": 10.0} if kind == "water_car" else {}
    return trials.coaches(count, name=name, kind=kind, empty_mass=empty, people=0, load=load, **water)


TRAIN = trials.train(
    cars("box", 3, 10e3), cars("tank", 2, kind="water_car"), cars("flat", 5, 2e3), cars("box", 1, 4e3),
    cars("dead engine", 1, kind="diesel", empty=80e3),
)  # fmt: skip


def test_cars_are_what_carries_traffic() -> None:
    assert [is_car(vehicle) for vehicle in TRAIN.vehicles] == [True, False, True, True, False]


def test_the_cars_of_which_there_are_most_are_varied_or_those_named() -> None:
    usual = varied_train(TRAIN)
    assert (usual.vehicle, usual.what, usual.as_described) == (2, "flat", 5)
    assert (varied_train(TRAIN, vehicle="box").vehicle, varied_train(TRAIN, vehicle="tank").what) == (
        0,
        "tank",
    )
    fewer, none = usual.at(2), usual.at(0)
    assert [(v.name, v.count) for v in fewer.vehicles][2] == ("flat", 2)
    assert [v.name for v in none.vehicles] == ["box", "tank", "box", "dead engine"]
    assert usual.at(5) == TRAIN
    only_engine = trials.train(cars("dead engine", 1, kind="diesel"))
    assert varied_train(only_engine, vehicle="dead engine").vehicle == 0


def test_a_file_may_have_the_largest_number_tried_and_no_more() -> None:
    usual = varied_train(TRAIN)
    assert usual.at(usual.max_number).vehicles[2].count == usual.max_number
    with pytest.raises(OutOfRange):
        usual.at(usual.max_number + 1)


def test_by_mass_steps_are_counted_from_all_cars_empty() -> None:
    """Loads of 30, 10 and 4 t: 44 t, in steps of a ton or of 7."""
    by_ton = varied_train(TRAIN, by_mass=True)
    assert (by_ton.what, by_ton.vehicle, by_ton.step, MASS_STEP) == ("trailing mass", None, 1000.0, 1000.0)
    assert by_ton.as_described == 44
    assert by_ton.at(44).mass == pytest.approx(TRAIN.mass)
    assert by_ton.at(0).mass == pytest.approx(TRAIN.mass - 44e3)
    assert {v.load for v in by_ton.at(0).vehicles} == {0.0}
    assert varied_train(TRAIN, by_mass=True, step=7e3).as_described == 6
    assert by_ton.max_number == int((2e7 - (TRAIN.mass - 44e3)) / 1000.0)  # 20,000 t trailing
    assert VariedTrain(train=TRAIN).step == 1000.0


@pytest.mark.parametrize(
    ("number", "loads"),
    [
        (53, [11e3, 3e3, 5e3]),  # a ton more in each of nine cars
        (35, [9e3, 1e3, 3e3]),
        (26, [8e3, 0.0, 2e3]),  # the flats are just empty
        (22, [7e3, 0.0, 1e3]),  # four cars go on without them
        (18, [6e3, 0.0, 0.0]),
        (9, [3e3, 0.0, 0.0]),
        (0, [0.0, 0.0, 0.0]),
    ],
)
def test_cars_are_loaded_alike_more_or_less_and_those_that_are_empty_take_no_further_part(
    number: int, loads: list[float]
) -> None:
    made = varied_train(TRAIN, by_mass=True).at(number)
    assert [v.load for v in made.vehicles if is_car(v)] == pytest.approx(loads)
    assert [v for v in made.vehicles if not is_car(v)] == [v for v in TRAIN.vehicles if not is_car(v)]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"step": 500.0}, "^mass_step has no effect where the number of vehicles is varied"),
        (
            {"by_mass": True, "vehicle": "box"},
            "^vehicle 'box' has no effect where the mass of all cars is varied",
        ),
        ({"by_mass": True, "step": 0.99}, "^mass_step must be between"),
        ({"by_mass": True, "step": 1.0001e6}, "^mass_step must be between"),
        ({"vehicle": "boks"}, "^vehicle 'boks' is not in the train; .*box"),
    ],
)
def test_what_cannot_be_varied_is_refused(asked: dict[str, Any], words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        varied_train(TRAIN, **asked)
    for step in (1.0, 1e6):
        assert varied_train(TRAIN, by_mass=True, step=step).step == step


def test_a_train_without_cars_has_no_load() -> None:
    bare = trials.train(cars("tank", 2, kind="water_car"))
    for asked in ({}, {"by_mass": True}):
        with pytest.raises(OutOfRange, match="has no cars, so there is no load to vary"):
            varied_train(bare, **asked)
