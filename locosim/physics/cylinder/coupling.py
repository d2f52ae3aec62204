"""What ties the revolutions of the cylinder cycle together, and how each tie is drawn tight.

Chest pressure belongs to the flow through throttle and steam pipes, back pressure to the flow through the blast
nozzle, the receiver's pressure to equal flow in both stages, the enthalpies to what is mixed there, each wall's
temperature to no net heat over a revolution. Here stand the sums of a revolution and the step of each tie.
"""

from __future__ import annotations

import math

from locosim.compiled import compiled
from locosim.physics.cylinder.revolution import (
    CONDENSING_HEAT,
    ENTHALPY_RETURNED,
    EXHAUST_HEAT,
    EXHAUST_OUT,
    EXHAUST_RETURNED,
    STEAM_IN,
    STEAM_RETURNED,
    WALL_CONDUCTANCE,
    WALL_HEAT,
    WORK,
)
from locosim.physics.steam.nozzle_flow import solve_downstream_pressure, solve_upstream_pressure
from locosim.physics.steam.property_table import steam_state
from locosim.physics.types import Floats

# Places in the operating point handed in.
SPEED, PASSAGE_AREA, BOILER_PRESSURE, BOILER_ENTHALPY, OUTSIDE_PRESSURE, NOZZLE_AREA = range(6)
POINT_SIZE = 6

# Places in the result of a point, for the whole engine.
STEAM, MEAN_EXHAUST_ENTHALPY, POWER, PEAK_TORQUE_RATIO, REVOLUTIONS, MASS_RESIDUAL, HEAT_RESIDUAL = range(7)
CYCLE_WETTEST, CYCLE_MAX_DENSITY, CYCLE_MIN_DENSITY, CHOKED_FLOW = range(7, 11)
ENGINE_SIZE = 11
# Places in the result of one stage of expansion.
(
    CHEST_PRESSURE,
    CHEST_ENTHALPY,
    BACK_PRESSURE,
    BACK_ENTHALPY,
    WORK_FRONT,
    WORK_BACK,
    FLOW,
    WALL_CONDENSATION_SHARE,
) = range(8)
WALL_FRONT, WALL_BACK, CHEST_FLOW_WORK, BACK_FLOW_WORK = range(8, 12)
STAGE_SIZE = 12

# Places in what is remembered of a wall, and of a pressure, from one revolution to the next.
PREVIOUS_VALUE, PREVIOUS_RESPONSE, SLOPE, DRIFT = range(4)
MEMORY_SIZE = 4

WALL_HOLD_RATIO = 1.5  # a wall waits while the trapped steam drifts by more than this times the wall's heat
DAMPING_ONSET = 60  # revolutions before a point that goes on swinging is damped
RELAXATION = 0.4  # of each change that is then made
FLOW_WORK_ITERATIONS = 60  # to turn the table round; 38 are the most met from 0.5 to 50 bar
LEARNING_RATE = 0.7  # of what a revolution says of a slope that is taken over
TYPICAL_LATENT_HEAT = (
    2.0e6  # of steam in the cylinder, about [J/kg]; for the share condensed, a figure to look at only
)


@compiled
def flow_work_at(pressure: float, enthalpy: float, dew: Floats, table: Floats) -> float:
    """p/rho of steam of known pressure and enthalpy, by the table turned round.

    Args:
        pressure: Absolute pressure [Pa].
        enthalpy: Specific enthalpy [J/kg].
        dew: From `steam_table`.
        table: From `steam_table`.

    Returns:
        p/rho [J/kg]; not a number where it does not settle, and then the whole point is none.
    """
    flow_work = 1.8e5
    for _ in range(FLOW_WORK_ITERATIONS):
        found = steam_state(pressure / flow_work, enthalpy - flow_work, dew, table)[0]
        change = found - flow_work
        flow_work += 0.75 * change
        if abs(change) < 1e-9 * found:
            return flow_work
    return math.nan


