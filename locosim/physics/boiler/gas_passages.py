"""Heat transfer from the gas in the barrel: small tubes, and flues that contain the superheater.

Convection has the coefficient of turbulent flow in smooth tubes. Gas cools exponentially with the number of transfer
units, its heat capacity rising with temperature. Surfaces and areas are those of `barrel`. The superheater elements,
hotter than the flue around them, radiate part of their heat back to its wall.
"""

from __future__ import annotations

import numpy as np

from locosim.errors import NoSolution, OutOfRange
from locosim.frozen import frozen
from locosim.physics.boiler.barrel import Barrel, Passage
from locosim.physics.boiler.combustion import gas_enthalpy
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

# 0.023 Pr^0.4 k / mu^0.8 [Dittus1930], of gas at 900 K from memory: k 0.062 W/(m K), mu 3.9e-5 Pa s, Pr 0.7
_TURBULENT_CONSTANT = 0.023 * 0.7**0.4 * 0.062 / 3.9e-5**0.8

STEFAN_BOLTZMANN = 5.670374e-8  # [W/(m2 K4)], CODATA 2018
# Radiation exchanged by elements and flue over that of black surfaces of the area of the elements, not fitted: about
# two thirds of the surface of four pipes in a flue faces it; emissivity of sooty steel 0.9, textbook, from memory.
ELEMENT_RADIATION = 0.55

SUPERHEATER_TOO_LARGE = (
    "the superheater absorbs more heat than the steam made by the rest of the boiler can carry"
)
SURFACE_REMEDY = "check the surface of the superheater against that of the tubes"
_MAX_ITERATIONS = 200
_TOLERANCE = 1e-13  # of the temperature
_RELAXATION = 0.6  # share of a change of steam temperature carried into the next iteration
_LEAST_SLOPE = 0.2  # of what the law asks for over the values, from which on it is used
_LONGEST_STEP = 4.0  # by the slope, over the one without it
_STEAM_TOLERANCE = 1e-9  # [K]
_STEAM_HEAT_CAPACITY = 2500.0  # of superheated steam, for the size of a step only [J/(kg K)]


@frozen
class GasPassages:
    """Conductances of tubes and flues, and the gas that flows through them.

    Attributes:
        flue_share: Share of the gas that flows through the flues [1].
        tubes: Conductance from small tubes to water [W/K].
        bare_flues: Conductance from flues to water ahead of the elements [W/K].
        flues: Conductance from flues to water along the elements [W/K].
        elements: Conductance from flues to the steam in the superheater [W/K].
        radiating: Black surface that would exchange the radiation between elements and flues [m2].
        a: First heat coefficient of all gas, see `combustion.gas_enthalpy` [W/K].
        b: Second heat coefficient [W/K2].
    """

    flue_share: float
    tubes: Floats
    bare_flues: Floats
    flues: Floats
    elements: Floats
    radiating: float
    a: Floats
    b: Floats


