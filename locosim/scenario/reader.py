"""The public functions that read scenario files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.model.assumptions import Assumptions
from locosim.model.excursion import Excursion
from locosim.model.locomotive import Locomotive
from locosim.model.route import Route
from locosim.model.train import Train
from locosim.scenario.build import build
from locosim.scenario.overrides import apply_change
from locosim.scenario.source import Table, read_toml

T = TypeVar("T")


def load_excursion(path: str | Path, changes: Sequence[str] = ()) -> Excursion:
    """Read an excursion with its locomotive, train, route and assumptions.

    Args:
        path: The TOML file.
        changes: Changes as `key.path=value`, such as `train.vehicles[1].count=9` or `rail=wet`.

    Returns:
        The excursion. Its `provenance` lists every file read, CSV files too, and the changes in effect.

    Raises:
        ScenarioError: With every problem of the file, of the files it names, and of the changes.
    """
    return _load(Excursion, path, changes)


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


def _load(model: type[T], path: str | Path, changes: Sequence[str]) -> T:
    """Read one file of any kind."""
    problems: list[Problem] = []
    try:
        root = read_toml(Path(path))
    except LocosimError as error:
        raise ScenarioError(str(path), [Problem("", str(error))]) from None
    for change in changes:
        apply_change(change, root, model, problems)
    built = build(model, root, problems)
    if built is None or problems:
        raise ScenarioError(str(path), problems)
    return built
