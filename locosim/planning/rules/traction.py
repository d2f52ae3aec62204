"""Rules of pull: starting, climbing and couplers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from locosim.journey.coupler_force import coupler_force
from locosim.journey.kernel import arrays as records
from locosim.journey.run import Journey
from locosim.journey.setup.prepare import rail_condition_at
from locosim.journey.setup.train_forces import StartingDemand
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.physics.types import Floats
from locosim.planning.finding import Finding, margin_above, margin_below, verdict_for
from locosim.planning.locations import StepRange, climbs, location_name
from locosim.planning.rules.stall import BEST_RAIL, limiting_factor, remedy_for, starting_capacity

ACCELERATION_DISTANCE = (
    1000.0  # from a stand or the end of a speed limit, in which gaining speed is no climbing [m]; ours
)
CREEP_ACCELERATION = 0.02  # acceleration up to which a train beyond that is taken to creep [m/s²]; ours


def starting(journey: Journey) -> list[Finding]:
    """Can she start at every stop, on its grade and its rail, with the acceleration asked for?"""
    stops = journey.excursion.stops[:-1]
    return [
        _start_finding(journey, stop.station, demand)
        for stop, demand in zip(stops, journey.starting_demands, strict=True)
    ]


def _start_finding(journey: Journey, station: str, demand: StartingDemand) -> Finding:
    excursion = journey.excursion
    criteria = excursion.criteria
    chainage = excursion.route_as_run.station(station).chainage
    by_cylinders, by_rail = starting_capacity(journey, chainage)
    rail = rail_condition_at(excursion, chainage)
    coefficient = rail_adhesion_coefficient(condition=rail)
    helper_effort = min(demand.helper_effort, coefficient * demand.helper_adhesive_weight)
    pull = min(by_cylinders, by_rail) + helper_effort
    needed = demand.total + demand.inertia * criteria.min_starting_acceleration
    margin = margin_above(pull, needed)
    holds = "the cylinders give" if by_cylinders < by_rail else f"the {rail} rail holds"
    per_mass = (demand.total - helper_effort) / demand.mass + criteria.min_starting_acceleration
    remedy = ""
    if margin < 0:
        sand = ", sand the rail" if by_rail < by_cylinders and rail != BEST_RAIL else ""
        remedy = (
            f"take {{excess}} off the train, place the stop elsewhere{sand} or ask for an assisting engine"
        )
    elif margin < criteria.tight_margin:
        remedy = f"{'keep sand dry and ' if by_rail < by_cylinders else ''}start with the slack in"
    return Finding(
        rule="start",
        verdict=verdict_for(margin, criteria.tight_margin),
        place=station,
        chainage=chainage,
        value=pull,
        limit=needed,
        kind="force",
        margin=margin,
        because=(
            f"{holds} {{own}} at the rim{', helpers {helper_effort}' if helper_effort else ''}; breaking away takes {{starting}}, "
            "gravity {gravity}, curves {curve} and {acceleration} of acceleration the rest"
        ),
        remedy=remedy,
        facts={
            "own": (pull - helper_effort, "force"),
            "helped": (helper_effort, "force"),
            "starting": (demand.starting, "force"),
            "gravity": (demand.gravity, "force"),
            "curve": (demand.curve, "force"),
            "acceleration": (criteria.min_starting_acceleration, "acceleration"),
            "excess": (max(needed - pull, 0.0) / max(per_mass, 0.02), "mass"),
        },
    )


def climbing(journey: Journey) -> list[Finding]:
    """Least speed on every climb, away from where a stop or a speed limit keeps it low.

    Beyond `ACCELERATION_DISTANCE` from where it was kept low last, a step that gains no more than `CREEP_ACCELERATION` counts too: a
    train that starts on the grade and creeps up it gains a little all the way, as its tender gets lighter.
    """
    found = []
    pulling = np.isin(journey.limit, (records.ADHESION, records.CYLINDERS, records.STEAM))
    acceleration = 0.5 * np.diff(journey.speed**2) / np.diff(journey.chainage)
    slowing = journey.speed[1:] <= journey.speed[:-1] + 1e-9
    creeping = (acceleration < CREEP_ACCELERATION) & (
        _distance_since_unrestricted(journey, pulling) > ACCELERATION_DISTANCE
    )
    for climb in climbs(journey):
        steps = np.arange(climb.first, climb.last)
        held = steps[(pulling & (slowing | creeping))[steps]]
        if len(held) == 0:
            continue
        speeds = np.where(slowing, journey.speed[1:], journey.speed[:-1])
        worst = int(held[np.argmin(speeds[held])])
        found.append(_climb_finding(journey, climb, worst, float(speeds[worst])))
    return found


def _distance_since_unrestricted(journey: Journey, pulling: npt.NDArray[np.bool_]) -> Floats:
    """Distance of each step from the last place where the train stood, or the line kept its speed, shape (n,) [m]."""
    free = np.concatenate([[True], ~pulling])[:-1] | (journey.speed[:-1] == 0.0)
    last = np.maximum.accumulate(np.where(free, np.arange(len(free)), 0))
    return np.asarray(journey.chainage[:-1] - journey.chainage[last])


def _climb_finding(journey: Journey, climb: StepRange, worst: int, speed: float) -> Finding:
    criteria = journey.excursion.criteria
    margin = margin_above(speed, criteria.min_climbing_speed)
    chainage = float(journey.chainage[worst + 1])
    falls = float(journey.speed[worst + 1]) <= speed
    return Finding(
        rule="climb",
        verdict=verdict_for(margin, criteria.tight_margin),
        place=location_name(journey, chainage),
        chainage=chainage,
        value=speed,
        limit=criteria.min_climbing_speed,
        kind="speed",
        margin=margin,
        because=f"she {'falls to' if falls else 'creeps at'} {{speed}} on a climb of {{length}}, "
        f"at {{grade}} under the train, held by {limiting_factor(journey, int(journey.limit[worst]))}",
        remedy=remedy_for(journey, int(journey.limit[worst]), chainage)
        if margin < criteria.tight_margin
        else "",
        facts={
            "speed": (speed, "speed"),
            "length": (float(journey.chainage[climb.last] - journey.chainage[climb.first]), "distance"),
            "grade": (float(journey.grade[worst]), "grade"),
        },
    )


def couplers(journey: Journey) -> list[Finding]:
    """Greatest pull in a coupler of the train against what the weakest may see."""
    pull = coupler_force(journey)
    if len(pull) == 0:
        return []
    worst = int(np.argmax(pull))
    limit = journey.excursion.train.max_coupler_pull
    criteria = journey.excursion.criteria
    value = float(pull[worst])
    margin = margin_below(value, limit)
    chainage = float(journey.chainage[worst])
    return [
        Finding(
            rule="coupler",
            verdict=verdict_for(margin, criteria.tight_margin),
            place=location_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=limit,
            kind="force",
            margin=margin,
            because="the hardest pulled coupler at {speed}; jerks of the slack come on top and are not computed",
            # Shorter cutoff and less steam hardly change it: it is the start, or the weight on the grade.
            remedy="take cars off, or put part of the pull at the rear"
            if margin < criteria.tight_margin
            else "",
            facts={"speed": (float(journey.speed[worst]), "speed")},
        )
    ]
