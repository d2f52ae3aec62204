"""What goes into a run and what comes out, as plain tuples of numbers and arrays the compiled kernel can read."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.engine.map.interpolation import MapGrid
from locosim.physics.types import Floats

Codes = npt.NDArray[np.int8]

# What held the effort in a step.
AT_ALLOWED_SPEED, ADHESION, CYLINDERS, STEAM, COASTING, BRAKING = 0, 1, 2, 3, 4, 5
# How a run ended.
ARRIVED, STALLED, LOW_PRESSURE, OUT_OF_WATER, OUT_OF_FUEL, CROWN_UNCOVERED = 0, 1, 2, 3, 4, 5

# Columns of the sums a run keeps, in joules and kilograms.
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
) = range(20)
SUM_COUNT = 20


class Line(NamedTuple):
    """The line as the kernel sees it: n steps between n + 1 nodes."""

    distance: Floats  # n + 1, from the start of the run [m]
    envelope: Floats  # n + 1, greatest v²/2 allowed [J/kg]
    gravity: Floats  # n, along-track weight of everything but water and fuel [N], against motion positive
    grade: Floats  # n, mean grade under the tender [1]
    curve: Floats  # n, curve resistance of the whole train [N]
    adhesion: Floats  # n, coefficient at rest [1]
    steam_share: Floats  # n, steam the driver draws at most over what the boiler sustains [1]
    max_cutoff: Floats  # n, longest cutoff the driver uses [1]
    forecast_steam: (
        Floats  # n, steam to the cylinders the fireman fires for [kg/s]; negative: for what is drawn now
    )
    helper_row: Codes  # n, row of the assisting engines' tables; -1 where there are none
    helper_mass: Floats  # n, their mass, rotating mass among it; changes at stops only [kg]
    dwell: Floats  # n + 1, time to stand [s]; negative where the train does not stop
    cleaning: Floats  # n + 1, time the fire is cleaned at the beginning of a stand [s]
    earliest_departure: Floats  # n + 1, earliest departure, on the run's clock [s]
    water_rate: Floats  # n + 1, rate at which the tender is filled [kg/s]
    fuel_rate: Floats  # n + 1, rate at which fuel is taken [kg/s]


class Load(NamedTuple):
    """What is moved: masses and the resistance a + b v + c (v + wind)²."""

    mass: float  # everything but water and fuel of the engine [kg]
    rotating: float  # equivalent mass of the turning wheels [kg]
    a: float  # [N]
    b: float  # [N/(m/s)]
    c: float  # [N/(m/s)²]
    a_contents: float  # resistance of water and fuel carried, per mass [N/kg]
    b_contents: float  # its growth with speed [N/kg/(m/s)]
    wind: float  # head wind [m/s]
    starting: float  # resistance at rest, of the whole train [N]
    rolling_start: float  # what it has fallen to at the starting speed [N]


class Engine(NamedTuple):
    """The performance map, and what the rail and assisting engines add."""

    grid: MapGrid
    friction: float  # machine friction at the rim [N]
    adhesive_weight: float  # weight on coupled wheels over the peak of the pull and the unit's share [N]
    drifting_steam: float  # steam taken when coasting [kg/s]
    helper_speed_step: float
    helper_effort: Floats  # pull of assisting engines at their rims [N]: row, speed
    helper_adhesive_weight: Floats  # their adhesive weight [N]: row
    helper_resistance: Floats  # their own running resistance [N and powers of m/s]: row, three coefficients
    helper_starting: Floats  # their resistance at rest and broken away [N]: row, two
    helper_friction: Floats  # their machine friction [N]: row


class Boiler(NamedTuple):
    """Water, metal and fire. Tables over temperature are even, over the firing rate are even."""

    transient: bool  # False: pressure stays at the working pressure and steam is held to the sustained rate
    first_temperature: float
    temperature_step: float
    pressure_table: Floats  # saturation pressure [Pa] over temperature
    liquid_enthalpy_table: Floats  # enthalpy of the water [J/kg]
    steam_enthalpy_table: Floats  # enthalpy of the steam [J/kg]
    firing_step: float
    heat_table: Floats  # heat to the water [W] over the firing rate, the first rate is 0
    fire_lag: float  # [s]
    max_firing: float  # [kg/s]
    min_firing: float  # what burns at any time, dampers closed [kg/s]
    blower_firing: float  # what the blower adds at most [kg/s]
    metal_heat_capacity: float  # heat capacity of the metal [J/K]
    radiation_loss: float  # [W]
    feed_enthalpy: float  # heat the feed brings net of what the boiler gave for it [J/kg]
    tender_water_ratio: float  # water from the tender for each mass the boiler gains [1]
    max_feed: float  # [kg/s]
    working_pressure: float  # absolute [Pa]
    working_temperature: float  # saturation temperature at the working pressure [K]
    working_liquid_enthalpy: float  # enthalpy of the water there, by the same table [J/kg]
    safety_set_pressure: float  # absolute, where the valves open [Pa]
    safety_full_lift: float  # absolute, where they are fully open [Pa]
    safety_capacity: float  # [kg/s]
    pressure_floor: float  # absolute, where the driver no longer draws more than the fire makes [Pa]
    target_water: float  # [kg]
    crown_sheet_water: float  # water at which the crown sheet would be bare on the level [kg]
    sustained_steam: float  # steam for all purposes the boiler keeps up [kg/s]
    evaporation_heat: (
        float  # heat a kilogram of steam takes from feed to boiler steam at working pressure [J/kg]
    )
    auxiliary_steam: float  # taken at all times [kg/s]
    blower_steam: float  # taken beside that when standing or drifting: blower [kg/s]


class InitialState(NamedTuple):
    """State at the start of the run."""

    time: float
    heat: float  # boiler heat above water at 0 degC [J]
    water: float  # in the boiler [kg]
    firing: float  # [kg/s]
    tender_water: float  # [kg]
    tender_fuel: float  # [kg]
    tender_water_full: float  # [kg]
    tender_fuel_full: float  # [kg]


class BoilerState(NamedTuple):
    """State of boiler and tender."""

    heat: float  # of water and metal, above water at 0 degC [J]
    water: float  # in the boiler [kg]
    firing: float  # what the fire as it lies would burn under full blast [kg/s]
    tender: float  # water [kg]
    fuel: float  # [kg]
    temperature: float  # of the boiler [K]
    feed: float  # over the last step [kg/s]
    burned: float  # fuel, over the last step [kg/s]


class TractiveStep(NamedTuple):
    """What moves the train over one step."""

    e_mid: float  # v²/2 at the middle [J/kg]
    e_next: float  # v²/2 at the end [J/kg]
    total_resistance: float  # machine friction, running resistance, curves and gravity [N]
    effort: float  # indicated pull at the rim [N]
    helper_effort: float  # effort of the assisting engine [N]
    brake: float  # [N]
    limit: int  # what held the pull


# Rows of what is kept for each node.
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
) = range(10)
NODE_ROWS = 10
# Rows of what is kept for each step.
EFFORT, HELPER_EFFORT, TOTAL_RESISTANCE, BRAKE, CUTOFF, CYLINDER_STEAM_RATE, FEED = range(7)
STEP_ROWS = 7


class RunArrays(NamedTuple):
    """What happened, node by node and step by step."""

    last_node: int  # the last node that was reached
    status: int
    end_distance: float  # from the start of the run [m]; negative where the train arrived
    nodes: Floats  # NODES rows of n + 1: see above, SI
    steps: Floats  # STEPS rows of n, SI
    limit: Codes  # n, what held the effort
    initial_heat: float  # boiler heat at the start [J]
    final_heat: float  # boiler heat at the end [J]
    final_energy: float  # kinetic energy at the end, from rest at the start [J]
    sums: Floats
