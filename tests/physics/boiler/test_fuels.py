"""Fuels against their sources, Dulong's formula and the balance of their parts; how a grate burns them."""

from __future__ import annotations

import numpy as np
import pytest

from locosim.constants import BTU_PER_POUND, POUND_PER_SQUARE_FOOT_HOUR
from locosim.errors import OutOfRange
from locosim.physics.boiler import fuels
from locosim.physics.boiler.fuels import FUELS, FuelProperties, scaled_to_heating_value

# Dry analysis in parts of 10,000: carbon, hydrogen, oxygen, sulfur, ash and nitrogen, and Btu/lb dry. The coal is that
# of the heat balance example of [Babcock1919], all from memory; that source is also that of oak and of the oil.
DRY = {
    "bituminous": ((7857, 560, 702, 118, 652, 111), 14225),
    "subbituminous": ((6800, 480, 1600, 60, 940, 120), 11688),
    "anthracite": ((8400, 240, 250, 70, 960, 80), 13586),
    "wood": ((5000, 600, 4300, 0, 100, 0), 8316),
    "oil": ((8500, 1150, 120, 150, 0, 80), 18900),
}
MOISTURE = {"bituminous": 0.05, "subbituminous": 0.20, "anthracite": 0.03, "wood": 0.20, "oil": 0.01}
# Excess air at light and hard firing [1], and most fuel for the grate [lb/ft2 h].
BURNING = {
    "bituminous": (0.5, 0.2, 120), "subbituminous": (0.5, 0.2, 150), "anthracite": (0.6, 0.3, 65),
    "wood": (0.6, 0.3, 150), "oil": (0.25, 0.15, 80),
}  # fmt: skip


def dry(fuel: FuelProperties) -> list[float]:
    parts = (fuel.carbon, fuel.hydrogen, fuel.oxygen, fuel.sulfur, fuel.ash)
    return [part / (1.0 - fuel.moisture) for part in parts]


@pytest.mark.parametrize("name", DRY)
def test_analysis_and_heating_value_are_those_of_the_source(name: str) -> None:
    fuel, (parts, heating_value) = FUELS[name], DRY[name]
    assert sum(parts) == 10_000
    assert dry(fuel) == pytest.approx([part / 1e4 for part in parts[:5]], abs=1e-6)
    assert fuel.moisture == MOISTURE[name]
    assert fuel.heating_value / (1.0 - fuel.moisture) == pytest.approx(heating_value * BTU_PER_POUND)


@pytest.mark.parametrize("name", [name for name in DRY if name != "wood"])  # the formula is one for coal
def test_a_heating_value_is_about_that_of_dulong(name: str) -> None:
    fuel = FUELS[name]
    carbon, hydrogen, oxygen, sulfur, _ = dry(fuel)
    # 14,600 C + 62,000 (H - O/8) + 4,000 S Btu/lb [Babcock1919], from memory; two of the fuels have theirs from it
    dulong = 14600.0 * carbon + 62000.0 * (hydrogen - oxygen / 8.0) + 4000.0 * sulfur
    near = {"subbituminous": 1e-4, "anthracite": 1e-4}.get(name, 0.05)
    assert fuel.heating_value / (1.0 - fuel.moisture) == pytest.approx(dulong * BTU_PER_POUND, rel=near)


@pytest.mark.parametrize("name", BURNING)
def test_excess_air_falls_from_a_thin_to_a_thick_fire(name: str) -> None:
    fuel, (thin, thick, most) = FUELS[name], BURNING[name]
    rates = np.array([0.0, 80.0, 160.0, 4000.0]) * POUND_PER_SQUARE_FOOT_HOUR
    # with the scale of 80 lb/ft2 h that docs/theory/boiler.md gives
    expected = thick + (thin - thick) * np.array([1.0, np.exp(-1.0), np.exp(-2.0), 0.0])
    assert fuels.excess_air(firing_rate_per_grate_area=rates, fuel=fuel) == pytest.approx(expected)
    assert fuel.grate_limit == pytest.approx(most * POUND_PER_SQUARE_FOOT_HOUR)


def test_what_is_lost_unburned_goes_with_the_air() -> None:
    coal = FUELS["bituminous"]
    rates = np.array([0.0, 0.05, 0.10, 50.0])
    lost = fuels.unburned_share(firing_rate_per_grate_area=rates, fuel=coal)
    assert lost[0] == coal.unburned_low_rate
    assert lost[2] - lost[1] == pytest.approx(lost[1] - lost[0])
    assert lost[1] - lost[0] == pytest.approx(coal.unburned_slope * coal.theoretical_air * 0.05)
    assert lost[3] == 0.9
    # efficiency of bituminous coal was fitted at 0.029 and 0.115 m2 s/kg; oil loses 2 % at first and little more
    assert (coal.unburned_low_rate, coal.unburned_slope) == (0.029, 0.115)
    assert (FUELS["oil"].unburned_low_rate, FUELS["oil"].unburned_slope) == (0.02, 0.02)


def test_a_poorer_coal_has_more_ash_and_the_best_neither_ash_nor_moisture() -> None:
    coal = FUELS["bituminous"]
    poor = scaled_to_heating_value(fuel=coal, heating_value=0.8 * coal.heating_value)
    assert poor.carbon == pytest.approx(0.8 * coal.carbon)
    assert (poor.hydrogen, poor.oxygen, poor.sulfur) == pytest.approx(
        (0.8 * coal.hydrogen, 0.8 * coal.oxygen, 0.8 * coal.sulfur)
    )
    rest = 1.0 - coal.moisture - coal.ash
    assert poor.moisture == coal.moisture
    assert poor.ash == pytest.approx(1.0 - 0.8 * rest - coal.moisture)
    assert scaled_to_heating_value(fuel=coal, heating_value=coal.heating_value).ash == pytest.approx(coal.ash)
    # free of ash, it loses moisture
    rich = scaled_to_heating_value(fuel=coal, heating_value=coal.heating_value * 0.97 / rest)
    assert (rich.ash, rich.moisture) == pytest.approx((0.0, 0.03), abs=1e-12)
    best = coal.heating_value / rest
    assert scaled_to_heating_value(fuel=coal, heating_value=best * (1.0 + 1e-10)).moisture == 0.0
    with pytest.raises(
        OutOfRange, match=rf"must be at most {int(best / 1e5) / 10:g} MJ/kg \({int(best / BTU_PER_POUND)}"
    ):
        scaled_to_heating_value(fuel=coal, heating_value=best * 1.001)
