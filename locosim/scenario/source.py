"""Files as trees of tables, each of which knows the file and the key it stands under."""

from __future__ import annotations

import os
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from locosim.errors import LocosimError, Problem, nearest

_STEP = re.compile(r"(\w+)(?:\[(\d+)\])?")
MAX_FILE_SIZE = 20_000_000  # bytes; a profile of a thousand kilometres is far below


class ConvertedValue(NamedTuple):
    """A number already in the unit of its field, with what the user wrote."""

    value: float
    text: str


@dataclass(slots=True)
class Table:
    """One table of a file.

    Attributes:
        file: The file it stands in.
        path: Its key in the file, such as `engine_units[1]`; empty for the whole file.
        entries: What it holds: values, tables and lists.
        separator: What stands between its path and a key.
        changes: The what-if that set a key, by key.
    """

    file: Path
    path: str
    entries: dict[str, Any]
    separator: str = "."
    changes: dict[str, str] = field(default_factory=dict)

    def at(self, key: str) -> str:
        """Path of a key of this table within its file."""
        return f"{self.path}{self.separator}{key}" if self.path else key

    def problem(self, text: str, key: str = "") -> Problem:
        """Write a problem with the place where it is."""
        place = self.at(key) if key else self.path
        change = f" (by the change {self.changes[key]!r})" if key in self.changes else ""
        return Problem(str(self.file), ": ".join(part for part in (place, text + change) if part))

    def locate(self, path: str) -> tuple[Table, str]:
        """Find the table that holds a key, and the key in it.

        Args:
            path: From this table down, such as `profile[3].chainage`; tables on the way may be of other files.
        """
        step, _, rest = path.partition(".")
        found = _STEP.fullmatch(step)
        inner = self.entries.get(found[1]) if found else None
        if found and found[2] and isinstance(inner, list) and int(found[2]) <= len(inner):
            inner = inner[int(found[2]) - 1]
        if not isinstance(inner, Table) or not (rest or (found and found[2])):
            return self, path
        return inner.locate(rest) if rest else (inner, "")

    def user_text(self, key: str) -> str:
        """What the user wrote for a key; empty where nothing single stands."""
        value = self.entries.get(key, "")
        if isinstance(value, ConvertedValue):
            return value.text
        return "" if isinstance(value, list | Table | LocosimError) else str(value)


def read_text(path: Path) -> str:
    """Read a text file.

    Raises:
        LocosimError: When it is not there, is no file, cannot be read or is not UTF-8.
    """
    try:
        data = _read_bytes(path)
    except FileNotFoundError:
        raise LocosimError(f"no such file{_did_you_mean(path)}") from None
    except OSError as error:
        raise LocosimError(f"cannot be read: {(error.strerror or 'no reason given').lower()}") from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise LocosimError(f"is not UTF-8 text (line {line}); save it as UTF-8") from None


def _read_bytes(path: Path) -> bytes:
    """Read an ordinary file of a reasonable size."""
    if path.is_dir():
        raise LocosimError("is a directory, not a file")
    size = path.stat().st_size
    if not path.is_file():
        raise LocosimError("is not an ordinary file")
    if size > MAX_FILE_SIZE:
        raise LocosimError(f"is larger than {MAX_FILE_SIZE // 1_000_000} MB; no scenario file is")
    return path.read_bytes()


def _did_you_mean(path: Path) -> str:
    """Offer a file of a like name in the same folder."""
    try:
        names = os.listdir(path.parent)
    except OSError:
        return f"; there is no folder {path.parent} either"
    near = nearest(path.name, names, similarity=0.75)
    return f"; did you mean {near!r}?" if near else ""


def read_toml(path: Path) -> Table:
    """Read a TOML file as a tree.

    Raises:
        LocosimError: When it cannot be read or is not TOML; the message names the line.
    """
    text = read_text(path)
    try:
        entries = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise LocosimError(f"is not valid TOML: {_explain_syntax_error(str(error), text)}") from None
    except RecursionError:
        raise LocosimError("is nested too deeply to be a scenario file") from None
    except ValueError:  # Python refuses whole numbers of thousands of digits
        raise LocosimError("has a number of too many digits") from None
    return _to_table(path, "", entries)


def _explain_syntax_error(error: str, text: str) -> str:
    """Say what a syntax error mostly comes from."""
    error = error[:1].lower() + error[1:]
    if _DUPLICATE_KEY.match(error):
        number, line = _first_bad_line(_DUPLICATE_KEY, text)
        return f"{line.strip()!r} in line {number} gives a key or table a second time; give each once"
    if "invalid value" in error or "after a statement" in error:
        return f'{error}; a text or a quantity stands in quotes, as bore = "22 in"'
    return error


_DUPLICATE_KEY = re.compile("cannot (overwrite|declare|mutate|redefine)|duplicate", re.IGNORECASE)


def _first_bad_line(error: re.Pattern[str], text: str) -> tuple[int, str]:
    """Find the first line up to which a text has some trouble; the parser names the line after, or none."""
    lines = text.splitlines(keepends=True)
    least, most = 1, len(lines)
    while least < most:
        half = (least + most) // 2
        try:
            tomllib.loads("".join(lines[:half]))
            there = False
        except tomllib.TOMLDecodeError as found:
            there = bool(error.match(str(found)))
        least, most = (least, half) if there else (half + 1, most)
    return least, lines[least - 1]


def _to_table(file: Path, path: str, entries: dict[str, Any]) -> Table:
    """Turn the tables of a parsed file into tables that know their place."""
    table = Table(file, path, {})
    for key, value in entries.items():
        table.entries[key] = _to_value(file, table.at(key), value)
    return table


def _to_value(file: Path, path: str, value: Any) -> Any:
    """Turn one value of a parsed file into its place-knowing form."""
    if isinstance(value, dict):
        return _to_table(file, path, value)
    if isinstance(value, list):
        return [_to_value(file, f"{path}[{number}]", item) for number, item in enumerate(value, start=1)]
    return value


def resolve_path(file: Path, reference: str) -> Path:
    """Resolve a path relative to the file that names it, as the user would write it.

    Raises:
        LocosimError: When the path is empty or cannot be one.
    """
    if not reference.strip() or "\0" in reference:
        raise LocosimError(f"{reference!r} is not the path of a file")
    return Path(os.path.normpath(file.parent / reference))
