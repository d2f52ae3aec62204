"""One run of an excursion: run, booked, and put into words of the line."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from locosim.engine.performance import Performance
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel import integrate as kernel
from locosim.journey.kernel.arrays import RunArrays
from locosim.journey.ledgers import Ledger, close_ledgers
from locosim.journey.setup.helper_engines import HelperPerformance
from locosim.journey.setup.prepare import MAX_STEP, PreparedRun, prepare
from locosim.journey.setup.train_forces import StartingDemand
from locosim.journey.setup.water_space import build_water_space, cover_and_glass
from locosim.model import Excursion
from locosim.physics.boiler.water_level import STACK_LEADING, STACK_TRAILING, surface_tilt
from locosim.physics.types import Floats

OUTCOMES = {
    records.ARRIVED: "arrived",
    records.STALLED: "stalled",
    records.LOW_PRESSURE: "pressure too low",
    records.OUT_OF_WATER: "out of water",
    records.OUT_OF_FUEL: "out of fuel",
    records.CROWN_UNCOVERED: "crown sheet uncovered",
}
LIMITS = {
    records.AT_ALLOWED_SPEED: "allowed speed",
    records.ADHESION: "adhesion",
    records.CYLINDERS: "cylinders",
    records.STEAM: "steam",
    records.COASTING: "coasting",
    records.BRAKING: "braking",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRecord:
    """A stop as it went.

    Attributes:
        station: Name of the station.
        chainage: In the direction of travel [m].
        arrive: Clock time of arrival [s].
        depart: Clock time of departure [s].
        water_on_arrival: Water on the tender on arrival [kg].
        fuel_on_arrival: Fuel on the tender on arrival [kg].
        water_on_departure: Water on the tender on departure [kg].
        fuel_on_departure: Fuel on the tender on departure [kg].
    """

    station: str
    chainage: float
    arrive: float
    depart: float
    water_on_arrival: float
    fuel_on_arrival: float
    water_on_departure: float
    fuel_on_departure: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Journey:
    """A run, node by node: n steps between n + 1 nodes, cut off where the train came to a stand.

    Attributes:
        excursion: What was run.
        performance: With what the engine could do.
        outcome: `arrived`, or what ended the run.
        end_chainage: Chainage where it ended [m].
        chainage: In the direction of travel, shape (n + 1,) [m].
        grade: Mean sine of the slope under the whole train, shape (n,) [1].
        engine_grade: The same under the engine, shape (n,) [1].
        speed: Shape (n + 1,) [m/s].
        allowed_speed: What limits and stops allow, shape (n + 1,) [m/s].
        time: Clock time of arrival at each node, shape (n + 1,) [s].
        departure_time: Clock time of leaving each node, shape (n + 1,) [s].
        pressure: Absolute boiler pressure, shape (n + 1,) [Pa].
        boiler_water: Shape (n + 1,) [kg].
        firing: Shape (n + 1,) [kg/s].
        tender_water: On leaving each node, shape (n + 1,) [kg].
        tender_fuel: On leaving each node, shape (n + 1,) [kg].
        effort: Indicated pull at the rim, shape (n,) [N].
        helper_effort: Pull of assisting engines, shape (n,) [N].
        total_resistance: Machine friction, running resistance, curves and gravity, shape (n,) [N].
        brake: Brake force of the train, shape (n,) [N].
        cutoff: 0 where the throttle is shut, shape (n,) [1].
        steam: To the cylinders, shape (n,) [kg/s].
        feed: Shape (n,) [kg/s].
        limit: What held the pull, a code of `LIMITS`, shape (n,).
        adhesion: Coefficient at rest on the rail there, shape (n,) [1].
        crown_cover: Least water over the crown sheet, shape (n,) [m]; empty where the boiler has no geometry.
        glass_reading: Water in the glass above its lowest reading, shape (n,) [m]; empty likewise.
        starting_demands: What starting takes at each call but the last.
        helpers: Assisting engines.
        helper_active: Which of them is on in each step, shape (helpers, n).
        stops: Stops reached.
        ledgers: Books of the run, all closed.
        transient_boiler: Whether pressure and water were carried along.
    """

    excursion: Excursion
    performance: Performance
    outcome: str
    end_chainage: float
    chainage: Floats
    grade: Floats
    engine_grade: Floats
    speed: Floats
    allowed_speed: Floats
    time: Floats
    departure_time: Floats
    pressure: Floats
    boiler_water: Floats
    firing: Floats
    tender_water: Floats
    tender_fuel: Floats
    effort: Floats
    helper_effort: Floats
    total_resistance: Floats
    brake: Floats
    cutoff: Floats
    steam: Floats
    feed: Floats
    limit: records.Codes
    adhesion: Floats
    crown_cover: Floats
    glass_reading: Floats
    starting_demands: tuple[StartingDemand, ...]
    helpers: tuple[HelperPerformance, ...]
    helper_active: npt.NDArray[np.bool_]
    stops: tuple[StopRecord, ...]
    ledgers: tuple[Ledger, ...]
    transient_boiler: bool

    @property
    def arrived(self) -> bool:
        """Whether the train reached the last call."""
        return self.outcome == "arrived"

    @property
    def duration(self) -> float:
        """Time from the first departure to the end of the run [s]."""
        return float(self.time[-1] - self.stops[0].depart) if self.stops else 0.0

    @property
    def distance(self) -> float:
        """Distance run [m]."""
        return float(self.end_chainage - self.chainage[0])

    def _ledger_entry(self, name: str, item: str) -> float:
        ledger = next(b for b in self.ledgers if b.name.startswith(name))
        return dict(ledger.entries)[item]

    @property
    def fuel_burned(self) -> float:
        """Fuel burned, standing times among it [kg]."""
        return -self._ledger_entry("fuel", "burned")

    @property
    def steam_used(self) -> float:
        """Steam for all purposes [kg]."""
        items = ("steam to the cylinders", "steam to auxiliaries", "safety valves")
        return -sum(self._ledger_entry("water", item) for item in items)

    @property
    def water_used(self) -> float:
        """Water the tender gave [kg]: for the steam, less exhaust steam fed back, and for what the boiler gained."""
        into_boiler = self._ledger_entry("boiler water", "feed") if self.transient_boiler else self.steam_used
        return into_boiler - self._ledger_entry(
            "water", "exhaust steam returned to the boiler, less pump steam"
        )


def run_prepared(prepared: PreparedRun) -> RunArrays:
    """Run the kernel on prepared arrays."""
    return kernel.run(prepared.line, prepared.load, prepared.engine, prepared.boiler, prepared.start)


def run_journey(
    excursion: Excursion, performance: Performance, *, step: float = MAX_STEP, transient_boiler: bool = False
) -> Journey:
    """Run an excursion once and close its books.

    Args:
        excursion: What is run.
        performance: What its engine can do.
        step: Greatest distance between nodes [m].
        transient_boiler: Carry pressure and water along.

    Raises:
        OutOfRange: The excursion asks for something its route has not.
        ArithmeticError: A book does not close; a fault of locosim.
    """
    prepared = prepare(excursion, performance, step=step, transient_boiler=transient_boiler)
    if transient_boiler:
        prepared = with_firing_forecast(prepared)
    return build_journey(excursion, performance, prepared, run_prepared(prepared))


def with_firing_forecast(prepared: PreparedRun) -> PreparedRun:
    """Let the fireman know the road: run once with steady pressure, and fire for the steam that comes next.

    He fires for the mean over the lag of his fire from now, or from half a lag ahead, whichever is more:
    common practice, no source.
    """
    steady = replace(prepared, boiler=prepared.boiler._replace(transient=False))
    arrays = run_prepared(steady)
    done = arrays.last_node
    arrive, leave = arrays.nodes[records.ARRIVE], arrays.nodes[records.DEPART]
    drawn = arrays.steps[records.CYLINDER_STEAM_RATE]
    used = np.concatenate([[0.0], np.cumsum(drawn * (arrive[1:] - leave[:-1]))])
    lag = prepared.boiler.fire_lag
    now = leave[:-1]
    # Both ends of each stand, so that a stand draws nothing.
    clock = np.column_stack((arrive, leave))[: done + 1].ravel()
    total = np.repeat(used[: done + 1], 2)
    soon = np.interp(now + lag, clock, total) - np.interp(now, clock, total)
    later = np.interp(now + 1.5 * lag, clock, total) - np.interp(now + 0.5 * lag, clock, total)
    forecast_steam = np.maximum(soon, later) / lag
    # Where the steady run did not come to, the fire is kept at what the boiler sustains.
    forecast_steam[done:] = prepared.boiler.sustained_steam
    firing = forecast_steam[0] / prepared.boiler.sustained_steam * prepared.boiler.max_firing
    return replace(
        prepared,
        line=prepared.line._replace(forecast_steam=forecast_steam),
        start=prepared.start._replace(firing=max(firing, prepared.boiler.min_firing)),
    )


def build_journey(
    excursion: Excursion, performance: Performance, prepared: PreparedRun, arrays: RunArrays
) -> Journey:
    """Put a course into words of the line, and close its books."""
    n = arrays.last_node
    node = arrays.nodes[:, : n + 1]
    step = arrays.steps[:, :n]
    chainage = prepared.chainage
    ended = arrays.end_distance + chainage[0] if arrays.status != records.ARRIVED else chainage[-1]
    stops = tuple(
        StopRecord(
            station=stop.station,
            chainage=float(chainage[i]),
            arrive=float(node[records.ARRIVE, i]),
            depart=float(node[records.DEPART, i]),
            water_on_arrival=float(node[records.WATER_ON_ARRIVAL, i]),
            fuel_on_arrival=float(node[records.FUEL_ON_ARRIVAL, i]),
            water_on_departure=float(node[records.WATER_ON_DEPARTURE, i]),
            fuel_on_departure=float(node[records.FUEL_ON_DEPARTURE, i]),
        )
        for stop, i in zip(excursion.stops, prepared.stop_nodes, strict=True)
        if i <= n
    )
    cover, glass_reading = _cover_and_glass(prepared, performance, node, excursion.engine_facing)
    return Journey(
        excursion=excursion,
        performance=performance,
        outcome=OUTCOMES[arrays.status],
        end_chainage=float(ended),
        chainage=chainage[: n + 1],
        grade=prepared.grade[:n],
        engine_grade=prepared.engine_grade[:n],
        speed=np.sqrt(2.0 * node[records.ENERGY]),
        allowed_speed=np.sqrt(2.0 * prepared.line.envelope[: n + 1]),
        time=node[records.ARRIVE],
        departure_time=node[records.DEPART],
        pressure=node[records.PRESSURE],
        boiler_water=node[records.BOILER_WATER],
        firing=node[records.FIRING],
        tender_water=node[records.WATER_ON_DEPARTURE],
        tender_fuel=node[records.FUEL_ON_DEPARTURE],
        effort=step[records.EFFORT],
        helper_effort=step[records.HELPER_EFFORT],
        total_resistance=step[records.TOTAL_RESISTANCE],
        brake=step[records.BRAKE],
        cutoff=step[records.CUTOFF],
        steam=step[records.CYLINDER_STEAM_RATE],
        feed=step[records.FEED],
        limit=arrays.limit[:n],
        adhesion=prepared.line.adhesion[:n],
        crown_cover=cover,
        glass_reading=glass_reading,
        starting_demands=prepared.starting_demands,
        helpers=prepared.helpers,
        helper_active=prepared.helper_active[:, :n],
        stops=stops,
        ledgers=close_ledgers(arrays, prepared.start, transient=prepared.boiler.transient),
        transient_boiler=prepared.boiler.transient,
    )


def _cover_and_glass(
    prepared: PreparedRun, performance: Performance, node: Floats, facing: str
) -> tuple[Floats, Floats]:
    """Cover of the crown sheet and glass in each step, with the tilt of grade and acceleration."""
    water_space = build_water_space(performance.locomotive.boiler, performance.assumptions)
    n = node.shape[1] - 1
    if water_space is None or n == 0:
        return np.zeros(0), np.zeros(0)
    run = np.diff(prepared.chainage[: n + 1])
    acceleration = np.diff(node[records.ENERGY]) / run
    leading = STACK_LEADING if facing == "stack_first" else STACK_TRAILING
    tilt = surface_tilt(grade=prepared.engine_grade[:n], acceleration=acceleration, leading=leading)
    water = 0.5 * (node[records.BOILER_WATER, 1:] + node[records.BOILER_WATER, :-1])
    return cover_and_glass(water_space, water, tilt)
