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
