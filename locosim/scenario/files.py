"""Files as trees: read at each call, or kept for many descriptions that differ little."""

from __future__ import annotations

from pathlib import Path

from locosim.errors import LocosimError, Problem
from locosim.scenario.csv_table import read_rows
from locosim.scenario.source import Table, read_toml


class Files:
    """Files, read at each call."""

    def tree(self, path: Path) -> Table:
        """The tree of a TOML file; raises as `read_toml`."""
        return read_toml(path)

    def rows(self, path: Path, model: type, problems: list[Problem]) -> list[Table]:
        """The rows of a CSV file; arguments and errors as for `read_rows`."""
        return read_rows(path, model, problems)


class KeptFiles(Files):
    """Files read once, the last few of them.

    Descriptions built from them share what is the same: two excursions that differ in the rail have the same route
    object. A file that changes on the disk is not read again while it is kept.

    Args:
        count: Number of files kept; the one used least recently goes first.
    """

    def __init__(self, count: int = 64) -> None:
        self._count = count
        self._kept: dict[tuple[Path, type], Table | list[Table]] = {}

    def tree(self, path: Path) -> Table:
        """The tree of a TOML file, which is not to be changed; raises as `read_toml`."""
        found = self._kept.pop((path, Table), None)
        if not isinstance(found, Table):
            found = read_toml(path)
        self._keep((path, Table), found)
        return found

    def rows(self, path: Path, model: type, problems: list[Problem]) -> list[Table]:
        """The rows of a CSV file, which are not to be changed.

        Raises:
            LocosimError: It cannot be read, or has problems; these are not listed, and it is not kept.
        """
        found = self._kept.pop((path, model), None)
        if not isinstance(found, list):
            wrong: list[Problem] = []
            found = read_rows(path, model, wrong)
            if wrong:
                raise LocosimError("has problems")
        self._keep((path, model), found)
        return found

    def _keep(self, key: tuple[Path, type], found: Table | list[Table]) -> None:
        self._kept[key] = found
        while len(self._kept) > self._count:
            del self._kept[next(iter(self._kept))]


READ_EACH_TIME = Files()
