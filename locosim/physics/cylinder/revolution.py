"""One end of a cylinder through one revolution: admission, expansion, exhaust, compression.

State: mass and internal energy of the steam. Each crank step applies, in this order, heat exchange with the wall, the
change of volume, and the flow through ports and leaks. Work is the mean of the pressures at the start and the end of
the step times the change of volume, and the same work enters the energy balance, so mass and energy close to rounding
error at any step size.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_apart, compiled_inline
from locosim.physics.cylinder.port_flow import PortSteam, port_flow, port_stiffness, wetness_blend
from locosim.physics.cylinder.valve_gear import (
    ValveMotion,
    exhaust_opening,
    piston_position,
    poppet_lift,
    steam_opening,
    valve_displacement,
)
from locosim.physics.cylinder.wall_heat import WallHeat, WallTransfer, wall_heat, warm_wall_heat
from locosim.physics.steam.nozzle_flow import SUPERHEATED_EXPONENT, WET_EXPONENT
from locosim.physics.steam.property_table import SteamTable, steam_state
from locosim.physics.types import Floats


class Cylinder(NamedTuple):
    """One of a set of like cylinders, with its valve.

    Attributes:
        number: Cylinders that share the steam chest [1].
        bore: Diameter of the bore [m].
        stroke: Travel of the piston [m].
        rod_ratio: Length of the connecting rod over the crank radius [1].
        clearance: Clearance volume of one end over its swept volume [1].
        rod_diameter: Diameter of the piston rod at the back end [m].
        lap: Steam lap [m].
        lead: Lead in full gear [m].
        exhaust_lap: Exhaust lap [m].
        port_length: Length of the port edge of one end, less the bars [m].
        port_width: Width of the port in the direction of valve travel [m].
        lead_rise: Lead in mid gear less that in full gear [m].
        travel: Valve travel in full gear; used only where the lead varies [m].
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
    lead_rise: float = 0.0
    travel: float = 0.0


class CycleConstants(NamedTuple):
    """General constants of the cycle; the fitted set is `design_rules.FITTED_CONSTANTS`.

    Attributes:
        admission_discharge_coefficient: Discharge coefficient of the port at admission [1].
        exhaust_discharge_coefficient: Discharge coefficient of the port at exhaust [1].
        leakage_area_ratio: Leakage area from chest to end, and from end to exhaust, over piston area [1].
        wet_wall_heat_transfer: Heat transfer coefficient of a wet wall [W/(m2 K)].
        dry_wall_heat_transfer: Heat transfer coefficient between dry steam and wall [W/(m2 K)].
        wall_area_ratio: Wall area of the clearance space (head, piston, port) over twice the piston area [1].
        quench_energy: Specific energy above dry saturated steam at which a cold wall no longer condenses [J/kg].
    """

    admission_discharge_coefficient: float
    exhaust_discharge_coefficient: float
    leakage_area_ratio: float
    wet_wall_heat_transfer: float
    dry_wall_heat_transfer: float
    wall_area_ratio: float
    quench_energy: float


class BoundaryConditions(NamedTuple):
    """Conditions outside one end during a revolution.

    Attributes:
        driver_speed: Driving-wheel speed [1/s].
        valves: Motion of the valves.
        chest: Steam in the steam chest.
        exhaust: Steam in the exhaust passage.
        wall_temperature: Temperature of the walls of this end [K].
    """

    driver_speed: float
    valves: ValveMotion
    chest: PortSteam
    exhaust: PortSteam
    wall_temperature: float


class CylinderSteam(NamedTuple):
    """Steam in one end.

    Attributes:
        mass: [kg]
        energy: Internal energy [J].
        pressure: Absolute pressure [Pa].
        flow_work: p/rho [J/kg].
        temperature: [K]
        superheat_energy: Specific energy above dry saturated steam, negative when wet [J/kg].
    """

    mass: float
    energy: float
    pressure: float
    flow_work: float
    temperature: float
    superheat_energy: float


