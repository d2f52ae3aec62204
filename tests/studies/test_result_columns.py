"""Result columns: each a figure of the check, by name."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import locosim as ls
from locosim.errors import OutOfRange
from locosim.planning.check import run_and_check
from locosim.studies.result_columns import RESULT_COLUMNS, RULES, result_column, result_columns
from locosim.units.format import DISPLAYS

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def check():
    return run_and_check(ls.load_excursion(ROOT / "scenarios/excursions/spring_special.toml"))


def test_every_column_has_a_value_of_a_kind_that_can_be_shown(check):
    for name, column in RESULT_COLUMNS.items():
        assert column.name == name
        value = column.value(check)
        if name == "assumptions":
            assert value is None, "a check without bands"
            continue
        assert isinstance(value, str if column.kind is None else float), name
        assert column.kind is None or column.kind in DISPLAYS["us"]


def test_columns_are_the_figures_of_the_run(check):
    values = {name: column.value(check) for name, column in RESULT_COLUMNS.items()}
    run = check.journey
    assert values["verdict"] == check.verdict
    assert values["margin"] == min(f.margin for f in check.findings if f.verdict == check.verdict)
    assert values["time"] == values["arrival"] - run.stops[0].depart
    assert values["mean speed"] == pytest.approx(run.distance / values["time"])
    assert values["pressure"] < run.performance.locomotive.boiler.working_pressure_gauge
    assert 0.0 < values["climbing speed"] <= values["highest speed"]


def test_a_column_can_be_of_a_rule_or_a_station(check):
    margin, late, arrival, missing = result_columns(
        ["margin:steam", "late:Quernby", "arrival: Hoaram", "arrival:Nowhere"]
    )
    assert margin.value(check) == min(f.margin for f in check.findings if f.rule == "steam")
    assert late.value(check) == check.journey.stops[-1].arrive - check.journey.excursion.stops[-1].arrive
    assert arrival.value(check) == check.journey.stops[2].arrive
    assert arrival.name == "arrival:Hoaram"
    assert missing.value(check) is None


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("tiem", "'tiem' is not a result; did you mean 'time'"),
        ("margin:steem", "'steem' is not a rule; did you mean 'steam'"),
        ("xyzzy", "there are verdict, margin, rule"),
    ],
)
def test_an_unknown_name_is_refused(name, message):
    with pytest.raises(OutOfRange, match=message):
        result_column(name)


def test_all_rules_can_be_columns():
    text = "\n".join(path.read_text() for path in (ROOT / "locosim/planning/rules").glob("*.py"))
    named = set(re.findall(r'judge\(\s*"([^"]+)"', text)) | set(re.findall(r'rule = "([^"]+)" if', text))
    assert named
    assert named <= set(RULES)
    for rule in RULES:
        assert f'"{rule}"' in text
