"""Lines made from points: positions and heights recorded on the way, or heights by chainage."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Curve, ProfilePoint, Route, Station
from locosim.physics.types import Floats
from locosim.survey.heights import Heights, bounded, broken_line, rounding_step, smoothed
from locosim.survey.made_route import CurvatureFitted, MadeRoute, Note, verbatim
from locosim.survey.positions import (
    MAX_RADIUS,
    MIN_SPACING,
    SIGNIFICANT,
    STANDING_POINTS,
    CurveFound,
    Geometry,
    curvature_error,
    find_curves,
    fit_geometry,
    nearest_on_line,
    plane_of,
    spaced,
    standing,
)
from locosim.survey.roughness import grade_uncertainty, smoothing_change, suited_length, wander_of_heights

MAX_OFFSET = 300.0  # of a named place from the line, to be a station on it; our choice [m]
END_LENGTH = (
    200.0  # a place nearer than this to an end of the line is the station of that end; our choice [m]
)
COARSE_SPACING = 50.0  # of the points, worth a note; our choice [m]
LARGE_GAP = 500.0  # between points, worth a note; our choice [m]
MAX_GAP = 20_000.0  # no receiver is without signal for longer, in the longest tunnels; our choice [m]
BACK_TURN = 2.4  # within `BACK_LENGTH`: the points go back the way they came; our choice [rad]
BACK_LENGTH = 60.0  # [m]
PROFILE_TOLERANCE = 0.1  # between the smoothed heights and the profile; our choice [m]
MAX_GRADE = 0.05  # of a line worked by adhesion with few exceptions; common practice, no source [1]
MIN_LENGTH = 100.0  # of a line [m]
SAID_GRADE = 0.0005  # uncertainty of a grade that is worth a note; our choice [1]
ADVISED_GRADE = 0.002  # uncertainty of a grade from which other heights are advised; our choice [1]
SAID_CURVE = 150.0  # length of a curve for which its uncertainty is told; our choice [m]


class NamedPlace(NamedTuple):
    """A place with a name: latitude and longitude [deg]."""

    name: str
    latitude: float
    longitude: float


@frozen
class Trace:
    """Points recorded along a line.

    Attributes:
        name: Name of the record.
        latitude, longitude: Shape (n,) [deg].
        elevation: Shape (n,); NaN where missing [m].
        places: Named places, on the line or off it.
        notes: What was noticed while it was read.
    """

    name: str
    latitude: Floats
    longitude: Floats
    elevation: Floats
    places: tuple[NamedPlace, ...] = ()
    notes: tuple[Note, ...] = ()


@frozen
class Tracing:
    """How a line is to be made from points.

    Attributes:
        name: Name of the line.
        speed_limit: Speed limit of the line [m/s].
        smoothing: Length over which heights are smoothed, 0 for none; suited to the heights if omitted [m].
        window: Length over which a parabola is fitted to positions; suited to the positions if omitted [m].
        max_grade: Steepest grade the line may have [1].
        references: Sources of the data.
    """

    name: str
    speed_limit: float
    smoothing: float | None = None
    window: float | None = None
    max_grade: float = MAX_GRADE
    references: tuple[str, ...] = ()


def route_from_trace(trace: Trace, tracing: Tracing) -> MadeRoute:
    """Make a line from positions and heights.

    Args:
        trace: The points.
        tracing: How to make it.

    Returns:
        The line, with elevations by chainage from the first point, curves from the geometry and stations at the
        named places, and a statement of what was changed.

    Raises:
        OutOfRange: The points have no heights, or make a line shorter than 100 m.
    """
    _check_tracing(tracing)
    _check_gaps(trace.name, plane_of(trace.latitude, trace.longitude).distance)
    trace = _without_stands(trace)
    points = plane_of(trace.latitude, trace.longitude)
    kept = spaced(points)
    notes = list(trace.notes)
    if len(kept) < len(points.east):
        count = len(points.east) - len(kept)
        text = f"{count} points closer than {{spacing}} to the one before were left out."
        notes.append(Note(text, {"spacing": (MIN_SPACING, "length")}))
    points = type(points)(points.east[kept], points.north[kept])
    if len(kept) < 3 or points.distance[-1] < MIN_LENGTH:
        raise OutOfRange(
            f"{trace.name}: its points make a line of {points.distance[-1]:.0f} m; at least {MIN_LENGTH:g} m are needed"
        )
    height, missing = _filled(trace.name, points.distance, trace.elevation[kept])
    notes += missing
    geometry = fit_geometry(points, tracing.window)
    notes += _position_notes(points.distance, geometry)
    raw = Heights(np.interp(points.distance, geometry.given, geometry.chainage), height)
    curves = find_curves(geometry)
    places = _places_on(geometry, trace.latitude[kept], trace.longitude[kept], trace.places, notes)
    return _made(raw, tracing, places, notes, _model_curves(curves), CurvatureFitted(geometry, tuple(curves)))


def _without_stands(trace: Trace) -> Trace:
    """The trace with one point for all those recorded while the train stood: their mean."""
    stands = (
        standing(plane_of(trace.latitude, trace.longitude)) if len(trace.latitude) > STANDING_POINTS else []
    )
    if not stands:
        return trace
    columns = [np.array(each) for each in (trace.latitude, trace.longitude, trace.elevation)]
    left_out = np.zeros(len(columns[0]), dtype=bool)
    for first, last in stands:
        for values in columns:
            known = values[first : last + 1][np.isfinite(values[first : last + 1])]
            # From the first one, so that the mean is right across the antimeridian.
            turns = (known - known[:1] + 180.0) % 360.0 - 180.0 if values is columns[1] else known - known[:1]
            values[first] = known[0] + np.mean(turns) if len(known) else np.nan
        left_out[first + 1 : last + 1] = True
    count = int(np.sum(left_out)) + len(stands)
    places = "one place" if len(stands) == 1 else f"{len(stands)} places"
    note = Note(
        f"The train stands at {places}; the {count} points recorded there became one each, their mean."
    )
    latitude, longitude, elevation = (values[~left_out] for values in columns)
    return replace(
        trace, latitude=latitude, longitude=longitude, elevation=elevation, notes=(*trace.notes, note)
    )


def _check_gaps(name: str, distance: Floats) -> None:
    """Refuse points so far apart that one must be wrong.

    Raises:
        OutOfRange: Two neighbors are farther apart than a line without points can be.
    """
    gaps = np.diff(distance)
    at = int(np.argmax(gaps))
    if gaps[at] > MAX_GAP:
        raise OutOfRange(
            f"{name}: points {at + 1} and {at + 2} are {gaps[at] / 1000:,.0f} km apart, at most {MAX_GAP / 1000:g} km "
            "are allowed; remove the wrong point, or split the track there"
        )


def route_from_heights(heights: Heights, tracing: Tracing) -> MadeRoute:
    """Make a line from heights by chainage; it has a station at each end and no curves.

    Raises:
        OutOfRange: A value of the tracing is not allowed, or the line is shorter than 100 m.
    """
    _check_tracing(tracing)
    length = float(np.ptp(heights.chainage))
    if length < MIN_LENGTH:
        raise OutOfRange(f"the heights make a line of {length:.0f} m; at least {MIN_LENGTH:g} m are needed")
    return _made(heights, tracing, [], [], (), None)


def _check_tracing(tracing: Tracing) -> None:
    """Check the values of a tracing that the model does not."""
    faults = []
    if not 0.001 <= tracing.max_grade < 0.15:
        found = f"{100 * tracing.max_grade:g} %"
        faults.append(
            Fault(
                "max_grade", "must be at least 0.1 % and below 15 %, found {found}", figures={"found": found}
            )
        )
    for key in ("smoothing", "window"):
        value = getattr(tracing, key)
        if value is not None and not 0.0 <= value <= 5000.0:
            text = "must be from 0 to {most}, found {found}"
            faults.append(Fault(key, text, "m", {"most": 5000.0, "found": value}))
    if faults:
        raise OutOfRange.by(faults)


def _made(
    raw: Heights,
    tracing: Tracing,
    places: list[tuple[str, float]],
    notes: list[Note],
    curves: tuple[Curve, ...],
    fitted: CurvatureFitted | None,
) -> MadeRoute:
    """The line of heights, smoothed, with stations and curves."""
    step = rounding_step(raw.height)
    length = suited_length(raw, step) if tracing.smoothing is None else tracing.smoothing
    if fitted is not None:
        notes += _uncertainty_notes(raw, step, length, fitted.geometry)
    even = smoothed(raw, length)
    held = bounded(even, tracing.max_grade)
    if held is not even:
        notes.append(_bound_note(even, held))
    # Heights given by chainage and not smoothed are surveyed points, and all are kept.
    surveyed = fitted is None and held is raw
    kept = list(range(len(raw.chainage))) if surveyed else broken_line(*held, PROFILE_TOLERANCE)
    profile = Heights(held.chainage[kept], held.height[kept])
    stations, added = _stations(places, float(profile.chainage[0]), float(profile.chainage[-1]))
    change = smoothing_change(raw, profile, length)
    route = Route(
        name=tracing.name,
        profile=tuple(
            ProfilePoint(chainage=float(chainage), elevation=float(height))
            for chainage, height in zip(*profile, strict=True)
        ),
        stations=stations,
        speed_limit=tracing.speed_limit,
        curves=curves,
        references=tracing.references,
    )
    return MadeRoute(route=route, notes=(*notes, *added), before=raw, smoothing=change, curvature=fitted)


def _uncertainty_notes(raw: Heights, step: float | None, length: float, geometry: Geometry) -> list[Note]:
    """How uncertain grades and curves are, by the errors of the points themselves."""
    notes = []
    wander = wander_of_heights(raw, step)
    grade = grade_uncertainty(raw, step, length, wander)
    if grade >= SAID_GRADE:
        drift = "The heights wander, as those of a receiver do, by about {drift} in {way}. " if wander else ""
        text = f"{drift}Grades are uncertain by about {{error}} (one standard deviation)."
        if grade >= ADVISED_GRADE:
            text += " Where grades matter, take the heights from a survey or the track chart."
        notes.append(
            Note(
                text,
                {
                    "drift": ((wander * LARGE_GAP) ** 0.5, "length"),
                    "way": (LARGE_GAP, "length"),
                    "error": (grade, "grade"),
                },
            )
        )
    error = SIGNIFICANT * curvature_error(geometry, SAID_CURVE)
    if error > 1 / MAX_RADIUS:
        text = (
            "Over {length}, the positions tell a curve from straight track up to a radius of {radius}: its curvature "
            "is then uncertain by a third (one standard deviation), and a flatter one is taken as straight."
        )
        notes.append(Note(text, {"length": (SAID_CURVE, "length"), "radius": (1 / error, "length")}))
    return notes


def _bound_note(even: Heights, held: Heights) -> Note:
    """What holding the grades within their bound has changed."""
    change = smoothing_change(even, held, 0.0)
    return Note(
        "Grades of up to {before} after smoothing were brought to at most {after}, which changes heights by at most "
        "{most}.",
        {
            "before": (change.steepest_before, "grade"),
            "after": (change.steepest_after, "grade"),
            "most": (change.max_change, "length"),
        },
    )


def _filled(name: str, distance: Floats, height: Floats) -> tuple[Floats, list[Note]]:
    """Heights with gaps filled in a straight line.

    Raises:
        OutOfRange: There are fewer than two heights.
    """
    known = np.isfinite(height)
    if np.count_nonzero(known) < 2:
        raise OutOfRange(
            f"{name}: its points have no elevations; take a track that has them (<ele> in each point), or make the "
            "line from a CSV file of chainage and elevation"
        )
    if known.all():
        return height, []
    missing = int(np.count_nonzero(~known))
    filled = np.interp(distance, distance[known], height[known])
    return filled, [
        Note(f"{missing} of {len(height)} points have no elevation; it was taken from their neighbors.")
    ]


def _position_notes(distance: Floats, geometry: Geometry) -> list[Note]:
    """What is odd about the positions."""
    notes = []
    gaps = np.diff(distance)
    spacing = float(np.median(gaps))
    if spacing > COARSE_SPACING:
        text = "Points are {spacing} apart (median): curves shorter than {shortest} are missed, others are uncertain."
        notes.append(Note(text, {"spacing": (spacing, "length"), "shortest": (geometry.window, "length")}))
    widest = int(np.argmax(gaps))
    if gaps[widest] > LARGE_GAP:
        text = "Points are up to {gap} apart, at {place}: the line between them is taken as straight."
        notes.append(
            Note(
                text, {"gap": (float(gaps[widest]), "length"), "place": (float(distance[widest]), "distance")}
            )
        )
    steps = max(round(BACK_LENGTH / (geometry.given[1] - geometry.given[0])), 1)
    turns = np.abs(geometry.heading[steps:] - geometry.heading[:-steps])
    if len(turns) and np.max(turns) > BACK_TURN:
        place = geometry.chainage[int(np.argmax(turns))]
        text = "The points turn back at {place}: cut the line there if they record a train that returned."
        notes.append(Note(text, {"place": (float(place), "distance")}))
    return notes


def _model_curves(curves: list[CurveFound]) -> tuple[Curve, ...]:
    return tuple(Curve(start=each.start, end=each.end, radius=1 / abs(each.curvature)) for each in curves)


def _places_on(
    geometry: Geometry, latitude: Floats, longitude: Floats, places: tuple[NamedPlace, ...], notes: list[Note]
) -> list[tuple[str, float]]:
    """Named places on the line by chainage; those off it are left out with a note."""
    along = plane_of(latitude, longitude).distance
    found: list[tuple[str, float]] = []
    off: list[str] = []
    for place in places:
        distance, offset = nearest_on_line(latitude, longitude, along, (place.latitude, place.longitude))
        if offset > MAX_OFFSET:
            off.append(place.name)
        else:
            found.append((place.name, float(np.interp(distance, geometry.given, geometry.chainage))))
    if off:
        shown = ", ".join(off[:5]) + (f" and {len(off) - 5} more" if len(off) > 5 else "")
        text = f"Places farther than {{offset}} from the line were left out: {verbatim(shown)}."
        notes.append(Note(text, {"offset": (MAX_OFFSET, "length")}))
    return sorted(found, key=lambda each: each[1])


def _stations(
    places: list[tuple[str, float]], start: float, end: float
) -> tuple[tuple[Station, ...], list[Note]]:
    """Stations at the named places, each with its own name; at the ends too if there are fewer than two."""
    notes: list[Note] = []
    stations: list[Station] = []
    names: Counter[str] = Counter()
    for name, chainage in places:
        if stations and chainage - stations[-1].chainage < 1.0:
            text = f"{name} is at the same place as {stations[-1].name} and was left out."
            notes.append(Note(verbatim(text)))
            continue
        names[name] += 1
        own = name if names[name] == 1 else f"{name} ({names[name]})"
        stations.append(Station(name=own, chainage=min(max(chainage, start), end)))
    if len(stations) >= 2:
        return tuple(stations), notes
    added = []
    if not stations or stations[0].chainage - start > END_LENGTH:
        added.append(Station(name="Start of line", chainage=start))
    if not stations or end - stations[-1].chainage > END_LENGTH:
        added.append(Station(name="End of line", chainage=end))
    notes.append(Note(f"Added as a station: {', '.join(each.name for each in added)}."))
    return tuple(sorted([*stations, *added], key=lambda each: each.chainage)), notes
