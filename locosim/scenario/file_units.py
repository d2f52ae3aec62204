"""Units of a template: examples, defaults and ranges of keys in one system of units."""

from __future__ import annotations

import math
import re

from locosim import units
from locosim.constants import FOOT, WATER_DENSITY
from locosim.scenario.schema import Key, example

EXAMPLE_DIGITS, DEFAULT_DIGITS, RANGE_DIGITS = 3, 4, 3  # significant digits of a converted figure
_US, _METRIC, _BRITISH = units.SYSTEMS

# Unit words of a template by the SI unit of the key, where its example has no word of the system.
_WORDS: dict[str, tuple[str, str, str]] = {
    "kg": ("lb", "kg", "lb"),
    "m": ("ft", "m", "ft"),
    "m^2": ("ft^2", "m^2", "ft^2"),
    "m^3": ("us_gallon", "m^3", "imperial_gallon"),
    "m/s": ("mph", "km/h", "mph"),
    "m/s^2": ("ft/s^2", "m/s^2", "ft/s^2"),
    "m^3/s": ("us_gallon/minute", "L/minute", "imperial_gallon/minute"),
    "kg/s": ("lb/hour", "kg/hour", "lb/hour"),
    "kg/m^2": ("lb/ft^2", "kg/m^2", "lb/ft^2"),
    "kg/m^2/s": ("lb/ft^2/hour", "kg/m^2/hour", "lb/ft^2/hour"),
    "kg/J": ("lb/hp/hour", "kg/kW/hour", "lb/hp/hour"),
    "Pa": ("psi", "bar", "psi"),
    "N": ("lbf", "kN", "lbf"),
    "W": ("hp", "kW", "hp"),
    "K": ("degF", "degC", "degF"),
    "Hz": ("rpm", "rpm", "rpm"),
    "J/kg": ("Btu/lb", "kJ/kg", "Btu/lb"),
    "W/m^2/K": ("Btu/hour/ft^2/degF", "W/m^2/K", "Btu/hour/ft^2/degF"),
    "N/kg": ("lbf/short_ton", "N/tonne", "lbf/long_ton"),
    "N/kg/(m/s)": ("lbf/short_ton/mph", "N/tonne/(km/h)", "lbf/long_ton/mph"),
    "N/kg/(m/s)^2": ("lbf/short_ton/mph^2", "N/tonne/(km/h)^2", "lbf/long_ton/mph^2"),
}
# Words that examples use, in each system.
_LIKE: tuple[tuple[str, str, str], ...] = (
    ("in", "mm", "in"),
    ("ft", "m", "ft"),
    ("mile", "km", "mile"),
    ("in^2", "cm^2", "in^2"),
    ("short_ton", "tonne", "long_ton"),
    ("lb", "kg", "lb"),
    ("ft/minute", "m/s", "ft/minute"),
    ("us_gallon/hour", "L/hour", "imperial_gallon/hour"),
    ("lb/hour", "kg/hour", "lb/hour"),
    ("minute", "minute", "minute"),
    ("hour", "hour", "hour"),
    ("Btu/lb", "MJ/kg", "Btu/lb"),
)
_QUANTITY = re.compile(r"-?[\d.]+(?:e[+-]?\d+)? (\S+)")


def file_unit(key: Key, system: str) -> str:
    """Unit in which a template gives a key; empty for a key without one."""
    column = units.SYSTEMS.index(system)
    found = _QUANTITY.match(example(key).strip('"'))
    like = next((row for row in _LIKE if found and found[1] in row), None)
    row = like or _WORDS.get(key.unit)
    if key.unit == "curve":
        return "deg" if system == _US else "m" if system == _METRIC else "chain"
    return "%" if key.unit == "grade" else row[column] if row else key.unit


def written(key: Key, text: str, system: str) -> str:
    """An example of a key, in TOML, in the units of a template; unchanged where it has no units or fits.

    Args:
        key: The key.
        text: The example, in TOML.
        system: `us`, `metric` or `british`.
    """
    if key.kind != "measure" or key.unit in ("", "grade", "clock") or not text.startswith('"'):
        return text
    unit = file_unit(key, system)
    body = text.strip('"')
    if set(re.findall(r"[A-Za-z_^/()\d]*[A-Za-z][\w^/()]*", body)) <= {
        unit,
        "chain" if unit == "mile" else unit,
    }:
        return text
    return f'"{_figure(units.si(body, key.unit), key, unit, EXAMPLE_DIGITS)}"'


def default_written(key: Key, default: float, system: str) -> str:
    """The default of a key, in TOML."""
    if key.unit == "grade":
        return f'"{100 * default:g} %"'
    return f'"{_figure(default, key, file_unit(key, system), DEFAULT_DIGITS)}"'


def range_written(key: Key, system: str) -> str:
    """The range of a key in words, in the units of a template; empty if any number is allowed."""
    unit = file_unit(key, system)
    metadata = key.field_info.metadata
    parts = [(word, metadata.get(word)) for word in ("above", "at_least", "below", "at_most")]
    if unit == "deg":  # a sharper curve has a smaller radius and a larger degree
        opposite = {"above": "below", "at_least": "at_most", "below": "above", "at_most": "at_least"}
        parts = [(opposite[word], bound) for word, bound in reversed(parts)]
    return " and ".join(
        f"{word.replace('_', ' ')} {_figure(bound, key, unit, RANGE_DIGITS)}"
        for word, bound in parts
        if bound is not None
    )


def _figure(value: float, key: Key, unit: str, digits: int) -> str:
    """A value in SI with a unit."""
    number = _in_unit(value, key, unit)
    return f"{float(f'{number:.{digits}g}'):.12g} {unit}".rstrip()


def _in_unit(value: float, key: Key, unit: str) -> float:
    """A value in SI as a number of a unit."""
    if unit == "deg":
        return 2.0 * math.degrees(math.asin(min(50.0 * FOOT / value, 1.0)))
    if not unit:
        return value
    if key.unit == "kg/s" and unit.split("/")[0] in ("L", "us_gallon", "imperial_gallon"):  # of water
        return units.convert(value / WATER_DENSITY, "m^3/s", unit)
    return units.convert(value, {"curve": "m", "grade": ""}.get(key.unit, key.unit), unit)
