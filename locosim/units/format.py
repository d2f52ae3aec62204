"""From SI to the reader's units, in three systems: `us`, `metric` and `british`.

The system is set once, where a result is written: `with unit_system("metric"): ...`. Everything shown inside the block
is in that system; outside any block it is `us`. The table holds plain numbers, so that a report does not need pint; a
test compares the table with pint.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, NamedTuple

from locosim import constants as const
from locosim.errors import UnitError

SYSTEMS = ("us", "metric", "british")
_system: ContextVar[str] = ContextVar("unit_system", default="us")


@contextmanager
def unit_system(name: str) -> Iterator[None]:
    """Show values in a system of units inside a `with` block.

    Args:
        name: `us`, `metric` or `british`.

    Raises:
        UnitError: The system is not one of the three.
    """
    if name not in SYSTEMS:
        raise UnitError(f"units {name!r} are not known; write one of {', '.join(SYSTEMS)}")
    token = _system.set(name)
    try:
        yield
    finally:
        _system.reset(token)


def current_system() -> str:
    """Name of the system in force."""
    return _system.get()


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
    "short_length": Display(1 / const.FOOT, "ft", 1),
    "distance": Display(1 / const.MILE, "mi", 2),
    "area": Display(1 / const.FOOT**2, "ft²", 1),
    "small_area": Display(1 / const.INCH**2, "in²", 1),
    "small_mass": Display(1 / const.POUND, "lb", 0),
    "smallest_mass": Display(1 / const.POUND, "lb", 1),
    "force": Display(1 / const.POUND_FORCE, "lbf", 0),
    "small_force": Display(1 / const.POUND_FORCE, "lbf", 0),
    "power": Display(1 / const.HORSEPOWER, "hp", 0),
    "energy": Display(1 / _HP_HOUR, "hp h", 0),
    "pressure": Display(1 / const.PSI, "psi", 1),
    "draft": Display(1 / (const.INCH * const.WATER_DENSITY * const.GRAVITY), "in water", 1),
    "temperature": Display(1.8, "°F", 0, -459.67),
    "temperature_difference": Display(1.8, "°F", 0),
    "steam_rate": Display(_LB_PER_HOUR, "lb/h", 0),
    "fuel_rate": Display(_LB_PER_HOUR, "lb/h", 0),
    "fuel_per_distance": Display(const.MILE / const.POUND, "lb/mi", 1),
    "water_per_distance": Display(const.MILE / const.POUND, "lb/mi", 0),
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
    "small_water": Display(1 / (const.WATER_DENSITY * const.US_GALLON), "US gal", 1),
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
    "small_water": Display(1 / (const.WATER_DENSITY * const.IMPERIAL_GALLON), "imp gal", 1),
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
    "short_length": Display(1.0, "m", 2),
    "small_length": Display(1000.0, "mm", 0),
    "distance": Display(0.001, "km", 2),
    "area": Display(1.0, "m²", 2),
    "small_area": Display(1e4, "cm²", 0),
    "mass": Display(0.001, "t", 1),
    "small_mass": Display(1.0, "kg", 0),
    "smallest_mass": Display(1.0, "kg", 2),
    "force": Display(0.001, "kN", 1),
    "small_force": Display(1.0, "N", 0),
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
    "small_water": Display(1000.0 / const.WATER_DENSITY, "L", 1),
    "volume_rate": Display(const.HOUR, "m³/h", 1),
    "grade": Display(1000.0, "‰", 1),
    "specific_resistance": Display(1000.0, "N/t", 1),
    "curve": Display(1.0, "m", 0),
}
_SI_UNITS = {
    "speed": "m/s",
    "piston_speed": "m/s",
    "rotation": "Hz",
    "acceleration": "m/s2",
    "length": "m",
    "short_length": "m",
    "small_length": "m",
    "distance": "m",
    "area": "m2",
    "small_area": "m2",
    "mass": "kg",
    "small_mass": "kg",
    "smallest_mass": "kg",
    "force": "N",
    "small_force": "N",
    "power": "W",
    "energy": "J",
    "pressure": "Pa",
    "draft": "Pa",
    "temperature": "K",
    "temperature_difference": "K",
    "steam_rate": "kg/s",
    "fuel_rate": "kg/s",
    "fuel_per_distance": "kg/m",
    "water_per_distance": "kg/m",
    "specific_steam_consumption": "kg/J",
    "heating_value": "J/kg",
    "firing_rate_per_grate_area": "kg/(m2 s)",
    "evaporation_rate": "kg/(m2 s)",
    "fuel_bed": "kg/m2",
    "ratio": "",
    "number": "",
    "volume": "m3",
    "water": "kg",
    "small_water": "kg",
    "volume_rate": "m3/s",
    "grade": "",
    "specific_resistance": "N/kg",
    "time": "s",
    "clock": "s",
    "curve": "m",
}
DISPLAYS: dict[str, dict[str, Display]] = {"us": _US, "metric": _METRIC, "british": _BRITISH}
# Units that are whole words.
_PLURALS = {"short ton": "short tons", "long ton": "long tons", "chain": "chains"}
_LEVEL_GRADE = 5e-6  # a grade below this, 1 in 200,000, is shown as level


def display(kind: str) -> Display:
    """How a kind of value is shown in the system in force."""
    return DISPLAYS[_system.get()][kind]


def scale(kind: str) -> tuple[float, str]:
    """Factor and unit of a kind for axes and table headings: shown number = SI value times factor.

    Kinds that are not shown in proportion are scaled by another unit: a time or a time of day in minutes, a British
    grade in percent, a US curve by its radius in feet.

    Raises:
        ValueError: For `temperature`, whose zero is shifted; use `number`.
    """
    found = display(kind)
    if kind in ("time", "clock"):
        return 1 / 60, "min"
    if kind == "curve" and _system.get() == "us":
        return 1 / const.FOOT, "ft"
    if found.offset:
        raise ValueError(f"{kind} has no scale through zero; use number()")
    return found.factor, found.unit


def number(value: Any, kind: str) -> Any:
    """Convert a value or an array from SI to the number shown, unrounded."""
    found = display(kind)
    return value * found.factor + found.offset


def si_label(kind: str) -> str:
    """SI unit of a kind; empty for ratios."""
    return _SI_UNITS[kind]


def show_si(value: float, kind: str) -> str:
    """Write a value in SI with its unit, to six figures."""
    return f"{value:.6g} {_SI_UNITS[kind]}".rstrip()


def written_unit(unit: str) -> str:
    """A unit as a user writes it, such as `ft^2` or `degF`, with the signs of a heading."""
    for written, sign in (("^2", "²"), ("^3", "³"), ("degF", "°F"), ("degC", "°C"), ("deg", "°"), ("_", " ")):
        unit = unit.replace(written, sign)
    return unit


def label(kind: str) -> str:
    """Unit of a kind, for the heading of a table or an axis."""
    return "1 in n" if _is_one_in(kind) else display(kind).unit


def show_number(value: float, kind: str, digits: int | None = None) -> str:
    """Write a value without its unit, for a table whose heading has the unit; a dash for NaN.

    Args:
        value: The value [SI].
        kind: A kind of this module, such as `speed` or `steam_rate`.
        digits: Decimals; those of the kind if omitted.
    """
    if math.isnan(value):
        return "-"
    found = display(kind)
    decimals = found.decimals if digits is None else digits
    if kind == "time":
        return _time(value)
    if kind == "clock":
        return _clock(value)
    if _is_one_in(kind):
        return _one_in(value, decimals=0 if digits is None else digits)
    if kind == "curve" and _system.get() == "us":
        return _with_thousands_separators(_degree(value), decimals)
    return _with_thousands_separators(value * found.factor + found.offset, decimals)


def show(value: float, kind: str, digits: int | None = None) -> str:
    """Write a value with its unit, in the plural where it is a word.

    Args:
        value: The value [SI]; a length in m, a curve by its radius in m, a time in s.
        kind: A kind of this module, such as `speed` or `steam_rate`.
        digits: Decimals; those of the kind if omitted.
    """
    text = show_number(value, kind, digits)
    if kind in ("time", "clock") or _is_one_in(kind):
        return text
    unit = display(kind).unit
    return text + unit if unit == "°" else f"{text} {_PLURALS.get(unit, unit)}".rstrip()


def show_percent(value: float) -> str:
    """Write a share in percent with three significant figures, trailing zeros dropped."""
    return f"{100.0 * value:.3g}%"


def show_milepost(chainage: float) -> str:
    """Write a chainage as the line counts it [m] as a milepost, or a kilometer of the line."""
    unit = label("distance")
    return f"{'milepost' if unit == 'mi' else unit} {show_number(chainage, 'distance')}"


def _is_one_in(kind: str) -> bool:
    """Whether a kind is a grade written as 1 in n."""
    return kind == "grade" and _system.get() == "british"


def _with_thousands_separators(shown: float, decimals: int) -> str:
    """Write a number with thousands separators, and never a negative zero."""
    return f"{round(shown, decimals) + 0.0:,.{decimals}f}"


def _time(seconds: float) -> str:
    """Write a duration as hours, minutes and seconds."""
    whole = round(abs(seconds))
    sign = "-" if seconds < 0 and whole else ""
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _clock(seconds: float) -> str:
    """Write a time of day, with the day added from the second day on."""
    whole = round(seconds)
    day, rest = divmod(whole, 86400)
    text = f"{rest // 3600:02d}:{rest // 60 % 60:02d}:{rest % 60:02d}"
    return f"{text} ({day:+d} day)" if day else text


def _one_in(grade: float, *, decimals: int) -> str:
    """Write a grade the British way."""
    if abs(grade) < _LEVEL_GRADE:
        return "level"
    return f"{'down ' if grade < 0 else ''}1 in {1 / abs(grade):.{decimals}f}"


def _degree(radius: float) -> float:
    """Degree of curve on a 100 ft chord; a radius below 50 ft has none and counts as 180."""
    return 2 * math.degrees(math.asin(min(1.0, 50 * const.FOOT / radius)))
