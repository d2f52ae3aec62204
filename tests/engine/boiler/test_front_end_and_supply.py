"""The front end by hand, and how a steam supply is read."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine.boiler import front_end as f
from locosim.engine.boiler.barrel import free_gas_area
from locosim.engine.boiler.by_heat_balance import design_supply
from locosim.engine.boiler.steam_supply import SteamSupply, SupplyLimit
from locosim.engine.boiler.stored_heat import short_efforts
from locosim.engine.own_resistance import (
    engine_resistance_coefficients,
    full_tender_load,
    machine_friction_at_no_effort,
)
from locosim.errors import OutOfRange
from locosim.model import Assumptions, FeedDevice, Locomotive
from locosim.physics.cylinder.design_rules import nozzle_steam_rate

PLAIN = 249.089 / 3386.389  # inches of water for inches of mercury [Bourne1865]


def engine(**passages: Any) -> Locomotive:
    made = trials.locomotive()
    return replace(made, steam_passages=replace(made.steam_passages, **passages))


def test_a_nozzle_is_a_share_of_the_gas_area_wider_with_a_better_front_end() -> None:
    gas = free_gas_area(trials.locomotive().boiler)
    assert f.nozzle_area(engine()) == pytest.approx(0.0289 * gas)  # fitted, from 0.030
    assert f.nozzle_area(engine(nozzle_area=0.02)) == 0.02
    better = engine(draft_to_back_pressure_ratio=2.0 * PLAIN)
    assert f.nozzle_area(better) == pytest.approx(2.0**0.5 * 0.0289 * gas)
    assert f.vacuum_ratio(engine()) == pytest.approx(PLAIN)
    assert f.vacuum_ratio(better) == 2.0 * PLAIN


@pytest.mark.parametrize("kind", ["injector", "pump_with_feedwater_heater", "exhaust_steam_injector"])
def test_the_front_end_limits_what_its_nozzle_passes(kind: str) -> None:
    devices = (FeedDevice(name="one", kind=kind, max_rate=3.0), FeedDevice(name="two", max_rate=3.0))
    made = replace(engine(nozzle_area=0.02, max_back_pressure=5e4), feed_devices=devices)
    assumed = replace(Assumptions(), heater_exhaust_share=0.1)
    share = 1.0 if kind == "injector" else 0.9
    assert f.nozzle_steam_share(made, assumed) == pytest.approx(share)
    passed = nozzle_steam_rate(area=0.02, back_pressure=5e4)
    found = f.front_end_evaporation(made, assumed)
    assert found == pytest.approx(passed / share + made.auxiliaries.continuous_demand)
    assert f.max_back_pressure(engine(), replace(assumed, max_back_pressure=6e4)) == 6e4
    supply = design_supply(made, assumed)
    front = f.front_end(made, supply, assumed)
    assert (front.nozzle_area, front.max_back_pressure) == (0.02, 5e4)
    assert front.available_draft == pytest.approx(5e4 * PLAIN)
    assert front.required_ratio == front.required_draft / 5e4
    assert supply.draft is not None
    top = int(np.argmax(supply.steam)) + 1
    assert front.required_draft == pytest.approx(np.interp(found, supply.steam[:top], supply.draft[:top]))


def supply(**changes: Any) -> SteamSupply:
    """Steam that rises to 4 kg/s at 3 kg/s of fuel and falls beyond."""
    made: dict[str, Any] = {
        "method": "cycle", "firing_rates": np.arange(5.0), "steam": np.array([0.0, 2.0, 3.0, 4.0, 3.5]),
        "heat": np.array([0.0, 2.0, 3.0, 4.0, 3.5]), "steam_temperature": np.array([400.0, 500.0, 550.0, 580.0, 600.0]),
        "limits": (
            SupplyLimit(name="grate", steam=3.0), SupplyLimit(name="fireman", steam=2.5),
            SupplyLimit(name="front end", steam=3.5), SupplyLimit(name="feed devices", steam=2.6),
        ),
        "feed_enthalpy": 0.0, "tender_water_ratio": 1.0, "evaporation_heat": 1.0, "radiation_loss": 0.0,
        "heating_value": 1.0, "saturation_temperature": 400.0, "draft": np.array([0.0, 100.0, 300.0, 700.0, 600.0]),
    }  # fmt: skip
    return SteamSupply(**(made | changes))


def test_a_supply_is_read_up_to_where_more_fuel_makes_no_more_steam() -> None:
    made = supply()
    assert [made.firing_rate_for(steam) for steam in (0.0, 1.0, 2.5, 4.0, 9.0)] == [0.0, 0.5, 1.5, 3.0, 3.0]
    assert made.steam_temperature_at(np.array([1.0, 3.5, 9.0])) == pytest.approx([450.0, 565.0, 580.0])
    assert (made.binding.name, made.sustained, made.max_firing) == ("fireman", 2.5, 1.5)
    # who fires, and what burns: of grate and front end the lower; feed devices limit neither
    assert (made.firing_capacity, made.max_burning) == (1.5, 2.0)
    nobody = supply(limits=(SupplyLimit(name="grate", steam=3.0),))
    assert (nobody.firing_capacity, nobody.max_burning) == (3.0, 2.0)
    both = supply(
        limits=(SupplyLimit(name="fire", steam=3.0, reached=False), SupplyLimit(name="grate", steam=3.0))
    )
    assert both.binding.name == "grate"
    assert [made.firing_rate_at_draft(draft) for draft in (50.0, 300.0, 700.0)] == [0.5, 2.0, 3.0]
    for draft in (0.0, -1.0, 700.1):
        with pytest.raises(OutOfRange, match="draft"):
            made.firing_rate_at_draft(draft)
    with pytest.raises(OutOfRange, match="the handbook computes no draft"):
        supply(draft=None).firing_rate_at_draft(10.0)
    with pytest.raises(OutOfRange, match="no temperature of superheated steam"):
        supply(steam_temperature=None).steam_temperature_at(1.0)


def test_a_short_effort_is_of_a_minute_to_an_hour() -> None:
    made = trials.locomotive()
    usual = design_supply(made)
    for seconds in (60.0, 3600.0):
        found = short_efforts(made, usual, duration=seconds, min_pressure_share=0.5)
        gauge = np.array([each.final_pressure for each in found]) - 101325.0
        assert gauge / made.boiler.working_pressure_gauge == pytest.approx([1.0, 0.9, 0.8, 0.7, 0.6, 0.5])
    for seconds in (59.9, 3600.1):
        with pytest.raises(OutOfRange, match="duration"):
            short_efforts(made, usual, duration=seconds)


def test_resistance_of_the_engine_itself() -> None:
    made = trials.locomotive()
    unit = made.engine_units[0]
    assumed = replace(Assumptions(), machine_friction_plain=0.1, machine_friction_roller=0.04)
    assert machine_friction_at_no_effort(made, assumed) == pytest.approx(0.1 * unit.mass_on_drivers)
    rollers = replace(made, mass=140e3, engine_units=(replace(unit, axle_bearing="roller"), unit))
    assert machine_friction_at_no_effort(rollers, assumed) == pytest.approx(0.14 * unit.mass_on_drivers)
    assert full_tender_load(made) == pytest.approx(21e3 + 7e3, rel=2e-3)
    # [Davis1926], lb for each short ton and mile/h: 1.3 + 29/w + 0.03 V + 0.0024 A V²/(w n), w tons for an axle
    carried = 19e3 + 23e3 + 10e3
    axles, pound, ton, mph = 6, 4.4482216, 907.18474, 0.44704
    tons = carried / ton
    weight = tons / axles
    a, b, c = engine_resistance_coefficients(made, 10e3)
    assert a == pytest.approx((1.3 + 29.0 / weight) * tons * pound, rel=1e-3)
    assert b == pytest.approx(0.03 * tons * pound / mph, rel=1e-3)
    assert c == pytest.approx(0.0024 * made.frontal_area / 0.3048**2 * pound / mph**2, rel=1e-3)
