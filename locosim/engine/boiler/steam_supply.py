"""What the boiler keeps up, by which limit, and what it burns for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locosim.constants import BTU_PER_POUND, POUND_PER_SQUARE_FOOT_HOUR
from locosim.errors import OutOfRange
from locosim.model import Crew, Fuel, Locomotive
from locosim.physics.boiler import evaporation
from locosim.physics.boiler import limits as supply_limits
from locosim.physics.boiler.fuels import FUELS, scaled_to_heating_value
from locosim.physics.boiler.heat_balance import HeatBalance
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

MAX_GRATE_RATE = 220 * POUND_PER_SQUARE_FOOT_HOUR  # [kg/(m2 s)], end of the handbook's table
RATE_STEPS = 110  # steps of it
FEED_TEMPERATURE = 288.15  # water in the tender [K]
# Of the coal the grate limit and the evaporation line are for: "good coal 13500+ Btu/lb" [Trainorders4728623].
REFERENCE_HEATING_VALUE = 13500.0 * BTU_PER_POUND


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyLimit:
    """Something that bounds the steam, and where.

    Attributes:
        name: What bounds it, in the trade's words.
        steam: Steam it allows; of a limit that is not reached, the most the fire makes within the table [kg/s].
        reached: Whether the limit lies within the table of firing rates; beyond it nobody fires.
    """

    name: str
    steam: float
    reached: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SteamSupply:
    """Steam over firing rate, with all that limits it.

    Attributes:
        method: How it was computed: `handbook`, or `cycle` by the heat balance.
        firing_rates: Fuel fired, evenly spaced from 0 [kg/s].
        steam: Steam made at working pressure, auxiliaries among it [kg/s].
        heat: Heat to the water: that of the steam, and the standing loss [W].
        steam_temperature: Temperature of the steam as it leaves the boiler [K]; None where there is a superheater
            and the handbook says nothing of it.
        limits: Everything that bounds the steam.
        feed_enthalpy: Heat the feed brings net of what the boiler gave for it [J/kg].
        tender_water_ratio: Water from the tender for each mass the boiler gains [1].
        evaporation_heat: Heat a kilogram takes between that feed and dry steam at working pressure [J/kg].
        radiation_loss: Heat lost by the outside [W].
        heating_value: Gross heating value of the fuel as fired [J/kg].
        saturation_temperature: Of the water at working pressure [K].
        ratings: Steam by published rules that does not bind, for comparison.
        balance: Where the heat goes at each firing rate but the first, 0; None by the handbook.
        draft: Vacuum the fire asks of the smokebox at each firing rate [Pa]; None by the handbook.
    """

    method: str
    firing_rates: Floats
    steam: Floats
    heat: Floats
    steam_temperature: Floats | None
    limits: tuple[SupplyLimit, ...]
    feed_enthalpy: float
    tender_water_ratio: float
    evaporation_heat: float
    radiation_loss: float
    heating_value: float
    saturation_temperature: float
    ratings: tuple[SupplyLimit, ...] = ()
    balance: HeatBalance | None = None
    draft: Floats | None = None

    @property
    def binding(self) -> SupplyLimit:
        """The limit that holds the boiler back."""
        return min(self.limits, key=lambda limit: (limit.steam, not limit.reached))

    @property
    def sustained(self) -> float:
        """Steam for all purposes the boiler keeps up [kg/s]."""
        return self.binding.steam

    @property
    def max_firing(self) -> float:
        """Firing rate that makes the sustained steam [kg/s]."""
        return self.firing_rate_for(self.sustained)

    def firing_rate_for(self, steam: float) -> float:
        """Fuel that makes a steam rate [kg/s]; steam in kg/s, held at the top of the table."""
        rising = int(np.argmax(self.steam)) + 1
        return float(np.interp(steam, self.steam[:rising], self.firing_rates[:rising]))

    def steam_temperature_at(self, steam: Floats | float) -> Floats:
        """Temperature of the steam at a steam rate [K]; steam in kg/s, held at the ends of the table.

        Raises:
            OutOfRange: Superheated steam by the handbook.
        """
        if self.steam_temperature is None:
            raise OutOfRange("the handbook does not say how hot superheated steam is; write method = 'cycle'")
        rising = int(np.argmax(self.steam)) + 1
        return np.asarray(np.interp(steam, self.steam[:rising], self.steam_temperature[:rising]))


def heating_value(fuel: Fuel) -> float:
    """Gross heating value as fired: the one given, or the published one of the kind [J/kg]."""
    return fuel.heating_value if fuel.heating_value is not None else FUELS[fuel.kind].heating_value


def handbook_supply(locomotive: Locomotive, fuel: Fuel, crew: Crew) -> SteamSupply:
    """Steam supply by the handbook.

    Evaporation per coal falls with the firing rate [Bruce1952]; it is scaled with the heating value against
    good coal of 13,500 Btu/lb. Limits: the grate (for coal 120 lb per square foot and hour [Cole1914]), the
    whole evaporating surface at 57 kg/(m² h) [GermanRules], the fireman's 3,000 lb an hour where he fires by
    hand, the stoker's 25,000, what the crew says it can fire, and all feed devices together.

    Args:
        locomotive: The engine.
        fuel: What is burned.
        crew: Who fires it.

    Raises:
        OutOfRange: A heating value the kind of fuel cannot have.
    """
    boiler = locomotive.boiler
    grate = boiler.grate_area
    fuel_properties = scaled_to_heating_value(fuel=FUELS[fuel.kind], heating_value=heating_value(fuel))
    heating_value_ratio = fuel_properties.heating_value / REFERENCE_HEATING_VALUE
    rates = np.linspace(0.0, MAX_GRATE_RATE, RATE_STEPS + 1)
    made = (
        grate
        * rates
        * evaporation.evaporation_per_coal(firing_rate_per_grate_area=rates)
        * heating_value_ratio
    )
    firing = rates * grate

    def by_firing(name: str, rate: float) -> SupplyLimit:
        steam_made = float(np.interp(rate, firing, made))
        return SupplyLimit(name=name, steam=steam_made, reached=rate < float(firing[-1]))

    surface = evaporation.surface_evaporation(evaporative_heating_surface=boiler.evaporative_heating_surface)
    limits = [
        by_firing(supply_limits.GRATE, fuel_properties.grate_limit * grate),
        SupplyLimit(name=supply_limits.HEATING_SURFACE, steam=float(surface)),
    ]
    if boiler.firing == "hand":
        limits.append(by_firing(supply_limits.FIREMAN, supply_limits.MAX_HAND_FIRING))
    if boiler.firing == "stoker":
        limits.append(by_firing(supply_limits.STOKER, supply_limits.MAX_STOKER_FIRING))
    if crew.max_firing is not None:
        limits.append(by_firing(supply_limits.CREW_FIRING, crew.max_firing))
    if locomotive.feed_devices:
        feed_rates = [device.max_rate for device in locomotive.feed_devices]
        limits.append(
            SupplyLimit(name=supply_limits.FEED_DEVICES, steam=supply_limits.feed_limit(rates=feed_rates))
        )
    pressure = boiler.absolute_pressure
    feed = steam.enthalpy(pressure=pressure, temperature=FEED_TEMPERATURE)
    dry = steam.vapor_enthalpy(pressure=pressure)
    boiling = steam.saturation_temperature(pressure=pressure)
    return SteamSupply(
        method="handbook",
        firing_rates=firing,
        steam=made,
        heat=made * (dry - feed),
        steam_temperature=np.full_like(firing, boiling) if boiler.superheater is None else None,
        limits=tuple(limits),
        feed_enthalpy=feed,
        tender_water_ratio=1.0,
        evaporation_heat=dry - feed,
        # The published evaporation per coal has the losses of the boiler in it.
        radiation_loss=0.0,
        heating_value=fuel_properties.heating_value,
        saturation_temperature=boiling,
    )
