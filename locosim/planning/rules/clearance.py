"""Rules of clearance for the line: axle load, curves, and the speed of driving wheels and pistons."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.engine.own_resistance import full_tender_load
from locosim.journey.result import Journey
from locosim.journey.setup.helper_performance import HelperPerformance
from locosim.journey.setup.train_forces import Block, consist_length, helper_blocks
from locosim.model import Criteria, Curve, Excursion, Locomotive
from locosim.physics.operation import superelevation
from locosim.physics.traction.tractive_effort import driver_revolutions, piston_speed
from locosim.physics.types import Floats
from locosim.planning.finding import (
    MET_OR_NOT,
    WHOLE_LINE,
    Comparison,
    Explanation,
    Finding,
    Location,
    VerdictScale,
    at_least,
    at_most,
    judge,
)
from locosim.planning.locations import location_at


def axle_load(journey: Journey) -> list[Finding]:
    """Heaviest axle of engines and train against the limit of the line."""
    limit = journey.excursion.route_as_run.axle_load_limit
    if limit is None:
        return []
    name, load = max(_axle_loads(journey.excursion), key=lambda pair: pair[1])
    explanation = Explanation(
        because=f"heaviest axle: {name}, loads spread evenly",
        remedy="leave it off the train, or have the line's engineer clear it",
    )
    return [judge("axle load", at_most(load, limit, "mass"), WHOLE_LINE, MET_OR_NOT, explanation)]


def _axle_loads(excursion: Excursion) -> list[tuple[str, float]]:
    """Axle load of everything in the train, by name [kg]."""
    locomotive, tender = excursion.locomotive, excursion.locomotive.tender
    axles = [("the driving axles", locomotive.max_axle_load)]
    if tender.axles > 0:
        axles.append(("the full tender", (tender.empty_mass + full_tender_load(locomotive)) / tender.axles))
    axles += [(h.locomotive.name, h.locomotive.max_axle_load) for h in excursion.helpers if h.locomotive]
    axles += [(h.diesel.name, h.diesel.mass / h.diesel.axles) for h in excursion.helpers if h.diesel]
    axles += [(vehicle.name, vehicle.axle_load) for vehicle in excursion.train.vehicles]
    return axles


class _EngineRun(NamedTuple):
    """A steam engine and where it runs; `helper` is its name where it is a helper engine, else empty."""

    helper: str
    engine: Locomotive
    start: float
    end: float


def curves(journey: Journey) -> list[Finding]:
    """Sharpest curve that the engine, and each helper engine, meets, against the sharpest it can pass."""
    excursion = journey.excursion
    last = excursion.route_as_run.station(excursion.stops[-1].station).chainage
    engines = [_EngineRun("", excursion.locomotive, float(journey.chainage[0]), last)]
    for helper, _, block, engine in _steam_helpers(journey):
        coupled_at, uncoupled_at = (
            excursion.route_as_run.station(excursion.stops[i].station).chainage
            for i in (helper.first_stop, helper.last_stop)
        )
        engines.append(_EngineRun(engine.name, engine, coupled_at - block.rear, uncoupled_at - block.front))
    found = [_curve_finding(journey, each) for each in engines]
    return [finding for finding in found if finding is not None]


def _curve_finding(journey: Journey, run: _EngineRun) -> Finding | None:
    """Finding for one engine; None where it meets no curve, or its minimum radius is not given."""
    radius = run.engine.min_curve_radius
    met = [c for c in journey.excursion.route_as_run.curves if c.end > run.start and c.start < run.end]
    if radius is None or not met:
        return None
    sharpest = min(met, key=lambda curve: curve.radius)
    explanation = Explanation(
        because=f"sharpest curve of the run against the sharpest that {run.engine.name} can pass",
        remedy=f"keep {run.engine.name} off this curve",
    )
    location = _location_with_helper(run.helper, location_at(journey, sharpest.start))
    return judge("curve", at_least(sharpest.radius, radius, "curve"), location, MET_OR_NOT, explanation)


def curve_speeds(journey: Journey) -> list[Finding]:
    """Speed on the curve with the least margin, of those with a superelevation, against what the curve allows.

    A curve counts from where the engine enters it to where the rear of the train leaves it.
    """
    criteria = journey.excursion.criteria
    length = consist_length(journey.excursion)
    curves = [c for c in journey.excursion.route_as_run.curves if c.superelevation is not None]
    first = np.searchsorted(journey.chainage, [c.start for c in curves], side="left").tolist()
    last = np.searchsorted(journey.chainage, [c.end + length for c in curves], side="right").tolist()
    # Many curves, and only the one with the least margin is a finding.
    found = [
        (_curve_speed(curve, journey.speed[a:b], criteria), curve)
        for curve, a, b in zip(curves, first, last, strict=True)
        if a < b
    ]
    if not found:
        return []
    compared, curve = min(found, key=lambda each: each[0].margin)
    assert curve.superelevation is not None
    explanation = Explanation(
        because="highest speed on a curve of {radius} with {height} of superelevation, where {unbalance} may be "
        "unbalanced",
        remedy="run slower there, or have the track raised to more superelevation",
        facts={
            "radius": (curve.radius, "curve"),
            "height": (curve.superelevation, "small_length"),
            "unbalance": (criteria.max_unbalanced_superelevation, "small_length"),
        },
    )
    location = location_at(journey, curve.start)
    return [judge("curve speed", compared, location, VerdictScale(criteria.tight_margin), explanation)]


def _curve_speed(curve: Curve, speed: Floats, criteria: Criteria) -> Comparison:
    """Highest of some speeds against what a curve allows."""
    assert curve.superelevation is not None
    allowed = superelevation.curve_speed(
        degree_of_curve=superelevation.degree_of_curve(radius=curve.radius),
        superelevation=curve.superelevation,
        unbalanced_superelevation=criteria.max_unbalanced_superelevation,
    )
    return at_most(float(np.max(speed)), float(allowed), "speed")


def rotation(journey: Journey) -> list[Finding]:
    """Highest driving-wheel speed and mean piston speed of the engine and of each steam helper engine."""
    found = _rotation_findings(journey, "", journey.excursion.locomotive, np.arange(len(journey.speed)))
    for _, active, _, engine in _steam_helpers(journey):
        steps = np.flatnonzero(active)
        if len(steps) > 0:
            found += _rotation_findings(journey, engine.name, engine, np.append(steps, steps[-1] + 1))
    return found


def _rotation_findings(
    journey: Journey, helper: str, engine: Locomotive, nodes: npt.NDArray[np.int_]
) -> list[Finding]:
    """Findings for one engine at the highest speed of some nodes."""
    criteria = journey.excursion.criteria
    fastest = int(nodes[np.argmax(journey.speed[nodes])])
    speed = float(journey.speed[fastest])
    smallest = min(engine.engine_units, key=lambda unit: unit.driver_diameter)
    longest = max(engine.engine_units, key=lambda unit: unit.stroke / unit.driver_diameter)
    turns = driver_revolutions(speed=speed, driver_diameter=smallest.driver_diameter)
    mean_piston_speed = piston_speed(
        speed=speed, stroke=longest.stroke, driver_diameter=longest.driver_diameter
    )
    explanation = Explanation(
        because=f"at the highest speed {f'with {helper}' if helper else 'of the run'}, {{speed}}",
        remedy="run slower",
        facts={"speed": (speed, "speed")},
    )
    location = _location_with_helper(helper, location_at(journey, float(journey.chainage[fastest])))
    scale = VerdictScale(criteria.tight_margin)
    wheels = at_most(float(turns), criteria.max_driver_rotation, "rotation")
    pistons = at_most(float(mean_piston_speed), criteria.max_piston_speed, "piston_speed")
    return [
        judge("driving-wheel speed", wheels, location, scale, explanation),
        judge("piston speed", pistons, location, scale, explanation),
    ]


def _steam_helpers(
    journey: Journey,
) -> list[tuple[HelperPerformance, npt.NDArray[np.bool_], Block, Locomotive]]:
    """Steam helper engines: their performance, the steps they are on in, their place in the train, and the engine."""
    blocks = helper_blocks(journey.helpers, consist_length(journey.excursion))
    each = zip(journey.helpers, journey.helper_active, blocks, journey.excursion.helpers, strict=True)
    return [
        (helper, active, block, given.locomotive)
        for helper, active, block, given in each
        if given.locomotive is not None
    ]


def _location_with_helper(helper: str, location: Location) -> Location:
    """Location with the name of the helper engine in front, where the finding is about one."""
    return location._replace(name=f"{helper}, {location.name}") if helper else location
