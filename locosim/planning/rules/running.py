"""Rules of running: timekeeping, braking, and laws used beyond their data."""

from __future__ import annotations

import math

import numpy as np

from locosim.constants import WATER_DENSITY
from locosim.journey.run import Journey
from locosim.physics.operation.braking import GALTON_SPEEDS, holding_speed, stopping_distance_with_shoes
from locosim.physics.resistance.laws import RANGES
from locosim.physics.types import Floats
from locosim.planning.finding import TIGHT, Finding, at_least, at_most, verdict_of
from locosim.planning.locations import Stretch, falls, place_name

STEEP_FALL = 0.008  # falling grade from which holding the train is judged [1]
LONG_FALL = 500.0  # shorter falls are left out [m]
LIGHT_RUNNING = (
    0.02  # running resistance that helps to hold, on the low side [N/kg]; common practice, no source
)
HALF_SERVICE = 0.5  # of a full service application, the most used to balance a grade [NTSB1990]
BRAKE_TOP = GALTON_SPEEDS[1]  # the table of shoe friction ends here [m/s]


def timekeeping(journey: Journey) -> list[Finding]:
    """Lateness at every advertised time."""
    found = []
    criteria = journey.excursion.criteria
    for record, call in zip(journey.stops, journey.excursion.calls, strict=False):
        late = []
        if call.arrive is not None:
            late.append(("arrival", record.arrive - call.arrive))
        if call.depart is not None and call is not journey.excursion.calls[0]:
            late.append(("departure", record.leave - call.depart))
        for what, value in late:
            margin = at_most(value, criteria.lateness_greatest)
            found.append(
                Finding(
                    rule="time",
                    verdict=verdict_of(margin, criteria.margin_tight),
                    place=call.station,
                    chainage=record.chainage,
                    value=value,
                    limit=criteria.lateness_greatest,
                    kind="time",
                    margin=margin,
                    because=f"{what} is {{late}} {'behind' if value > 0 else 'before'} the advertised time",
                    remedy="give more running time, shorten a stop or lighten the train"
                    if margin < criteria.margin_tight
                    else "",
                    facts={"late": (abs(value), "time")},
                )
            )
    return found


def brake_ratio(journey: Journey) -> Floats:
    """Shoe force of the train over the weight of everything in each step, shape (n,) [1].

    The brakes of engine, tender and assisting engines are not counted, but what they weigh is. Water and fuel
    count at their greatest of the run.
    """
    excursion = journey.excursion
    force = sum(v.brake_ratio * v.tare * v.count for v in excursion.train.vehicles)
    locomotive, train = excursion.locomotive, excursion.train
    # Water in the cars is among what the tender holds.
    mass = locomotive.mass + locomotive.tender.mass_empty + train.mass - WATER_DENSITY * train.water
    mass += float(np.max(journey.tender_water + journey.tender_fuel))
    helped = np.array([helper.mass for helper in journey.helpers]) @ journey.helping
    return np.asarray(force / (mass + helped))


