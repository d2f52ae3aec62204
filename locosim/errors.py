"""Errors a user can cause; anything else that is raised is a fault of locosim."""

from __future__ import annotations

from collections.abc import Sequence

MOST_SHOWN = 40  # problems of one file that its message shows


class LocosimError(Exception):
    """Base of every error a user can cause and mend."""


class OutOfRange(LocosimError, ValueError):
    """A value outside what is physically or technically allowed."""


class Unsettled(OutOfRange):
    """Figures, each allowed by itself, that together give nothing that can be computed.

    Attributes:
        what: What cannot be computed.
        remedy: Where to look.
    """

    def __init__(self, what: str, remedy: str) -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(f"{what}; {remedy}")


class UnitError(LocosimError, ValueError):
    """A text that cannot be read as a quantity of the wanted kind."""


class ScenarioError(LocosimError):
    """All the problems found in one file, and in the files it refers to.

    Attributes:
        source: The file as the user named it.
        problems: One line per problem: key, what was found, what is allowed, what to write.
    """

    def __init__(self, source: str, problems: Sequence[str]) -> None:
        self.source = source
        self.problems = tuple(problems)
        count = len(self.problems)
        head = f"{source}: {count} problem{'s' if count != 1 else ''}"
        lines = [f"  {line}" for line in self.problems[:MOST_SHOWN]]
        if count > MOST_SHOWN:
            lines.append(f"  and {count - MOST_SHOWN} more, not shown")
        super().__init__("\n".join([head, *lines]))


class OutputExists(LocosimError):
    """A file that would have been overwritten."""
