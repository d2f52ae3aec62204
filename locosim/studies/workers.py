"""A function over many items on all cores: results in order, and an item that fails stops nothing."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from itertools import islice
from typing import Any, Generic, Protocol, TypeVar

from locosim.errors import LocosimError, OutOfRange, ScenarioError
from locosim.frozen import frozen
from locosim.side_by_side import may_fork

T = TypeVar("T")
R = TypeVar("R")

CHUNK = 16  # items sent to a worker at once
MAX_CHUNKS_AHEAD = 3  # for each worker, so that none waits and the memory stays flat
ENDED = "the worker process ended while it computed this, perhaps for lack of memory"


@frozen
class Outcome(Generic[R]):
    """What became of one item.

    Attributes:
        value: The result; None where there is none.
        problem: Why there is none; empty where there is one.
    """

    value: R | None = None
    problem: str = ""


def usable_cores() -> int:
    """Number of cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def run_each(
    function: Callable[[T], R],
    items: Iterable[T],
    *,
    jobs: int | None = None,
    pool: Pool | None = None,
    chunk: int = CHUNK,
    fork: bool = False,
) -> Iterator[Outcome[R]]:
    """Run a function over items on several cores.

    The processes are new ones, unless a fork is allowed and sound (`side_by_side.may_fork`): one of a process that
    has run threads can hang. In a script, the call must therefore be under `if __name__ == "__main__":`, except with
    one job.

    Args:
        function: A function that can be pickled: one of a module, or a `functools.partial` of one.
        items: Items that can be pickled; taken as they are needed.
        jobs: Number of processes; None for all cores. One job runs in this process.
        pool: Workers in place of these processes, such as those of a cluster; the caller stops them.
        chunk: Items sent to a worker at once.
        fork: Whether the processes may be forked from this one. They start at once, with all that it has loaded and
            computed, and also with its open files: a lock on one of them would outlive this process.

    Yields:
        The outcome of each item, in the order of the items.

    Raises:
        OutOfRange: Less than one job.
        LocosimError: No worker process can be started, or the workers are lost.
    """
    if jobs is not None and jobs < 1:
        raise OutOfRange(f"jobs must be at least 1, found {jobs}")
    count = jobs or usable_cores()
    if pool is not None:
        yield from _in_order(pool, function, items, chunk)
    elif count == 1:
        yield from map(_Task(function), items)
    else:
        processes = _Processes(count, fork=fork)
        try:
            yield from _in_order(processes, function, items, chunk)
        finally:
            processes.stop()


class Pool(Protocol):
    """Workers to which chunks are given.

    Attributes:
        count: Number of chunks they compute at once.
        broken: Errors that mean that a worker was lost over an item.
        lost: Errors that mean that all workers were lost.
    """

    count: int
    broken: tuple[type[BaseException], ...]
    lost: tuple[type[BaseException], ...]

    def submit(self, run: Callable[[Any], Any], items: Any) -> Future[Any]:
        """Begin a chunk."""

    def restart(self) -> None:
        """Start other workers after one was lost."""


def problem_line(wrong: LocosimError) -> str:
    """What is wrong on one line; of a file, its problems without their number."""
    if not isinstance(wrong, ScenarioError):
        return " ".join(str(wrong).split())
    named = (
        text if ".toml" in text or ".csv" in text else f"{wrong.source}: {text}" for text in wrong.problems
    )
    return " ".join("; ".join(named).split())


@frozen(kw_only=False)
class _Task(Generic[T, R]):
    """A function whose errors are outcomes."""

    function: Callable[[T], R]

    def __call__(self, item: T) -> Outcome[R]:
        try:
            return Outcome(value=self.function(item))
        except LocosimError as wrong:
            return Outcome(problem=problem_line(wrong))
        except Exception as defect:
            return Outcome(
                problem=f"a defect of locosim, please report it: {type(defect).__name__}: {defect}"
            )

    def all(self, items: Sequence[T]) -> list[Outcome[R]]:
        """Outcomes of a chunk."""
        return [self(item) for item in items]


class _Processes:
    """Processes of this machine, started again when one is killed."""

    broken: tuple[type[BaseException], ...] = (BrokenExecutor,)
    lost: tuple[type[BaseException], ...] = ()

    def __init__(self, count: int, *, fork: bool) -> None:
        self.count, self._fork = count, fork
        self._executor = self._start()

    def _start(self) -> ProcessPoolExecutor:
        how = "fork" if self._fork and may_fork() else "spawn"
        return ProcessPoolExecutor(
            self.count, mp_context=multiprocessing.get_context(how), initializer=_prepare_worker
        )

    def submit(self, run: Callable[[Any], Any], items: Any) -> Future[Any]:
        """Begin a chunk; processes started for it ignore Ctrl-C from their first moment."""
        with _interrupt_ignored():
            try:
                return self._executor.submit(run, items)
            except BrokenExecutor:
                self.restart()
                return self._executor.submit(run, items)

    def restart(self) -> None:
        """Start other processes."""
        self._executor.shutdown(wait=False, cancel_futures=True)
        self._executor = self._start()

    def stop(self) -> None:
        """End the processes, without waiting for chunks begun."""
        processes = list((getattr(self._executor, "_processes", None) or {}).values())
        self._executor.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()


@contextmanager
def _interrupt_ignored() -> Iterator[None]:
    """Ignore Ctrl-C for a moment, which processes started in it inherit."""
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread may change what a signal does
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _prepare_worker() -> None:
    """Leave Ctrl-C to the parent process, and end when that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    gc.freeze()  # a collection would copy all memory of a forked process
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)


def _in_order(pool: Pool, function: Callable[[T], R], items: Iterable[T], chunk: int) -> Iterator[Outcome[R]]:
    """Outcomes in order; at most some chunks are begun ahead of the one awaited."""
    task, source = _Task(function), iter(items)
    begun: deque[tuple[list[T], Future[list[Outcome[R]]]]] = deque()
    started = False
    while True:
        while len(begun) < pool.count * MAX_CHUNKS_AHEAD and (part := list(islice(source, chunk))):
            begun.append((part, pool.submit(task.all, part)))
        if not begun:
            return
        part, future = begun.popleft()
        try:
            outcomes = future.result()
        except pool.lost:
            raise LocosimError("the cluster was lost; the same command goes on where it stopped") from None
        except pool.broken:
            pool.restart()
            outcomes = _one_by_one(pool, task, part, started=started)
            begun = deque((part, pool.submit(task.all, part)) for part, _ in begun)
        started = True
        yield from outcomes


def _one_by_one(pool: Pool, task: _Task[T, R], part: Sequence[T], *, started: bool) -> list[Outcome[R]]:
    """Outcomes of a chunk whose worker was killed, each item alone, twice if need be."""
    outcomes: list[Outcome[R]] = []
    for item in part:
        outcome = _alone(pool, task, item) or _alone(pool, task, item)
        if outcome is None and not started and not outcomes:
            raise LocosimError(
                'worker processes end at once; in a script, call this under `if __name__ == "__main__":`, or use '
                "one job"
            )
        outcomes.append(outcome or Outcome(problem=ENDED))
    return outcomes


def _alone(pool: Pool, task: _Task[T, R], item: T) -> Outcome[R] | None:
    """Outcome of one item; None if its worker was killed."""
    try:
        found: Outcome[R] = pool.submit(task, item).result()
    except pool.broken:
        pool.restart()
        return None
    return found
