"""Input and output of a run, as plain tuples of numbers and arrays that the compiled kernel can read."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.engine.map.interpolation import Cells, MapGrid
from locosim.physics.types import Floats

Codes = npt.NDArray[np.int8]

# What limits the effort in a step.
AT_ALLOWED_SPEED, ADHESION, CYLINDERS, STEAM, COASTING, BRAKING = 0, 1, 2, 3, 4, 5
THROTTLE_OPEN, THROTTLE_SHUT = 0, 1
# What sets the allowed speed where it is not the line, a stop or the driving: put in place of `AT_ALLOWED_SPEED`.
ENGINE_SPEED, CREW_SPEED, MAP_END = 6, 7, 8
# How a run ends.
ARRIVED, STALLED, LOW_PRESSURE, OUT_OF_WATER, OUT_OF_FUEL, CROWN_UNCOVERED = 0, 1, 2, 3, 4, 5

# Entries of the sums over a run, in joules and kilograms.
(
    INDICATED_WORK,
    HELPER_WORK,
    FRICTION_WORK,
    RESISTANCE_WORK,
    CURVE_WORK,
    GRAVITY_WORK,
    BRAKE_WORK,
    USED_SUPPLIES_ENERGY,
    FIRE_HEAT,
    FEED_HEAT,
    HEAT_IN_STEAM,
    RADIATION_LOSS,
    CYLINDER_STEAM,
    AUXILIARY_STEAM,
    SAFETY_VALVE_STEAM,
    FEED_WATER,
    FUEL_BURNED,
    WATER_TAKEN,
    FUEL_TAKEN,
    RETURNED_EXHAUST,
    FUEL_FIRED,
    FUEL_DROPPED,
    ASH_MADE,
    ASH_DROPPED,
    DROPPED_HEAT,
) = range(25)
SUM_COUNT = 25


class Line(NamedTuple):
    """The line, in n steps between n + 1 nodes."""

    distance: Floats  # n + 1, from the start of the run [m]
    envelope: Floats  # n + 1, highest v²/2 the engineer runs at: he brakes to it [J/kg]
    shutoff: Floats  # n + 1, v²/2 up to which he uses steam, at most the envelope: he coasts above it [J/kg]
    gravity: Floats  # n, weight along the track of everything but water and fuel, positive against motion [N]
    grade: Floats  # n, mean grade under the tender [1]
    curve: Floats  # n, curve resistance of the whole train [N]
    adhesion: Floats  # n, coefficient of adhesion at rest [1]
    steam_share: Floats  # n, most steam the engineer draws, over the sustained evaporation [1]
    max_cutoff: Floats  # n, longest cutoff the engineer uses [1]
    bed_aim: Floats  # n + 1, fuel on the grate aimed at [kg]; negative: what the present steam needs
    firing_ahead: Floats  # n + 1, firing rate that the steam just ahead needs [kg/s]; negative: not known
    water_aim: Floats  # n + 1, water in the boiler aimed at [kg]; negative: working level
    helper_row: Codes  # n, row of the helper tables; -1 without helper
    helper_mass: Floats  # n, mass of the helpers with their rotating mass; changes at stops only [kg]
    dwell: Floats  # n + 1, time of the stop [s]; negative where the train does not stop
    cleaning: Floats  # n + 1, time to clean the fire, from the beginning of the stop [s]
    earliest_departure: Floats  # n + 1, clock time [s]
    water_rate: Floats  # n + 1, rate of filling the tender with water [kg/s]
    fuel_rate: Floats  # n + 1, rate of filling the tender with fuel [kg/s]


class Load(NamedTuple):
    """Mass of the train, and its running resistance a + b v + c (v + wind)²."""

    mass: float  # everything but water and fuel of the engine [kg]
    rotating: float  # equivalent mass of the turning wheels [kg]
    a: float  # [N]
    b: float  # [N/(m/s)]
    c: float  # [N/(m/s)²]
    a_contents: float  # the same for water and fuel carried, per mass [N/kg]
    b_contents: float  # [N/kg/(m/s)]
    wind: float  # headwind [m/s]
    starting: float  # resistance of the whole train at rest, bearings as cold as the air [N]
    starting_warm: float  # the same with bearings warm from running [N]
    cooling_time: float  # time constant of the cooling of bearings [s]
    rolling_start: float  # what it has fallen to at the starting speed [N]


class Engine(NamedTuple):
    """Performance map, adhesion and helpers."""

    grid: MapGrid
    friction: float  # machine friction without steam, at the rim [N]
    friction_share: float  # machine friction added per indicated effort [1]
    adhesive_weight: float  # weight on drivers of the unit that slips first, over its share of the effort [N]
    drifting_steam: float  # steam to the cylinders when coasting [kg/s]
    helper_speed_step: float  # [m/s]
    helper_effort: Floats  # effort of the helpers at the rim, less friction of the thrust [N]: row, speed
    helper_adhesive_weight: Floats  # [N]: row
    helper_resistance: Floats  # running resistance a, b, c of the helpers [N and powers of m/s]: row, 3
    helper_starting: Floats  # resistance of the helpers at rest and broken away [N]: row, 2
    helper_friction: Floats  # machine friction of the helpers without steam [N]: row


class Boiler(NamedTuple):
    """Boiler, fire, feed and the rules the crew works by. Tables have even axes."""

    transient: bool  # False: pressure stays at the working pressure
    # Water and steam.
    first_temperature: float  # of the saturation tables [K]
    temperature_step: float  # [K]
    pressure_table: Floats  # saturation pressure [Pa]
    liquid_enthalpy_table: Floats  # [J/kg]
    steam_enthalpy_table: Floats  # [J/kg]
    metal_heat_capacity: float  # [J/K]
    radiation_loss: float  # [W]
    working_pressure: float  # absolute [Pa]
    working_temperature: float  # saturation temperature at the working pressure [K]
    working_liquid_enthalpy: float  # by the table above [J/kg]
    target_water: float  # water at working level [kg]
    crown_sheet_water: float  # water at which the crown sheet is bare on level track [kg]
    safety_set_pressure: float  # absolute, where the safety valves open [Pa]
    safety_full_lift: float  # absolute, where they are fully open [Pa]
    safety_capacity: float  # [kg/s]
    # Fire.
    firing_step: float  # of the heat table, from 0 [kg/s]
    heat_table: Floats  # heat to the water [W] by firing rate
    evaporation_heat: float  # heat to turn feedwater into steam at working pressure [J/kg]
    sustained_steam: float  # sustained evaporation, all purposes [kg/s]
    max_firing: float  # firing rate that makes the sustained evaporation [kg/s]
    max_burning: float  # most that grate and draft can burn [kg/s]
    firing_capacity: float  # most that fireman, stoker or burner can fire [kg/s]
    min_firing: float  # what burns with the dampers closed and a full bed [kg/s]
    blower_firing: float  # most that the blower adds to that [kg/s]
    blast_air_ratio: float  # fuel the blast can burn with a full bed over the fuel that makes the steam [1]
    damper_range: float  # below working pressure, where the dampers begin to close [Pa]
    min_damper: float  # their opening where the safety valves open [1]
    burning_lag: float  # time in which the burning rate follows the air; of oil, the burner [s]
    full_bed: float  # burning fuel that covers the grate so that all the air is used [kg]; 0: no bed, oil
    max_bed: float  # most fuel on the grate [kg]
    idle_bed: float  # fuel on the grate while no steam is drawn [kg]
    heating_time: float  # in which green fuel is heated until it burns [s]
    heating_heat: float  # that green fuel takes until it burns, and gives back in burning [J/kg]
    firing_lag: float  # time in which the firing rate follows what the fireman wants [s]
    bed_recovery_time: float  # in which he brings the bed to what he wants [s]
    ash_share: float  # ash in the fuel as fired [1]
    cleaning_loss: float  # share of the fuel on the grate dropped in cleaning [1]
    # Feed and auxiliaries.
    feed_enthalpy: float  # heat in the feed less what the boiler gave to heat and pump it [J/kg]
    tender_water_ratio: float  # water from the tender over the feed [1]
    max_feed: float  # [kg/s]
    auxiliary_steam: float  # taken at all times [kg/s]
    blower_steam: float  # taken besides when standing or drifting [kg/s]
    # Rules of the crew.
    pressure_floor: float  # absolute, below which the engineer draws less steam [Pa]
    floor_slope: float  # fall of steam below the floor over the fall of pressure, both as shares [1]
    recovery_time: float  # in which lost pressure and lost water are restored [s]
    low_demand_steam: float  # steam drawn below which water is restored before pressure [kg/s]
    feed_boost: float  # how much faster the level is restored with the safety valves about to lift [1]
    feed_deferral: (
        float  # share of the feed put off at the pressure floor with the water at working level [1]
    )
    filled_water: float  # water in the boiler filled ahead of a climb [kg]
    # What the fireman knows of the road.
    horizon: float  # time ahead that he looks [s]; 0: he goes by the present steam
    bed_lead: float  # time ahead over whose mean steam he keeps the bed [s]


class InitialState(NamedTuple):
    """State on arrival at the stop where a run begins."""

    time: float  # clock time [s]
    heat: float  # of boiler water and metal, above water at 0 degC [J]
    water: float  # in the boiler [kg]
    burning: float  # fuel burned [kg/s]
    bed: float  # burning fuel on the grate [kg]
    tender_water: float  # [kg]
    tender_fuel: float  # [kg]
    tender_water_full: float  # [kg]
    tender_fuel_full: float  # [kg]
    warm: bool  # whether the bearings are warm from running


class FireState(NamedTuple):
    """State of the fire, with the fuel burned over the last step."""

    burning: float  # fuel burned [kg/s]
    firing: float  # fuel thrown on the grate [kg/s]
    green: float  # fuel on the grate that is not yet heated [kg]
    bed: float  # burning fuel on the grate [kg]
    ash: float  # on the grate [kg]
    burned: float  # mean over the last step [kg/s]


class BoilerState(NamedTuple):
    """State of boiler, fire and tender, with the feed over the last step."""

    heat: float  # of boiler water and metal, above water at 0 degC [J]
    water: float  # in the boiler [kg]
    fire: FireState
    tender: float  # water [kg]
    fuel: float  # in the tender [kg]
    temperature: float  # of the boiler water, from heat and water [K]
    feed: float  # over the last step [kg/s]


class Saturation(NamedTuple):
    """Pressure and enthalpies of boiling water at one temperature."""

    pressure: float  # absolute [Pa]
    liquid_enthalpy: float  # [J/kg]
    steam_enthalpy: float  # [J/kg]


class SteamDemand(NamedTuple):
    """Steam drawn from the boiler, and what the fireman aims at."""

    cylinders: float  # [kg/s]
    auxiliary: float  # without the blower [kg/s]
    throttle: int  # open or shut; shut, there is no blast, and the blower draws the air
    bed_aim: float  # fuel on the grate aimed at [kg]; negative: what the present steam needs
    firing_ahead: float  # firing rate that the steam just ahead needs [kg/s]; negative: not known
    water_aim: float  # water in the boiler aimed at [kg]
    feed_hold: float  # feed he leaves out to save heat on a hard stretch [kg/s]


class StepConditions(NamedTuple):
    """What is constant over one step of the run."""

    i: int  # number of the step
    contents: float  # water and fuel carried [kg]
    pressure: float  # absolute boiler pressure [Pa]
    max_steam: float  # most steam the engineer gives the cylinders [kg/s]
    starting: float  # resistance of engine and train at rest; 0 once they have broken away [N]
    guess: Cells  # of the map, where the last step ended


class Forces(NamedTuple):
    """Forces on the train with the engine at full effort."""

    total_resistance: float  # machine friction, running resistance, curves and gravity [N]
    effort: float  # indicated, at the rim [N]
    helper_effort: float  # [N]
    thrust_friction: float  # part of the machine friction that goes with the effort [N]
    limit: int  # what limits the effort
    place: float  # of the effort within steam and cylinders, on the control axis of the map


class TractiveStep(NamedTuple):
    """Motion and forces over one step, which may begin at full effort and end at the speed allowed."""

    e_mid: float  # v²/2 at the middle [J/kg]
    e_next: float  # v²/2 at the end [J/kg]
    total_resistance: float  # machine friction, running resistance, curves and gravity [N]
    effort: float  # indicated, at the rim [N]
    helper_effort: float  # [N]
    brake: float  # [N]
    limit: int  # what limits the effort
    time: float  # [s]
    full_time: float  # of it at full effort [s]
    full_effort: float  # indicated, in that time [N]
    full_limit: int  # what limits the full effort
    place: float  # of the full effort on the control axis of the map, where steam limits it
    e_full: float  # v²/2 where full effort ends [J/kg]
    later_effort: float  # indicated, after it [N]


# Rows recorded at each node.
(
    ENERGY,
    ARRIVE,
    DEPART,
    PRESSURE,
    BOILER_WATER,
    FIRING,
    WATER_ON_ARRIVAL,
    FUEL_ON_ARRIVAL,
    WATER_ON_DEPARTURE,
    FUEL_ON_DEPARTURE,
    GRATE_FUEL,
    GRATE_ASH,
) = range(12)
NODE_ROWS = 12
# Rows recorded in each step.
EFFORT, HELPER_EFFORT, TOTAL_RESISTANCE, BRAKE, CUTOFF, THROTTLE, CYLINDER_STEAM_RATE, FEED = range(8)
STEP_ROWS = 8


class RunRecord(NamedTuple):
    """Arrays a run writes into."""

    nodes: Floats  # NODE_ROWS rows of n + 1, SI
    steps: Floats  # STEP_ROWS rows of n, SI
    limits: Codes  # n, what limits the effort
    sums: Floats  # SUM_COUNT


class RunArrays(NamedTuple):
    """Result of a run, node by node and step by step."""

    last_node: int  # last node reached
    status: int  # how the run ended
    end_distance: float  # from the start of the run [m]; negative where the train arrived
    nodes: Floats  # as in `RunRecord`
    steps: Floats
    limit: Codes
    initial_heat: float  # boiler heat at the start [J]
    final_heat: float  # boiler heat at the end [J]
    initial_bed_heat: float  # heat taken up by the fuel on the grate at the start [J]
    final_bed_heat: float  # at the end [J]
    final_energy: float  # kinetic energy at the end, from rest at the start [J]
    sums: Floats
