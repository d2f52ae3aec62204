"""The cutoff table as JSON."""

from __future__ import annotations

from typing import Any

from locosim.constants import ATMOSPHERE
from locosim.engine.command_results import CutoffTable
from locosim.engine.cutoff_table import CutoffPoint, PullOptions, ValveEvents
from locosim.report.json.curve import engine_summary
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def cutoff_json(cutoffs: CutoffTable) -> str:
    """Write a cutoff table as JSON; fuel is null where the boiler cannot sustain the steam rate."""
    return envelope(
        "cutoff",
        cutoffs.performance.method,
        made_from(cutoffs),
        {
            **engine_summary(cutoffs.performance),
            "speed_m_s": cutoffs.speed,
            "rows": [_row(point) for point in cutoffs.points],
            "for_tractive_effort": None if cutoffs.options is None else _options(cutoffs.options),
        },
    )


def _options(options: PullOptions) -> dict[str, Any]:
    return {
        "rim_tractive_effort_N": options.effort,
        "rows": [_row(point) for point in options.points],
        "cheapest": _row(options.most_economical),
    }


def _row(point: CutoffPoint) -> dict[str, Any]:
    sustained = point.steam_share <= 1.0
    chest = point.chest_pressure
    return {
        "throttle": point.throttle,
        "cutoff": point.cutoff,
        "rim_tractive_effort_N": point.rim_effort,
        "indicated_power_W": point.indicated_power,
        "steam_kg_s": point.steam,
        "steam_per_work_kg_J": point.steam_per_work,
        "fuel_kg_s": point.fuel if sustained else None,
        "fuel_per_distance_kg_m": point.fuel_per_distance if sustained else None,
        "back_pressure_gauge_Pa": point.back_pressure,
        "share_of_sustained_evaporation": point.steam_share,
        "steam_chest_pressure_gauge_Pa": None if chest is None else chest - ATMOSPHERE,
        "steam_temperature_K": point.steam_temperature,
        "wall_condensation_share": point.wall_condensation_share,
        "events": None if point.events is None else events_row(point.events),
    }


def events_row(events: ValveEvents) -> dict[str, float | None]:
    """Valve events at one cutoff; positions as fractions of the stroke, lead and opening null for poppet valves."""
    return {
        "lead_m": events.lead,
        "port_opening_m": events.opening,
        "preadmission": events.admission,
        "cutoff": events.cutoff,
        "release": events.release,
        "compression": events.compression,
    }
