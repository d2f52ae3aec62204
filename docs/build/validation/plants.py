"""Two engines at given steam and given work: the Altoona test plant in 1912, and road trials at Erfurt in 1894."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from locosim.constants import HOUR, KMH, METRIC_HORSEPOWER, ZERO_CELSIUS
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.performance import Performance
from locosim.model import Auxiliaries, Cylinders, EngineUnit, Locomotive, Tender, ValveGear

from .boiler import balance_at
from .comparison import EVAPORATION, STEAM, Comparison, Section
from .heat import PER_SQUARE_FOOT, superheater_boiler
from .running import at_steam, for_power, grid_points, performance
from .tables import rows_of

ALTOONA = "Altoona Pacific of 1912"
ALTOONA_SPEEDS = (38.0, 120.0)  # [km/h], the range tested
GRATE = 6.22  # [m2]
OUTPUT = 0.75  # of the maximum of the simple engine, at which the steam was measured


# Valve usual in 1912, assumed: lap and lead as of the engine of the speed factors.
VALVE_OF_1912 = ValveGear(
    lap=0.04 * 0.712, lead=0.008 * 0.712, travel=0.25 * 0.712, port_length=0.405 * math.pi * 0.686,
    port_width=0.055 * 0.712,
)  # fmt: skip


def altoona(gear: ValveGear | None = VALVE_OF_1912) -> Locomotive:
    """The Pacific of 1912, as printed; tender and axles are without effect here."""
    unit = EngineUnit(
        valve_gear=gear,
        driver_diameter=2.03,
        driving_axles=3,
        mass_on_drivers=89.9e3,
        cylinders=(Cylinders(number=2, bore=0.686, stroke=0.712),),
    )
    return Locomotive(
        name=ALTOONA,
        mass=144e3,
        length=15.0,
        truck_axles=3,
        boiler=superheater_boiler(rows_of("superheaters_1915")[0]),
        engine_units=(unit,),
        tender=Tender(empty_mass=25e3, water_capacity=25.0, fuel_capacity=8e3, axles=4),
        auxiliaries=Auxiliaries(air_compressor_steam=0.0, dynamo=0.0),
    )


def _power_at(locomotive: Locomotive, *, steam: float, temperature: float, speeds: np.ndarray) -> float:
    """The best power at a steam rate and steam temperature at any of the speeds [W]."""
    layout = build_cycle_layout(locomotive)
    cutoffs = np.linspace(layout.min_cutoff, 0.65, 10)
    hot = np.full((len(speeds), len(cutoffs)), temperature)
    speed, _, found = grid_points(layout, speeds=speeds, cutoffs=cutoffs, temperatures=hot)
    return max(
        float(np.interp(steam, drawn, effort * each))
        for drawn, effort, each in zip(found.steam, found.effort, speed[:, 0], strict=True)
        if drawn[0] <= steam <= drawn[-1]
    )


def _altoona_power(locomotive: Locomotive, row: dict[str, str]) -> float:
    """Power at the printed steam and temperature of a row [W]."""
    speeds = (float(row["speed_kmh"]),) if row["speed_kmh"] else tuple(np.linspace(*ALTOONA_SPEEDS, 5))
    return _power_at(
        locomotive,
        steam=float(row["steam_kg_per_metric_hp_h"]) * float(row["power_metric_hp"]) / HOUR,
        temperature=float(row["steam_C"]) + ZERO_CELSIUS,
        speeds=np.array(speeds) * KMH,
    )


def _with_long_lap() -> Iterator[str]:
    """Errors of the powers with the valve that locosim assumes where none is given."""
    for row in rows_of("altoona_1912"):
        power = _altoona_power(altoona(None), row) / METRIC_HORSEPOWER
        yield f"{100 * (power / float(row['power_metric_hp']) - 1):+.0f} %"


@lru_cache
def altoona_1912() -> Section:
    """Power at the printed steam, and evaporation at the printed coal."""
    locomotive, powers, evaporations = altoona(), [], []
    for row in rows_of("altoona_1912"):
        published = float(row["power_metric_hp"])
        steam_rate, coal_rate = (float(row[f"{what}_kg_per_metric_hp_h"]) for what in ("steam", "coal"))
        power = _altoona_power(locomotive, row)
        where = f"{row['speed_kmh']} km/h" if row["speed_kmh"] else "best of 38 to 120 km/h"
        powers.append(
            Comparison(
                case=f"{ALTOONA}, {where}, power from {steam_rate * published:,.0f} kg/h at {row['steam_C']} °C",
                computed=power / METRIC_HORSEPOWER, published=published, unit="metric hp", source="DinglerPower1915",
                status="read", judged=STEAM, engine="altoona",
            )
        )  # fmt: skip
        per_grate = coal_rate * published / GRATE * PER_SQUARE_FOOT
        found = balance_at(locomotive.boiler, np.array([per_grate]))
        evaporations.append(
            Comparison(
                case=f"{ALTOONA}, evaporation at {per_grate:.0f} lb/ft² h", computed=float(found.evaporation[0]),
                published=steam_rate / coal_rate, unit="lb/lb", digits=".2f", source="DinglerPower1915", status="read",
                judged=EVAPORATION, engine="altoona",
            )
        )  # fmt: skip
    return Section(
        title="Altoona 1912: power at given steam, evaporation at given coal",
        text=(
            "A Pacific on the test plant at Altoona ([DinglerPower1915], read): cylinders, drivers, grate, surfaces, "
            "power, steam and coal per metric hp-hour and the range of steam temperature are printed; 14.1 bar is from "
            "memory, the coal is not stated. The valve is not printed either: lap and lead usual before the "
            "long-travel valves of the 1920s are assumed, 0.04 and 0.008 of the stroke. The cylinders get the printed "
            "steam at the printed temperature, so superheater and boiler do not matter. Where no speed is "
            "printed the best of the range tested is taken.",
        ),
        comparisons=(*powers, *evaporations),
        after=(
            f"With the long lap of the 1920s the powers would be {' and '.join(_with_long_lap())}: the lap decides, by "
            "its leakage. The German class 38.10, with 12 bar, is rated at 6.92 kg per metric hp-hour [GermanRules], "
            "16 to 20 % less steam than is printed here; whether that includes auxiliaries is not said.",
        ),
    )


def _rim_power(perf: Performance, indicated: float, speed: float) -> float:
    return float(perf.map.rim_effort(indicated / speed)) * speed


def _steam_per_rim_work(perf: Performance, *, rim_power: float, speed: float) -> float:
    """Steam per work at the rim [kg/J]."""
    indicated = float(perf.map.indicated_effort(rim_power / speed)) * speed
    working = for_power(perf, speed=speed, power=indicated)
    assert working is not None
    return working.steam / rim_power


@lru_cache
def erfurt_1894() -> Section:
    """Steam per horsepower-hour at the rim of a simple and a compound engine with the same boiler."""
    simple, compound = performance("erfurt_464"), performance("erfurt_494")
    comparisons = []
    per_hour = HOUR * METRIC_HORSEPOWER
    for row in rows_of("erfurt_1894"):
        speed = float(row["speed_kmh"]) * KMH
        steam = simple.supply.sustained
        most = {perf: at_steam(perf, speed=speed, steam=steam).power for perf in (simple, compound)}
        rim = OUTPUT * _rim_power(simple, most[simple], speed)
        used = [
            _steam_per_rim_work(perf, rim_power=rim, speed=speed) * per_hour for perf in (simple, compound)
        ]
        printed = [float(row["twin_kg"]), float(row["compound_kg"])]
        gain = 100 * (
            _rim_power(compound, most[compound], speed) / _rim_power(simple, most[simple], speed) - 1
        )
        for what, computed, published, unit, digits, absolute in (
            ("simple", used[0], printed[0], "kg/metric hp h", ".2f", 0.0),
            ("compound", used[1], printed[1], "kg/metric hp h", ".2f", 0.0),
            ("compound over simple", used[1] / used[0], printed[1] / printed[0], "", ".3f", 0.0),
            ("gain in maximum power", gain, float(row["power_gain_percent"]), "%", ".1f", 5.0),
        ):
            comparisons.append(
                Comparison(
                    case=f"{row['speed_kmh']} km/h, {what}", computed=computed, published=published, unit=unit,
                    digits=digits, source="DinglerErfurt1895", status="read", absolute=absolute, engine="erfurt",
                )
            )  # fmt: skip
    return Section(
        title="Erfurt 1894: simple against compound",
        text=(
            "Steam per metric hp-hour at the rim at 75 % of the maximum output of the simple engine, the power by the "
            "printed resistance formula for the whole train, air pump apart ([DinglerErfurt1895], read). Only the "
            "cylinders are printed: pressure, boiler, drivers and valve gear are assumed, one for both engines, so "
            "these rows do not count toward the targets. The two engines differ in their cylinders alone.",
        ),
        comparisons=tuple(comparisons),
    )
