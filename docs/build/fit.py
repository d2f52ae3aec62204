"""The fits of the general constants: `python -m docs.build.fit` repeats them and prints what they find.

The fitted rows are those of `docs.build.validation.fit_rows`. Cylinders: the rated power of six German classes at 57
kg/m2h of steam; the steam rates of the Purdue engine, saturated and superheated; and, at low weight, the speed factors
of 1914. All constants are fitted together, each with a prior: freeing one alone makes others wrong. Boiler: the line of
the unburned coal and the factor of the superheater elements, to evaporations, steam temperatures and, at low weight,
efficiencies. The program uses rounded values.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from scipy.optimize import OptimizeResult, least_squares

from docs.build.validation import boiler, factors, fit_rows, heat, power, purdue
from docs.build.validation.engines import engine as validation_engine
from docs.build.validation.tables import german_classes, rows_of
from locosim.constants import FOOT, HORSEPOWER, HOUR, KMH, METRIC_HORSEPOWER, MPH, POUND, ZERO_CELSIUS
from locosim.engine.boiler import front_end
from locosim.engine.cylinders.layout import CycleLayout, build_cycle_layout
from locosim.engine.cylinders.operating_points import OperatingPoints, operating_points
from locosim.model import Locomotive
from locosim.physics.boiler import barrel, fuels
from locosim.physics.boiler.heat_balance import HeatBalance
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
# The same for the boiler: an evaporation, six of one line, an efficiency (a third of the weight), a temperature [K],
# and one whose firing rate or heating surface is in doubt. The elements should act like a smooth passage.
EVAPORATION, GOSS_LINE, EFFICIENCY, TEMPERATURE, DOUBTFUL_TEMPERATURE = 0.03, 0.052, 0.09, 10.0, 25.0
ELEMENT_FACTOR, ELEMENT_FACTOR_SPREAD = 1.0, 0.1
BOILER_START = {"_UNBURNED_LOW_RATE": 0.029, "_UNBURNED_SLOPE": 0.115, "ELEMENT_FACTOR": 0.93}
STEPS = 120  # crank steps: the fit needs no more
PURDUE_SPEEDS, PURDUE_CUTOFFS = np.array([20.0, 35.0, 50.0]) * MPH, np.array([0.2, 0.3, 0.4])


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


def steam_rate_errors() -> dict[str, float]:
    """Logarithm of computed over published steam rate at Purdue, by row."""
    published = {int(row["boiler_pressure_psi"]): row for row in rows_of("purdue_pressures")}
    errors = {}
    for kind in ("saturated", "superheated"):
        for psi, row in published.items():
            name = fit_rows.purdue(kind, psi)
            if name not in fit_rows.FIT_ROWS:
                continue
            layout = build_cycle_layout(purdue.purdue(pressure_psi=psi, superheated=kind == "superheated"))
            hot = purdue.temperatures(layout, (len(PURDUE_SPEEDS), len(PURDUE_CUTOFFS)))
            speed, found = _points(layout, PURDUE_SPEEDS, PURDUE_CUTOFFS, hot)
            rate = float(np.nanmean(found.steam / (found.effort * speed))) / (POUND / HOUR / HORSEPOWER)
            errors[name] = math.log(rate / float(row[f"steam_{kind}"]))
    return errors


def rating_errors() -> dict[str, float]:
    """Logarithm of computed over published power of the German classes, by row."""
    named = ((fit_rows.german(row["class"]), row, locomotive) for row, locomotive in german_classes())
    return {
        name: rating_error(row, locomotive) for name, row, locomotive in named if name in fit_rows.FIT_ROWS
    }


def factor_errors() -> dict[str, float]:
    """Computed less published speed factors at the steam of a 100 % boiler, by row."""
    errors = {}
    for kind in ("saturated", "superheated"):
        steam = factors.full_steam(kind)
        layout = build_cycle_layout(factors.method_engine(kind, scale=factors.full_boiler_scale(kind)))
        published = {
            v: f
            for v, f in factors.published_factors(kind).items()
            if fit_rows.factor(kind, v) in fit_rows.FIT_ROWS
        }
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
        for drawn, effort, (v, factor) in zip(found.steam, found.effort, published.items(), strict=True):
            rising = int(np.nanargmax(effort)) + 1
            computed = float(np.interp(steam, drawn[:rising], effort[:rising])) / rated
            errors[fit_rows.factor(kind, v)] = computed - factor
    return errors


def cylinder_errors() -> dict[str, float]:
    """Every row fitted by the cylinders, over its expected error."""
    return {
        name: error / expected
        for errors, expected in (
            (rating_errors(), RATING),
            (steam_rate_errors(), STEAM_RATE),
            (factor_errors(), FACTOR),
        )
        for name, error in errors.items()
    }


def residuals(logarithms: np.ndarray) -> np.ndarray:
    """All rows of the cylinders and the priors, each over its expected error."""
    set_constants(logarithms)
    return np.concatenate([list(cylinder_errors().values()), (logarithms - START) / SPREAD])


def boiler_errors(constants: Sequence[float]) -> dict[str, float]:
    """Every row fitted by the boiler, over its expected error, with constants in the order of `BOILER_START`."""
    low, slope, factor = map(float, constants)
    coal = replace(fuels.BITUMINOUS, unburned_low_rate=low, unburned_slope=slope)
    barrel.ELEMENT_FACTOR = factor

    def at(name: str, rates: Sequence[float]) -> HeatBalance:
        locomotive = validation_engine(name).locomotive
        return boiler.balance_at(locomotive.boiler, np.array(rates), fuel=coal)

    errors = {}
    for name in fit_rows.AMERICAN_BOILERS:
        computed = at(name, fit_rows.AMERICAN_RATES).evaporation
        for rate, one, published in zip(fit_rows.AMERICAN_RATES, computed, (7.5, 5.0), strict=True):
            errors[fit_rows.evaporation(name, rate)] = math.log(one / published) / EVAPORATION
    lms = float(at("lms_coronation", [fit_rows.LMS_RATE]).evaporation[0])
    errors[fit_rows.evaporation("lms_coronation", fit_rows.LMS_RATE)] = math.log(lms / 6.15) / EVAPORATION
    line = boiler.goss_line(superheated=False, fuel=coal)
    for rate, one, published in zip(fit_rows.SURFACE_RATES, *line, strict=True):
        errors[fit_rows.evaporation("Purdue saturated", rate)] = math.log(one / published) / GOSS_LINE
    efficiencies = at("prr_k4s", fit_rows.EFFICIENCY_RATES).efficiency
    for rate, one, published in zip(
        fit_rows.EFFICIENCY_RATES, efficiencies, (0.80, 0.70, 0.60, 0.50), strict=True
    ):
        errors[fit_rows.efficiency(rate)] = math.log(one / published) / EFFICIENCY
    kelvins = at("prr_k4s", fit_rows.TEMPERATURE_RATES).steam_temperature
    for rate, one, fahrenheit in zip(fit_rows.TEMPERATURE_RATES, kelvins, (560.0, 660.0), strict=True):
        errors[fit_rows.temperature(rate)] = (one - ZERO_CELSIUS - (fahrenheit - 32.0) / 1.8) / TEMPERATURE
    for observed in heat.observed_steam():
        if observed.row in fit_rows.FIT_ROWS:
            one = boiler.balance_at(observed.boiler, np.array([observed.rate]), fuel=coal).steam_temperature[
                0
            ]
            errors[observed.row] = (float(one) - observed.kelvin) / DOUBTFUL_TEMPERATURE
    return errors


def boiler_residuals(constants: Sequence[float]) -> np.ndarray:
    """All rows of the boiler and the prior, each over its expected error."""
    factor = math.log(float(constants[-1]) / ELEMENT_FACTOR) / ELEMENT_FACTOR_SPREAD
    return np.array([*boiler_errors(constants).values(), factor])


def main() -> None:
    """Fit, and print each constant with its standard error."""
    found = least_squares(residuals, START, diff_step=0.02, max_nfev=6, x_scale=SPREAD)
    _print_found(set_constants(found.x), found, relative=True)
    found = least_squares(boiler_residuals, list(BOILER_START.values()), diff_step=1e-3)
    _print_found(dict(zip(BOILER_START, found.x.tolist(), strict=True)), found, relative=False)


def _print_found(values: dict[str, float], found: OptimizeResult, *, relative: bool) -> None:
    errors = np.sqrt(np.diag(np.linalg.inv(found.jac.T @ found.jac)))
    for (name, value), error in zip(values.items(), errors, strict=True):
        shown = f"{100 * error:.0f} %" if relative else f"{error:.3f}"
        print(f"{name:34s} {value:10.4g}  standard error {shown}")


if __name__ == "__main__":
    main()
