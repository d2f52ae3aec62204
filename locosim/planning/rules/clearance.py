"""What engine, train and line are passed for: axle load, curves, and the speed of wheels and pistons."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from locosim.engine.own_resistance import full_contents
from locosim.journey.run import Journey
from locosim.journey.setup.helper_engines import Helper
from locosim.journey.setup.train_forces import Block, consist_length, helper_blocks
from locosim.model import Locomotive
from locosim.physics.traction.tractive_effort import driver_revolutions, piston_speed
from locosim.planning.finding import Finding, at_least, at_most, verdict_of
from locosim.planning.locations import place_name


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
    """Tightest curve of the run against what the engine, and each assisting engine where it is on, is passed for."""
    excursion = journey.excursion
    last = excursion.line.station(excursion.calls[-1].station).chainage
    judged = [("", excursion.locomotive, float(journey.chainage[0]), last)]
    for helper, _, block, engine in _steam_helpers(journey):
        came_on, came_off = (
            excursion.line.station(excursion.calls[i].station).chainage for i in (helper.first, helper.last)
        )
        judged.append((engine.name, engine, came_on - block.rear, came_off - block.front))
    found = [_curve(journey, *engine) for engine in judged]
    return [finding for finding in found if finding is not None]


def _curve(journey: Journey, name: str, engine: Locomotive, start: float, end: float) -> Finding | None:
    """Judge an engine from where it runs to where; None where it meets no curve, or its limit is not known."""
    met = [c for c in journey.excursion.line.curves if c.end > start and c.start < end]
    if engine.curve_radius_least is None or not met:
        return None
    tightest = min(met, key=lambda c: c.radius)
    margin = at_least(tightest.radius, engine.curve_radius_least)
    return Finding(
        rule="curve",
        verdict=verdict_of(margin, 0.0),
        place=_named(name, place_name(journey, tightest.start)),
        chainage=tightest.start,
        value=tightest.radius,
        limit=engine.curve_radius_least,
        kind="curve",
        margin=margin,
        because=f"the tightest curve of the run against the tightest {name or 'she'} is passed for",
        remedy=f"{name or 'she'} may not enter it" if margin < 0 else "",
    )


def rotation(journey: Journey) -> list[Finding]:
    """Greatest rotation of the driving wheels and greatest mean piston speed, of assisting engines too."""
    found = _rotation(journey, "", journey.excursion.locomotive, np.arange(len(journey.speed)))
    for _, on, _, engine in _steam_helpers(journey):
        steps = np.flatnonzero(on)
        if len(steps) > 0:
            found += _rotation(journey, engine.name, engine, np.append(steps, steps[-1] + 1))
    return found


def _rotation(journey: Journey, name: str, engine: Locomotive, nodes: npt.NDArray[np.int_]) -> list[Finding]:
    """Judge an engine by the highest speed at the nodes it runs over."""
    criteria = journey.excursion.criteria
    fastest = int(nodes[np.argmax(journey.speed[nodes])])
    speed = float(journey.speed[fastest])
    units = engine.engine_units
    wheel = min(units, key=lambda unit: unit.driving_wheel_diameter)
    pistons = max(units, key=lambda unit: unit.stroke / unit.driving_wheel_diameter)
    turns = float(driver_revolutions(speed=speed, driver_diameter=wheel.driving_wheel_diameter))
    travel = float(
        piston_speed(speed=speed, stroke=pistons.stroke, driver_diameter=pistons.driving_wheel_diameter)
    )
    chainage = float(journey.chainage[fastest])
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
                place=_named(name, place_name(journey, chainage)),
                chainage=chainage,
                value=value,
                limit=limit,
                kind=kind,
                margin=margin,
                because=f"at the highest speed {f'with {name}' if name else 'of the run'}, {{speed}}",
                remedy="keep to a lower speed" if margin < criteria.margin_tight else "",
                facts={"speed": (speed, "speed")},
            )
        )
    return found


def _steam_helpers(journey: Journey) -> list[tuple[Helper, npt.NDArray[np.bool_], Block, Locomotive]]:
    """Assisting steam engines as the run saw them, the steps they are on in, where they stand, and as they are."""
    blocks = helper_blocks(journey.helpers, consist_length(journey.excursion))
    each = zip(journey.helpers, journey.helping, blocks, journey.excursion.assistance, strict=True)
    return [
        (helper, on, block, asked.locomotive)
        for helper, on, block, asked in each
        if asked.locomotive is not None
    ]


def _named(name: str, place: str) -> str:
    """A place, with the engine that is judged there where it is an assisting one."""
    return f"{name}, {place}" if name else place
