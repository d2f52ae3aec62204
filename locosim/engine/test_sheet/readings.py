"""What locosim computes for the readings of a test sheet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locosim.engine.boiler.by_heat_balance import fuel_or_default, heat_balance_supply
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.map.cached import cycle_map
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.own_resistance import engine_resistance_at_speed
from locosim.frozen import frozen
from locosim.model import Assumptions, Crew, EngineTestRow, Locomotive
from locosim.physics.boiler import limits as supply_limits

# Limits that a forced boiler keeps.
FORCED_LIMITS = (supply_limits.FIRE, supply_limits.FRONT_END)
TEMPERATURE_SCALE = 100.0  # [K] of steam temperature that count as an error of 1


@frozen
class EngineUnderTest:
    """An engine with the supply of its boiler on the fuel of the test sheet, and its map where it is needed.

    Attributes:
        locomotive: The engine.
        assumptions: Assumed figures.
        supply: Steam supply on the fuel of the test sheet.
        map: Performance map; None where only the boiler is asked.
    """

    locomotive: Locomotive
    assumptions: Assumptions
    supply: SteamSupply
    map: PerformanceMap | None = None

    @classmethod
    def of(cls, locomotive: Locomotive, assumptions: Assumptions) -> EngineUnderTest:
        """Compute the boiler of an engine; arguments as the attributes."""
        fuel = fuel_or_default(locomotive, locomotive.test_sheet.fuel)
        supply = heat_balance_supply(locomotive, fuel, Crew(), assumptions)
        return cls(locomotive=locomotive, assumptions=assumptions, supply=supply)

    def with_map(self) -> EngineUnderTest:
        """The same with its performance map."""
        return replace(self, map=cycle_map(self.locomotive, self.assumptions)[0])

    def steam_for(self, row: EngineTestRow) -> float:
        """Evaporation of the boiler in a test, printed or computed [kg/s].

        Raises:
            OutOfRange: A draft that the fire does not need at any firing rate.
        """
        if row.evaporation is not None:
            return row.evaporation
        if row.steam_given:
            return self._at_rate(self.supply.steam, self.firing_rate(row))
        if row.boiler == "sustained":
            return self.supply.sustained
        return min(limit.steam for limit in self.supply.limits if limit.name in FORCED_LIMITS)

    def firing_rate(self, row: EngineTestRow) -> float:
        """Firing rate of a test, printed or computed from its draft or evaporation [kg/s].

        Raises:
            OutOfRange: A draft that the fire does not need at any firing rate.
        """
        if row.firing_rate is not None:
            return row.firing_rate * self.locomotive.boiler.grate_area
        if row.draft is not None:
            return self.supply.firing_rate_at_draft(row.draft)
        return self.supply.firing_rate_for(self.steam_for(row))

    def _at_rate(self, values: np.ndarray, rate: float) -> float:
        return float(np.interp(rate, self.supply.firing_rates, values))

    def cylinder_steam(self, row: EngineTestRow) -> float:
        """Steam to the cylinders in a test [kg/s]: that of the boiler less the auxiliaries."""
        return max(self.steam_for(row) - self.locomotive.auxiliaries.continuous_demand, 0.0)

    def computed(self, row: EngineTestRow, reading: str) -> float:
        """What locosim computes for a reading of a row, in SI.

        Args:
            row: The row.
            reading: Name of the reading.

        Raises:
            OutOfRange: Conditions that the engine does not reach.
        """
        if reading == "evaporation":
            return self._at_rate(self.supply.steam, self.firing_rate(row))
        if reading == "steam_temperature":
            assert self.supply.steam_temperature is not None
            return self._at_rate(self.supply.steam_temperature, self._boiler_rate(row))
        if reading == "draft":
            assert self.supply.draft is not None
            return self._at_rate(self.supply.draft, self._boiler_rate(row))
        effort, steam = self._effort_and_steam(row)
        assert row.speed is not None
        if reading == "steam_rate":
            return steam / (effort * row.speed)
        return (effort if reading == "indicated_power" else self._drawbar_pull(row, effort)) * row.speed

    def _boiler_rate(self, row: EngineTestRow) -> float:
        """Firing rate [kg/s] for what is read at the firing rate or, without it, the evaporation of a row."""
        if row.firing_rate is None and row.evaporation is not None:
            return self.supply.firing_rate_for(row.evaporation)
        return self.firing_rate(row)

    def _effort_and_steam(self, row: EngineTestRow) -> tuple[float, float]:
        """Indicated tractive effort [N] and steam to the cylinders [kg/s] in a test."""
        assert self.map is not None
        assert row.speed is not None
        pressure = self.locomotive.boiler.absolute_pressure
        if row.by_cutoff:
            assert row.cutoff is not None
            at = {"speed": row.speed, "cutoff": row.cutoff, "pressure": pressure}
            return self.map.effort_at(**at), self.map.steam_at(**at)
        effort, _ = self.map.max_effort(speed=row.speed, pressure=pressure, steam=self.cylinder_steam(row))
        return effort, self.map.setting_for(effort=effort, speed=row.speed, pressure=pressure).steam

    def _drawbar_pull(self, row: EngineTestRow, effort: float) -> float:
        """Drawbar pull [N] at an indicated tractive effort: on the road, or of the engine alone on a plant."""
        assert self.map is not None
        assert row.speed is not None
        rim = float(self.map.rim_effort(effort))
        if row.drawbar_basis == "plant":
            return rim
        return rim - engine_resistance_at_speed(self.locomotive, row.speed)


def reading_error(reading: str, computed: float, printed: float) -> float:
    """Computed less printed, as a fraction of the printed; of a steam temperature, of 100 K."""
    return (computed - printed) / (TEMPERATURE_SCALE if reading == "steam_temperature" else printed)


Readings = tuple[tuple[EngineTestRow, str], ...]


def mean_error(engine: EngineUnderTest, readings: Readings) -> float:
    """Mean error of what locosim computes for some readings [1].

    Raises:
        OutOfRange: Conditions that the engine does not reach.
    """
    errors = [
        reading_error(reading, engine.computed(row, reading), getattr(row, reading))
        for row, reading in readings
    ]
    return sum(errors) / len(errors)
