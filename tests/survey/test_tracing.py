"""Lines made from tracks with known grades and radii; distances and curvature against general libraries."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import savgol_filter
from tracks import Layout, layout_of, recorded, write

from locosim.errors import OutOfRange
from locosim.planning.answer import check_excursion
from locosim.scenario import load_excursion, load_route
from locosim.scenario.gpx import read_gpx
from locosim.survey.heights import Heights, heights_of, smoothed
from locosim.survey.made_route import MadeRoute
from locosim.survey.positions import Plane, fit_geometry, nearest_on_line, plane_of, position_noise, standing
from locosim.survey.tracing import NamedPlace, Trace, Tracing, route_from_heights, route_from_trace
from locosim.survey.wandering import grade_error, height_wander, position_wander, rounding_off

TRACING = Tracing(name="Line", speed_limit=20.0)
# Tangents and curves, two of them reverse curves 100 m apart, and two of different radius that meet.
BENDS = [
    (1500.0, 0.0), (400.0, 1 / 600), (800.0, 0.0), (250.0, -1 / 300), (600.0, 0.0), (600.0, 1 / 1000), (100.0, 0.0),
    (300.0, -1 / 250), (900.0, 0.0), (250.0, 1 / 300), (250.0, 1 / 600), (2000.0, 0.0),
]  # fmt: skip
PROFILE = [
    (0.0, 300.0),
    (1500.0, 300.37),
    (3500.0, 321.11),
    (5000.0, 350.23),
    (6500.0, 335.5),
    (7950.0, 336.0),
]
STATIONS = [("Alpha", 20.0), ("Beta", 5000.0), ("Gamma", 7940.0)]


def track(**where: float) -> Layout:
    return Layout(bends=BENDS, profile=PROFILE, stations=STATIONS, **where)


def made(folder: Path, layout: Layout, tracing: Tracing = TRACING, **errors: float) -> MadeRoute:
    return route_from_trace(read_gpx(write(folder, layout.gpx(**errors))).trace, tracing)


def grade_errors(line: MadeRoute) -> np.ndarray:
    """Differences of the grade from that of the layout, over 100 m pieces that have one grade."""
    places = np.arange(0.0, 7900.0, 50.0)
    corners = np.array([chainage for chainage, _ in PROFILE])
    clear = np.min(np.abs(places[:, None] + 50.0 - corners[None, :]), axis=1) > 300.0
    exact = Heights(corners, np.array([height for _, height in PROFILE]))
    fitted = heights_of(line.route)
    found = (fitted.at(places + 100.0) - fitted.at(places)) / 100.0
    return (found - (exact.at(places + 100.0) - exact.at(places)) / 100.0)[clear]


def test_an_exact_track_gives_every_grade_and_radius(tmp_path: Path) -> None:
    line = made(tmp_path, track())
    assert line.route.end == pytest.approx(7950.0, abs=0.2)
    exact = [(start, end, bend) for start, end, bend in _curves_of(BENDS)]
    assert line.curvature is not None
    assert len(line.curvature.curves) == len(exact)
    for found, (start, end, bend) in zip(line.curvature.curves, exact, strict=True):
        assert found.start == pytest.approx(start, abs=3.0)
        assert found.end == pytest.approx(end, abs=3.0)
        assert found.curvature == pytest.approx(bend, rel=0.005)
    assert np.max(np.abs(grade_errors(line))) < 1e-3
    assert [s.name for s in line.route.stations] == ["Alpha", "Beta", "Gamma"]
    assert [s.chainage for s in line.route.stations] == pytest.approx([20.0, 5000.0, 7940.0], abs=1.0)


def _curves_of(bends: list[tuple[float, float]]) -> list[tuple[float, float, float]]:
    at, found = 0.0, []
    for length, bend in bends:
        if bend:
            found.append((at, at + length, bend))
        at += length
    return found


def test_errors_of_a_receiver_leave_grades_and_radii_within_what_is_stated(tmp_path: Path) -> None:
    # 1 m across and 2 m up at every point, each by chance. Stated before it was run: 0.2 % in the grade, root mean
    # square, as in a trial of Gaussian smoothing; 10 % in the radius of curves of 250 m and more in length.
    line = made(tmp_path, track(), across=1.0, up=2.0)
    assert np.sqrt(np.mean(grade_errors(line) ** 2)) < 2e-3
    assert line.curvature is not None
    found = {round(each.start, -2): 1 / each.curvature for each in line.curvature.curves}
    assert found[1500.0] == pytest.approx(600.0, rel=0.1)
    assert found[2700.0] == pytest.approx(-300.0, rel=0.1)
    assert line.smoothing is not None
    assert line.smoothing.mean_change == pytest.approx(2.0, rel=0.15)  # the errors that were put in
    assert line.smoothing.end_change < 0.01
    assert line.curvature.geometry.noise == pytest.approx(1.0, rel=0.1)


def test_a_recording_with_stands_gaps_and_doubled_points_makes_a_line(tmp_path: Path) -> None:
    stops = (0.0, 5000.0, 7950.0)
    text = recorded(track(), stops, seed=1)
    trace = read_gpx(write(tmp_path, text)).trace
    line = route_from_trace(trace, TRACING)
    assert "The train stands at" in notes(line)
    assert "have no elevation" in notes(line)
    assert [station.name for station in line.route.stations] == ["Alpha", "Beta", "Gamma"]
    for station, (_, chainage) in zip(line.route.stations, STATIONS, strict=True):
        assert station.chainage == pytest.approx(chainage, abs=15.0)
    # Standing for minutes adds no length and no loop: five minutes more change the line by meters.
    assert line.route.end == pytest.approx(7950.0, abs=15.0)
    shortest = min(curve.radius for curve in line.route.curves if curve.end - curve.start > 100.0)
    assert shortest > 200.0


@pytest.mark.parametrize(("wander", "within"), [(1.0, 0.008), (0.25, 0.004)])
def test_wandering_errors_make_no_curves_and_their_uncertainty_is_told(
    tmp_path: Path, wander: float, within: float
) -> None:
    """Six curves are there. Before errors were taken to wander, recordings gave 11 to 25, and grades 1 % wrong."""
    stops = (0.0, 5000.0, 7950.0)
    for seed in (1, 2):
        line = route_from_trace(
            read_gpx(write(tmp_path, recorded(track(), stops, seed=seed, wander=wander))).trace, TRACING
        )
        assert 5 <= len(line.route.curves) <= 7
        assert min(curve.radius for curve in line.route.curves) == pytest.approx(250.0, rel=0.15)
        (told,) = [note.facts["error"][0] for note in line.notes if "Grades are uncertain" in note.text]
        error = float(np.sqrt(np.mean(grade_errors(line) ** 2)))
        assert error < 2.0 * told
        assert told < within


def test_the_drift_of_heights_and_positions_is_told_from_errors_by_chance_and_from_the_line() -> None:
    # A random walk of known variance, errors by chance, and a line with grades and curves.
    chance = np.random.default_rng(5)
    along = np.arange(0.0, 60000.0, 10.0)
    hills = np.interp(along, np.arange(0.0, 63000.0, 700.0), np.cumsum(chance.uniform(-10.0, 10.0, 90)))
    for walk, by_chance in ((0.0, 0.0), (0.0, 3.0), (0.04, 0.0), (0.04, 0.5), (0.01, 0.3)):
        errors = np.cumsum(np.sqrt(10.0 * walk) * chance.standard_normal(len(along)))
        errors = errors + by_chance * chance.standard_normal(len(along))
        found = height_wander(hills + errors, 10.0, apart=10.0)
        assert found == pytest.approx(walk, rel=0.35, abs=1e-6)
        heading = np.cumsum(10.0 * np.where(np.sin(along / 400.0) > 0.5, 1 / 400.0, 0.0))
        east, north = np.cumsum(10.0 * np.cos(heading)), np.cumsum(10.0 * np.sin(heading))
        across = position_wander(
            east - errors * np.sin(heading), north + errors * np.cos(heading), 10.0, apart=10.0
        )
        assert across == pytest.approx(walk, rel=0.35, abs=2e-4)


def test_the_grade_error_told_is_that_of_a_smoothed_random_walk() -> None:
    chance = np.random.default_rng(6)
    along = np.arange(0.0, 400_000.0, 10.0)
    walk = np.cumsum(np.sqrt(0.04 * 10.0) * chance.standard_normal(len(along)))
    for length in (200.0, 600.0):
        grades = smoothed(Heights(along, walk), length).grades
        assert float(np.std(grades)) == pytest.approx(grade_error(0.04, length), rel=0.1)
    # And a step in the grade is rounded off as stated.
    corner = smoothed(Heights(along, np.maximum(along - 200_000.0, 0.0) * 0.01), 600.0)
    exact = np.where(corner.chainage[1:] > 200_000.0, 0.01, 0.0)
    lost = float(np.sum((corner.grades - exact) ** 2) * (corner.chainage[1] - corner.chainage[0]))
    assert lost == pytest.approx(rounding_off(1e-4 / 1000.0, 600.0) ** 2 * 1000.0, rel=0.02)


def test_a_stand_becomes_one_point_and_slow_even_points_do_not(tmp_path: Path) -> None:
    chance = np.random.default_rng(3)
    along = np.concatenate([np.arange(0.0, 500.0, 10.0), np.full(200, 500.0), np.arange(510.0, 1001.0, 10.0)])
    shaken = along + np.where(along == 500.0, 3.0 * chance.standard_normal(len(along)), 0.0)
    stood = Plane(shaken, np.zeros(len(shaken)))
    ((first, last),) = standing(stood)
    assert last - first >= 199
    assert standing(Plane(np.arange(0.0, 500.0, 0.5), np.zeros(1000))) == []


def test_rounded_heights_are_found_and_smoothed(tmp_path: Path) -> None:
    line = made(tmp_path, track(), step=3.048)
    assert line.smoothing is not None
    assert line.smoothing.length >= 200.0
    assert line.smoothing.steepest_before > 0.2  # one step of 10 ft over 10 m
    assert line.smoothing.steepest_after < 0.02
    assert np.sqrt(np.mean(grade_errors(line) ** 2)) < 5e-3


def test_more_smoothing_leaves_less_roughness_and_the_ends_alone(tmp_path: Path) -> None:
    rises = []
    for length in (0.0, 50.0, 100.0, 200.0, 400.0):
        line = made(tmp_path, track(), replace(TRACING, smoothing=length, max_grade=0.14), up=0.3)
        assert line.smoothing is not None
        rises.append(line.smoothing.rise_after)
        assert length == 0.0 or line.smoothing.end_change < 1e-9
    assert rises == sorted(rises, reverse=True)


@pytest.mark.parametrize(
    "where", [{"longitude": 179.98}, {"latitude": -41.0}, {"latitude": 68.0, "bearing": 2.0}]
)
def test_a_track_anywhere_on_the_earth_gives_the_same_line(tmp_path: Path, where: dict[str, float]) -> None:
    layout = track(**where)
    line = made(tmp_path, layout)
    if "longitude" in where:  # it crosses the antimeridian
        assert np.ptp(layout.positions(10.0)[1]) > 300.0
    assert line.route.end == pytest.approx(7950.0, abs=0.2)
    assert [each.radius for each in line.route.curves] == pytest.approx(
        [600, 300, 1000, 250, 300, 600], rel=0.005
    )


def test_distances_are_those_of_the_geodesic() -> None:
    geodesy = pytest.importorskip("pyproj").Geod(ellps="WGS84")
    latitude, longitude, _ = track(latitude=61.0).positions(10.0)
    exact = geodesy.line_length(longitude, latitude)
    assert plane_of(latitude, longitude).distance[-1] == pytest.approx(exact, rel=1e-8)
    along = geodesy.inv(7.0, 46.0, 7.001, 46.0005)[2]
    assert plane_of(np.array([46.0, 46.0005]), np.array([7.0, 7.001])).distance[-1] == pytest.approx(
        along, rel=1e-8
    )


def test_a_quarter_of_the_meridian_has_its_known_length() -> None:
    # 10,001,965.729 m from equator to pole on WGS 84; from memory.
    latitude = np.linspace(0.0, 90.0, 9001)
    assert plane_of(latitude, np.zeros(9001)).distance[-1] == pytest.approx(10_001_965.729, abs=0.5)


def test_the_parabolas_are_those_of_a_general_library() -> None:
    chance = np.random.default_rng(5)
    points = Plane(10.0 * np.arange(300.0), np.cumsum(chance.standard_normal(300)))
    fitted = fit_geometry(points, window=200.0)
    count = len(fitted.given)
    spacing = fitted.given[1] - fitted.given[0]
    given = np.interp(fitted.given, points.distance, points.north)
    window = 2 * round(200.0 / spacing / 2) + 1
    assert fitted.plane.north == pytest.approx(savgol_filter(given, window, 2), abs=1e-8)
    window = 1 + round(fitted.heading_window / spacing)
    slope = savgol_filter(given, window, 2, deriv=1, delta=spacing)
    east = savgol_filter(
        np.interp(fitted.given, points.distance, points.east), window, 2, deriv=1, delta=spacing
    )
    assert fitted.heading == pytest.approx(np.unwrap(np.arctan2(slope, east)), abs=1e-8)
    assert count == len(fitted.curvature)


def test_the_error_of_positions_is_estimated_also_in_a_curve() -> None:
    angle = np.linspace(0.0, 50.0, 1500)  # points 10 m apart
    chance = np.random.default_rng(6)
    radius = 300.0 + 0.8 * chance.standard_normal(1500)
    points = Plane(radius * np.cos(angle), radius * np.sin(angle))
    assert position_noise(Plane(300 * np.cos(angle), 300 * np.sin(angle))) < 0.01
    assert position_noise(points) == pytest.approx(0.8, rel=0.15)


def test_the_nearest_place_of_a_line() -> None:
    latitude, longitude = np.array([46.0, 46.01, 46.01]), np.array([7.0, 7.0, 7.02])
    along = plane_of(latitude, longitude).distance
    distance, offset = nearest_on_line(latitude, longitude, along, (46.005, 7.001))
    assert distance == pytest.approx(along[1] / 2, rel=1e-3)
    assert offset == pytest.approx(77.4, rel=1e-2)  # 0.001 degrees of longitude at 46 degrees north


def trace(count: int = 300, **changes: object) -> Trace:
    latitude, longitude, height = track().positions(7950.0 / (count - 1))
    return replace(Trace(name="T", latitude=latitude, longitude=longitude, elevation=height), **changes)  # type: ignore[arg-type]


def notes(line: MadeRoute) -> str:
    return " ".join(note.text for note in line.notes)


def test_doubled_points_change_nothing() -> None:
    once = trace()
    twice = Trace(
        name="T",
        latitude=np.repeat(once.latitude, 3),
        longitude=np.repeat(once.longitude, 3),
        elevation=np.repeat(once.elevation, 3),
    )
    assert route_from_trace(twice, TRACING).route == route_from_trace(once, TRACING).route
    assert "600 points closer" in notes(route_from_trace(twice, TRACING))


def test_missing_heights_are_filled_and_said_and_none_at_all_is_refused() -> None:
    height = trace().elevation.copy()
    height[10:20] = np.nan
    height[0] = np.nan
    assert "11 of 300 points have no elevation" in notes(route_from_trace(trace(elevation=height), TRACING))
    with pytest.raises(OutOfRange, match="have no elevations"):
        route_from_trace(trace(elevation=np.full(300, np.nan)), TRACING)


def test_a_train_that_returned_and_a_gap_are_noticed() -> None:
    there = trace()
    both = Trace(
        name="T",
        latitude=np.concatenate([there.latitude, there.latitude[-2::-1]]),
        longitude=np.concatenate([there.longitude, there.longitude[-2::-1]]),
        elevation=np.concatenate([there.elevation, there.elevation[-2::-1]]),
    )
    assert "turn back" in notes(route_from_trace(both, TRACING))
    assert "turn back" not in notes(route_from_trace(there, TRACING))
    kept = np.r_[0:100, 140:300]
    gap = Trace(
        name="T",
        latitude=there.latitude[kept],
        longitude=there.longitude[kept],
        elevation=there.elevation[kept],
    )
    assert "taken as straight" in notes(route_from_trace(gap, TRACING))


def test_a_point_on_another_continent_is_refused_with_its_number() -> None:
    latitude = trace().latitude.copy()
    latitude[41] += 30.0
    with pytest.raises(OutOfRange, match=r"points 41 and 42 are 3,3\d\d km apart, at most 20 km are allowed"):
        route_from_trace(trace(latitude=latitude), TRACING)


def test_places_become_stations_each_with_its_own_name() -> None:
    base = trace()
    at = [(float(base.latitude[n]), float(base.longitude[n])) for n in (30, 150, 150, 290)]
    places = (
        NamedPlace("Mill", *at[0]), NamedPlace("Mill", *at[1]), NamedPlace("Café", *at[2]),
        NamedPlace("{odd}", *at[3]), NamedPlace("Far {off}", 47.5, 7.5),
    )  # fmt: skip
    line = route_from_trace(trace(places=places), TRACING)
    assert [s.name for s in line.route.stations] == ["Mill", "Mill (2)", "{odd}"]
    assert "left out: Far {{off}}" in notes(line)
    ends = route_from_trace(trace(places=places[:1]), TRACING).route.stations
    assert [s.name for s in ends] == ["Start of line", "Mill", "End of line"]


def test_too_short_a_line_and_wrong_values_are_refused() -> None:
    with pytest.raises(OutOfRange, match="at least 100 m"):
        route_from_trace(
            Trace(name="T", latitude=np.full(5, 46.0), longitude=np.full(5, 7.0), elevation=np.zeros(5)),
            TRACING,
        )
    with pytest.raises(OutOfRange, match="at least 100 m"):
        route_from_heights(Heights(np.array([0.0, 50.0]), np.zeros(2)), TRACING)
    for wrong in ({"max_grade": 0.2}, {"smoothing": -1.0}, {"window": 1e5}):
        with pytest.raises(OutOfRange):
            route_from_trace(trace(), replace(TRACING, **wrong))  # type: ignore[arg-type]


def test_surveyed_heights_by_chainage_are_kept_as_they_are() -> None:
    line = heights_of(load_route("scenarios/routes/quernby_line.toml"))
    found = route_from_heights(line, TRACING)
    assert heights_of(found.route).height == pytest.approx(line.height)
    assert [s.name for s in found.route.stations] == ["Start of line", "End of line"]


@pytest.mark.parametrize(
    "errors", [{}, {"across": 1.5, "up": 3.0}], ids=["exact", "with errors of a receiver"]
)
@pytest.mark.parametrize("name", ["spring_special", "summit_express", "harvest_excursion", "winter_freight"])
def test_a_bundled_line_written_as_gpx_and_read_back_gives_the_same_verdict(
    tmp_path: Path, name: str, errors: dict[str, float]
) -> None:
    excursion = load_excursion(f"scenarios/excursions/{name}.toml")
    line = made(tmp_path, layout_of(excursion.route), **errors).route
    places = {station.name: station.chainage + excursion.route.start for station in line.stations}
    route = replace(
        excursion.route,
        profile=line.profile,
        curves=line.curves,
        stations=tuple(replace(s, chainage=places[s.name]) for s in excursion.route.stations),
    )
    before, after = (
        # Without bands: a clear figure that an assumption may make tight turns on the last hundredth.
        check_excursion(each, contingencies=False, remedies=False, bands=False)
        for each in (excursion, replace(excursion, route=route))
    )
    worst = [{f.rule: f.verdict for f in reversed(each.findings)} for each in (before, after)]
    assert after.verdict == before.verdict
    assert worst[0] == worst[1]
