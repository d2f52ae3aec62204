"""Faults in the user's own words: what was given as it was written, and figures in the unit it was written in."""

from __future__ import annotations

import re

from locosim.errors import Fault, Figure, UnitError
from locosim.units.parse import convert, si

_NUMBER = r"[+\-−]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?(?: ?\d+/\d+)?"
_NUMBER_AND_UNIT = re.compile(rf"\s*(?:{_NUMBER}) ?([^\W\d](?:[^\s\d]|(?<=[\^mtn])\d)*|[%‰°]\S*)")
_BASE_UNITS = {"": "", "grade": "", "curve": "m", "clock": "s"}


def unit_in(text: str, unit: str) -> str:
    """Find the unit that a text was written in; empty when it tells of none that a single number may have.

    Args:
        text: What the user wrote, such as `12 mile 43 chain`; of a sum the first, largest unit is taken.
        unit: Unit of the field, which the one found must be able to stand for.
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
    """Write a figure as the user would: in the unit of a text of theirs, or in SI.

    Args:
        value: The figure, in `unit`.
        unit: SI unit, or a unit word of locosim.model.declare.
        text: What the user wrote for the like.
        digits: Significant figures.
    """
    user_unit = unit_in(text, unit)
    if not user_unit:
        return f"{value:g} {_BASE_UNITS.get(unit, unit)}".rstrip()
    # By two points, since water by volume may be read as a mass, but not the other way round.
    zero, one = convert(0.0, user_unit, unit), convert(1.0, user_unit, unit)
    return f"{(value - zero) / (one - zero):.{digits}g} {user_unit}"


def fault_message(fault: Fault, text: str) -> str:
    """Say a fault in the words of what the user wrote.

    Args:
        fault: What is wrong.
        text: What the user wrote for its key; empty when nothing, so that a default holds.
    """
    given = {"found": repr(text)} if text else {}

    def show(value: Figure, unit: str) -> str:
        return value if isinstance(value, str) else show_like(value, unit, text)

    figures = {name: given.get(name) or show(value, fault.unit) for name, value in fault.figures.items()}
    return fault.text.format_map(figures) if figures else fault.text


def option_quantity(text: str, unit: str, name: str) -> float:
    """Read a quantity given by name, as an option of a command.

    Raises:
        UnitError: As `si`, with the name before it.
    """
    try:
        return si(text, unit)
    except UnitError as wrong:
        raise UnitError(f"{name}: {wrong}") from None
