"""Every published value of this folder against the function it names.

A TOML file holds one table or one worked example, as printed, in the units printed:

    function  = "locosim.physics.operation.superelevation:curve_speed"
    reference = "CFR213"                 # a key of docs/references.md
    where     = "appendix A, table 1"
    status    = "read"                   # or "from memory", or "derived" when the source gives only the rule
    within    = 0.5                      # in the printed unit
    because   = "the table prints whole miles per hour"
    take      = "greatest"               # optional: field of the result that is printed
    given     = { unbalanced_superelevation = "3 in" }   # optional: arguments that all values share

    [[value]]
    given   = { degree_of_curve = "4 deg", elevation = "1 in" }
    printed = "38 mph"

A value may have its own `within` with its own `because`, and a `note`. Instead of values a file may name a
CSV table, the columns that feed the arguments, and rows known to be slips of the source:

    table   = "curve_speed.csv"
    columns = { degree_of_curve = ["degree", "deg"], printed = ["vmax_mph", "mph"] }
    [[slip]]
    row     = { degree = 3 }
    within  = 2
    because = "a figure is misprinted"

A text that begins with a number is a quantity, `module:name` is that object, any other text is passed on.
"""

from __future__ import annotations

import csv
import math
import re
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from locosim.errors import UnitError
from locosim.units import convert, si

HERE = Path(__file__).parent
STATUS = ("read", "from memory", "derived")
FILE_KEYS = {"function", "reference", "where", "status", "within", "because", "take", "given", "note"}
FILE_KEYS |= {"value", "table", "columns", "slip"}
VALUE_KEYS = {"given", "printed", "within", "because", "note", "take"}
WIDEST = 0.3  # of the printed value: a wider tolerance would check nothing
SI_UNITS = ("", "m", "m^2", "m^3", "kg", "s", "Hz", "K", "m/s", "m/s^2", "N", "Pa", "J", "W", "J/kg", "m^3/s")
SI_UNITS += ("kg/s", "kg/m^3", "m^3/kg", "kg/J", "kg/(m^2*s)", "J/(kg*K)", "m^-1")
QUANTITY = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)")


class Case(NamedTuple):
    """One published value, ready to check."""

    source: str
    function: str
    given: dict[str, Any]
    printed: Any
    within: float
    because: str
    take: str | int | None


def read_files() -> Iterator[tuple[Path, dict[str, Any]]]:
    for path in sorted(HERE.glob("*.toml")):
        yield path, tomllib.loads(path.read_text(encoding="utf-8"))


