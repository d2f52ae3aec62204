"""Lines written as files: a TOML file, and beside it the profile and the curves as CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path

from locosim import units
from locosim.errors import LocosimError
from locosim.frozen import frozen
from locosim.model import Route

DIGITS = 10  # of a number written: a tenth of a millimeter in a thousand kilometers


@frozen(kw_only=False)
class _Notation:
    """Units in which a file is written, with the number of each in an SI value."""

    distance: str
    height: str
    grade: str
    radius: str
    superelevation: str
    speed: str
    water: str
    fuel: str
    mass: str


_US = _Notation("mile", "ft", "%", "ft", "in", "mph", "us_gallon/minute", "short_ton/hour", "lb")
_BRITISH = _Notation(
    "mile", "ft", "%", "ft", "in", "mph", "imperial_gallon/minute", "long_ton/hour", "long_ton"
)
_METRIC = _Notation("km", "m", "%", "m", "mm", "km/h", "m^3/hour", "t/hour", "t")
_NOTATIONS = {"us": _US, "british": _BRITISH, "metric": _METRIC}
_STRETCH_KEYS = ("speed_limits", "tunnels", "rail_condition_zones")


def route_file_names(path: Path) -> tuple[Path, Path, Path]:
    """The route file, the file of its profile and that of its curves.

    Raises:
        LocosimError: The name does not end in .toml.
    """
    if path.suffix.lower() != ".toml":
        raise LocosimError(
            f"{path}: the name of a route file must end in .toml; write {path.stem or 'line'}.toml"
        )
    return path, path.with_suffix(".csv"), path.with_name(f"{path.stem}_curves.csv")


def route_files(route: Route, path: Path, comments: Sequence[str] = ()) -> dict[Path, bytes]:
    """The files that describe a line, with their content.

    Args:
        route: The line.
        path: The route file, ending in .toml.
        comments: Lines at its top.

    Returns:
        Content by file, in the units in force; the file of the curves only if the line has any.

    Raises:
        LocosimError: The name does not end in .toml.
    """
    main, profile, curves = route_file_names(path)
    notation = _NOTATIONS[units.current_system()]
    files = {profile: _profile_csv(route, notation).encode()}
    if route.curves:
        files[curves] = _curves_csv(route, notation).encode()
    text = _toml(route, notation, comments, profile.name, curves.name)
    return {main: text.encode(), **files}


def _amount(value: float, unit: str) -> str:
    """A number of a unit that is read back as the value."""
    return f"{value / units.convert(1.0, unit, _SI[unit]):.{DIGITS}g}"


_SI = {
    "mile": "m", "km": "m", "ft": "m", "m": "m", "in": "m", "mm": "m", "mph": "m/s", "km/h": "m/s",
    "us_gallon/minute": "m^3/s", "imperial_gallon/minute": "m^3/s", "m^3/hour": "m^3/s",
    "short_ton/hour": "kg/s", "long_ton/hour": "kg/s", "t/hour": "kg/s", "lb": "kg", "long_ton": "kg", "t": "kg",
    "%": "grade",
}  # fmt: skip


def _quantity(value: float, unit: str) -> str:
    """A quantity in quotes."""
    return f'"{_amount(value, unit)} {unit}"'


def _quoted(text: str) -> str:
    """A text in quotes; JSON writes it as TOML does."""
    return json.dumps(text, ensure_ascii=False)


def _profile_csv(route: Route, notation: _Notation) -> str:
    by_elevation = route.profile[0].elevation is not None
    unit = notation.height if by_elevation else notation.grade
    rows = [[f"chainage [{notation.distance}]", f"{'elevation' if by_elevation else 'grade'} [{unit}]"]]
    for point in route.profile:
        value = point.elevation if by_elevation else point.grade
        rows.append(
            [_amount(point.chainage, notation.distance), "" if value is None else _amount(value, unit)]
        )
    return _csv(rows)


def _curves_csv(route: Route, notation: _Notation) -> str:
    raised = any(curve.superelevation is not None for curve in route.curves)
    rows = [[f"start [{notation.distance}]", f"end [{notation.distance}]", f"radius [{notation.radius}]"]]
    if raised:
        rows[0].append(f"superelevation [{notation.superelevation}]")
    for curve in route.curves:
        row = [_amount(curve.start, notation.distance), _amount(curve.end, notation.distance)]
        row.append(_amount(curve.radius, notation.radius))
        if raised:
            given = curve.superelevation
            row.append("" if given is None else _amount(given, notation.superelevation))
        rows.append(row)
    return _csv(rows)


def _csv(rows: Sequence[Sequence[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _toml(route: Route, notation: _Notation, comments: Sequence[str], profile: str, curves: str) -> str:
    lines = [f"# {line}" for line in comments]
    lines += [f"name = {_quoted(route.name)}", f"profile = {_quoted(profile)}"]
    if route.curves:
        lines.append(f"curves = {_quoted(curves)}")
    lines.append(f"speed_limit = {_quantity(route.speed_limit, notation.speed)}")
    if route.axle_load_limit is not None:
        lines.append(f"axle_load_limit = {_quantity(route.axle_load_limit, notation.mass)}")
    lines.append(f"curve_resistance_law = {_quoted(route.curve_resistance_law)}")
    if route.references:
        lines.append(f"references = [{', '.join(map(_quoted, route.references))}]")
    for station in route.stations:
        lines += ["", "[[stations]]", f"name = {_quoted(station.name)}"]
        lines.append(f"chainage = {_quantity(station.chainage, notation.distance)}")
        if station.water_rate:
            lines.append(f"water_rate = {_quantity(station.water_rate, notation.water)}")
        if station.fuel_rate:
            lines.append(f"fuel_rate = {_quantity(station.fuel_rate, notation.fuel)}")
        for key in ("turntable_length", "wye_length"):
            if length := getattr(station, key):
                lines.append(f"{key} = {_quantity(length, notation.height)}")
    return "\n".join([*lines, *_stretch_lines(route, notation)]) + "\n"


def _stretch_lines(route: Route, notation: _Notation) -> list[str]:
    """Tables of speed limits, tunnels and stretches with their own rail condition."""
    lines: list[str] = []
    for key in _STRETCH_KEYS:
        for each in getattr(route, key):
            lines += ["", f"[[{key}]]"]
            if key == "tunnels":
                lines.append(f"name = {_quoted(each.name)}")
            lines.append(f"start = {_quantity(each.start, notation.distance)}")
            lines.append(f"end = {_quantity(each.end, notation.distance)}")
            if key == "speed_limits":
                lines.append(f"speed = {_quantity(each.speed, notation.speed)}")
            if key == "rail_condition_zones":
                lines.append(f"rail = {_quoted(each.rail)}")
    return lines
