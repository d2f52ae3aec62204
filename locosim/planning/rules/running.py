"""Rules of running: timekeeping, braking, and laws used beyond their data."""

from __future__ import annotations

import math

import numpy as np

from locosim.constants import WATER_DENSITY
from locosim.journey.result import Journey
from locosim.physics.operation.braking import GALTON_SPEEDS, max_holding_speed, stopping_distance_with_shoes
from locosim.physics.resistance.laws import PUBLISHED_RANGES
from locosim.physics.types import Floats
from locosim.planning.finding import TIGHT, Finding, margin_above, margin_below, verdict_for
from locosim.planning.locations import StepRange, descents, location_name

STEEP_DESCENT = 0.008  # falling grade from which holding the train is judged [1]
MIN_DESCENT_LENGTH = 500.0  # shorter falls are left out [m]
LOW_RUNNING_RESISTANCE = (
    0.02  # running resistance that helps to hold, on the low side [N/kg]; common practice, no source
)
HALF_SERVICE = 0.5  # of a full service application, the most used to balance a grade [NTSB1990]
MAX_BRAKE_DATA_SPEED = GALTON_SPEEDS[1]  # the table of shoe friction ends here [m/s]


def timekeeping(journey: Journey) -> list[Finding]:
    """Lateness at every advertised time."""
    found = []
    criteria = journey.excursion.criteria
    for record, stop in zip(journey.stops, journey.excursion.stops, strict=False):
        late = []
        if stop.arrive is not None:
            late.append(("arrival", record.arrive - stop.arrive))
        if stop.depart is not None and stop is not journey.excursion.stops[0]:
            late.append(("departure", record.depart - stop.depart))
        for what, value in late:
            margin = margin_below(value, criteria.max_lateness)
            found.append(
                Finding(
                    rule="time",
                    verdict=verdict_for(margin, criteria.tight_margin),
                    place=stop.station,
                    chainage=record.chainage,
                    value=value,
                    limit=criteria.max_lateness,
                    kind="time",
                    margin=margin,
                    because=f"{what} is {{late}} {'behind' if value > 0 else 'before'} the advertised time",
                    remedy="give more running time, shorten a stop or lighten the train"
                    if margin < criteria.tight_margin
                    else "",
                    facts={"late": (abs(value), "time")},
                )
            )
    return found


def braking_ratio(journey: Journey) -> Floats:
    """Shoe force of the train over the weight of everything in each step, shape (n,) [1].

    The brakes of engine, tender and assisting engines are not counted, but what they weigh is. Water and fuel
    count at their greatest of the run.
    """
    excursion = journey.excursion
    force = sum(v.braking_ratio * v.empty_mass * v.count for v in excursion.train.vehicles)
    locomotive, train = excursion.locomotive, excursion.train
    # Water in the cars is among what the tender holds.
    mass = locomotive.mass + locomotive.tender.empty_mass + train.mass - WATER_DENSITY * train.water
    mass += float(np.max(journey.tender_water + journey.tender_fuel))
    helped = np.array([helper.mass for helper in journey.helpers]) @ journey.helper_active
    return np.asarray(force / (mass + helped))


def stopping(journey: Journey) -> list[Finding]:
    """Longest full service stop from the speed and on the grade of the run, of all steps."""
    if len(journey.grade) == 0:
        return []
    criteria = journey.excursion.criteria
    ratio = braking_ratio(journey)
    speed = 0.5 * (journey.speed[:-1] + journey.speed[1:])
    grade = np.minimum(journey.grade, 0.0)
    candidates = _hardest_to_stop(speed, grade, ratio)
    distances = [
        stopping_distance_with_shoes(
            speed=float(speed[i]),
            braking_ratio=float(ratio[i]),
            grade=float(grade[i]),
            reaction_time=criteria.brake_reaction_time,
        )
        for i in candidates
    ]
    step, value = max(zip(candidates, distances, strict=True), key=lambda pair: pair[1])
    stops = math.isfinite(value)
    margin = margin_below(value, criteria.max_stopping_distance)
    chainage = float(journey.chainage[step])
    slower = "run slower there" if ratio[step] > 0.0 else "give the vehicles brakes: every braking_ratio is 0"
    return [
        Finding(
            rule="stopping distance",
            verdict=verdict_for(margin, criteria.tight_margin),
            place=location_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=criteria.max_stopping_distance,
            kind="length",
            margin=margin,
            because=(
                "a full service stop from {speed} at {grade} with the train's shoes at {ratio} of all weight "
                f"{'takes this distance' if stops else 'does not bring it to a stand'}; "
                "the brakes of the engines are not counted"
            ),
            remedy=f"{slower}, or prove the brakes by test" if margin < criteria.tight_margin else "",
            facts={
                "speed": (float(speed[step]), "speed"),
                "grade": (float(journey.grade[step]), "grade"),
                "ratio": (float(ratio[step]), "ratio"),
            },
            value_text="" if stops else "does not stop",
        )
    ]


