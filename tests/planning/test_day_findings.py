"""Findings for a day by hand: each value, limit and margin, and what is said of them."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.model import CrewHours, Curve, Excursion, Layover, Leg
from locosim.planning import day_findings
from locosim.planning.day_findings import (
    crew_hours,
    helper_supplies,
    layover_time,
    no_supplies_left,
    start_supplies,
    tender_first,
    turning,
)
from locosim.planning.duty import Duty
from locosim.planning.finding import Finding
from locosim.planning.layover import Carried, LayoverRecord, Task
from locosim.planning.light_engine import Used

LINE = trials.line([(4000.0, 0.0)], stops=(2000.0,))
OUT = trials.excursion(LINE, departure=30000.0)
HOME = replace(OUT, direction="reverse", stops=tuple(reversed(OUT.stops)), departure=50000.0)
LONG = 11.7 + 8.3  # engine and tender over couplers [m]


def day(work: Layover | None = None, home: Excursion = HOME, hours: CrewHours | None = None) -> Any:
    """Two legs, there and back, whatever the engine would have to do between them."""
    legs = (Leg(excursion=OUT), Leg(excursion=home, layover=work or Layover()))
    return SimpleNamespace(legs=legs, crew_hours=hours or CrewHours())


def record(work: float = 1000.0, at_hand: float = 1500.0, **changes: Any) -> LayoverRecord:
    made = LayoverRecord(
        station="C", arrive=50000.0 - at_hand, booked=50000.0, tasks=(Task("inspection", work),),
        cars_left=Counter(), cars_taken=Counter(),
    )  # fmt: skip
    return replace(made, **changes)


@pytest.mark.parametrize(
    ("at_hand", "verdict", "margin"),
    [(1100.0, "clear", 0.1), (1099.0, "tight", 0.099), (1000.0, "tight", 0.0), (999.0, "stop", -0.001),
     (-500.0, "stop", -1.5)],
)  # fmt: skip
def test_time_at_hand_against_the_work(at_hand: float, verdict: str, margin: float) -> None:
    found = layover_time(day(), 2, record(1000.0, at_hand))
    assert (found.rule, found.verdict, found.place, found.chainage) == ("layover", verdict, "C", None)
    assert (found.value, found.limit, found.kind, found.is_minimum) == (at_hand, 1000.0, "time", True)
    assert found.margin == pytest.approx(margin)
    assert found.facts == {
        "work": (1000.0, "time"),
        "at_hand": (max(at_hand, 0.0), "time"),
        "delay": (max(1000.0 - at_hand, 0.0), "time"),
    }
    assert ("the leg departs {delay} late" in found.because) == (at_hand < 1000.0)
    assert found.because.startswith("the work before leg 2 takes {work}; {at_hand} is left")
    assert "depart later with leg 2" in found.advice


def test_the_margin_that_is_tight_is_that_of_the_leg() -> None:
    strict = replace(HOME, criteria=replace(HOME.criteria, tight_margin=0.3))
    assert layover_time(day(home=strict), 2, record(1000.0, 1250.0)).verdict == "tight"
    assert layover_time(day(), 2, record(1000.0, 1250.0)).verdict == "clear"


def turned(
    turn: str, *, table: float = 0.0, wye: float = 0.0, wheelbase: float | None = None
) -> list[Finding]:
    stations = tuple(
        replace(
            s, turntable_length=table if s.name == "C" else 50.0, wye_length=wye if s.name == "C" else 50.0
        )
        for s in LINE.stations
    )
    engine = trials.locomotive(wheelbase=wheelbase)
    home = replace(HOME, route=replace(LINE, stations=stations), locomotive=engine)
    short = replace(OUT, locomotive=engine, train=trials.train(trials.coaches(5)))
    legs = (Leg(excursion=short), Leg(excursion=home, layover=Layover(turn=turn)))
    return turning(SimpleNamespace(legs=legs), 2)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("turn", "given", "needed", "words"),
    [
        (
            "turntable",
            {"table": 25.0},
            LONG,
            "the turntable is {length} long; the engine needs {needed} over couplers",
        ),
        (
            "turntable",
            {"table": 25.0, "wheelbase": 17.0},
            17.0,
            "the turntable is {length} long; the engine needs {needed} of wheelbase",
        ),
        (
            "wye",
            {"wye": 25.0, "wheelbase": 17.0},
            LONG,
            "the wye is {length} long; the engine needs {needed} over",
        ),
        (
            "wye_with_train",
            {"wye": 25.0},
            LONG + 5 * 20.4,  # of the train that came in
            "the wye is {length} long; engine and train need {needed} over couplers",
        ),
        ("turntable", {"wye": 25.0}, LONG, "C has no turntable in the route; the engine would need {needed}"),
        ("wye", {"wye": 0.5}, LONG, "the wye is {length} long"),
        ("wye", {"table": 25.0}, LONG, "C has no wye in the route; the engine would need {needed}"),
    ],
)
def test_what_is_turned_against_where(turn: str, given: dict[str, float], needed: float, words: str) -> None:
    (found,) = turned(turn, **given)
    length = given.get("table" if turn == "turntable" else "wye", 0.0)
    assert (found.rule, found.place, found.kind) == ("turning", "C", "length")
    assert found.value == length
    assert found.limit == pytest.approx(needed)
    assert found.margin == pytest.approx(length / needed - 1.0)
    assert found.verdict == ("clear" if length >= needed else "stop")
    assert found.facts == {"length": (length, "length"), "needed": (found.limit, "length")}
    assert found.because.startswith(words)
    name = "turntable" if turn == "turntable" else "wye"
    assert found.advice == f"run the next leg tender first, turn elsewhere, or give C a {name}_length"


def test_what_just_fits_is_clear_and_nothing_is_turned_without_need() -> None:
    (found,) = turned("wye", wye=LONG)
    assert (found.verdict, found.margin) == ("clear", 0.0)
    assert turned("no") == []


def speeds(*speed: float) -> Any:
    return SimpleNamespace(journey=SimpleNamespace(speed=np.array(speed)))


def test_tender_first_is_a_note_where_the_engine_has_no_limit() -> None:
    backward = replace(HOME, engine_facing="tender_first")
    assert tender_first(Leg(excursion=HOME), speeds(3.0)) == []
    (found,) = tender_first(Leg(excursion=backward), speeds(3.0, 9.0, 0.0))
    assert (found.rule, found.place, found.verdict) == ("tender first", "C to A", "note")
    assert (found.value, found.limit, found.margin) == (9.0, math.inf, -math.inf)
    assert "(the engine has no max_speed_tender_first)" in found.because
    assert "sharpest curve" not in found.because
    assert found.facts["speed"] == (9.0, "speed")
    curves = (Curve(start=1500.0, end=1600.0, radius=400.0), Curve(start=1700.0, end=1800.0, radius=250.0))
    limited = replace(
        backward,
        locomotive=trials.locomotive(max_speed_tender_first=10.0),
        route=replace(LINE, curves=curves),
    )
    (found,) = tender_first(Leg(excursion=limited), speeds(3.0, 9.0))
    assert (found.verdict, found.limit) == ("clear", 10.0)
    assert found.margin == pytest.approx(0.1)
    assert "max_speed_tender_first)" not in found.because
    assert "; the sharpest curve of the line is {curve}" in found.because
    assert found.facts["curve"] == (250.0, "curve")


def carried(start: float) -> Carried:
    return Carried(end=0.0, left=0.0, brought=0.0, taken=0.0, used=0.0, start=start)


def stop_records(*left: tuple[float, float]) -> list[Any]:
    return [
        SimpleNamespace(station=name, water_on_arrival=water, fuel_on_arrival=fuel)
        for name, (water, fuel) in zip("CBA", left, strict=False)
    ]


def starting(
    home: Excursion, *left: tuple[float, float], end: tuple[float, float] = (5e3, 1e3)
) -> list[Finding]:
    water, fuel = np.array([9.0, 8.0, end[0]]), np.array([9.0, 8.0, end[1]])
    journey = SimpleNamespace(stops=stop_records(*left), tender_water=water, tender_fuel=fuel)
    leg = Leg(excursion=home)
    given = record(water=carried(20e3), fuel=carried(6e3))
    return start_supplies(leg, 2, given, SimpleNamespace(journey=journey))  # type: ignore[arg-type]


def taking(station: str, **what: str) -> Excursion:
    stops = tuple(replace(s, **what) if s.station == station else s for s in HOME.stops)
    return replace(HOME, stops=stops)


@pytest.mark.parametrize(
    ("home", "reached", "places", "used"),
    [
        (HOME, 3, ("A", "A"), (14e3, 4e3)),
        (taking("B", take_water="fill"), 3, ("B", "A"), (9e3, 4e3)),
        (taking("B", take_fuel="fill"), 3, ("A", "B"), (14e3, 1.5e3)),
        (taking("C", take_water="fill"), 3, ("A", "A"), (14e3, 4e3)),  # before the start, not on the way
        (HOME, 2, ("the end of the run", "the end of the run"), (15e3, 5e3)),
    ],
)
def test_supplies_at_the_start_against_what_is_used_to_the_first_supply(
    home: Excursion, reached: int, places: tuple[str, str], used: tuple[float, float]
) -> None:
    left = [(20e3, 6e3), (11e3, 4.5e3), (6e3, 2e3)][:reached]
    found = starting(home, *left)
    assert [each.rule for each in found] == ["water at start", "fuel at start"]
    reserves = 0.15 * 21e3, 0.15 * 7e3
    for each, place, amount, start, reserve, what in zip(
        found, places, used, (20e3, 6e3), reserves, ("water", "fuel"), strict=True
    ):
        assert each.value == start
        assert each.limit == pytest.approx(amount + reserve)
        assert each.margin == pytest.approx(start / (amount + reserve) - 1.0)
        assert each.place == "C"
        kind = "water" if what == "water" else "mass"
        assert each.kind == kind
        assert each.facts == {
            "start": (start, kind), "used": (pytest.approx(amount), kind), "reserve": (pytest.approx(reserve), kind)
        }  # fmt: skip
        assert each.because.startswith(f"leg 2 starts with {{start}} of {what}; to {place} it uses {{used}}")
        assert each.advice == f"take more {what} before leg 2"


def test_an_engine_that_begins_its_day_has_no_finding_of_its_start() -> None:
    leg = Leg(excursion=HOME)
    for given in (record(), record(water=carried(1.0)), record(fuel=carried(1.0))):
        assert start_supplies(leg, 2, given, SimpleNamespace(journey=None)) == []  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("water", "fuel", "rules"),
    [
        (1.0, 1.0, []),
        (0.0, 1.0, ["water at start"]),
        (1.0, 0.0, ["fuel at start"]),
        (-5.0, -5.0, ["water at start", "fuel at start"]),
        (0.5, 0.5, []),
        (None, None, []),
    ],
)
def test_a_leg_for_which_nothing_is_left(water: float | None, fuel: float | None, rules: list[str]) -> None:
    given = record(
        water=None if water is None else carried(water), fuel=None if fuel is None else carried(fuel)
    )
    found = no_supplies_left(Leg(excursion=HOME), 2, given)
    assert [each.rule for each in found] == rules
    for each in found:
        what = each.rule.split()[0]
        assert (each.verdict, each.place, each.limit) == ("stop", "C", 1.0)
        assert each.kind == ("water" if what == "water" else "mass")
        assert each.because == f"the {what} is used up before leg 2 departs"
        assert each.remedy == f"take {what} before leg 2"


def duty(hours: float, *breaks: tuple[float, float], helper: bool = False) -> Duty:
    return Duty(
        crew="crew", first_leg=2, last_leg=2, start=0.0, end=3600.0 * hours,
        breaks=tuple((3600.0 * a, 3600.0 * b) for a, b in breaks), is_helper=helper,
    )  # fmt: skip


def test_hours_of_a_crew_against_both_limits() -> None:
    hours = CrewHours(max_time=12 * 3600.0, max_time_without_break=6 * 3600.0, min_break=900.0)
    asked = day(hours=hours)
    on_duty, without = crew_hours(asked, duty(11.0, (5.5, 6.0)))
    assert (on_duty.rule, on_duty.place, on_duty.value, on_duty.limit) == (
        "crew hours",
        "crew",
        39600.0,
        43200.0,
    )
    assert (on_duty.verdict, on_duty.kind) == ("tight", "time")
    assert on_duty.facts == {"start": (0.0, "clock"), "end": (39600.0, "clock")}
    assert on_duty.margin == pytest.approx(1.0 / 12.0)
    assert (without.rule, without.value, without.limit) == ("time without break", 5.5 * 3600.0, 6 * 3600.0)
    assert without.because == "crew has 1 break of at least {least}"
    assert without.facts == {"least": (900.0, "time")}
    assert crew_hours(asked, duty(12.01))[0].verdict == "stop"
    assert crew_hours(asked, duty(10.8))[0].verdict == "clear"
    assert [each.because.split(" of ")[0] for each in (
        crew_hours(asked, duty(5.0))[1], crew_hours(asked, duty(9.0, (2.0, 3.0), (5.0, 6.0)))[1],
    )] == ["crew has no breaks", "crew has 2 breaks"]  # fmt: skip


def test_a_limit_that_is_not_given_is_not_judged_and_a_helper_is_helped_otherwise() -> None:
    assert crew_hours(day(), duty(40.0)) == []
    one = day(hours=CrewHours(max_time=3600.0))
    two = day(hours=CrewHours(max_time_without_break=3600.0))
    assert [f.rule for f in crew_hours(one, duty(2.0))] == ["crew hours"]
    assert [f.rule for f in crew_hours(two, duty(2.0))] == ["time without break"]
    assert crew_hours(one, duty(2.0))[0].remedy == "shorten the layovers, or give a later leg another crew"
    assert (
        crew_hours(one, duty(2.0, helper=True))[0].remedy == "relieve this crew, or cut the helper off sooner"
    )
    assert (
        crew_hours(two, duty(2.0))[0].remedy
        == "give a layover a break_time, or more time than its work takes"
    )
    assert crew_hours(two, duty(2.0, helper=True))[0].remedy == "relieve this crew"


@pytest.mark.parametrize("back", [True, False])
def test_supplies_of_a_helper_against_its_full_tender(back: bool) -> None:
    criteria = replace(OUT.criteria, water_reserve=0.2, fuel_reserve=0.1)
    journey = SimpleNamespace(excursion=replace(OUT, criteria=criteria))
    help_: Any = SimpleNamespace(
        used=Used(time=1.0, water=15e3, fuel=2e3), journey=journey, tender=(20e3, 5e3), back=back or None,
        engine="pusher", leg=3, coupled="A", cut_off="B",
    )  # fmt: skip
    water, fuel = helper_supplies(help_)
    assert (water.rule, fuel.rule, water.place) == ("helper water", "helper fuel", "helper pusher")
    assert (water.value, water.limit, water.kind) == (20e3, pytest.approx(19e3), "water")
    assert (fuel.value, fuel.limit, fuel.kind) == (5e3, pytest.approx(2.5e3), "mass")
    assert (water.verdict, fuel.verdict) == ("tight", "clear")
    assert fuel.margin == pytest.approx(1.0)
    assert water.facts == {"held": (20e3, "water"), "reserve": (pytest.approx(4e3), "water")}
    assert water.because.startswith(
        "pusher helps on leg 3 from A to B" + (" and back light to A;" if back else ";")
    )
    assert helper_supplies(SimpleNamespace(used=None)) == []  # type: ignore[arg-type]


def test_braces_in_a_name_are_shown_as_they_are() -> None:
    assert day_findings._plain("{odd} crew").format() == "{odd} crew"
