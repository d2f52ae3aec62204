"""Locomotive and train: conditions between fields, and derived properties."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import trials

from locosim.errors import OutOfRange
from locosim.model import (
    Auxiliaries,
    Boiler,
    CustomResistance,
    Cylinders,
    Diesel,
    FeedDevice,
    Helper,
    SteamPassages,
    ValveGear,
)


def test_valve_travel_must_open_the_port() -> None:
    ValveGear(lap=0.03, lead=0.005, travel=0.15)
    with pytest.raises(
        OutOfRange, match=r"ValveGear\.travel must exceed twice the sum of lap and lead \(0\.07 m\)"
    ):
        ValveGear(lap=0.03, lead=0.005, travel=0.06)


def test_shortest_cutoff_must_be_below_the_longest() -> None:
    unit = trials.locomotive().engine_units[0]
    with pytest.raises(OutOfRange, match=r"EngineUnit\.min_cutoff must be below max_cutoff \(0\.3\)"):
        replace(unit, max_cutoff=0.3, min_cutoff=0.3)


def test_minimum_feed_rate_must_not_exceed_the_maximum() -> None:
    with pytest.raises(OutOfRange, match=r"FeedDevice\.min_rate must not exceed max_rate \(2 kg/s\)"):
        FeedDevice(name="injector", max_rate=2.0, min_rate=2.5)


@pytest.mark.parametrize("name", ["wet_wall_heat_transfer", "dry_wall_heat_transfer"])
def test_wall_heat_transfer_must_be_positive(name: str) -> None:
    with pytest.raises(OutOfRange, match=rf"SteamPassages\.{name} must be above 0 W/m\^2/K"):
        SteamPassages(**{name: 0.0})


@pytest.mark.parametrize(
    ("part", "whole", "size"),
    [("crown_sheet_height", "shell_inside_diameter", 1.5), ("crown_sheet_length", "water_space_length", 6.0)],
)
def test_the_crown_sheet_must_fit_in_the_shell(part: str, whole: str, size: float) -> None:
    boiler = trials.locomotive().boiler
    replace(boiler, **{part: 0.99 * size, whole: size})
    with pytest.raises(
        OutOfRange, match=rf"Boiler\.{part} must be below {whole} \({size:g} m\), found {size:g}"
    ):
        replace(boiler, **{part: size, whole: size})


def test_drivers_cannot_carry_more_than_the_engine() -> None:
    made = trials.locomotive()
    with pytest.raises(OutOfRange, match=r"Locomotive\.mass must be at least the mass on drivers"):
        replace(made, mass=0.9 * made.mass_on_drivers)
    # The drivers of a tank engine also carry water and coal, which are not in its mass.
    tank = replace(made.tender, empty_mass=0.0, axles=0)
    replace(made, mass=0.9 * made.mass_on_drivers, tender=tank)


def test_an_engine_needs_wheels_and_cylinders() -> None:
    made = trials.locomotive()
    with pytest.raises(OutOfRange, match=r"Locomotive\.engine_units needs at least 1 item, found 0"):
        replace(made, engine_units=())
    with pytest.raises(OutOfRange, match=r"EngineUnit\.cylinders needs at least 1 item, found 0"):
        replace(made.engine_units[0], cylinders=())


def test_a_helper_is_steam_or_diesel() -> None:
    steam = trials.locomotive()
    diesel = Diesel(name="switcher", mass=90e3, length=14.0, rail_power=6e5, starting_tractive_effort=2e5)
    assert Helper(locomotive=steam).name == "trial engine"
    assert Helper(diesel=diesel).name == "switcher"
    for engines in ({}, {"locomotive": steam, "diesel": diesel}):
        with pytest.raises(OutOfRange, match="Helper needs a locomotive or a diesel, but not both"):
            Helper(**engines)


def test_a_custom_law_needs_its_coefficients() -> None:
    own = CustomResistance(a=0.02)
    trials.coaches(resistance_law="custom", custom_resistance=own)
    with pytest.raises(OutOfRange, match=r"custom_resistance is required with resistance_law = .custom."):
        trials.coaches(resistance_law="custom")
    with pytest.raises(OutOfRange, match=r"custom_resistance is allowed only with resistance_law = .custom."):
        trials.coaches(custom_resistance=own)


def test_swept_volume() -> None:
    # 26 by 30 in: 9.22 cubic feet a stroke; common practice, no source.
    made = Cylinders(number=2, bore=26 * 0.0254, stroke=30 * 0.0254)
    assert made.area == pytest.approx(math.pi / 4 * (26 * 0.0254) ** 2)
    assert made.swept_volume / 0.3048**3 == pytest.approx(9.22, abs=0.005)


def test_gauge_pressure_is_one_atmosphere_below_absolute() -> None:
    made = Boiler(working_pressure_gauge=14e5, grate_area=3.0, firebox_surface=15.0, tube_surface=150.0)
    assert made.absolute_pressure == pytest.approx(14e5 + 101325.0)
    assert made.evaporative_heating_surface == 165.0


def test_continuous_demand_excludes_the_blower() -> None:
    made = Auxiliaries(
        air_compressor_steam=0.03,
        air_compressor_count=2,
        dynamo=0.01,
        blower=0.5,
        stoker=0.02,
        train_heat=0.1,
    )
    assert made.continuous_demand == pytest.approx(0.06 + 0.01 + 0.02 + 0.1)


def test_totals_of_an_articulated_engine() -> None:
    made = trials.locomotive(units=2, mass_on_drivers=50e3)
    assert made.mass_on_drivers == 100e3
    assert made.driving_axles == 6
    assert made.axles == 6 + 2 + 4
    assert made.max_axle_load == pytest.approx(50e3 / 3)
    assert not made.compound
    low = replace(made.engine_units[0].cylinders[0], steam_source="receiver")
    unit = replace(made.engine_units[0], cylinders=(low,))
    assert replace(made, engine_units=(made.engine_units[1], unit)).compound


def test_mass_of_a_person_can_be_set() -> None:
    car = trials.coaches(1, empty_mass=40e3, people=50)
    assert car.mass == 40e3 + 50 * 80.0  # default [common practice, no source]
    assert replace(car, person_mass=90.0).mass == 40e3 + 50 * 90.0


def test_totals_of_a_train() -> None:
    car = trials.coaches(1, empty_mass=25e3, people=0, water=30.0, length=15.0, kind="water_car")
    made = trials.train(trials.coaches(3, empty_mass=40e3, load=2e3, people=50, length=20.0), car)
    assert made.vehicles[0].mass == 40e3 + 2e3 + 4e3
    assert made.mass == 3 * 46e3 + 55e3
    assert made.length == 75.0
    assert made.water == 30.0
    assert car.mass_without_water == 25e3
    assert car.axle_load == pytest.approx(55e3 / 4)
    assert made.rotating_mass == pytest.approx(0.06 * (3 * 40e3 + 25e3))
