"""The commands that take an engine file: curve, cutoff, diagram, boiler and compare."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import (
    CsvFile,
    EngineChanges,
    EngineFile,
    Force,
    FuelKind,
    HeatingValue,
    JsonOption,
    Method,
    MethodOption,
    NegativeNumberCommand,
    OptionTexts,
    Output,
    PlotFile,
    RailOption,
    SpeedArgument,
    Units,
    UnitsOption,
    change_option,
)

if TYPE_CHECKING:
    from locosim.engine.performance import Performance
    from locosim.model import Assumptions, Fuel, Locomotive

RATING_GRADES = ("0 %", "0.5 %", "1 %", "1.5 %", "2 %", "2.5 %", "3 %")
BOILER_STEPS = {Units.metric: "100 kg/m^2/hour"}  # of the firing rate per unit of grate area
US_BOILER_STEP = "20 lb/ft^2/hour"


@app.command()
def curve(
    engine: EngineFile,
    change: EngineChanges = None,
    rail: RailOption = "dry",
    step: Annotated[
        str | None,
        typer.Option(
            "--step",
            help='Step of speed, such as "10 km/h"; 5 mph, or less for a slow engine, if omitted.',
            show_default=False,
        ),
    ] = None,
    short_effort: Annotated[
        str,
        typer.Option("--short-effort", help='Length of a short effort from stored heat, such as "5 minute".'),
    ] = "10 minute",
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Tractive effort and power against speed, and their limits.

    Example: locosim curve engine.toml --rail wet --step "10 mph"
    """
    output = Output("curve", units, json, force, plot=plot)
    texts = OptionTexts(step=step, duration=short_effort, rail=rail, kind=fuel, heating_value=heating_value)
    speed_step = None if step is None else texts.quantity("step", "m/s")
    duration = texts.quantity("duration", "s")
    from locosim.engine.command_results import compute_speed_curve

    with texts.error_context(engine):
        performance = _performance(engine, change, method, texts)
        result = compute_speed_curve(performance, step=speed_step, rail=rail, duration=duration)
    output.write(result)


