"""What comes of one or two inputs that are varied, as text."""

from __future__ import annotations

import re
from collections.abc import Sequence

from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION, METHODS
from locosim.report.made_from import made_from
from locosim.report.text.layout import column_kind, margin_text, paragraph, table
from locosim.studies.result_columns import Value
from locosim.studies.vary import AnyColumn, Variation, VariedInput, VariedRow, fixed_conditions, input_label
from locosim.units import label, show, show_number, written_unit

MAX_NAMED_ROWS = 4  # rows that an assumption decides


def vary_text(variation: Variation) -> str:
    """Write a table with a row for each combination, and the problems of those that could not be computed."""
    done = [row for row in variation.rows if not row.problem]
    parts = [
        paragraph(heading(variation)),
        _table(variation) if done else "",
        "\n".join(
            paragraph(
                f"Not computed: {', '.join(row.changes)}: {one_line(row.problem)}", indent="  ", first=""
            )
            for row in variation.rows
            if row.problem
        ),
        "\n".join(map(paragraph, assumption_lines(variation))),
        paragraph(_meanings(variation)),
        paragraph(f"Method: {METHODS[variation.method]}."),
        paragraph(accuracy_text("vary", variation.method, made_from(variation))) if done else "",
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part)


def assumption_lines(variation: Variation) -> list[str]:
    """A line for each assumption that may change a verdict, with the rows."""
    names = dict.fromkeys(name for row in variation.rows for name in row.assumptions)
    lines = []
    for name in names:
        rows = [", ".join(row.changes) for row in variation.rows if name in row.assumptions]
        which = "every row"
        if len(rows) < len(variation.rows):
            more = f"; and {len(rows) - MAX_NAMED_ROWS:,} more" if len(rows) > MAX_NAMED_ROWS else ""
            which = f"{'; '.join(rows[:MAX_NAMED_ROWS])}{more}"
        lines.append(f"Within its range the assumption {name} may change the verdict of {which}.")
    return lines


def columns_text(columns: Sequence[tuple[str, str]]) -> str:
    """List the columns that a file has, each with what it is."""
    return table(("column", "what it is"), columns, left=2, wrapped=(1,))


def heading(variation: Variation) -> str:
    """What is varied, in a line."""
    count = len(variation.rows)
    varied = " and ".join(map(_range_text, variation.inputs))
    conditions = "" if variation.conditions is None else f"; {conditions_text(variation)}"
    return f"{variation.base.name}: {varied}, {count} row{'s' if count != 1 else ''}{conditions}"


def _range_text(each: VariedInput) -> str:
    """An input with its first and last number, or its words."""
    if each.numbers is None:
        return f"{each.path} {', '.join(each.texts)}"
    return f"{each.path} from {each.texts[0]} to {each.texts[-1]}"


def conditions_text(variation: Variation) -> str:
    """Conditions of an engine that are not varied."""
    return ", ".join(
        f"{name} {show(*fact)}".strip() if fact else name for name, fact in fixed_conditions(variation)
    )


def input_cells(variation: Variation, number: int) -> tuple[str, list[str]]:
    """Heading of an input and its value in each row; the unit is in the heading where all values have it."""
    each = variation.inputs[number]
    texts = [row.changes[number].partition("=")[2] for row in variation.rows]
    name = input_label(each, variation.inputs)
    if each.unit and all(text.endswith(each.unit) for text in texts):
        return f"{name} [{written_unit(each.unit)}]", [text.removesuffix(each.unit).strip() for text in texts]
    return name, texts


def value_text(value: Value, column: AnyColumn, kind: str | None) -> str:
    """A value of a column in the reader's units, as a kind of quantity; a dash where there is none."""
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    if kind is None:
        return f"{value:g}"
    if column.name.partition(":")[0] == "margin":
        return margin_text(value)
    return show_number(value, kind)


def one_line(problem: str) -> str:
    """A problem without line breaks."""
    return re.sub(r"\s+", " ", problem)


def _table(variation: Variation) -> str:
    inputs = [input_cells(variation, number) for number in range(len(variation.inputs))]
    kinds = [
        column_kind(column.kind, (row.values[at] for row in variation.rows if not row.problem))
        for at, column in enumerate(variation.columns)
    ]
    headers = [*(name.replace(" [", "\n[") for name, _ in inputs), *map(_header, variation.columns, kinds)]
    rows = [
        [*(cells[number] for _, cells in inputs), *_cells(variation, row, kinds)]
        for number, row in enumerate(variation.rows)
    ]
    words = [len(inputs) + i for i, column in enumerate(variation.columns) if column.kind is None]
    return table(headers, rows, left=0, wrapped=words)


def _cells(variation: Variation, row: VariedRow, kinds: Sequence[str | None]) -> list[str]:
    if row.problem:
        return ["-" for _ in variation.columns]
    return [
        value_text(value, column, kind)
        for value, column, kind in zip(row.values, variation.columns, kinds, strict=True)
    ]


def _header(column: AnyColumn, kind: str | None) -> str:
    """Heading of a column: long names on several lines, the unit below."""
    words, lines = column.name.replace(":", ": ").split(), [""]
    for word in words:
        if lines[-1] and len(lines[-1]) + len(word) >= 12:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    in_text = kind is None or column.name.partition(":")[0] == "margin"
    unit = "" if in_text else label(kind or "")
    return "\n".join([*lines, *([f"[{unit}]"] if unit else [])])


def _meanings(variation: Variation) -> str:
    """What the columns are."""
    texts = "; ".join(f"{column.name}: {column.meaning}" for column in variation.columns)
    checked = "Each row is a whole check. " if variation.conditions is None else ""
    return f"{checked}{texts[:1].upper()}{texts[1:]}."
