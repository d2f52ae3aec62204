"""Tracks with known grades and radii, laid out on the ellipsoid, with and without errors, and written as GPX."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import numpy as np

from locosim.model import Route

EQUATORIAL_RADIUS, FLATTENING = 6378137.0, 1 / 298.257223563  # WGS 84
STANDING_SECONDS = 180  # of a recorded train at each stop


@dataclass
class Layout:
    """A track laid out step by step.

    Attributes:
        bends: Pieces with their length [m] and curvature, positive to the left [1/m].
        profile: Chainages and heights of the points of the profile [m].
        stations: Name and chainage [m].
    """

    bends: list[tuple[float, float]]
    profile: list[tuple[float, float]]
    stations: list[tuple[str, float]] = field(default_factory=list)
    latitude: float = 46.5
    longitude: float = 7.5
    bearing: float = 0.4  # counterclockwise from east [rad]

    @property
    def length(self) -> float:
        return sum(length for length, _ in self.bends)

    def heading(self, chainage: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
        ends = np.cumsum([0.0, *(length for length, _ in self.bends)])
        turns = np.cumsum([0.0, *(length * bend for length, bend in self.bends)])
        return self.bearing + np.interp(chainage, ends, turns)

    def positions(self, spacing: float) -> tuple[np.ndarray[Any, Any], ...]:
        """Latitude, longitude [deg] and height [m] at even chainages."""
        fine = np.linspace(0.0, self.length, round(self.length) + 1)
        step = fine[1] - fine[0]
        heading = self.heading((fine[1:] + fine[:-1]) / 2)
        squared = FLATTENING * (2 - FLATTENING)
        latitude = [math.radians(self.latitude)]
        longitude = [math.radians(self.longitude)]
        for east, north in zip(
            (step * np.cos(heading)).tolist(), (step * np.sin(heading)).tolist(), strict=True
        ):
            root = 1 - squared * math.sin(latitude[-1]) ** 2
            middle = latitude[-1] + north / 2 * root**1.5 / EQUATORIAL_RADIUS / (1 - squared)
            root = 1 - squared * math.sin(middle) ** 2
            latitude.append(latitude[-1] + north * root**1.5 / EQUATORIAL_RADIUS / (1 - squared))
            longitude.append(longitude[-1] + east * math.sqrt(root) / EQUATORIAL_RADIUS / math.cos(middle))
        places = np.linspace(0.0, self.length, round(self.length / spacing) + 1)
        points = np.array(self.profile)
        turned = (np.degrees(np.interp(places, fine, longitude)) + 180.0) % 360.0 - 180.0
        return (
            np.degrees(np.interp(places, fine, latitude)),
            turned,
            np.interp(places, points[:, 0], points[:, 1]),
        )

    def gpx(self, spacing: float = 10.0, *, across: float = 0.0, up: float = 0.0, step: float = 0.0) -> str:
        """The track as GPX, with random errors of positions and heights, and heights rounded to a step."""
        latitude, longitude, height = self.positions(spacing)
        chance = np.random.default_rng(7)
        latitude = latitude + np.degrees(across * chance.standard_normal(len(latitude)) / 6.37e6)
        narrow = np.cos(np.radians(latitude))
        longitude = longitude + np.degrees(across * chance.standard_normal(len(latitude)) / 6.37e6 / narrow)
        height = height + up * chance.standard_normal(len(height))
        if step:
            height = step * np.round(height / step)
        exact, places = self.positions(1.0), []
        for name, chainage in self.stations:
            at = round(chainage / self.length * (len(exact[0]) - 1))
            places.append((name, exact[0][at], exact[1][at]))
        return gpx_text(zip(latitude, longitude, height, strict=True), places)


def gpx_text(points: Any, places: Any = (), *, name: str = "Test track") -> str:
    """Points and named places as GPX; an elevation of None is left out."""
    waypoints = "".join(
        f'<wpt lat="{a:.8f}" lon="{b:.8f}"><name>{escape(n)}</name></wpt>\n' for n, a, b in places
    )
    written = "".join(
        f'<trkpt lat="{a:.8f}" lon="{b:.8f}">{"" if h is None else f"<ele>{h:.4f}</ele>"}</trkpt>\n'
        for a, b, h in points
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"{waypoints}<trk><name>{escape(name)}</name><trkseg>\n{written}</trkseg></trk></gpx>\n"
    )


def layout_of(route: Route) -> Layout:
    """A line of the model laid out, its curves to the left and to the right by turns."""
    heights, height = [(0.0, 100.0)], 100.0
    for start, end, grade in route.grade_segments():
        height += grade * (end - start)
        heights.append((end - route.start, height))
    bends, at, side = [], route.start, 1.0
    for curve in sorted(route.curves, key=lambda each: each.start):
        start, end = max(curve.start, at), min(curve.end, route.end)
        if end <= start:
            continue
        if start > at:
            bends.append((start - at, 0.0))
        bends.append((end - start, side / curve.radius))
        at, side = end, -side
    bends.append((route.end - at, 0.0))
    stations = [(station.name, station.chainage - route.start) for station in route.stations]
    return Layout(bends=[b for b in bends if b[0] > 0], profile=heights, stations=stations)


def write(folder: Path, text: str, name: str = "track.gpx") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def recorded(layout: Layout, stops: tuple[float, ...], *, seed: int, wander: float = 1.0) -> str:
    """GPX as a receiver on a train writes it, one point a second, its errors wandering over a minute.

    The train stands at the stops. Errors are 2 m across and 4 m up, times `wander`, with 0.3 m from point to point;
    one elevation in twenty is missing and one point in fifty is written twice. Figures from memory.

    Args:
        layout: The track.
        stops: Chainages of the stops, the first and the last one at the ends of the run [m].
        seed: Of the errors.
        wander: Factor of the wandering errors.
    """
    chance = np.random.default_rng(seed)
    run = [stops[0]] * STANDING_SECONDS
    for goal in stops[1:]:
        speed = 0.0
        while goal - run[-1] > 0.5:
            speed = min(speed + 0.2, 12.0, math.sqrt(0.6 * (goal - run[-1])))
            run.append(min(run[-1] + speed, goal))
        run += [goal] * STANDING_SECONDS
    at = np.array(run)

    def wandering(size: float) -> np.ndarray[Any, Any]:
        kept, errors = math.exp(-1 / 60.0), [size * chance.standard_normal()]
        for _ in at[1:]:
            errors.append(kept * errors[-1] + size * math.sqrt(1 - kept**2) * chance.standard_normal())
        return np.array(errors)

    exact = layout.positions(1.0)
    places = np.linspace(0.0, layout.length, len(exact[0]))
    latitude, longitude, height = (np.interp(at, places, column) for column in exact)
    across = [wandering(2.0 * wander) + 0.3 * chance.standard_normal(len(at)) for _ in range(2)]
    latitude = latitude + np.degrees(across[0] / 6.37e6)
    longitude = longitude + np.degrees(across[1] / 6.37e6 / np.cos(np.radians(latitude)))
    height = np.round(height + wandering(4.0 * wander), 1)
    points = []
    for row in zip(latitude.tolist(), longitude.tolist(), height.tolist(), strict=True):
        points.append((*row[:2], None if chance.random() < 0.05 else row[2]))
        points += [points[-1]] if chance.random() < 0.02 else []
    named = [
        (name, *(float(np.interp(c, places, column)) for column in exact[:2])) for name, c in layout.stations
    ]
    return gpx_text(points, named)
