"""Two engines side by side, and the effect of each change from the first to the second.

Each field that differs is set in the first engine alone, and the first engine is computed again. Like fields of all
engine units (a bore, a driver diameter) change together. The effects one by one need not add up to the effect of all
changes combined: a larger cylinder does little where the boiler is the limit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import field, fields, is_dataclass, replace
from typing import Any

from locosim.engine.boiler.by_heat_balance import fuel_or_default, heat_balance_supply
from locosim.engine.cutoff_table import cutoff_table
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import map_key
from locosim.engine.map.two_speed import two_speed_map
from locosim.engine.performance import Performance, compute_performance, cycle_layout
from locosim.engine.rated_effort import factor_of_adhesion, rated_effort
from locosim.engine.speed_curve import USUAL_SPEED, CurvePoint, curve_point, usual_speed
from locosim.errors import Fault, LocosimError, OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Crew, Fuel, Locomotive

MIN_CHANGE = 5e-4  # smaller relative changes count as none
IGNORED_FIELDS = ("name", "references")  # do not affect the performance


@frozen
class ComparedEngine:
    """One of the two engines.

    Attributes:
        performance: Its performance.
        rated_effort: Rated tractive effort [N]; None where no published rule rates the engine.
        factor_of_adhesion: Weight on drivers over rated tractive effort [1]; None where the latter is.
        axle_load: Mass on the heaviest driving axle [kg].
        start: Curve point at rest.
        rows: Curve points at the speeds compared.
        at_speed: Curve point at the speed at which changes are evaluated.
        best_cutoff: Cutoff with the lowest steam rate at that speed, full throttle [1].
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


@frozen
class ChangeEffect:
    """Effect of a change: the changed engine over the first one, less one.

    Attributes:
        fields: Paths of the fields changed; none for all changes combined.
        unit: SI unit of the field, as the model declares it; empty where the values are not numbers.
        before: Value in the first engine.
        after: Value in the second engine.
        start: Change of the starting tractive effort at the rim [1]; None where it cannot be computed.
        power: Change of the drawbar power at the chosen speed [1]; None likewise.
        fuel: Change of the fuel per drawbar work there [1]; None likewise.
        problem: Why the change cannot be made alone; None where it can.
        faults: The same with its figures apart, where they are known one by one.
    """

    fields: tuple[str, ...]
    unit: str
    before: Any
    after: Any
    start: float | None
    power: float | None
    fuel: float | None
    problem: str | None
    faults: tuple[Fault, ...] = ()

    @property
    def name(self) -> str:
        """Path of the fields, without indices."""
        return strip_indices(self.fields[0]) if self.fields else "all combined"

    @property
    def label(self) -> str:
        """The name in plain words."""
        return self.name.removeprefix("engine_units.").replace("_", " ").replace(".", ": ")

    @property
    def has_effect(self) -> bool:
        """Whether any of the three figures changes by at least 0.05 %, or cannot be computed."""
        return any(value is None or abs(value) >= MIN_CHANGE for value in (self.start, self.power, self.fuel))


