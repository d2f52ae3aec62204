"""Files as trees of tables, each with the file and the key it was read from."""

from __future__ import annotations

import hashlib
import math
import os
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from locosim.errors import LocosimError, Problem, nearest, system_reason
from locosim.files_on_disk import note_read
from locosim.model.provenance import FileUsed

_STEP = re.compile(r"(\w+)(?:\[(\d{1,9})\])?")
MAX_FILE_SIZE = 20_000_000  # [bytes]; far above the profile of a line of a thousand kilometers


class ConvertedValue(NamedTuple):
    """A number in the unit of its field, with the user's text."""

    value: float
    text: str


@dataclass(slots=True)
class Table:
    """One table of a file.

    Attributes:
        file: The file it was read from.
        path: Its key in the file, such as `engine_units[1]`; empty for the whole file.
        entries: Its values, tables and lists, by key.
        separator: Text between its path and a key in messages.
        changes: The change (`key=value`) that set a key, by key.
        sha256: SHA-256 of the content of the file.
        built: The description built from it without a problem, which is not built again; None before that. A table
            is not changed afterward: a change is made in a copy.
        sources: Likewise the files and the changes of this table and all in it.
    """

    file: Path
    path: str
    entries: dict[str, Any]
    separator: str = "."
    changes: dict[str, str] = field(default_factory=dict)
    sha256: str = ""
    built: Any = None
    sources: tuple[tuple[FileUsed, ...], tuple[str, ...]] | None = None

    def copy(self) -> Table:
        """A copy that can be changed; tables in it are the same ones."""
        return Table(
            self.file, self.path, dict(self.entries), self.separator, dict(self.changes), self.sha256
        )

    def file_used(self) -> FileUsed:
        """The file of this table with its hash."""
        return FileUsed(path=str(self.file), sha256=self.sha256)

    def tables(self) -> Iterator[Table]:
        """Yield the tables in this one, without those inside them."""
        for value in self.entries.values():
            for item in value if isinstance(value, list) else [value]:
                if isinstance(item, Table):
                    yield item

    def at(self, key: str) -> str:
        """Path of a key of this table within its file."""
        return f"{self.path}{self.separator}{key}" if self.path else key

    def problem(self, text: str, key: str = "") -> Problem:
        """A problem of this table or of one of its keys."""
        location = self.at(key) if key else self.path
        change = f" (by the change {self.changes[key]!r})" if key in self.changes else ""
        return Problem(str(self.file), ": ".join(part for part in (location, text + change) if part))

    def locate(self, path: str) -> tuple[Table, str]:
        """The table that has a key, and the key in it.

        Args:
            path: Path from this table, such as `profile[3].chainage`; tables on the way may be in other files.
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
        """The user's text for a key; empty if it has no single value."""
        value = self.entries.get(key, "")
        if isinstance(value, ConvertedValue):
            return value.text
        return "" if isinstance(value, list | Table | LocosimError) else str(value)


class SourceText(NamedTuple):
    """Content of a text file, with the SHA-256 of its bytes."""

    text: str
    sha256: str


def read_text(path: Path, *, max_size: int = MAX_FILE_SIZE) -> SourceText:
    """Read a text file.

    Args:
        path: The file.
        max_size: Largest size allowed [bytes].

    Raises:
        LocosimError: If it does not exist, is not a file, cannot be read or is not UTF-8.
    """
    data = read_bytes(path, max_size=max_size)
    try:
        return SourceText(data.decode("utf-8-sig"), hashlib.sha256(data).hexdigest())
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise LocosimError(f"is not UTF-8 text (line {line}); save it as UTF-8") from None