@app.command(cls=NegativeNumberCommand)
def cutoff(
    engine: EngineFile,
    speed: SpeedArgument,
    change: EngineChanges = None,
    throttle: Annotated[
        list[str] | None,
        typer.Option("--throttle", help='Throttle opening, such as "50 %"; repeatable.', show_default=False),
    ] = None,
    tractive_effort: Annotated[
        str | None,
        typer.Option(
            "--tractive-effort",
            help='Tractive effort required at the rim, such as "20000 lbf"; the cheapest setting is found.',
        ),
    ] = None,
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Tractive effort, steam and fuel at each cutoff, at one speed.

    Example: locosim cutoff engine.toml "25 mph" --tractive-effort "12000 lbf"
    """
    output = Output("cutoff", units, json, force, plot=plot)
    texts = OptionTexts(
        speed=speed, effort=tractive_effort, throttle=throttle, kind=fuel, heating_value=heating_value
    )
    at, effort = texts.quantity("speed", "m/s"), texts.optional_quantity("effort", "N")
    openings = texts.quantities("throttle", "")
    from locosim.engine.command_results import compute_cutoff_table

    with texts.error_context(engine):
        performance = _performance(engine, change, method, texts)
        result = compute_cutoff_table(performance, speed=at, throttle_openings=openings, effort=effort)
    output.write(result)


@app.command()
def rating(
    engine: EngineFile,
    change: EngineChanges = None,
    grade: Annotated[
        list[str] | None,
        typer.Option(
            "--grade",
            help='Grade with curve resistance in it, such as "1.2 %"; repeatable; 0 to 3 % if omitted.',
            show_default=False,
        ),
    ] = None,
    speed: Annotated[
        list[str] | None,
        typer.Option(
            "--speed",
            help='Speed to be held, such as "12 mph"; repeatable; 10 to 35 mph, as far as the engine is permitted, '
            "if omitted.",
            show_default=False,
        ),
    ] = None,
    loaded_car: Annotated[str, typer.Option("--loaded-car", help="Mass of a loaded car.")] = "70 short_ton",
    empty_car: Annotated[str, typer.Option("--empty-car", help="Mass of an empty car.")] = "22 short_ton",
    law: Annotated[
        str, typer.Option("--law", help="Law of running resistance of the cars.")
    ] = "davis_1926_freight",
    rail: RailOption = "dry",
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Tonnage rating by grade and speed, with adjusted tonnage.

    Example: locosim rating engine.toml --grade "1.2 %" --speed "12 mph" --rail wet
    """
    output = Output("rating", units, json, force, plot=plot, csv=csv)
    texts = OptionTexts(
        grades=grade or RATING_GRADES,
        speeds=speed,
        loaded_mass=loaded_car,
        empty_mass=empty_car,
        law=law,
        rail=rail,
        kind=fuel,
        heating_value=heating_value,
    )
    grades, speeds = texts.quantities("grades", "grade"), texts.quantities("speeds", "m/s")
    loaded, empty = texts.quantity("loaded_mass", "kg"), texts.quantity("empty_mass", "kg")
    from locosim.engine.speed_curve import usual_speeds
    from locosim.engine.tonnage_rating import METRIC_USUAL_SPEEDS, USUAL_SPEEDS, RatingCar, rate_tonnage

    usual = METRIC_USUAL_SPEEDS if units is Units.metric else USUAL_SPEEDS
    with texts.error_context(engine):
        performance = _performance(engine, change, method, texts)
        speeds = speeds or usual_speeds(usual, performance.locomotive)
        car = RatingCar(empty_mass=empty, loaded_mass=loaded, law=law)
        result = rate_tonnage(performance, grades=grades, speeds=speeds, rail=rail, car=car)
    output.write(result)


@app.command(cls=NegativeNumberCommand)
def diagram(
    engine: EngineFile,
    speed: SpeedArgument,
    cutoff: Annotated[str, typer.Argument(help='Cutoff, such as "30 %".', show_default=False)],
    change: EngineChanges = None,
    throttle: Annotated[str, typer.Option(help='Throttle opening, such as "50 %".')] = "100 %",
    pressure: Annotated[
        str | None,
        typer.Option(help='Gauge pressure of the boiler, such as "180 psi"; working pressure if omitted.'),
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Indicator diagram, and tractive effort over one revolution.

    Example: locosim diagram engine.toml "25 mph" "35 %" --plot diagram.png
    """
    output = Output("diagram", units, json, force, plot=plot)
    texts = OptionTexts(speed=speed, cutoff=cutoff, throttle=throttle, pressure=pressure)
    at, share = texts.quantity("speed", "m/s"), texts.quantity("cutoff", "")
    opening, gauge = texts.quantity("throttle", ""), texts.optional_quantity("pressure", "Pa")
    from locosim.engine.indicator_diagram import indicator_diagram

    with texts.error_context(engine):
        locomotive, assumptions = _read(engine, change)
        result = indicator_diagram(
            locomotive,
            speed=at,
            cutoff=share,
            throttle=opening,
            pressure_gauge=gauge,
            assumptions=assumptions,
        )
    output.write(result)


@app.command()
def boiler(
    engine: EngineFile,
    change: EngineChanges = None,
    firing_rate: Annotated[
        list[str] | None,
        typer.Option(
            "--firing-rate",
            help='Force the boiler to a firing rate, such as "180 lb/ft^2/hour"; repeatable.',
            show_default=False,
        ),
    ] = None,
    draft: Annotated[
        list[str] | None,
        typer.Option(
            "--draft",
            help='Force the boiler to a draft in the smokebox, such as "8 inH2O"; repeatable.',
            show_default=False,
        ),
    ] = None,
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Evaporation, efficiency and limits of the boiler by firing rate.

    Example: locosim boiler engine.toml --firing-rate "180 lb/ft^2/hour"
    """
    output = Output("boiler", units, json, force, plot=plot)
    texts = OptionTexts(kind=fuel, heating_value=heating_value, firing_rates=firing_rate, draft=draft)
    rates, drafts = texts.quantities("firing_rates", "kg/m^2/s"), texts.quantities("draft", "Pa")
    from locosim.engine.boiler.boiler_table import boiler_table
    from locosim.units import si

    with texts.error_context(engine):
        locomotive, assumptions = _read(engine, change)
        step, burned = si(BOILER_STEPS.get(units, US_BOILER_STEP), "kg/m^2/s"), _fuel(locomotive, texts)
        result = boiler_table(
            locomotive,
            method=method,
            fuel=burned,
            step=step,
            firing_rates=rates,
            drafts=drafts,
            assumptions=assumptions,
        )
    output.write(result)


@app.command()
def compare(
    engine_a: EngineFile,
    engine_b: EngineFile,
    change: Annotated[
        list[str] | None,
        change_option("the second engine or an assumption for both", "boiler.working_pressure_gauge=12 bar"),
    ] = None,
    speed: Annotated[
        str | None,
        typer.Option(
            "--speed",
            help='Speed for the effect of each change, such as "60 km/h"; 30 mph, or the permitted speed of the '
            "slower engine, if omitted.",
            show_default=False,
        ),
    ] = None,
    rail: RailOption = "dry",
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Two engines side by side, change by change.

    Example: locosim compare before.toml after.toml --speed "20 mph"
    """
    output = Output("compare", units, json, force, plot=plot)
    texts = OptionTexts(speed=speed, rail=rail, kind=fuel, heating_value=heating_value)
    at = None if speed is None else texts.quantity("speed", "m/s")
    from locosim.engine.comparison import compare_engines
    from locosim.loading import load_engine

    with texts.error_context(f"{engine_a} or {engine_b}"):
        first = load_engine(engine_a)
        second, assumptions = _read(engine_b, change)
        burned = _fuel(first, texts) if fuel or heating_value else None
        result = compare_engines(
            first, second, speed=at, rail=rail, method=method, fuel=burned, assumptions=assumptions
        )
    output.write(result)


def _performance(engine: Path, change: list[str] | None, method: Method, texts: OptionTexts) -> Performance:
    from locosim.engine.performance import compute_performance

    locomotive, assumptions = _read(engine, change)
    return compute_performance(
        locomotive, method=method, fuel=_fuel(locomotive, texts), assumptions=assumptions
    )


def _read(engine: Path, change: list[str] | None) -> tuple[Locomotive, Assumptions]:
    """The engine and the assumptions, with the changes of both made."""
    from locosim.loading import load_engine
    from locosim.scenario import split_assumption_changes

    assumptions, rest = split_assumption_changes(change or ())
    return load_engine(engine, changes=rest), assumptions


def _fuel(locomotive: Locomotive, texts: OptionTexts) -> Fuel:
    from locosim.engine.boiler.by_heat_balance import make_fuel

    heating_value = texts.optional_quantity("heating_value", "J/kg")
    return make_fuel(locomotive, kind=texts.text("kind"), heating_value=heating_value)
