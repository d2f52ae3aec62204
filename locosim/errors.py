"""Errors a user can cause; any other exception is a fault of locosim."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import NamedTuple

MAX_SHOWN = 40  # problems of one file that its message shows

Figure = float | str


class LocosimError(Exception):
    """Base of every error that a user can cause and correct."""


def format_figure(value: Figure, unit: str) -> str:
    """Format a figure of a fault in its own unit; text is returned unchanged."""
    return value if isinstance(value, str) else f"{value:g} {unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, worded so that its figures can be filled in as the user wrote them.

    Attributes:
        key: Path of the key or argument, such as `travel` or `stops[2].station`.
        text: What is wrong and what to write, with names of figures in braces.
        unit: Unit of the figures that are numbers.
        figures: Figures by name; `found` is the value given for the key.
    """

    key: str
    text: str
    unit: str = ""
    figures: Mapping[str, Figure] = field(default_factory=dict)

    def format(self, show: Callable[[Figure, str], str] = format_figure) -> str:
        """The text with its figures filled in; `show` formats one figure, given its unit."""
        if not self.figures:
            return self.text
        return self.text.format_map({name: show(value, self.unit) for name, value in self.figures.items()})


class OutOfRange(LocosimError, ValueError):
    """A value outside what is physically or technically allowed.

    Attributes:
        faults: What is wrong, one by one, if known.
    """

    def __init__(self, message: str, faults: Sequence[Fault] = ()) -> None:
        self.faults = tuple(faults)
        super().__init__(message)

    @classmethod
    def by(cls, faults: Sequence[Fault], owner: str = "") -> OutOfRange:
        """Build the error from faults; `owner` is prefixed to their keys."""
        messages = [f"{f'{owner}.{fault.key}'.strip('.')} {fault.format()}" for fault in faults]
        return cls("; ".join(messages), faults)


class NoSolution(OutOfRange):
    """Values that are allowed one by one but together cannot be computed.

    Attributes:
        what: What cannot be computed.
        remedy: What to check or write.
    """

    def __init__(self, what: str, remedy: str) -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(f"{what}; {remedy}")


class UnitError(LocosimError, ValueError):
    """A text that is not a quantity of the expected kind."""


class Problem(NamedTuple):
    """One thing wrong with a file, as one line of the message."""

    file: str
    text: str

    def __str__(self) -> str:
        """The line."""
        return ": ".join(part for part in self if part)


class ScenarioError(LocosimError):
    """All problems found in one file and in the files it refers to.

    Attributes:
        source: The file, as the user named it.
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
    """An output file that exists and would be overwritten."""


def nearest(word: str, known: Iterable[str], *, similarity: float = 0.6) -> str | None:
    """The known word closest to a misspelled one, or None."""
    near = get_close_matches(word, list(known), n=1, cutoff=similarity)
    return near[0] if near else None


def suggestion(word: str, known: Iterable[str]) -> str:
    """A question with the closest known word, or the list of known words."""
    known = list(known)
    near = nearest(word, known)
    return f"did you mean {near!r}?" if near else f"there are {', '.join(known)}"
