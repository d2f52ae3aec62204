"""Indicated and drawbar power of published engines."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from locosim.constants import FOOT, HORSEPOWER, HOUR, KMH, METRIC_HORSEPOWER, MPH
from locosim.engine.own_resistance import engine_resistance_at_speed
from locosim.engine.performance import Performance, compute_performance
from locosim.model import SteamPassages

from . import fit_rows
from .comparison import COMPOUND, HANDBOOK, STEAM, SUSTAINED, Comparison, Grid, Section
from .engines import engine
from .running import (
    EXPRESS_SPEEDS,
    POUND_PER_HOUR,
    Working,
    at_steam,
    best_at_steam,
    best_of_cycle,
    for_power,
    performance,
    supply_of,
)
from .tables import german_classes, measured

UNIT = {"hp": HORSEPOWER, "metric hp": METRIC_HORSEPOWER}
COMPOUNDS = ("sncf_240p", "sncf_242a1")
RATED_STEAM = 57.0  # [kg/(m2 h)], [GermanRules]
LATER_STEAM = 70.0  # of the boilers of the 1950s, [GermanRules], "about 70"


def _working(name: str, speed_mph: str, steam: float) -> Working:
    perf = performance(name)
    if speed_mph:
        return at_steam(perf, speed=float(speed_mph) * MPH, steam=steam)
    return best_at_steam(perf, steam=steam, speeds=EXPRESS_SPEEDS)


def _title(row: dict[str, str]) -> str:
    name = engine(row["engine"]).locomotive.name
    return f"{name}, {row['speed_mph']} mph" if row["speed_mph"] else f"{name}, best speed"


def _assumed(name: str) -> str:
    """Remark where surfaces that make the steam are assumed."""
    surfaces = ("firebox_surface", "tube_surface", "surface")
    found = [f for f in engine(name).of_status("assumed") if f.key.split(".")[-1] in surfaces]
    return {0: "", 1: "one surface assumed"}.get(len(found), "surfaces assumed")


@lru_cache
def indicated_power() -> Section:
    """Maximum indicated power, and the steam the boiler is assumed to give."""
    comparisons, details = [], []
    for row in measured("indicated power"):
        name, unit = row["engine"], UNIT[row["unit"]]
        perf, published = performance(name), float(row["value"])
        compound = name in COMPOUNDS
        forced, by = supply_of(perf, forced=True)
        hard = _working(name, row["speed_mph"], forced)
        steady, _ = supply_of(perf, forced=False)
        usual = _working(name, row["speed_mph"], steady)
        comparisons.append(
            Comparison(
                case=_title(row),
                computed=hard.power / unit,
                published=published,
                unit=row["unit"],
                source=row["source"],
                status=row["status"],
                judged=COMPOUND if compound else SUSTAINED,
                engine=name,
                remark="; ".join(filter(None, (by, row["conditions"], _assumed(name)))),
            )
        )
        details.append(
            _detail(row, hard, usual, steady, for_power(perf, speed=hard.speed, power=published * unit))
        )
    heads = (
        "engine and speed",
        "at the customary grate limit",
        "error",
        "forced: limited by fire and draft",
        "cutoff",
        "needed for the published power",
    )
    return Section(
        title="Indicated power",
        text=(
            "A published maximum power is what a boiler gave on a trial or on a good day, not "
            "what a rule allows. The boiler is therefore computed **forced**: limited by fire and "
            "draft, and by the 1,000 lb of steam per square foot of grate per hour reported for "
            "good coal and good draft (1,300 for Chapelon's boilers in short tests, "
            "[Trainorders4728623]), not by the 120 lb of coal of [Cole1914] nor by the fireman. "
            "The second table shows both. Coal is the 13,500 Btu/lb bituminous of "
            "`physics.boiler.fuels`, the throttle is wide open, the rail dry. Where no speed is "
            "given, the best of 20 to 80 mph is used.",
        ),
        comparisons=tuple(comparisons),
        grids=(Grid(heads=heads, rows=tuple(details), caption="The same engines in more detail"),),
        after=(
            front_end(),
            "Compound engines have a band of their own: their valves differ greatly from the usual piston valve "
            "assumed here, and the dimensions of no. 4701 itself are not at hand.",
        ),
    )


def _detail(
    row: dict[str, str], hard: Working, usual: Working, steady: float, needed: Working | None
) -> tuple[str, ...]:
    published, unit = float(row["value"]), UNIT[row["unit"]]
    grate = engine(row["engine"]).locomotive.boiler.grate_area / FOOT**2
    need = "more than the cylinders can develop"
    if needed is not None:
        need = (
            f"{needed.steam / POUND_PER_HOUR:,.0f} lb/h, {needed.steam / POUND_PER_HOUR / grate:,.0f} "
            f"lb/ft² h, {100 * needed.cutoff:.0f} % cutoff"
        )
    return (
        _title(row),
        f"{usual.power / unit:,.0f} {row['unit']} from {steady / POUND_PER_HOUR:,.0f} lb/h",
        f"{100 * (usual.power / unit / published - 1):+.1f} %",
        f"{hard.power / unit:,.0f} {row['unit']} from {hard.steam / POUND_PER_HOUR:,.0f} lb/h",
        f"{100 * hard.cutoff:.0f} % at {hard.speed / MPH:.0f} mph",
        need,
    )


@lru_cache
def plain_powers() -> tuple[tuple[str, float, float], ...]:
    """Engines with an assumed front end, computed with a plain one: case, computed and published power [W]."""
    found = []
    for row in measured("indicated power"):
        locomotive = engine(row["engine"]).locomotive
        if locomotive.steam_passages.draft_to_back_pressure_ratio is None or row["engine"] in COMPOUNDS:
            continue
        plain = compute_performance(replace(locomotive, steam_passages=SteamPassages()))
        steam, _ = supply_of(plain, forced=True)
        if row["speed_mph"]:
            working = at_steam(plain, speed=float(row["speed_mph"]) * MPH, steam=steam)
        else:
            working = best_at_steam(plain, steam=steam, speeds=EXPRESS_SPEEDS)
        found.append((_title(row), working.power, float(row["value"]) * UNIT[row["unit"]]))
    return tuple(found)


def front_end() -> str:
    """Effect of the double stack on the power of the LMS engine."""
    plain = compute_performance(replace(engine("lms_coronation").locomotive, steam_passages=SteamPassages()))
    steam, _ = supply_of(plain, forced=True)
    double, _ = supply_of(performance("lms_coronation"), forced=True)
    grate = plain.locomotive.boiler.grate_area / FOOT**2
    misses = "; ".join(
        f"{case} {power / HORSEPOWER:,.0f} hp, {100 * (power / published - 1):+.1f} %"
        for case, power, published in plain_powers()
    )
    return (
        "**Double stack of the LMS engine.** That no. 6234 had one is read; that no. 46229 "
        "had one is remembered. Its benefit is assumed: twice the draft for a given back "
        "pressure (`draft_to_back_pressure_ratio`), as the trade reports of good ones, from "
        "memory. The nozzle sized by rule is therefore wider, by the square root of two, and passes "
        "more steam before the back pressure reaches its limit: "
        f"{double / POUND_PER_HOUR / grate:,.0f} lb of steam per square foot of "
        f"grate per hour instead of {steam / POUND_PER_HOUR / grate:,.0f}. With a plain front "
        f"end locosim misses: {misses}. The same ratio is assumed for the two French engines. "
        "The 3,600 hp of 1985 was reached while accelerating on an ascending grade; the "
        "boiler's stored heat, which helps for some minutes, is left out here."
    )


@lru_cache
def drawbar_power() -> Section:
    """Drawbar power: indicated power less machine friction and the engine's own resistance."""
    comparisons = []
    for row in measured("drawbar power"):
        perf = performance(row["engine"])
        forced, by = supply_of(perf, forced=True)
        speeds = (float(row["speed_mph"]) * MPH,) if row["speed_mph"] else EXPRESS_SPEEDS
        best = max(
            drawbar(perf, at_steam(perf, speed=v, steam=forced)) for v in speeds if v <= perf.map.max_speed
        )
        comparisons.append(
            Comparison(
                case=f"{_title(row)}, drawbar",
                computed=best / HORSEPOWER,
                published=float(row["value"]),
                unit="hp",
                source=row["source"],
                status=row["status"],
                judged=SUSTAINED,
                engine=row["engine"],
                remark=f"{by}; {row['conditions']}".strip("; "),
            )
        )
    return Section(
        title="Drawbar power",
        text=(
            "On level track behind a full tender: indicated power less machine friction by weight and "
            "thrust and the resistance of engine and tender by [Davis1926]. The boiler is "
            "forced, as above.",
        ),
        comparisons=tuple(comparisons),
    )


