"""Two engines side by side, and what each change from the one to the other is worth alone.

Each field that differs is set in the first engine, alone, and the first engine is computed again. Like fields of all
engine units (a bore, a tyre) change combined. What the changes are worth one by one need not add up to what they are
worth combined: a larger cylinder is worth little where the boiler holds the engine back.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any

from locosim.engine.boiler.by_heat_balance import fuel_or_default, heat_balance_supply
from locosim.engine.cutoff_table import cutoff_table
from locosim.engine.map.from_cycle import two_speed_map
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import map_key
from locosim.engine.performance import Performance, compute_performance, cycle_layout
from locosim.engine.rated_effort import factor_of_adhesion, rated_effort
from locosim.engine.speed_curve import CurvePoint, curve_point
from locosim.errors import LocosimError
from locosim.model import Crew, Fuel, Locomotive

MIN_CHANGE = 5e-4  # of a figure that is worth a line
IGNORED_FIELDS = ("name", "references")  # say nothing of what the engine does


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedEngine:
    """One of the two engines.

    Attributes:
        performance: What it can do.
        rated_effort: Rated tractive effort [N]; None where no published rule rates the engine.
        factor_of_adhesion: Weight on the coupled wheels over rated tractive effort [1]; None where that is.
        axle_load: Mass on the heaviest coupled axle [kg].
        start: At rest.
        rows: At each of the speeds compared.
        at_speed: At the speed the changes are valued at.
        best_cutoff: Cutoff of least steam for indicated work at that speed, throttle open [1].
        min_steam_per_work: Steam over indicated work there [kg/J].
    """

    performance: Performance
    rated_effort: float | None
    factor_of_adhesion: float | None
    axle_load: float
    start: CurvePoint
    rows: tuple[CurvePoint, ...]
    at_speed: CurvePoint
    best_cutoff: float
    min_steam_per_work: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeEffect:
    """What a change is worth: the changed engine over the first one, less one.

    Attributes:
        fields: Paths of the fields changed; none for all changes combined.
        unit: SI unit of the field, as the model declares it; empty where the values are not numbers.
        before: Value in the first engine.
        after: Value in the second.
        start: Change of the pull at the rim at starting [1].
        power: Change of the drawbar power at the chosen speed [1].
        fuel: Change of the fuel for drawbar work there [1].
        problem: Why the change cannot stand alone; None where it can.
    """

    fields: tuple[str, ...]
    unit: str
    before: Any
    after: Any
    start: float | None
    power: float | None
    fuel: float | None
    problem: str | None

    @property
    def name(self) -> str:
        """Path of the fields, without the numbers of items."""
        return strip_indices(self.fields[0]) if self.fields else "all combined"

    @property
    def label(self) -> str:
        """The same for a reader."""
        return self.name.removeprefix("engine_units.").replace("_", " ").replace(".", ": ")

    @property
    def has_effect(self) -> bool:
        """Whether any of the three figures changes by a twentieth of a per cent, or cannot be told."""
        return any(value is None or abs(value) >= MIN_CHANGE for value in (self.start, self.power, self.fuel))


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two engines, and the changes that lead from the first to the second.

    Attributes:
        first: The one.
        second: The other.
        speed: Speed at which the changes are valued [m/s].
        rail: Condition of the rail.
        changes: Each change alone.
        combined: All of them.
    """

    first: ComparedEngine
    second: ComparedEngine
    speed: float
    rail: str
    changes: tuple[ChangeEffect, ...]
    combined: ChangeEffect


