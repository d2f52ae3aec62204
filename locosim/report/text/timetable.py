"""A timetable as text: booked times, sections with their recovery, and fuel."""

from __future__ import annotations

from locosim.planning.finding import CLEAR
from locosim.planning.station_times import StationTimes
from locosim.planning.timetable import Timetable, TimetableSection, TimetableStop
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.check import finding_lines
from locosim.report.text.engine import fuel_word, method_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number, show_percent

SHARING = {
    "least_fuel": "shared where it saves most fuel",
    "even": "shared in proportion to running time",
}


def timetable_text(timetable: Timetable) -> str:
    """Write a timetable: times at every station, limits of departure, recovery by section, and fuel."""
    return "\n".join(
        [
            paragraph(f"{timetable.excursion.name}: timetable, {timetable.answer.verdict.upper()}"),
            *map(paragraph, method_lines(timetable.performance)),
            paragraph(recovery_line(timetable)),
            "",
            table(stop_headers(), stop_rows(timetable), wrapped=(0,)),
            "",
            paragraph(
                "A time in parentheses is a passing time. The earliest departure is after full effort from the start "
                "without waiting for a booked time; the latest keeps every later booked arrival at full effort."
            ),
            "",
            table(section_headers(), section_rows(timetable), wrapped=(0,)),
            "",
            *map(paragraph, fuel_lines(timetable)),
            "",
            paragraph(proof_line(timetable)),
            *_open_findings(timetable),
            "",
            paragraph(accuracy_text("timetable", timetable.performance.method, made_from(timetable))),
            "",
            paragraph(CAUTION),
        ]
    )


def recovery_line(timetable: Timetable) -> str:
    """Recovery wanted and booked, in a sentence."""
    least = sum(section.least for section in timetable.sections)
    step = show(timetable.request.step, "time")
    return (
        f"Least running time {show(least, 'time')} at full effort; recovery {show(timetable.recovery, 'time')} "
        f"({show_percent(timetable.recovery / least)}), wanted {show(timetable.wanted, 'time')}, "
        f"{SHARING[timetable.sharing]}; times in steps of {step} (h:min:s)."
    )


def stop_headers() -> tuple[str, ...]:
    """Headings of `stop_rows`."""
    return (
        "station",
        "milepost\n" + label("distance"),
        "arrive",
        "leave",
        "work\nthere",
        "earliest\nleave",
        "latest\nleave",
    )


def stop_rows(timetable: Timetable) -> list[tuple[str, ...]]:
    """Times at every station; a passing time in parentheses."""
    stops = {stop.station: stop for stop in timetable.stops}
    return [
        _stop_row(times, stops[times.station]) if times.stops else _passing_row(times)
        for times in timetable.station_times()
    ]


def _stop_row(times: StationTimes, stop: TimetableStop) -> tuple[str, ...]:
    return (
        stop.station,
        show_number(times.milepost, "distance"),
        _clock(stop.arrive),
        _clock(stop.depart),
        show_number(stop.work, "time") if stop.work else "",
        _clock(stop.earliest),
        _clock(stop.latest),
    )


def _passing_row(times: StationTimes) -> tuple[str, ...]:
    passing = "" if times.arrive is None else f"({show_number(times.arrive, 'clock')})"
    return (times.station, show_number(times.milepost, "distance"), passing, "", "", "", "")


def section_headers() -> tuple[str, ...]:
    """Headings of `section_rows`."""
    return (
        "section",
        label("distance"),
        "least\nrunning",
        "booked\nrunning",
        "recovery",
        "fuel saved\n" + label("small_mass"),
        "late if\na step less",
    )


def section_rows(timetable: Timetable) -> list[tuple[str, ...]]:
    """Each section: running times, recovery, what it saves, and how late a tighter time would be."""
    return [_section_row(section) for section in timetable.sections]


def _section_row(section: TimetableSection) -> tuple[str, ...]:
    return (
        f"{section.start} to {section.end}",
        show_number(section.distance, "distance"),
        show_number(section.least, "time"),
        show_number(section.booked, "time"),
        show_number(section.recovery, "time"),
        show_number(section.fuel_saved, "small_mass"),
        show_number(section.late_if_tighter, "time"),
    )


def fuel_lines(timetable: Timetable) -> list[str]:
    """What the recovery is worth in fuel, in sentences."""
    fuel = fuel_word(timetable.excursion.fuel.kind)
    least, even = timetable.fuel_least_times, timetable.fuel_evenly
    lines = [
        f"{fuel.capitalize()} {show(timetable.fuel, 'small_mass')}, boiler restored to the heat it began with; "
        f"{show(least, 'small_mass')} in the least times, {show(even, 'small_mass')} with the recovery in proportion "
        "to running time."
    ]
    if timetable.fuel > least:
        lines.append(
            f"The recovery costs {fuel} here: boiler and auxiliaries take more in the longer time than slower running "
            "saves."
        )
    if timetable.request.sharing == "least_fuel" and timetable.sharing == "even":
        lines.append(
            "No other sharing of the recovery burns less in the run with the boiler: it is in proportion to running "
            "time."
        )
    return lines


def proof_line(timetable: Timetable) -> str:
    """Return to the check, and the next tighter times, in sentences."""
    late = timetable.latest_arrival
    kept = "keeps every time" if late <= 0.0 else f"is {show(late, 'time')} late at the worst stop"
    return (
        f"Returned to the check: {timetable.answer.verdict.upper()}; full effort {kept}. The last column of the "
        "sections is how late full effort would arrive if its least time were booked a step less: no section has a "
        "smaller least time in these steps."
    )


def _open_findings(timetable: Timetable) -> list[str]:
    """The findings of the check that are not clear, with the assumptions on which a verdict rests."""
    answer = timetable.answer
    return [line for f in answer.findings if f.verdict != CLEAR for line in ("", *finding_lines(answer, f))]


def _clock(time: float | None) -> str:
    return "" if time is None else show_number(time, "clock")
