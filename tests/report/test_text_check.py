"""The check as a planner reads it: order, mileposts, stations, remedies that were run."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
import trials

from locosim.model import Criteria, Excursion, Stop
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.finding import Band, Finding
from locosim.planning.station_times import line_chainage, station_times
from locosim.report.json.check import check_json
from locosim.report.text.check import check_text
from locosim.report.text.contingencies import departure_line
from locosim.report.text.finding import figures_text, remedy_lines
from locosim.units.format import show, unit_system

LINE = trials.line([(4000.0, 0.0), (6000.0, 0.012), (2000.0, 0.0)], stops=(3000.0, 7000.0), speed_limit=18.0)
STOPS = (
    Stop(station="A"),
    Stop(station="B", arrive=36300.0, depart=36480.0),
    Stop(station="D", arrive=37300.0),
)
CRITERIA = Criteria(min_climbing_speed=9.0)


def asked(cars: int = 14, **changes: Any) -> Excursion:
    made = trials.train(trials.coaches(cars))
    return trials.excursion(LINE, made_of=made, **{"stops": STOPS, "criteria": CRITERIA, **changes})


@cache
def answered(cars: int = 14) -> Answer:
    return check_excursion(asked(cars))


def test_the_order_is_verdict_findings_stations_contingencies_and_clear_findings() -> None:
    text = check_text(answered())
    parts = [
        "trial: STOP",
        "STOP ",
        "Remedy tried:",
        "booked",
        "contingency",
        "Clear, the closest first:",
    ]
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_every_finding_that_is_not_clear_is_in_the_text_with_its_milepost() -> None:
    answer = answered()
    text = " ".join(check_text(answer).split())
    for finding in answer.findings:
        if finding.verdict != "clear":
            head = f"{finding.verdict.upper()} {finding.rule}, {finding.place}"
            assert head in text
            if finding.chainage is not None:
                assert f"{head}, milepost {finding.chainage / 1609.344:.2f}" in text


def test_mileposts_count_as_the_line_does_when_run_backward() -> None:
    reverse = asked(direction="reverse", stops=(Stop(station="D"), Stop(station="A")))
    assert line_chainage(reverse, 0.0) == LINE.end
    times = station_times(check_excursion(reverse, contingencies=False, remedies=False).journey)
    assert [(t.station, t.milepost) for t in times] == [
        (s.name, pytest.approx(s.chainage)) for s in reversed(LINE.stations)
    ]


def test_the_station_table_has_booked_running_late_and_passing_times() -> None:
    answer = answered(6)
    a, b, c, d = station_times(answer.journey)
    assert (a.arrive, a.late, a.booked_depart) == (None, None, 36000.0)
    assert (b.booked_arrive, b.booked_depart) == (36300.0, 36480.0)
    assert b.arrive is not None
    assert b.late == b.arrive - 36300.0
    assert not c.stops
    assert c.late is None
    assert b.depart < c.arrive < d.arrive
    assert (d.depart, d.booked_depart) == (None, None)
    text = check_text(answer)
    assert "(10:" in text  # the passing time of C


def test_stations_beyond_the_end_of_a_run_are_not_reached() -> None:
    answer = check_excursion(asked(60, rail="wet"), contingencies=False, remedies=False)
    assert not answer.journey.arrived
    assert [t.reached for t in station_times(answer.journey)][-1] is False
    assert "not reached" in check_text(answer)
    assert [s["reached"] for s in json.loads(check_json(answer))["stations"]][-1] is False


def test_when_no_departure_keeps_the_arrivals_the_text_names_those_that_fail() -> None:
    stops = (STOPS[0], STOPS[1], replace(STOPS[2], arrive=36600.0))
    answer = check_excursion(asked(6, stops=stops), contingencies=False, remedies=False)
    # It may not leave B before 36,480 s, and the last section takes more than two minutes.
    (missed,) = answer.arrivals_never_kept
    assert missed.station == "D"
    assert missed.late is not None
    with unit_system("us"):
        late = show(missed.late, "time")
    # From B at 36,480 s it has to be at D at 36,600 s: late by its running time less 120 s, and a little more, since
    # after two hours at B the bearings are cold.
    b, _, d = station_times(answer.full_effort)[-3:]
    assert missed.late == pytest.approx(d.arrive - b.depart - 120.0, abs=10.0)
    assert departure_line(answer) == (
        f"Even leaving two hours earlier, the train is {late} late at D (0:05:00 allowed)."
    )
    assert json.loads(check_json(answer))["arrivals_never_kept"] == ["D"]


def test_text_and_json_have_the_same_remedies() -> None:
    answer = answered()
    assert answer.remedies
    text = " ".join(check_text(answer).split())
    content = json.loads(check_json(answer))
    for remedy in answer.remedies:
        entry = next(f for f in content["findings"] if f["rule"] == remedy.rule and f["verdict"] != "clear")
        listed = next(r for r in entry["remedies"] if r["kind"] == remedy.kind)
        assert (listed["verdict"], listed["verdict_of_check"]) == (remedy.verdict, remedy.whole_verdict)
        assert (remedy.whole_verdict == "clear") == (remedy.remaining == ())
        assert listed["rules_not_clear"] == list(remedy.remaining)
        still = f", but still {remedy.whole_verdict.upper()} for {', '.join(remedy.remaining)}."
        result = (
            f"{remedy.rule} {remedy.verdict.upper()}{still}"
            if remedy.remaining
            else "the whole check is CLEAR."
        )
        assert result in text


def flipping(low: float, high: float) -> Answer:
    """An answer whose finding of the water glass changes its verdict with the working level."""
    answer = answered()
    finding = Finding(
        rule="water glass", verdict="tight", place="A", chainage=0.0, value=30.0, limit=60.0, kind="time", margin=0.5,
        because="the water is out of sight", remedy="", bands=(Band("working_level_in_glass", low, high),), flips=True,
    )  # fmt: skip
    return replace(answer, check=replace(answer.check, findings=(finding,)), remedies=())


def test_a_verdict_that_changes_within_an_assumption_says_the_value_and_the_verdict_there() -> None:
    """A margin of -12.9 to a limit of 60 s is 834 s; the range of the level is that of the declaration."""
    text = " ".join(check_text(flipping(-12.9, 0.5)).split())
    assert "0:00:30, at most 0:01:00 allowed, margin +50%." in text
    assert (
        "Rests on assumptions.working_level_in_glass, 4.92 in: 0:13:54 with 3.15 in, STOP; 0:00:30 with 7.09 in, "
        "CLEAR. So it is TIGHT until that figure is known and given."
    ) in text
    assert "out of reach with 7.09 in, STOP" in " ".join(check_text(flipping(0.5, -math.inf)).split())


def test_remedies_of_a_rule_are_listed_at_its_first_finding_only() -> None:
    answer = answered()
    first = next(f for f in answer.findings if f.rule == "climb")
    twice = replace(first, place="C", chainage=9000.0)
    doubled = replace(answer, check=replace(answer.check, findings=(first, twice)))
    listed = answer.remedies_for("climb")
    assert len(remedy_lines(doubled, first)) == len(listed) > 0
    assert remedy_lines(doubled, twice) == [
        f"Remedies tried: see climb at milepost {first.chainage / 1609.344:.2f}."
    ]


@pytest.mark.parametrize(("units", "side"), [("us", "at most 17.53"), ("metric", "at least 100")])
def test_a_curve_as_sharp_as_the_engine_can_pass_has_the_right_side_of_its_limit(
    units: str, side: str
) -> None:
    """A limit that is just met was written as a minimum whatever it is; a degree of curve is a maximum."""
    finding = Finding(
        rule="curve", verdict="clear", place="A", chainage=0.0, value=100.0, limit=100.0, kind="curve", margin=0.0,
        because="", remedy="", is_minimum=True,
    )  # fmt: skip
    with unit_system(units):
        assert side in figures_text(finding)
    just_late = replace(finding, rule="time", kind="time", is_minimum=False)
    assert "at most 0:01:40 allowed" in figures_text(just_late)
