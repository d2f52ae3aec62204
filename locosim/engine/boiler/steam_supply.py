"""Steam a boiler makes over its firing rate, and the limits on it."""

from __future__ import annotations

import numpy as np

from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Boiler, Crew, Fuel
from locosim.physics.boiler import limits as supply_limits
from locosim.physics.boiler.fuels import FUELS
from locosim.physics.boiler.heat_balance import HeatBalance
from locosim.physics.types import Floats

# Limits by who or what fires, not by what can burn.
FIRING_LIMITS = frozenset({supply_limits.FIREMAN, supply_limits.STOKER, supply_limits.CREW_FIRING})


def max_crew_firing_rates(boiler: Boiler, crew: Crew, assumptions: Assumptions) -> dict[str, float]:
    """Highest firing rate by who or what fires: each limit of `FIRING_LIMITS` that applies [kg/s].

    Args:
        boiler: The boiler, fired by hand, by a stoker or with oil.
        crew: The crew; its own highest firing rate counts if it is given.
        assumptions: Assumed figures; `max_stoker_firing` applies.
    """
    found: dict[str, float] = {}
    if boiler.firing == "hand":
        found[supply_limits.FIREMAN] = supply_limits.MAX_HAND_FIRING
    if boiler.firing == "stoker":
        found[supply_limits.STOKER] = assumptions.max_stoker_firing
    if crew.max_firing is not None:
        found[supply_limits.CREW_FIRING] = crew.max_firing
    return found


@frozen
class SupplyLimit:
    """One limit on the evaporation.

    Attributes:
        name: Name of the limit, in terms of the trade.
        steam: Evaporation it allows; where the limit is not reached, the most the fire makes within the table [kg/s].
        reached: Whether the limit lies within the table of firing rates; nobody fires harder than that.
    """

    name: str
    steam: float
    reached: bool = True


@frozen(eq=False)
class SteamSupply:
    """Evaporation over firing rate, with its limits.

    All arrays have shape (n,), one element per firing rate.

    Attributes:
        method: How it was computed: `handbook`, or `cycle` for the heat balance.
        firing_rates: Fuel fired, evenly spaced from 0 [kg/s].
        steam: Evaporation at working pressure, including steam for the auxiliaries [kg/s].
        heat: Heat to the water: that of the steam plus the radiation loss [W].
        steam_temperature: Steam temperature leaving the boiler [K]; None by the handbook if there is a superheater.
        limits: All limits on the evaporation.
        feed_enthalpy: Heat the feed brings, net of the steam its device uses, per mass the boiler gains [J/kg].
        tender_water_ratio: Water from the tender per mass the boiler gains [1].
        evaporation_heat: Heat from that feed to dry steam at working pressure [J/kg].
        radiation_loss: Heat lost by the outside of the boiler [W].
        heating_value: Gross heating value of the fuel as fired [J/kg].
        saturation_temperature: Saturation temperature at working pressure [K].
        ratings: Evaporation by published rules that do not limit, for comparison.
        balance: Heat balance at each firing rate except the first, 0; None by the handbook.
        draft: Smokebox vacuum the fire requires at each firing rate [Pa]; None by the handbook.
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
        """The lowest limit, which sets the sustained evaporation."""
        return min(self.limits, key=lambda limit: (limit.steam, not limit.reached))

    @property
    def sustained(self) -> float:
        """Sustained evaporation, for all purposes [kg/s]."""
        return self.binding.steam

    @property
    def max_firing(self) -> float:
        """Firing rate at the sustained evaporation [kg/s]."""
        return self.firing_rate_for(self.sustained)

    @property
    def firing_capacity(self) -> float:
        """Most that fireman, stoker or burner can fire [kg/s]; the end of the table where nothing limits it."""
        return self._rate_within(FIRING_LIMITS)

    @property
    def max_burning(self) -> float:
        """Most that grate, draft and heating surface let burn, whoever fires [kg/s]."""
        names = {limit.name for limit in self.limits} - FIRING_LIMITS - {supply_limits.FEED_DEVICES}
        return self._rate_within(frozenset(names))

    def _rate_within(self, names: frozenset[str]) -> float:
        """Lowest firing rate of some limits [kg/s]; the end of the table without any."""
        rates = [self.firing_rate_for(limit.steam) for limit in self.limits if limit.name in names]
        return min(rates, default=self.firing_rate_for(np.inf))

    def firing_rate_for(self, steam: float) -> float:
        """Firing rate that makes a steam rate [kg/s].

        Args:
            steam: Evaporation [kg/s]; beyond the table the last firing rate that makes more steam is returned.
        """
        rising = int(np.argmax(self.steam)) + 1
        return float(np.interp(steam, self.steam[:rising], self.firing_rates[:rising]))

    def firing_rate_at_draft(self, draft: float) -> float:
        """Firing rate at which the fire requires a draft [kg/s].

        Args:
            draft: Smokebox vacuum [Pa].

        Raises:
            OutOfRange: A draft above that of every firing rate of the table, or the handbook method, which has none.
        """
        if self.draft is None:
            raise OutOfRange("the handbook computes no draft; write method = 'cycle'")
        rising = int(np.argmax(self.draft)) + 1
        most = float(self.draft[rising - 1])
        if not 0.0 < draft <= most:
            figures = {"least": 0.0, "most": most, "found": draft}
            raise OutOfRange.by(
                [
                    Fault(
                        "draft",
                        "must be above {least} and at most {most} for this boiler, found {found}",
                        "Pa",
                        figures,
                    )
                ]
            )
        return float(np.interp(draft, self.draft[:rising], self.firing_rates[:rising]))

    def steam_temperature_at(self, steam: Floats | float) -> Floats:
        """Steam temperature at a steam rate [K], of the same shape.

        Args:
            steam: Evaporation [kg/s]; outside the table its end value is returned.

        Raises:
            OutOfRange: Superheated steam by the handbook.
        """
        if self.steam_temperature is None:
            raise OutOfRange("the handbook gives no temperature of superheated steam; write method = 'cycle'")
        rising = int(np.argmax(self.steam)) + 1
        return np.asarray(np.interp(steam, self.steam[:rising], self.steam_temperature[:rising]))


def heating_value(fuel: Fuel) -> float:
    """Gross heating value as fired [J/kg]: as given, or the published value for the kind of fuel."""
    return fuel.heating_value if fuel.heating_value is not None else FUELS[fuel.kind].heating_value