class CrankStep(NamedTuple):
    """One crank step of one end.

    Attributes:
        start_volume: Volume at the start [m3].
        end_volume: Volume at the end [m3].
        steam_area_time: Flow area from the chest times the length of the step [m2 s].
        exhaust_area_time: Flow area to exhaust times the length of the step [m2 s].
        wall: How the wall exchanges heat.
    """

    start_volume: float
    end_volume: float
    steam_area_time: float
    exhaust_area_time: float
    wall: WallTransfer


class StepTransfer(NamedTuple):
    """Mass, heat and work that one end exchanges in a crank step.

    Attributes:
        admitted: Mass from the chest, negative when it returns [kg].
        exhausted: Mass to exhaust, negative when it returns [kg].
        outflow_enthalpy: Specific enthalpy of the steam that leaves the end [J/kg].
        work: Work done on the piston [J].
        wall: Heat to the wall.
    """

    admitted: float
    exhausted: float
    outflow_enthalpy: float
    work: float
    wall: WallHeat


# Index of each entry in the tally of a revolution.
MASS, ENERGY = 0, 1  # state carried over to the next revolution [kg], [J]
STEAM_IN, STEAM_RETURNED = 2, 3  # from the chest, and back into it [kg]
ENTHALPY_RETURNED = 4  # enthalpy carried back into the chest [J]
EXHAUST_OUT, EXHAUST_HEAT = 5, 6  # to exhaust, before the returned steam is deducted [kg], [J]
EXHAUST_RETURNED = 7  # drawn back from the exhaust passage [kg]
WORK = 8  # done on the piston [J]
WALL_HEAT, WALL_CONDUCTANCE = 9, 10  # to the wall [J]; sum of coefficient x area x time [J/K]
CONDENSING_HEAT = 11  # heat to the wet wall over the revolution, for the share condensed [J]
WETTEST, MAX_DENSITY, MIN_DENSITY = 12, 13, 14  # range of states met, to check against the table
TALLY_SIZE = 15


@compiled_inline
def cylinder_from_row(row: Floats) -> Cylinder:
    """The cylinder from a row of numbers, the form the parallel loop needs."""
    return Cylinder(
        row[0],
        row[1],
        row[2],
        row[3],
        row[4],
        row[5],
        row[6],
        row[7],
        row[8],
        row[9],
        row[10],
        row[11],
        row[12],
    )


@compiled_inline
def constants_from_row(row: Floats) -> CycleConstants:
    """The general constants from a row of numbers."""
    return CycleConstants(row[0], row[1], row[2], row[3], row[4], row[5], row[6])


@compiled_inline
def fill_geometry(cylinder: Cylinder, constants: CycleConstants, rows: Floats) -> None:
    """Fill in volume and wall area of both ends over crank angle.

    Args:
        cylinder: The cylinder.
        constants: General constants.
        rows: Filled with front volume, back volume [m3], front wall, back wall [m2]; columns crank angle from the
            dead center of each end, shape (4, steps + 1).
    """
    steps = rows.shape[1] - 1
    area = 0.25 * math.pi * cylinder.bore**2
    back_area = area - 0.25 * math.pi * cylinder.rod_diameter**2
    clearance_wall = 2.0 * area * constants.wall_area_ratio
    barrel_wall = math.pi * cylinder.bore * cylinder.stroke
    for i in range(steps + 1):
        angle = 2.0 * math.pi * i / steps
        front = piston_position(angle, cylinder.rod_ratio)
        back = 1.0 - piston_position(angle + math.pi, cylinder.rod_ratio)
        rows[0, i] = area * cylinder.stroke * (cylinder.clearance + front)
        rows[1, i] = back_area * cylinder.stroke * (cylinder.clearance + back)
        rows[2, i] = clearance_wall + barrel_wall * front
        rows[3, i] = clearance_wall + barrel_wall * back


