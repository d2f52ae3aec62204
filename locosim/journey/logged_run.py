"""A road log laid on a line: its stretches in which the effort is known, and the run of the model over them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from locosim.constants import ATMOSPHERE
from locosim.engine.performance import Performance
from locosim.engine.si_text import format_speed
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.journey.kernel.logged_steps import (
    BY_CUTOFF,
    BY_MOTION,
    FULL_EFFORT,
    SHUT,
    UNKNOWN,
    Codes,
    LoggedRows,
    follow_log,
    steam_of_log,
)
from locosim.journey.setup.prepare import PreparedRun
from locosim.model import Excursion
from locosim.model.road_log import RoadLog
from locosim.physics.resistance.starting import BREAKAWAY_SPEED
from locosim.physics.types import Floats

MAX_GAP = 120.0  # longest time between rows over which a setting is taken to hold [s]; ours
MIN_STRETCH = 60.0  # shorter stretches tell less than their first speed takes [s]; ours
MIN_READINGS = 4  # in a stretch, likewise
HALF_WINDOW = 15.0  # about a moment, over which its acceleration is taken [s]; ours
WIDE_OPEN = 0.995  # throttle opening that counts as wide open [1]
CUTOFF_SLACK = 0.005  # beyond the cutoffs of the map, for a reading that was rounded [1]

Flags = npt.NDArray[np.bool_]

# What was done with the time from one row to the next.
USED = "in the fit"
COASTING = "throttle shut, in the fit"
GAP = "gap in the log"
BEYOND = "beyond the stops of the excursion"
BRAKING = "brakes on"
SLOW = "standing or just started"
PARTLY_OPEN = "throttle partly open"
NOT_NOTED = "throttle and cutoff not noted"
OUTSIDE_MAP = "cutoff or pressure outside the performance map"
SHORT = "stretch too short"


@frozen(eq=False)
class LaidLog:
    """A road log on a line; arrays have shape (n,), one element per row of the log.

    Attributes:
        log: The log.
        rows: The same for the kernel.
        speed: As noted; between readings interpolated; from the places where the log gives no speed [m/s].
        observed: What the model is compared with: `speed` or `place`.
        reading: Whether the row has a reading of that in a stretch.
        stretch_count: Number of stretches.
        state: What was done with the time from each row to the next.
        notes: What was assumed.
    """

    log: RoadLog
    rows: LoggedRows
    speed: Floats
    observed: str
    reading: Flags
    stretch_count: int
    state: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def observations(self) -> Floats:
        """Readings that the model is compared with, at the rows that have one [m/s or m]."""
        return (self.log.speed if self.observed == "speed" else self.rows.distance)[self.reading]

    def times_by_state(self) -> dict[str, float]:
        """Time spent in each state [s], longest first."""
        spent: dict[str, float] = {}
        for state, time in zip(self.state, np.diff(self.log.time), strict=False):
            spent[state] = spent.get(state, 0.0) + float(time)
        return dict(sorted(spent.items(), key=lambda item: -item[1]))


def lay_log(log: RoadLog, prepared: PreparedRun) -> LaidLog:
    """Lay a road log on a line.

    Args:
        log: The log.
        prepared: A run of the excursion, prepared.

    Raises:
        OutOfRange: The excursion has helpers, whose effort no log tells, or the log lies beyond its stops.
    """
    excursion = prepared.excursion
    if excursion.helpers:
        raise OutOfRange(
            "the excursion has helper engines, and the log does not tell what they pulled; write helpers = []"
        )
    distance, speed, observed = _places(log, excursion, prepared.chainage[0])
    pressure, notes = _pressures(log, prepared.performance)
    driving = _driving(log)
    length = prepared.chainage[-1] - prepared.chainage[0]
    if not ((distance >= 0.0) & (distance <= length)).any():
        raise OutOfRange(
            "all places of the log lie beyond the first and last stop of the excursion; check the column place, which "
            "is the chainage on the route file, and the stops"
        )
    outside = _outside_map(log, prepared.performance, pressure) & (driving == BY_CUTOFF)
    started = _started_speed(excursion)
    if started < BREAKAWAY_SPEED:
        notes.append(
            f"Nothing runs faster than {format_speed(excursion.permitted_speed)}, so that readings count from "
            f"{format_speed(started)} on, half of it; what a train resists until it has broken away is not in the "
            "model."
        )
    state = _states(log, speed < started, (distance < 0.0) | (distance > length), driving, outside)
    has_reading = np.isfinite(log.speed if observed == "speed" else log.place)
    stretch = _stretches(state, log.time, has_reading)
    inside = np.zeros(len(log.time), dtype=bool)
    inside[:-1] |= stretch[:-1] >= 0
    inside[1:] |= stretch[:-1] >= 0
    # Where the throttle is partly open, the steam is that of the effort which the motion takes; with the brakes on, it
    # is taken as shut.
    unknown = np.where(log.braking, SHUT, BY_MOTION)
    rows = LoggedRows(
        time=log.time,
        distance=np.clip(distance, 0.0, length),
        driving=np.where(driving == UNKNOWN, unknown, driving),
        cutoff=np.nan_to_num(log.cutoff),
        pressure=pressure,
        contents=_contents(log, prepared),
        acceleration=_acceleration(log.time, speed),
        stretch=stretch,
    )
    return LaidLog(
        log=log,
        rows=rows,
        speed=speed,
        observed=observed,
        reading=inside & has_reading,
        stretch_count=int(stretch.max()) + 1,
        state=tuple(state),
        notes=tuple(notes),
    )


def _places(log: RoadLog, excursion: Excursion, first: float) -> tuple[Floats, Floats, str]:
    """Distance from the first stop and speed at each row, and which of the two was noted.

    Between places noted, the train is where its speed takes it, stretched so that the next place fits.
    """
    route = excursion.route
    forward = excursion.direction == "forward"
    place = log.place - first if forward else route.start + (route.end - log.place) - first
    known = np.isfinite(place)
    if np.isfinite(log.speed).sum() < 2:
        distance = np.interp(log.time, log.time[known], place[known])
        return distance, np.gradient(distance, log.time), "place"
    noted = np.isfinite(log.speed)
    speed = np.interp(log.time, log.time[noted], log.speed[noted])
    run = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(log.time))])
    # What the place is ahead of the distance run changes evenly with it from one place noted to the next.
    return run + np.interp(run, run[known], place[known] - run[known]), speed, "speed"


def _pressures(log: RoadLog, performance: Performance) -> tuple[Floats, list[str]]:
    """Absolute boiler pressure at each row [Pa]; the working pressure where the log gives none."""
    known = np.isfinite(log.pressure)
    working = performance.locomotive.boiler.absolute_pressure
    if not known.any():
        note = "The log gives no boiler pressure; the working pressure was assumed."
        return np.full(len(log.time), working), [note]
    return np.interp(log.time, log.time[known], log.pressure[known]) + ATMOSPHERE, []


def _acceleration(time: Floats, speed: Floats) -> Floats:
    """Acceleration from each row to the next [m/s²], over a time in which the noise of the speed hardly counts."""
    middle = time + 0.5 * np.append(np.diff(time), 0.0)
    ahead, behind = np.minimum(middle + HALF_WINDOW, time[-1]), np.maximum(middle - HALF_WINDOW, time[0])
    return np.asarray((np.interp(ahead, time, speed) - np.interp(behind, time, speed)) / (ahead - behind))


def _driving(log: RoadLog) -> Codes:
    """How the engine is worked from each row on, as codes of the kernel."""
    driving = np.full(len(log.time), UNKNOWN, dtype=np.int64)
    shut = log.throttle <= 0.0
    open_wide = log.throttle >= WIDE_OPEN
    with_cutoff = np.isfinite(log.cutoff)
    driving[shut] = SHUT
    driving[open_wide & ~with_cutoff] = FULL_EFFORT
    driving[(open_wide | np.isnan(log.throttle)) & with_cutoff] = BY_CUTOFF
    return driving


def _outside_map(log: RoadLog, performance: Performance, pressure: Floats) -> Flags:
    """Whether the map has no effort for the cutoff and pressure of a row."""
    grid = performance.map
    cutoff = np.nan_to_num(log.cutoff, nan=float(grid.cutoffs[-1]))
    low, high = grid.cutoffs[0] - CUTOFF_SLACK, grid.cutoffs[-1] + CUTOFF_SLACK
    return np.asarray((cutoff < low) | (cutoff > high) | (pressure < grid.pressures[0]))


def _started_speed(excursion: Excursion) -> float:
    """Speed from which a train has started [m/s]: that of breaking away, or half of what is permitted if less."""
    return min(BREAKAWAY_SPEED, 0.5 * excursion.permitted_speed)


def _states(log: RoadLog, slow: Flags, beyond: Flags, driving: Codes, outside: Flags) -> list[str]:
    """What was done with the time from each row to the next; the last row has none."""
    gap = np.diff(log.time) > MAX_GAP
    states = []
    for j in range(len(log.time) - 1):
        if gap[j]:
            states.append(GAP)
        elif beyond[j] or beyond[j + 1]:
            states.append(BEYOND)
        elif slow[j] or slow[j + 1]:
            states.append(SLOW)
        elif log.braking[j]:
            states.append(BRAKING)
        elif driving[j] == UNKNOWN:
            states.append(NOT_NOTED if np.isnan(log.throttle[j]) else PARTLY_OPEN)
        elif outside[j]:
            states.append(OUTSIDE_MAP)
        else:
            states.append(COASTING if driving[j] == SHUT else USED)
    return states


def _stretches(state: list[str], time: Floats, has_reading: Flags) -> Codes:
    """Number of the stretch of each row up to the next; short ones are marked so in `state`."""
    stretch = np.full(len(time), -1, dtype=np.int64)
    number = 0
    for first, last in _runs_of(state):
        readings = np.flatnonzero(has_reading[first : last + 1]) + first
        if len(readings) < MIN_READINGS or time[readings[-1]] - time[readings[0]] < MIN_STRETCH:
            state[first:last] = [SHORT] * (last - first)
            continue
        # What lies before the first reading and after the last one tells nothing.
        stretch[readings[0] : readings[-1]] = number
        number += 1
    return stretch


def _runs_of(state: list[str]) -> Iterator[tuple[int, int]]:
    """First row and last row of each unbroken run of usable time."""
    first = None
    for j, each in enumerate([*state, GAP]):
        usable = each in (USED, COASTING)
        if usable and first is None:
            first = j
        elif not usable and first is not None:
            yield first, j
            first = None


def _contents(log: RoadLog, prepared: PreparedRun) -> Floats:
    """Water and fuel carried at each row [kg]; as at the start of the excursion where the log gives none."""
    start = prepared.start
    water, fuel = np.isfinite(log.tender_water), np.isfinite(log.fuel_fired)
    carried = np.full(len(log.time), start.tender_water + start.tender_fuel)
    if water.any():
        carried += np.interp(log.time, log.time[water], log.tender_water[water]) - start.tender_water
    if fuel.any():
        carried -= np.interp(log.time, log.time[fuel], log.fuel_fired[fuel])
    return np.asarray(np.maximum(carried, 0.0))


def run_as_logged(prepared: PreparedRun, laid: LaidLog, first_speed: Floats) -> tuple[Floats, Floats]:
    """Run the model as a log says.

    Args:
        prepared: A run of the excursion, prepared.
        laid: The log on the line.
        first_speed: Speed at the start of each stretch [m/s].

    Returns:
        Speed [m/s], and distance covered since the stretch began [m], at each row; NaN outside stretches.
    """
    return follow_log(prepared.line, prepared.load, prepared.engine, prepared.boiler, laid.rows, first_speed)


def logged_steam(prepared: PreparedRun, laid: LaidLog) -> Floats:
    """Steam to the cylinders from each row to the next [kg], at the speed of the log; 0 where it is not known."""
    return steam_of_log(prepared.line, prepared.load, prepared.engine, prepared.boiler, laid.rows, laid.speed)


def with_full_steam(prepared: PreparedRun) -> PreparedRun:
    """The run with the steam that the crew is allowed everywhere, for the full effort of a log."""
    share = min(prepared.excursion.crew.steam_allowance, 1.0)
    return replace(
        prepared, line=prepared.line._replace(steam_share=np.full(len(prepared.line.grade), share))
    )
