"""One end of a cylinder through one revolution: filling, expansion, emptying, compression.

State: mass and internal energy of the steam. Each crank step takes, in this order, the exchange of heat with the
wall, the change of volume and the flow through ports and leaks; the work is the trapezium of the pressures at both
ends of the step, and the same work enters the energy, so mass and energy close to rounding whatever the step.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from locosim.compiled import compiled
from locosim.physics.cylinder.port_flow import Gas, moistness, port_flow, port_stiffness
from locosim.physics.cylinder.valve_gear import (
    exhaust_opening,
    piston_fraction,
    steam_opening,
    valve_displacement,
)
from locosim.physics.cylinder.wall_heat import wall_heat, warm_wall_heat
from locosim.physics.steam.nozzle_flow import SUPERHEATED_EXPONENT, WET_EXPONENT
from locosim.physics.steam.property_table import steam_state
from locosim.physics.types import Floats


class Cylinder(NamedTuple):
    """What the cycle needs to know of one of a set of like cylinders, and of its valve.

    Attributes:
        number: How many cylinders share the chest [1].
        bore: Diameter of the bore [m].
        stroke: Travel of the piston [m].
        rod_ratio: Length of the connecting rod over the crank radius [1].
        clearance: Clearance volume of one end over its swept volume [1].
        rod_diameter: Diameter of the piston rod at the back end [m].
        lap: Steam lap [m].
        lead: Lead [m].
        exhaust_lap: Exhaust lap [m].
        port_length: Length of the port edge of one end, bars taken off [m].
        port_width: Width of the port in the direction of valve travel [m].
    """

    number: float
    bore: float
    stroke: float
    rod_ratio: float
    clearance: float
    rod_diameter: float
    lap: float
    lead: float
    exhaust_lap: float
    port_length: float
    port_width: float


class CycleConstants(NamedTuple):
    """The general constants of the cycle; `engine_practice` holds the fitted set.

    Attributes:
        steam_discharge: Discharge coefficient of the port to steam [1].
        exhaust_discharge: Discharge coefficient of the port to exhaust [1].
        leakage_share: Area of leaks from chest to end, and from end to exhaust, over piston area [1].
        condensing_coefficient: Heat transfer to and from a wetted wall [W/(m2 K)].
        dry_coefficient: Heat transfer between dry steam and wall [W/(m2 K)].
        wall_share: Wall of the clearance space (head, piston, port) over twice the piston area [1].
    """

    steam_discharge: float
    exhaust_discharge: float
    leakage_share: float
    condensing_coefficient: float
    dry_coefficient: float
    wall_share: float


class Surroundings(NamedTuple):
    """What one end sees during a revolution.

    Attributes:
        revolutions: Driver speed [1/s].
        link_term: Second amplitude of the valve gear, which sets the cutoff [m].
        chest_pressure: Absolute pressure in the steam chest [Pa].
        chest_flow_work: p/rho there [J/kg].
        chest_enthalpy: Specific enthalpy there [J/kg].
        exhaust_pressure: Absolute pressure in the exhaust passage [Pa].
        exhaust_flow_work: p/rho there [J/kg].
        exhaust_enthalpy: Specific enthalpy there [J/kg].
        wall_temperature: Temperature of this end's walls [K].
    """

    revolutions: float
    link_term: float
    chest_pressure: float
    chest_flow_work: float
    chest_enthalpy: float
    exhaust_pressure: float
    exhaust_flow_work: float
    exhaust_enthalpy: float
    wall_temperature: float


class Content(NamedTuple):
    """Steam in one end.

    Attributes:
        mass: [kg]
        energy: Internal energy [J].
        pressure: Absolute pressure [Pa].
        flow_work: p/rho [J/kg].
        temperature: [K]
        above: Energy above dry saturated steam, negative when wet [J/kg].
    """

    mass: float
    energy: float
    pressure: float
    flow_work: float
    temperature: float
    above: float


# Places in the tally of a revolution.
MASS, ENERGY = 0, 1  # state carried over to the next revolution [kg], [J]
STEAM_IN, STEAM_BACK = 2, 3  # from the chest, and back into it [kg]
HEAT_BACK = 4  # enthalpy carried back into the chest [J]
EXHAUST_OUT, EXHAUST_HEAT = 5, 6  # to exhaust, what is drawn back not taken off [kg], [J]
EXHAUST_BACK = 7  # drawn back from the exhaust passage [kg]
WORK = 8  # done on the piston [J]
WALL_HEAT, WALL_GRIP = 9, 10  # given to the wall [J]; sum of coefficient x area x time [J/K]
CONDENSED = 11  # heat given to wetted wall during the revolution, for the share condensed [J]
WETTEST, DENSEST, THINNEST = 12, 13, 14  # range of states met, to check against the table
TALLY = 15


@compiled
def cylinder_of(row: Floats) -> Cylinder:
    """The cylinder written in a row of numbers, as the parallel loop needs it."""
    return Cylinder(row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8], row[9], row[10])


@compiled
def constants_of(row: Floats) -> CycleConstants:
    """The general constants written in a row of numbers."""
    return CycleConstants(row[0], row[1], row[2], row[3], row[4], row[5])


@compiled
def geometry(cylinder: Cylinder, constants: CycleConstants, steps: int) -> Floats:
    """Volume and wall area of both ends over crank angle.

    Args:
        cylinder: The cylinder.
        constants: General constants.
        steps: Crank steps in a revolution.

    Returns:
        Rows front volume, back volume [m3], front wall, back wall [m2]; columns crank angle from each end's own
        dead centre, steps + 1 of them.
    """
    rows = np.empty((4, steps + 1))
    area = 0.25 * math.pi * cylinder.bore**2
    back_area = area - 0.25 * math.pi * cylinder.rod_diameter**2
    for i in range(steps + 1):
        angle = 2.0 * math.pi * i / steps
        front = piston_fraction(angle, cylinder.rod_ratio)
        back = 1.0 - piston_fraction(angle + math.pi, cylinder.rod_ratio)
        rows[0, i] = area * cylinder.stroke * (cylinder.clearance + front)
        rows[1, i] = back_area * cylinder.stroke * (cylinder.clearance + back)
        rows[2, i] = 2.0 * area * constants.wall_share + math.pi * cylinder.bore * cylinder.stroke * front
        rows[3, i] = 2.0 * area * constants.wall_share + math.pi * cylinder.bore * cylinder.stroke * back
    return rows


@compiled
def content(mass: float, energy: float, volume: float, dew: Floats, table: Floats) -> Content:
    """Steam of a mass [kg] and an internal energy [J] in a volume [m3]."""
    flow_work, temperature, above = steam_state(mass / volume, energy / mass, dew, table)
    return Content(mass, energy, flow_work * mass / volume, flow_work, temperature, above)


@compiled
def mean_heat(
    before: Content,
    tried: Content,
    lost: tuple[float, float, float],
    wall_temperature: float,
    grips: tuple[float, float],
) -> tuple[float, float, float]:
    """Heat to the wall in a step by both its ends.

    Args:
        before: Steam at the start.
        tried: Steam at the end of a first trial.
        lost: What `wall_heat` says of the start.
        wall_temperature: Temperature of the wall [K].
        grips: Wetted and dry coefficient x area x time [J/K].

    Returns:
        Heat [J], grip [J/K], and the part of the heat that condensed steam [J].
    """
    if wall_temperature >= max(before.temperature, tried.temperature):
        heat, grip = warm_wall_heat(
            (before.temperature, tried.temperature),
            (before.above, tried.above),
            0.5 * (before.mass + tried.mass),
            wall_temperature,
            grips,
        )
        return heat, grip, 0.0
    later = wall_heat(tried.temperature, tried.pressure, tried.above, tried.mass, wall_temperature, grips)
    return 0.5 * (lost[0] + later[0]), 0.5 * (lost[1] + later[1]), 0.5 * (lost[2] + later[2])


@compiled
def port_flows(
    ways: tuple[float, float],
    inside: Gas,
    chest: Gas,
    exhaust: Gas,
    free: float,
    exponent: float,
    middle: float,
) -> tuple[float, float, float]:
    """Flows through both ways of an end in a step; the wider way last, whose pressure is the one that stays.

    Args:
        ways: Flow areas from the chest and to exhaust, times the length of the step [m2 s].
        inside: Steam inside at the start of the step.
        chest: Steam in the chest.
        exhaust: Steam in the exhaust passage.
        free: Pressure inside at the end of the step if nothing flowed [Pa].
        exponent: Isentropic exponent inside [1].
        middle: Volume inside in the middle of the step [m3].

    Returns:
        Mass from the chest, mass to exhaust [kg], both negative the other way, and pressure at the end [Pa].
    """
    steam = gone = 0.0
    for turn in range(2):
        if (turn == 0) == (ways[0] < ways[1]):
            steam = port_flow(ways[0], inside, chest, free, exponent, middle)
            free += steam * port_stiffness(steam, inside, chest, exponent) / middle
        else:
            gone = -port_flow(ways[1], inside, exhaust, free, exponent, middle)
            free -= gone * port_stiffness(-gone, inside, exhaust, exponent) / middle
    return steam, gone, free


@compiled
def carried_in(steam: float, gone: float, chest: float, exhaust: float, leaving: float) -> float:
    """Enthalpy that flows bring into an end [J].

    Args:
        steam: Mass from the chest, negative when it goes back [kg].
        gone: Mass to exhaust, negative when it comes back [kg].
        chest: Enthalpy there [J/kg].
        exhaust: Enthalpy there [J/kg].
        leaving: Enthalpy of what leaves the end [J/kg].
    """
    return steam * (chest if steam >= 0.0 else leaving) - gone * (leaving if gone >= 0.0 else exhaust)


@compiled
def revolve(
    cylinder: Cylinder,
    constants: CycleConstants,
    around: Surroundings,
    volume: Floats,
    wall: Floats,
    pressures: Floats,
    tally: Floats,
    dew: Floats,
    table: Floats,
) -> None:
    """Carry one end through one revolution, from its open end round to its open end.

    Args:
        cylinder: The cylinder.
        constants: General constants.
        around: What this end sees.
        volume: Volume over crank angle from this end's dead centre [m3].
        wall: Wall area over the same [m2].
        pressures: Filled with absolute pressures over the same angles [Pa].
        tally: State and sums; state is read and written, sums are written.
        dew: From `steam_table`.
        table: From `steam_table`.
    """
    steps = volume.size - 1
    time = 1.0 / (around.revolutions * steps)
    piston = 0.25 * math.pi * cylinder.bore**2
    leak = constants.leakage_share * piston
    dry_share = constants.dry_coefficient / constants.condensing_coefficient
    steam_length = constants.steam_discharge * cylinder.port_length
    exhaust_length = constants.exhaust_discharge * cylinder.port_length
    lap_and_lead = cylinder.lap + cylinder.lead
    chest = Gas(around.chest_pressure, around.chest_flow_work, around.chest_enthalpy, 0.0)
    exhaust = Gas(around.exhaust_pressure, around.exhaust_flow_work, around.exhaust_enthalpy, 1.0)
    mass = tally[MASS]
    energy = tally[ENERGY]
    for k in range(2, TALLY):
        tally[k] = 0.0
    tally[THINNEST] = 1e9
    at = steps // 2
    now = content(mass, energy, volume[at], dew, table)
    pressures[at] = now.pressure
    for _ in range(steps):
        v0, v1 = volume[at], volume[at + 1]
        middle = 0.5 * (v0 + v1)
        moist = moistness(now.above)
        exponent = SUPERHEATED_EXPONENT + (WET_EXPONENT - SUPERHEATED_EXPONENT) * moist
        inside = Gas(now.pressure, now.flow_work, now.energy / now.mass + now.flow_work, moist)
        grip_wet = 0.5 * (wall[at] + wall[at + 1]) * time * constants.condensing_coefficient
        grips = (grip_wet, grip_wet * dry_share)
        lost = wall_heat(now.temperature, now.pressure, now.above, now.mass, around.wall_temperature, grips)

        squeeze = 0.5 * exponent * (v1 - v0) / middle
        free = now.pressure * (1.0 - squeeze) / (1.0 + squeeze) - (exponent - 1.0) * lost[0] / middle
        angle = 2.0 * math.pi * (at + 0.5) / steps
        valve = valve_displacement(angle, lap_and_lead, around.link_term)
        steam_way = steam_length * steam_opening(valve, cylinder.lap, cylinder.port_width) + leak
        exhaust_way = (
            exhaust_length * exhaust_opening(valve, cylinder.exhaust_lap, cylinder.port_width) + leak
        )
        ways = (steam_way * time, exhaust_way * time)
        steam, gone, end = port_flows(ways, inside, chest, exhaust, free, exponent, middle)
        # Never more than half of what is there: only the first revolutions of a bad guess come near that.
        steam, gone = max(steam, -0.5 * now.mass), min(gone, 0.5 * now.mass)
        # A first end state, by the pressure foreseen; then what leaves, heat and work by both ends of the step.
        leaving = inside.enthalpy + 0.5 * now.flow_work * (end - now.pressure) / now.pressure
        brought = carried_in(steam, gone, chest.enthalpy, exhaust.enthalpy, leaving)
        held = now.energy + brought - lost[0] - 0.5 * (now.pressure + end) * (v1 - v0)
        tried = content(now.mass + steam - gone, held, v1, dew, table)
        met = tried.energy / tried.mass + tried.flow_work  # wild in the first revolutions of a bad guess
        leaving = 0.5 * (inside.enthalpy + min(max(met, 0.8 * inside.enthalpy), 1.2 * inside.enthalpy))
        brought = carried_in(steam, gone, chest.enthalpy, exhaust.enthalpy, leaving)
        heat, grip, condensing = mean_heat(now, tried, lost, around.wall_temperature, grips)
        work = 0.5 * (now.pressure + tried.pressure) * (v1 - v0)
        now = content(tried.mass, now.energy + brought - heat - work, v1, dew, table)

        if steam >= 0.0:
            tally[STEAM_IN] += steam
        else:
            tally[STEAM_BACK] -= steam
            tally[HEAT_BACK] -= steam * leaving
        if gone >= 0.0:
            tally[EXHAUST_OUT] += gone
            tally[EXHAUST_HEAT] += gone * leaving
        else:
            tally[EXHAUST_BACK] -= gone
        tally[WORK] += work
        tally[WALL_HEAT] += heat
        tally[WALL_GRIP] += grip
        tally[CONDENSED] += condensing
        tally[WETTEST] = min(tally[WETTEST], now.above)
        tally[DENSEST] = max(tally[DENSEST], now.mass / v1)
        tally[THINNEST] = min(tally[THINNEST], now.mass / v1)
        at += 1
        pressures[at] = now.pressure
        if at == steps:
            at = 0
            pressures[0] = now.pressure
    tally[MASS] = now.mass
    tally[ENERGY] = now.energy
