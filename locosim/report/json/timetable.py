"""A timetable as JSON."""

from __future__ import annotations

from typing import Any

from locosim.planning.timetable import Timetable
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def timetable_json(timetable: Timetable) -> str:
    """Write a timetable as JSON, in SI; times on the clock in s from midnight."""
    return envelope(
        "timetable",
        timetable.performance.method,
        made_from(timetable),
        {
            "excursion": timetable.excursion.name,
            "verdict": timetable.answer.verdict,
            "recovery_wanted_s": timetable.wanted,
            "recovery_s": timetable.recovery,
            "step_s": timetable.request.step,
            "sharing": timetable.sharing,
            "latest_arrival_at_full_effort_s": timetable.latest_arrival,
            "fuel_kg": timetable.fuel,
            "fuel_shared_evenly_kg": timetable.fuel_evenly,
            "fuel_in_least_times_kg": timetable.fuel_least_times,
            "stations": stations(timetable),
            "sections": sections(timetable),
            "findings_not_clear": [
                {"rule": f.rule, "verdict": f.verdict, "place": f.place, "margin": f.margin}
                for f in timetable.answer.findings
                if f.verdict != "clear"
            ],
        },
    )


def stations(timetable: Timetable) -> list[dict[str, Any]]:
    """Times at every station."""
    stops = {stop.station: stop for stop in timetable.stops}
    rows: list[dict[str, Any]] = []
    for times in timetable.station_times():
        row: dict[str, Any] = {"name": times.station, "milepost_m": times.milepost, "stops": times.stops}
        if times.stops:
            stop = stops[times.station]
            row |= {
                "arrival_s": stop.arrive,
                "departure_s": stop.depart,
                "work_s": stop.work,
                "earliest_departure_s": stop.earliest,
                "latest_departure_s": stop.latest,
            }
        else:
            row |= {"passing_s": times.arrive}
        rows.append(row)
    return rows


def sections(timetable: Timetable) -> list[dict[str, Any]]:
    """Running times and recovery of every section."""
    return [
        {
            "from": section.start,
            "to": section.end,
            "distance_m": section.distance,
            "least_running_time_s": section.least,
            "booked_running_time_s": section.booked,
            "recovery_s": section.recovery,
            "fuel_saved_kg": section.fuel_saved,
            "late_if_a_step_less_s": section.late_if_tighter,
        }
        for section in timetable.sections
    ]
