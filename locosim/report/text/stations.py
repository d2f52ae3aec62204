"""The station table of a check, and mileposts, as text."""

from __future__ import annotations

from locosim.journey.result import Journey
from locosim.planning.station_times import StationTimes, line_chainage, station_times
from locosim.report.text.layout import table
from locosim.units import label, show, show_milepost, show_number

ON_TIME = 2.5  # lateness, or earliness, shown as none [s]


def milepost_text(journey: Journey, chainage: float | None) -> str:
    """Milepost of a chainage in the direction of travel, as the line counts it; empty for the line as a whole."""
    return "" if chainage is None else show_milepost(line_chainage(journey.excursion, chainage))


def station_headers() -> tuple[str, ...]:
    """Headings of `station_rows`."""
    return (
        "station",
        "milepost\n" + label("distance"),
        "booked\narrive",
        "arrives\nor passes",
        "booked\nleave",
        "leaves",
        "late",
    )


def station_rows(journey: Journey) -> list[tuple[str, ...]]:
    """Booked, running, passing and late times at every station of the run."""
    return [_row(times) for times in station_times(journey)]


def station_table(journey: Journey) -> str:
    """The station table."""
    return table(station_headers(), station_rows(journey), wrapped=(0,))


def _row(times: StationTimes) -> tuple[str, ...]:
    passing = f"({_clock(times.arrive)})" if times.arrive is not None else ""
    return (
        times.station,
        show_number(times.milepost, "distance"),
        _clock(times.booked_arrive),
        "not reached" if not times.reached else _clock(times.arrive) if times.stops else passing,
        _clock(times.booked_depart),
        _clock(times.depart),
        _late(times.late),
    )


def _clock(time: float | None) -> str:
    return "" if time is None else show_number(time, "clock")


def _late(late: float | None) -> str:
    """Lateness; "on time" within a few seconds, a minus where early."""
    if late is None:
        return ""
    if abs(late) < ON_TIME:
        return "on time"
    return f"{'-' if late < 0 else ''}{show(abs(late), 'time')}"
