"""The least steam of a section, and driving that goes by it and not by what the boiler makes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.journey.least_steam import UNKNOWN, LeastSteam, least_steam
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort, run_to_timetable
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion, Fuel


def lateness(need: float, calls: list[float]) -> Callable[[float], float]:
    """Lateness of a train that runs a section in 600 s with a steam rate, and not at all with half of it."""

    def late(steam: float) -> float:
        calls.append(steam)
        return 600.0 * (need / steam - 1.0) if steam > 0.5 * need else np.inf

    return late


@pytest.mark.parametrize("guess", [None, 0.3, 1.1, 2.0, 3.9])
@pytest.mark.parametrize("need", [0.2, 1.2345, 3.7])
def test_the_least_steam_is_found_from_any_guess_in_few_tries(need: float, guess: float | None) -> None:
    calls: list[float] = []
    assert least_steam(lateness(need, calls), 4.0, begun(guess)).rate == pytest.approx(need, rel=2e-4)
    assert len(calls) <= 12


def begun(rate: float | None, gain: float = 0.0) -> LeastSteam:
    return UNKNOWN if rate is None else LeastSteam(rate, gain)


@pytest.mark.parametrize("wrong", [0.7, 1.0, 1.5])
@pytest.mark.parametrize("need", [1.1, 1.2, 1.2345, 1.3])
def test_with_the_gain_of_a_similar_section_two_or_three_tries_are_enough(need: float, wrong: float) -> None:
    calls: list[float] = []
    similar = least_steam(lateness(1.2, []), 4.0)
    assert similar.gain == pytest.approx(600.0 * np.log(2.0), rel=0.05)
    found = least_steam(lateness(need, calls), 4.0, similar._replace(gain=wrong * similar.gain))
    assert found.rate == pytest.approx(need, rel=2e-3)
    assert len(calls) <= 3


def test_a_rate_is_not_read_off_where_the_section_is_not_run_or_all_the_steam_may_be_needed() -> None:
    for need in (3.0, 3.93):
        alone = least_steam(lateness(need, []), 3.95)
        assert least_steam(lateness(need, []), 3.95, LeastSteam(1.2, 400.0)) == alone


def test_the_least_steam_does_not_depend_on_the_guess_or_on_what_the_boiler_makes() -> None:
    found = {
        least_steam(lateness(1.2345, []), most, begun(guess)).rate
        for most in (1.6, 2.9, 4.0)
        for guess in (None, 0.7, 1.25)
    }
    assert len(found) == 1


def test_a_train_that_needs_all_the_steam_is_given_it() -> None:
    assert least_steam(lateness(3.93, []), 3.95).rate == 3.95


def booked(slack: float = 1.15) -> Excursion:
    line = trials.line([(4000.0, 0.0), (3000.0, 0.007), (4000.0, 0.0)])
    excursion = trials.excursion(line)
    free = run_full_effort(excursion, trials.performance(excursion))
    stops = list(excursion.stops)
    stops[-1] = replace(stops[-1], arrive=excursion.departure + slack * free.duration)
    return replace(excursion, stops=tuple(stops))


def run(excursion: Excursion) -> Journey:
    return run_to_timetable(excursion, trials.performance(excursion))


def sustained(excursion: Excursion) -> float:
    return trials.performance(excursion).supply.sustained


def test_a_boiler_that_makes_less_leaves_the_driving_of_a_train_in_time_as_it_was() -> None:
    excursion = booked(1.3)
    poorer = replace(excursion, fuel=Fuel(heating_value=22e6))
    assert sustained(poorer) < 0.9 * sustained(excursion)
    rich, poor = run(excursion), run(poorer)
    assert np.max(rich.steam) < sustained(poorer)
    assert np.mean(np.abs(rich.effort - poor.effort)) < 0.005 * np.mean(rich.effort)
    assert np.max(np.abs(rich.speed - poor.speed)) < 0.05


def test_with_less_time_in_hand_the_steam_rises_to_all_that_is_allowed() -> None:
    most = [np.max(run(booked(slack)).steam) for slack in (1.4, 1.2, 1.1, 1.05, 1.01)]
    assert most == sorted(most)
    full = run_full_effort(booked(), trials.performance(booked()))
    assert most[0] < 0.8 * np.max(full.steam)
    assert most[-1] > 0.97 * np.max(full.steam)


def test_drifting_takes_as_much_steam_with_poor_coal() -> None:
    excursion = booked()
    poorer = replace(excursion, fuel=Fuel(heating_value=20e6))
    rates = [prepare(each, trials.performance(each)).engine.drifting_steam for each in (excursion, poorer)]
    assert rates[0] == rates[1]