@compiled_inline
def steam_in_cylinder(mass: float, energy: float, volume: float, table: SteamTable) -> CylinderSteam:
    """Steam of a mass [kg] and an internal energy [J] in a volume [m3]."""
    flow_work, temperature, superheat_energy = steam_state(mass / volume, energy / mass, table)
    return CylinderSteam(mass, energy, flow_work * mass / volume, flow_work, temperature, superheat_energy)


@compiled_inline
def mean_wall_heat(
    start: CylinderSteam,
    trial: CylinderSteam,
    start_heat: WallHeat,
    wall_temperature: float,
    transfer: WallTransfer,
) -> WallHeat:
    """Heat to the wall in a step, the mean of its start and its end.

    Args:
        start: Steam at the start.
        trial: Trial state of the steam at the end.
        start_heat: `wall_heat` at the start.
        wall_temperature: Temperature of the wall [K].
        transfer: How the wall exchanges heat.
    """
    if wall_temperature >= max(start.temperature, trial.temperature):
        return warm_wall_heat(
            (start.temperature, trial.temperature),
            (start.superheat_energy, trial.superheat_energy),
            0.5 * (start.mass + trial.mass),
            wall_temperature,
            transfer,
        )
    end_heat = wall_heat(
        trial.temperature, trial.pressure, trial.superheat_energy, trial.mass, wall_temperature, transfer
    )
    return WallHeat(
        0.5 * (start_heat.heat + end_heat.heat),
        0.5 * (start_heat.conductance + end_heat.conductance),
        0.5 * (start_heat.condensing + end_heat.condensing),
    )


@compiled_inline
def solve_port_flows(
    step: CrankStep,
    inside: PortSteam,
    boundary: BoundaryConditions,
    no_flow_pressure: float,
    exponent: float,
) -> tuple[float, float, float]:
    """Flows through both ports of an end in a step.

    The wider opening is solved last, because its pressure prevails.

    Args:
        step: The crank step.
        inside: Steam inside at the start of the step.
        boundary: Conditions outside this end.
        no_flow_pressure: Pressure inside at the end of the step if nothing flowed [Pa].
        exponent: Isentropic exponent inside [1].

    Returns:
        Mass from the chest, mass to exhaust [kg], both negative the other way, and pressure at the end [Pa].
    """
    volume = 0.5 * (step.start_volume + step.end_volume)
    pressure = no_flow_pressure
    admitted = exhausted = 0.0
    for pass_number in range(2):
        if (pass_number == 0) == (step.steam_area_time < step.exhaust_area_time):
            admitted = port_flow(step.steam_area_time, inside, boundary.chest, pressure, exponent, volume)
            pressure += admitted * port_stiffness(admitted, inside, boundary.chest, exponent) / volume
        else:
            exhausted = -port_flow(
                step.exhaust_area_time, inside, boundary.exhaust, pressure, exponent, volume
            )
            pressure -= exhausted * port_stiffness(-exhausted, inside, boundary.exhaust, exponent) / volume
    return admitted, exhausted, pressure


@compiled_inline
def net_enthalpy_inflow(
    admitted: float, exhausted: float, boundary: BoundaryConditions, outflow_enthalpy: float
) -> float:
    """Net enthalpy that flows bring into an end [J].

    Args:
        admitted: Mass from the chest, negative when it returns [kg].
        exhausted: Mass to exhaust, negative when it returns [kg].
        boundary: Conditions outside this end.
        outflow_enthalpy: Specific enthalpy of the steam that leaves the end [J/kg].
    """
    return admitted * (boundary.chest.enthalpy if admitted >= 0.0 else outflow_enthalpy) - exhausted * (
        outflow_enthalpy if exhausted >= 0.0 else boundary.exhaust.enthalpy
    )


