"""Published speed factors against the sustained-steam curve of an engine whose boiler the method rates at 100 %."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq

from locosim.constants import FOOT, HORSEPOWER, INCH, PSI
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.model import (
    Auxiliaries,
    Boiler,
    Cylinders,
    EngineUnit,
    Locomotive,
    Superheater,
    Tender,
    ValveGear,
)
from locosim.physics.traction.mean_pressure import (
    STEAM_PER_WORK_SATURATED,
    STEAM_PER_WORK_SUPERHEATED,
    max_power_saturated,
    max_power_superheated,
)
from locosim.physics.traction.tractive_effort import rated_tractive_effort, speed_from_piston_speed

from . import fit_rows
from .comparison import FACTORS, Comparison, Section
from .running import POUND_PER_HOUR, grid_points
from .tables import rows_of

BORE, STROKE, WHEEL, PRESSURE = 22 * INCH, 28 * INCH, 69 * INCH, 200 * PSI
LONGEST = 0.88
SHOWN = (250, 300, 350, 400, 500, 600, 700, 800, 900, 1000, 1100, 1200, 1300, 1400, 1600)  # [ft/min]
PROMISED = (250, 1400)  # [ft/min]


class Curve(NamedTuple):
    """Speed factor over piston speed at the steam of a 100 % boiler."""

    piston_speed: np.ndarray  # [ft/min]
    factor: np.ndarray
    cutoff: np.ndarray
    published: dict[int, float]
    along: dict[int, float]  # steam used by the cycle at the published factor, over that of the boiler
    superheat: float  # [K]
    steam: float  # [kg/s]


def method_engine(kind: str, *, scale: float) -> Locomotive:
    """An invented engine of about 1914 with a scaled boiler."""
    superheated = kind == "superheated"
    gear = ValveGear(
        lap=0.04 * STROKE,
        lead=0.008 * STROKE,
        travel=0.25 * STROKE,
        port_length=0.95 * BORE,
        port_width=0.055 * STROKE,
    )
    unit = EngineUnit(
        driver_diameter=WHEEL,
        driving_axles=3,
        mass_on_drivers=75e3,
        cylinders=(Cylinders(number=2, bore=BORE, stroke=STROKE, rod_ratio=7.5),),
        valve_gear=gear,
        max_cutoff=LONGEST,
    )
    return Locomotive(
        name=f"engine for the speed factors, {kind}",
        mass=110e3,
        length=12.0,
        truck_axles=3,
        boiler=Boiler(
            working_pressure_gauge=PRESSURE,
            grate_area=scale * 55.0 * FOOT**2,
            firebox_surface=scale * 200.0 * FOOT**2,
            tube_surface=scale * (2900.0 if superheated else 3300.0) * FOOT**2,
            superheater=Superheater(surface=scale * 650.0 * FOOT**2) if superheated else None,
            firing="stoker",
        ),
        engine_units=(unit,),
        tender=Tender(empty_mass=25e3, water_capacity=25.0, fuel_capacity=8e3, axles=4),
        auxiliaries=Auxiliaries(air_compressor_steam=0.0, dynamo=0.0),
    )


@lru_cache
def curve(kind: str) -> Curve:
    """The computed curve, `saturated` or `superheated`, with the boiler scaled to the method's 100 %."""
    steam = full_steam(kind)
    cycle_layout = build_cycle_layout(method_engine(kind, scale=full_boiler_scale(kind)))
    speeds = np.array([_speed(v) for v in SHOWN])
    cutoffs = np.linspace(0.36, LONGEST, 9)
    _, _, found = grid_points(cycle_layout, speeds=speeds, cutoffs=cutoffs)
    rated = float(
        rated_tractive_effort(gauge_pressure=PRESSURE, bore=BORE, stroke=STROKE, driver_diameter=WHEEL)
    )
    factor, cutoff, along = np.empty(len(speeds)), np.empty(len(speeds)), {}
    published = published_factors(kind)
    for i, v in enumerate(SHOWN):
        rising = slice(0, int(np.argmax(found.effort[i])) + 1)
        pull, used = found.effort[i][rising], found.steam[i][rising]
        factor[i] = np.interp(steam, used, pull) / rated
        cutoff[i] = np.interp(steam, used, cutoffs[rising])
        if v in published:
            along[v] = float(np.interp(published[v] * rated, pull, used)) / steam
    boiling = float(cycle_layout.design.steam_temperature[0])
    hot = float(cycle_layout.design.steam_temperature_at(steam))
    if kind == "saturated":
        hot = boiling
    return Curve(np.array(SHOWN, float), factor, cutoff, published, along, hot - boiling, steam)


