"""The cylinder cycle: steady running of an engine at one speed, cutoff, regulator and boiler pressure.

Revolution after revolution is computed (`cylinder_end`) while the quantities that tie them together settle: chest
pressure by the flow through regulator and steam pipes, back pressure by the flow through the blast nozzle, the
receiver of a two-expansion engine by equal flow, and each wall's temperature by no net heat over a revolution.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled, compiled_parallel, prange
from locosim.physics.cylinder_end import (
    CONDENSED,
    DENSEST,
    ENERGY,
    EXHAUST_BACK,
    EXHAUST_HEAT,
    EXHAUST_OUT,
    HEAT_BACK,
    MASS,
    STEAM_BACK,
    STEAM_IN,
    TALLY,
    THINNEST,
    WALL_GRIP,
    WALL_HEAT,
    WETTEST,
    WORK,
    Cylinder,
    FloatArray,
    Surroundings,
    boiling_point,
    constants_of,
    cylinder_of,
    geometry,
    revolve,
)
from locosim.physics.steam_flow import pressure_before, pressure_behind
from locosim.physics.steam_table import steam_state
from locosim.physics.valve_gear import piston_fraction

# Places in the operating point handed in.
SPEED, PASSAGE_AREA, BOILER_PRESSURE, BOILER_ENTHALPY, OUTSIDE_PRESSURE, NOZZLE_AREA = range(6)
POINT = 6

# Places in the result of a point, for the whole engine.
STEAM, OUT_PRESSURE, OUT_ENTHALPY, POWER, PEAK, TURNS, MASS_GAP, HEAT_GAP, WALL_GAP = range(9)
WET_END, DENSE_END, THIN_END, CHOKED = range(9, 13)
ENGINE = 13
# Places in the result of one stage of expansion.
CHEST_PRESSURE, CHEST_ENTHALPY, BACK_PRESSURE, BACK_ENTHALPY, WORK_FRONT, WORK_BACK, FLOW, CONDENSED_SHARE = (
    range(8)
)
WALL_FRONT, WALL_BACK, CHEST_FLOW_WORK, BACK_FLOW_WORK = range(8, 12)
STAGE = 12

TOLERANCE = 2.0e-7
MOST_TURNS = 300
HOLD = 1.5
PATIENCE = 60  # revolutions before a point that goes on swinging is damped


@compiled
def flow_work_at(pressure: float, enthalpy: float, dew: FloatArray, table: FloatArray) -> float:
    """p/rho of steam of known pressure and enthalpy, by the table turned round.

    Args:
        pressure: Absolute pressure [Pa].
        enthalpy: Specific enthalpy [J/kg].
        dew: From `steam_table`.
        table: From `steam_table`.

    Returns:
        p/rho [J/kg].
    """
    flow_work = 1.8e5
    for _ in range(60):
        found = steam_state(pressure / flow_work, enthalpy - flow_work, dew, table)[0]
        change = found - flow_work
        flow_work += 0.75 * change
        if abs(change) < 1e-9 * found:
            break
    return flow_work


@compiled
def crank_torque(
    cylinder: Cylinder, pressures: FloatArray, cranks: FloatArray, outside_pressure: float
) -> FloatArray:
    """Torque of one stage's cylinders on the axle over a turn, gas forces alone.

    Args:
        cylinder: The cylinder.
        pressures: Rows front and back end over crank angle from each end's own dead centre [Pa].
        cranks: Crank angle of each cylinder behind the first [rad].
        outside_pressure: Absolute pressure on the piston rod [Pa].

    Returns:
        Torque at the middle of each crank step of the first cylinder [N m].
    """
    steps = pressures.shape[1] - 1
    front_area = 0.25 * math.pi * cylinder.bore**2
    rod_area = 0.25 * math.pi * cylinder.rod_diameter**2
    one = np.empty(steps)
    half = steps // 2
    for i in range(steps):
        j = (i + half) % steps
        force = 0.5 * (pressures[0, i] + pressures[0, i + 1]) * front_area
        force -= 0.5 * (pressures[1, j] + pressures[1, j + 1]) * (front_area - rod_area)
        force -= outside_pressure * rod_area
        a0, a1 = 2.0 * math.pi * i / steps, 2.0 * math.pi * (i + 1) / steps
        lever = cylinder.stroke * (
            piston_fraction(a1, cylinder.rod_ratio) - piston_fraction(a0, cylinder.rod_ratio)
        )
        one[i] = force * lever / (a1 - a0)
    total = np.zeros(steps)
    for k in range(cranks.size):
        if not math.isfinite(cranks[k]):
            continue
        shift = cranks[k] / (2.0 * math.pi) * steps
        whole = math.floor(shift)
        part = shift - whole
        for i in range(steps):
            j = int(i + whole) % steps
            total[i] += (1.0 - part) * one[j] + part * one[(j + 1) % steps]
    return total


@compiled
def wall_step(tally: FloatArray, before: FloatArray, temperature: float) -> float:
    """Change of a wall's temperature towards no net heat.

    The heat falls with the wall's temperature by a share of the grip, since the steam follows the wall. The share is
    learnt from one revolution to the next; one outside its possible range comes from other changes and is not learnt.

    Args:
        tally: This revolution's tally.
        before: Temperature, net heat and share of the revolution before; replaced.
        temperature: Wall temperature of this revolution [K].

    Returns:
        Change [K].
    """
    if before[0] > 0.0 and abs(temperature - before[0]) > 1e-7:
        slope = (before[1] - tally[WALL_HEAT]) / (temperature - before[0])
        share = slope / tally[WALL_GRIP]
        if 0.02 < share < 1.5:
            before[2] += 0.7 * (share - before[2])
    else:
        before[2] = 0.5
    before[0] = temperature
    before[1] = tally[WALL_HEAT]
    change: float = tally[WALL_HEAT] / (before[2] * tally[WALL_GRIP])
    return min(max(change, -20.0), 20.0)


@compiled
def learnt_step(before: FloatArray, pressure: float, wanted: float) -> float:
    """Change of chest, receiver or back pressure towards what the flow asks for.

    What is asked for moves with the pressure itself; how much is learnt from one revolution to the next.

    Args:
        before: Pressure, wanted pressure, gain and gap of the revolution before; replaced.
        pressure: Pressure of this revolution [Pa].
        wanted: Pressure that goes with this revolution's flow [Pa].

    Returns:
        Change, at most 30 % [Pa].
    """
    moved = pressure - before[0]
    if before[0] > 0.0 and abs(moved) > 1e-7 * pressure:
        gain = (wanted - before[1]) / moved
        if -20.0 < gain < 0.5:
            before[2] += 0.7 * (gain - before[2])
    before[0] = pressure
    before[1] = wanted
    before[3] = abs(wanted - pressure) / pressure
    change: float = (wanted - pressure) / (1.0 - before[2])
    return min(max(change, -0.3 * pressure), 0.3 * pressure)


@compiled
def settle(
    cylinders: FloatArray,
    constants: FloatArray,
    point: FloatArray,
    link_terms: FloatArray,
    cranks: FloatArray,
    engine: FloatArray,
    stages: FloatArray,
    pressures: FloatArray,
    dew: FloatArray,
    table: FloatArray,
) -> None:
    """Run one operating point until it repeats itself.

    Args:
        cylinders: A row for one set of cylinders, or for the high- and the low-pressure set, as `Cylinder`.
        constants: General constants, as `CycleConstants`.
        point: Operating point, by the places above.
        link_terms: Second amplitude of each stage's valve gear [m].
        cranks: Crank angles by stage and cylinder [rad]; not a number where there is no cylinder.
        engine: Filled with the engine's results, by the places above.
        stages: Filled with the stages' results, by the places above.
        pressures: Filled with absolute pressure by stage, end, crank angle [Pa].
        dew: From `steam_table`.
        table: From `steam_table`.
    """
    count = stages.shape[0]
    steps = pressures.shape[2] - 1
    general = constants_of(constants)
    shapes = np.empty((count, 4, steps + 1))
    tallies = np.zeros((count, 2, TALLY))
    before = np.zeros((count, 2, 4))
    ways = np.zeros((count + 1, 4))
    boiler_flow_work = flow_work_at(point[BOILER_PRESSURE], point[BOILER_ENTHALPY], dew, table)
    engine[CHOKED] = point[PASSAGE_AREA] * point[BOILER_PRESSURE] / math.sqrt(boiler_flow_work)
    guess = point[BOILER_PRESSURE]
    for s in range(count):
        stages[s, CHEST_PRESSURE] = 0.95 * guess
        guess = 1.1 * point[OUTSIDE_PRESSURE] if s == count - 1 else 0.3 * guess
        stages[s, BACK_PRESSURE] = guess
        stages[s, CHEST_ENTHALPY] = point[BOILER_ENTHALPY] - 250e3 * s
        stages[s, BACK_ENTHALPY] = stages[s, CHEST_ENTHALPY] - 300e3
        stages[s, CHEST_FLOW_WORK] = flow_work_at(
            stages[s, CHEST_PRESSURE], stages[s, CHEST_ENTHALPY], dew, table
        )
        stages[s, BACK_FLOW_WORK] = flow_work_at(guess, stages[s, BACK_ENTHALPY], dew, table)
        stages[s, WALL_FRONT] = boiling_point(stages[s, CHEST_PRESSURE]) - 10.0
        stages[s, WALL_BACK] = stages[s, WALL_FRONT]
        shapes[s] = geometry(cylinder_of(cylinders[s]), general, steps)
        for e in range(2):
            tallies[s, e, MASS] = guess * shapes[s, e, steps // 2] / stages[s, BACK_FLOW_WORK]
            energy = stages[s, BACK_ENTHALPY] - stages[s, BACK_FLOW_WORK]
            tallies[s, e, ENERGY] = tallies[s, e, MASS] * energy

    for turn in range(1, MOST_TURNS + 1):
        gap = 0.0
        for s in range(count):
            for e in range(2):
                around = Surroundings(
                    point[SPEED],
                    link_terms[s],
                    stages[s, CHEST_PRESSURE],
                    stages[s, CHEST_FLOW_WORK],
                    stages[s, CHEST_ENTHALPY],
                    stages[s, BACK_PRESSURE],
                    stages[s, BACK_FLOW_WORK],
                    stages[s, BACK_ENTHALPY],
                    stages[s, WALL_FRONT + e],
                )
                mass, energy = tallies[s, e, MASS], tallies[s, e, ENERGY]
                revolve(
                    cylinder_of(cylinders[s]),
                    general,
                    around,
                    shapes[s, e],
                    shapes[s, 2 + e],
                    pressures[s, e],
                    tallies[s, e],
                    dew,
                    table,
                )
                through = (tallies[s, e, STEAM_IN] + 1.0e-9) * 3.0e6
                drift = abs(tallies[s, e, MASS] - mass) * 3.0e6 + abs(tallies[s, e, ENERGY] - energy)
                if turn > PATIENCE:
                    tallies[s, e, MASS] = 0.5 * (tallies[s, e, MASS] + mass)
                    tallies[s, e, ENERGY] = 0.5 * (tallies[s, e, ENERGY] + energy)
                before[s, e, 3] = drift
                gap = max(gap, drift / through, abs(tallies[s, e, WALL_HEAT]) / through)
        gap = max(gap, 0.1 * np.max(ways[:, 3]), _ledger(cylinders, point, tallies, engine, stages))
        engine[TURNS] = turn
        if gap < TOLERANCE or (turn > PATIENCE and engine[POWER] <= 0.0):
            break
        _adjust(cylinders, point, tallies, before, ways, engine, stages, boiler_flow_work, dew, table)

    torque = np.zeros(steps)
    for s in range(count):
        torque += crank_torque(cylinder_of(cylinders[s]), pressures[s], cranks[s], point[OUTSIDE_PRESSURE])
    engine[PEAK] = np.max(torque) / np.mean(torque)
    engine[WET_END] = np.min(tallies[:, :, WETTEST])
    engine[DENSE_END] = np.max(tallies[:, :, DENSEST])
    engine[THIN_END] = np.min(tallies[:, :, THINNEST])


@compiled
def _share(part: float, whole: float) -> float:
    return part / whole if whole != 0.0 else 0.0


@compiled
def _ledger(
    cylinders: FloatArray, point: FloatArray, tallies: FloatArray, engine: FloatArray, stages: FloatArray
) -> float:
    """Sum up the revolution for the whole engine, and say how far mass and heat are from closing."""
    count = stages.shape[0]
    work = 0.0
    wall = 0.0
    for s in range(count):
        both = tallies[s, 0] + tallies[s, 1]
        number = cylinders[s, 0]
        inward = number * (both[STEAM_IN] - both[STEAM_BACK])
        outward = number * (both[EXHAUST_OUT] - both[EXHAUST_BACK])
        stages[s, WORK_FRONT] = tallies[s, 0, WORK]
        stages[s, WORK_BACK] = tallies[s, 1, WORK]
        stages[s, FLOW] = inward * point[SPEED]
        stages[s, CONDENSED_SHARE] = _share(both[CONDENSED], 2.0e6 * both[STEAM_IN])
        work += number * both[WORK]
        wall += number * abs(both[WALL_HEAT])
        if s == 0:
            first = inward
            heat_in = number * (both[STEAM_IN] * stages[0, CHEST_ENTHALPY] - both[HEAT_BACK])
    heat_out = number * (both[EXHAUST_HEAT] - both[EXHAUST_BACK] * stages[count - 1, BACK_ENTHALPY])
    engine[STEAM] = first * point[SPEED]
    engine[POWER] = work * point[SPEED]
    engine[OUT_PRESSURE] = stages[count - 1, BACK_PRESSURE]
    engine[OUT_ENTHALPY] = _share(heat_out, outward)
    engine[MASS_GAP] = _share(first - outward, first)
    boiled = first * point[BOILER_ENTHALPY]
    engine[HEAT_GAP] = _share(boiled - work - heat_out, boiled)
    engine[WALL_GAP] = _share(wall, heat_in)
    gap: float = max(abs(engine[MASS_GAP]), abs(engine[HEAT_GAP]))
    return gap


@compiled
def _adjust(
    cylinders: FloatArray,
    point: FloatArray,
    tallies: FloatArray,
    before: FloatArray,
    ways: FloatArray,
    engine: FloatArray,
    stages: FloatArray,
    boiler_flow_work: float,
    dew: FloatArray,
    table: FloatArray,
) -> None:
    """Carry chest, receiver, back pressure and walls towards what this revolution asked for."""
    count = stages.shape[0]
    # A point that goes on swinging is damped.
    calm = 1.0 if engine[TURNS] < PATIENCE else 0.4
    supply = point[BOILER_ENTHALPY]
    for s in range(count):
        both = tallies[s, 0] + tallies[s, 1]
        net = both[STEAM_IN] - both[STEAM_BACK]
        pressure = stages[s, CHEST_PRESSURE]
        flow = max(stages[s, FLOW], 1e-4 * engine[CHOKED])
        if s == 0:
            wanted = pressure_behind(
                point[BOILER_PRESSURE], boiler_flow_work, point[PASSAGE_AREA], flow / pressure
            )
        else:
            wanted = pressure * max(stages[s - 1, FLOW], 1e-4 * engine[CHOKED]) / flow
        stages[s, CHEST_PRESSURE] += calm * learnt_step(ways[s], pressure, wanted)
        if s > 0:
            stages[s - 1, BACK_PRESSURE] = stages[s, CHEST_PRESSURE]
        if both[STEAM_IN] > 0.0:
            wanted = (supply * net + both[HEAT_BACK]) / both[STEAM_IN]
            stages[s, CHEST_ENTHALPY] += calm * (wanted - stages[s, CHEST_ENTHALPY])
        if both[EXHAUST_OUT] > 0.0:
            wanted = both[EXHAUST_HEAT] / both[EXHAUST_OUT]
            stages[s, BACK_ENTHALPY] += calm * (wanted - stages[s, BACK_ENTHALPY])
        supply = stages[s, BACK_ENTHALPY]
        for e in range(2):
            # While the trapped steam still follows the last change, the wall's heat says little.
            if calm < 1.0 or before[s, e, 3] < HOLD * abs(tallies[s, e, WALL_HEAT]):
                step = wall_step(tallies[s, e], before[s, e], stages[s, WALL_FRONT + e])
                stages[s, WALL_FRONT + e] += calm * step
    last = count - 1
    wanted = pressure_before(
        point[OUTSIDE_PRESSURE], stages[last, BACK_FLOW_WORK], point[NOZZLE_AREA], max(engine[STEAM], 0.0)
    )
    stages[last, BACK_PRESSURE] += calm * learnt_step(ways[count], stages[last, BACK_PRESSURE], wanted)
    for s in range(count):
        stages[s, CHEST_FLOW_WORK] = flow_work_at(
            stages[s, CHEST_PRESSURE], stages[s, CHEST_ENTHALPY], dew, table
        )
        stages[s, BACK_FLOW_WORK] = flow_work_at(
            stages[s, BACK_PRESSURE], stages[s, BACK_ENTHALPY], dew, table
        )


@compiled_parallel
def settle_all(
    cylinders: FloatArray,
    constants: FloatArray,
    points: FloatArray,
    link_terms: FloatArray,
    cranks: FloatArray,
    steps: int,
    engine: FloatArray,
    stages: FloatArray,
    dew: FloatArray,
    table: FloatArray,
) -> None:
    """Run many operating points on all cores; see `settle`, with one row more in front of each array."""
    for k in prange(points.shape[0]):
        pressures = np.empty((stages.shape[1], 2, steps + 1))
        settle(
            cylinders,
            constants,
            points[k],
            link_terms[k],
            cranks,
            engine[k],
            stages[k],
            pressures,
            dew,
            table,
        )
