"""Gas on its way through the barrel: small tubes, and flues with the superheater in them.

Turbulent convection with the coefficient of smooth tubes; gas cools exponentially in transfer units, with its
heat capacity rising with temperature. Free area, and so gas, divides between the two ways as the wetted
surface does: both then offer the same resistance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locosim.errors import NoSolution, OutOfRange
from locosim.physics.boiler.combustion import gas_enthalpy
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

# One set for every boiler. The superheater factor was fitted with the unburned line of `fuels`, to 560 degF
# at a low and 660 at a high rate of a Type A superheater (from memory; taken as 30 and 120 lb/ft2 h),
# standard error 0.06: it holds that elements do not reach the whole length of the flue, and their own
# resistance.
SUPERHEATER_FACTOR = 0.8

# Free gas area through tubes and flues over their evaporating surface: the trade's ratio of 1 in 400 (British
# practice of the 1930s and later, from memory). Of the engines whose tubes are known from memory: 1 in 350
# to 1 in 410.
GAS_AREA_TO_TUBE_SURFACE = 1.0 / 400.0
# Evaporating surface of the flues over the surface of the superheater within them, common practice, no
# source: large flues with four 1.5 in pipes in a 5.25 in flue give about 1.0, small-flue superheaters 1.8.
FLUE_TO_SUPERHEATER_SURFACE = 1.2
_MAX_FLUE_SHARE = 0.9  # some small tubes are always left
TUBE_DIAMETER = 0.05  # [m] inside, where none is given; enters to the power -0.2 only

# 0.023 Pr^0.4 k / mu^0.8 [Dittus1930], of gas at 900 K from memory: k 0.062 W/(m K), mu 3.9e-5 Pa s, Pr 0.7
_TURBULENT_CONSTANT = 0.023 * 0.7**0.4 * 0.062 / 3.9e-5**0.8

SUPERHEATER_TOO_LARGE = "the superheater takes more heat than the steam made beside it can carry"
SURFACE_REMEDY = "look at the superheater's surface against that of the tubes"
_MAX_ITERATIONS = 200
_TOLERANCE = 1e-13  # of the temperature
_RELAXATION = 0.6  # of a change of the steam's temperature taken over into the next round
_STEAM_TOLERANCE = 1e-9  # [K]


@dataclass(frozen=True, slots=True, kw_only=True)
class GasPassages:
    """Conductances [W/K] and gas of the two ways.

    Attributes:
        flue_share: Share of the gas that goes through the flues [1].
        tubes: Small tubes to water [W/K].
        flues: Flues to water [W/K].
        elements: Flues to steam [W/K].
        a: Heat coefficient of all gas, see `combustion.gas_enthalpy` [W/K].
        b: Second heat coefficient [W/K2].
    """

    flue_share: float
    tubes: Floats
    flues: Floats
    elements: Floats
    a: Floats
    b: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrelHeat:
    """What the barrel took, and what is left.

    Attributes:
        water: Heat taken by the water [W].
        superheater: Heat taken by the steam [W].
        left: Sensible heat left in the gas [W].
        steam_temperature: Temperature of the steam [K].
    """

    water: Floats
    superheater: Floats
    left: Floats
    steam_temperature: Floats


def tube_coefficient(*, flux: Floats, diameter: float) -> Floats:
    """Heat transfer coefficient of gas in a tube, properties at 900 K.

    Args:
        flux: Gas per free area [kg/(m2 s)].
        diameter: Inside diameter of the tube [m].

    Returns:
        Coefficient [W/(m2 K)].

    References:
        [Dittus1930], from memory: Nu = 0.023 Re^0.8 Pr^0.4.
    """
    return _TURBULENT_CONSTANT * flux**0.8 * float(diameter**-0.2)


def gas_passages(
    *,
    gas_rate: Floats,
    a: Floats,
    b: Floats,
    tube_surface: float,
    superheater_surface: float,
    free_gas_area: float,
    tube_diameter: float,
) -> GasPassages:
    """Conductances of a barrel known by its surfaces.

    Args:
        gas_rate: Gas through the barrel [kg/s].
        a: Heat coefficient of that gas [W/K].
        b: Second heat coefficient [W/K2].
        tube_surface: Evaporating surface of tubes and flues [m2].
        superheater_surface: Surface of the superheater [m2].
        free_gas_area: Gas area through tubes and flues [m2].
        tube_diameter: Inside diameter of the tubes [m].

    Returns:
        The two ways.
    """
    flues = min(FLUE_TO_SUPERHEATER_SURFACE * superheater_surface, _MAX_FLUE_SHARE * tube_surface)
    coefficient = tube_coefficient(flux=gas_rate / free_gas_area, diameter=tube_diameter)
    return GasPassages(
        flue_share=(flues + superheater_surface) / (tube_surface + superheater_surface),
        tubes=coefficient * (tube_surface - flues),
        flues=coefficient * flues,
        elements=coefficient * SUPERHEATER_FACTOR * superheater_surface,
        a=a,
        b=b,
    )


def cooled_gas_temperature(
    *, entering: Floats, sink: Floats, conductance: Floats, a: Floats, b: Floats
) -> Floats:
    """Temperature of gas after a way along one sink temperature.

    From -(a + b T) dT = (T - sink) dK: ln((T1 - sink) / (T0 - sink)) (a + b sink) = b (T0 - T1) - K, solved
    by going round.

    Args:
        entering: Temperature at the start [K].
        sink: Temperature of what takes the heat [K].
        conductance: Coefficient times surface of the whole way [W/K].
        a: Heat coefficient of the gas [W/K].
        b: Second heat coefficient [W/K2].

    Returns:
        Temperature at the end [K].

    Raises:
        ArithmeticError: Rounds that do not come to rest.
    """
    leaving = sink
    for _ in range(_MAX_ITERATIONS):
        before = leaving
        units = (conductance - b * (entering - leaving)) / (a + b * sink)
        leaving = sink + (entering - sink) * np.exp(-units)
        if np.all(np.abs(leaving - before) < _TOLERANCE * entering):
            break
    else:
        raise ArithmeticError(f"the gas leaving the tubes does not settle in {_MAX_ITERATIONS} rounds")
    return leaving


def barrel_heat(
    *,
    passages: GasPassages,
    entering: Floats,
    wall: float,
    pressure: float,
    other_heat: Floats,
    evaporation_heat: float,
) -> BarrelHeat:
    """Heat taken in the barrel; the steam made and its superheat depend on each other, so go round.

    Steam in an element runs to and fro along the flue: it is taken at the mean of its end temperatures.

    Args:
        passages: The two ways.
        entering: Temperature of the gas entering them [K].
        wall: Boiling temperature [K].
        pressure: Absolute pressure in the boiler [Pa].
        other_heat: Heat the water gets elsewhere, losses taken off [W].
        evaporation_heat: Heat from feed to dry steam [J/kg].

    Returns:
        The heat taken.

    Raises:
        OutOfRange: Too little heat to make steam, or a superheater so large that steam and superheat do not settle.
    """
    share = passages.flue_share
    start = gas_enthalpy(temperature=entering, a=passages.a, b=passages.b)
    walls = np.full_like(entering, wall)
    leaving = cooled_gas_temperature(
        entering=entering,
        sink=walls,
        conductance=passages.tubes,
        a=(1.0 - share) * passages.a,
        b=(1.0 - share) * passages.b,
    )
    left_tubes = (1.0 - share) * gas_enthalpy(temperature=leaving, a=passages.a, b=passages.b)
    small_tubes = (1.0 - share) * start - left_tubes
    if share == 0.0:
        steam_made(heat=other_heat + small_tubes, evaporation_heat=evaporation_heat)
        return BarrelHeat(
            water=small_tubes, superheater=np.zeros_like(start), left=left_tubes, steam_temperature=walls
        )
    both = passages.flues + passages.elements
    steam_temperature = walls
    for _ in range(_MAX_ITERATIONS):
        mean_steam = 0.5 * (wall + steam_temperature)
        sink = (passages.flues * wall + passages.elements * mean_steam) / both
        leaving = cooled_gas_temperature(
            entering=entering, sink=sink, conductance=both, a=share * passages.a, b=share * passages.b
        )
        left_flues = share * gas_enthalpy(temperature=leaving, a=passages.a, b=passages.b)
        given = share * start - left_flues
        superheater = passages.elements / both * given + passages.elements * (sink - mean_steam)
        water = small_tubes + given - superheater
        made = steam_made(heat=other_heat + water, evaporation_heat=evaporation_heat)
        before = steam_temperature
        found = _superheat_temperature(pressure=pressure, heat=superheater / made)
        steam_temperature = before + _RELAXATION * (
            found - before
        )  # more superheat leaves more steam, and so swings
        if np.all(np.abs(steam_temperature - before) < _STEAM_TOLERANCE):
            break
    else:
        raise NoSolution(SUPERHEATER_TOO_LARGE, SURFACE_REMEDY)
    return BarrelHeat(
        water=water,
        superheater=superheater,
        left=left_tubes + left_flues,
        steam_temperature=steam_temperature,
    )


def steam_made(*, heat: Floats, evaporation_heat: float) -> Floats:
    """Steam that heat to the water makes.

    Args:
        heat: Heat to the water, losses taken off [W].
        evaporation_heat: Heat from feed to dry steam [J/kg].

    Returns:
        Steam [kg/s].

    Raises:
        OutOfRange: No heat left for steam.
    """
    if not np.all(heat > 0.0):
        raise NoSolution(
            "a firing rate is too small to make steam: it does not cover the standing loss",
            "give a larger grate, or less surface and outside to the boiler",
        )
    return heat / evaporation_heat


def _superheat_temperature(*, pressure: float, heat: Floats) -> Floats:
    """Temperature of dry steam that has taken up this heat [J/kg]."""
    dry = steam.vapor_enthalpy(pressure=pressure)
    try:
        return np.array([steam.temperature_at_enthalpy(pressure=pressure, enthalpy=dry + h) for h in heat])
    except OutOfRange as fault:
        raise NoSolution(SUPERHEATER_TOO_LARGE, SURFACE_REMEDY) from fault
