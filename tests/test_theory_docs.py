"""The theory pages say what the code does: constants, formulae, names and keys on them are held against it.

A table with the columns `value`, `unit` and `in code` is checked row by row. A cell `in code` names the thing,
`model.assumptions.Assumptions.air_lag` or
`physics.traction.rail_conditions.ADHESION_BY_RAIL_CONDITION[wet].coefficient`, or quotes a line, as
`planning/rules/running.py`: `length < 500.0`, whose one number is then the value. Tables of laws are evaluated as
they are printed and compared with the law. Links and sessions are in test_docs.
"""

from __future__ import annotations

import dataclasses
import importlib.util
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pint
import pytest
from test_docs import LINK
from test_references import KEY, listed

from locosim.constants import FOOT, GRAVITY, KMH, LONG_TON, MPH, POUND_FORCE, SHORT_TON
from locosim.model import Criteria
from locosim.physics.operation.superelevation import degree_of_curve
from locosim.physics.resistance.grade_and_curve import CURVE_LAWS
from locosim.physics.resistance.laws import LAWS, at_speed

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
PAGES = sorted((DOCS / "theory").glob("*.md"))
ROOMS = ("constants", "physics", "model", "engine", "journey", "survey", "planning", "studies")
NAME = re.compile(rf"`((?:{'|'.join(ROOMS)})(?:\.\w+)+(?:\[[^\]]+\])*(?:\.\w+)*)`")
QUOTE = re.compile(r"`((?:\w+/)+\w+\.py)`: `([^`]+)`")
NUMBER = re.compile(r"(?<![\w.])\d+\.?\d*(?:[eE][+-]?\d+)?(?!\w)")
IMAGE = re.compile(r"!\[[^\]]*\]\(([^)]+)\)")

each_page = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)


def text_of(page: Path) -> str:
    return page.read_text(encoding="utf-8")


def tables(page: Path) -> Iterator[list[dict[str, str]]]:
    """Tables of a page, each row as column heading to cell."""
    for block in re.findall(r"(?:^\|.*\|\n)+", text_of(page) + "\n", re.MULTILINE):
        lines = [[cell.strip() for cell in line.strip("|").split("|")] for line in block.splitlines()]
        yield [dict(zip(lines[0], row, strict=True)) for row in lines[2:]]


def rows(*columns: str) -> list[tuple[Path, dict[str, str]]]:
    """Rows of all pages whose table has these columns."""
    return [
        (page, row)
        for page in PAGES
        for table in tables(page)
        for row in table
        if all(column in row for column in columns)
    ]


def law_of(found: tuple[Path, dict[str, str]]) -> str:
    return found[1]["law"].strip("`")


def label(found: tuple[Path, dict[str, str]]) -> str:
    page, row = found
    return f"{page.stem}-{row.get('in code', row.get('law', ''))}".replace("`", "")


def _is_module(parts: list[str]) -> bool:
    try:
        return importlib.util.find_spec(".".join(["locosim", *parts])) is not None
    except ModuleNotFoundError:  # a part before the last is no package
        return False


def resolved(name: str) -> Any:
    """What a dotted name stands for, below the package; a field of a class stands for its default."""
    parts = re.findall(r"\w+|\[[^\]]+\]", name)
    at = max(k for k in range(1, len(parts) + 1) if _is_module(parts[:k]))
    thing: Any = importlib.import_module(".".join(["locosim", *parts[:at]]))
    for part in parts[at:]:
        if part.startswith("["):
            key = part[1:-1]
            thing = thing[int(key) if key.isdigit() else key]
        elif isinstance(thing, type) and dataclasses.is_dataclass(thing):
            field = {f.name: f for f in dataclasses.fields(thing)}.get(part)
            thing = getattr(thing, part) if field is None else field.default
        else:
            thing = getattr(thing, part)
    return thing


def in_code(name: str) -> bool:
    try:
        resolved(name)
    except (AttributeError, LookupError):
        return False
    return True


UNITS = pint.UnitRegistry()


def in_si(number: str, unit: str) -> tuple[float, float]:
    """A printed number in SI, and what half of its last digit is worth."""
    plain = number.replace(",", "").replace("−", "-").replace(" × 10^", "e")
    mantissa, _, power = plain.partition("e")
    grain = 0.5 * 10.0 ** (int(power or 0) - len(mantissa.partition(".")[2]))
    if unit == "%":
        worth = 0.01
    else:
        written = unit.replace("²", "**2").replace("³", "**3").replace("·", "*").replace(" ", "_")
        worth = UNITS.Quantity(1.0, written.replace("rev", "revolution") or "").to_base_units().magnitude
        worth /= 2 * math.pi if "rev" in unit else 1.0
    return float(plain) * worth, grain * worth


