"""Figures far outside what was built are named, in notes and where an engine cannot be computed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import trials

from locosim.engine.comparison import with_values
from locosim.engine.indicator_diagram import indicator_diagram
from locosim.engine.performance import compute_performance, cycle_layout
from locosim.engine.plausibility import implausible_inputs, naming_implausible_inputs
from locosim.errors import NoSolution, OutOfRange
from locosim.model import Auxiliaries, Locomotive
from locosim.scenario import load_locomotive

ROOT = Path(__file__).resolve().parents[2]
ENGINES = sorted((ROOT / "scenarios" / "engines").glob("*.toml"))
TEASEL = load_locomotive(ROOT / "scenarios" / "engines" / "teasel.toml")
PSI, SQUARE_INCH, SQUARE_FOOT = 6894.757293168, 0.0254**2, 0.3048**2


def changed(path: str, value: Any) -> Locomotive:
    found = with_values(TEASEL, {path: value})
    assert isinstance(found, Locomotive)
    return found


@pytest.mark.parametrize("file", ENGINES, ids=lambda file: file.stem)
def test_ordinary_engines_have_nothing_odd(file: Path) -> None:
    assert implausible_inputs(load_locomotive(file)) == ()


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("steam_passages.nozzle_area", 0.1 * SQUARE_INCH, "steam_passages.nozzle_area / boiler.grate_area"),
        (
            "engine_units[1].valve_gear.port_length",
            0.01,
            r"engine_units\[1\]\.valve_gear\.port_length / bore 0\.0169, usually 0\.4 to 3\.5",
        ),
    ],
)
def test_an_engine_that_does_not_settle_is_told_which_figure_is_odd(
    path: str, value: float, said: str
) -> None:
    with pytest.raises(
        OutOfRange, match=rf"far outside what was built, and likely the cause: {said}"
    ) as fault:
        compute_performance(changed(path, value))
    assert "check clearance" not in str(fault.value)


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("boiler.tube_surface", SQUARE_FOOT, "boiler.tube_surface / boiler.grate_area 0.0194"),
        ("boiler.grate_area", 2 * SQUARE_FOOT, "boiler.firebox_surface / boiler.grate_area 97"),
    ],
)
def test_a_boiler_that_cannot_be_computed_is_told_which_figure_is_odd(
    path: str, value: float, said: str
) -> None:
    with pytest.raises(OutOfRange, match=rf"likely the cause: {said}") as fault:
        compute_performance(changed(path, value))
    assert "formulation" not in str(fault.value)


def test_where_nothing_is_odd_the_general_remedy_stands() -> None:
    with pytest.raises(NoSolution, match=r"^it fails; look there$"), naming_implausible_inputs(TEASEL):
        raise NoSolution("it fails", "look there")


def test_a_point_without_power_names_what_is_odd() -> None:
    narrow = changed("steam_passages.nozzle_area", 0.1 * SQUARE_INCH)
    with pytest.raises(OutOfRange, match=r"likely the cause: steam_passages\.nozzle_area"):
        indicator_diagram(narrow, speed=20.0, cutoff=0.2)


def test_an_engine_with_very_leaky_valves_is_weak_and_noted() -> None:
    leaking = compute_performance(changed("steam_passages.leakage_area_ratio", 0.0099))
    assert any(
        "far outside what was built: steam_passages.leakage_area_ratio 0.0099" in n for n in leaking.notes
    )
    sound = compute_performance(TEASEL)
    pressure = TEASEL.boiler.absolute_pressure
    assert leaking.map.starting_efforts(pressure)[0] < 0.5 * sound.map.starting_efforts(pressure)[0]


@pytest.mark.parametrize("method", ["cycle", "handbook"])
def test_an_odd_figure_that_can_be_computed_is_noted(method: str) -> None:
    notes = compute_performance(changed("boiler.working_pressure_gauge", 15 * PSI), method=method).notes
    assert any(
        "far outside what was built: boiler.working_pressure_gauge 103,421 Pa (15 psi)" in n for n in notes
    )
    assert not any("far outside" in note for note in compute_performance(TEASEL, method=method).notes)


def test_steam_hotter_than_oil_stands_is_noted() -> None:
    hot = cycle_layout(changed("boiler.superheater.surface", 4000 * SQUARE_FOOT))
    assert any("look at boiler.superheater.surface" in note for note in hot.notes)
    assert not any("superheater" in note for note in cycle_layout(TEASEL).notes)


def small(**changes: Any) -> Locomotive:
    """An engine of a tenth of a middling one's boiler and mass."""
    made = trials.locomotive(bore=0.18, stroke=0.25, wheel=0.6, mass_on_drivers=10e3)
    boiler = replace(made.boiler, grate_area=0.3, firebox_surface=1.6, tube_surface=9.0, superheater=None)
    return replace(made, boiler=boiler, mass=10e3, feed_devices=(), **changes)


def test_auxiliaries_that_take_much_of_the_steam_are_noted_with_their_keys() -> None:
    usual = compute_performance(small(), method="handbook").notes
    assert any(
        "[auxiliaries]: air_compressor_steam, dynamo; air_compressor_steam and dynamo by default, as for a"
        in n
        for n in usual
    )
    own = small(auxiliaries=Auxiliaries(air_compressor_count=0, dynamo=0.0, train_heat=0.05))
    notes = compute_performance(own, method="handbook").notes
    assert any(note.endswith("of the sustained evaporation ([auxiliaries]: train_heat)") for note in notes)
    none = small(auxiliaries=Auxiliaries(air_compressor_count=0, dynamo=0.0))
    assert not any("auxiliaries" in note for note in compute_performance(none, method="handbook").notes)


def test_a_light_engine_with_a_large_engines_frontal_area_is_noted() -> None:
    assert any(
        "frontal_area 11.2 m²" in note for note in compute_performance(small(), method="handbook").notes
    )
    for other in (small(frontal_area=5.0), trials.locomotive()):
        assert not any("frontal_area" in note for note in compute_performance(other, method="handbook").notes)
