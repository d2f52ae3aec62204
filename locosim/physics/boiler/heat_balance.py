"""Steady heat balance of a locomotive boiler over its firing rate.

The fire releases the heat of the fuel less the unburned share. The firebox absorbs heat by radiation from a
well-stirred furnace, by the law of Stefan and Boltzmann, solved for the temperature of the gas that leaves it. Tubes
and flues absorb heat by convection with the coefficient of turbulent flow (Re^0.8), so the number of transfer units
falls slowly with the firing rate; the superheater lies in the flues (`gas_passages`). The rest goes up the stack.
The balance has every term, and its sum is asserted.
"""

from __future__ import annotations

import numpy as np

from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.physics.boiler.barrel import Barrel
from locosim.physics.boiler.combustion import LATENT_HEAT_AT_REFERENCE, gas_enthalpy, gas_temperature
from locosim.physics.boiler.fuels import FuelProperties, combustion_gas, unburned_share
from locosim.physics.boiler.gas_passages import STEFAN_BOLTZMANN, barrel_heat, gas_passages, steam_made
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

FLAME_EMISSIVITY = 0.6  # luminous coal flame and fuel bed, 0.5 to 0.8 from memory; not fitted
_MAX_ITERATIONS = 200
_TOLERANCE = 1e-13
_MAX_RESIDUAL = 1e-9


@frozen
class HeatBalance:
    """Heat balance at each firing rate: heat flows [W], gross, in arrays of shape (n,).

    Attributes:
        firing_rate: Fuel fired [kg/s].
        heat_fired: Heat in the fuel fired [W].
        unburned: Heat lost unburned: sparks, ash-pan loss, unburned gas [W].
        firebox: Heat absorbed by the firebox [W].
        tubes: Heat absorbed by the water through tubes and flues [W].
        superheater: Heat absorbed by the superheater [W].
        stack: Sensible heat of the gas in the smokebox, above 298.15 K [W].
        vapor: Latent heat of the water vapor in that gas [W].
        radiation_loss: Heat lost by the outside of the boiler [W].
        gas_rate: Gas through the tubes [kg/s].
        flame_temperature: Temperature of the gas before it gives up heat [K].
        firebox_exit_temperature: Temperature of the gas entering the tubes [K].
        smokebox_temperature: Temperature of the gas leaving the tubes [K].
        steam_rate: Steam made [kg/s].
        steam_temperature: Temperature of the steam made [K].
        steam_enthalpy: Enthalpy of the steam made [J/kg].
        feed_enthalpy: Enthalpy of the feed [J/kg].
    """

    firing_rate: Floats
    heat_fired: Floats
    unburned: Floats
    firebox: Floats
    tubes: Floats
    superheater: Floats
    stack: Floats
    vapor: Floats
    radiation_loss: Floats
    gas_rate: Floats
    flame_temperature: Floats
    firebox_exit_temperature: Floats
    smokebox_temperature: Floats
    steam_rate: Floats
    steam_temperature: Floats
    steam_enthalpy: Floats
    feed_enthalpy: Floats

    @property
    def heat_to_steam(self) -> Floats:
        """Heat absorbed between feed and steam [W]."""
        return self.steam_rate * (self.steam_enthalpy - self.feed_enthalpy)

    @property
    def efficiency(self) -> Floats:
        """Heat into steam over heat fired [1]."""
        return self.heat_to_steam / self.heat_fired

    @property
    def evaporation(self) -> Floats:
        """Steam made per mass of fuel, at the actual feed and steam conditions [1]."""
        return self.steam_rate / self.firing_rate

    @property
    def equivalent_evaporation(self) -> Floats:
        """Equivalent evaporation per mass of fuel, from and at 212 degF [1]."""
        return self.heat_to_steam / steam.EVAPORATION_FROM_AND_AT_212F / self.firing_rate

    @property
    def residual(self) -> Floats:
        """Heat unaccounted for, over the heat fired [1]."""
        accounted = self.heat_to_steam + self.unburned + self.stack + self.vapor + self.radiation_loss
        return (self.heat_fired - accounted) / self.heat_fired