def read_bytes(path: Path, *, max_size: int = MAX_FILE_SIZE, too_large: str = "no scenario file is") -> bytes:
    """Read a regular file of reasonable size.

    Args:
        path: The file.
        max_size: Largest size allowed [bytes].
        too_large: What to say of a larger one.

    Raises:
        LocosimError: If it does not exist, is not a file, is too large or cannot be read.
    """
    try:
        if path.is_dir():
            raise LocosimError("is a directory, not a file")
        size = path.stat().st_size
        if not path.is_file():
            raise LocosimError("is not a regular file")
        if size > max_size:
            raise LocosimError(f"is larger than {max_size // 1_000_000} MB; {too_large}")
        note_read(path)
        return path.read_bytes()
    except FileNotFoundError:
        raise LocosimError(f"no such file{_did_you_mean(path)}") from None
    except OSError as error:
        raise LocosimError(f"cannot be read: {system_reason(error)}") from None


def _did_you_mean(path: Path) -> str:
    """Suggest a file with a similar name in the same folder."""
    try:
        names = os.listdir(path.parent)
    except OSError:
        return f"; the folder {path.parent} does not exist either"
    near = nearest(path.name, names, similarity=0.75)
    return f"; did you mean {near!r}?" if near else ""


def read_toml(path: Path) -> Table:
    """Read a TOML file as a tree.

    Raises:
        LocosimError: If it cannot be read or is not TOML; the message names the line.
    """
    text, sha256 = read_text(path)
    try:
        entries = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise LocosimError(f"is not valid TOML: {_explain_syntax_error(str(error), text)}") from None
    except RecursionError:
        raise LocosimError("is nested too deeply to be a scenario file") from None
    except ValueError:  # Python refuses whole numbers of thousands of digits
        raise LocosimError("has a number of too many digits") from None
    try:
        return _to_table(Table(path, "", {}, sha256=sha256), entries)
    except RecursionError:
        raise LocosimError("is nested too deeply to be a scenario file") from None


def _explain_syntax_error(error: str, text: str) -> str:
    """Explain the usual cause of a syntax error."""
    error = error[:1].lower() + error[1:]
    if _DUPLICATE_KEY.match(error):
        number, line = _first_bad_line(_DUPLICATE_KEY, text)
        return f"{line.strip()!r} in line {number} repeats a key or table; give each once"
    if "invalid value" in error or "after a statement" in error:
        return f'{error}; write a text or a quantity in quotes, as bore = "22 in"'
    return error


_DUPLICATE_KEY = re.compile("cannot (overwrite|declare|mutate|redefine)|duplicate", re.IGNORECASE)


def _first_bad_line(error: re.Pattern[str], text: str) -> tuple[int, str]:
    """The first line that causes an error; the parser names the line after it, or none."""
    lines = text.splitlines(keepends=True)
    first, last = 1, len(lines)
    while first < last:
        half = (first + last) // 2
        try:
            tomllib.loads("".join(lines[:half]))
            failed = False
        except tomllib.TOMLDecodeError as found:
            failed = bool(error.match(str(found)))
        first, last = (first, half) if failed else (half + 1, last)
    return first, lines[first - 1]


def _to_table(table: Table, entries: dict[str, Any]) -> Table:
    """Fill a table from a parsed one."""
    for key, value in entries.items():
        table.entries[key] = _to_value(table, table.at(key), value)
    return table


def _to_value(parent: Table, path: str, value: Any) -> Any:
    """A parsed value, with tables in it turned into ones that have their file and path."""
    if isinstance(value, dict):
        return _to_table(Table(parent.file, path, {}, sha256=parent.sha256), value)
    if isinstance(value, list):
        return [_to_value(parent, f"{path}[{number}]", item) for number, item in enumerate(value, start=1)]
    return value


def resolve_path(file: Path, reference: str) -> Path:
    """A path relative to the file that names it.

    Raises:
        LocosimError: If the text is empty or cannot be a path.
    """
    if not reference.strip() or "\0" in reference:
        raise LocosimError(f"{reference!r} is not the path of a file")
    return Path(os.path.normpath(file.parent / reference))


def show_value(value: Any) -> str:
    """A value of a file in the notation of the file, shortened if long."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Table):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if isinstance(value, str) and len(value) > 60:
        return f"{value[:57]!r}..."
    return repr(value) if isinstance(value, str | int | float) else str(value)
