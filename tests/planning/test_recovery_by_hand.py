"""Fuel of each section by its recovery over made-up sections, and shares of recovery against a count of all."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.journey.kernel.arrays import ARRIVED
from locosim.model import Stop
from locosim.planning import recovery
from locosim.planning.recovery import fuel_by_recovery, least_fuel_shares, shared_evenly

START = 36000.0
LINE = trials.line([(9000.0, 0.0)], stops=(3000.0, 6000.0))
PLAN = replace(
    trials.excursion(LINE, departure=START),
    stops=(
        Stop(station="A"), Stop(station="B", arrive=START + 400.0, depart=START + 500.0),
        Stop(station="C", arrive=START + 1000.0), Stop(station="D", arrive=START + 1600.0),
    ),
)  # fmt: skip


def table(monkeypatch: pytest.MonkeyPatch, *, ends_in: int = 9, share: float = 0.25) -> tuple[Any, list[Any]]:
    """Fuel of sections that start a minute after the state handed on, and what was asked; the run ends in a section."""
    asked: list[Any] = []

    class Search:
        def __init__(self, prepared: Any, section: Any, start: float) -> None:
            assert prepared.name == "prepared"
            self.number, self.departure = section[0] // 10, start + 60.0
            assert section == (10 * self.number, 10 * self.number + 10, start)

        def most_eased(self, arrive: float, before: Any) -> Any:
            asked.append((self.number, arrive - self.departure, before and before.ease))
            return SimpleNamespace(ease=arrive - self.departure)

        def fuel_until_departure(self, ease: float, more: float) -> float:
            return 1000.0 * self.number + ease + 1e-3 * more

        def run(self, ease: float) -> Any:
            assert ease == 0.0
            return SimpleNamespace(number=self.number, status=ARRIVED + (self.number == ends_in))

    def on_arrival(start: float, arrays: Any) -> float:
        return [START + 440.0, START + 940.0, START + 1540.0][arrays.number]

    prepared = SimpleNamespace(name="prepared", start=START - 60.0, stop_nodes=[0, 10, 20, 30])
    monkeypatch.setattr(recovery, "prepare", lambda excursion, performance: prepared)
    monkeypatch.setattr(recovery, "build_section", lambda prepared, first, last, start: (first, last, start))
    monkeypatch.setattr(recovery, "SectionSearch", Search)
    monkeypatch.setattr(recovery, "state_on_arrival", on_arrival)
    crew = replace(PLAN.crew, recovery=share)
    return fuel_by_recovery(replace(PLAN, crew=crew), None, steps=2, step=60.0), asked  # type: ignore[arg-type]


def test_each_section_is_eased_within_the_time_that_the_crew_does_not_keep_in_hand(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """400, 500 and 600 s of running from the departure, and a minute or two more; a quarter is kept in hand."""
    found, asked = table(monkeypatch)
    eased = [[0.75 * (running + 60.0 * k) for k in range(3)] for running in (400.0, 500.0, 600.0)]
    expected = [[1000.0 * n + ease + 0.06 * k for k, ease in enumerate(row)] for n, row in enumerate(eased)]
    assert found == pytest.approx(np.array(expected))
    # The search for one step more begins with what was found before it, and each section afresh.
    assert [before for _, _, before in asked] == [
        None, eased[0][0], eased[0][1], None, eased[1][0], eased[1][1], None, eased[2][0], eased[2][1],
    ]  # fmt: skip


def test_sections_behind_one_that_full_effort_does_not_run_are_left_at_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found, asked = table(monkeypatch, ends_in=1)
    assert {number for number, _, _ in asked} == {0, 1}
    assert np.all(found[:2] > 0.0)
    assert np.all(found[2] == 0.0)


def test_shares_go_with_the_running_times_and_the_rest_to_the_largest_remainder() -> None:
    assert shared_evenly((600.0, 300.0, 100.0), 10) == (6, 3, 1)
    assert shared_evenly((600.0, 300.0, 100.0), 4) in ((3, 1, 0), (2, 1, 1))  # 2.4, 1.2, 0.4
    assert shared_evenly((600.0, 300.0, 100.0), 5) == (3, 2, 0)  # 3, 1.5, 0.5: of the two halves the first
    assert shared_evenly((100.0, 100.0, 100.0), 2) == (1, 1, 0)
    assert shared_evenly((1.0, 1.0, 1.0), 300) == (100, 100, 100)


@pytest.mark.parametrize("seed", range(25))
def test_the_shares_with_the_least_fuel_are_those_of_all_ways_tried(seed: int) -> None:
    draw = random.Random(seed)
    sections, steps = draw.randint(1, 4), draw.randint(0, 5)
    fuel = np.array([[draw.uniform(5.0, 50.0) for _ in range(steps + 1)] for _ in range(sections)])
    ways = [way for way in product(range(steps + 1), repeat=sections) if sum(way) == steps]
    best = min(ways, key=lambda way: sum(fuel[k, given] for k, given in enumerate(way)))
    assert least_fuel_shares(fuel, steps, (0,) * sections) == best


def test_where_fuel_does_not_tell_the_shares_stay_near_those_wished() -> None:
    flat = np.full((3, 5), 20.0)
    assert least_fuel_shares(flat, 4, (1, 2, 1)) == (1, 2, 1)
    assert least_fuel_shares(flat, 4, (4, 0, 0)) == (4, 0, 0)
    # 20 kg: a step away costs 2 mg in each section, so that more than 4 mg saved is taken and less is not.
    for saved, shares in ((0.95 * 4e-6, (1, 3)), (1.05 * 4e-6, (2, 2))):
        fuel = np.full((2, 5), 20.0)
        fuel[0, 2] -= saved
        assert least_fuel_shares(fuel, 4, (1, 3)) == shares
