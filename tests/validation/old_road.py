"""Loads on grades of 1910, and resistance and coal of the last century."""

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

from .comparison import Comparison, Grid, Section
from .running import for_power, performance
from .tables import rows_of

PER_SHORT_TON = POUND_FORCE / SHORT_TON
PER_LONG_TON = POUND_FORCE / LONG_TON


@lru_cache
def grade_haulage() -> Section:
    """Loads on grades: share of driver weight by his constants and by locosim's laws."""
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
        his = 100 * adhesion_required_on_grade(
            mass=load + own, grade=grade, rolling_resistance=rolling_resistance, mass_on_drivers=drivers
        )
        speed = float(row["speed_mph"] or 8.0) * MPH
        ours = 100 * _by_laws(
            load=load, own=own, drivers=drivers, grade=grade, speed=speed, old=row["year"] < "1900"
        )
        rail = 100 * dry * adhesion_speed_factor(speed)
        over += published > rail
        rows.append(
            (
                f"{row['item']}, {row['railroad']} {row['year']}",
                f"{row['grade_percent']} % for {row['grade_mile']} mile",
                f"{published:.1f} %",
                f"{his:.1f} % ({his - published:+.1f})",
                f"{ours:.1f} % ({ours - published:+.1f})",
                f"{rail:.0f} %",
            )
        )
    heads = (
        "item",
        "grade",
        "published share of driver weight",
        "his constants",
        "locosim's laws",
        "dry rail",
    )
    return Section(
        title="Loads on grades, 1910",
        text=(
            "[Randolph1910], table 1, odd items, read. His constants: 20 lb a ton for each per cent and 6 "
            "(1880) or 4.7 (1908-10) lb a ton on the level, taken here on train, engine and tender alike; "
            "how he took the engine he does not say. locosim's laws: [Schmidt1910] with cars of 20 tons "
            "(1880) and 50 tons (1908-10), [Davis1926] for engine and tender on axles of 12 tons, at the "
            "speed given or 8 mph: all assumed. Curves are left out: the table gives the sharpest only.",
        ),
        grids=(Grid(heads=heads, rows=tuple(rows)),),
        after=(
            f"{over} of {len(rows)} loads used more than locosim takes for dry rail at that speed "
            f"({100 * dry:.0f} % at rest): short pulls on sand. On grades of 10 miles and more the share "
            "falls to 15 to 20 %, where steam, not adhesion, held the engines.",
        ),
    )


def _by_laws(*, load: float, own: float, drivers: float, grade: float, speed: float, old: bool) -> float:
    """Share of driver weight a load takes by locosim's laws."""
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
    """Gooch's trials against the formulae of the time."""
    rows = []
    for row in rows_of("gooch"):
        speed = float(row["speed_mph"]) * MPH
        laws = [
            float(specific_resistance(law=LAWS[name], speed=speed, axle_load=5e3, axles=4, frontal_area=7.0))
            / PER_LONG_TON
            for name in ("clark_1855", "molesworth")
        ]
        whole = float(row["integer"])
        rows.append(
            (
                f"{row['speed_mph']} mph",
                row["engine_and_tender"],
                row["train"],
                row["integer"],
                *(f"{law:.1f} ({100 * (law / whole - 1):+.0f} %)" for law in laws),
            )
        )
    heads = (
        "speed",
        "engine and tender",
        "train",
        "integer",
        "Clark: 8 + V²/171",
        "Molesworth: 6 + 0.009 V²",
    )
    return Section(
        title="Resistance of whole trains, about 1850",
        text=(
            "Gooch's trials with 100 tons behind the tender, lb a long ton, engine by indicator "
            "([Bourne1865], read), against two formulae of the time for the whole train. The trials "
            "scatter by more than the formulae differ; the fourth speed resists less than the third.",
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
    coal: float  # lb a mile


SERVICES = (
    Service(
        "gnr_stirling_single",
        "12 carriages of 13 tons, 51.5 mph",
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
        done = performance(service.engine)
        for how, force in (
            ("Clark's formula", _clark(done, service)),
            ("locosim's laws", _laws(done, service)),
        ):
            speed = service.speed * MPH
            working = for_power(done, speed=speed, power=force * speed)
            if working is None:
                beyond.append(
                    f"{done.locomotive.name}, {service.what}: {how} asks for "
                    f"{force * speed / HORSEPOWER:,.0f} ihp, more than her cylinders give."
                )
                continue
            held = working.steam > done.supply.sustained
            coal = done.supply.fuel_or_default(working.steam) / speed / (POUND / MILE)
            comparisons.append(
                Comparison(
                    case=f"{done.locomotive.name}, {service.what}; {how}",
                    computed=coal,
                    published=service.coal,
                    unit="lb/mile",
                    source="Clark1886",
                    status="read",
                    remark=f"{force * speed / HORSEPOWER:,.0f} ihp, {working.steam / POUND * HOUR:,.0f} lb/h of steam"
                    + (f"; more than {done.supply.binding.name} sustains" if held else ""),
                )
            )
    return Section(
        title="Coal a mile in service, 1884",
        text=(
            "Two engines of [Clark1886] whose cylinders, wheels and (for the first) grate and surface are "
            "printed. Computed: steady running on the level at the speed given, coal of 13,500 Btu/lb; "
            "services had grades and stops, and the second figure includes lighting up. The pull once by "
            "Clark's own 8 + V²/171 lb a long ton on all of it, engine friction in it; once by locosim's "
            "laws: Strahl for the train, [Davis1926] and the machine friction of [Cole1914] for the "
            "engine. Assumed: valve gear, and for the second engine the first's boiler.",
        ),
        comparisons=tuple(comparisons),
        after=(*beyond, _stated()),
    )


def _own_mass(done: Performance) -> float:
    tender = done.locomotive.tender
    return done.locomotive.mass + tender.empty_mass + full_tender_load(done.locomotive)


def _clark(done: Performance, service: Service) -> float:
    """Indicated pull by Clark's formula on the whole [N]."""
    whole = _own_mass(done) + service.train * LONG_TON
    return whole * (8.0 + service.speed**2 / 171.0) * PER_LONG_TON


def _laws(done: Performance, service: Service) -> float:
    """Indicated pull by locosim's laws [N]."""
    speed = service.speed * MPH
    train = specific_resistance(
        law=LAWS[service.law], speed=speed, axle_load=4.4e3, axles=3, frontal_area=7.0
    )
    return (
        done.map.friction
        + engine_resistance_at_speed(done.locomotive, speed)
        + service.train * LONG_TON * float(train)
    )


def _stated() -> str:
    """What the capability printed for the single would take."""
    done = performance("gnr_stirling_single")
    speed = 45 * MPH
    force = 356 * LONG_TON * (8.0 + 45**2 / 171.0) * PER_LONG_TON
    sustained, _ = done.map.max_effort(
        speed=speed, pressure=done.locomotive.boiler.absolute_pressure, steam=done.supply.sustained
    )
    return (
        "The single was said to take 356 tons, engine among them, at 45 mph on the level. By Clark's "
        f"formula that is {force * speed / HORSEPOWER:,.0f} ihp from a grate of 17.6 ft²; locosim's boiler "
        f"sustains {sustained * speed / HORSEPOWER:,.0f} ihp at that speed ({done.supply.binding.name}). "
        "Coal trains, trains of ten carriages and the capabilities of engines whose grate is not printed "
        "are not computed."
    )
