"""Plain text: paragraphs, tables and texts with figures in the reader's units."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Mapping, Sequence

from locosim.units import show, show_si

LEAST_WIDTH, GREATEST_WIDTH = 40, 110


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


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1) -> str:
    """Lay out columns; the first ones flush left, figures flush right.

    A table wider than the terminal is laid out as one block of lines per row instead.

    Args:
        heads: Headings, with the unit where there is one; a line break splits a heading.
        rows: Cells as text.
        left: How many columns are flush left.
    """
    split = [head.split("\n") for head in heads]
    deep = max(len(parts) for parts in split)
    lines = [[""] * (deep - len(parts)) + parts for parts in split]
    sizes = [max([len(part) for part in lines[i]] + [len(row[i]) for row in rows]) for i in range(len(heads))]
    if sum(sizes) + 2 * (len(sizes) - 1) > width():
        return _stacked(heads, rows)

    def laid(cells: Sequence[str]) -> str:
        placed = [
            c.ljust(s) if i < left else c.rjust(s) for i, (c, s) in enumerate(zip(cells, sizes, strict=True))
        ]
        return "  ".join(placed).rstrip()

    out = [laid([lines[i][d] for i in range(len(heads))]) for d in range(deep)]
    out.append("  ".join("-" * size for size in sizes))
    out += [laid(row) for row in rows]
    return "\n".join(out)


def _stacked(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """One block of `heading: cell` lines for each row, for narrow terminals."""
    names = [head.replace("\n", " ").strip() for head in heads]
    size = max(len(name) for name in names)
    blocks = [
        "\n".join(f"{name.ljust(size)}  {cell}" for name, cell in zip(names, row, strict=True))
        for row in rows
    ]
    return "\n\n".join(blocks)