@compiled_inline
def port_area_times(
    cylinder: Cylinder, constants: CycleConstants, valves: ValveMotion, angle: float, time: float
) -> tuple[float, float]:
    """Flow areas of an end times a time, leaks and discharge coefficients included.

    Args:
        cylinder: The cylinder.
        constants: General constants.
        valves: Motion of the valves.
        angle: Crank angle from the dead center of this end [rad].
        time: Length of the crank step [s].

    Returns:
        Area from the chest and area to exhaust, each times the time [m2 s].
    """
    leak = constants.leakage_area_ratio * (0.25 * math.pi * cylinder.bore**2)
    if valves.lift_angle > 0.0:
        lifts = (
            poppet_lift(angle, valves.admission_angle, valves.cutoff_angle, valves.lift_angle),
            poppet_lift(angle, valves.release_angle, valves.compression_angle, valves.lift_angle),
        )
        steam_area = constants.admission_discharge_coefficient * valves.steam_area * lifts[0] + leak
        exhaust_area = constants.exhaust_discharge_coefficient * valves.exhaust_area * lifts[1] + leak
        return steam_area * time, exhaust_area * time
    valve = valve_displacement(angle, valves.lap_and_lead, valves.link_amplitude)
    steam = steam_opening(valve, cylinder.lap, cylinder.port_width)
    exhaust = exhaust_opening(valve, cylinder.exhaust_lap, cylinder.port_width)
    steam_area = constants.admission_discharge_coefficient * cylinder.port_length * steam + leak
    exhaust_area = constants.exhaust_discharge_coefficient * cylinder.port_length * exhaust + leak
    return steam_area * time, exhaust_area * time


@compiled_inline
def advance(
    start: CylinderSteam, step: CrankStep, boundary: BoundaryConditions, table: SteamTable
) -> tuple[CylinderSteam, StepTransfer]:
    """Steam of one end after a crank step.

    A trial state at the end of the step comes from the pressure that the port flows lead to; outflow enthalpy, heat
    and work are then the means of the start and the trial.

    Args:
        start: Steam at the start of the step.
        step: The crank step.
        boundary: Conditions outside this end.
        table: From `steam_table`.

    Returns:
        Steam at the end of the step, and mass, heat and work exchanged.
    """
    swept = step.end_volume - step.start_volume
    mid_volume = 0.5 * (step.start_volume + step.end_volume)
    wetness = wetness_blend(start.superheat_energy)
    exponent = SUPERHEATED_EXPONENT + (WET_EXPONENT - SUPERHEATED_EXPONENT) * wetness
    inside = PortSteam(start.pressure, start.flow_work, start.energy / start.mass + start.flow_work, wetness)
    start_heat = wall_heat(
        start.temperature,
        start.pressure,
        start.superheat_energy,
        start.mass,
        boundary.wall_temperature,
        step.wall,
    )
    compression = 0.5 * exponent * swept / mid_volume
    no_flow_pressure = (
        start.pressure * (1.0 - compression) / (1.0 + compression)
        - (exponent - 1.0) * start_heat.heat / mid_volume
    )
    admitted, exhausted, end_pressure = solve_port_flows(step, inside, boundary, no_flow_pressure, exponent)
    # At most half of the steam in the end may leave: only the first revolutions from a bad guess come near that.
    admitted, exhausted = max(admitted, -0.5 * start.mass), min(exhausted, 0.5 * start.mass)

    outflow_enthalpy = (
        inside.enthalpy + 0.5 * start.flow_work * (end_pressure - start.pressure) / start.pressure
    )
    inflow = net_enthalpy_inflow(admitted, exhausted, boundary, outflow_enthalpy)
    trial_energy = start.energy + inflow - start_heat.heat - 0.5 * (start.pressure + end_pressure) * swept
    trial = steam_in_cylinder(start.mass + admitted - exhausted, trial_energy, step.end_volume, table)

    # The enthalpy of the trial may be far off in the first revolutions from a bad guess.
    trial_enthalpy = trial.energy / trial.mass + trial.flow_work
    outflow_enthalpy = 0.5 * (
        inside.enthalpy + min(max(trial_enthalpy, 0.8 * inside.enthalpy), 1.2 * inside.enthalpy)
    )
    inflow = net_enthalpy_inflow(admitted, exhausted, boundary, outflow_enthalpy)
    wall = mean_wall_heat(start, trial, start_heat, boundary.wall_temperature, step.wall)
    work = 0.5 * (start.pressure + trial.pressure) * swept
    end_energy = start.energy + inflow - wall.heat - work
    end = steam_in_cylinder(trial.mass, end_energy, step.end_volume, table)
    return end, StepTransfer(admitted, exhausted, outflow_enthalpy, work, wall)


