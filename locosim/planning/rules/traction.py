"""Rules of pull: starting, climbing and couplers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from locosim.journey.coupler_force import coupler_pull
from locosim.journey.kernel import arrays as records
from locosim.journey.run import Journey
from locosim.journey.setup.prepare import rail_at
from locosim.journey.setup.train_forces import Demand
from locosim.physics.traction.adhesion import CONDITIONS
from locosim.physics.types import Floats
from locosim.planning.finding import Finding, at_least, at_most, verdict_of
from locosim.planning.locations import Stretch, climbs, place_name
from locosim.planning.rules.stall import SANDED, at_rest, holder, more_pull

STARTING_WAY = (
    1000.0  # from a stand or the end of a speed limit, in which gaining speed is no climbing [m]; ours
)
GAIN = 0.02  # acceleration up to which a train beyond that is taken to creep [m/s²]; ours


def starting(journey: Journey) -> list[Finding]:
    """Can she start at every stop, on its grade and its rail, with the acceleration asked for?"""
    calls = journey.excursion.calls[:-1]
    return [
        _start_at(journey, call.station, demand) for call, demand in zip(calls, journey.demands, strict=True)
    ]


def _start_at(journey: Journey, station: str, demand: Demand) -> Finding:
    excursion = journey.excursion
    criteria = excursion.criteria
    chainage = excursion.line.station(station).chainage
    by_cylinders, by_rail = at_rest(journey, chainage)
    rail = rail_at(excursion, chainage)
    coefficient = CONDITIONS[rail].coefficient
    helped = min(demand.assist, coefficient * demand.assist_weight)
    pull = min(by_cylinders, by_rail) + helped
    needed = demand.total + demand.inertia * criteria.starting_acceleration
    margin = at_least(pull, needed)
    holds = "the cylinders give" if by_cylinders < by_rail else f"the {rail} rail holds"
    per_mass = (demand.total - helped) / demand.mass + criteria.starting_acceleration
    remedy = ""
    if margin < 0:
        sand = ", sand the rail" if by_rail < by_cylinders and rail != SANDED else ""
        remedy = (
            f"take {{excess}} off the train, place the stop elsewhere{sand} or ask for an assisting engine"
        )
    elif margin < criteria.margin_tight:
        remedy = f"{'keep sand dry and ' if by_rail < by_cylinders else ''}start with the slack in"
    return Finding(
        rule="start",
        verdict=verdict_of(margin, criteria.margin_tight),
        place=station,
        chainage=chainage,
        value=pull,
        limit=needed,
        kind="force",
        margin=margin,
        because=(
            f"{holds} {{own}} at the rim{', assistance {helped}' if helped else ''}; breaking away takes {{starting}}, "
            "gravity {gravity}, curves {curve} and {acceleration} of acceleration the rest"
        ),
        remedy=remedy,
        facts={
            "own": (pull - helped, "force"),
            "helped": (helped, "force"),
            "starting": (demand.starting, "force"),
            "gravity": (demand.gravity, "force"),
            "curve": (demand.curve, "force"),
            "acceleration": (criteria.starting_acceleration, "acceleration"),
            "excess": (max(needed - pull, 0.0) / max(per_mass, 0.02), "mass"),
        },
    )


def climbing(journey: Journey) -> list[Finding]:
    """Least speed on every climb, away from where a stop or a speed limit keeps it low.

    Beyond `STARTING_WAY` from where it was kept low last, a step that gains no more than `GAIN` counts too: a
    train that starts on the grade and creeps up it gains a little all the way, as its tender gets lighter.
    """
    found = []
    pulling = np.isin(journey.limit, (records.ADHESION, records.CYLINDERS, records.STEAM))
    gain = 0.5 * np.diff(journey.speed**2) / np.diff(journey.chainage)
    slowing = journey.speed[1:] <= journey.speed[:-1] + 1e-9
    creeping = (gain < GAIN) & (_since_free(journey, pulling) > STARTING_WAY)
    for climb in climbs(journey):
        steps = np.arange(climb.first, climb.last)
        held = steps[(pulling & (slowing | creeping))[steps]]
        if len(held) == 0:
            continue
        speeds = np.where(slowing, journey.speed[1:], journey.speed[:-1])
        worst = int(held[np.argmin(speeds[held])])
        found.append(_climb(journey, climb, worst, float(speeds[worst])))
    return found


def _since_free(journey: Journey, pulling: npt.NDArray[np.bool_]) -> Floats:
    """Distance of each step from the last place where the train stood, or the line kept its speed, shape (n,) [m]."""
    free = np.concatenate([[True], ~pulling])[:-1] | (journey.speed[:-1] == 0.0)
    last = np.maximum.accumulate(np.where(free, np.arange(len(free)), 0))
    return np.asarray(journey.chainage[:-1] - journey.chainage[last])


def _climb(journey: Journey, climb: Stretch, worst: int, speed: float) -> Finding:
    criteria = journey.excursion.criteria
    margin = at_least(speed, criteria.climbing_speed_least)
    chainage = float(journey.chainage[worst + 1])
    falls = float(journey.speed[worst + 1]) <= speed
    return Finding(
        rule="climb",
        verdict=verdict_of(margin, criteria.margin_tight),
        place=place_name(journey, chainage),
        chainage=chainage,
        value=speed,
        limit=criteria.climbing_speed_least,
        kind="speed",
        margin=margin,
        because=f"she {'falls to' if falls else 'creeps at'} {{speed}} on a climb of {{length}}, "
        f"at {{grade}} under the train, held by {holder(journey, int(journey.limit[worst]))}",
        remedy=more_pull(journey, int(journey.limit[worst]), chainage)
        if margin < criteria.margin_tight
        else "",
        facts={
            "speed": (speed, "speed"),
            "length": (float(journey.chainage[climb.last] - journey.chainage[climb.first]), "distance"),
            "grade": (float(journey.grade[worst]), "gradient"),
        },
    )


def couplers(journey: Journey) -> list[Finding]:
    """Greatest pull in a coupler of the train against what the weakest may see."""
    pull = coupler_pull(journey)
    if len(pull) == 0:
        return []
    worst = int(np.argmax(pull))
    limit = journey.excursion.train.coupler_pull_greatest
    criteria = journey.excursion.criteria
    value = float(pull[worst])
    margin = at_most(value, limit)
    chainage = float(journey.chainage[worst])
    return [
        Finding(
            rule="coupler",
            verdict=verdict_of(margin, criteria.margin_tight),
            place=place_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=limit,
            kind="force",
            margin=margin,
            because="the hardest pulled coupler at {speed}; jerks of the slack come on top and are not computed",
            # Shorter cutoff and less steam hardly change it: it is the start, or the weight on the grade.
            remedy="take cars off, or put part of the pull at the rear"
            if margin < criteria.margin_tight
            else "",
            facts={"speed": (float(journey.speed[worst]), "speed")},
        )
    ]
