"""The scenario reader: what is read, and how every problem is reported."""

from __future__ import annotations

import dataclasses
import math
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locosim.errors import ScenarioError
from locosim.scenario import load_excursion, load_locomotive, load_route, load_train

DATA = Path(__file__).parent / "data"
BROKEN = DATA / "broken"
EXCURSION = DATA / "excursions" / "mixed.toml"
LOADERS = {
    "engine": load_locomotive,
    "route": load_route,
    "train": load_train,
    "excursion": load_excursion,
}


def numbers(thing, path=""):
    """Walk a description and yield every value with its path."""
    if dataclasses.is_dataclass(thing):
        for field in dataclasses.fields(thing):
            if not field.compare:
                continue  # provenance
            yield from numbers(getattr(thing, field.name), f"{path}.{field.name}")
    elif isinstance(thing, tuple):
        for number, item in enumerate(thing):
            yield from numbers(item, f"{path}[{number}]")
    else:
        yield path, thing


def problems_of(load, path, *changes):
    """The problems of a file, or none."""
    try:
        load(path, changes)
    except ScenarioError as error:
        return list(error.problems)
    return []


def written(folder, text, name="file.toml"):
    """Write a file for one test."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_an_excursion_is_read_with_all_it_refers_to():
    excursion = load_excursion(EXCURSION)
    unit = excursion.locomotive.engine_units[0]
    assert excursion.locomotive.boiler.working_pressure_gauge == pytest.approx(165 * 6894.757293168361)
    assert unit.cylinders[0].bore == pytest.approx(18.5 * 0.0254, rel=1e-14)
    assert unit.valve_gear is not None
    assert excursion.train.vehicles[0].empty_mass == pytest.approx(28.5 * 2240 * 0.45359237)
    assert excursion.route.stations[2].chainage == pytest.approx(11.5 * 1609.344)
    assert excursion.route.profile[2].grade == pytest.approx(0.0125)
    assert excursion.route.profile[6].grade == 0
    assert excursion.route.profile[-1].grade is None
    assert [stop.arrive for stop in excursion.stops] == [None, 37050, 38700]  # the last is a TOML time
    assert excursion.weather.temperature == pytest.approx(278.15)
    assert excursion.weather.headwind == pytest.approx(-2.2352)
    assert excursion.criteria.max_driver_rotation == pytest.approx(5.0)


def test_an_engine_in_trade_units_and_its_twin_in_si_are_the_same():
    trade = list(numbers(load_locomotive(DATA / "engines" / "mogul.toml")))
    twin = list(numbers(load_locomotive(DATA / "engines" / "mogul_si.toml")))
    assert [place for place, _ in trade] == [place for place, _ in twin]
    for (place, one), (_, other) in zip(trade, twin, strict=True):
        if isinstance(one, float):
            assert one == pytest.approx(other, rel=1e-12), place
        else:
            assert one == other, place


def test_a_route_is_read_by_height_with_stations_from_a_table():
    route = load_route(DATA / "routes" / "by_height.toml")
    assert [point.elevation for point in route.profile] == [100, 108, 150, 135]
    assert [station.name for station in route.stations] == ["Foot", "Top, the"]
    assert route.stations[1].water_rate == pytest.approx(30 / 3600)
    assert route.grade_segments()[1][2] == pytest.approx(42 / 2500)


def test_all_problems_of_the_broken_engine_are_reported_at_once():
    problems = problems_of(load_locomotive, BROKEN / "engine.toml")
    expected = [
        "tendr: unknown key; did you mean 'tender'?",
        "name: expected a text in quotes, found 4073",
        'length: expected a quantity with a unit, in quotes, found true; write for example length = "45 ft"',
        "boiler.fireing: unknown key; did you mean 'firing'?",
        "boiler.grate_aera: unknown key; did you mean 'grate_area'?",
        "boiler.working_pressure_gauge: expected a quantity with a unit, in quotes, found 165; "
        'write for example working_pressure_gauge = "210 psi"',
        "boiler.firebox_surface: unit 'sqft' is not accepted: write ft^2, in^2 or m^2",
        "boiler.tube_surface: '1415 psi' is a pressure; an area is expected, such as in^2, ft^2 or m^2",
        "engine_units[1].driver_diameter: unit 'inn' is not known; did you mean 'in'?",
        "engine_units[1].driving_axles: expected a whole number, found 2.5",
        "engine_units[1].mass_on_drivers: unit 'ton' is not accepted: which ton? "
        "write long_ton (2240 lb), short_ton (2000 lb) or tonne (1000 kg)",
        "engine_units[1].min_cutoff: must be at least 0.02 and at most 0.5, found 0.9",
        "engine_units[1].max_cutoff: found 'nan', but a number must be finite",
        "engine_units[1].cylinders[1].number: must be at least 1 and at most 4, found 0",
        "engine_units[1].cylinders[1].bore: must be above 0.01 m and below 1.5 m "
        "(0.3937 to 59.06 in), found '-18.5 in'",
        "engine_units[1].cylinders[1].clearance: must be at least 0.01 and at most 0.5, found 0.9",
        "engine_units[1].cylinders[1].steam_source: must be one of boiler, receiver, found 'reciever'; "
        "did you mean 'receiver'?",
        "engine_units[1].valve_gear.travel: must exceed twice the sum of lap and lead (2.5 in), "
        "found '2 in'; check all three",
    ]
    assert problems == [f"{BROKEN / 'engine.toml'}: {line}" for line in expected]


def test_problems_of_a_csv_file_are_reported_with_those_of_the_route():
    problems = problems_of(load_route, BROKEN / "route.toml")
    table, file = BROKEN / "route.csv", BROKEN / "route.toml"
    assert [line for line in problems if line.startswith(str(table))] == [
        f"{table}: row 8: has 4 cells, but there are 3 headings",
        f"{table}: row 4, chainage: expected a number alone, since the heading gives the unit [mile], found 'one'",
        f"{table}: row 5, grade: must be above -0.15 and below 0.15 (-15 to 15 %), found '20 %'",
        f"{table}: row 6, grade: expected a number alone, since the heading gives the unit [%], "
        "found '1 in 80'",
        f"{table}: row 7, elevation: '100' has a number without a unit; a length is expected, "
        "such as in, ft, yd, chain, mile, mm, m or km",
    ]
    rest = [line.removeprefix(f"{file}: ") for line in problems if line.startswith(str(file))]
    assert [line.split(":")[0] for line in rest] == [
        "name",
        "speed_limit",
        "stations",
        "curves[1].end",
        "curves[2].radius",
        "curves[2].end",
    ]
    assert "each under [[stations]], or a file" in rest[2]
    assert 'missing; write for example end = "3.5 mile"' in rest[5]


def test_problems_of_other_files_are_reported_with_those_of_the_excursion():
    problems = problems_of(load_excursion, BROKEN / "excursion.toml")
    near = BROKEN / "../engines/mogull.toml"
    assert [line.split(": ")[1] for line in problems] == [
        "colour",
        "locomotive",
        "vehicles[1].empty_mass",
        "vehicles[1].length",
        "departure",
        "rail",
        "stops[1].dwell",
        "stops",
        "weather.temperature",
        "weather.headwind",
    ]
    assert (
        f"file '../engines/mogull.toml', looked for at {os.path.normpath(near)}: no such file; "
        "did you mean 'mogul.toml'?"
    ) in problems[1]
    assert problems[2].startswith(f"{BROKEN / 'train.toml'}: ")


def test_one_message_counts_all_problems():
    with pytest.raises(ScenarioError, match=r"broken.excursion\.toml: 10 problems\n  ") as caught:
        load_excursion(BROKEN / "excursion.toml")
    assert str(caught.value).count("\n") == 10


TRAIN = 'name = "T"\n[[vehicles]]\nname = "coach"\nempty_mass = "30 tonne"\nlength = "20 m"\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "name: missing; write for example name = "),
        ("", r"vehicles: missing; write for example \[\[vehicles\]\]"),
        (
            'name = "T"\nvehicles = [3]',
            r"vehicles: expected tables, each under \[\[vehicles\]\], found a list",
        ),
        ('name = "T"\nvehicles = "x.csv"', "vehicles: expected tables, .*, found 'x.csv'"),
        (TRAIN + "count = true", r"vehicles\[1\].count: expected a whole number, found true"),
        (TRAIN + 'count = "3"', r"vehicles\[1\].count: expected a whole number, found '3'"),
        (
            TRAIN + "count = 99999999999999999999",
            "must be at least 1 and at most 300, found a number of 20 digits",
        ),
        (TRAIN + "braking_ratio = true", r"vehicles\[1\].braking_ratio: expected a number, found true"),
        (TRAIN + "braking_ratio = nan", r"braking_ratio: must be at least 0 and at most 2, found nan"),
        (TRAIN + f"braking_ratio = 1{'0' * 400}", "braking_ratio: must be at least 0 and at most 2, found 1"),
        (TRAIN + f"count = 1{'0' * 5000}", "has a number of too many digits"),
        (TRAIN + "people = 1.0", "people: expected a whole number, found 1.0"),
        (
            TRAIN + "load = 12",
            "load: expected a quantity with a unit, in quotes, found 12; write for example",
        ),
        (TRAIN + "load = 1979-05-27", "load: expected a quantity with a unit, in quotes, found 1979-05-27"),
        (
            TRAIN + 'kind = "freight_cra"',
            "kind: must be one of passenger_car, .*, found 'freight_cra'; did you mean 'freight_car'",
        ),
        (
            TRAIN + 'custom_resistance = "x"',
            r"custom_resistance: expected a table under \[custom_resistance\], found 'x'",
        ),
        (TRAIN + "[vehicles.custom_resistance]\na = 3", "custom_resistance.a: expected a quantity"),
        (
            TRAIN + 'empty_mass = "31 tonne"',
            "not valid TOML: 'empty_mass = \"31 tonne\"' in line 6 repeats a key or table",
        ),
        (TRAIN + "load = 12 tonne", r"not valid TOML: .*line 6.*write a text or a quantity in quotes"),
        ("a" + "=[" * 1, "not valid TOML"),
        ("a=" + "[" * 5000, "nested too deeply"),
        (
            'name = "T"\nmass = "3 kg"\nboiler = 1\ntender = 2',
            "looks like an engine, but a train is expected here",
        ),
    ],
)
def test_problems_of_a_train_file(tmp_path, text, message):
    with pytest.raises(ScenarioError, match=message):
        load_train(written(tmp_path, text))


def test_a_misspelled_key_is_reported_once(tmp_path):
    path = written(tmp_path, TRAIN.replace("empty_mass", "emtpy_mass"))
    assert problems_of(load_train, path) == [
        f"{path}: vehicles[1].emtpy_mass: unknown key; did you mean 'empty_mass'?"
    ]


def test_a_missing_file_is_reported(tmp_path):
    with pytest.raises(ScenarioError, match="no such file"):
        load_train(tmp_path / "none.toml")
    with pytest.raises(ScenarioError, match=r"the folder .* does not exist either"):
        load_train(tmp_path / "nowhere" / "none.toml")
    written(tmp_path, TRAIN, "heavy.toml")
    with pytest.raises(ScenarioError, match=r"did you mean 'heavy\.toml'"):
        load_train(tmp_path / "heavey.toml")


def test_a_folder_is_not_a_file(tmp_path):
    with pytest.raises(ScenarioError, match="is a directory, not a file"):
        load_train(tmp_path)


def test_a_device_is_not_a_file():
    with pytest.raises(ScenarioError, match="is not a regular file"):
        load_train("/dev/zero")


def test_another_encoding_is_reported_with_its_line(tmp_path):
    path = tmp_path / "latin.toml"
    path.write_bytes(TRAIN.encode() + 'kind = "kö"'.encode("latin-1"))
    with pytest.raises(ScenarioError, match=r"is not UTF-8 text \(line 6\)"):
        load_train(path)


def test_a_file_without_read_permission_is_reported(tmp_path, monkeypatch):
    def refuse(_):
        raise PermissionError(13, "Permission denied")

    path = written(tmp_path, TRAIN)
    monkeypatch.setattr(Path, "read_bytes", refuse)  # root can read any file
    with pytest.raises(ScenarioError, match="cannot be read: permission denied"):
        load_train(path)


def test_a_byte_order_mark_is_accepted(tmp_path):
    path = tmp_path / "bom.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TRAIN.encode())
    assert load_train(path).name == "T"


EXCURSION_TEXT = 'name = "E"\ntrain = "t.toml"\nroute = "r.toml"\nstops = []\n'


@pytest.mark.parametrize(
    ("reference", "message"),
    [
        ('""', "locomotive: '' is not the path of a file"),
        (r'"a\u0000b"', "is not the path of a file"),
        ('"file.toml"', "file 'file.toml' refers to itself"),
        ('"."', "is a directory, not a file"),
        (f'"{"x" * 300}"', "cannot be read: file name too long"),
        (
            "3",
            r"expected a table under \[locomotive\], or a file as locomotive = \"locomotive.toml\", found 3",
        ),
    ],
)
def test_problems_of_a_reference_to_another_file(tmp_path, reference, message):
    path = written(tmp_path, EXCURSION_TEXT + f"locomotive = {reference}\n")
    with pytest.raises(ScenarioError, match=message):
        load_excursion(path)


def test_an_engine_may_be_in_the_excursion_s_file(tmp_path):
    engine = (DATA / "engines" / "mogul.toml").read_text(encoding="utf-8")
    inline = engine.replace("[[", "[[locomotive.").replace("\n[", "\n[locomotive.")
    inline = inline.replace("[locomotive.[locomotive.", "[[locomotive.")
    head, tables = EXCURSION.read_text(encoding="utf-8").split("[[stops]]", 1)
    head = head.replace('locomotive = "../engines/mogul.toml"\n', "").replace("../", f"{DATA.as_posix()}/")
    path = written(tmp_path, f"{head}[locomotive]\n{inline}\n[[stops]]{tables}")
    assert load_excursion(path) == load_excursion(EXCURSION)


def test_a_volume_per_time_is_read_only_as_water(tmp_path):
    text = (DATA / "routes" / "stations.csv").read_text(encoding="utf-8")
    written(tmp_path, text.replace("water_rate", "fuel_rate"), "stations.csv")
    for name in ("by_height.toml", "by_height.csv"):
        written(tmp_path, (DATA / "routes" / name).read_text(encoding="utf-8"), name)
    with pytest.raises(
        ScenarioError, match=r"row 3, fuel_rate: '30 m\^3/hour' is a volume per time; write a mass per time"
    ):
        load_route(tmp_path / "by_height.toml")


ROUTE = """name = "R"
profile = "p.csv"
speed_limit = "40 mph"
[[stations]]
name = "A"
chainage = "0 m"
[[stations]]
name = "B"
chainage = "900 m"
"""


def route_with(folder, profile):
    """Write a route with its own profile."""
    (folder / "p.csv").write_bytes(profile.encode("utf-8"))
    return written(folder, ROUTE)


@pytest.mark.parametrize(
    "profile",
    [
        "chainage [m],grade [1 in n]\n0,100\n500,-200\n700,level\n1000,\n",
        "\ufeffchainage [m],grade\n0,1 in 100\n500,down 1 in 200\n700,level\n1000\n",
        "# by the kilometer\nchainage [km] , grade [permille]\r\n0,10\r\n# half\r\n0.5,-5\r\n0.7,0\r\n1,\r\n",
        'chainage,grade,,\n"0 m",1 %,,\n500 m,-0.5 %\n\n0.7 km,0 %\n,,\n1 km,,,\n',
    ],
)
def test_notations_of_a_profile(tmp_path, profile):
    route = load_route(route_with(tmp_path, profile))
    assert [point.grade for point in route.profile] == [pytest.approx(0.01), -0.005, 0.0, None]
    assert [point.chainage for point in route.profile] == pytest.approx([0, 500, 700, 1000])


@pytest.mark.parametrize(
    ("profile", "message"),
    [
        ("", "has no headings; the first row must name the keys: chainage, grade, elevation"),
        ("# only a remark\n", "has no headings"),
        ("chainage [m];grade [%]\n0;1\n", "separates its cells by semicolons or tabs; save it with commas"),
        ("chainage [m]\tgrade [%]\n0\t1\n", "separates its cells by semicolons or tabs; save it with commas"),
        ("chainage [m],graed [%]\n0,1\n", "row 1: unknown heading 'graed'; did you mean 'grade'"),
        ("chainage [m],colour\n0,1\n", "unknown heading 'colour'; there are chainage, grade, elevation"),
        ("chainage [psi],grade [%]\n0,1\n", "row 1: heading 'chainage': '1 psi' is a pressure; a length"),
        ("chainage [],grade [%]\n0,1\n", "row 1: heading 'chainage': '1 ' is a plain number; a length"),
        ("chainage [m],chainage [m]\n0,1\n", "row 1: heading 'chainage' is repeated"),
        (
            "chainage,grade [%]\n0,1\n9,1\n",
            r"row 1: column 'chainage' has numbers .* as chainage \[mile\]",
        ),
        ("chainage [m],grade\n0,1\n9,1\n", r"column 'grade' has numbers .* as grade \[%\]"),
        ("chainage [m,grade\n0,1\n", r"heading 'chainage \[m' is not a key"),
        ("chainage [m],grade [%]\n", "profile: needs at least 2 items, found 0"),
        ("chainage [m],grade [%]\n0,1\n,1\n1000,\n", "row 3, chainage: missing"),
        ("chainage [m],grade [%]\n0,1\n5,1,6\n1000,\n", "row 3: has 3 cells, but there are 2 headings"),
        ("chainage [m],grade [%],\n0,1\n5,1,6\n1000,\n", "row 3: cell '6' has no heading"),
        ("chainage [m],grade [%]\n0,1\n5,nan\n1000,\n", "row 3, grade: expected a number alone"),
        (
            "chainage [m],grade [%]\n0,1\n1e400,1\n",
            "row 3, chainage: found '1e400', but a number must be finite",
        ),
        ("chainage [m],grade [1 in n]\n0,0\n500,1\n", "row 2, grade: .* a run of 0; write 'level'"),
        (
            "chainage [m],grade [%]\n0,1\n-5,1\n1000,\n",
            r"row 3, chainage: must be beyond the point before it, at 0 m, found '-5 m'",
        ),
    ],
)
def test_problems_of_a_profile(tmp_path, profile, message):
    with pytest.raises(ScenarioError, match=message):
        load_route(route_with(tmp_path, profile))


def test_many_problems_are_counted_and_the_first_ones_shown(tmp_path):
    rows = "".join(f"{at},x\n" for at in range(2000))
    with pytest.raises(ScenarioError, match=r"and \d+ more, not shown") as caught:
        load_route(route_with(tmp_path, "chainage [m],grade [%]\n" + rows))
    lines = str(caught.value).splitlines()
    assert len(lines) == 42
    assert lines[-1] == f"  {tmp_path / 'p.csv'}: and {len(caught.value.problems) - 40} more, not shown"
    assert len(caught.value.problems) >= 2000


@given(st.floats(-0.149, 0.149), st.floats(1.0, 1e6))
@settings(deadline=None, max_examples=50)
def test_a_profile_is_unchanged_by_writing_and_reading(tmp_path_factory, grade, length):
    folder = tmp_path_factory.mktemp("route")
    path = route_with(folder, f"chainage [m],grade [%]\n0,{grade * 100!r}\n{length + 900!r},\n")
    profile = load_route(path).profile
    assert profile[0].grade == pytest.approx(grade, rel=1e-12, abs=1e-300)
    assert profile[1].chainage == length + 900


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    [
                        "name",
                        "vehicles",
                        "empty_mass",
                        "count",
                        "length",
                        "kind",
                        "custom_resistance",
                        "a",
                        "x",
                    ]
                ),
                inner,
                max_size=4,
            )
        ),
        max_leaves=12,
    )
)
@settings(deadline=None, max_examples=200)
def test_any_tree_loads_or_raises_a_scenario_error(tmp_path_factory, tree):
    def toml(value):
        if isinstance(value, dict):
            return "{" + ", ".join(f"{key} = {toml(inner)}" for key, inner in value.items()) + "}"
        if isinstance(value, list):
            return "[" + ", ".join(map(toml, value)) + "]"
        if isinstance(value, bool):
            return str(value).lower()
        if value is None:
            return "10:35:00"
        if isinstance(value, str):
            return "'" + "".join(c for c in value if c.isprintable() and c != "'") + "'"
        return repr(value)

    tree = tree if isinstance(tree, dict) else {"name": tree}
    text = "\n".join(f"{key} = {toml(value)}" for key, value in tree.items())
    path = written(tmp_path_factory.mktemp("tree"), text)
    for load in LOADERS.values():
        with pytest.raises(ScenarioError, match="problem"):
            load(path)


def test_reading_needs_no_pint():
    code = (
        "import sys\nfrom locosim.scenario import load_excursion\n"
        f"load_excursion({str(EXCURSION)!r})\nprint('pint' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.speed
def test_a_long_profile_is_read_quickly(tmp_path):
    rows = "".join(f"{chainage / 10},{math.sin(chainage):.4f}\n" for chainage in range(5000))
    path = route_with(tmp_path, f"chainage [km],grade [%]\n{rows}500,\n")
    start = time.perf_counter()
    assert len(load_route(path).profile) == 5001
    assert time.perf_counter() - start < 2.0
