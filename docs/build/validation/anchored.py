"""Engines anchored on one row of their published figures, and judged on their other rows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from locosim.constants import HORSEPOWER, HOUR, KMH, METRIC_HORSEPOWER, MPH, PSI, ZERO_CELSIUS
from locosim.engine.performance import Performance, compute_performance
from locosim.engine.test_sheet.anchored import anchored_engine
from locosim.model import EngineTestRow, EngineTestSheet, Locomotive
from locosim.physics.boiler.limits import FIRE, FRONT_END

from .comparison import ANCHORED, Comparison, Section
from .engines import engine
from .plants import ALTOONA, GRATE, altoona
from .power import drawbar
from .running import EXPRESS_SPEEDS, at_steam, best_at_steam
from .tables import measured, rows_of

ROAD = ("nyc_j1", "nyc_j3a", "lms_coronation")  # classes with more than one published power
ASSUMED_SPEED = "69"  # [mph] of the anchor of 1939, whose speed is not printed: that of the runs of 1985


def _limit(perf: Performance) -> float:
    """Steam for the cylinders at the limit of fire and front end [kg/s]."""
    limits = [limit.steam for limit in perf.supply.limits if limit.name in (FIRE, FRONT_END)]
    return min(limits) - perf.locomotive.auxiliaries.continuous_demand


def _on_power(name: str, anchor: dict[str, str]) -> Performance:
    """The engine with its back pressure set by one published indicated power."""
    row = EngineTestRow(
        speed=float(anchor["speed_mph"] or ASSUMED_SPEED) * MPH,
        indicated_power=float(anchor["value"]) * HORSEPOWER,
        boiler="forced",
    )
    sheet = EngineTestSheet(use=("indicated_power",), rows=(row,))
    return compute_performance(anchored_engine(replace(engine(name).locomotive, test_sheet=sheet)))


def _road(name: str) -> Iterator[Comparison]:
    indicated = [row for row in measured("indicated power") if row["engine"] == name]
    drawbars = [row for row in measured("drawbar power") if row["engine"] == name]
    for anchor in indicated:
        perf = _on_power(name, anchor)
        steam = _limit(perf)
        for row, at_drawbar in [(r, False) for r in indicated if r is not anchor] + [
            (r, True) for r in drawbars
        ]:
            speeds = (float(row["speed_mph"]) * MPH,) if row["speed_mph"] else EXPRESS_SPEEDS
            if at_drawbar:
                computed = max(drawbar(perf, at_steam(perf, speed=v, steam=steam)) for v in speeds)
            else:
                computed = best_at_steam(perf, steam=steam, speeds=speeds).power
            where = f"{row['speed_mph']} mph" if row["speed_mph"] else "best speed"
            yield Comparison(
                case=f"{perf.locomotive.name}, {'drawbar' if at_drawbar else 'indicated'} power, {where}",
                computed=computed / HORSEPOWER, published=float(row["value"]), unit="hp", source=row["source"],
                status=row["status"], judged=ANCHORED, engine=name,
                remark=f"anchored on {float(anchor['value']):,.0f} ihp at {anchor['speed_mph'] or ASSUMED_SPEED} mph: "
                + _set(perf.locomotive),
            )  # fmt: skip


def _set(locomotive: Locomotive) -> str:
    """Keys set, with their values."""
    named = ((a.key.split(".")[1].replace("_", " "), a) for a in locomotive.anchors or ())
    return ", ".join(
        f"{name} {a.value / PSI:.1f} psi" if a.unit == "Pa" else f"{name} {a.value:.2f}" for name, a in named
    )


def _plant_rows() -> list[EngineTestRow]:
    """The two points of the Altoona plant as rows of a sheet; the speed of the second is not printed: 80 km/h."""
    rows = []
    for row in rows_of("altoona_1912"):
        power = float(row["power_metric_hp"])
        steam, coal = (power * float(row[f"{what}_kg_per_metric_hp_h"]) / HOUR for what in ("steam", "coal"))
        rows.append(
            EngineTestRow(
                firing_rate=coal / GRATE,
                evaporation=steam,
                steam_temperature=float(row["steam_C"]) + ZERO_CELSIUS,
                speed=float(row["speed_kmh"] or 80.0) * KMH,
                indicated_power=power * METRIC_HORSEPOWER,
            )
        )
    return rows


def _plant() -> Iterator[Comparison]:
    """Each point of the Altoona plant by the engine anchored on the other."""
    rows = _plant_rows()
    for anchor, judged in (rows, rows[::-1]):
        sheet = EngineTestSheet(use=("evaporation", "steam_temperature", "indicated_power"), rows=(anchor,))
        perf = compute_performance(anchored_engine(replace(altoona(), test_sheet=sheet)))
        assert judged.evaporation is not None
        assert judged.indicated_power is not None
        assert judged.speed is not None
        assert anchor.indicated_power is not None
        working = at_steam(perf, speed=judged.speed, steam=judged.evaporation)
        power = judged.indicated_power / METRIC_HORSEPOWER
        yield Comparison(
            case=f"{ALTOONA}, power at given steam, {power:,.0f} metric hp",
            computed=working.power / METRIC_HORSEPOWER, published=power, unit="metric hp", source="DinglerPower1915",
            status="read", judged=ANCHORED, engine="altoona",
            remark=f"anchored on {anchor.indicated_power / METRIC_HORSEPOWER:,.0f} metric hp: {_set(perf.locomotive)}",
        )  # fmt: skip


@lru_cache
def anchored_power() -> Section:
    """Powers of engines anchored on another of their own rows."""
    return Section(
        title="Power, anchored on one published row",
        text=(
            "A test sheet (`[test_sheet]` of the engine file) sets keys of the engine from what it prints. Each engine "
            "with two published powers is anchored on each indicated power in turn and judged on the others, never on "
            "its own anchor: a power at the boiler's limit sets the highest back pressure, and at Altoona power, "
            "evaporation and steam temperature of one point set three factors. No other row of the engine is used. The "
            "limit here is that of fire and front end. The LMS powers are of two engines of one class, in 1939 and in "
            "1985, so that one anchor cannot meet both; for that of 1939, without a speed, 69 mph is assumed.",
        ),
        comparisons=(*(c for name in ROAD for c in _road(name)), *_plant()),
    )
