"""Lateness, supplies and adhesion on made-up runs, and how places are named."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.journey.needs import Need
from locosim.model import Stop
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.planning import locations
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.locations import StepRange
from locosim.planning.rules import adhesion, supplies, timekeeping

LINE = trials.line([(9000.0, 0.0)], stops=(3000.0, 6000.0))  # A at 1 km, B at 4, C at 7, D at 10
PLAN = trials.excursion(LINE)


def records(*arrivals: float, stand: float = 120.0) -> list[Any]:
    return [
        SimpleNamespace(station=name, chainage=1000.0 + 3000.0 * k, arrive=at, depart=at + stand,
                        water_on_arrival=21e3 - 6e3 * k, fuel_on_arrival=7e3 - 2e3 * k)
        for k, (name, at) in enumerate(zip("ABCD", arrivals, strict=False))
    ]  # fmt: skip


def run(*arrivals: float, **changes: Any) -> Any:
    return SimpleNamespace(excursion=replace(PLAN, **changes), stops=records(*arrivals))


BOOKED = (
    Stop(station="A"), Stop(station="B", arrive=36300.0, depart=36400.0), Stop(station="C", depart=36800.0),
    Stop(station="D", arrive=37200.0),
)  # fmt: skip


def test_lateness_is_judged_at_each_booked_time_but_the_first_departure() -> None:
    made = run(35880.0, 36360.0, 36600.0, 37199.6, stops=BOOKED)
    found = timekeeping.timekeeping(made)
    assert [(f.place, f.chainage, f.because, f.facts["late"][0]) for f in found] == [
        ("B", 4000.0, "arrival {late} after the advertised time", 60.0),
        ("B", 4000.0, "departure {late} after the advertised time", 80.0),
        ("C", 7000.0, "departure {late} before the advertised time", 80.0),
        ("D", 10000.0, "arrival on time", pytest.approx(0.4)),
    ]
    assert {(f.rule, f.kind, f.limit) for f in found} == {("time", "time", PLAN.criteria.max_lateness)}
    assert [f.value for f in found] == pytest.approx([60.0, 80.0, -80.0, -0.4])
    # A run that ends on the way is judged as far as it gets.
    assert [f.place for f in timekeeping.timekeeping(run(35880.0, 36360.0, stops=BOOKED))] == ["B", "B"]


@pytest.mark.parametrize(
    ("late", "words"), [(0.49, "on time"), (-0.49, "on time"), (0.51, "after"), (-0.51, "before")]
)
def test_half_a_second_is_on_time(late: float, words: str) -> None:
    (found,) = timekeeping.timekeeping(
        run(0.0, 36300.0 + late, stops=(BOOKED[0], replace(BOOKED[1], depart=None)))
    )
    assert words in found.because


def test_a_first_departure_is_judged_where_it_is_delayed() -> None:
    asked = {"stops": (Stop(station="A"), Stop(station="D")), "departure": 36000.0}
    (found,) = timekeeping.timekeeping(run(35980.0, departure_delay=1.0, **asked))
    assert (found.place, found.chainage, found.value) == ("A", 1000.0, 100.0)
    assert found.because == "departure {late} after the advertised time"
    assert timekeeping.timekeeping(run(35980.0, departure_delay=0.0, **asked)) == []
    assert timekeeping.timekeeping(run(departure_delay=1.0, **asked)) == []


# Supplies


FILLED = (
    Stop(station="A", take_water="fill"), Stop(station="B", take_water="fill"), Stop(station="C", take_fuel="fill"),
    Stop(station="D"),
)  # fmt: skip


def test_water_and_fuel_are_judged_where_they_are_taken_and_at_the_end() -> None:
    made = run(0.0, 300.0, 600.0, 900.0, stops=FILLED)
    water, fuel = supplies.water(made), supplies.fuel(made)
    assert [(f.place, f.chainage, f.value) for f in water] == [("B", 4000.0, 15e3), ("D", 10000.0, 3e3)]
    assert [(f.place, f.chainage, f.value) for f in fuel] == [("C", 7000.0, 3e3), ("D", 10000.0, 1e3)]
    criteria = PLAN.criteria
    assert [f.limit for f in water] == pytest.approx([criteria.water_reserve * 21e3] * 2)
    assert [f.limit for f in fuel] == pytest.approx([criteria.fuel_reserve * 7e3] * 2)
    assert [(f.rule, f.kind) for f in (water[0], fuel[0])] == [("water", "water"), ("fuel", "mass")]
    assert water[0].because == "{left} of water is left on arrival; the reserve is {reserve}"
    assert water[1].because == "{left} of water is left on arrival at the end; the reserve is {reserve}"
    assert fuel[0].advice == "add a fuel stop before C, use less, or carry more"
    assert fuel[0].facts == {"left": (3e3, "mass"), "reserve": (fuel[0].limit, "mass")}
    short = run(0.0, 300.0, 600.0, stops=FILLED)
    assert [f.place for f in supplies.water(short)] == ["B"]
    assert [(f.place, "at the end" in f.because) for f in supplies.fuel(short)] == [("C", False)]


# Adhesion


def test_adhesion_is_the_share_of_the_rail_that_the_run_needs() -> None:
    performance = SimpleNamespace(mass_on_drivers=51e3)
    made: Any = SimpleNamespace(excursion=replace(PLAN, rail="wet"), performance=performance)
    coefficient = rail_adhesion_coefficient(condition="wet")
    available = 51e3 * 9.80665 * coefficient
    for share, verdict in ((0.9, CLEAR), (0.92, TIGHT), (1.01, STOP)):
        (found,) = adhesion.adhesion(made, Need(share=share, set_by="climb", chainage=4000.0))
        assert (found.rule, found.place, found.chainage, found.kind) == ("adhesion", "B", 4000.0, "force")
        assert (found.value, found.limit) == (pytest.approx(available), pytest.approx(share * available))
        assert found.margin == pytest.approx(1.0 / share - 1.0)
        assert found.verdict == verdict
        assert found.facts == {
            "share": (pytest.approx(share * coefficient), "ratio"),
            "coefficient": (coefficient, "ratio"),
        }
        assert "with less, it climbs too slowly here; adhesion of the wet rail" in found.because
        assert found.advice == "take cars off, sand the rail, or do not run on such a rail"
    (found,) = adhesion.adhesion(made, Need(share=None, set_by="time", chainage=4000.0))
    assert (found.value, found.margin, found.verdict) == (math.inf, -math.inf, "note")
    assert found.limit == pytest.approx(available)
    best: Any = SimpleNamespace(excursion=replace(PLAN, rail="dry sanded"), performance=performance)
    (found,) = adhesion.adhesion(best, Need(share=0.5, set_by="time", chainage=4000.0))
    assert found.advice == "take cars off, or do not run on such a rail"


# Places


@pytest.mark.parametrize(
    ("chainage", "name"),
    [
        (969.0, "before A"), (971.0, "A"), (1000.0, "A"), (1029.0, "A"), (1031.0, "A to B"), (3969.0, "A to B"),
        (4029.0, "B"), (4031.0, "B to C"), (9969.0, "C to D"), (9971.0, "D"), (10029.0, "D"), (10031.0, "beyond D"),
    ],
)  # fmt: skip
def test_a_place_within_thirty_meters_of_a_station_is_at_it_and_else_between_two(
    chainage: float, name: str
) -> None:
    made: Any = SimpleNamespace(excursion=PLAN)
    assert locations.location_at(made, chainage) == (name, chainage)


@pytest.mark.parametrize(
    ("mask", "ranges"),
    [("", []), ("...", []), ("###", [(0, 3)]), ("#.##", [(0, 1), (2, 4)]), (".##.#", [(1, 3), (4, 5)])],
)
def test_consecutive_steps_are_ranges(mask: str, ranges: list[tuple[int, int]]) -> None:
    found = locations.step_ranges(np.array([mark == "#" for mark in mask], dtype=bool))
    assert [(each.first, each.last) for each in found] == ranges


def test_a_descent_falls_as_steeply_and_as_long_as_assumed_or_more() -> None:
    """0.8 % for 500 m, common practice."""
    made: Any = SimpleNamespace(
        excursion=PLAN, chainage=100.0 * np.arange(18),
        grade=np.array([-0.008] * 5 + [-0.0079] + [-0.02] * 4 + [0.01] + [-0.009] * 6),
    )  # fmt: skip
    assert locations.descents(made) == [StepRange(first=0, last=5), StepRange(first=11, last=17)]
    assert locations.range_length(made, StepRange(first=11, last=17)) == 600.0
