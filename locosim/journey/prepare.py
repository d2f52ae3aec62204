"""From an excursion to the arrays of the kernel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locosim.constants import ATMOSPHERE, GRAVITY
from locosim.errors import OutOfRange
from locosim.journey import records
from locosim.journey.driving import Way, drive
from locosim.journey.forces import Alignment, load_of, train_blocks
from locosim.journey.nodes import envelope, limits_along, node_chainages
from locosim.journey.records import Boiler, Engine, Line, Start
from locosim.model import Excursion, Route
from locosim.performance.engine import Performance
from locosim.physics import steam
from locosim.physics.adhesion import CONDITIONS
from locosim.physics.real import Floats

STEP = 20.0  # greatest step [m]; tests halve it
FIRE_LAG = 180.0  # between the fireman's hand and the heat [s]; common practice, no source
DRIFTING_SHARE = 0.02  # steam that keeps cylinders warm and oiled when coasting; common practice, no source
SAFETY_ABOVE = 0.2e5  # valves begin to open this far above working pressure [Pa]; about 3 psi
BANKED_SHARE = 0.03  # fire that is kept in at any time; common practice, no source
METAL_HEAT = 490.0  # [J/(kg K)], boiler steel near 200 degC, from memory


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """Everything the kernel needs for one run, so that it can be run again at no cost."""

    line: Line
    load: records.Load
    engine: Engine
    boiler: Boiler
    start: Start
    chainage: Floats
    grade: Floats
    calls: tuple[int, ...]


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
    """
    line = excursion.line
    places = [line.station(call.station).chainage for call in excursion.calls]
    nodes = _nodes(excursion, line, places, step)
    middle = 0.5 * (nodes[1:] + nodes[:-1])
    locomotive = excursion.locomotive
    blocks = train_blocks(locomotive, excursion.train)
    mass = sum(block.mass for block in blocks)
    alignment = Alignment(line)
    gravity = alignment.mean_weight(blocks, middle)
    top = envelope(nodes, _limits(excursion, performance), places, excursion.criteria.service_deceleration)
    way = Way(nodes=nodes, grade=gravity / (mass * GRAVITY), top=top, stops=places)
    driving = drive(way, excursion.crew, float(performance.map.cutoffs[-1]))
    rear = max(locomotive.length + locomotive.tender.length, 1.0)
    front = locomotive.length if locomotive.tender.length > 0 else 0.0
    stopping = _stopping(excursion, nodes, places)
    adhesion = np.full(len(middle), CONDITIONS[excursion.rail].coefficient)
    for stretch in line.rail_stretches:
        inside = (middle >= stretch.start) & (middle <= stretch.end)
        adhesion[inside] = CONDITIONS[stretch.rail].coefficient
    return Prepared(
        line=Line(
            distance=nodes - nodes[0],
            envelope=top,
            gravity=gravity,
            grade=alignment.mean_grade(front, rear, middle),
            curve=alignment.mean_curving(blocks, middle),
            adhesion=adhesion,
            steam_share=driving.steam_share,
            cutoff_most=driving.cutoff_most,
            expected=np.full(len(middle), -1.0),
            assist=np.full(len(middle), -1, dtype=np.int8),
            dwell=stopping.dwell,
            depart=stopping.depart,
            water_rate=stopping.water_rate,
            fuel_rate=stopping.fuel_rate,
        ),
        load=load_of(excursion),
        engine=_engine(performance),
        boiler=_boiler(performance, live=live_boiler),
        start=_start(excursion, performance),
        chainage=nodes,
        grade=way.grade,
        calls=tuple(int(np.argmin(np.abs(nodes - place))) for place in places),
    )


def _nodes(excursion: Excursion, line: Route, places: list[float], step: float) -> Floats:
    """Nodes from the first call to the last, breaking at grades, limits, curves and rail stretches."""
    first, last = places[0], places[-1]
    length = _length(excursion)
    breaks = {first, last, *places}
    for start, end, _ in line.grade_pieces():
        breaks |= {start, end}
    for start, end, _ in limits_along(line, length, np.inf):
        breaks |= {start, end}
    for curve in line.curves:
        breaks |= {curve.start, curve.end}
    for rail in line.rail_stretches:
        breaks |= {rail.start, rail.end}
    inside = [b for b in breaks if first <= b <= last]
    return node_chainages(inside, places[:-1], step)


def _length(excursion: Excursion) -> float:
    """Length of the whole train [m]."""
    return excursion.locomotive.length + excursion.locomotive.tender.length + excursion.train.length


def _limits(excursion: Excursion, performance: Performance) -> tuple[tuple[float, float, float], ...]:
    """Speed limits of line, engine, crew and map."""
    ceilings = [performance.map.greatest_speed]
    ceilings += [
        s for s in (excursion.locomotive.speed_greatest, excursion.crew.speed_greatest) if s is not None
    ]
    return limits_along(excursion.line, _length(excursion), min(ceilings))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stopping:
    dwell: Floats
    depart: Floats
    water_rate: Floats
    fuel_rate: Floats


