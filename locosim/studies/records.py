"""Records of a batch: one for each row done, in memory or in a journal from which a stopped batch goes on."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, NamedTuple, Protocol

from locosim.errors import LocosimError, system_reason
from locosim.model import Excursion
from locosim.studies.result_columns import Value

FORMAT = 1  # of the journal; raised when older ones cannot be read
SYNC_INTERVAL = 200  # rows after which the journal is on the disk for certain, even if the power fails


class Record(NamedTuple):
    """What became of one row.

    Attributes:
        values: Values of the results, in SI; none where there is a problem.
        problem: What is wrong with the row; empty where it was checked.
    """

    values: tuple[Value, ...]
    problem: str = ""


class RowSource(NamedTuple):
    """What one row was made from.

    Attributes:
        files: Path and SHA-256 of each file.
        locomotives: Names of the engines, helpers last.
        train: Name of the train.
        route: Name of the line.
        method: `cycle` or `handbook`.
        compound: Whether the engine is a compound.
        anchored: Whether the power of the engine was set from its test sheet.
    """

    files: tuple[tuple[str, str], ...]
    locomotives: tuple[str, ...]
    train: str
    route: str
    method: str
    compound: bool
    anchored: bool


def row_source(excursion: Excursion) -> RowSource:
    """What a row with this excursion is made from."""
    used = excursion.provenance.files if excursion.provenance is not None else ()
    return RowSource(
        files=tuple((file.path, file.sha256) for file in used),
        locomotives=(excursion.locomotive.name, *(helper.name for helper in excursion.helpers)),
        train=excursion.train.name,
        route=excursion.route_as_run.name,
        method=excursion.method,
        compound=excursion.locomotive.compound,
        anchored=any("indicated_power" in anchor.by for anchor in excursion.locomotive.anchors or ()),
    )


@dataclass(slots=True)
class Sources:
    """What the rows were made from, each once, in order of the rows.

    Attributes:
        files: SHA-256 of each file, by path.
        names: Names of `locomotives`, `trains` and `routes`, and `methods`; `compound` and `not anchored` are there
            where an engine is so.
    """

    files: dict[str, str] = field(default_factory=dict)
    names: dict[str, dict[str, None]] = field(default_factory=dict)

    def add(self, source: RowSource) -> dict[str, Any]:
        """Add those of a row; what is new of them."""
        marks = [
            word
            for word, is_so in (("compound", source.compound), ("not anchored", not source.anchored))
            if is_so
        ]
        named = {
            "locomotives": source.locomotives,
            "trains": (source.train,),
            "routes": (source.route,),
            "methods": (source.method,),
            "marks": tuple(marks),
        }
        new = {
            what: found
            for what, names in named.items()
            if (found := [name for name in names if name not in self.names.get(what, ())])
        }
        new_files = {path: digest for path, digest in source.files if path not in self.files}
        return self.restore({"files": new_files} | new) if new_files or new else {}

    def restore(self, new: dict[str, Any]) -> dict[str, Any]:
        """Add what a journal says is new; the same."""
        self.files |= new.get("files", {})
        for what in new:
            if what != "files":
                self.names.setdefault(what, {}).update(dict.fromkeys(new[what]))
        return new


class Records(Protocol):
    """Records of the rows done, which are the first ones of the batch.

    Attributes:
        sources: What they were made from.
        problems: Number of those with a problem.
    """

    sources: Sources
    problems: int

    def __len__(self) -> int:
        """Number of rows done."""

    def __iter__(self) -> Iterator[Record]:
        """Records in order of the rows."""

    def add(self, record: Record, source: RowSource | None) -> None:
        """Add the record of the next row."""

    def close(self) -> None:
        """End adding."""


class KeptRecords:
    """Records in memory."""

    def __init__(self) -> None:
        self.sources = Sources()
        self.problems = 0
        self._records: list[Record] = []

    def __len__(self) -> int:
        """Number of rows done."""
        return len(self._records)

    def __iter__(self) -> Iterator[Record]:
        """Records in order of the rows."""
        return iter(self._records)

    def add(self, record: Record, source: RowSource | None) -> None:
        """Add the record of the next row."""
        if source is not None:
            self.sources.add(source)
        self._records.append(record)
        self.problems += bool(record.problem)

    def close(self) -> None:
        """End adding."""


class Journal:
    """Records in a file that grows by a line for each row, and is found again after a stop at any moment.

    The first line says of which batch it is. A line that a stop cut short is dropped, and its row is done again.

    Attributes:
        path: The file.
        resumed: Number of rows that were found done.
        problems: Number of rows with a problem.
    """

    def __init__(self, path: Path, batch: str, *, restart: bool = False) -> None:
        """Begin a journal, or go on with one.

        Args:
            path: The file.
            batch: What the batch is, as a hash of its rows, its results and the code.
            restart: Start over even if there is one.

        Raises:
            LocosimError: The file is of another batch, is not a journal, is in use by another process, or a file that
                its rows were made from has changed.
        """
        self.path = path
        self.sources = Sources()
        self.problems = self._count = self._unsynced = 0
        try:
            if path.exists() and not path.is_file():
                raise LocosimError(f"{path}: is no regular file; remove it, or name another output")
            self._file: IO[bytes] = open(path, "a+b")  # noqa: SIM115
        except OSError as wrong:
            raise LocosimError(f"{path}: cannot be written: {system_reason(wrong)}") from None
        try:
            _lock(self._file, path)
            if restart:
                self._file.truncate(0)
            self._restore(batch)
        except OSError as wrong:
            self._give_up()
            raise LocosimError(f"{path}: cannot be written: {system_reason(wrong)}") from None
        except BaseException:
            self._file.close()
            raise
        self.resumed = self._count

    def __len__(self) -> int:
        """Number of rows done."""
        return self._count

    def __iter__(self) -> Iterator[Record]:
        """Records in order of the rows."""
        with open(self.path, "rb") as file:
            file.readline()
            for line in file:
                entry = json.loads(line)
                if isinstance(entry, list):
                    yield Record(tuple(entry[1]), entry[2])

    def add(self, record: Record, source: RowSource | None) -> None:
        """Add the record of the next row; raises LocosimError if it cannot be written."""
        new = self.sources.add(source) if source is not None else {}
        lines = _line(new) if new else b""
        try:
            self._file.write(lines + _line([self._count, record.values, record.problem]))
            self._file.flush()
        except OSError as wrong:
            raise LocosimError(
                f"{self.path}: cannot be written: {system_reason(wrong)}; the same command goes on when that is put "
                "right"
            ) from None
        self._count += 1
        self.problems += bool(record.problem)
        self._unsynced += 1
        if self._unsynced >= SYNC_INTERVAL:
            os.fsync(self._file.fileno())
            self._unsynced = 0

    def close(self) -> None:
        """End adding; the file stays."""
        with contextlib.suppress(OSError):  # what a full disk did not take is computed again
            self._file.close()

    def _give_up(self) -> None:
        """Close a file that could not be begun, and remove it if nothing is in it."""
        if self.path.stat().st_size == 0:
            self.path.unlink()
        self.close()

    def remove(self) -> None:
        """Remove the file, after the table has been written."""
        self.path.unlink(missing_ok=True)
        self.close()

    def _restore(self, batch: str) -> None:
        """Read what is there, and cut off what a stop left unfinished."""
        self._file.seek(0)
        header = {"locosim batch journal": FORMAT, "batch": batch}
        first = self._file.readline()
        if not first.endswith(b"\n"):
            if first and not _line(header).startswith(first[:20]):
                raise LocosimError(f"{self.path}: is no journal of a batch; move it, or name another output")
            self._file.truncate(0)
            self._file.write(_line(header))
            self._file.flush()
            return
        self._check_header(first, header)
        whole = self._file.tell()
        for line in self._file:
            if not line.endswith(b"\n") or not self._take(line):
                break
            whole += len(line)
        self._file.truncate(whole)
        self._check_files()

    def _check_header(self, first: bytes, header: dict[str, Any]) -> None:
        found = _parsed(first)
        if not isinstance(found, dict) or found.get("locosim batch journal") is None:
            raise LocosimError(f"{self.path}: is no journal of a batch; move it, or name another output")
        if found != header:
            raise LocosimError(
                f"{self.path}: is the journal of a batch with other rows, other results or another version of locosim; "
                "finish that one first, name another output, or add --restart to start over"
            )

    def _take(self, line: bytes) -> bool:
        """Take a line; False if it is broken."""
        entry = _parsed(line)
        if isinstance(entry, dict):
            self.sources.restore(entry)
            return True
        if not isinstance(entry, list) or len(entry) != 3 or entry[0] != self._count:
            return False
        self._count += 1
        self.problems += bool(entry[2])
        return True

    def _check_files(self) -> None:
        """Refuse to go on with other files than those the rows done were made from."""
        for path, digest in self.sources.files.items():
            try:
                same = hashlib.sha256(Path(path).read_bytes()).hexdigest() == digest
            except OSError:
                same = False
            if not same:
                raise LocosimError(
                    f"{path}: has changed since row {self._count} was computed from it; add "
                    f"--restart to start over, or put the file back to go on from {self.path}"
                )


def _line(entry: Any) -> bytes:
    return json.dumps(entry, separators=(",", ":"), ensure_ascii=False).encode() + b"\n"


def _parsed(line: bytes) -> Any:
    try:
        return json.loads(line)
    except ValueError:
        return None


def _lock(file: IO[bytes], path: Path) -> None:
    """Refuse to write a journal that another process writes; where the system has no such locks, nothing is done."""
    try:
        import fcntl
    except ImportError:
        return
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as wrong:
        if wrong.errno not in (errno.EAGAIN, errno.EACCES):
            return  # a file system without locks
        raise LocosimError(
            f"{path}: another batch is writing this journal; wait for it, or name another output"
        ) from None
