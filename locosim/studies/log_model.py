"""What a model of the excursion says for the readings of a road log: motion, water and fuel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property

import numpy as np

from locosim.constants import WATER_DENSITY
from locosim.engine.boiler.by_method import compute_steam_supply
from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.kernel.logged_steps import FULL_EFFORT, SHUT, UNKNOWN, Codes
from locosim.journey.logged_run import (
    MAX_GAP,
    Flags,
    LaidLog,
    lay_log,
    logged_steam,
    run_as_logged,
    with_full_steam,
)
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.journey.setup.train_forces import train_load
from locosim.model import Excursion
from locosim.model.road_log import RoadLog
from locosim.physics.types import Floats
from locosim.studies.log_constants import FUEL, MOTION, WATER, Constant, with_values

STANDING = 0.3  # speed below which a train stands, for a receiver's speed is never quite 0 [m/s]
MIN_READINGS = 3  # of water or fuel without a break between them; two only show where the count began
REFILL_SHARE = (
    0.03  # of the water carried: a reading that rises by less is off by that much, not a filled tank; ours
)
_BOILER = {"unburned_factor", "heating_value"}
_NEW_ARRAYS = {"car_mass", *_BOILER}  # constants with which the arrays of the line or the boiler are others


@frozen(eq=False)
class Readings:
    """Readings of one kind, in groups that each begin from a level of their own.

    Attributes:
        kind: `motion`, `water` or `fuel`.
        row: Row of the log of each, shape (n,).
        value: Readings, shape (n,) [m/s or m; kg].
        group: Number of the group of each, shape (n,).
        spacing: Time since the reading before in its group, infinite for the first, shape (n,) [s].
    """

    kind: str
    row: Codes
    value: Floats
    group: Codes
    spacing: Floats

    @property
    def group_count(self) -> int:
        """Number of groups."""
        return int(self.group.max(initial=-1)) + 1


class LogModel:
    """The model of an excursion, driven as its log says."""

    def __init__(self, log: RoadLog, excursion: Excursion, performance: Performance) -> None:
        self.excursion = excursion
        self.performance = performance
        self.prepared = with_full_steam(prepare(excursion, performance, transient_boiler=True))
        self.laid = lay_log(log, self.prepared)
        self.readings = tuple(
            found
            for found in (
                _motion_readings(self.laid),
                self._supply_readings(WATER),
                self._supply_readings(FUEL),
            )
            if len(found.row)
        )

    @cached_property
    def full_effort(self) -> bool:
        """Whether the log has stretches at full effort, whose motion depends on the boiler."""
        driving, stretch = self.laid.rows.driving, self.laid.rows.stretch
        return bool(((driving == FULL_EFFORT) & (stretch >= 0)).any())

    def touches(self, constant: Constant, readings: Readings) -> bool:
        """Whether a constant changes what the model says for some readings."""
        if readings.kind == MOTION and MOTION not in constant.readings:
            return self.full_effort
        return readings.kind in constant.readings

    def first_levels(self, readings: Readings) -> Floats:
        """A first estimate of the level from which each group begins: first speed [m/s], or first reading [kg].

        Of places there are two for each stretch: first speeds, then first places.
        """
        first = [int(np.flatnonzero(readings.group == group)[0]) for group in range(readings.group_count)]
        if readings.kind != MOTION:
            return readings.value[first]
        speeds = np.array([self._first_speed(group) for group in range(readings.group_count)])
        return speeds if self.laid.observed == "speed" else np.concatenate([speeds, readings.value[first]])

    def _first_speed(self, group: int) -> float:
        return float(self.laid.speed[np.flatnonzero(self.laid.rows.stretch == group)[0]])

    def predict(self, readings: Readings, values: Mapping[str, float], levels: Floats) -> Floats:
        """What the model says for readings, shape (n,).

        Args:
            readings: The readings.
            values: Values of constants.
            levels: Level from which each group begins, as by `first_levels`.
        """
        prepared = self._prepared(values)
        if readings.kind == MOTION:
            return self._motion(prepared, readings, levels)
        used = self._water_used(prepared) if readings.kind == WATER else self._fuel_used(prepared)
        since_first = used[readings.row] - used[self._first_rows(readings)][readings.group]
        return levels[readings.group] + (since_first if readings.kind == FUEL else -since_first)

    def _first_rows(self, readings: Readings) -> Codes:
        return np.array([readings.row[readings.group == group][0] for group in range(readings.group_count)])

    def _motion(self, prepared: PreparedRun, readings: Readings, levels: Floats) -> Floats:
        count = readings.group_count
        speed, covered = run_as_logged(prepared, self.laid, levels[:count])
        if self.laid.observed == "speed":
            return speed[readings.row]
        return levels[count:][readings.group] + covered[readings.row]

    def _prepared(self, values: Mapping[str, float]) -> PreparedRun:
        """The run with other constants; the arrays of the line are those of the base where nothing weighs more."""
        excursion = with_values(self.excursion, dict(values))
        performance = self._performance(excursion, values)
        if _NEW_ARRAYS.isdisjoint(values):
            engine = self.prepared.engine._replace(
                grid=performance.map.grid,
                friction=performance.map.friction,
                friction_share=performance.map.friction_share,
            )
            return replace(self.prepared, load=train_load(excursion), engine=engine)
        return with_full_steam(prepare(excursion, performance, transient_boiler=True))

    def _performance(self, excursion: Excursion, values: Mapping[str, float]) -> Performance:
        """Performance with other constants.

        Friction and steam change the map in proportion, so it is not computed again; the temperature of the steam,
        which the boiler changes by a degree or two, stays.
        """
        base, assumptions = self.performance, excursion.assumptions
        changed = base.map
        if not {"machine_friction", "machine_friction_share"}.isdisjoint(values):
            changed = replace(
                changed,
                friction=machine_friction_at_no_effort(excursion.locomotive, assumptions),
                friction_share=assumptions.machine_friction_share,
            )
        if "steam_rate_factor" in values:
            steam = np.array(changed.steam)
            steam[:, :, 1:] *= values["steam_rate_factor"] / self._base_steam_rate
            changed = replace(changed, steam=steam)
        supply = base.supply
        if not _BOILER.isdisjoint(values):
            supply = compute_steam_supply(
                excursion.locomotive,
                method=excursion.method,
                fuel=excursion.fuel,
                crew=excursion.crew,
                assumptions=assumptions,
            )
        return replace(
            base, map=changed, supply=supply, locomotive=excursion.locomotive, assumptions=assumptions
        )

    @cached_property
    def _base_steam_rate(self) -> float:
        own = self.excursion.locomotive.steam_passages.steam_rate_factor
        return self.excursion.assumptions.steam_rate_factor if own is None else own

    # Water and fuel.

    @cached_property
    def _standing(self) -> Flags:
        speed = self.laid.speed
        return np.asarray((speed[:-1] < STANDING) & (speed[1:] < STANDING))

    @cached_property
    def _steam_known(self) -> Flags:
        """Whether the steam from each row to the next is known."""
        known = (self.laid.rows.driving[:-1] != UNKNOWN) | self._standing
        return np.asarray(known & (np.diff(self.laid.log.time) <= MAX_GAP))

    def _steam(self, prepared: PreparedRun) -> Floats:
        """Steam for all purposes from each row to the next [kg], shape (n - 1,)."""
        boiler, time = prepared.boiler, np.diff(self.laid.log.time)
        cylinders = np.where(self._standing, 0.0, logged_steam(prepared, self.laid)[:-1])
        shut = self._standing | (self.laid.rows.driving[:-1] == SHUT)
        return np.asarray(
            cylinders + time * (boiler.auxiliary_steam + np.where(shut, boiler.blower_steam, 0.0))
        )

    def _water_used(self, prepared: PreparedRun) -> Floats:
        """Water from the tender since the first row [kg], shape (n,)."""
        used = prepared.boiler.tender_water_ratio * self._steam(prepared)
        return np.concatenate([[0.0], np.cumsum(used)])

    def _fuel_used(self, prepared: PreparedRun) -> Floats:
        """Fuel fired since the first row [kg], shape (n,): what makes the steam and restores the pressure.

        The fire is slower than the throttle: the rate is the mean over twice the time in which the bed is restored.
        """
        boiler, time = prepared.boiler, self.laid.log.time
        seconds = np.diff(time)
        heat = boiler.evaporation_heat * self._steam(prepared) + boiler.radiation_loss * seconds
        total = np.concatenate([[0.0], np.cumsum(heat)])
        half = prepared.excursion.assumptions.bed_recovery_time
        start, end = np.maximum(time[:-1] - half, time[0]), np.minimum(time[1:] + half, time[-1])
        rate = (np.interp(end, time, total) - np.interp(start, time, total)) / (end - start)
        fired = np.interp(rate, boiler.heat_table, boiler.firing_step * np.arange(len(boiler.heat_table)))
        per_heat = np.where(rate > 0.0, fired / np.maximum(rate, 1.0), 0.0)
        stored = self._stored_heat(prepared)
        return np.asarray(np.concatenate([[0.0], np.cumsum(per_heat * (heat + np.diff(stored)))]))

    def _stored_heat(self, prepared: PreparedRun) -> Floats:
        """Heat of boiler water and metal by the pressure of the log, with water at its working level [J]."""
        boiler = prepared.boiler
        temperatures = boiler.first_temperature + boiler.temperature_step * np.arange(
            len(boiler.pressure_table)
        )
        temperature = np.interp(self.laid.rows.pressure, boiler.pressure_table, temperatures)
        liquid = np.interp(temperature, temperatures, boiler.liquid_enthalpy_table)
        return np.asarray(boiler.target_water * liquid + boiler.metal_heat_capacity * temperature)

    def _supply_readings(self, kind: str) -> Readings:
        """Readings of water or fuel, in groups between which the train was refilled or the steam is not known."""
        log = self.laid.log
        noted = log.tender_water if kind == WATER else log.fuel_fired
        rows = np.flatnonzero(np.isfinite(noted))
        breaks = np.concatenate([[0], np.cumsum(~self._steam_known)])
        tank = self.excursion.locomotive.tender.water_capacity + self.excursion.train.water
        refill = REFILL_SHARE * WATER_DENSITY * tank
        groups: list[list[int]] = []
        for row in rows:
            before = groups[-1][-1] if groups else -1
            refilled = kind == WATER and before >= 0 and noted[row] > noted[before] + refill
            if before < 0 or breaks[row] != breaks[before] or refilled:
                groups.append([])
            groups[-1].append(int(row))
        return _grouped(kind, noted, log.time, [group for group in groups if len(group) >= MIN_READINGS])


def _grouped(kind: str, noted: Floats, time: Floats, groups: list[list[int]]) -> Readings:
    row = np.array([row for group in groups for row in group], dtype=int)
    number = np.array([k for k, group in enumerate(groups) for _ in group], dtype=int)
    spacing = np.full(len(row), np.inf)
    same = np.flatnonzero(np.diff(number) == 0) + 1
    spacing[same] = time[row[same]] - time[row[same - 1]]
    return Readings(kind=kind, row=row, value=noted[row], group=number, spacing=spacing)


def _motion_readings(laid: LaidLog) -> Readings:
    """Readings of speed or place in the stretches."""
    noted = laid.log.speed if laid.observed == "speed" else laid.rows.distance
    stretch = laid.rows.stretch
    # The last row of a stretch belongs to it too.
    member = np.maximum(stretch, np.concatenate([[-1], stretch[:-1]]))
    rows = np.flatnonzero(laid.reading)
    groups = [[int(row) for row in rows[member[rows] == k]] for k in range(laid.stretch_count)]
    return _grouped(MOTION, noted, laid.log.time, groups)
