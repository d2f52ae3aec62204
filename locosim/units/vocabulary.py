"""Unit words that may be written, with their factors to SI.

The unit words of the trade are in a fixed table, so that reading a scenario needs no pint; a test compares the table
with pint. A word that is not in the table is looked up in pint as a name, never as an expression. Words with two
meanings, or with another meaning in pint than in the trade, are refused with advice.
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from functools import lru_cache
from typing import Any, NamedTuple

from locosim import constants as const
from locosim.errors import UnitError

Dimension = tuple[int, int, int, int]  # powers of length, mass, time, temperature


class UnitDefinition(NamedTuple):
    """Factor of a unit to SI, and its dimension."""

    factor: float
    dimension: Dimension


DIMENSIONLESS: Dimension = (0, 0, 0, 0)
LENGTH: Dimension = (1, 0, 0, 0)
AREA: Dimension = (2, 0, 0, 0)
VOLUME: Dimension = (3, 0, 0, 0)
MASS: Dimension = (0, 1, 0, 0)
TIME: Dimension = (0, 0, 1, 0)
FREQUENCY: Dimension = (0, 0, -1, 0)
TEMPERATURE: Dimension = (0, 0, 0, 1)
SPEED: Dimension = (1, 0, -1, 0)
ACCELERATION: Dimension = (1, 0, -2, 0)
FORCE: Dimension = (1, 1, -2, 0)
PRESSURE: Dimension = (-1, 1, -2, 0)
ENERGY: Dimension = (2, 1, -2, 0)
POWER: Dimension = (2, 1, -3, 0)
HEATING_VALUE: Dimension = (2, 0, -2, 0)
MASS_RATE: Dimension = (0, 1, -1, 0)
VOLUME_RATE: Dimension = (3, 0, -1, 0)

# Name of each kind of measure in messages, and unit words for it.
KINDS: dict[Dimension, tuple[str, str]] = {
    DIMENSIONLESS: ("a plain number", "%"),
    LENGTH: ("a length", "in, ft, yd, chain, mile, mm, m or km"),
    AREA: ("an area", "in^2, ft^2 or m^2"),
    VOLUME: ("a volume", "us_gallon, imperial_gallon, ft^3 or m^3"),
    MASS: ("a mass", "lb, short_ton, long_ton, kg or tonne"),
    TIME: ("a time", "s, minute or hour"),
    FREQUENCY: ("a rotational speed", "rpm or Hz"),
    TEMPERATURE: ("a temperature", "degF, degC or K"),
    SPEED: ("a speed", "mph, km/h, ft/minute or m/s"),
    ACCELERATION: ("an acceleration or a force per mass", "m/s^2, ft/s^2, mph/s or lbf/short_ton"),
    FORCE: ("a force", "lbf, kgf, N or kN"),
    PRESSURE: ("a pressure", "psi, bar, kPa or kgf/cm^2"),
    ENERGY: ("an energy", "Btu, hp*hour, kJ or MJ"),
    POWER: ("a power", "hp, metric_horsepower or kW"),
    HEATING_VALUE: ("a heating value", "Btu/lb, kJ/kg or MJ/kg"),
    MASS_RATE: ("a mass per time", "lb/hour, kg/hour or kg/s"),
    VOLUME_RATE: ("a volume per time", "us_gallon/minute, imperial_gallon/minute or m^3/hour"),
}

# The same for units of fields whose kind has no name of its own, or a misleading one.
KINDS_BY_UNIT: dict[str, tuple[str, str]] = {
    "N/kg": ("a force per mass", "lbf/short_ton, lbf/long_ton or N/tonne"),
    "N/kg/(m/s)": ("a force per mass and speed", "lbf/short_ton/mph or N/tonne/(km/h)"),
    "N/kg/(m/s)^2": ("a force per mass and speed squared", "lbf/short_ton/mph^2 or N/tonne/(km/h)^2"),
    "W/m^2/K": ("a heat-transfer coefficient", "W/m^2/K or Btu/hour/ft^2/degF"),
}

_TABLE: tuple[tuple[str, float, Dimension], ...] = (
    ("% percent", 0.01, DIMENSIONLESS),
    ("‰ permille", 0.001, DIMENSIONLESS),
    ("rev revolution revolutions", 1.0, DIMENSIONLESS),
    ("m metre metres meter meters", 1.0, LENGTH),
    ("km kilometre kilometres kilometer kilometers", 1000.0, LENGTH),
    ("cm", 0.01, LENGTH),
    ("mm millimetre millimetres millimeter millimeters", 0.001, LENGTH),
    ("in inch inches", const.INCH, LENGTH),
    ("ft foot feet", const.FOOT, LENGTH),
    ("yd yard yards", 3 * const.FOOT, LENGTH),
    ("chain chains ch", 66 * const.FOOT, LENGTH),
    ("mile miles mi", const.MILE, LENGTH),
    ("m2", 1.0, AREA),
    ("ft2", const.FOOT**2, AREA),
    ("in2", const.INCH**2, AREA),
    ("m3", 1.0, VOLUME),
    ("ft3", const.FOOT**3, VOLUME),
    ("L litre litres liter liters", 0.001, VOLUME),
    ("us_gallon us_gallons US_gallon us_gal", const.US_GALLON, VOLUME),
    (
        "imperial_gallon imperial_gallons UK_gallon uk_gallon imp_gallon imp_gal",
        const.IMPERIAL_GALLON,
        VOLUME,
    ),
    ("kg kilogram kilograms", 1.0, MASS),
    ("g gram grams", 0.001, MASS),
    ("t tonne tonnes metric_ton", 1000.0, MASS),
    ("lb lbs pound pounds", const.POUND, MASS),
    ("short_ton short_tons", const.SHORT_TON, MASS),
    ("long_ton long_tons", const.LONG_TON, MASS),
    ("short_hundredweight short_cwt", 100 * const.POUND, MASS),
    ("long_hundredweight long_cwt", 112 * const.POUND, MASS),
    ("s sec secs second seconds", 1.0, TIME),
    ("min mins minute minutes", 60.0, TIME),
    ("h hr hrs hour hours", const.HOUR, TIME),
    ("Hz", 1.0, FREQUENCY),
    ("rpm", 1 / 60, FREQUENCY),
    ("K kelvin", 1.0, TEMPERATURE),
    ("degC celsius °C", 1.0, TEMPERATURE),
    ("degF fahrenheit °F", 5 / 9, TEMPERATURE),
    ("mph", const.MPH, SPEED),
    ("kph kmh", const.KMH, SPEED),
    ("N newton newtons", 1.0, FORCE),
    ("kN", 1000.0, FORCE),
    ("lbf", const.POUND_FORCE, FORCE),
    ("kgf kp", const.GRAVITY, FORCE),
    ("short_tonf short_ton_force", const.SHORT_TON * const.GRAVITY, FORCE),
    ("long_tonf long_ton_force", const.LONG_TON * const.GRAVITY, FORCE),
    ("tonne_force", 1000 * const.GRAVITY, FORCE),
    ("Pa pascal", 1.0, PRESSURE),
    ("kPa", 1e3, PRESSURE),
    ("MPa", 1e6, PRESSURE),
    ("bar", 1e5, PRESSURE),
    ("psi", const.PSI, PRESSURE),
    ("atm", const.ATMOSPHERE, PRESSURE),
    ("inH2O", const.INCH * const.WATER_DENSITY * const.GRAVITY, PRESSURE),  # of water, for draft
    ("mmH2O", 0.001 * const.WATER_DENSITY * const.GRAVITY, PRESSURE),
    ("J joule joules", 1.0, ENERGY),
    ("kJ", 1e3, ENERGY),
    ("MJ", 1e6, ENERGY),
    ("GJ", 1e9, ENERGY),
    ("kWh", 3.6e6, ENERGY),
    ("Btu BTU btu", const.BTU, ENERGY),
    ("W watt watts", 1.0, POWER),
    ("kW", 1e3, POWER),
    ("MW", 1e6, POWER),
    ("hp horsepower", const.HORSEPOWER, POWER),
    ("metric_horsepower", const.METRIC_HORSEPOWER, POWER),
)

UNITS: dict[str, UnitDefinition] = {
    word: UnitDefinition(factor, dimension) for words, factor, dimension in _TABLE for word in words.split()
}

# Zero of each temperature scale in kelvin; applied only if the unit stands alone.
SCALE_ZEROS: dict[str, float] = {
    **dict.fromkeys(("degC", "celsius", "°C"), const.ZERO_CELSIUS),
    **dict.fromkeys(("degF", "fahrenheit", "°F"), const.ZERO_CELSIUS - 32 * 5 / 9),
}

_WHICH_TON = "which ton? write long_ton (2240 lb), short_ton (2000 lb) or tonne (1000 kg)"
_WHICH_CWT = "which hundredweight? write long_hundredweight (112 lb) or short_hundredweight (100 lb)"
_GAUGE = "the key says whether a pressure is gauge"

_AMBIGUOUS: tuple[tuple[str, str], ...] = (
    ("ton tons T", _WHICH_TON),
    (
        "tonf tonsf ton_force force_ton",
        "which ton? write long_tonf (2240 lbf), short_tonf (2000 lbf) or tonne_force",
    ),
    ("gallon gallons gal gals", "which gallon? write us_gallon (3.785 L) or imperial_gallon (4.546 L)"),
    ("gpm gph", "which gallon? write us_gallon/minute or imperial_gallon/minute, or by the hour"),
    ("cwt cwts hundredweight hundredweights quintal", _WHICH_CWT),
    ("PS ps CV cv", "for 75 kgf m/s write metric_horsepower"),
    (
        "ihp bhp dbhp whp HP Hp",
        "write hp (550 ft lbf/s) or metric_horsepower; the key says which power it is",
    ),
    ("psig psia", f"write psi; {_GAUGE}"),
    ("barg bara", f"write bar; {_GAUGE}"),
    ("sq sqft sqin sqm", "write ft^2, in^2 or m^2"),
    ("cu cuft cuin cbm cf", "write ft^3, in^3 or m^3"),
    ("cfm", "write ft^3/minute"),
    ("C", "write degC"),
    ("F", "write degF"),
    ("deg degree degrees °", "degrees are only for curves; for a temperature write degC or degF"),
    ("grade gradian gon", "write a grade as '1 in 80', '1.25 %', '12.5 permille' or '66 ft/mile'"),
    ("am pm", "write 24-hour time, as '10:35' or '22:35'"),
    (
        "pint pints quart quarts bushel bushels peck fluid_ounce",
        "it differs between countries; write L or ft^3",
    ),
    ("barrel barrels bbl", "barrels differ; for oil write 42 us_gallon for each"),
    ("kn Kn", "write kN"),
    ("cal kcal Cal", "calories differ; write kJ, with 4.1868 kJ for an International Table kilocalorie"),
)
AMBIGUOUS_UNITS: dict[str, str] = {word: remedy for words, remedy in _AMBIGUOUS for word in words.split()}

_SI_NAMES = frozenset(
    ("meter", "gram", "second", "hertz", "newton", "pascal", "joule", "watt", "liter", "bar")
)
_PINT_DIMENSIONS = ("[length]", "[mass]", "[time]", "[temperature]")


class UnknownUnit(UnitError):
    """A word that is not a unit.

    Attributes:
        word: The word.
    """

    def __init__(self, word: str, target: Dimension | None = None) -> None:
        self.word = word
        super().__init__(f"unit {word!r} is not known{_suggestion(word, target)}")


@lru_cache(maxsize=1)
def pint_registry() -> Any:
    """Pint's unit registry, created on first use; importing and filling it takes about 150 ms."""
    import pint

    try:
        return pint.UnitRegistry(cache_folder=":auto:")
    except OSError:  # the home directory cannot be written
        return pint.UnitRegistry()


