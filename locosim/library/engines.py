"""Functions and results for one engine, and for two engines side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from locosim.constants import ATMOSPHERE
from locosim.engine import cutoff_table as cutoffs
from locosim.engine import indicator_diagram as diagrams
from locosim.engine.boiler import boiler_table as boilers
from locosim.engine.boiler.stored_heat import ShortEffort, short_efforts
from locosim.engine.comparison import ChangeEffect, Comparison, compare_engines
from locosim.engine.performance import Performance, compute_performance
from locosim.engine.speed_curve import CurvePoint, effort_curve, evenly_spaced_speeds
from locosim.engine.speed_curve import speed_curve as curve_points
from locosim.library.quantities import Quantity, quantity
from locosim.library.table import DEFAULT_UNITS, Column, Result, Table, column
from locosim.model import Fuel, Locomotive
from locosim.units import show

if TYPE_CHECKING:
    from locosim.plot.figure import Figure


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class SpeedCurve(Result):
    """Tractive effort and power of an engine against speed.

    Attributes:
        performance: Performance of the engine.
        rail: Rail condition.
        rows: Points, rising in speed, in SI.
        short_efforts: Short efforts from stored heat, one for each final pressure.
        short_rows: Points of the best short effort at each speed, in SI.
    """

    performance: Performance
    rail: str
    rows: tuple[CurvePoint, ...]
    short_efforts: tuple[ShortEffort, ...]
    short_rows: tuple[CurvePoint, ...]

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Engine, rail and method."""
        return f"{self.performance.locomotive.name}: speed curve, {self.rail} rail, method {self.performance.method}"

    @property
    def provenance(self) -> Any:
        """Files and changes the engine was made from; None where it was made in code."""
        return _provenance(self.performance.locomotive)

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each speed."""
        return [
            column("speed", "speed", self.rows, lambda p: p.speed),
            column("rim tractive effort", "force", self.rows, lambda p: p.rim_effort),
            column("drawbar pull", "force", self.rows, lambda p: p.drawbar_pull),
            column("indicated power", "power", self.rows, lambda p: p.indicated_power),
            column("drawbar power", "power", self.rows, lambda p: p.drawbar_power),
            column("cutoff", "ratio", self.rows, lambda p: p.cutoff),
            column("steam", "steam_rate", self.rows, lambda p: p.steam),
            column("fuel", "fuel_rate", self.rows, lambda p: p.fuel),
            column("limited by", None, self.rows, lambda p: p.limit),
            column("drawbar pull, short effort", "force", self.short_rows, lambda p: p.drawbar_pull),
        ]

    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command `curve` prints it."""
        from locosim.report.text.engine import curve_text

        both = self.short_efforts, self.short_rows
        return curve_text(self.performance, self.rows, self.rail, units, both)

    def json(self) -> str:
        """JSON in SI as the command `curve` writes it."""
        from locosim.report.json.journey import curve_json

        return curve_json(self.performance, self.rows, self.rail, (self.short_efforts, self.short_rows))

    def figure(self, units: str) -> Figure:
        """Tractive effort and power over speed."""
        from locosim.plot.engine import plot_curve

        return plot_curve(self.performance, self.rows, self.rail, units, self.short_efforts)


