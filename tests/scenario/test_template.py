"""Templates: each loads as written, and with every optional key."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass

import pytest

from locosim.engine.rated_effort import factor_of_adhesion
from locosim.errors import LocosimError, OutputExists
from locosim.model import Leg
from locosim.model.assumptions import Assumptions
from locosim.scenario import load_day, load_excursion, load_locomotive, load_route, load_train
from locosim.scenario.schema import FILE_KINDS, keys_of
from locosim.scenario.template import _TEMPLATE_VALUES, template, write_template

LOADERS = {
    "engine": load_locomotive,
    "train": load_train,
    "route": load_route,
    "excursion": load_excursion,
    "day": load_day,
}

SYSTEMS = ("us", "metric", "british")
METRIC_WORD = re.compile(r"[\d.]+ (m|kg|Pa|N|W|K|s|m/s|km|mm|bar|kN|kW|tonne|L|m\^\d|kg/s|MJ/kg|degC)\b(?!/)")
US_WORD = re.compile(
    r"(?<!1 in )(?<!\d)[\d.]+ (in(?! \d)|ft|mile|lb|lbf|psi|hp|mph|degF|short_ton|us_gallon|Btu)\b"
)


@pytest.fixture
def folder(tmp_path):
    """A folder with one starter file of each kind, and a file of uncertain inputs that the excursion may name."""
    for kind in LOADERS:
        write_template(kind, tmp_path / f"{kind}.toml")
    (tmp_path / "uncertainty.toml").write_text('usual = "yes"\n', encoding="utf-8")
    return tmp_path


def test_every_kind_of_file_has_a_template():
    assert set(LOADERS) == set(FILE_KINDS)


@pytest.mark.parametrize("kind", LOADERS)
def test_a_template_loads(folder, kind):
    assert isinstance(LOADERS[kind](folder / f"{kind}.toml"), FILE_KINDS[kind][0])


def uncommented(folder, kind, system="us"):
    """Load a template with every optional key."""
    text = re.sub(r"(?m)^(# )+(?=\[|\w+ = )", "", template(kind, system))
    # excluded by keys already given, by each other, or not allowed at the first stop
    text = re.sub(r"(?m)^(elevation|nozzle_area|arrive|depart|live_steam_pressure_gauge) = .*\n", "", text)
    text = re.sub(r"(?ms)^\[engine_units(\.cylinders)?\.poppet_gear\]\n.*?(?=^\[)", "", text)
    if kind == "day":  # an amount excludes filling, and an engine takes nothing in before its first leg
        text = re.sub(r"(?m)^(water|fuel) = .*\n", "", text)
    before, helper_active, after = text.partition("[[helpers]]")
    text = before + helper_active + re.sub(r"(?m)^locomotive = .*\n", "", after)
    text = text.replace('resistance_law = "davis_1926_passenger"', 'resistance_law = "custom"')
    path = folder / f"{kind}.toml"
    path.write_text(text, encoding="utf-8")
    return LOADERS[kind](path)


def described(thing):
    """Walk a description and all descriptions in it, the excursions of a day apart: they are in files of their own."""
    if isinstance(thing, tuple):
        for item in thing:
            yield from described(item)
    elif is_dataclass(thing):
        yield thing
        for field in fields(thing):
            if isinstance(thing, Leg) and field.name == "excursion":
                continue
            yield from described(getattr(thing, field.name))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", LOADERS)
def test_a_template_loads_with_every_optional_key(folder, kind, system):
    made = uncommented(folder, kind, system)
    optional = [key.name for key in keys_of(FILE_KINDS[kind][0]).values() if key.model and not key.required]
    assert all(getattr(made, name) not in (None, ()) for name in optional)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", LOADERS)
def test_an_optional_key_shows_its_default(folder, kind, system):
    for thing in described(uncommented(folder, kind, system)):
        for field in fields(thing):
            # Where the default would not fit the other figures, the template has a value of its own.
            own = (type(thing).__name__, 1, field.name) in _TEMPLATE_VALUES
            if isinstance(field.default, int | float) and not own:
                assert getattr(thing, field.name) == pytest.approx(field.default, rel=5e-4), (
                    field.name
                )  # four digits


@pytest.mark.parametrize("kind", LOADERS)
def test_a_template_names_every_key(kind):
    text = template(kind)
    waiting = [FILE_KINDS[kind][0]]
    while waiting:
        for key in keys_of(waiting.pop()).values():
            assert re.search(rf"(?m)^(# )*(\[+([\w.]+\.)?{key.name}\]+|{key.name} = )", text), key.name
            if key.model and key.model is not Assumptions and not key.may_be("file"):
                waiting.append(key.model)


def test_an_existing_file_is_not_changed(tmp_path):
    path = tmp_path / "engine.toml"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(OutputExists, match="already exists; give another name"):
        write_template("engine", path)
    assert path.read_text(encoding="utf-8") == "mine"


def test_an_unknown_kind_is_refused(tmp_path):
    with pytest.raises(
        LocosimError, match="no template for 'wagon'; there are engine, train, route, excursion"
    ):
        write_template("wagon", tmp_path / "wagon.toml")
    assert not list(tmp_path.iterdir())


def test_a_missing_folder_is_reported(tmp_path):
    with pytest.raises(LocosimError, match="cannot be written: no such file or directory"):
        write_template("engine", tmp_path / "none" / "engine.toml")


def test_the_figures_of_a_template_engine_hang_together(folder):
    """Proportions of a saturated ten-wheeler [common practice, from memory]."""
    write_template("engine", folder / "own.toml")
    engine = load_locomotive(folder / "own.toml")
    unit, boiler = engine.engine_units[0], engine.boiler
    assert 4.0 < factor_of_adhesion(engine) < 4.6
    surface = boiler.firebox_surface + boiler.tube_surface
    assert 55.0 < surface / boiler.grate_area < 85.0
    assert 0.05 < boiler.firebox_surface / surface < 0.12
    on_trucks = (engine.mass - unit.mass_on_drivers) / engine.truck_axles
    assert 0.3 < on_trucks / engine.max_axle_load < 0.9
    tender = engine.tender
    loaded = tender.empty_mass + 1000.0 * tender.water_capacity + tender.fuel_capacity
    assert loaded / tender.axles < engine.max_axle_load


@pytest.mark.parametrize("kind", LOADERS)
def test_values_and_ranges_of_a_template_are_in_the_units_asked_for(kind):
    """The words are those of the trade; only times in seconds and published figures in a meaning are alike in both."""

    def found(word, system):
        lines = [line for line in template(kind, system).splitlines() if "applies in 14 s" not in line]
        return [
            line
            for line in lines
            if (hit := word.search(line)) and hit[1] != "s" and "100 ft chord" not in line
        ]

    assert found(METRIC_WORD, "us") == []
    assert found(METRIC_WORD, "british") == []
    assert found(US_WORD, "metric") == []


def test_a_range_in_the_units_of_a_template_is_the_range_of_the_model():
    """By hand: 100,000 Pa is 14.5 psi, 4 MPa 580 psi; a radius of 15.24 m, half a chord of 100 ft, is 180 degrees."""
    assert "above 14.5 psi and below 580 psi" in template("engine")
    assert "above 1 bar and below 40 bar" in template("engine", "metric")
    assert "below 180 deg" in template("engine")


@pytest.mark.parametrize("system", ["us", "british"])
@pytest.mark.parametrize("kind", ["engine", "train", "route", "excursion", "day"])
def test_no_metric_unit_is_left_in_the_template_of_another_system(kind: str, system: str) -> None:
    """Firing rates per grate area and steam rates were in kilograms, meters and joules in every template."""
    metric = re.compile(r"\d (?:kg|g|m|km|N|kN|J|kJ|Pa|bar|W|kW|K|t|tonne)(?:[/^ \".;]|$)", re.MULTILINE)
    assert metric.findall(template(kind, system)) == []


@pytest.mark.parametrize("system", SYSTEMS)
def test_hours_are_written_in_hours(system: str) -> None:
    text = template("day", system)
    assert 'max_time = "12 hour"' in text
    assert "above 0 hour and at most 48 hour" in text
    assert " s;" not in text
    assert ' s"' not in text
