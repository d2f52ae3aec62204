"""Parts of a boiler worked by hand, with the figures of their sources."""

from __future__ import annotations

import math

import numpy as np
import pytest
from boilers import EXPRESS, SATURATED

from locosim.errors import NoSolution, OutOfRange
from locosim.physics.boiler import combustion, feed, fuels, gas_passages
from locosim.physics.boiler.barrel import (
    Elements,
    TubeBank,
    barrel_by_dimensions,
    barrel_by_surfaces,
    surface_element_factor,
)
from locosim.physics.boiler.fuel_bed import MAX_BED_DEPTH, fuel_bed_mass
from locosim.physics.boiler.heat_balance import heat_balance
from locosim.physics.steam import properties as steam

PRESSURE, COLD = 14e5, 288.15


def test_tubes_and_flues_by_rule() -> None:
    """100 m2 of tubes and flues with 30 m2 of superheater: 36 m2 of flues, and 0.25 m2 for the gas."""
    found = barrel_by_surfaces(tube_surface=100.0, superheater_surface=30.0)
    share = (36.0 + 30.0) / 130.0
    assert found.flue_share == pytest.approx(share)
    assert found.tubes is not None
    assert found.flues is not None
    assert found.bare_flues is None
    assert (found.tubes.surface, found.tubes.area) == pytest.approx((64.0, 0.25 * (1.0 - share)))
    assert (found.flues.surface, found.flues.area) == pytest.approx((36.0, 0.25 * share))
    for part in (found.tubes, found.flues):
        assert (part.diameter, part.length) == pytest.approx((0.05, 5.0))  # 100 diameters
    assert found.element_surface == 30.0
    # fitted: 0.93 of a smooth surface with dimensions known, 0.91 of that without, falling with the size
    assert found.element_factor == pytest.approx(0.93 * 0.91 * (0.30 / 0.25) ** -0.23)
    assert surface_element_factor(share=0.25) == pytest.approx(0.93 * 0.91)
    # a tenth of the surface at least is small tubes
    large = barrel_by_surfaces(tube_surface=100.0, superheater_surface=90.0, tube_length=6.0)
    assert large.tubes is not None
    assert (large.tubes.surface, large.tubes.length) == pytest.approx((10.0, 6.0))
    assert large.flue_share == pytest.approx(180.0 / 190.0)
    bare = barrel_by_surfaces(tube_surface=100.0, superheater_surface=0.0)
    assert (bare.flues, bare.flue_share, bare.element_factor) == (None, 0.0, 0.0)


def test_flues_with_and_without_elements() -> None:
    flues = TubeBank(count=20, outside_diameter=0.14, inside_diameter=0.13)
    empty = barrel_by_dimensions(length=5.0, tubes=None, flues=flues, elements=None)
    assert (empty.flues, empty.element_surface, empty.element_factor) == (None, 0.0, 0.0)
    assert empty.bare_flues is not None
    assert empty.bare_flues.surface == pytest.approx(20 * math.pi * 0.14 * 5.0)
    through = barrel_by_dimensions(
        length=5.0, tubes=None, flues=flues, elements=Elements(pipes=4, diameter=0.035, length=5.0)
    )
    assert through.bare_flues is None
    assert through.element_factor == 0.93
    assert through.element_surface == pytest.approx(20 * 4 * math.pi * 0.035 * 5.0)
    assert through.flues is not None
    area = 0.25 * math.pi * (0.13**2 - 4 * 0.035**2)
    assert through.flues.area == pytest.approx(20 * area)
    assert through.flues.diameter == pytest.approx(4 * area / (math.pi * (0.13 + 4 * 0.035)))
    short = barrel_by_dimensions(
        length=5.0, tubes=None, flues=flues, elements=Elements(pipes=4, diameter=0.035, length=4.2)
    )
    assert short.bare_flues is not None
    assert short.bare_flues.length == pytest.approx(0.8)


def test_air_and_gas_of_a_coal_by_its_analysis() -> None:
    # [Babcock1919]: 11.52 C + 34.56 (H - O/8) + 4.32 S
    coal = {"carbon": 0.7, "hydrogen": 0.05, "oxygen": 0.08, "sulfur": 0.03}
    air = 11.52 * 0.7 + 34.56 * (0.05 - 0.01) + 4.32 * 0.03
    assert combustion.theoretical_air(**coal) == pytest.approx(air)
    gas = combustion.flue_gas(**coal, moisture=0.06, excess_air=np.array([0.4]))
    # carbon makes 44/12 of its mass of carbon dioxide, sulfur twice its mass, hydrogen nine times its mass of water
    assert gas.carbon_dioxide[0] == pytest.approx(0.7 * 44.0 / 12.0 + 2.0 * 0.03)
    assert gas.water[0] == pytest.approx(9.0 * 0.05 + 0.06)
    assert gas.nitrogen[0] == pytest.approx(1.4 * air * (1.0 - 0.2315))
    assert gas.oxygen[0] == pytest.approx(0.4 * air * 0.2315)
    assert gas.mass[0] == pytest.approx(
        gas.carbon_dioxide[0] + gas.water[0] + gas.nitrogen[0] + gas.oxygen[0]
    )


