"""Rows of a batch: from a table or a grid, with every problem of the file at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from locosim.errors import LocosimError, ScenarioError
from locosim.studies.batch_file import grid_of_options, read_batch
from locosim.studies.batch_rows import ChangedRows

SPRING = str(Path(__file__).parents[2] / "scenarios" / "excursions" / "spring_special.toml")
GRID = """
excursions = ["a/one.toml", "two.toml"]
engines = ["e1.toml", "e2.toml"]

[[conditions]]
name = "summer"

[[conditions]]
name = "winter"
rail = "wet"
weather.temperature = "-8 degC"

[values]
"train.vehicles[1].count" = [4, 6]
initial_water = [0.5]
"""


def read(tmp_path, text, name="rows.csv", **options):
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    return read_batch(file, **options)


def test_a_table_names_files_and_keys(tmp_path):
    rows = read(
        tmp_path,
        "# cases\nname,excursion,engine,rail,weather.temperature [degC],stops[2].dwell\n"
        "first,x/one.toml,e.toml,wet,-5,\n\nsecond,x/one.toml,,,20,4 minute\n",
    )
    assert len(rows) == 2
    assert rows.keys == ("rail", "weather.temperature [degC]", "stops[2].dwell")
    first, second = rows[0], rows[1]
    assert first.name == first.label == "first"
    assert first.files == (str(tmp_path / "x/one.toml"), str(tmp_path / "e.toml"), "", "")
    assert first.changes == ("rail=wet", "weather.temperature=-5 degC")
    assert first.values == ("wet", "-5", "")
    assert second.changes == ("weather.temperature=20 degC", "stops[2].dwell=4 minute")


def test_a_file_in_a_key_is_named_from_the_table(tmp_path):
    rows = read(tmp_path, "excursion,helpers[1].locomotive\nx/one.toml,engines/bank.toml\n")
    assert rows[0].changes == ("helpers[1].locomotive=../engines/bank.toml",)
    assert rows[0].label == "one, helpers[1].locomotive engines/bank.toml"


def test_an_excursion_can_be_given_for_all_rows(tmp_path):
    rows = read(tmp_path, "rail\nwet\ndry\n", excursion="special.toml")
    assert [row.files[0] for row in map(rows.__getitem__, range(2))] == ["special.toml"] * 2


def test_a_grid_has_all_combinations_the_last_fastest(tmp_path):
    rows = read(tmp_path, GRID, "grid.toml")
    found = [rows[index] for index in range(len(rows))]
    assert len(found) == 2 * 2 * 2 * 2
    assert rows.keys == ("rail", "weather.temperature", "train.vehicles[1].count", "initial_water")
    assert [row.values[2] for row in found[:3]] == ["4", "6", "4"]
    assert found[0].changes == ("train.vehicles[1].count=4", "initial_water=0.5")
    assert found[-1].changes == (
        "rail=wet",
        "weather.temperature=-8 degC",
        "train.vehicles[1].count=6",
        "initial_water=0.5",
    )
    assert found[-1].files == (str(tmp_path / "two.toml"), str(tmp_path / "e2.toml"), "", "")
    assert found[-1].label == "two, e2, winter, vehicles[1].count 6"
    assert len({row.label for row in found}) == len(found)
    with pytest.raises(IndexError):
        rows[16]


def test_values_of_a_grid_can_be_a_range(tmp_path):
    text = f'excursions = ["{SPRING}"]\n[values]\ncrew.max_speed = "40:50:5 mph"\nrail = "dry,wet"\n'
    rows = read(tmp_path, text, "grid.toml")
    values = [row.values for row in map(rows.__getitem__, range(3))]
    assert values == [("40 mph", "dry"), ("40 mph", "wet"), ("45 mph", "dry")]
    assert len(rows) == 6


def test_the_digest_is_of_what_the_rows_are(tmp_path):
    one = read(tmp_path, GRID, "grid.toml").digest()
    assert one == read(tmp_path, GRID + "\n# a comment\n", "grid.toml").digest()
    assert one != read(tmp_path, GRID.replace("0.5", "0.6"), "grid.toml").digest()
    table = read(tmp_path, "excursion,rail\na.toml,wet\n")
    assert table.digest() != read(tmp_path, "excursion,rail\na.toml,dry\n").digest()
    changed = ChangedRows(table, ("rail=dry",))
    assert changed.digest() != table.digest()
    assert changed[0].changes == ("rail=dry", "rail=wet")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("excursion,rial\na.toml,wet\n", "row 1: heading 'rial': 'rial' is no key .*; did you mean 'rail'"),
        ("excursion,rail,rail\na.toml,wet,dry\n", "row 1: heading 'rail' is repeated"),
        ("excursion,,rail\na.toml,x,wet\n", "row 1: column 2 has no heading"),
        ("excursion,calls[1].dwell\na.toml,x\n", "'calls' is now called 'stops'"),
        ("excursion,rail\na.toml,wet,1,2\n", "row 2: has 4 cells, but there are 2 headings"),
        ("rail\nwet\n", "row 2: names no excursion; fill in its column excursion, or give --excursion"),
        ("excursion;rail\na.toml;wet\n", "semicolons or tabs"),
        ("excursion,rail\n", "needs a row of headings"),
        ('excursion,rail\n"a.toml,wet\n', "unclosed quote"),
    ],
)
def test_problems_of_a_table_are_reported(tmp_path, text, message):
    with pytest.raises(ScenarioError, match=message):
        read(tmp_path, text)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('excursion = ["a.toml"]', "excursion: unknown key; did you mean 'excursions'"),
        ('excursions = "a.toml"', "excursions: expected a list of files, for example"),
        ('engines = ["a.toml"]', r'excursions: missing; write for example excursions = \["special.toml"\]'),
        ('excursions = ["a.toml"]\n[[conditions]]\nrail = "wet"', r"conditions\[1\]: needs a name"),
        ('excursions = ["a.toml"]\n[values]\nrail = 3', "values.rail: expected a list as"),
        (f'excursions = ["{SPRING}"]\n[values]\nrail = "dry,soapy"', "found 'soapy' for rail"),
        ('excursions = ["a.toml"]\n[values]\nrial = ["wet"]', "did you mean 'rail'"),
        ("excursions = [", "is not valid TOML"),
    ],
)
def test_problems_of_a_grid_are_reported(tmp_path, text, message):
    with pytest.raises(ScenarioError, match=message):
        read(tmp_path, text, "grid.toml")


def test_no_file_is_a_problem(tmp_path):
    with pytest.raises(ScenarioError, match="no such file"):
        read_batch(tmp_path / "none.csv")


def test_a_grid_of_options():
    grid = grid_of_options([SPRING], ["e1.toml", "e2.toml"], values=["rail=dry,wet"])
    labels = [grid[k].label for k in range(4)]
    assert labels == ["e1, rail dry", "e1, rail wet", "e2, rail dry", "e2, rail wet"]
    grid = grid_of_options([SPRING], values=["train.vehicles[*].count=4:8:2", "weather.headwind=0,5 mph"])
    assert grid[5].changes == ("train.vehicles[*].count=8", "weather.headwind=5 mph")
    with pytest.raises(LocosimError, match="input 'rail': write key=values"):
        grid_of_options([SPRING], values=["rail"])
    with pytest.raises(LocosimError, match="unknown key 'rial'"):
        grid_of_options([SPRING], values=["rial=wet"])
    with pytest.raises(LocosimError, match="rail is given twice"):
        grid_of_options([SPRING], values=["rail=wet", "rail=dry"])