def full_steam(kind: str) -> float:
    """Steam of the method's 100 % boiler, `saturated` or `superheated` [kg/s]."""
    max_power, per_work = {
        "saturated": (max_power_saturated, STEAM_PER_WORK_SATURATED),
        "superheated": (max_power_superheated, STEAM_PER_WORK_SUPERHEATED),
    }[kind]
    return float(max_power(gauge_pressure=PRESSURE, bore=BORE)) * per_work


@lru_cache
def full_boiler_scale(kind: str) -> float:
    """Scale of the boiler whose design steam rate is that of the method's 100 % boiler."""

    def surplus(scale: float) -> float:
        return build_cycle_layout(method_engine(kind, scale=scale)).design_steam_rate - full_steam(kind)

    return float(brentq(surplus, 0.4, 2.5, xtol=1e-4))


def _speed(feet_per_minute: float) -> float:
    """Speed of the engine at a piston speed [m/s]."""
    return float(
        speed_from_piston_speed(
            piston_speed=feet_per_minute * FOOT / 60, stroke=STROKE, driver_diameter=WHEEL
        )
    )


def published_factors(kind: str) -> dict[int, float]:
    """Published factors of one kind, by piston speed."""
    return {
        int(row["piston_speed_ft_per_min"]): float(row[kind]) for row in rows_of("speed_factors") if row[kind]
    }


@lru_cache
def speed_factors() -> Section:
    """The speed factors of a 100 % boiler."""
    comparisons = []
    for kind in ("saturated", "superheated"):
        found = curve(kind)
        for v, published in found.published.items():
            if v > PROMISED[1] or v not in SHOWN:
                continue
            comparisons.append(
                Comparison(
                    case=f"{kind}, {v:,} ft/min",
                    computed=float(found.factor[SHOWN.index(v)]),
                    published=published,
                    unit="",
                    digits=".3f",
                    source="Cole1914",
                    status="from memory",
                    judged=FACTORS,
                    row=fit_rows.factor(kind, v),
                    absolute=0.05,
                    remark=f"cutoff {100 * found.cutoff[SHOWN.index(v)]:.0f} %; at the published factor "
                    f"{found.along[v]:.2f} of the boiler's steam",
                )
            )
    wet, hot = curve("saturated"), curve("superheated")
    power = {k: c.steam / s for k, c, s in (
        ("saturated", wet, STEAM_PER_WORK_SATURATED), ("superheated", hot, STEAM_PER_WORK_SUPERHEATED)
    )}  # fmt: skip
    flat = [wet.along[v] for v in wet.along if 500 <= v <= PROMISED[1]]
    return Section(
        title="Speed factors over piston speed",
        text=(
            "[Cole1914], from memory: tractive effort over rated tractive effort, an envelope at "
            f"constant steam. The engine is invented: two cylinders {BORE / INCH:.0f} by "
            f"{STROKE / INCH:.0f} in, {WHEEL / INCH:.0f} in drivers, {PRESSURE / PSI:.0f} psi, the "
            "short-lap valve of about 1900 "
            "(`physics.cylinder.design_rules.slide_valve_cylinder`). Its boiler is scaled until "
            "it gives what the method calls 100 %: 27.0 lb per ihp-hour saturated, "
            f"{wet.steam / POUND_PER_HOUR:,.0f} lb/h for {power['saturated'] / HORSEPOWER:,.0f} "
            f"ihp; 20.8 lb superheated, {hot.steam / POUND_PER_HOUR:,.0f} lb/h for "
            f"{power['superheated'] / HORSEPOWER:,.0f} ihp (superheat by the heat balance: "
            f"{1.8 * hot.superheat:.0f} °F). Where the cylinders and not the steam limit the "
            "tractive effort, full gear at 88 % cutoff is used. No superheated factor between 250 "
            "and 1,000 ft/min is remembered, so nothing is compared there.",
        ),
        comparisons=tuple(comparisons),
        after=(
            "At the published saturated factors from 500 to 1,400 ft/min the cycle uses "
            f"{min(flat):.2f} to {max(flat):.2f} of the boiler's steam: nearly constant, as an "
            "envelope at constant steam should be.",
        ),
        plot="speed_factors",
        plot_says="Speed factor over piston speed: computed curves and published points, saturated and superheated",
    )