def drawbar(perf: Performance, working: Working) -> float:
    """Drawbar power on the level behind a full tender [W]."""
    pull = float(perf.map.rim_effort(working.power / working.speed))
    return (pull - engine_resistance_at_speed(perf.locomotive, working.speed)) * working.speed


@lru_cache
def handbook_power() -> Section:
    """The same powers by the handbook method."""
    comparisons = []
    for row in measured("indicated power"):
        locomotive = engine(row["engine"]).locomotive
        if locomotive.compound:
            continue
        boiler = replace(locomotive.boiler, firing="stoker")
        perf = compute_performance(replace(locomotive, boiler=boiler), method="handbook")
        steam = perf.sustained_cylinder_steam
        speeds = (float(row["speed_mph"]) * MPH,) if row["speed_mph"] else EXPRESS_SPEEDS
        best = best_at_steam(perf, steam=steam, speeds=speeds)
        comparisons.append(
            Comparison(
                case=_title(row), computed=best.power / HORSEPOWER, published=float(row["value"]), unit="hp",
                source=row["source"], status=row["status"], judged=HANDBOOK, engine=row["engine"],
                remark=f"{perf.supply.binding.name}",
            )
        )  # fmt: skip
    return Section(
        title="Sustained power by the handbook method",
        text=(
            "The rules of [Cole1914] for the same engines, firing by stoker. They were made for engines of their day; "
            "nothing was fitted.",
        ),
        comparisons=tuple(comparisons),
    )


