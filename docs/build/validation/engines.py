"""Published engines as data, each figure with its source and status.

A file in tests/published/engines is an engine file in which a figure may be a list of three: the text as printed,
the key of its source, and one of the words of `STATUS`. The key of an assumed figure is empty.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from locosim.model import Locomotive
from locosim.scenario.build import build
from locosim.scenario.source import Table, read_toml

ROOT = Path(__file__).resolve().parents[3]
FOLDER = ROOT / "tests" / "published" / "engines"
STATUS = ("read", "from memory", "derived", "assumed")


class Figure(NamedTuple):
    """One figure of an engine and its source."""

    key: str
    text: str
    source: str
    status: str


class PublishedEngine(NamedTuple):
    """An engine with the sources of its figures."""

    locomotive: Locomotive
    figures: tuple[Figure, ...]

    def of_status(self, status: str) -> list[Figure]:
        return [figure for figure in self.figures if figure.status == status]


@lru_cache(maxsize=64)
def engine(name: str) -> PublishedEngine:
    """Read the engine from the file of that name."""
    table = read_toml(FOLDER / f"{name}.toml")
    figures: list[Figure] = []
    _strip(table, figures)
    problems: list[str] = []
    locomotive = build(Locomotive, table, problems)
    assert locomotive is not None, problems
    return PublishedEngine(locomotive, tuple(figures))


def engine_names() -> list[str]:
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def _strip(table: Table, figures: list[Figure]) -> None:
    """Replace each list in the table by its text, and record its source."""
    for key, value in table.entries.items():
        if isinstance(value, Table):
            _strip(value, figures)
        elif isinstance(value, list) and value and isinstance(value[0], Table):
            for item in value:
                _strip(item, figures)
        elif isinstance(value, list):
            text, source, status = _parts(table.at(key), value)
            figures.append(Figure(table.at(key), text, source, status))
            table.entries[key] = text


def _parts(key: str, value: list[Any]) -> tuple[str, str, str]:
    text, source, status = value
    assert status in STATUS, f"{key}: {status!r} is not one of {STATUS}"
    assert (status == "assumed") == (source == ""), (
        f"{key}: an assumed figure has no source; every other figure has one"
    )
    return text, source, status
