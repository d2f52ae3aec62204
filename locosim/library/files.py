"""Engine, train, route and excursion from their files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from locosim import scenario
from locosim.model import Excursion, Locomotive, Route, Train


def load_engine(path: str | Path, *, changes: Sequence[str] = ()) -> Locomotive:
    """Read an engine file.

    Args:
        path: The TOML file.
        changes: What-ifs as `key=value` with a key of the file, such as `"boiler.grate_area=36 ft^2"`.

    Returns:
        The engine, in SI.

    Raises:
        ScenarioError: With every problem of the file and the changes.
    """
    return scenario.load_locomotive(path, changes)


def load_train(path: str | Path, *, changes: Sequence[str] = ()) -> Train:
    """Read a train file; arguments and errors as for `load_engine`."""
    return scenario.load_train(path, changes)


def load_route(path: str | Path, *, changes: Sequence[str] = ()) -> Route:
    """Read a route file with its profile and curves; arguments and errors as for `load_engine`."""
    return scenario.load_route(path, changes)


def load_excursion(path: str | Path, *, changes: Sequence[str] = ()) -> Excursion:
    """Read an excursion file with its engine, train and route.

    Args:
        path: The TOML file.
        changes: What-ifs as `key=value` with a key of the file or of a file it names, such as `"rail=wet"` or
            `"train.vehicles[1].count=9"`.

    Returns:
        The excursion, in SI.

    Raises:
        ScenarioError: With every problem of the files and the changes.
    """
    return scenario.load_excursion(path, changes)
