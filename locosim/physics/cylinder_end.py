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
        0 for superheated steam, rising to 1 at 2 % of moisture [1].
    """
    return min(max(-above / 40.0e3, 0.0), 1.0)


@compiled
def orifice(area: float, upstream_pressure: float, flow_work: float, drop: float, moist: float) -> float:
    """Mass flow through an opening by Zeuner's ellipse.

    Args:
        area: Flow area, discharge coefficient included [m2].
        upstream_pressure: Absolute pressure before it [Pa].
        flow_work: p/rho before it [J/kg].
        drop: Fall of pressure across it, not negative [Pa].
        moist: From `moistness`, before it [1].

    Returns:
        Mass flow [kg/s].
    """
    critical = _CRITICAL_DRY + (_CRITICAL_WET - _CRITICAL_DRY) * moist
    greatest = _FLOW_DRY + (_FLOW_WET - _FLOW_DRY) * moist
    return area * ellipse_flow(upstream_pressure, upstream_pressure / flow_work, drop, critical, greatest)


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
def valve_flow(
    start_drop: float,
    free_drop: float,
    stiffness: float,
    area: float,
    time: float,
    inner: tuple[float, float],
    outer: tuple[float, float],
    inner_moist: float,
    outer_moist: float,
) -> float:
    """Mass that enters through a port in a step; negative when it leaves.

    With d the pressure outside less inside, dd/dt = c - S F(d), F the flow. F is nearly proportional to the root of
    d, so the weighted step d1 = d0 + c t - S t ((1 - w) F(d0) + w F(d1)) is a quadratic in the root of d1.
    w is 1/2 unless that would carry the old flow past evenness.

    Args:
        start_drop: Pressure outside less inside at the start of the step [Pa].
        free_drop: The same at its end if nothing flowed [Pa].
        stiffness: Rise of the inner pressure for mass let in [Pa/kg].
        area: Flow area, discharge coefficient included [m2].
        time: Length of the step [s].
        inner: Absolute pressure [Pa] and p/rho [J/kg] inside.
        outer: The same outside.
        inner_moist: From `moistness`, inside [1].
        outer_moist: The same outside [1].

    Returns:
        Mass [kg].
    """
    start_flow = _signed_flow(start_drop, area, inner, outer, inner_moist, outer_moist)
    weight = 0.5
    carried = stiffness * time * abs(start_flow)
    if carried > 2.0 * abs(start_drop):
        weight = 1.0 - abs(start_drop) / carried
    rest = free_drop - stiffness * time * (1.0 - weight) * start_flow
    flow = _signed_flow(rest, area, inner, outer, inner_moist, outer_moist)
    if flow == 0.0:
        return time * (1.0 - weight) * start_flow
    size = abs(rest)
    slope = abs(flow) / math.sqrt(size)
    half = 0.5 * stiffness * time * weight * slope
    root = size / (half + math.sqrt(half * half + size))
    return time * ((1.0 - weight) * start_flow + weight * math.copysign(slope * root, rest))


@compiled
def _signed_flow(
    drop: float,
    area: float,
    inner: tuple[float, float],
    outer: tuple[float, float],
    inner_moist: float,
    outer_moist: float,
) -> float:
    if drop >= 0.0:
        return orifice(area, outer[0], outer[1], drop, outer_moist)
    return -orifice(area, inner[0], inner[1], -drop, inner_moist)


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
    steam_length = constants.steam_discharge * cylinder.port_length
    exhaust_length = constants.exhaust_discharge * cylinder.port_length
    lap_and_lead = cylinder.lap + cylinder.lead
    chest = (around.chest_pressure, around.chest_flow_work)
    exhaust = (around.exhaust_pressure, around.exhaust_flow_work)
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
        inner = (pressure, flow_work)

        grip = 0.5 * (wall[at] + wall[at + 1]) * time
        heat, grip, condensing = wall_heat(
            temperature,
            pressure,
            above,
            mass,
            around.wall_temperature,
            grip * constants.condensing_coefficient,
            grip * constants.dry_coefficient,
        )
        squeeze = 0.5 * exponent * (v1 - v0) / middle
        free = pressure * (1.0 - squeeze) / (1.0 + squeeze) - (exponent - 1.0) * heat / middle
        enthalpy = energy / mass + flow_work

        angle = 2.0 * math.pi * (at + 0.5) / steps
        valve = valve_displacement(angle, lap_and_lead, around.link_term)
        steam_area = steam_length * steam_opening(valve, cylinder.lap, cylinder.port_width) + leak
        exhaust_area = (
            exhaust_length * exhaust_opening(valve, cylinder.exhaust_lap, cylinder.port_width) + leak
        )
        stiff_out = exponent * flow_work / middle
        stiff_in = stiff_out + (exponent - 1.0) * (around.chest_enthalpy - enthalpy) / middle
        steam = valve_flow(
            chest[0] - pressure,
            chest[0] - free,
            stiff_in if chest[0] > free else stiff_out,
            steam_area,
            time,
            inner,
            chest,
            moist,
            0.0,
        )
        free += steam * (stiff_in if steam > 0.0 else stiff_out)
        gone = -valve_flow(
            exhaust[0] - pressure,
            exhaust[0] - free,
            stiff_out,
            exhaust_area,
            time,
            inner,
            exhaust,
            moist,
            1.0,
        )
        free -= gone * stiff_out
        leaving = enthalpy + 0.5 * flow_work * (free - pressure) / pressure
        if steam >= 0.0:
            tally[STEAM_IN] += steam
            brought = steam * around.chest_enthalpy
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
            brought -= gone * around.exhaust_enthalpy

        mass += steam - gone
        work = 0.5 * (pressure + free) * (v1 - v0)
        flow_work, temperature, above = steam_state(
            mass / v1, (energy + brought - heat - work) / mass, dew, table
        )
        work = 0.5 * (pressure + flow_work * mass / v1) * (v1 - v0)
        energy += brought - heat - work
        flow_work, temperature, above = steam_state(mass / v1, energy / mass, dew, table)
        pressure = flow_work * mass / v1

        tally[WORK] += work
        tally[WALL_HEAT] += heat
        tally[WALL_GRIP] += grip
        tally[CONDENSED] += condensing
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
