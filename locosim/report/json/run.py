"""The run as JSON."""

from __future__ import annotations

from typing import Any

from locosim.constants import ATMOSPHERE
from locosim.journey.result import LIMITS, Journey
from locosim.report.helper_schedule import helper_content
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def run_json(journey: Journey) -> str:
    """Write a run as JSON; samples are one list per quantity, lists of steps one shorter than those of nodes."""
    return envelope(
        "run",
        journey.performance.method,
        made_from(journey),
        {
            "excursion": journey.excursion.name,
            "helpers": helper_content(journey.excursion),
            "locomotive_notes": journey.performance.notes,
            "outcome": journey.outcome,
            "totals": totals(journey),
            "ledgers": {ledger.name: ledger.residual for ledger in journey.ledgers},
            "stations": _stations(journey),
            "samples": _samples(journey),
        },
    )


def totals(journey: Journey) -> dict[str, float]:
    """Time, distance, water and fuel of a run."""
    return {
        "time_s": journey.duration,
        "distance_m": journey.distance,
        "water_kg": journey.water_used,
        "fuel_kg": journey.fuel_fired,
        "fuel_burned_kg": journey.fuel_burned,
    }


def _stations(journey: Journey) -> list[dict[str, Any]]:
    return [
        {
            "name": stop.station,
            "chainage_m": stop.chainage,
            "arrival_s": stop.arrive,
            "departure_s": stop.depart,
            "water_kg": stop.water_on_arrival,
            "fuel_kg": stop.fuel_on_arrival,
        }
        for stop in journey.stops
    ]


def _samples(journey: Journey) -> dict[str, Any]:
    return {
        "chainage_m": journey.chainage,
        "time_s": journey.time,
        "speed_m_s": journey.speed,
        "allowed_speed_m_s": journey.allowed_speed,
        "pressure_gauge_Pa": journey.pressure - ATMOSPHERE,
        "boiler_water_kg": journey.boiler_water,
        "firing_kg_s": journey.firing,
        "grate_fuel_kg": journey.grate_fuel,
        "tender_water_kg": journey.tender_water,
        "tender_fuel_kg": journey.tender_fuel,
        "step_grade": journey.grade,
        "step_indicated_tractive_effort_N": journey.effort,
        "step_brake_force_N": journey.brake,
        "step_cutoff": journey.cutoff,
        "step_throttle": journey.throttle,
        "step_steam_kg_s": journey.steam,
        "step_feedwater_kg_s": journey.feed,
        "step_helper_tractive_effort_N": journey.helper_effort,
        # Left out where the engine file gives no boiler dimensions.
        **({"step_crown_sheet_cover_m": journey.crown_cover} if len(journey.crown_cover) else {}),
        **({"step_water_glass_m": journey.glass_reading} if len(journey.glass_reading) else {}),
        "step_limited_by": [LIMITS[int(code)] for code in journey.limit],
    }