def _hardest_to_stop(speed: Floats, grade: Floats, ratio: Floats) -> list[int]:
    """Steps among which the longest stop is: for each brake ratio those that no other is both as fast and as steep."""
    found = []
    for braked in np.unique(ratio):
        steps = np.flatnonzero(ratio == braked)
        order = steps[np.lexsort((grade[steps], -speed[steps]))]
        least = np.minimum.accumulate(grade[order])
        found += [int(order[0]), *(int(i) for i in order[1:][least[1:] < least[:-1]])]
    return found


def descending(journey: Journey) -> list[Finding]:
    """On each long fall: can half a service application hold the speed of the run?"""
    ratio = HALF_SERVICE * braking_ratio(journey)
    return [
        _descent_finding(journey, descent, ratio)
        for descent in descents(journey, STEEP_DESCENT)
        if journey.chainage[descent.last] - journey.chainage[descent.first] >= MIN_DESCENT_LENGTH
    ]


def _descent_finding(journey: Journey, descent: StepRange, ratio: Floats) -> Finding:
    """The worst of a fall; where an assisting engine comes on or off, each part of it is judged by itself."""
    criteria = journey.excursion.criteria
    steps = np.arange(descent.first, descent.last)
    parts = []
    for braked in np.unique(ratio[steps]):
        part = steps[ratio[steps] == braked]
        grade = float(np.min(journey.grade[part]))
        speed = float(max(np.max(journey.speed[part]), np.max(journey.speed[part + 1])))
        holds = float(
            max_holding_speed(grade=grade, braking_ratio=float(braked), resistance=LOW_RUNNING_RESISTANCE)
        )
        margin = margin_below(speed, holds)
        if holds >= MAX_BRAKE_DATA_SPEED * 0.999 and speed <= MAX_BRAKE_DATA_SPEED:
            # What shoes hold beyond the end of the table is not known, but they hold all of it.
            margin = max(margin, 1.0)
        parts.append((margin, speed, holds, grade))
    margin, speed, holds, grade = min(parts)
    chainage = float(journey.chainage[descent.first])
    speed_text, slower = "at no speed", ""
    if holds > 0.0:
        speed_text, slower = "up to {holds}", "go down slower, set retainers by local rule, or "
    return Finding(
        rule="descending grade",
        verdict=verdict_for(margin, criteria.tight_margin),
        place=location_name(journey, chainage),
        chainage=chainage,
        value=speed,
        limit=holds,
        kind="speed",
        margin=margin,
        because=f"down {{grade}} for {{length}} half a service application holds {speed_text}; shoes lose friction with "
        "speed and heat",
        remedy=f"{slower}add braked weight" if margin < criteria.tight_margin else "",
        facts={
            "grade": (grade, "grade"),
            "length": (float(journey.chainage[descent.last] - journey.chainage[descent.first]), "distance"),
            "holds": (holds, "speed"),
        },
    )


def data_range(journey: Journey) -> list[Finding]:
    """Laws of resistance used outside the range they were published for."""
    fastest = float(np.max(journey.speed))
    found = []
    for vehicle in journey.excursion.train.vehicles:
        known = PUBLISHED_RANGES.get(vehicle.resistance_law)
        if known is None:
            continue
        for what, value, limit, kind, margin in (
            ("axle load", vehicle.axle_load, known.min_axle_load, "mass",
             margin_above(vehicle.axle_load, known.min_axle_load)),
            ("mass", vehicle.mass, known.min_mass, "mass", margin_above(vehicle.mass, known.min_mass)),
            ("mass", vehicle.mass, known.max_mass, "mass", margin_below(vehicle.mass, known.max_mass)),
            ("speed", fastest, known.max_published_speed, "speed", margin_below(fastest, known.max_published_speed)),
        ):  # fmt: skip
            if margin < 0.0:
                found.append(
                    Finding(
                        rule="data",
                        verdict=TIGHT,
                        place=vehicle.name,
                        chainage=None,
                        value=value,
                        limit=limit,
                        kind=kind,
                        margin=margin,
                        because=f"the law {vehicle.resistance_law} was not published for this {what}",
                        remedy="choose another law, or allow for the doubt",
                    )
                )
    if fastest > MAX_BRAKE_DATA_SPEED:
        found.append(
            Finding(
                rule="data",
                verdict=TIGHT,
                place="whole line",
                chainage=None,
                value=fastest,
                limit=MAX_BRAKE_DATA_SPEED,
                kind="speed",
                margin=margin_below(fastest, MAX_BRAKE_DATA_SPEED),
                because="the friction of brake shoes was not published for so high a speed; stops are longer than told",
                remedy="run slower, or prove the brakes by test",
            )
        )
    return found
