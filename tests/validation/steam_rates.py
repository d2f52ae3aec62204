"""Steam and coal for the work done, of engines with one such figure."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from locosim.constants import HORSEPOWER, HOUR, MPH, POUND

from .comparison import STEAM, Comparison, Section
from .power import _drawbar
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
        after=(_greatest(),),
    )


def _best_coal(name: str) -> float:
    """Least coal for drawbar power, pounds per horsepower-hour."""
    done = performance(name)
    ways = []
    for mph in range(50, 76, 5):
        for share in np.linspace(0.4, 1.0, 7):
            steam = float(share) * done.cylinder_steam
            working = at_steam(done, speed=mph * MPH, steam=steam)
            drawn = working.steam + done.locomotive.auxiliaries.steady
            ways.append(done.supply.fuel_for(drawn) / _drawbar(done, working))
    return min(ways) / (POUND / HOUR / HORSEPOWER)


def _greatest() -> str:
    """What the J-3a takes at her published power, beside the doubtful figures."""
    done = performance("nyc_j3a")
    working = for_power(done, speed=77 * MPH, power=4700 * HORSEPOWER)
    if working is None:
        return "The J-3a's cylinders do not give her published 4,700 hp at 77 mph."
    return (
        f"At her published 4,700 hp and 77 mph the J-3a takes {working.steam / POUND_PER_HOUR:,.0f} lb/h "
        f"in locosim, {working.steam_rate:.1f} lb/ihp h at {working.cutoff:.0%} cutoff. Two figures whose "
        "engines are not named, 15.75 and 16.7 lb/ihp h of modern American engines near their greatest "
        "power, are of that order."
    )
