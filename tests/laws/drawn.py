"""Random engines, trains, lines and excursions, within the range of what has been built."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import trials
from hypothesis import strategies as st

from locosim.model import (
    Crew,
    CustomResistance,
    Cylinders,
    EngineUnit,
    Excursion,
    Fuel,
    Helper,
    Locomotive,
    Route,
    SpeedLimit,
    Train,
    Weather,
)

HABITS = ("hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops")
RAIL_CONDITIONS = ("dry", "wet", "very dry")


@st.composite
def engines(draw: st.DrawFn) -> Locomotive:
    """Two-cylinder, articulated or three-cylinder engines, small to large, on saturated or superheated steam."""
    bore, pressure = draw(st.floats(0.36, 0.68)), draw(st.floats(8.5e5, 21e5))
    wheel = draw(st.floats(1.15, 2.05))
    stroke = draw(st.floats(0.5, 0.8))
    # Factor of adhesion from low to high.
    rated = 0.85 * pressure * bore**2 * stroke / wheel
    adhesive = draw(st.floats(3.4, 5.2)) * rated / 9.80665
    units = draw(st.sampled_from([1, 1, 2]))
    made = trials.locomotive(
        bore=bore,
        stroke=stroke,
        wheel=wheel,
        pressure=pressure,
        mass_on_drivers=adhesive,
        grate=draw(st.floats(1.2, 6.5)),
        units=units,
        superheater=draw(st.booleans()),
    )
    unit: EngineUnit = made.engine_units[0]
    unit = replace(
        unit,
        cylinders=(Cylinders(number=draw(st.sampled_from([2, 2, 3])), bore=bore, stroke=stroke),),
        max_cutoff=draw(st.floats(0.6, 0.9)),
        min_cutoff=draw(st.floats(0.05, 0.25)),
    )
    boiler = replace(
        made.boiler,
        tube_surface=units * draw(st.floats(60.0, 320.0)),
        firing=draw(st.sampled_from(["hand", "stoker"])),
    )
    return replace(made, engine_units=(unit,) * units, boiler=boiler)


@st.composite
def trains(draw: st.DrawFn) -> Train:
    """One to three rows of vehicles by different laws."""
    rows = []
    for _ in range(draw(st.integers(1, 3))):
        law = draw(st.sampled_from(["davis_1926_passenger", "davis_1926_freight", "custom"]))
        own = CustomResistance(a=draw(st.floats(0.008, 0.03)), b=2e-4, c=1e-5) if law == "custom" else None
        rows.append(
            trials.coaches(
                draw(st.integers(1, 8)),
                empty_mass=draw(st.floats(15e3, 55e3)),
                load=draw(st.floats(0.0, 40e3)),
                length=draw(st.floats(10.0, 26.0)),
                people=draw(st.integers(0, 80)),
                resistance_law=law,
                custom_resistance=own,
                bearing=draw(st.sampled_from(["plain", "roller"])),
            )
        )
    return trials.train(*rows)


@st.composite
def lines(draw: st.DrawFn, *, steepest: float = 0.02, least: float | None = None) -> Route:
    """A line of a few grades, with a speed limit and a stop."""
    low = -steepest if least is None else least
    pieces = draw(
        st.lists(st.tuples(st.floats(150.0, 2500.0), st.floats(low, steepest)), min_size=3, max_size=8)
    )
    total = 1000.0 + sum(length for length, _ in pieces)
    start = draw(st.floats(0.1, 0.8)) * total
    limit = SpeedLimit(
        start=start, end=start + draw(st.floats(30.0, 500.0)), speed=draw(st.floats(4.0, 15.0))
    )
    stop = draw(st.floats(0.25, 0.75)) * (total - 1000.0)
    return trials.line(pieces, stops=(stop,), speed_limit=draw(st.floats(8.0, 24.0)), speed_limits=(limit,))


@st.composite
def excursions(draw: st.DrawFn, **changes: Any) -> Excursion:
    """Any engine with any train over any line, with any habit in any weather."""
    excursion = trials.excursion(
        draw(lines()),
        engine=draw(engines()),
        made_of=draw(trains()),
        rail=draw(st.sampled_from(RAIL_CONDITIONS)),
        weather=Weather(temperature=draw(st.floats(250.0, 310.0)), headwind=draw(st.floats(-8.0, 12.0))),
        crew=Crew(habit=draw(st.sampled_from(HABITS)), steam_allowance=draw(st.floats(0.5, 1.4))),
        fuel=Fuel(heating_value=draw(st.floats(18e6, 34e6))),
        initial_water=draw(st.floats(0.05, 1.0)),
    )
    if draw(st.booleans()):
        place = draw(st.sampled_from(["front", "rear"]))
        excursion = replace(excursion, helpers=(Helper(locomotive=trials.locomotive(), place=place),))
    return replace(excursion, **changes)
