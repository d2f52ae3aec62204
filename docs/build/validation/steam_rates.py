"""Steam and coal for the work done, of engines with one such figure."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from locosim.constants import HORSEPOWER, HOUR, MPH, POUND, ZERO_CELSIUS

from .comparison import STEAM, Comparison, Section
from .power import drawbar
from .running import POUND_PER_HOUR, at_steam, for_power, performance
from .tables import measured
from .trends import steam_rates_by_cutoff


@lru_cache
def modern_engines() -> Section:
    """Least steam rate of one engine, steam of another at her greatest power, coal of a third."""
    least = measured("least steam rate")[0]
    found = steam_rates_by_cutoff()[performance(least["engine"]).locomotive.name]
    coal = measured("coal per drawbar power")[0]
    return Section(
        title="Steam and coal of single engines",
        text=(
            "The I1s: least over 18 to 50 % cutoff and 500 to 1,100 ft/min piston speed. The Castle: best "
            "coal per drawbar power on the level at 50 to 75 mph, fired by hand with up to 3,000 lb an "
            "hour; the road trial had grades and stops, and the Welsh coal was better than the 13,500 "
            "Btu/lb taken here.",
        ),
        comparisons=(
            Comparison(
                case=f"{performance(least['engine']).locomotive.name}, least steam",
                computed=float(found.min()),
                published=float(least["value"]),
                unit="lb/ihp h",
                digits=".1f",
                source=least["source"],
                status=least["status"],
                target=STEAM,
                remark="surfaces assumed",
            ),
            Comparison(
                case=f"{performance(coal['engine']).locomotive.name}, coal at the drawbar",
                computed=_best_coal(coal["engine"]),
                published=float(coal["value"]),
                unit="lb/dbhp h",
                digits=".2f",
                source=coal["source"],
                status=coal["status"],
                remark=coal["conditions"],
            ),
        ),
        after=(_castle(coal["engine"]), _greatest()),
    )


def _best_coal(name: str) -> float:
    """Least coal for drawbar power, pounds per horsepower-hour."""
    done = performance(name)
    ways = []
    for mph in range(50, 76, 5):
        for share in np.linspace(0.4, 1.0, 7):
            steam = float(share) * done.sustained_cylinder_steam
            working = at_steam(done, speed=mph * MPH, steam=steam)
            drawn = working.steam + done.locomotive.auxiliaries.continuous_demand
            left = drawbar(done, working)
            if left > 0.3 * working.power:  # below, the engine hauls little but herself
                ways.append(done.supply.firing_rate_for(drawn) / left)
    return min(ways) / (POUND / HOUR / HORSEPOWER)


def _castle(name: str) -> str:
    """Where the coal of the Castle goes."""
    done = performance(name)
    working = at_steam(done, speed=50 * MPH, steam=done.sustained_cylinder_steam)
    spent = 1.0 - drawbar(done, working) / working.power
    hot = 1.8 * (float(done.supply.steam_temperature_at(done.supply.sustained)) - ZERO_CELSIUS) + 32.0
    return (
        "**The Castle is missed by far.** At 50 mph and full hand firing she takes "
        f"{working.steam_rate:.1f} lb of steam an ihp-hour at {hot:.0f} °F, as engines of so little "
        f"superheat did at Purdue, and {100 * spent:.0f} % of the indicated power goes into machine "
        "friction and her own resistance by two American laws, the second with 120 ft² of front. Neither "
        "fits this engine; which of them is how much wrong one figure cannot say."
    )


def _greatest() -> str:
    """What the J-3a takes at her published power, beside the doubtful figures."""
    done = performance("nyc_j3a")
    working = for_power(done, speed=77 * MPH, power=4700 * HORSEPOWER)
    if working is None:
        return "The J-3a's cylinders do not give her published 4,700 hp at 77 mph."
    return (
        f"At her published 4,700 hp and 77 mph the J-3a takes {working.steam / POUND_PER_HOUR:,.0f} lb/h "
        f"in locosim, {working.steam_rate:.1f} lb/ihp h at {100 * working.cutoff:.0f} % cutoff. Two "
        "figures whose engines are not named, 15.75 and 16.7 lb/ihp h of modern American engines near "
        "their greatest power, are of that order."
    )
