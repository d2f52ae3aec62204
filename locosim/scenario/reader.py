"""The public functions that read scenario files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.model.assumptions import Assumptions
from locosim.model.day import Day
from locosim.model.excursion import Excursion
from locosim.model.locomotive import Locomotive
from locosim.model.route import Route
from locosim.model.train import Train
from locosim.scenario.build import build
from locosim.scenario.files import READ_EACH_TIME, Files, KeptFiles
from locosim.scenario.overrides import apply_change
from locosim.scenario.source import Table

T = TypeVar("T")


def load_excursion(
    path: str | Path, changes: Sequence[str] = (), *, kept: KeptFiles | None = None
) -> Excursion:
    """Read an excursion with its locomotive, train, route and assumptions.

    Args:
        path: The TOML file.
        changes: Changes as `key.path=value`, such as `train.vehicles[1].count=9` or `rail=wet`.
        kept: Files kept from excursions read before, and for the next ones.

    Returns:
        The excursion. Its `provenance` lists every file read, CSV files too, and the changes in effect.

    Raises:
        ScenarioError: With every problem of the file, of the files it names, and of the changes.
    """
    if kept is not None:
        try:
            return _load(Excursion, path, changes, kept)
        except ScenarioError:
            pass  # files are kept without their problems: read them again for the whole message
    return _load(Excursion, path, changes)


def load_day(path: str | Path, changes: Sequence[str] = (), *, keep: Callable[[str], bool] = bool) -> Day:
    """Read a day with the excursions of its legs.

    Args:
        path: The TOML file.
        changes: Changes as `key.path=value`, such as `legs[2].excursion.rail=wet`. They come after those that the file
            gives for its legs.
        keep: Whether a change is made; for both kinds.

    Returns:
        The day, with provenance as by `load_excursion`.

    Raises:
        ScenarioError: With every problem of the file, of the files it names, and of the changes.
    """
    root = _read_root(path)
    problems: list[Problem] = []
    # A change that names another excursion or other changes of a leg comes first.
    early = [change for change in changes if change.partition("=")[0].count(".") < 2]
    late = [change for change in changes if change not in early]
    for change in filter(keep, early):
        apply_change(change, root, Day, problems)
    for change in filter(keep, [*_leg_changes(root), *late]):
        apply_change(change, root, Day, problems)
    return _built(Day, path, root, problems)


def _leg_changes(root: Table) -> list[str]:
    """Changes that a day gives for its legs, with the path from the day."""
    legs = root.entries.get("legs", [])
    return [
        f"legs[{number}].excursion.{change}"
        for number, leg in enumerate(legs if isinstance(legs, list) else [], start=1)
        if isinstance(leg, Table)
        for change in _texts(leg.entries.get("changes", []))
    ]


def _texts(values: Any) -> list[str]:
    """The texts in a list; what is none is a problem found later."""
    return [value for value in values if isinstance(value, str)] if isinstance(values, list) else []


def load_locomotive(path: str | Path, changes: Sequence[str] = ()) -> Locomotive:
    """Read a locomotive; arguments and errors as for `load_excursion`."""
    return _load(Locomotive, path, changes)


def load_train(path: str | Path, changes: Sequence[str] = ()) -> Train:
    """Read a train; arguments and errors as for `load_excursion`."""
    return _load(Train, path, changes)


def load_route(path: str | Path, changes: Sequence[str] = ()) -> Route:
    """Read a route with its profile; arguments and errors as for `load_excursion`."""
    return _load(Route, path, changes)


def split_assumption_changes(changes: Sequence[str]) -> tuple[Assumptions, list[str]]:
    """Separate changes of assumptions from those of a file that has none, such as a locomotive's.

    Args:
        changes: Changes as `key.path=value`.

    Returns:
        The assumptions with changes such as `assumptions.air_lag=25 s` made, and all other changes.

    Raises:
        ScenarioError: With every problem of the assumptions.
    """
    root = Table(Path("--change"), "", {"assumptions": Table(Path("--change"), "assumptions", {})})
    problems: list[Problem] = []
    rest: list[str] = []
    for change in changes:
        if change.strip().startswith("assumptions."):
            apply_change(change, root, Excursion, problems)
        else:
            rest.append(change)
    assumptions = build(Assumptions, root.entries["assumptions"], problems)
    if assumptions is None or problems:
        raise ScenarioError("assumptions", problems)
    return assumptions, rest


def _load(model: type[T], path: str | Path, changes: Sequence[str], files: Files = READ_EACH_TIME) -> T:
    """Read one file of any kind."""
    root = _read_root(path, files)
    problems: list[Problem] = []
    for change in changes:
        apply_change(change, root, model, problems, files)
    return _built(model, path, root, problems, files)


def _read_root(path: str | Path, files: Files = READ_EACH_TIME) -> Table:
    """The tree of a file that a user names, to make changes in."""
    try:
        return files.tree(Path(path)).copy()
    except LocosimError as error:
        raise ScenarioError(str(path), [Problem("", str(error))]) from None


def _built(
    model: type[T], path: str | Path, root: Table, problems: list[Problem], files: Files = READ_EACH_TIME
) -> T:
    """The description of a tree, if there is no problem."""
    built = build(model, root, problems, files)
    if built is None or problems:
        raise ScenarioError(str(path), problems)
    return built
