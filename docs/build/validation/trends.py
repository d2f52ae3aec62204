"""Trends the trade expects of any steam locomotive, checked on the computed figures."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from locosim.constants import FOOT, METRIC_HORSEPOWER, MPH, PSI, ZERO_CELSIUS
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.model import Locomotive
from locosim.physics.traction.tractive_effort import piston_speed

from .boiler import of_engine
from .comparison import Expectation
from .engines import engine
from .purdue import rates
from .running import POUND_PER_POWER_HOUR, at_steam, grid_points, performance, supply_of
from .tables import german_classes

CUTOFFS = np.array([0.18, 0.22, 0.26, 0.30, 0.35, 0.40, 0.45, 0.50])
SPEEDS = np.array([500.0, 800.0, 1100.0]) * FOOT / 60  # piston speeds [m/s]
US = ("nyc_j1", "nyc_j3a", "prr_k4s", "prr_i1s")


@lru_cache
def expectations() -> tuple[Expectation, ...]:
    """Each expected trend with the computed figures."""
    return (
        *_superheated(),
        _saturated(),
        _best_piston_speed(),
        _falling_pressure(),
        *_efficiency(),
        _superheat(),
    )


def _engines() -> list[Locomotive]:
    german = {row["class"]: locomotive for row, locomotive in german_classes()}
    return [
        *(engine(name).locomotive for name in US),
        german["52"],
        german["01 later series"],
        german["38.10 (P8)"],
    ]


@lru_cache
def steam_rates_by_cutoff() -> dict[str, np.ndarray]:
    """Pounds of steam per ihp-hour over piston speed and cutoff of superheated engines."""
    found = {}
    for locomotive in _engines():
        unit = locomotive.engine_units[0]
        speeds = SPEEDS * np.pi * unit.driver_diameter / (2 * unit.stroke)
        cycle_layout = build_cycle_layout(locomotive)
        cutoffs = CUTOFFS[cycle_layout.max_cutoff >= CUTOFFS]
        speed, _, points = grid_points(cycle_layout, speeds=speeds, cutoffs=cutoffs)
        found[locomotive.name] = points.steam / (points.effort * speed) / POUND_PER_POWER_HOUR
    return found


def _published_ratings() -> str:
    """The German ratings in the same unit, which lie partly below the expected range."""
    rates_rated = [
        57.0 / 3600.0 * float(row["evaporating_m2"]) / (float(row["rated_metric_hp"]) * METRIC_HORSEPOWER)
        for row, _ in german_classes()
        if "rebuilt" not in row["class"]
    ]
    low, high = (value / POUND_PER_POWER_HOUR for value in (min(rates_rated), max(rates_rated)))
    return (
        f"The German ratings at 57 kg/m² h, which a target above applies to the same engines, need {low:.1f} to "
        f"{high:.1f} lb: the expectation and the ratings cannot both be met"
    )


def _superheated() -> tuple[Expectation, Expectation]:
    table = steam_rates_by_cutoff()
    least = {name: float(values.min()) for name, values in table.items()}
    most = {name: float(values.max()) for name, values in table.items()}
    inside = all(value >= 15.0 for value in least.values()) and all(value <= 21.0 for value in most.values())
    ranges = "; ".join(f"{name} {least[name]:.1f} to {most[name]:.1f}" for name in table)
    places = {name: [float(CUTOFFS[int(np.argmin(row))]) for row in values] for name, values in table.items()}
    near = all(0.22 <= place <= 0.38 for row in places.values() for place in row)
    low = min(min(row) for row in places.values())
    high = max(max(row) for row in places.values())
    return (
        Expectation(
            "superheated engines use 15 to 21 lb of steam per ihp-hour",
            f"from 18 to 50 % cutoff at 500 to 1,100 ft/min: {ranges}. {_published_ratings()}",
            inside,
        ),
        Expectation(
            "minimum steam rate near 25 to 35 % cutoff",
            f"minimum at {100 * low:.0f} % to {100 * high:.0f} % cutoff, by engine and speed",
            near,
        ),
    )


def _saturated() -> Expectation:
    low = rates(pressure_psi=240, superheated=False).rates
    high = rates(pressure_psi=120, superheated=False).rates
    middle = rates(pressure_psi=180, superheated=False).rates
    return Expectation(
        "saturated engines use 24 to 30 lb of steam per ihp-hour",
        f"Purdue, 20 to 40 % cutoff, 20 to 50 mph: {low.mean():.1f} at 240, {middle.mean():.1f} at 180, "
        f"{high.mean():.1f} at 120 psi on average; {low.min():.1f} to {high.max():.1f} overall",
        bool(low.mean() >= 24.0 and high.mean() <= 30.0),
    )


def _best_piston_speed() -> Expectation:
    found = {}
    for name in US:
        perf = performance(name)
        steam, _ = supply_of(perf, forced=False)
        unit = perf.locomotive.engine_units[0]
        speeds = np.arange(15.0, 101.0, 1.0) * MPH
        speeds = speeds[speeds <= perf.map.max_speed]
        powers = [at_steam(perf, speed=float(v), steam=steam).power for v in speeds]
        best = float(speeds[int(np.argmax(powers))])
        pistons = piston_speed(speed=best, stroke=unit.stroke, driver_diameter=unit.driver_diameter)
        found[perf.locomotive.name] = float(pistons) / FOOT * 60
    return Expectation(
        "maximum indicated power on sustained steam at about 1,000 ft/min piston speed or above, for modern "
        "valves",
        "; ".join(f"{name} {value:,.0f} ft/min" for name, value in found.items()),
        all(value >= 900.0 for value in found.values()),
    )


def _falling_pressure() -> Expectation:
    locomotive = engine("nyc_j3a").locomotive
    speeds = np.array([10.0, 20.0, 40.0, 60.0, 80.0]) * MPH
    _, _, found = grid_points(
        build_cycle_layout(locomotive), speeds=speeds, cutoffs=np.array([0.25, 0.40, 0.60])
    )
    means = found.mean_pressure / PSI
    return Expectation(
        "mean effective pressure falls with speed at fixed cutoff",
        f"{locomotive.name}, 40 % cutoff: "
        + ", ".join(f"{m:.0f}" for m in means[:, 1])
        + " psi at 10, 20, 40, 60, 80 mph; also falls at 25 and 60 %",
        bool(np.all(np.diff(means, axis=0) < 0)),
    )


def _efficiency() -> tuple[Expectation, Expectation]:
    names = ("nyc_j3a", "prr_k4s", "lms_coronation")
    light = {name: float(of_engine(name, np.array([20.0])).efficiency[0]) for name in names}
    hard = {name: float(of_engine(name, np.array([200.0])).efficiency[0]) for name in names}

    def listed(values: dict[str, float]) -> str:
        return "; ".join(
            f"{engine(name).locomotive.name} {100 * value:.0f} %" for name, value in values.items()
        )

    return (
        Expectation(
            "boiler efficiency 75 to 80 % at light firing rates",
            f"20 lb/ft² h: {listed(light)}",
            all(0.745 <= value <= 0.80 for value in light.values()),
        ),
        Expectation(
            "boiler efficiency 45 to 55 % at forced firing rates",
            f"200 lb/ft² h: {listed(hard)}",
            all(0.45 <= value <= 0.55 for value in hard.values()),
        ),
    )


def _superheat() -> Expectation:
    temperature = of_engine("prr_k4s", np.array([30.0, 60.0, 90.0, 120.0, 150.0])).steam_temperature
    fahrenheit = 1.8 * (temperature - ZERO_CELSIUS) + 32.0
    return Expectation(
        "superheat rises with the firing rate",
        "PRR K4s: " + ", ".join(f"{t:.0f}" for t in fahrenheit) + " °F at 30, 60, 90, 120, 150 lb/ft² h",
        bool(np.all(np.diff(temperature) > 0)),
    )
