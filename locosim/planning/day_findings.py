"""Findings for a day: what the check of a leg by itself cannot see."""

from __future__ import annotations

import math

import numpy as np

from locosim.constants import WATER_DENSITY
from locosim.journey.result import Journey
from locosim.model.day import Day, Leg
from locosim.planning.answer import Answer
from locosim.planning.duty import Duty
from locosim.planning.finding import (
    Explanation,
    Finding,
    Location,
    VerdictScale,
    at_least,
    at_most,
    judge,
)
from locosim.planning.helper_duty import Help
from locosim.planning.layover import LayoverRecord


def layover_time(day: Day, number: int, record: LayoverRecord) -> Finding:
    """Time at hand in a layover against the time that its work takes."""
    explanation = Explanation(
        because=(
            f"the work before leg {number} takes {{work}}; {{at_hand}} is left from the arrival to the booked departure"
            + ("; the leg departs {delay} late" if record.delay > 0.0 else "")
        ),
        remedy=f"depart later with leg {number}, arrive earlier with the leg before, or do less in the layover",
        facts={
            "work": (record.work, "time"),
            "at_hand": (max(record.at_hand, 0.0), "time"),
            "delay": (record.delay, "time"),
        },
    )
    compared = at_least(record.at_hand, record.work, "time")
    return judge(
        "layover", compared, Location(record.station, None), _scale(day.legs[number - 1]), explanation
    )


def turning(day: Day, number: int) -> list[Finding]:
    """Length of turntable or wye at the place against the engine, or engine and train, that it must take."""
    leg = day.legs[number - 1]
    if leg.layover.turn == "no":
        return []
    engine = leg.excursion.locomotive
    station = leg.excursion.route.station(leg.origin)
    over_couplers = engine.length + engine.tender.length
    name = "turntable" if leg.layover.turn == "turntable" else "wye"
    length, needed = station.wye_length, over_couplers
    if name == "turntable":
        length, needed = station.turntable_length, engine.wheelbase or over_couplers
    elif leg.layover.turn == "wye_with_train":
        needed += day.legs[number - 2].excursion.train.length
    what = "engine and train" if leg.layover.turn == "wye_with_train" else "the engine"
    by = "over couplers" if needed == over_couplers or name == "wye" else "of wheelbase"
    explanation = Explanation(
        because=(
            f"the {name} is {{length}} long; {what} {'need' if 'and' in what else 'needs'} {{needed}} {by}"
            if length > 0.0
            else f"{_plain(station.name)} has no {name} in the route; {what} would need {{needed}}"
        ),
        remedy=f"run the next leg {engine.rear_end} first, turn elsewhere, or give {_plain(station.name)} a "
        f"{name}_length",
        facts={"length": (length, "length"), "needed": (needed, "length")},
    )
    # Turned or not: a table that just fits is no tighter than one with room to spare.
    return [
        judge(
            "turning",
            at_least(length, needed, "length"),
            Location(station.name, None),
            VerdictScale(),
            explanation,
        )
    ]


def tender_first(leg: Leg, answer: Answer) -> list[Finding]:
    """Speed run tender first, which the check limits only where the engine file does; a note without a limit."""
    excursion = leg.excursion
    engine = excursion.locomotive
    if excursion.engine_facing != "tender_first":
        return []
    highest = float(np.max(answer.journey.speed))
    limit = engine.max_speed_tender_first
    radii = [curve.radius for curve in excursion.route.curves]
    sharpest = "; the sharpest curve of the line is {curve}" if radii else ""
    unlimited = "" if limit else " (the engine has no max_speed_tender_first)"
    explanation = Explanation(
        because=(
            f"{excursion.facing}, up to {{speed}}{unlimited}{sharpest}; the lookout past the {engine.rear_end}, its "
            "riding and its flanges on curves are for the railroad to judge, and the resistance is computed as for "
            "stack first"
        ),
        remedy="give the engine max_speed_tender_first, from the rules of the railroad",
        facts={"speed": (highest, "speed"), "curve": (min(radii, default=0.0), "curve")},
    )
    compared = at_most(highest, limit, "speed") if limit else at_most(highest, math.inf, "speed")
    # With a limit the run keeps it; without one nothing is judged.
    if limit is None:
        compared = compared._replace(margin=-math.inf)
    scale = VerdictScale(note=True)
    return [
        judge(
            excursion.facing,
            compared,
            Location(f"{leg.origin} to {leg.destination}", None),
            scale,
            explanation,
        )
    ]


def start_supplies(leg: Leg, number: int, record: LayoverRecord, answer: Answer) -> list[Finding]:
    """Water and fuel at the start of a leg against what it uses to its first supply, with the reserve."""
    if record.water is None or record.fuel is None:
        return []
    journey, criteria, tender = answer.journey, leg.excursion.criteria, leg.excursion.locomotive.tender
    reserve = criteria.water_reserve * WATER_DENSITY * tender.water_capacity
    return [
        _start_finding(leg, number, journey, "water", record.water.start, reserve),
        _start_finding(
            leg, number, journey, "fuel", record.fuel.start, criteria.fuel_reserve * tender.fuel_capacity
        ),
    ]