def compare_engines(
    first: Locomotive,
    second: Locomotive,
    *,
    speed: float,
    speeds: tuple[float, ...] = (),
    rail: str = "dry",
    method: str = "cycle",
    fuel: Fuel | None = None,
    crew: Crew | None = None,
) -> Comparison:
    """Put two engines side by side.

    Args:
        first: The engine the changes are made to.
        second: The engine they lead to.
        speed: Speed at which they are valued [m/s].
        speeds: Speeds at which pull and power are compared [m/s]; left out, sixths of the slower engine's range.
        rail: Condition of the rail.
        method: `cycle` or `handbook`.
        fuel: What both burn; each its usual fuel when left out.
        crew: Who fires both.

    Raises:
        OutOfRange: A speed one of them cannot be computed at, or a fuel one of them cannot burn.
    """
    known = [compute_performance(engine, method=method, fuel=fuel, crew=crew) for engine in (first, second)]
    shown = speeds or _comparison_speeds(known)
    sides = [_compared_engine(performance, speed, shown, rail) for performance in known]
    task = _ComparisonSetup(method=method, fuel=fuel, crew=crew, speed=speed, rail=rail)
    base = _key_figures(first, task)
    last = _key_figures(second, task)
    return Comparison(
        first=sides[0],
        second=sides[1],
        speed=speed,
        rail=rail,
        changes=tuple(
            _change_effect(first, paths, unit, task, base) for paths, unit in changed(first, second)
        ),
        combined=ChangeEffect(
            fields=(),
            unit="",
            before=first.name,
            after=second.name,
            problem=None,
            **_relative_change(base, last),
        ),
    )


def _comparison_speeds(performances: Sequence[Performance]) -> tuple[float, ...]:
    """Sixths of the range both engines can run in [m/s]."""
    top = min(min(p.map.max_speed, p.locomotive.max_speed or p.map.max_speed) for p in performances)
    return tuple(top * n / 6 for n in range(1, 7))


