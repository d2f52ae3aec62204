"""The run itself: midpoint steps over distance, with the boiler's state carried along.

One call is one run. The text is plain scalar code over arrays: `locosim.compiled` compiles it where numba is
installed, and it runs unchanged in CPython where it is not. Everything is SI; nothing here knows the model.

Between two nodes all forces but those of speed are constant, so no step crosses a change of grade or limit.
The step from node i to node i+1 of length h, with kinetic energy per mass e = v²/2 as the state:

    e_mid = e0 + h/2 F(e0)/m,    e1 = e0 + h F(e_mid)/m,    dt = 2 h / (v0 + v1)

where dt is exact for constant acceleration and so survives a start from rest. Where the full effort would pass
the envelope of speed limits and stops, the effort (or the brake) is what just meets it.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled_lean
from locosim.constants import GRAVITY
from locosim.journey.records import (
    ADHESION,
    AGAINST,
    ARRIVE,
    ARRIVED,
    ASSIST,
    ASSIST_WORK,
    AUXILIARY_STEAM,
    BOILER_WATER,
    BRAKE,
    BRAKE_WORK,
    BRAKING,
    COASTING,
    CROWN_BARE,
    CURVE_WORK,
    CUTOFF,
    CYLINDER_STEAM,
    CYLINDERS,
    DRAWN,
    ENERGY,
    FEED,
    FEED_HEAT,
    FEED_WATER,
    FIRE_HEAT,
    FIRING,
    FREE,
    FRICTION_WORK,
    FUEL_BURNT,
    FUEL_GONE,
    FUEL_IN,
    FUEL_OUT,
    FUEL_TAKEN,
    GRAVITY_WORK,
    LEAVE,
    LOST_HEAT,
    NODES,
    PRESSURE,
    PRESSURE_LOST,
    PULL,
    PULL_WORK,
    RESISTANCE_WORK,
    SAFETY_STEAM,
    SHED_ENERGY,
    STALLED,
    STEAM,
    STEAM_HEAT,
    STEPS,
    SUMS,
    WANTED,
    WATER_GONE,
    WATER_IN,
    WATER_OUT,
    WATER_TAKEN,
    Boiler,
    Codes,
    Course,
    Effort,
    Engine,
    Line,
    Load,
    Start,
    State,
)
from locosim.journey.road_boiler import boiler_rates, boiler_temperature, firing_for
from locosim.performance.map_reading import between, greatest_pull, steam_for
from locosim.physics.real import Floats

GREATEST_ACCELERATION = 1.5  # beyond what any train on the rails gains [m/s²]


@compiled_lean
def adhesion_share(speed: float) -> float:
    """Coefficient of adhesion at a speed over that at rest, the shape of [CurtiusKniffler1944]."""
    return (7.5 / (3.6 * speed + 44.0) + 0.161) / (7.5 / 44.0 + 0.161)


@compiled_lean
def resistance(load: Load, contents: float, speed: float, starting: float) -> float:
    """Resistance of the whole train on straight level track [N]; more while it breaks away from a stand."""
    through_air = speed + load.wind
    force = load.a + load.b * speed + load.c * through_air * abs(through_air)
    force += (load.a_contents + load.b_contents * speed) * contents
    if starting > 0.0 and speed < load.starting_speed:
        part = speed / load.starting_speed
        force = max(force, load.starting * (1.0 - part) + load.broken_away * part)
    return float(force)


@compiled_lean
def traction(
    line: Line,
    load: Load,
    engine: Engine,
    i: int,
    energy: float,
    contents: float,
    pressure: float,
    steam_most: float,
    starting: float,
    guess: int,
) -> tuple[float, float, float, int, float]:
    """Forces on the train in a step at a kinetic energy per mass, with the engine at full effort.

    Returns resistance with gravity, curves and machine friction [N], indicated pull [N], pull the engine
    would give on a better rail [N], what holds the pull, and the pull of assistance [N].
    """
    speed = math.sqrt(2.0 * max(energy, 0.0))
    against = resistance(load, contents, speed, starting) + line.curve[i] + engine.friction
    against += line.gravity[i] + contents * GRAVITY * line.grade[i]
    pull, by_steam = greatest_pull(engine.grid, pressure, speed, steam_most, line.cutoff_most[i], guess)
    limit = STEAM if by_steam else CYLINDERS
    wanted = pull
    share = line.adhesion[i] * adhesion_share(speed)
    # Friction of the machine is overcome inside the engine; the rail carries what is left.
    by_rail = share * engine.adhesive_weight + engine.friction
    if pull > by_rail:
        pull, limit = by_rail, ADHESION
    help_pull = 0.0
    row = line.assist[i]
    if row >= 0:
        help_pull = min(
            between(engine.assist_pull[row], 0.0, engine.assist_speed_step, speed),
            share * engine.assist_adhesion[row] + engine.assist_friction[row],
        )
        own = engine.assist_resistance[row]
        running = own[0] + (own[1] + own[2] * speed) * speed
        if starting > 0.0 and speed < load.starting_speed:
            part = speed / load.starting_speed
            running = max(
                running, engine.assist_starting[row, 0] * (1.0 - part) + engine.assist_starting[row, 1] * part
            )
        against += running + engine.assist_friction[row]
    return against, pull, wanted, limit, help_pull


@compiled_lean
def steam_allowed(line: Line, boiler: Boiler, i: int, pressure: float) -> float:
    """Steam the driver lets the cylinders have [kg/s].

    Above the pressure floor it is the driver's share of what the boiler sustains, less what the auxiliaries
    take. Below the floor the draught goes down with the pressure, at twice the fall, so that the fire wins.
    """
    most = line.steam_share[i] * boiler.sustained_steam
    if boiler.live and pressure < boiler.pressure_floor:
        most = min(most, boiler.sustained_steam * max(2.0 * pressure / boiler.pressure_floor - 1.0, 0.0))
    return float(max(most - boiler.auxiliary_steam, 0.0))


@compiled_lean
def stand(boiler: Boiler, state: State, seconds: float, expected: float, sums: Floats) -> State:
    """Let the engine stand for a time: fire, feed, blower and losses go on.

    The fire is built up for the steam expected on leaving over the last two lags.
    """
    auxiliary = boiler.auxiliary_steam + boiler.standing_steam
    if not boiler.live:
        return steady_boiler(boiler, state, 0.0, auxiliary, seconds, sums)
    count = max(math.ceil(seconds / 10.0), 1)
    step = seconds / count
    for k in range(count):
        ahead = auxiliary
        if seconds - k * step <= 2.0 * boiler.fire_lag:
            ahead += max(expected, 0.0)
        state = live_boiler(boiler, state, 0.0, auxiliary, ahead, step, sums)
    return state


@compiled_lean
def steady_boiler(
    boiler: Boiler, state: State, drawn: float, auxiliary: float, dt: float, sums: Floats
) -> State:
    """Pass a time with the pressure held: water and fuel follow the steam at once."""
    steam = drawn + auxiliary
    firing = firing_for(boiler, steam * boiler.steam_heat + boiler.standing_loss)
    sums[CYLINDER_STEAM] += dt * drawn
    sums[AUXILIARY_STEAM] += dt * auxiliary
    sums[FEED_WATER] += dt * steam
    sums[FUEL_BURNT] += dt * firing
    return State(
        state.heat,
        state.water,
        firing,
        state.tender - dt * steam,
        state.fuel - dt * firing,
        state.temperature,
        steam,
    )


@compiled_lean
def live_boiler(
    boiler: Boiler, state: State, drawn: float, auxiliary: float, expected: float, dt: float, sums: Floats
) -> State:
    """Pass a time with the boiler's state carried along, by a midpoint step."""
    steam = drawn + auxiliary
    held = math.exp(-0.5 * dt / boiler.fire_lag)  # of the firing rate over half the step
    _, feed, safety, aimed, net, _ = boiler_rates(
        boiler, state.temperature, state.water, state.firing, steam, expected, state.tender
    )
    heat = state.heat + 0.5 * dt * net
    water = state.water + 0.5 * dt * (feed - steam - safety)
    firing = aimed + (state.firing - aimed) * held
    temperature = boiler_temperature(boiler, heat, water, state.temperature)
    fire, feed, safety, aimed, net, vapour = boiler_rates(
        boiler, temperature, water, firing, steam, expected, state.tender
    )
    sums[FIRE_HEAT] += dt * fire
    sums[FEED_HEAT] += dt * feed * boiler.feed_enthalpy
    sums[STEAM_HEAT] += dt * (steam + safety) * vapour
    sums[LOST_HEAT] += dt * boiler.standing_loss
    sums[CYLINDER_STEAM] += dt * drawn
    sums[AUXILIARY_STEAM] += dt * auxiliary
    sums[SAFETY_STEAM] += dt * safety
    sums[FEED_WATER] += dt * feed
    sums[FUEL_BURNT] += dt * firing
    heat = state.heat + dt * net
    water = state.water + dt * (feed - steam - safety)
    return State(
        heat,
        water,
        aimed + (state.firing - aimed) * held * held,
        state.tender - dt * feed,
        state.fuel - dt * firing,
        boiler_temperature(boiler, heat, water, temperature),
        feed,
    )


