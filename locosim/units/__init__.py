"""Units at the boundary: text to SI on input, SI to the chosen units on output.

Inside locosim every number is a float in SI. Only this package imports pint, and only for unit words that are not in
its own table.
"""

from locosim.units.format import (
    SYSTEMS,
    current_system,
    label,
    number,
    scale,
    show,
    show_milepost,
    show_number,
    show_percent,
    show_si,
    si_label,
    unit_system,
    written_unit,
)
from locosim.units.messages import fault_message, option_price, option_quantity, show_like, unit_in
from locosim.units.parse import convert, si

__all__ = [
    "SYSTEMS",
    "convert",
    "current_system",
    "fault_message",
    "label",
    "number",
    "option_price",
    "option_quantity",
    "scale",
    "show",
    "show_like",
    "show_milepost",
    "show_number",
    "show_percent",
    "show_si",
    "si",
    "si_label",
    "unit_in",
    "unit_system",
    "written_unit",
]
