"""Scenario files to the model: the public way in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.model.excursion import Excursion
from locosim.model.locomotive import Locomotive
from locosim.model.route import Route
from locosim.model.train import Train
from locosim.scenario.build import build
from locosim.scenario.overrides import apply_change
from locosim.scenario.source import read_toml

T = TypeVar("T")


def load_excursion(path: str | Path, changes: Sequence[str] = ()) -> Excursion:
    """Read an excursion with the engine, train and route its file refers to.

    Args:
        path: The TOML file.
        changes: What-ifs as `key.path=value`, such as `train.vehicles[1].count=9` or `rail=wet`.

    Returns:
        The excursion.

    Raises:
        ScenarioError: With every problem of the file and of the files it refers to.
    """
    return _load(Excursion, path, changes)


def load_locomotive(path: str | Path, changes: Sequence[str] = ()) -> Locomotive:
    """Read an engine; arguments and errors as for `load_excursion`."""
    return _load(Locomotive, path, changes)


def load_train(path: str | Path, changes: Sequence[str] = ()) -> Train:
    """Read a train; arguments and errors as for `load_excursion`."""
    return _load(Train, path, changes)


def load_route(path: str | Path, changes: Sequence[str] = ()) -> Route:
    """Read a route with its profile; arguments and errors as for `load_excursion`."""
    return _load(Route, path, changes)


def _load(model: type[T], path: str | Path, changes: Sequence[str]) -> T:
    """Read one file of any kind."""
    problems: list[Problem] = []
    try:
        root = read_toml(Path(path))
    except LocosimError as wrong:
        raise ScenarioError(str(path), [Problem("", str(wrong))]) from None
    for change in changes:
        apply_change(change, root, model, problems)
    built = build(model, root, problems)
    if built is None or problems:
        raise ScenarioError(str(path), problems)
    return built
