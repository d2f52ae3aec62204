"""Positions along a line: distances on the ellipsoid, and the curves that the geometry shows."""

from __future__ import annotations

import math
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from locosim.frozen import frozen
from locosim.physics.types import Floats
from locosim.survey.heights import MAX_GRID_POINTS, broken_line
from locosim.survey.wandering import NORMAL_MAD, heading_error, position_wander

# World Geodetic System 1984: equatorial radius [m] and square of the eccentricity; the datum of GPX.
EQUATORIAL_RADIUS = 6378137.0
ECCENTRICITY_SQUARED = 0.0066943799901413165
MAX_LATITUDE = 89.0  # nearer to a pole, a step in longitude has no fixed direction [deg]
MIN_SPACING = 5.0  # points closer than this to the one before say nothing about the line [m]
# A train stands where so many points in a row stay within a distance of their mean, and their way is so much longer
# than from the first to the last of them; ours [1], [m], [1].
STANDING_POINTS, STANDING_RADIUS, STANDING_WAY = 20, 15.0, 3.0
RESAMPLED = (10.0, 100.0)  # least and largest spacing of the even points [m]
WINDOWS = (60.0, 100.0, 150.0, 200.0, 310.0, 400.0, 500.0)  # over which a parabola is fitted [m]
MIN_WINDOW_POINTS = 5
TOLERATED_CURVATURE = (
    1e-4  # noise of a curvature that is tolerated, our choice; 0.1 N/kN of curve resistance [1/m]
)
TOLERATED_HEADING = 0.01  # noise of a heading that is tolerated, half a degree; our choice [rad]
LEAST_HEADING_ERROR = 0.003  # of a heading, from the corners that its window rounds; our choice [rad]
MISFIT = (
    12.0  # squares of an error by which two pieces must fit better than one; our choice, near 2 ln(400) [1]
)
MAX_RADIUS = 3500.0  # of what counts as a curve, half a degree; our choice [m]
MIN_RADIUS = 60.0  # smaller ones are taken as errors of the points; our choice [m]
HEADING_TOLERANCE = (
    0.01  # between the heading and a line of tangents and curves, half a degree; our choice [rad]
)
SAME_CURVATURE = 0.15  # neighbors whose curvatures differ less are one curve; our choice [1]
TANGENT_SHARE = (
    0.5  # of the window: a tangent this long is no rounded corner between reverse curves; our choice [1]
)
SIGNIFICANT = (
    3.0  # standard deviations by which a curvature must differ from none to be a curve; our choice [1]
)
MIN_TURN = 0.015  # of a curve, about one degree; our choice [rad]


class Plane(NamedTuple):
    """Coordinates along a line, rolled out of the ellipsoid step by step.

    Attributes:
        east, north: Shape (n,) [m].
    """

    east: Floats
    north: Floats

    @property
    def distance(self) -> Floats:
        """Distance along the line, shape (n,) [m]."""
        return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(self.east), np.diff(self.north)))])


@frozen
class Geometry:
    """Line fitted to positions.

    Attributes:
        plane: Positions, even along the points given.
        given: Distance along the points given, shape (n,) [m].
        chainage: Distance along the fitted line, shape (n,) [m].
        heading: Direction, counterclockwise from east, shape (n,) [rad].
        curvature: Positive to the left, shape (n,) [1/m].
        window: Length over which a parabola was fitted to each point [m].
        heading_window: The same for the heading, which bears a shorter one [m].
        heading_noise: Estimated random error of the heading [rad].
        noise: Estimated random error of a position across the line [m].
        wander: Variance that errors across the line gain with distance [m²/m].
        max_offset: Largest distance between the given points and the line fitted [m].
    """

    plane: Plane
    given: Floats
    chainage: Floats
    heading: Floats
    curvature: Floats
    window: float
    heading_window: float
    heading_noise: float
    noise: float
    wander: float
    max_offset: float


class CurveFound(NamedTuple):
    """A curve of the geometry: chainages of its ends [m], and curvature, positive to the left [1/m]."""

    start: float
    end: float
    curvature: float


