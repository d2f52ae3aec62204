"""What engine, train and line are passed for: axle load, curves, and the speed of wheels and pistons."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from locosim.engine.own_resistance import full_tender_load
from locosim.journey.result import Journey
from locosim.journey.setup.helper_engines import HelperPerformance
from locosim.journey.setup.train_forces import Block, consist_length, helper_blocks
from locosim.model import Locomotive
from locosim.physics.traction.tractive_effort import driver_revolutions, piston_speed
from locosim.planning.finding import Finding, margin_above, margin_below, verdict_for
from locosim.planning.locations import location_name


def axle_load(journey: Journey) -> list[Finding]:
    """Heaviest axle of engine and train against the line."""
    excursion = journey.excursion
    limit = excursion.route_as_run.axle_load_limit
    if limit is None:
        return []
    locomotive, tender = excursion.locomotive, excursion.locomotive.tender
    axles = [("the driving axles", locomotive.max_axle_load)]
    if tender.axles > 0:
        axles.append(("the full tender", (tender.empty_mass + full_tender_load(locomotive)) / tender.axles))
    axles += [(h.locomotive.name, h.locomotive.max_axle_load) for h in excursion.helpers if h.locomotive]
    axles += [(h.diesel.name, h.diesel.mass / h.diesel.axles) for h in excursion.helpers if h.diesel]
    axles += [(vehicle.name, vehicle.axle_load) for vehicle in excursion.train.vehicles]
    name, load = max(axles, key=lambda pair: pair[1])
    margin = margin_below(load, limit)
    return [
        Finding(
            rule="axle load",
            # A static limit is met or not: nearness to it is no weakness of the plan.
            verdict=verdict_for(margin, 0.0),
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
    last = excursion.route_as_run.station(excursion.stops[-1].station).chainage
    engines = [("", excursion.locomotive, float(journey.chainage[0]), last)]
    for helper, _, block, engine in _steam_helpers(journey):
        added_at, removed_at = (
            excursion.route_as_run.station(excursion.stops[i].station).chainage
            for i in (helper.first_stop, helper.last_stop)
        )
        engines.append((engine.name, engine, added_at - block.rear, removed_at - block.front))
    found = [_curve_finding(journey, *engine) for engine in engines]
    return [finding for finding in found if finding is not None]


def _curve_finding(
    journey: Journey, name: str, engine: Locomotive, start: float, end: float
) -> Finding | None:
    """Judge an engine from where it runs to where; None where it meets no curve, or its limit is not known."""
    met = [c for c in journey.excursion.route_as_run.curves if c.end > start and c.start < end]
    if engine.min_curve_radius is None or not met:
        return None
    tightest = min(met, key=lambda c: c.radius)
    margin = margin_above(tightest.radius, engine.min_curve_radius)
    return Finding(
        rule="curve",
        verdict=verdict_for(margin, 0.0),
        place=_location_with_engine(name, location_name(journey, tightest.start)),
        chainage=tightest.start,
        value=tightest.radius,
        limit=engine.min_curve_radius,
        kind="curve",
        margin=margin,
        because=f"the tightest curve of the run against the tightest {name or 'she'} is passed for",
        remedy=f"{name or 'she'} may not enter it" if margin < 0 else "",
    )


def rotation(journey: Journey) -> list[Finding]:
    """Greatest rotation of the driving wheels and greatest mean piston speed, of assisting engines too."""
    found = _rotation_findings(journey, "", journey.excursion.locomotive, np.arange(len(journey.speed)))
    for _, on, _, engine in _steam_helpers(journey):
        steps = np.flatnonzero(on)
        if len(steps) > 0:
            found += _rotation_findings(journey, engine.name, engine, np.append(steps, steps[-1] + 1))
    return found


def _rotation_findings(
    journey: Journey, name: str, engine: Locomotive, nodes: npt.NDArray[np.int_]
) -> list[Finding]:
    """Judge an engine by the highest speed at the nodes it runs over."""
    criteria = journey.excursion.criteria
    fastest = int(nodes[np.argmax(journey.speed[nodes])])
    speed = float(journey.speed[fastest])
    units = engine.engine_units
    wheel = min(units, key=lambda unit: unit.driver_diameter)
    pistons = max(units, key=lambda unit: unit.stroke / unit.driver_diameter)
    revolutions = float(driver_revolutions(speed=speed, driver_diameter=wheel.driver_diameter))
    mean_piston_speed = float(
        piston_speed(speed=speed, stroke=pistons.stroke, driver_diameter=pistons.driver_diameter)
    )
    chainage = float(journey.chainage[fastest])
    found = []
    for rule, value, limit, kind in (
        ("driver speed", revolutions, criteria.max_driver_rotation, "rotation"),
        ("piston speed", mean_piston_speed, criteria.max_piston_speed, "piston_speed"),
    ):
        margin = margin_below(value, limit)
        found.append(
            Finding(
                rule=rule,
                verdict=verdict_for(margin, criteria.tight_margin),
                place=_location_with_engine(name, location_name(journey, chainage)),
                chainage=chainage,
                value=value,
                limit=limit,
                kind=kind,
                margin=margin,
                because=f"at the highest speed {f'with {name}' if name else 'of the run'}, {{speed}}",
                remedy="keep to a lower speed" if margin < criteria.tight_margin else "",
                facts={"speed": (speed, "speed")},
            )
        )
    return found


def _steam_helpers(
    journey: Journey,
) -> list[tuple[HelperPerformance, npt.NDArray[np.bool_], Block, Locomotive]]:
    """Assisting steam engines as the run saw them, the steps they are on in, where they stand, and as they are."""
    blocks = helper_blocks(journey.helpers, consist_length(journey.excursion))
    each = zip(journey.helpers, journey.helper_active, blocks, journey.excursion.helpers, strict=True)
    return [
        (helper, on, block, asked.locomotive)
        for helper, on, block, asked in each
        if asked.locomotive is not None
    ]


def _location_with_engine(name: str, place: str) -> str:
    """A place, with the engine that is judged there where it is an assisting one."""
    return f"{name}, {place}" if name else place
