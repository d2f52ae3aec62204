"""The run as text: stations, totals, balances."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.journey.kernel.arrays import CREW_SPEED, ENGINE_SPEED, MAP_END
from locosim.journey.result import LIMITS, Journey
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.helper_schedule import helper_lines
from locosim.report.made_from import made_from
from locosim.report.text.engine import fuel_word, method_lines
from locosim.report.text.layout import carried_kind, finer_kind, paragraph, table
from locosim.units import current_system, label, show, show_number

LEDGER_HEADERS = ("balance", "in", "out", "stored", "residual")


def run_text(journey: Journey) -> str:
    """Write a run: times, water and fuel at each stop, totals and balances."""
    lines = [
        f"{journey.excursion.name}: {journey.outcome}",
        *map(paragraph, [*helper_lines(journey.excursion), *method_lines(journey.performance)]),
        "",
        table(stop_headers(journey), stop_rows(journey)),
        "",
        paragraph(totals_line(journey)),
        *map(paragraph, speed_ceiling_lines(journey)),
        "",
        table(LEDGER_HEADERS, ledger_rows(journey)),
        paragraph("Residuals are relative to throughput; every balance must close to 1e-9."),
        "",
        paragraph(accuracy_text("run", journey.performance.method, made_from(journey))),
        "",
        paragraph(CAUTION),
    ]
    return "\n".join(lines)


def stop_headers(journey: Journey) -> tuple[str, ...]:
    """Headings for `stop_rows`."""
    return (
        "station",
        "distance\n" + label("distance"),
        "arrive",
        "leave",
        "water\n" + label(water_kind(journey)),
        "fuel\n" + label(_fuel_kind(journey)),
    )


def stop_rows(journey: Journey) -> list[tuple[str, ...]]:
    """Each stop reached: distance, times, and water and fuel on arrival."""
    last = len(journey.excursion.stops) - 1
    return [
        (
            stop.station,
            show_number(stop.chainage - float(journey.chainage[0]), "distance", 1),
            show_number(stop.arrive, "clock") if i else "",
            show_number(stop.depart, "clock") if i < last else "",
            show_number(stop.water_on_arrival, water_kind(journey)),
            show_number(stop.fuel_on_arrival, _fuel_kind(journey)),
        )
        for i, stop in enumerate(journey.stops)
    ]


def _fuel_kind(journey: Journey) -> str:
    """Kind of mass for the fuel at every stop."""
    return carried_kind("mass", float(np.max(journey.tender_fuel)))


def water_kind(journey: Journey) -> str:
    """Kind of quantity for the water of a run: by what the engine carried, so that little used is shown as finely."""
    return carried_kind("water", float(np.max(journey.tender_water)))


def used_text(journey: Journey) -> str:
    """Water and fuel used by a run, as a phrase."""
    fuel = show(journey.fuel_fired, finer_kind("mass", journey.fuel_fired))
    water = show(journey.water_used, water_kind(journey))
    return f"{water} of water, {fuel} of {fuel_word(journey.excursion.fuel.kind)}"


def totals_line(journey: Journey) -> str:
    """Distance, time, water, fuel, maximum speed and range of pressure in a sentence."""
    low, high = (_gauge(float(edge(journey.pressure))) for edge in (np.min, np.max))
    return (
        f"{show(journey.distance, 'distance', 1)} in {show(journey.duration, 'time')}: "
        f"{used_text(journey)}; maximum speed {show(float(np.max(journey.speed)), 'speed')}; "
        f"boiler pressure {low} to {high}."
    )


def speed_ceiling_lines(journey: Journey) -> list[str]:
    """What set the highest speed of the run where the line allows more, and over what distance."""
    lines = []
    for code in (ENGINE_SPEED, CREW_SPEED, MAP_END):
        steps = journey.limit == code
        if not np.any(steps):
            continue
        speed = show(float(np.max(journey.speed[1:][steps])), "speed")
        distance = show(float(np.sum(np.diff(journey.chainage)[steps])), "distance", 1)
        method = f", method {journey.performance.method}" if code == MAP_END else ""
        lines.append(f"Speed held to {speed} over {distance} by the {LIMITS[code]}{method}.")
    return lines


def ledger_rows(journey: Journey) -> list[tuple[str, ...]]:
    """The balances of a run, in SI."""
    return [
        (
            ledger.name,
            f"{sum(a for _, a in ledger.entries if a > 0):.4g}",
            f"{-sum(a for _, a in ledger.entries if a < 0):.4g}",
            f"{ledger.stored:.4g}",
            f"{ledger.residual:.0e}",
        )
        for ledger in journey.ledgers
    ]


def _gauge(absolute: float) -> str:
    return show(absolute - ATMOSPHERE, "pressure", 1 if current_system() == "metric" else 0)
