"""Rules of supply: water and fuel at every place where they can be had, and at the end."""

from __future__ import annotations

from locosim.constants import WATER_DENSITY
from locosim.journey.run import Journey, StopRecord
from locosim.model import Call
from locosim.planning.finding import Finding, at_least, verdict_of


def water(journey: Journey) -> list[Finding]:
    """Water left on arrival at every water stop and at the end, against the reserve asked for."""
    tender = journey.excursion.locomotive.tender
    reserve = journey.excursion.criteria.water_reserve * WATER_DENSITY * tender.water_capacity
    return [
        _left(journey, record, call, "water", record.water_arriving, reserve)
        for record, call in _supply_points(journey, "take_water")
    ]


def fuel(journey: Journey) -> list[Finding]:
    """Fuel left on arrival at every fuel stop and at the end, against the reserve asked for."""
    tender = journey.excursion.locomotive.tender
    reserve = journey.excursion.criteria.fuel_reserve * tender.fuel_capacity
    return [
        _left(journey, record, call, "fuel", record.fuel_arriving, reserve)
        for record, call in _supply_points(journey, "take_fuel")
    ]


def _supply_points(journey: Journey, asked: str) -> list[tuple[StopRecord, Call]]:
    """Stops where the supply is filled up, and the last stop; the first stop is where it all began."""
    calls = journey.excursion.calls
    reached = list(zip(journey.stops, calls, strict=False))
    last = len(calls) - 1
    return [
        (record, call)
        for i, (record, call) in enumerate(reached)
        if i > 0 and (i == last or getattr(call, asked) == "fill")
    ]


def _left(
    journey: Journey, record: StopRecord, call: Call, what: str, left: float, reserve: float
) -> Finding:
    margin = at_least(left, reserve)
    tight = journey.excursion.criteria.margin_tight
    kind = "water" if what == "water" else "mass"
    end = call is journey.excursion.calls[-1]
    remedy = ""
    if margin < tight:
        remedy = f"add a {what} stop before {call.station}, use less, or carry more"
    return Finding(
        rule=what,
        verdict=verdict_of(margin, tight),
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