def speed_curve(
    engine: Locomotive,
    *,
    step: Quantity = "5 mph",
    rail: str = "dry",
    short_effort: Quantity = "10 minute",
    fuel: Fuel | None = None,
    method: str = "cycle",
) -> SpeedCurve:
    """Compute tractive effort and power against speed, with the limiting factor.

    Args:
        engine: The engine.
        step: Step of speed, a text with its unit or a number in m/s.
        rail: Rail condition, such as `dry` or `wet`.
        short_effort: Length of the short effort from stored heat, a text with its unit or a number in s.
        fuel: Fuel; the engine's usual one when left out.
        method: `cycle`, from cylinders and boiler, or `handbook`, from published averages.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A step, rail, fuel or method that does not apply to the engine.
    """
    spacing, duration = quantity(step, "m/s", "step"), quantity(short_effort, "s", "short_effort")
    performance = compute_performance(engine, method=method, fuel=fuel)
    speeds = evenly_spaced_speeds(performance, spacing)
    efforts = short_efforts(performance.locomotive, performance.supply, duration=duration)
    return SpeedCurve(
        performance=performance,
        rail=rail,
        rows=tuple(curve_points(performance, speeds=speeds, rail=rail)),
        short_efforts=tuple(efforts),
        short_rows=tuple(effort_curve(performance, speeds=speeds, efforts=efforts, rail=rail)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class CutoffTable(Result):
    """Tractive effort, steam and fuel of an engine at each cutoff, at one speed.

    Attributes:
        performance: Performance of the engine.
        speed: Train speed [m/s].
        rows: Points for each throttle opening and cutoff, in SI.
        options: For a required tractive effort, the cutoff at each opening and the most economical; None without one.
    """

    performance: Performance
    speed: float
    rows: tuple[cutoffs.CutoffPoint, ...]
    options: cutoffs.PullOptions | None

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Engine, speed and method."""
        engine = self.performance.locomotive.name
        return f"{engine}: cutoffs at {show(self.speed, 'speed', units)}, method {self.performance.method}"

    @property
    def provenance(self) -> Any:
        """Files and changes the engine was made from; None where it was made in code."""
        return _provenance(self.performance.locomotive)

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each throttle opening and cutoff; no fuel where the boiler cannot sustain the steam."""
        return [
            column("throttle", "ratio", self.rows, lambda p: p.throttle),
            column("cutoff", "ratio", self.rows, lambda p: p.cutoff),
            column("rim tractive effort", "force", self.rows, lambda p: p.rim_effort),
            column("indicated power", "power", self.rows, lambda p: p.indicated_power),
            column("steam", "steam_rate", self.rows, lambda p: p.steam),
            column("steam per work", "specific_steam_consumption", self.rows, lambda p: p.steam_per_work),
            column("fuel", "fuel_rate", self.rows, lambda p: p.fuel if p.steam_share <= 1.0 else None),
            column("steam over sustained", "ratio", self.rows, lambda p: p.steam_share),
            column("back pressure", "pressure", self.rows, lambda p: p.back_pressure),
        ]

    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command `cutoff` prints it."""
        from locosim.report.text.engine import cutoff_text

        return cutoff_text(self.performance, self.rows, self.speed, units, self.options)

    def json(self) -> str:
        """JSON in SI as the command `cutoff` writes it."""
        from locosim.report.json.journey import cutoff_json

        return cutoff_json(self.performance, self.rows, self.speed, self.options)

    def figure(self, units: str) -> Figure:
        """Tractive effort, steam and steam per work over cutoff."""
        from locosim.plot.engine import plot_cutoff

        return plot_cutoff(self.performance, self.rows, self.speed, units)


def cutoff_table(
    engine: Locomotive,
    speed: Quantity,
    *,
    throttles: Sequence[Quantity] = (),
    effort: Quantity | None = None,
    fuel: Fuel | None = None,
    method: str = "cycle",
) -> CutoffTable:
    """Compute tractive effort, steam and fuel at each cutoff, at one speed.

    Args:
        engine: The engine.
        speed: Train speed, a text with its unit or a number in m/s.
        throttles: Throttle openings, each a text such as `"50 %"` or a share; full throttle when left out.
        effort: Rim tractive effort for which the most economical setting is found, a text with its unit or a number
            in N.
        fuel: Fuel; the engine's usual one when left out.
        method: `cycle` or `handbook`.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A speed, opening or effort that the engine does not reach.
    """
    at, openings = quantity(speed, "m/s", "speed"), tuple(quantity(t, "", "throttles") for t in throttles)
    required = None if effort is None else quantity(effort, "N", "effort")
    performance = compute_performance(engine, method=method, fuel=fuel)
    rows = [
        p
        for opening in openings or (1.0,)
        for p in cutoffs.cutoff_table(performance, speed=at, throttle=opening)
    ]
    options = None
    if required is not None:
        options = cutoffs.options_for_effort(
            performance, speed=at, effort=required, throttle_openings=openings
        )
    return CutoffTable(performance=performance, speed=at, rows=tuple(rows), options=options)


class DiagramPoint(NamedTuple):
    """Pressure in one cylinder end at one crank angle.

    Attributes:
        cylinder: Name of the set of cylinders.
        end: `front` or `back`.
        crank_angle: Of the whole cylinder's crank [rad].
        stroke: Fraction of the stroke from the end's own dead center [1].
        pressure_gauge: Pressure [Pa].
    """

    cylinder: str
    end: str
    crank_angle: float
    stroke: float
    pressure_gauge: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Diagram(Result):
    """Indicator diagrams of an engine at one speed and cutoff.

    Attributes:
        diagram: Diagrams, crank torque and valve events, in SI.
        rows: Points of all diagrams, in SI.
    """

    diagram: diagrams.IndicatorDiagram
    rows: tuple[DiagramPoint, ...]

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Engine, speed and cutoff."""
        found = self.diagram
        return (
            f"{found.locomotive.name}: indicator diagram at {found.speed:.4g} m/s, cutoff {found.cutoff:.3g}"
        )

    @property
    def provenance(self) -> Any:
        """Files and changes the engine was made from; None where it was made in code."""
        return _provenance(self.diagram.locomotive)

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each cylinder end and crank angle."""
        return [
            column("cylinder", None, self.rows, lambda p: p.cylinder),
            column("end", None, self.rows, lambda p: p.end),
            column("crank angle [rad]", None, self.rows, lambda p: p.crank_angle),
            column("stroke", "ratio", self.rows, lambda p: p.stroke),
            column("gauge pressure", "pressure", self.rows, lambda p: p.pressure_gauge),
        ]

    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command `diagram` prints it."""
        from locosim.report.text.diagram import diagram_text

        return diagram_text(self.diagram, units)

    def json(self) -> str:
        """JSON in SI as the command `diagram` writes it."""
        from locosim.report.json.engine import diagram_json

        return diagram_json(self.diagram)

    def figure(self, units: str) -> Figure:
        """Pressure over stroke, and tractive effort over one revolution."""
        from locosim.plot.diagram import plot_diagram

        return plot_diagram(self.diagram, units)


def indicator_diagram(
    engine: Locomotive,
    speed: Quantity,
    cutoff: Quantity,
    *,
    throttle: Quantity = 1.0,
    pressure: Quantity | None = None,
) -> Diagram:
    """Compute indicator diagrams, and tractive effort over one revolution.

    Args:
        engine: The engine.
        speed: Train speed, a text with its unit or a number in m/s.
        cutoff: Cutoff, a text such as `"30 %"` or a share.
        throttle: Throttle opening, likewise.
        pressure: Boiler pressure by gauge, a text with its unit or a number in Pa; working pressure when left out.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A speed, cutoff, opening or pressure that cannot be computed.
    """
    found = diagrams.indicator_diagram(
        engine,
        speed=quantity(speed, "m/s", "speed"),
        cutoff=quantity(cutoff, "", "cutoff"),
        throttle=quantity(throttle, "", "throttle"),
        pressure_gauge=None if pressure is None else quantity(pressure, "Pa", "pressure"),
    )
    return Diagram(diagram=found, rows=tuple(_diagram_points(found)))


def _diagram_points(found: diagrams.IndicatorDiagram) -> list[DiagramPoint]:
    return [
        DiagramPoint(name, end, float(angle), float(stroke), float(pressure) - ATMOSPHERE)
        for name, cylinder, stage in diagrams.labeled_stages(found)
        for end in diagrams.ENDS
        for angle, stroke, pressure in zip(
            stage.angle,
            diagrams.stroke_positions(cylinder, stage, end),
            getattr(stage, f"pressure_{end}"),
            strict=True,
        )
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class BoilerCurve(Result):
    """Evaporation, efficiency and limits of a boiler by firing rate.

    Attributes:
        table: Points, limits and steam supply, in SI.
        method: `cycle` or `handbook`.
    """

    table: boilers.BoilerTable
    method: str

    @property
    def rows(self) -> tuple[boilers.BoilerPoint, ...]:
        """Points, rising in firing rate, in SI."""
        return self.table.points

    @property
    def limits(self) -> tuple[boilers.LimitPoint, ...]:
        """Limits of the steam, least first, in SI; those not reached last."""
        return self.table.limits

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Engine, fuel and method."""
        return f"{self.table.locomotive.name}: boiler, {self.table.fuel.kind}, method {self.method}"

    @property
    def provenance(self) -> Any:
        """Files and changes the engine was made from; None where it was made in code."""
        return _provenance(self.table.locomotive)

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each firing rate."""
        return [
            column(
                "firing rate", "firing_rate_per_grate_area", self.rows, lambda p: p.firing_rate_per_grate_area
            ),
            column("fuel", "fuel_rate", self.rows, lambda p: p.fuel),
            column("steam", "steam_rate", self.rows, lambda p: p.steam),
            column("efficiency", "ratio", self.rows, lambda p: p.efficiency),
            column("steam temperature", "temperature", self.rows, lambda p: p.steam_temperature),
            column("superheat", "temperature_difference", self.rows, lambda p: p.superheat),
            column("smokebox temperature", "temperature", self.rows, lambda p: p.smokebox_temperature),
            column("draft required", "draft", self.rows, lambda p: p.draft),
            column("unburned", "ratio", self.rows, lambda p: p.unburned),
        ]

    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command `boiler` prints it."""
        from locosim.report.text.boiler import boiler_text

        return boiler_text(self.table, units)

    def json(self) -> str:
        """JSON in SI as the command `boiler` writes it."""
        from locosim.report.json.engine import boiler_json

        return boiler_json(self.table)

    def figure(self, units: str) -> Figure:
        """Steam, efficiency and temperatures over firing rate, in fine steps."""
        from locosim.plot.boiler import plot_boiler

        fine = boilers.boiler_table(
            self.table.locomotive, method=self.method, fuel=self.table.fuel, step=boilers.PLOT_STEP
        )
        return plot_boiler(fine, units)


def boiler_table(
    engine: Locomotive,
    *,
    step: Quantity = "20 lb/ft^2/hour",
    fuel: Fuel | None = None,
    method: str = "cycle",
) -> BoilerCurve:
    """Compute evaporation, efficiency and limits of the boiler by firing rate.

    Args:
        engine: The engine.
        step: Step of the firing rate, a text with its unit or a number in kg/(m² s).
        fuel: Fuel; the engine's usual one when left out.
        method: `cycle`, here by the heat balance, or `handbook`.

    Raises:
        UnitError: A step without a unit that fits.
        OutOfRange: A step, fuel or method that does not apply to the engine.
    """
    spacing = quantity(step, "kg/m^2/s", "step")
    found = boilers.boiler_table(engine, method=method, fuel=fuel, step=spacing)
    return BoilerCurve(table=found, method=method)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class ComparedSpeeds(Table):
    """Two engines at the same speeds.

    Attributes:
        comparison: The comparison, in SI.
    """

    comparison: Comparison

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Names of the engines."""
        return f"{_names(self.comparison)}, by speed"

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each speed."""
        columns = [column("speed", "speed", self.comparison.first.rows, lambda p: p.speed)]
        for letter, side in (("A", self.comparison.first), ("B", self.comparison.second)):
            columns += [
                column(f"drawbar pull {letter}", "force", side.rows, lambda p: p.drawbar_pull),
                column(f"drawbar power {letter}", "power", side.rows, lambda p: p.drawbar_power),
                column(f"limited by {letter}", None, side.rows, lambda p: p.limit),
            ]
        return columns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class EngineComparison(Result):
    """Two engines side by side, change by change.

    Attributes:
        comparison: Both engines and the effect of each change, in SI.
    """

    comparison: Comparison

    @property
    def rows(self) -> tuple[ChangeEffect, ...]:
        """Effect of each change alone, and of all combined."""
        return (*self.comparison.changes, self.comparison.combined)

    @property
    def speeds(self) -> ComparedSpeeds:
        """Drawbar pull and power of both engines by speed."""
        return ComparedSpeeds(comparison=self.comparison)

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Names of the engines, speed and rail."""
        found = self.comparison
        speed = show(found.speed, "speed", units)
        return f"{_names(found)}, effect of changes at {speed}, {found.rail} rail"

    @property
    def provenance(self) -> Any:
        """Files and changes the second engine was made from; None where it was made in code."""
        return _provenance(self.comparison.second.performance.locomotive)

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each change from the first engine to the second, then all combined."""
        from locosim.report.text.compare import value_text

        def value(effect: ChangeEffect, side: str) -> str | None:
            return value_text(getattr(effect, side), effect.unit, units) if effect.fields else None

        return [
            column("change", None, self.rows, lambda e: e.label),
            column("A", None, self.rows, lambda e: value(e, "before")),
            column("B", None, self.rows, lambda e: value(e, "after")),
            column("starting tractive effort", "ratio", self.rows, lambda e: e.start),
            column("drawbar power", "ratio", self.rows, lambda e: e.power),
            column("fuel for drawbar work", "ratio", self.rows, lambda e: e.fuel),
        ]

    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command `compare` prints it."""
        from locosim.report.text.compare import compare_text

        return compare_text(self.comparison, units)

    def json(self) -> str:
        """JSON in SI as the command `compare` writes it."""
        from locosim.report.json.engine import compare_json

        return compare_json(self.comparison)

    def figure(self, units: str) -> Figure:
        """Pull and power of both, and a bar for each change."""
        from locosim.plot.compare import plot_compare

        return plot_compare(self.comparison, units)


def compare(
    first: Locomotive,
    second: Locomotive,
    *,
    speed: Quantity = "30 mph",
    rail: str = "dry",
    fuel: Fuel | None = None,
    method: str = "cycle",
) -> EngineComparison:
    """Compare two engines, and compute the effect of each change that leads from the first to the second.

    Args:
        first: The engine the changes are made to.
        second: The engine they lead to.
        speed: Speed at which the changes are valued, a text with its unit or a number in m/s.
        rail: Rail condition.
        fuel: Fuel of both; each engine's usual one when left out.
        method: `cycle` or `handbook`.

    Raises:
        UnitError: A speed without a unit that fits.
        OutOfRange: A speed, rail, fuel or method that does not apply to one of them.
    """
    found = compare_engines(
        first, second, speed=quantity(speed, "m/s", "speed"), rail=rail, method=method, fuel=fuel
    )
    return EngineComparison(comparison=found)


def _names(found: Comparison) -> str:
    first, second = found.first.performance.locomotive, found.second.performance.locomotive
    return f"A {first.name}, B {second.name}"


def _provenance(engine: Locomotive) -> Any:
    return getattr(engine, "provenance", None)
