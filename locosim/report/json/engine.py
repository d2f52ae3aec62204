"""Diagram, boiler and comparison as JSON: SI, each key with its unit."""

from __future__ import annotations

from typing import Any

from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.boiler_table import BoilerTable
from locosim.engine.comparison import ComparedEngine, Comparison
from locosim.engine.cylinders.operating_points import WheelTorque
from locosim.engine.indicator_diagram import (
    ENDS,
    IndicatorDiagram,
    end_mean_pressure,
    labeled_stages,
    labeled_wheel_torques,
    stroke_positions,
)
from locosim.engine.rated_effort import rated_effort
from locosim.report.json.journey import curve_row, envelope, events_row
from locosim.report.text.compare import effect_row


def diagram_json(diagram: IndicatorDiagram) -> str:
    """Write an operating point with its diagrams; angles run from each end's own dead center."""
    figures = diagram.figures
    return envelope(
        "diagram",
        "cycle",
        {
            "locomotive": diagram.locomotive.name,
            "locomotive_notes": list(diagram.notes),
            "speed_m_s": diagram.speed,
            "cutoff": diagram.cutoff,
            "throttle": diagram.throttle,
            "boiler_pressure_gauge_Pa": diagram.pressure - ATMOSPHERE,
            "indicated_tractive_effort_N": diagram.effort,
            "indicated_power_W": diagram.effort * diagram.speed,
            "steam_kg_s": diagram.steam,
            "steam_temperature_K": float(figures.steam_temperature[0]),
            "steam_chest_pressure_gauge_Pa": float(figures.chest_pressure[0]) - ATMOSPHERE,
            "back_pressure_gauge_Pa": float(figures.back_pressure[0]),
            "wall_condensation_share": float(figures.wall_condensation_share[0]),
            "events": None if diagram.events is None else events_row(diagram.events),
            "cylinders": [
                {
                    "name": name,
                    **{
                        end: {
                            "mean_effective_pressure_Pa": end_mean_pressure(stage, end),
                            "stroke": stroke_positions(cylinder, stage, end),
                            "volume_m3": getattr(stage, f"volume_{end}"),
                            "pressure_gauge_Pa": getattr(stage, f"pressure_{end}") - ATMOSPHERE,
                        }
                        for end in ENDS
                    },
                    "crank_angle_rad": stage.angle,
                }
                for name, cylinder, stage in labeled_stages(diagram)
            ],
            "revolution": [_torque_row(revolution) for _, revolution in labeled_wheel_torques(diagram)],
        },
    )


def _torque_row(revolution: WheelTorque) -> dict[str, Any]:
    """One engine unit over a turn, with the numbers of all units that are like it."""
    return {
        "engine_units": revolution.units,
        "crank_angle_rad": revolution.angle,
        "torque_N_m": revolution.torque,
        "rim_tractive_effort_N": revolution.effort,
        "max_over_mean": revolution.peak_to_mean,
    }


def boiler_json(boiler: BoilerTable) -> str:
    """Write a boiler over its firing rate."""
    supply = boiler.supply
    return envelope(
        "boiler",
        supply.method,
        {
            "locomotive": boiler.locomotive.name,
            "fuel": boiler.fuel.kind,
            "heating_value_J_kg": supply.heating_value,
            "standing_loss_W": supply.radiation_loss,
            "feed_enthalpy_J_kg": supply.feed_enthalpy,
            "available_draft_Pa": boiler.available_draft,
            "limited_by": supply.binding.name,
            "limits": [
                {
                    "name": limit.name,
                    "steam_kg_s": limit.steam,
                    "grate_rate_kg_m2_s": None if limit.steam is None else limit.firing_rate_per_grate_area,
                    "binds": limit.binds,
                }
                for limit in boiler.limits
            ],
            "reference_ratings": {rating.name: rating.steam for rating in supply.ratings},
            "rows": [
                {
                    "grate_rate_kg_m2_s": p.firing_rate_per_grate_area,
                    "fuel_kg_s": p.fuel,
                    "steam_kg_s": p.steam,
                    "efficiency": p.efficiency,
                    "steam_per_fuel": p.steam_per_fuel,
                    "steam_temperature_K": p.steam_temperature,
                    "superheat_K": p.superheat,
                    "unburned_share": p.unburned,
                    "smokebox_temperature_K": p.smokebox_temperature,
                    "required_draft_Pa": p.draft,
                }
                for p in boiler.points
            ],
        },
    )


def compare_json(comparison: Comparison) -> str:
    """Write two engines side by side, and the effect of each change."""
    return envelope(
        "compare",
        comparison.first.performance.method,
        {
            "rail": comparison.rail,
            "speed_m_s": comparison.speed,
            "engines": [_side(side) for side in (comparison.first, comparison.second)],
            "changes": [effect_row(effect) for effect in comparison.changes],
            "combined": effect_row(comparison.combined),
        },
    )


def _side(side: ComparedEngine) -> dict[str, Any]:
    supply = side.performance.supply
    return {
        "locomotive": side.performance.locomotive.name,
        "locomotive_notes": list(side.performance.notes),
        "rated_tractive_effort_N": rated_effort(side.performance.locomotive),
        "factor_of_adhesion": side.factor_of_adhesion,
        "heaviest_driving_axle_kg": side.axle_load,
        "fuel": {"kind": side.performance.fuel.kind, "heating_value_J_kg": supply.heating_value},
        "sustained_steam_kg_s": supply.sustained,
        "boiler_limited_by": supply.binding.name,
        "start": curve_row(side.start),
        "rows": [curve_row(p) for p in side.rows],
        "at_speed": curve_row(side.at_speed),
        "best_cutoff": side.best_cutoff,
        "min_steam_per_work_kg_J": side.min_steam_per_work,
    }
