"""Rules of the boiler: how hard it steams, its pressure, and the water over the crown sheet."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.journey.journey import Journey
from locosim.planning.finding import CLEAR, TIGHT, Finding, at_least, at_most, verdict_of
from locosim.planning.places import place_name, stretches

OUT_OF_SIGHT = 60.0  # time the water may be below the glass before it is a warning [s]; our own choice
HARD_SPELL = (
    900.0  # time over which steaming is averaged [s]: stored heat covers a few minutes, not a quarter hour
)


def steaming(journey: Journey) -> list[Finding]:
    """How hard is the boiler worked over its hardest quarter of an hour?"""
    performance = journey.performance
    auxiliary = performance.locomotive.auxiliaries.steady
    if len(journey.grade) == 0:
        return []
    # Both ends of each stand, so that a stand draws for the auxiliaries only.
    count = len(journey.time)
    clock, drawn = np.column_stack((journey.time, journey.leaving)).ravel(), np.zeros(2 * count)
    drawn[2::2] = journey.steam * (journey.time[1:] - journey.leaving[:-1])
    clock -= clock[0]
    used = np.cumsum(drawn) + auxiliary * clock
    span = min(HARD_SPELL, float(clock[-1]))
    if span <= 0.0:
        return []
    later = np.interp(clock + span, clock, used)
    starts = clock <= clock[-1] - span + 1e-6
    mean = np.where(starts, (later - used) / span, 0.0)
    worst = int(np.argmax(mean))
    binding = performance.supply.binding
    criteria = journey.excursion.criteria
    margin = at_most(float(mean[worst]), binding.steam)
    if -1e-6 < margin < 0.0:
        margin = 0.0
    chainage = float(journey.chainage[worst // 2])
    return [
        Finding(
            rule="steam",
            verdict=verdict_of(margin, criteria.margin_tight),
            place=f"from {place_name(journey, chainage)}",
            chainage=chainage,
            value=float(mean[worst]),
            limit=binding.steam,
            kind="steam_rate",
            margin=margin,
            because=f"over the hardest {{span}} she takes {{mean}}; the boiler keeps up {{limit}}, held by the "
            f"{binding.name}",
            remedy="take cars off, ease the timetable, or fire better coal"
            if margin < criteria.margin_tight
            else "",
            facts={
                "span": (span, "time"),
                "mean": (float(mean[worst]), "steam_rate"),
                "limit": (binding.steam, "steam_rate"),
            },
        )
    ]


def pressure(journey: Journey) -> list[Finding]:
    """Least boiler pressure of the run."""
    if not journey.live_boiler:
        return []
    worst = int(np.argmin(journey.pressure))
    gauge = float(journey.pressure[worst]) - ATMOSPHERE
    working = journey.performance.locomotive.boiler.working_pressure_gauge
    criteria = journey.excursion.criteria
    limit = criteria.pressure_least * working
    margin = at_least(gauge, limit)
    chainage = float(journey.chainage[worst])
    return [
        Finding(
            rule="pressure",
            verdict=verdict_of(margin, criteria.margin_tight),
            place=place_name(journey, chainage),
            chainage=chainage,
            value=gauge,
            limit=limit,
            kind="pressure",
            margin=margin,
            because=f"pressure falls to {{gauge}} of {{working}}; the boiler is held by the "
            f"{journey.performance.supply.binding.name}",
            remedy="draw less steam before the climb, or take cars off"
            if margin < criteria.margin_tight
            else "",
            facts={"gauge": (gauge, "pressure"), "working": (working, "pressure")},
        )
    ]


def crown_cover(journey: Journey) -> list[Finding]:
    """Least water over the highest part of the crown sheet, with the boiler tilted."""
    if not journey.live_boiler or len(journey.crown_cover) == 0:
        return []
    worst = int(np.argmin(journey.crown_cover))
    value = float(journey.crown_cover[worst])
    criteria = journey.excursion.criteria
    margin = at_least(value, criteria.crown_cover_least)
    chainage = float(journey.chainage[worst])
    run = float(journey.chainage[worst + 1] - journey.chainage[worst])
    acceleration = float(0.5 * (journey.speed[worst + 1] ** 2 - journey.speed[worst] ** 2) / run)
    glass = float(journey.glass[worst])
    seen = "the glass shows {glass}" if glass >= 0.0 else "the water is out of sight, {glass} below the glass"
    return [
        Finding(
            rule="crown sheet",
            verdict=verdict_of(margin, criteria.margin_tight),
            place=place_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=criteria.crown_cover_least,
            kind="small_length",
            margin=margin,
            because=f"the boiler tilts with {{grade}} and {{acceleration}}; {seen}; surging comes on top and is not "
            "computed",
            remedy="fill the boiler before the grade turns, and brake gently there"
            if margin < criteria.margin_tight
            else "",
            facts={
                "grade": (float(journey.engine_grade[worst]), "gradient"),
                "acceleration": (acceleration, "acceleration"),
                "glass": (abs(glass), "small_length"),
            },
        )
    ]


def glass(journey: Journey) -> list[Finding]:
    """Longest time the water is out of sight below the glass, the crown sheet covered or not.

    Nothing here says that the crown sheet is bare; but a crew that sees no water must act as if it were.
    """
    if not journey.live_boiler or len(journey.glass) == 0:
        return []
    unseen = stretches(journey.glass < 0.0)
    if not unseen:
        return []
    longest = max(unseen, key=lambda s: journey.time[s.last] - journey.time[s.first])
    value = float(journey.time[longest.last] - journey.time[longest.first])
    margin = at_most(value, OUT_OF_SIGHT)
    chainage = float(journey.chainage[longest.first])
    lowest = float(np.min(journey.glass[longest.first : longest.last]))
    return [
        Finding(
            rule="glass",
            # The crown sheet has a rule of its own, which may stop; being blind is a warning.
            verdict=TIGHT if margin < journey.excursion.criteria.margin_tight else CLEAR,
            place=place_name(journey, chainage),
            chainage=chainage,
            value=value,
            limit=OUT_OF_SIGHT,
            kind="time",
            margin=margin,
            because="for this long the water stands below the glass, at most {lowest} below, as the boiler tilts with "
            "{grade} of grade and with braking",
            remedy="carry more water over the summit and brake gently" if margin < 0.0 else "",
            facts={
                "lowest": (-lowest, "small_length"),
                "grade": (float(np.min(journey.grade[longest.first : longest.last])), "gradient"),
            },
        )
    ]
