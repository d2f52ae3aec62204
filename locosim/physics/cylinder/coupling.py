"""What ties the revolutions of the cylinder cycle together, and how each tie is drawn tight.

Chest pressure belongs to the flow through regulator and steam pipes, back pressure to the flow through the blast
nozzle, the receiver's pressure to equal flow in both stages, the enthalpies to what is mixed there, each wall's
temperature to no net heat over a revolution. Here stand the sums of a revolution and the step of each tie.
"""

from __future__ import annotations

import math

from locosim.compiled import compiled
from locosim.physics.cylinder.revolution import (
    CONDENSED,
    EXHAUST_BACK,
    EXHAUST_HEAT,
    EXHAUST_OUT,
    HEAT_BACK,
    STEAM_BACK,
    STEAM_IN,
    WALL_GRIP,
    WALL_HEAT,
    WORK,
)
from locosim.physics.steam.nozzle_flow import pressure_before, pressure_behind
from locosim.physics.steam.property_table import steam_state
from locosim.physics.types import Floats

# Places in the operating point handed in.
SPEED, PASSAGE_AREA, BOILER_PRESSURE, BOILER_ENTHALPY, OUTSIDE_PRESSURE, NOZZLE_AREA = range(6)
POINT = 6

# Places in the result of a point, for the whole engine.
STEAM, OUT_ENTHALPY, POWER, PEAK, TURNS, MASS_GAP, HEAT_GAP = range(7)
WET_END, DENSE_END, THIN_END, CHOKED = range(7, 11)
ENGINE = 11
# Places in the result of one stage of expansion.
CHEST_PRESSURE, CHEST_ENTHALPY, BACK_PRESSURE, BACK_ENTHALPY, WORK_FRONT, WORK_BACK, FLOW, CONDENSED_SHARE = (
    range(8)
)
WALL_FRONT, WALL_BACK, CHEST_FLOW_WORK, BACK_FLOW_WORK = range(8, 12)
STAGE = 12

# Places in what is remembered of a wall, and of a pressure, from one revolution to the next.
VALUE_BEFORE, ANSWER_BEFORE, SLOPE, DRIFT = range(4)
MEMORY = 4

HOLD = 1.5  # a wall waits while the trapped steam drifts by more than this times the wall's heat
PATIENCE = 60  # revolutions before a point that goes on swinging is damped
DAMPED = 0.4  # of each change that is then made
FLOW_WORK_ROUNDS = 60  # to turn the table round; 38 are the most met from 0.5 to 50 bar
LEARNING = 0.7  # of what a revolution says of a slope that is taken over
LATENT_HEAT = (
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
    for _ in range(FLOW_WORK_ROUNDS):
        found = steam_state(pressure / flow_work, enthalpy - flow_work, dew, table)[0]
        change = found - flow_work
        flow_work += 0.75 * change
        if abs(change) < 1e-9 * found:
            return flow_work
    return math.nan


@compiled
def wall_step(tally: Floats, before: Floats, temperature: float) -> float:
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
    if before[VALUE_BEFORE] > 0.0 and abs(temperature - before[VALUE_BEFORE]) > 1e-7:
        slope = (before[ANSWER_BEFORE] - tally[WALL_HEAT]) / (temperature - before[VALUE_BEFORE])
        share = slope / tally[WALL_GRIP]
        if 0.02 < share < 1.5:
            before[SLOPE] += LEARNING * (share - before[SLOPE])
    else:
        before[SLOPE] = 0.5
    before[VALUE_BEFORE] = temperature
    before[ANSWER_BEFORE] = tally[WALL_HEAT]
    change: float = tally[WALL_HEAT] / (before[SLOPE] * tally[WALL_GRIP])
    return min(max(change, -20.0), 20.0)


@compiled
def learnt_step(before: Floats, pressure: float, wanted: float) -> float:
    """Change of chest, receiver or back pressure towards what the flow asks for.

    What is asked for moves with the pressure itself; how much is learnt from one revolution to the next.

    Args:
        before: Pressure, wanted pressure, gain and gap of the revolution before; replaced.
        pressure: Pressure of this revolution [Pa].
        wanted: Pressure that goes with this revolution's flow [Pa].

    Returns:
        Change, at most 30 % [Pa].
    """
    moved = pressure - before[VALUE_BEFORE]
    if before[VALUE_BEFORE] > 0.0 and abs(moved) > 1e-7 * pressure:
        gain = (wanted - before[ANSWER_BEFORE]) / moved
        if -20.0 < gain < 0.5:
            before[SLOPE] += LEARNING * (gain - before[SLOPE])
    before[VALUE_BEFORE] = pressure
    before[ANSWER_BEFORE] = wanted
    before[DRIFT] = abs(wanted - pressure) / pressure
    change: float = (wanted - pressure) / (1.0 - before[SLOPE])
    return min(max(change, -0.3 * pressure), 0.3 * pressure)


@compiled
def _share(part: float, whole: float) -> float:
    return part / whole if whole != 0.0 else 0.0


@compiled
def ledger(cylinders: Floats, point: Floats, tallies: Floats, engine: Floats, stages: Floats) -> float:
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
        inward = number * (both[STEAM_IN] - both[STEAM_BACK])
        outward = number * (both[EXHAUST_OUT] - both[EXHAUST_BACK])
        stages[s, WORK_FRONT] = tallies[s, 0, WORK]
        stages[s, WORK_BACK] = tallies[s, 1, WORK]
        stages[s, FLOW] = inward * point[SPEED]
        stages[s, CONDENSED_SHARE] = _share(both[CONDENSED], LATENT_HEAT * both[STEAM_IN])
        work += number * both[WORK]
        if s == 0:
            first = inward
    heat_out = number * (both[EXHAUST_HEAT] - both[EXHAUST_BACK] * stages[count - 1, BACK_ENTHALPY])
    engine[STEAM] = first * point[SPEED]
    engine[POWER] = work * point[SPEED]
    engine[OUT_ENTHALPY] = _share(heat_out, outward)
    engine[MASS_GAP] = _share(first - outward, first)
    boiled = first * point[BOILER_ENTHALPY]
    engine[HEAT_GAP] = _share(boiled - work - heat_out, boiled)
    gap: float = max(abs(engine[MASS_GAP]), abs(engine[HEAT_GAP]))
    return gap


@compiled
def adjust(
    point: Floats,
    tallies: Floats,
    walls: Floats,
    ways: Floats,
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
        walls: What is remembered of the wall of each stage and end.
        ways: What is remembered of each chest pressure, and at last of the back pressure.
        engine: Results of the whole engine.
        stages: Results of each stage; pressures, enthalpies and walls are replaced.
        boiler_flow_work: p/rho of the steam as it leaves the boiler [J/kg].
        dew: From `steam_table`.
        table: From `steam_table`.
    """
    count = stages.shape[0]
    # A point that goes on swinging is damped.
    calm = 1.0 if engine[TURNS] < PATIENCE else DAMPED
    fourth_turn = int(engine[TURNS]) % 4 == 0
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
            # While the trapped steam still follows the last change, the wall's heat says little; but wait no more
            # than four turns, or a wall guessed too cold drinks steam for ever.
            if calm < 1.0 or fourth_turn or walls[s, e, DRIFT] < HOLD * abs(tallies[s, e, WALL_HEAT]):
                step = wall_step(tallies[s, e], walls[s, e], stages[s, WALL_FRONT + e])
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
