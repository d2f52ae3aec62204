"""Lines reversed, cut, joined and smoothed: laws of identity, and what cannot be done."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locosim.errors import OutOfRange
from locosim.model import ProfilePoint, Route
from locosim.scenario import load_route
from locosim.survey.editing import cut_route, join_routes, reverse_route, smooth_route
from locosim.survey.heights import heights_of

MAIN = load_route("scenarios/routes/main_line.toml")
QUERNBY = load_route("scenarios/routes/quernby_line.toml")
LINES = pytest.mark.parametrize("line", [MAIN, QUERNBY], ids=["by grade", "by elevation"])


def assert_same(one: Any, other: Any, where: str = "") -> None:
    """Check that two lines are the same, numbers to a millionth."""
    if is_dataclass(one):
        for each in fields(one):
            if each.compare:
                assert_same(getattr(one, each.name), getattr(other, each.name), f"{where}.{each.name}")
    elif isinstance(one, tuple):
        assert len(one) == len(other), where
        for number, (a, b) in enumerate(zip(one, other, strict=True)):
            assert_same(a, b, f"{where}[{number}]")
    elif isinstance(one, float) and isinstance(other, float):
        assert one == pytest.approx(other, rel=1e-9, abs=1e-6), where
    else:
        assert one == other, where


def without_last_grade(route: Route) -> Route:
    """A line whose last point has no grade, which would say nothing."""
    last = route.profile[-1]
    return replace(
        route, profile=(*route.profile[:-1], ProfilePoint(chainage=last.chainage, elevation=last.elevation))
    )


@LINES
def test_reversing_twice_gives_the_line_again(line: Route) -> None:
    once = reverse_route(line).route
    assert once.name == f"{line.name}, reversed"
    assert_same(reverse_route(once).route, without_last_grade(line))


@LINES
def test_a_reversed_line_has_its_rises_where_there_were_falls(line: Route) -> None:
    there, back = heights_of(line), heights_of(reverse_route(line).route)
    for share in (0.1, 0.33, 0.8):
        at = line.start + share * (line.end - line.start)
        mirrored = line.start + line.end - at
        drop = float(there.at(line.end)) - float(there.at(at))
        assert float(back.at(line.start) - back.at(mirrored)) == pytest.approx(drop, abs=1e-6)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.floats(0.23, 0.73), st.booleans())
def test_cut_and_joined_gives_the_line_again(share: float, by_grade: bool) -> None:
    line = MAIN if by_grade else QUERNBY
    at = line.start + share * (line.end - line.start)
    parts = [cut_route(line, end=at).route, cut_route(line, start=at).route]
    joined = join_routes(parts).route
    # A curve that the cut divides is one again; the order of stretches is by line, then by chainage.
    assert_same(_sorted(joined), _sorted(without_last_grade(line)))


def _corners(route: Route) -> tuple[ProfilePoint, ...]:
    """The profile without points on a constant grade, which say nothing."""
    grades = [grade for _, _, grade in route.grade_segments()]
    inner = [p for n, p in enumerate(route.profile[1:-1]) if abs(grades[n] - grades[n + 1]) > 1e-9]
    return (route.profile[0], *inner, route.profile[-1])


def _sorted(route: Route) -> Route:
    def ordered(stretches: Any) -> Any:
        return tuple(sorted(stretches, key=lambda each: (each.start, each.end)))

    return replace(
        route,
        profile=_corners(route),
        speed_limits=ordered(route.speed_limits),
        curves=ordered(route.curves),
        tunnels=ordered(route.tunnels),
        rail_condition_zones=ordered(route.rail_condition_zones),
    )


@LINES
def test_cut_at_a_station_and_joined_gives_the_line_again(line: Route) -> None:
    at = line.stations[2].chainage
    parts = [cut_route(line, end=at).route, cut_route(line, start=at).route]
    assert parts[0].stations[-1] == parts[1].stations[0]
    assert_same(_sorted(join_routes(parts).route), _sorted(without_last_grade(line)))


@LINES
def test_a_cut_that_leaves_everything_is_the_line(line: Route) -> None:
    assert_same(cut_route(line).route, without_last_grade(line))


def test_a_part_keeps_its_chainages_and_its_grades() -> None:
    part = cut_route(MAIN, start=15000.0, end=60000.0).route
    assert (part.start, part.end) == (15000.0, 60000.0)
    whole, cut = heights_of(MAIN), heights_of(part)
    rise = float(whole.at(52345.0) - whole.at(34567.0))
    assert float(cut.at(52345.0) - cut.at(34567.0)) == pytest.approx(rise)
    assert all(15000.0 <= each.start < each.end <= 60000.0 for each in part.curves)


def test_a_cut_off_the_line_or_with_one_station_is_refused() -> None:
    with pytest.raises(OutOfRange, match="must be on the line"):
        cut_route(MAIN, start=-5000.0)
    with pytest.raises(OutOfRange, match="must be beyond the start"):
        cut_route(MAIN, start=20000.0, end=10000.0)
    with pytest.raises(OutOfRange, match="fewer than two stations"):
        cut_route(MAIN, start=17000.0, end=20000.0)


def test_lines_of_different_kinds_are_joined_by_grade_with_the_stricter_values() -> None:
    made = join_routes([MAIN, QUERNBY], name="Both")
    whole = made.route
    assert whole.name == "Both"
    assert whole.end - whole.start == pytest.approx(MAIN.end - MAIN.start + QUERNBY.end - QUERNBY.start)
    assert whole.axle_load_limit == QUERNBY.axle_load_limit
    assert whole.speed_limit == MAIN.speed_limit
    limits = [each for each in whole.speed_limits if each.end - each.start > 60000.0]
    assert [each.speed for each in limits] == [QUERNBY.speed_limit]
    net = [float(heights_of(line).height[-1] - heights_of(line).height[0]) for line in (MAIN, QUERNBY)]
    assert float(heights_of(whole).height[-1] - heights_of(whole).height[0]) == pytest.approx(sum(net))


def test_lines_that_meet_at_different_elevations_are_joined_with_a_note() -> None:
    made = join_routes(
        [
            QUERNBY,
            replace(reverse_route(MAIN).route),
        ]
    )
    assert made.notes == ()  # one is by grade: nothing to compare
    other = replace(
        QUERNBY,
        stations=tuple(replace(each, name=f"{each.name} 2") for each in QUERNBY.stations),
    )
    made = join_routes([QUERNBY, other])
    assert "elevation" in made.notes[0].text
    assert made.route.profile[0].grade is not None


def test_a_station_where_lines_meet_is_one_also_where_the_files_place_it_apart() -> None:
    first = cut_route(MAIN, end=MAIN.station("Marlby").chainage).route
    begins = replace(QUERNBY.stations[0], name="Marlby", chainage=QUERNBY.start + 40.0, fuel_rate=9.0)
    made = join_routes([first, replace(QUERNBY, stations=(begins, *QUERNBY.stations[1:]))])
    found = made.route.station("Marlby")
    assert found.chainage == first.end
    assert found.fuel_rate == 9.0
    assert found.water_rate == MAIN.station("Marlby").water_rate
    assert made.notes[0].facts["apart"] == (pytest.approx(40.0), "length")


def test_lines_that_cannot_be_joined_are_refused_with_the_reason() -> None:
    with pytest.raises(OutOfRange, match="at least two lines"):
        join_routes([MAIN])
    with pytest.raises(OutOfRange, match="station"):
        join_routes([MAIN, MAIN])
    with pytest.raises(OutOfRange, match="curve_resistance_law"):
        join_routes([MAIN, replace(QUERNBY, curve_resistance_law="roeckl")])


def test_smoothing_a_line_keeps_its_ends_and_everything_but_the_profile() -> None:
    made = smooth_route(QUERNBY, length=300.0)
    assert made.smoothing is not None
    assert made.smoothing.end_change == pytest.approx(0.0, abs=1e-9)
    assert replace(made.route, profile=QUERNBY.profile) == QUERNBY
    before, after = heights_of(QUERNBY), heights_of(made.route)
    assert float(abs(after.at(before.chainage) - before.height).max()) <= made.smoothing.max_change + 1e-12


def test_a_line_that_needs_no_smoothing_is_left_alone() -> None:
    made = smooth_route(QUERNBY)
    assert made.route == QUERNBY
    assert "need no smoothing" in made.notes[0].text


def test_a_bound_on_the_grade_is_kept() -> None:
    made = smooth_route(MAIN, length=0.0, max_grade=0.015)
    assert abs(heights_of(made.route).grades).max() <= 0.015 + 1e-9
    with pytest.raises(OutOfRange):
        smooth_route(MAIN, max_grade=0.5)
    with pytest.raises(OutOfRange):
        smooth_route(MAIN, length=-1.0)
