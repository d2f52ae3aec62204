"""Result of a run: `Journey`, with arrays by chainage, stops and closed ledgers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel.arrays import RunArrays
from locosim.journey.ledgers import Ledger, close_ledgers
from locosim.journey.setup.easing import SectionDriving
from locosim.journey.setup.helper_performance import HelperPerformance
from locosim.journey.setup.prepare import PreparedRun
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
    records.ENGINE_SPEED: "speed limit of the engine",
    records.CREW_SPEED: "speed limit of the crew",
    records.MAP_END: "end of the performance map",
}
AT_CEILING = 1.0 - 1e-6  # of the highest speed: less by no more than rounding


@frozen
class StopRecord:
    """Times and supplies at a stop.

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


@frozen(eq=False)
class Journey:
    """A run in n steps between n + 1 nodes, up to where it ended.

    Attributes:
        excursion: The excursion.
        performance: What its engine can do.
        outcome: `arrived`, or what ended the run.
        end_chainage: Chainage where the run ended [m].
        chainage: In the direction of travel, shape (n + 1,) [m].
        grade: Mean sine of the slope under the whole train, shape (n,) [1].
        engine_grade: The same under the engine, shape (n,) [1].
        speed: Shape (n + 1,) [m/s].
        allowed_speed: Speed allowed by limits, stops and the driving plan, shape (n + 1,) [m/s].
        time: Clock time of arrival at each node, shape (n + 1,) [s].
        departure_time: Clock time of leaving each node, shape (n + 1,) [s].
        pressure: Absolute boiler pressure, shape (n + 1,) [Pa].
        boiler_water: Shape (n + 1,) [kg].
        firing: Fuel burned, shape (n + 1,) [kg/s].
        grate_fuel: Fuel on the grate, shape (n + 1,) [kg].
        grate_ash: Ash on the grate, shape (n + 1,) [kg].
        tender_water: On leaving each node, shape (n + 1,) [kg].
        tender_fuel: On leaving each node, shape (n + 1,) [kg].
        effort: Indicated tractive effort at the wheel rim, shape (n,) [N].
        helper_effort: The same of all helpers, shape (n,) [N].
        total_resistance: Machine friction, running resistance, curves and gravity, shape (n,) [N].
        brake: Brake force of the train, shape (n,) [N].
        cutoff: 0 where the throttle is shut, shape (n,) [1].
        throttle: Throttle opening, 0 where it is shut, shape (n,); NaN where it is eased by the handbook, which knows
            no passages [1].
        steam: To the cylinders, shape (n,) [kg/s].
        feed: Shape (n,) [kg/s].
        limit: What limits the effort, a code of `LIMITS`, shape (n,).
        adhesion: Coefficient of adhesion at rest, shape (n,) [1].
        crown_cover: Lowest water level over the crown sheet, shape (n,) [m]; empty without dimensions of the boiler,
            and in a run at full effort, on which no water level is judged.
        glass_reading: Water level above the lowest reading of the glass, shape (n,) [m]; empty likewise.
        starting_demands: Force needed to start at each stop but the last.
        helpers: Helpers.
        helper_active: Which of them is on in each step, shape (helpers, n).
        stops: Stops reached.
        ledgers: Ledgers of the run, all closed.
        transient_boiler: Whether pressure and water were computed along the run.
        driven: Driving of each section between booked stops; empty where the run was not driven to its booked times.
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
    grate_fuel: Floats
    grate_ash: Floats
    tender_water: Floats
    tender_fuel: Floats
    effort: Floats
    helper_effort: Floats
    total_resistance: Floats
    brake: Floats
    cutoff: Floats
    throttle: Floats
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
    driven: tuple[SectionDriving, ...] = ()

    @property
    def ease(self) -> tuple[float, ...]:
        """Ease of the driving in each section between booked stops, 0 for full effort, up to 1."""
        return tuple(section.ease for section in self.driven)

    @property
    def arrived(self) -> bool:
        """Whether the train reached the last stop."""
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
        ledger = next(ledger for ledger in self.ledgers if ledger.name.startswith(name))
        return dict(ledger.entries)[item]

    @property
    def fuel_burned(self) -> float:
        """Fuel burned, stops included [kg]."""
        return -self._ledger_entry("fuel on the grate", "burned")

    @property
    def fuel_fired(self) -> float:
        """Fuel taken from the tender, stops included [kg]."""
        return -self._ledger_entry("fuel in the tender", "fired")

    def taken_en_route(self, what: str) -> float:
        """Water or fuel taken on at stops [kg]; `what` is `water` or `fuel`."""
        ledger = "water [" if what == "water" else "fuel in the tender"
        return self._ledger_entry(ledger, "taken en route")

    @property
    def steam_used(self) -> float:
        """Steam for all purposes [kg]."""
        items = ("steam to the cylinders", "steam to auxiliaries", "safety valves")
        return -sum(self._ledger_entry("water", item) for item in items)

    @property
    def water_used(self) -> float:
        """Water taken from the tender [kg]: the feed, less the exhaust steam returned with it."""
        into_boiler = self._ledger_entry("boiler water", "feed") if self.transient_boiler else self.steam_used
        return into_boiler - self._ledger_entry(
            "water", "exhaust steam returned to the boiler, less pump steam"
        )


def build_journey(prepared: PreparedRun, arrays: RunArrays, *, levels: bool = True) -> Journey:
    """Build the result from the arrays of the kernel, and close its ledgers.

    Args:
        prepared: What was run.
        arrays: What the kernel returned.
        levels: Compute the water level over the crown sheet and in the glass.

    Raises:
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    journey = _journey_without_levels(prepared, arrays)
    return with_levels(journey) if levels else journey


