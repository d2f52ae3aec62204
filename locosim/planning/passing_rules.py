"""What engine, train and line are passed for: axle load, curves, and the speed of wheels and pistons."""

from __future__ import annotations

import numpy as np

from locosim.journey.journey import Journey
from locosim.performance.running_resistance import full_contents
from locosim.physics.tractive_effort import driver_revolutions, piston_speed
from locosim.planning.finding import Finding, at_least, at_most, verdict_of
from locosim.planning.places import place_name


def axle_load(journey: Journey) -> list[Finding]:
    """Heaviest axle of engine and train against the line."""
    excursion = journey.excursion
    limit = excursion.line.axle_load_greatest
    if limit is None:
        return []
    locomotive, tender = excursion.locomotive, excursion.locomotive.tender
    axles = [("the coupled axles", locomotive.greatest_axle_load)]
    if tender.axles > 0:
        axles.append(("the full tender", (tender.mass_empty + full_contents(locomotive)) / tender.axles))
    axles += [
        (h.locomotive.name, h.locomotive.greatest_axle_load) for h in excursion.assistance if h.locomotive
    ]
    axles += [(h.diesel.name, h.diesel.mass / h.diesel.axles) for h in excursion.assistance if h.diesel]
    axles += [(vehicle.name, vehicle.axle_load) for vehicle in excursion.train.vehicles]
    name, load = max(axles, key=lambda pair: pair[1])
    margin = at_most(load, limit)
    return [
        Finding(
            rule="axle load",
            # A static limit is met or not: nearness to it is no weakness of the plan.
            verdict=verdict_of(margin, 0.0),
            place="whole line",
            chainage=None,
            value=load,
            limit=limit,
            kind="mass",
            margin=margin,
            because=f"the heaviest axle is under {name}, loads spread evenly",
            remedy="the line's engineer must pass her, or she stays off" if margin < 0 else "",
        )
    ]


def curves(journey: Journey) -> list[Finding]:
    """Tightest curve of the run against what the engine is passed for."""
    excursion = journey.excursion
    least = excursion.locomotive.curve_radius_least
    first, last = float(journey.chainage[0]), excursion.line.station(excursion.calls[-1].station).chainage
    met = [c for c in excursion.line.curves if c.end > first and c.start < last]
    if least is None or not met:
        return []
    tightest = min(met, key=lambda c: c.radius)
    margin = at_least(tightest.radius, least)
    return [
        Finding(
            rule="curve",
            verdict=verdict_of(margin, 0.0),
            place=place_name(journey, tightest.start),
            chainage=tightest.start,
            value=tightest.radius,
            limit=least,
            kind="curve",
            margin=margin,
            because="the tightest curve of the run against the tightest she is passed for",
            remedy="she may not enter it" if margin < 0 else "",
        )
    ]


def rotation(journey: Journey) -> list[Finding]:
    """Greatest rotation of the driving wheels and greatest mean piston speed."""
    criteria = journey.excursion.criteria
    step = int(np.argmax(journey.speed))
    speed = float(journey.speed[step])
    units = journey.excursion.locomotive.engine_units
    wheel = min(units, key=lambda unit: unit.driving_wheel_diameter)
    pistons = max(units, key=lambda unit: unit.stroke / unit.driving_wheel_diameter)
    turns = float(driver_revolutions(speed=speed, driver_diameter=wheel.driving_wheel_diameter))
    travel = float(
        piston_speed(speed=speed, stroke=pistons.stroke, driver_diameter=pistons.driving_wheel_diameter)
    )
    chainage = float(journey.chainage[step])
    found = []
    for rule, value, limit, kind in (
        ("driver speed", turns, criteria.driver_speed_greatest, "rotation"),
        ("piston speed", travel, criteria.piston_speed_greatest, "piston_speed"),
    ):
        margin = at_most(value, limit)
        found.append(
            Finding(
                rule=rule,
                verdict=verdict_of(margin, criteria.margin_tight),
                place=place_name(journey, chainage),
                chainage=chainage,
                value=value,
                limit=limit,
                kind=kind,
                margin=margin,
                because="at the highest speed of the run, {speed}",
                remedy="keep to a lower speed" if margin < criteria.margin_tight else "",
                facts={"speed": (speed, "speed")},
            )
        )
    return found
