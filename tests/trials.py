"""Invented engines, trains and lines for tests, made in code: dimensions nobody has built."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from locosim.engine.map.store import StoredMap
from locosim.engine.performance import Performance, compute_performance
from locosim.journey.result import Journey
from locosim.model import (
    Boiler,
    Crew,
    Criteria,
    Cylinders,
    EngineUnit,
    Excursion,
    FeedDevice,
    Locomotive,
    ProfilePoint,
    Route,
    Station,
    Stop,
    Superheater,
    Tender,
    Train,
    Vehicle,
)

WIDE = Criteria(service_deceleration=0.25)


def locomotive(
    *,
    bore: float = 0.52,
    stroke: float = 0.65,
    wheel: float = 1.57,
    pressure: float = 13.1e5,
    mass_on_drivers: float = 51e3,
    grate: float = 2.9,
    units: int = 1,
    superheater: bool = True,
    **changes: Any,
) -> Locomotive:
    """A two-cylinder engine of middling size, or one with two such engine units."""
    unit = EngineUnit(
        driver_diameter=wheel,
        driving_axles=3,
        mass_on_drivers=mass_on_drivers,
        cylinders=(Cylinders(number=2, bore=bore, stroke=stroke),),
        max_cutoff=0.83,
    )
    made = Locomotive(
        name="trial engine",
        mass=units * mass_on_drivers + 19e3,
        length=11.7,
        truck_axles=2,
        boiler=Boiler(
            working_pressure_gauge=pressure,
            grate_area=units * grate,
            firebox_surface=units * 15.5,
            tube_surface=units * 141.0,
            superheater=Superheater(surface=units * 43.0) if superheater else None,
            firing="stoker",
        ),
        engine_units=(unit,) * units,
        tender=Tender(
            empty_mass=23e3, water_capacity=units * 21.0, fuel_capacity=units * 7e3, axles=4, length=8.3
        ),
        feed_devices=(
            FeedDevice(name="left injector", max_rate=units * 3.1),
            FeedDevice(name="right injector", max_rate=units * 3.1),
        ),
    )
    return replace(made, **changes)


def coaches(count: int = 8, **changes: Any) -> Vehicle:
    """A row of like coaches."""
    coach = Vehicle(name="coach", count=count, empty_mass=37e3, people=48, length=20.4)
    return replace(coach, **changes)


def train(*vehicles: Vehicle) -> Train:
    """A train; eight coaches when nothing is said."""
    return Train(name="trial train", vehicles=vehicles or (coaches(),))


def line(
    pieces: Sequence[tuple[float, float]],
    *,
    stops: Sequence[float] = (),
    speed_limit: float = 20.0,
    **changes: Any,
) -> Route:
    """A line of pieces, each of a length [m] and a grade, with stations at its ends and at the stops.

    The stations are called A, B, C in order. The first stands a kilometre from the start, so that the whole
    train is on the line there.
    """
    points, place = [], 0.0
    for length, grade in [(1000.0, pieces[0][1]), *pieces]:
        points.append(ProfilePoint(chainage=place, grade=grade))
        place += length
    points.append(ProfilePoint(chainage=place))
    stations = [
        Station(name=chr(ord("A") + number), chainage=at, water_rate=0.05, fuel_rate=8.0)
        for number, at in enumerate([1000.0, *(1000.0 + stop for stop in stops), place])
    ]
    made = Route(name="trial line", profile=tuple(points), stations=tuple(stations), speed_limit=speed_limit)
    return replace(made, **changes)


def excursion(
    route: Route, *, engine: Locomotive | None = None, made_of: Train | None = None, **changes: Any
) -> Excursion:
    """A run from the first station to the last, stopping at each for two minutes."""
    asked = Excursion(
        name="trial",
        locomotive=engine or locomotive(),
        train=made_of or train(),
        route=route,
        stops=tuple(Stop(station=station.name) for station in route.stations),
        criteria=WIDE,
        crew=Crew(),
        method="handbook",
    )
    return replace(asked, **changes)


def booked(free: Excursion, run: Journey, slack: float) -> Excursion:
    """An excursion with booked times: the running times of a run of it, longer by a factor."""
    clock, stops = free.departure, [free.stops[0]]
    for before, here, stop in zip(run.stops, run.stops[1:], free.stops[1:], strict=False):
        clock += slack * (here.arrive - before.depart)
        stops.append(replace(stop, arrive=clock, depart=clock + stop.dwell))
        clock += stop.dwell
    stops[-1] = replace(stops[-1], depart=None)
    return replace(free, stops=tuple(stops))


def performance(asked: Excursion) -> Performance:
    """What the engine of an excursion can do by the handbook."""
    return compute_performance(
        asked.locomotive, method="handbook", fuel=asked.fuel, crew=asked.crew, assumptions=asked.assumptions
    )


def small_map(effort: float = 1.0) -> StoredMap:
    """A map of few points that no engine has: effort and steam go with the number of the point."""
    table = effort * np.arange(24.0).reshape(2, 3, 4)
    return StoredMap(
        pressures=np.array([5e5, 14e5]),
        speeds=np.array([0.0, 10.0, 20.0]),
        cutoffs=np.linspace(0.2, 0.8, 4),
        throttles=np.ones((2, 3, 4)),
        effort=table,
        steam=table,
        back_pressure=0.0 * table,
        peak_effort_ratio=1.02,
        unit_effort_shares=(0.4, 0.6),
        min_starting_effort_ratio=0.65,
        live_steam_starting_effort=0.0,
        notes=("valve gear not given: the usual is taken, “as drawn”",),
    )
