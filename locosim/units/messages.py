"""Faults in the user's notation: the text as the user wrote it, and figures in the user's unit."""

from __future__ import annotations

import re

from locosim.errors import Fault, Figure, UnitError
from locosim.units.parse import convert, si

_NUMBER = r"[+\-−]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?(?: ?\d+/\d+)?"
_NUMBER_AND_UNIT = re.compile(rf"\s*(?:{_NUMBER}) ?([^\W\d](?:[^\s\d]|(?<=[\^mtn])\d)*|[%‰°]\S*)")
_BASE_UNITS = {"": "", "grade": "", "curve": "m", "clock": "s"}


def unit_in(text: str, unit: str) -> str:
    """The unit of a text; empty if it has none, or none that a single number can have.

    Args:
        text: The user's text, such as `12 mile 43 chain`; of a sum, the first and largest unit is used.
        unit: Unit of the field; the one found must be of the same kind.
    """
    found = _NUMBER_AND_UNIT.match(text)
    if found is None or unit == "clock" or (unit in ("grade", "curve") and found[1] in ("in", "deg", "°")):
        return ""
    try:
        convert(1.0, found[1], unit)
    except UnitError:
        return ""
    return found[1]


def show_like(value: float, unit: str, text: str, *, digits: int = 6) -> str:
    """A figure with its unit: that of the user's text, or SI if the text has none.

    Args:
        value: The figure, in `unit`.
        unit: SI unit, or a unit word of locosim.model.declare.
        text: The user's text for a figure of the same kind.
        digits: Significant figures.
    """
    user_unit = unit_in(text, unit)
    if not user_unit:
        return f"{value:g} {_BASE_UNITS.get(unit, unit)}".rstrip()
    # By two points, since a volume of water can be read as a mass, but not the reverse.
    zero, one = convert(0.0, user_unit, unit), convert(1.0, user_unit, unit)
    return f"{(value - zero) / (one - zero):.{digits}g} {user_unit}"


def fault_message(fault: Fault, text: str) -> str:
    """The text of a fault, in the user's notation.

    Args:
        fault: What is wrong.
        text: The user's text for its key; empty if the key was omitted and has its default.
    """
    given = {"found": repr(text)} if text else {}

    def show(value: Figure, unit: str) -> str:
        return value if isinstance(value, str) else show_like(value, unit, text)

    figures = {name: given.get(name) or show(value, fault.unit) for name, value in fault.figures.items()}
    return fault.text.format_map(figures) if figures else fault.text


def option_quantity(text: str, unit: str, name: str) -> float:
    """Read the quantity of a command option.

    Raises:
        UnitError: As for `si`, after the name of the option.
    """
    try:
        return si(text, unit)
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None


def option_price(text: str, unit: str, name: str) -> float:
    """Read the price of a command option: a number, `/`, and a quantity or a unit, such as `160/short_ton`.

    Args:
        text: The price.
        unit: SI unit of what it is for.
        name: Name of the option.

    Returns:
        Price for one SI unit.

    Raises:
        UnitError: Not such a price; the message names the option.
    """
    number, slash, per = (part.strip() for part in text.partition("/"))
    if not slash or not re.fullmatch(r"\d+\.?\d*|\.\d+", number) or not per:
        raise UnitError(
            f"{name}: write a number for a quantity, such as 160/short_ton, in any currency but without its name; "
            f"found {text!r}"
        )
    amount = option_quantity(per if per[0].isdigit() else f"1 {per}", unit, name)
    if amount <= 0.0:
        raise UnitError(f"{name}: the quantity must be above 0, found {text!r}")
    return float(number) / amount
