"""Made-up runs that use water and fuel evenly along the line, so that what a plan of stops does is plain arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np

SPEED = 10.0  # [m/s]
STANDS = 60.0  # at each stop on the way [s]


def even_runs(
    water: float, fuel: float, *, endless: bool = False, arrives: bool = True
) -> Callable[..., Any]:
    """A function in place of a run.

    Args:
        water: Used [kg/m].
        fuel: Used [kg/m].
        endless: Whether a tank may be less than empty.
        arrives: Else the train stalls before the first stop.
    """

    def run(excursion: Any, performance: Any, **begin: Any) -> Any:
        tender, line = excursion.locomotive.tender, excursion.route_as_run
        full = (1000.0 * (tender.water_capacity + excursion.train.water), tender.fuel_capacity)
        level = [full[0] * excursion.initial_water, full[1] * excursion.initial_fuel]
        used, clock = (water, fuel), excursion.departure
        stops, records = excursion.stops, []
        x, levels, times, outcome = [], [], [], "arrived" if arrives else "stalled"
        place = line.station(stops[0].station).chainage
        for number, stop in enumerate(stops):
            there = line.station(stop.station).chainage
            if number and not arrives:
                break
            after = [have - use * (there - place) for have, use in zip(level, used, strict=True)]
            if number and min(after) < 0.0 and not endless:
                outcome = "out of water" if after[0] < 0.0 else "out of fuel"
                break
            clock += (there - place) / SPEED
            arrive = clock
            if number:
                clock += STANDS if stop is not stops[-1] else 0.0
            left = list(after)
            for k, key in enumerate(("take_water", "take_fuel")):
                if getattr(stop, key) == "fill" and number:
                    after[k] = full[k]
            records.append(
                SimpleNamespace(
                    station=stop.station, chainage=there, arrive=arrive, depart=clock,
                    water_on_arrival=left[0], water_on_departure=after[0],
                    fuel_on_arrival=left[1], fuel_on_departure=after[1],
                )
            )  # fmt: skip
            if number:  # a node a meter before, as the tank may be filled at the station
                x.append(there - 1.0)
                levels.append([have + use for have, use in zip(left, used, strict=True)])
                times.append(arrive - 1.0 / SPEED)
            x.append(there)
            levels.append(list(after))
            times.append(arrive)
            level, place = after, there
        return SimpleNamespace(
            excursion=excursion, performance=performance or SimpleNamespace(
                supply=SimpleNamespace(sustained=2.0), locomotive=excursion.locomotive
            ), arrived=outcome == "arrived", outcome=outcome, stops=records,
            chainage=np.array(x), time=np.array(times), tender_water=np.array(levels)[:, 0],
            tender_fuel=np.array(levels)[:, 1], end_chainage=place, distance=place - x[0], grade=np.zeros(len(x) - 1),
        )  # fmt: skip

    return run
