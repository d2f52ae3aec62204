"""Quantities given to the library: a text with its unit, or a number in SI."""

from __future__ import annotations

from locosim.errors import UnitError
from locosim.units import option_quantity

Quantity = str | float


def quantity(given: Quantity, unit: str, name: str) -> float:
    """Value of a quantity in SI.

    Args:
        given: A text with its unit, such as `"40 mph"`, or a number in SI.
        unit: SI unit; `""` for a ratio.
        name: Name of the argument, for the message.

    Raises:
        UnitError: Not a text or a number, or a text without a unit that fits.
    """
    if isinstance(given, str):
        return option_quantity(given, unit, name)
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise UnitError(
            f"{name}: must be a text with a unit, or a number in {unit or 'units of one'}, found {given!r}"
        )
    return float(given)
