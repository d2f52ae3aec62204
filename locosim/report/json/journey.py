"""Results as JSON: SI, each key with its unit, in one envelope with a version."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from locosim import __version__
from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.cutoff_table import CutoffPoint, Events, PullChoice
from locosim.engine.performance import Performance
from locosim.engine.rated_effort import rated_effort
from locosim.engine.speed_curve import CurvePoint
from locosim.journey.run import LIMITS, Journey
from locosim.planning.check import Check
from locosim.planning.contingencies import Trial
from locosim.planning.finding import Finding
from locosim.report.caution import CAUTION
from locosim.report.text.contingencies import trials_content
from locosim.report.text.helpers_on_route import assistance_content
from locosim.report.text.layout import said_in_si
from locosim.units import si_label

FORMAT = 1  # raised when a key changes its meaning or goes


def envelope(command: str, method: str, content: dict[str, Any]) -> str:
    """Wrap a result: what made it, by which method, and the caution."""
    head = {
        "locosim": __version__,
        "format": FORMAT,
        "command": command,
        "method": method,
        "caution": CAUTION,
    }
    return json.dumps(_plain({**head, **content}), indent=1, allow_nan=False)


def _plain(value: Any) -> Any:
    """Turn arrays and tuples into lists, and what is not finite into null."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if hasattr(value, "tolist"):
        return _plain(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def check_json(check: Check, trials: Sequence[Trial], latest: float | None) -> str:
    """Write a check as JSON.

    Args:
        check: The excursion judged.
        trials: The check again with something gone wrong.
        latest: Latest departure that keeps every advertised arrival, on the clock [s].
    """
    journey = check.journey
    return envelope(
        "check",
        journey.performance.method,
        {
            "excursion": journey.excursion.name,
            "assistance": assistance_content(journey.excursion),
            "engine_notes": journey.performance.notes,
            "verdict": check.verdict,
            "outcome": journey.outcome,
            "findings": [_finding(f) for f in check.findings],
            "totals": _totals(journey),
            **trials_content(trials, latest),
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
        "because": said_in_si(finding.because, finding.facts),
        "remedy": said_in_si(finding.remedy, finding.facts),
    }


def _totals(journey: Journey) -> dict[str, float]:
    return {
        "time_s": journey.duration,
        "distance_m": journey.distance,
        "water_kg": journey.water_used,
        "fuel_kg": journey.fuel_burnt,
    }


def run_json(journey: Journey) -> str:
    """Write a run as JSON; samples are one list per quantity, steps one shorter than nodes."""
    return envelope(
        "run",
        journey.performance.method,
        {
            "excursion": journey.excursion.name,
            "assistance": assistance_content(journey.excursion),
            "engine_notes": journey.performance.notes,
            "outcome": journey.outcome,
            "totals": _totals(journey),
            "ledgers": {book.name: book.residual for book in journey.ledgers},
            "stations": [
                {
                    "name": stop.station,
                    "chainage_m": stop.chainage,
                    "arrive_s": stop.arrive,
                    "leave_s": stop.leave,
                    "water_kg": stop.water_arriving,
                    "fuel_kg": stop.fuel_arriving,
                }
                for stop in journey.stops
            ],
            "samples": {
                "chainage_m": journey.chainage,
                "time_s": journey.time,
                "speed_m_s": journey.speed,
                "top_speed_m_s": journey.top_speed,
                "pressure_gauge_Pa": journey.pressure - ATMOSPHERE,
                "boiler_water_kg": journey.boiler_water,
                "firing_kg_s": journey.firing,
                "tender_water_kg": journey.tender_water,
                "tender_fuel_kg": journey.tender_fuel,
                "step_grade": journey.grade,
                "step_pull_N": journey.pull,
                "step_brake_N": journey.brake,
                "step_cutoff": journey.cutoff,
                "step_steam_kg_s": journey.steam,
                "step_feed_kg_s": journey.feed,
                "step_assist_pull_N": journey.assist_pull,
                # Empty where the engine file says too little of the boiler's shape.
                **({"step_crown_cover_m": journey.crown_cover} if len(journey.crown_cover) else {}),
                **({"step_glass_m": journey.glass} if len(journey.glass) else {}),
                "step_limit": [LIMITS[int(code)] for code in journey.limit],
            },
        },
    )


def engine_head(performance: Performance) -> dict[str, Any]:
    """What the engine is, and what holds her boiler back."""
    supply = performance.supply
    return {
        "locomotive": performance.locomotive.name,
        "rated_tractive_effort_N": rated_effort(performance.locomotive),
        "fuel": {"kind": performance.fuel.kind, "heating_value_J_kg": supply.heating_value},
        "sustained_steam_kg_s": supply.sustained,
        "boiler_held_by": supply.binding.name,
        "boiler_limits_kg_s": {limit.name: limit.steam if limit.reached else None for limit in supply.limits},
        "engine_notes": list(performance.notes),
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
            **engine_head(performance),
            "rail": rail,
            "rows": [curve_row(p) for p in points],
            "short_effort": None if short is None else _short(*short),
        },
    )


def curve_row(p: CurvePoint) -> dict[str, Any]:
    """One point of a speed curve."""
    return {
        "speed_m_s": p.speed,
        "wheel_pull_N": p.wheel_pull,
        "drawbar_pull_N": p.drawbar_pull,
        "indicated_power_W": p.indicated_power,
        "drawbar_power_W": p.drawbar_power,
        "cutoff": p.cutoff,
        "steam_kg_s": p.steam,
        "fuel_kg_s": p.fuel,
        "limit": p.limit,
    }


def _short(efforts: Sequence[ShortEffort], points: Sequence[CurvePoint]) -> dict[str, Any]:
    return {
        "duration_s": efforts[0].duration,
        "feed_put_off_kg": efforts[0].water,
        "falls": [
            {
                "pressure_end_gauge_Pa": effort.pressure_end - ATMOSPHERE,
                "heat_J": effort.heat,
                "extra_steam_kg_s": effort.extra_steam,
            }
            for effort in efforts
        ],
        "rows": [
            {
                **curve_row(p),
                "pressure_end_gauge_Pa": None if p.pressure_end is None else p.pressure_end - ATMOSPHERE,
            }
            for p in points
        ],
    }


def cutoff_json(
    performance: Performance,
    points: Sequence[CutoffPoint],
    speed: float,
    choice: PullChoice | None = None,
) -> str:
    """Write a cutoff table as JSON; fuel is null where the boiler cannot keep the steam up."""
    return envelope(
        "cutoff",
        performance.method,
        {
            **engine_head(performance),
            "speed_m_s": speed,
            "rows": [cutoff_row(p) for p in points],
            "wanted": None
            if choice is None
            else {
                "wheel_pull_N": choice.pull,
                "rows": [cutoff_row(p) for p in choice.points],
                "cheapest": cutoff_row(choice.cheapest),
            },
        },
    )


def cutoff_row(p: CutoffPoint) -> dict[str, Any]:
    """One cutoff; fuel is null where the boiler cannot keep the steam up."""
    kept_up = p.steam_share <= 1.0
    return {
        "regulator": p.regulator,
        "cutoff": p.cutoff,
        "wheel_pull_N": p.wheel_pull,
        "indicated_power_W": p.indicated_power,
        "steam_kg_s": p.steam,
        "steam_per_work_kg_J": p.steam_per_work,
        "fuel_kg_s": p.fuel if kept_up else None,
        "fuel_per_distance_kg_m": p.fuel_per_distance if kept_up else None,
        "back_pressure_gauge_Pa": p.back_pressure,
        "steam_share": p.steam_share,
        "chest_pressure_gauge_Pa": None if p.chest_pressure is None else p.chest_pressure - ATMOSPHERE,
        "steam_temperature_K": p.steam_temperature,
        "condensed_share": p.condensed_share,
        "events": None if p.events is None else events_row(p.events),
    }


def events_row(events: Events) -> dict[str, float]:
    """The valve at one cutoff; places as shares of the stroke."""
    return {
        "lead_m": events.lead,
        "port_opening_m": events.opening,
        "admission": events.admission,
        "cutoff": events.cutoff,
        "release": events.release,
        "compression": events.compression,
    }
