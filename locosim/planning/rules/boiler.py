"""Rules of the boiler: steam, pressure, water over the crown sheet and in the glass, and ash."""

from __future__ import annotations

import math

import numpy as np

from locosim.constants import ATMOSPHERE, GRAVITY
from locosim.journey.needs import Need
from locosim.journey.result import Journey
from locosim.physics.boiler.fuels import FUELS, scaled_to_heating_value
from locosim.physics.boiler.water_level import STACK_LEADING, STACK_TRAILING
from locosim.physics.types import Floats
from locosim.planning.finding import (
    Comparison,
    Explanation,
    Finding,
    VerdictScale,
    at_least,
    at_most,
    judge,
)
from locosim.planning.locations import StepRange, location_at, step_ranges

# Below these the boiler hardly tilts, and a remedy does not mention them; our own choice.
SMALL_DECELERATION = 0.02  # [m/s²]
SMALL_GRADE = 0.002  # [1]
LEVEL = 5e-5  # a grade below this is called level [1]
STEADY = 5e-4  # acceleration below which the speed is called steady [m/s²]


NEED_REASONS = {
    "time": "to keep the booked time here",
    "climb": "to keep the climbing speed here",
    "stall": "not to stall here",
}


def steaming(journey: Journey, need: Need) -> list[Finding]:
    """Least steam that keeps the booked times and the climbing speed, against the sustained evaporation.

    Where no steam suffices, because the rail or the cylinders limit the train, it is a note: the rules of time, climb
    and stall judge the train then.
    """
    binding = journey.performance.supply.binding
    scale = VerdictScale(journey.excursion.criteria.tight_margin, note=need.share is None)
    location = location_at(journey, need.chainage)
    if need.share is None:
        compared = Comparison(math.inf, binding.steam, "steam_rate", -math.inf)
        explanation = Explanation(
            because="more steam would not help: rail, cylinders or speed limits set the pace, or the train leaves "
            "too late; see stall, climb and time",
            remedy="see these findings",
            value_text="not what limits the train",
        )
        return [judge("steam", compared, location, scale, explanation)]
    least = need.share * binding.steam
    explanation = Explanation(
        because=f"the run needs {{need}} of steam {NEED_REASONS[need.set_by]}; the sustained evaporation is {{limit}}, "
        f"limited by the {binding.name}",
        remedy=f"take cars off or allow more time{_feed_advice(binding.name)}",
        facts={"need": (least, "steam_rate"), "limit": (binding.steam, "steam_rate")},
    )
    compared = Comparison(least, binding.steam, "steam_rate", 1.0 - need.share)
    return [judge("steam", compared, location, scale, explanation)]


def _feed_advice(binding: str) -> str:
    return ", or fit a larger feed device" if binding == "feed devices" else ""


def pressure(journey: Journey) -> list[Finding]:
    """Lowest boiler pressure of the run.

    A note where the crew may draw more than the sustained evaporation: the pressure is then the crew's doing, and
    `steam` judges the train.
    """
    if not journey.transient_boiler:
        return []
    criteria, performance = journey.excursion.criteria, journey.performance
    worst = int(np.argmin(journey.pressure))
    gauge = float(journey.pressure[worst]) - ATMOSPHERE
    working = performance.locomotive.boiler.working_pressure_gauge
    allowance = journey.excursion.crew.steam_allowance
    overdraws = allowance > 1.0
    drawn = (
        "; the crew may draw {allowance} of the sustained evaporation, so that this is its doing"
        if overdraws
        else ""
    )
    explanation = Explanation(
        because="pressure falls to {gauge} of {working}; the boiler is limited by the "
        f"{performance.supply.binding.name}{drawn}",
        remedy="use less steam (crew.steam_allowance), or take cars off",
        facts={
            "gauge": (gauge, "pressure"),
            "working": (working, "pressure"),
            "allowance": (allowance, "ratio"),
        },
    )
    compared = at_least(gauge, criteria.min_boiler_pressure * working, "pressure")
    location = location_at(journey, float(journey.chainage[worst]))
    scale = VerdictScale(criteria.tight_margin, note=overdraws)
    return [judge("pressure", compared, location, scale, explanation)]