def stopping(journey: Journey) -> list[Finding]:
    """Longest full service stop from the speed and on the grade of the run, of all steps."""
    if len(journey.grade) == 0:
        return []
    criteria = journey.excursion.criteria
    ratio = brake_ratio(journey)
    speed = 0.5 * (journey.speed[:-1] + journey.speed[1:])
    grade = np.minimum(journey.grade, 0.0)
    candidates = _hardest_to_stop(speed, grade, ratio)
    distances = [
        stopping_distance_with_shoes(
            speed=float(speed[i]),
            brake_ratio=float(ratio[i]),
            gradient=float(grade[i]),
            reaction_time=criteria.brake_reaction,
        )
        for i in candidates
    ]
    step, value = max(zip(candidates, distances, strict=True), key=lambda pair: pair[1])
    stops = math.isfinite(value)
    margin = at_most(value, criteria.stopping_distance_greatest)
    chainage = float(journey.chainage[step])
    slower = "run slower there" if ratio[step] > 0.0 else "give the vehicles brakes: every brake_ratio is 0"
    return [
        Finding(
            rule="stopping",
            verdict=verdict_of(margin, criteria.margin_tight),
            place=place_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=criteria.stopping_distance_greatest,
            kind="length",
            margin=margin,
            because=(
                "a full service stop from {speed} at {grade} with the train's shoes at {ratio} of all weight "
                f"{'takes this distance' if stops else 'does not bring it to a stand'}; "
                "the brakes of the engines are not counted"
            ),
            remedy=f"{slower}, or prove the brakes by test" if margin < criteria.margin_tight else "",
            facts={
                "speed": (float(speed[step]), "speed"),
                "grade": (float(journey.grade[step]), "gradient"),
                "ratio": (float(ratio[step]), "ratio"),
            },
            words="" if stops else "does not stop",
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


def holding(journey: Journey) -> list[Finding]:
    """On each long fall: can half a service application hold the speed of the run?"""
    ratio = HALF_SERVICE * brake_ratio(journey)
    return [
        _held(journey, fall, ratio)
        for fall in falls(journey, STEEP_FALL)
        if journey.chainage[fall.last] - journey.chainage[fall.first] >= LONG_FALL
    ]


def _held(journey: Journey, fall: Stretch, ratio: Floats) -> Finding:
    """The worst of a fall; where an assisting engine comes on or off, each part of it is judged by itself."""
    criteria = journey.excursion.criteria
    steps = np.arange(fall.first, fall.last)
    parts = []
    for braked in np.unique(ratio[steps]):
        part = steps[ratio[steps] == braked]
        grade = float(np.min(journey.grade[part]))
        speed = float(max(np.max(journey.speed[part]), np.max(journey.speed[part + 1])))
        holds = float(holding_speed(gradient=grade, brake_ratio=float(braked), resistance=LIGHT_RUNNING))
        margin = at_most(speed, holds)
        if holds >= BRAKE_TOP * 0.999 and speed <= BRAKE_TOP:
            # What shoes hold beyond the end of the table is not known, but they hold all of it.
            margin = max(margin, 1.0)
        parts.append((margin, speed, holds, grade))
    margin, speed, holds, grade = min(parts)
    chainage = float(journey.chainage[fall.first])
    upto, slower = "at no speed", ""
    if holds > 0.0:
        upto, slower = "up to {holds}", "go down slower, set retainers by local rule, or "
    return Finding(
        rule="falling grade",
        verdict=verdict_of(margin, criteria.margin_tight),
        place=place_name(journey, chainage),
        chainage=chainage,
        value=speed,
        limit=holds,
        kind="speed",
        margin=margin,
        because=f"down {{grade}} for {{length}} half a service application holds {upto}; shoes lose friction with "
        "speed and heat",
        remedy=f"{slower}add braked weight" if margin < criteria.margin_tight else "",
        facts={
            "grade": (grade, "gradient"),
            "length": (float(journey.chainage[fall.last] - journey.chainage[fall.first]), "distance"),
            "holds": (holds, "speed"),
        },
    )


def data_range(journey: Journey) -> list[Finding]:
    """Laws of resistance used outside the range they were published for."""
    fastest = float(np.max(journey.speed))
    found = []
    for vehicle in journey.excursion.train.vehicles:
        known = RANGES.get(vehicle.resistance)
        if known is None:
            continue
        for what, value, limit, kind, margin in (
            ("axle load", vehicle.axle_load, known.axle_load_least, "mass",
             at_least(vehicle.axle_load, known.axle_load_least)),
            ("mass", vehicle.mass, known.mass_least, "mass", at_least(vehicle.mass, known.mass_least)),
            ("mass", vehicle.mass, known.mass_most, "mass", at_most(vehicle.mass, known.mass_most)),
            ("speed", fastest, known.speed_most, "speed", at_most(fastest, known.speed_most)),
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
                        because=f"the law {vehicle.resistance} was not published for this {what}",
                        remedy="choose another law, or allow for the doubt",
                    )
                )
    if fastest > BRAKE_TOP:
        found.append(
            Finding(
                rule="data",
                verdict=TIGHT,
                place="whole line",
                chainage=None,
                value=fastest,
                limit=BRAKE_TOP,
                kind="speed",
                margin=at_most(fastest, BRAKE_TOP),
                because="the friction of brake shoes was not published for so high a speed; stops are longer than told",
                remedy="run slower, or prove the brakes by test",
            )
        )
    return found