def heat_balance(
    *,
    firing_rate: Floats,
    grate_area: float,
    firebox_surface: float,
    barrel: Barrel,
    pressure: float,
    feed_temperature: float,
    fuel: FuelProperties,
    radiation_loss: float = 0.0,
) -> HeatBalance:
    """Steady heat balance of a boiler at each firing rate.

    Air and fuel enter at 298.15 K. Thermal resistance of the water side, soot and scale is neglected except as far
    as the fitted factors include it; the walls are at boiling temperature; steam leaves the dome dry.

    Args:
        firing_rate: Fuel fired, each above 0, shape (n,) [kg/s].
        grate_area: Area of the grate [m2].
        firebox_surface: Evaporative surface of the firebox [m2].
        barrel: Surfaces and gas areas of tubes, flues and superheater.
        pressure: Absolute pressure in the boiler [Pa].
        feed_temperature: Temperature of the feed as it enters [K].
        fuel: The fuel.
        radiation_loss: Heat lost by the outside of the boiler [W].

    Returns:
        The balance, arrays of shape (n,).

    Raises:
        OutOfRange: A firing rate of 0 or less.
        NoSolution: A firing rate too small to make steam, or a superheater too large.

    References:
        [Dittus1930] for the heat transfer coefficient in tubes, from memory.
    """
    rate = np.atleast_1d(np.asarray(firing_rate, dtype=float))
    if not np.all(rate > 0.0):
        raise OutOfRange(f"firing rate must be above 0 kg/s, found {float(rate.min()):g}")
    fire = _Fire.of(firing_rate=rate, grate_area=grate_area, fuel=fuel)
    wall = steam.saturation_temperature(pressure=pressure)
    exit_temperature, firebox = _firebox(fire=fire, surface=firebox_surface, wall=wall)
    passages = gas_passages(gas_rate=fire.gas_rate, a=fire.a, b=fire.b, barrel=barrel)
    feed_enthalpy = steam.enthalpy(pressure=pressure, temperature=feed_temperature)
    evaporation_heat = steam.vapor_enthalpy(pressure=pressure) - feed_enthalpy
    absorbed = barrel_heat(
        passages=passages,
        entering=exit_temperature,
        wall=wall,
        pressure=pressure,
        other_heat=firebox - radiation_loss,
        evaporation_heat=evaporation_heat,
    )
    made = steam_made(heat=firebox + absorbed.water - radiation_loss, evaporation_heat=evaporation_heat)
    full = np.ones_like(rate)
    result = HeatBalance(
        firing_rate=rate,
        heat_fired=fire.heat_fired,
        unburned=fire.unburned,
        firebox=firebox,
        tubes=absorbed.water,
        superheater=absorbed.superheater,
        stack=absorbed.left,
        vapor=fire.vapor,
        radiation_loss=radiation_loss * full,
        gas_rate=fire.gas_rate,
        flame_temperature=gas_temperature(enthalpy=fire.heat, a=fire.a, b=fire.b),
        firebox_exit_temperature=exit_temperature,
        smokebox_temperature=gas_temperature(enthalpy=absorbed.left, a=fire.a, b=fire.b),
        steam_rate=made,
        steam_temperature=absorbed.steam_temperature,
        steam_enthalpy=feed_enthalpy + evaporation_heat + absorbed.superheater / made,
        feed_enthalpy=feed_enthalpy * full,
    )
    worst = float(np.max(np.abs(result.residual)))
    if not worst < _MAX_RESIDUAL:
        raise ArithmeticError(
            f"heat balance of the boiler does not close: {worst:.1e} of the heat fired is unaccounted for"
        )
    return result


@frozen
class _Fire:
    """Gas and heat released by the fire."""

    heat_fired: Floats
    unburned: Floats
    vapor: Floats
    heat: Floats  # sensible heat of the gas before it gives up any
    gas_rate: Floats
    a: Floats  # heat coefficients of the gas stream, see combustion.gas_enthalpy
    b: Floats

    @classmethod
    def of(cls, *, firing_rate: Floats, grate_area: float, fuel: FuelProperties) -> _Fire:
        firing_rate_per_grate_area = firing_rate / grate_area
        lost = unburned_share(firing_rate_per_grate_area=firing_rate_per_grate_area, fuel=fuel)
        burned = firing_rate * (1.0 - lost)
        gas = combustion_gas(firing_rate_per_grate_area=firing_rate_per_grate_area, fuel=fuel)
        a, b = gas.heat_capacity_coefficients
        fired = firing_rate * fuel.heating_value
        vapor = burned * gas.water * LATENT_HEAT_AT_REFERENCE
        return cls(
            heat_fired=fired,
            unburned=fired * lost,
            vapor=vapor,
            heat=fired * (1.0 - lost) - vapor,
            gas_rate=burned * gas.mass,
            a=burned * a,
            b=burned * b,
        )


def _firebox(*, fire: _Fire, surface: float, wall: float) -> tuple[Floats, Floats]:
    """Exit temperature [K] and heat absorbed [W] of a well-stirred furnace: gas radiates at its exit temperature.

    Newton's method from the flame temperature; the function is convex and rising, so the steps go down without
    overshoot.

    Raises:
        ArithmeticError: No convergence.
    """
    radiation_factor = FLAME_EMISSIVITY * STEFAN_BOLTZMANN * surface
    temperature = gas_temperature(enthalpy=fire.heat, a=fire.a, b=fire.b)
    for _ in range(_MAX_ITERATIONS):
        excess = gas_enthalpy(temperature=temperature, a=fire.a, b=fire.b) - fire.heat
        excess = excess + radiation_factor * (temperature**4 - wall**4)
        step = excess / (fire.a + fire.b * temperature + 4.0 * radiation_factor * temperature**3)
        temperature = temperature - step
        if np.all(np.abs(step) < _TOLERANCE * temperature):
            break
    else:
        raise ArithmeticError(
            f"the temperature of the gas leaving the firebox did not converge in {_MAX_ITERATIONS} iterations"
        )
    return temperature, radiation_factor * (temperature**4 - wall**4)
