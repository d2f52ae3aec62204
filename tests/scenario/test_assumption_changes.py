"""Assumptions are set in an excursion file, by a change of it, or separately for a locomotive."""

from __future__ import annotations

from pathlib import Path

import pytest

from locosim.errors import ScenarioError
from locosim.model import Assumptions
from locosim.scenario import load_excursion, split_assumption_changes
from locosim.units import si

DATA = Path(__file__).parent / "data"
EXCURSION = DATA / "excursions" / "mixed.toml"


def test_an_excursion_file_sets_assumptions(tmp_path):
    text = EXCURSION.read_text(encoding="utf-8").replace("../", f"{DATA.as_posix()}/")
    path = tmp_path / "own.toml"
    path.write_text(f'{text}\n[assumptions]\nair_lag = "25 s"\nblower_share = "20 %"\n', encoding="utf-8")
    assert load_excursion(path).assumptions == Assumptions(air_lag=25.0, blower_share=0.2)


def test_a_change_sets_an_assumption():
    excursion = load_excursion(EXCURSION, ["assumptions.air_lag=25 s", "rail=dry"])
    assert excursion.assumptions == Assumptions(air_lag=25.0)
    assert list(excursion.assumptions.changed()) == [("air_lag", 20.0, 25.0)]
    assert load_excursion(EXCURSION).assumptions == Assumptions()


def test_changes_of_assumptions_are_separated_from_those_of_a_locomotive():
    changes = ["boiler.grate_area=36 ft^2", "assumptions.max_back_pressure=10 psi", "mass=60 t"]
    assumptions, rest = split_assumption_changes(changes)
    assert rest == ["boiler.grate_area=36 ft^2", "mass=60 t"]
    assert assumptions == Assumptions(max_back_pressure=si("10 psi", "Pa"))
    assert split_assumption_changes([]) == (Assumptions(), [])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            "assumptions.air_lga=4 minute",
            r"unknown key 'air_lga' in assumptions; did you mean 'air_lag'\? known are ",
        ),
        ("assumptions.air_lga=4 minute", "remaining_compressor_steam"),
        (
            "assumptions.xyzzy=4 minute",
            "unknown key 'xyzzy' in assumptions; known are acceleration_distance, ",
        ),
        ("assumptions.air_lag=4 psi", "assumptions.air_lag: '4 psi' is a pressure; a time is expected"),
        (
            "assumptions.air_lag=0 s",
            "assumptions.air_lag: must be at least 0.5 s and at most 300 s, found '0 s'",
        ),
        ("assumptions.air_lag=", "has no value after ="),
    ],
)
def test_a_wrong_assumption_is_reported(change, message):
    with pytest.raises(ScenarioError, match=message):
        load_excursion(EXCURSION, [change])
    with pytest.raises(ScenarioError, match=message):
        split_assumption_changes([change])


def test_all_wrong_assumptions_are_reported_at_once():
    with pytest.raises(ScenarioError, match="3 problems"):
        split_assumption_changes(
            ["assumptions.a=1", "assumptions.air_lag=9 kg", "assumptions.blower_share=7"]
        )


def test_an_unknown_assumption_in_a_file_is_answered_with_the_list(tmp_path):
    text = EXCURSION.read_text(encoding="utf-8").replace("../", f"{DATA.as_posix()}/")
    path = tmp_path / "own.toml"
    path.write_text(f'{text}\n[assumptions]\nair_lgas = "4 minute"\n', encoding="utf-8")
    with pytest.raises(
        ScenarioError, match=r"did you mean 'air_lag'\? known are .*remaining_compressor_steam"
    ):
        load_excursion(path)


@pytest.mark.parametrize("name", Assumptions.declared())
def test_every_assumption_has_a_range_that_contains_its_value(name):
    data = Assumptions.declared()[name].metadata
    low, high = data["low"], data["high"]
    assert data["at_least"] <= low < high <= data["at_most"]
    assert low <= getattr(Assumptions(), name) <= high
    assert data["touches"]
    known = ("derived from it", "docs/validation.md")  # another figure of the table, or the published tests
    assert data["source"].endswith("no source") or any(words in data["source"] for words in known)
    for end in (low, high):
        assert list(Assumptions(**{name: end}).changed()) in ([(name, getattr(Assumptions(), name), end)], [])
