"""Engine, train, route and excursion from their files."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from locosim import scenario
from locosim.errors import OutOfRange, Problem, ScenarioError
from locosim.model import Assumptions, Day, Excursion, Locomotive, Route, Train
from locosim.scenario import KeptFiles

Read = TypeVar("Read", Locomotive, Excursion, Day)


def load_engine(path: str | Path, *, changes: Sequence[str] = ()) -> Locomotive:
    """Read an engine file.

    Args:
        path: The TOML file.
        changes: What-ifs as `key=value` with a key of the file, such as `"boiler.grate_area=36 ft^2"`.

    Returns:
        The engine, in SI, with the keys set that its test sheet is used for.

    Raises:
        ScenarioError: With every problem of the file and the changes.
    """
    return _with_anchors(scenario.load_locomotive(path, changes), path, changes)


def load_train(path: str | Path, *, changes: Sequence[str] = ()) -> Train:
    """Read a train file; arguments and errors as for `load_engine`."""
    return scenario.load_train(path, changes)


def load_route(path: str | Path, *, changes: Sequence[str] = ()) -> Route:
    """Read a route file with its profile and curves; arguments and errors as for `load_engine`."""
    return scenario.load_route(path, changes)


def load_excursion(
    path: str | Path, *, changes: Sequence[str] = (), kept: KeptFiles | None = None
) -> Excursion:
    """Read an excursion file with its engine, train and route.

    Args:
        path: The TOML file.
        changes: What-ifs as `key=value` with a key of the file or of a file it names, such as `"rail=wet"` or
            `"train.vehicles[1].count=9"`; `[*]` is every item of a list.
        kept: Files kept from excursions read before, and for the next ones; what two excursions have in common is then
            the same object.

    Returns:
        The excursion, in SI, its engines as by `load_engine`.

    Raises:
        ScenarioError: With every problem of the files and the changes.
    """
    return _with_anchors(scenario.load_excursion(path, changes, kept=kept), path, changes, kept)


def load_day(path: str | Path, *, changes: Sequence[str] = ()) -> Day:
    """Read a day file with the excursions of its legs.

    Args:
        path: The TOML file.
        changes: What-ifs as `key=value`, such as `"legs[2].excursion.rail=wet"`.

    Returns:
        The day, in SI, its engines as by `load_engine`.

    Raises:
        ScenarioError: With every problem of the files and the changes.
    """
    return _with_anchors(scenario.load_day(path, changes), path, changes)


def _engines(described: Locomotive | Excursion | Day) -> dict[str, Locomotive]:
    """Steam engines of a description by the path of their keys."""
    if isinstance(described, Locomotive):
        return {"": described}
    if isinstance(described, Day):
        return {
            f"legs[{number}].excursion.{key}": engine
            for number, leg in enumerate(described.legs, start=1)
            for key, engine in _engines(leg.excursion).items()
        }
    helpers = {
        f"helpers[{number}].locomotive.": helper.locomotive
        for number, helper in enumerate(described.helpers, start=1)
        if helper.locomotive is not None
    }
    return {"locomotive.": described.locomotive} | helpers


def _with_anchors(
    built: Read, path: str | Path, changes: Sequence[str], kept: KeptFiles | None = None
) -> Read:
    """Set the keys of each engine that its test sheet sets, by the engine as it was tested: without the changes.

    A what-if change thus starts from the anchored engine. A changed key keeps the changed value.
    """
    if not any(engine.test_sheet.use for engine in _engines(built).values()):
        return built
    from locosim.engine.test_sheet.anchored import anchored_engine
    from locosim.engine.test_sheet.keys import with_anchors

    try:
        as_written = _as_written(built, path, changes, kept)
    except ScenarioError:  # the changes make the file complete
        as_written = built
    tested, found = _engines(as_written), {}
    changed = [change.partition("=")[0].replace(" ", "") for change in [*changes, *_leg_changes(built)]]
    for key, engine in _engines(built).items():
        if not engine.test_sheet.use:
            continue
        try:
            assumptions = _assumptions_at(as_written, key)
            anchors = anchored_engine(tested.get(key, engine), assumptions).anchors or ()
            unchanged = [anchor for anchor in anchors if not _is_among(f"{key}{anchor.key}", changed)]
            found[key] = with_anchors(engine, unchanged)
        except OutOfRange as wrong:
            raise ScenarioError(str(path), [Problem(f"{key}test_sheet", str(wrong))]) from None
    anchored: Read = _with_engines(built, found)
    return anchored


def _is_among(key: str, changed: Sequence[str]) -> bool:
    """Whether a key is one of those changed, in which `[*]` is every item."""
    return key in changed or re.sub(r"\[\d+\]", "[*]", key) in changed


def _as_written(built: Any, path: str | Path, changes: Sequence[str], kept: KeptFiles | None) -> Any:
    """The description without the changes, those of the test sheet and of the file of an engine apart."""
    if isinstance(built, Day):
        return scenario.load_day(path, changes, keep=_is_of_the_sheet)
    changes = [change for change in changes if _is_of_the_sheet(change)]
    if isinstance(built, Excursion):
        return scenario.load_excursion(path, changes, kept=kept)
    return scenario.load_locomotive(path, changes)


def _leg_changes(built: Any) -> list[str]:
    """Changes that a day gives for its legs, with the path from the day."""
    legs = built.legs if isinstance(built, Day) else ()
    return [f"legs[{n}].excursion.{change}" for n, leg in enumerate(legs, start=1) for change in leg.changes]


def _assumptions_at(described: Any, key: str) -> Assumptions:
    """Assumptions under which the engine at a path was tested."""
    if isinstance(described, Day):
        described = described.legs[int(key[len("legs[") : key.index("]")]) - 1].excursion
    return getattr(described, "assumptions", Assumptions())


def _is_of_the_sheet(change: str) -> bool:
    """Whether a change is one of the test sheet, or names another file of an engine."""
    steps = change.partition("=")[0].replace(" ", "").split(".")
    return "test_sheet" in steps or steps[-1] in ("locomotive", "excursion")


def _with_engines(built: Any, engines: dict[str, Locomotive]) -> Any:
    """A description with other engines, by the path of their keys."""
    if isinstance(built, Locomotive):
        return engines.get("", built)
    if isinstance(built, Day):
        legs = [
            replace(
                leg, excursion=_with_engines(leg.excursion, _below(f"legs[{number}].excursion.", engines))
            )
            for number, leg in enumerate(built.legs, start=1)
        ]
        return replace(built, legs=tuple(legs))
    helpers = tuple(
        replace(helper, locomotive=engines.get(f"helpers[{number}].locomotive.", helper.locomotive))
        for number, helper in enumerate(built.helpers, start=1)
    )
    return replace(built, locomotive=engines.get("locomotive.", built.locomotive), helpers=helpers)


def _below(path: str, engines: dict[str, Locomotive]) -> dict[str, Locomotive]:
    """Engines whose keys begin with a path, by the rest of it."""
    return {key[len(path) :]: engine for key, engine in engines.items() if key.startswith(path)}
