"""Heat between steam and the walls of the cylinder within one crank step."""

from __future__ import annotations

import math

from locosim.compiled import compiled

_WETTED = 20.0e3  # [J/kg], 1 % of the heat of evaporation: from so much moisture on a wall is wet all over
_HEAT_CAPACITY = 1500.0  # of dry steam at constant volume [J/(kg K)], about


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
        moisture = -above / _WETTED / (1.0 + grip_wet * excess / (_WETTED * mass))
        grip = grip_dry + (grip_wet - grip_dry) * min(moisture, 1.0)
        return -grip * excess, grip, 0.0
    grip = grip_dry / (1.0 + grip_dry / (_HEAT_CAPACITY * mass))  # never past evenness
    dry = grip * (temperature - wall_temperature)
    if wall_temperature >= temperature:  # and so above boiling
        return dry, grip, 0.0
    condensing = grip_wet * (boiling_point(pressure) - wall_temperature)
    if condensing <= 0.0:
        return dry, grip, 0.0
    return dry + condensing, grip + grip_wet, condensing
