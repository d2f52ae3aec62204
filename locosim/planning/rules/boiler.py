"""Rules of the boiler: how hard it steams, its pressure, and the water over the crown sheet."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.journey.result import Journey
from locosim.physics.boiler.fuels import FUELS, scaled_to_heating_value
from locosim.planning.finding import CLEAR, TIGHT, Finding, margin_above, margin_below, verdict_for
from locosim.planning.locations import location_name, step_ranges

MAX_TIME_BELOW_GLASS = (
    60.0  # time the water may be below the glass before it is a warning [s]; our own choice
)
STEAM_AVERAGING_TIME = (
    900.0  # time over which steaming is averaged [s]: stored heat covers a few minutes, not a quarter hour
)

SMALL_DECELERATION = 0.02  # a deceleration that hardly tilts the water [m/s²]; ours
SMALL_GRADE = 0.002  # a grade that hardly does [1]; ours


def steaming(journey: Journey) -> list[Finding]:
    """How hard is the boiler worked over its hardest quarter of an hour?"""
    performance = journey.performance
    auxiliary = performance.locomotive.auxiliaries.continuous_demand
    if len(journey.grade) == 0:
        return []
    # Both ends of each stand, so that a stand draws for the auxiliaries only.
    count = len(journey.time)
    clock, drawn = np.column_stack((journey.time, journey.departure_time)).ravel(), np.zeros(2 * count)
    drawn[2::2] = journey.steam * (journey.time[1:] - journey.departure_time[:-1])
    clock -= clock[0]
    used = np.cumsum(drawn) + auxiliary * clock
    span = min(STEAM_AVERAGING_TIME, float(clock[-1]))
    if span <= 0.0:
        return []
    later = np.interp(clock + span, clock, used)
    starts = clock <= clock[-1] - span + 1e-6
    mean = np.where(starts, (later - used) / span, 0.0)
    # The first of the hardest: where the allowance holds her for long, rounding would choose among them.
    worst = int(np.flatnonzero(mean >= (1.0 - 1e-6) * mean.max())[0])
    binding = performance.supply.binding
    criteria = journey.excursion.criteria
    margin = margin_below(float(mean[worst]), binding.steam)
    if abs(margin) < 1e-6:  # the allowance holds her there, but for rounding
        margin = 0.0
    chainage = float(journey.chainage[worst // 2])
    return [
        Finding(
            rule="steam",
            verdict=verdict_for(margin, criteria.tight_margin),
            place=f"from {location_name(journey, chainage)}",
            chainage=chainage,
            value=float(mean[worst]),
            limit=binding.steam,
            kind="steam_rate",
            margin=margin,
            because=f"over the hardest {{span}} she takes {{mean}}; the boiler keeps up {{limit}}, held by the "
            f"{binding.name}",
            remedy=_steam_remedy(binding.name) if margin < criteria.tight_margin else "",
            facts={
                "span": (span, "time"),
                "mean": (float(mean[worst]), "steam_rate"),
                "limit": (binding.steam, "steam_rate"),
            },
        )
    ]


def pressure(journey: Journey) -> list[Finding]:
    """Least boiler pressure of the run."""
    if not journey.transient_boiler:
        return []
    worst = int(np.argmin(journey.pressure))
    gauge = float(journey.pressure[worst]) - ATMOSPHERE
    working = journey.performance.locomotive.boiler.working_pressure_gauge
    criteria = journey.excursion.criteria
    limit = criteria.min_boiler_pressure * working
    margin = margin_above(gauge, limit)
    chainage = float(journey.chainage[worst])
    return [
        Finding(
            rule="pressure",
            verdict=verdict_for(margin, criteria.tight_margin),
            place=location_name(journey, chainage),
            chainage=chainage,
            value=gauge,
            limit=limit,
            kind="pressure",
            margin=margin,
            because=f"pressure falls to {{gauge}} of {{working}}; the boiler is held by the "
            f"{journey.performance.supply.binding.name}",
            remedy="let the crew draw less steam (crew.steam_allowance), or take cars off"
            if margin < criteria.tight_margin
            else "",
            facts={"gauge": (gauge, "pressure"), "working": (working, "pressure")},
        )
    ]


def crown_cover(journey: Journey) -> list[Finding]:
    """Least water over the highest part of the crown sheet, with the boiler tilted."""
    if not journey.transient_boiler or len(journey.crown_cover) == 0:
        return []
    worst = int(np.argmin(journey.crown_cover))
    value = float(journey.crown_cover[worst])
    criteria = journey.excursion.criteria
    margin = margin_above(value, criteria.min_crown_sheet_cover)
    chainage = float(journey.chainage[worst])
    acceleration = _acceleration(journey, worst)
    glass = float(journey.glass_reading[worst])
    glass_text = (
        "the glass shows {glass}" if glass >= 0.0 else "the water is out of sight, {glass} below the glass"
    )
    return [
        Finding(
            rule="crown sheet",
            verdict=verdict_for(margin, criteria.tight_margin),
            place=location_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=criteria.min_crown_sheet_cover,
            kind="small_length",
            margin=margin,
            because=f"the boiler tilts with {{grade}} and {{acceleration}}; {glass_text}; surging comes on top and is not "
            "computed",
            remedy=_level_remedy(journey, worst, worst + 1) if margin < criteria.tight_margin else "",
            facts={
                "grade": (float(journey.engine_grade[worst]), "grade"),
                "acceleration": (acceleration, "acceleration"),
                "glass": (abs(glass), "small_length"),
            },
        )
    ]


def glass(journey: Journey) -> list[Finding]:
    """Longest time the water is out of sight below the glass, the crown sheet covered or not.

    Nothing here says that the crown sheet is bare; but a crew that sees no water must act as if it were.
    """
    if not journey.transient_boiler or len(journey.glass_reading) == 0:
        return []
    below_glass = step_ranges(journey.glass_reading < 0.0)
    if not below_glass:
        return []
    longest = max(below_glass, key=lambda s: journey.time[s.last] - journey.time[s.first])
    value = float(journey.time[longest.last] - journey.time[longest.first])
    margin = margin_below(value, MAX_TIME_BELOW_GLASS)
    chainage = float(journey.chainage[longest.first])
    lowest = longest.first + int(np.argmin(journey.glass_reading[longest.first : longest.last]))
    tight = margin < journey.excursion.criteria.tight_margin
    return [
        Finding(
            rule="glass",
            # The crown sheet has a rule of its own, which may stop; being blind is a warning.
            verdict=TIGHT if tight else CLEAR,
            place=location_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=MAX_TIME_BELOW_GLASS,
            kind="time",
            margin=margin,
            because="for this long the water stands below the glass, at most {lowest} below, as the boiler tilts with "
            "{grade} and {acceleration}",
            remedy=_level_remedy(journey, longest.first, longest.last) if tight else "",
            facts={
                "lowest": (-float(journey.glass_reading[lowest]), "small_length"),
                "grade": (float(journey.engine_grade[lowest]), "grade"),
                "acceleration": (_acceleration(journey, lowest), "acceleration"),
            },
        )
    ]


def _acceleration(journey: Journey, step: int) -> float:
    """Of the train in a step, below zero when it brakes [m/s²]."""
    run = float(journey.chainage[step + 1] - journey.chainage[step])
    return float(0.5 * (journey.speed[step + 1] ** 2 - journey.speed[step] ** 2) / run)


def _level_remedy(journey: Journey, first: int, last: int) -> str:
    """What raises the water where it is low, over steps up to `last`, by what tilts the boiler there."""
    steps = range(first, last)
    advice = []
    if max(abs(float(journey.engine_grade[i])) for i in steps) > SMALL_GRADE:
        advice.append("fill the boiler before the grade turns")
    if min(_acceleration(journey, i) for i in steps) < -SMALL_DECELERATION:
        advice.append("brake more gently (criteria.service_deceleration)")
    return " and ".join(advice) or "carry more water in the boiler there"


def _steam_remedy(binding: str) -> str:
    """What brings the steam drawn below what the boiler keeps up; better coal raises both where all is drawn."""
    feed = ", or give her a larger feed device" if binding == "feed devices" else ""
    return (
        "take cars off, or let the crew draw less steam (crew.steam_allowance, or the habit steady_steam) and give "
        f"it more time{feed}"
    )


def ash(journey: Journey) -> list[Finding]:
    """Ash that comes on the grate before the fire is cleaned; a warning at most, since grates are shaken on the way."""
    fuel, supply = journey.performance.fuel, journey.performance.supply
    fired_fuel = scaled_to_heating_value(fuel=FUELS[fuel.kind], heating_value=supply.heating_value)
    if FUELS[fuel.kind].ash == 0.0 or len(journey.grade) == 0:
        return []
    cleaned = {call.station for call in journey.excursion.stops if call.clean_fire == "yes"}
    burned, most, place = 0.0, 0.0, 0.0
    ends = [*((stop.fuel_on_arrival, stop) for stop in journey.stops[1:])]
    if not journey.arrived:
        ends.append((float(journey.tender_fuel[-1]), journey.stops[-1]))
    for before, (left, stop) in zip(journey.stops, ends, strict=False):
        burned += before.fuel_on_departure - left
        if burned > most:
            most, place = burned, stop.chainage
        if stop.station in cleaned:
            burned = 0.0
    criteria = journey.excursion.criteria
    value = most * fired_fuel.ash / journey.performance.locomotive.boiler.grate_area
    margin = margin_below(value, criteria.max_ash_per_grate_area)
    return [
        Finding(
            rule="ash",
            verdict=TIGHT if margin < criteria.tight_margin else CLEAR,
            place=location_name(journey, place),
            chainage=place,
            value=value,
            limit=criteria.max_ash_per_grate_area,
            kind="fuel_bed",
            margin=margin,
            because="{burned} of fuel with {ash} of ash since the fire was last cleaned; what a rocking grate shakes "
            "down, and clinker, are not computed",
            remedy="clean the fire at a stop (clean_fire), or shake the grate on the way"
            if margin < criteria.tight_margin
            else "",
            facts={"burned": (most, "mass"), "ash": (fired_fuel.ash, "ratio")},
        )
    ]
