"""Changes: made as if the file had the value, and checked like it."""

from __future__ import annotations

from pathlib import Path

import pytest

from locosim.errors import ScenarioError
from locosim.scenario import load_excursion, load_locomotive

DATA = Path(__file__).parent / "data"
EXCURSION = DATA / "excursions" / "mixed.toml"


def test_changes_are_made():
    excursion = load_excursion(
        EXCURSION,
        [
            "rail=greasy",
            "train.vehicles[1].count=9",
            "route.profile[3].grade=1 in 60",
            "locomotive.boiler.superheater.surface=300 ft^2",
            "locomotive.engine_units[1].cylinders[1].bore = 19 in",
            "crew.habit=steady_steam",
            'weather.temperature="-10 degC"',
            "initial_water=85 %",
        ],
    )
    assert excursion.rail == "greasy"
    assert [vehicle.count for vehicle in excursion.train.vehicles] == [9, 1]
    assert excursion.route.profile[2].grade == pytest.approx(1 / 60)
    assert excursion.locomotive.boiler.superheater.surface == pytest.approx(300 * 0.3048**2)
    assert excursion.locomotive.engine_units[0].cylinders[0].bore == pytest.approx(19 * 0.0254)
    assert excursion.crew.habit == "steady_steam"
    assert excursion.weather.temperature == pytest.approx(263.15)
    assert excursion.weather.headwind == pytest.approx(-2.2352)  # unchanged
    assert excursion.initial_water == 0.85


def test_a_star_changes_every_item_of_a_list():
    excursion = load_excursion(
        EXCURSION, ["train.vehicles[*].count=4", "locomotive.engine_units[*].cylinders[*].bore=19 in"]
    )
    assert [vehicle.count for vehicle in excursion.train.vehicles] == [4, 4]
    bores = [c.bore for unit in excursion.locomotive.engine_units for c in unit.cylinders]
    assert bores == [pytest.approx(19 * 0.0254)] * len(bores)


def test_another_file_can_be_named():
    excursion = load_excursion(EXCURSION, ["locomotive=../engines/mogul_si.toml", "locomotive.mass=70 tonne"])
    assert excursion.locomotive.mass == 70_000


def test_the_last_change_wins():
    assert load_excursion(EXCURSION, ["rail=wet", "rail=dry"]).rail == "dry"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ("rail", "change 'rail': write a change as key=value, for example train.vehicles"),
        ("=wet", "write a change as key=value"),
        ("rail=", "has no value after ="),
        ("rail[1]=wet", "'rail' is not a single value"),
        ("train..count=9", "write a change as key=value"),
        ("rial=wet", "unknown key 'rial' in .*mixed.toml; did you mean 'rail'"),
        ("train.vehicles[1].cuont=9", r"unknown key 'cuont' in vehicles\[1\]; did you mean 'count'"),
        ("train.vehicles[3].count=9", r"'vehicles' has 2 items, found \[3\]"),
        ("train.vehicles[0].count=9", r"'vehicles' has 2 items, found \[0\]"),
        ("helpers[*].place=rear", r"'helpers' has 0 items, found \[\*\]; write helpers\[1\] to add one"),
        ("train.vehicles[*].count=0", r"must be at least 1 and at most 300, found 0 \(by the change"),
        ("train.vehicles.count=9", r"'vehicles' is a list of 2; write which, as vehicles\[1\]"),
        ("train.vehicles[*]=3", "'vehicles' is not a single value"),
        ("train[1].name=x", r"'train' is one table; write it without \[1\]"),
        ("name.first=x", "'name' is a single value and has no keys"),
        ("helpers[1].place=rear", r"helpers\[1\]: needs a locomotive or a diesel"),
        ("helpers[2].place=rear", r"'helpers' has 0 items, found \[2\]; write helpers\[1\] to add one"),
        ("stops=Low", "'stops' is not a single value; change one of the keys in it"),
        ("weather=fine", "'weather' is not a single value"),
        ("train=none.toml", r"train: file 'none\.toml', .*no such file \(by the change 'train=none\.toml'\)"),
        ("train=../engines/mogul.toml", "looks like an engine, but a train is expected here"),
        ("rail=soapy", r"rail: must be one of .*, found 'soapy' \(by the change 'rail=soapy'\)"),
        ("train.vehicles[1].count=nine", r"expected a whole number, found 'nine' \(by the change"),
        ("train.vehicles[1].count=0", r"must be at least 1 and at most 300, found 0 \(by the change"),
        ("locomotive.mass=300", r"mogul\.toml: mass: '300' has a number without a unit; .*\(by the change"),
        ("locomotive.boiler.superheater.surface=-3 ft^2", r"must be above 0 m\^2 .*, found '-3 ft\^2'"),
    ],
)
def test_a_wrong_change_is_reported(change, message):
    with pytest.raises(ScenarioError, match=message):
        load_excursion(EXCURSION, [change])


def test_a_change_adds_a_helper_where_the_file_has_none():
    engine = "helpers[1].locomotive=../engines/mogul.toml"
    excursion = load_excursion(
        EXCURSION,
        [
            engine,
            "helpers[1].place=rear",
            "helpers[2].diesel.name=switcher",
            "helpers[2].diesel.mass=90 t",
            "helpers[2].diesel.length=15 m",
            "helpers[2].diesel.rail_power=800 kW",
            "helpers[2].diesel.starting_tractive_effort=200 kN",
        ],
    )
    assert [helper.place for helper in excursion.helpers] == ["rear", "front"]
    assert excursion.helpers[0].locomotive == excursion.locomotive
    assert excursion.helpers[1].name == "switcher"
    assert engine in excursion.provenance.changes
    with pytest.raises(ScenarioError, match=r"helpers\[1\]\.locomotive: file 'none\.toml'"):
        load_excursion(EXCURSION, ["helpers[1].locomotive=none.toml"])


def test_all_changes_are_checked_at_once():
    with pytest.raises(ScenarioError, match="3 problems") as caught:
        load_excursion(EXCURSION, ["rial=wet", "rail=soapy", "train.vehicles[9].count=2"])
    assert len(caught.value.problems) == 3


def test_files_are_not_changed():
    before = EXCURSION.read_bytes()
    load_excursion(EXCURSION, ["rail=greasy"])
    assert EXCURSION.read_bytes() == before
    assert load_excursion(EXCURSION).rail == "wet"


def test_an_engine_alone_may_be_changed():
    engine = load_locomotive(DATA / "engines" / "mogul.toml", ["boiler.working_pressure_gauge=150 psi"])
    assert engine.boiler.working_pressure_gauge == pytest.approx(150 * 6894.757293168361)


def test_an_example_of_a_change_fits_the_file():
    with pytest.raises(ScenarioError, match=r'for example "boiler\.working_pressure_gauge=180 psi"'):
        load_locomotive(DATA / "engines" / "mogul.toml", ["rail"])
