"""A batch as a table: a row for each case, as CSV or Parquet, written as it is read."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import IO, Any

from locosim.errors import LocosimError
from locosim.files_on_disk import note_read
from locosim.report.caution import CAUTION, METHODS
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import MadeFrom, made_from
from locosim.report.output_files import CSV_SUFFIXES, writing
from locosim.studies.batch import Batch
from locosim.studies.batch_rows import FILE_HEADINGS, BatchRow
from locosim.studies.records import Record
from locosim.units import label, number, scale

PARQUET_SUFFIXES = (".parquet",)
TABLE_SUFFIXES = (*CSV_SUFFIXES, *PARQUET_SUFFIXES)
ROW_GROUP = 10_000  # rows of a Parquet file that are kept in memory at once
MAX_FILES_LISTED = 40  # a spreadsheet shortens longer cells
_SECONDS = ("time", "clock")


def batch_headings(batch: Batch) -> list[str]:
    """Headings of the columns, with units."""
    results = [result_heading(column.name, column.kind) for column in batch.results]
    return ["row", "name", *FILE_HEADINGS, *batch.rows.keys, *results, "problem"]


def result_heading(name: str, kind: str | None) -> str:
    """Heading of a result with its unit in the system in force; times are in seconds."""
    if kind in _SECONDS:
        return f"{name} [s]"
    unit = "" if kind is None else label(kind) if kind == "temperature" else scale(kind)[1]
    return f"{name} [{unit}]" if unit else name


def batch_cells(batch: Batch, index: int, row: BatchRow, record: Record) -> list[Any]:
    """Cells of a row: texts, numbers in the system of units in force, and None where there is none."""
    found = record.values or [None] * len(batch.results)
    values = [_in_unit(value, column.kind) for value, column in zip(found, batch.results, strict=True)]
    return [index, row.name, *row.files, *row.values, *values, record.problem]


def batch_csv(batch: Batch) -> str:
    """Write a batch as CSV; what it was made from is in columns at the right, in the first row."""
    return "".join(_csv_lines(batch))


def write_batch(batch: Batch, path: Path, *, force: bool, or_same: bool = False) -> None:
    """Write a batch as a file, whole or not at all, without keeping its rows in memory.

    Args:
        batch: The batch.
        path: The file: .csv or .parquet.
        force: Overwrite an existing file.
        or_same: Leave an existing file that has this content.

    Raises:
        OutputExists: The file exists, `force` is not set, and it is not the same.
        LocosimError: The file cannot be written, or pyarrow is not installed for .parquet.
    """
    parquet = path.suffix.lower() in PARQUET_SUFFIXES
    write: Callable[[Batch, IO[bytes]], None] = _write_parquet if parquet else _write_csv
    for read in batch.records.sources.files:  # by the worker processes
        note_read(Path(read))
    with writing(path, force=force, or_same=or_same) as file:
        write(batch, file)


def check_parquet(path: Path) -> None:
    """Check before a batch runs that its table can be written; raises LocosimError if pyarrow is not installed."""
    if path.suffix.lower() in PARQUET_SUFFIXES:
        _pyarrow()


def _in_unit(value: Any, kind: str | None) -> Any:
    if value is None or kind is None or kind in _SECONDS:
        return value
    return float(number(value, kind))


def _csv_lines(batch: Batch) -> Iterator[str]:
    source = _source(batch)
    yield _csv_line([*batch_headings(batch), *source])
    for index, row, record in batch.each():
        notes = list(source.values()) if index == 1 else [""] * len(source)
        yield _csv_line([*map(_cell, batch_cells(batch, index, row, record)), *notes])


def _csv_line(cells: Sequence[Any]) -> str:
    line = io.StringIO()
    TableWriter(line).writerow(cells)
    return line.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def _source(batch: Batch) -> dict[str, str]:
    """What the table was made from, by heading."""
    source = made_from(batch)
    return {
        "locosim": source.version,
        "batch": batch.name,
        "method": "; ".join(METHODS[method] for method in batch.records.sources.names.get("methods", ())),
        "files": _files(source),
        "caution": CAUTION,
    }


def _files(source: MadeFrom) -> str:
    """The files with their hashes, or how many there are and the hash of their list."""
    texts = [f"{path} sha256:{digest}" for path, digest in source.files]
    if len(texts) <= MAX_FILES_LISTED:
        return "; ".join(texts)
    return (
        f"{len(texts)} files; their list has sha256:{hashlib.sha256('; '.join(texts).encode()).hexdigest()}"
    )


def _write_csv(batch: Batch, file: IO[bytes]) -> None:
    for line in _csv_lines(batch):
        file.write(line.encode())


def _write_parquet(batch: Batch, file: IO[bytes]) -> None:
    pa, pq = _pyarrow()
    texts = ["name", *FILE_HEADINGS, *batch.rows.keys]
    kinds = [pa.string() if column.kind is None else pa.float64() for column in batch.results]
    types = [pa.int64(), *(pa.string() for _ in texts), *kinds, pa.string()]
    notes = {f"locosim {name}" if name != "locosim" else name: text for name, text in _source(batch).items()}
    schema = pa.schema(list(zip(batch_headings(batch), types, strict=True)), metadata=notes)
    rows = (batch_cells(batch, *each) for each in batch.each())
    with pq.ParquetWriter(file, schema) as writer:
        while group := list(islice(rows, ROW_GROUP)):
            columns = [
                pa.array(cells, type=kind)
                for cells, kind in zip(zip(*group, strict=True), types, strict=True)
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))


def _pyarrow() -> tuple[Any, Any]:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise LocosimError(
            "a .parquet file needs pyarrow, which is not installed; install it with `pip install 'locosim[parquet]'`, "
            "or name a .csv file"
        ) from None
    return pa, pq
