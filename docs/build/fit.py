"""The fit of the cycle's general constants: `python -m docs.build.fit` repeats it and prints what it finds.

Fitted rows: the rated power of six German classes at 57 kg/m2h of steam; the steam rates of the Purdue engine at 120,
160, 200 and 240 lb/in2, saturated and superheated; and, at low weight, the speed factors of 1914. All constants are
fitted together, each with a prior: freeing one alone makes others wrong. The program uses rounded values.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from scipy.optimize import least_squares

from docs.build.validation import factors, power, purdue
from docs.build.validation.tables import german_classes, rows_of
from locosim.constants import FOOT, HORSEPOWER, HOUR, KMH, METRIC_HORSEPOWER, MPH, POUND
from locosim.engine.boiler import front_end
from locosim.engine.cylinders.layout import CycleLayout, build_cycle_layout
from locosim.engine.cylinders.operating_points import OperatingPoints, operating_points
from locosim.model import Locomotive
from locosim.physics.cylinder import design_rules
from locosim.physics.traction.tractive_effort import rated_tractive_effort, speed_from_piston_speed

# Name, value expected before the fit, standard deviation of its logarithm. The nozzle is that of four remembered
# engines (0.028 to 0.030 of the gas area); the rest started from an earlier fit.
PRIORS = {
    "admission_discharge_coefficient": (0.68, 0.05),
    "exhaust_discharge_coefficient": (0.60, 0.08),
    "leakage_area_ratio": (0.94e-4, 0.4),
    "SHORT_LAP_LEAKAGE": (3.15, 0.4),
    "wet_wall_heat_transfer": (5970.0, 0.4),
    "dry_wall_heat_transfer": (464.0, 0.4),
    "quench_energy": (91e3, 0.4),
    "NOZZLE_TO_GAS_AREA": (0.030, 0.05),
    "PASSAGE_TO_PISTON_AREA": (0.0125, 0.15),
}
START = np.log([value for value, _ in PRIORS.values()])
SPREAD = np.array([spread for _, spread in PRIORS.values()])
# Error expected of a row: of a rating and of a steam rate in its logarithm, of a speed factor in itself.
RATING, STEAM_RATE, FACTOR = 0.04, 0.03, 0.12
STEPS = 120  # crank steps: the fit needs no more
PURDUE_SPEEDS, PURDUE_CUTOFFS = np.array([20.0, 35.0, 50.0]) * MPH, np.array([0.2, 0.3, 0.4])
FACTOR_SPEEDS = (300, 500, 700, 1000, 1300)  # [ft/min]


def set_constants(logarithms: Iterable[float]) -> dict[str, float]:
    """Put constants in the place of those of the program."""
    values = dict(zip(PRIORS, np.exp(list(logarithms)).tolist(), strict=True))
    cycle = {name: value for name, value in values.items() if name.islower()}
    design_rules.FITTED_CONSTANTS = design_rules.FITTED_CONSTANTS._replace(**cycle)
    for name in ("SHORT_LAP_LEAKAGE", "PASSAGE_TO_PISTON_AREA"):
        setattr(design_rules, name, values[name])
    front_end.NOZZLE_TO_GAS_AREA = values["NOZZLE_TO_GAS_AREA"]
    return values


def _points(
    layout: CycleLayout, speeds: np.ndarray, cutoffs: np.ndarray, temperature: np.ndarray | float | None
) -> tuple[np.ndarray, OperatingPoints]:
    """Every speed with every cutoff, at a steam temperature [K]."""
    speed, cutoff = np.meshgrid(speeds, cutoffs, indexing="ij")
    found = operating_points(
        layout,
        speeds=speed,
        cutoffs=cutoff,
        pressures=layout.locomotive.boiler.absolute_pressure,
        temperatures=None if temperature is None else np.broadcast_to(temperature, speed.shape).copy(),
        steps=STEPS,
    )
    return speed, found


def rating_error(row: dict[str, str], locomotive: Locomotive) -> float:
    """Logarithm of computed over published power of a German class, at the steam of its rating."""
    per_surface = power.LATER_STEAM if "rebuilt" in row["class"] else power.RATED_STEAM
    steam = per_surface * float(row["evaporating_m2"]) / HOUR
    top = float(row["greatest_kmh"] or 0.055 * float(row["driver_mm"])) * KMH
    layout = build_cycle_layout(locomotive)
    cutoffs = np.linspace(layout.min_cutoff, min(layout.max_cutoff, 0.65), 7)
    temperature = float(layout.steam_temperature(np.array([steam]))[0])
    speed, found = _points(layout, np.linspace(0.35, 1.0, 6) * top, cutoffs, temperature)
    best = max(
        float(np.interp(steam, drawn, output))
        for drawn, output in zip(found.steam, found.effort * speed, strict=True)
        if drawn[0] <= steam <= drawn[-1]
    )
    return math.log(best / METRIC_HORSEPOWER / float(row["rated_metric_hp"]))


def steam_rate_errors(pressures: Iterable[int]) -> list[float]:
    """Logarithm of computed over published steam rate at Purdue, saturated, then superheated."""
    published = {int(row["boiler_pressure_psi"]): row for row in rows_of("purdue_pressures")}
    errors = []
    for kind in ("saturated", "superheated"):
        for psi in pressures:
            layout = build_cycle_layout(purdue.purdue(pressure_psi=psi, superheated=kind == "superheated"))
            hot = purdue.temperatures(layout, (len(PURDUE_SPEEDS), len(PURDUE_CUTOFFS)))
            speed, found = _points(layout, PURDUE_SPEEDS, PURDUE_CUTOFFS, hot)
            rate = float(np.nanmean(found.steam / (found.effort * speed))) / (POUND / HOUR / HORSEPOWER)
            errors.append(math.log(rate / float(published[psi][f"steam_{kind}"])))
    return errors


def factor_errors() -> list[float]:
    """Computed less published speed factors, at the steam of a 100 % boiler."""
    errors = []
    for kind in ("saturated", "superheated"):
        steam = factors.full_steam(kind)
        layout = build_cycle_layout(factors.method_engine(kind, scale=factors.full_boiler_scale(kind)))
        published = {v: f for v, f in factors.published_factors(kind).items() if v in FACTOR_SPEEDS}
        speeds = np.array(
            [
                float(
                    speed_from_piston_speed(
                        piston_speed=v * FOOT / 60, stroke=factors.STROKE, driver_diameter=factors.WHEEL
                    )
                )
                for v in published
            ]
        )
        temperature = float(layout.steam_temperature(np.array([steam]))[0])
        _, found = _points(layout, speeds, np.linspace(0.36, 0.88, 7), temperature)
        rated = float(
            rated_tractive_effort(
                gauge_pressure=factors.PRESSURE,
                bore=factors.BORE,
                stroke=factors.STROKE,
                driver_diameter=factors.WHEEL,
            )
        )
        for drawn, effort, factor in zip(found.steam, found.effort, published.values(), strict=True):
            rising = int(np.nanargmax(effort)) + 1
            errors.append(float(np.interp(steam, drawn[:rising], effort[:rising])) / rated - factor)
    return errors


def residuals(logarithms: np.ndarray) -> np.ndarray:
    """All fitted rows and the priors, each over its expected error."""
    set_constants(logarithms)
    ratings = [rating_error(*each) for each in german_classes() if each[0]["class"] in power.GERMAN_FITTED]
    return np.concatenate(
        [
            np.array(ratings) / RATING,
            np.array(steam_rate_errors(purdue.FITTED)) / STEAM_RATE,
            np.array(factor_errors()) / FACTOR,
            (logarithms - START) / SPREAD,
        ]
    )


def main() -> None:
    """Fit, and print each constant with its standard error."""
    found = least_squares(residuals, START, diff_step=0.02, max_nfev=6, x_scale=SPREAD)
    errors = np.sqrt(np.diag(np.linalg.inv(found.jac.T @ found.jac)))
    for (name, value), error in zip(set_constants(found.x).items(), errors, strict=True):
        print(f"{name:34s} {value:10.4g}  standard error {100 * error:.0f} %")


if __name__ == "__main__":
    main()