@frozen
class Comparison:
    """Two engines, and the changes that lead from the first to the second.

    Attributes:
        first: The first engine.
        second: The second engine.
        speed: Speed at which the changes are evaluated [m/s].
        rail: Rail condition.
        changes: Effect of each change alone.
        combined: Effect of all changes combined.
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
    speed: float | None = None,
    speeds: tuple[float, ...] = (),
    rail: str = "dry",
    method: str = "cycle",
    fuel: Fuel | None = None,
    crew: Crew | None = None,
    assumptions: Assumptions = Assumptions(),
) -> Comparison:
    """Compare two engines.

    Args:
        first: The engine to which the changes are made.
        second: The engine to which the changes lead.
        speed: Speed at which the changes are evaluated [m/s]; 30 mph, or what both engines are permitted, if omitted.
        speeds: Speeds at which the engines are compared [m/s]; none for sixths of the slower engine's range.
        rail: Rail condition.
        method: `cycle` or `handbook`.
        fuel: What both burn; None for the usual fuel of each.
        crew: Who fires both; None for a crew without a firing rate of its own.
        assumptions: Assumed figures.

    Raises:
        OutOfRange: A speed at which one of them cannot be computed, or a fuel one of them cannot burn.
    """
    if speed is None:
        speed = usual_speed(USUAL_SPEED, first, second)
    setup = _ComparisonSetup(
        method=method, fuel=fuel, crew=crew, speed=speed, rail=rail, assumptions=assumptions
    )
    performances = [setup.performance_of(engine) for engine in (first, second)]
    shown = speeds or _comparison_speeds(performances)
    sides = [_compared_engine(performance, speed, shown, rail) for performance in performances]
    base, last = _key_figures(first, setup), _key_figures(second, setup)
    return Comparison(
        first=sides[0],
        second=sides[1],
        speed=speed,
        rail=rail,
        changes=tuple(
            _change_effect(first, paths, unit, setup, base) for paths, unit in changed(first, second)
        ),
        combined=ChangeEffect(
            fields=(),
            unit="",
            before=first.name,
            after=second.name,
            problem=None,
            faults=(),
            **_relative_change(base, last),
        ),
    )


def _comparison_speeds(performances: Sequence[Performance]) -> tuple[float, ...]:
    """Sixths of the speed range of both engines [m/s]."""
    top = min(min(p.map.max_speed, p.locomotive.max_speed or p.map.max_speed) for p in performances)
    return tuple(top * n / 6 for n in range(1, 7))


def _compared_engine(
    performance: Performance, speed: float, speeds: tuple[float, ...], rail: str
) -> ComparedEngine:
    """One side of the comparison."""
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


@frozen
class _ComparisonSetup:
    """Method and conditions under which the engines are compared."""

    method: str
    fuel: Fuel | None
    crew: Crew | None
    speed: float
    rail: str
    assumptions: Assumptions
    maps: dict[str, PerformanceMap] = field(default_factory=dict)

    def performance_of(self, engine: Locomotive) -> Performance:
        """Performance of an engine with its whole map."""
        return compute_performance(
            engine, method=self.method, fuel=self.fuel, crew=self.crew, assumptions=self.assumptions
        )

    def quick_performance_of(self, engine: Locomotive) -> Performance:
        """Performance of an engine at rest and at the one speed; by the cycle much quicker than the whole map."""
        if self.method == "handbook":
            return self.performance_of(engine)
        fuel = fuel_or_default(engine, self.fuel)
        supply = heat_balance_supply(engine, fuel, self.crew or Crew(), self.assumptions)
        return Performance(
            locomotive=engine,
            map=self._two_speed_map(engine),
            supply=supply,
            fuel=fuel,
            assumptions=self.assumptions,
        )

    def _two_speed_map(self, engine: Locomotive) -> PerformanceMap:
        """A map of the one speed, shared by all engines that do not differ in what it depends on."""
        key = map_key(engine, self.assumptions)
        if key not in self.maps:
            self.maps[key] = two_speed_map(
                cycle_layout(engine, self.assumptions), self.speed, self.assumptions
            )
        return self.maps[key]


@frozen
class _KeyFigures:
    """Starting tractive effort [N], drawbar power [W], fuel per drawbar work [kg/J]."""

    start: float
    power: float
    fuel: float


def _key_figures(engine: Locomotive, setup: _ComparisonSetup) -> _KeyFigures:
    """Figures of an engine by which changes are evaluated."""
    performance = setup.quick_performance_of(engine)
    point = curve_point(performance, setup.speed, setup.rail)
    return _KeyFigures(
        start=curve_point(performance, 0.0, setup.rail).rim_effort,
        power=point.drawbar_power,
        fuel=point.fuel / point.drawbar_power if point.drawbar_power > 0.0 else float("inf"),
    )


def _relative_change(base: _KeyFigures, changed_figures: _KeyFigures) -> dict[str, float | None]:
    """Changed figures over those of the first engine, less one; None where undefined."""
    found: dict[str, float | None] = {}
    for name in ("start", "power", "fuel"):
        before, after = getattr(base, name), getattr(changed_figures, name)
        found[name] = after / before - 1.0 if 0.0 < before < float("inf") and after < float("inf") else None
    return found


def _change_effect(
    first: Locomotive,
    paths: Mapping[str, tuple[Any, Any]],
    unit: str,
    setup: _ComparisonSetup,
    base: _KeyFigures,
) -> ChangeEffect:
    """Effect of one change made alone."""
    before, after = next(iter(paths.values()))
    problem: str | None = None
    faults: tuple[Fault, ...] = ()
    effect: dict[str, float | None] = {"start": None, "power": None, "fuel": None}
    try:
        alone = with_values(first, {path: values[1] for path, values in paths.items()})
        effect = _relative_change(base, _key_figures(alone, setup))
    except LocosimError as error:
        problem = str(error)
        faults = error.faults if isinstance(error, OutOfRange) else ()
    return ChangeEffect(
        fields=tuple(paths),
        unit=unit,
        before=before,
        after=after,
        problem=problem,
        faults=faults,
        **effect,
    )


def strip_indices(path: str) -> str:
    """A path without indices: `cylinders[1].bore` becomes `cylinders.bore`."""
    return re.sub(r"\[\d+\]", "", path)


def changed(first: Locomotive, second: Locomotive) -> list[tuple[dict[str, tuple[Any, Any]], str]]:
    """Fields that differ, like fields of several items combined, each with its unit.

    Args:
        first: The first engine.
        second: The second engine.

    Returns:
        For each change the paths with both values, first and second, and the SI unit.
    """
    before, after = dict(_leaves(first, second)), dict(_leaves(second, first))
    groups: dict[str, tuple[dict[str, tuple[Any, Any]], str]] = {}
    for path, (value, unit) in before.items():
        other = after[path][0]
        if value != other:
            groups.setdefault(strip_indices(path), ({}, unit))[0][path] = (value, other)
    return list(groups.values())


def _leaves(thing: Any, other: Any, path: str = "") -> list[tuple[str, tuple[Any, str]]]:
    """Values with their units, down to where the two descriptions differ in shape."""
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
    """A description with some fields changed, by their paths; all at once, so that its checks see the whole.

    Args:
        thing: A dataclass of the model.
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
