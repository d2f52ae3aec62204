"""Units at the edge: text to SI on the way in, SI to the reader's own units on the way out.

Inside locosim every number is a float in SI. Only this package imports pint, and only for words that are
not in its own table.
"""

from locosim.units.format import SYSTEMS, figure, label, number, scale, share, show, show_si, si_label
from locosim.units.messages import quantity, shown_like, unit_in, worded
from locosim.units.parse import si, si_value

__all__ = [
    "SYSTEMS",
    "figure",
    "label",
    "number",
    "quantity",
    "scale",
    "share",
    "show",
    "show_si",
    "shown_like",
    "si",
    "si_label",
    "si_value",
    "unit_in",
    "worded",
]
