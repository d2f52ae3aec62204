"""Independent questions of one command, answered side by side on the cores of the machine.

A command that has loaded everything and run its base plan forks: its children share all that by copy on write, which
takes some milliseconds, where a new process would load everything again. That is sound only on Linux and in a process
with a single thread, and is done only where a program asks for it by `answering_side_by_side`; the command line does.
Everywhere else, and in the children, questions are answered one after the other. Answers are the same.
"""

from __future__ import annotations

import gc
import io
import os
import pickle
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, TypeVar

R = TypeVar("R")

TICKET = 2  # bytes of the number of a question in the queue
MAX_QUESTIONS = 10_000  # the queue is a pipe, which holds 64 kB

_wanted = False


@contextmanager
def answering_side_by_side() -> Iterator[None]:
    """Context in which `answer_each` may use all cores by forking this process."""
    global _wanted
    before, _wanted = _wanted, True
    try:
        yield
    finally:
        _wanted = before


def answer_each(questions: Sequence[Callable[[], R]], *, known: Iterable[object] = ()) -> list[R]:
    """Answers to independent questions, in their order.

    Args:
        questions: Functions whose results depend on nothing that another one does.
        known: Objects of which many answers have a part, such as the plan and the performance of the engine. They
            and their fields come back from another process as the same objects, not as copies.

    Raises:
        Exception: What the first question raises that fails.
    """
    count = min(_cores(), len(questions)) if may_fork() and len(questions) <= MAX_QUESTIONS else 1
    found = _answered_by(count, questions, known) if count > 1 else {}
    # An answer that is missing failed, or its process was killed; here it fails as it would have without the others.
    return [found[k] if k in found else question() for k, question in enumerate(questions)]


def may_fork() -> bool:
    """Whether this process may be forked: a program asked for it, and it has a single thread on Linux."""
    return _wanted and sys.platform == "linux" and hasattr(os, "memfd_create") and _threads() == 1


def _threads() -> int:
    """Threads of this process, those of libraries included; 0 where the system does not tell."""
    try:
        return len(list(Path("/proc/self/task").iterdir()))
    except OSError:
        return 0


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1


def _answered_by(count: int, questions: Sequence[Callable[[], R]], known: Iterable[object]) -> dict[int, R]:
    """Answers by the number of the question, found by this process and its children; those that fail are left out."""
    global _wanted
    shared = _with_fields(known)
    queue = _queue(len(questions))
    running: dict[int, int] = {}  # file of the answers, by process
    _wanted = False
    try:
        for _ in range(count - 1):
            with suppress(OSError):  # no memory left, or too many processes: the others do its part
                file = os.memfd_create("answers")
                child = os.fork()
                if child == 0:
                    _answer_and_end(questions, queue, file, shared)
                running[child] = file
        found = dict(_answers(questions, queue))
        for child in list(running):
            os.waitpid(child, 0)
            found |= _read_answers(running.pop(child), shared)
    finally:
        _wanted = True
        os.close(queue)
        for child, file in running.items():
            os.close(file)
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
    return found


def _queue(count: int) -> int:
    """Reading end of a pipe with the numbers of all questions, from which each process takes the next."""
    reading, writing = os.pipe()
    os.write(writing, b"".join(number.to_bytes(TICKET, "big") for number in range(count)))
    os.close(writing)
    return reading


def _answers(questions: Sequence[Callable[[], R]], queue: int) -> Iterator[tuple[int, R]]:
    """Answers to the questions that this process takes, each with its number."""
    while ticket := os.read(queue, TICKET):
        number = int.from_bytes(ticket, "big")
        with suppress(Exception):
            yield number, questions[number]()


def _answer_and_end(
    questions: Sequence[Callable[[], Any]], queue: int, file: int, shared: Sequence[object]
) -> None:
    """Answer questions in a child, and end it; it leaves Ctrl-C to its parent, and ends when that has ended."""
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        gc.disable()  # a collection would copy all memory that is shared with the parent
        parent = os.getppid()
        with open(file, "wb", closefd=False) as written:
            for numbered in _answers(questions, queue):
                if os.getppid() != parent:
                    break
                with suppress(Exception):  # one that cannot be pickled is found again by the parent
                    written.write(_pickled(numbered, shared))
                    written.flush()
    finally:
        os._exit(0)


def _read_answers(file: int, shared: Sequence[object]) -> dict[int, Any]:
    """Answers that a child has left in its file; the last may be cut off where it was killed."""
    found: dict[int, Any] = {}
    os.lseek(file, 0, os.SEEK_SET)
    with open(file, "rb") as written, suppress(EOFError, pickle.UnpicklingError):
        while True:
            number, value = _Unpickler(written, shared).load()
            found[number] = value
    return found


def _with_fields(known: Iterable[object]) -> list[object]:
    """Objects and, of dataclasses and named tuples, their fields."""
    found: list[object] = []
    for each in known:
        names = [f.name for f in fields(each)] if is_dataclass(each) else getattr(each, "_fields", ())
        found += [each, *(getattr(each, name) for name in names)]
    return [each for each in found if not isinstance(each, str | float | int | bool | type(None))]


def _pickled(value: object, shared: Sequence[object]) -> bytes:
    buffer = io.BytesIO()
    _Pickler(buffer, shared).dump(value)
    return buffer.getvalue()


class _Pickler(pickle.Pickler):
    """A pickler that writes the number of an object that both processes have."""

    def __init__(self, file: Any, shared: Sequence[object]) -> None:
        super().__init__(file, protocol=pickle.HIGHEST_PROTOCOL)
        self._numbers = {id(each): number for number, each in enumerate(shared)}

    def persistent_id(self, obj: object) -> int | None:
        """Number of a shared object; None for others."""
        return self._numbers.get(id(obj))


class _Unpickler(pickle.Unpickler):
    """Its counterpart."""

    def __init__(self, file: Any, shared: Sequence[object]) -> None:
        super().__init__(file)
        self._shared = shared

    def persistent_load(self, pid: int) -> object:
        """The shared object with a number."""
        return self._shared[pid]
