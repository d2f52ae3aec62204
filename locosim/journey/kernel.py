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

from locosim.compiled import compiled
from locosim.constants import GRAVITY
from locosim.journey.records import (
    ADHESION,
    ARRIVED,
    ASSIST_WORK,
    AUXILIARY_STEAM,
    BRAKE_WORK,
    BRAKING,
    COASTING,
    CROWN_BARE,
    CURVE_WORK,
    CYLINDER_STEAM,
    CYLINDERS,
    FEED_HEAT,
    FEED_WATER,
    FIRE_HEAT,
    FREE,
    FRICTION_WORK,
    FUEL_BURNT,
    FUEL_GONE,
    FUEL_TAKEN,
    GRAVITY_WORK,
    LOST_HEAT,
    PRESSURE_LOST,
    PULL_WORK,
    RESISTANCE_WORK,
    SAFETY_STEAM,
    SHED_ENERGY,
    STALLED,
    STEAM,
    STEAM_HEAT,
    SUMS,
    WATER_GONE,
    WATER_TAKEN,
    Boiler,
    Course,
    Engine,
    Line,
    Load,
    Start,
)
from locosim.journey.road_boiler import boiler_rates, boiler_temperature, firing_for
from locosim.performance.map_reading import between, greatest_pull, steam_for
from locosim.physics.real import Floats


@compiled
def adhesion_share(speed: float) -> float:
    """Coefficient of adhesion at a speed over that at rest, the shape of [CurtiusKniffler1944]."""
    return (7.5 / (3.6 * speed + 44.0) + 0.161) / (7.5 / 44.0 + 0.161)


@compiled
def resistance(load: Load, contents: float, speed: float) -> float:
    """Resistance of the whole train on straight level track [N]."""
    through_air = speed + load.wind
    force = load.a + load.a_contents * contents + load.b * speed + load.c * through_air * abs(through_air)
    if speed < load.starting_speed:
        part = speed / load.starting_speed
        force = max(force, load.starting * (1.0 - part) + load.broken_away * part)
    return float(force)


@compiled
def traction(
    line: Line,
    load: Load,
    engine: Engine,
    i: int,
    energy: float,
    contents: float,
    pressure: float,
    steam_most: float,
) -> tuple[float, float, float, int, float]:
    """Forces on the train in a step at a kinetic energy per mass, with the engine at full effort.

    Returns resistance with gravity, curves and machine friction [N], indicated pull [N], pull the engine
    would give on a better rail [N], what holds the pull, and the pull of assistance [N].
    """
    speed = math.sqrt(2.0 * max(energy, 0.0))
    against = resistance(load, contents, speed) + line.curve[i] + engine.friction
    against += line.gravity[i] + contents * GRAVITY * line.grade[i]
    pull, by_steam = greatest_pull(engine.grid, pressure, speed, steam_most, line.cutoff_most[i])
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
            share * engine.assist_adhesion[row],
        )
    return against, pull, wanted, limit, help_pull


@compiled
def steam_allowed(line: Line, boiler: Boiler, i: int, pressure: float) -> float:
    """Steam the driver lets the cylinders have [kg/s].

    Above the pressure floor it is the driver's share of what the boiler sustains, less what the auxiliaries
    take. Below the floor the draught goes down with the pressure, at twice the fall, so that the fire wins.
    """
    most = line.steam_share[i] * boiler.sustained_steam
    if boiler.live and pressure < boiler.pressure_floor:
        most = min(most, boiler.sustained_steam * max(2.0 * pressure / boiler.pressure_floor - 1.0, 0.0))
    return max(most - boiler.auxiliary_steam, 0.0)


@compiled
def stand(
    boiler: Boiler,
    heat: float,
    water: float,
    firing: float,
    tender: float,
    fuel: float,
    seconds: float,
    sums: Floats,
) -> tuple[float, float, float, float, float]:
    """Let the engine stand for a time: fire, feed, blower and losses go on."""
    auxiliary = boiler.auxiliary_steam + boiler.standing_steam
    if not boiler.live:
        rate = firing_for(boiler, auxiliary * boiler.steam_heat + boiler.standing_loss)
        used, burnt = auxiliary * seconds, rate * seconds
        sums[AUXILIARY_STEAM] += used
        sums[FEED_WATER] += used
        sums[FUEL_BURNT] += burnt
        return heat, water, rate, tender - used, fuel - burnt
    count = max(math.ceil(seconds / 10.0), 1)
    step = seconds / count
    temperature = boiler.working_temperature
    for _ in range(count):
        temperature = boiler_temperature(boiler, heat, water, temperature)
        fire, feed, safety, aimed, net, vapour = boiler_rates(
            boiler, temperature, water, firing, 0.0, auxiliary, tender
        )
        heat += step * net
        water += step * (feed - auxiliary - safety)
        tender -= step * feed
        fuel -= step * firing
        book(sums, boiler, step, fire, feed, 0.0, auxiliary, safety, firing, vapour)
        firing += (aimed - firing) * (1.0 - math.exp(-step / boiler.fire_lag))
    return heat, water, firing, tender, fuel


