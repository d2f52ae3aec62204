"""Every rule with a limit from the files: clear, tight and stop as the limit moves past the value."""

from __future__ import annotations

import string
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest
from judged import Rule, boilered, hills, run, under

from locosim.journey.result import Journey
from locosim.model import Stop
from locosim.planning.finding import CLEAR, STOP, TIGHT, Finding
from locosim.planning.rules import boiler as boiler_rules
from locosim.planning.rules import braking as braking_rules
from locosim.planning.rules import clearance as clearance_rules
from locosim.planning.rules import supplies as supply_rules
from locosim.planning.rules import timekeeping as timekeeping_rules
from locosim.planning.rules import traction as traction_rules

TIMED = (Stop(station="A"), Stop(station="B", arrive=36400.0), Stop(station="C"))


@dataclass(frozen=True)
class RuleCase:
    """A rule, how to set its limit to a value in SI, and whether the value must be at least the limit."""

    rule: Rule
    name: str
    set_limit: Callable[[Journey, float], Journey]
    least: bool  # the value must be at least the limit
    pick: Callable[[Finding], bool] = lambda finding: True


def criterion(key: str, scale: Callable[[Journey], float] = lambda journey: 1.0) -> Any:
    return lambda journey, limit: under(journey, **{key: limit / scale(journey)})


def gauge(journey: Journey) -> float:
    return journey.performance.locomotive.boiler.working_pressure_gauge


def tank(journey: Journey) -> float:
    return 1000.0 * journey.excursion.locomotive.tender.water_capacity


def bunker(journey: Journey) -> float:
    return journey.excursion.locomotive.tender.fuel_capacity


def line_axle_load(journey: Journey, limit: float) -> Journey:
    asked = journey.excursion
    return replace(journey, excursion=replace(asked, route=replace(asked.route, axle_load_limit=limit)))


def engine_radius(journey: Journey, limit: float) -> Journey:
    asked = journey.excursion
    engine = replace(asked.locomotive, min_curve_radius=limit)
    return replace(journey, excursion=replace(asked, locomotive=engine))


def coupler(journey: Journey, limit: float) -> Journey:
    asked = journey.excursion
    return replace(journey, excursion=replace(asked, train=replace(asked.train, max_coupler_pull=limit)))


CASES = [
    RuleCase(traction_rules.climbing, "climb", criterion("min_climbing_speed"), least=True),
    RuleCase(traction_rules.couplers, "coupler", coupler, least=False),
    RuleCase(boiler_rules.pressure, "pressure", criterion("min_boiler_pressure", gauge), least=True),
    RuleCase(boiler_rules.crown_cover, "crown sheet", criterion("min_crown_sheet_cover"), least=True),
    RuleCase(supply_rules.water, "water", criterion("water_reserve", tank), least=True),
    RuleCase(supply_rules.fuel, "fuel", criterion("fuel_reserve", bunker), least=True),
    RuleCase(
        timekeeping_rules.timekeeping,
        "time",
        criterion("max_lateness"),
        least=False,
        pick=lambda finding: finding.place == "B",
    ),
    RuleCase(braking_rules.stopping, "stopping distance", criterion("max_stopping_distance"), least=False),
    RuleCase(
        clearance_rules.rotation,
        "driving-wheel speed",
        criterion("max_driver_rotation"),
        least=False,
        pick=lambda finding: finding.rule == "driving-wheel speed",
    ),
    RuleCase(
        clearance_rules.rotation,
        "piston speed",
        criterion("max_piston_speed"),
        least=False,
        pick=lambda finding: finding.rule == "piston speed",
    ),
    RuleCase(clearance_rules.axle_load, "axle load", line_axle_load, least=False),
    RuleCase(clearance_rules.curves, "curve", engine_radius, least=True),
]
STATIC = ("axle load", "curve")  # met or not, never tight


def journey() -> Journey:
    return run(boilered(hills(stops=TIMED, initial_water=0.6, initial_fuel=0.6)))


def only(case: RuleCase, judged: Journey) -> Finding:
    found = [f for f in case.rule(judged) if case.pick(f)]
    assert len(found) == 1
    return found[0]


def value_of(case: RuleCase) -> float:
    """The value does not depend on the limit, so any limit shows it."""
    return only(case, case.set_limit(journey(), 1e5 if case.name in ("curve", "axle load") else 0.01)).value


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
@pytest.mark.parametrize(
    ("room", "verdict"),
    [(0.30, CLEAR), (0.11, CLEAR), (0.09, TIGHT), (1e-6, TIGHT), (-1e-6, STOP), (-0.05, STOP)],
)
def test_margin_is_room_over_limit_and_gives_the_verdict(case: RuleCase, room: float, verdict: str) -> None:
    value = value_of(case)
    limit = value / (1.0 + room) if case.least else value / (1.0 - room)
    finding = only(case, case.set_limit(journey(), limit))
    assert finding.rule == case.name
    assert finding.value == pytest.approx(value)
    assert finding.limit == pytest.approx(limit)
    assert finding.margin == pytest.approx(room, abs=1e-9)
    if case.name in STATIC:
        verdict = STOP if room < 0 else CLEAR
    assert finding.verdict == verdict


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_finding_that_is_not_clear_has_a_remedy(case: RuleCase) -> None:
    value = value_of(case)
    stopped = only(case, case.set_limit(journey(), 1.05 * value if case.least else 0.95 * value))
    fine = only(case, case.set_limit(journey(), 0.5 * value if case.least else 2.0 * value))
    assert stopped.remedy
    assert fine.remedy == ""
    assert stopped.because
    assert "safe" not in stopped.because + stopped.remedy


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_texts_use_only_facts_that_exist(case: RuleCase) -> None:
    value = value_of(case)
    finding = only(case, case.set_limit(journey(), 1.05 * value if case.least else 0.95 * value))
    for text in (finding.because, finding.remedy):
        shown = {name for _, name, _, _ in string.Formatter().parse(text) if name}
        assert shown <= set(finding.facts)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_tight_margin_is_that_of_the_excursion(case: RuleCase) -> None:
    if case.name in STATIC:
        return
    value = value_of(case)
    limit = value / 1.2 if case.least else value / 0.8
    assert only(case, case.set_limit(journey(), limit)).verdict == CLEAR
    wide = under(case.set_limit(journey(), limit), tight_margin=0.25)
    assert only(case, wide).verdict == TIGHT
