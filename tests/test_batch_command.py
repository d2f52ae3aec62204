"""The command batch: text, JSON, pictures, progress on a terminal, and statuses."""

from __future__ import annotations

import json
import os
import pty
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

import locosim as ls
import locosim.rendering
from locosim.cli import app
from locosim.studies import batch, records
from locosim.studies.records import Journal

ROOT = Path(__file__).parents[1]
SCENARIOS = ROOT / "scenarios"
CASES = str(SCENARIOS / "batches" / "cases.csv")
GRID = str(SCENARIOS / "batches" / "consists_by_weather.toml")
SPRING = str(SCENARIOS / "excursions" / "spring_special.toml")
GARDEN = str(ROOT / "tests" / "odd" / "data" / "garden.toml")
RUNNER = CliRunner()


def test_rows_are_counted_shown_and_written(tmp_path):
    output = tmp_path / "out.csv"
    ran = RUNNER.invoke(app, ["batch", CASES, "--output", str(output), "--plot", str(tmp_path / "a.svg")])
    assert ran.exit_code == 0, ran.output
    assert "cases.csv: 6 rows: 1 clear, 4 stop, 1 not checked." in ran.stdout
    assert "Row 6 not checked:" in ran.stdout
    assert "They do not approve an engine" in " ".join(ran.stdout.split())
    lines = output.read_text().splitlines()
    assert len(lines) == 7
    assert lines[0].startswith("row,name,excursion,engine,train,route,rail,weather.temperature [degC],")
    assert "margin [%],rule,place,time [s],water [US gal],fuel [lb],problem,locosim,batch" in lines[0]
    assert "They do not approve an engine" in lines[1]
    picture = (tmp_path / "a.svg").read_text()
    assert "harvest on mud (not checked)" in picture
    assert "least margin, cut at ±100 % [%]" in picture


def test_a_grid_is_a_map(tmp_path):
    ran = RUNNER.invoke(app, ["batch", GRID, "--jobs", "1", "--json", "--plot", str(tmp_path / "a.svg")])
    found = json.loads(ran.stdout)
    assert len(found["rows"]) == 24
    assert found["rows"][23]["changes"][-1] == "crew.max_speed=60 km/h"
    assert found["units"] == {"time": "s", "water": "kg", "fuel": "kg"}
    assert found["made_from"]["locomotives"] == ["No. 14 Campion, 4-6-0", "No. 41 Teasel, 2-8-0"]
    picture = (tmp_path / "a.svg").read_text()
    assert picture.count("stop: axle load") == 6


def test_many_rows_are_sorted_by_margin(tmp_path):
    values = ["--values", "weather.headwind=0:10:1 mph", "--values", "train.vehicles[1].count=1:4"]
    ran = RUNNER.invoke(
        app, ["batch", "--excursion", SPRING, *values, "--jobs", "1", "--plot", str(tmp_path / "a.svg")]
    )
    assert "grid: 44 rows:" in ran.stdout
    assert "The rows with the least margin:" in ran.stdout
    assert "rows with this margin or less" in (tmp_path / "a.svg").read_text()
    margins = [int(each) for each in re.findall(r"^\d.* ([+-]\d+)%", ran.stdout, re.M)]
    assert margins == sorted(margins)
    assert len(margins) == 10


@pytest.mark.parametrize("moment", ["before the picture", "after the picture"])
def test_a_batch_stopped_after_its_table_goes_on_to_its_other_files(moment, tmp_path, monkeypatch):
    """A stop of either kind leaves the journal with all rows; the repeat computes none of them again."""
    files = [tmp_path / "a.csv", tmp_path / "a.svg"]
    command = ["batch", "--excursion", GARDEN, "--values", "rail=dry,wet"]
    command += ["--output", str(files[0]), "--plot", str(files[1])]
    assert RUNNER.invoke(app, command).exit_code == 0
    unbroken = [file.read_bytes() for file in files]
    for file in files:
        file.unlink()
    with monkeypatch.context() as stopped:
        place, name = (
            (locosim.rendering, "file_content") if moment == "before the picture" else (Journal, "remove")
        )
        stopped.setattr(place, name, _stop)
        assert RUNNER.invoke(app, command).exit_code == 130
    assert files[0].read_bytes() == unbroken[0]
    assert files[1].exists() == (moment == "after the picture")
    monkeypatch.setattr(batch, "check_row", _stop)
    ran = RUNNER.invoke(app, command)
    assert ran.exit_code == 0, ran.output
    assert [file.read_bytes() for file in files] == unbroken
    assert sorted(tmp_path.iterdir()) == files


def test_a_stopped_batch_reads_its_journal_once_before_it_goes_on(tmp_path, monkeypatch):
    command = ["batch", "--excursion", GARDEN, "--values", "rail=dry,wet,frost", "--jobs", "1"]
    command += ["--output", str(tmp_path / "a.csv")]
    assert RUNNER.invoke(app, command).exit_code == 0
    unbroken = (tmp_path / "a.csv").read_bytes()
    (tmp_path / "a.csv").unlink()
    add, lines, done = Journal.add, [], []

    def counted_line(line):
        lines.append(line)
        return json.loads(line)

    def stop_at_the_third(journal, *record):
        if len(journal) == 2:
            _stop()
        add(journal, *record)

    def first_added(journal, *record):
        done.append(len(lines))
        add(journal, *record)

    with monkeypatch.context() as stopped:
        stopped.setattr(Journal, "add", stop_at_the_third)
        assert RUNNER.invoke(app, command).exit_code == 130
    left = (tmp_path / "a.csv.journal").read_bytes().splitlines()
    assert sum(line.startswith(b"[") for line in left) == 2
    monkeypatch.setattr(records, "json", SimpleNamespace(loads=counted_line, dumps=json.dumps))
    monkeypatch.setattr(Journal, "add", first_added)
    assert RUNNER.invoke(app, command).exit_code == 0
    assert done == [len(left)]
    assert (tmp_path / "a.csv").read_bytes() == unbroken


