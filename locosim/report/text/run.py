"""A run as text: stations, totals, books."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.journey.result import Journey
from locosim.report.caution import CAUTION
from locosim.report.text.engine import method_lines
from locosim.report.text.helpers_on_route import helper_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number

LEDGER_HEADERS = ("ledger", "in", "out", "stored", "residual")


def run_text(journey: Journey, system: str) -> str:
    """Write a run for a reader."""
    lines = [
        f"{journey.excursion.name}: {journey.outcome}",
        *map(paragraph, [*helper_lines(journey.excursion), *method_lines(journey.performance)]),
        "",
        table(stop_headers(system), stop_rows(journey, system)),
        "",
        paragraph(totals_line(journey, system)),
        "",
        table(LEDGER_HEADERS, ledger_rows(journey)),
        paragraph("Residuals are relative to throughput; every run must close to 1e-9."),
        "",
        paragraph(CAUTION),
    ]
    return "\n".join(lines)


def stop_headers(system: str) -> tuple[str, ...]:
    """Headings for `stop_rows`."""
    return (
        "station",
        "at\n" + label("distance", system),
        "arrive",
        "leave",
        "water\n" + label("water", system),
        "fuel\n" + label("mass", system),
    )


def stop_rows(journey: Journey, system: str) -> list[tuple[str, ...]]:
    """Each stop reached: place, times, and water and fuel on arrival."""
    last = len(journey.excursion.stops) - 1
    return [
        (
            stop.station,
            show_number(stop.chainage - float(journey.chainage[0]), "distance", system, 1),
            show_number(stop.arrive, "clock", system) if i else "",
            show_number(stop.depart, "clock", system) if i < last else "",
            show_number(stop.water_on_arrival, "water", system),
            show_number(stop.fuel_on_arrival, "mass", system),
        )
        for i, stop in enumerate(journey.stops)
    ]


def totals_line(journey: Journey, system: str) -> str:
    """Distance, time, supplies used, greatest speed and the range of pressure in a sentence."""
    low, high = (_gauge(float(edge(journey.pressure)), system) for edge in (np.min, np.max))
    return (
        f"{show(journey.distance, 'distance', system)} in {show(journey.duration, 'time', system)} with "
        f"{show(journey.water_used, 'water', system)} of water and {show(journey.fuel_burned, 'mass', system)} of "
        f"fuel; fastest {show(float(np.max(journey.speed)), 'speed', system)}, pressure between {low} and {high}."
    )


def ledger_rows(journey: Journey) -> list[tuple[str, ...]]:
    """The books of a run, in SI."""
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


def _gauge(absolute: float, system: str) -> str:
    return show(absolute - ATMOSPHERE, "pressure", system, 0 if system != "metric" else 1)
