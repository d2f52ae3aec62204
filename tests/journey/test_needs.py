"""Steam need: what the train asks of the boiler, whatever the crew does."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
import trials

import locosim as ls
from locosim.engine.performance import compute_excursion_performance
from locosim.journey.needs import Need, steam_need
from locosim.model import Excursion, Stop


def need(excursion: Excursion) -> Need:
    return steam_need(excursion, compute_excursion_performance(excursion))


def climb(cars: int, *, arrive: float | None = None, grade: float = 0.008) -> Excursion:
    route = trials.line([(3000.0, 0.0), (6000.0, grade), (2000.0, 0.0)])
    stops = (Stop(station="A"), Stop(station="B", arrive=arrive))
    return trials.excursion(route, made_of=trials.train(trials.coaches(cars)), stops=stops)


def test_need_rises_with_every_car_until_no_steam_suffices() -> None:
    needs = [need(climb(cars, arrive=36000.0 + 840.0)).share for cars in range(3, 60, 3)]
    suffices = [share for share in needs if share is not None]
    assert len(suffices) > 4
    assert all(a < b for a, b in itertools.pairwise(suffices))
    assert needs[len(suffices) :] == [None] * (len(needs) - len(suffices)) != []


def test_the_need_of_the_demonstration_rises_with_every_car_until_none_suffices() -> None:
    excursion = ls.load_excursion("scenarios/excursions/harvest_excursion.toml")
    performance = compute_excursion_performance(excursion)
    cars = [replace(v, count=1) for v in excursion.train.vehicles for _ in range(v.count)]
    shares = []
    for count in range(3, len(cars) + 1):
        train = replace(excursion.train, vehicles=tuple(cars[:count]))
        shares.append(steam_need(replace(excursion, train=train), performance).share)
    assert None in shares
    suffices = shares[: shares.index(None)]
    assert len(suffices) >= 8
    assert all(a < b for a, b in itertools.pairwise(suffices))
    assert set(shares[len(suffices) :]) == {None}


def test_the_need_says_what_sets_it() -> None:
    hurried, slow = need(climb(6, arrive=36000.0 + 660.0)), need(climb(6))
    assert hurried.set_by == "time"
    assert hurried.chainage == pytest.approx(12000.0)
    assert slow.set_by == "climb"
    assert slow.share is not None
    assert hurried.share is not None
    assert slow.share < hurried.share


def test_a_train_that_the_rail_cannot_hold_has_no_need_that_suffices() -> None:
    found = need(replace(climb(10, grade=0.03), rail="wet"))
    assert found.share is None
    assert found.set_by in ("climb", "stall")


def test_an_empty_tender_does_not_end_the_search() -> None:
    full = climb(8, arrive=36000.0 + 900.0)
    dry = replace(full, initial_water=0.02)
    share, share_dry = need(full).share, need(dry).share
    assert share is not None
    assert share_dry is not None
    assert share_dry < share  # the tender is lighter
