"""A line examined before it is used: grades, curves, momentum, roughness of its data, and what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Curve, Route
from locosim.physics.operation.superelevation import curve_speed, degree_of_curve, equilibrium_superelevation
from locosim.survey.heights import Heights, broken_line, heights_of
from locosim.survey.momentum_grades import MomentumGrades, momentum_grades
from locosim.survey.roughness import Roughness, roughness_of, total_rise
from locosim.survey.ruling import RulingGrade, ruling_grades

UNBALANCED_SUPERELEVATION = 0.0762  # 3 in, the general rule of [CFR213] § 213.57 [m]
MIN_SPEED = (
    4.4704  # 10 mph, the usual least speed of a loaded train on a grade; common practice, no source [m/s]
)
FASTEST = 90.0  # above any speed limit that a line may have [m/s]
MAX_STRETCHES = 28  # of the profile that are named: as many as a picture has room for


@frozen
class GradeStretch:
    """A stretch of the profile with its mean grade.

    Attributes:
        start, end: Chainages [m].
        grade: Mean grade, positive if rising [1].
    """

    start: float
    end: float
    grade: float


@frozen
class CurveSpeed:
    """A curve with the speeds its superelevation allows.

    Attributes:
        curve: The curve.
        limit: Highest speed that the line allows on it [m/s].
        balanced_speed: Speed at which both rails carry alike; None where no superelevation is given [m/s].
        allowed_speed: Speed with 3 in of superelevation lacking; None where none is given [m/s].
        required_superelevation: Superelevation with which the limit of the line is allowed, 0 where none is needed [m].
    """

    curve: Curve
    limit: float
    balanced_speed: float | None
    allowed_speed: float | None
    required_superelevation: float


@frozen
class RouteExamination:
    """A line examined.

    Attributes:
        route: The line.
        rise, fall: Total rise and total fall in the direction of the chainage [m].
        steepest_rise, steepest_fall: The steepest pieces of the profile; grade 0 where it never rises or falls.
        stretches: The profile in at most 28 stretches, each with its mean grade.
        stretch_tolerance: Largest difference in height between these stretches and the profile [m].
        ruling: Ruling grades by train length.
        momentum: Momentum grades; None where the line never rises.
        curves: Every curve, with its speeds.
        curved_length: Length of line in curves [m].
        roughness: Roughness of the heights.
        missing: What the file does not give, one sentence each.
    """

    route: Route
    rise: float
    fall: float
    steepest_rise: GradeStretch
    steepest_fall: GradeStretch
    stretches: tuple[GradeStretch, ...]
    stretch_tolerance: float
    ruling: tuple[RulingGrade, ...]
    momentum: MomentumGrades
    curves: tuple[CurveSpeed, ...]
    curved_length: float
    roughness: Roughness
    missing: tuple[str, ...]


def examine_route(
    route: Route,
    *,
    lengths: Sequence[float],
    entry_speed: float | None = None,
    min_speed: float = MIN_SPEED,
    ruling: float | None = None,
) -> RouteExamination:
    """Examine a line.

    Args:
        route: The line.
        lengths: Lengths of train for the ruling grade; the momentum grades are for the shortest [m].
        entry_speed: Highest speed of the train before a momentum grade; the limits of the line if omitted [m/s].
        min_speed: Speed below which the train must not fall on a momentum grade, below `FASTEST` [m/s].
        ruling: Ruling grade the engine is loaded for; if omitted, the lowest that momentum allows [1].

    Raises:
        OutOfRange: A train longer than the line, or a speed or grade that is not above zero.
    """
    lengths = sorted(set(lengths))
    _check_arguments(route, lengths, entry_speed, min_speed, ruling)
    heights = heights_of(route)
    rise = total_rise(heights.height)
    corners, tolerance = _main_corners(heights)
    return RouteExamination(
        route=route,
        rise=rise,
        fall=rise - float(heights.height[-1] - heights.height[0]),
        steepest_rise=_steepest_piece(heights, 1.0),
        steepest_fall=_steepest_piece(heights, -1.0),
        stretches=_grade_stretches(Heights(heights.chainage[corners], heights.height[corners])),
        stretch_tolerance=tolerance,
        ruling=ruling_grades(route, lengths),
        momentum=momentum_grades(
            route, length=lengths[0], min_speed=min_speed, entry_speed=entry_speed, ruling=ruling
        ),
        curves=tuple(_curve_speed(route, curve) for curve in route.curves),
        curved_length=_length_in_curves(route),
        roughness=roughness_of(route),
        missing=tuple(missing_data(route)),
    )


def _check_arguments(
    route: Route, lengths: Sequence[float], entry_speed: float | None, min_speed: float, ruling: float | None
) -> None:
    """Check the arguments of `examine_route`."""
    line = route.end - route.start
    faults = []
    if not lengths or not 0.0 < lengths[0] <= line:
        text = "must be above 0 and no longer than the line, {line}, found {found}; write a shorter train"
        found = lengths[0] if lengths else 0.0
        faults.append(Fault("lengths", text, "m", {"line": line, "found": found}))
    if not 0.0 < min_speed < FASTEST:
        text = "must be above 0 and below {most}, found {found}"
        faults.append(Fault("min_speed", text, "m/s", {"most": FASTEST, "found": min_speed}))
    if entry_speed is not None and entry_speed <= min_speed:
        text = "must be above the lowest speed allowed, {min_speed}, found {found}"
        faults.append(Fault("entry_speed", text, "m/s", {"min_speed": min_speed, "found": entry_speed}))
    if ruling is not None and not 0.0 <= ruling < 0.15:
        text = "must be at least 0 and below 0.15, rise over run, found {found}"
        faults.append(Fault("ruling", text, figures={"found": f"{ruling:g}"}))
    if faults:
        raise OutOfRange.by(faults)


def _main_corners(heights: Heights) -> tuple[list[int], float]:
    """Corners of the profile in at most `MAX_STRETCHES` stretches, and the largest difference in height."""
    tolerance = 0.01
    while len(corners := broken_line(*heights, tolerance)) > MAX_STRETCHES + 1:
        tolerance *= 1.3
    reduced = Heights(heights.chainage[corners], heights.height[corners])
    return corners, float(np.max(np.abs(reduced.at(heights.chainage) - heights.height)))


def _grade_stretches(heights: Heights) -> tuple[GradeStretch, ...]:
    ends = heights.chainage.tolist()
    return tuple(
        GradeStretch(start=a, end=b, grade=grade)
        for a, b, grade in zip(ends[:-1], ends[1:], heights.grades.tolist(), strict=True)
    )


def _steepest_piece(heights: Heights, sign: float) -> GradeStretch:
    """The piece of the profile that rises most steeply, or falls most steeply for a sign below zero."""
    at = int(np.argmax(sign * heights.grades))
    grade = float(heights.grades[at])
    return GradeStretch(
        start=float(heights.chainage[at]),
        end=float(heights.chainage[at + 1]),
        grade=grade if sign * grade > 0 else 0.0,
    )


def _curve_speed(route: Route, curve: Curve) -> CurveSpeed:
    """The speeds of one curve."""
    degree = float(degree_of_curve(radius=curve.radius))
    limits = [each.speed for each in route.speed_limits if each.start < curve.end and each.end > curve.start]
    limit = _highest_limit(route, curve) if limits else route.speed_limit
    given, lacking = curve.superelevation, UNBALANCED_SUPERELEVATION
    needed = float(equilibrium_superelevation(degree_of_curve=degree, speed=limit)) - lacking

    def speed(unbalanced: float) -> float | None:
        if given is None:
            return None
        return float(
            curve_speed(degree_of_curve=degree, superelevation=given, unbalanced_superelevation=unbalanced)
        )

    return CurveSpeed(
        curve=curve,
        limit=limit,
        balanced_speed=speed(0.0),
        allowed_speed=speed(lacking),
        required_superelevation=max(needed, 0.0),
    )


def _highest_limit(route: Route, curve: Curve) -> float:
    """Highest of the speed limits that apply on a curve."""
    ends = [place for each in route.speed_limits for place in (each.start, each.end)]
    places = sorted({curve.start, curve.end, *(p for p in ends if curve.start < p < curve.end)})
    highest = 0.0
    for a, b in pairwise(places):
        middle = (a + b) / 2
        lower = [each.speed for each in route.speed_limits if each.start <= middle <= each.end]
        highest = max(highest, min([route.speed_limit, *lower]))
    return highest


def _length_in_curves(route: Route) -> float:
    """Length of line in curves, overlaps counted once [m]."""
    length, reached = 0.0, route.start
    for curve in sorted(route.curves, key=lambda each: each.start):
        start, end = max(curve.start, reached), min(curve.end, route.end)
        length += max(end - start, 0.0)
        reached = max(reached, end)
    return length


def missing_data(route: Route) -> list[str]:
    """What the description of a line does not give, one sentence each, with what follows from it."""
    without = sum(curve.superelevation is None for curve in route.curves)
    checks = (
        (not route.curves, "No curves: curve resistance and the sharpest radius are not checked."),
        (
            without > 0,
            f"No superelevation for {without} of {len(route.curves)} curves: the speed on them is not checked.",
        ),
        (not any(s.water_rate for s in route.stations), "No water at any station: nothing can be taken on."),
        (not any(s.fuel_rate for s in route.stations), "No fuel at any station: none can be taken on."),
        (
            not route.speed_limits,
            "No speed limits but that of the line: station limits and slow orders are missing.",
        ),
        (route.axle_load_limit is None, "No axle load limit: axle loads are not checked."),
        (not route.tunnels, "No tunnels: give them if there are any."),
        (
            not route.rail_condition_zones,
            "No stretches with their own rail condition: wet tunnels and shaded cuts count as the rest of the line.",
        ),
        (not route.references, "No references: where the data come from is not stated."),
    )
    return [text for absent, text in checks if absent]


@frozen
class LinePiece:
    """A piece of a line with one grade, one curve and one speed limit.

    Attributes:
        start, end: Chainages [m].
        height: Height at the start: elevation where the line gives it, else above its first point [m].
        grade: Grade [1].
        radius: Radius of the sharpest curve; None on tangent track [m].
        superelevation: Superelevation of that curve; None where not given [m].
        speed_limit: Speed limit [m/s].
    """

    start: float
    end: float
    height: float
    grade: float
    radius: float | None
    superelevation: float | None
    speed_limit: float


def line_pieces(route: Route) -> list[LinePiece]:
    """The line as pieces in order, as a track chart has them."""
    heights = heights_of(route)
    ends = [place for curve in route.curves for place in (curve.start, curve.end)]
    ends += [place for limit in route.speed_limits for place in (limit.start, limit.end)]
    places = np.unique(np.clip([*heights.chainage.tolist(), *ends], route.start, route.end)).tolist()
    pieces = []
    for start, end in pairwise(places):
        middle = (start + end) / 2
        curves = [curve for curve in route.curves if curve.start < middle < curve.end]
        sharpest = min(curves, key=lambda curve: curve.radius, default=None)
        limits = [each.speed for each in route.speed_limits if each.start < middle < each.end]
        at, beyond = float(heights.at(start)), float(heights.at(end))
        pieces.append(
            LinePiece(
                start=start,
                end=end,
                height=at,
                grade=(beyond - at) / (end - start),
                radius=sharpest.radius if sharpest else None,
                superelevation=sharpest.superelevation if sharpest else None,
                speed_limit=min([route.speed_limit, *limits]),
            )
        )
    return pieces