@compiled
def book(
    sums: Floats,
    boiler: Boiler,
    step: float,
    fire: float,
    feed: float,
    cylinders: float,
    auxiliary: float,
    safety: float,
    firing: float,
    vapour: float,
) -> None:
    """Write a time step of the boiler into the sums."""
    sums[FIRE_HEAT] += step * fire
    sums[FEED_HEAT] += step * feed * boiler.feed_enthalpy
    sums[STEAM_HEAT] += step * (cylinders + auxiliary + safety) * vapour
    sums[LOST_HEAT] += step * boiler.standing_loss
    sums[CYLINDER_STEAM] += step * cylinders
    sums[AUXILIARY_STEAM] += step * auxiliary
    sums[SAFETY_STEAM] += step * safety
    sums[FEED_WATER] += step * feed
    sums[FUEL_BURNT] += step * firing


@compiled
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
    energy, arrive, leave = np.zeros(n + 1), np.zeros(n + 1), np.zeros(n + 1)
    pressures, waters, firings = np.zeros(n + 1), np.zeros(n + 1), np.zeros(n + 1)
    tenders, fuels = np.zeros(n + 1), np.zeros(n + 1)
    tenders_in, fuels_in = np.zeros(n + 1), np.zeros(n + 1)
    pulls, wants, helps, brakes = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    cutoffs, steams, feeds = np.zeros(n), np.zeros(n), np.zeros(n)
    limits = np.zeros(n, dtype=np.int8)
    sums = np.zeros(SUMS)
    first, tstep = boiler.temperature_first, boiler.temperature_step

    t, e = start.time, 0.0
    heat, water, firing = start.heat, start.water, start.firing
    tender, fuel = start.tender_water, start.tender_fuel
    temperature = boiler_temperature(boiler, heat, water, boiler.working_temperature)
    status, stalled_at, reached = ARRIVED, -1.0, 0
    energy_first = 0.0

    for i in range(n + 1):
        arrive[i] = t
        energy[i] = e
        tenders_in[i], fuels_in[i] = tender, fuel
        if line.dwell[i] >= 0.0:
            wait = max(line.dwell[i], line.depart[i] - t)
            fill_water = fill_fuel = 0.0
            if line.water_rate[i] > 0.0:
                fill_water = max(start.tender_water_full - tender, 0.0)
                wait = max(wait, fill_water / line.water_rate[i])
            if line.fuel_rate[i] > 0.0:
                fill_fuel = max(start.tender_fuel_full - fuel, 0.0)
                wait = max(wait, fill_fuel / line.fuel_rate[i])
            sums[WATER_TAKEN] += fill_water
            sums[FUEL_TAKEN] += fill_fuel
            tender += fill_water
            fuel += fill_fuel
            if wait > 0.0:
                heat, water, firing, tender, fuel = stand(
                    boiler, heat, water, firing, tender, fuel, wait, sums
                )
                t += wait
            temperature = boiler_temperature(boiler, heat, water, temperature)
        leave[i] = t
        pressures[i] = between(boiler.pressure_of, first, tstep, temperature)
        waters[i], firings[i], tenders[i], fuels[i] = water, firing, tender, fuel
        reached = i
        if i == n:
            break
        if tender < 0.0:
            status = WATER_GONE
        elif fuel < 0.0:
            status = FUEL_GONE
        elif pressures[i] < engine.grid.pressure_first:
            status = PRESSURE_LOST
        elif boiler.live and water < boiler.water_bare:
            status = CROWN_BARE
        if status != ARRIVED:
            stalled_at = line.distance[i]
            break

        h = line.distance[i + 1] - line.distance[i]
        top = line.envelope[i + 1]
        contents = tender + fuel
        inertia = load.mass + contents + load.rotating
        pressure = pressures[i]
        allowed = steam_allowed(line, boiler, i, pressure)
        against, pull, wanted, limit, help_pull = traction(
            line, load, engine, i, e, contents, pressure, allowed
        )
        e_mid = e + 0.5 * h * (pull + help_pull - against) / inertia
        e_next = -1.0
        if e_mid > 0.0:
            against, pull, wanted, limit, help_pull = traction(
                line, load, engine, i, e_mid, contents, pressure, allowed
            )
            e_next = e + h * (pull + help_pull - against) / inertia
        if e_mid <= 0.0 or (e_next <= 0.0 and top > 0.0):
            fall = e - min(e_mid, e_next) if e_mid > 0.0 else 2.0 * (e - e_mid)
            stalled_at = line.distance[i] + (h * e / fall if fall > 0.0 else 0.0)
            status = STALLED
            break
        brake = 0.0
        if e_next > top:
            # The full effort would pass the envelope: ease the effort, or brake, to meet it just so.
            e_next = top
            e_mid = 0.5 * (e + top)
            against, pull, wanted, limit, help_pull = traction(
                line, load, engine, i, e_mid, contents, pressure, allowed
            )
            needed = against + (top - e) * inertia / h
            help_pull = max(
                min(help_pull, needed * help_pull / (help_pull + pull)) if pull > 0.0 else help_pull, 0.0
            )
            needed -= help_pull
            if needed > pull:
                # The midpoint of the eased step is slower than that of the full one: the full effort holds.
                needed = pull
                e_next = e + h * (pull + help_pull - against) / inertia
            elif needed > 0.0:
                limit = FREE
                pull = needed
            else:
                limit = BRAKING if needed < 0.0 else COASTING
                brake, pull = -needed, 0.0
            wanted = min(wanted, pull)
        speed = math.sqrt(2.0 * e_mid)
        dt = 2.0 * h / (math.sqrt(2.0 * e) + math.sqrt(2.0 * e_next))
        drawn, cutoff = steam_for(engine.grid, pressure, speed, pull)
        auxiliary = boiler.auxiliary_steam
        if pull <= 0.0:
            drawn, cutoff = engine.drifting_steam, 0.0
            auxiliary += boiler.standing_steam

        feed = 0.0
        if boiler.live:
            fire, feed, safety, aimed, net, vapour = boiler_rates(
                boiler, temperature, water, firing, drawn, auxiliary, tender
            )
            mid_heat = heat + 0.5 * dt * net
            mid_water = water + 0.5 * dt * (feed - drawn - auxiliary - safety)
            mid_firing = firing + (aimed - firing) * (1.0 - math.exp(-0.5 * dt / boiler.fire_lag))
            mid_temperature = boiler_temperature(boiler, mid_heat, mid_water, temperature)
            fire, feed, safety, aimed, net, vapour = boiler_rates(
                boiler, mid_temperature, mid_water, mid_firing, drawn, auxiliary, tender
            )
            heat += dt * net
            water += dt * (feed - drawn - auxiliary - safety)
            burnt = dt * mid_firing
            book(sums, boiler, dt, fire, feed, drawn, auxiliary, safety, mid_firing, vapour)
            firing += (aimed - firing) * (1.0 - math.exp(-dt / boiler.fire_lag))
            temperature = boiler_temperature(boiler, heat, water, mid_temperature)
            used = dt * feed
        else:
            firing = firing_for(boiler, (drawn + auxiliary) * boiler.steam_heat + boiler.standing_loss)
            feed = drawn + auxiliary
            used, burnt = dt * feed, dt * firing
            sums[CYLINDER_STEAM] += dt * drawn
            sums[AUXILIARY_STEAM] += dt * auxiliary
            sums[FEED_WATER] += used
            sums[FUEL_BURNT] += burnt
        tender -= used
        fuel -= burnt

        # Water and fuel leave with the speed they had: the energy they take along is booked as shed.
        sums[PULL_WORK] += pull * h
        sums[ASSIST_WORK] += help_pull * h
        sums[FRICTION_WORK] += engine.friction * h
        sums[CURVE_WORK] += line.curve[i] * h
        climb = line.gravity[i] + contents * GRAVITY * line.grade[i]
        sums[GRAVITY_WORK] += climb * h
        sums[RESISTANCE_WORK] += (against - climb - line.curve[i] - engine.friction) * h
        sums[BRAKE_WORK] += brake * h
        sums[SHED_ENERGY] += (used + burnt) * e_next
        pulls[i], wants[i], helps[i], brakes[i] = pull, wanted, help_pull, brake
        cutoffs[i], steams[i], feeds[i], limits[i] = cutoff, drawn, feed, limit
        t += dt
        e = e_next

    inertia = load.mass + tender + fuel + load.rotating
    return Course(
        reached,
        status,
        stalled_at,
        energy,
        arrive,
        leave,
        pressures,
        waters,
        firings,
        tenders,
        fuels,
        tenders_in,
        fuels_in,
        pulls,
        wants,
        helps,
        brakes,
        cutoffs,
        steams,
        feeds,
        limits,
        start.heat,
        heat,
        energy_first,
        inertia * energy[reached],
        sums,
    )
