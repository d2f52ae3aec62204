"""Engine, train, route and excursion from their files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from locosim import scenario
from locosim.errors import OutOfRange, Problem, ScenarioError
from locosim.model import Assumptions, Excursion, Locomotive, Route, Train

Read = TypeVar("Read", Locomotive, Excursion)


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


def load_excursion(path: str | Path, *, changes: Sequence[str] = ()) -> Excursion:
    """Read an excursion file with its engine, train and route.

    Args:
        path: The TOML file.
        changes: What-ifs as `key=value` with a key of the file or of a file it names, such as `"rail=wet"` or
            `"train.vehicles[1].count=9"`.

    Returns:
        The excursion, in SI, its engines as by `load_engine`.

    Raises:
        ScenarioError: With every problem of the files and the changes.
    """
    return _with_anchors(scenario.load_excursion(path, changes), path, changes)


def _engines(described: Locomotive | Excursion) -> dict[str, Locomotive]:
    """Steam engines of a description by the path of their keys."""
    if isinstance(described, Locomotive):
        return {"": described}
    helpers = {
        f"helpers[{number}].locomotive.": helper.locomotive
        for number, helper in enumerate(described.helpers, start=1)
        if helper.locomotive is not None
    }
    return {"locomotive.": described.locomotive} | helpers


def _with_anchors(built: Read, path: str | Path, changes: Sequence[str]) -> Read:
    """Set the keys of each engine that its test sheet sets, by the engine as it was tested: without the changes.

    A what-if change thus starts from the anchored engine. A changed key keeps the changed value.
    """
    if not any(engine.test_sheet.use for engine in _engines(built).values()):
        return built
    from locosim.engine.test_sheet.anchored import anchored_engine
    from locosim.engine.test_sheet.keys import with_anchors

    load: Any = scenario.load_excursion if isinstance(built, Excursion) else scenario.load_locomotive
    try:
        as_written = load(path, [change for change in changes if _is_of_the_sheet(change)])
    except ScenarioError:  # the changes make the file complete
        as_written = built
    assumptions = getattr(as_written, "assumptions", Assumptions())
    tested, found = _engines(as_written), {}
    changed = {change.partition("=")[0].replace(" ", "") for change in changes}
    for key, engine in _engines(built).items():
        if not engine.test_sheet.use:
            continue
        try:
            anchors = anchored_engine(tested.get(key, engine), assumptions).anchors or ()
            kept = [anchor for anchor in anchors if f"{key}{anchor.key}" not in changed]
            found[key] = with_anchors(engine, kept)
        except OutOfRange as wrong:
            raise ScenarioError(str(path), [Problem(f"{key}test_sheet", str(wrong))]) from None
    anchored: Read = _with_engines(built, found)
    return anchored


def _is_of_the_sheet(change: str) -> bool:
    """Whether a change is one of the test sheet, or names another file of an engine."""
    steps = change.partition("=")[0].replace(" ", "").split(".")
    return "test_sheet" in steps or steps[-1] == "locomotive"


def _with_engines(built: Any, engines: dict[str, Locomotive]) -> Any:
    """A description with other engines, by the path of their keys."""
    if isinstance(built, Locomotive):
        return engines.get("", built)
    helpers = tuple(
        replace(helper, locomotive=engines.get(f"helpers[{number}].locomotive.", helper.locomotive))
        for number, helper in enumerate(built.helpers, start=1)
    )
    return replace(built, locomotive=engines.get("locomotive.", built.locomotive), helpers=helpers)