def test_feed_devices_by_common_practice() -> None:
    """No source: 11 lb of water lifted for each of steam, up to 49 degC; 3 % of live steam and 90 degC; 15 K apart."""
    given = {"pressure": PRESSURE, "tender_water_temperature": COLD}
    injector = feed.live_steam_injector(**given)
    assert (injector.live_steam, injector.tender_water, injector.exhaust_steam) == pytest.approx(
        (1.0 / 12.0, 11.0 / 12.0, 0.0)
    )
    assert injector.net_water == pytest.approx(11.0 / 12.0)
    assert injector.tender_water_per_net_water == pytest.approx(1.0)
    weak = feed.live_steam_injector(**given, entrainment=4.0)
    assert weak.live_steam == pytest.approx(0.2)
    hottest = 273.15 + 49.0
    feed.live_steam_injector(pressure=PRESSURE, tender_water_temperature=hottest)
    with pytest.raises(OutOfRange, match="does not lift water"):
        feed.live_steam_injector(pressure=PRESSURE, tender_water_temperature=hottest + 0.01)
    exhaust = feed.exhaust_steam_injector(**given, exhaust_enthalpy=2.6e6)
    assert exhaust.live_steam == 0.03
    assert exhaust.enthalpy == pytest.approx(steam.enthalpy(pressure=PRESSURE, temperature=273.15 + 90.0))
    assert exhaust.tender_water_per_net_water == pytest.approx(exhaust.tender_water / 0.97)
    # steam so poor that more of it would be needed than is delivered
    live, water = (
        steam.vapor_enthalpy(pressure=PRESSURE), steam.enthalpy(pressure=PRESSURE, temperature=COLD),
    )  # fmt: skip
    wanted = exhaust.enthalpy - 0.03 * live - 0.97 * water
    with pytest.raises(OutOfRange, match="does not need exhaust steam"):
        feed.exhaust_steam_injector(**given, exhaust_enthalpy=water + wanted / 1.05)
    pump = feed.pump_without_heater(**given)
    # [Babcock1919]: a pump takes 1.5 %
    assert (pump.live_steam, pump.exhaust_steam, pump.tender_water) == (0.015, 0.0, 1.0)
    assert pump.tender_water_per_net_water == pytest.approx(1.0 / 0.985)
    heater = feed.pump_with_closed_heater(
        **given, exhaust_pressure=1.3e5, exhaust_enthalpy=2.62e6, exhaust_available=0.9
    )
    reached = steam.temperature_at_enthalpy(pressure=PRESSURE, enthalpy=heater.enthalpy)
    assert steam.saturation_temperature(pressure=1.3e5) - reached == pytest.approx(15.0, abs=0.01)
    assert (heater.live_steam, heater.tender_water) == (0.015, 1.0)
    # water hotter than the heater could make it stays as it is
    hot = feed.pump_with_closed_heater(
        pressure=PRESSURE, tender_water_temperature=370.0, exhaust_pressure=1.3e5, exhaust_enthalpy=2.62e6,
        exhaust_available=0.9,
    )  # fmt: skip
    assert hot.exhaust_steam == pytest.approx(0.0, abs=1e-12)


def test_a_bed_of_a_foot_by_its_density() -> None:
    # [Schinz1866]: 400 kg/m3 of coke as it lies; [CyclopediaFiring]: 12 in at the most
    assert pytest.approx(0.3048) == MAX_BED_DEPTH
    assert fuel_bed_mass(depth=0.25, grate_area=3.0) == pytest.approx(300.0)


