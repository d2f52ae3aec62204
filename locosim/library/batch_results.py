"""Function and result for batches."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from locosim.files_on_disk import noting_reads
from locosim.frozen import frozen
from locosim.library.table import Column, Result
from locosim.report.batch_table import TABLE_SUFFIXES, check_parquet, write_batch
from locosim.report.output_files import check_writable
from locosim.studies.batch import RESULTS, Batch, Progress, batch_digest, run_batch
from locosim.studies.batch_file import read_batch
from locosim.studies.batch_rows import FILE_HEADINGS, BatchRows, ChangedRows, Grid
from locosim.studies.cluster import Cluster
from locosim.studies.records import Journal, KeptRecords, Record
from locosim.units import unit_system


class BatchResult(Result[Batch]):
    """A batch: a row for each case, in the order of its file."""

    command = "batch"

    @property
    def rows(self) -> tuple[Record, ...]:
        """What became of each row, values in SI."""
        return tuple(self.content.records)

    def title(self) -> str:
        """File of the rows, and how many there are."""
        return f"{self.content.name}, {len(self.content.records):,} cases"

    @property
    def method(self) -> str | None:
        """Method of computing the engines; None where they differ or no row was checked."""
        methods = list(self.content.records.sources.names.get("methods", ()))
        return methods[0] if len(methods) == 1 else None

    def columns(self) -> Sequence[Column]:
        """Inputs, results and the problem of each row."""
        batch = self.content
        each = list(batch.each())
        none = (None,) * len(batch.results)
        inputs = [
            Column("row", None, [number for number, _, _ in each]),
            Column("name", None, [row.name for _, row, _ in each]),
            *(
                Column(name, None, [row.files[k] for _, row, _ in each])
                for k, name in enumerate(FILE_HEADINGS)
            ),
            *(
                Column(key, None, [row.values[k] for _, row, _ in each])
                for k, key in enumerate(batch.rows.keys)
            ),
        ]
        results = [
            Column(column.name, column.kind, [(record.values or none)[k] for _, _, record in each])
            for k, column in enumerate(batch.results)
        ]
        return [*inputs, *results, Column("problem", None, [record.problem for _, _, record in each])]


@noting_reads()  # no input is overwritten
def batch(
    rows: str | Path | BatchRows,
    *,
    excursion: str | Path = "",
    changes: Sequence[str] = (),
    columns: Sequence[str] = RESULTS,
    output: str | Path | None = None,
    units: str = "metric",
    overwrite: bool = False,
    restart: bool = False,
    jobs: int | None = None,
    cluster: str | None = None,
    report: Callable[[Progress], None] | None = None,
) -> BatchResult:
    """Check many excursions, on all cores or a cluster.

    In a script, the call must be under `if __name__ == "__main__":`, except with one job: the processes import the
    script.

    Args:
        rows: CSV file with a row for each case, TOML file of a grid, or a `locosim.studies.batch_rows.Grid`.
        excursion: Excursion file of the rows that name none.
        changes: Changes to all rows, as `key=value`, made before their own.
        columns: Names of result columns.
        output: Table to write: .csv or .parquet. A batch that is stopped goes on where it was when it is called again.
        units: Units of the table: `us`, `metric` or `british`.
        overwrite: Replace a table that exists.
        restart: Start over, whatever was done before.
        jobs: Number of processes; None for all cores.
        cluster: Address of the scheduler of a Dask cluster that computes instead.
        report: Called after each row with the progress.

    Raises:
        ScenarioError: The file cannot be read. A row that cannot be checked has its problem in the table.
        OutOfRange: No rows, a result that is not known, or less than one job.
        OutputExists: The table exists and `overwrite` is not set.
        LocosimError: The table cannot be written, its journal is of another batch, or the cluster does not answer.
    """
    found, name = batch_rows(rows, excursion=str(excursion), changes=changes)
    target = None if output is None else TableFile(path=Path(output), overwrite=overwrite, restart=restart)
    with (
        unit_system(units),
        journal_left(found, columns, target) as left,
        running_batch(
            found, columns, target, left=left, name=name, jobs=jobs, cluster=cluster, report=report
        ) as content,
    ):
        if isinstance(content.records, KeptRecords):
            return BatchResult(content)
        kept = KeptRecords()
        kept.sources = content.records.sources
        for record in content.records:
            kept.add(record, None)
    return BatchResult(replace(content, records=kept))


def batch_rows(
    rows: str | Path | BatchRows, *, excursion: str = "", changes: Sequence[str] = ()
) -> tuple[BatchRows, str]:
    """The rows of a batch, with changes to all of them, and what they are called."""
    read = isinstance(rows, str | Path)
    found = read_batch(rows, excursion) if isinstance(rows, str | Path) else rows
    name = Path(str(rows)).name if read else "grid" if isinstance(found, Grid) else "rows"
    return (ChangedRows(found, tuple(changes)) if changes else found), name


@frozen
class TableFile:
    """Table that a batch writes.

    Attributes:
        path: The file, .csv or .parquet.
        overwrite: Replace it if it exists.
        restart: Start over, whatever was done before.
    """

    path: Path
    overwrite: bool = False
    restart: bool = False

    @property
    def journal(self) -> Path:
        """File of the rows done, beside the table."""
        return self.path.with_name(f"{self.path.name}.journal")


@contextmanager
def journal_left(
    rows: BatchRows, results: Sequence[str], table: TableFile | None
) -> Iterator[Journal | None]:
    """The journal that a stopped batch left, open to go on with it; None where there is none. Errors as for `batch`."""
    if table is None or table.restart or not _is_begun(table):
        yield None
        return
    journal = Journal(table.journal, batch_digest(rows, results))
    try:
        yield journal
    finally:
        journal.close()


def _is_begun(table: TableFile) -> bool:
    """Whether a journal is there; a name too long or none has none, and is refused where the table is to be written."""
    try:
        return table.journal.is_file()
    except (OSError, ValueError):
        return False


def all_rows_done(rows: BatchRows, left: Journal | None) -> bool:
    """Whether a stopped batch has done all its rows, so that files it wrote may be there."""
    return left is not None and left.resumed == len(rows)


@contextmanager
def running_batch(
    rows: BatchRows,
    results: Sequence[str],
    table: TableFile | None,
    *,
    left: Journal | None,
    cluster: str | None = None,
    **options: Any,
) -> Iterator[Batch]:
    """Run a batch, or go on with it, and write its table; its records can be read in the context.

    A journal beside the table, named as it with `.journal` added, has the rows done: `left`, as by `journal_left`, or a
    new one. It is removed at the end. A table that is there, as a batch has left that was stopped between its table and
    its end, must be the same. The options are those of `run_batch`; errors as for `batch`.
    """
    written = all_rows_done(rows, left)
    if table is not None:
        check_writable(table.path, force=table.overwrite or written, suffixes=TABLE_SUFFIXES)
        check_parquet(table.path)
    digest = batch_digest(rows, results)
    with _workers(cluster) as workers:
        if table is None:
            yield run_batch(rows, results, cluster=workers, **options)
            return
        journal = left
        if journal is None:
            journal = Journal(table.journal, digest, restart=table.restart)
        try:
            content = run_batch(rows, results, records=journal, cluster=workers, **options)
            write_batch(content, table.path, force=table.overwrite, or_same=written)
            yield content
            journal.remove()
        finally:
            if len(journal):
                journal.close()
            else:
                journal.remove()


@contextmanager
def _workers(address: str | None) -> Iterator[Cluster | None]:
    if address is None:
        yield None
        return
    found = Cluster(address)
    try:
        yield found
    finally:
        found.stop()