def crown_cover(journey: Journey) -> list[Finding]:
    """Least water over the highest part of the crown sheet, with the boiler tilted."""
    if not journey.transient_boiler or len(journey.crown_cover) == 0:
        return []
    criteria = journey.excursion.criteria
    worst = int(np.argmin(journey.crown_cover))
    acceleration = _acceleration(journey, worst)
    glass = float(journey.glass_reading[worst])
    glass_text = "water in the glass {glass}" if glass >= 0.0 else "water {glass} below the glass"
    explanation = Explanation(
        because=f"{_track(journey, worst)}{_motion(acceleration)}, {glass_text}; surging comes on top and is not "
        "computed",
        remedy=_level_remedy(journey, worst),
        facts={
            "grade": (abs(float(journey.engine_grade[worst])), "grade"),
            "acceleration": (abs(acceleration), "acceleration"),
            "glass": (abs(glass), "small_length"),
        },
    )
    cover = float(journey.crown_cover[worst])
    compared = at_least(cover, criteria.min_crown_sheet_cover, "small_length")
    location = location_at(journey, float(journey.chainage[worst]))
    return [judge("crown sheet", compared, location, VerdictScale(criteria.tight_margin), explanation)]


def water_glass(journey: Journey) -> list[Finding]:
    """Longest time with the water out of sight below the glass by grade and feed, whether or not the crown is covered.

    The tilt while the train gains or loses speed is left out, and judged by `water_glass_in_braking`. The crown sheet
    has its own rule, but a crew that sees no water must act as if it were bare.
    """
    if not journey.transient_boiler or len(journey.glass_reading) == 0:
        return []
    glass = _glass_at_steady_speed(journey)
    longest = _longest_below(journey, glass)
    if longest is None:
        lowest = first = int(np.argmin(glass))
        words = "the water stands lowest {lowest} above the bottom of the glass"
    else:
        lowest, first = longest.first + int(np.argmin(glass[longest.first : longest.last])), longest.first
        words = "the water is out of sight below the glass, by up to {lowest}"
    explanation = Explanation(
        because=f"{words}, {_track(journey, lowest)} at steady speed",
        remedy="fill the boiler before the grade changes, or carry more water in it",
        facts={
            "lowest": (abs(float(glass[lowest])), "small_length"),
            "grade": (abs(float(journey.engine_grade[lowest])), "grade"),
        },
        value_text="" if longest else "in sight throughout",
    )
    return [_glass_finding(journey, "water glass", longest, first, explanation)]


def water_glass_in_braking(journey: Journey) -> list[Finding]:
    """Longest time with the water out of sight while speed is gained or lost, where it is in sight at steady speed."""
    if not journey.transient_boiler or len(journey.glass_reading) == 0:
        return []
    glass = np.where(_glass_at_steady_speed(journey) < 0.0, np.inf, journey.glass_reading)
    longest = _longest_below(journey, glass)
    if longest is None:
        return []
    lowest = longest.first + int(np.argmin(glass[longest.first : longest.last]))
    acceleration = _acceleration(journey, lowest)
    explanation = Explanation(
        because="the water is out of sight below the glass, by up to {lowest}, "
        f"{_track(journey, lowest)}{_motion(acceleration)}, and comes back at steady speed",
        remedy="brake more gently (criteria.service_deceleration)",
        facts={
            "lowest": (-float(glass[lowest]), "small_length"),
            "grade": (abs(float(journey.engine_grade[lowest])), "grade"),
            "acceleration": (abs(acceleration), "acceleration"),
        },
    )
    return [_glass_finding(journey, "glass in braking", longest, longest.first, explanation)]