def _compared_engine(
    performance: Performance, speed: float, speeds: tuple[float, ...], rail: str
) -> ComparedEngine:
    engine = performance.locomotive
    cheapest = min(cutoff_table(performance, speed=speed), key=lambda point: point.steam_per_work)
    return ComparedEngine(
        performance=performance,
        rated_effort=rated_effort(engine),
        factor_of_adhesion=factor_of_adhesion(engine),
        axle_load=engine.max_axle_load,
        start=curve_point(performance, 0.0, rail),
        rows=tuple(curve_point(performance, at, rail) for at in speeds),
        at_speed=curve_point(performance, speed, rail),
        best_cutoff=cheapest.cutoff,
        min_steam_per_work=cheapest.steam_per_work,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _ComparisonSetup:
    """By what, and where, an engine is valued."""

    method: str
    fuel: Fuel | None
    crew: Crew | None
    speed: float
    rail: str
    maps: dict[str, PerformanceMap] = field(default_factory=dict)

    def map_for(self, engine: Locomotive) -> PerformanceMap:
        """A map of the one speed; the same for all engines that do not differ in what it depends on."""
        key = map_key(engine)
        if key not in self.maps:
            self.maps[key] = two_speed_map(cycle_layout(engine), self.speed)
        return self.maps[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class _KeyFigures:
    """Starting pull [N], drawbar power [W], fuel for drawbar work [kg/J]."""

    start: float
    power: float
    fuel: float


def _key_figures(engine: Locomotive, task: _ComparisonSetup) -> _KeyFigures:
    """Value an engine; by the cycle from a map of one speed, quickly made."""
    if task.method == "handbook":
        performance = compute_performance(engine, method="handbook", fuel=task.fuel, crew=task.crew)
    else:
        fuel = fuel_or_default(engine, task.fuel)
        performance = Performance(
            locomotive=engine,
            map=task.map_for(engine),
            supply=heat_balance_supply(engine, fuel, task.crew or Crew()),
            fuel=fuel,
        )
    point = curve_point(performance, task.speed, task.rail)
    return _KeyFigures(
        start=curve_point(performance, 0.0, task.rail).rim_effort,
        power=point.drawbar_power,
        fuel=point.fuel / point.drawbar_power if point.drawbar_power > 0.0 else float("inf"),
    )


def _relative_change(base: _KeyFigures, changed_figures: _KeyFigures) -> dict[str, float | None]:
    """Changed over first, less one."""
    found: dict[str, float | None] = {}
    for name in ("start", "power", "fuel"):
        before, after = getattr(base, name), getattr(changed_figures, name)
        found[name] = after / before - 1.0 if 0.0 < before < float("inf") and after < float("inf") else None
    return found


def _change_effect(
    first: Locomotive,
    paths: Mapping[str, tuple[Any, Any]],
    unit: str,
    task: _ComparisonSetup,
    base: _KeyFigures,
) -> ChangeEffect:
    """Make one change alone."""
    before, after = next(iter(paths.values()))
    problem: str | None = None
    worth: dict[str, float | None] = {"start": None, "power": None, "fuel": None}
    try:
        alone = with_values(first, {path: values[1] for path, values in paths.items()})
        worth = _relative_change(base, _key_figures(alone, task))
    except LocosimError as error:
        problem = str(error)
    return ChangeEffect(fields=tuple(paths), unit=unit, before=before, after=after, problem=problem, **worth)


def strip_indices(path: str) -> str:
    """A path without the numbers of items."""
    return re.sub(r"\[\d+\]", "", path)


def changed(first: Locomotive, second: Locomotive) -> list[tuple[dict[str, tuple[Any, Any]], str]]:
    """Fields that differ, like ones of several items combined, each with its unit.

    Args:
        first: The one engine.
        second: The other.

    Returns:
        For each change the paths with both values, and the unit.
    """
    before, after = dict(_leaves(first, second)), dict(_leaves(second, first))
    groups: dict[str, tuple[dict[str, tuple[Any, Any]], str]] = {}
    for path, (value, unit) in before.items():
        other = after[path][0]
        if value != other:
            groups.setdefault(strip_indices(path), ({}, unit))[0][path] = (value, other)
    return list(groups.values())


def _leaves(thing: Any, other: Any, path: str = "") -> list[tuple[str, tuple[Any, str]]]:
    """Values with their units, down to where the two descriptions no longer have the same shape."""
    found = []
    for declared in fields(thing):
        if declared.name in IGNORED_FIELDS or not declared.compare:
            continue
        at = f"{path}.{declared.name}" if path else declared.name
        mine, theirs = getattr(thing, declared.name), getattr(other, declared.name)
        if is_dataclass(mine) and is_dataclass(theirs):
            found += _leaves(mine, theirs, at)
        elif _same_shape(mine, theirs):
            for number, (one, two) in enumerate(zip(mine, theirs, strict=True), start=1):
                found += _leaves(one, two, f"{at}[{number}]")
        else:
            found.append((at, (mine, declared.metadata.get("unit", ""))))
    return found


def _same_shape(mine: Any, theirs: Any) -> bool:
    """Whether both are lists of descriptions, equally long."""
    return (
        isinstance(mine, tuple)
        and isinstance(theirs, tuple)
        and len(mine) == len(theirs) > 0
        and all(is_dataclass(item) for item in (*mine, *theirs))
    )


def with_values(thing: Any, values: Mapping[str, Any]) -> Any:
    """A description with some fields set, by their paths; all at once, so that its own checks see the whole.

    Args:
        thing: The description.
        values: Path and value, such as `boiler.grate_area` or `engine_units[1].cylinders[1].bore`.

    Raises:
        OutOfRange: A value that the description does not allow.
    """
    own: dict[str, Any] = {}
    below: dict[str, dict[str, Any]] = {}
    for path, value in values.items():
        head, dot, rest = path.partition(".")
        if dot:
            below.setdefault(head, {})[rest] = value
        else:
            own[head] = value
    for head, inner in below.items():
        name, _, number = head.rstrip("]").partition("[")
        present = own.get(name, getattr(thing, name))
        if not number:
            own[name] = with_values(present, inner)
        else:
            items = list(present)
            items[int(number) - 1] = with_values(items[int(number) - 1], inner)
            own[name] = tuple(items)
    return replace(thing, **own)
