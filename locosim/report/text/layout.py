"""Layout of plain text: paragraphs, tables, and texts with figures in the reader's units."""

from __future__ import annotations

import math
import re
import shutil
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest

from locosim.units import current_system, show, show_si
from locosim.units.format import DISPLAYS

MIN_WIDTH, MAX_WIDTH = 40, 110
UNITS = {shown.unit for system in DISPLAYS.values() for shown in system.values() if shown.unit}
TIME_HEADINGS = ("late", "arrives", "leaves")
MIN_TEXT_COLUMN = 12  # narrowest readable column of words
# Kinds in which small values are shown, each with the value [SI] below which it is taken, the finest first.
FINER_KINDS = {
    "mass": (("smallest_mass", 10.0), ("small_mass", 450.0)),
    "small_mass": (("smallest_mass", 10.0),),
    "water": (("small_water", 450.0),),
    "length": (("short_length", 10.0),),
    "force": (("small_force", 2000.0),),
}
SHARE_USED = 0.2  # of the fuel carried, by a short run
_FIGURE = r"-?[\d.,]+(?:e[+-]?\d+)?"
_PAIR = re.compile(
    rf"({_FIGURE} (?:cm²|m²|bar|Pa|°C|N|kg/\(m² h\))) \(({_FIGURE} (?:in²|ft²|psi|°F|lbf|lb/ft² h))\)"
)
_SPEED = re.compile(rf"{_FIGURE} m/s \(({_FIGURE} km/h), ({_FIGURE} mph)\)")


def width() -> int:
    """Width of the text: that of the terminal, within limits."""
    return min(max(shutil.get_terminal_size((100, 24)).columns - 1, MIN_WIDTH), MAX_WIDTH)


def paragraph(text: str, *, indent: str = "", first: str | None = None) -> str:
    """Wrap a text to the width."""
    return textwrap.fill(
        text, width(), initial_indent=indent if first is None else first, subsequent_indent=indent
    )


def format_text(text: str, facts: Mapping[str, tuple[float, str]]) -> str:
    """Put facts into a text: `{name}` becomes the fact of that name, in the reader's units."""
    return text.format_map(
        {name: show(value, finer_kind(kind, value)) for name, (value, kind) in facts.items()}
    )


def format_text_si(text: str, facts: Mapping[str, tuple[float, str]]) -> str:
    """Put facts into a text in SI, for JSON."""
    return text.format_map({name: show_si(value, kind) for name, (value, kind) in facts.items()})


def in_reader_units(text: str) -> str:
    """A text of the engine, which gives figures in SI and in trade units, with those of the reader alone.

    Only pairs as `locosim.engine.si_text` writes them are touched: `0.83 bar (12.0 psi)`, of speeds with km/h between.
    """
    group = 1 if current_system() == "metric" else 2
    return _SPEED.sub(rf"\{group}", _PAIR.sub(rf"\{group}", text))


def margin_text(margin: float) -> str:
    """Write a margin in percent, with one decimal below 1 % so that the sign shows; in words beyond ten times."""
    if 0.0 < abs(margin) < 0.00995:
        return f"{margin:+.1%}"
    if abs(margin) < 9.995:
        return f"{margin:+.0%}"
    return "ample" if margin > 0 else "far over" if math.isfinite(margin) else "none"


def finer_kind(kind: str, *values: float) -> str:
    """Kind of quantity that values [SI] shown together have: one of small units where all are small.

    A value of zero says nothing of the size of the others.
    """
    largest = max(map(abs, values), default=0.0)
    return next((finer for finer, end in FINER_KINDS.get(kind, ()) if 0.0 < largest < end), kind)


def column_kind(kind: str | None, values: Iterable[object]) -> str | None:
    """Kind of quantity for a column of figures, of texts, and of None where there is no figure."""
    figures = [float(each) for each in values if isinstance(each, int | float)]
    return kind if kind is None else finer_kind(kind, *figures)


def carried_kind(kind: str, carried: float) -> str:
    """Kind of quantity for what an engine carries and uses of it; finer for fuel, of which a run takes a small share.

    Args:
        kind: `water` or `mass`, of fuel.
        carried: The most carried [kg].
    """
    return finer_kind(kind, carried if kind == "water" else SHARE_USED * carried)


