"""One end of a cylinder through one revolution: filling, expansion, emptying, compression.

State: mass and internal energy of the steam. Each crank step takes, in this order, the exchange of heat with the
wall, the change of volume and the flow through ports and leaks; the work is the trapezium of the pressures at both
ends of the step, and the same work enters the energy, so mass and energy close to rounding whatever the step.

The flow through a wide open port at slow speed evens out the pressures within a fraction of a step. It is solved
with the square-root law of small pressure differences by a weighting between trapezium and backward step that goes
to the backward one just far enough not to overshoot.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from locosim.compiled import compiled
from locosim.physics.steam_flow import (
    SUPERHEATED_EXPONENT,
    WET_EXPONENT,
    critical_ratio,
    ellipse_flow,
    greatest_flow_number,
)
from locosim.physics.steam_table import steam_state
from locosim.physics.valve_gear import exhaust_opening, piston_fraction, steam_opening, valve_displacement

FloatArray = NDArray[np.float64]

_CRITICAL_DRY = critical_ratio(SUPERHEATED_EXPONENT)
_CRITICAL_WET = critical_ratio(WET_EXPONENT)
_FLOW_DRY = greatest_flow_number(SUPERHEATED_EXPONENT)
_FLOW_WET = greatest_flow_number(WET_EXPONENT)


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


class Gas(NamedTuple):
    """Steam on one side of a port.

    Attributes:
        pressure: Absolute pressure [Pa].
        flow_work: p/rho [J/kg].
        enthalpy: Specific enthalpy [J/kg].
        moist: From `moistness` [1].
    """

    pressure: float
    flow_work: float
    enthalpy: float
    moist: float


# Places in the tally of a revolution.
MASS, ENERGY = 0, 1  # state carried over to the next revolution [kg], [J]
STEAM_IN, STEAM_BACK = 2, 3  # from the chest, and back into it [kg]
HEAT_BACK = 4  # enthalpy carried back into the chest [J]
EXHAUST_OUT, EXHAUST_HEAT = 5, 6  # to exhaust, net [kg], [J]; the heat counts what really left
EXHAUST_BACK = 7  # drawn back from the exhaust passage [kg]
WORK = 8  # done on the piston [J]
WALL_HEAT, WALL_GRIP = 9, 10  # given to the wall [J]; sum of coefficient x area x time [J/K]
CONDENSED = 11  # heat given to wetted wall during the revolution, for the share condensed [J]
WETTEST, DENSEST, THINNEST = 12, 13, 14  # range of states met, to check against the table
TALLY = 15


@compiled
def cylinder_of(row: FloatArray) -> Cylinder:
    """The cylinder written in a row of numbers, as the parallel loop needs it."""
    return Cylinder(row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8], row[9], row[10])


@compiled
def constants_of(row: FloatArray) -> CycleConstants:
    """The general constants written in a row of numbers."""
    return CycleConstants(row[0], row[1], row[2], row[3], row[4], row[5])


@compiled
def geometry(cylinder: Cylinder, constants: CycleConstants, steps: int) -> FloatArray:
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
def moistness(above: float) -> float:
    """Share of the way from dry to wet behaviour, so that nothing jumps at the dew line.

    Args:
        above: Energy above dry saturated steam, negative when wet [J/kg].

    Returns:
        0 for superheated steam, rising to 1 at 0.2 % of moisture [1].
    """
    return min(max(-above / 4.0e3, 0.0), 1.0)


@compiled
def orifice(area: float, before: Gas, drop: float) -> float:
    """Mass flow through an opening by Zeuner's ellipse.

    Args:
        area: Flow area, discharge coefficient included [m2].
        before: Steam before it.
        drop: Fall of pressure across it, not negative [Pa].

    Returns:
        Mass flow [kg/s].
    """
    critical = _CRITICAL_DRY + (_CRITICAL_WET - _CRITICAL_DRY) * before.moist
    greatest = _FLOW_DRY + (_FLOW_WET - _FLOW_DRY) * before.moist
    density = before.pressure / before.flow_work
    return area * ellipse_flow(before.pressure, density, drop, critical, greatest)


@compiled
def boiling_point(pressure: float) -> float:
    """Temperature at which water boils, by a three-constant law, for the exchange with the wall only.

    Args:
        pressure: Absolute pressure, 0.5 to 25 bar within 0.05 K of the formulation of 1997 [Pa].

    Returns:
        Temperature [K].
    """
    return 3801.93 / (23.171 - math.log(pressure)) + 46.636


@compiled
def wall_heat(
    temperature: float,
    pressure: float,
    above: float,
    mass: float,
    wall_temperature: float,
    grip_wet: float,
    grip_dry: float,
) -> tuple[float, float, float]:
    """Heat given to the wall in a step, and the grip that gave it.

    A wall colder than boiling condenses steam on itself, whatever the bulk of the steam is. A warmer one gives heat
    back quickly while the steam is wet, and slowly once it is dry.

    Args:
        temperature: Temperature of the steam [K].
        pressure: Its absolute pressure [Pa].
        above: Its energy above dry saturated, negative when wet [J/kg].
        mass: Its mass [kg].
        wall_temperature: Temperature of the wall [K].
        grip_wet: Wetted coefficient x area x time [J/K].
        grip_dry: Dry coefficient x area x time [J/K].

    Returns:
        Heat to the wall [J], grip [J/K], and the part of the heat that condensed steam [J].
    """
    if above < 0.0:
        if wall_temperature <= temperature:
            heat = grip_wet * (temperature - wall_temperature)
            return heat, grip_wet, heat
        excess = wall_temperature - temperature
        # The coefficient is full from 1 % of moisture; the moisture at the end of the step counts.
        moisture = -above / 20.0e3 / (1.0 + grip_wet * excess / (20.0e3 * mass))
        grip = grip_dry + (grip_wet - grip_dry) * min(moisture, 1.0)
        return -grip * excess, grip, 0.0
    grip = grip_dry / (1.0 + grip_dry / (1500.0 * mass))  # never past evenness
    dry = grip * (temperature - wall_temperature)
    if wall_temperature >= temperature:  # and so above boiling
        return dry, grip, 0.0
    condensing = grip_wet * (boiling_point(pressure) - wall_temperature)
    if condensing <= 0.0:
        return dry, grip, 0.0
    return dry + condensing, grip + grip_wet, condensing


@compiled
def port_flow(
    area_time: float, inside: Gas, outside: Gas, free: float, exponent: float, volume: float
) -> float:
    """Mass that enters through a port in a step; negative when it leaves.

    With d the pressure outside less inside, dd/dt = c - S F(d), F the flow and S the rise of pressure inside for
    mass let in. F is nearly proportional to the root of d, so the weighted step
    d1 = d0 + c t - S t ((1 - w) F(d0) + w F(d1)) is a quadratic in the root of d1. The weight w is 1/2 unless that
    would carry the old flow past evenness.

    Args:
        area_time: Flow area, discharge coefficient included, times the length of the step [m2 s].
        inside: Steam inside at the start of the step.
        outside: Steam outside.
        free: Pressure inside at the end of the step if nothing flowed here [Pa].
        exponent: Isentropic exponent inside [1].
        volume: Volume inside in the middle of the step [m3].

    Returns:
        Mass [kg].
    """
    stiffness = port_stiffness(outside.pressure - free, inside, outside, exponent) / volume
    start_drop = outside.pressure - inside.pressure
    start = _signed_flow(area_time, inside, outside, start_drop)
    weight = 0.5
    carried = stiffness * abs(start)
    if carried > 2.0 * abs(start_drop):
        weight = 1.0 - abs(start_drop) / carried
    rest = outside.pressure - free - stiffness * (1.0 - weight) * start
    later = inside
    if rest < 0.0:  # what leaves is thinner at the end of the step
        pressure = outside.pressure - rest
        flow_work = inside.flow_work * (1.0 + 0.23 * (pressure / inside.pressure - 1.0))
        later = Gas(pressure, flow_work, inside.enthalpy, inside.moist)
    end = _signed_flow(area_time, later, outside, rest)
    if end == 0.0:
        return (1.0 - weight) * start
    size = abs(rest)
    slope = abs(end) / math.sqrt(size)
    half = 0.5 * stiffness * weight * slope
    root = size / (half + math.sqrt(half * half + size))
    return (1.0 - weight) * start + weight * math.copysign(slope * root, rest)


@compiled
def port_stiffness(drop: float, inside: Gas, outside: Gas, exponent: float) -> float:
    """Rise of the pressure inside for mass let in, times the volume.

    Args:
        drop: Pressure outside less inside, its sign tells which way steam goes [Pa].
        inside: Steam inside.
        outside: Steam outside.
        exponent: Isentropic exponent inside [1].

    Returns:
        Rise times volume [Pa m3/kg].
    """
    if drop > 0.0:
        return exponent * inside.flow_work + (exponent - 1.0) * (outside.enthalpy - inside.enthalpy)
    return exponent * inside.flow_work


@compiled
def _signed_flow(area: float, inside: Gas, outside: Gas, drop: float) -> float:
    if drop >= 0.0:
        return orifice(area, outside, drop)
    return -orifice(area, inside, -drop)


@compiled
def revolve(
    cylinder: Cylinder,
    constants: CycleConstants,
    around: Surroundings,
    volume: FloatArray,
    wall: FloatArray,
    pressures: FloatArray,
    tally: FloatArray,
    dew: FloatArray,
    table: FloatArray,
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
    flow_work, temperature, above = steam_state(mass / volume[at], energy / mass, dew, table)
    pressure = flow_work * mass / volume[at]
    pressures[at] = pressure
    for _ in range(steps):
        v0, v1 = volume[at], volume[at + 1]
        middle = 0.5 * (v0 + v1)
        moist = moistness(above)
        exponent = SUPERHEATED_EXPONENT + (WET_EXPONENT - SUPERHEATED_EXPONENT) * moist
        inside = Gas(pressure, flow_work, energy / mass + flow_work, moist)
        grip_wet = 0.5 * (wall[at] + wall[at + 1]) * time * constants.condensing_coefficient
        grip_dry = grip_wet * dry_share
        heat, grip, condensing = wall_heat(
            temperature, pressure, above, mass, around.wall_temperature, grip_wet, grip_dry
        )

        squeeze = 0.5 * exponent * (v1 - v0) / middle
        free = pressure * (1.0 - squeeze) / (1.0 + squeeze) - (exponent - 1.0) * heat / middle
        angle = 2.0 * math.pi * (at + 0.5) / steps
        valve = valve_displacement(angle, lap_and_lead, around.link_term)
        steam_way = steam_length * steam_opening(valve, cylinder.lap, cylinder.port_width) + leak
        exhaust_way = (
            exhaust_length * exhaust_opening(valve, cylinder.exhaust_lap, cylinder.port_width) + leak
        )
        # The wider way last: its pressure is the one that stays.
        if steam_way < exhaust_way:
            steam = port_flow(steam_way * time, inside, chest, free, exponent, middle)
            free += steam * port_stiffness(steam, inside, chest, exponent) / middle
            gone = -port_flow(exhaust_way * time, inside, exhaust, free, exponent, middle)
            free -= gone * port_stiffness(-gone, inside, exhaust, exponent) / middle
        else:
            gone = -port_flow(exhaust_way * time, inside, exhaust, free, exponent, middle)
            free -= gone * port_stiffness(-gone, inside, exhaust, exponent) / middle
            steam = port_flow(steam_way * time, inside, chest, free, exponent, middle)
            free += steam * port_stiffness(steam, inside, chest, exponent) / middle
        # Never more than half of what is there: only the first revolutions of a bad guess come near that.
        steam, gone = max(steam, -0.5 * mass), min(gone, 0.5 * mass)
        leaving = inside.enthalpy + 0.5 * flow_work * (free - pressure) / pressure
        if steam >= 0.0:
            tally[STEAM_IN] += steam
            brought = steam * chest.enthalpy
        else:
            tally[STEAM_BACK] -= steam
            tally[HEAT_BACK] -= steam * leaving
            brought = steam * leaving
        if gone >= 0.0:
            tally[EXHAUST_OUT] += gone
            tally[EXHAUST_HEAT] += gone * leaving
            brought -= gone * leaving
        else:
            tally[EXHAUST_BACK] -= gone
            brought -= gone * exhaust.enthalpy

        # A first end state, by the predicted pressure; then heat and work by the mean of both ends of the step.
        mass += steam - gone
        work = 0.5 * (pressure + free) * (v1 - v0)
        flow_work, temperature, above = steam_state(
            mass / v1, (energy + brought - heat - work) / mass, dew, table
        )
        later, later_grip, later_condensing = wall_heat(
            temperature, flow_work * mass / v1, above, mass, around.wall_temperature, grip_wet, grip_dry
        )
        heat = 0.5 * (heat + later)
        work = 0.5 * (pressure + flow_work * mass / v1) * (v1 - v0)
        energy += brought - heat - work
        flow_work, temperature, above = steam_state(mass / v1, energy / mass, dew, table)
        pressure = flow_work * mass / v1

        tally[WORK] += work
        tally[WALL_HEAT] += heat
        tally[WALL_GRIP] += 0.5 * (grip + later_grip)
        tally[CONDENSED] += 0.5 * (condensing + later_condensing)
        tally[WETTEST] = min(tally[WETTEST], above)
        tally[DENSEST] = max(tally[DENSEST], mass / v1)
        tally[THINNEST] = min(tally[THINNEST], mass / v1)
        at += 1
        pressures[at] = pressure
        if at == steps:
            at = 0
            pressures[0] = pressure
    tally[MASS] = mass
    tally[ENERGY] = energy
