"""From an excursion to the arrays of the kernel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY, WATER_DENSITY
from locosim.engine.performance import Performance
from locosim.errors import OutOfRange
from locosim.journey.kernel.arrays import Boiler, Engine, Line, Load, Start
from locosim.journey.kernel.boiler_state import BUILD_UP_LAGS
from locosim.journey.setup.boiler import FIRE_LAG, boiler_of, start_of
from locosim.journey.setup.driving_style import Way, drive
from locosim.journey.setup.helper_engines import SPEED_STEP, Assisted, Helper, assisted, helpers_of
from locosim.journey.setup.mesh import envelope, limits_along, node_chainages
from locosim.journey.setup.train_forces import (
    Demand,
    alignment_of,
    consist_length,
    contents_at_start,
    curving_with_contents,
    demand_at_rest,
    engine_ends,
    helper_blocks,
    load_of,
    tender_ends,
    train_blocks,
)
from locosim.model import Excursion, Route
from locosim.physics.traction.adhesion import CONDITIONS
from locosim.physics.types import Floats

STEP = 20.0  # greatest step [m]; tests halve it
DRIFTING_SHARE = 0.02  # steam that keeps cylinders warm and oiled when coasting; common practice, no source
TUNNEL_RAIL = "moist"  # at best, in any weather; common practice, no source
FIRE_CLEANING = 900.0  # time to clean a fire [s]; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """Everything the kernel needs for one run, so that it can be run again at no cost.

    Attributes:
        line: Steps of the line.
        load: What is moved.
        engine: Performance map, rail and assistance.
        boiler: Boiler, fire and feed.
        start: State before the first departure.
        chainage: Of the nodes [m].
        grade: Mean sine of the slope under the whole train in each step [1].
        engine_grade: The same under the engine [1].
        calls: Node of each call.
        demands: What starting takes at each call but the last.
        helpers: Assisting engines.
        helping: Which of them is on in each step, shape (helpers, n).
    """

    line: Line
    load: Load
    engine: Engine
    boiler: Boiler
    start: Start
    chainage: Floats
    grade: Floats
    engine_grade: Floats
    calls: tuple[int, ...]
    demands: tuple[Demand, ...]
    helpers: tuple[Helper, ...]
    helping: npt.NDArray[np.bool_]


def prepare(
    excursion: Excursion, performance: Performance, *, step: float = STEP, live_boiler: bool = False
) -> Prepared:
    """Turn an excursion into the arrays of the kernel.

    Args:
        excursion: What is run.
        performance: What its engine can do.
        step: Greatest distance between nodes [m].
        live_boiler: Carry pressure and water along; without it pressure stays and steam is held to what
            the boiler sustains.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
    """
    line = excursion.line
    places = [line.station(call.station).chainage for call in excursion.calls]
    helpers = helpers_of(excursion)
    length = consist_length(excursion)
    limits = _limits(excursion, performance, helpers, places, length)
    nodes = _nodes(line, places, limits, step)
    middle = 0.5 * (nodes[1:] + nodes[:-1])
    calls = tuple(int(np.argmin(np.abs(nodes - place))) for place in places)
    help_along = assisted(helpers, calls, len(middle))

    alignment = alignment_of(line)
    blocks = train_blocks(excursion)
    gravity = alignment.mean_weight(blocks, middle)
    grade = gravity / (sum(block.mass for block in blocks) * GRAVITY)
    # Curves resist what the tender carries too; it is taken as full, which errs to the heavy side.
    curve = alignment.mean_curving(blocks, middle) * curving_with_contents(
        blocks, contents_at_start(excursion)
    )
    for block, on in zip(helper_blocks(helpers, length), help_along.on, strict=True):
        gravity += on * alignment.mean_weight([block], middle)
        curve += on * alignment.mean_curving([block], middle)
    top = envelope(nodes, limits, places, excursion.criteria.service_deceleration)
    way = Way(nodes=nodes, grade=grade, top=top, stops=places)
    driving = drive(way, excursion.crew, float(performance.map.cutoffs[-1]))
    stopping = _stopping(excursion, nodes, places)
    return Prepared(
        line=Line(
            distance=nodes - nodes[0],
            envelope=driving.aim,
            gravity=gravity,
            grade=alignment.mean_grade(*tender_ends(excursion), middle),
            curve=curve,
            adhesion=_adhesion(excursion, middle),
            steam_share=driving.steam_share,
            cutoff_most=driving.cutoff_most,
            expected=np.full(len(middle), -1.0),
            assist=help_along.row,
            assist_mass=help_along.mass,
            dwell=stopping.dwell,
            cleaning=stopping.cleaning,
            depart=stopping.depart,
            water_rate=stopping.water_rate,
            fuel_rate=stopping.fuel_rate,
        ),
        load=load_of(excursion),
        engine=_engine(performance, help_along),
        boiler=boiler_of(performance, live=live_boiler),
        start=start_of(excursion, performance),
        chainage=nodes,
        grade=grade,
        engine_grade=alignment.mean_grade(*engine_ends(excursion), middle),
        calls=calls,
        demands=_demands(excursion, helpers, places),
        helpers=helpers,
        helping=help_along.on,
    )


def _demands(excursion: Excursion, helpers: Sequence[Helper], places: Sequence[float]) -> tuple[Demand, ...]:
    """What starting takes at each call but the last, with the helpers that are on when leaving it."""
    return tuple(
        demand_at_rest(excursion, [h for h in helpers if h.first <= i < h.last], place)
        for i, place in enumerate(places[:-1])
    )


def _adhesion(excursion: Excursion, middle: Floats) -> Floats:
    """Coefficient of adhesion at rest in each step."""
    adhesion = np.full(len(middle), CONDITIONS[excursion.rail].coefficient)
    for start, end, rail in poor_rails(excursion.line):
        inside = (middle >= start) & (middle <= end)
        adhesion[inside] = np.minimum(adhesion[inside], CONDITIONS[rail].coefficient)
    return adhesion


def poor_rails(line: Route) -> list[tuple[float, float, str]]:
    """Stretches whose rail is at best in a known condition: start [m], end [m], condition.

    A tunnel's rail is damp in any weather (common practice, no source).
    """
    told = [(s.start, s.end, s.rail) for s in line.rail_stretches]
    return [*told, *((tunnel.start, tunnel.end, TUNNEL_RAIL) for tunnel in line.tunnels)]


def rail_at(excursion: Excursion, chainage: float) -> str:
    """Condition of the rail at a place: the worse of the day's and the stretch's."""
    here = [rail for start, end, rail in poor_rails(excursion.line) if start <= chainage <= end]
    return min([excursion.rail, *here], key=lambda rail: CONDITIONS[rail].coefficient)


def _nodes(
    line: Route, places: list[float], limits: Sequence[tuple[float, float, float]], step: float
) -> Floats:
    """Nodes from the first call to the last, breaking at grades, limits, curves and rail stretches."""
    first, last = places[0], places[-1]
    breaks = {first, last, *places}
    for start, end, _ in line.grade_pieces():
        breaks |= {start, end}
    for start, end, _ in limits:
        breaks |= {start, end}
    for curve in line.curves:
        breaks |= {curve.start, curve.end}
    for start, end, _ in poor_rails(line):
        breaks |= {start, end}
    inside = [b for b in breaks if first <= b <= last]
    return node_chainages(inside, places, step)


def _limits(
    excursion: Excursion,
    performance: Performance,
    helpers: Sequence[Helper],
    places: Sequence[float],
    length: float,
) -> tuple[tuple[float, float, float], ...]:
    """Speed limits of line, engines, crew and map; those of assisting engines where they are on."""
    locomotive = excursion.locomotive
    passed = [locomotive.speed_greatest, excursion.crew.speed_greatest]
    if excursion.engine_facing == "tender_first":
        passed.append(locomotive.speed_greatest_tender_first)
    ceiling = min([performance.map.greatest_speed, *(speed for speed in passed if speed is not None)])
    before = sum(h.length for h in helpers if h.place == "front")
    pushing = sum(h.length for h in helpers if h.place == "rear")
    helped = [
        (places[helper.first], places[helper.last], helper.speed_greatest)
        for helper in helpers
        if helper.speed_greatest is not None
    ]
    return (
        *limits_along(excursion.line, ahead=before, behind=length + pushing, ceiling=ceiling),
        *helped,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stopping:
    dwell: Floats
    cleaning: Floats
    depart: Floats
    water_rate: Floats
    fuel_rate: Floats


def _stopping(excursion: Excursion, nodes: Floats, places: list[float]) -> _Stopping:
    """Dwell, earliest departure and filling rates at the nodes where the train stops.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
    """
    dwell, depart = np.full(len(nodes), -1.0), np.full(len(nodes), -np.inf)
    cleaning = np.zeros(len(nodes))
    water_rate, fuel_rate = np.zeros(len(nodes)), np.zeros(len(nodes))
    faults = []
    for number, (call, place) in enumerate(zip(excursion.calls, places, strict=True), start=1):
        i = int(np.argmin(np.abs(nodes - place)))
        station = excursion.line.station(call.station)
        first, last = number == 1, number == len(excursion.calls)
        dwell[i] = 0.0 if first or last else call.dwell
        if call.clean_fire == "yes":
            cleaning[i] = FIRE_CLEANING
            dwell[i] = max(dwell[i], FIRE_CLEANING + BUILD_UP_LAGS * FIRE_LAG)
        if call.depart is not None and not first:
            depart[i] = call.depart
        if call.take_water == "fill":
            water_rate[i] = WATER_DENSITY * station.water_rate
            if station.water_rate == 0.0:
                faults.append(f"calls[{number}].take_water: {call.station} has no water_rate on the route")
        if call.take_fuel == "fill":
            fuel_rate[i] = station.fuel_rate
            if station.fuel_rate == 0.0:
                faults.append(f"calls[{number}].take_fuel: {call.station} has no fuel_rate on the route")
    if faults:
        raise OutOfRange("; ".join(faults))
    return _Stopping(
        dwell=dwell, cleaning=cleaning, depart=depart, water_rate=water_rate, fuel_rate=fuel_rate
    )


def _engine(performance: Performance, help_along: Assisted) -> Engine:
    charts = performance.map
    return Engine(
        grid=charts.grid,
        friction=charts.friction,
        adhesive_weight=performance.adhesive_mass * GRAVITY,
        drifting_steam=DRIFTING_SHARE * performance.supply.sustained,
        assist_speed_step=SPEED_STEP,
        assist_pull=help_along.pull,
        assist_adhesion=help_along.adhesion,
        assist_resistance=help_along.resistance,
        assist_starting=help_along.starting,
        assist_friction=help_along.friction,
    )
