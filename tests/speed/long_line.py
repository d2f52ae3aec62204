"""Invented lines of any length, each with a grade every 400 m, speed limits and stops."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import trials

from locosim.model import Excursion, SpeedLimit

STOPS = (31e3, 64e3, 101e3, 139e3, 170e3)


@lru_cache
def two_hundred_kilometres() -> Excursion:
    """The excursion used for all timings."""
    return along_a_line(200e3)


def along_a_line(length: float) -> Excursion:
    """An excursion along a line of a length [m], the same in kind whatever the length."""
    random, count = np.random.default_rng(1), round(length / 400.0)
    lengths = random.uniform(100.0, 700.0, count)
    lengths *= length / lengths.sum()
    grades = np.round(random.normal(0.0, 0.003, count), 4)
    limits = tuple(
        SpeedLimit(start=float(at), end=float(at) + 800.0, speed=float(random.uniform(8.0, 18.0)))
        for at in np.arange(12e3, length - 10e3, 11e3)
    )
    places = [at + float(lap) for lap in np.arange(0.0, length, 200e3) for at in STOPS]
    route = trials.line(
        list(zip(lengths.tolist(), grades.tolist(), strict=True)),
        stops=tuple(at for at in places if at < length - 5e3),
        speed_limit=22.0,
        speed_limits=limits,
    )
    stops = tuple(trials.Stop(station=s.name, dwell=300.0, take_water="fill") for s in route.stations)
    return trials.excursion(route, stops=stops)
