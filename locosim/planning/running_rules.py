"""Rules of running: timekeeping, braking, and laws used beyond their data."""

from __future__ import annotations

import numpy as np

from locosim.journey.journey import Journey
from locosim.physics.braking import GALTON_SPEEDS, holding_speed, stopping_distance_with_shoes
from locosim.physics.resistance import RANGES
from locosim.planning.finding import TIGHT, Finding, at_least, at_most, verdict_of
from locosim.planning.places import falls, place_name

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


def _brake_ratio(journey: Journey) -> float:
    """Shoe force of the train over the weight of everything; the engine's own brake is not counted."""
    excursion = journey.excursion
    force = sum(v.brake_ratio * v.tare * v.count for v in excursion.train.vehicles)
    locomotive = excursion.locomotive
    mass = (
        excursion.train.mass + locomotive.mass + locomotive.tender.mass_empty + float(journey.tender_water[0])
    )
    return force / (mass + float(journey.tender_fuel[0]))


def stopping(journey: Journey) -> list[Finding]:
    """Longest full service stop from the speed and on the grade of the run."""
    if len(journey.grade) == 0:
        return []
    criteria = journey.excursion.criteria
    ratio = _brake_ratio(journey)
    middle = 0.5 * (journey.speed[:-1] + journey.speed[1:])
    order = np.argsort(-(middle**2 / np.maximum(0.05 + journey.grade * 0.5, 0.01)))
    # The longest stop is among the fast steps on steep falls: a sample of them is enough.
    candidates = np.unique(
        np.concatenate([order[:40], [int(np.argmax(middle)), int(np.argmin(journey.grade))]])
    )
    distances = [
        stopping_distance_with_shoes(
            speed=float(middle[i]),
            brake_ratio=ratio,
            gradient=float(min(journey.grade[i], 0.0)),
            reaction_time=criteria.brake_reaction,
        )
        for i in candidates
    ]
    worst = int(np.argmax(distances))
    step = int(candidates[worst])
    value = float(distances[worst])
    margin = at_most(value, criteria.stopping_distance_greatest)
    chainage = float(journey.chainage[step])
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
            because="a full service stop from {speed} at {grade} with the train's shoes at {ratio} of all weight "
            "takes this distance; the engine's brake is not counted",
            remedy="run slower there, or prove the brakes by test" if margin < criteria.margin_tight else "",
            facts={
                "speed": (float(middle[step]), "speed"),
                "grade": (float(journey.grade[step]), "gradient"),
                "ratio": (ratio, "ratio"),
            },
        )
    ]


def holding(journey: Journey) -> list[Finding]:
    """On each long fall: can half a service application hold the speed of the run?"""
    criteria = journey.excursion.criteria
    ratio = HALF_SERVICE * _brake_ratio(journey)
    found = []
    for fall in falls(journey, STEEP_FALL):
        length = float(journey.chainage[fall.last] - journey.chainage[fall.first])
        if length < LONG_FALL:
            continue
        steps = slice(fall.first, fall.last)
        grade = float(np.min(journey.grade[steps]))
        speed = float(np.max(journey.speed[fall.first : fall.last + 1]))
        holds = float(holding_speed(gradient=grade, brake_ratio=ratio, resistance=LIGHT_RUNNING))
        margin = at_most(speed, holds)
        if holds >= BRAKE_TOP * 0.999 and speed <= BRAKE_TOP:
            # What shoes hold beyond the end of the table is not known, but they hold all of it.
            margin = max(margin, 1.0)
        chainage = float(journey.chainage[fall.first])
        found.append(
            Finding(
                rule="falling grade",
                verdict=verdict_of(margin, criteria.margin_tight),
                place=place_name(journey, chainage),
                chainage=chainage,
                value=speed,
                limit=holds,
                kind="speed",
                margin=margin,
                because="down {grade} for {length} half a service application holds up to {holds}; shoes lose "
                "friction with speed and heat",
                remedy="go down slower, set retainers by local rule, or add braked weight"
                if margin < criteria.margin_tight
                else "",
                facts={
                    "grade": (grade, "gradient"),
                    "length": (length, "distance"),
                    "holds": (holds, "speed"),
                },
            )
        )
    return found


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