def table(
    headers: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1, wrapped: Sequence[int] = ()
) -> str:
    """Lay out columns: the first ones flush left, the others flush right.

    On a narrow terminal, columns of words are wrapped. If that is not enough, a table of words becomes a paragraph
    for each row, and a table of figures is split into several with the same first column.

    Args:
        headers: Headings with their units; a line break splits a heading.
        rows: Cells as text.
        left: Number of columns flush left.
        wrapped: Indices of the columns of words that may be wrapped.
    """
    widths = [
        max(len(part) for part in [*header.split("\n"), *(row[i] for row in rows)])
        for i, header in enumerate(headers)
    ]
    for gap in (2, 1):
        fitted_widths = _fit_widths(widths, wrapped, width() - gap * (len(widths) - 1))
        if fitted_widths is not None:
            return _lay_out(headers, rows, fitted_widths, left, gap)
    return _stack_rows(headers, rows) if wrapped else _split_table(headers, rows, widths, left)


def _fit_widths(widths: Sequence[int], wrapped: Sequence[int], available: int) -> list[int] | None:
    """Widths that fit, or None: the widest column of words is narrowed first, down to `MIN_TEXT_COLUMN`."""
    fitted_widths = list(widths)
    while sum(fitted_widths) > available:
        widest = max(wrapped, key=lambda i: fitted_widths[i], default=None)
        if widest is None or fitted_widths[widest] <= MIN_TEXT_COLUMN:
            return None
        fitted_widths[widest] -= 1
    return fitted_widths


def _lay_out(
    headers: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[int], left: int, gap: int
) -> str:
    """Lay out columns of given widths; a cell wider than its column is wrapped."""
    split = [header.split("\n") for header in headers]
    deep = max(map(len, split))
    space = " " * gap

    def line(cells: Sequence[str]) -> str:
        placed = [
            c.ljust(s) if i < left else c.rjust(s) for i, (c, s) in enumerate(zip(cells, widths, strict=True))
        ]
        return space.join(placed).rstrip()

    out = [
        line(cells) for cells in zip(*([""] * (deep - len(parts)) + parts for parts in split), strict=True)
    ]
    out.append(space.join("-" * size for size in widths))
    for row in rows:
        parts = [textwrap.wrap(cell, size) or [""] for cell, size in zip(row, widths, strict=True)]
        out += [line(cells) for cells in zip_longest(*parts, fillvalue="")]
    return "\n".join(out)


def _split_table(
    headers: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[int], left: int
) -> str:
    """Split a table into several below each other, each with the first column."""
    parts: list[list[int]] = [[0]]
    for i in range(1, len(headers)):
        taken = sum(widths[k] + 1 for k in parts[-1])
        if taken + widths[i] > width() and len(parts[-1]) > 1:
            parts.append([0])
        parts[-1].append(i)
    return "\n\n".join(
        _lay_out(
            [headers[i] for i in part],
            [[row[i] for i in part] for row in rows],
            [widths[i] for i in part],
            left,
            1,
        )
        for part in parts
    )


def _stack_rows(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Write a paragraph for each row, for narrow terminals: the first cell, then heading and cell of each other one."""
    return "\n".join(
        paragraph(
            f"{_named(headers[0], row[0]) if row[0].isdigit() else row[0]}: "
            f"{'; '.join(_named(h, cell) for h, cell in zip(headers[1:], row[1:], strict=True) if cell)}",
            indent="  ",
            first="",
        )
        for row in rows
    )


def _named(header: str, cell: str) -> str:
    """A cell after its heading, with the unit that ends the heading after a number.

    Words in place of a time, such as "on time" or "stalled", say what they are by themselves.
    """
    if header.split("\n")[0].strip() in TIME_HEADINGS and not any(map(str.isdigit, cell)):
        return cell
    *name, last = header.strip().split("\n")
    if not name or last not in UNITS:
        return f"{header.replace(chr(10), ' ').strip()} {cell}"
    return f"{' '.join(name)} {cell} {last}" if cell[-1:].isdigit() else f"{' '.join(name)} {cell}"