@compiled_inline
def add_to_tally(tally: Floats, transfer: StepTransfer, end: CylinderSteam, volume: float) -> None:
    """Add a crank step to the tally of the revolution.

    Args:
        tally: The tally; its sums and extremes are updated.
        transfer: Mass, heat and work exchanged in the step.
        end: Steam at the end of the step.
        volume: Volume at the end of the step [m3].
    """
    if transfer.admitted >= 0.0:
        tally[STEAM_IN] += transfer.admitted
    else:
        tally[STEAM_RETURNED] -= transfer.admitted
        tally[ENTHALPY_RETURNED] -= transfer.admitted * transfer.outflow_enthalpy
    if transfer.exhausted >= 0.0:
        tally[EXHAUST_OUT] += transfer.exhausted
        tally[EXHAUST_HEAT] += transfer.exhausted * transfer.outflow_enthalpy
    else:
        tally[EXHAUST_RETURNED] -= transfer.exhausted
    tally[WORK] += transfer.work
    tally[WALL_HEAT] += transfer.wall.heat
    tally[WALL_CONDUCTANCE] += transfer.wall.conductance
    tally[CONDENSING_HEAT] += transfer.wall.condensing
    tally[WETTEST] = min(tally[WETTEST], end.superheat_energy)
    tally[MAX_DENSITY] = max(tally[MAX_DENSITY], end.mass / volume)
    tally[MIN_DENSITY] = min(tally[MIN_DENSITY], end.mass / volume)


@compiled_apart
def simulate_revolution(
    cylinder: Cylinder,
    constants: CycleConstants,
    boundary: BoundaryConditions,
    geometry: tuple[Floats, Floats],
    pressures: Floats,
    tally: Floats,
    table: SteamTable,
) -> None:
    """Carry one end through one revolution, from the far dead center around to the far dead center.

    Args:
        cylinder: The cylinder.
        constants: General constants.
        boundary: Conditions outside this end.
        geometry: Volume [m3] and wall area [m2] over crank angle from the dead center of this end.
        pressures: Filled with absolute pressures over the same angles [Pa].
        tally: State and sums; the state is read and written, the sums are written.
        table: From `steam_table`.
    """
    volume, wall = geometry
    steps = volume.size - 1
    time = 1.0 / (boundary.driver_speed * steps)
    dry_share = constants.dry_wall_heat_transfer / constants.wet_wall_heat_transfer
    for k in range(2, TALLY_SIZE):
        tally[k] = 0.0
    tally[MIN_DENSITY] = 1e9
    i = steps // 2
    steam = steam_in_cylinder(tally[MASS], tally[ENERGY], volume[i], table)
    pressures[i] = steam.pressure
    for _ in range(steps):
        wet_conductance = 0.5 * (wall[i] + wall[i + 1]) * time * constants.wet_wall_heat_transfer
        angle = 2.0 * math.pi * (i + 0.5) / steps
        steam_area_time, exhaust_area_time = port_area_times(
            cylinder, constants, boundary.valves, angle, time
        )
        step = CrankStep(
            volume[i],
            volume[i + 1],
            steam_area_time,
            exhaust_area_time,
            WallTransfer(wet_conductance, wet_conductance * dry_share, constants.quench_energy),
        )
        steam, transfer = advance(steam, step, boundary, table)
        add_to_tally(tally, transfer, steam, step.end_volume)
        i += 1
        pressures[i] = steam.pressure
        if i == steps:
            i = 0
            pressures[0] = steam.pressure
    tally[MASS] = steam.mass
    tally[ENERGY] = steam.energy
