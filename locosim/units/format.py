"""From SI to the reader's own units, in three systems: `us`, `metric` and `british`.

A closed table of plain numbers, so that a report needs no pint; a test holds the table against pint.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim import constants as const
from locosim.errors import UnitError

SYSTEMS = ("us", "metric", "british")


class Display(NamedTuple):
    """How one kind of value is shown: shown number = SI value times factor plus offset."""

    factor: float
    unit: str
    decimals: int
    offset: float = 0.0


_HP_HOUR = const.HORSEPOWER * const.HOUR  # [J]
_KWH = 1000.0 * const.HOUR  # [J]
_LB_PER_HOUR = const.HOUR / const.POUND
_KG_PER_HOUR = const.HOUR
_INCH_POUND: dict[str, Display] = {
    "speed": Display(1 / const.MPH, "mph", 1),
    "piston_speed": Display(60 / const.FOOT, "ft/min", 0),
    "rotation": Display(60.0, "rpm", 0),
    "acceleration": Display(1 / const.FOOT, "ft/s²", 3),
    "length": Display(1 / const.FOOT, "ft", 0),
    "small_length": Display(1 / const.INCH, "in", 2),
    "distance": Display(1 / const.MILE, "mile", 2),
    "area": Display(1 / const.FOOT**2, "ft²", 1),
    "small_area": Display(1 / const.INCH**2, "in²", 1),
    "small_mass": Display(1 / const.POUND, "lb", 0),
    "force": Display(1 / const.POUND_FORCE, "lbf", 0),
    "power": Display(1 / const.HORSEPOWER, "hp", 0),
    "energy": Display(1 / _HP_HOUR, "hp h", 0),
    "pressure": Display(1 / const.PSI, "psi", 1),
    "draft": Display(1 / (const.INCH * const.WATER_DENSITY * const.GRAVITY), "in water", 1),
    "temperature": Display(1.8, "°F", 0, -459.67),
    "temperature_difference": Display(1.8, "°F", 0),
    "steam_rate": Display(_LB_PER_HOUR, "lb/h", 0),
    "fuel_rate": Display(_LB_PER_HOUR, "lb/h", 0),
    "fuel_per_distance": Display(const.MILE / const.POUND, "lb/mile", 1),
    "water_per_distance": Display(const.MILE / const.POUND, "lb/mile", 0),
    "specific_steam_consumption": Display(_HP_HOUR / const.POUND, "lb/hp h", 1),
    "heating_value": Display(const.POUND / const.BTU, "Btu/lb", 0),
    "firing_rate_per_grate_area": Display(const.HOUR * const.FOOT**2 / const.POUND, "lb/ft² h", 1),
    "evaporation_rate": Display(const.HOUR * const.FOOT**2 / const.POUND, "lb/ft² h", 1),
    "fuel_bed": Display(const.FOOT**2 / const.POUND, "lb/ft²", 1),
}
_COMMON: dict[str, Display] = {
    "ratio": Display(100.0, "%", 1),
    "number": Display(1.0, "", 2),
}
_US: dict[str, Display] = {
    **_INCH_POUND,
    **_COMMON,
    "mass": Display(1 / const.SHORT_TON, "short ton", 1),
    "volume": Display(1 / const.US_GALLON, "US gal", 0),
    "water": Display(1 / (const.WATER_DENSITY * const.US_GALLON), "US gal", 0),
    "volume_rate": Display(60 / const.US_GALLON, "US gal/min", 0),
    "grade": Display(100.0, "%", 2),
    "specific_resistance": Display(const.SHORT_TON / const.POUND_FORCE, "lbf/short ton", 2),
    "time": Display(1.0, "h:min:s", 0),
    "clock": Display(1.0, "h:min:s", 0),
    "curve": Display(1.0, "°", 2),
}
_BRITISH: dict[str, Display] = {
    **_US,
    "mass": Display(1 / const.LONG_TON, "long ton", 1),
    "volume": Display(1 / const.IMPERIAL_GALLON, "imp gal", 0),
    "water": Display(1 / (const.WATER_DENSITY * const.IMPERIAL_GALLON), "imp gal", 0),
    "volume_rate": Display(60 / const.IMPERIAL_GALLON, "imp gal/min", 0),
    "specific_resistance": Display(const.LONG_TON / const.POUND_FORCE, "lbf/long ton", 2),
    "curve": Display(1 / (66 * const.FOOT), "chain", 1),
}
_METRIC: dict[str, Display] = {
    **_US,
    "speed": Display(1 / const.KMH, "km/h", 1),
    "piston_speed": Display(1.0, "m/s", 2),
    "acceleration": Display(1.0, "m/s²", 3),
    "length": Display(1.0, "m", 0),
    "small_length": Display(1000.0, "mm", 0),
    "distance": Display(0.001, "km", 2),
    "area": Display(1.0, "m²", 2),
    "small_area": Display(1e4, "cm²", 0),
    "mass": Display(0.001, "t", 1),
    "small_mass": Display(1.0, "kg", 0),
    "force": Display(0.001, "kN", 1),
    "power": Display(0.001, "kW", 0),
    "energy": Display(1 / _KWH, "kWh", 0),
    "pressure": Display(1e-5, "bar", 2),
    "draft": Display(0.01, "mbar", 1),
    "temperature": Display(1.0, "°C", 0, -const.ZERO_CELSIUS),
    "temperature_difference": Display(1.0, "K", 0),
    "steam_rate": Display(_KG_PER_HOUR, "kg/h", 0),
    "fuel_rate": Display(_KG_PER_HOUR, "kg/h", 0),
    "fuel_per_distance": Display(1000.0, "kg/km", 2),
    "water_per_distance": Display(1000.0, "kg/km", 0),
    "specific_steam_consumption": Display(_KWH, "kg/kWh", 2),
    "heating_value": Display(1e-6, "MJ/kg", 2),
    "firing_rate_per_grate_area": Display(const.HOUR, "kg/m² h", 0),
    "evaporation_rate": Display(const.HOUR, "kg/m² h", 1),
    "fuel_bed": Display(1.0, "kg/m²", 1),
    "volume": Display(1.0, "m³", 2),
    "water": Display(1 / const.WATER_DENSITY, "m³", 2),
    "volume_rate": Display(const.HOUR, "m³/h", 1),
    "grade": Display(1000.0, "‰", 1),
    "specific_resistance": Display(1000.0, "N/t", 1),
    "curve": Display(1.0, "m", 0),
}
_SI_UNITS = {
    "speed": "m/s", "piston_speed": "m/s", "rotation": "Hz", "acceleration": "m/s2", "length": "m",
    "small_length": "m", "distance": "m", "area": "m2", "small_area": "m2", "mass": "kg", "small_mass": "kg",
    "force": "N", "power": "W",
    "energy": "J", "pressure": "Pa", "draft": "Pa", "temperature": "K", "temperature_difference": "K",
    "steam_rate": "kg/s",
    "fuel_rate": "kg/s", "fuel_per_distance": "kg/m", "water_per_distance": "kg/m", "specific_steam_consumption": "kg/J",
    "heating_value": "J/kg", "firing_rate_per_grate_area": "kg/(m2 s)", "evaporation_rate": "kg/(m2 s)", "fuel_bed": "kg/m2",
    "ratio": "", "number": "",
    "volume": "m3", "water": "kg", "volume_rate": "m3/s", "grade": "", "specific_resistance": "N/kg", "time": "s",
    "clock": "s", "curve": "m",
}  # fmt: skip
DISPLAYS: dict[str, dict[str, Display]] = {"us": _US, "metric": _METRIC, "british": _BRITISH}
_LEVEL_GRADE = 5e-6  # a slope below this, 1 in 200,000, is shown as level


def display(kind: str, system: str) -> Display:
    """Find how a kind of value is shown in a system.

    Raises:
        UnitError: When the system is not one of the three.
    """
    if system not in DISPLAYS:
        raise UnitError(f"units {system!r} are not known; write one of {', '.join(SYSTEMS)}")
    return DISPLAYS[system][kind]


def scale(kind: str, system: str) -> tuple[float, str]:
    """Factor and unit label for axes and table headings: shown number = SI value times factor.

    What is not shown in proportion is scaled by another unit: a time or a time of day in minutes, a British
    grade in per cent, an American curve by its radius in feet.

    Raises:
        ValueError: For `temperature`, which no factor alone can show; use `number`.
    """
    found = display(kind, system)
    if kind in ("time", "clock"):
        return 1 / 60, "min"
    if kind == "curve" and system == "us":
        return 1 / const.FOOT, "ft"
    if found.offset:
        raise ValueError(f"{kind} has no scale through zero; use number()")
    return found.factor, found.unit


def number(value: float, kind: str, system: str) -> float:
    """Convert a value to the number shown, unrounded; arrays go through as well."""
    found = display(kind, system)
    return value * found.factor + found.offset


def si_label(kind: str) -> str:
    """SI unit of a kind; empty for ratios."""
    return _SI_UNITS[kind]


def show_si(value: float, kind: str) -> str:
    """Write a value in SI with its unit, six figures."""
    return f"{value:.6g} {_SI_UNITS[kind]}".rstrip()


def label(kind: str, system: str) -> str:
    """Unit shown beside the figures of a kind, for the heading of a table."""
    if kind == "grade" and system == "british":
        return "1 in n"
    return display(kind, system).unit


def show_number(value: float, kind: str, system: str, digits: int | None = None) -> str:
    """Write a value without its unit, for a table whose heading has the unit; a dash where it is not a number.

    Args:
        value: The value [SI].
        kind: A kind of this module, such as `speed` or `steam_rate`.
        system: `us`, `metric` or `british`.
        digits: Decimals; the kind's own when left out.
    """
    if math.isnan(value):
        return "-"
    found = display(kind, system)
    decimals = found.decimals if digits is None else digits
    if kind == "time":
        return _time(value)
    if kind == "clock":
        return _clock(value)
    if kind == "grade" and system == "british":
        return _one_in(value, decimals=0 if digits is None else digits)
    if kind == "curve" and system == "us":
        return _with_thousands_separators(_degree(value), decimals)
    return _with_thousands_separators(value * found.factor + found.offset, decimals)


def show(value: float, kind: str, system: str, digits: int | None = None) -> str:
    """Write a value with its unit.

    Args:
        value: The value [SI]; a length in m, a curve by its radius in m, a time in s.
        kind: A kind of this module, such as `speed` or `steam_rate`.
        system: `us`, `metric` or `british`.
        digits: Decimals; the kind's own when left out.

    Raises:
        UnitError: When the system is not one of the three.
    """
    text = show_number(value, kind, system, digits)
    if kind in ("time", "clock") or (kind == "grade" and system == "british"):
        return text
    unit = display(kind, system).unit
    return text + unit if unit == "°" else f"{text} {unit}".rstrip()


def show_percent(value: float) -> str:
    """Write a share in per cent with three figures, none of them an idle nought: as it was asked for."""
    return f"{100.0 * value:.3g}%"


def _with_thousands_separators(shown: float, decimals: int) -> str:
    """Write a number with its thousands apart, and never a negative zero."""
    return f"{round(shown, decimals) + 0.0:,.{decimals}f}"


def _time(seconds: float) -> str:
    """Write a duration as hours, minutes and seconds."""
    whole = round(abs(seconds))
    sign = "-" if seconds < 0 and whole else ""
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _clock(seconds: float) -> str:
    """Write a time of day, with the day where it is not the first."""
    whole = round(seconds)
    day, rest = divmod(whole, 86400)
    text = f"{rest // 3600:02d}:{rest // 60 % 60:02d}:{rest % 60:02d}"
    return f"{text} ({day:+d} day)" if day else text


def _one_in(grade: float, *, decimals: int) -> str:
    """Write a grade in the British manner."""
    if abs(grade) < _LEVEL_GRADE:
        return "level"
    return f"{'down ' if grade < 0 else ''}1 in {1 / abs(grade):.{decimals}f}"


def _degree(radius: float) -> float:
    """Degree of curve on a chord of 100 ft; a radius below 50 ft has none and counts as 180."""
    return 2 * math.degrees(math.asin(min(1.0, 50 * const.FOOT / radius)))
