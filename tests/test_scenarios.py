"""The invented railway: its files load, its elevations add up, and its excursions give the verdict they state."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from locosim import units
from locosim.constants import FOOT, INCH
from locosim.model import Route
from locosim.planning.check import Check, run_and_check
from locosim.planning.day import check_day
from locosim.scenario import load_day, load_excursion, load_locomotive, load_route, load_train
from locosim.studies.uncertain_inputs import uncertain_inputs

ROOT = Path(__file__).parents[1]
SCENARIOS = ROOT / "scenarios"
ENGINES = sorted(SCENARIOS.glob("engines/*.toml"))
TRAINS = sorted(SCENARIOS.glob("trains/*.toml"))
ROUTES = sorted(SCENARIOS.glob("routes/*.toml"))
EXCURSIONS = sorted(SCENARIOS.glob("excursions/*.toml"))
UNCERTAINTIES = sorted(SCENARIOS.glob("uncertainty/*.toml"))
DAYS = sorted(SCENARIOS.glob("days/*.toml"))
READERS = {
    "engines": load_locomotive,
    "trains": load_train,
    "routes": load_route,
    "excursions": load_excursion,
    "days": load_day,
}

# Verdict each excursion shows, and the rules that may cause it.
EXPECTED = {
    "spring_special": ("clear", ()),
    "summit_express": ("tight", ("adhesion",)),
    "harvest_excursion": ("stop", ("stall", "climb")),
    "winter_freight": ("stop", ("water", "end of run")),
}
# The same for each day: its verdict, those of its legs, and the rules of the day that stop it.
EXPECTED_OF_DAYS = {
    "spring_there_and_back": ("tight", ("clear", "tight"), ()),
    "summit_express_home": ("stop", ("tight", "tight"), ("turning", "crew hours")),
}


@lru_cache(maxsize=8)
def checked(path: Path) -> Check:
    """Check an excursion once for all tests."""
    return run_and_check(load_excursion(path))


def first_line(path: Path) -> str:
    return path.read_text(encoding="utf-8").splitlines()[0]


def test_there_are_three_engines_three_trains_two_lines_four_excursions_and_two_days() -> None:
    assert [len(files) for files in (ENGINES, TRAINS, ROUTES, EXCURSIONS, DAYS)] == [3, 3, 2, 4, 2]
    assert {path.stem for path in EXCURSIONS} == set(EXPECTED)
    assert {path.stem for path in DAYS} == set(EXPECTED_OF_DAYS)


@pytest.mark.parametrize(
    "path",
    [*ENGINES, *TRAINS, *ROUTES, *EXCURSIONS, *DAYS],
    ids=lambda path: f"{path.parent.name}/{path.stem}",
)
def test_a_file_loads_and_begins_with_a_description(path: Path) -> None:
    assert READERS[path.parent.name](path).name
    assert re.match(r"# .*\.$", first_line(path))


@pytest.mark.parametrize("path", UNCERTAINTIES, ids=lambda path: path.stem)
def test_uncertain_inputs_load_beside_an_excursion_and_begin_with_a_description(path: Path) -> None:
    change = f"uncertainty=../uncertainty/{path.name}"
    excursion = load_excursion(SCENARIOS / "excursions" / "spring_special.toml", [change])
    labels = {each.label for each in uncertain_inputs(excursion).inputs}
    assert {each.label for each in excursion.uncertainty.inputs} <= labels
    assert all(each.source == "invented" for each in excursion.uncertainty.inputs)
    assert re.match(r"# .*\.$", first_line(path))


def test_names_are_unique() -> None:
    for files in (ENGINES, TRAINS, ROUTES, EXCURSIONS, DAYS):
        names = [READERS[path.parent.name](path).name for path in files]
        assert len(set(names)) == len(names)
    stations = [station.name for path in ROUTES for station in load_route(path).stations]
    assert len(set(stations)) == len(stations)


# Engines


def published_sizes() -> dict[str, tuple[float, float, float]]:
    """Bore, stroke and driver diameter of every published engine in the tests [in]."""
    sizes: dict[str, tuple[float, float, float]] = {}
    for path in sorted((ROOT / "tests" / "published").glob("*.toml")):
        for number, value in enumerate(tomllib.loads(path.read_text(encoding="utf-8")).get("value", ())):
            given: dict[str, Any] = value.get("given", {})
            keys = ("bore", "stroke", "driver_diameter")
            if all(isinstance(given.get(key), str) for key in keys):
                bore, stroke, wheel = (units.si(given[key], "m") / INCH for key in keys)
                sizes[f"{path.stem} {number}"] = (bore, stroke, wheel)
    return sizes


def test_published_engines_are_found_to_compare_with() -> None:
    assert len(published_sizes()) > 10


@pytest.mark.parametrize("path", ENGINES, ids=lambda path: path.stem)
def test_no_engine_has_the_cylinders_and_wheels_of_a_published_one(path: Path) -> None:
    for unit in load_locomotive(path).engine_units:
        own = (
            unit.cylinders[0].bore / INCH,
            unit.cylinders[0].stroke / INCH,
            unit.driver_diameter / INCH,
        )
        alike = [
            name
            for name, size in published_sizes().items()
            if all(abs(a - b) < 0.005 * b for a, b in zip(own, size, strict=True))
        ]
        assert alike == []


@pytest.mark.parametrize("path", ENGINES, ids=lambda path: path.stem)
def test_an_engine_is_complete_and_in_proportion(path: Path) -> None:
    engine = load_locomotive(path)
    boiler = engine.boiler
    assert boiler.shell_inside_diameter is not None
    assert boiler.water_space_length is not None
    assert boiler.crown_sheet_height is not None
    assert boiler.crown_sheet_length is not None
    assert boiler.tube_length is not None
    assert boiler.metal_mass is not None
    assert engine.min_curve_radius is not None
    # The crown sheet lies in the upper half of the shell, with room for water and steam above it.
    assert 0.6 < boiler.crown_sheet_height / boiler.shell_inside_diameter < 0.75
    assert boiler.crown_sheet_length + boiler.tube_length <= boiler.water_space_length + 0.01
    assert len(engine.feed_devices) == 2
    assert all(unit.valve_gear is not None and unit.valve_gear.port_width for unit in engine.engine_units)
    # No axle of engine or loaded tender is loaded far above or below the others.
    tender = engine.tender
    loaded = tender.empty_mass + 1000 * tender.water_capacity + tender.fuel_capacity
    assert loaded / tender.axles < 1.1 * engine.max_axle_load
    assert 0.25 < (engine.mass - engine.mass_on_drivers) / engine.truck_axles / engine.max_axle_load < 1.0


@pytest.mark.parametrize("path", ENGINES, ids=lambda path: path.stem)
def test_the_factor_of_adhesion_is_usual(path: Path) -> None:
    """Factor of adhesion 4.0 to 4.5 [common practice, from memory]."""
    engine = load_locomotive(path)
    rated_effort = sum(
        0.85
        * engine.boiler.working_pressure_gauge
        * c.number
        / 2
        * c.bore**2
        * c.stroke
        / unit.driver_diameter
        for unit in engine.engine_units
        for c in unit.cylinders
    )
    assert 4.0 <= engine.mass_on_drivers * 9.80665 / rated_effort <= 4.5


def test_there_is_a_small_a_large_and_an_articulated_engine() -> None:
    kinds = {path.stem: load_locomotive(path) for path in ENGINES}
    articulated = [name for name, engine in kinds.items() if len(engine.engine_units) == 2]
    assert articulated == ["monkshood"]
    assert all(c.number == 2 for e in kinds.values() for unit in e.engine_units for c in unit.cylinders)
    assert kinds["campion"].mass < kinds["teasel"].mass < kinds["monkshood"].mass


# Lines


def elevations(line: Route) -> dict[float, float]:
    """Elevation above the first point, summed from the grades [m]."""
    total, found = 0.0, {line.start: 0.0}
    for start, end, grade in line.grade_segments():
        total += grade * (end - start)
        found[end] = total
    return found


def elevation_at(line: Route, chainage: float) -> float:
    """Elevation above the first point [m]."""
    for start, end, grade in line.grade_segments():
        if start <= chainage <= end:
            return elevations(line)[start] + grade * (chainage - start)
    raise AssertionError(chainage)


def surveyed() -> dict[str, tuple[float, float]]:
    """Chainage and elevation of the stations in docs/larkspur.md [m]."""
    text = (ROOT / "docs" / "larkspur.md").read_text(encoding="utf-8")
    rows = re.findall(
        r"^\| ([A-Z][\w ]+) \| ([\d.]+ (?:km|mile)[^|]*) \| ([\d,.]+) (m|ft) \|", text, re.MULTILINE
    )
    return {
        name: (units.si(at, "m"), float(height.replace(",", "")) * (FOOT if unit == "ft" else 1.0))
        for name, at, height, unit in rows
    }


@pytest.mark.parametrize("path", ROUTES, ids=lambda path: path.stem)
def test_grades_sum_to_the_surveyed_elevations(path: Path) -> None:
    """Elevations in docs/larkspur.md are rounded to the foot or the decimeter; the sums agree within a foot."""
    line = load_route(path)
    marks = surveyed()
    first, *rest = line.stations
    assert marks[first.name][0] == pytest.approx(first.chainage)
    for station in rest:
        assert marks[station.name][0] == pytest.approx(station.chainage)
        rise = elevation_at(line, station.chainage) - elevation_at(line, first.chainage)
        assert rise == pytest.approx(marks[station.name][1] - marks[first.name][1], abs=0.31)


@pytest.mark.parametrize("path", ROUTES, ids=lambda path: path.stem)
def test_a_profile_has_no_gaps_and_some_hundred_points(path: Path) -> None:
    line = load_route(path)
    assert 40_000 <= line.end - line.start <= 120_000
    assert 200 <= len(line.profile) <= 800
    gaps = [b.chainage - a.chainage for a, b in pairwise(line.profile)]
    assert min(gaps) >= 50
    assert max(gaps) <= 2500


@pytest.mark.parametrize(
    ("name", "ruling", "fall"), [("main_line", 0.020, -0.018), ("quernby_line", 0.0125, -0.0145)]
)
def test_a_line_has_its_ruling_grade_a_summit_with_a_descent_and_sags(
    name: str, ruling: float, fall: float
) -> None:
    line = load_route(SCENARIOS / "routes" / f"{name}.toml")
    grades = [grade for _, _, grade in line.grade_segments()]
    assert max(grades) == pytest.approx(ruling, abs=4e-5)
    assert min(grades) == pytest.approx(fall, abs=4e-5)
    high = elevations(line)
    summit = max(high, key=high.__getitem__)
    # Near the summit the grade on both sides is that of a mountain line.
    before = [g for a, b, g in line.grade_segments() if summit - 1500 < a and b <= summit]
    beyond = [g for a, b, g in line.grade_segments() if summit <= a and b < summit + 1500]
    assert max(before) > 0.8 * ruling
    assert min(beyond) < 0.8 * fall
    climb = [g for a, b, g in line.grade_segments() if b <= summit]
    assert sum(g < 0 for g in climb) >= 5


@pytest.mark.parametrize("path", ROUTES, ids=lambda path: path.stem)
def test_zones_lie_on_the_line_and_curves_do_not_touch(path: Path) -> None:
    line = load_route(path)
    for stretch in (*line.curves, *line.speed_limits, *line.tunnels, *line.rail_condition_zones):
        assert line.start <= stretch.start < stretch.end <= line.end
    assert all(a.end < b.start for a, b in pairwise(line.curves))
    assert line.tunnels
    assert line.rail_condition_zones
    assert line.axle_load_limit
    assert any(station.water_rate for station in line.stations)
    assert any(station.fuel_rate for station in line.stations)


def test_the_main_line_is_compensated_on_the_ruling_grade() -> None:
    """0.04 % off the ruling 2 % for each degree of curve, the American rule of thumb [from memory]."""
    line = load_route(SCENARIOS / "routes" / "main_line.toml")
    start, end = units.si("25 mile", "m"), units.si("31 mile 60 chain", "m")
    curved = [c for c in line.curves if start < c.start and c.end < end]
    assert len(curved) > 15
    for curve in curved:
        degree = 100 * FOOT / 2 / curve.radius  # half-chord over radius
        degree = 2 * 57.29578 * (degree + degree**3 / 6)
        grade = next(g for a, b, g in line.grade_segments() if a < curve.start and curve.end < b)
        assert grade == pytest.approx(0.02 - 0.0004 * degree, abs=6e-5)


def test_one_line_is_by_grade_and_the_other_by_elevation() -> None:
    by_grade = load_route(SCENARIOS / "routes" / "main_line.toml")
    by_height = load_route(SCENARIOS / "routes" / "quernby_line.toml")
    assert all(point.elevation is None for point in by_grade.profile)
    assert all(point.grade is None for point in by_height.profile)


# Excursions


@pytest.mark.parametrize("path", EXCURSIONS, ids=lambda path: path.stem)
def test_an_excursion_gives_the_verdict_it_states(path: Path) -> None:
    verdict, rules = EXPECTED[path.stem]
    found = checked(path)
    assert found.verdict == verdict
    assert verdict in first_line(path)
    worst = {finding.rule for finding in found.findings if finding.verdict == verdict}
    if rules:
        assert worst & set(rules), f"{verdict} because of {worst}"
        assert found.findings[0].rule in rules


@pytest.mark.parametrize("path", EXCURSIONS, ids=lambda path: path.stem)
def test_engine_and_train_suit_the_line(path: Path) -> None:
    """Whatever an excursion shows, engine and train fit the line, can start, and can stop."""
    static = {
        "axle load",
        "curve",
        "start",
        "driving-wheel speed",
        "piston speed",
        "descending grade",
        "stopping distance",
        "data range",
    }
    known = {finding.rule for run in EXCURSIONS for finding in checked(run).findings}
    assert static - known <= {"data range"}, "no rule has this name"
    wrong = [f for f in checked(path).findings if f.rule in static and f.verdict != "clear"]
    assert [(f.rule, f.place, f.margin) for f in wrong] == []


def test_every_engine_train_and_line_has_an_excursion() -> None:
    runs = [tomllib.loads(path.read_text(encoding="utf-8")) for path in EXCURSIONS]
    for key, files in (("locomotive", ENGINES), ("train", TRAINS), ("route", ROUTES)):
        assert {Path(run[key]).stem for run in runs} == {path.stem for path in files}


# Days


@pytest.mark.parametrize("path", DAYS, ids=lambda path: path.stem)
def test_a_day_has_the_verdict_it_shows(path: Path) -> None:
    answer = check_day(load_day(path))
    stops = tuple(finding.rule for finding in answer.findings if finding.verdict == "stop")
    assert (answer.verdict, tuple(leg.verdict for leg in answer.legs), stops) == EXPECTED_OF_DAYS[path.stem]
    words = {"clear": "is clear", "tight": "is tight", "stop": "stops"}
    assert words[answer.verdict] in first_line(path)
