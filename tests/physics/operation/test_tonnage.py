"""Tonnage ratings against one another."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from locosim.physics.operation import tonnage

POUND_PER_SHORT_TON = 9.80665 / 2000


def test_the_rated_load_uses_the_whole_effort_on_the_ruling_grade() -> None:
    rolling_resistance, grade, effort = 6 * POUND_PER_SHORT_TON, 0.0125, 150e3
    grade_resistance = 9.80665 * grade
    load = tonnage.gross_trailing_load(
        drawbar_pull=effort,
        weather_factor=1.0,
        rolling_resistance=rolling_resistance,
        grade_resistance=grade_resistance,
        curve_resistance=0.0,
    )
    assert tonnage.ruling_grade(
        effort=effort, mass=load, rolling_resistance=rolling_resistance
    ) == pytest.approx(grade)


def test_adhesion_required_is_effort_over_weight_on_drivers() -> None:
    mass, grade, rolling_resistance, mass_on_drivers = 900e3, 0.015, 0.03, 80e3
    effort = mass * (9.80665 * grade + rolling_resistance)
    share = tonnage.adhesion_required_on_grade(
        mass=mass, grade=grade, rolling_resistance=rolling_resistance, mass_on_drivers=mass_on_drivers
    )
    assert share == pytest.approx(effort / (mass_on_drivers * 9.80665))


def test_army_rule_deducts_one_per_cent_of_the_weight() -> None:
    """20 lb per short ton is 1 % of the weight."""
    found = tonnage.army_drawbar_pull(tractive_effort=160e3, locomotive_mass=100e3)
    assert found == pytest.approx(160e3 - 0.01 * 100e3 * 9.80665)


def test_cold_and_curves_reduce_the_load() -> None:
    base = {
        "drawbar_pull": 150e3,
        "weather_factor": 1.0,
        "rolling_resistance": 0.03,
        "grade_resistance": 0.1,
        "curve_resistance": 0.0,
    }
    full = tonnage.gross_trailing_load(**base)
    assert tonnage.gross_trailing_load(**base | {"weather_factor": 0.85}) == pytest.approx(0.85 * full)
    assert tonnage.gross_trailing_load(**base | {"curve_resistance": 0.01}) < full
    assert tonnage.net_train_load(gross_load=full) == pytest.approx(full / 2)


PUBLISHED = Path(__file__).parents[2] / "published"
LONG_TON, POUND, GRAVITY = 2240 * 0.45359237, 0.45359237, 9.80665


def rows_of(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((PUBLISHED / name).read_text(encoding="utf-8"))))


def trailing(pull: float, rolling: float, grade: float) -> float:
    return tonnage.gross_trailing_load(
        drawbar_pull=pull,
        weather_factor=1.0,
        rolling_resistance=rolling,
        grade_resistance=GRAVITY * grade,
        curve_resistance=0.0,
    )


def test_the_train_of_a_published_table_is_found_from_its_resistance_on_each_grade() -> None:
    """[Dingler1917] prints the resistance of one train of 550 t on nine grades at five speeds, to 5 kg.

    Half of the last printed figure in both, the grade and the level, is 0.18 % of the smallest; the one pull that is a
    misprint in the source, 2810 kg on 1 in 500 at 60 km/h, misses by more and is left out.
    """
    rows = rows_of("train_resistance_german_1917.csv")
    level = {row["speed_kmh"]: float(row["W_total_kg"]) for row in rows if row["one_in_n"] == "level"}
    checked = 0
    for row in rows:
        pull = float(row["W_total_kg"])
        if row["one_in_n"] == "level" or pull == 2810.0:
            continue
        rolling = level[row["speed_kmh"]] * GRAVITY / 550e3
        found = trailing(pull * GRAVITY, rolling, 1.0 / float(row["one_in_n"]))
        assert found == pytest.approx(550e3, rel=0.0018), row
        checked += 1
    assert checked == 39


def test_guaranteed_loads_of_1871_follow_from_a_fifth_of_the_weight_on_drivers() -> None:
    """[Baird1871]: 78 loads of 13 road classes; the mass of engine and tender is not printed, so it is fitted by class.

    The rule, a fifth of the weight on drivers and 8 lb per long ton, was inferred from the table itself; the bound of
    2.1 % is what was found when it was read, before this test was written.
    """
    classes: dict[str, list[dict[str, str]]] = {}
    for row in rows_of("guaranteed_loads_baldwin.csv"):
        if row["section"].split()[0] in ("I", "II", "III", "VII", "VIII"):
            classes.setdefault(row["section"].split()[0] + row["class"], []).append(row)
    assert len(classes) == 13
    for name, rows in classes.items():
        pull = float(rows[0]["weight_on_drivers_lb"]) / 5.0 * POUND * GRAVITY
        worst, loads = misfit(rows, pull)
        assert worst <= 0.021 + 0.5 * 5.0 / min(loads), name  # loads are printed to 5 long tons


def misfit(rows: list[dict[str, str]], pull: float) -> tuple[float, list[float]]:
    """Worst miss of the loads of a class with the mass that fits best, over the load, and the loads [long ton]."""
    resistance = 8.0 * POUND * GRAVITY / LONG_TON
    gross = [trailing(pull, resistance, float(row["grade_ft_per_mile"]) / 5280.0) / LONG_TON for row in rows]
    loads = [float(row["load_gross_tons_2240lb_behind_tender"]) for row in rows]
    worst = min(
        max(abs(each - mass / 10.0 - load) / load for each, load in zip(gross, loads, strict=True))
        for mass in range(50, 1001)
    )
    return worst, loads


def test_one_class_of_1871_is_missed_by_the_rule() -> None:
    """[Baird1871]: class 34 E, a freight and pushing engine, does not follow the rule of the road classes.

    A miss, written down as one: no mass of engine and tender brings all six loads nearer than 5.0 %. Should this test
    fail, the miss has become smaller or larger, and docs/references.md must say so.
    """
    rows = [row for row in rows_of("guaranteed_loads_baldwin.csv") if row["class"] == "34 E"]
    worst, _ = misfit(rows, float(rows[0]["weight_on_drivers_lb"]) / 5.0 * POUND * GRAVITY)
    assert len(rows) == 6
    assert round(worst, 3) == 0.050


def test_light_and_loaded_cars_of_the_same_adjusted_tonnage_pull_alike() -> None:
    """What the car factor is for: an empty car of 20 t and 700 N, a loaded one of 80 t and 1,300 N, on 0.8 %."""
    grade = GRAVITY * 0.008
    cars = {"light_mass": 20e3, "light_resistance": 700.0, "loaded_mass": 80e3, "loaded_resistance": 1300.0}
    assert tonnage.resistance_per_added_mass(**cars) == pytest.approx(0.01)  # 600 N for 60 t
    factor = tonnage.car_factor(**cars, grade_resistance=grade)
    per_adjusted = {
        (700.0 + 20e3 * grade) / tonnage.adjusted_tonnage(mass=20e3, cars=1, car_factor=factor),
        (1300.0 + 80e3 * grade) / tonnage.adjusted_tonnage(mass=80e3, cars=1, car_factor=factor),
        (15 * 700.0 + 4 * 1300.0 + 620e3 * grade)
        / tonnage.adjusted_tonnage(mass=620e3, cars=19, car_factor=factor),
    }
    assert max(per_adjusted) == pytest.approx(min(per_adjusted))
