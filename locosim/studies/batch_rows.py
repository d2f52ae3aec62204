"""Rows of a batch: listed, or the combinations of a grid; each row is an excursion with changes."""

from __future__ import annotations

import hashlib
import math
import os
from collections.abc import Sequence
from dataclasses import field
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from locosim.frozen import frozen

FILE_HEADINGS = ("excursion", "engine", "train", "route")
FILE_KEYS = ("locomotive", "train", "route")  # the last step of a key whose value is a file


class BatchRow(NamedTuple):
    """One row.

    Attributes:
        name: Its name; empty where it has none.
        files: Excursion, engine, train and route file, as paths from the folder of the user; empty for what the
            excursion names itself.
        values: Value of each key of the batch, as text; empty where it is not changed.
        changes: Changes as `key=value`.
        label: What tells it from others, in words.
    """

    name: str
    files: tuple[str, str, str, str]
    values: tuple[str, ...]
    changes: tuple[str, ...]
    label: str


class BatchRows(Protocol):
    """Rows of a batch, made as they are needed."""

    @property
    def keys(self) -> tuple[str, ...]:
        """Headings of the keys that the rows change."""

    def __len__(self) -> int:
        """Number of rows."""

    def __getitem__(self, index: int) -> BatchRow:
        """A row, counted from 0."""

    def digest(self) -> str:
        """SHA-256 of what the rows are."""

    def files_count(self) -> int:
        """Number of combinations of files."""


@frozen(kw_only=False)
class RowList:
    """Rows that a file lists.

    Attributes:
        keys: Headings of the keys that the rows change.
        rows: The rows.
    """

    keys: tuple[str, ...]
    rows: Sequence[BatchRow]

    def __len__(self) -> int:
        """Number of rows."""
        return len(self.rows)

    def __getitem__(self, index: int) -> BatchRow:
        """A row, counted from 0."""
        return self.rows[index]

    def digest(self) -> str:
        """SHA-256 of what the rows are."""
        found = hashlib.sha256(repr(self.keys).encode())
        for row in self.rows:
            found.update(repr(tuple(row)).encode())
        return found.hexdigest()

    def files_count(self) -> int:
        """Number of combinations of files."""
        return len({row.files for row in self.rows})


class Condition(NamedTuple):
    """Changes under one name."""

    name: str
    values: dict[str, str]


@frozen(kw_only=False)
class Grid:
    """All combinations of files, conditions and values of keys; the last varies fastest.

    Attributes:
        excursions: Excursion files.
        engines: Engine files; none for those that the excursions name.
        trains: Train files, likewise.
        routes: Route files, likewise.
        conditions: Changes under a name; none for the excursions as they are.
        values: Values of each key, as text.
    """

    excursions: tuple[str, ...]
    engines: tuple[str, ...] = ()
    trains: tuple[str, ...] = ()
    routes: tuple[str, ...] = ()
    conditions: tuple[Condition, ...] = ()
    values: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys that conditions and values change."""
        named = (key for condition in self.conditions for key in condition.values)
        return tuple(dict.fromkeys((*named, *self.values)))

    def axes(self) -> list[Sequence[Any]]:
        """What is combined, in order."""
        files = (self.excursions, self.engines, self.trains, self.routes)
        return [
            *(each or ("",) for each in files),
            self.conditions or (Condition("", {}),),
            *self.values.values(),
        ]

    def __len__(self) -> int:
        """Number of rows."""
        return math.prod(map(len, self.axes()))

    def __getitem__(self, index: int) -> BatchRow:
        """A row, counted from 0."""
        excursion, engine, train, route, condition, *chosen = self._chosen(index)
        values = condition.values | dict(zip(self.values, chosen, strict=True))
        files = (excursion, engine, train, route)
        return BatchRow(
            condition.name,
            files,
            tuple(values.get(key, "") for key in self.keys),
            tuple(change_of(key, value, files, Path()) for key, value in values.items()),
            ", ".join(part for part in self.labels(index) if part) or Path(excursion).stem,
        )

    def labels(self, index: int) -> tuple[str, str]:
        """The files and the conditions of a row in words, as far as the batch has several."""
        chosen, axes = self._chosen(index), self.axes()
        files = [Path(file).stem for file, axis in zip(chosen[:4], axes, strict=False) if len(axis) > 1]
        keys = zip(self.values, chosen[5:], axes[5:], strict=True)
        values = [f"{last_steps(key)} {value}" for key, value, axis in keys if len(axis) > 1]
        return ", ".join(files), ", ".join([chosen[4].name, *values] if chosen[4].name else values)

    def files_count(self) -> int:
        """Number of combinations of files; each has as many rows with the conditions and values."""
        return math.prod(map(len, self.axes()[:4]))

    def _chosen(self, index: int) -> list[Any]:
        """What a row combines."""
        if not 0 <= index < len(self):
            raise IndexError(index)
        chosen: list[Any] = []
        for axis in reversed(self.axes()):
            index, place = divmod(index, len(axis))
            chosen.insert(0, axis[place])
        return chosen

    def digest(self) -> str:
        """SHA-256 of what the rows are."""
        return hashlib.sha256(repr((self.axes(), self.keys)).encode()).hexdigest()


@frozen(kw_only=False)
class ChangedRows:
    """Rows with changes to all of them, made before their own.

    Attributes:
        rows: The rows.
        changes: Changes as `key=value`.
    """

    rows: BatchRows
    changes: tuple[str, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """Headings of the keys that the rows change."""
        return self.rows.keys

    def __len__(self) -> int:
        """Number of rows."""
        return len(self.rows)

    def __getitem__(self, index: int) -> BatchRow:
        """A row, counted from 0."""
        row = self.rows[index]
        return row._replace(changes=(*self.changes, *row.changes))

    def digest(self) -> str:
        """SHA-256 of what the rows are."""
        return hashlib.sha256(repr((self.rows.digest(), self.changes)).encode()).hexdigest()

    def files_count(self) -> int:
        """Number of combinations of files."""
        return self.rows.files_count()


def last_steps(key: str) -> str:
    """The end of a key: `vehicles[1].count` of `train.vehicles[1].count`."""
    steps = key.split(".")
    return ".".join(steps[-2:]) if len(steps) > 1 and "[" in steps[-2] else steps[-1]


def change_of(key: str, value: str, files: Sequence[str], folder: Path) -> str:
    """A change, with a file that it names by its path from the excursion file."""
    if key.split(".")[-1].strip() in FILE_KEYS:
        value = os.path.relpath(folder / value, Path(files[0]).parent)
    return f"{key}={value}"
