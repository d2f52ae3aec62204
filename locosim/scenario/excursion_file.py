"""An excursion file with other booked times: the file that was read, with its changes, written again."""

from __future__ import annotations

import datetime
import json
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.model import Excursion
from locosim.scenario.overrides import apply_change
from locosim.scenario.schema import keys_of
from locosim.scenario.source import ConvertedValue, Table, read_toml, resolve_path

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
TIMES = ("arrive", "depart")  # keys of a stop that are replaced


def excursion_file(
    source: Path, changes: Sequence[str], booked: Excursion, to: Path, comments: Sequence[str] = ()
) -> bytes:
    """The content of an excursion file with new booked times.

    Comments of the file read are not kept. A file that it names is named again, by its path from the new file; one
    in which something was changed is written into the new file.

    Args:
        source: The file that the excursion was read from.
        changes: Changes it was read with, as `key.path=value`.
        booked: The excursion with the new times.
        to: The new file, ending in .toml.
        comments: Lines at its top.

    Raises:
        LocosimError: The name does not end in .toml.
        ScenarioError: A change was made in a CSV file, or the file cannot be read.
    """
    if to.suffix.lower() != ".toml":
        raise LocosimError(
            f"{to}: the name of an excursion file must end in .toml; write {to.stem or 'booked'}.toml"
        )
    problems: list[Problem] = []
    root = read_toml(source)
    for change in changes:
        apply_change(change, root, Excursion, problems)
    content = _content(root, Excursion, to, problems)
    if problems:
        raise ScenarioError(str(source), problems)
    for entry, stop in zip(content["stops"], booked.stops, strict=True):
        for key in TIMES:
            entry.pop(key, None)
            time = getattr(stop, key)
            if time is not None:
                entry[key] = clock_text(time)
    lines = [*(f"# {line}" for line in comments), *_lines(content, "")]
    return ("\n".join(lines).strip() + "\n").encode()


def clock_text(time: float) -> str:
    """A time on the clock in the notation of a file; hours of the next day continue from 24."""
    minutes, seconds = divmod(round(time), 60)
    text = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{text}:{seconds:02d}" if seconds else text


def _content(table: Table, model: type, to: Path, problems: list[Problem]) -> dict[str, Any]:
    """Keys of a table as plain values, with the paths of other files as the new file needs them."""
    keys = keys_of(model)
    content: dict[str, Any] = {}
    for name, value in table.entries.items():
        key = keys.get(name)
        inner = key.model if key is not None and key.model is not None else object
        if isinstance(value, Table):
            content[name] = _content(value, inner, to, problems)
        elif isinstance(value, list) and any(isinstance(item, Table) for item in value):
            content[name] = [_content(item, inner, to, problems) for item in value]
        elif isinstance(value, str) and key is not None and (key.may_be("file") or key.may_be("table")):
            path = resolve_path(table.file, value)
            content[name] = Path(os.path.relpath(path, to.parent)).as_posix()
        elif isinstance(value, ConvertedValue | LocosimError):
            text = "was changed inside a CSV file, which cannot be written here; change it in that file"
            problems.append(table.problem(text, name))
        else:
            content[name] = value
    return content


def _lines(content: dict[str, Any], path: str) -> list[str]:
    """A table in TOML: its values, then the tables in it."""
    lines = [f"{_key(name)} = {_value(value)}" for name, value in content.items() if not _is_table(value)]
    for name, value in content.items():
        if not _is_table(value):
            continue
        inner = f"{path}.{_key(name)}".lstrip(".")
        for item in value if isinstance(value, list) else [value]:
            heading = f"[[{inner}]]" if isinstance(value, list) else f"[{inner}]"
            lines += ["", heading, *_lines(item, inner)]
    return lines


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)
    )


def _key(name: str) -> str:
    return name if _BARE_KEY.fullmatch(name) else json.dumps(name, ensure_ascii=False)


def _value(value: Any) -> str:
    """A value in TOML; JSON writes texts as TOML does."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, datetime.time | datetime.date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value)
