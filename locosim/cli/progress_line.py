"""Progress of many runs on a terminal, on one line; nothing in a pipe."""

from __future__ import annotations

import sys
import time

INTERVAL = 0.5  # between two states of the line [s]


class ProgressLine:
    """The line; cleared at the end of a `with` block.

    Args:
        what: What is counted, such as `rows`.

    Attributes:
        done: How many are done.
    """

    def __init__(self, what: str) -> None:
        self.done = 0
        self._what = what
        self._begun, self._shown = time.monotonic(), 0.0
        self._terminal = sys.stderr.isatty()

    def __enter__(self) -> ProgressLine:
        """The line itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Clear the line."""
        self.end()

    def show(self, done: int, total: int, *, left: float | None = None, problems: int = 0) -> None:
        """Show how far it has come.

        Args:
            done: How many are done.
            total: How many there are.
            left: Time left [s]; at the rate so far if omitted.
            problems: How many of those done have no result.
        """
        self.done = done
        now = time.monotonic()
        if not self._terminal or now - self._shown < INTERVAL:
            return
        self._shown = now
        if left is None and done:
            left = (now - self._begun) * (total - done) / done
        failed = f", {problems:,} not checked" if problems else ""
        wait = "" if left is None else f", {duration_text(left)} left"
        line = f"{done:,} of {total:,} {self._what} ({100 * done // total} %){failed}{wait}"
        sys.stderr.write(f"\r{line}\x1b[K")
        sys.stderr.flush()

    def end(self) -> None:
        """Clear the line."""
        if self._terminal and self._shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()


def duration_text(seconds: float) -> str:
    """A duration in the two largest units."""
    minutes, seconds = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes} min"
    return f"{minutes} min {seconds} s" if minutes else f"{seconds} s"
