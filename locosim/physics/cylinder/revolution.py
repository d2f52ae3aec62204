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
from locosim.physics.cylinder.port_flow import PortSteam, port_flow, port_stiffness, wetness_blend
from locosim.physics.cylinder.valve_gear import (
    exhaust_opening,
    piston_position,
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
        admission_discharge_coefficient: Discharge coefficient of the port to steam [1].
        exhaust_discharge_coefficient: Discharge coefficient of the port to exhaust [1].
        leakage_area_ratio: Area of leaks from chest to end, and from end to exhaust, over piston area [1].
        wet_wall_heat_transfer: Heat transfer to and from a wetted wall [W/(m2 K)].
        dry_wall_heat_transfer: Heat transfer between dry steam and wall [W/(m2 K)].
        wall_area_ratio: Wall of the clearance space (head, piston, port) over twice the piston area [1].
    """

    admission_discharge_coefficient: float
    exhaust_discharge_coefficient: float
    leakage_area_ratio: float
    wet_wall_heat_transfer: float
    dry_wall_heat_transfer: float
    wall_area_ratio: float


class BoundaryConditions(NamedTuple):
    """What one end sees during a revolution.

    Attributes:
        driver_speed: Revolutions of the drivers [1/s].
        link_amplitude: Second amplitude of the valve gear, which sets the cutoff [m].
        chest_pressure: Absolute pressure in the steam chest [Pa].
        chest_flow_work: p/rho there [J/kg].
        chest_enthalpy: Specific enthalpy there [J/kg].
        exhaust_pressure: Absolute pressure in the exhaust passage [Pa].
        exhaust_flow_work: p/rho there [J/kg].
        exhaust_enthalpy: Specific enthalpy there [J/kg].
        wall_temperature: Temperature of this end's walls [K].
    """

    driver_speed: float
    link_amplitude: float
    chest_pressure: float
    chest_flow_work: float
    chest_enthalpy: float
    exhaust_pressure: float
    exhaust_flow_work: float
    exhaust_enthalpy: float
    wall_temperature: float


class CylinderSteam(NamedTuple):
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
STEAM_IN, STEAM_RETURNED = 2, 3  # from the chest, and back into it [kg]
ENTHALPY_RETURNED = 4  # enthalpy carried back into the chest [J]
EXHAUST_OUT, EXHAUST_HEAT = 5, 6  # to exhaust, what is drawn back not taken off [kg], [J]
EXHAUST_RETURNED = 7  # drawn back from the exhaust passage [kg]
WORK = 8  # done on the piston [J]
WALL_HEAT, WALL_CONDUCTANCE = 9, 10  # given to the wall [J]; sum of coefficient x area x time [J/K]
CONDENSING_HEAT = 11  # heat given to wetted wall during the revolution, for the share condensed [J]
WETTEST, MAX_DENSITY, MIN_DENSITY = 12, 13, 14  # range of states met, to check against the table
TALLY_SIZE = 15


@compiled
def cylinder_from_row(row: Floats) -> Cylinder:
    """The cylinder written in a row of numbers, as the parallel loop needs it."""
    return Cylinder(row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8], row[9], row[10])


@compiled
def constants_from_row(row: Floats) -> CycleConstants:
    """The general constants written in a row of numbers."""
    return CycleConstants(row[0], row[1], row[2], row[3], row[4], row[5])


@compiled
def cylinder_geometry(cylinder: Cylinder, constants: CycleConstants, steps: int) -> Floats:
    """Volume and wall area of both ends over crank angle.

    Args:
        cylinder: The cylinder.
        constants: General constants.
        steps: Crank steps in a revolution.

    Returns:
        Rows front volume, back volume [m3], front wall, back wall [m2]; columns crank angle from each end's own
        dead center, steps + 1 of them.
    """
    rows = np.empty((4, steps + 1))
    area = 0.25 * math.pi * cylinder.bore**2
    back_area = area - 0.25 * math.pi * cylinder.rod_diameter**2
    for i in range(steps + 1):
        angle = 2.0 * math.pi * i / steps
        front = piston_position(angle, cylinder.rod_ratio)
        back = 1.0 - piston_position(angle + math.pi, cylinder.rod_ratio)
        rows[0, i] = area * cylinder.stroke * (cylinder.clearance + front)
        rows[1, i] = back_area * cylinder.stroke * (cylinder.clearance + back)
        rows[2, i] = (
            2.0 * area * constants.wall_area_ratio + math.pi * cylinder.bore * cylinder.stroke * front
        )
        rows[3, i] = 2.0 * area * constants.wall_area_ratio + math.pi * cylinder.bore * cylinder.stroke * back
    return rows


@compiled
def steam_in_cylinder(mass: float, energy: float, volume: float, dew: Floats, table: Floats) -> CylinderSteam:
    """Steam of a mass [kg] and an internal energy [J] in a volume [m3]."""
    flow_work, temperature, above = steam_state(mass / volume, energy / mass, dew, table)
    return CylinderSteam(mass, energy, flow_work * mass / volume, flow_work, temperature, above)


@compiled
def mean_wall_heat(
    before: CylinderSteam,
    trial: CylinderSteam,
    start_heat: tuple[float, float, float],
    wall_temperature: float,
    conductances: tuple[float, float],
) -> tuple[float, float, float]:
    """Heat to the wall in a step by both its ends.

    Args:
        before: Steam at the start.
        trial: Steam at the end of a first trial.
        start_heat: What `wall_heat` says of the start.
        wall_temperature: Temperature of the wall [K].
        conductances: Wetted and dry coefficient x area x time [J/K].

    Returns:
        Heat [J], grip [J/K], and the part of the heat that condensed steam [J].
    """
    if wall_temperature >= max(before.temperature, trial.temperature):
        heat, conductance = warm_wall_heat(
            (before.temperature, trial.temperature),
            (before.above, trial.above),
            0.5 * (before.mass + trial.mass),
            wall_temperature,
            conductances,
        )
        return heat, conductance, 0.0
    later = wall_heat(
        trial.temperature, trial.pressure, trial.above, trial.mass, wall_temperature, conductances
    )
    return (
        0.5 * (start_heat[0] + later[0]),
        0.5 * (start_heat[1] + later[1]),
        0.5 * (start_heat[2] + later[2]),
    )


@compiled
def solve_port_flows(
    flow_areas: tuple[float, float],
    inside: PortSteam,
    chest: PortSteam,
    exhaust: PortSteam,
    no_flow_pressure: float,
    exponent: float,
    middle: float,
) -> tuple[float, float, float]:
    """Flows through both ways of an end in a step; the wider way last, whose pressure is the one that stays.

    Args:
        flow_areas: Flow areas from the chest and to exhaust, times the length of the step [m2 s].
        inside: Steam inside at the start of the step.
        chest: Steam in the chest.
        exhaust: Steam in the exhaust passage.
        no_flow_pressure: Pressure inside at the end of the step if nothing flowed [Pa].
        exponent: Isentropic exponent inside [1].
        middle: Volume inside in the middle of the step [m3].

    Returns:
        Mass from the chest, mass to exhaust [kg], both negative the other way, and pressure at the end [Pa].
    """
    steam = exhausted = 0.0
    for pass_number in range(2):
        if (pass_number == 0) == (flow_areas[0] < flow_areas[1]):
            steam = port_flow(flow_areas[0], inside, chest, no_flow_pressure, exponent, middle)
            no_flow_pressure += steam * port_stiffness(steam, inside, chest, exponent) / middle
        else:
            exhausted = -port_flow(flow_areas[1], inside, exhaust, no_flow_pressure, exponent, middle)
            no_flow_pressure -= exhausted * port_stiffness(-exhausted, inside, exhaust, exponent) / middle
    return steam, exhausted, no_flow_pressure


@compiled
def net_enthalpy_inflow(
    steam: float, exhausted: float, chest: float, exhaust: float, outflow_enthalpy: float
) -> float:
    """Enthalpy that flows bring into an end [J].

    Args:
        steam: Mass from the chest, negative when it goes back [kg].
        exhausted: Mass to exhaust, negative when it comes back [kg].
        chest: Enthalpy there [J/kg].
        exhaust: Enthalpy there [J/kg].
        outflow_enthalpy: Enthalpy of what leaves the end [J/kg].
    """
    return steam * (chest if steam >= 0.0 else outflow_enthalpy) - exhausted * (
        outflow_enthalpy if exhausted >= 0.0 else exhaust
    )


@compiled
def simulate_revolution(
    cylinder: Cylinder,
    constants: CycleConstants,
    boundary: BoundaryConditions,
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
        boundary: What this end sees.
        volume: Volume over crank angle from this end's dead center [m3].
        wall: Wall area over the same [m2].
        pressures: Filled with absolute pressures over the same angles [Pa].
        tally: State and sums; state is read and written, sums are written.
        dew: From `steam_table`.
        table: From `steam_table`.
    """
    steps = volume.size - 1
    time = 1.0 / (boundary.driver_speed * steps)
    piston = 0.25 * math.pi * cylinder.bore**2
    leak = constants.leakage_area_ratio * piston
    dry_share = constants.dry_wall_heat_transfer / constants.wet_wall_heat_transfer
    steam_length = constants.admission_discharge_coefficient * cylinder.port_length
    exhaust_length = constants.exhaust_discharge_coefficient * cylinder.port_length
    lap_and_lead = cylinder.lap + cylinder.lead
    chest = PortSteam(boundary.chest_pressure, boundary.chest_flow_work, boundary.chest_enthalpy, 0.0)
    exhaust = PortSteam(boundary.exhaust_pressure, boundary.exhaust_flow_work, boundary.exhaust_enthalpy, 1.0)
    mass = tally[MASS]
    energy = tally[ENERGY]
    for k in range(2, TALLY_SIZE):
        tally[k] = 0.0
    tally[MIN_DENSITY] = 1e9
    at = steps // 2
    now = steam_in_cylinder(mass, energy, volume[at], dew, table)
    pressures[at] = now.pressure
    for _ in range(steps):
        v0, v1 = volume[at], volume[at + 1]
        middle = 0.5 * (v0 + v1)
        wetness = wetness_blend(now.above)
        exponent = SUPERHEATED_EXPONENT + (WET_EXPONENT - SUPERHEATED_EXPONENT) * wetness
        inside = PortSteam(now.pressure, now.flow_work, now.energy / now.mass + now.flow_work, wetness)
        wet_conductance = 0.5 * (wall[at] + wall[at + 1]) * time * constants.wet_wall_heat_transfer
        conductances = (wet_conductance, wet_conductance * dry_share)
        start_heat = wall_heat(
            now.temperature, now.pressure, now.above, now.mass, boundary.wall_temperature, conductances
        )

        compression = 0.5 * exponent * (v1 - v0) / middle
        no_flow_pressure = (
            now.pressure * (1.0 - compression) / (1.0 + compression)
            - (exponent - 1.0) * start_heat[0] / middle
        )
        angle = 2.0 * math.pi * (at + 0.5) / steps
        valve = valve_displacement(angle, lap_and_lead, boundary.link_amplitude)
        steam_area = steam_length * steam_opening(valve, cylinder.lap, cylinder.port_width) + leak
        exhaust_area = (
            exhaust_length * exhaust_opening(valve, cylinder.exhaust_lap, cylinder.port_width) + leak
        )
        flow_areas = (steam_area * time, exhaust_area * time)
        steam, exhausted, end = solve_port_flows(
            flow_areas, inside, chest, exhaust, no_flow_pressure, exponent, middle
        )
        # Never more than half of what is there: only the first revolutions of a bad guess come near that.
        steam, exhausted = max(steam, -0.5 * now.mass), min(exhausted, 0.5 * now.mass)
        # A first end state, by the pressure foreseen; then what leaves, heat and work by both ends of the step.
        outflow_enthalpy = inside.enthalpy + 0.5 * now.flow_work * (end - now.pressure) / now.pressure
        enthalpy_inflow = net_enthalpy_inflow(
            steam, exhausted, chest.enthalpy, exhaust.enthalpy, outflow_enthalpy
        )
        trial_energy = now.energy + enthalpy_inflow - start_heat[0] - 0.5 * (now.pressure + end) * (v1 - v0)
        trial = steam_in_cylinder(now.mass + steam - exhausted, trial_energy, v1, dew, table)
        met = trial.energy / trial.mass + trial.flow_work  # wild in the first revolutions of a bad guess
        outflow_enthalpy = 0.5 * (
            inside.enthalpy + min(max(met, 0.8 * inside.enthalpy), 1.2 * inside.enthalpy)
        )
        enthalpy_inflow = net_enthalpy_inflow(
            steam, exhausted, chest.enthalpy, exhaust.enthalpy, outflow_enthalpy
        )
        heat, conductance, condensing = mean_wall_heat(
            now, trial, start_heat, boundary.wall_temperature, conductances
        )
        work = 0.5 * (now.pressure + trial.pressure) * (v1 - v0)
        now = steam_in_cylinder(trial.mass, now.energy + enthalpy_inflow - heat - work, v1, dew, table)

        if steam >= 0.0:
            tally[STEAM_IN] += steam
        else:
            tally[STEAM_RETURNED] -= steam
            tally[ENTHALPY_RETURNED] -= steam * outflow_enthalpy
        if exhausted >= 0.0:
            tally[EXHAUST_OUT] += exhausted
            tally[EXHAUST_HEAT] += exhausted * outflow_enthalpy
        else:
            tally[EXHAUST_RETURNED] -= exhausted
        tally[WORK] += work
        tally[WALL_HEAT] += heat
        tally[WALL_CONDUCTANCE] += conductance
        tally[CONDENSING_HEAT] += condensing
        tally[WETTEST] = min(tally[WETTEST], now.above)
        tally[MAX_DENSITY] = max(tally[MAX_DENSITY], now.mass / v1)
        tally[MIN_DENSITY] = min(tally[MIN_DENSITY], now.mass / v1)
        at += 1
        pressures[at] = now.pressure
        if at == steps:
            at = 0
            pressures[0] = now.pressure
    tally[MASS] = now.mass
    tally[ENERGY] = now.energy
