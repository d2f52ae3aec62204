"""Draft: the smokebox vacuum that the fire requires, and the vacuum that the exhaust blast produces.

The first goes with the square of the gas flow, the second with the square of the steam flow, and the gas flow goes
with the steam made: a locomotive boiler therefore follows its load. The limit is set by the back pressure allowed.
"""

from __future__ import annotations

from locosim.constants import ATMOSPHERE
from locosim.physics.types import Real

INCH_OF_WATER = 249.089  # [Pa], conventional
INCH_OF_MERCURY = 3386.389  # [Pa], conventional

# Pressure drop in the tubes over the whole draft. Two thirds in an engine of 1865 with an open smokebox: 12 in of
# water in the smokebox, 4 in the firebox [Bourne1865]. With diaphragm, netting and ash pan, the tubes, the front end
# and the fire account for about a third each: Goss, from memory.
TUBE_SHARE_OF_DRAFT_OPEN_SMOKEBOX = 2.0 / 3.0
TUBE_SHARE_OF_DRAFT = 1.0 / 3.0
_BLASIUS_COEFFICIENT = 0.316  # Blasius, f = 0.316 Re^-0.25 of smooth tubes, from memory
_END_LOSSES = 1.5  # velocity heads lost at entry and exit, textbook
_GAS_CONSTANT = 283.0  # flue gas [J/(kg K)], molar mass 29.4 g/mol
_GAS_VISCOSITY = 3.9e-5  # [Pa s] at 900 K, from memory

DRAFT_TO_BACK_PRESSURE_RATIO = INCH_OF_WATER / INCH_OF_MERCURY  # plain front end, [Bourne1865]


def tube_pressure_drop(
    *,
    gas_rate: Real,
    free_gas_area: float,
    tube_length: float,
    tube_diameter: float,
    gas_temperature: Real,
    roughness_factor: float,
) -> Real:
    """Pressure drop of the gas in the tubes.

    Args:
        gas_rate: Gas through all tubes [kg/s].
        free_gas_area: Free area of all tubes and flues [m2].
        tube_length: Length between the tube sheets [m].
        tube_diameter: Inside diameter [m].
        gas_temperature: Mean temperature along the tubes [K].
        roughness_factor: Friction in tubes with ferrules and soot over that in smooth tubes [1].

    Returns:
        Pressure drop [Pa].
    """
    flux = gas_rate / free_gas_area
    head = 0.5 * flux**2 * _GAS_CONSTANT * gas_temperature / ATMOSPHERE
    friction: Real = (
        roughness_factor * _BLASIUS_COEFFICIENT * (flux * tube_diameter / _GAS_VISCOSITY) ** -0.25
    )
    return head * (friction * tube_length / tube_diameter + _END_LOSSES)


def required_draft(*, tube_drop: Real, tube_share_of_draft: float = TUBE_SHARE_OF_DRAFT) -> Real:
    """Smokebox vacuum that draws the gas through fire, tubes and front end.

    Args:
        tube_drop: Pressure drop in the tubes [Pa].
        tube_share_of_draft: That pressure drop over the whole draft [1].

    Returns:
        Vacuum, below atmospheric pressure [Pa].

    References:
        [Bourne1865], Q. 257 to 286: 12 in of water in the smokebox, 4 in the firebox.
    """
    return tube_drop / tube_share_of_draft


def available_draft(*, back_pressure: Real, ratio: float = DRAFT_TO_BACK_PRESSURE_RATIO) -> Real:
    """Smokebox vacuum that the blast produces.

    Args:
        back_pressure: Pressure ahead of the exhaust nozzle, above the atmosphere [Pa].
        ratio: Vacuum over back pressure of this front end [1].

    Returns:
        Vacuum, below atmospheric pressure [Pa].

    References:
        [Bourne1865]: an inch of water of draft for an inch of mercury of back pressure; better front ends give more.
    """
    return ratio * back_pressure
