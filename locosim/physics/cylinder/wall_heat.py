"""Heat between steam and the walls of the cylinder within one crank step."""

from __future__ import annotations

import math

from locosim.compiled import compiled

_FULL_WETNESS = (
    20.0e3  # [J/kg], 1 % of the heat of evaporation: from so much moisture on a wall is wet all over
)
_STEAM_SPECIFIC_HEAT = 1500.0  # of dry steam at constant volume [J/(kg K)], about


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
    conductances: tuple[float, float],
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
        conductances: Wetted and dry coefficient x area x time [J/K].

    Returns:
        Heat to the wall [J], grip [J/K], and the part of the heat that condensed steam [J].
    """
    wet_conductance, dry_conductance = conductances
    if above < 0.0:
        if wall_temperature <= temperature:
            heat = wet_conductance * (temperature - wall_temperature)
            return heat, wet_conductance, heat
        excess = wall_temperature - temperature
        wetness = mean_wetness(-above / _FULL_WETNESS, 0.0, wet_conductance * excess / (_FULL_WETNESS * mass))
        conductance = dry_conductance + (wet_conductance - dry_conductance) * wetness
        return -conductance * excess, conductance, 0.0
    conductance = dry_conductance / (
        1.0 + dry_conductance / (_STEAM_SPECIFIC_HEAT * mass)
    )  # never past evenness
    dry = conductance * (temperature - wall_temperature)
    if wall_temperature >= temperature:  # and so above boiling
        return dry, conductance, 0.0
    condensing = wet_conductance * (boiling_point(pressure) - wall_temperature)
    if condensing <= 0.0:
        return dry, conductance, 0.0
    return dry + condensing, conductance + wet_conductance, condensing


@compiled
def mean_wetness(before: float, made: float, drying: float) -> float:
    """Mean share of a warm wall that is wetted over a step, while it dries.

    The share goes with the moisture of the steam up to `_FULL_WETNESS` and is full beyond; it dries at a rate in proportion
    to itself, so the mean is that of an exponential, exact for even making and drying.

    Args:
        before: Moisture at the start over that which wets all, negative when superheated [1].
        made: Moisture made in the step by other causes, in the same measure [1].
        drying: Moisture a wall wetted all over would dry in the step [1].

    Returns:
        Share, 0 to 1 [1].
    """
    wet, full = 1.0, 0.0  # parts of the step
    if before < 0.0:
        if before + made <= 0.0:
            return 0.0
        wet = 1.0 + before / made
        before = 0.0
    elif before > 1.0:
        if before + made - drying >= 1.0:
            return 1.0
        full = (before - 1.0) / (drying - made)
        wet = 1.0 - full
        before = 1.0
    gained, dried = made * wet, drying * wet
    if dried < 1e-4:
        mean = before + 0.5 * (gained - dried * before)
    else:
        equilibrium = gained / dried
        mean = equilibrium + (before - equilibrium) * (1.0 - math.exp(-dried)) / dried
    return full + wet * min(max(mean, 0.0), 1.0)


@compiled
def warm_wall_heat(
    temperatures: tuple[float, float],
    above: tuple[float, float],
    mass: float,
    wall_temperature: float,
    conductances: tuple[float, float],
) -> tuple[float, float]:
    """Heat a wall warmer than the steam at both ends of a step gives it, negative, and the grip that gave it.

    Args:
        temperatures: Of the steam at the start, and at the end of a first trial with `wall_heat` [K].
        above: Its energy above dry saturated there [J/kg].
        mass: Its mean mass [kg].
        wall_temperature: Temperature of the wall [K].
        conductances: Wetted and dry coefficient x area x time [J/K].

    Returns:
        Heat [J] and grip [J/K].
    """
    wet_conductance, dry_conductance = conductances
    before, after = -above[0] / _FULL_WETNESS, -above[1] / _FULL_WETNESS
    trial = wet_conductance * (wall_temperature - temperatures[0]) / (_FULL_WETNESS * mass)
    made = after - before + trial * mean_wetness(before, 0.0, trial)
    excess = wall_temperature - 0.5 * (temperatures[0] + temperatures[1])
    wetness = mean_wetness(before, made, wet_conductance * excess / (_FULL_WETNESS * mass))
    dry = dry_conductance / (1.0 + dry_conductance / (_STEAM_SPECIFIC_HEAT * mass))  # never past evenness
    conductance = dry + (wet_conductance - dry) * wetness
    return -conductance * excess, conductance
