"""Pictures of the theory pages; `python -m docs.build.theory_plots` draws them into docs/images.

Each is drawn with the functions the page describes, for the invented engines of the Larkspur Valley Railway; points
from sources are marked as such.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from docs.build.fire_plot import draw_fire
from locosim.constants import (
    ATMOSPHERE,
    GRAVITY,
    HORSEPOWER,
    HOUR,
    KMH,
    POUND,
    POUND_PER_SQUARE_FOOT_HOUR,
    SHORT_TON,
)
from locosim.engine.boiler.by_heat_balance import heat_balance_supply
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.cylinders.layout import CycleLayout, build_cycle_layout
from locosim.engine.cylinders.operating_points import diagrams, operating_points
from locosim.engine.performance import compute_excursion_performance, compute_performance
from locosim.journey.run import run_journey
from locosim.journey.setup.water_space import build_water_space, cover_and_glass
from locosim.model.assumptions import Assumptions
from locosim.physics.boiler import evaporation, water_level
from locosim.physics.boiler.heat_balance import HeatBalance
from locosim.physics.resistance.laws import LAWS, specific_resistance
from locosim.physics.traction import mean_pressure as handbook
from locosim.physics.traction.mean_pressure import FOOT_PER_MINUTE
from locosim.physics.traction.tractive_effort import speed_from_piston_speed
from locosim.plot.figure import COLORS, STYLES, figure_bytes, new_figure
from locosim.scenario.reader import load_excursion, load_locomotive

ROOT = Path(__file__).resolve().parents[2]
IMAGES = ROOT / "docs" / "images"
ENGINES = ROOT / "scenarios" / "engines"


def style(number: int) -> dict[str, object]:
    return {"color": COLORS[number % 6], "linestyle": STYLES[(number + number // 6) % 6], "linewidth": 1.4}


def draw_resistance() -> Figure:
    figure = new_figure(9.2, 4.4)
    left, right = figure.subplots(1, 2)
    speeds = np.linspace(0.0, 110.0, 56) * KMH

    def lines(axes: Axes, names: tuple[str, ...], axle_load: float, area: float) -> None:
        for k, name in enumerate(names):
            per = [
                specific_resistance(law=LAWS[name], speed=v, axle_load=axle_load, axles=4, frontal_area=area)
                for v in speeds
            ]
            axes.plot(speeds / KMH, np.array(per) / GRAVITY * 1000, label=name, **style(k))
        axes.set_xlabel("speed [km/h]")
        axes.set_ylabel("resistance [kg/t]")
        axes.set_ylim(0.0, 10.0)
        axes.legend(fontsize=7.5, loc="upper left")

    lines(
        left,
        (
            "sanzin_four_axle", "frank_passenger_cars", "barbier_four_axle", "strahl_passenger_cars",
            "von_borries_leitzmann", "strahl_express_cars", "davis_1926_passenger", "modified_1970",
        ),
        13e3,
        11.15,
    )  # fmt: skip
    left.set_title("four-axle passenger car of 52 t", fontsize=9.5)
    lines(
        right,
        ("davis_1926_freight", "schmidt_1910", "modified_1970", "aar_rp548", "canadian_national_box"),
        18 * SHORT_TON,
        8.18,
    )
    right.set_title("four-axle freight car of 72 short tons", fontsize=9.5)
    return figure


def draw_handbook() -> Figure:
    figure = new_figure(9.2, 4.0)
    left, right = figure.subplots(1, 2)
    feet = np.linspace(0.0, 1600.0, 161)
    for k, (name, factor) in enumerate(
        (("saturated", handbook.speed_factor_saturated), ("superheated", handbook.speed_factor_superheated))
    ):
        left.plot(
            feet, factor(piston_speed=feet * FOOT_PER_MINUTE), label=f"speed factor, {name}", **style(k)
        )
    axis = left.twiny()
    cutoffs = np.linspace(0.1, 0.9, 81)
    axis.plot(
        cutoffs * 100,
        handbook.mean_pressure_ratio(cutoff=cutoffs, clearance=0.09),
        label="hyperbolic mean pressure, 9 % clearance",
        **style(2),
    )
    axis.set_xlabel("cutoff [%], for the green line")
    axis.grid(visible=False)
    left.set_xlabel("piston speed [ft/min]")
    left.set_ylabel("over rated tractive effort, over admission pressure [1]")
    left.set_ylim(0.0, 1.1)
    handles = [*left.get_lines(), *axis.get_lines()]
    left.legend(handles, [str(line.get_label()) for line in handles], fontsize=7.5, loc="lower center")

    engine = load_locomotive(ENGINES / "teasel.toml")
    performance_map = compute_performance(engine, method="handbook").map
    pressure = engine.boiler.absolute_pressure
    for k, cutoff in enumerate((0.85, 0.6, 0.45, 0.3, 0.2)):
        at = min(cutoff, float(performance_map.cutoffs[-1]))
        pulls = [
            performance_map.effort_at(speed=float(v), cutoff=at, pressure=pressure)
            for v in performance_map.speeds
        ]
        right.plot(
            performance_map.speeds / KMH, np.array(pulls) / 1e3, label=f"{at * 100:.0f} % cutoff", **style(k)
        )
    right.set_xlabel("speed [km/h]")
    right.set_ylabel("indicated tractive effort [kN]")
    right.set_ylim(0.0, None)
    right.legend(fontsize=8)
    right.set_title("Teasel by the handbook method", fontsize=9.5)
    return figure


def draw_cycle() -> Figure:
    engine = build_cycle_layout(load_locomotive(ENGINES / "campion.toml"))
    figure = new_figure(9.2, 7.4)
    (card, mean), (water, wall) = figure.subplots(2, 2)
    _cards(card, engine)
    _over_speed(mean, water, wall, engine)
    return figure


def _cards(axes: Axes, engine: CycleLayout) -> None:
    pressure = engine.locomotive.boiler.absolute_pressure
    for k, kmh in enumerate((20, 50, 80)):
        _, drawn = diagrams(engine, speed=kmh * KMH, cutoff=0.3, pressure=pressure)
        stage = drawn[0].stages[0]
        axes.plot(
            stage.volume_front * 1e3,
            (stage.pressure_front - ATMOSPHERE) / 1e5,
            label=f"{kmh} km/h",
            **style(k),
        )
    axes.set_xlabel("volume of the front end [L]")
    axes.set_ylabel("gauge pressure [bar]")
    axes.set_title("Campion, 30 % cutoff, full throttle", fontsize=9.5)
    axes.legend(fontsize=8)


def _over_speed(mean: Axes, water: Axes, wall: Axes, engine: CycleLayout) -> None:
    pressure = engine.locomotive.boiler.absolute_pressure
    unit = engine.locomotive.engine_units[0]
    feet = np.linspace(150.0, 1500.0, 10)
    speeds = speed_from_piston_speed(
        piston_speed=feet * FOOT_PER_MINUTE, stroke=unit.stroke, driver_diameter=unit.driver_diameter
    )
    cutoffs = np.array([0.2, 0.3, 0.45, 0.6, 0.8])
    found = operating_points(
        engine, speeds=speeds[None, :], cutoffs=cutoffs[:, None], pressures=np.full((1, 1), pressure)
    )
    rate = found.steam / (found.effort * speeds[None, :]) * HORSEPOWER * HOUR / POUND
    for k, cutoff in enumerate(cutoffs):
        mean.plot(feet, found.mean_pressure[k] / 1e5, label=f"{cutoff * 100:.0f} % cutoff", **style(k))
        water.plot(feet, rate[k], **style(k))
        wall.plot(feet, found.wall_condensation_share[k] * 100, **style(k))
    mean.set_ylabel("mean effective pressure [bar]")
    mean.legend(fontsize=8)
    water.set_ylabel("steam rate [lb per ihp-hour]")
    water.set_ylim(12.0, 32.0)
    wall.set_ylabel("wall condensation, share of steam admitted [%]")
    for axes in (mean, water, wall):
        axes.set_xlabel("piston speed [ft/min]")


def draw_boiler() -> Figure:
    engine = load_locomotive(ENGINES / "campion.toml")
    excursion = load_excursion(ROOT / "scenarios" / "excursions" / "spring_special.toml")
    supply = heat_balance_supply(engine, excursion.fuel, excursion.crew)
    balance = supply.balance
    assert balance is not None
    rate = balance.firing_rate / engine.boiler.grate_area / POUND_PER_SQUARE_FOOT_HOUR
    figure = new_figure(9.2, 7.4)
    (shares, yields), (hot, limits) = figure.subplots(2, 2)
    _heat_shares(shares, rate, balance)
    _evaporation(yields, rate, balance)
    _temperatures(hot, rate, balance)
    _limits(limits, supply, engine.boiler.grate_area)
    for axes in (shares, yields, hot, limits):
        axes.set_xlabel("firing rate [lb/(ft² h)]")
        axes.set_xlim(0, 260)
    return figure


def _heat_shares(axes: Axes, rate: np.ndarray, balance: HeatBalance) -> None:
    parts = ("firebox", "tubes", "superheater", "stack", "vapor", "unburned")
    axes.stackplot(
        rate,
        [getattr(balance, part) / balance.heat_fired * 100 for part in parts],
        labels=("firebox", "tubes and flues", "superheater", "stack gas", "vapor in stack gas", "unburned"),
        colors=("#1b4965", "#4f86a8", "#5a7d2b", "#c1440e", "#e08a5b", "#8c8c8c"),
        linewidth=0.5,
        edgecolor="white",
    )
    axes.set_ylabel("share of the heat fired [%]")
    axes.set_ylim(0, 100)
    axes.grid(visible=False)
    handles, labels = axes.get_legend_handles_labels()
    axes.legend(handles[::-1], labels[::-1], fontsize=7.5, loc="lower left", frameon=True)


def _evaporation(axes: Axes, rate: np.ndarray, balance: HeatBalance) -> None:
    axes.plot(rate, balance.evaporation, label="Campion by the heat balance", **style(0))
    axes.plot(
        rate,
        evaporation.evaporation_per_coal(firing_rate_per_grate_area=rate * POUND_PER_SQUARE_FOOT_HOUR),
        label="straight line through [Bruce1952]",
        **style(1),
    )
    axes.plot([50, 200], [7.5, 5.0], "o", color=COLORS[1], label="[Bruce1952]")
    axes.plot([130], [6.15], "s", color=COLORS[2], label="[LMSRating]")
    axes.set_ylabel("steam per coal [1]")
    axes.set_ylim(0, 10)
    axes.legend(fontsize=7.5)


def _temperatures(axes: Axes, rate: np.ndarray, balance: HeatBalance) -> None:
    axes.plot(rate, balance.firebox_exit_temperature - 273.15, label="gas entering the tubes", **style(1))
    axes.plot(rate, balance.smokebox_temperature - 273.15, label="smokebox", **style(0))
    axes.plot(rate, balance.steam_temperature - 273.15, label="steam", **style(2))
    axes.set_ylabel("temperature [°C]")
    axes.set_ylim(0, None)
    axes.legend(fontsize=7.5)


def _limits(axes: Axes, supply: SteamSupply, grate_area: float) -> None:
    axes.plot(supply.firing_rates / grate_area / POUND_PER_SQUARE_FOOT_HOUR, supply.steam, **style(0))
    reached = sorted((each for each in supply.limits if each.reached), key=lambda each: each.steam)
    for k, limit in enumerate(reached):
        axes.axhline(limit.steam, color=COLORS[1], linewidth=0.9, linestyle=STYLES[k % 6])
        side = ("top", "bottom")[k % 2]
        axes.annotate(limit.name, (258, limit.steam), fontsize=7.5, ha="right", va=side)
    axes.set_ylabel("steam [kg/s]")
    axes.set_ylim(0, None)


def draw_journey() -> Figure:
    excursion = load_excursion(ROOT / "scenarios" / "excursions" / "spring_special.toml")
    run = run_journey(excursion, compute_excursion_performance(excursion), transient_boiler=True)
    figure = new_figure(9.2, 6.6)
    speed, boiler, cover = figure.subplots(3, 1, sharex=True)
    km = run.chainage / 1e3
    speed.plot(
        km, np.minimum(run.allowed_speed, 40.0) / KMH, color="#9a9a9a", linewidth=1.0, label="allowed speed"
    )
    speed.plot(km, run.speed / KMH, label="speed", **style(0))
    speed.set_ylabel("speed [km/h]")
    speed.legend(fontsize=8, loc="lower right")
    boiler.plot(km, (run.pressure - ATMOSPHERE) / 1e5, label="gauge pressure [bar]", **style(1))
    boiler.set_ylabel("pressure [bar]")
    boiler.set_ylim(11.5, 14.3)
    fire = boiler.twinx()
    fire.plot(km, run.firing * HOUR, label="firing rate [kg/h]", **style(2))
    fire.set_ylabel("firing rate [kg/h]")
    fire.set_ylim(0, 1150)
    fire.grid(visible=False)
    handles = [*boiler.get_lines(), *fire.get_lines()]
    boiler.legend(
        handles, [str(line.get_label()) for line in handles], fontsize=8, loc="upper right", ncols=2
    )
    middle = 0.5 * (km[1:] + km[:-1])
    cover.plot(middle, run.crown_cover * 1e3, label="crown sheet cover, minimum", **style(0))
    cover.plot(middle, run.glass_reading * 1e3, label="water above the bottom of the glass", **style(3))
    cover.axhline(
        excursion.criteria.min_crown_sheet_cover * 1e3, color=COLORS[1], linewidth=0.9, linestyle="--"
    )
    cover.set_ylabel("water [mm]")
    cover.set_ylim(0, 320)
    cover.set_xlabel("chainage [km]")
    cover.legend(fontsize=8, loc="upper right", ncols=2)
    return figure


def draw_crown_sheet() -> Figure:
    engine = load_locomotive(ENGINES / "campion.toml")
    space = build_water_space(engine.boiler, Assumptions())
    assert space is not None
    figure = new_figure(9.2, 3.9)
    shell, chart = figure.subplots(1, 2)
    half = 0.5 * space.length
    shell.plot([-half, half, half, -half, -half], [0, 0, space.diameter, space.diameter, 0], color="#3a3a3a")
    shell.plot(
        [space.crown_back, space.crown_front],
        [space.crown_sheet_height - space.crown_drop, space.crown_sheet_height],
        color=COLORS[1],
        linewidth=3,
        label="crown sheet",
    )
    tilted = {
        "level": 0.0,
        "climbing 1 in 60": 1 / 60,
        "descending 1 in 60, braking 0.4 m/s²": -1 / 60 - 0.4 / GRAVITY,
    }
    for k, (name, tilt) in enumerate(tilted.items()):
        middle = water_level.level_at_midlength(space.working_volume, tilt, space.length, space.diameter)
        ends = [middle - tilt * x for x in (-half, half)]
        shell.plot([-half, half], ends, label=name, color=COLORS[(0, 2, 3)[k]], linestyle=STYLES[k])
    shell.set_xlabel("from the middle of the boiler shell, stack to the right [m]")
    shell.set_ylabel("above the bottom of the boiler shell [m]")
    shell.set_ylim(0.8, 1.72)
    shell.legend(fontsize=7.5, loc="upper left", ncols=2)

    tilts = np.linspace(-0.08, 0.08, 161)
    for k, (share, name) in enumerate(((1.0, "working level"), (0.9, "a tenth less water"))):
        water = np.full_like(tilts, share * space.water_at_working_level)
        cover, glass = cover_and_glass(space, water, tilts)
        chart.plot(tilts * 100, cover * 1e3, label=f"minimum cover, {name}", **style(k))
        chart.plot(
            tilts * 100, glass * 1e3, color=COLORS[k], linewidth=0.9, linestyle=":", label=f"glass, {name}"
        )
    chart.axhline(76.2, color=COLORS[2], linewidth=0.9, linestyle="--", label="3 in")
    chart.set_xlabel("tilt of the surface, descending toward the stack [%]")
    chart.set_ylabel("water [mm]")
    chart.legend(fontsize=7.5)
    return figure


PICTURES: dict[str, Callable[[], Figure]] = {
    "theory_resistance.svg": draw_resistance,
    "theory_handbook.svg": draw_handbook,
    "theory_cycle.svg": draw_cycle,
    "theory_boiler.svg": draw_boiler,
    "theory_journey.svg": draw_journey,
    "theory_crown_sheet.svg": draw_crown_sheet,
    "theory_fire.svg": draw_fire,
}


def main(names: list[str]) -> None:
    """Draw the pictures named, or all."""
    IMAGES.mkdir(exist_ok=True)
    for name in names or PICTURES:
        (IMAGES / name).write_bytes(figure_bytes(PICTURES[name](), ".svg"))
        print(name)


if __name__ == "__main__":
    main(sys.argv[1:])
