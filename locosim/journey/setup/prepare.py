"""From an excursion to the arrays of the kernel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY, WATER_DENSITY
from locosim.engine.performance import Performance
from locosim.errors import OutOfRange
from locosim.journey.kernel.arrays import Boiler, Engine, InitialState, Line, Load
from locosim.journey.kernel.boiler_state import FIRE_BUILDUP_LAGS
from locosim.journey.setup.boiler import FIRE_LAG, build_boiler, initial_state
from locosim.journey.setup.driving_style import LineAhead, plan_driving
from locosim.journey.setup.helper_engines import (
    HELPER_SPEED_STEP,
    HelperPerformance,
    HelperSchedule,
    build_helpers,
    schedule_helpers,
)
from locosim.journey.setup.mesh import envelope, node_chainages, speed_limit_spans
from locosim.journey.setup.train_forces import (
    StartingDemand,
    cached_alignment,
    consist_length,
    contents_at_start,
    curve_factor_with_contents,
    engine_span,
    helper_blocks,
    starting_demand,
    tender_span,
    train_blocks,
    train_load,
)
from locosim.model import Excursion, Route
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.physics.types import Floats

MAX_STEP = 20.0  # greatest step [m]; tests halve it
DRIFTING_SHARE = 0.02  # steam that keeps cylinders warm and oiled when coasting; common practice, no source
TUNNEL_RAIL = "moist"  # at best, in any weather; common practice, no source
FIRE_CLEANING = 900.0  # time to clean a fire [s]; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PreparedRun:
    """Everything the kernel needs for one run, so that it can be run again at no cost.

    Attributes:
        line: Steps of the line.
        load: What is moved.
        engine: Performance map, rail and helpers.
        boiler: Boiler, fire and feed.
        start: State before the first departure.
        chainage: Of the nodes [m].
        grade: Mean sine of the slope under the whole train in each step [1].
        engine_grade: The same under the engine [1].
        stops: Node of each call.
        starting_demands: What starting takes at each call but the last.
        helpers: Assisting engines.
        helper_active: Which of them is on in each step, shape (helpers, n).
    """

    line: Line
    load: Load
    engine: Engine
    boiler: Boiler
    start: InitialState
    chainage: Floats
    grade: Floats
    engine_grade: Floats
    stop_nodes: tuple[int, ...]
    starting_demands: tuple[StartingDemand, ...]
    helpers: tuple[HelperPerformance, ...]
    helper_active: npt.NDArray[np.bool_]


def prepare(
    excursion: Excursion, performance: Performance, *, step: float = MAX_STEP, transient_boiler: bool = False
) -> PreparedRun:
    """Turn an excursion into the arrays of the kernel.

    Args:
        excursion: What is run.
        performance: What its engine can do.
        step: Greatest distance between nodes [m].
        transient_boiler: Carry pressure and water along; without it pressure stays and steam is held to what
            the boiler sustains.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
    """
    line = excursion.route_as_run
    stop_chainages = [line.station(stop.station).chainage for stop in excursion.stops]
    helpers = build_helpers(excursion)
    length = consist_length(excursion)
    limits = _limits(excursion, performance, helpers, stop_chainages, length)
    nodes = _nodes(line, stop_chainages, limits, step)
    middle = 0.5 * (nodes[1:] + nodes[:-1])
    stop_nodes = tuple(int(np.argmin(np.abs(nodes - place))) for place in stop_chainages)
    helper_schedule = schedule_helpers(helpers, stop_nodes, len(middle))

    alignment = cached_alignment(line)
    blocks = train_blocks(excursion)
    gravity = alignment.mean_grade_force(blocks, middle)
    grade = gravity / (sum(block.mass for block in blocks) * GRAVITY)
    # Curves resist what the tender carries too; it is taken as full, which errs to the heavy side.
    curve = alignment.mean_curve_force(blocks, middle) * curve_factor_with_contents(
        blocks, contents_at_start(excursion)
    )
    for block, on in zip(helper_blocks(helpers, length), helper_schedule.active, strict=True):
        gravity += on * alignment.mean_grade_force([block], middle)
        curve += on * alignment.mean_curve_force([block], middle)
    max_energy = envelope(nodes, limits, stop_chainages, excursion.criteria.service_deceleration)
    ahead = LineAhead(nodes=nodes, grade=grade, max_energy=max_energy, stops=stop_chainages)
    driving = plan_driving(ahead, excursion.crew, float(performance.map.cutoffs[-1]))
    stopping = _stopping(excursion, nodes, stop_chainages)
    return PreparedRun(
        line=Line(
            distance=nodes - nodes[0],
            envelope=driving.target_energy,
            gravity=gravity,
            grade=alignment.mean_grade(*tender_span(excursion), middle),
            curve=curve,
            adhesion=_adhesion(excursion, middle),
            steam_share=driving.steam_share,
            max_cutoff=driving.max_cutoff,
            forecast_steam=np.full(len(middle), -1.0),
            helper_row=helper_schedule.row,
            helper_mass=helper_schedule.mass,
            dwell=stopping.dwell,
            cleaning=stopping.cleaning,
            earliest_departure=stopping.earliest_departure,
            water_rate=stopping.water_rate,
            fuel_rate=stopping.fuel_rate,
        ),
        load=train_load(excursion),
        engine=_engine(performance, helper_schedule),
        boiler=build_boiler(performance, transient=transient_boiler),
        start=initial_state(excursion, performance),
        chainage=nodes,
        grade=grade,
        engine_grade=alignment.mean_grade(*engine_span(excursion), middle),
        stop_nodes=stop_nodes,
        starting_demands=_starting_demands(excursion, helpers, stop_chainages),
        helpers=helpers,
        helper_active=helper_schedule.active,
    )


def _starting_demands(
    excursion: Excursion, helpers: Sequence[HelperPerformance], stop_chainages: Sequence[float]
) -> tuple[StartingDemand, ...]:
    """What starting takes at each call but the last, with the helpers that are on when leaving it."""
    return tuple(
        starting_demand(excursion, [h for h in helpers if h.first_stop <= i < h.last_stop], place)
        for i, place in enumerate(stop_chainages[:-1])
    )


def _adhesion(excursion: Excursion, middle: Floats) -> Floats:
    """Coefficient of adhesion at rest in each step."""
    adhesion = np.full(len(middle), rail_adhesion_coefficient(condition=excursion.rail))
    for start, end, rail in low_adhesion_spans(excursion.route_as_run):
        inside = (middle >= start) & (middle <= end)
        adhesion[inside] = np.minimum(adhesion[inside], rail_adhesion_coefficient(condition=rail))
    return adhesion


def low_adhesion_spans(line: Route) -> list[tuple[float, float, str]]:
    """Stretches whose rail is at best in a known condition: start [m], end [m], condition.

    A tunnel's rail is damp in any weather (common practice, no source).
    """
    given = [(s.start, s.end, s.rail) for s in line.rail_condition_zones]
    return [*given, *((tunnel.start, tunnel.end, TUNNEL_RAIL) for tunnel in line.tunnels)]


def rail_condition_at(excursion: Excursion, chainage: float) -> str:
    """Condition of the rail at a place: the worse of the day's and the stretch's."""
    here = [
        rail for start, end, rail in low_adhesion_spans(excursion.route_as_run) if start <= chainage <= end
    ]
    return min([excursion.rail, *here], key=lambda rail: rail_adhesion_coefficient(condition=rail))


def _nodes(
    line: Route, stop_chainages: list[float], limits: Sequence[tuple[float, float, float]], step: float
) -> Floats:
    """Nodes from the first call to the last, breaking at grades, limits, curves and rail stretches."""
    first, last = stop_chainages[0], stop_chainages[-1]
    breaks = {first, last, *stop_chainages}
    for start, end, _ in line.grade_segments():
        breaks |= {start, end}
    for start, end, _ in limits:
        breaks |= {start, end}
    for curve in line.curves:
        breaks |= {curve.start, curve.end}
    for start, end, _ in low_adhesion_spans(line):
        breaks |= {start, end}
    inside = [b for b in breaks if first <= b <= last]
    return node_chainages(inside, stop_chainages, step)


def _limits(
    excursion: Excursion,
    performance: Performance,
    helpers: Sequence[HelperPerformance],
    stop_chainages: Sequence[float],
    length: float,
) -> tuple[tuple[float, float, float], ...]:
    """Speed limits of line, engines, crew and map; those of assisting engines where they are on."""
    locomotive = excursion.locomotive
    speed_limits = [locomotive.max_speed, excursion.crew.max_speed]
    if excursion.engine_facing == "tender_first":
        speed_limits.append(locomotive.max_speed_tender_first)
    ceiling = min([performance.map.max_speed, *(speed for speed in speed_limits if speed is not None)])
    before = sum(h.length for h in helpers if h.place == "front")
    behind = sum(h.length for h in helpers if h.place == "rear")
    helper_limits = [
        (stop_chainages[helper.first_stop], stop_chainages[helper.last_stop], helper.max_speed)
        for helper in helpers
        if helper.max_speed is not None
    ]
    return (
        *speed_limit_spans(excursion.route_as_run, ahead=before, behind=length + behind, ceiling=ceiling),
        *helper_limits,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _StopArrays:
    dwell: Floats
    cleaning: Floats
    earliest_departure: Floats
    water_rate: Floats
    fuel_rate: Floats


def _stopping(excursion: Excursion, nodes: Floats, stop_chainages: list[float]) -> _StopArrays:
    """Dwell, earliest departure and filling rates at the nodes where the train stops.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
    """
    dwell, depart = np.full(len(nodes), -1.0), np.full(len(nodes), -np.inf)
    cleaning = np.zeros(len(nodes))
    water_rate, fuel_rate = np.zeros(len(nodes)), np.zeros(len(nodes))
    faults = []
    for number, (stop, place) in enumerate(zip(excursion.stops, stop_chainages, strict=True), start=1):
        i = int(np.argmin(np.abs(nodes - place)))
        station = excursion.route_as_run.station(stop.station)
        first, last = number == 1, number == len(excursion.stops)
        dwell[i] = 0.0 if first or last else stop.dwell
        if stop.clean_fire == "yes":
            cleaning[i] = FIRE_CLEANING
            dwell[i] = max(dwell[i], FIRE_CLEANING + FIRE_BUILDUP_LAGS * FIRE_LAG)
        if stop.depart is not None and not first:
            depart[i] = stop.depart
        if stop.take_water == "fill":
            water_rate[i] = WATER_DENSITY * station.water_rate
            if station.water_rate == 0.0:
                faults.append(f"stops[{number}].take_water: {stop.station} has no water_rate on the route")
        if stop.take_fuel == "fill":
            fuel_rate[i] = station.fuel_rate
            if station.fuel_rate == 0.0:
                faults.append(f"stops[{number}].take_fuel: {stop.station} has no fuel_rate on the route")
    if faults:
        raise OutOfRange("; ".join(faults))
    return _StopArrays(
        dwell=dwell, cleaning=cleaning, earliest_departure=depart, water_rate=water_rate, fuel_rate=fuel_rate
    )


def _engine(performance: Performance, helper_schedule: HelperSchedule) -> Engine:
    performance_map = performance.map
    return Engine(
        grid=performance_map.grid,
        friction=performance_map.friction,
        adhesive_weight=performance.mass_on_drivers * GRAVITY,
        drifting_steam=DRIFTING_SHARE * performance.supply.sustained,
        helper_speed_step=HELPER_SPEED_STEP,
        helper_effort=helper_schedule.effort,
        helper_adhesive_weight=helper_schedule.adhesion,
        helper_resistance=helper_schedule.resistance,
        helper_starting=helper_schedule.starting,
        helper_friction=helper_schedule.friction,
    )