@compiled
def wall_step(tally: Floats, memory: Floats, temperature: float) -> float:
    """Change of a wall's temperature towards no net heat.

    The heat falls with the wall's temperature by a share of the grip, since the steam follows the wall. The share is
    learnt from one revolution to the next; one outside its possible range comes from other changes and is not learnt.

    Args:
        tally: This revolution's tally.
        memory: Temperature, net heat and share of the revolution before; replaced.
        temperature: Wall temperature of this revolution [K].

    Returns:
        Change [K].
    """
    if memory[PREVIOUS_VALUE] > 0.0 and abs(temperature - memory[PREVIOUS_VALUE]) > 1e-7:
        slope = (memory[PREVIOUS_RESPONSE] - tally[WALL_HEAT]) / (temperature - memory[PREVIOUS_VALUE])
        share = slope / tally[WALL_CONDUCTANCE]
        if 0.02 < share < 1.5:
            memory[SLOPE] += LEARNING_RATE * (share - memory[SLOPE])
    else:
        memory[SLOPE] = 0.5
    memory[PREVIOUS_VALUE] = temperature
    memory[PREVIOUS_RESPONSE] = tally[WALL_HEAT]
    change: float = tally[WALL_HEAT] / (memory[SLOPE] * tally[WALL_CONDUCTANCE])
    return min(max(change, -20.0), 20.0)


@compiled
def secant_step(memory: Floats, pressure: float, target: float) -> float:
    """Change of chest, receiver or back pressure towards what the flow asks for.

    What is asked for moves with the pressure itself; how much is learnt from one revolution to the next.

    Args:
        memory: Pressure, wanted pressure, gain and gap of the revolution before; replaced.
        pressure: Pressure of this revolution [Pa].
        target: Pressure that goes with this revolution's flow [Pa].

    Returns:
        Change, at most 30 % [Pa].
    """
    pressure_change = pressure - memory[PREVIOUS_VALUE]
    if memory[PREVIOUS_VALUE] > 0.0 and abs(pressure_change) > 1e-7 * pressure:
        gain = (target - memory[PREVIOUS_RESPONSE]) / pressure_change
        if -20.0 < gain < 0.5:
            memory[SLOPE] += LEARNING_RATE * (gain - memory[SLOPE])
    memory[PREVIOUS_VALUE] = pressure
    memory[PREVIOUS_RESPONSE] = target
    memory[DRIFT] = abs(target - pressure) / pressure
    change: float = (target - pressure) / (1.0 - memory[SLOPE])
    return min(max(change, -0.3 * pressure), 0.3 * pressure)


@compiled
def _ratio(part: float, whole: float) -> float:
    return part / whole if whole != 0.0 else 0.0


@compiled
def close_balance(cylinders: Floats, point: Floats, tallies: Floats, engine: Floats, stages: Floats) -> float:
    """Sum up the revolution for the whole engine, and say how far mass and heat are from closing.

    Args:
        cylinders: A row for each stage, as `Cylinder`.
        point: Operating point, by the places above.
        tallies: This revolution's tally of each stage and end.
        engine: Results of the whole engine, by the places above; its sums are replaced.
        stages: Results of each stage, by the places above; its sums are replaced.

    Returns:
        The larger gap, of mass or of heat, over what went through [1].
    """
    count = stages.shape[0]
    work = 0.0
    for s in range(count):
        both = tallies[s, 0] + tallies[s, 1]
        number = cylinders[s, 0]
        mass_in = number * (both[STEAM_IN] - both[STEAM_RETURNED])
        mass_out = number * (both[EXHAUST_OUT] - both[EXHAUST_RETURNED])
        stages[s, WORK_FRONT] = tallies[s, 0, WORK]
        stages[s, WORK_BACK] = tallies[s, 1, WORK]
        stages[s, FLOW] = mass_in * point[SPEED]
        stages[s, WALL_CONDENSATION_SHARE] = _ratio(
            both[CONDENSING_HEAT], TYPICAL_LATENT_HEAT * both[STEAM_IN]
        )
        work += number * both[WORK]
        if s == 0:
            first = mass_in
    heat_out = number * (both[EXHAUST_HEAT] - both[EXHAUST_RETURNED] * stages[count - 1, BACK_ENTHALPY])
    engine[STEAM] = first * point[SPEED]
    engine[POWER] = work * point[SPEED]
    engine[MEAN_EXHAUST_ENTHALPY] = _ratio(heat_out, mass_out)
    engine[MASS_RESIDUAL] = _ratio(first - mass_out, first)
    heat_in = first * point[BOILER_ENTHALPY]
    engine[HEAT_RESIDUAL] = _ratio(heat_in - work - heat_out, heat_in)
    residual: float = max(abs(engine[MASS_RESIDUAL]), abs(engine[HEAT_RESIDUAL]))
    return residual


