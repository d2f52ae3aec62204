"""The heat balance: its sum, its trends, and its gas passages against a general solver."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from boilers import EXPRESS, SATURATED, SQUARE_FOOT
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from locosim.constants import BTU_PER_POUND, POUND_PER_SQUARE_FOOT_HOUR
from locosim.errors import NoSolution, OutOfRange
from locosim.physics.boiler import fuels, gas_passages
from locosim.physics.boiler import heat_balance as boiler_heat
from locosim.physics.boiler.barrel import barrel_by_surfaces
from locosim.physics.boiler.heat_balance import heat_balance
from locosim.physics.steam import properties as steam

FUELS = list(fuels.FUELS.values())
EXPRESS_TUBES, EXPRESS_SUPERHEATER = 3340 * SQUARE_FOOT, 835 * SQUARE_FOOT


def express_barrel(*, tubes=1.0, superheater=1.0):
    """The tubes of the express engine with its surfaces times these factors; its superheater is a quarter of them."""
    return barrel_by_surfaces(
        tube_surface=tubes * EXPRESS_TUBES, superheater_surface=superheater * EXPRESS_SUPERHEATER
    )


def rates(boiler, low=20.0, high=150.0, number=14):
    return np.linspace(low, high, number) * POUND_PER_SQUARE_FOOT_HOUR * boiler["grate_area"]


@settings(max_examples=40, deadline=None)
@given(
    grate=st.floats(0.5, 14.0),
    firebox=st.floats(3.0, 8.0),
    tubes=st.floats(30.0, 80.0),
    superheater=st.sampled_from([0.0, 0.1, 0.3, 0.5]),
    bar=st.floats(6.0, 21.0),
    feed=st.floats(280.0, 375.0),
    fuel=st.sampled_from(FUELS),
)
def test_the_heat_balance_closes(grate, firebox, tubes, superheater, bar, feed, fuel):
    found = heat_balance(
        firing_rate=np.linspace(0.03, 0.25, 7) * grate,
        grate_area=grate,
        firebox_surface=firebox * grate,
        barrel=barrel_by_surfaces(
            tube_surface=tubes * grate, superheater_surface=superheater * tubes * grate
        ),
        pressure=bar * 1e5,
        feed_temperature=feed,
        fuel=fuel,
        radiation_loss=5e3 * grate,
    )
    taken = found.firebox + found.tubes + found.superheater - found.radiation_loss
    assert found.heat_to_steam == pytest.approx(taken, rel=1e-9)
    assert np.max(np.abs(found.residual)) < 1e-9
    for name in ("unburned", "firebox", "tubes", "stack", "vapor", "steam_rate"):
        assert np.all(getattr(found, name) > 0.0)
    assert np.all(found.flame_temperature > found.firebox_exit_temperature)
    assert np.all(found.firebox_exit_temperature > found.smokebox_temperature)
    assert np.all(found.smokebox_temperature > steam.saturation_temperature(pressure=bar * 1e5))


@pytest.mark.parametrize("fuel", FUELS, ids=lambda fuel: fuel.name)
def test_array_equals_elements(fuel):
    firing = rates(EXPRESS)
    whole = heat_balance(firing_rate=firing, **EXPRESS, fuel=fuel)
    for i in (0, 5, 13):
        one = heat_balance(firing_rate=firing[i : i + 1], **EXPRESS, fuel=fuel)
        assert float(one.steam_rate[0]) == pytest.approx(whole.steam_rate[i], rel=1e-10)
        assert float(one.steam_temperature[0]) == pytest.approx(whole.steam_temperature[i], abs=1e-6)


def test_firebox_heat_is_the_heat_lost_by_the_gas():
    # radiation is solved for, the heat of the gas is computed separately, so this can fail
    found = heat_balance(firing_rate=rates(SATURATED), **SATURATED, fuel=fuels.BITUMINOUS)
    released = found.heat_fired - found.unburned - found.vapor
    assert found.firebox + found.tubes + found.stack == pytest.approx(released, rel=1e-10)


@pytest.mark.parametrize(
    ("change", "sign"),
    [
        ({"feed_temperature": 366.0}, 1),  # warmer feed, more steam
        ({"barrel": express_barrel(tubes=1.2)}, 1),
        ({"firebox_surface": EXPRESS["firebox_surface"] * 1.2}, 1),
        ({"grate_area": EXPRESS["grate_area"] * 1.2}, 1),  # same fuel on a larger grate, less of it unburned
        ({"pressure": EXPRESS["pressure"] * 1.3}, -1),  # hotter walls, more heat up the stack
        ({"barrel": express_barrel(superheater=0.0)}, 1),  # saturated steam needs less heat per pound
    ],
)
def test_steam_rate_follows_each_change(change, sign):
    before = heat_balance(firing_rate=rates(EXPRESS), **EXPRESS, fuel=fuels.BITUMINOUS)
    after = heat_balance(firing_rate=rates(EXPRESS), **(EXPRESS | change), fuel=fuels.BITUMINOUS)
    assert np.all(sign * (after.steam_rate - before.steam_rate) > 0.0)


def test_poor_coal_and_radiation_loss_make_less_steam():
    poor = dataclasses.replace(fuels.BITUMINOUS, heating_value=0.8 * fuels.BITUMINOUS.heating_value)
    firing = rates(EXPRESS)
    good = heat_balance(firing_rate=firing, **EXPRESS, fuel=fuels.BITUMINOUS)
    assert np.all(heat_balance(firing_rate=firing, **EXPRESS, fuel=poor).steam_rate < good.steam_rate)
    cold = heat_balance(firing_rate=firing, **EXPRESS, fuel=fuels.BITUMINOUS, radiation_loss=1e5)
    lost = (good.steam_rate - cold.steam_rate) * (good.steam_enthalpy - good.feed_enthalpy)
    assert lost == pytest.approx(1e5, rel=0.3)  # the superheater absorbs part of the difference


def test_flue_agrees_with_a_general_solver():
    # gas cooling along a flue between water and steam, heat capacity rising with temperature, against scipy
    a, b, conductance, sink, entering = 900.0, 0.25, 2000.0, 500.0, 1500.0
    found = gas_passages.cooled_gas_temperature(
        entering=np.array([entering]),
        sink=np.array([sink]),
        conductance=np.array([conductance]),
        a=np.array([a]),
        b=np.array([b]),
    )

    def slope(_, temperature):
        return -conductance * (temperature - sink) / (a + b * temperature)

    exact = solve_ivp(slope, (0.0, 1.0), [entering], rtol=1e-10, atol=1e-8).y[0, -1]
    assert float(found[0]) == pytest.approx(exact, abs=1e-4)


def test_no_fire_and_too_small_a_fire_are_errors():
    with pytest.raises(OutOfRange, match="firing rate must be above 0"):
        heat_balance(firing_rate=np.array([0.0, 0.5]), **EXPRESS, fuel=fuels.BITUMINOUS)
    with pytest.raises(OutOfRange, match="too small to make steam"):
        heat_balance(firing_rate=np.array([0.001]), **EXPRESS, fuel=fuels.BITUMINOUS, radiation_loss=2e5)


@pytest.mark.parametrize("fuel", FUELS, ids=lambda fuel: fuel.name)
def test_analysis_adds_up_and_heating_value_is_near_dulong(fuel):
    whole = fuel.carbon + fuel.hydrogen + fuel.oxygen + fuel.sulfur + fuel.moisture + fuel.ash
    assert whole == pytest.approx(1.0, abs=0.02)  # the rest is nitrogen
    assert whole <= 1.0 + 1e-12
    # [Babcock1919], formula (18), Btu/lb
    dulong = 14_600 * fuel.carbon + 62_000 * (fuel.hydrogen - fuel.oxygen / 8) + 4_000 * fuel.sulfur
    dulong *= BTU_PER_POUND
    assert fuel.heating_value == pytest.approx(dulong, rel=0.09)  # Dulong is low for wood, high for oil


@pytest.mark.parametrize("fuel", [fuels.SUBBITUMINOUS, fuels.ANTHRACITE], ids=lambda fuel: fuel.name)
def test_coals_known_by_their_analysis_have_its_heating_value(fuel):
    """A tenth more hydrogen would make sub-bituminous coal 2.5 % richer."""
    # [Babcock1919], formula (18), Btu/lb
    dulong = 14_600 * fuel.carbon + 62_000 * (fuel.hydrogen - fuel.oxygen / 8) + 4_000 * fuel.sulfur
    assert fuel.heating_value == pytest.approx(dulong * BTU_PER_POUND, rel=1e-3)


@pytest.mark.parametrize("fuel", FUELS, ids=lambda fuel: fuel.name)
def test_heating_value_is_limited_by_the_combustible(fuel):
    pure = fuel.heating_value / (1.0 - fuel.moisture - fuel.ash)
    rich = fuels.scaled_to_heating_value(fuel=fuel, heating_value=pure)
    parts = (rich.carbon, rich.hydrogen, rich.oxygen, rich.sulfur, rich.moisture, rich.ash)
    assert sum(parts) <= 1.0 + 1e-9
    with pytest.raises(
        OutOfRange, match=rf"{fuel.name.replace('_', '-')} must be at most .* MJ/kg .* Btu/lb"
    ) as refused:
        fuels.scaled_to_heating_value(fuel=fuel, heating_value=1.001 * pure)
    for factor, unit in ((1e6, "MJ/kg"), (1055.05585262 / 0.45359237, "Btu/lb")):
        named = float(re.search(rf"([0-9.]+) {unit}", str(refused.value)).group(1)) * factor
        assert 0.997 * pure < named <= pure  # the limit named in the message is itself allowed


@pytest.mark.parametrize("share", [0.6, 1.2, 3.0])
def test_balance_closes_with_an_oversized_superheater(share):
    """Evaporation and superheat depend on each other, and the iteration still converges."""
    large = EXPRESS | {"barrel": express_barrel(superheater=4.0 * share)}
    found = heat_balance(firing_rate=rates(EXPRESS), **large, fuel=fuels.BITUMINOUS)
    assert np.max(np.abs(found.residual)) < 1e-9
    assert np.all(found.steam_temperature < found.firebox_exit_temperature)
    assert np.all(np.diff(found.steam_temperature) > 0.0)


def test_no_result_without_convergence(monkeypatch):
    monkeypatch.setattr(boiler_heat, "_MAX_ITERATIONS", 2)
    with pytest.raises(ArithmeticError, match="gas leaving the firebox did not converge"):
        heat_balance(firing_rate=rates(EXPRESS), **EXPRESS, fuel=fuels.BITUMINOUS)
    monkeypatch.undo()
    monkeypatch.setattr(gas_passages, "_MAX_ITERATIONS", 2)
    with pytest.raises(ArithmeticError, match="gas leaving the tubes did not converge"):
        heat_balance(firing_rate=rates(EXPRESS), **EXPRESS, fuel=fuels.BITUMINOUS)


def test_efficiency_and_equivalent_evaporation_are_their_definitions():
    found = heat_balance(firing_rate=rates(EXPRESS), **EXPRESS, fuel=fuels.BITUMINOUS)
    into_steam = found.steam_rate * (found.steam_enthalpy - found.feed_enthalpy)
    fired = rates(EXPRESS) * fuels.BITUMINOUS.heating_value
    assert found.efficiency == pytest.approx(into_steam / fired)
    assert found.evaporation == pytest.approx(found.steam_rate / rates(EXPRESS))
    # 970.4 Btu/lb from and at 212 degF [Babcock1919]
    equivalent = into_steam / (970.4 * BTU_PER_POUND) / rates(EXPRESS)
    assert found.equivalent_evaporation == pytest.approx(equivalent, rel=1e-3)


@pytest.mark.parametrize("radiating", [0.0, 40.0])
def test_a_superheater_that_the_steam_cannot_cool_is_refused(radiating):
    with pytest.raises(NoSolution, match="absorbs more heat than the steam"):
        heat_balance(
            firing_rate=rates(EXPRESS),
            **EXPRESS | {"barrel": express_barrel(superheater=200.0)},
            fuel=FUELS[0],
        )
    # gas at 1400 K to elements alone: more heat than makes steam at all, so the steam would be hotter than any table
    one = np.ones(1)
    passages = gas_passages.GasPassages(
        flue_share=1.0, tubes=0.0 * one, bare_flues=0.0 * one, flues=1e3 * one, elements=2e4 * one,
        radiating=radiating, a=2e4 * one, b=2.0 * one,
    )  # fmt: skip
    with pytest.raises(NoSolution, match="absorbs more heat than the steam"):
        gas_passages.barrel_heat(
            passages=passages, entering=1400.0 * one, wall=470.0, pressure=14e5, other_heat=1e6 * one,
            evaporation_heat=2.6e6,
        )  # fmt: skip
