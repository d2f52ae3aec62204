"""The table of a run: headings with units, node rows with the values of their steps, and what it was made from."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from locosim import __version__
from locosim.engine.performance import compute_excursion_performance
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.report.csv import COLUMNS, run_csv
from locosim.scenario import load_excursion
from locosim.units import unit_system

PATH = Path(__file__).resolve().parents[2] / "scenarios" / "excursions" / "spring_special.toml"


@cache
def journey() -> Journey:
    excursion = load_excursion(PATH, ["method=handbook"])
    return run_journey(excursion, compute_excursion_performance(excursion), transient_boiler=True)


def rows(system: str) -> list[dict[str, str]]:
    with unit_system(system):
        return list(csv.DictReader(run_csv(journey()).splitlines()))


def test_every_heading_has_its_unit_in_the_system_asked_for() -> None:
    us, metric = list(rows("us")[0]), list(rows("metric")[0])
    quantities = ("speed", "gauge pressure", "indicated tractive effort", "fuel carried")
    for headings, found in ((us, ("mph", "psi", "lbf", "short ton")), (metric, ("km/h", "bar", "kN", "t"))):
        assert {f"{name} [{unit}]" for name, unit in zip(quantities, found, strict=True)} <= set(headings)
    assert sum("[" in heading for heading in us) == len(COLUMNS) + 1
    assert len(us) == len(metric)


def test_a_row_is_a_node_and_the_step_that_begins_there() -> None:
    table, run = rows("metric"), journey()
    assert len(table) == len(run.chainage)
    for i in (0, 1, len(table) // 2, len(table) - 2):
        assert float(table[i]["speed [km/h]"]) == pytest.approx(3.6 * run.speed[i], rel=1e-6, abs=1e-12)
        assert float(table[i]["cutoff [%]"]) == pytest.approx(100 * run.cutoff[i], rel=1e-6)
        effort = float(table[i]["indicated tractive effort [kN]"])
        assert effort == pytest.approx(run.effort[i] / 1000, rel=1e-6)
    assert table[-1]["cutoff [%]"] == ""
    assert table[-1]["limited by"] == ""
    assert table[0]["clock"] == "10:10:00"  # the departure in the excursion file
    assert float(table[0]["time [s]"]) == 0.0


def test_the_table_is_plain_csv_that_names_what_it_was_made_from_in_its_first_row() -> None:
    first, second = rows("us")[:2]
    assert first["locosim"] == __version__
    assert first["locomotives"] == "No. 14 Campion, 4-6-0"
    assert first["train"] == "Wooden six"
    assert first["route"] == "Quernby line, Ambersyke to Quernby"
    assert first["method"].startswith("handbook")
    assert "certificate" in first["caution"]
    assert {second[name] for name in ("locosim", "train", "caution")} == {""}
    assert not run_csv(journey()).startswith("#")


def test_water_leaves_the_tender_as_it_is_drawn() -> None:
    table = rows("metric")
    before, after = (float(table[i]["water carried [m³]"]) for i in (10, 20))
    assert after <= before
