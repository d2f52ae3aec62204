"""What a result was made from: version, engine, train, line, hashed files, changes and changed assumptions."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

from locosim import __version__
from locosim.frozen import frozen
from locosim.model import Excursion, Locomotive, Route
from locosim.model.assumptions import Assumptions
from locosim.model.road_log import RoadLog
from locosim.report.caution import CAUTION, METHODS

if TYPE_CHECKING:  # no command needs all of these, and some load the compiler
    from locosim.engine.boiler.boiler_table import BoilerTable
    from locosim.engine.command_results import CutoffTable, SpeedCurve
    from locosim.engine.comparison import Comparison
    from locosim.engine.indicator_diagram import IndicatorDiagram
    from locosim.engine.test_sheet.sheet_comparison import SheetComparison
    from locosim.engine.tonnage_rating import TonnageRating
    from locosim.journey.result import Journey
    from locosim.planning.answer import Answer
    from locosim.planning.consists import ConsistTable
    from locosim.planning.day import DayAnswer
    from locosim.planning.economy import Economy
    from locosim.planning.helper_plan import HelperPlan
    from locosim.planning.load import LoadRating
    from locosim.planning.timetable import Timetable
    from locosim.planning.water_stops import WaterStops
    from locosim.studies.batch import Batch
    from locosim.studies.log_fit import LogFit
    from locosim.studies.risk import Risk
    from locosim.studies.vary import Variation
    from locosim.survey.examination import RouteExamination
    from locosim.survey.made_route import MadeRoute

    EngineResult: TypeAlias = (
        SpeedCurve
        | CutoffTable
        | IndicatorDiagram
        | BoilerTable
        | Comparison
        | SheetComparison
        | TonnageRating
    )
    Result: TypeAlias = (
        EngineResult
        | Answer
        | DayAnswer
        | Journey
        | HelperPlan
        | WaterStops
        | Timetable
        | Economy
        | ConsistTable
        | LoadRating
        | Variation
        | Batch
        | LogFit
        | RouteExamination
        | MadeRoute
        | Risk
    )

T = TypeVar("T")
MAX_FILES_SHOWN, MAX_NAMES = 30, 12  # of a batch; more are only counted
SHORT_HASH = 12  # digits of a hash in a line to be read; JSON has all 64


@frozen
class MadeFrom:
    """What a result was made from.

    Attributes:
        locomotives: Names of the engines, helpers last.
        compound: Whether one of the engines, helpers apart, is a compound.
        anchored: Whether the power of every engine, helpers apart, was set from its test sheet.
        train: Name of the train; None for an engine alone.
        route: Name of the line; None for an engine alone.
        files: Path and SHA-256 of each file read; empty where the description was made in code.
        changes: Changes to the files, as `key=value`.
        assumptions: Changed assumptions, as `name=value` with the SI unit.
        anchors: Keys set from a test sheet, likewise.
        varied: Inputs varied, as `key=values`.
        version: Version of locosim.
    """

    locomotives: tuple[str, ...]
    compound: bool = False
    anchored: bool = False
    train: str | None = None
    route: str | None = None
    files: tuple[tuple[str, str], ...] = ()
    changes: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    anchors: tuple[str, ...] = ()
    varied: tuple[str, ...] = ()
    version: str = __version__


def made_from(result: Result) -> MadeFrom:
    """What a result of a command was made from."""
    # By name: importing the class of every result would take longer than most commands.
    return _FROM_RESULT[type(result).__name__](result)


def _from_performance(result: SpeedCurve | CutoffTable | TonnageRating) -> MadeFrom:
    return _from_locomotives((result.performance.locomotive,), result.performance)


def _from_comparison(compared: Comparison) -> MadeFrom:
    sides = (compared.first.performance, compared.second.performance)
    return _from_locomotives(tuple(side.locomotive for side in sides), *sides)


def _from_excursion(excursion: Excursion) -> MadeFrom:
    files, changes = _files_and_changes(excursion)
    return MadeFrom(
        locomotives=(
            excursion.locomotive.name,
            *(helper.name_beside(excursion.locomotive.name) for helper in excursion.helpers),
        ),
        compound=excursion.locomotive.compound,
        anchored=_anchored(excursion.locomotive),
        train=excursion.train.name,
        route=excursion.route_as_run.name,
        files=files,
        changes=changes,
        assumptions=_changed(excursion.assumptions),
        anchors=_anchors([excursion.locomotive, *(h.locomotive for h in excursion.helpers if h.locomotive)]),
    )


def _from_day(answer: DayAnswer) -> MadeFrom:
    """What a day was made from: its engines, trains and lines in order of the legs, each once."""
    excursions = [leg.excursion for leg in answer.day.legs]
    engines = {excursion.locomotive.name: excursion.locomotive for excursion in excursions}
    helpers = {helper.name: helper for excursion in excursions for helper in excursion.helpers}
    files, changes = _files_and_changes(answer.day)
    own = [*engines.values(), *(each.locomotive for each in helpers.values() if each.locomotive)]
    return MadeFrom(
        locomotives=tuple(dict.fromkeys([*engines, *helpers])),
        compound=any(engine.compound for engine in engines.values()),
        anchored=all(map(_anchored, engines.values())),
        train="; ".join(dict.fromkeys(excursion.train.name for excursion in excursions)),
        route="; ".join(dict.fromkeys(excursion.route_as_run.name for excursion in excursions)),
        files=files,
        changes=changes,
        assumptions=tuple(dict.fromkeys(text for each in excursions for text in _changed(each.assumptions))),
        anchors=_anchors(own),
    )


def _from_consists(compared: ConsistTable) -> MadeFrom:
    """What a table of consists was made from: the engines, trains, files and changes of all, each once."""
    parts = [_from_excursion(excursion) for excursion in compared.excursions]
    return MadeFrom(
        locomotives=_each_once(part.locomotives for part in parts),
        compound=any(part.compound for part in parts),
        anchored=bool(parts) and all(part.anchored for part in parts),
        train="; ".join(dict.fromkeys(part.train for part in parts if part.train)) or None,
        route="; ".join(dict.fromkeys(part.route for part in parts if part.route)) or None,
        files=_each_once(part.files for part in parts),
        changes=_each_once(part.changes for part in parts),
        assumptions=_each_once(part.assumptions for part in parts),
        anchors=_each_once(part.anchors for part in parts),
    )


def _from_variation(variation: Variation) -> MadeFrom:
    """What a variation was made from: its base, with the engines and files of all rows, each once."""
    base = variation.base
    source = _from_excursion(base) if isinstance(base, Excursion) else _from_locomotives((base,), variation)
    files = _each_once(row.files for row in variation.rows)
    return replace(
        source,
        locomotives=_each_once([source.locomotives, [row.engine for row in variation.rows if row.engine]]),
        files=_each_once([source.files, [(file.path, file.sha256) for file in files]]),
        varied=tuple(f"{each.path}={','.join(each.texts)}" for each in variation.inputs),
    )


def _from_batch(batch: Batch) -> MadeFrom:
    """What a batch was made from: the engines, trains, lines and files of all its rows, each once."""
    names, marks = batch.records.sources.names, batch.records.sources.names.get("marks", {})
    return MadeFrom(
        locomotives=tuple(_first(names.get("locomotives", ()), MAX_NAMES)),
        compound="compound" in marks,
        anchored=bool(names) and "not anchored" not in marks,
        train="; ".join(_first(names.get("trains", ()), MAX_NAMES)) or None,
        route="; ".join(_first(names.get("routes", ()), MAX_NAMES)) or None,
        files=tuple(batch.records.sources.files.items()),
    )


def _first(texts: Iterable[str], count: int) -> list[str]:
    """The first of some texts, and how many more there are."""
    found = list(texts)
    return found if len(found) <= count else [*found[:count], f"{len(found) - count:,} more"]


def _each_once(groups: Iterable[Iterable[T]]) -> tuple[T, ...]:
    return tuple(dict.fromkeys(item for group in groups for item in group))


def _with_helper_file(source: MadeFrom, helper: Locomotive | None) -> MadeFrom:
    """What an answer was made from, with the file of a helper that the excursion file does not name."""
    files, changes = _files_and_changes(helper)
    return replace(
        source,
        files=tuple(dict.fromkeys((*source.files, *files))),
        changes=tuple(dict.fromkeys((*source.changes, *changes))),
    )


def _with_log(source: MadeFrom, log: RoadLog) -> MadeFrom:
    """What a fit was made from, with the file of its log."""
    return replace(source, files=(*source.files, *_files_and_changes(log)[0]))


def _from_route(route: Route) -> MadeFrom:
    files, changes = _files_and_changes(route)
    return MadeFrom(locomotives=(), route=route.name, files=files, changes=changes)


def _from_locomotives(locomotives: tuple[Locomotive, ...], *holders: Any) -> MadeFrom:
    """What a result of engines alone was made from; the holders are what carries the assumptions."""
    parts = [_files_and_changes(locomotive) for locomotive in locomotives]
    assumptions = [text for each in holders for text in _changed(each.assumptions)]
    return MadeFrom(
        locomotives=tuple(locomotive.name for locomotive in locomotives),
        compound=any(locomotive.compound for locomotive in locomotives),
        anchored=all(map(_anchored, locomotives)),
        files=tuple(dict.fromkeys(file for files, _ in parts for file in files)),
        changes=tuple(change for _, changes in parts for change in changes),
        assumptions=tuple(dict.fromkeys(assumptions)),
        anchors=_anchors(locomotives),
    )


def _anchored(locomotive: Locomotive) -> bool:
    """Whether the power of an engine was set from its test sheet."""
    return any(anchor.of_power for anchor in locomotive.anchors or ())


def _anchors(locomotives: Iterable[Locomotive]) -> tuple[str, ...]:
    """Keys set from test sheets; engines of one file are listed once."""
    texts = (
        f"{anchor.key}={anchor.value:.5g} {anchor.unit}".rstrip()
        for locomotive in locomotives
        for anchor in locomotive.anchors or ()
    )
    return tuple(dict.fromkeys(texts))


def _files_and_changes(described: Any) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """Files and changes of a description that was read; both empty for one made in code."""
    provenance = getattr(described, "provenance", None)
    if provenance is None:
        return (), ()
    return tuple((file.path, file.sha256) for file in provenance.files), tuple(provenance.changes)


def _changed(assumptions: Assumptions) -> tuple[str, ...]:
    declared = assumptions.declared()
    return tuple(
        f"{name}={value:g} {declared[name].metadata['unit']}".rstrip()
        for name, _, value in assumptions.changed()
    )


def made_from_lines(source: MadeFrom) -> list[str]:
    """What a result was made from, in lines for a footer: names first, then files, changes and assumptions."""
    names = [name for name in (" and ".join(source.locomotives), source.train, source.route) if name]
    lines = [f"locosim {source.version}: {'; '.join(names)}."]
    if source.files:
        shown = [f"{path} ({digest[:SHORT_HASH]})" for path, digest in source.files]
        lines.append(f"Files (SHA-256): {', '.join(_first(shown, MAX_FILES_SHOWN))}.")
    if source.varied:
        lines.append(f"Varied: {'; '.join(source.varied)}.")
    if source.changes:
        lines.append(f"Changes: {', '.join(source.changes)}.")
    if source.assumptions:
        lines.append(f"Changed assumptions: {', '.join(source.assumptions)}.")
    if source.anchors:
        lines.append(f"Set from a test sheet: {', '.join(source.anchors)}.")
    return lines


def made_from_content(source: MadeFrom) -> dict[str, Any]:
    """The same for JSON."""
    return {
        "locomotives": list(source.locomotives),
        "train": source.train,
        "route": source.route,
        "files": [{"path": path, "sha256": digest} for path, digest in source.files],
        "changes": list(source.changes),
        "changed_assumptions": list(source.assumptions),
        "set_from_test_sheet": list(source.anchors),
    }


def source_columns(source: MadeFrom, excursion: str, method: str | None) -> dict[str, str]:
    """What a table was made from, by heading.

    Args:
        source: Version, names, files and changes.
        excursion: Name and outcome of the excursion; empty for an engine alone.
        method: `cycle` or `handbook`; None for a line alone.
    """
    return {
        "locosim": source.version,
        "excursion": excursion,
        "locomotives": "; ".join(source.locomotives),
        "train": source.train or "",
        "route": source.route or "",
        "method": "" if method is None else METHODS[method],
        "files": "; ".join(f"{path} sha256:{digest}" for path, digest in source.files),
        "changes": "; ".join(source.changes),
        "changed assumptions": "; ".join(source.assumptions),
        "set from a test sheet": "; ".join(source.anchors),
        "caution": CAUTION,
    }


_FROM_RESULT: dict[str, Callable[[Any], MadeFrom]] = {
    **dict.fromkeys(("MadeRoute", "RouteExamination"), lambda result: _from_route(result.route)),
    **dict.fromkeys(
        ("Answer", "Economy", "Journey", "LoadRating", "Risk", "Timetable", "WaterStops"),
        lambda result: _from_excursion(result.excursion),
    ),
    **dict.fromkeys(
        ("BoilerTable", "IndicatorDiagram", "SheetComparison"),
        lambda result: _from_locomotives((result.locomotive,), result),
    ),
    **dict.fromkeys(("CutoffTable", "SpeedCurve", "TonnageRating"), _from_performance),
    "Batch": _from_batch,
    "Comparison": _from_comparison,
    "ConsistTable": _from_consists,
    "DayAnswer": _from_day,
    "HelperPlan": lambda plan: _with_helper_file(_from_excursion(plan.excursion), plan.helper.locomotive),
    "LogFit": lambda fitted: _with_log(_from_excursion(fitted.excursion), fitted.laid.log),
    "Variation": _from_variation,
}
