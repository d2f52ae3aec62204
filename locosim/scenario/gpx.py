"""Tracks recorded as GPX: points and waypoints, read with entities and document types refused."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple
from xml.etree.ElementTree import Element, ParseError

import numpy as np

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.scenario.source import read_bytes, show_value
from locosim.survey.made_route import Note
from locosim.survey.positions import MAX_LATITUDE
from locosim.survey.tracing import NamedPlace, Trace

MAX_GPX_SIZE = 50_000_000  # about 400,000 points, one for each meter of a line of 400 km [bytes]
_TOO_LARGE = "export the track with fewer points, one for each 10 m is enough, or cut it into several files"
_MAX_PROBLEMS = 40
_ELEVATIONS = (-1000.0, 10_000.0)  # [m]


class GpxTrack(NamedTuple):
    """A track read from a GPX file, with the SHA-256 of the file."""

    trace: Trace
    sha256: str


class _Line(NamedTuple):
    """A track or a route of the file: its name and its segments of points."""

    name: str
    segments: list[list[Element]]

    @property
    def size(self) -> int:
        """Count of points."""
        return sum(map(len, self.segments))


def read_gpx(path: str | Path, track: str | None = None) -> GpxTrack:
    """Read one track of a GPX file; its times are not used.

    Args:
        path: The file.
        track: Name of the track, or its number from 1; needed where the file has several.

    Returns:
        Points of the track, its segments one after the other, and all named waypoints of the file. A route of the
        file (`rte`) counts as a track where there is no track.

    Raises:
        ScenarioError: The file cannot be read, is not GPX, has entities or a document type, has no or several tracks,
            or has points without a valid position.
    """
    path = Path(path)
    try:
        data = read_bytes(path, max_size=MAX_GPX_SIZE, too_large=_TOO_LARGE)
        root = _parsed(data)
        line = _chosen(_lines(root), track)
        trace = _trace(path, line, _waypoints(root))
    except LocosimError as error:
        if isinstance(error, ScenarioError):
            raise
        raise ScenarioError(str(path), [Problem("", str(error))]) from None
    return GpxTrack(trace, hashlib.sha256(data).hexdigest())


def _parsed(data: bytes) -> Element:
    """The root of an XML file that has neither a document type nor entities.

    Raises:
        LocosimError: It is not such a file, or not GPX.
    """
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root: Element = fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        raise LocosimError(
            "has a document type or entities, which GPX does not need and which can be used to do harm; it was not "
            "read: export the track again, or remove the lines with <!DOCTYPE and <!ENTITY"
        ) from None
    except (ParseError, ValueError, LookupError) as error:
        raise LocosimError(f"is not valid XML: {error}; export the track again as GPX") from None
    except (RecursionError, MemoryError):
        raise LocosimError("is nested too deeply or is too large to be a track") from None
    if _tag(root) != "gpx":
        raise LocosimError(f"is not GPX: it begins with <{_tag(root)}>, not <gpx>; export the track as GPX")
    return root


def _tag(element: Element) -> str:
    """Name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]


def _children(element: Element, tag: str) -> Iterator[Element]:
    return (child for child in element if _tag(child) == tag)


def _text(element: Element, tag: str) -> str:
    """Text of the first child of a name, on one line; empty if there is none."""
    child = next(_children(element, tag), None)
    words = ((child.text or "") if child is not None else "").split()
    return "".join(sign for sign in " ".join(words) if sign.isprintable())


def _lines(root: Element) -> list[_Line]:
    """The tracks of a file that have points, or its routes if there are none."""
    tracks = [
        _Line(_text(each, "name"), [list(_children(part, "trkpt")) for part in _children(each, "trkseg")])
        for each in _children(root, "trk")
    ]
    routes = [_Line(_text(each, "name"), [list(_children(each, "rtept"))]) for each in _children(root, "rte")]
    return [line for line in tracks if line.size] or [line for line in routes if line.size]


def _chosen(lines: Sequence[_Line], track: str | None) -> _Line:
    """The track wanted.

    Raises:
        LocosimError: There is none, or it is not clear which is wanted.
    """
    if not lines:
        raise LocosimError(
            "has no track: no <trkpt> in a <trk>, and no <rtept>; export the track, not only waypoints"
        )
    listed = "; ".join(
        f"{n} {line.name or 'without a name'}, {line.size} points" for n, line in enumerate(lines, 1)
    )
    if track is None:
        if len(lines) > 1:
            raise LocosimError(
                f"has {len(lines)} tracks: choose one by its number or name with --track ({listed})"
            )
        return lines[0]
    named = [line for line in lines if line.name == track]
    if named:
        return named[0]
    if track.isdecimal() and len(track) < 6 and 1 <= int(track) <= len(lines):
        return lines[int(track) - 1]
    raise LocosimError(f"has no track {track!r}; there are: {listed}")


def _trace(path: Path, line: _Line, places: tuple[NamedPlace, ...]) -> Trace:
    """Points of a track as arrays.

    Raises:
        ScenarioError: With every point, up to some number, that has no valid position or elevation.
    """
    points = [point for segment in line.segments for point in segment]
    problems: list[str] = []
    rows = [_position(point, f"point {number}", problems) for number, point in enumerate(points, 1)]
    if problems:
        raise ScenarioError(str(path), [Problem("", text) for text in problems])
    if len(points) < 2:
        raise LocosimError("has a track of one point; a line needs at least two")
    latitude, longitude, elevation = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    filled = sum(1 for segment in line.segments if segment)
    notes = (Note(f"The {filled} segments of the track were joined in their order."),) if filled > 1 else ()
    return Trace(
        name=line.name or path.stem,
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        places=places,
        notes=notes,
    )


def _position(point: Element, where: str, problems: list[str]) -> tuple[float, float, float]:
    """Latitude, longitude and elevation of a point; NaN for an elevation that is missing."""
    values = []
    for key, most in (("lat", MAX_LATITUDE), ("lon", 180.0)):
        value = _number(point.get(key))
        values.append(value)
        if not -most <= value <= most and len(problems) < _MAX_PROBLEMS:
            found = show_value(point.get(key)) if point.get(key) is not None else "nothing"
            problems.append(f"{where}: {key} must be a number from -{most:g} to {most:g}, found {found}")
    text = _text(point, "ele")
    elevation = _number(text) if text else math.nan
    if text and not _ELEVATIONS[0] < elevation < _ELEVATIONS[1] and len(problems) < _MAX_PROBLEMS:
        problems.append(
            f"{where}: ele must be a number above -1000 and below 10,000 meters, found {show_value(text)}"
        )
    return values[0], values[1], elevation


def _number(text: str | None) -> float:
    """A number of the file; NaN where there is none."""
    try:
        value = float(text or "nan")
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def _waypoints(root: Element) -> tuple[NamedPlace, ...]:
    """Waypoints with a name and a valid position; others cannot be stations."""
    ignored: list[str] = []
    places = []
    for each in _children(root, "wpt"):
        latitude, longitude, _ = _position(each, "waypoint", ignored)
        if (name := _text(each, "name")) and math.isfinite(latitude) and math.isfinite(longitude):
            places.append(NamedPlace(name, latitude, longitude))
    return tuple(places)
