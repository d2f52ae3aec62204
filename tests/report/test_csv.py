"""The table of a run: headings with units, node rows with the values of their steps."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.report.csv import COLUMNS, run_csv
from locosim.scenario import load_excursion

PATH = Path(__file__).resolve().parents[2] / "scenarios" / "excursions" / "spring_special.toml"


@cache
def journey() -> Journey:
    asked = load_excursion(PATH, ["method=handbook"])
    return run_journey(asked, compute_excursion_performance(asked), transient_boiler=True)


def rows(system: str) -> list[dict[str, str]]:
    lines = [line for line in run_csv(journey(), system).splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def test_every_heading_has_its_unit_in_the_system_asked_for() -> None:
    us, metric = list(rows("us")[0]), list(rows("metric")[0])
    assert {"speed [mph]", "gauge pressure [psi]", "indicated pull [lbf]", "fuel carried [short ton]"} <= set(
        us
    )
    assert {"speed [km/h]", "gauge pressure [bar]", "indicated pull [kN]", "fuel carried [t]"} <= set(metric)
    assert all("[" in head for head in us if head not in ("clock", "limited by"))
    assert len(us) == len(metric) == len(COLUMNS) + 3


def test_a_row_is_a_node_and_the_step_that_begins_there() -> None:
    table, run = rows("metric"), journey()
    assert len(table) == len(run.chainage)
    for i in (0, 1, len(table) // 2, len(table) - 2):
        assert float(table[i]["speed [km/h]"]) == pytest.approx(3.6 * run.speed[i], rel=1e-6, abs=1e-12)
        assert float(table[i]["cutoff [%]"]) == pytest.approx(100 * run.cutoff[i], rel=1e-6)
        assert float(table[i]["indicated pull [kN]"]) == pytest.approx(run.effort[i] / 1000, rel=1e-6)
    assert table[-1]["cutoff [%]"] == ""
    assert table[-1]["limited by"] == ""
    assert table[0]["clock"] == "10:10:00"  # the departure the excursion file gives
    assert float(table[0]["time [s]"]) == 0.0


def test_the_table_names_method_and_caution() -> None:
    head = run_csv(journey(), "us").splitlines()[:3]
    assert "handbook" in head[1]
    assert "certificate" in head[2]


def test_water_leaves_the_tender_as_it_is_drawn() -> None:
    table = rows("metric")
    before, after = (float(table[i]["water carried [m³]"]) for i in (10, 20))
    assert after <= before
