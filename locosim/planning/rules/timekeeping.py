"""Rule of timekeeping: lateness at every advertised time."""

from __future__ import annotations

from locosim.journey.result import Journey
from locosim.planning.finding import Explanation, Finding, Location, VerdictScale, at_most, judge

ON_TIME = 0.5  # lateness that is shown as none [s]


def timekeeping(journey: Journey) -> list[Finding]:
    """Lateness at every advertised arrival and departure; at the first departure only where it is delayed."""
    found = []
    if journey.excursion.departure_delay > 0.0 and journey.stops:
        start = journey.stops[0]
        late = start.depart - journey.excursion.departure
        found.append(_lateness(journey, Location(start.station, start.chainage), "departure", late))
    for record, stop in zip(journey.stops, journey.excursion.stops, strict=False):
        location = Location(stop.station, record.chainage)
        if stop.arrive is not None:
            found.append(_lateness(journey, location, "arrival", record.arrive - stop.arrive))
        if stop.depart is not None:
            found.append(_lateness(journey, location, "departure", record.depart - stop.depart))
    return found


def _lateness(journey: Journey, location: Location, event: str, late: float) -> Finding:
    criteria = journey.excursion.criteria
    side = "after" if late > 0 else "before"
    explanation = Explanation(
        because=f"{event} on time" if abs(late) < ON_TIME else f"{event} {{late}} {side} the advertised time",
        remedy="allow more running time, shorten a stop or lighten the train",
        facts={"late": (abs(late), "time")},
    )
    compared = at_most(late, criteria.max_lateness, "time")
    return judge("time", compared, location, VerdictScale(criteria.tight_margin), explanation)
