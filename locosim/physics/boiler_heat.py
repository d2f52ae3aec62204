"""Steady heat balance of a locomotive boiler over its firing rate.

The fire releases what it does not waste; the firebox takes heat by radiation from a well-stirred furnace (the
law of Stefan and Boltzmann, solved for the gas that leaves it); tubes and flues take it by convection, with
the coefficient of turbulent flow (Re^0.8) and so a number of transfer units that falls slowly with the
rate; the superheater shares the flues; the rest goes up the chimney. Every term is kept, and the sum is
asserted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locosim.errors import OutOfRange
from locosim.physics import steam
from locosim.physics.combustion import LATENT_HEAT_AT_REFERENCE, Numbers, gas_enthalpy, gas_temperature
from locosim.physics.fuels import FuelProperties, gas_of_fire, unburnt_share

STEFAN_BOLTZMANN = 5.670374e-8  # [W/(m2 K4)], CODATA 2018

# One set for every boiler. The superheater factor was fitted with the unburnt line of `fuels`, to 560 degF
# at a low and 660 at a high rate of a Type A superheater (from memory; taken as 30 and 120 lb/ft2 h),
# standard error 0.06: it holds that elements do not reach the whole length of the flue, and their own
# resistance.
SUPERHEATER_FACTOR = 0.8
FLAME_EMISSIVITY = 0.6  # luminous coal flame and fire bed, 0.5 to 0.8 from memory; not fitted

# Free gas area through tubes and flues over their evaporating surface: the trade's ratio of 1 in 400 (British
# practice of the 1930s and later, from memory). Measured on published tube counts: 1 in 350 to 1 in 410.
FREE_AREA_OVER_SURFACE = 1.0 / 400.0
# Evaporating surface of the flues over the surface of the superheater within them, common practice, no
# source: large flues with four 1.5 in pipes in a 5.25 in flue give about 1.0, small-flue superheaters about
# 1.8.
FLUE_OVER_SUPERHEATER_SURFACE = 1.2
_GREATEST_FLUE_SHARE = 0.9  # some small tubes are always left
TUBE_DIAMETER = 0.05  # [m] inside, where none is given; enters to the power -0.2 only

# 0.023 Pr^0.4 k / mu^0.8 of gas at 900 K (Dittus and Boelter, from memory; k 0.062 W/(m K), mu 3.9e-5 Pa s,
# Pr 0.7)
_TURBULENT = 0.023 * 0.7**0.4 * 0.062 / 3.9e-5**0.8

_ROUNDS = 200
_SETTLED = 1e-13
_CLOSED = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatBalance:
    """Where the heat of the fuel goes, at each firing rate. Heats are rates [W], gross.

    Attributes:
        firing_rate: Fuel fired [kg/s].
        fired: Heat in the fuel fired [W].
        unburnt: Heat never released: sparks, ash pan, unburnt gas [W].
        firebox: Heat taken by the firebox [W].
        tubes: Heat taken by the water round tubes and flues [W].
        superheater: Heat taken by the superheater [W].
        chimney: Sensible heat of the gas in the smokebox, above 298.15 K [W].
        vapour: Latent heat of the water vapour in that gas [W].
        standing: Heat lost by the outside of the boiler [W].
        gas_rate: Gas through the tubes [kg/s].
        flame_temperature: Temperature the gas would have before giving up heat [K].
        firebox_exit_temperature: Temperature of the gas entering the tubes [K].
        smokebox_temperature: Temperature of the gas leaving them [K].
        steam_rate: Steam made [kg/s].
        steam_temperature: Temperature of the steam made [K].
        steam_enthalpy: Enthalpy of the steam made [J/kg].
        feed_enthalpy: Enthalpy of the feed [J/kg].
    """

    firing_rate: Numbers
    fired: Numbers
    unburnt: Numbers
    firebox: Numbers
    tubes: Numbers
    superheater: Numbers
    chimney: Numbers
    vapour: Numbers
    standing: Numbers
    gas_rate: Numbers
    flame_temperature: Numbers
    firebox_exit_temperature: Numbers
    smokebox_temperature: Numbers
    steam_rate: Numbers
    steam_temperature: Numbers
    steam_enthalpy: Numbers
    feed_enthalpy: Numbers

    @property
    def into_steam(self) -> Numbers:
        """Heat between feed and steam [W]."""
        return self.steam_rate * (self.steam_enthalpy - self.feed_enthalpy)

    @property
    def efficiency(self) -> Numbers:
        """Heat into steam over heat fired [1]."""
        return self.into_steam / self.fired

    @property
    def evaporation(self) -> Numbers:
        """Steam made per mass of fuel, from feed to steam as they are [1]."""
        return self.steam_rate / self.firing_rate

    @property
    def equivalent_evaporation(self) -> Numbers:
        """Steam per mass of fuel that the same heat would make from and at 212 degF [1]."""
        return self.into_steam / steam.EVAPORATION_FROM_AND_AT_212F / self.firing_rate

    @property
    def residual(self) -> Numbers:
        """What the balance misses, over the heat fired [1]."""
        spent = self.into_steam + self.unburnt + self.chimney + self.vapour + self.standing
        return (self.fired - spent) / self.fired


def heat_balance(
    *,
    firing_rate: Numbers,
    grate_area: float,
    firebox_surface: float,
    tube_surface: float,
    superheater_surface: float,
    pressure: float,
    feed_temperature: float,
    fuel: FuelProperties,
    standing_loss: float = 0.0,
    free_gas_area: float | None = None,
    tube_diameter: float = TUBE_DIAMETER,
) -> HeatBalance:
    """Steady heat balance of a boiler at each firing rate.

    Air and fuel enter at 298.15 K. Water side resistance, soot and scale are left out but for what the fitted
    factors hold; the walls are at boiling temperature; steam leaves the drum dry.

    Args:
        firing_rate: Fuel fired, each above 0 [kg/s].
        grate_area: Area of the grate [m2].
        firebox_surface: Evaporating surface of the firebox [m2].
        tube_surface: Evaporating surface of tubes and flues [m2].
        superheater_surface: Surface of the superheater; 0 for saturated steam [m2].
        pressure: Absolute pressure in the boiler [Pa].
        feed_temperature: Temperature of the feed as it enters [K].
        fuel: The fuel.
        standing_loss: Heat lost by the outside of the boiler [W].
        free_gas_area: Gas area through tubes and flues; by the rule of 1 in 400 where none is given [m2].
        tube_diameter: Inside diameter of the tubes [m].

    Returns:
        The balance, arrays as long as `firing_rate`.

    Raises:
        OutOfRange: A firing rate of 0 or less, or one too small to make steam.

    References:
        [Dittus1930] for the coefficient in tubes, from memory.
    """
    rate = np.atleast_1d(np.asarray(firing_rate, dtype=float))
    if not np.all(rate > 0.0):
        raise OutOfRange(f"firing rate must be above 0 kg/s, found {float(rate.min()):g}")
    fire = _Fire.of(firing_rate=rate, grate_area=grate_area, fuel=fuel)
    wall = steam.saturation_temperature(pressure=pressure)
    exit_temperature, firebox = _firebox(fire=fire, surface=firebox_surface, wall=wall)
    passes = _Passes.of(
        fire=fire,
        tube_surface=tube_surface,
        superheater_surface=superheater_surface,
        free_gas_area=tube_surface * FREE_AREA_OVER_SURFACE if free_gas_area is None else free_gas_area,
        tube_diameter=tube_diameter,
    )
    feed_enthalpy = steam.enthalpy(pressure=pressure, temperature=feed_temperature)
    evaporation_heat = steam.vapour_enthalpy(pressure=pressure) - feed_enthalpy
    after = _after_tubes(
        passes=passes, entering=exit_temperature, wall=wall, pressure=pressure,
        firebox_net=firebox - standing_loss, evaporation_heat=evaporation_heat,
    )  # fmt: skip
    made = (firebox + after.tubes - standing_loss) / evaporation_heat
    full = np.ones_like(rate)
    result = HeatBalance(
        firing_rate=rate,
        fired=fire.fired,
        unburnt=fire.unburnt,
        firebox=firebox,
        tubes=after.tubes,
        superheater=after.superheater,
        chimney=after.chimney,
        vapour=fire.vapour,
        standing=standing_loss * full,
        gas_rate=fire.gas_rate,
        flame_temperature=gas_temperature(enthalpy=fire.heat, a=fire.a, b=fire.b),
        firebox_exit_temperature=exit_temperature,
        smokebox_temperature=gas_temperature(enthalpy=after.chimney, a=fire.a, b=fire.b),
        steam_rate=made,
        steam_temperature=after.steam_temperature,
        steam_enthalpy=feed_enthalpy + evaporation_heat + after.superheater / made,
        feed_enthalpy=feed_enthalpy * full,
    )
    worst = float(np.max(np.abs(result.residual)))
    assert worst < _CLOSED, f"heat balance of the boiler misses {worst:.1e} of the heat fired"
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fire:
    """Gas and heat the fire gives."""

    fired: Numbers
    unburnt: Numbers
    vapour: Numbers
    heat: Numbers  # sensible heat of the gas before it gives up any
    gas_rate: Numbers
    a: Numbers  # heat coefficients of the gas stream, see combustion.gas_enthalpy
    b: Numbers

    @classmethod
    def of(cls, *, firing_rate: Numbers, grate_area: float, fuel: FuelProperties) -> _Fire:
        grate_rate = firing_rate / grate_area
        lost = unburnt_share(grate_rate=grate_rate, fuel=fuel)
        burnt = firing_rate * (1.0 - lost)
        gas = gas_of_fire(grate_rate=grate_rate, fuel=fuel)
        a, b = gas.heat_coefficients
        fired = firing_rate * fuel.heating_value
        vapour = burnt * gas.water * LATENT_HEAT_AT_REFERENCE
        return cls(
            fired=fired,
            unburnt=fired * lost,
            vapour=vapour,
            heat=fired * (1.0 - lost) - vapour,
            gas_rate=burnt * gas.mass,
            a=burnt * a,
            b=burnt * b,
        )


def _firebox(*, fire: _Fire, surface: float, wall: float) -> tuple[Numbers, Numbers]:
    """Exit temperature [K] and heat [W] of a well-stirred furnace: it radiates at the temperature it leaves
    with.

    Newton from the flame temperature; the function is convex and rising, so the steps go down without
    overshoot.
    """
    strength = FLAME_EMISSIVITY * STEFAN_BOLTZMANN * surface
    temperature = gas_temperature(enthalpy=fire.heat, a=fire.a, b=fire.b)
    for _ in range(_ROUNDS):
        excess = gas_enthalpy(temperature=temperature, a=fire.a, b=fire.b) - fire.heat
        excess = excess + strength * (temperature**4 - wall**4)
        step = excess / (fire.a + fire.b * temperature + 4.0 * strength * temperature**3)
        temperature = temperature - step
        if np.all(np.abs(step) < _SETTLED * temperature):
            break
    return temperature, strength * (temperature**4 - wall**4)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Passes:
    """The two ways through the barrel: small tubes, and flues with the superheater in them.

    Free area, and so gas, divides as the wetted surface does: both ways then offer the same resistance.
    """

    flue_share: float  # of gas [1]
    tube_conductance: Numbers  # coefficient times surface [W/K], small tubes to water
    flue_conductance: Numbers  # flues to water
    element_conductance: Numbers  # flues to steam
    a: Numbers
    b: Numbers

    @classmethod
    def of(
        cls,
        *,
        fire: _Fire,
        tube_surface: float,
        superheater_surface: float,
        free_gas_area: float,
        tube_diameter: float,
    ) -> _Passes:
        flues = min(FLUE_OVER_SUPERHEATER_SURFACE * superheater_surface, _GREATEST_FLUE_SHARE * tube_surface)
        share = (flues + superheater_surface) / (tube_surface + superheater_surface)
        flux = fire.gas_rate / free_gas_area
        coefficient = _TURBULENT * flux**0.8 * tube_diameter**-0.2
        return cls(
            flue_share=share,
            tube_conductance=coefficient * (tube_surface - flues),
            flue_conductance=coefficient * flues,
            element_conductance=coefficient * SUPERHEATER_FACTOR * superheater_surface,
            a=fire.a,
            b=fire.b,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _AfterTubes:
    """What the barrel took, and what is left."""

    tubes: Numbers
    superheater: Numbers
    chimney: Numbers
    steam_temperature: Numbers


def _after_tubes(
    *,
    passes: _Passes,
    entering: Numbers,
    wall: float,
    pressure: float,
    firebox_net: Numbers,
    evaporation_heat: float,
) -> _AfterTubes:
    """Cool the gas in both ways; the steam made and the superheat depend on each other, so go round."""
    share = passes.flue_share
    walls = np.full_like(entering, wall)
    leaving_tubes = _cooled(
        entering=entering, sink=walls, conductance=passes.tube_conductance,
        a=(1.0 - share) * passes.a, b=(1.0 - share) * passes.b,
    )  # fmt: skip
    start = gas_enthalpy(temperature=entering, a=passes.a, b=passes.b)
    left_tubes = (1.0 - share) * gas_enthalpy(temperature=leaving_tubes, a=passes.a, b=passes.b)
    small_tubes = (1.0 - share) * start - left_tubes
    if share == 0.0:
        _must_make_steam(firebox_net + small_tubes)
        return _AfterTubes(
            tubes=small_tubes, superheater=np.zeros_like(start), chimney=left_tubes, steam_temperature=walls
        )
    elements = passes.element_conductance
    both = passes.flue_conductance + elements
    steam_temperature = walls
    for _ in range(_ROUNDS):
        mean_steam = 0.5 * (wall + steam_temperature)
        sink = (passes.flue_conductance * wall + elements * mean_steam) / both
        leaving = _cooled(
            entering=entering, sink=sink, conductance=both, a=share * passes.a, b=share * passes.b
        )
        left_flues = share * gas_enthalpy(temperature=leaving, a=passes.a, b=passes.b)
        given = share * start - left_flues
        superheater = elements / both * given + elements * (sink - mean_steam)
        tubes = small_tubes + given - superheater
        made = (firebox_net + tubes) / evaporation_heat
        _must_make_steam(made)
        before = steam_temperature
        steam_temperature = _superheated(pressure=pressure, heat=superheater / made)
        if np.all(np.abs(steam_temperature - before) < 1e-9):
            break
    return _AfterTubes(
        tubes=tubes, superheater=superheater, chimney=left_tubes + left_flues,
        steam_temperature=steam_temperature
    )  # fmt: skip


def firing_rate_for_steam(*, steam_rate: Numbers, balance: HeatBalance) -> Numbers:
    """Least firing rate that makes this much steam.

    Read by straight lines between the rates of a balance: with 200 rates good to 1e-4. Where a harder fire
    makes no more steam the balance is cut off, so the answer is always on the rising part.

    Args:
        steam_rate: Steam wanted [kg/s].
        balance: A balance over rising firing rates.

    Returns:
        Firing rate [kg/s].

    Raises:
        OutOfRange: Less or more steam than the balance covers.
    """
    wanted = np.asarray(steam_rate, dtype=float)
    top = int(np.argmax(balance.steam_rate)) + 1
    made = balance.steam_rate[:top]
    if not (np.all(wanted >= made[0]) and np.all(wanted <= made[-1])):
        raise OutOfRange(
            f"this fire makes {made[0]:.3f} to {made[-1]:.3f} kg/s of steam, "
            f"found {float(wanted.min()):.3f} to {float(wanted.max()):.3f} wanted"
        )
    return np.asarray(np.interp(wanted, made, balance.firing_rate[:top]), dtype=float)


def _must_make_steam(made: Numbers) -> None:
    if not np.all(made > 0.0):
        raise OutOfRange("a firing rate is too small to make steam: it does not cover the standing loss")


def _cooled(*, entering: Numbers, sink: Numbers, conductance: Numbers, a: Numbers, b: Numbers) -> Numbers:
    """Temperature of gas after a way with one sink temperature, with the mean heat capacity of that way."""
    leaving = sink
    for _ in range(_ROUNDS):
        capacity = a + 0.5 * b * (entering + leaving)
        before = leaving
        leaving = sink + (entering - sink) * np.exp(-conductance / capacity)
        if np.all(np.abs(leaving - before) < _SETTLED * entering):
            break
    return leaving


def _superheated(*, pressure: float, heat: Numbers) -> Numbers:
    """Temperature of dry steam that has taken up this heat [J/kg]."""
    dry = steam.vapour_enthalpy(pressure=pressure)
    return np.array([steam.temperature_at_enthalpy(pressure=pressure, enthalpy=dry + h) for h in heat])
