"""Functions and results for one engine."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.boiler_table import BoilerPoint, BoilerTable, ForcedPoint, LimitPoint
from locosim.engine.boiler.boiler_table import boiler_table as compute_boiler_table
from locosim.engine.command_results import CutoffTable, SpeedCurve, compute_cutoff_table, compute_speed_curve
from locosim.engine.cutoff_table import CutoffPoint, PullOptions
from locosim.engine.indicator_diagram import ENDS, IndicatorDiagram, labeled_stages, stroke_positions
from locosim.engine.indicator_diagram import indicator_diagram as compute_diagram
from locosim.engine.performance import compute_performance
from locosim.engine.speed_curve import CurvePoint
from locosim.engine.test_sheet.anchored import anchored_engine as anchored_engine
from locosim.engine.test_sheet.sheet_comparison import SheetComparison, SheetLine, compare_sheet
from locosim.library.quantities import Quantity, quantity
from locosim.library.table import Column, Result, column
from locosim.model import Assumptions, Fuel, Locomotive
from locosim.model.engine_test_sheet import Anchor
from locosim.units import show, show_percent


class CurveResult(Result[SpeedCurve]):
    """Tractive effort and power of an engine against speed."""

    command = "curve"

    @property
    def rows(self) -> tuple[CurvePoint, ...]:
        """Points, rising in speed, in SI."""
        return self.content.points

    @property
    def short_effort_rows(self) -> tuple[CurvePoint, ...]:
        """Points of the best short effort from stored heat, rising in speed, in SI."""
        return self.content.effort_points

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def title(self) -> str:
        """Engine, rail and method."""
        engine = self.content.performance.locomotive.name
        return f"{engine}: speed curve, {self.content.rail} rail, method {self.method}"

    def columns(self) -> Sequence[Column]:
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
            column("drawbar pull, short effort", "force", self.short_effort_rows, lambda p: p.drawbar_pull),
        ]


def speed_curve(
    engine: Locomotive,
    *,
    step: Quantity | None = None,
    rail: str = "dry",
    short_effort: Quantity = "10 minute",
    fuel: Fuel | None = None,
    method: str = "cycle",
    assumptions: Assumptions = Assumptions(),
) -> CurveResult:
    """Compute tractive effort and power against speed, with the limiting factor.

    Args:
        engine: The engine.
        step: Step of speed, a text with its unit or a number in m/s; 5 mph, or less for a slow engine, if omitted.
        rail: Rail condition, such as `dry` or `wet`.
        short_effort: Length of the short effort from stored heat, a text with its unit or a number in s.
        fuel: Fuel; the engine's usual one when left out.
        method: `cycle`, from cylinders and boiler, or `handbook`, from published averages.
        assumptions: Assumed figures.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A step, rail, fuel or method that does not apply to the engine.
    """
    spacing = None if step is None else quantity(step, "m/s", "step")
    duration = quantity(short_effort, "s", "short_effort")
    performance = compute_performance(engine, method=method, fuel=fuel, assumptions=assumptions)
    return CurveResult(compute_speed_curve(performance, step=spacing, rail=rail, duration=duration))


class CutoffResult(Result[CutoffTable]):
    """Tractive effort, steam and fuel of an engine at each cutoff, at one speed."""

    command = "cutoff"

    @property
    def rows(self) -> tuple[CutoffPoint, ...]:
        """Points for each throttle opening and cutoff, in SI."""
        return self.content.points

    @property
    def options(self) -> PullOptions | None:
        """Settings that give the required tractive effort, and the most economical; None where none was required."""
        return self.content.options

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def title(self) -> str:
        """Engine, speed and method."""
        engine = self.content.performance.locomotive.name
        return f"{engine}: cutoffs at {show(self.content.speed, 'speed')}, method {self.method}"

    def columns(self) -> Sequence[Column]:
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


def cutoff_table(
    engine: Locomotive,
    speed: Quantity,
    *,
    throttles: Sequence[Quantity] = (),
    effort: Quantity | None = None,
    fuel: Fuel | None = None,
    method: str = "cycle",
    assumptions: Assumptions = Assumptions(),
) -> CutoffResult:
    """Compute tractive effort, steam and fuel at each cutoff, at one speed.

    Args:
        engine: The engine.
        speed: Train speed, a text with its unit or a number in m/s.
        throttles: Throttle openings, each a text such as `"50 %"` or a share; full throttle when left out.
        effort: Rim tractive effort for which the most economical setting is found, a text with its unit or a number
            in N.
        fuel: Fuel; the engine's usual one when left out.
        method: `cycle` or `handbook`.
        assumptions: Assumed figures.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A speed, opening or effort that the engine does not reach.
    """
    at, openings = quantity(speed, "m/s", "speed"), tuple(quantity(t, "", "throttles") for t in throttles)
    required = None if effort is None else quantity(effort, "N", "effort")
    performance = compute_performance(engine, method=method, fuel=fuel, assumptions=assumptions)
    found = compute_cutoff_table(performance, speed=at, throttle_openings=openings, effort=required)
    return CutoffResult(found)


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


class DiagramResult(Result[IndicatorDiagram]):
    """Indicator diagrams of an engine at one speed and cutoff."""

    command = "diagram"

    @property
    def rows(self) -> tuple[DiagramPoint, ...]:
        """Points of all diagrams, in SI."""
        return tuple(_diagram_points(self.content))

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return "cycle"

    def title(self) -> str:
        """Engine, speed and cutoff."""
        speed, cutoff = show(self.content.speed, "speed"), show_percent(self.content.cutoff)
        return f"{self.content.locomotive.name}: indicator diagram at {speed}, cutoff {cutoff}"

    def columns(self) -> Sequence[Column]:
        """One row for each cylinder end and crank angle."""
        rows = self.rows
        return [
            column("cylinder", None, rows, lambda p: p.cylinder),
            column("end", None, rows, lambda p: p.end),
            column("crank angle [rad]", None, rows, lambda p: p.crank_angle),
            column("stroke", "ratio", rows, lambda p: p.stroke),
            column("gauge pressure", "pressure", rows, lambda p: p.pressure_gauge),
        ]


def indicator_diagram(
    engine: Locomotive,
    speed: Quantity,
    cutoff: Quantity,
    *,
    throttle: Quantity = 1.0,
    pressure: Quantity | None = None,
    assumptions: Assumptions = Assumptions(),
) -> DiagramResult:
    """Compute indicator diagrams, and tractive effort over one revolution.

    Args:
        engine: The engine.
        speed: Train speed, a text with its unit or a number in m/s.
        cutoff: Cutoff, a text such as `"30 %"` or a share.
        throttle: Throttle opening, likewise.
        pressure: Boiler pressure by gauge, a text with its unit or a number in Pa; working pressure when left out.
        assumptions: Assumed figures.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A speed, cutoff, opening or pressure that cannot be computed.
    """
    found = compute_diagram(
        engine,
        speed=quantity(speed, "m/s", "speed"),
        cutoff=quantity(cutoff, "", "cutoff"),
        throttle=quantity(throttle, "", "throttle"),
        pressure_gauge=None if pressure is None else quantity(pressure, "Pa", "pressure"),
        assumptions=assumptions,
    )
    return DiagramResult(found)


def _diagram_points(found: IndicatorDiagram) -> list[DiagramPoint]:
    return [
        DiagramPoint(name, end, float(angle), float(stroke), float(pressure) - ATMOSPHERE)
        for name, cylinder, stage in labeled_stages(found)
        for end in ENDS
        for angle, stroke, pressure in zip(
            stage.angle,
            stroke_positions(cylinder, stage, end),
            getattr(stage, f"pressure_{end}"),
            strict=True,
        )
    ]


class BoilerResult(Result[BoilerTable]):
    """Evaporation, efficiency and limits of a boiler by firing rate."""

    command = "boiler"

    @property
    def rows(self) -> tuple[BoilerPoint, ...]:
        """Points, rising in firing rate, in SI."""
        return self.content.points

    @property
    def forced(self) -> tuple[ForcedPoint, ...]:
        """The boiler at the firing rates and drafts it was forced to, with the limits exceeded, in SI."""
        return self.content.forced

    @property
    def limits(self) -> tuple[LimitPoint, ...]:
        """Limits of the steam, least first, in SI; those not reached last."""
        return self.content.limits

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.supply.method

    def title(self) -> str:
        """Engine, fuel and method."""
        return f"{self.content.locomotive.name}: boiler, {self.content.fuel.kind}, method {self.method}"

    def columns(self) -> Sequence[Column]:
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


def boiler_table(
    engine: Locomotive,
    *,
    step: Quantity = "20 lb/ft^2/hour",
    firing_rates: Sequence[Quantity] = (),
    drafts: Sequence[Quantity] = (),
    fuel: Fuel | None = None,
    method: str = "cycle",
    assumptions: Assumptions = Assumptions(),
) -> BoilerResult:
    """Compute evaporation, efficiency and limits of the boiler by firing rate.

    Args:
        engine: The engine.
        step: Step of the firing rate, a text with its unit or a number in kg/(m² s).
        firing_rates: Firing rates to force the boiler to, whatever its limits, likewise; the result's `forced`.
        drafts: Drafts in the smokebox to force it to, each a text with its unit or a number in Pa.
        fuel: Fuel; the engine's usual one when left out.
        method: `cycle`, here by the heat balance, or `handbook`.
        assumptions: Assumed figures.

    Raises:
        UnitError: A step without a unit that fits.
        OutOfRange: A step, fuel or method that does not apply to the engine.
    """
    spacing = quantity(step, "kg/m^2/s", "step")
    return BoilerResult(
        compute_boiler_table(
            engine,
            method=method,
            fuel=fuel,
            step=spacing,
            firing_rates=[quantity(rate, "kg/m^2/s", "firing_rates") for rate in firing_rates],
            drafts=[quantity(draft, "Pa", "drafts") for draft in drafts],
            assumptions=assumptions,
        )
    )


class SheetResult(Result[SheetComparison]):
    """The test sheet of an engine beside what locosim computes."""

    command = "test-sheet"

    @property
    def rows(self) -> tuple[SheetLine, ...]:
        """Readings, those of the whole sheet first, in SI."""
        return self.content.lines

    @property
    def anchors(self) -> tuple[Anchor, ...]:
        """Keys set from the sheet, in SI."""
        return self.content.anchors

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return "cycle"

    def title(self) -> str:
        """Engine and source of the sheet."""
        return f"{self.content.locomotive.name}: test sheet"

    def columns(self) -> Sequence[Column]:
        """One row for each reading, in SI: the readings have different units."""
        return [
            column("test", None, self.rows, lambda p: p.label),
            column("reading", None, self.rows, lambda p: p.reading),
            column("printed, SI", None, self.rows, lambda p: p.printed),
            column("computed, SI", None, self.rows, lambda p: p.computed),
            column("with the sheet, SI", None, self.rows, lambda p: p.anchored),
            column("anchor", None, self.rows, lambda p: "yes" if p.used else "no"),
        ]


def compare_test_sheet(engine: Locomotive, *, assumptions: Assumptions = Assumptions()) -> SheetResult:
    """Compute every reading of the test sheet of an engine.

    Args:
        engine: The engine, as read or as returned by `anchored_engine`.
        assumptions: Assumed figures.

    Raises:
        OutOfRange: A fuel of the sheet that the engine cannot burn, or an engine the cycle does not cover.
    """
    return SheetResult(compare_sheet(engine, assumptions))
