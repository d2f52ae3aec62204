"""Heat between the steam and the cylinder walls within one crank step."""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_inline

# Moisture, as energy below dry saturated steam [J/kg], from which a wall is wet all over: 1 % of the latent heat.
_FULL_WETNESS = 20.0e3
_STEAM_SPECIFIC_HEAT = 1500.0  # of dry steam at constant volume, approximate [J/(kg K)]


class WallTransfer(NamedTuple):
    """How a wall exchanges heat in a crank step.

    Attributes:
        wet: Coefficient x area x time of a wet wall [J/K].
        dry: Coefficient x area x time of a dry wall [J/K].
        quench_energy: Specific energy above dry saturated steam at which a cold wall no longer condenses [J/kg].
    """

    wet: float
    dry: float
    quench_energy: float


class WallHeat(NamedTuple):
    """Heat given to the wall in a crank step.

    Attributes:
        heat: Heat to the wall, negative when the wall gives heat back [J].
        conductance: Coefficient x area x time that carried it [J/K].
        condensing: Part of the heat that condensed steam [J].
    """

    heat: float
    conductance: float
    condensing: float


@compiled_inline
def boiling_point(pressure: float) -> float:
    """Boiling point of water by a three-constant law, for the heat exchange with the wall only.

    Args:
        pressure: Absolute pressure; from 0.5 to 25 bar within 0.05 K of the 1997 formulation [Pa].

    Returns:
        Temperature [K].
    """
    return 3801.93 / (23.171 - math.log(pressure)) + 46.636


@compiled_inline
def wall_heat(
    temperature: float,
    pressure: float,
    superheat_energy: float,
    mass: float,
    wall_temperature: float,
    transfer: WallTransfer,
) -> WallHeat:
    """Heat given to the wall in a step by the state of the steam at one instant.

    A wall colder than the boiling point condenses steam, even where the bulk of the steam is superheated; but the steam
    next to it must first lose its superheat, so condensation falls in a straight line with the energy above saturation
    and ends at `quench_energy`. A warmer wall gives heat back quickly while it is wet, and slowly once it is dry.

    Args:
        temperature: Temperature of the steam [K].
        pressure: Absolute pressure of the steam [Pa].
        superheat_energy: Specific energy of the steam above dry saturated, negative when wet [J/kg].
        mass: Mass of the steam [kg].
        wall_temperature: Temperature of the wall [K].
        transfer: How the wall exchanges heat.

    References:
        [CallendarNicolson1897], from memory: condensation proceeds at a finite rate. The fall with superheat is the
        project's own law; its constant is fitted.
    """
    wet_conductance, dry_conductance, quench_energy = transfer
    if superheat_energy < 0.0:
        if wall_temperature <= temperature:
            heat = wet_conductance * (temperature - wall_temperature)
            return WallHeat(heat, wet_conductance, heat)
        excess = wall_temperature - temperature
        moisture = -superheat_energy / _FULL_WETNESS
        wetness = mean_wetness(moisture, 0.0, wet_conductance * excess / (_FULL_WETNESS * mass))
        conductance = dry_conductance + (wet_conductance - dry_conductance) * wetness
        return WallHeat(-conductance * excess, conductance, 0.0)
    conductance = _limited_dry_conductance(dry_conductance, mass)
    dry = conductance * (temperature - wall_temperature)
    if wall_temperature >= temperature:  # and so above the boiling point
        return WallHeat(dry, conductance, 0.0)
    condensing_conductance = wet_conductance * max(0.0, 1.0 - superheat_energy / quench_energy)
    condensing = condensing_conductance * (boiling_point(pressure) - wall_temperature)
    if condensing <= 0.0:
        return WallHeat(dry, conductance, 0.0)
    return WallHeat(dry + condensing, conductance + condensing_conductance, condensing)


@compiled_inline
def _limited_dry_conductance(conductance: float, mass: float) -> float:
    """Dry conductance [J/K], reduced so that a step cannot carry the steam past the wall temperature."""
    return conductance / (1.0 + conductance / (_STEAM_SPECIFIC_HEAT * mass))


@compiled_inline
def mean_wetness(initial: float, formed: float, drying: float) -> float:
    """Mean share of a warm wall that is wet over a step, while it dries.

    The share is proportional to the moisture of the steam up to `_FULL_WETNESS` and 1 beyond. The drying rate is
    proportional to the share, so the mean is that of an exponential, exact for constant formation and drying.

    Args:
        initial: Moisture at the start over `_FULL_WETNESS`, negative when superheated [1].
        formed: Moisture formed in the step by other causes, on the same scale [1].
        drying: Moisture that a wall wet all over would dry in the step, on the same scale [1].

    Returns:
        Share, 0 to 1 [1].
    """
    partly_wet, full = 1.0, 0.0  # fractions of the step
    if initial < 0.0:
        if initial + formed <= 0.0:
            return 0.0
        partly_wet = 1.0 + initial / formed
        initial = 0.0
    elif initial > 1.0:
        if initial + formed - drying >= 1.0:
            return 1.0
        full = (initial - 1.0) / (drying - formed)
        partly_wet = 1.0 - full
        initial = 1.0
    gained, dried = formed * partly_wet, drying * partly_wet
    if dried < 1e-4:
        mean = initial + 0.5 * (gained - dried * initial)
    else:
        equilibrium = gained / dried
        mean = equilibrium + (initial - equilibrium) * (1.0 - math.exp(-dried)) / dried
    return full + partly_wet * min(max(mean, 0.0), 1.0)


@compiled_inline
def warm_wall_heat(
    temperatures: tuple[float, float],
    superheat_energies: tuple[float, float],
    mass: float,
    wall_temperature: float,
    transfer: WallTransfer,
) -> WallHeat:
    """Heat, negative, to a wall that is warmer than the steam at the start and the end of a step.

    Args:
        temperatures: Temperature of the steam at the start, and at the end of a trial step with `wall_heat` [K].
        superheat_energies: Specific energy above dry saturated steam at the same two instants [J/kg].
        mass: Mean mass of the steam [kg].
        wall_temperature: Temperature of the wall [K].
        transfer: How the wall exchanges heat.
    """
    wet_conductance, dry_conductance, _ = transfer
    initial, final = -superheat_energies[0] / _FULL_WETNESS, -superheat_energies[1] / _FULL_WETNESS
    trial = wet_conductance * (wall_temperature - temperatures[0]) / (_FULL_WETNESS * mass)
    formed = final - initial + trial * mean_wetness(initial, 0.0, trial)
    excess = wall_temperature - 0.5 * (temperatures[0] + temperatures[1])
    wetness = mean_wetness(initial, formed, wet_conductance * excess / (_FULL_WETNESS * mass))
    dry = _limited_dry_conductance(dry_conductance, mass)
    conductance = dry + (wet_conductance - dry) * wetness
    return WallHeat(-conductance * excess, conductance, 0.0)
