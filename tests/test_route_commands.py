"""The commands about a line, as a user meets them, and the files they write."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest
from tracks import layout_of, write
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.errors import LocosimError, OutputExists
from locosim.scenario import load_route
from locosim.scenario.route_file import route_files
from locosim.units import unit_system

ROOT = Path(__file__).resolve().parent.parent
MAIN = str(ROOT / "scenarios" / "routes" / "main_line.toml")
QUERNBY = str(ROOT / "scenarios" / "routes" / "quernby_line.toml")
RUNNER = CliRunner()


def output(*arguments: str) -> str:
    result = RUNNER.invoke(app, ["route", *arguments], env={"COLUMNS": "101"})
    assert result.exit_code == 0, result.output + repr(result.exception)
    return result.stdout


def refused(*arguments: str, match: str) -> None:
    result = RUNNER.invoke(app, ["route", *arguments])
    assert isinstance(result.exception, LocosimError), result.output
    assert match in str(result.exception)
    assert result.stdout == ""


@pytest.fixture(scope="module")
def track(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("track")
    return str(write(folder, layout_of(load_route(QUERNBY)).gpx(spacing=20.0, up=1.0)))


def test_show_names_what_a_planner_asks_first() -> None:
    text = " ".join(output("show", MAIN).split())
    for words in (
        "Main line, Fennick Junction to Dunlarch: 58.00 mi",
        "Total rise 1,607 ft",
        "Steepest rise 2.00 %, 660 ft long, at milepost 27.40",
        "Ruling grade by length of train",
        "Momentum grades",
        "148 curves",
        "given by grades",
        "No superelevation for 148 of 148 curves",
        "do not approve an engine",
    ):
        assert words in text


def test_show_in_other_units_and_with_what_the_user_states() -> None:
    text = " ".join(output("show", QUERNBY, "--units", "metric", "--train-length", "250 m").split())
    assert "km 0.00 to 64.50" in text
    assert "rounded to 0.01 m" in text
    stated = " ".join(output("show", MAIN, "--ruling-grade", "1.5 %", "--entry-speed", "35 mph").split())
    assert "Momentum grades above a ruling grade of 1.50 %" in stated
    assert "stalls" in stated
    assert "1 in" in output("show", MAIN, "--units", "british")
    assert len(output("show", MAIN, "--all").splitlines()) > 148


def test_json_and_csv_have_the_whole_line(tmp_path: Path) -> None:
    found = json.loads(output("show", MAIN, "--json"))
    assert found["command"] == "route show"
    assert found["method"] is None
    assert len(found["curves"]) == 148
    assert found["made_from"]["files"][0]["path"] == MAIN
    output("show", MAIN, "--csv", str(tmp_path / "line.csv"))
    rows = list(csv.reader(io.StringIO((tmp_path / "line.csv").read_text(encoding="utf-8"))))
    assert rows[0][:4] == ["from [mi]", "to [mi]", "height [ft]", "grade [%]"]
    assert float(rows[-1][1]) == pytest.approx(58.0)
    assert "caution" in rows[0]


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_pictures_are_written_and_never_over_a_file(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"line{suffix}"
    output("show", QUERNBY, "--plot", str(path))
    assert path.stat().st_size > 5000
    refused("show", QUERNBY, "--plot", str(path), match="--force")


def test_the_picture_has_the_grades_written_on_it(tmp_path: Path) -> None:
    output("show", MAIN, "--plot", str(tmp_path / "line.svg"))
    text = (tmp_path / "line.svg").read_text(encoding="utf-8")
    assert text.count(" %<") > 15
    assert "Tarn Hollow" in text
    assert "climbed by momentum" in text


def test_make_writes_a_line_that_reads_and_checks(tmp_path: Path, track: str) -> None:
    target = tmp_path / "line.toml"
    text = output(
        "make", track, "--speed-limit", "45 mph", "--to", str(target), "--plot", str(tmp_path / "line.png")
    )
    assert "Smoothed: over" in text
    assert "(root mean square)" in " ".join(text.split())
    line = load_route(target)
    assert [s.name for s in line.stations] == [s.name for s in load_route(QUERNBY).stations]
    assert line.references[0].startswith("made from track.gpx, SHA-256 ")
    assert (tmp_path / "line.csv").exists()
    assert (tmp_path / "line_curves.csv").exists()
    assert output("show", str(target)).startswith("Test track: 40.08 mi")
    refused("make", track, "--speed-limit", "45 mph", "--to", str(target), match="already exists")
    target.unlink()
    refused("make", track, "--speed-limit", "45 mph", "--to", str(target), match="line.csv: already exists")
    output("make", track, "--speed-limit", "45 mph", "--to", str(target), "--force")


def test_make_from_heights(tmp_path: Path) -> None:
    heights = write(
        tmp_path, "chainage [km],elevation [m]\n0,100\n1,110\n2,105\n3,105\n4,120\n", "heights.csv"
    )
    text = output(
        "make", str(heights), "--speed-limit", "40 mph", "--to", str(tmp_path / "line.toml"), "--name", "Mine"
    )
    assert "Mine: 2.49 mi" in text
    assert "Added as a station: Start of line, End of line." in text
    line = load_route(tmp_path / "line.toml")
    assert [p.elevation for p in line.profile] == pytest.approx([100, 110, 105, 105, 120])
    refused(
        "make", str(heights), "--speed-limit", "40 mph", "--to", str(heights.with_suffix(".toml")),
        match="heights.csv: already exists",
    )  # fmt: skip


def same(one: Any, other: Any) -> None:
    if is_dataclass(one):
        for each in fields(one):
            if each.compare and each.name != "references":
                same(getattr(one, each.name), getattr(other, each.name))
    elif isinstance(one, tuple):
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            same(a, b)
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=1e-8, abs=1e-5)
    else:
        assert one == other


@pytest.mark.parametrize("units", ["us", "metric", "british"])
@pytest.mark.parametrize("line", [MAIN, QUERNBY])
def test_a_line_written_and_read_is_the_line(tmp_path: Path, line: str, units: str) -> None:
    route = load_route(line)
    with unit_system(units):
        files = route_files(route, tmp_path / "copy.toml")
    for path, content in files.items():
        path.write_bytes(content)
    same(load_route(tmp_path / "copy.toml"), route)


def test_odd_names_are_written_so_that_they_read_back(tmp_path: Path) -> None:
    from dataclasses import replace

    route = load_route(MAIN)
    odd = replace(route, name='A "B" \\ C, é 線', references=('x "y"',))
    for path, content in route_files(odd, tmp_path / "odd.toml").items():
        path.write_bytes(content)
    assert load_route(tmp_path / "odd.toml").name == odd.name


@pytest.mark.parametrize("line", [MAIN, QUERNBY])
def test_files_reversed_twice_and_cut_and_joined_are_the_line(tmp_path: Path, line: str) -> None:
    def file(name: str) -> str:
        return str(tmp_path / name)

    route = load_route(line)
    output("reverse", line, "--to", file("back.toml"))
    output("reverse", file("back.toml"), "--to", file("there.toml"))
    same(load_route(file("there.toml")), route)
    middle = route.stations[2].name
    output("cut", line, "--end", middle, "--to", file("first.toml"))
    output("cut", line, "--start", middle, "--to", file("second.toml"), "--name", route.name)
    text = output("join", file("first.toml"), file("second.toml"), "--to", file("whole.toml"))
    assert route.name in " ".join(text.split())
    joined = load_route(file("whole.toml"))
    assert [s.name for s in joined.stations] == [s.name for s in route.stations]
    assert len(joined.curves) == len(route.curves)
    assert joined.end == pytest.approx(route.end)


def test_cut_by_station_and_by_chainage(tmp_path: Path) -> None:
    output("cut", MAIN, "--start", "Tarn Hollow", "--end", "46 mile", "--to", str(tmp_path / "part.toml"))
    part = load_route(tmp_path / "part.toml")
    assert [s.name for s in part.stations] == ["Tarn Hollow", "Pellow Summit", "Marlby"]
    assert part.end == pytest.approx(46 * 1609.344)
    refused(
        "cut",
        MAIN,
        "--start",
        "Tarn Holow",
        "--to",
        str(tmp_path / "x.toml"),
        match="did you mean 'Tarn Hollow'",
    )
    refused(
        "cut",
        MAIN,
        "--start",
        "99 mile",
        "--to",
        str(tmp_path / "x.toml"),
        match="--start: must be on the line",
    )


def test_smooth_states_the_change(tmp_path: Path) -> None:
    text = " ".join(
        output("smooth", QUERNBY, "--smooth", "900 ft", "--to", str(tmp_path / "even.toml")).split()
    )
    assert "Smoothed: over 900 ft" in text
    assert "by 0.0 ft at the ends" in text
    assert "no smoothing" in output("smooth", QUERNBY, "--to", str(tmp_path / "same.toml"))


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        (["show", "none.toml"], "no such file"),
        (["show", MAIN, "--train-length", "900 mile"], "--train-length: must be above 0 and no longer than"),
        (["show", MAIN, "--train-length", "900"], "--train-length"),
        (["show", MAIN, "--entry-speed", "5 mph"], "--entry-speed: must be above the lowest speed"),
        (["show", MAIN, "--ruling-grade", "14 mile"], "--ruling-grade"),
        (["make", MAIN, "--speed-limit", "40 mph", "--to", "x.toml"], "neither a track"),
        (["make", "none.gpx", "--speed-limit", "40 mph", "--to", "x.toml"], "no such file"),
        (["make", "none.gpx", "--speed-limit", "40 mph", "--to", "x.txt"], "must end in .toml"),
        (["reverse", MAIN, "--to", "/nowhere/x.toml"], "does not exist"),
        (["join", MAIN, "--to", "x.toml"], "at least two lines"),
    ],
)
def test_errors_name_the_option_or_the_file(
    arguments: list[str], match: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    refused(*arguments, match=match)
    assert list(tmp_path.iterdir()) == []


def test_a_wrong_speed_limit_is_an_error_with_the_option(tmp_path: Path, track: str) -> None:
    refused(
        "make",
        track,
        "--speed-limit",
        "400 mph",
        "--to",
        str(tmp_path / "x.toml"),
        match="--speed-limit: must be",
    )
    refused(
        "make", track, "--speed-limit", "40 mph", "--max-grade", "30 %", "--to", str(tmp_path / "x.toml"),
        match="--max-grade: must be",
    )  # fmt: skip


@pytest.mark.parametrize("command", ["show", "make", "smooth", "reverse", "join", "cut"])
def test_help_has_an_example(command: str) -> None:
    assert "Example: locosim route " in " ".join(output(command, "--help").split())


def test_a_line_is_shown_within_a_second_of_processor_time_and_without_the_compiler() -> None:
    code = (
        "import sys, time\nfrom locosim.cli import app\n"
        "try: app()\nexcept SystemExit: pass\n"
        "print(time.process_time(), 'numba' in sys.modules, 'scipy' in sys.modules, 'matplotlib' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "route", "show", MAIN],
        capture_output=True, text=True, check=True, env={**os.environ},
    )  # fmt: skip
    seconds, *loaded = done.stdout.splitlines()[-1].split()
    assert loaded == ["False", "False", "False"]
    assert float(seconds) < 1.0


def test_the_library_gives_what_the_commands_print(tmp_path: Path, track: str) -> None:
    line = ls.load_route(MAIN)
    shown = ls.show_route(line, train_lengths=["500 ft", 1000.0], lowest_speed="10 mph")
    assert len(shown.rows) == 2
    assert shown.momentum.ruling < shown.momentum.without
    assert shown.to_rows("us")[0]["to [mi]"] > 0
    assert "Ruling grade" in shown.text("us")
    assert shown.csv("us").startswith("from [mi]")
    shown.save(tmp_path / "line.json")
    made = ls.make_route(track, speed_limit="45 mph", name="Mine")
    assert made.route.name == "Mine"
    assert made.smoothing is not None
    assert made.csv().count("\n") > 50
    made.plot(tmp_path / "made.png")
    files = ls.write_route(made.route, tmp_path / "mine.toml", units="us")
    assert [each.name for each in files] == ["mine.toml", "mine.csv", "mine_curves.csv"]
    with pytest.raises(OutputExists):
        ls.write_route(made.route, tmp_path / "mine.toml")
    parts = [ls.cut_route(line, end="Tarn Hollow").route, ls.cut_route(line, start="Tarn Hollow").route]
    assert ls.join_routes(parts, name=line.name).route.end == pytest.approx(line.end)
    assert ls.reverse_route(line).route.name.endswith("reversed")
    assert ls.smooth_route(line, smooth_over="600 ft").smoothing is not None
