"""What stands beside a check: the latest departure, what was tried and what was not."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest
import trials

from locosim.model import Diesel, Helper, Stop
from locosim.planning.check import Check, run_and_check
from locosim.planning.contingencies import run_contingencies
from locosim.report.csv import run_csv
from locosim.report.json.journey import check_json, run_json
from locosim.report.text.check import check_text
from locosim.report.text.contingencies import contingency_outcome, contingency_rows, departure_line
from locosim.report.text.run import run_text

PUSHER = Helper(
    diesel=Diesel(name="Pusher 7", mass=100e3, length=17.0, rail_power=1.2e6, starting_tractive_effort=250e3),
    place="rear",
    to_station="B",
)


@cache
def judged(**changes: Any) -> Check:
    line = trials.line([(4000.0, 0.001), (4000.0, 0.006)], stops=(4000.0,))
    return run_and_check(trials.excursion(line, **changes))


def test_what_was_not_tried_is_named_and_has_no_row() -> None:
    made = run_contingencies(judged())
    assert [row[0] for row in contingency_rows(made)] == [
        trial.name for trial in made if trial.verdict is not None
    ]
    assert contingency_outcome(made).endswith(
        "Not tried: one air compressor failed (the engine has only one, and no air without it)."
    )
    content = json.loads(check_json(judged(), made, None))["contingencies"]
    untried = [entry for entry in content if entry["verdict"] is None]
    assert [(entry["with"], entry["not_run"]) for entry in untried] == [
        ("one air compressor failed", "the engine has only one, and no air without it")
    ]


def test_a_latest_departure_of_a_plan_that_stops_says_so() -> None:
    assert "stops" not in departure_line(36000.0, judged(), "us")
    weak = trials.train(trials.coaches(braking_ratio=0.0))
    said = departure_line(36000.0, judged(made_of=weak), "us")
    assert said.endswith("The plan stops all the same, by stopping distance.")
    # Late is what an earlier departure mends.
    stops = (Stop(station="A"), Stop(station="C", arrive=36060.0))
    late = judged(stops=stops)
    assert [f.rule for f in late.findings if f.verdict == "stop"] == ["time"]
    assert "stops" not in departure_line(35000.0, late, "us")


@pytest.mark.parametrize("helped", [True, False])
def test_every_output_names_the_assisting_engines(helped: bool) -> None:
    check = judged(helpers=(PUSHER,)) if helped else judged()
    sentence = "HelperSchedule by Pusher 7 at the rear from A to B."
    texts = (
        check_text(check, (), None, "us"),
        run_text(check.journey, "us"),
        run_csv(check.journey, "us"),
    )
    assert [sentence in text for text in texts] == [helped] * 3
    listed = [{"name": "Pusher 7", "place": "rear", "from": "A", "to": "B"}] if helped else []
    for text in (check_json(check, (), None), run_json(check.journey)):
        assert json.loads(text)["helpers"] == listed


def test_a_distance_without_end_is_words_in_text_and_null_in_json() -> None:
    check = judged(made_of=trials.train(trials.coaches(braking_ratio=0.0)))
    assert "does not stop" in check_text(check, (), None, "us")
    assert "inf" not in check_text(check, (), None, "us").replace("information", "")
    text = check_json(check, (), None)
    assert "Infinity" not in text
    (finding,) = (f for f in json.loads(text)["findings"] if f["rule"] == "stopping distance")
    assert (finding["value"], finding["margin"], finding["verdict"]) == (None, None, "stop")
