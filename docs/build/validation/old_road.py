"""Loads on grades in 1910, and train resistance and coal of the nineteenth century."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from locosim.constants import (
    FOOT,
    GRAVITY,
    HORSEPOWER,
    HOUR,
    LONG_TON,
    MILE,
    MPH,
    POUND,
    POUND_FORCE,
    SHORT_TON,
)
from locosim.engine.own_resistance import engine_resistance_at_speed, full_tender_load
from locosim.engine.performance import Performance
from locosim.physics.operation.tonnage import adhesion_required_on_grade
from locosim.physics.resistance.laws import LAWS, specific_resistance
from locosim.physics.traction.adhesion import adhesion_speed_factor
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient

from .comparison import COAL, Comparison, Grid, Section
from .running import for_power, performance
from .tables import rows_of

PER_SHORT_TON = POUND_FORCE / SHORT_TON
PER_LONG_TON = POUND_FORCE / LONG_TON
LOCOSIM = "locosim's laws"


@lru_cache
def grade_haulage() -> Section:
    """Loads on grades: adhesion used by Randolph's constants and by locosim's laws."""
    rows = []
    dry = rail_adhesion_coefficient(condition="dry")
    over = 0
    for row in rows_of("randolph_grades"):
        load, drivers = float(row["load"]) * SHORT_TON, float(row["drivers"]) * SHORT_TON
        own = (float(row["locomotive"]) + float(row["tender"] or 0.0)) * SHORT_TON
        grade, rolling_resistance = (
            float(row["grade_percent"]) / 100,
            float(row["level_resistance"]) * PER_SHORT_TON,
        )
        published = float(row["published_percent"])
        by_constants = 100 * adhesion_required_on_grade(
            mass=load + own, grade=grade, rolling_resistance=rolling_resistance, mass_on_drivers=drivers
        )
        speed = float(row["speed_mph"] or 8.0) * MPH
        by_laws = 100 * _by_laws(
            load=load, own=own, drivers=drivers, grade=grade, speed=speed, old=row["year"] < "1900"
        )
        rail = 100 * dry * adhesion_speed_factor(speed)
        over += published > rail
        rows.append(
            (
                f"{row['item']}, {row['railroad']} {row['year']}",
                f"{row['grade_percent']} % for {row['grade_mile']} mi",
                f"{published:.1f} %",
                f"{by_constants:.1f} % ({by_constants - published:+.1f})",
                f"{by_laws:.1f} % ({by_laws - published:+.1f})",
                f"{rail:.0f} %",
            )
        )
    heads = (
        "item",
        "grade",
        "adhesion used, published",
        "Randolph's constants",
        "locosim's laws",
        "dry rail in locosim",
    )
    return Section(
        title="Loads on grades, 1910",
        text=(
            "[Randolph1910], table 1, odd items, read. Randolph's constants: 20 lb per ton for "
            "each per cent of grade, and 6 (1880) or 4.7 (1908-10) lb per ton on level track, "
            "applied here to train, engine and tender alike; Randolph does not say how the engine "
            "was counted. locosim's laws: [Schmidt1910] with cars of 20 tons (1880) and 50 tons "
            "(1908-10), [Davis1926] for engine and tender with 12-ton axle loads, at the speed "
            "given or at 8 mph: all assumed. Curves are left out, since the table gives only the "
            "sharpest one. Adhesion is a percentage of the weight on drivers.",
        ),
        grids=(Grid(heads=heads, rows=tuple(rows)),),
        after=(
            f"{over} of {len(rows)} loads used more adhesion than locosim allows on dry rail at "
            f"that speed ({100 * dry:.0f} % at rest): short pulls on sand. On grades of 10 miles "
            "and longer the figure falls to 15 to 20 %, where steam and not adhesion limited the "
            "engines.",
        ),
    )


def _by_laws(*, load: float, own: float, drivers: float, grade: float, speed: float, old: bool) -> float:
    """Adhesion a load requires by locosim's laws, over the weight on drivers [1]."""
    car = (20 if old else 50) * SHORT_TON
    train = specific_resistance(
        law=LAWS["schmidt_1910"], speed=speed, axle_load=car / 4, axles=4, frontal_area=88 * FOOT**2
    )
    front = specific_resistance(
        law=LAWS["davis_1926_locomotive"], speed=speed, axle_load=12 * SHORT_TON, axles=max(own / SHORT_TON / 12, 1),
        frontal_area=100 * FOOT**2,
    )  # fmt: skip
    force = load * float(train) + own * float(front) + (load + own) * GRAVITY * grade
    return force / (drivers * GRAVITY)