def _stopping(excursion: Excursion, nodes: Floats, places: list[float]) -> _Stopping:
    """Dwell, earliest departure and filling rates at the nodes where the train stops.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
    """
    dwell, depart = np.full(len(nodes), -1.0), np.full(len(nodes), -np.inf)
    water_rate, fuel_rate = np.zeros(len(nodes)), np.zeros(len(nodes))
    faults = []
    for number, (call, place) in enumerate(zip(excursion.calls, places, strict=True), start=1):
        i = int(np.argmin(np.abs(nodes - place)))
        station = excursion.line.station(call.station)
        first, last = number == 1, number == len(excursion.calls)
        dwell[i] = 0.0 if first or last else call.dwell
        if call.depart is not None and not first:
            depart[i] = call.depart
        if call.take_water == "fill":
            water_rate[i] = 1000.0 * station.water_rate
            if station.water_rate == 0.0:
                faults.append(f"calls[{number}].take_water: {call.station} has no water_rate on the route")
        if call.take_fuel == "fill":
            fuel_rate[i] = station.fuel_rate
            if station.fuel_rate == 0.0:
                faults.append(f"calls[{number}].take_fuel: {call.station} has no fuel_rate on the route")
    if faults:
        raise OutOfRange("; ".join(faults))
    return _Stopping(dwell=dwell, depart=depart, water_rate=water_rate, fuel_rate=fuel_rate)


def _engine(performance: Performance) -> Engine:
    charts = performance.map
    return Engine(
        grid=charts.grid,
        friction=charts.friction,
        adhesive_weight=performance.adhesive_mass * GRAVITY,
        drifting_steam=DRIFTING_SHARE * performance.supply.sustained,
        assist_speed_step=1.0,
        assist_pull=np.zeros((1, 2)),
        assist_adhesion=np.zeros(1),
    )


def _boiler(performance: Performance, *, live: bool) -> Boiler:
    """Tables of the boiler. The temperatures run over the pressures of the map and the safety valves."""
    supply, made = performance.supply, performance.locomotive.boiler
    working = made.absolute_pressure
    safety = working + SAFETY_ABOVE
    low = steam.saturation_temperature(pressure=float(performance.map.pressures[0]) * 0.9)
    high = steam.saturation_temperature(pressure=working + 4 * SAFETY_ABOVE)
    temperatures = np.linspace(low, high, 200)
    pressures = np.array([steam.saturation_pressure(temperature=float(t)) for t in temperatures])
    rising = int(np.argmax(supply.steam)) + 1
    return Boiler(
        live=live,
        temperature_first=low,
        temperature_step=float(temperatures[1] - temperatures[0]),
        pressure_of=pressures,
        liquid_of=np.array([steam.liquid_enthalpy(pressure=float(p)) for p in pressures]),
        vapour_of=np.array([steam.vapour_enthalpy(pressure=float(p)) for p in pressures]),
        firing_step=float(supply.firing[1]),
        heat_of=np.maximum.accumulate(supply.heat[:rising]),
        fire_lag=FIRE_LAG,
        firing_greatest=supply.firing_greatest,
        firing_least=BANKED_SHARE * supply.firing_greatest,
        metal_heat=METAL_HEAT * metal_mass(performance),
        standing_loss=supply.standing_loss,
        feed_enthalpy=supply.feed_enthalpy,
        feed_greatest=sum(d.rate_greatest for d in performance.locomotive.feed_devices)
        or 2 * supply.sustained,
        working_temperature=steam.saturation_temperature(pressure=working),
        safety_pressure=safety,
        safety_full=safety + SAFETY_ABOVE,
        safety_capacity=1.2 * supply.sustained,
        pressure_floor=ATMOSPHERE + 0.9 * made.working_pressure_gauge,
        water_aim=working_water(performance),
        water_bare=0.7 * working_water(performance),
        sustained_steam=supply.sustained,
        steam_heat=supply.steam_heat,
        auxiliary_steam=performance.locomotive.auxiliaries.steady,
        standing_steam=performance.locomotive.auxiliaries.blower,
    )


def metal_mass(performance: Performance) -> float:
    """Mass of boiler metal that follows the steam temperature [kg].

    As given, or 20 % of the engine's mass (common practice, no source).
    """
    given = performance.locomotive.boiler.metal_mass
    return given if given is not None else 0.20 * performance.locomotive.mass


def working_water(performance: Performance) -> float:
    """Water in the boiler at working level [kg]: 33 kg for each square metre of evaporating surface.

    A proportion of ours for engines whose barrel is not given; common practice, no source.
    """
    return 33.0 * performance.locomotive.boiler.evaporating_surface


def _start(excursion: Excursion, performance: Performance) -> Start:
    tender = excursion.locomotive.tender
    made = performance.locomotive.boiler
    temperature = steam.saturation_temperature(pressure=made.absolute_pressure)
    water = working_water(performance)
    held = water * steam.liquid_enthalpy(pressure=made.absolute_pressure)
    full_water = 1000.0 * (tender.water_capacity + excursion.train.water)
    return Start(
        time=excursion.departure,
        heat=held + METAL_HEAT * metal_mass(performance) * (temperature - 273.15),
        water=water,
        firing=0.5 * performance.supply.firing_greatest,
        tender_water=1000.0 * tender.water_capacity * excursion.water_at_start
        + 1000.0 * excursion.train.water,
        tender_fuel=tender.fuel_capacity * excursion.fuel_at_start,
        tender_water_full=full_water,
        tender_fuel_full=tender.fuel_capacity,
    )