def test_heat_transfer_in_a_tube_by_the_textbook() -> None:
    """Nu = 0.023 Re^0.8 Pr^0.4 [Dittus1930] with k = 0.062 W/(m K), mu = 3.9e-5 Pa s, Pr = 0.7, all from memory."""
    for flux, diameter in ((4.0, 0.05), (9.0, 0.03)):
        reynolds = flux * diameter / 3.9e-5
        by_hand = 0.023 * reynolds**0.8 * 0.7**0.4 * 0.062 / diameter
        found = gas_passages.tube_coefficient(flux=np.array([flux]), diameter=diameter)
        assert found[0] == pytest.approx(by_hand)
    barrel = barrel_by_surfaces(tube_surface=100.0, superheater_surface=30.0)
    one = np.ones(1)
    found_all = gas_passages.gas_passages(gas_rate=5.0 * one, a=one, b=one, barrel=barrel)
    # the gas divides as the areas, so that both have the flux of all gas through a quarter of a square meter
    alike = float(gas_passages.tube_coefficient(flux=20.0 * one, diameter=0.05)[0])
    assert found_all.tubes[0] == pytest.approx(64.0 * alike)
    assert found_all.flues[0] == pytest.approx(36.0 * alike)
    assert found_all.elements[0] == pytest.approx(30.0 * barrel.element_factor * alike)
    assert found_all.radiating == pytest.approx(0.55 * 30.0)  # not fitted
    assert found_all.bare_flues[0] == 0.0


def test_gas_that_hardly_cools_does_not_end_the_search_for_the_other(monkeypatch: pytest.MonkeyPatch) -> None:
    given = {"a": np.full(2, 900.0), "b": np.full(2, 0.25), "conductance": np.array([2000.0, 4000.0])}
    sink = np.full(2, 500.0)
    found = gas_passages.cooled_gas_temperature(entering=np.array([500.0, 1500.0]), sink=sink, **given)
    assert found[0] == pytest.approx(500.0)
    # -(a + b T) dT = K (T - sink): the left over the right, summed from entering to leaving, is 1
    at = np.linspace(found[1], 1500.0, 200_001)
    assert np.trapezoid((900.0 + 0.25 * at) / (at - 500.0), at) / 4000.0 == pytest.approx(1.0, rel=1e-6)
    # Newton's method is there in a few steps
    monkeypatch.setattr(gas_passages, "_MAX_ITERATIONS", 7)
    again = gas_passages.cooled_gas_temperature(entering=np.array([600.0, 1500.0]), sink=sink, **given)
    assert again[1] == pytest.approx(found[1], rel=1e-12)


def test_no_heat_makes_no_steam() -> None:
    for heat in (np.array([1e6, -1.0]), np.array([0.0]), np.array([-1e6])):
        with pytest.raises(
            NoSolution, match=r"^a firing rate is too small to make steam: .* loss; give the boiler"
        ):
            gas_passages.steam_made(heat=heat, evaporation_heat=2.6e6)
    assert gas_passages.steam_made(heat=np.array([0.5, 2.6e6]), evaporation_heat=2.6e6)[1] == 1.0
    one = np.ones(1)
    passages = gas_passages.GasPassages(
        flue_share=0.0, tubes=500.0 * one, bare_flues=0.0 * one, flues=0.0 * one, elements=0.0 * one, radiating=0.0,
        a=2e3 * one, b=0.2 * one,
    )  # fmt: skip
    with pytest.raises(NoSolution, match="too small to make steam"):
        gas_passages.barrel_heat(
            passages=passages, entering=900.0 * one, wall=470.0, pressure=14e5, other_heat=-1e9 * one,
            evaporation_heat=2.6e6,
        )  # fmt: skip
    with pytest.raises(NoSolution, match=r"^the superheater absorbs more heat .* carry; check the surface"):
        gas_passages._superheat_temperature(pressure=14e5, heat=np.array([9e7]))


@pytest.mark.parametrize("boiler", [EXPRESS, SATURATED], ids=["express", "small"])
def test_the_firebox_absorbs_by_the_law_of_radiation(boiler: dict[str, float]) -> None:
    """A luminous flame of emissivity 0.6, from memory, and the constant of CODATA."""
    found = heat_balance(
        firing_rate=np.array([0.1, 0.4, 1.0]) * boiler["grate_area"] * 0.15, **boiler, fuel=fuels.BITUMINOUS
    )
    wall = steam.saturation_temperature(pressure=boiler["pressure"])
    law = 0.6 * 5.670374e-8 * boiler["firebox_surface"] * (found.firebox_exit_temperature**4 - wall**4)
    assert found.firebox == pytest.approx(law)
    # heat the gas brings to the firebox is what it leaves with and what was absorbed
    gas = fuels.combustion_gas(
        firing_rate_per_grate_area=found.firing_rate / boiler["grate_area"], fuel=fuels.BITUMINOUS
    )
    a, b = gas.heat_capacity_coefficients
    burned = found.gas_rate / gas.mass
    left = combustion.gas_enthalpy(temperature=found.firebox_exit_temperature, a=burned * a, b=burned * b)
    released = found.heat_fired - found.unburned - found.vapor
    assert left + found.firebox == pytest.approx(released)
    assert combustion.gas_enthalpy(temperature=found.flame_temperature, a=burned * a, b=burned * b) == (
        pytest.approx(released)
    )
