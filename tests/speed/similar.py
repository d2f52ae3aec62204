"""Excursions that differ a little from one: load and number of cars, temperature and headwind, an assumption."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locosim.model import Excursion


def similar_excursions(excursion: Excursion, count: int, seed: int = 3) -> list[Excursion]:
    """A number of them, each with one or all of the changes, in turn."""
    random, found = np.random.default_rng(seed), []
    for number in range(count):
        changed, kind = excursion, number % 4
        if kind in (0, 3):
            vehicles = tuple(
                replace(
                    vehicle,
                    load=vehicle.load * float(random.uniform(0.9, 1.1)),
                    count=max(1, vehicle.count + int(random.integers(-1, 2))),
                )
                for vehicle in changed.train.vehicles
            )
            changed = replace(changed, train=replace(changed.train, vehicles=vehicles))
        if kind in (1, 3):
            temperature, headwind = float(random.uniform(260.0, 300.0)), float(random.uniform(0.0, 8.0))
            weather = replace(changed.weather, temperature=temperature, headwind=headwind)
            changed = replace(changed, weather=weather)
        if kind in (2, 3):
            lag = float(random.uniform(40.0, 80.0))
            changed = replace(changed, assumptions=replace(changed.assumptions, air_lag=lag))
        found.append(changed)
    return found