def plane_of(latitude: Floats, longitude: Floats) -> Plane:
    """Coordinates of positions by their steps north and east on the ellipsoid.

    Args:
        latitude: Shape (n,) [deg].
        longitude: Shape (n,); a step over the antimeridian is taken the short way [deg].

    References:
        The radii of curvature of the meridian and of the prime vertical. Geometry.
    """
    phi = np.radians(latitude)
    middle = (phi[1:] + phi[:-1]) / 2
    turn = (np.diff(longitude) + 180.0) % 360.0 - 180.0
    root = 1 - ECCENTRICITY_SQUARED * np.sin(middle) ** 2
    north = EQUATORIAL_RADIUS * (1 - ECCENTRICITY_SQUARED) / root**1.5 * np.diff(phi)
    east = EQUATORIAL_RADIUS / np.sqrt(root) * np.cos(middle) * np.radians(turn)
    return Plane(np.concatenate([[0.0], np.cumsum(east)]), np.concatenate([[0.0], np.cumsum(north)]))


def spaced(plane: Plane) -> Floats:
    """Indices of the points at least `MIN_SPACING` from the one kept before, and of the last point."""
    east, north = plane.east.tolist(), plane.north.tolist()
    kept, x, y = [0], east[0], north[0]
    for at, (a, b) in enumerate(zip(east, north, strict=True)):
        if (a - x) ** 2 + (b - y) ** 2 >= MIN_SPACING**2:
            kept.append(at)
            x, y = a, b
    return np.array(kept)


def standing(plane: Plane) -> list[tuple[int, int]]:
    """First and last index of the points recorded at each stand, where the errors of a receiver wander about."""
    east, north = plane.east, plane.north
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(east), np.diff(north)))])
    ahead = STANDING_POINTS - 1
    near = np.hypot(east[ahead:] - east[:-ahead], north[ahead:] - north[:-ahead]) < STANDING_RADIUS
    found: list[tuple[int, int]] = []
    for first in np.flatnonzero(near).tolist():
        if found and first <= found[-1][1]:
            continue
        last, x, y = first, float(east[first]), float(north[first])  # their mean
        while last + 1 < len(east) and math.hypot(east[last + 1] - x, north[last + 1] - y) < STANDING_RADIUS:
            last += 1
            x += (float(east[last]) - x) / (last - first + 1)
            y += (float(north[last]) - y) / (last - first + 1)
        apart = np.hypot(east[last] - east[first], north[last] - north[first])
        if last - first >= ahead and way[last] - way[first] > max(STANDING_WAY * apart, MIN_SPACING):
            found.append((first, last))
    return found


def nearest_on_line(
    latitude: Floats, longitude: Floats, along: Floats, place: tuple[float, float]
) -> tuple[float, float]:
    """The point of a line of straight pieces that is nearest to a place.

    Args:
        latitude, longitude: Corners of the line, shape (n,) [deg].
        along: Distance of the corners along the line, shape (n,) [m].
        place: Latitude and longitude of the place [deg].

    Returns:
        Distance along the line, and distance of the place from it [m].
    """
    phi = np.radians(place[0])
    root = 1 - ECCENTRICITY_SQUARED * np.sin(phi) ** 2
    turn = (longitude - place[1] + 180.0) % 360.0 - 180.0
    north = EQUATORIAL_RADIUS * (1 - ECCENTRICITY_SQUARED) / root**1.5 * np.radians(latitude - place[0])
    east = EQUATORIAL_RADIUS / np.sqrt(root) * np.cos(phi) * np.radians(turn)
    step_east, step_north = np.diff(east), np.diff(north)
    squared = np.maximum(step_east**2 + step_north**2, 1e-9)
    share = np.clip(-(east[:-1] * step_east + north[:-1] * step_north) / squared, 0.0, 1.0)
    offset = np.hypot(east[:-1] + share * step_east, north[:-1] + share * step_north)
    nearest = int(np.argmin(offset))
    distance = along[nearest] + share[nearest] * (along[nearest + 1] - along[nearest])
    return float(distance), float(offset[nearest])


