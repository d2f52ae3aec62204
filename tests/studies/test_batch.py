"""Batches: each row as `check` gives it, stopped at any moment and resumed, the same on any workers."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import locosim as ls
from locosim.errors import LocosimError, OutOfRange, OutputExists
from locosim.planning.answer import check_excursion
from locosim.planning.check import run_and_check, worst_finding
from locosim.studies.batch import batch_digest, check_as_alone, run_batch
from locosim.studies.batch_file import read_batch
from locosim.studies.records import Journal, Record

ROOT = Path(__file__).parents[2]
SCENARIOS = ROOT / "scenarios"
SPRING = SCENARIOS / "excursions" / "spring_special.toml"
ROW_COUNT = 40


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    """A table of rows, two of them wrong."""
    file = tmp_path_factory.mktemp("batch") / "rows.csv"
    lines = ["name,excursion,rail,train.vehicles[1].count,weather.headwind [mph]"]
    for k in range(ROW_COUNT):
        rail = "muddy" if k in (3, 21) else ("dry", "wet", "greasy")[k % 3]
        lines.append(f"case {k + 1},{SPRING},{rail},{k % 7 + 1},{k % 5 * 4}")
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def unbroken(table, tmp_path_factory):
    """The table that one process makes without a stop."""
    output = tmp_path_factory.mktemp("unbroken") / "out.csv"
    ls.batch(table, output=output, jobs=1)
    return output.read_bytes()


def command(table, output, *options):
    return [
        sys.executable,
        "-m",
        "locosim",
        "batch",
        table,
        "--output",
        output,
        "--units",
        "metric",
        *options,
    ]


def rows_done(output):
    journal = output.with_name(output.name + ".journal")
    return journal.read_bytes().count(b"\n[") if journal.exists() else 0


def test_a_row_is_what_check_says(table):
    found = ls.batch(table, jobs=1, columns=["verdict", "margin", "rule", "time", "late:Quernby"])
    for number in (0, 1, 2, 5):
        row, values = found.content.rows[number], found.rows[number].values
        answer = check_excursion(
            ls.load_excursion(SPRING, changes=row.changes), contingencies=False, remedies=False
        )
        worst = worst_finding(answer.check)
        assert values[:3] == (answer.verdict, worst.margin, worst.rule)
        if answer.journey.arrived:
            late = answer.journey.stops[-1].arrive - answer.excursion.stops[-1].arrive
            assert values[3:] == (answer.journey.duration, late)
        else:
            assert values[3:] == (None, None)
    assert [number for number, record in enumerate(found.rows) if record.problem] == [3, 21]
    assert "rail: must be one of" in found.rows[3].problem
    assert "\n" not in found.rows[3].problem


@pytest.mark.parametrize(
    "file", sorted((SCENARIOS / "excursions").glob("*.toml")), ids=lambda file: file.stem
)
def test_bands_are_left_out_only_where_they_change_nothing(file):
    excursion = ls.load_excursion(file)
    whole = check_excursion(excursion, contingencies=False, remedies=False).check
    found = check_as_alone(excursion)
    assert found.verdict == whole.verdict
    assert (worst_finding(found).rule, worst_finding(found).margin) == (
        worst_finding(whole).rule,
        worst_finding(whole).margin,
    )


def test_two_processes_write_the_same_bytes(table, unbroken, tmp_path):
    ls.batch(table, output=tmp_path / "out.csv", jobs=2)
    assert (tmp_path / "out.csv").read_bytes() == unbroken
    assert os.listdir(tmp_path) == ["out.csv"]


def test_a_batch_killed_twice_goes_on_to_the_same_bytes(table, unbroken, tmp_path):
    output = tmp_path / "out.csv"
    done = [0]
    for _ in range(2):
        running = subprocess.Popen(
            command(table, output, "--jobs", "1"), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd=ROOT
        )
        deadline = time.monotonic() + 120
        while rows_done(output) < done[-1] + 5 and time.monotonic() < deadline:
            time.sleep(0.01)
        running.kill()
        running.communicate()
        done.append(rows_done(output))
        assert not output.exists()
    assert 0 < done[1] < done[2] < ROW_COUNT
    finished = subprocess.run(command(table, output, "--jobs", "2"), capture_output=True, text=True, cwd=ROOT)
    assert finished.returncode == 0, finished.stderr
    assert finished.stderr == f"wrote {output}\n"  # no progress in a pipe
    assert output.read_bytes() == unbroken
    assert os.listdir(tmp_path) == ["out.csv"]


def test_every_cut_of_a_journal_goes_on_without_a_row_lost_or_doubled(tmp_path):
    path = tmp_path / "j"
    journal = Journal(path, "this batch")
    for number in range(4):
        journal.add(Record((float(number), "é")), None)
    journal.close()
    whole = path.read_bytes()
    for size in range(len(whole) + 1):
        path.write_bytes(whole[:size])
        again = Journal(path, "this batch")
        for number in range(len(again), 4):
            again.add(Record((float(number), "é")), None)
        assert [record.values[0] for record in again] == [0.0, 1.0, 2.0, 3.0]
        again.close()
        assert path.read_bytes() == whole


def test_a_journal_is_of_one_batch_and_one_process(table, tmp_path):
    rows = read_batch(table)
    path = tmp_path / "out.csv.journal"
    journal = Journal(path, batch_digest(rows, ["verdict"]))
    with pytest.raises(LocosimError, match="another batch is writing this journal"):
        ls.batch(table, columns=["verdict"], output=tmp_path / "out.csv", jobs=1)
    journal.add(Record((), "wrong"), None)
    journal.close()
    with pytest.raises(LocosimError, match="other rows, other results or another version"):
        ls.batch(table, columns=["time"], output=tmp_path / "out.csv", jobs=1)
    path.write_text("a letter\n")
    with pytest.raises(LocosimError, match="is no journal of a batch"):
        ls.batch(table, output=tmp_path / "out.csv", jobs=1)


def test_a_file_that_changed_since_is_not_gone_on_with(tmp_path):
    excursion = tmp_path / "e.toml"
    excursion.write_text(SPRING.read_text().replace("../", f"{SCENARIOS}/"))
    table, output = tmp_path / "rows.csv", tmp_path / "out.csv"
    table.write_text("excursion,rail\ne.toml,dry\ne.toml,wet\n")
    rows = read_batch(table)
    journal = Journal(tmp_path / "out.csv.journal", batch_digest(rows, ["verdict"]))
    whole = run_batch(rows, ["verdict"], name="rows", jobs=1)
    journal.sources.restore({})
    journal.add(next(iter(whole.records)), None)
    journal._file.write(b'{"files":{"%s":"0000"}}\n' % str(excursion).encode())
    journal.close()
    with pytest.raises(LocosimError, match="has changed since row 1 was computed from it; add --restart"):
        ls.batch(table, columns=["verdict"], output=output, jobs=1)
    ls.batch(table, columns=["verdict"], output=output, jobs=1, restart=True)
    assert output.exists()


def test_a_table_is_never_overwritten_silently(table, tmp_path):
    output = tmp_path / "out.csv"
    output.write_text("mine")
    with pytest.raises(OutputExists):
        ls.batch(table, output=output)
    assert output.read_text() == "mine"
    with pytest.raises(LocosimError, match=r"must end in .csv, .parquet"):
        ls.batch(table, output=tmp_path / "out.xls")


def test_an_unknown_result_is_refused_before_anything_runs(table, tmp_path):
    with pytest.raises(OutOfRange, match="did you mean 'time'"):
        ls.batch(table, columns=["tiem"], output=tmp_path / "out.csv")
    assert os.listdir(tmp_path) == []


def test_the_result_is_a_table(table):
    found = ls.batch(table, jobs=1, changes=["crew.max_speed=50 km/h"])
    rows = found.to_rows("us")
    assert len(found) == len(rows) == ROW_COUNT
    assert list(rows[0])[:3] == ["row", "name", "excursion"]
    assert {"time [s]", "margin [%]", "water [US gal]", "fuel [lb]", "problem"} <= set(rows[0])
    assert rows[3]["verdict"] is None
    plain = run_and_check(
        ls.load_excursion(SPRING, changes=["crew.max_speed=50 km/h", *found.content.rows[0].changes])
    )
    assert rows[0]["time [s]"] == plain.journey.duration
    assert "2 not checked" in found.text()
    assert found.made_from.route == "Quernby line, Ambersyke to Quernby"
    assert '"row": 40' in found.json()


def test_parquet_has_the_same_values(table, tmp_path):
    pq = pytest.importorskip("pyarrow.parquet")
    found = ls.batch(table, jobs=1, output=tmp_path / "out.parquet", units="us")
    assert pq.read_table(tmp_path / "out.parquet").to_pylist() == found.to_rows("us")


def test_an_input_is_not_overwritten(tmp_path):
    table = tmp_path / "rows.csv"
    table.write_text(f"excursion\n{SPRING}\n")
    with pytest.raises(LocosimError, match="is a file that this command reads"):
        ls.batch(table, output=table, jobs=1, overwrite=True)
    assert os.listdir(tmp_path) == ["rows.csv"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full device")
def test_a_full_disk_is_told(tmp_path):
    journal = Journal(tmp_path / "j", "this batch")
    file, journal._file = journal._file, open("/dev/full", "wb", buffering=0)  # noqa: SIM115
    with pytest.raises(
        LocosimError, match=r"j: cannot be written: no space left on device; the same command goes on"
    ):
        journal.add(Record((1.0,)), None)
    journal.close()
    file.close()
    again = Journal(tmp_path / "j", "this batch")
    assert len(again) == 0
    again.close()
    with pytest.raises(LocosimError, match="is no regular file"):
        Journal(Path("/dev/full"), "this batch")