CONSTANTS = rows("value", "unit", "in code")


@pytest.mark.parametrize("found", CONSTANTS, ids=label)
def test_constants_are_those_of_the_code(found: tuple[Path, dict[str, str]]) -> None:
    row = found[1]
    shown, grain = in_si(row["value"], row["unit"])
    quoted = QUOTE.fullmatch(row["in code"])
    if quoted is not None:
        text = (ROOT / "locosim" / quoted[1]).read_text(encoding="utf-8")
        assert quoted[2] in text, f"{quoted[1]} has no line with {quoted[2]!r}"
        (number,) = NUMBER.findall(quoted[2])
        actual = float(number)
    else:
        named = NAME.fullmatch(row["in code"])
        assert named is not None, f"{row['in code']} is not a name below the package"
        actual = float(resolved(named[1]))
    assert shown == pytest.approx(actual, abs=grain * (1 + 1e-6), rel=1e-12)


def test_a_stale_constant_would_be_seen() -> None:
    page = DOCS / "theory" / "any.md"
    for value in ("21", "0.35"):
        row = {
            "value": value,
            "unit": "s" if value == "21" else "minute",
            "in code": "`model.assumptions.Assumptions.air_lag`",
        }
        with pytest.raises(AssertionError, match=r"== 20\.0 ± "):
            test_constants_are_those_of_the_code((page, row))
    test_constants_are_those_of_the_code(
        (page, {"value": "0.3333", "unit": "minute", "in code": "`model.assumptions.Assumptions.air_lag`"})
    )


# Formulae as printed: numbers, one-letter symbols, + - ( ) /, a blank for a product, and ² .
TOKEN = re.compile(r"\d+(?:\.\d+)?|[A-Za-z]|[-+()/]|²")


def evaluated(formula: str, symbols: dict[str, float]) -> float:
    """The value of a printed formula."""
    formula = formula.strip("`").replace("−", "-")
    assert re.sub(TOKEN, "", formula).strip() == "", f"cannot read {formula!r}"
    written: list[str] = []
    for token in TOKEN.findall(formula):
        if token == "²":
            written.append("**2")
            continue
        joins = token not in "+-)/" and written and (written[-1] not in ("+", "-", "(", "/"))
        written += ["*", token] if joins else [token]
    # 29/w n would be read as 29/w times n; the pages write 29/(w n).
    return float(eval("".join(written), {"__builtins__": {}}, symbols))


PER_MASS = {
    "lb/short ton": (POUND_FORCE / SHORT_TON, MPH),
    "lb/long ton": (POUND_FORCE / LONG_TON, MPH),
    "kg/t": (GRAVITY / 1000, KMH),
    "kg/kg": (GRAVITY, 1.0),
}
CURVE_ROWS = rows("law", "formula", "unit", "radius [m]")
LAW_ROWS = [found for found in rows("law", "formula", "unit") if "radius [m]" not in found[1]]


@pytest.mark.parametrize("found", LAW_ROWS, ids=label)
def test_resistance_laws_are_printed_as_they_are_computed(found: tuple[Path, dict[str, str]]) -> None:
    row, law = found[1], LAWS[law_of(found)]
    unit, of_speed = PER_MASS[row["unit"]]
    for speed in (0.0, 7.0, 22.0):
        for axle_load, axles, area in ((15e3, 4, 11.15), (6.5e3, 2, 8.0), (20e3, 6, 10.0)):
            mass = axle_load * axles
            symbols = {
                "V": speed / of_speed,
                "v": speed,
                "w": axle_load / SHORT_TON,
                "n": axles,
                "A": area / FOOT**2,
                "T": mass / LONG_TON,
                "C": mass / SHORT_TON,
                "L": mass,
                "t": mass / 1000,
                "F": area,
            }
            computed = at_speed(law(axle_load=axle_load, axles=axles, frontal_area=area), speed=speed)
            assert evaluated(row["formula"], symbols) * unit == pytest.approx(float(computed), rel=1e-9)


def test_every_resistance_law_is_on_the_page_once() -> None:
    # A table by weight stands for Schmidt's.
    assert sorted(law_of(found) for found in LAW_ROWS) == sorted(set(LAWS) - {"schmidt_1910"})
    assert {law_of(found) for found in CURVE_ROWS} == set(CURVE_LAWS)