def _glass_at_steady_speed(journey: Journey) -> Floats:
    """Water in the glass without the tilt by acceleration, in each step [m]; of first order in it."""
    excursion = journey.excursion
    leading = STACK_LEADING if excursion.engine_facing == "stack_first" else STACK_TRAILING
    gained = 0.5 * np.diff(journey.speed**2) / np.diff(journey.chainage)
    length = excursion.locomotive.boiler.water_space_length or 0.0
    return np.asarray(journey.glass_reading - 0.5 * length * leading * gained / GRAVITY)


def _longest_below(journey: Journey, glass: Floats) -> StepRange | None:
    """The longest range of steps with the water below the glass; None where there is none."""
    return max(
        step_ranges(glass < 0.0), key=lambda s: journey.time[s.last] - journey.time[s.first], default=None
    )


def _glass_finding(
    journey: Journey, rule: str, below: StepRange | None, first: int, explanation: Explanation
) -> Finding:
    """Finding of the time below the glass, at the step where it begins."""
    duration = 0.0 if below is None else float(journey.time[below.last] - journey.time[below.first])
    compared = at_most(duration, journey.excursion.assumptions.max_time_below_glass, "time")
    location = location_at(journey, float(journey.chainage[first]))
    return judge(rule, compared, location, VerdictScale(journey.excursion.criteria.tight_margin), explanation)


def _acceleration(journey: Journey, step: int) -> float:
    """Acceleration of the train in a step, negative when it brakes [m/s²]."""
    run = float(journey.chainage[step + 1] - journey.chainage[step])
    return float(0.5 * (journey.speed[step + 1] ** 2 - journey.speed[step] ** 2) / run)


def _track(journey: Journey, step: int) -> str:
    """Words for the grade under the engine in a step."""
    grade = float(journey.engine_grade[step])
    if abs(grade) < LEVEL:
        return "on level track"
    return f"on a {'rising' if grade > 0.0 else 'falling'} grade of {{grade}}"


def _motion(acceleration: float) -> str:
    """Words for the acceleration of the train, as a fact without sign; empty at steady speed."""
    if abs(acceleration) < STEADY:
        return ""
    return f" while {'gaining' if acceleration > 0.0 else 'losing'} speed at {{acceleration}}"


def _level_remedy(journey: Journey, step: int) -> str:
    """Remedy for low water in a step, by what tilts the boiler there."""
    advice = []
    if abs(float(journey.engine_grade[step])) > SMALL_GRADE:
        advice.append("fill the boiler before the grade changes")
    if _acceleration(journey, step) < -SMALL_DECELERATION:
        advice.append("brake more gently (criteria.service_deceleration)")
    return " and ".join(advice) or "carry more water in the boiler there"


def ash(journey: Journey) -> list[Finding]:
    """Ash on the grate before the fire is cleaned; a note, since grates are shaken on the way."""
    performance, criteria = journey.performance, journey.excursion.criteria
    fuel = FUELS[performance.fuel.kind]
    share = scaled_to_heating_value(fuel=fuel, heating_value=performance.supply.heating_value).ash
    if share < 1e-9 or len(journey.grade) == 0:  # rounding may leave oil a trace
        return []
    worst = int(np.argmax(journey.grate_ash))
    burned = float(journey.grate_ash[worst]) / share
    explanation = Explanation(
        because="{burned} of fuel with {ash} of ash since the fire was last cleaned; clinker, and what a rocking grate "
        "shakes down, are not computed",
        remedy="clean the fire at a stop (clean_fire), or shake the grate on the way",
        facts={"burned": (burned, "mass"), "ash": (share, "ratio")},
    )
    per_area = float(journey.grate_ash[worst]) / performance.locomotive.boiler.grate_area
    compared = at_most(per_area, criteria.max_ash_per_grate_area, "fuel_bed")
    scale = VerdictScale(criteria.tight_margin, note=True)
    location = location_at(journey, float(journey.chainage[worst]))
    return [judge("ash", compared, location, scale, explanation)]