@compiled_lean
def call(
    line: Line, boiler: Boiler, start: Start, state: State, i: int, t: float, sums: Floats
) -> tuple[float, State]:
    """Stand at a node where the train stops: fill up, wait for the time of departure."""
    wait = max(line.dwell[i], line.depart[i] - t)
    tender, fuel = state.tender, state.fuel
    if line.water_rate[i] > 0.0:
        taken = max(start.tender_water_full - tender, 0.0)
        wait = max(wait, taken / line.water_rate[i])
        sums[WATER_TAKEN] += taken
        tender += taken
    if line.fuel_rate[i] > 0.0:
        taken = max(start.tender_fuel_full - fuel, 0.0)
        wait = max(wait, taken / line.fuel_rate[i])
        sums[FUEL_TAKEN] += taken
        fuel += taken
    state = State(state.heat, state.water, state.firing, tender, fuel, state.temperature, state.feed)
    if wait > 0.0:
        ahead = line.expected[i] if i < len(line.expected) else 0.0
        state = stand(boiler, state, wait, ahead, sums)
    return t + max(wait, 0.0), state


@compiled_lean
def effort(
    line: Line,
    load: Load,
    engine: Engine,
    i: int,
    e: float,
    contents: float,
    pressure: float,
    allowed: float,
    starting: float,
    guess: int,
) -> Effort:
    """Find pull, brake and speed over one step: full effort, or what just meets the envelope.

    A step the train does not get through comes back with an energy at its end that is not above zero.
    """
    h = line.distance[i + 1] - line.distance[i]
    top = line.envelope[i + 1]
    inertia = load.mass + contents + load.rotating + line.assist_mass[i]
    if top - e < GREATEST_ACCELERATION * h:
        # The envelope is within reach: see first whether an eased effort, or the brake, just meets it.
        e_mid = 0.5 * (e + top)
        against, pull, wanted, limit, assist = traction(
            line, load, engine, i, e_mid, contents, pressure, allowed, starting, guess
        )
        needed = against + (top - e) * inertia / h
        if needed <= pull + assist:
            return eased(e_mid, top, against, needed, pull, assist)
    against, pull, wanted, limit, assist = traction(
        line, load, engine, i, e, contents, pressure, allowed, starting, guess
    )
    e_mid = e + 0.5 * h * (pull + assist - against) / inertia
    if e_mid <= 0.0:
        return Effort(e_mid, 2.0 * e_mid - e, against, pull, wanted, assist, 0.0, limit)
    against, pull, wanted, limit, assist = traction(
        line, load, engine, i, e_mid, contents, pressure, allowed, starting, guess
    )
    e_next = e + h * (pull + assist - against) / inertia
    if e_next <= top:
        return Effort(e_mid, e_next, against, pull, wanted, assist, 0.0, limit)
    return eased(e_mid, top, against, against + (top - e) * inertia / h, pull, assist)


