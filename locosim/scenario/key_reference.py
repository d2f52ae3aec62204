"""The page docs/scenario-keys.md, made from the model's declarations."""

from __future__ import annotations

from locosim.scenario.schema import FILE_KINDS, Key, example, keys_of, range_text

_INTRO = """# Keys of the scenario files

Made by `python -m locosim.scenario.key_reference` from the declarations of the model; a test keeps the two the same.
How quantities are written is told in [units.md](units.md). A key without a default must be given; a dash
stands for an optional key without one. Ranges and defaults are in SI; a file may use any other unit of the
same kind.

Paths of other files are relative to the file that names them. A table that has an alternative as a CSV file
takes its keys as the headings of the columns. A what-if is written `key=value` with the keys from the file that
is loaded downwards, items counted from 1: `rail=wet`, `train.vehicles[1].count=9`,
`locomotive.boiler.working_pressure_gauge=180 psi`.
"""

_KIND_NAMES = {"integer": "whole number", "text": "text", "text_list": "list of texts"}
_UNIT_NAMES = {"": "number or %", "grade": "grade", "curve": "radius or degree", "clock": "time of day"}


def page() -> str:
    """Write the whole page."""
    parts = [_INTRO]
    seen: list[type] = [model for model, _ in FILE_KINDS.values()]
    for model, article_name in FILE_KINDS.values():
        parts.append(f"## A file for {article_name}\n\n{_summary(model)}\n\n{_table(model)}")
        pending = _nested_tables(model)
        while pending:
            path, nested = pending.pop(0)
            if nested not in seen:
                seen.append(nested)
                parts.append(f"### `{path}`\n\n{_summary(nested)}\n\n{_table(nested)}")
                pending[:0] = [(f"{path[:-1]}.{rest[1:]}", deeper) for rest, deeper in _nested_tables(nested)]
    return "\n".join(parts)


def _nested_tables(model: type) -> list[tuple[str, type]]:
    """List the tables within a table, with their headings."""
    return [
        (f"[[{key.name}]]" if key.kind == "table_list" else f"[{key.name}]", key.model)
        for key in keys_of(model).values()
        if key.model is not None
    ]


def _summary(model: type) -> str:
    """First sentence of what a description is."""
    return (model.__doc__ or "").strip().splitlines()[0]


def _table(model: type) -> str:
    """Write the keys of one description as a table."""
    rows = [
        "| key | what it is | written as | allowed | default | example |",
        "|---|---|---|---|---|---|",
    ]
    for key in keys_of(model).values():
        cells = (f"`{key.name}`", key.doc, _form(key), _allowed(key), _default(key), _example(key))
        rows.append(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |")
    return "\n".join(rows) + "\n"


def _form(key: Key) -> str:
    """Say in which form a value is written."""
    if key.may_be("file"):
        return "path of a file"
    if key.kind == "measure":
        return _UNIT_NAMES.get(key.unit, key.unit)
    if key.kind in _KIND_NAMES:
        return _KIND_NAMES[key.kind]
    what = "table" if key.kind == "table" else "table_list"
    return f"{what}, or path of a CSV file" if key.may_be("table") else what


def _allowed(key: Key) -> str:
    """Say what is allowed."""
    if key.options:
        return ", ".join(f"`{word}`" for word in key.options)
    if key.kind == "table_list":
        least = key.field_info.metadata.get("at_least")
        return f"at least {least:g}" if least else ""
    return range_text(key)


def _default(key: Key) -> str:
    """Say what holds when the file says nothing."""
    default = key.field_info.default
    if key.required:
        return "must be given"
    if default is None or default == ():
        return "-"
    if isinstance(default, str):
        return f"`{default}`"
    if isinstance(default, int | float):
        unit = "" if key.unit in _UNIT_NAMES else key.unit
        return f"{default:g} {unit}".rstrip()
    return "its own defaults"


def _example(key: Key) -> str:
    """Give an example of a single value."""
    return "" if key.model is not None else f"`{example(key)}`"


if __name__ == "__main__":
    from pathlib import Path

    Path("docs/scenario-keys.md").write_text(page(), encoding="utf-8")
