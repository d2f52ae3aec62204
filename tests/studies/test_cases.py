"""Cases: read as `load_excursion` reads them, and sharing what they have in common."""

from __future__ import annotations

import random
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from locosim.errors import ScenarioError
from locosim.loading import load_excursion
from locosim.studies.cases import Case, CaseReader

ROOT = Path(__file__).parents[2] / "scenarios"
EXCURSIONS = sorted((ROOT / "excursions").glob("*.toml"))
SPRING = str(ROOT / "excursions" / "spring_special.toml")
# Changes of all kinds: keys, tables that the file omits, items of lists, CSV rows, other files, and wrong ones.
CHANGES = (
    "rail=wet", "rail=dry sanded", "method=handbook", "initial_water=85 %", "departure_delay=4 minute",
    "weather.temperature=-5 degC", "weather.headwind=8 m/s", "crew.max_speed=55 km/h", "crew.steam_allowance=0.8",
    "criteria.tight_margin=0.2", "assumptions.air_lag=30 s", "fuel.heating_value=28 MJ/kg",
    "train.vehicles[1].count=3", "train.vehicles[*].count=2", "train.max_coupler_pull=300 kN",
    "train=../trains/heavy_twelve.toml", "train=../trains/wooden_six.toml", "locomotive=../engines/teasel.toml",
    "locomotive=../engines/monkshood.toml", "locomotive.boiler.working_pressure_gauge=12 bar",
    "locomotive.engine_units[*].driver_diameter=1650 mm", "locomotive.engine_units[1].cylinders[*].bore=480 mm",
    "locomotive.test_sheet.use=evaporation", "route=../routes/main_line.toml", "route.speed_limit=60 km/h",
    "route.profile[3].grade=1 in 90", "route.curves[*].radius=400 m", "stops[2].dwell=5 minute",
    "stops[*].dwell=4 minute", "train.vehicles[9].count=3", "rail=soapy", "train=none.toml", "stops[1].station=Nowhere",
    "locomotive.boiler.grate_area=-1 m^2",
)  # fmt: skip


def outcome(read):
    """What reading gives: the excursion with its provenance, or the message."""
    try:
        excursion = read()
    except ScenarioError as wrong:
        return str(wrong)
    return (
        excursion,
        excursion.provenance,
        [part.provenance for part in (excursion.locomotive, excursion.train, excursion.route)],
        excursion.locomotive.anchors,
    )


def test_many_random_cases_are_read_as_load_excursion_reads_them():
    random_numbers, reader = random.Random(11), CaseReader()
    read = wrong = 0
    for _ in range(150):
        file = str(random_numbers.choice(EXCURSIONS))
        changes = tuple(random_numbers.sample(CHANGES, random_numbers.randint(0, 4)))
        found = outcome(lambda f=file, c=changes: reader.excursion(Case(excursion=f, changes=c)))
        assert found == outcome(lambda f=file, c=changes: load_excursion(f, changes=c)), (file, changes)
        read, wrong = read + isinstance(found, tuple), wrong + isinstance(found, str)
    assert read > 40
    assert wrong > 20


def test_cases_share_what_is_the_same():
    reader = CaseReader()
    one = reader.excursion(Case(excursion=SPRING, changes=("rail=wet",)))
    other = reader.excursion(Case(excursion=SPRING, changes=("train.vehicles[1].count=2",)))
    assert other.route is one.route
    assert other.locomotive is one.locomotive
    assert other.train.vehicles[1] is one.train.vehicles[1]
    assert other.stops[2] is one.stops[2]
    assert other.train is not one.train


def test_a_change_of_one_case_is_not_in_the_next():
    reader = CaseReader()
    plain = reader.excursion(Case(excursion=SPRING))
    reader.excursion(
        Case(excursion=SPRING, changes=("route.curves[*].radius=350 m", "crew.max_speed=20 mph"))
    )
    assert reader.excursion(Case(excursion=SPRING)) == plain == load_excursion(SPRING)


def test_other_files_are_named_from_where_the_user_is(monkeypatch):
    monkeypatch.chdir(ROOT / "engines")
    case = Case(
        excursion="../excursions/spring_special.toml",
        engine="teasel.toml",
        train="../trains/heavy_twelve.toml",
        changes=("train.vehicles[1].count=5",),
    )
    excursion = CaseReader().excursion(case)
    plain = load_excursion(case.excursion)
    assert excursion.locomotive.name != plain.locomotive.name
    assert excursion.train.name != plain.train.name
    assert excursion.train.vehicles[0].count == 5
    assert excursion.provenance.changes[0] == "locomotive=../engines/teasel.toml"


def test_problems_of_a_csv_file_are_reported_whole_each_time(tmp_path):
    shutil.copytree(ROOT, tmp_path / "s")
    profile = tmp_path / "s" / "routes" / "quernby_line.csv"
    lines = profile.read_text().splitlines()
    profile.write_text("\n".join([*lines, "far,steep", "further,steeper"]))
    case = Case(excursion=str(tmp_path / "s" / "excursions" / "spring_special.toml"))
    with pytest.raises(ScenarioError) as plain:
        load_excursion(case.excursion)
    reader = CaseReader()
    for _ in range(2):
        with pytest.raises(ScenarioError) as found:
            reader.excursion(case)
        assert str(found.value) == str(plain.value)
    with pytest.raises(ScenarioError, match="far"):
        reader.excursion(replace(case, changes=("route.speed_limit=30 mph",)))
