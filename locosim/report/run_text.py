"""A run as text: stations, totals, books."""

from __future__ import annotations

from locosim.constants import ATMOSPHERE
from locosim.journey.journey import Journey
from locosim.report.cautions import CAUTION, METHODS
from locosim.report.text import paragraph, table
from locosim.units import figure, label, show


def run_text(journey: Journey, system: str) -> str:
    """Write a run for a reader."""
    excursion = journey.excursion
    heads = (
        "station",
        "at\n" + label("distance", system),
        "arrive",
        "leave",
        "water\n" + label("water", system),
        "fuel\n" + label("mass", system),
    )
    start = journey.chainage[0]
    rows = [
        (
            stop.station,
            figure(stop.chainage - start, "distance", system, 1),
            figure(stop.arrive, "clock", system) if i else "",
            figure(stop.leave, "clock", system) if i < len(excursion.calls) - 1 else "",
            figure(stop.water_arriving, "water", system),
            figure(stop.fuel_arriving, "mass", system),
        )
        for i, stop in enumerate(journey.stops)
    ]
    pressures = f"pressure between {_gauge(min(journey.pressure), system)} and {_gauge(max(journey.pressure), system)}"
    lines = [
        f"{excursion.name}: {journey.outcome}",
        paragraph(f"Method: {METHODS[journey.performance.method]}."),
        "",
        table(heads, rows),
        "",
        paragraph(
            f"{show(journey.distance, 'distance', system)} in {show(journey.duration, 'time', system)} with "
            f"{show(journey.steam_used, 'water', system)} of water and {show(journey.fuel_burnt, 'mass', system)} of "
            f"fuel; fastest {show(float(max(journey.speed)), 'speed', system)}, {pressures}."
        ),
        "",
        table(
            ("book", "came in", "went out", "stored", "residual"),
            [
                (
                    book.name,
                    f"{sum(a for _, a in book.entries if a > 0):.4g}",
                    f"{-sum(a for _, a in book.entries if a < 0):.4g}",
                    f"{book.stored:.4g}",
                    f"{book.residual:.0e}",
                )
                for book in journey.ledgers
            ],
        ),
        paragraph("Residuals are relative to throughput; every run must close to 1e-9."),
        "",
        paragraph(CAUTION),
    ]
    return "\n".join(lines)


def _gauge(absolute: float, system: str) -> str:
    return show(absolute - ATMOSPHERE, "pressure", system, 0 if system != "metric" else 1)
