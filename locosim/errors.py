"""Errors that a user can cause; any other exception is a bug of locosim."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field
from difflib import get_close_matches
from typing import NamedTuple

from locosim.frozen import frozen

MAX_SHOWN = 40  # problems of one file that its message shows

Figure = float | str


class LocosimError(Exception):
    """Base class of every error that a user can cause and correct."""


def format_figure(value: Figure, unit: str) -> str:
    """A figure of a fault with its unit; a text is unchanged."""
    return value if isinstance(value, str) else f"{value:g} {unit}".rstrip()


@frozen(kw_only=False)
class Fault:
    """One thing that is wrong, with placeholders for figures, so that the reader can show them in the user's units.

    Attributes:
        key: Path of the key or argument, such as `travel` or `stops[2].station`.
        text: What is wrong and what to write, with the names of figures in braces.
        unit: Unit of the figures that are numbers.
        figures: Figures by name; `found` is the value given for the key.
    """

    key: str
    text: str
    unit: str = ""
    figures: Mapping[str, Figure] = field(default_factory=dict)

    def format(self, show: Callable[[Figure, str], str] = format_figure) -> str:
        """The text with its figures; `show` formats a figure with its unit."""
        if not self.figures:
            return self.text
        return self.text.format_map({name: show(value, self.unit) for name, value in self.figures.items()})


class OutOfRange(LocosimError, ValueError):
    """A value outside the physically or technically allowed range.

    Attributes:
        faults: The faults, if they are known one by one.
    """

    def __init__(self, message: str, faults: Sequence[Fault] = ()) -> None:
        self.faults = tuple(faults)
        super().__init__(message)

    @classmethod
    def by(cls, faults: Sequence[Fault], owner: str = "") -> OutOfRange:
        """The error of some faults; `owner` is written before their keys."""
        parts = [f"{f'{owner}.{fault.key}'.strip('.')} {fault.format()}" for fault in faults]
        return cls("; ".join(parts), faults)


class NoSolution(OutOfRange):
    """Values that are allowed one by one but together have no solution.

    Attributes:
        what: What cannot be computed.
        remedy: What to check.
    """

    def __init__(self, what: str, remedy: str) -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(f"{what}; {remedy}")


class UnitError(LocosimError, ValueError):
    """A text that cannot be read as a quantity of the expected kind."""


class Problem(NamedTuple):
    """One problem of a file, as a line of the message."""

    file: str
    text: str

    def __str__(self) -> str:
        """The line."""
        return ": ".join(part for part in self if part)


class ScenarioError(LocosimError):
    """All problems of one file and of the files it names.

    Attributes:
        source: The file, as named by the user.
        problems: One line per problem: file, key, what was found, what is allowed, what to write.
    """

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(str(problem) for problem in problems)
        count = len(problems)
        lines = [f"{source}: {count} problem{'s' if count != 1 else ''}"]
        problems_per_file: dict[str, int] = {}
        for problem in problems:
            seen = problems_per_file[problem.file] = problems_per_file.get(problem.file, 0) + 1
            if seen <= MAX_SHOWN:
                lines.append(f"  {problem}")
        lines += [
            f"  {file}: and {seen - MAX_SHOWN} more, not shown"
            for file, seen in problems_per_file.items()
            if seen > MAX_SHOWN
        ]
        super().__init__("\n".join(lines))


class OutputExists(LocosimError):
    """A file that would be overwritten."""


def system_reason(error: OSError | ValueError) -> str:
    """Reason why the system refused a file, as the end of a message: `permission denied`."""
    return (getattr(error, "strerror", None) or str(error) or "no reason given").lower()


def nearest(word: str, known: Iterable[str], *, similarity: float = 0.6) -> str | None:
    """The known word most similar to a misspelled one; None if none is similar."""
    near = get_close_matches(word, list(known), n=1, cutoff=similarity)
    return near[0] if near else None


def suggestion(word: str, known: Iterable[str]) -> str:
    """Suggest the most similar of the known words, or list them all."""
    known = list(known)
    near = nearest(word, known)
    return f"did you mean {near!r}?" if near else f"there are {', '.join(known)}"
