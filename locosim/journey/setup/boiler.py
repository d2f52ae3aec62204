"""The boiler as the kernel reads it: tables over temperature and firing rate, and its state at the start."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE, STEEL_HEAT_CAPACITY, WATER_DENSITY, ZERO_CELSIUS
from locosim.engine.boiler.stored_heat import metal_mass, working_water
from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import Boiler, Start
from locosim.journey.setup.water_space import boiler_space
from locosim.model import Excursion
from locosim.physics.boiler.losses import VALVE_LIFT_RANGE
from locosim.physics.steam import properties as steam

TEMPERATURES = 200  # nodes of the tables
BELOW_THE_MAP = 0.8  # of its lowest pressure: where the tables begin
FIRE_LAG = 180.0  # between the fireman's hand and the heat [s]; common practice, no source
BLOWER_SHARE = 0.15  # of the greatest firing rate, what the blower adds; common practice, no source
SAFETY_ABOVE = 0.2e5  # valves begin to open this far above working pressure [Pa]; about 3 psi
SAFETY_CAPACITY = 1.2  # of the valves over the sustained steam; common practice, no source
BANKED_SHARE = 0.03  # of the greatest firing rate that is kept in at any time; common practice, no source
DRIVER_FLOOR = (
    0.90  # of working gauge pressure, below which the driver draws less; common practice, no source
)
BARE_SHARE = 0.70  # of the working water at which the crown is taken as bare, where no geometry is given


def boiler_of(performance: Performance, *, live: bool) -> Boiler:
    """Make the tables. The temperatures run from below the map's pressures to above the safety valves.

    Args:
        performance: Engine and supply.
        live: Carry pressure and water along.
    """
    supply, made = performance.supply, performance.locomotive.boiler
    auxiliaries = performance.locomotive.auxiliaries
    working = made.absolute_pressure
    safety = working + SAFETY_ABOVE
    low = steam.saturation_temperature(pressure=BELOW_THE_MAP * float(performance.map.pressures[0]))
    high = steam.saturation_temperature(pressure=safety + 2 * VALVE_LIFT_RANGE)
    temperatures = np.linspace(low, high, TEMPERATURES)
    pressures = np.array([steam.saturation_pressure(temperature=float(t)) for t in temperatures])
    rising = int(np.argmax(supply.heat)) + 1
    water = working_water(made)
    space = boiler_space(made)
    hot = steam.saturation_temperature(pressure=working)
    liquids = np.array([steam.liquid_enthalpy(pressure=float(p)) for p in pressures])
    return Boiler(
        live=live,
        temperature_first=low,
        temperature_step=float(temperatures[1] - temperatures[0]),
        pressure_of=pressures,
        liquid_of=liquids,
        vapour_of=np.array([steam.vapour_enthalpy(pressure=float(p)) for p in pressures]),
        firing_step=float(supply.firing[1]),
        heat_of=np.maximum.accumulate(supply.heat[:rising]),
        fire_lag=FIRE_LAG,
        firing_greatest=supply.firing_greatest,
        firing_least=BANKED_SHARE * supply.firing_greatest,
        blower_firing=BLOWER_SHARE * supply.firing_greatest,
        metal_heat=STEEL_HEAT_CAPACITY * metal_mass(performance.locomotive),
        standing_loss=supply.standing_loss,
        feed_enthalpy=supply.feed_enthalpy,
        tender_over_feed=supply.tender_over_feed,
        feed_greatest=sum(d.rate_greatest for d in performance.locomotive.feed_devices)
        or 2 * supply.sustained,
        working_pressure=working,
        working_temperature=hot,
        working_liquid=float(np.interp(hot, temperatures, liquids)),
        safety_pressure=safety,
        safety_full=safety + VALVE_LIFT_RANGE,
        safety_capacity=SAFETY_CAPACITY * supply.sustained,
        pressure_floor=ATMOSPHERE + DRIVER_FLOOR * made.working_pressure_gauge,
        water_aim=water,
        water_bare=BARE_SHARE * water if space is None else space.bare_water,
        sustained_steam=supply.sustained,
        steam_heat=supply.steam_heat,
        auxiliary_steam=auxiliaries.steady,
        standing_steam=auxiliaries.blower,
    )


def start_of(excursion: Excursion, performance: Performance) -> Start:
    """State before the first departure: working pressure, working level, tender as asked."""
    tender = excursion.locomotive.tender
    made = performance.locomotive.boiler
    temperature = steam.saturation_temperature(pressure=made.absolute_pressure)
    water = working_water(made)
    held = water * steam.liquid_enthalpy(pressure=made.absolute_pressure)
    auxiliary_water = WATER_DENSITY * excursion.train.water
    tank = WATER_DENSITY * tender.water_capacity
    return Start(
        time=excursion.departure,
        heat=held + STEEL_HEAT_CAPACITY * metal_mass(performance.locomotive) * (temperature - ZERO_CELSIUS),
        water=water,
        firing=0.5 * performance.supply.firing_greatest,
        tender_water=tank * excursion.water_at_start + auxiliary_water,
        tender_fuel=tender.fuel_capacity * excursion.fuel_at_start,
        tender_water_full=tank + auxiliary_water,
        tender_fuel_full=tender.fuel_capacity,
    )
