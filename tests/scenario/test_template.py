"""Starter files: each loads as written, and with every optional key."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass

import pytest

from locosim.engine.rated_effort import factor_of_adhesion
from locosim.errors import LocosimError, OutputExists
from locosim.model.assumptions import Assumptions
from locosim.scenario import load_excursion, load_locomotive, load_route, load_train
from locosim.scenario.schema import FILE_KINDS, keys_of
from locosim.scenario.template import _TEMPLATE_VALUES, template, write_template

LOADERS = {
    "engine": load_locomotive,
    "train": load_train,
    "route": load_route,
    "excursion": load_excursion,
}


@pytest.fixture
def folder(tmp_path):
    """A folder with one starter file of each kind."""
    for kind in LOADERS:
        write_template(kind, tmp_path / f"{kind}.toml")
    return tmp_path


def test_every_kind_of_file_has_a_starter():
    assert set(LOADERS) == set(FILE_KINDS)


@pytest.mark.parametrize("kind", LOADERS)
def test_a_starter_loads(folder, kind):
    assert isinstance(LOADERS[kind](folder / f"{kind}.toml"), FILE_KINDS[kind][0])


def uncommented(folder, kind):
    """Load a starter file with every optional key."""
    text = re.sub(r"(?m)^(# )+(?=\[|\w+ = )", "", template(kind))
    # excluded by keys already given, by each other, or not allowed at the first stop
    text = re.sub(r"(?m)^(elevation|nozzle_area|arrive|depart|live_steam_pressure_gauge) = .*\n", "", text)
    text = re.sub(r"(?ms)^\[engine_units(\.cylinders)?\.poppet_gear\]\n.*?(?=^\[)", "", text)
    before, helper_active, after = text.partition("[[helpers]]")
    text = before + helper_active + re.sub(r"(?m)^locomotive = .*\n", "", after)
    text = text.replace('resistance_law = "davis_1926_passenger"', 'resistance_law = "custom"')
    path = folder / f"{kind}.toml"
    path.write_text(text, encoding="utf-8")
    return LOADERS[kind](path)


def described(thing):
    """Walk a description and all descriptions in it."""
    if isinstance(thing, tuple):
        for item in thing:
            yield from described(item)
    elif is_dataclass(thing):
        yield thing
        for field in fields(thing):
            yield from described(getattr(thing, field.name))


@pytest.mark.parametrize("kind", LOADERS)
def test_a_starter_loads_with_every_optional_key(folder, kind):
    made = uncommented(folder, kind)
    optional = [key.name for key in keys_of(FILE_KINDS[kind][0]).values() if key.model and not key.required]
    assert all(getattr(made, name) not in (None, ()) for name in optional)


@pytest.mark.parametrize("kind", LOADERS)
def test_an_optional_key_shows_its_default(folder, kind):
    for thing in described(uncommented(folder, kind)):
        for field in fields(thing):
            # Where the default would not fit the other figures, the starter has a value of its own.
            own = (type(thing).__name__, 1, field.name) in _TEMPLATE_VALUES
            if isinstance(field.default, int | float) and not own:
                assert getattr(thing, field.name) == pytest.approx(field.default, rel=1e-6), field.name


@pytest.mark.parametrize("kind", LOADERS)
def test_a_starter_names_every_key(kind):
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
        LocosimError, match="no starter file for 'wagon'; there are engine, train, route, excursion"
    ):
        write_template("wagon", tmp_path / "wagon.toml")
    assert not list(tmp_path.iterdir())


def test_a_missing_folder_is_reported(tmp_path):
    with pytest.raises(LocosimError, match="cannot be written: no such file or directory"):
        write_template("engine", tmp_path / "none" / "engine.toml")


def test_the_figures_of_a_starter_engine_hang_together(folder):
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
