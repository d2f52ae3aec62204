"""Route and excursion: conditions between fields, and the reversed route."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import trials
from hypothesis import given, settings
from hypothesis import strategies as st

from locosim.errors import OutOfRange
from locosim.model import (
    Curve,
    Helper,
    ProfilePoint,
    RailConditionZone,
    Route,
    SpeedLimit,
    Station,
    Stop,
    Tunnel,
)


def full_route() -> Route:
    return trials.line(
        [(1500.0, 0.004), (800.0, -0.01), (2200.0, 0.0), (900.0, 0.006)],
        stops=(2300.0,),
        speed_limits=(
            SpeedLimit(start=1200.0, end=1900.0, speed=12.0),
            SpeedLimit(start=4000.0, end=4400.0, speed=9.0),
        ),
        curves=(Curve(start=1100.0, end=1300.0, radius=300.0), Curve(start=2500.0, end=2900.0, radius=500.0)),
        tunnels=(Tunnel(start=3000.0, end=3300.0, name="the long one"),),
        rail_condition_zones=(RailConditionZone(start=3000.0, end=3300.0, rail="wet"),),
    )


def by_elevation() -> Route:
    return replace(
        full_route(),
        profile=tuple(
            ProfilePoint(chainage=x, elevation=z)
            for x, z in ((0.0, 100.0), (1500.0, 108.0), (3000.0, 101.0), (6400.0, 112.0))
        ),
    )


def same(one: Route, other: Route) -> None:
    assert np.allclose(np.array(one.grade_segments()), np.array(other.grade_segments()), rtol=0, atol=1e-9)
    for name in ("stations", "speed_limits", "curves", "tunnels", "rail_condition_zones"):
        for a, b in zip(getattr(one, name), getattr(other, name), strict=True):
            for field in ("start", "end", "chainage", "speed", "radius"):
                if hasattr(a, field):
                    assert getattr(a, field) == pytest.approx(getattr(b, field), abs=1e-9)
            assert getattr(a, "name", "") == getattr(b, "name", "")


@pytest.mark.parametrize("route", [full_route(), by_elevation()], ids=["grades", "elevations"])
def test_a_route_reversed_twice_is_unchanged(route: Route) -> None:
    same(route.reversed().reversed(), route)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.floats(20.0, 3000.0), st.floats(-0.03, 0.03)), min_size=1, max_size=12),
    st.floats(-5000.0, 50000.0),
)
def test_any_route_reversed_twice_is_unchanged(pieces: list[tuple[float, float]], start: float) -> None:
    points, place = [], start
    for length, grade in pieces:
        points.append(ProfilePoint(chainage=place, grade=grade))
        place += length
    points.append(ProfilePoint(chainage=place))
    route = Route(
        name="any",
        profile=tuple(points),
        stations=(Station(name="A", chainage=start), Station(name="B", chainage=place)),
        speed_limit=20.0,
    )
    back = route.reversed()
    assert np.allclose(
        np.array(back.reversed().grade_segments()), np.array(route.grade_segments()), rtol=0, atol=1e-9
    )
    # A rise in one direction is a fall in the other.
    rise = sum((end - begin) * grade for begin, end, grade in route.grade_segments())
    assert sum((end - begin) * grade for begin, end, grade in back.grade_segments()) == pytest.approx(
        -rise, abs=1e-7
    )


def test_everything_on_a_reversed_route_is_at_its_place() -> None:
    route, back = full_route(), full_route().reversed()
    assert (back.start, back.end) == (route.start, route.end)
    assert [s.name for s in back.stations] == ["C", "B", "A"]
    total = route.start + route.end
    assert back.station("B").chainage == pytest.approx(total - route.station("B").chainage)
    assert back.grade_segments()[0][2] == -0.006
    assert back.grade_segments()[-1][2] == pytest.approx(-0.004)
    first = back.curves[0]
    assert (first.start, first.end, first.radius) == (total - 2900.0, total - 2500.0, 500.0)
    limit = back.speed_limits[0]
    assert (limit.start, limit.end, limit.speed) == (total - 4400.0, total - 4000.0, 9.0)
    assert back.rail_condition_zones[0].rail == "wet"
    assert back.tunnels[0].name == "the long one"


def test_a_curve_beyond_the_end_is_reversed_too() -> None:
    route = replace(full_route(), curves=(Curve(start=6300.0, end=6900.0, radius=300.0),))
    curve = route.reversed().curves[0]
    assert (curve.start, curve.end) == (-500.0, 100.0)


def test_elevations_give_grades() -> None:
    grades = [grade for _, _, grade in by_elevation().grade_segments()]
    assert grades == pytest.approx([8 / 1500, -7 / 1500, 11 / 3400])


def by_grades(*points: tuple[float, float | None]) -> tuple[ProfilePoint, ...]:
    return tuple(ProfilePoint(chainage=x, grade=grade) for x, grade in points)


def by_heights(*points: tuple[float, float]) -> tuple[ProfilePoint, ...]:
    return tuple(ProfilePoint(chainage=x, elevation=z) for x, z in points)


BOTH = ProfilePoint(chainage=0.0, elevation=1.0, grade=0.0)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"profile": by_grades((0.0, 0.0), (6400.0, 0.01), (6400.0, None))},
            r"profile\[3\]\.chainage must be beyond the point before it, at 6400 m, found 6400 m",
        ),
        (
            {"profile": by_grades((0.0, 0.0), (100.0, None), (6400.0, None))},
            r"Route\.profile\[2\] must give a grade like every point but the last",
        ),
        (
            {"profile": (BOTH, *by_heights((6400.0, 2.0)))},
            r"Route\.profile\[1\] must give .* or an elevation like every point",
        ),
        (
            {"profile": by_heights((0.0, 0.0), (100.0, 20.0), (6400.0, 0.0))},
            r"profile\[2\]\.elevation makes a grade of 20\.0 % .*; grades must be below 15 %",
        ),
        ({"profile": by_grades((0.0, None))}, r"Route\.profile needs at least 2 items, found 1"),
        (
            {"stations": (Station(name="A", chainage=0.0), Station(name="A", chainage=500.0))},
            r"Route\.stations\[2\]\.name is also the name of another station, found 'A'",
        ),
        (
            {"stations": (Station(name="A", chainage=-1.0), Station(name="B", chainage=500.0))},
            r"stations\[1\]\.chainage must be on the profile, from 0 m to 6400 m, found -1 m",
        ),
        (
            {"stations": (Station(name="A", chainage=900.0), Station(name="B", chainage=500.0))},
            r"stations\[2\]\.chainage must be at least 10 m beyond the station before it, at 900 m, found 500 m",
        ),
    ],
)
def test_an_inconsistent_route_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        replace(full_route(), **changes)


@pytest.mark.parametrize(
    ("made", "arguments"),
    [
        (Curve, {"radius": 300.0}),
        (SpeedLimit, {"speed": 9.0}),
        (Tunnel, {}),
        (RailConditionZone, {"rail": "wet"}),
    ],
)
def test_a_stretch_ends_beyond_its_start(made: Any, arguments: dict[str, Any]) -> None:
    with pytest.raises(OutOfRange, match=rf"{made.__name__}\.end must be beyond start \(100 m\), found 100"):
        made(start=100.0, end=100.0, **arguments)


def test_rounding_cannot_move_a_station_off_the_line() -> None:
    # 12 mile 43 chain by the definitions of 1959: 12.5375 miles of 1609.344 m; the two differ in the last bit.
    end = 12.5375 * 1609.344
    last = Station(name="B", chainage=end + 4e-12)
    assert last.chainage > end
    stations = (Station(name="A", chainage=-4e-12), last)
    route = Route(name="r", profile=by_grades((0.0, 0.0), (end, None)), speed_limit=20.0, stations=stations)
    assert [s.chainage for s in route.stations] == [0.0, end]


def test_an_unknown_station_is_answered_with_the_known_ones() -> None:
    with pytest.raises(OutOfRange, match=r"no station 'D' on trial line; there are A, B, C"):
        full_route().station("D")


# The excursion


def test_stops_follow_the_direction_of_travel() -> None:
    asked = trials.excursion(full_route())
    assert asked.route_as_run is asked.route
    turned = (Stop(station="C"), Stop(station="A"))
    with pytest.raises(OutOfRange, match=r"stops must be in order of travel \(forward\), found C, A"):
        replace(asked, stops=turned)
    back = replace(asked, stops=turned, direction="reverse")
    assert [s.name for s in back.route_as_run.stations] == ["C", "B", "A"]
    with pytest.raises(OutOfRange, match=r"stops must be in order of travel \(reverse\), found A, C"):
        replace(back, stops=(Stop(station="A"), Stop(station="C")))
    with pytest.raises(OutOfRange, match=r"stops must be in order of travel \(forward\), found A, A"):
        replace(asked, stops=(Stop(station="A"), Stop(station="A")))


def test_stops_are_stations_of_the_line() -> None:
    with pytest.raises(
        OutOfRange, match=r"stops\[2\]\.station must be a station of the route, found 'X'; there are A, B, C"
    ):
        trials.excursion(full_route(), stops=(Stop(station="A"), Stop(station="X")))
    with pytest.raises(OutOfRange, match=r"Excursion\.stops needs at least 2 items, found 1"):
        trials.excursion(full_route(), stops=(Stop(station="A"),))


def test_helpers_are_coupled_on_and_cut_off_at_stops_in_order() -> None:
    helper = Helper(locomotive=trials.locomotive(), from_station="B", to_station="C")
    trials.excursion(full_route(), helpers=(helper,))
    with pytest.raises(
        OutOfRange, match=r"helpers\[1\]\.from_station must be one of the stops \(A, B, C\), found 'X'"
    ):
        trials.excursion(full_route(), helpers=(replace(helper, from_station="X"),))
    with pytest.raises(OutOfRange, match=r"helpers\[1\]\.to_station is cut off at A before it is coupled on"):
        trials.excursion(full_route(), helpers=(replace(helper, to_station="A"),))


@pytest.mark.parametrize(
    ("on", "off", "where"), [("B", "B", "B"), ("C", None, "C"), ("C", "C", "C"), (None, "A", "A")]
)
def test_a_helper_that_helps_nowhere_is_refused(on: str | None, off: str | None, where: str) -> None:
    helper = Helper(locomotive=trials.locomotive(), from_station=on, to_station=off)
    with pytest.raises(
        OutOfRange,
        match=rf"helpers\[1\] is coupled on and cut off at {where} and helps nowhere; name two of the stops, A, B, C",
    ):
        trials.excursion(full_route(), helpers=(helper,))


HOUR = 3600.0


@pytest.mark.parametrize(
    ("stops", "message"),
    [
        (
            [{}, {"arrive": 23.9 * HOUR}, {"arrive": 1.0 * HOUR}],
            r"stops\[3\]\.arrive is before stops\[2\]\.arrive at 23:54, found 01:00; .* write \"25:00\" for that",
        ),
        (
            [{}, {"depart": 23.25 * HOUR}, {}],
            r"stops\[2\]\.depart is before the departure at 23:30, found 23:15; ",
        ),
        (
            [{}, {"arrive": 23.75 * HOUR, "depart": 23.6 * HOUR}, {}],
            r"stops\[2\]\.depart is before stops\[2\]\.arrive at 23:45, found 23:36; ",
        ),
        (
            [{"depart": 23.75 * HOUR + 30}, {}, {}],
            r"stops\[1\]\.depart is not allowed at the first stop, .*; write departure = \"23:45:30\"",
        ),
        ([{"arrive": 23.25 * HOUR}, {}, {}], r"stops\[1\]\.arrive is not allowed at the first stop"),
    ],
)
def test_times_out_of_order_are_refused(stops: list[dict[str, float]], message: str) -> None:
    made = tuple(Stop(station=name, **times) for name, times in zip("ABC", stops, strict=True))
    with pytest.raises(OutOfRange, match=message):
        trials.excursion(full_route(), departure=23.5 * HOUR, stops=made)


def test_hours_of_the_next_day_continue_from_24() -> None:
    stops = (
        Stop(station="A"),
        Stop(station="B", arrive=23.5 * HOUR, depart=24.25 * HOUR),
        Stop(station="C", arrive=25.0 * HOUR),
    )
    assert trials.excursion(full_route(), departure=23.5 * HOUR, stops=stops).stops[2].arrive == 90000.0


@pytest.mark.parametrize(
    ("law", "least"), [("roeckl", 100.0), ("roeckl_meter_gauge", 60.0), ("launhardt_1888", 100.0)]
)
def test_a_curve_law_is_used_only_in_its_range(law: str, least: float) -> None:
    def curved(radius: float) -> Route:
        curve = Curve(start=2000.0, end=4000.0, radius=radius)
        return trials.line([(6000.0, 0.0)], curves=(curve,), curve_resistance_law=law)

    curved(least)
    with pytest.raises(
        OutOfRange, match=rf'at least {least:g} m for curve_resistance_law = "{law}", found 59\.5 m'
    ):
        curved(59.5)