@frozen
class BarrelHeat:
    """Heat absorbed in the barrel, and heat left in the gas.

    Attributes:
        water: Heat absorbed by the water [W].
        superheater: Heat absorbed by the steam [W].
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


def gas_passages(*, gas_rate: Floats, a: Floats, b: Floats, barrel: Barrel) -> GasPassages:
    """Conductances of tubes and flues.

    Args:
        gas_rate: Gas through the barrel [kg/s].
        a: First heat coefficient of that gas [W/K].
        b: Second heat coefficient [W/K2].
        barrel: Surfaces and areas of the tubes and flues.

    Returns:
        The conductances.
    """
    in_flues = barrel.flue_share * gas_rate
    along_elements = _coefficient(in_flues, barrel.flues)
    return GasPassages(
        flue_share=barrel.flue_share,
        tubes=_coefficient((1.0 - barrel.flue_share) * gas_rate, barrel.tubes) * _surface(barrel.tubes),
        bare_flues=_coefficient(in_flues, barrel.bare_flues) * _surface(barrel.bare_flues),
        flues=along_elements * _surface(barrel.flues),
        elements=along_elements * barrel.element_factor * barrel.element_surface,
        radiating=ELEMENT_RADIATION * barrel.element_surface,
        a=a,
        b=b,
    )


def _coefficient(gas_rate: Floats, passage: Passage | None) -> Floats:
    """Heat transfer coefficient in a passage; 0 where there is none."""
    if passage is None:
        return np.zeros_like(gas_rate)
    return tube_coefficient(flux=gas_rate / passage.area, diameter=passage.diameter)


def _surface(passage: Passage | None) -> float:
    """Evaporative surface of a passage; 0 where there is none [m2]."""
    return 0.0 if passage is None else passage.surface


def cooled_gas_temperature(
    *,
    entering: Floats,
    sink: Floats,
    conductance: Floats,
    a: Floats,
    b: Floats,
    guess: Floats | None = None,
) -> Floats:
    """Temperature of gas after cooling against a constant temperature.

    From -(a + b T) dT = (T - sink) dK: ln((T1 - sink) / (T0 - sink)) (a + b sink) = b (T0 - T1) - K, solved
    by Newton's method.

    Args:
        entering: Temperature of the entering gas [K].
        sink: Temperature of the medium that absorbs the heat [K].
        conductance: Coefficient times surface, over the whole length [W/K].
        a: First heat coefficient of the gas [W/K].
        b: Second heat coefficient [W/K2].
        guess: Temperature of the leaving gas at which to begin [K]; that of the medium if omitted.

    Returns:
        Temperature of the leaving gas [K].

    Raises:
        ArithmeticError: No convergence.
    """
    leaving = sink if guess is None else guess
    above = entering - sink
    slope = b / (a + b * sink)
    units = conductance / (a + b * sink) - slope * entering
    tolerance = _TOLERANCE * entering
    for _ in range(_MAX_ITERATIONS):
        cooled = above * np.exp(-units - slope * leaving)
        step = (sink + cooled - leaving) / (1.0 + slope * cooled)
        leaving = leaving + step
        if np.all(np.abs(step) < tolerance):
            break
    else:
        raise ArithmeticError(
            f"the temperature of the gas leaving the tubes did not converge in {_MAX_ITERATIONS} iterations"
        )
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
    """Heat absorbed in the barrel.

    Evaporation and superheat depend on each other and are found by iteration. Steam in a superheater unit flows back
    and forth along the flue: it counts at the mean of its inlet and outlet temperatures, and so do the elements where
    they radiate to the flue, which is at boiling temperature. This loss hardly depends on the firing rate, so that
    superheat is low at light firing, and grows with the superheat, so that a larger superheater gains less.

    Args:
        passages: Conductances of tubes and flues.
        entering: Temperature of the gas entering them [K].
        wall: Boiling temperature [K].
        pressure: Absolute pressure in the boiler [Pa].
        other_heat: Heat absorbed by the water elsewhere, less the losses [W].
        evaporation_heat: Heat from feed to dry steam [J/kg].

    Returns:
        The heat absorbed.

    Raises:
        NoSolution: Too little heat to make steam, or a superheater so large that the iteration does not converge.
    """
    share = passages.flue_share
    walls = np.full_like(entering, wall)
    small_tubes, _, left_tubes = _cooled(passages, 1.0 - share, entering, walls, passages.tubes)
    bare, entering, left_flues = _cooled(passages, share, entering, walls, passages.bare_flues)
    if not np.any(passages.elements):
        water = small_tubes + bare
        steam_made(heat=other_heat + water, evaporation_heat=evaporation_heat)
        return BarrelHeat(
            water=water,
            superheater=np.zeros_like(water),
            left=left_tubes + left_flues,
            steam_temperature=walls,
        )
    both = passages.flues + passages.elements
    steam_temperature, leaving = walls, None
    steps = _SecantSteps()
    for _ in range(_MAX_ITERATIONS):
        mean_steam = 0.5 * (wall + steam_temperature)
        sink = (passages.flues * wall + passages.elements * mean_steam) / both
        given, leaving, left_flues = _cooled(passages, share, entering, sink, both, leaving)
        from_gas = passages.elements / both * given + passages.elements * (sink - mean_steam)
        superheater = from_gas - passages.radiating * STEFAN_BOLTZMANN * (mean_steam**4 - wall**4)
        water = small_tubes + bare + given - superheater
        made = steam_made(heat=other_heat + water, evaporation_heat=evaporation_heat)
        before = steam_temperature
        found = _superheat_temperature(pressure=pressure, heat=superheater / made)
        # More superheat leaves more steam, and more radiation leaves less superheat: both make the iteration swing.
        radiated = 2.0 * passages.radiating * STEFAN_BOLTZMANN * mean_steam**3 / (_STEAM_HEAT_CAPACITY * made)
        steam_temperature = steps.next(before, found - before, _RELAXATION / (1.0 + radiated))
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


class _SecantSteps:
    """Steps of an iteration: by the slope of the last two (secant method) where they show one, else relaxed."""

    def __init__(self) -> None:
        self._last: tuple[Floats, Floats] | None = None

    def next(self, at: Floats, off: Floats, relaxation: Floats) -> Floats:
        """The next values.

        Args:
            at: The present ones.
            off: By how much the law asks for other ones.
            relaxation: Share of that which is carried on without a slope.
        """
        change = relaxation * off
        if self._last is not None:
            moved, turned = at - self._last[0], off - self._last[1]
            steep = turned * moved < -_LEAST_SLOPE * moved * moved
            by_slope = np.divide(-off * moved, turned, out=change.copy(), where=steep)
            change = np.where(np.abs(by_slope) < _LONGEST_STEP * np.abs(change), by_slope, change)
        self._last = at, off
        return at + change


def _cooled(
    passages: GasPassages,
    share: float,
    entering: Floats,
    sink: Floats,
    conductance: Floats,
    guess: Floats | None = None,
) -> tuple[Floats, Floats, Floats]:
    """Heat given up by a share of the gas [W], its temperature after it [K], and the heat left in it [W]."""
    start = share * gas_enthalpy(temperature=entering, a=passages.a, b=passages.b)
    if share == 0.0 or not np.any(conductance):
        return np.zeros_like(start), entering, start
    leaving = cooled_gas_temperature(
        entering=entering,
        sink=sink,
        conductance=conductance,
        a=share * passages.a,
        b=share * passages.b,
        guess=guess,
    )
    left = share * gas_enthalpy(temperature=leaving, a=passages.a, b=passages.b)
    return start - left, leaving, left


def steam_made(*, heat: Floats, evaporation_heat: float) -> Floats:
    """Steam made by the heat that the water absorbs.

    Args:
        heat: Heat absorbed by the water, less the losses [W].
        evaporation_heat: Heat from feed to dry steam [J/kg].

    Returns:
        Steam [kg/s].

    Raises:
        NoSolution: No heat left to make steam.
    """
    if not np.all(heat > 0.0):
        raise NoSolution(
            "a firing rate is too small to make steam: it does not cover the radiation loss",
            "give the boiler a larger grate, or less heating and outer surface",
        )
    return heat / evaporation_heat


def _superheat_temperature(*, pressure: float, heat: Floats) -> Floats:
    """Temperature of dry saturated steam after absorbing heat [J/kg]."""
    dry = steam.vapor_enthalpy(pressure=pressure)
    try:
        return steam.temperatures_at_enthalpy(pressure=pressure, enthalpy=dry + heat)
    except OutOfRange as fault:
        raise NoSolution(SUPERHEATER_TOO_LARGE, SURFACE_REMEDY) from fault
