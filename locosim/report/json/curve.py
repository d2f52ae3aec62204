"""The speed curve as JSON."""

from __future__ import annotations

from typing import Any

from locosim.constants import ATMOSPHERE
from locosim.engine.command_results import SpeedCurve
from locosim.engine.performance import Performance
from locosim.engine.rated_effort import rated_effort
from locosim.engine.speed_curve import CurvePoint
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def curve_json(curve: SpeedCurve) -> str:
    """Write a speed curve as JSON, with that of a short effort."""
    return envelope(
        "curve",
        curve.performance.method,
        made_from(curve),
        {
            **engine_summary(curve.performance),
            "rail": curve.rail,
            "starting": _starting(curve.performance),
            "rows": [curve_row(point) for point in curve.points],
            "compound": [
                {
                    "speed_m_s": point.speed,
                    "receiver_pressure_gauge_Pa": stage.receiver_pressure - ATMOSPHERE,
                    "high_pressure_work_share": stage.high_pressure_share,
                }
                for point, stage in zip(curve.points, curve.stages, strict=False)
            ],
            "short_effort": _short_effort(curve) if curve.efforts else None,
        },
    )


def _starting(performance: Performance) -> dict[str, Any]:
    """Indicated tractive effort at starting in full gear."""
    mean, worst, live_steam = performance.map.starting_efforts(
        performance.locomotive.boiler.absolute_pressure
    )
    return {
        "mean_indicated_tractive_effort_N": mean,
        "worst_indicated_tractive_effort_N": worst,
        "live_steam_in_low_pressure_cylinders": live_steam,
    }


def engine_summary(performance: Performance) -> dict[str, Any]:
    """Rated tractive effort, fuel, sustained evaporation and the limits of the boiler."""
    supply = performance.supply
    return {
        "locomotive": performance.locomotive.name,
        "rated_tractive_effort_N": rated_effort(performance.locomotive),
        "fuel": {"kind": performance.fuel.kind, "heating_value_J_kg": supply.heating_value},
        "sustained_evaporation_kg_s": supply.sustained,
        "boiler_limited_by": supply.binding.name,
        "boiler_limits_kg_s": {limit.name: limit.steam if limit.reached else None for limit in supply.limits},
        "locomotive_notes": list(performance.notes),
    }


def curve_row(point: CurvePoint) -> dict[str, Any]:
    """One point of a speed curve."""
    return {
        "speed_m_s": point.speed,
        "rim_tractive_effort_N": point.rim_effort,
        "drawbar_pull_N": point.drawbar_pull,
        "indicated_power_W": point.indicated_power,
        "drawbar_power_W": point.drawbar_power,
        "cutoff": point.cutoff,
        "steam_kg_s": point.steam,
        "fuel_kg_s": point.fuel,
        "limited_by": point.limit,
    }


def _short_effort(curve: SpeedCurve) -> dict[str, Any]:
    first = curve.efforts[0]
    return {
        "duration_s": first.duration,
        "feed_deferred_kg": first.deferred_feed,
        "pressure_drops": [
            {
                "final_pressure_gauge_Pa": effort.final_pressure - ATMOSPHERE,
                "heat_J": effort.heat,
                "extra_steam_kg_s": effort.extra_steam,
            }
            for effort in curve.efforts
        ],
        "rows": [
            {
                **curve_row(point),
                "final_pressure_gauge_Pa": None
                if point.final_pressure is None
                else point.final_pressure - ATMOSPHERE,
            }
            for point in curve.effort_points
        ],
    }
