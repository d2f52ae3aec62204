"""Lines cut, joined, reversed and smoothed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from locosim.errors import Fault, OutOfRange
from locosim.model import Curve, ProfilePoint, RailConditionZone, Route, SpeedLimit, Station, Tunnel
from locosim.model.provenance import Provenance
from locosim.survey.heights import Heights, broken_line, heights_of, rounding_step
from locosim.survey.made_route import MadeRoute, Note, verbatim
from locosim.survey.roughness import smooth_within, smoothing_change, suited_length

Stretch = TypeVar("Stretch", Curve, SpeedLimit, Tunnel, RailConditionZone)

SAME_PLACE = 1e-3  # places closer than this are one [m]
SAME_STATION = 500.0  # stations of one name closer than this, where lines meet, are one; our choice [m]
SAME_HEIGHT = 0.05  # elevations of two lines where they meet, closer than this, are one [m]
PROFILE_TOLERANCE = 0.1  # between smoothed heights and the profile; our choice [m]


def reverse_route(route: Route) -> MadeRoute:
    """The same line in the opposite direction; twice gives the line again."""
    return MadeRoute(route=replace(route.reversed(), name=_reversed_name(route.name)))


def _reversed_name(name: str) -> str:
    mark = ", reversed"
    return name.removesuffix(mark) if name.endswith(mark) else name + mark


def smooth_route(route: Route, *, length: float | None = None, max_grade: float | None = None) -> MadeRoute:
    """A line with its heights smoothed; everything else stays.

    Args:
        route: The line.
        length: Length over which to smooth, 0 for none; suited to the heights if omitted [m].
        max_grade: Steepest grade the line may have [1].

    Raises:
        OutOfRange: A length or grade that is not allowed.
    """
    _check_smoothing(length, max_grade)
    before = heights_of(route)
    step = rounding_step(before.height) if route.profile[0].elevation is not None else None
    chosen = suited_length(before, step) if length is None else length
    after = smooth_within(before, chosen, max_grade)
    if after is before:
        note = Note(
            "The heights need no smoothing; the line is as it was. Give a length to smooth it anyway."
        )
        return MadeRoute(
            route=route,
            notes=(note,),
            before=before,
            smoothing=smoothing_change(before, before, 0.0),
        )
    kept = broken_line(*after, PROFILE_TOLERANCE)
    profile = Heights(after.chainage[kept], after.height[kept])
    points = tuple(
        ProfilePoint(chainage=float(chainage), elevation=float(height))
        for chainage, height in zip(*profile, strict=True)
    )
    return MadeRoute(
        route=replace(route, profile=points),
        before=before,
        smoothing=smoothing_change(before, profile, chosen),
    )


def _check_smoothing(length: float | None, max_grade: float | None) -> None:
    faults = []
    if length is not None and not 0.0 <= length <= 5000.0:
        text = "must be from 0 to {most}, found {found}"
        faults.append(Fault("smoothing", text, "m", {"most": 5000.0, "found": length}))
    if max_grade is not None and not 0.001 <= max_grade < 0.15:
        found = f"{100 * max_grade:g} %"
        faults.append(
            Fault(
                "max_grade", "must be at least 0.1 % and below 15 %, found {found}", figures={"found": found}
            )
        )
    if faults:
        raise OutOfRange.by(faults)


def cut_route(route: Route, *, start: float | None = None, end: float | None = None) -> MadeRoute:
    """A part of a line, with its chainages as they were.

    Args:
        route: The line.
        start: Chainage where the part begins; that of the line if omitted [m].
        end: Chainage where it ends; that of the line if omitted [m].

    Raises:
        OutOfRange: The part is not on the line, ends before it starts, or has fewer than two stations.
    """
    start = route.start if start is None else start
    end = route.end if end is None else end
    _check_cut(route, start, end)
    stations = tuple(s for s in route.stations if start - SAME_PLACE <= s.chainage <= end + SAME_PLACE)
    if len(stations) < 2:
        found = stations[0].name if stations else "none"
        raise OutOfRange(
            f"the part of {route.name} has fewer than two stations (found {found}); each line needs two: cut it "
            f"farther apart, or add stations to the file first"
        )
    return MadeRoute(
        route=replace(
            route,
            profile=_cut_profile(route, start, end),
            stations=stations,
            curves=_cut_stretches(route.curves, start, end, route),
            speed_limits=_cut_stretches(route.speed_limits, start, end, route),
            tunnels=_cut_stretches(route.tunnels, start, end, route),
            rail_condition_zones=_cut_stretches(route.rail_condition_zones, start, end, route),
        )
    )


def _check_cut(route: Route, start: float, end: float) -> None:
    figures = {"start": route.start, "end": route.end}
    faults = [
        Fault(
            key, "must be on the line, from {start} to {end}, found {found}", "m", figures | {"found": place}
        )
        for key, place in (("start", start), ("end", end))
        if not route.start - SAME_PLACE <= place <= route.end + SAME_PLACE
    ]
    if not faults and end - start < 1.0:
        faults.append(
            Fault(
                "end", "must be beyond the start, {start}, found {found}", "m", {"start": start, "found": end}
            )
        )
    if faults:
        raise OutOfRange.by(faults)


def _cut_profile(route: Route, start: float, end: float) -> tuple[ProfilePoint, ...]:
    """Points of the profile between two places, with a point at each."""
    heights = heights_of(route)
    by_elevation = route.profile[0].elevation is not None
    inner = [p for p in route.profile if start + SAME_PLACE < p.chainage < end - SAME_PLACE]

    def point(chainage: float, *, last: bool) -> ProfilePoint:
        if by_elevation:
            return ProfilePoint(chainage=chainage, elevation=float(heights.at(chainage)))
        if last:
            return ProfilePoint(chainage=chainage)
        piece = np.searchsorted(heights.chainage, chainage + SAME_PLACE, side="right") - 1
        return ProfilePoint(chainage=chainage, grade=route.profile[int(piece)].grade)

    return (point(start, last=False), *inner, point(end, last=True))


def _cut_stretches(
    stretches: tuple[Stretch, ...], start: float, end: float, route: Route
) -> tuple[Stretch, ...]:
    """Stretches on the part, shortened to it; one beyond an end of the line keeps that end."""
    low = -np.inf if start <= route.start + SAME_PLACE else start
    high = np.inf if end >= route.end - SAME_PLACE else end
    return tuple(
        replace(each, start=float(max(each.start, low)), end=float(min(each.end, high)))
        for each in stretches
        if each.end - low > SAME_PLACE and high - each.start > SAME_PLACE
    )


def join_routes(routes: Sequence[Route], *, name: str | None = None) -> MadeRoute:
    """Several lines, each beginning where the one before ends, as one.

    Args:
        routes: At least two lines. The chainage of the first continues through the others.
        name: Name of the line; the names of the lines if omitted.

    Returns:
        The line. Where two profiles give different elevations at the place they meet, or one gives grades, the
        profile is by grades. The highest of their speed limits is that of the line, with the others as stretches;
        the axle load limit is the lowest.

    Raises:
        OutOfRange: Fewer than two lines, different laws of curve resistance, or stations of one name at two places.
    """
    if len(routes) < 2:
        raise OutOfRange(
            "join needs at least two lines; name them in the order in which the train passes them"
        )
    notes: list[Note] = []
    joined = routes[0]
    for following in routes[1:]:
        joined = _joined(joined, _shifted(following, joined.end - following.start), notes)
    names = list(dict.fromkeys(route.name for route in routes))
    return MadeRoute(
        route=replace(joined, name=name or "; ".join(names), provenance=_all_files(routes)),
        notes=tuple(notes),
    )


def _all_files(routes: Sequence[Route]) -> Provenance | None:
    """Files and changes that all lines were read from; None if they were made in code."""
    read = [route.provenance for route in routes if route.provenance is not None]
    if not read:
        return None
    return Provenance(
        files=tuple(dict.fromkeys(file for each in read for file in each.files)),
        changes=tuple(dict.fromkeys(change for each in read for change in each.changes)),
    )


def _shifted(route: Route, by: float) -> Route:
    """A line with all chainages moved."""
    if by == 0.0:
        return route

    def moved(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
        return tuple(replace(each, start=each.start + by, end=each.end + by) for each in stretches)

    return replace(
        route,
        profile=tuple(replace(point, chainage=point.chainage + by) for point in route.profile),
        stations=tuple(replace(station, chainage=station.chainage + by) for station in route.stations),
        curves=moved(route.curves),
        speed_limits=moved(route.speed_limits),
        tunnels=moved(route.tunnels),
        rail_condition_zones=moved(route.rail_condition_zones),
    )


def _joined(first: Route, second: Route, notes: list[Note]) -> Route:
    """Two lines as one, the second beginning where the first ends."""
    if first.curve_resistance_law != second.curve_resistance_law:
        raise OutOfRange(
            f"{second.name} has curve_resistance_law = {second.curve_resistance_law!r}, and {first.name} "
            f"{first.curve_resistance_law!r}; write the same in both files"
        )
    at = first.end
    speed_limit = max(first.speed_limit, second.speed_limit)
    return replace(
        first,
        profile=_joined_profile(first, second, notes),
        stations=_joined_stations(first, second, notes),
        speed_limit=speed_limit,
        speed_limits=_joined_stretches(_all_limits(first, speed_limit), _all_limits(second, speed_limit), at),
        curves=_joined_stretches(first.curves, second.curves, at),
        tunnels=_joined_stretches(first.tunnels, second.tunnels, at),
        rail_condition_zones=_joined_stretches(first.rail_condition_zones, second.rail_condition_zones, at),
        axle_load_limit=_lower_axle_load(first, second, notes),
        references=tuple(dict.fromkeys([*first.references, *second.references])),
    )


def _all_limits(route: Route, speed_limit: float) -> tuple[SpeedLimit, ...]:
    """Speed limits of a line, with its own as a stretch if that of the joined line is higher."""
    if route.speed_limit == speed_limit:
        return route.speed_limits
    return (SpeedLimit(start=route.start, end=route.end, speed=route.speed_limit), *route.speed_limits)


def _lower_axle_load(first: Route, second: Route, notes: list[Note]) -> float | None:
    given = [each.axle_load_limit for each in (first, second) if each.axle_load_limit is not None]
    if len(given) == 1:
        notes.append(Note("Only one of the lines gives an axle load limit; it counts for the whole line."))
    return min(given) if given else None


def _joined_profile(first: Route, second: Route, notes: list[Note]) -> tuple[ProfilePoint, ...]:
    """Profile of two lines, by elevation if both give the same one where they meet."""
    end, start = first.profile[-1].elevation, second.profile[0].elevation
    if end is not None and start is not None and abs(end - start) < SAME_HEIGHT:
        return _without_needless_point(
            (*first.profile, *second.profile[1:]),
            len(first.profile) - 1,
            heights_of(first),
            heights_of(second),
        )
    if end is not None and start is not None:
        notes.append(
            Note(
                f"{verbatim(first.name)} ends at an elevation of {{end}} and {verbatim(second.name)} begins at "
                "{start}: the profile of the joined line is by grades.",
                {"end": (end, "length"), "start": (start, "length")},
            )
        )
    if end is None and start is None:
        before, after = first.profile[-2], second.profile[0]
        kept = second.profile[1:] if before.grade == after.grade else second.profile
        return (*first.profile[:-1], *kept)
    pieces = [*first.grade_segments(), *second.grade_segments()]
    points = [ProfilePoint(chainage=a, grade=grade) for a, _, grade in pieces]
    return (*points, ProfilePoint(chainage=pieces[-1][1]))


def _without_needless_point(
    profile: tuple[ProfilePoint, ...], at: int, first: Heights, second: Heights
) -> tuple[ProfilePoint, ...]:
    """A profile without the point where the lines meet, if the grade is the same on both sides."""
    if abs(float(first.grades[-1]) - float(second.grades[0])) < 1e-9:
        return profile[:at] + profile[at + 1 :]
    return profile


def _joined_stations(first: Route, second: Route, notes: list[Note]) -> tuple[Station, ...]:
    """Stations of both lines; the one where they meet, if both have it, is one, with the supplies of either."""
    stations, others = list(first.stations), list(second.stations)
    last, following = stations[-1], others[0]
    apart = following.chainage - last.chainage
    if apart < SAME_PLACE or (last.name == following.name and apart < SAME_STATION):
        stations[-1] = replace(
            last,
            water_rate=max(last.water_rate, following.water_rate),
            fuel_rate=max(last.fuel_rate, following.fuel_rate),
            turntable_length=max(last.turntable_length, following.turntable_length),
            wye_length=max(last.wye_length, following.wye_length),
        )
        del others[0]
        if apart >= SAME_PLACE:
            text = f"{verbatim(last.name)} is in both lines, {{apart}} apart: its place is that of the first."
            notes.append(Note(text, {"apart": (apart, "length")}))
    names = {station.name for station in stations}
    twice = [station.name for station in others if station.name in names]
    if twice:
        raise OutOfRange(
            f"{second.name} has a station {twice[0]!r}, as {first.name} has at another place; give each its own "
            "name, or cut the lines where they meet"
        )
    return (*stations, *others)


def _joined_stretches(
    first: tuple[Stretch, ...], second: tuple[Stretch, ...], at: float
) -> tuple[Stretch, ...]:
    """Stretches of both lines in order; two that are alike and meet at the meeting place are one."""
    merged = list(first)
    for each in second:
        match = [n for n, one in enumerate(first) if abs(one.end - at) < SAME_PLACE and _meets(one, each)]
        if match:
            merged[match[0]] = replace(merged[match[0]], end=each.end)
        else:
            merged.append(each)
    return tuple(merged)


def _meets(one: Stretch, other: Stretch) -> bool:
    """Whether a stretch continues another with the same values."""
    return abs(one.end - other.start) < SAME_PLACE and replace(one, start=other.start, end=other.end) == other