def with_levels(journey: Journey) -> Journey:
    """The run with the water levels in the boiler that its excursion describes."""
    cover, glass_reading = _cover_and_glass(journey)
    return replace(journey, crown_cover=cover, glass_reading=glass_reading)


def _journey_without_levels(prepared: PreparedRun, arrays: RunArrays) -> Journey:
    """The result but for the water levels."""
    n = arrays.last_node
    node, step = arrays.nodes[:, : n + 1], arrays.steps[:, :n]
    chainage = prepared.chainage
    ended = arrays.end_distance + chainage[0] if arrays.status != records.ARRIVED else chainage[-1]
    return Journey(
        excursion=prepared.excursion,
        performance=prepared.performance,
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
        grate_fuel=node[records.GRATE_FUEL],
        grate_ash=node[records.GRATE_ASH],
        tender_water=node[records.WATER_ON_DEPARTURE],
        tender_fuel=node[records.FUEL_ON_DEPARTURE],
        effort=step[records.EFFORT],
        helper_effort=step[records.HELPER_EFFORT],
        total_resistance=step[records.TOTAL_RESISTANCE],
        brake=step[records.BRAKE],
        cutoff=step[records.CUTOFF],
        throttle=step[records.THROTTLE],
        steam=step[records.CYLINDER_STEAM_RATE],
        feed=step[records.FEED],
        limit=_limits_named(prepared, arrays.limit[:n], node[records.ENERGY]),
        adhesion=prepared.line.adhesion[:n],
        crown_cover=np.zeros(0),
        glass_reading=np.zeros(0),
        starting_demands=_demands_after_standing(prepared, node),
        helpers=prepared.helpers,
        helper_active=prepared.helper_active[:, :n],
        stops=_stop_records(prepared, node),
        ledgers=close_ledgers(arrays, prepared.start, transient=prepared.boiler.transient),
        transient_boiler=prepared.boiler.transient,
    )


def _demands_after_standing(prepared: PreparedRun, node: Floats) -> tuple[StartingDemand, ...]:
    """Starting demands by the time stood at each stop; bearings are cold at the first and where none was reached."""
    cooling_time = prepared.excursion.assumptions.bearing_cooling_time
    return tuple(
        demand.after_standing(_time_standing(prepared, node, number), cooling_time)
        if 0 < i < node.shape[1]
        else demand
        for number, (demand, i) in enumerate(
            zip(prepared.starting_demands, prepared.stop_nodes, strict=False)
        )
    )


def _time_standing(prepared: PreparedRun, node: Floats, number: int) -> float:
    """Time for which a train stands at a stop [s]: as booked, so that a late train does not start more easily."""
    stop, i = prepared.excursion.stops[number], prepared.stop_nodes[number]
    if stop.depart is None:
        return float(node[records.DEPART, i] - node[records.ARRIVE, i])
    booked = stop.depart - stop.arrive if stop.arrive is not None else 0.0
    water = node[records.WATER_ON_DEPARTURE, i] - node[records.WATER_ON_ARRIVAL, i]
    fuel = node[records.FUEL_ON_DEPARTURE, i] - node[records.FUEL_ON_ARRIVAL, i]
    taken = ((water, prepared.line.water_rate[i]), (fuel, prepared.line.fuel_rate[i]))
    return max(stop.dwell, booked, *(float(mass / rate) for mass, rate in taken if rate > 0.0), 0.0)


def _limits_named(prepared: PreparedRun, limit: records.Codes, energy: Floats) -> records.Codes:
    """Limits with the one that sets the highest speed of the run, where the train runs at that speed."""
    highest = 0.5 * (AT_CEILING * prepared.ceiling.speed) ** 2
    at_ceiling = (limit == records.AT_ALLOWED_SPEED) & (energy[1:] >= highest)
    return np.where(at_ceiling, prepared.ceiling.limit, limit).astype(np.int8)


def _stop_records(prepared: PreparedRun, node: Floats) -> tuple[StopRecord, ...]:
    """Stops reached."""
    return tuple(
        StopRecord(
            station=stop.station,
            chainage=float(prepared.chainage[i]),
            arrive=float(node[records.ARRIVE, i]),
            depart=float(node[records.DEPART, i]),
            water_on_arrival=float(node[records.WATER_ON_ARRIVAL, i]),
            fuel_on_arrival=float(node[records.FUEL_ON_ARRIVAL, i]),
            water_on_departure=float(node[records.WATER_ON_DEPARTURE, i]),
            fuel_on_departure=float(node[records.FUEL_ON_DEPARTURE, i]),
        )
        for stop, i in zip(prepared.excursion.stops, prepared.stop_nodes, strict=True)
        if i < node.shape[1]
    )


def _cover_and_glass(journey: Journey) -> tuple[Floats, Floats]:
    """Cover of the crown sheet and glass reading in each step, with the tilt of grade and acceleration."""
    excursion = journey.excursion
    water_space = build_water_space(excursion.locomotive.boiler, excursion.assumptions)
    if water_space is None or len(journey.brake) == 0:
        return np.zeros(0), np.zeros(0)
    acceleration = np.diff(0.5 * journey.speed**2) / np.diff(journey.chainage)
    leading = STACK_LEADING if excursion.engine_facing == "stack_first" else STACK_TRAILING
    tilt = surface_tilt(grade=journey.engine_grade, acceleration=acceleration, leading=leading)
    water = 0.5 * (journey.boiler_water[1:] + journey.boiler_water[:-1])
    return cover_and_glass(water_space, water, tilt)
