"""Plain text: paragraphs, tables and texts with figures in the reader's units."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Mapping, Sequence
from itertools import zip_longest

from locosim.units import show, show_si

LEAST_WIDTH, GREATEST_WIDTH = 40, 110
LEAST_WORDS = 12  # narrowest column of words that still reads


def width() -> int:
    """Width to write in: that of the terminal, within reason."""
    return min(max(shutil.get_terminal_size((100, 24)).columns - 1, LEAST_WIDTH), GREATEST_WIDTH)


def paragraph(text: str, *, indent: str = "", first: str | None = None) -> str:
    """Wrap a text to the width."""
    return textwrap.fill(
        text, width(), initial_indent=indent if first is None else first, subsequent_indent=indent
    )


def said(text: str, facts: Mapping[str, tuple[float, str]], system: str) -> str:
    """Put figures into a text: `{name}` becomes the fact of that name, in the reader's units."""
    return text.format_map({name: show(value, kind, system) for name, (value, kind) in facts.items()})


def said_in_si(text: str, facts: Mapping[str, tuple[float, str]]) -> str:
    """Put figures into a text in SI, for machines that read on."""
    return text.format_map({name: show_si(value, kind) for name, (value, kind) in facts.items()})


def margin_text(margin: float) -> str:
    """Write a margin: a small one to its tenth, so that its sign shows; one beyond ten times the limit as that."""
    if 0.0 < abs(margin) < 0.00995:
        return f"{margin:+.1%}"
    if abs(margin) < 9.995:
        return f"{margin:+.0%}"
    return ">+999%" if margin > 0 else "<-999%"


def table(
    heads: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1, wrapped: Sequence[int] = ()
) -> str:
    """Lay out columns; the first ones flush left, figures flush right.

    Where the terminal is too narrow, columns of words are wrapped. Where that is not enough, a table of words
    becomes a block of lines for each row, and a table of figures is parted into several with the same first column.

    Args:
        heads: Headings, with the unit where there is one; a line break splits a heading.
        rows: Cells as text.
        left: How many columns are flush left.
        wrapped: Columns of words, by number from 0, that may be wrapped.
    """
    sizes = [
        max(len(part) for part in [*head.split("\n"), *(row[i] for row in rows)])
        for i, head in enumerate(heads)
    ]
    for gap in (2, 1):
        fitted = _narrowed(sizes, wrapped, width() - gap * (len(sizes) - 1))
        if fitted is not None:
            return _laid(heads, rows, fitted, left, gap)
    return _stacked(heads, rows) if wrapped else _parted(heads, rows, sizes, left)


def _narrowed(sizes: Sequence[int], wrapped: Sequence[int], room: int) -> list[int] | None:
    """Widths that fit: the widest column of words gives way first, none below what words need."""
    fitted = list(sizes)
    while sum(fitted) > room:
        widest = max(wrapped, key=lambda i: fitted[i], default=None)
        if widest is None or fitted[widest] <= LEAST_WORDS:
            return None
        fitted[widest] -= 1
    return fitted


def _laid(
    heads: Sequence[str], rows: Sequence[Sequence[str]], sizes: Sequence[int], left: int, gap: int
) -> str:
    """Columns of known widths side by side; a cell wider than its column is wrapped."""
    split = [head.split("\n") for head in heads]
    deep = max(map(len, split))
    space = " " * gap

    def line(cells: Sequence[str]) -> str:
        placed = [
            c.ljust(s) if i < left else c.rjust(s) for i, (c, s) in enumerate(zip(cells, sizes, strict=True))
        ]
        return space.join(placed).rstrip()

    out = [
        line(cells) for cells in zip(*([""] * (deep - len(parts)) + parts for parts in split), strict=True)
    ]
    out.append(space.join("-" * size for size in sizes))
    for row in rows:
        parts = [textwrap.wrap(cell, size) or [""] for cell, size in zip(row, sizes, strict=True)]
        out += [line(cells) for cells in zip_longest(*parts, fillvalue="")]
    return "\n".join(out)


def _parted(heads: Sequence[str], rows: Sequence[Sequence[str]], sizes: Sequence[int], left: int) -> str:
    """Several tables below each other, each as wide as fits, all with the first column."""
    parts: list[list[int]] = [[0]]
    for i in range(1, len(heads)):
        taken = sum(sizes[k] + 1 for k in parts[-1])
        if taken + sizes[i] > width() and len(parts[-1]) > 1:
            parts.append([0])
        parts[-1].append(i)
    return "\n\n".join(
        _laid(
            [heads[i] for i in part],
            [[row[i] for i in part] for row in rows],
            [sizes[i] for i in part],
            left,
            1,
        )
        for part in parts
    )


def _stacked(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """One block of `heading: cell` lines for each row, for narrow terminals."""
    names = [head.replace("\n", " ").strip() for head in heads]
    size = max(len(name) for name in names)
    room = max(width() - size - 2, LEAST_WORDS)
    turn = "\n" + " " * (size + 2)

    def line(name: str, cell: str) -> str:
        return f"{name.ljust(size)}  {turn.join(textwrap.wrap(cell, room))}".rstrip()

    return "\n\n".join(
        "\n".join(line(name, cell) for name, cell in zip(names, row, strict=True)) for row in rows
    )