def entries(path: Path, data: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The values of a file, whether written out or in a table."""
    yield from data.get("value", [])
    if "table" not in data:
        return
    lines = (HERE / data["table"]).read_text(encoding="utf-8").splitlines()
    for row in csv.DictReader(line for line in lines if not line.startswith("#")):
        cells = {name: f"{row[column]} {unit}".strip() for name, (column, unit) in data["columns"].items()}
        value = {"printed": cells.pop("printed"), "given": cells}
        for slip in data.get("slip", []):
            if all(float(row[column]) == number for column, number in slip["row"].items()):
                value |= {"within": slip["within"], "because": slip["because"]}
        yield value


def cases() -> Iterator[Any]:
    for path, data in read_files():
        source = f"[{data['reference']}] {data['where']} ({data.get('status', 'read')})"
        for number, value in enumerate(entries(path, data), start=1):
            given = data.get("given", {}) | value.get("given", {})
            case = Case(
                source=source,
                function=data["function"],
                given=given,
                printed=value["printed"],
                within=value.get("within", data.get("within")),
                because=value.get("because", data.get("because")),
                take=value.get("take", data.get("take")),
            )
            own = value.get("given", {})
            about = ",".join(f"{name}={str(item).split(':')[-1]}" for name, item in own.items())
            yield pytest.param(case, id=f"{path.stem}-{number}-{about}"[:110].replace(" ", "_"))


def named(text: str) -> Any:
    module, _, name = text.partition(":")
    return getattr(import_module(module), name)


@lru_cache
def base_unit(unit: str) -> str:
    """The SI unit of the same kind."""
    for candidate in SI_UNITS:
        try:
            convert(1.0, unit, candidate)
        except UnitError:
            continue
        return candidate
    raise UnitError(f"the runner knows no SI unit for {unit!r}; add it to SI_UNITS")


def to_si(item: Any) -> Any:
    """An argument as the physics wants it."""
    if isinstance(item, list):
        return [to_si(part) for part in item]
    if not isinstance(item, str):
        return item
    found = QUANTITY.fullmatch(item)
    if found is None:
        return named(item) if ":" in item else item
    number, unit = float(found[1]), found[2]
    if unit == "deg":
        return math.radians(number)
    if re.match(r"in \d", unit):
        return si(item, "grade")
    first_unit = re.split(r"\s+(?=[\d.])", unit)[0]
    return si(item, base_unit(first_unit)) if unit else number


def printed_number(printed: Any) -> tuple[float, str]:
    """A printed value as its number and its unit."""
    found = QUANTITY.fullmatch(str(printed))
    assert found, f"printed = {printed!r} must begin with a number"
    return float(found[1]), found[2]


def in_unit(value: float, unit: str) -> float:
    """A result of the physics in the unit printed."""
    if unit == "deg":
        return math.degrees(value)
    return convert(float(value), base_unit(unit), unit) if unit else float(value)


each_file = pytest.mark.parametrize(
    ("path", "data"), [pytest.param(*item, id=item[0].name) for item in read_files()]
)


@pytest.mark.parametrize("case", list(cases()))
def test_published_value(case: Case) -> None:
    result = named(case.function)(**{name: to_si(item) for name, item in case.given.items()})
    if case.take is not None:
        result = getattr(result, case.take) if isinstance(case.take, str) else result[case.take]
    printed, unit = printed_number(case.printed)
    computed = in_unit(result, unit)
    assert abs(computed - printed) <= case.within, (
        f"{case.source}: printed {case.printed}, computed {computed:.6g} {unit}; "
        f"allowed {case.within:g} because {case.because}"
    )


@each_file
def test_file_is_honest(path: Path, data: dict[str, Any]) -> None:
    """Every tolerance has its reason and is narrow enough to fail; no key is misspelled."""
    assert set(data) <= FILE_KEYS, f"unknown keys {set(data) - FILE_KEYS}"
    assert ("value" in data) != ("table" in data), "a file has either values or a table"
    assert data["reference"], "a file names its reference"
    assert data["where"], "a file says where in its reference"
    assert data.get("status", "read") in STATUS
    assert callable(named(data["function"]))
    assert data.get("because", "").strip() or "within" not in data, "a tolerance needs its reason"
    for value in entries(path, data):
        assert set(value) <= VALUE_KEYS, f"unknown keys {set(value) - VALUE_KEYS}"
        assert ("within" in value) == ("because" in value), "a tolerance of its own has a reason of its own"
        within = value.get("within", data.get("within"))
        assert within is not None, "every value has a tolerance"
        number, _ = printed_number(value["printed"])
        assert within <= WIDEST * abs(number) or number == 0, f"{within} is too wide for {value['printed']}"


@each_file
def test_slips_are_found(path: Path, data: dict[str, Any]) -> None:
    """A slip names a row that is there and has a reason."""
    found = [value for value in entries(path, data) if "table" in data and "within" in value]
    assert len(found) == len(data.get("slip", []))
    assert all(slip["because"].strip() for slip in data.get("slip", []))


def test_a_wrong_value_is_noticed() -> None:
    """The runner itself: a value off by more than the tolerance fails, and the message names the source."""
    case = Case(
        "[CFR213] appendix A",
        "locosim.physics.operation.superelevation:curve_speed",
        {},
        "39 mph",
        0.5,
        "of rounding",
        None,
    )
    case = case._replace(
        given={"degree_of_curve": "4 deg", "elevation": "1 in", "unbalanced_superelevation": "3 in"}
    )
    with pytest.raises(AssertionError, match=r"\[CFR213\] appendix A: printed 39 mph, computed 37\.7964 mph"):
        test_published_value(case)
