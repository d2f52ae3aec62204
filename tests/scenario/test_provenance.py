"""Provenance: the reader attaches the files read, with their hashes, and the changes in effect."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from locosim.errors import ScenarioError
from locosim.scenario import load_excursion, load_locomotive, load_route, load_train
from locosim.scenario.schema import keys_of

DATA = Path(__file__).parent / "data"
EXCURSION = DATA / "excursions" / "mixed.toml"


def names(description):
    """Names of the files a description was read from."""
    return [Path(file.path).name for file in description.provenance.files]


def test_an_excursion_lists_every_file_with_its_hash():
    excursion = load_excursion(EXCURSION)
    assert names(excursion) == ["mixed.toml", "mogul.toml", "mixed.toml", "short.toml", "short.csv"]
    for file in excursion.provenance.files:
        assert file.sha256 == hashlib.sha256(Path(file.path).read_bytes()).hexdigest()
    assert excursion.provenance.changes == ()


def test_parts_list_their_own_files():
    excursion = load_excursion(EXCURSION)
    assert names(excursion.locomotive) == ["mogul.toml"]
    assert names(excursion.route) == ["short.toml", "short.csv"]
    assert names(load_route(DATA / "routes" / "by_height.toml")) == [
        "by_height.toml",
        "by_height.csv",
        "stations.csv",
    ]
    assert names(load_train(DATA / "trains" / "mixed.toml")) == ["mixed.toml"]


def test_changes_in_effect_are_listed_where_they_apply():
    changes = ["rail=wet", "rail=greasy", "train.vehicles[1].count=9", "weather.headwind=5 mph"]
    excursion = load_excursion(EXCURSION, changes)
    assert set(excursion.provenance.changes) == set(changes[1:])
    assert excursion.train.provenance.changes == ("train.vehicles[1].count=9",)
    assert excursion.locomotive.provenance.changes == ()


def test_a_helper_s_file_and_a_file_named_by_a_change_are_listed(tmp_path):
    text = EXCURSION.read_text(encoding="utf-8").replace("../", f"{DATA.as_posix()}/")
    path = tmp_path / "helped.toml"
    path.write_text(
        f'{text}\n[[helpers]]\nlocomotive = "{DATA.as_posix()}/engines/mogul_si.toml"\n', encoding="utf-8"
    )
    excursion = load_excursion(path, [f"train={DATA.as_posix()}/trains/mixed.toml"])
    assert names(excursion)[-1] == "mogul_si.toml"
    assert names(excursion.helpers[0].locomotive) == ["mogul_si.toml"]


def test_provenance_is_not_compared_not_shown_and_no_key():
    one = load_locomotive(DATA / "engines" / "mogul.toml")
    other = replace(one, provenance=None)
    assert one == other
    assert hash(one) == hash(other)
    assert repr(one) == repr(other)  # the map cache is keyed by repr
    assert "provenance" not in keys_of(type(one))
    with pytest.raises(ScenarioError, match="unknown key 'provenance'"):
        load_locomotive(DATA / "engines" / "mogul.toml", ["provenance=x"])
