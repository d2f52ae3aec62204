"""Inputs that are varied: a key with ranges and lists, `boiler.working_pressure_gauge=180:220:10 psi`."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from locosim.errors import LocosimError, suggestion
from locosim.frozen import frozen
from locosim.units import si

MAX_VALUES = 1000  # of one input
MAX_NUMBER_LENGTH = 30  # characters
HOUR = 3600.0  # [s]; times of day are drawn in hours

_NUMBER = r"[+-]?(?:\d+/\d+|(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?(?: \d+/\d+)?)"
_NUMBER_AND_UNIT = re.compile(rf"({_NUMBER})(?:\s*(\D.*))?")
_IN_WORDS = re.compile(r"(?P<first>.+?)\s+to\s+(?P<last>.+?)(?:\s+by\s+(?P<step>.+))?")
_EXAMPLE = '"boiler.working_pressure_gauge=180:220:10 psi", "train.vehicles[1].count=4:12" or rail=dry,wet'


class InputKind(NamedTuple):
    """What an input is.

    Attributes:
        kind: `measure`, `integer` or `text`.
        unit: SI unit, or a unit word of `locosim.model.declare`; empty for a ratio, a whole number or a text.
        options: Allowed texts; empty where any is allowed.
    """

    kind: Literal["measure", "integer", "text"]
    unit: str = ""
    options: tuple[str, ...] = ()


@frozen
class VariedInput:
    """An input with the values it takes.

    Attributes:
        path: Path of the key, as in a change.
        texts: Each value as in a change, with its unit.
        unit: Unit of the numbers; empty for ratios as fractions, whole numbers and texts.
        numbers: The values in that unit; None for texts such as rail conditions and files.
        values: The values in SI; whole numbers and texts as they are.
    """

    path: str
    texts: tuple[str, ...]
    unit: str
    numbers: tuple[float, ...] | None
    values: tuple[float | str, ...]

    @property
    def changes(self) -> tuple[str, ...]:
        """The values as changes, `key=value`."""
        return tuple(f"{self.path}={text}" for text in self.texts)


def read_varied_input(text: str, kind_of: Callable[[str], InputKind]) -> VariedInput:
    """Read an input with its ranges and lists.

    A list has commas: `rail=dry,wet,frost`. A range has its first and last value and its step:
    `boiler.grate_area=30:40:2 ft^2`; the unit at the end applies to what has none. Whole numbers need no step. Times
    of day, which have colons themselves, are written `departure=08:00 to 10:00 by 30 minute`, as any range may be.
    A list may have ranges in it.

    Args:
        text: The input.
        kind_of: What a key is, by its path.

    Raises:
        LocosimError: Not such an input; the message names it, and says what was found and what to write.
    """
    path, equals, values = (part.strip() for part in text.replace("\N{MINUS SIGN}", "-").partition("="))
    if not equals or not path:
        raise LocosimError(f"input {text!r}: write key=values, for example {_EXAMPLE}")
    if not values.strip("\"' "):
        raise LocosimError(f"input {text!r}: has no values after =")
    try:
        return _read(path, values.strip("\"'"), kind_of(path))
    except LocosimError as wrong:
        raise LocosimError(f"input {text!r}: {wrong}") from None


def _read(path: str, values: str, kind: InputKind) -> VariedInput:
    parts = [part.strip() for part in values.split(",")]
    if "" in parts:
        raise LocosimError("has nothing between two commas, or at the end; separate values by one comma")
    if kind.kind == "text":
        _check_options(path, parts, kind.options)
        return VariedInput(path=path, texts=_each_once(parts), unit="", numbers=None, values=tuple(parts))
    unit = _unit_at_end(parts[-1], kind)
    texts = _each_once([text for part in parts for text in _texts_of(part, unit, path, kind)])
    if kind.kind == "integer":
        numbers = tuple(float(text) for text in texts)
        return VariedInput(path=path, texts=texts, unit="", numbers=numbers, values=tuple(map(int, texts)))
    found = tuple(si(text, kind.unit) for text in texts)
    shown_unit, numbers = _as_numbers(texts, found, kind.unit)
    return VariedInput(path=path, texts=texts, unit=shown_unit, numbers=numbers, values=found)


def _check_options(path: str, texts: list[str], options: tuple[str, ...]) -> None:
    for text in texts:
        if options and text not in options:
            raise LocosimError(f"found {text!r} for {path}; {suggestion(text, options)}")


def _each_once(texts: list[str]) -> tuple[str, ...]:
    """The texts, checked for number and repetition."""
    if len(texts) > MAX_VALUES:
        raise LocosimError(f"has {len(texts)} values, at most {MAX_VALUES} are allowed; write a larger step")
    for text in texts:
        if texts.count(text) > 1:
            raise LocosimError(f"has {text!r} twice; write each value once")
    return tuple(texts)


def _unit_at_end(part: str, kind: InputKind) -> str:
    """The unit that ends the values, and applies to those without one."""
    if kind.unit == "clock" or kind.kind == "integer":
        return ""
    last = _bounds(part, kind)[-1]
    found = _NUMBER_AND_UNIT.fullmatch(last)
    unit = found[2].strip() if found and found[2] else ""
    return "" if _is_one_in(unit, kind) else unit


def _is_one_in(unit: str, kind: InputKind) -> bool:
    """Whether what follows a number makes it a grade such as 1 in 80."""
    return kind.unit == "grade" and bool(re.match(r"in\b", unit))


def _bounds(part: str, kind: InputKind) -> list[str]:
    """First, last and step of a range; the one value of what is no range."""
    words = _IN_WORDS.fullmatch(part)
    if words:
        return [bound.strip() for bound in words.groups() if bound]
    return [part] if kind.unit == "clock" else [bound.strip() for bound in part.split(":")]


def _texts_of(part: str, unit: str, path: str, kind: InputKind) -> list[str]:
    """Values of a part of a list: itself, or those of a range."""
    bounds = _bounds(part, kind)
    if kind.unit == "clock" and part.count(":") > 2 and len(bounds) == 1:
        raise LocosimError(f"found {part!r}; write a range of times as {_range_example(path, kind)}")
    if len(bounds) == 1:
        return [_with_unit(part, unit, path, kind)]
    if "" in bounds or len(bounds) > 3:
        raise LocosimError(
            f"found {part!r}; a range is its first and last value and its step, such as {_range_example(path, kind)}"
        )
    if len(bounds) == 2:
        if kind.kind != "integer":
            step = f"{bounds[0]}:{bounds[1].removesuffix(unit).strip()}:STEP {unit or 'UNIT'}"
            example = _range_example(path, kind) if kind.unit == "clock" else f'"{path}={step}"'
            raise LocosimError(f"the range {part!r} has no step; write {example}")
        bounds.append("1")
    return _clock_range(*bounds) if kind.unit == "clock" else _number_range(part, bounds, unit, path, kind)


def _range_example(path: str, kind: InputKind) -> str:
    if kind.unit == "clock":
        return f'"{path}=08:00 to 10:00 by 30 minute"'
    return f"{path}=4:12:2" if kind.kind == "integer" else f'"{path}=FIRST:LAST:STEP UNIT"'


def _with_unit(text: str, unit: str, path: str, kind: InputKind) -> str:
    """A value with the unit of the end, where it has none."""
    found = _NUMBER_AND_UNIT.fullmatch(text)
    if kind.kind == "integer":
        if not re.fullmatch(r"-?\d{1,9}", text):
            raise LocosimError(
                f"{path} is a whole number, found {text!r}; write {_range_example(path, kind)}"
            )
        return str(int(text))
    if found and not found[2] and unit:
        return f"{text} {unit}"
    return text


def _number_range(part: str, bounds: list[str], unit: str, path: str, kind: InputKind) -> list[str]:
    """Values of a range of numbers in one unit."""
    split = [_NUMBER_AND_UNIT.fullmatch(bound) for bound in bounds]
    for bound, found in zip(bounds, split, strict=True):
        if found is None or (found[2] and found[2].strip() != unit):
            raise LocosimError(
                f"the range {part!r} has {bound!r}, where a number is expected; write all of a range in one unit, "
                f"such as {_range_example(path, kind)}"
            )
    first, last, step = (_fraction(found[1]) for found in split if found)
    if kind.kind == "integer" and not all(each.denominator == 1 for each in (first, last, step)):
        raise LocosimError(f"{path} is a whole number, found {part!r}; write {_range_example(path, kind)}")
    steps = _steps(part, first, last, step)
    written = _mixed_number_text if any("/" in bound for bound in bounds) else _decimal_text
    return [f"{written(first + i * steps.step)} {unit}".strip() for i in range(steps.values)]


class _Steps(NamedTuple):
    """Signed step of a range, and the count of its values."""

    step: Fraction
    values: int


def _steps(part: str, first: Fraction, last: Fraction, step: Fraction) -> _Steps:
    """Signed step and count; a range that falls may be written with a rising step."""
    if step == 0:
        raise LocosimError(f"the range {part!r} has a step of 0; write a step above 0")
    if step < 0 and last > first:
        raise LocosimError(f"the range {part!r} rises with a step below 0; write the step without a sign")
    signed = abs(step) if last >= first else -abs(step)
    count = int((last - first) / signed) + 1
    if count > MAX_VALUES:
        raise LocosimError(
            f"the range {part!r} has {count} values, at most {MAX_VALUES} are allowed; widen the step"
        )
    return _Steps(signed, count)


def _fraction(text: str) -> Fraction:
    """A number such as `1.25`, `3/8` or `1 3/8`, exactly."""
    sign = -1 if text.startswith("-") else 1
    if len(text) > MAX_NUMBER_LENGTH or re.search(r"[eE][+-]?\d{3}", text):
        raise LocosimError(f"{text[:MAX_NUMBER_LENGTH]!r} has too many digits")
    try:
        return sign * sum((Fraction(piece) for piece in text.lstrip("+-").split()), Fraction(0))
    except (ValueError, ZeroDivisionError):
        raise LocosimError(f"{text!r} is not a number") from None


def _mixed_number_text(number: Fraction) -> str:
    """A number with a fraction of an inch, such as `1 3/8`."""
    if number.denominator == 1:
        return str(number.numerator)
    whole, rest = divmod(abs(number), 1)
    sign = "-" if number < 0 else ""
    return f"{sign}{f'{whole} ' if whole else ''}{rest.numerator}/{rest.denominator}"


def _decimal_text(number: Fraction) -> str:
    return f"{(Decimal(number.numerator) / Decimal(number.denominator)).normalize():f}"


def _clock_range(first: str, last: str, step: str) -> list[str]:
    """Times of day from one to another."""
    start, end, by = round(si(first, "clock")), round(si(last, "clock")), round(si(step, "s"))
    steps = _steps(f"{first} to {last} by {step}", Fraction(start), Fraction(end), Fraction(by))
    return [_clock_text(start + i * int(steps.step)) for i in range(steps.values)]


def _clock_text(seconds: int) -> str:
    text = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}"
    return f"{text}:{seconds % 60:02d}" if seconds % 60 else text


def _as_numbers(
    texts: tuple[str, ...], values: tuple[float, ...], unit: str
) -> tuple[str, tuple[float, ...]]:
    """A unit for all values, and the values in it: that of the user where all have the same, else SI.

    Grades written as 1 in n are in percent, and times of day in hours.
    """
    if unit == "clock":
        return "h", tuple(value / HOUR for value in values)
    found = [_NUMBER_AND_UNIT.fullmatch(text) for text in texts]
    units = {each[2].strip() if each and each[2] else "" for each in found}
    if len(units) == 1 and all(found) and not (unit == "grade" and re.match(r"in\b", next(iter(units)))):
        return units.pop(), tuple(float(_fraction(each[1])) for each in found if each)
    if unit == "grade":
        return "%", tuple(100.0 * value for value in values)
    return {"curve": "m"}.get(unit, unit), values