def fit_geometry(points: Plane, window: float | None = None) -> Geometry:
    """Fit a line to positions: to each point a parabola over a window.

    Args:
        points: Positions, at least `MIN_SPACING` apart.
        window: Length of the window; if omitted, the shortest that leaves no more than the tolerated noise in the
            curvature [m].

    References:
        A parabola by least squares over a moving window: Savitzky and Golay 1964, from memory.
    """
    distance = points.distance
    spacing = float(np.clip(np.median(np.diff(distance)), *RESAMPLED))
    count = min(max(int(np.ceil(distance[-1] / spacing)) + 1, MIN_WINDOW_POINTS), MAX_GRID_POINTS)
    given = np.linspace(0.0, distance[-1], count)
    spacing = given[1] - given[0]
    east, north = np.interp(given, distance, points.east), np.interp(given, distance, points.north)
    noise = position_noise(points)
    wander = position_wander(east, north, spacing, apart=float(np.median(np.diff(distance))))
    errors = PositionErrors(noise, wander)
    half = _half(errors.window(spacing, 2, TOLERATED_CURVATURE) if window is None else window, spacing, count)
    short = min(half, _half(errors.window(spacing, 1, TOLERATED_HEADING), spacing, count))
    (x, dx, ddx), (y, dy, ddy) = _parabolas(east, half, spacing), _parabolas(north, half, spacing)
    speed = np.maximum(np.hypot(dx, dy), 0.1)  # of the fitted point along the points given
    fitted = Plane(x, y)
    eastward, northward = _parabolas(east, short, spacing)[1], _parabolas(north, short, spacing)[1]
    return Geometry(
        plane=fitted,
        given=given,
        chainage=fitted.distance,
        heading=np.unwrap(np.arctan2(northward, eastward)),
        curvature=np.clip((dx * ddy - dy * ddx) / speed**3, -1 / MIN_RADIUS, 1 / MIN_RADIUS),
        window=2 * half * spacing,
        heading_window=2 * short * spacing,
        heading_noise=errors.of_derivative(short, spacing, 1),
        noise=noise,
        wander=wander,
        max_offset=float(np.max(np.hypot(x - east, y - north))),
    )


