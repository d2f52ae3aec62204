"""Faults between keys and between files are reported with all other problems, in the user's notation."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from locosim.errors import ScenarioError
from locosim.scenario import load_excursion, load_locomotive, load_route, load_train

DATA = Path(__file__).parent / "data"


@pytest.fixture
def folder(tmp_path):
    """A copy of the test files."""
    shutil.copytree(DATA, tmp_path / "data")
    with (tmp_path / "data" / "engines" / "mogul.toml").open("a", encoding="utf-8") as file:
        file.write('[[feed_devices]]\nname = "injector"\nmax_rate = "2 kg/s"\n')
    return tmp_path / "data"


def rewritten(path, *pairs):
    """Replace texts in a file."""
    text = path.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    return path


def problems_of(load, path, *changes):
    """The problems of a file, without the folder."""
    with pytest.raises(ScenarioError) as caught:
        load(path, changes)
    return [line.replace(f"{path.parent}/", "") for line in caught.value.problems]


ENGINE_CHANGES = (
    "engine_units[1].valve_gear.travel=40 mm",
    "feed_devices[1].min_rate=9 us_gallon/s",
    "engine_units[1].min_cutoff=40 %",
    "engine_units[1].max_cutoff=35 %",
    "mass=20 t",
    "engine_units[1].cylinders[1].steam_source=receiver",
)


def keys_in(problems):
    """The keys that problems are about."""
    return {line.split(": ")[1] for line in problems}


CROSS = {
    "engine_units[1].valve_gear.travel",
    "engine_units[1].min_cutoff",
    "mass",
    "feed_devices[1].min_rate",
    "engine_units[1].cylinders[1].steam_source",
}


def test_all_faults_of_an_engine_are_reported_at_once(folder):
    assert keys_in(problems_of(load_locomotive, folder / "engines" / "mogul.toml", *ENGINE_CHANGES)) == CROSS


def test_other_errors_hide_none_of_them(folder):
    slips = ("name= ", "boiler.grate_area=3 kg", "engine_units[1].cylinders[1].bore=1 psi", "length=9 t")
    problems = problems_of(load_locomotive, folder / "engines" / "mogul.toml", *ENGINE_CHANGES, *slips[1:])
    assert keys_in(problems) == CROSS | {"boiler.grate_area", "engine_units[1].cylinders[1].bore", "length"}


def test_conditions_on_unreadable_keys_are_not_checked(folder):
    path = folder / "engines" / "mogul.toml"
    problems = problems_of(load_locomotive, path, "engine_units[1].valve_gear.lap=9 psi", "mass=1 psi")
    assert keys_in(problems) == {"engine_units[1].valve_gear.lap", "mass"}


def test_found_and_allowed_are_in_the_unit_the_user_wrote(folder):
    problems = problems_of(
        load_locomotive, folder / "engines" / "mogul.toml", "engine_units[1].valve_gear.travel=40 mm"
    )
    assert problems[0].split(": ", 2)[2].startswith("must exceed twice the sum of lap and lead (")
    assert "mm), found '40 mm'" in problems[0]
    problems = problems_of(
        load_locomotive, folder / "engines" / "mogul.toml", "boiler.working_pressure_gauge=9e99 psi"
    )
    assert "(14.5 to 580.2 psi), found '9e99 psi'" in problems[0]
    problems = problems_of(load_train, folder / "trains" / "mixed.toml", "vehicles[1].empty_mass=9 kg")
    assert "must be above 10 kg and below 1e+06 kg, found '9 kg'" in problems[0]


def test_missing_coefficients_are_reported_with_other_errors(folder):
    path = folder / "trains" / "mixed.toml"
    problems = problems_of(load_train, path, "vehicles[1].resistance_law=custom", "vehicles[1].length=3 kg")
    assert keys_in(problems) == {"vehicles[1].custom_resistance", "vehicles[1].length"}


def test_each_misspelled_station_is_reported_with_other_errors(folder):
    path = folder / "excursions" / "mixed.toml"
    first = load_excursion(path).stops[0].station
    problems = problems_of(
        load_excursion,
        path,
        f"stops[1].station={first}e",
        "stops[2].station=Nowhere",
        "stops[2].dwell=2 mile",
    )
    assert keys_in(problems) == {"stops[1].station", "stops[2].station", "stops[2].dwell"}
    assert any(f"found '{first}e'; did you mean {first!r}?" in line for line in problems)
    assert any("found 'Nowhere'; there are " in line for line in problems)


def test_fuel_at_a_station_without_fuel_is_reported_with_the_remedy(folder):
    path = folder / "excursions" / "mixed.toml"
    problems = problems_of(load_excursion, path, "stops[1].take_fuel=fill", "rail=soap")
    assert len(problems) == 2
    assert "mixed.toml: stops[1].take_fuel: found 'fill', but " in problems[1]
    assert 'has no fuel_rate in the route; give the station one, or write take_fuel = "no"' in problems[1]


ROUTE = """name = "R"
profile = "p.csv"
speed_limit = "40 mph"
[[stations]]
name = "A"
chainage = "0 mile"
[[stations]]
name = "A"
chainage = "4 mile"
[[stations]]
name = "C"
chainage = "12 mile"
[[tunnels]]
start = "-1 km"
end = "2000 km"
[[speed_limits]]
start = "2 km"
end = "1 km"
speed = "9 mph"
"""


def test_each_fault_of_a_route_is_reported_with_its_file_and_row(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(ROUTE, encoding="utf-8")
    (tmp_path / "p.csv").write_text("chainage [mile],grade [%]\n0,1\n5,1\n3,1\n3,1\n10,\n", encoding="utf-8")
    order = "; put the points in order of chainage, each once"
    assert problems_of(load_route, path) == [
        "r.toml: speed_limits[1].end: must be beyond start (2 km), found '1 km'",
        f"p.csv: row 4, chainage: must be beyond the point before it, at 5 mile, found '3 mile'{order}",
        f"p.csv: row 5, chainage: must be beyond the point before it, at 3 mile, found '3 mile'{order}",
        "r.toml: stations[2].name: is also the name of another station, found 'A'; each needs its own",
        "r.toml: stations[3].chainage: must be on the profile, from 0 mile to 10 mile, found '12 mile'",
        "r.toml: tunnels[1].end: must be on the line, from 0 km to 16.0934 km, or near its ends, found '2000 km'",
    ]


def test_mixed_profile_points_are_named_by_row(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(ROUTE, encoding="utf-8")
    (tmp_path / "p.csv").write_text(
        "chainage [mile],grade [%],elevation [m]\n0,1,\n2,,5\n4,1,\n5,20,\n15,,\n", encoding="utf-8"
    )
    problems = problems_of(load_route, path)
    assert any(line.startswith("p.csv: row 5, grade: must be above -0.15") for line in problems)
    (tmp_path / "p.csv").write_text(
        "chainage [mile],grade [%],elevation [m]\n0,1,\n2,,5\n4,1,\n15,,\n", encoding="utf-8"
    )
    assert any(
        line.startswith("p.csv: row 3: must give a grade like every point but the last")
        for line in problems_of(load_route, path)
    )


def test_problems_are_limited_per_file(folder):
    cars = "".join('[[vehicles]]\nname = "c"\nempty_mass = "1 psi"\nlength = "20 m"\n' for _ in range(60))
    (folder / "trains" / "mixed.toml").write_text(f'name = "T"\n{cars}', encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        load_excursion(folder / "excursions" / "mixed.toml", ["rail=soap"])
    lines = str(caught.value).splitlines()
    assert len(lines) == 1 + 40 + 1 + 1
    assert "rail: must be one of" in lines[-2]
    assert lines[-1].endswith("mixed.toml: and 20 more, not shown")
    assert "trains" in lines[-1]
    assert len(caught.value.problems) == 61


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ("train.vehicles[1].count=1000000", "count: must be at least 1 and at most 300, found 1000000"),
        ("stops[2].dwell=1e9 hour", r"dwell: .* \(0 to 24 hour\), found '1e9 hour'"),
        ("locomotive.mass=1e300 t", r"mass: must be above 50 kg and below 1e\+06 kg"),
        (
            "locomotive.engine_units[1].cylinders[1].number=17",
            "number: must be at least 1 and at most 4, found 17",
        ),
    ],
)
def test_impossible_figures_are_refused(change, message):
    with pytest.raises(ScenarioError, match=message):
        load_excursion(DATA / "excursions" / "mixed.toml", [change])


def test_a_train_longer_than_any_ever_run_is_refused(folder):
    problems = problems_of(
        load_train, folder / "trains" / "mixed.toml", "vehicles[1].count=300", "vehicles[1].length=39 m"
    )
    assert "vehicles: form a train of 11" in problems[0]
    assert "but at most 10000 m is allowed" in problems[0]


@pytest.mark.parametrize("text", ["a\\u001b[31mb", "two\\nlines", "a\\u202eb"])
def test_control_characters_are_refused(folder, text):
    path = rewritten(folder / "trains" / "mixed.toml", ("name = ", f'name = "{text}" # '))
    assert "must be one line without control characters" in problems_of(load_train, path)[0]


@pytest.mark.parametrize(
    ("profile", "message"),
    [
        (
            "grade [%]\n1\n1\n",
            "row 1: heading 'chainage' is missing; add the column, for example chainage [mile]",
        ),
        ('chainage [m],grade [%]\n0,"1\n', 'row 2: has an unclosed quote (")'),
        ("chianage [m],grade [%]\n0,1\n", "row 1: unknown heading 'chianage'; did you mean 'chainage'?"),
    ],
)
def test_headings_are_checked_before_cells(tmp_path, profile, message):
    path = tmp_path / "r.toml"
    path.write_text(ROUTE, encoding="utf-8")
    (tmp_path / "p.csv").write_text(profile, encoding="utf-8")
    of_table = [line for line in problems_of(load_route, path) if line.startswith("p.csv")]
    assert len(of_table) == 1
    assert message in of_table[0]


@pytest.mark.parametrize("line", ['mass = "2 t"', "[tender]"])
def test_a_repeated_key_is_reported_with_its_line(folder, line):
    path = folder / "engines" / "mogul.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        f"{text}\n[tender]\n" if line == "[tender]" else f'mass = "1 t"\n{text}', encoding="utf-8"
    )
    with pytest.raises(ScenarioError, match=r"in line \d+ repeats a key or table; give each once"):
        load_locomotive(path)