@lru_cache
def old_resistance() -> Section:
    """Gooch's trials against formulas of the time."""
    rows = []
    for row in rows_of("gooch"):
        speed = float(row["speed_mph"]) * MPH
        laws = [
            float(specific_resistance(law=LAWS[name], speed=speed, axle_load=5e3, axles=4, frontal_area=7.0))
            / PER_LONG_TON
            for name in ("clark_1855", "molesworth")
        ]
        whole = float(row["whole"])
        rows.append(
            (
                f"{row['speed_mph']} mph",
                row["engine_and_tender"],
                row["train"],
                row["whole"],
                *(f"{law:.1f} ({100 * (law / whole - 1):+.0f} %)" for law in laws),
            )
        )
    heads = (
        "speed",
        "engine and tender",
        "train",
        "whole train",
        "Clark: 8 + V²/171",
        "Molesworth: 6 + 0.009 V²",
    )
    return Section(
        title="Resistance of whole trains, about 1850",
        text=(
            "Gooch's trials with 100 tons behind the tender, in lb per long ton, engine "
            "resistance by indicator ([Bourne1865], read), against two formulas of the time for "
            "the whole train. The trials scatter more than the formulas differ; resistance at the "
            "fourth speed is lower than at the third.",
        ),
        grids=(Grid(heads=heads, rows=tuple(rows)),),
    )


class Service(NamedTuple):
    """A service of 1884."""

    engine: str
    what: str
    train: float  # behind the tender, long tons
    speed: float  # [mph]
    law: str
    coal: float  # [lb/mile]


SERVICES = (
    Service(
        "gnr_stirling_single",
        "12 coaches of 13 tons, 51.5 mph",
        156.0,
        51.5,
        "strahl_passenger_cars",
        25.25,
    ),
    Service("gnr_coal_engine", "coal train, 18 mph", 483.35, 18.0, "strahl_freight_loaded_gondolas", 45.0),
)


@lru_cache
def old_service() -> Section:
    """Coal per mile of two services of 1884."""
    comparisons, beyond = [], []
    for service in SERVICES:
        perf = performance(service.engine)
        for how, force in (
            ("Clark's formula", _clark(perf, service)),
            (LOCOSIM, _laws(perf, service)),
        ):
            speed = service.speed * MPH
            working = for_power(perf, speed=speed, power=force * speed)
            if working is None:
                beyond.append(
                    f"{perf.locomotive.name}, {service.what}: {how} needs "
                    f"{force * speed / HORSEPOWER:,.0f} ihp, more than the cylinders can develop."
                )
                continue
            excessive = working.steam > perf.supply.sustained
            coal = perf.supply.firing_rate_for(working.steam) / speed / (POUND / MILE)
            comparisons.append(
                Comparison(
                    case=f"{perf.locomotive.name}, {service.what}; {how}",
                    computed=coal,
                    published=service.coal,
                    unit="lb/mile",
                    source="Clark1886",
                    status="read",
                    judged=COAL if how == LOCOSIM else "",
                    engine=service.engine,
                    remark=f"{force * speed / HORSEPOWER:,.0f} ihp, {working.steam / POUND * HOUR:,.0f} lb/h of steam"
                    + (f"; above the sustained limit ({perf.supply.binding.name})" if excessive else ""),
                )
            )
    return Section(
        title="Coal per mile in service, 1884",
        text=(
            "Two engines of [Clark1886] whose cylinders, wheels and (for the first) grate and "
            "heating surface are printed. Computed for steady running on level track at the speed "
            "given, with coal of 13,500 Btu/lb; the actual services had grades and stops, and the "
            "second figure includes lighting up. Tractive effort by two methods: Clark's own 8 + "
            "V²/171 lb per long ton on the whole train, engine friction included; and locosim's "
            "laws, Strahl for the train, [Davis1926] and machine friction by weight and thrust for "
            "the engine. Assumed: the valve gear, and for the second engine the boiler of the "
            "first.",
        ),
        comparisons=tuple(comparisons),
        after=(*beyond, _stated()),
    )


def _own_mass(perf: Performance) -> float:
    tender = perf.locomotive.tender
    return perf.locomotive.mass + tender.empty_mass + full_tender_load(perf.locomotive)


def _clark(perf: Performance, service: Service) -> float:
    """Indicated tractive effort by Clark's formula for the whole train [N]."""
    whole = _own_mass(perf) + service.train * LONG_TON
    return whole * (8.0 + service.speed**2 / 171.0) * PER_LONG_TON


def _laws(perf: Performance, service: Service) -> float:
    """Indicated tractive effort by locosim's laws [N]."""
    speed = service.speed * MPH
    train = specific_resistance(
        law=LAWS[service.law], speed=speed, axle_load=4.4e3, axles=3, frontal_area=7.0
    )
    at_rim = engine_resistance_at_speed(perf.locomotive, speed) + service.train * LONG_TON * float(train)
    return float(perf.map.indicated_effort(at_rim))


def _stated() -> str:
    """Power needed for the load printed for the single."""
    perf = performance("gnr_stirling_single")
    speed = 45 * MPH
    force = 356 * LONG_TON * (8.0 + 45**2 / 171.0) * PER_LONG_TON
    sustained, _ = perf.map.max_effort(
        speed=speed, pressure=perf.locomotive.boiler.absolute_pressure, steam=perf.supply.sustained
    )
    return (
        "The single is reported to haul 356 tons, engine included, at 45 mph on level track. "
        f"By Clark's formula that needs {force * speed / HORSEPOWER:,.0f} ihp from a grate of "
        f"17.6 ft²; locosim's boiler sustains {sustained * speed / HORSEPOWER:,.0f} ihp at "
        f"that speed (limit: {perf.supply.binding.name}). Coal trains, trains of ten coaches "
        "and the ratings of engines whose grate is not printed are not computed."
    )
