"""Steam properties against an unrelated implementation (iapws) and their own inverses."""

from __future__ import annotations

import re

import numpy as np
import pytest
from iapws import IAPWS97

from locosim.errors import OutOfRange
from locosim.physics.steam import properties as steam

STATES = [(0.12e6, 420.0), (0.5e6, 480.0), (1.4e6, 620.0), (2.0e6, 700.0), (1.0e6, 350.0)]


@pytest.mark.parametrize(("pressure", "temperature"), STATES)
def test_single_phase_agrees_with_iapws(pressure, temperature):
    other = IAPWS97(P=pressure / 1e6, T=temperature)
    assert steam.enthalpy(pressure=pressure, temperature=temperature) == pytest.approx(
        other.h * 1e3, rel=1e-8
    )
    assert steam.density(pressure=pressure, temperature=temperature) == pytest.approx(other.rho, rel=1e-8)
    assert steam.internal_energy(pressure=pressure, temperature=temperature) == pytest.approx(
        other.u * 1e3, rel=1e-8
    )
    assert steam.entropy(pressure=pressure, temperature=temperature) == pytest.approx(other.s * 1e3, rel=1e-8)


@pytest.mark.parametrize("pressure", [0.03e6, 0.101325e6, 0.7e6, 1.5e6, 3.0e6])
def test_saturation_agrees_with_iapws(pressure):
    water, vapor = IAPWS97(P=pressure / 1e6, x=0), IAPWS97(P=pressure / 1e6, x=1)
    assert steam.saturation_temperature(pressure=pressure) == pytest.approx(water.T, rel=1e-9)
    assert steam.saturation_pressures(temperature=np.array([water.T]))[0] == pytest.approx(pressure, rel=1e-8)
    assert steam.liquid_enthalpy(pressure=pressure) == pytest.approx(water.h * 1e3, rel=1e-8)
    assert steam.vapor_enthalpy(pressure=pressure) == pytest.approx(vapor.h * 1e3, rel=1e-8)
    liquids, vapors = steam.saturation_enthalpies(pressure=np.array([0.2e6, pressure]))
    assert liquids[1] == steam.liquid_enthalpy(pressure=pressure)
    assert vapors[1] == steam.vapor_enthalpy(pressure=pressure)
    assert steam.liquid_density(pressure=pressure) == pytest.approx(water.rho, rel=1e-8)
    assert steam.vapor_density(pressure=pressure) == pytest.approx(vapor.rho, rel=1e-8)
    assert steam.vapor_energy(pressure=pressure) == pytest.approx(vapor.u * 1e3, rel=1e-8)


@pytest.mark.parametrize("quality", [0.2, 0.7, 0.95])
def test_wet_states_agree_with_iapws(quality):
    other = IAPWS97(P=0.8, x=quality)
    given = {"pressure": 0.8e6, "enthalpy": other.h * 1e3}
    assert steam.density_at_enthalpy(**given) == pytest.approx(1 / other.v, rel=1e-7)
    assert steam.temperature_at_enthalpy(**given) == pytest.approx(other.T, rel=1e-9)


@pytest.mark.parametrize(("pressure", "temperature"), STATES)
def test_enthalpy_and_temperature_are_inverse(pressure, temperature):
    heat = steam.enthalpy(pressure=pressure, temperature=temperature)
    back = steam.temperature_at_enthalpy(pressure=pressure, enthalpy=heat)
    assert back == pytest.approx(
        temperature, abs=0.03
    )  # the inverse of the formulation is accurate to 0.025 K


def test_loss_free_expansion_ends_in_wet_steam():
    start = steam.entropy(pressure=1.4e6, temperature=623.15)
    assert steam.enthalpy_at_entropy(pressure=0.12e6, entropy=start) == pytest.approx(2622.66e3, rel=1e-5)


@pytest.mark.parametrize(
    "call",
    [
        lambda: steam.saturation_temperature(pressure=30e6),
        lambda: steam.saturation_temperature(pressure=float("nan")),
        lambda: steam.saturation_pressures(temperature=np.array([700.0])),
        lambda: steam.saturation_enthalpies(pressure=np.array([1e6, 30e6])),
        lambda: steam.wet_steam_enthalpy(pressure=1e6, quality=1.5),
        lambda: steam.enthalpy(pressure=1e6, temperature=100.0),
        lambda: steam.density(pressure=-1.0, temperature=400.0),
        lambda: steam.density_at_enthalpy(pressure=1e6, enthalpy=-5e6),
    ],
)
def test_outside_the_formulation_is_an_error(call):
    with pytest.raises(OutOfRange, match=r"no .* of water or steam at"):
        call()


def test_of_many_enthalpies_the_one_outside_is_named():
    inside = np.array([2.8e6, 3.2e6])
    found = steam.temperatures_at_enthalpy(pressure=1e6, enthalpy=inside)
    alone = [steam.temperature_at_enthalpy(pressure=1e6, enthalpy=each) for each in inside]
    assert found == pytest.approx(alone, rel=1e-12)
    with pytest.raises(OutOfRange, match=r"no temperature of water or steam at .* enthalpy 9e\+06"):
        steam.temperatures_at_enthalpy(pressure=1e6, enthalpy=np.array([2.8e6, 9e6, 3.2e6]))


def test_a_state_that_is_not_there_is_named_by_its_figures() -> None:
    far = 5000.0
    for read, given in (
        (steam.wet_steam_enthalpy, {"pressure": 30e6, "quality": 0.5}),
        (steam.enthalpy, {"pressure": 1e6, "temperature": far}),
        (steam.specific_volume, {"pressure": 1e6, "temperature": far}),
        (steam.entropy, {"pressure": 1e6, "temperature": far}),
        (steam.temperature_at_enthalpy, {"pressure": 1e6, "enthalpy": 9e7}),
        (steam.density_at_enthalpy, {"pressure": 1e6, "enthalpy": 9e7}),
        (steam.enthalpy_at_entropy, {"pressure": 1e6, "entropy": 9e7}),
    ):
        expected = ", ".join(f"{name} {value:.6g}" for name, value in given.items())
        with pytest.raises(OutOfRange, match=rf"at {re.escape(expected)} \(Pa, K"):
            read(**given)
    with pytest.raises(OutOfRange, match=r"no wet steam of water or steam at pressure 3e\+07, quality 0 \("):
        steam.saturation_enthalpies(pressure=np.array([1e6, 30e6]))
    # 970.4 Btu for each pound from and at 212 degF [Babcock1919]
    assert pytest.approx(970.4 * 1055.05585 / 0.45359237, rel=1e-6) == steam.EVAPORATION_FROM_AND_AT_212F
