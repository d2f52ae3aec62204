"""Batches: a check for each of many rows, on all cores or a cluster, stopped and resumed without a row lost."""

from __future__ import annotations

import hashlib
import math
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache, partial

from locosim.code_digest import code_digest
from locosim.compiled import cache_folder
from locosim.engine.performance import compute_excursion_performance
from locosim.errors import LocosimError, OutOfRange
from locosim.frozen import frozen
from locosim.model import Excursion
from locosim.planning.bands import with_bands, with_bands_that_count
from locosim.planning.check import Check, run_and_check
from locosim.planning.trial_runs import Needs, find_needs
from locosim.studies.batch_rows import BatchRow, BatchRows
from locosim.studies.cases import Case, CaseReader
from locosim.studies.cluster import ALL_CODE, Cluster
from locosim.studies.records import KeptRecords, Record, Records, RowSource, row_source
from locosim.studies.result_columns import ASSUMPTIONS, ResultColumn, Value, result_columns
from locosim.studies.workers import CHUNK, Outcome, run_each, usable_cores

FEW_ROWS = 30  # that take no longer than starting processes
ALIKE_ROWS = (
    8  # with the same files, from which on it is worth to find the needs of these files by themselves
)
CHUNKS_PER_WORKER = 8  # or more, so that all end at about the same time
RESULTS = ("verdict", "margin", "rule", "place", "time", "water", "fuel")


@frozen(eq=False)
class Batch:
    """A batch that has run.

    Attributes:
        rows: Its rows.
        results: Columns of results.
        records: What became of each row.
        name: File of the rows, or what else names the batch.
    """

    rows: BatchRows
    results: tuple[ResultColumn, ...]
    records: Records
    name: str

    def each(self) -> Iterator[tuple[int, BatchRow, Record]]:
        """Number of each row, counted from 1, the row and its record."""
        for index, record in enumerate(self.records):
            yield index + 1, self.rows[index], record

    def result(self, name: str) -> int | None:
        """Place of a result in the values of a record; None where the batch does not have it."""
        names = [each.name for each in self.results]
        return names.index(name) if name in names else None


@frozen
class Progress:
    """How far a batch has come.

    Attributes:
        done: Rows done.
        total: Rows of the batch.
        problems: Rows done that have a problem.
        elapsed: Time since it was begun or resumed [s].
        left: Time left at the rate so far [s].
    """

    done: int
    total: int
    problems: int
    elapsed: float
    left: float


def batch_digest(rows: BatchRows, results: Sequence[str]) -> str:
    """What a batch is: its rows, its results and the code, so that a journal is resumed by the same one only.

    Raises:
        OutOfRange: No rows, or a result that is not known.
    """
    if not len(rows):
        raise OutOfRange("the batch has no rows")
    result_columns(results)
    parts = (rows.digest(), tuple(results), code_digest(ALL_CODE, cache_folder()))
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def run_batch(
    rows: BatchRows,
    results: Sequence[str] = RESULTS,
    *,
    name: str,
    records: Records | None = None,
    jobs: int | None = None,
    cluster: Cluster | None = None,
    report: Callable[[Progress], None] | None = None,
) -> Batch:
    """Check the rows that are not done yet.

    Each verdict is the one of `check` for the same excursion and changes. What a row gives does not depend on the
    other rows, nor on how they are divided between processes.

    Args:
        rows: The rows.
        results: Names of result columns.
        name: File of the rows, or what else names the batch.
        records: Where the rows done are kept, and those done before; in memory if omitted.
        jobs: Number of processes; None for all cores, or this one where the rows are few.
        cluster: A cluster that computes in place of this machine.
        report: Called after each row.

    Raises:
        OutOfRange: A result that is not known, or less than one job.
    """
    columns = result_columns(results)
    kept: Records = KeptRecords() if records is None else records
    names = tuple(column.name for column in columns)
    before, begun = len(kept), time.monotonic()
    waiting = (rows[index] for index in range(before, len(rows)))
    left = len(rows) - before
    usual = usable_cores() if left >= FEW_ROWS else 1
    workers = cluster.count if cluster is not None else usual if jobs is None else jobs
    chunk = min(max(left // max(workers * CHUNKS_PER_WORKER, 1), 1), CHUNK)
    alike = len(rows) >= ALIKE_ROWS * rows.files_count()
    outcomes = run_each(
        partial(check_row, names, alike=alike), waiting, jobs=workers, pool=cluster, chunk=chunk
    )
    for done, outcome in enumerate(outcomes, start=1):
        record, source = _recorded(outcome)
        kept.add(record, source)
        if report is not None:
            elapsed = time.monotonic() - begun
            time_left = elapsed / done * (left - done)
            report(
                Progress(
                    done=before + done,
                    total=len(rows),
                    problems=kept.problems,
                    elapsed=elapsed,
                    left=time_left,
                )
            )
    return Batch(rows=rows, results=columns, records=kept, name=name)


def _recorded(outcome: Outcome[tuple[Record, RowSource]]) -> tuple[Record, RowSource | None]:
    if outcome.value is None:
        return Record((), outcome.problem), None
    return outcome.value


_READER = CaseReader()  # of this process, so that its files stay read from one row to the next


def check_row(results: Sequence[str], row: BatchRow, *, alike: bool = False) -> tuple[Record, RowSource]:
    """Values of the results of one row, and what it was made from.

    Args:
        results: Names of result columns.
        row: The row.
        alike: Whether many rows have its files: the needs of the files by themselves then begin its search, which
            gives the same sooner, whatever was computed before.

    Raises:
        LocosimError: The row has a problem.
    """
    excursion, engine, train, route = row.files
    case = Case(excursion=excursion, engine=engine, train=train, route=route, changes=row.changes)
    found = _READER.excursion(case)
    near = _needs_of(replace(case, changes=())) if alike else None
    check = (
        with_bands(run_and_check(found, near=near))
        if ASSUMPTIONS in results
        else check_as_alone(found, near=near)
    )
    values = tuple(_finite(column.value(check)) for column in result_columns(results))
    return Record(values), row_source(found)


@lru_cache(16)
def _needs_of(case: Case) -> Needs | None:
    """Needs of a case; None where it has a problem, which is no problem of a row that changes it."""
    try:
        excursion = _READER.excursion(case)
        return find_needs(excursion, compute_excursion_performance(excursion))
    except LocosimError:
        return None


def _finite(value: Value) -> Value:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def check_as_alone(excursion: Excursion, *, near: Needs | None = None) -> Check:
    """The check of an excursion, with the verdict and the worst finding that `check` gives.

    Bands only make a clear finding tight. They are computed where that would change the worst finding.

    Args:
        excursion: The excursion.
        near: Needs of a similar one, from which the search for its needs begins.
    """
    return with_bands_that_count(run_and_check(excursion, near=near))