@lru_cache(maxsize=512)
def find_unit(word: str) -> UnitDefinition:
    """The definition of a unit word.

    Args:
        word: A single name; never an expression.

    Raises:
        UnitError: If the word is not known or is ambiguous; the message says what to write.
    """
    known = UNITS.get(word)
    if known is not None:
        return known
    remedy = AMBIGUOUS_UNITS.get(word) or AMBIGUOUS_UNITS.get(word.lower())
    if remedy is not None:
        raise UnitError(f"unit {word!r} is not accepted: {remedy}")
    found = _find_unit_in_pint(word) if re.fullmatch(r"[A-Za-z][A-Za-z_]*[A-Za-z]|[A-Za-z]", word) else None
    if found is None:
        raise UnknownUnit(word)
    return found


def _find_unit_in_pint(word: str) -> UnitDefinition | None:
    """Look up a rare word in pint; prefixes only with SI units, so that `ch` is not a centihour."""
    units = pint_registry()
    for prefix, name, _ in units.parse_unit_name(word):
        if prefix and name not in _SI_NAMES:
            continue
        powers = dict(units.get_dimensionality(prefix + name))
        dimension = tuple(int(powers.pop(of, 0)) for of in _PINT_DIMENSIONS)
        one, two = (units.Quantity(number, prefix + name).to_base_units().magnitude for number in (1, 2))
        if not powers and two == 2 * one:  # neither electric nor on a logarithmic or shifted scale
            return UnitDefinition(float(one), dimension)  # type: ignore[arg-type] # four, as many as _PINT_DIMENSIONS
    return None


def _suggestion(word: str, target: Dimension | None) -> str:
    """Suggest a similar word of the table, preferably one of the expected kind."""
    same_kind = [known for known, definition in UNITS.items() if definition.dimension == target]
    for words in (same_kind, UNITS):
        by_lowercase = {known.lower(): known for known in words}
        if near := get_close_matches(word.lower(), by_lowercase, n=1, cutoff=0.65):
            return f"; did you mean {by_lowercase[near[0]]!r}?"
    return ""


def kind_of(dimension: Dimension) -> str:
    """Name of a kind of measure, for a message."""
    return KINDS[dimension][0] if dimension in KINDS else "a measure of another kind"


def unit_advice(dimension: Dimension, unit: str = "") -> str:
    """The expected kind of measure, with unit words for it.

    Args:
        dimension: Dimension of the measure.
        unit: Unit of the field, if known.
    """
    kind, words = KINDS_BY_UNIT.get(unit, (kind_of(dimension), example_units(dimension)))
    return f"{kind} is expected, such as {words}"


def example_units(dimension: Dimension) -> str:
    """Unit words for a kind of measure."""
    return KINDS[dimension][1] if dimension in KINDS else "SI units"
