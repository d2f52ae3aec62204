"""A timetable as a CSV table: one row for each station."""

from __future__ import annotations

import io

from locosim.planning.timetable import Timetable
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.units import label, number, show


def timetable_csv(timetable: Timetable) -> str:
    """Write booked and passing times at every station; what they were made from is in the first row."""
    source = source_columns(made_from(timetable), timetable.excursion.name, timetable.performance.method)
    stops = {stop.station: stop for stop in timetable.stops}
    out = io.StringIO()
    writer = TableWriter(out)
    headings = ("arrive", "leave", "passes", "earliest leave", "latest leave")
    writer.writerow(["station", f"milepost [{label('distance')}]", *headings, *source])
    for place, times in enumerate(timetable.station_times()):
        stop = stops.get(times.station)
        clocks = (
            (stop.arrive, stop.depart, None, stop.earliest, stop.latest)
            if times.stops and stop is not None
            else (None, None, times.arrive, None, None)
        )
        notes = source.values() if place == 0 else [""] * len(source)
        writer.writerow(
            [
                times.station,
                f"{number(times.milepost, 'distance'):.7g}",
                *("" if clock is None else show(clock, "clock") for clock in clocks),
                *notes,
            ]
        )
    return out.getvalue()
