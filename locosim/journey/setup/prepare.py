"""Preparation of a run: from an excursion to the arrays of the kernel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY, WATER_DENSITY
from locosim.engine.performance import Performance, drifting_steam
from locosim.frozen import frozen
from locosim.journey.kernel.arrays import (
    CREW_SPEED,
    ENGINE_SPEED,
    MAP_END,
    Boiler,
    Engine,
    InitialState,
    Line,
    Load,
)
from locosim.journey.setup.boiler import build_boiler, fire_rebuilding_time, initial_state
from locosim.journey.setup.driving_style import DrivingPlan, LineAhead, plan_driving
from locosim.journey.setup.helper_performance import (
    HELPER_SPEED_STEP,
    HelperPerformance,
    HelperSchedule,
    build_helpers,
    schedule_helpers,
)
from locosim.journey.setup.mesh import (
    envelope,
    nearest_node,
    node_chainages,
    nodes_between,
    speed_limit_spans,
)
from locosim.journey.setup.train_forces import (
    Block,
    StartingDemand,
    cached_alignment,
    consist_length,
    contents_at_start,
    curve_factor_with_contents,
    engine_span,
    helper_blocks,
    starting_demands,
    tender_span,
    train_blocks,
    train_load,
)
from locosim.model import Excursion, Route
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.physics.types import Floats
from locosim.recent import keep_recent

MAX_STEP = 60.0  # longest step [m]
MIN_LENGTH = 5.0
TUNNEL_RAIL = "moist"  # at best, in any weather; common practice, no source


class Ceiling(NamedTuple):
    """Highest speed of a run on any line, and the code of what sets it."""

    speed: float  # [m/s]
    limit: int


@frozen(eq=False)
class PreparedRun:
    """Input of the kernel for one run, and what the result needs besides.

    Attributes:
        excursion: The excursion.
        performance: What its engine can do.
        line: The line in steps.
        load: Mass and resistance of the train.
        engine: Performance map, adhesion and helpers.
        boiler: Boiler, fire and rules of the crew.
        start: State before the first departure.
        chainage: Of the nodes [m].
        max_energy: Highest v²/2 that limits and stops allow at the nodes [J/kg].
        grade: Mean sine of the slope over the length of the train in each step [1].
        engine_grade: The same under the engine [1].
        stop_nodes: Node of each stop.
        starting_demands: Force needed to start at each stop but the last.
        helpers: Helpers.
        helper_active: Which of them is on in each step, shape (helpers, n).
        ceiling: Highest speed on any line.
    """

    excursion: Excursion
    performance: Performance
    line: Line
    load: Load
    engine: Engine
    boiler: Boiler
    start: InitialState
    chainage: Floats
    max_energy: Floats
    grade: Floats
    engine_grade: Floats
    stop_nodes: tuple[int, ...]
    starting_demands: tuple[StartingDemand, ...]
    helpers: tuple[HelperPerformance, ...]
    helper_active: npt.NDArray[np.bool_]
    ceiling: Ceiling


@frozen(eq=False)
class _Mesh:
    """Nodes of a run, with the highest v²/2 allowed at each."""

    nodes: Floats
    middle: Floats  # of each step
    stops: tuple[float, ...]  # chainages
    stop_nodes: tuple[int, ...]
    max_energy: Floats


@frozen(eq=False)
class _TrackForces:
    """Forces of grade and curve in each step, without those of water and fuel on a grade."""

    gravity: Floats
    curve: Floats
    grade: Floats  # mean sine of the slope over the length of the train without helpers


def prepare(
    excursion: Excursion, performance: Performance, *, step: float = MAX_STEP, transient_boiler: bool = False
) -> PreparedRun:
    """Prepare an excursion for the kernel.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        step: Longest distance between nodes [m]; a shorter train has steps as long as itself, because over its
            length it feels each change of grade and curve.
        transient_boiler: Compute boiler pressure and water along the run; without it pressure is constant and steam
            is limited to the sustained evaporation.
    """
    prepared = _prepare(excursion, performance, step)
    # An equal excursion may have been read from another file.
    return replace(prepared, excursion=excursion, boiler=prepared.boiler._replace(transient=transient_boiler))


@keep_recent(4)
def _prepare(excursion: Excursion, performance: Performance, step: float) -> PreparedRun:
    """Prepare a run once: full effort, booked run and steam need of a check begin from the same arrays."""
    helpers = build_helpers(excursion, performance.maps)
    mesh = _mesh(excursion, performance, helpers, step)
    schedule = schedule_helpers(helpers, mesh.stop_nodes, len(mesh.middle))
    forces = _track_forces(excursion, helpers, schedule, mesh)
    ahead = LineAhead(nodes=mesh.nodes, grade=forces.grade, max_energy=mesh.max_energy, stops=mesh.stops)
    driving = plan_driving(ahead, excursion.crew, float(performance.map.cutoffs[-1]), excursion.assumptions)
    load = train_load(excursion)
    boiler = build_boiler(performance, excursion.crew, excursion.assumptions, transient=False)
    return PreparedRun(
        excursion=excursion,
        performance=performance,
        line=_line(excursion, mesh, forces, driving, schedule, fire_rebuilding_time(boiler)),
        load=load,
        engine=_engine(excursion, performance, schedule),
        boiler=boiler,
        start=initial_state(excursion, performance, boiler),
        chainage=mesh.nodes,
        max_energy=mesh.max_energy,
        grade=forces.grade,
        engine_grade=_mean_grade(excursion.route_as_run, mesh, engine_span(excursion)),
        stop_nodes=mesh.stop_nodes,
        starting_demands=_starting_demands(excursion, helpers, load, mesh.stops),
        helpers=helpers,
        helper_active=schedule.active,
        ceiling=speed_ceiling(excursion, performance),
    )


def _mesh(
    excursion: Excursion, performance: Performance, helpers: Sequence[HelperPerformance], step: float
) -> _Mesh:
    line = excursion.route_as_run
    stops = tuple(line.station(stop.station).chainage for stop in excursion.stops)
    limits = _limits(excursion, performance, helpers, stops)
    step = min(step, max(consist_length(excursion), MIN_LENGTH))
    return _mesh_between(line, stops, limits, step, excursion.criteria.service_deceleration)


@keep_recent(4)
def _mesh_between(
    line: Route,
    stops: tuple[float, ...],
    limits: tuple[tuple[float, float, float], ...],
    step: float,
    deceleration: float,
) -> _Mesh:
    nodes = _nodes(line, stops, limits, step)
    return _Mesh(
        nodes=nodes,
        middle=0.5 * (nodes[1:] + nodes[:-1]),
        stops=stops,
        stop_nodes=tuple(nearest_node(nodes, chainage) for chainage in stops),
        max_energy=envelope(nodes, limits, stops, deceleration),
    )


@keep_recent(8)
def _mean_grade(line: Route, mesh: _Mesh, span: tuple[float, float]) -> Floats:
    """Mean sine of the slope under a part of the train in each step [1], by its distances behind the head [m]."""
    return cached_alignment(line).mean_grade_under(span, mesh.nodes)


def _track_forces(
    excursion: Excursion, helpers: Sequence[HelperPerformance], schedule: HelperSchedule, mesh: _Mesh
) -> _TrackForces:
    line = excursion.route_as_run
    forces = _own_track_forces(line, train_blocks(excursion), contents_at_start(excursion), mesh)
    own_blocks = helper_blocks(helpers, consist_length(excursion))
    gravity, curve, alignment = forces.gravity, forces.curve, cached_alignment(line)
    for block, active in zip(own_blocks, schedule.active, strict=True):
        gravity = gravity + active * alignment.mean_grade_force([block], mesh.nodes)
        curve = curve + active * alignment.mean_curve_force([block], mesh.nodes)
    return _TrackForces(gravity=gravity, curve=curve, grade=forces.grade)


@keep_recent(4)
def _own_track_forces(line: Route, blocks: tuple[Block, ...], contents: float, mesh: _Mesh) -> _TrackForces:
    """Forces of grade and curve on the train without helpers."""
    alignment = cached_alignment(line)
    gravity = alignment.mean_grade_force(blocks, mesh.nodes)
    # Curves resist the load of the tender too; it counts as full, which errs to the heavy side.
    curve = alignment.mean_curve_force(blocks, mesh.nodes) * curve_factor_with_contents(blocks, contents)
    # By length and not by weight: where a climb begins and ends does not depend on the load of the cars.
    span = min(block.front for block in blocks), max(block.rear for block in blocks)
    grade = _mean_grade(line, mesh, span)
    return _TrackForces(gravity=gravity, curve=curve, grade=grade)


def _line(
    excursion: Excursion,
    mesh: _Mesh,
    forces: _TrackForces,
    driving: DrivingPlan,
    schedule: HelperSchedule,
    fire_rebuilding: float,
) -> Line:
    stopping = _stop_arrays(excursion, mesh, fire_rebuilding)
    return Line(
        distance=mesh.nodes - mesh.nodes[0],
        envelope=driving.target_energy,
        shutoff=driving.target_energy,
        gravity=forces.gravity,
        grade=_mean_grade(excursion.route_as_run, mesh, tender_span(excursion)),
        curve=forces.curve,
        adhesion=_adhesion(excursion, mesh.middle),
        steam_share=driving.steam_share,
        max_cutoff=driving.max_cutoff,
        bed_aim=np.full(len(mesh.nodes), -1.0),
        firing_ahead=np.full(len(mesh.nodes), -1.0),
        water_aim=np.full(len(mesh.nodes), -1.0),
        helper_row=schedule.row,
        helper_mass=schedule.mass,
        dwell=stopping.dwell,
        cleaning=stopping.cleaning,
        earliest_departure=stopping.earliest_departure,
        water_rate=stopping.water_rate,
        fuel_rate=stopping.fuel_rate,
    )


def _starting_demands(
    excursion: Excursion, helpers: Sequence[HelperPerformance], load: Load, stops: Sequence[float]
) -> tuple[StartingDemand, ...]:
    """Force needed to start at each stop but the last, with the helpers that are on when leaving it."""
    found: dict[int, StartingDemand] = {}
    on = [tuple(h for h in helpers if h.first_stop <= i < h.last_stop) for i in range(len(stops) - 1)]
    for each in dict.fromkeys(on):
        places = [i for i, active in enumerate(on) if active == each]
        found |= zip(places, starting_demands(excursion, each, load, [stops[i] for i in places]), strict=True)
    return tuple(found[i] for i in range(len(on)))


def _adhesion(excursion: Excursion, middle: Floats) -> Floats:
    """Coefficient of adhesion at rest in each step."""
    factor = excursion.assumptions.adhesion_factor
    adhesion = np.full(len(middle), rail_adhesion_coefficient(condition=excursion.rail))
    for start, end, rail in low_adhesion_spans(excursion.route_as_run):
        inside = nodes_between(middle, start, end)
        adhesion[inside] = np.minimum(adhesion[inside], rail_adhesion_coefficient(condition=rail))
    return factor * adhesion


def low_adhesion_spans(line: Route) -> list[tuple[float, float, str]]:
    """Stretches with a rail condition of their own, tunnels included: start [m], end [m], condition."""
    given = [(s.start, s.end, s.rail) for s in line.rail_condition_zones]
    return [*given, *((tunnel.start, tunnel.end, TUNNEL_RAIL) for tunnel in line.tunnels)]


def rail_condition_at(excursion: Excursion, chainage: float) -> str:
    """Rail condition at a chainage: the worse of that of the day and that of the stretch."""
    here = [
        rail for start, end, rail in low_adhesion_spans(excursion.route_as_run) if start <= chainage <= end
    ]
    return min([excursion.rail, *here], key=lambda rail: rail_adhesion_coefficient(condition=rail))


def adhesion_at(excursion: Excursion, chainage: float) -> float:
    """Coefficient of adhesion at rest at a chainage [1]."""
    coefficient = rail_adhesion_coefficient(condition=rail_condition_at(excursion, chainage))
    return float(excursion.assumptions.adhesion_factor * coefficient)


def _nodes(
    line: Route, stops: Sequence[float], limits: Sequence[tuple[float, float, float]], step: float
) -> Floats:
    """Nodes from the first stop to the last, with breaks at grades, limits, curves and rail conditions."""
    breaks = _fixed_breaks(line) | {*stops, *(at for start, end, _ in limits for at in (start, end))}
    return node_chainages([b for b in breaks if stops[0] <= b <= stops[-1]], stops, step)


@keep_recent(8)
def _fixed_breaks(line: Route) -> frozenset[float]:
    """Breaks of grade, curve and rail condition: they are where they are whatever the train."""
    spans = [
        *((start, end) for start, end, _ in line.grade_segments()),
        *((curve.start, curve.end) for curve in line.curves),
        *((start, end) for start, end, _ in low_adhesion_spans(line)),
    ]
    return frozenset(chainage for span in spans for chainage in span)


def speed_ceiling(excursion: Excursion, performance: Performance) -> Ceiling:
    """Highest speed of engine and crew, whatever the line allows; at most that of the performance map.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
    """
    locomotive = excursion.locomotive
    own = [(locomotive.max_speed, ENGINE_SPEED), (excursion.crew.max_speed, CREW_SPEED)]
    if excursion.engine_facing == "tender_first":
        own.append((locomotive.max_speed_tender_first, ENGINE_SPEED))
    given = [Ceiling(speed, limit) for speed, limit in own if speed is not None]
    return min([*given, Ceiling(performance.map.max_speed, MAP_END)], key=lambda each: each.speed)


def _limits(
    excursion: Excursion,
    performance: Performance,
    helpers: Sequence[HelperPerformance],
    stops: Sequence[float],
) -> tuple[tuple[float, float, float], ...]:
    """Speed limits of line, engine, crew and map, and of helpers where they are on."""
    ceiling = speed_ceiling(excursion, performance).speed
    ahead = sum(h.length for h in helpers if h.place == "front")
    behind = consist_length(excursion) + sum(h.length for h in helpers if h.place == "rear")
    helper_limits = [
        (stops[helper.first_stop], stops[helper.last_stop], helper.max_speed)
        for helper in helpers
        if helper.max_speed is not None
    ]
    return (
        *speed_limit_spans(excursion.route_as_run, ahead=ahead, behind=behind, ceiling=ceiling),
        *helper_limits,
    )


@frozen(eq=False)
class _StopArrays:
    dwell: Floats
    cleaning: Floats
    earliest_departure: Floats
    water_rate: Floats
    fuel_rate: Floats


def _stop_arrays(excursion: Excursion, mesh: _Mesh, fire_rebuilding: float) -> _StopArrays:
    """Dwell, fire cleaning, earliest departure and filling rates at the nodes where the train stops."""
    count = len(mesh.nodes)
    arrays = _StopArrays(
        dwell=np.full(count, -1.0),
        cleaning=np.zeros(count),
        earliest_departure=np.full(count, -np.inf),
        water_rate=np.zeros(count),
        fuel_rate=np.zeros(count),
    )
    assumptions = excursion.assumptions
    for stop, i in zip(excursion.stops, mesh.stop_nodes, strict=True):
        station = excursion.route_as_run.station(stop.station)
        first, last = i == mesh.stop_nodes[0], i == mesh.stop_nodes[-1]
        arrays.dwell[i] = 0.0 if first or last else stop.dwell
        if stop.clean_fire == "yes":
            arrays.cleaning[i] = assumptions.fire_cleaning_time
            arrays.dwell[i] = max(arrays.dwell[i], assumptions.fire_cleaning_time + fire_rebuilding)
        if stop.depart is not None and not first:
            arrays.earliest_departure[i] = stop.depart
        if stop.take_water == "fill":
            arrays.water_rate[i] = WATER_DENSITY * station.water_rate
        if stop.take_fuel == "fill":
            arrays.fuel_rate[i] = station.fuel_rate
    return arrays


def _engine(excursion: Excursion, performance: Performance, schedule: HelperSchedule) -> Engine:
    performance_map = performance.map
    return Engine(
        grid=performance_map.grid,
        friction=performance_map.friction,
        friction_share=performance_map.friction_share,
        adhesive_weight=performance.mass_on_drivers * GRAVITY,
        drifting_steam=drifting_steam(performance.locomotive, excursion.assumptions),
        helper_speed_step=HELPER_SPEED_STEP,
        helper_effort=schedule.effort,
        helper_adhesive_weight=schedule.adhesion,
        helper_resistance=schedule.resistance,
        helper_starting=schedule.starting,
        helper_friction=schedule.friction,
    )
