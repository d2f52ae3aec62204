"""Rules of supply: water and fuel at every place where they can be had, and at the end."""

from __future__ import annotations

from locosim.constants import WATER_DENSITY
from locosim.journey.result import Journey, StopRecord
from locosim.model import Stop
from locosim.planning.finding import Finding, margin_above, verdict_for


def water(journey: Journey) -> list[Finding]:
    """Water left on arrival at every water stop and at the end, against the reserve asked for."""
    tender = journey.excursion.locomotive.tender
    reserve = journey.excursion.criteria.water_reserve * WATER_DENSITY * tender.water_capacity
    return [
        _left(journey, record, stop, "water", record.water_on_arrival, reserve)
        for record, stop in _supply_points(journey, "take_water")
    ]


def fuel(journey: Journey) -> list[Finding]:
    """Fuel left on arrival at every fuel stop and at the end, against the reserve asked for."""
    tender = journey.excursion.locomotive.tender
    reserve = journey.excursion.criteria.fuel_reserve * tender.fuel_capacity
    return [
        _left(journey, record, stop, "fuel", record.fuel_on_arrival, reserve)
        for record, stop in _supply_points(journey, "take_fuel")
    ]


def _supply_points(journey: Journey, asked: str) -> list[tuple[StopRecord, Stop]]:
    """Stops where the supply is filled up, and the last stop; the first stop is where it all began."""
    stops = journey.excursion.stops
    reached = list(zip(journey.stops, stops, strict=False))
    last = len(stops) - 1
    return [
        (record, stop)
        for i, (record, stop) in enumerate(reached)
        if i > 0 and (i == last or getattr(stop, asked) == "fill")
    ]


def _left(
    journey: Journey, record: StopRecord, stop: Stop, what: str, left: float, reserve: float
) -> Finding:
    margin = margin_above(left, reserve)
    tight = journey.excursion.criteria.tight_margin
    kind = "water" if what == "water" else "mass"
    end = stop is journey.excursion.stops[-1]
    remedy = ""
    if margin < tight:
        remedy = f"add a {what} stop before {stop.station}, use less, or carry more"
    return Finding(
        rule=what,
        verdict=verdict_for(margin, tight),
        place=record.station,
        chainage=record.chainage,
        value=left,
        limit=reserve,
        kind=kind,
        margin=margin,
        because=f"{{left}} of {what} is left on arrival{' at the end' if end else ''}; "
        "the reserve asked for is {reserve}",
        remedy=remedy,
        facts={"left": (left, kind), "reserve": (reserve, kind)},
    )
