"""The card for the crew: what the engineer does along a run, from one place to the next."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from locosim.frozen import frozen
from locosim.journey.kernel.arrays import BRAKING, COASTING
from locosim.journey.result import Journey
from locosim.physics.types import Floats
from locosim.planning.station_times import line_chainage

SHORTEST_ENTRY = 500.0  # shortest entry of the card, but for starting and for braking to a stop [m]
LONGEST_STEAM = 5000.0  # longest entry with steam: a longer one is divided into equal parts [m]
STEAM, COAST, BRAKE = "steam", "shut off", "brake"
_TASKS = {COASTING: COAST, BRAKING: BRAKE}  # all other limits are with steam
HELD = 0.97  # of the highest speed with brakes, down to which a train counts as held [1]
USUAL = (0.1, 0.9)  # quantiles by time of cutoff and throttle shown, without the ends of an entry


@frozen
class CardEntry:
    """What the engineer does from one place to the next.

    Attributes:
        start: Chainage as run where it begins [m].
        end: Chainage as run where it ends [m].
        milepost: Where it begins, as the line counts it [m].
        time: Clock time where it begins [s].
        task: `steam`, `shut off` or `brake`.
        from_speed: Speed where it begins [m/s].
        to_speed: Speed where it ends [m/s].
        cutoff: Usual shortest and longest cutoff; None with the throttle shut [1].
        throttle: Usual smallest and largest throttle opening; None with the throttle shut or where it is not known
            [1].
        stop: Station where it ends with a stop; empty where it does not.
    """

    start: float
    end: float
    milepost: float
    time: float
    task: str
    from_speed: float
    to_speed: float
    cutoff: tuple[float, float] | None
    throttle: tuple[float, float] | None
    stop: str


def crew_card(journey: Journey) -> tuple[CardEntry, ...]:
    """What the engineer does along a run, short entries joined to their neighbors."""
    stops = {int(np.searchsorted(journey.chainage, s.chainage - 0.01)): s.station for s in journey.stops}
    tasks = [_TASKS.get(int(code), STEAM) for code in journey.limit]
    bounds = [0]
    for i in range(1, len(tasks)):
        if tasks[i] != tasks[i - 1] or i in stops:
            bounds.append(i)
    bounds.append(len(tasks))
    spans = [(a, b, tasks[a]) for a, b in pairwise(bounds)]
    return tuple(
        _entry(journey, first, last, task, stops.get(last, ""))
        for a, b, task in _held_apart(_joined(spans, journey.chainage, stops), journey, stops)
        for first, last in (_parts(journey.chainage, a, b) if task == STEAM else ((a, b),))
    )


def _parts(chainage: Floats, a: int, b: int) -> list[tuple[int, int]]:
    """A long entry divided into equal parts."""
    count = max(math.ceil((chainage[b] - chainage[a]) / LONGEST_STEAM), 1)
    places = np.linspace(chainage[a], chainage[b], count + 1)
    bounds = [int(np.searchsorted(chainage, place - 0.01)) for place in places]
    return [(first, last) for first, last in pairwise(bounds) if last > first]


Span = tuple[int, int, str]


def _joined(spans: list[Span], chainage: Floats, stops: dict[int, str]) -> list[Span]:
    """Join entries that are too short to the longer neighbor between the same stops, the shortest first."""
    spans = list(spans)

    def length(span: Span) -> float:
        return float(chainage[span[1]] - chainage[span[0]])

    while True:
        spans = _same_joined(spans, stops)
        short = [
            k
            for k, span in enumerate(spans)
            if length(span) < SHORTEST_ENTRY
            and not (span[2] == BRAKE and span[1] in stops)
            and not (span[2] == STEAM and span[0] in stops)
            and not (span[0] in stops and span[1] in stops)
        ]
        if not short:
            return spans
        k = min(short, key=lambda each: length(spans[each]))
        beside = [j for j in (k - 1, k + 1) if 0 <= j < len(spans) and spans[max(j, k)][0] not in stops]
        j = max(beside, key=lambda each: length(spans[each]))
        low, high = min(j, k), max(j, k)
        spans[low : high + 1] = [(spans[low][0], spans[high][1], spans[j][2])]


def _held_apart(spans: list[Span], journey: Journey, stops: dict[int, str]) -> list[Span]:
    """Entries with brakes to a stop divided where holding a falling grade ends and slowing begins, if it is long."""
    divided: list[Span] = []
    for a, b, task in spans:
        if task == BRAKE and b in stops:
            fast = np.flatnonzero(journey.speed[a : b + 1] >= HELD * float(np.max(journey.speed[a : b + 1])))
            slowing = a + int(fast[-1])
            if journey.chainage[slowing] - journey.chainage[a] >= SHORTEST_ENTRY:
                divided.append((a, slowing, task))
                a = slowing
        divided.append((a, b, task))
    return divided


def _same_joined(spans: list[Span], stops: dict[int, str]) -> list[Span]:
    """Join neighbors with the same task, but not across a stop."""
    joined: list[Span] = []
    for span in spans:
        if joined and joined[-1][2] == span[2] and span[0] not in stops:
            joined[-1] = (joined[-1][0], span[1], span[2])
        else:
            joined.append(span)
    return joined


def _entry(journey: Journey, a: int, b: int, task: str, stop: str) -> CardEntry:
    steaming = journey.cutoff[a:b] > 0.0
    cutoff, throttle = journey.cutoff[a:b][steaming], journey.throttle[a:b][steaming]
    time = (journey.time[a + 1 : b + 1] - journey.departure_time[a:b])[steaming]
    works = task == STEAM and len(cutoff) > 0
    return CardEntry(
        start=float(journey.chainage[a]),
        end=float(journey.chainage[b]),
        milepost=line_chainage(journey.excursion, float(journey.chainage[a])),
        time=float(journey.departure_time[a]),
        task=task,
        from_speed=float(journey.speed[a]),
        to_speed=float(journey.speed[b]),
        cutoff=_usual(cutoff, time) if works else None,
        throttle=_usual(throttle, time) if works and bool(np.all(np.isfinite(throttle))) else None,
        stop=stop,
    )


def _usual(values: Floats, time: Floats) -> tuple[float, float]:
    """Range of values without the lowest and the highest, each for a tenth of the time [s]."""
    low, high = np.quantile(values, USUAL, weights=time, method="inverted_cdf")
    return float(low), float(high)