@compiled
def update_couplings(
    point: Floats,
    tallies: Floats,
    wall_memory: Floats,
    pressure_memory: Floats,
    engine: Floats,
    stages: Floats,
    boiler_flow_work: float,
    dew: Floats,
    table: Floats,
) -> None:
    """Carry chest, receiver, back pressure and walls towards what this revolution asked for.

    Args:
        point: Operating point, by the places above.
        tallies: This revolution's tally of each stage and end.
        wall_memory: What is remembered of the wall of each stage and end.
        pressure_memory: What is remembered of each chest pressure, and at last of the back pressure.
        engine: Results of the whole engine.
        stages: Results of each stage; pressures, enthalpies and walls are replaced.
        boiler_flow_work: p/rho of the steam as it leaves the boiler [J/kg].
        dew: From `steam_table`.
        table: From `steam_table`.
    """
    count = stages.shape[0]
    # A point that goes on swinging is damped.
    relaxation = 1.0 if engine[REVOLUTIONS] < DAMPING_ONSET else RELAXATION
    fourth_revolution = int(engine[REVOLUTIONS]) % 4 == 0
    supply = point[BOILER_ENTHALPY]
    for s in range(count):
        both = tallies[s, 0] + tallies[s, 1]
        net = both[STEAM_IN] - both[STEAM_RETURNED]
        pressure = stages[s, CHEST_PRESSURE]
        flow = max(stages[s, FLOW], 1e-4 * engine[CHOKED_FLOW])
        if s == 0:
            target = solve_downstream_pressure(
                point[BOILER_PRESSURE], boiler_flow_work, point[PASSAGE_AREA], flow / pressure
            )
        else:
            target = pressure * max(stages[s - 1, FLOW], 1e-4 * engine[CHOKED_FLOW]) / flow
        stages[s, CHEST_PRESSURE] += relaxation * secant_step(pressure_memory[s], pressure, target)
        if s > 0:
            stages[s - 1, BACK_PRESSURE] = stages[s, CHEST_PRESSURE]
        if both[STEAM_IN] > 0.0:
            target = (supply * net + both[ENTHALPY_RETURNED]) / both[STEAM_IN]
            stages[s, CHEST_ENTHALPY] += relaxation * (target - stages[s, CHEST_ENTHALPY])
        if both[EXHAUST_OUT] > 0.0:
            target = both[EXHAUST_HEAT] / both[EXHAUST_OUT]
            stages[s, BACK_ENTHALPY] += relaxation * (target - stages[s, BACK_ENTHALPY])
        supply = stages[s, BACK_ENTHALPY]
        for e in range(2):
            # While the trapped steam still follows the last change, the wall's heat says little; but wait no more
            # than four turns, or a wall guessed too cold drinks steam for ever.
            if (
                relaxation < 1.0
                or fourth_revolution
                or wall_memory[s, e, DRIFT] < WALL_HOLD_RATIO * abs(tallies[s, e, WALL_HEAT])
            ):
                step = wall_step(tallies[s, e], wall_memory[s, e], stages[s, WALL_FRONT + e])
                stages[s, WALL_FRONT + e] += relaxation * step
    last = count - 1
    target = solve_upstream_pressure(
        point[OUTSIDE_PRESSURE], stages[last, BACK_FLOW_WORK], point[NOZZLE_AREA], max(engine[STEAM], 0.0)
    )
    stages[last, BACK_PRESSURE] += relaxation * secant_step(
        pressure_memory[count], stages[last, BACK_PRESSURE], target
    )
    for s in range(count):
        stages[s, CHEST_FLOW_WORK] = flow_work_at(
            stages[s, CHEST_PRESSURE], stages[s, CHEST_ENTHALPY], dew, table
        )
        stages[s, BACK_FLOW_WORK] = flow_work_at(
            stages[s, BACK_PRESSURE], stages[s, BACK_ENTHALPY], dew, table
        )
