"""Steam and coal rates of engines with one such figure."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from locosim.constants import HORSEPOWER, HOUR, MPH, POUND, ZERO_CELSIUS

from .comparison import COAL, STEAM, Comparison, Section
from .power import drawbar
from .running import POUND_PER_HOUR, at_steam, for_power, performance
from .tables import measured
from .trends import steam_rates_by_cutoff


@lru_cache
def modern_engines() -> Section:
    """Minimum steam rate of one engine, steam of another at maximum power, coal of a third."""
    least = measured("least steam rate")[0]
    found = steam_rates_by_cutoff()[performance(least["engine"]).locomotive.name]
    coal = measured("coal per drawbar power")[0]
    return Section(
        title="Steam and coal rates of single engines",
        text=(
            "The I1s: minimum steam rate over 18 to 50 % cutoff and 500 to 1,100 ft/min piston "
            "speed. The Castle: minimum coal rate at the drawbar on level track at 50 to 75 mph, "
            "hand fired with up to 3,000 lb per hour; the road trial had grades and stops, and "
            "its Welsh coal was better than the 13,500 Btu/lb assumed here.",
        ),
        comparisons=(
            Comparison(
                case=f"{performance(least['engine']).locomotive.name}, minimum steam rate",
                computed=float(found.min()),
                published=float(least["value"]),
                unit="lb/ihp h",
                digits=".1f",
                source=least["source"],
                status=least["status"],
                judged=STEAM,
                engine=least["engine"],
                remark="surfaces assumed",
            ),
            Comparison(
                case=f"{performance(coal['engine']).locomotive.name}, coal per drawbar power",
                computed=_best_coal(coal["engine"]),
                published=float(coal["value"]),
                unit="lb/dbhp h",
                digits=".2f",
                source=coal["source"],
                status=coal["status"],
                judged=COAL,
                engine=coal["engine"],
                remark=coal["conditions"],
            ),
        ),
        after=(_castle(coal["engine"]), _max_power()),
    )


def _best_coal(name: str) -> float:
    """Minimum coal rate at the drawbar, pounds per horsepower-hour."""
    perf = performance(name)
    rates = []
    for mph in range(50, 76, 5):
        for share in np.linspace(0.4, 1.0, 7):
            steam = float(share) * perf.sustained_cylinder_steam
            working = at_steam(perf, speed=mph * MPH, steam=steam)
            steam_made = working.steam + perf.locomotive.auxiliaries.continuous_demand
            useful = drawbar(perf, working)
            if useful > 0.3 * working.power:  # below, the engine hauls little but itself
                rates.append(perf.supply.firing_rate_for(steam_made) / useful)
    return min(rates) / (POUND / HOUR / HORSEPOWER)


def _castle(name: str) -> str:
    """Why the coal rate of the Castle is missed."""
    perf = performance(name)
    working = at_steam(perf, speed=50 * MPH, steam=perf.sustained_cylinder_steam)
    spent = 1.0 - drawbar(perf, working) / working.power
    hot = 1.8 * (float(perf.supply.steam_temperature_at(perf.supply.sustained)) - ZERO_CELSIUS) + 32.0
    return (
        "**The Castle is missed by a wide margin.** At 50 mph and full hand firing its steam "
        f"rate is {working.steam_rate:.1f} lb per ihp-hour at {hot:.0f} °F, like that of the "
        f"Purdue engines with as little superheat, and {100 * spent:.0f} % of the indicated "
        "power goes into machine friction and the engine's own resistance by two American "
        "laws, the second with 120 ft² of frontal area. Neither law fits this engine; one "
        "figure cannot show which is wrong by how much."
    )


def _max_power() -> str:
    """Steam the J-3a needs for its published power, beside two figures of unnamed engines."""
    perf = performance("nyc_j3a")
    working = for_power(perf, speed=77 * MPH, power=4700 * HORSEPOWER)
    if working is None:
        return "The cylinders of the J-3a cannot develop the published 4,700 hp at 77 mph."
    return (
        f"At the published 4,700 hp and 77 mph the J-3a uses {working.steam / POUND_PER_HOUR:,.0f} "
        f"lb/h in locosim, {working.steam_rate:.1f} lb/ihp h at {100 * working.cutoff:.0f} % "
        "cutoff. Two figures for unnamed modern American engines near maximum power, 15.75 and "
        "16.7 lb/ihp h, are of that order."
    )
