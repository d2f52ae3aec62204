"""The page docs/scenario-keys.md, made from the model's declarations."""

from __future__ import annotations

from locosim.scenario.schema import FILES, Key, example, keys_of, range_words

_HEAD = """# Keys of the scenario files

Made by `python -m locosim.scenario.key_reference` from the declarations of the model; a test keeps the two the same.
How quantities are written is told in [units.md](units.md). A key without a default must be given; a dash
stands for an optional key without one. Ranges and defaults are in SI; a file may use any other unit of the
same kind.

Paths of other files are relative to the file that names them. A table that has an alternative as a CSV file
takes its keys as the headings of the columns. A what-if is written `key=value` with the keys from the file that
is loaded downwards, items counted from 1: `rail=wet`, `train.vehicles[1].count=9`,
`locomotive.boiler.working_pressure_gauge=180 psi`.
"""

_KINDS = {"whole": "whole number", "text": "text", "texts": "list of texts"}
_UNITS = {"": "number or %", "gradient": "gradient", "curve": "radius or degree", "clock": "time of day"}


def page() -> str:
    """Write the whole page."""
    parts = [_HEAD]
    seen: list[type] = [model for model, _ in FILES.values()]
    for model, called in FILES.values():
        parts.append(f"## A file for {called}\n\n{_purpose(model)}\n\n{_table(model)}")
        waiting = _inner(model)
        while waiting:
            path, inner = waiting.pop(0)
            if inner not in seen:
                seen.append(inner)
                parts.append(f"### `{path}`\n\n{_purpose(inner)}\n\n{_table(inner)}")
                waiting[:0] = [(f"{path[:-1]}.{rest[1:]}", deeper) for rest, deeper in _inner(inner)]
    return "\n".join(parts)


def _inner(model: type) -> list[tuple[str, type]]:
    """List the tables within a table, with their headings."""
    return [
        (f"[[{key.name}]]" if key.kind == "tables" else f"[{key.name}]", key.model)
        for key in keys_of(model).values()
        if key.model is not None
    ]


def _purpose(model: type) -> str:
    """First sentence of what a description is."""
    return (model.__doc__ or "").strip().splitlines()[0]


def _table(model: type) -> str:
    """Write the keys of one description as a table."""
    rows = [
        "| key | what it is | written as | allowed | default | example |",
        "|---|---|---|---|---|---|",
    ]
    for key in keys_of(model).values():
        cells = (f"`{key.name}`", key.doc, _written(key), _allowed(key), _default(key), _example(key))
        rows.append(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |")
    return "\n".join(rows) + "\n"


def _written(key: Key) -> str:
    """Say in which form a value is written."""
    if key.may_be("file"):
        return "path of a file"
    if key.kind == "measure":
        return _UNITS.get(key.unit, key.unit)
    if key.kind in _KINDS:
        return _KINDS[key.kind]
    what = "table" if key.kind == "table" else "tables"
    return f"{what}, or path of a CSV file" if key.may_be("table") else what


def _allowed(key: Key) -> str:
    """Say what is allowed."""
    if key.options:
        return ", ".join(f"`{word}`" for word in key.options)
    if key.kind == "tables":
        least = key.declared.metadata.get("at_least")
        return f"at least {least:g}" if least else ""
    return range_words(key)


def _default(key: Key) -> str:
    """Say what holds when the file says nothing."""
    default = key.declared.default
    if key.required:
        return "must be given"
    if default is None or default == ():
        return "-"
    if isinstance(default, str):
        return f"`{default}`"
    if isinstance(default, int | float):
        unit = "" if key.unit in _UNITS else key.unit
        return f"{default:g} {unit}".rstrip()
    return "its own defaults"


def _example(key: Key) -> str:
    """Give an example of a single value."""
    return "" if key.model is not None else f"`{example(key)}`"


if __name__ == "__main__":
    from pathlib import Path

    Path("docs/scenario-keys.md").write_text(page(), encoding="utf-8")
