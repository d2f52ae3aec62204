"""A batch on a real Dask scheduler and two worker processes, one of which is killed in the middle."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import locosim as ls
from locosim.errors import LocosimError

pytest.importorskip("distributed")

ROOT = Path(__file__).parents[2]
SPRING = ROOT / "scenarios" / "excursions" / "spring_special.toml"
ROW_COUNT = 100
PATIENCE = 120.0  # [s]


def started(module, folder, *options):
    return subprocess.Popen(
        [
            sys.executable,
            "-m",
            f"distributed.cli.{module}",
            "--scheduler-file",
            folder / "scheduler.json",
            *options,
        ],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "default"},
    )


@pytest.fixture
def cluster(tmp_path):
    """Address of a scheduler, and its two workers."""
    processes = [started("dask_scheduler", tmp_path, "--port", "0", "--host", "127.0.0.1", "--no-dashboard")]
    options = ("--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", tmp_path)
    try:
        processes += [started("dask_worker", tmp_path, *options) for _ in range(2)]
        deadline = time.monotonic() + PATIENCE
        while not (tmp_path / "scheduler.json").exists() and time.monotonic() < deadline:
            time.sleep(0.05)
        yield json.loads((tmp_path / "scheduler.json").read_text())["address"], processes[1:]
    finally:
        for process in processes:
            process.kill()
        for process in processes:
            process.wait()


def test_a_cluster_that_loses_a_worker_writes_the_same_bytes(cluster, tmp_path):
    address, workers = cluster
    table = tmp_path / "rows.csv"
    lines = ["excursion,rail,train.vehicles[1].count,weather.headwind [mph]"]
    for k in range(ROW_COUNT):
        rail = "muddy" if k % 50 == 7 else ("dry", "wet", "greasy")[k % 3]
        lines.append(f"{SPRING},{rail},{k % 7 + 1},{k % 5 * 4}")
    table.write_text("\n".join(lines) + "\n", encoding="utf-8")
    command = [sys.executable, "-m", "locosim", "batch", table, "--units", "metric"]
    output = tmp_path / "cluster.csv"
    running = subprocess.Popen(
        [*command, "--output", output, "--cluster", address],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    journal = tmp_path / "cluster.csv.journal"
    deadline = time.monotonic() + PATIENCE
    while not (journal.exists() and b"\n[" in journal.read_bytes()) and time.monotonic() < deadline:
        assert running.poll() is None, running.communicate()[1]
        time.sleep(0.02)
    workers[0].kill()
    assert running.poll() is None  # it was killed in the middle
    errors = running.communicate(timeout=PATIENCE)[1]
    assert running.returncode == 0, errors
    assert errors == f"wrote {output}\n".encode()
    ls.batch(table, output=tmp_path / "here.csv", jobs=1)
    assert output.read_bytes() == (tmp_path / "here.csv").read_bytes()


def test_an_address_without_a_scheduler_is_told(monkeypatch, tmp_path):
    monkeypatch.setattr("locosim.studies.cluster.PATIENCE", 0.5)
    table = tmp_path / "rows.csv"
    table.write_text(f"excursion\n{SPRING}\n")
    with pytest.raises(
        LocosimError, match=r"tcp://127.0.0.1:9: no Dask scheduler with a worker answers there"
    ):
        ls.batch(table, cluster="tcp://127.0.0.1:9")
