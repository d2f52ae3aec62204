"""Draft: what the fire asks of the smokebox, and what the blast of the exhaust can raise.

Both go with the square of a flow, gas and steam, and gas goes with the steam made: that is why a locomotive
boiler follows its load. The limit is the back pressure one is ready to pay, or the nozzle that is there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from locosim.constants import ATMOSPHERE
from locosim.physics.types import Real

INCH_OF_WATER = 249.089  # [Pa], conventional
INCH_OF_MERCURY = 3386.389  # [Pa], conventional

# Pressure drop of the tubes over the whole draft. Two thirds in an engine of 1865 with an open smokebox:
# 12 in of water before the tubes' ends, 4 in the firebox [Bourne1865]. With diaphragm, netting and ash pan
# each of tubes, front end and fire takes about a third: Goss, from memory.
TUBE_SHARE_OF_DRAFT_OPEN_SMOKEBOX = 2.0 / 3.0
TUBE_SHARE_OF_DRAFT = 1.0 / 3.0
_BLASIUS_COEFFICIENT = 0.316  # Blasius, f = 0.316 Re^-0.25 of smooth tubes, from memory
_END_LOSSES = 1.5  # velocity heads lost at entry and exit, textbook
_GAS_CONSTANT = 283.0  # flue gas [J/(kg K)], molar mass 29.4 g/mol
_GAS_VISCOSITY = 3.9e-5  # [Pa s] at 900 K, from memory
MEAN_GAS_TEMPERATURE = 1000.0  # [K] along the tubes at hard firing

DRAFT_TO_BACK_PRESSURE_RATIO = INCH_OF_WATER / INCH_OF_MERCURY  # of a plain front end [Bourne1865]


def tube_pressure_drop(
    *,
    gas_rate: Real,
    free_gas_area: Real,
    tube_length: Real,
    tube_diameter: Real,
    roughness_factor: float,
    gas_temperature: Real = MEAN_GAS_TEMPERATURE,
) -> Real:
    """Pressure drop of the gas through the tubes.

    Args:
        gas_rate: Gas through all tubes [kg/s].
        free_gas_area: Free area of all tubes and flues [m2].
        tube_length: Length between the tube plates [m].
        tube_diameter: Inside diameter [m].
        roughness_factor: Friction in tubes with ferrules and soot over that in smooth tubes [1].
        gas_temperature: Mean temperature along the tubes [K].

    Returns:
        Pressure drop [Pa].
    """
    flux = gas_rate / free_gas_area
    head = 0.5 * flux**2 * _GAS_CONSTANT * gas_temperature / ATMOSPHERE
    friction = roughness_factor * _BLASIUS_COEFFICIENT * (flux * tube_diameter / _GAS_VISCOSITY) ** -0.25
    return head * (friction * tube_length / tube_diameter + _END_LOSSES)


def required_draft(*, tube_drop: Real, tube_share_of_draft: Real = TUBE_SHARE_OF_DRAFT) -> Real:
    """Vacuum in the smokebox that draws the gas through fire, tubes and front end.

    Args:
        tube_drop: Pressure drop of the tubes [Pa].
        tube_share_of_draft: Their share of the whole [1].

    Returns:
        Vacuum below the air [Pa].

    References:
        [Bourne1865], Q. 257 to 286: 12 in of water in the smokebox, 4 in the firebox.
    """
    return tube_drop / tube_share_of_draft


def evaporation_at_new_vacuum(*, evaporation: Real, vacuum: Real, new_vacuum: Real) -> Real:
    """Evaporation of the same boiler under another vacuum.

    Args:
        evaporation: Evaporation known [kg/s].
        vacuum: Smokebox vacuum it was made with [Pa].
        new_vacuum: The other vacuum [Pa].

    Returns:
        Evaporation [kg/s].

    References:
        [Bourne1865]: evaporation goes with the square root of the smokebox vacuum.
    """
    return evaporation * np.sqrt(new_vacuum / vacuum)


def available_draft(*, back_pressure: Real, ratio: Real = DRAFT_TO_BACK_PRESSURE_RATIO) -> Real:
    """Vacuum in the smokebox that the blast raises.

    Args:
        back_pressure: Pressure before the blast nozzle above the air [Pa].
        ratio: What this front end raises for it [1].

    Returns:
        Vacuum below the air [Pa].

    References:
        [Bourne1865]: an inch of mercury for an inch of water; better front ends reach more.
    """
    return ratio * back_pressure


def draft_limit(
    *, firing_rate: NDArray[np.float64], needed: NDArray[np.float64], raised: NDArray[np.float64]
) -> float:
    """Firing rate up to which the blast draws the fire: name of this limit, "draft".

    Args:
        firing_rate: Rising firing rates [kg/s].
        needed: Vacuum each needs, `required_draft` [Pa].
        raised: Vacuum the blast can raise at each, `available_draft` [Pa].

    Returns:
        Firing rate; the last one where the blast always suffices [kg/s].
    """
    shortfall = needed - raised
    failing = np.flatnonzero(shortfall > 0.0)
    if len(failing) == 0:
        return float(firing_rate[-1])
    first = int(failing[0])
    if first == 0:
        return float(firing_rate[0])
    part = -shortfall[first - 1] / (shortfall[first] - shortfall[first - 1])
    return float(firing_rate[first - 1] + part * (firing_rate[first] - firing_rate[first - 1]))