def _start_finding(
    leg: Leg, number: int, journey: Journey, what: str, start: float, reserve: float
) -> Finding:
    kind = "water" if what == "water" else "mass"
    place, used = _first_supply(leg, journey, what, start)
    explanation = Explanation(
        because=(
            f"leg {number} starts with {{start}} of {what}; to {_plain(place)} it uses {{used}}, and the reserve is "
            "{reserve}"
        ),
        remedy=f"take more {what} before leg {number}",
        facts={"start": (start, kind), "used": (used, kind), "reserve": (reserve, kind)},
    )
    compared = at_least(start, used + reserve, kind)
    return judge(f"{what} at start", compared, Location(leg.origin, None), _scale(leg), explanation)


def _first_supply(leg: Leg, journey: Journey, what: str, start: float) -> tuple[str, float]:
    """First stop reached where water or fuel is taken, or else the end, and what is used up to there [kg]."""
    key, left = f"take_{what}", f"{what}_on_arrival"
    for record, stop in list(zip(journey.stops, leg.excursion.stops, strict=False))[1:]:
        if getattr(stop, key) == "fill" or stop is leg.excursion.stops[-1]:
            return record.station, start - getattr(record, left)
    rest = journey.tender_water if what == "water" else journey.tender_fuel
    return "the end of the run", start - float(rest[-1])


def no_supplies_left(leg: Leg, number: int, record: LayoverRecord) -> list[Finding]:
    """A stop for water or fuel that is used up before the leg departs; none where there is some of both."""
    found = []
    for what, carried in (("water", record.water), ("fuel", record.fuel)):
        if carried is not None and carried.start <= 0.0:
            explanation = Explanation(
                because=f"the {what} is used up before leg {number} departs",
                remedy=f"take {what} before leg {number}",
            )
            kind = "water" if what == "water" else "mass"
            compared = at_least(carried.start, 1.0, kind)
            found.append(
                judge(f"{what} at start", compared, Location(leg.origin, None), _scale(leg), explanation)
            )
    return found


def crew_hours(day: Day, duty: Duty) -> list[Finding]:
    """Time on duty, and time without a break, of one crew against the limits of the day."""
    hours, scale = day.crew_hours, _scale(day.legs[duty.first_leg - 1])
    found = []
    if hours.max_time is not None:
        explanation = Explanation(
            because=f"{_plain(duty.crew)} is on duty from {{start}} to {{end}}, preparing and putting away included",
            remedy="relieve this crew, or cut the helper off sooner"
            if duty.is_helper
            else "shorten the layovers, or give a later leg another crew",
            facts={"start": (duty.start, "clock"), "end": (duty.end, "clock")},
        )
        compared = at_most(duty.time, hours.max_time, "time")
        found.append(judge("crew hours", compared, Location(duty.crew, None), scale, explanation))
    if hours.max_time_without_break is not None:
        count = len(duty.breaks)
        explanation = Explanation(
            because=f"{_plain(duty.crew)} has {count or 'no'} break{'' if count == 1 else 's'} of at least {{least}}",
            remedy="relieve this crew"
            if duty.is_helper
            else "give a layover a break_time, or more time than its work takes",
            facts={"least": (hours.min_break, "time")},
        )
        compared = at_most(duty.time_without_break, hours.max_time_without_break, "time")
        found.append(judge("time without break", compared, Location(duty.crew, None), scale, explanation))
    return found


def helper_supplies(help: Help) -> list[Finding]:
    """Water and fuel of a steam helper from its coupling on to its return, against a full tender with the reserve."""
    used = help.used
    if used is None:
        return []
    criteria = help.journey.excursion.criteria
    held = help.tender
    return [
        _helper_finding(help, "water", used.water, held[0], criteria.water_reserve),
        _helper_finding(help, "fuel", used.fuel, held[1], criteria.fuel_reserve),
    ]


def _helper_finding(help: Help, what: str, used: float, held: float, reserve: float) -> Finding:
    kind = "water" if what == "water" else "mass"
    back = f" and back light to {_plain(help.coupled)}" if help.back else ""
    explanation = Explanation(
        because=(
            f"{_plain(help.engine)} helps on leg {help.leg} from {_plain(help.coupled)} to {_plain(help.cut_off)}"
            f"{back}; its tender holds {{held}} and is full when it is coupled on; the reserve is {{reserve}}"
        ),
        remedy=f"let the helper take {what} where it is cut off, or cut it off sooner",
        facts={"held": (held, kind), "reserve": (reserve * held, kind)},
    )
    compared = at_least(held, used + reserve * held, kind)
    place = Location(f"helper {help.engine}", None)
    return judge(
        f"helper {what}",
        compared,
        place,
        VerdictScale(help.journey.excursion.criteria.tight_margin),
        explanation,
    )


def _plain(name: str) -> str:
    """A name for a text with figures, whose braces are no figures."""
    return name.replace("{", "{{").replace("}", "}}")


def _scale(leg: Leg) -> VerdictScale:
    return VerdictScale(leg.excursion.criteria.tight_margin)
