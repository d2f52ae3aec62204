"""A day as a CSV table: one row for each station of each leg."""

from __future__ import annotations

import io

from locosim.planning.day import DayAnswer, LegAnswer
from locosim.planning.station_times import StationTimes, station_times
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.report.text.day import day_method
from locosim.units import scale, show

_TIMES = ("booked_arrive", "arrive", "booked_depart", "depart")
_HEADINGS = ("leg", "verdict", "excursion", "engine", "engine facing", "station")


def day_csv(answer: DayAnswer) -> str:
    """Write the station times of a day; what it was made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    source = source_columns(made_from(answer), answer.day.name, day_method(answer))
    units = [scale(kind)[1] for kind in ("distance", "water", "mass")]
    writer.writerow(
        [
            *_HEADINGS,
            f"milepost [{units[0]}]",
            *(name.replace("_", " ") for name in _TIMES),
            "late [s]",
            f"water on arrival [{units[1]}]",
            f"fuel on arrival [{units[2]}]",
            *source,
        ]
    )
    rows = [row for leg in answer.legs for row in _leg_rows(leg)]
    for place, row in enumerate(rows):
        writer.writerow([*row, *(source.values() if place == 0 else [""] * len(source))])
    return out.getvalue()


def _leg_rows(leg: LegAnswer) -> list[list[str]]:
    """Rows of one leg; a leg that was not run has one."""
    head = [str(leg.number), leg.verdict or "not run", leg.leg.excursion.name, leg.leg.engine]
    head.append(leg.leg.excursion.engine_facing.replace("_", " "))
    if leg.answer is None:
        return [[*head, leg.leg.origin, *[""] * (len(_TIMES) + 4)]]
    journey = leg.answer.journey
    left = {stop.station: stop for stop in journey.stops}
    return [
        [
            *head,
            times.station,
            _cell(times.milepost, "distance"),
            *(_clock(times, name) for name in _TIMES),
            "" if times.late is None else f"{times.late:.7g}",
            _cell(left[times.station].water_on_arrival, "water") if times.station in left else "",
            _cell(left[times.station].fuel_on_arrival, "mass") if times.station in left else "",
        ]
        for times in station_times(journey)
    ]


def _clock(times: StationTimes, name: str) -> str:
    value = getattr(times, name)
    return "" if value is None else show(value, "clock")


def _cell(value: float, kind: str) -> str:
    return f"{value * scale(kind)[0]:.7g}"