def _half(window: float, spacing: float, count: int) -> int:
    """Number of points on each side of a window."""
    return max(min(round(window / spacing / 2), (count - 1) // 2), MIN_WINDOW_POINTS // 2)


def position_noise(points: Plane) -> float:
    """Estimated random error of a position across the line, as if those of neighbors were independent [m]."""
    if len(points.east) < 5:
        return 0.0
    ahead_x, ahead_y = points.east[2:] - points.east[:-2], points.north[2:] - points.north[:-2]
    length = np.maximum(np.hypot(ahead_x, ahead_y), MIN_SPACING)
    off_x, off_y = points.east[1:-1] - points.east[:-2], points.north[1:-1] - points.north[:-2]
    across = (ahead_x * off_y - ahead_y * off_x) / length
    # Curvature bends three points by the same amount as the three before: their difference leaves the noise.
    errors = np.diff(across) / np.sqrt(5.0)
    return float(NORMAL_MAD * np.median(np.abs(errors)))


class PositionErrors(NamedTuple):
    """Errors of positions across the line: by chance at each point [m], and gained with distance [m²/m]."""

    noise: float
    wander: float

    def of_derivative(self, half: int, spacing: float, derivative: int) -> float:
        """Standard deviation that they leave in a derivative of the parabolas fitted over a window."""
        weights = _parabola_weights(half, spacing)[derivative]
        by_chance = self.noise * float(np.sqrt(np.sum(weights**2)))
        window = 2 * half * spacing
        slope = heading_error(self.wander, window)
        # The second derivative is the slope of the heading, whose errors are alike over half a window.
        return math.hypot(by_chance, slope if derivative == 1 else slope * math.sqrt(12.0) / window)

    def window(self, spacing: float, derivative: int, tolerated: float) -> float:
        """The shortest window that leaves no more than the tolerated error in a derivative."""
        for window in WINDOWS:
            half = round(window / spacing / 2)
            if 2 * half + 1 < MIN_WINDOW_POINTS:
                continue
            if self.of_derivative(half, spacing, derivative) <= tolerated:
                return window
        return WINDOWS[-1]


def _parabola_weights(half: int, spacing: float) -> Floats:
    """Weights that give value, slope and second derivative in the middle of a window, shape (3, 2 half + 1)."""
    offsets = spacing * np.arange(-half, half + 1)
    weights = np.linalg.pinv(np.column_stack([np.ones_like(offsets), offsets, offsets**2 / 2]))
    return np.asarray(weights)


def _parabolas(values: Floats, half: int, spacing: float) -> tuple[Floats, Floats, Floats]:
    """Value, slope and second derivative of the parabola at each point; near an end, of that of the end window."""
    weights = _parabola_weights(half, spacing)
    inner = [np.convolve(values, row[::-1], mode="valid") for row in weights]
    before, beyond = weights @ values[: 2 * half + 1], weights @ values[-2 * half - 1 :]
    offsets = spacing * np.arange(1, half + 1)
    ends = []
    for (value, slope, bend), steps in ((before, -offsets[::-1]), (beyond, offsets)):
        ends.append(
            (value + slope * steps + bend * steps**2 / 2, slope + bend * steps, np.full(len(steps), bend))
        )
    parts = [np.concatenate([ends[0][i], inner[i], ends[1][i]]) for i in range(3)]
    return parts[0], parts[1], parts[2]


def find_curves(geometry: Geometry) -> list[CurveFound]:
    """Curves of constant radius that, with tangents between them, follow the heading of a line."""
    chainage, heading = geometry.chainage, geometry.heading
    window = geometry.heading_window
    corners = broken_line(chainage, heading, HEADING_TOLERANCE)
    pieces = _joined_by_noise(chainage, heading, list(pairwise(corners)), _tolerated_misfit(geometry))
    pieces = _without_transitions(chainage, heading, pieces, window)
    pieces = _merged(chainage, heading, pieces, geometry)
    lines = [_fitted_line(chainage, heading, a, b, window) for a, b in pieces]
    ends = [float(chainage[0])]
    for number in range(len(pieces) - 1):
        ends.append(_meeting_place(chainage, pieces[number], pieces[number + 1], *lines[number : number + 2]))
    ends.append(float(chainage[-1]))
    found = []
    for start, end, (curvature, _) in zip(ends[:-1], ends[1:], lines, strict=True):
        certain = SIGNIFICANT * curvature_error(geometry, end - start)
        if abs(curvature) >= max(1 / MAX_RADIUS, certain) and abs(curvature) * (end - start) >= MIN_TURN:
            found.append(CurveFound(start, end, float(np.clip(curvature, -1 / MIN_RADIUS, 1 / MIN_RADIUS))))
    return found


def curvature_error(geometry: Geometry, length: float) -> float:
    """Standard deviation of the curvature of a piece [1/m]: of a line fitted to headings alike over their window."""
    used = max(length, geometry.heading_window)
    return geometry.heading_noise * math.sqrt(12.0 * geometry.heading_window / used**3)


def _slope(x: Floats, y: Floats, first: int, last: int) -> float:
    return float((y[last] - y[first]) / (x[last] - x[first]))


def _tolerated_misfit(geometry: Geometry) -> float:
    """Sum of squares by which the heading may fit worse when two pieces are made one [rad²].

    Errors of the heading are alike over its window, so that each counts as many times as the window has points.
    """
    spacing = geometry.given[1] - geometry.given[0]
    error = geometry.heading_noise**2 + LEAST_HEADING_ERROR**2
    return float(MISFIT * error * max(geometry.heading_window / spacing, 1.0))


def _joined_by_noise(
    x: Floats, y: Floats, pieces: list[tuple[int, int]], tolerated: float
) -> list[tuple[int, int]]:
    """Pieces with neighbors made one, the pair that a common line fits best first, while it fits well enough."""

    def misfit(first: int, last: int) -> float:
        off_x, off_y = x[first : last + 1] - x[first], y[first : last + 1] - y[first]
        off_x, off_y = off_x - off_x.mean(), off_y - off_y.mean()
        return float(off_y @ off_y - (off_x @ off_y) ** 2 / (off_x @ off_x))

    def cost(one: tuple[int, int], other: tuple[int, int]) -> float:
        return misfit(one[0], other[1]) - misfit(*one) - misfit(*other)

    # Each piece is known by its first point; a pair by the first points of both, and by the last of the second.
    last = dict(pieces)
    before = {second[0]: first[0] for first, second in pairwise(pieces)}
    waiting = [(cost(one, other), one[0], *other) for one, other in pairwise(pieces)]
    heapify(waiting)
    while waiting and waiting[0][0] < tolerated:
        _, first, middle, end = heappop(waiting)
        if last.get(first) != middle or last.get(middle) != end:
            continue  # one of the two has become part of another since
        last[first] = end
        del last[middle]
        if end in last:
            before[end] = first
            heappush(waiting, (cost((first, end), (end, last[end])), first, end, last[end]))
        if first in before:
            one = before[first]
            heappush(waiting, (cost((one, first), (first, end)), one, first, end))
    return sorted(last.items())


def _without_transitions(
    x: Floats, y: Floats, pieces: list[tuple[int, int]], window: float
) -> list[tuple[int, int]]:
    """Pieces without short ones whose slope is between those of their neighbors.

    The window rounds the corner between a tangent and a curve into such pieces.
    """
    slopes = [_slope(x, y, a, b) for a, b in pieces]
    kept = []
    for number, (a, b) in enumerate(pieces):
        inner = 0 < number < len(pieces) - 1
        tangent = abs(slopes[number]) < 1 / MAX_RADIUS
        short = x[b] - x[a] < window * (TANGENT_SHARE if tangent else 1.0)
        if inner and short:
            low, high = sorted((slopes[number - 1], slopes[number + 1]))
            if low <= slopes[number] <= high:
                continue
        kept.append((a, b))
    return kept


def _merged(x: Floats, y: Floats, pieces: list[tuple[int, int]], geometry: Geometry) -> list[tuple[int, int]]:
    """Pieces with neighbors of nearly the same curvature, or neighboring tangents, made one."""
    merged = [pieces[0]]
    for piece in pieces[1:]:
        before, now = _slope(x, y, *merged[-1]), _slope(x, y, *piece)
        largest = max(abs(before), abs(now))
        lengths = (float(x[b] - x[a]) for a, b in (merged[-1], piece))
        certain = SIGNIFICANT * math.hypot(*(curvature_error(geometry, length) for length in lengths))
        alike = before * now >= 0.0 and abs(before - now) < max(SAME_CURVATURE * largest, certain)
        if largest < 1 / MAX_RADIUS or alike:
            merged[-1] = (merged[-1][0], piece[1])
        else:
            merged.append(piece)
    return merged


def _fitted_line(x: Floats, y: Floats, first: int, last: int, window: float) -> tuple[float, float]:
    """Slope and value at zero of the line fitted to a piece, without the parts the window rounds."""
    middle, reach = (x[first] + x[last]) / 2, (x[last] - x[first]) / 2
    inner = max(reach - window / 2, reach / 3)
    used = np.flatnonzero(np.abs(x[first : last + 1] - middle) <= inner) + first
    if len(used) < 3:
        used = np.arange(first, last + 1)
    slope, value = np.polyfit(x[used] - middle, y[used], 1)
    return float(slope), float(value - slope * middle)


def _meeting_place(
    x: Floats,
    piece: tuple[int, int],
    following: tuple[int, int],
    one: tuple[float, float],
    other: tuple[float, float],
) -> float:
    """Chainage where two neighboring lines meet, kept between the middles of their pieces."""
    low, high = (x[piece[0]] + x[piece[1]]) / 2, (x[following[0]] + x[following[1]]) / 2
    if abs(one[0] - other[0]) < 1e-9:
        return float((x[piece[1]] + x[following[0]]) / 2)
    return float(np.clip((other[1] - one[1]) / (one[0] - other[0]), low, high))
