"""Rules of pull: starting, climbing, stalling and couplers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from locosim.journey import records
from locosim.journey.couplers import coupler_pull
from locosim.journey.forces import Demand
from locosim.journey.journey import Journey
from locosim.journey.prepare import rail_at
from locosim.physics.adhesion import CONDITIONS, adhesive_pull
from locosim.physics.real import Floats
from locosim.planning.finding import STOP, Finding, at_least, at_most, verdict_of
from locosim.planning.places import Stretch, climbs, place_name

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
    excursion, performance = journey.excursion, journey.performance
    criteria = excursion.criteria
    chainage = excursion.line.station(station).chainage
    pressure = performance.locomotive.boiler.absolute_pressure
    by_cylinders, _ = performance.map.greatest_pull(speed=0.0, pressure=pressure)
    by_cylinders -= performance.map.friction
    rail = rail_at(journey.excursion, chainage)
    coefficient = CONDITIONS[rail].coefficient
    by_rail = float(adhesive_pull(adhesive_mass=performance.adhesive_mass, coefficient=coefficient))
    helped = min(demand.assist, coefficient * demand.assist_weight)
    pull = min(by_cylinders, by_rail) + helped
    needed = demand.total + demand.inertia * criteria.starting_acceleration
    margin = at_least(pull, needed)
    holds = "the cylinders give" if by_cylinders < by_rail else f"the {rail} rail holds"
    per_mass = (demand.total - helped) / demand.mass + criteria.starting_acceleration
    remedy = ""
    if margin < 0:
        remedy = "take {excess} off the train, place the stop elsewhere, sand the rail or ask for an assisting engine"
    elif margin < criteria.margin_tight:
        remedy = "keep sand dry and start with the slack in"
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
        f"at {{grade}} under the train, held by {holder(journey, worst)}",
        remedy="take cars off, run at the climb faster or ask for an assisting engine"
        if margin < criteria.margin_tight
        else "",
        facts={
            "speed": (speed, "speed"),
            "length": (float(journey.chainage[climb.last] - journey.chainage[climb.first]), "distance"),
            "grade": (float(journey.grade[worst]), "gradient"),
        },
    )


def holder(journey: Journey, step: int) -> str:
    """What held the pull in a step, in words."""
    code = int(journey.limit[step])
    if code == records.STEAM:
        return f"the boiler ({journey.performance.supply.binding.name})"
    return {records.ADHESION: "adhesion", records.CYLINDERS: "the cylinders"}.get(
        code, "nothing but the line speed"
    )


def stalling(journey: Journey) -> list[Finding]:
    """Does the run end where it should?"""
    if journey.arrived:
        return []
    place = place_name(journey, journey.ended_at)
    last = len(journey.grade) - 1
    route = float(journey.excursion.line.station(journey.excursion.calls[-1].station).chainage)
    asked = route - float(journey.chainage[0])
    stalled = "she does not start"
    if last >= 0:
        stalled = f"she comes to a stand at {{grade}} under the train, held by {holder(journey, last)}"
    because = {
        "stalled": stalled,
        "tender empty": "the tender runs dry",
        "fuel gone": "the fuel runs out",
        "pressure lost": "the pressure falls out of the range the engine was computed for",
        "crown sheet bare": "the water falls to where the crown sheet is bare",
    }[journey.outcome]
    remedy = {
        "stalled": "take cars off, ask for an assisting engine, or sand the rail if adhesion holds her",
        "tender empty": "add a water stop or a water car",
        "fuel gone": "add a fuel stop",
    }.get(journey.outcome, "draw less steam, take cars off or mend the feed")
    grade = float(journey.grade[last]) if last >= 0 else 0.0
    return [
        Finding(
            rule="stall" if journey.outcome == "stalled" else "end of run",
            verdict=STOP,
            place=place,
            chainage=journey.ended_at,
            value=journey.distance,
            limit=asked,
            kind="distance",
            margin=at_least(journey.distance, asked),
            because=because + (" {here} after the start" if last >= 0 else ""),
            remedy=remedy,
            facts={"grade": (grade, "gradient"), "here": (journey.distance, "distance")},
        )
    ]


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
            remedy="start more gently, or put part of the pull at the rear"
            if margin < criteria.margin_tight
            else "",
            facts={"speed": (float(journey.speed[worst]), "speed")},
        )
    ]