@compiled_lean
def eased(e_mid: float, top: float, against: float, needed: float, pull: float, assist: float) -> Effort:
    """Share the pull that is needed between train engine and assistance, or brake."""
    if needed > 0.0:
        share = needed / (pull + assist)
        return Effort(e_mid, top, against, share * pull, share * pull, share * assist, 0.0, FREE)
    return Effort(e_mid, top, against, 0.0, 0.0, 0.0, -needed, BRAKING if needed < 0.0 else COASTING)


@compiled_lean
def failing(boiler: Boiler, engine: Engine, state: State, pressure: float) -> int:
    """Tell whether the run must end: no water, no fuel, no pressure, or the crown sheet bare."""
    if state.tender < 0.0:
        return WATER_GONE
    if state.fuel < 0.0:
        return FUEL_GONE
    if pressure < engine.grid.pressure_first:
        return PRESSURE_LOST
    if boiler.live and state.water < boiler.water_bare:
        return CROWN_BARE
    return ARRIVED


@compiled_lean
def run_into(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    start: Start,
    nodes: Floats,
    steps: Floats,
    limits: Codes,
    sums: Floats,
) -> tuple[int, int, float, float, float]:
    """Run a train over a line once, writing node by node and step by step into the arrays given.

    Returns:
        Last node reached, how the run ended, where it stalled [m], boiler heat and kinetic energy at the end [J].
    """
    n = len(line.grade)
    temperature = boiler_temperature(boiler, start.heat, start.water, boiler.working_temperature)
    state = State(
        start.heat, start.water, start.firing, start.tender_water, start.tender_fuel, temperature, 0.0
    )
    t, e = start.time, 0.0
    status, stalled_at, reached = ARRIVED, -1.0, 0
    starting = 1.0  # 0 once the train has been fast enough since it stood
    guess = 0  # cell of the cutoff axis where the last step ended

    for i in range(n + 1):
        nodes[ENERGY, i], nodes[ARRIVE, i] = e, t
        nodes[WATER_IN, i], nodes[FUEL_IN, i] = state.tender, state.fuel
        if line.dwell[i] >= 0.0:
            t, state = call(line, boiler, start, state, i, t, sums)
            starting = 1.0
        pressure = between(
            boiler.pressure_of, boiler.temperature_first, boiler.temperature_step, state.temperature
        )
        nodes[LEAVE, i], nodes[PRESSURE, i] = t, pressure
        nodes[BOILER_WATER, i], nodes[FIRING, i] = state.water, state.firing
        nodes[WATER_OUT, i], nodes[FUEL_OUT, i] = state.tender, state.fuel
        reached = i
        if i == n:
            break
        status = failing(boiler, engine, state, pressure)
        if status != ARRIVED:
            stalled_at = line.distance[i]
            break

        h = line.distance[i + 1] - line.distance[i]
        contents = state.tender + state.fuel
        step = effort(
            line,
            load,
            engine,
            i,
            e,
            contents,
            pressure,
            steam_allowed(line, boiler, i, pressure),
            starting,
            guess,
        )
        if step.e_mid <= 0.0 or step.e_next < 0.0 or (step.e_next == 0.0 and line.envelope[i + 1] > 0.0):
            status = STALLED
            fall = e - step.e_next
            stalled_at = line.distance[i] + (h * e / fall if fall > 0.0 else 0.0)
            break
        dt = 2.0 * h / (math.sqrt(2.0 * e) + math.sqrt(2.0 * step.e_next))
        auxiliary = boiler.auxiliary_steam
        if step.pull > 0.0:
            drawn, cutoff = steam_for(engine.grid, pressure, math.sqrt(2.0 * step.e_mid), step.pull, guess)
        else:
            drawn, cutoff = engine.drifting_steam, 0.0
            auxiliary += boiler.standing_steam
        guess = int((cutoff - engine.grid.cutoff_first) / engine.grid.cutoff_step)
        if boiler.live:
            ahead = (line.expected[i] if line.expected[i] >= 0.0 else drawn) + auxiliary
            after = live_boiler(boiler, state, drawn, auxiliary, ahead, dt, sums)
        else:
            after = steady_boiler(boiler, state, drawn, auxiliary, dt, sums)

        climb = line.gravity[i] + contents * GRAVITY * line.grade[i]
        sums[PULL_WORK] += step.pull * h
        sums[ASSIST_WORK] += step.assist * h
        sums[FRICTION_WORK] += engine.friction * h
        sums[CURVE_WORK] += line.curve[i] * h
        sums[GRAVITY_WORK] += climb * h
        sums[RESISTANCE_WORK] += (step.against - climb - line.curve[i] - engine.friction) * h
        sums[BRAKE_WORK] += step.brake * h
        # Water and fuel leave with the speed they had: the energy they take along is booked as shed.
        sums[SHED_ENERGY] += (contents - after.tender - after.fuel) * step.e_next
        steps[PULL, i], steps[WANTED, i], steps[ASSIST, i] = step.pull, step.wanted, step.assist
        steps[AGAINST, i], steps[BRAKE, i] = step.against, step.brake
        steps[CUTOFF, i], steps[DRAWN, i], steps[FEED, i] = cutoff, drawn, after.feed
        limits[i] = step.limit
        t, e, state = t + dt, step.e_next, after
        if math.sqrt(2.0 * e) >= load.starting_speed:
            starting = 0.0

    inertia = load.mass + state.tender + state.fuel + load.rotating + line.assist_mass[max(reached - 1, 0)]
    return reached, status, stalled_at, state.heat, inertia * e


def run(line: Line, load: Load, engine: Engine, boiler: Boiler, start: Start) -> Course:
    """Run a train over a line once.

    Args:
        line: Steps of the line with what holds in each.
        load: What is moved.
        engine: Performance map of the engine.
        boiler: Boiler, fire and feed.
        start: State before the first departure.

    Returns:
        Course: State at each node, what happened in each step, and the sums for the ledgers.
    """
    n = len(line.grade)
    nodes, steps = np.zeros((NODES, n + 1)), np.zeros((STEPS, n))
    limits, sums = np.zeros(n, dtype=np.int8), np.zeros(SUMS)
    reached, status, stalled_at, heat, energy = run_into(
        line, load, engine, boiler, start, nodes, steps, limits, sums
    )
    return Course(reached, status, stalled_at, nodes, steps, limits, start.heat, heat, energy, sums)
