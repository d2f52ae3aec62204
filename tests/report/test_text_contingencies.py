"""What stands beside a check: the latest departure, what was tried and what was not."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest
import trials

from locosim.model import Assistance, Call, Diesel
from locosim.planning.check import Check, check_excursion
from locosim.planning.contingencies import try_failures
from locosim.report.csv import run_csv
from locosim.report.json.journey import check_json, run_json
from locosim.report.text.check import check_text
from locosim.report.text.contingencies import departure_line, trial_rows, trials_outcome
from locosim.report.text.run import run_text

PUSHER = Assistance(
    diesel=Diesel(name="Pusher 7", mass=100e3, length=17.0, rail_power=1.2e6, starting_pull=250e3),
    place="rear",
    to_station="B",
)


@cache
def judged(**changes: Any) -> Check:
    line = trials.line([(4000.0, 0.001), (4000.0, 0.006)], stops=(4000.0,))
    return check_excursion(trials.excursion(line, **changes))


def test_what_was_not_tried_is_named_and_has_no_row() -> None:
    made = try_failures(judged())
    assert [row[0] for row in trial_rows(made)] == [trial.name for trial in made if trial.verdict is not None]
    assert trials_outcome(made).endswith(
        "Not tried: one air compressor out (she has only one, and no air without it)."
    )
    content = json.loads(check_json(judged(), made, None))["trials"]
    untried = [entry for entry in content if entry["verdict"] is None]
    assert [(entry["with"], entry["not_tried"]) for entry in untried] == [
        ("one air compressor out", "she has only one, and no air without it")
    ]


def test_a_latest_departure_of_a_plan_that_stops_says_so() -> None:
    assert "stops" not in departure_line(36000.0, judged(), "us")
    weak = trials.train(trials.coaches(brake_ratio=0.0))
    said = departure_line(36000.0, judged(made_of=weak), "us")
    assert said.endswith("The plan stops all the same, by stopping.")
    # Late is what an earlier departure mends.
    calls = (Call(station="A"), Call(station="C", arrive=36060.0))
    late = judged(calls=calls)
    assert [f.rule for f in late.findings if f.verdict == "stop"] == ["time"]
    assert "stops" not in departure_line(35000.0, late, "us")


@pytest.mark.parametrize("helped", [True, False])
def test_every_output_names_the_assisting_engines(helped: bool) -> None:
    check = judged(assistance=(PUSHER,)) if helped else judged()
    sentence = "Assisted by Pusher 7 at the rear from A to B."
    texts = (
        check_text(check, (), None, "us"),
        run_text(check.journey, "us"),
        run_csv(check.journey, "us"),
    )
    assert [sentence in text for text in texts] == [helped] * 3
    listed = [{"name": "Pusher 7", "place": "rear", "from": "A", "to": "B"}] if helped else []
    for text in (check_json(check, (), None), run_json(check.journey)):
        assert json.loads(text)["assistance"] == listed


def test_a_distance_without_end_is_words_in_text_and_null_in_json() -> None:
    check = judged(made_of=trials.train(trials.coaches(brake_ratio=0.0)))
    assert "does not stop" in check_text(check, (), None, "us")
    assert "inf" not in check_text(check, (), None, "us").replace("information", "")
    text = check_json(check, (), None)
    assert "Infinity" not in text
    (finding,) = (f for f in json.loads(text)["findings"] if f["rule"] == "stopping")
    assert (finding["value"], finding["margin"], finding["verdict"]) == (None, None, "stop")
