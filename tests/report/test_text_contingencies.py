"""Beside a check: the latest departure, the contingencies and the helper engines, in every medium."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
import trials

from locosim.model import Diesel, Helper, Stop
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import Finding
from locosim.report.csv import run_csv
from locosim.report.json.check import check_json
from locosim.report.json.run import run_json
from locosim.report.text.check import check_text
from locosim.report.text.contingencies import contingency_outcome, contingency_rows, departure_line
from locosim.report.text.run import run_text

PUSHER = Helper(
    diesel=Diesel(name="Pusher 7", mass=100e3, length=17.0, rail_power=1.2e6, starting_tractive_effort=250e3),
    place="rear",
    to_station="B",
)


@cache
def answered(latest: float | None = None, **changes: Any) -> Answer:
    line = trials.line([(4000.0, 0.001), (4000.0, 0.006)], stops=(4000.0,))
    answer = check_excursion(trials.excursion(line, **changes), contingencies=False)
    return replace(answer, latest_departure=latest)


def test_a_contingency_that_was_not_run_is_named_and_has_no_row() -> None:
    ran = Contingency(name="wet rail", verdict="clear")
    left_out = Contingency(name="one air compressor failed", not_run="the engine has only one")
    answer = replace(answered(), contingencies=(ran, left_out))
    assert [row[0] for row in contingency_rows(answer)] == ["wet rail"]
    assert contingency_outcome(answer) == (
        "None of these turns the verdict to stop. Not run: one air compressor failed (the engine has only one)."
    )
    content = json.loads(check_json(answer))["contingencies"]
    not_run = [(entry["contingency"], entry["not_run"]) for entry in content if entry["verdict"] is None]
    assert not_run == [("one air compressor failed", "the engine has only one")]


def test_the_contingencies_that_turn_the_verdict_to_stop_are_named() -> None:
    worst = Finding(
        rule="adhesion", verdict="stop", place="A to C", chainage=None, value=1.0, limit=2.0, kind="force",
        margin=-0.5, because="", remedy="",
    )  # fmt: skip
    wet = Contingency(name="wet rail", verdict="stop", worst=worst, becomes_stop=True)
    answer = replace(answered(), contingencies=(wet,))
    assert contingency_outcome(answer) == "Turns the verdict to stop: wet rail."
    assert contingency_rows(answer) == [("wet rail", "stop", "adhesion, A to C", "-50%")]
    assert contingency_rows(answered()) == []
    glass = replace(worst, rule="water glass", verdict="tight", margin=1.0)
    doubted = replace(answer, contingencies=(replace(wet, verdict="tight", worst=glass),))
    assert contingency_rows(doubted) == [
        ("wet rail", "tight", "water glass, A to C, by an assumption", "+100%")
    ]


def test_the_latest_departure_of_an_excursion_that_stops_comes_with_the_rules_it_breaks() -> None:
    assert "stop" not in departure_line(answered(36000.0))
    assert departure_line(answered()) == ""  # no arrival is advertised
    weak = trials.train(trials.coaches(braking_ratio=0.0))
    line = departure_line(answered(36000.0, made_of=weak))
    assert line.endswith("The verdict is STOP all the same, for stopping distance.")
    # An earlier departure is the remedy for being late.
    late = answered(35000.0, stops=(Stop(station="A"), Stop(station="C", arrive=36060.0)))
    assert [f.rule for f in late.findings if f.verdict == "stop"] == ["time"]
    assert "stop" not in departure_line(late)


@pytest.mark.parametrize("helped", [True, False])
def test_every_output_names_the_helper_engines(helped: bool) -> None:
    answer = answered(helpers=(PUSHER,)) if helped else answered()
    sentence = "Helper engine: Pusher 7 at the rear from A to B."
    assert [sentence in text for text in (check_text(answer), run_text(answer.journey))] == [helped] * 2
    assert ("Pusher 7" in run_csv(answer.journey)) == helped
    listed = [{"name": "Pusher 7", "place": "rear", "from": "A", "to": "B"}] if helped else []
    for text in (check_json(answer), run_json(answer.journey)):
        assert json.loads(text)["helpers"] == listed
        assert json.loads(text)["made_from"]["locomotives"][1:] == (["Pusher 7"] if helped else [])


def test_a_distance_without_end_is_words_in_text_and_null_in_json() -> None:
    answer = answered(made_of=trials.train(trials.coaches(braking_ratio=0.0)))
    assert "does not stop" in check_text(answer)
    assert "inf" not in check_text(answer).replace("information", "")
    text = check_json(answer)
    assert "Infinity" not in text
    (finding,) = (f for f in json.loads(text)["findings"] if f["rule"] == "stopping distance")
    assert (finding["value"], finding["margin"], finding["verdict"]) == (None, None, "stop")
