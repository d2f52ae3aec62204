"""An invented line of 200 km with 500 grades, speed limits and five stops."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import trials

from locosim.model import Excursion, SpeedLimit

LENGTH = 200e3
STOPS = (31e3, 64e3, 101e3, 139e3, 170e3)


@lru_cache
def two_hundred_kilometres() -> Excursion:
    """The excursion used for all timings."""
    random = np.random.default_rng(1)
    lengths = random.uniform(100.0, 700.0, 500)
    lengths *= LENGTH / lengths.sum()
    grades = np.round(random.normal(0.0, 0.003, 500), 4)
    limits = tuple(
        SpeedLimit(start=float(at), end=float(at) + 800.0, speed=float(random.uniform(8.0, 18.0)))
        for at in np.arange(12e3, 190e3, 11e3)
    )
    route = trials.line(
        list(zip(lengths.tolist(), grades.tolist(), strict=True)),
        stops=STOPS,
        speed_limit=22.0,
        speed_limits=limits,
    )
    stops = tuple(trials.Stop(station=s.name, dwell=300.0, take_water="fill") for s in route.stations)
    return trials.excursion(route, stops=stops)
