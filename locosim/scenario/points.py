"""Points from which a line is made: a track as GPX, or heights by chainage as CSV."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.frozen import frozen
from locosim.model import ProfilePoint
from locosim.model.provenance import FileUsed, Provenance
from locosim.scenario.build import build
from locosim.scenario.csv_table import read_rows
from locosim.scenario.gpx import read_gpx
from locosim.survey.heights import Heights
from locosim.survey.tracing import Trace


@frozen
class Points:
    """Points read from a file: a trace, or else heights.

    Attributes:
        name: Name of the record.
        provenance: The file.
        trace: Positions and heights; None where the file has no positions.
        heights: Heights by chainage; empty where there is a trace.
    """

    name: str
    provenance: Provenance
    trace: Trace | None
    heights: Heights


def read_points(path: str | Path, track: str | None = None) -> Points:
    """Read a track, or heights by chainage.

    Args:
        path: A .gpx file, or a .csv file with the columns `chainage` and `elevation` of a profile.
        track: Name or number of the track of a GPX file that has several.

    Raises:
        ScenarioError: The file cannot be read, is of another kind, or has errors.
    """
    path = Path(path)
    if path.suffix.lower() == ".gpx":
        trace, sha256 = read_gpx(path, track)
        return Points(
            name=trace.name,
            provenance=_provenance(path, sha256),
            trace=trace,
            heights=Heights(np.zeros(0), np.zeros(0)),
        )
    if path.suffix.lower() != ".csv":
        text = "is neither a track (.gpx) nor heights (.csv with the columns chainage and elevation); give one of them"
        raise ScenarioError(str(path), [Problem("", text)])
    return _read_heights(path)


def _provenance(path: Path, sha256: str) -> Provenance:
    return Provenance(files=(FileUsed(path=str(path), sha256=sha256),))


def _read_heights(path: Path) -> Points:
    """Read heights by chainage.

    Raises:
        ScenarioError: With every problem of the file.
    """
    problems: list[Problem] = []
    try:
        tables = read_rows(path, ProfilePoint, problems)
    except LocosimError as error:
        raise ScenarioError(str(path), [Problem("", str(error))]) from None
    points = [build(ProfilePoint, table, problems) for table in tables]
    if not problems:
        for table, point in zip(tables, points, strict=True):
            if point is not None and point.elevation is None:
                problems.append(
                    table.problem("has no elevation; write one, or leave the row out", "elevation")
                )
        chainages = [point.chainage for point in points if point is not None]
        for number, (before, now) in enumerate(pairwise(chainages), start=1):
            if now <= before:
                text = "must be beyond the row before; put the rows in order of chainage, each place once"
                problems.append(tables[number].problem(text, "chainage"))
    if not problems and len(points) < 2:
        problems.append(Problem("", f"has {len(points)} points; a line needs at least two"))
    if problems:
        raise ScenarioError(str(path), problems)
    heights = Heights(
        np.array([point.chainage for point in points if point is not None]),
        np.array([point.elevation for point in points if point is not None], dtype=float),
    )
    return Points(name=path.stem, provenance=_provenance(path, tables[0].sha256), trace=None, heights=heights)
