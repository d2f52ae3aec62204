"""Results as JSON: SI, each key with its unit, in one envelope with a version."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from locosim import __version__
from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.cutoff_table import CutoffPoint, PullOptions, ValveEvents
from locosim.engine.performance import Performance
from locosim.engine.rated_effort import rated_effort
from locosim.engine.speed_curve import CurvePoint
from locosim.journey.result import LIMITS, Journey
from locosim.planning.check import Check
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import Finding
from locosim.report.caution import CAUTION
from locosim.report.text.contingencies import contingency_content
from locosim.report.text.helpers_on_route import helper_content
from locosim.report.text.layout import format_text_si
from locosim.units import si_label

FORMAT_VERSION = 1  # raised when a key changes its meaning or goes


def envelope(command: str, method: str, content: dict[str, Any]) -> str:
    """Wrap a result: what made it, by which method, and the caution."""
    header = {
        "locosim": __version__,
        "format": FORMAT_VERSION,
        "command": command,
        "method": method,
        "caution": CAUTION,
    }
    return json.dumps(_to_json({**header, **content}), indent=1, allow_nan=False)


def _to_json(value: Any) -> Any:
    """Turn arrays and tuples into lists, and what is not finite into null."""
    if isinstance(value, dict):
        return {key: _to_json(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_to_json(item) for item in value]
    if hasattr(value, "tolist"):
        return _to_json(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def check_json(check: Check, contingencies: Sequence[Contingency], latest: float | None) -> str:
    """Write a check as JSON.

    Args:
        check: The excursion judged.
        contingencies: The check again with something gone wrong.
        latest: Latest departure that keeps every advertised arrival, on the clock [s].
    """
    journey = check.journey
    return envelope(
        "check",
        journey.performance.method,
        {
            "excursion": journey.excursion.name,
            "helpers": helper_content(journey.excursion),
            "locomotive_notes": journey.performance.notes,
            "verdict": check.verdict,
            "outcome": journey.outcome,
            "findings": [_finding(f) for f in check.findings],
            "totals": _totals(journey),
            **contingency_content(contingencies, latest),
        },
    )


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "verdict": finding.verdict,
        "place": finding.place,
        "chainage_m": finding.chainage,
        # A value that is not finite is null; the text says what it means.
        "value": finding.value,
        "limit": finding.limit,
        "unit": si_label(finding.kind),
        "margin": finding.margin,
        "because": format_text_si(finding.because, finding.facts),
        "remedy": format_text_si(finding.remedy, finding.facts),
    }


def _totals(journey: Journey) -> dict[str, float]:
    return {
        "time_s": journey.duration,
        "distance_m": journey.distance,
        "water_kg": journey.water_used,
        "fuel_kg": journey.fuel_burned,
    }


def run_json(journey: Journey) -> str:
    """Write a run as JSON; samples are one list per quantity, steps one shorter than nodes."""
    return envelope(
        "run",
        journey.performance.method,
        {
            "excursion": journey.excursion.name,
            "helpers": helper_content(journey.excursion),
            "locomotive_notes": journey.performance.notes,
            "outcome": journey.outcome,
            "totals": _totals(journey),
            "ledgers": {ledger.name: ledger.residual for ledger in journey.ledgers},
            "stations": [
                {
                    "name": stop.station,
                    "chainage_m": stop.chainage,
                    "arrival_s": stop.arrive,
                    "departure_s": stop.depart,
                    "water_kg": stop.water_on_arrival,
                    "fuel_kg": stop.fuel_on_arrival,
                }
                for stop in journey.stops
            ],
            "samples": {
                "chainage_m": journey.chainage,
                "time_s": journey.time,
                "speed_m_s": journey.speed,
                "allowed_speed_m_s": journey.allowed_speed,
                "pressure_gauge_Pa": journey.pressure - ATMOSPHERE,
                "boiler_water_kg": journey.boiler_water,
                "firing_kg_s": journey.firing,
                "tender_water_kg": journey.tender_water,
                "tender_fuel_kg": journey.tender_fuel,
                "step_grade": journey.grade,
                "step_indicated_tractive_effort_N": journey.effort,
                "step_brake_force_N": journey.brake,
                "step_cutoff": journey.cutoff,
                "step_steam_kg_s": journey.steam,
                "step_feedwater_kg_s": journey.feed,
                "step_helper_tractive_effort_N": journey.helper_effort,
                # Empty where the engine file says too little of the boiler's shape.
                **({"step_crown_sheet_cover_m": journey.crown_cover} if len(journey.crown_cover) else {}),
                **({"step_water_glass_m": journey.glass_reading} if len(journey.glass_reading) else {}),
                "step_limited_by": [LIMITS[int(code)] for code in journey.limit],
            },
        },
    )


def engine_summary(performance: Performance) -> dict[str, Any]:
    """What the engine is, and what holds her boiler back."""
    supply = performance.supply
    return {
        "locomotive": performance.locomotive.name,
        "rated_tractive_effort_N": rated_effort(performance.locomotive),
        "fuel": {"kind": performance.fuel.kind, "heating_value_J_kg": supply.heating_value},
        "sustained_steam_kg_s": supply.sustained,
        "boiler_limited_by": supply.binding.name,
        "boiler_limits_kg_s": {limit.name: limit.steam if limit.reached else None for limit in supply.limits},
        "locomotive_notes": list(performance.notes),
    }


def curve_json(
    performance: Performance,
    points: Sequence[CurvePoint],
    rail: str,
    short: tuple[Sequence[ShortEffort], Sequence[CurvePoint]] | None = None,
) -> str:
    """Write a speed curve as JSON, with that of a short effort."""
    return envelope(
        "curve",
        performance.method,
        {
            **engine_summary(performance),
            "rail": rail,
            "rows": [curve_row(p) for p in points],
            "short_effort": None if short is None else _short_effort(*short),
        },
    )


def curve_row(p: CurvePoint) -> dict[str, Any]:
    """One point of a speed curve."""
    return {
        "speed_m_s": p.speed,
        "rim_tractive_effort_N": p.rim_effort,
        "drawbar_pull_N": p.drawbar_pull,
        "indicated_power_W": p.indicated_power,
        "drawbar_power_W": p.drawbar_power,
        "cutoff": p.cutoff,
        "steam_kg_s": p.steam,
        "fuel_kg_s": p.fuel,
        "limit": p.limit,
    }


def _short_effort(efforts: Sequence[ShortEffort], points: Sequence[CurvePoint]) -> dict[str, Any]:
    return {
        "duration_s": efforts[0].duration,
        "feed_deferred_kg": efforts[0].deferred_feed,
        "pressure_drops": [
            {
                "final_pressure_gauge_Pa": effort.final_pressure - ATMOSPHERE,
                "heat_J": effort.heat,
                "extra_steam_kg_s": effort.extra_steam,
            }
            for effort in efforts
        ],
        "rows": [
            {
                **curve_row(p),
                "final_pressure_gauge_Pa": None
                if p.final_pressure is None
                else p.final_pressure - ATMOSPHERE,
            }
            for p in points
        ],
    }


def cutoff_json(
    performance: Performance,
    points: Sequence[CutoffPoint],
    speed: float,
    choice: PullOptions | None = None,
) -> str:
    """Write a cutoff table as JSON; fuel is null where the boiler cannot keep the steam up."""
    return envelope(
        "cutoff",
        performance.method,
        {
            **engine_summary(performance),
            "speed_m_s": speed,
            "rows": [cutoff_row(p) for p in points],
            "for_tractive_effort": None
            if choice is None
            else {
                "rim_tractive_effort_N": choice.effort,
                "rows": [cutoff_row(p) for p in choice.points],
                "cheapest": cutoff_row(choice.most_economical),
            },
        },
    )


def cutoff_row(p: CutoffPoint) -> dict[str, Any]:
    """One cutoff; fuel is null where the boiler cannot keep the steam up."""
    sustained = p.steam_share <= 1.0
    return {
        "throttle": p.throttle,
        "cutoff": p.cutoff,
        "rim_tractive_effort_N": p.rim_effort,
        "indicated_power_W": p.indicated_power,
        "steam_kg_s": p.steam,
        "steam_per_work_kg_J": p.steam_per_work,
        "fuel_kg_s": p.fuel if sustained else None,
        "fuel_per_distance_kg_m": p.fuel_per_distance if sustained else None,
        "back_pressure_gauge_Pa": p.back_pressure,
        "steam_share": p.steam_share,
        "steam_chest_pressure_gauge_Pa": None if p.chest_pressure is None else p.chest_pressure - ATMOSPHERE,
        "steam_temperature_K": p.steam_temperature,
        "wall_condensation_share": p.wall_condensation_share,
        "events": None if p.events is None else events_row(p.events),
    }


def events_row(events: ValveEvents) -> dict[str, float]:
    """The valve at one cutoff; places as shares of the stroke."""
    return {
        "lead_m": events.lead,
        "port_opening_m": events.opening,
        "admission": events.admission,
        "cutoff": events.cutoff,
        "release": events.release,
        "compression": events.compression,
    }
