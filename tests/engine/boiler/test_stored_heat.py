"""Heat stored in water and metal, against saturation figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.engine.boiler.by_heat_balance import design_supply
from locosim.engine.boiler.stored_heat import ShortEffort, short_efforts, stored_heat
from locosim.model import Locomotive

PSI, POUND, BTU, KELVIN = 6894.757, 0.45359237, 1055.056, 1.8
# [IF97], saturated water at 180 and 160 psi gauge: enthalpy [Btu/lb] and temperature [degF].
LIQUID_180, LIQUID_160 = 353.13, 343.62
BOILING_180, BOILING_160 = 379.57, 370.64
STEEL = 490.0  # [J/(kg K)], from memory


def engine(metal: float = 20e3) -> Locomotive:
    made = trials.locomotive(pressure=180 * PSI)
    return replace(made, boiler=replace(made.boiler, metal_mass=metal))


def water() -> float:
    """33 kg on each square meter of the trial engine's 15.5 + 141 m²."""
    return 33.0 * 156.5


def deepest(locomotive: Locomotive, **changes: float) -> ShortEffort:
    """The short effort of ten minutes that ends at 160 psi."""
    supply = design_supply(locomotive)
    options = {"duration": 600.0, "min_pressure_share": 160 / 180, **changes}
    return short_efforts(locomotive, supply, **options)[-1]


def atmospheres(gauge_psi: float) -> float:
    return (gauge_psi + 14.696) * PSI


def test_water_and_metal_give_up_their_heat() -> None:
    by_water = water() * (LIQUID_180 - LIQUID_160) * BTU / POUND
    by_metal = 20e3 * STEEL * (BOILING_180 - BOILING_160) / KELVIN
    found = stored_heat(engine(), high=atmospheres(180), low=atmospheres(160))
    assert found == pytest.approx(by_water + by_metal, rel=2e-3)
    assert by_metal == pytest.approx(0.30 * found, rel=0.05)  # neither part is lost beside the other


def test_a_short_effort_is_the_stored_heat_and_the_heat_of_the_feed_put_off() -> None:
    """Feed put off is 7 % of the water; what it saves is its heat from the feed to boiling at the end."""
    locomotive, found = engine(), deepest(engine())
    feed = design_supply(locomotive).feed_enthalpy
    saved = 0.07 * water() * (LIQUID_160 * BTU / POUND - feed)
    heat = stored_heat(locomotive, high=atmospheres(180), low=atmospheres(160)) + saved
    steam_heat = 1198.43 * BTU / POUND - feed  # [IF97], dry steam at 180 psi
    assert found.heat == pytest.approx(heat, rel=2e-3)
    assert found.extra_steam == pytest.approx(heat / 600.0 / steam_heat, rel=3e-3)
    assert found.final_pressure == pytest.approx(atmospheres(160), rel=1e-4)
    assert found.pressure == pytest.approx(atmospheres(170), rel=1e-4)


def test_heavier_metal_gives_more_steam_by_its_own_heat() -> None:
    light, heavy = deepest(engine(10e3)), deepest(engine(30e3))
    more = 20e3 * STEEL * (BOILING_180 - BOILING_160) / KELVIN
    assert heavy.heat - light.heat == pytest.approx(more, rel=2e-3)


def test_without_a_fall_of_pressure_only_the_feed_put_off_makes_steam() -> None:
    first, *_, last = short_efforts(engine(), design_supply(engine()), duration=600.0)
    assert first.final_pressure == pytest.approx(atmospheres(180), rel=1e-4)
    assert first.heat < 0.6 * last.heat
    assert first.deferred_feed == last.deferred_feed == pytest.approx(0.07 * water())


def test_twice_the_time_halves_the_extra_steam() -> None:
    short, long = deepest(engine(), duration=600.0), deepest(engine(), duration=1200.0)
    assert long.extra_steam == pytest.approx(0.5 * short.extra_steam)
