"""Rules of supply: water and fuel left at every place where they are taken, and at the end."""

from __future__ import annotations

from locosim.constants import WATER_DENSITY
from locosim.journey.result import Journey, StopRecord
from locosim.planning.finding import Explanation, Finding, Location, VerdictScale, at_least, judge


def water(journey: Journey) -> list[Finding]:
    """Water left on arrival at every water stop and at the end, against the reserve."""
    tender = journey.excursion.locomotive.tender
    reserve = journey.excursion.criteria.water_reserve * WATER_DENSITY * tender.water_capacity
    return [
        _supply_finding(journey, record, "water", record.water_on_arrival, reserve)
        for record in _supply_points(journey, "take_water")
    ]


def fuel(journey: Journey) -> list[Finding]:
    """Fuel left on arrival at every fuel stop and at the end, against the reserve."""
    tender = journey.excursion.locomotive.tender
    reserve = journey.excursion.criteria.fuel_reserve * tender.fuel_capacity
    return [
        _supply_finding(journey, record, "fuel", record.fuel_on_arrival, reserve)
        for record in _supply_points(journey, "take_fuel")
    ]


def _supply_points(journey: Journey, key: str) -> list[StopRecord]:
    """Stops reached where the tender is filled, and the last stop; the run starts at the first one."""
    stops = journey.excursion.stops
    reached = list(zip(journey.stops, stops, strict=False))[1:]
    return [record for record, stop in reached if stop is stops[-1] or getattr(stop, key) == "fill"]


def _supply_finding(journey: Journey, record: StopRecord, what: str, left: float, reserve: float) -> Finding:
    kind = "water" if what == "water" else "mass"
    end = len(journey.stops) == len(journey.excursion.stops) and record is journey.stops[-1]
    explanation = Explanation(
        because=f"{{left}} of {what} is left on arrival{' at the end' if end else ''}; the reserve is {{reserve}}",
        remedy=f"add a {what} stop before {record.station}, use less, or carry more",
        facts={"left": (left, kind), "reserve": (reserve, kind)},
    )
    scale = VerdictScale(journey.excursion.criteria.tight_margin)
    location = Location(record.station, record.chainage)
    return judge(what, at_least(left, reserve, kind), location, scale, explanation)
