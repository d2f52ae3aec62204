"""Cases: excursions that differ in a few keys or files, read without reading each file again."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from locosim.frozen import frozen
from locosim.loading import load_excursion
from locosim.model import Excursion
from locosim.scenario import KeptFiles


@frozen
class Case:
    """An excursion of a study.

    Attributes:
        excursion: Its file.
        engine: Engine file in place of the one the excursion names; empty for that one.
        train: Train file, likewise.
        route: Route file, likewise.
        changes: Changes as `key=value` with a key of the excursion file or of a file it names, made after the files
            are replaced.
    """

    excursion: str
    engine: str = ""
    train: str = ""
    route: str = ""
    changes: tuple[str, ...] = ()

    @property
    def all_changes(self) -> tuple[str, ...]:
        """Changes of the excursion file, those that name other files first."""
        folder = Path(self.excursion).parent
        files = {"locomotive": self.engine, "train": self.train, "route": self.route}
        named = (f"{key}={os.path.relpath(file, folder)}" for key, file in files.items() if file)
        return (*named, *self.changes)

    def with_changes(self, changes: Iterable[str]) -> Case:
        """The case with more changes, made after its own."""
        return replace(self, changes=(*self.changes, *changes))


class CaseReader:
    """Reads cases; each file is read once.

    Cases share what they have in common as the same objects, such as the route, which the check finds prepared. A file
    that changes on the disk is not read again.
    """

    def __init__(self) -> None:
        self._kept = KeptFiles()

    def excursion(self, case: Case) -> Excursion:
        """The excursion of a case, the same as `load_excursion` reads.

        Raises:
            ScenarioError: With every problem of the files and the changes.
        """
        return load_excursion(case.excursion, changes=case.all_changes, kept=self._kept)
