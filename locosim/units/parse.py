"""Text to SI: quantities, grades, curves and times of day in the notation of the trade.

User text is never evaluated: numbers are read by `float`, unit words are looked up in
`locosim.units.vocabulary`, and only `/`, `*`, `^` and parentheses may join them.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from itertools import pairwise

from locosim.constants import FOOT, WATER_DENSITY
from locosim.errors import UnitError
from locosim.units.vocabulary import (
    DIMENSIONLESS,
    MASS_RATE,
    SCALE_ZEROS,
    VOLUME_RATE,
    Dimension,
    UnitDefinition,
    UnknownUnit,
    find_unit,
    kind_of,
    unit_advice,
)

MAX_TEXT_LENGTH = 120  # no quantity is longer
_NUMBER = re.compile(r"\d+/\d+(?![\w./])|(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_TOKEN = re.compile(r"[^\W\d][\w°]*|[%‰°][A-Za-z]?|\^-?\d+|[/*()]")
_MAX_POWER = 4
# Units in the words of an answer, as this program shows them, and as they are read.
_SHOWN_UNITS = (
    (re.compile(r"\b(short|long) (tons?)\b"), r"\1_\2"),
    (re.compile(r"\bUS gal(lons?)?\b"), "us_gallon"),
    (re.compile(r"\bimp(erial)? gal(lons?)?\b"), "imperial_gallon"),
    (re.compile(r"\bin water\b"), "inH2O"),
    (re.compile(r"/(hp|ft\^2|m\^2) h\b"), r"/(\1*h)"),
    (re.compile(r"\bhp h\b"), "hp*h"),
)
# Units of the unit words of locosim.model.declare.
_BASE_UNITS = {"grade": "", "curve": "m", "clock": "s"}

Pair = tuple[float, str]


def si(text: str, unit: str) -> float:
    """Read a text as a number in SI.

    Args:
        text: What the user wrote, such as `6 ft 3 in`, `1 in 80` or `10:35`.
        unit: SI unit of the result, or a unit word of locosim.model.declare: `""`, `grade`, `curve`, `clock`.

    Returns:
        The value in that unit; for `grade` rise over run [1], for `curve` radius [m], for `clock` time after
        midnight [s].

    Raises:
        UnitError: If the text is not such a quantity; the message says what was found and what to write.
    """
    cleaned = _checked_text(text)
    special = {"grade": _grade, "curve": _curve, "clock": _clock, "": _ratio}.get(unit)
    return special(cleaned) if special else _quantity(cleaned, unit)


def convert(number: float, from_unit: str, to_unit: str) -> float:
    """Convert a number from one unit to another.

    Args:
        number: The number, in `from_unit`.
        from_unit: A unit in the notation of a text, or a unit word of locosim.model.declare; for a grade also
            `1 in n`, for a curve also `deg`.
        to_unit: SI unit, a unit word of locosim.model.declare, or any other unit of the same kind.

    Returns:
        The number in `to_unit`.

    Raises:
        UnitError: If a unit is not known or the two are of different kinds.
    """
    if not math.isfinite(number):
        raise UnitError(f"found {number}, but a number must be finite")
    unit_text = _normalized(from_unit)
    if to_unit == "grade" and re.fullmatch(r"1 in( n)?", unit_text):
        return _one_in(number, from_unit)
    if to_unit == "curve" and _is_degree(unit_text):
        return _radius_of_degree(number, f"{number:g} deg")
    unit_text, target = _BASE_UNITS.get(unit_text, unit_text), _BASE_UNITS.get(to_unit, to_unit)
    shown = f"{number:g} {from_unit}"
    value = _to_si(number, unit_text, _unit(target).dimension, shown)
    return (value - SCALE_ZEROS.get(target, 0.0)) / _unit(target).factor


def _checked_text(text: str) -> str:
    """A text in the form the readers expect; text that cannot be a quantity is refused."""
    if len(text) > MAX_TEXT_LENGTH:
        raise UnitError(f"found a text of {len(text)} characters, but a quantity is a number and its unit")
    if not text.strip():
        raise UnitError("the text is empty; write a number and its unit, for example '6 ft 3 in'")
    if re.search(r"\d,\d", text):
        raise UnitError(f"{text!r} has a comma in a number; write a decimal point and no thousands separator")
    if re.search(r"\d\s*['\"′″’”]", text):
        raise UnitError(f"{text!r} has a foot or inch mark; write ft and in, for example '6 ft 3 in'")
    return _normalized(text)


def _normalized(text: str) -> str:
    """A text with one sign for each way to join units, no blanks around it, and no unit of two words."""
    text = text.replace("−", "-").replace("²", "^2").replace("³", "^3").replace("·", "*")
    text = re.sub(r"\bper\b", "/", text.strip())
    text = re.sub(r"\s*([/^*()])\s*", r"\1", text)
    text = re.sub(r"^([+-])\s+", r"\1", text)
    text = re.sub(r"\s+", " ", text)
    if " " in text:
        for shown, read in _SHOWN_UNITS:
            text = shown.sub(read, text)
    return text


def _quantity(text: str, unit: str) -> float:
    """Read a sum of numbers with units."""
    try:
        return _sum(text, unit)
    except UnknownUnit as unknown:
        raise UnknownUnit(unknown.word, _unit(unit).dimension) from None


def _sum(text: str, unit: str) -> float:
    """Read a sum of numbers with units; a sign in front applies to the whole sum."""
    target, expected = _unit(unit), unit_advice(_unit(unit).dimension, unit)
    sign = -1.0 if text.startswith("-") else 1.0
    pairs = _pairs(text[1:] if text[0] in "+-" else text, text, expected)
    if len(pairs) == 1:
        number, unit_text = pairs[0]
        value = _to_si(sign * number, unit_text, target.dimension, text, expected)
        return (value - SCALE_ZEROS.get(unit, 0.0)) / target.factor
    _check_descending_units([unit_text for _, unit_text in pairs], text)
    parts = [_to_si(number, unit_text, target.dimension, text, expected) for number, unit_text in pairs]
    return sign * sum(parts) / target.factor


def _pairs(body: str, text: str, expected: str) -> list[Pair]:
    """Split a text into numbers with their units."""
    pairs: list[Pair] = []
    number: float | None = None
    for token in body.split(" "):
        found = _NUMBER.match(token)
        if found:
            number = _with_fraction(number, found.group(), text)
            token = token[found.end() :]
            if not token:
                continue
        elif number is None:
            raise UnitError(f"{text!r} has {token!r} where a number is expected; {expected}")
        pairs.append((number, token))
        number = None
    if number is not None:
        raise UnitError(f"{text!r} has a number without a unit; {expected}")
    return pairs


def _with_fraction(before: float | None, number_text: str, text: str) -> float:
    """Read a number, adding a common fraction to the whole number before it."""
    if "/" in number_text:
        numerator, denominator = (float(part) for part in number_text.split("/"))
        if denominator == 0 or (before is not None and before != int(before)):
            raise UnitError(f"{text!r} has the fraction {number_text}, which cannot be read")
        return (before or 0.0) + numerator / denominator
    if before is not None:
        raise UnitError(f"{text!r} has two numbers in a row; write each with its unit, as '6 ft 3 in'")
    number = float(number_text)
    if not math.isfinite(number):
        raise UnitError(f"{text!r} has a number that is too large")
    return number


def _check_descending_units(units: list[str], text: str) -> None:
    """Refuse a sum whose units do not run from large to small: it is a slip of the pen."""
    factors = [_unit(unit).factor for unit in units]
    if any(unit in SCALE_ZEROS for unit in units):
        raise UnitError(f"{text!r} adds temperatures; write one number and degC, degF or K")
    if any(later >= former for former, later in pairwise(factors)):
        raise UnitError(f"{text!r} must run from the larger unit to the smaller, as '12 mile 43 chain'")


def _to_si(number: float, unit_text: str, target: Dimension, text: str, expected: str = "") -> float:
    """Convert a number with its unit to SI, if it is of the expected kind."""
    unit = _unit(unit_text)
    if unit.dimension == target:
        return number * unit.factor + SCALE_ZEROS.get(unit_text, 0.0)
    if target == MASS_RATE and unit.dimension == VOLUME_RATE:
        return number * unit.factor * WATER_DENSITY
    raise UnitError(
        f"{text!r} is {kind_of(unit.dimension)}; {expected or unit_advice(target)}{_force_hint(unit, target)}"
    )


def _force_hint(unit: UnitDefinition, target: Dimension) -> str:
    """Advice where a pound or kilogram of mass is written for a force, or the reverse."""
    off = tuple(a - b for a, b in zip(target, unit.dimension, strict=True))
    if not unit.dimension[1]:
        return ""  # no mass in the unit
    if off == (1, 0, -2, 0):
        return "; lb and kg are masses, for a force write lbf or kgf"
    return "; lbf and kgf are forces, for a mass write lb or kg" if off == (-1, 0, 2, 0) else ""


@lru_cache(maxsize=512)
def _unit(unit_text: str) -> UnitDefinition:
    """Read unit words joined by `/`, `*`, `^` and parentheses."""
    unit_text = _normalized(unit_text)
    tokens = _TOKEN.findall(unit_text)
    if "".join(tokens) != unit_text or not (tokens or unit_text == ""):
        raise UnitError(f"{unit_text!r} is not a unit; join words by / or *, with whole powers as ft^2")
    if not tokens:
        return UnitDefinition(1.0, DIMENSIONLESS)
    result = _product(tokens, unit_text)
    if tokens:
        raise UnitError(f"{unit_text!r} is not a unit; join words by / or *, with whole powers as ft^2")
    return result


def _product(tokens: list[str], unit_text: str) -> UnitDefinition:
    """Read factors from the list of tokens while `/` or `*` joins them."""
    result = _power(tokens, unit_text)
    while tokens and tokens[0] in ("/", "*"):
        sign = 1 if tokens.pop(0) == "*" else -1
        result = _multiply(result, _power(tokens, unit_text), sign)
    return result


def _power(tokens: list[str], unit_text: str) -> UnitDefinition:
    """Read one word or parenthesis from the list of tokens, with its power."""
    token = tokens.pop(0) if tokens else ""
    if token == "(":
        base = _product(tokens, unit_text)
        token = tokens.pop(0) if tokens else ""
        if token != ")":
            raise UnitError(f"{unit_text!r} has a parenthesis that is not closed")
    elif token == "" or token[0] in "/*()^":
        raise UnitError(f"{unit_text!r} lacks a unit word{f' before {token!r}' if token else ' at its end'}")
    else:
        base = find_unit(token)
    if not (tokens and tokens[0].startswith("^")):
        return base
    digits = tokens.pop(0)[1:]
    power = int(digits) if len(digits) < 4 else 999
    if not 0 < abs(power) <= _MAX_POWER:
        raise UnitError(f"{unit_text!r} has the power {digits}; no unit needs more than {_MAX_POWER}")
    return _multiply(UnitDefinition(1.0, DIMENSIONLESS), base, power)


def _multiply(left: UnitDefinition, right: UnitDefinition, power: int) -> UnitDefinition:
    """Multiply one unit by a power of another."""
    a, b = left.dimension, right.dimension
    dimension = (a[0] + power * b[0], a[1] + power * b[1], a[2] + power * b[2], a[3] + power * b[3])
    return UnitDefinition(left.factor * right.factor**power, dimension)


def _ratio(text: str) -> float:
    """Read a number without unit, a percentage, or a ratio of units of one kind."""
    try:
        number = float(text)
    except ValueError:
        return _quantity(text, "")
    if not math.isfinite(number):
        raise UnitError(f"found {text!r}, but a number must be finite")
    return number


_GRADE_DIRECTION = re.compile(r"(?:(up|rising|down|falling) )?(.+?)(?: (up|rising|down|falling))?")


def _grade(text: str) -> float:
    """Read a grade; positive if rising."""
    if text.lower() == "level":
        return 0.0
    found = _GRADE_DIRECTION.fullmatch(text)
    if found is None or (found[1] and found[3]):
        raise UnitError(f"{text!r} is not a grade; {_GRADE_EXAMPLES}")
    direction, body = found[1] or found[3], found[2]
    if direction and body[0] in "+-":
        raise UnitError(f"{text!r} has both a sign and the word {direction!r}; write one of them")
    size = _grade_magnitude(body, text)
    return -size if direction in ("down", "falling") else size


_GRADE_EXAMPLES = (
    "write for example '1 in 80', 'down 1 in 80', '1.25 %', '12.5 permille', '66 ft/mile' or 'level'"
)


def _grade_magnitude(body: str, text: str) -> float:
    """Read a grade without a word for its direction."""
    one_in = re.fullmatch(r"([+-]?)1(?: in |:| : )(\d+\.?\d*)", body)
    if one_in:
        return _one_in(float(one_in[1] + one_in[2]), text)
    try:
        return _quantity(body, "")
    except UnitError as error:
        raise UnitError(f"{text!r} is not a grade; {_GRADE_EXAMPLES} ({error})") from None


def _one_in(run: float, text: str) -> float:
    """The grade that rises one unit in a run."""
    if run == 0:
        raise UnitError(f"{text!r} has a run of 0; write 'level' for a line that neither rises nor falls")
    return 1 / run


_DEGREES = re.compile(r"(\d+\.?\d*) ?(?:deg|degrees?|°)(?: ?(\d+\.?\d*) ?(?:min|mins|minutes?|arcminutes?))?")


def _is_degree(unit: str) -> bool:
    """Whether a unit is the degree of curve."""
    return unit in ("deg", "degree", "degrees", "°")


def _curve(text: str) -> float:
    """Read a radius, or a degree of curve for a 100 ft chord."""
    found = _DEGREES.fullmatch(text)
    if found:
        return _radius_of_degree(float(found[1]) + float(found[2] or 0) / 60, text)
    try:
        return _quantity(text, "m")
    except UnitError as error:
        raise UnitError(f"{error}; or a degree of curve for a 100 ft chord, as '4 deg'") from None


def _radius_of_degree(degree: float, text: str) -> float:
    """Radius of a curve from its degree, the central angle of a 100 ft chord."""
    if not 0 < degree <= 180:
        raise UnitError(f"{text!r} is not a curve; a degree of curve is above 0 and at most 180")
    return 50 * FOOT / math.sin(math.radians(degree) / 2)


def _clock(text: str) -> float:
    """Read a time of day; hours from 24 to 47 are on the next day."""
    found = re.fullmatch(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", text)
    if found is None:
        raise UnitError(f"{text!r} is not a time of day; write 24-hour time, as '10:35' or '10:35:30'")
    hours, minutes, seconds = int(found[1]), int(found[2]), int(found[3] or 0)
    if hours > 47 or minutes > 59 or seconds > 59:
        raise UnitError(
            f"{text!r} is not a time of day; hours run to 47 (24 and more on the next day), minutes to 59"
        )
    return 3600.0 * hours + 60.0 * minutes + seconds