def test_a_batch_with_all_rows_done_overwrites_no_other_file(tmp_path, monkeypatch):
    table, picture = tmp_path / "a.csv", tmp_path / "a.svg"
    command = ["batch", "--excursion", GARDEN, "--output", str(table), "--plot", str(picture)]
    with monkeypatch.context() as stopped:
        stopped.setattr(locosim.rendering, "file_content", _stop)
        RUNNER.invoke(app, command)
    whole = table.read_bytes()
    for file, content in ((table, whole + b" "), (table, whole[:-1]), (picture, b"mine")):
        kept = file.read_bytes() if file.exists() else None
        file.write_bytes(content)
        assert f"{file}: already exists" in str(RUNNER.invoke(app, command).exception)
        assert file.read_bytes() == content
        if kept is not None:
            file.write_bytes(kept)
    assert RUNNER.invoke(app, [*command, "--force"]).exit_code == 0
    assert sorted(tmp_path.iterdir()) == [table, picture]
    assert picture.read_bytes() != b"mine"


def test_a_picture_that_exists_is_found_before_any_row_is_computed(tmp_path, monkeypatch):
    (tmp_path / "a.csv.journal").write_bytes(b"")  # of a batch that has done no row
    (tmp_path / "a.svg").write_bytes(b"mine")
    monkeypatch.setattr(batch, "check_row", _stop)
    command = ["batch", "--excursion", GARDEN, "--output", str(tmp_path / "a.csv")]
    ran = RUNNER.invoke(app, [*command, "--plot", str(tmp_path / "a.svg")])
    assert "a.svg: already exists" in str(ran.exception)


def _stop(*_, **__):
    raise KeyboardInterrupt


def test_all_rows_stop():
    ran = RUNNER.invoke(
        app, ["batch", "--excursion", SPRING, "--change", "rail=frost", "--column", "verdict"]
    )
    assert ran.exit_code == 1
    assert "1 row: 1 stop." in ran.stdout


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((), "no rows; name a CSV or TOML file of rows, or an excursion file with --excursion"),
        ((CASES, "--engine", "a.toml"), "cases.csv gives the rows; leave out --engine"),
        ((CASES, "--column", "tiem"), "'tiem' is not a result; did you mean 'time'"),
        ((CASES, "--jobs", "0"), "jobs must be at least 1, found 0"),
        (("--excursion", SPRING, "--values", "rail=soapy"), "found 'soapy' for rail"),
        (("none.csv",), "none.csv: 1 problem"),
    ],
)
def test_what_cannot_run_is_refused(arguments, message, tmp_path):
    ran = RUNNER.invoke(app, ["batch", *arguments, "--output", str(tmp_path / "out.csv")])
    assert isinstance(ran.exception, ls.LocosimError)
    assert message in str(ran.exception)
    assert os.listdir(tmp_path) == []


def many_rows(tmp_path):
    table = tmp_path / "rows.csv"
    rows = [f"{SPRING},{k % 7 + 1}" for k in range(2000)]
    table.write_text("\n".join(["excursion,train.vehicles[1].count", *rows]) + "\n")
    return [sys.executable, "-m", "locosim", "batch", table, "--output", tmp_path / "out.csv", "--jobs", "2"]


def test_a_terminal_shows_the_progress_and_ctrl_c_stops_cleanly(tmp_path):
    reader, terminal = pty.openpty()
    running = subprocess.Popen(
        many_rows(tmp_path), stdout=subprocess.DEVNULL, stderr=terminal, cwd=ROOT, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a shell in the background ignores it
    )  # fmt: skip
    os.close(terminal)
    shown = b""
    deadline = time.monotonic() + 120
    while shown.count(b" left") < 2 and time.monotonic() < deadline:
        shown += os.read(reader, 1000)
    os.killpg(running.pid, signal.SIGINT)  # as the terminal does, to the workers too
    try:
        while part := os.read(reader, 1000):
            shown += part
    except OSError:  # the terminal is closed
        pass
    assert running.wait(timeout=60) == 130
    text = shown.decode()
    assert re.search(r"\d+ of 2,000 rows \(\d+ %\), (\d+ h )?(\d+ min )?(\d+ s )?left", text)
    stopped = re.search(r"stopped after (\d+) of 2,000 rows; the same command goes on from there", text)
    assert stopped
    assert "Traceback" not in text
    journal = (tmp_path / "out.csv.journal").read_bytes()
    kept = journal.count(b"\n[")
    assert 0 <= kept - int(stopped[1]) <= 1  # a row may be kept and not yet counted when the signal comes
    assert not (tmp_path / "out.csv").exists()