def test_the_rows_of_schmidt_are_those_of_the_table() -> None:
    (table,) = [table for page in PAGES for table in tables(page) if "car [short ton]" in table[0]]
    for row in table:
        C = float(row["car [short ton]"])
        for V in (5.0, 30.0):
            printed = float(row["a"]) + float(row["b"]) * V + float(row["c"]) * V**2
            computed = at_speed(
                LAWS["schmidt_1910"](axle_load=C * SHORT_TON / 4, axles=4, frontal_area=8.0), speed=V * MPH
            )
            assert printed * POUND_FORCE / SHORT_TON == pytest.approx(float(computed), rel=1e-9)


@pytest.mark.parametrize("found", CURVE_ROWS, ids=label)
def test_curve_laws_are_printed_as_they_are_computed(found: tuple[Path, dict[str, str]]) -> None:
    row = found[1]
    unit, _ = PER_MASS[row["unit"]]
    first, last = (float(end) for end in row["radius [m]"].split(" to "))
    for radius in np.linspace(first, last, 5):
        symbols = {"R": radius, "B": 3.0, "D": math.degrees(float(degree_of_curve(radius=radius)))}
        computed = CURVE_LAWS[law_of(found)](radius=radius, rigid_wheelbase=3.0)
        # A law printed with four digits where it is level.
        assert evaluated(row["formula"], symbols) * unit == pytest.approx(float(computed), rel=2e-4)


def test_friction_laws_are_on_the_page() -> None:
    text = text_of(DOCS / "theory" / "cylinders-by-handbook.md")
    assert "`cole_1914`" in text


@each_page
def test_names_on_the_page_are_in_the_code(page: Path) -> None:
    assert [name for name in NAME.findall(text_of(page)) if not in_code(name)] == []


def test_a_stale_name_would_be_seen() -> None:
    assert in_code("physics.traction.rail_conditions.ADHESION_BY_RAIL_CONDITION[wet].coefficient")
    for stale in (
        "physics.traction.adhesion.NONE",
        "physics.traction.rail_conditions.ADHESION_BY_RAIL_CONDITION[hot]",
        "physics.none.NONE",
    ):
        assert not in_code(stale)


@each_page
def test_every_page_says_what_it_assumes_its_symbols_and_its_limits(page: Path) -> None:
    headings = re.findall(r"^#+ (.+)$", text_of(page), re.MULTILINE)
    for wanted in ("assumed", "Symbols", "Limits"):
        assert any(wanted in heading for heading in headings), f"{page.name} has no heading with {wanted!r}"


@each_page
def test_keys_have_entries(page: Path) -> None:
    assert set(KEY.findall(text_of(page))) - set(listed()) == set()


def test_every_theory_picture_is_shown_and_made_by_the_script() -> None:
    shown = {Path(image).name for page in PAGES for image in IMAGE.findall(text_of(page))}
    drawn = {path.name for path in (DOCS / "images").glob("theory_*.svg")}
    script = (ROOT / "docs" / "build" / "theory_plots.py").read_text(encoding="utf-8")
    assert shown == drawn
    assert all(name in script for name in drawn)


def test_every_rule_of_the_check_is_on_the_page() -> None:
    code = "\n".join(text_of(path) for path in (ROOT / "locosim" / "planning" / "rules").glob("*.py"))
    rules = set(re.findall(r'(?:rule=|judge\(\s*)"([a-z -]+)"', code)) | set(
        re.findall(r'^ +\("([a-z ]+)", \w+, criteria', code, re.M)
    )
    rules |= {"stall", "end of run", "water", "fuel"}
    assert len(rules) >= 15, "the names of the rules are not found in the code"
    page = text_of(DOCS / "theory" / "findings.md")
    headings = " | ".join(re.findall(r"^### (.+)$", page, re.MULTILINE))
    assert [rule for rule in sorted(rules) if rule not in headings] == []


def test_every_criterion_is_on_the_page_with_its_default() -> None:
    named = {row["in code"].strip("`") for _, row in CONSTANTS}
    wanted = {f"model.excursion.Criteria.{field.name}" for field in dataclasses.fields(Criteria)}
    assert wanted - named == set()


def test_the_index_leads_to_every_page() -> None:
    linked = {(DOCS / link).resolve() for link in LINK.findall(text_of(DOCS / "index.md"))}
    pages = {path.resolve() for path in DOCS.rglob("*.md")} - {(DOCS / "index.md").resolve()}
    assert pages - linked == set(), "name these pages in docs/index.md"