@lru_cache
def german_ratings() -> Section:
    """Rated indicated power of German classes at the steam of their rating."""
    comparisons, details = [], []
    for row, locomotive in german_classes():
        later = "rebuilt" in row["class"]
        per_surface = LATER_STEAM if later else RATED_STEAM
        steam = per_surface * float(row["evaporating_m2"]) / HOUR
        top = float(row["greatest_kmh"] or 0.055 * float(row["driver_mm"])) * KMH
        best = best_of_cycle(locomotive, steam=steam, speeds=np.linspace(0.35, 1.0, 6) * top)
        rated = float(row["rated_metric_hp"])
        case = locomotive.name
        comparisons.append(
            Comparison(
                case=f"{case}, power",
                computed=best.power / METRIC_HORSEPOWER,
                published=rated,
                unit="metric hp",
                source=row["source"],
                status=row["status"],
                judged=STEAM,
                row=fit_rows.german(row["class"]),
                engine=row["class"],
                remark=f"{per_surface:.0f} kg/m² h" + (", from memory, about" if later else ""),
            )
        )
        per_power = steam * HOUR / (best.power / METRIC_HORSEPOWER)
        details.append(
            (
                case,
                f"{steam * HOUR:,.0f} kg/h",
                f"{best.speed / KMH:.0f} km/h",
                f"{100 * best.cutoff:.0f} %",
                f"{per_power:.2f} kg/metric hp h",
                f"{steam * HOUR / rated:.2f} kg/metric hp h",
            )
        )
    heads = (
        "class",
        "steam",
        "best speed",
        "cutoff",
        "computed steam rate",
        "published: steam over rated power",
    )
    return Section(
        title="Steam rates: German classes at their rated power",
        text=(
            "The official rating is based on 57 kg of steam per square meter of evaporating "
            "surface per hour ([GermanRules], from memory), all of it supplied to the cylinders; "
            "boilers of the 1950s were rated at about 70. The rating states no speed: the best of "
            "six from 35 to 100 % of the maximum permitted speed is used (where that is not "
            "printed, 55 km/h per meter of driver diameter). Power and steam rate are off by the "
            "same percentage, with opposite signs. Assumed where not printed: firebox 7.5 % and "
            "superheater 35 % of the evaporating surface; valve gear by usual practice.",
        ),
        comparisons=tuple(comparisons),
        grids=(Grid(heads=heads, rows=tuple(details)),),
    )
