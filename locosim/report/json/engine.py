"""Diagram, boiler and comparison as JSON: SI, each key with its unit."""

from __future__ import annotations

from typing import Any

from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.boiler_table import BoilerTable
from locosim.engine.comparison import Comparison, Side
from locosim.engine.cylinders.operating_points import Turn
from locosim.engine.indicator_diagram import (
    ENDS,
    Indicator,
    end_mean_pressure,
    stages_of,
    stroke_places,
    turns_of,
)
from locosim.engine.rated_effort import rated_effort
from locosim.report.json.journey import curve_row, envelope, events_row
from locosim.report.text.compare import worth_row


def diagram_json(drawn: Indicator) -> str:
    """Write an operating point with its diagrams; angles run from each end's own dead centre."""
    figures = drawn.figures
    return envelope(
        "diagram",
        "cycle",
        {
            "locomotive": drawn.locomotive.name,
            "engine_notes": list(drawn.notes),
            "speed_m_s": drawn.speed,
            "cutoff": drawn.cutoff,
            "regulator": drawn.regulator,
            "boiler_pressure_gauge_Pa": drawn.pressure - ATMOSPHERE,
            "indicated_pull_N": drawn.pull,
            "indicated_power_W": drawn.pull * drawn.speed,
            "steam_kg_s": drawn.steam,
            "steam_temperature_K": float(figures.steam_temperature[0]),
            "chest_pressure_gauge_Pa": float(figures.chest_pressure[0]) - ATMOSPHERE,
            "back_pressure_gauge_Pa": float(figures.back_pressure[0]),
            "condensed_share": float(figures.condensed_share[0]),
            "events": None if drawn.events is None else events_row(drawn.events),
            "cylinders": [
                {
                    "name": name,
                    **{
                        end: {
                            "mean_effective_pressure_Pa": end_mean_pressure(stage, end),
                            "stroke": stroke_places(cylinder, stage, end),
                            "volume_m3": getattr(stage, f"volume_{end}"),
                            "pressure_gauge_Pa": getattr(stage, f"pressure_{end}") - ATMOSPHERE,
                        }
                        for end in ENDS
                    },
                    "crank_angle_rad": stage.angle,
                }
                for name, cylinder, stage in stages_of(drawn)
            ],
            "turn": [_turn(turn) for _, turn in turns_of(drawn)],
        },
    )


def _turn(turn: Turn) -> dict[str, Any]:
    """One engine unit over a turn, with the numbers of all units that are like it."""
    return {
        "engine_units": turn.units,
        "crank_angle_rad": turn.angle,
        "torque_N_m": turn.torque,
        "rim_pull_N": turn.pull,
        "greatest_over_mean": turn.unevenness,
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
            "standing_loss_W": supply.standing_loss,
            "feed_enthalpy_J_kg": supply.feed_enthalpy,
            "draught_raised_Pa": boiler.draught_raised,
            "held_by": supply.binding.name,
            "limits": [
                {
                    "name": limit.name,
                    "steam_kg_s": limit.steam,
                    "grate_rate_kg_m2_s": None if limit.steam is None else limit.grate_rate,
                    "binds": limit.binds,
                }
                for limit in boiler.limits
            ],
            "not_binding": {rating.name: rating.steam for rating in supply.ratings},
            "rows": [
                {
                    "grate_rate_kg_m2_s": p.grate_rate,
                    "fuel_kg_s": p.fuel,
                    "steam_kg_s": p.steam,
                    "efficiency": p.efficiency,
                    "steam_per_fuel": p.evaporation,
                    "steam_temperature_K": p.steam_temperature,
                    "superheat_K": p.superheat,
                    "unburnt_share": p.unburnt,
                    "smokebox_temperature_K": p.smokebox_temperature,
                    "draught_Pa": p.draught,
                }
                for p in boiler.points
            ],
        },
    )


def compare_json(comparison: Comparison) -> str:
    """Write two engines side by side, and what each change is worth."""
    return envelope(
        "compare",
        comparison.first.performance.method,
        {
            "rail": comparison.rail,
            "speed_m_s": comparison.speed,
            "engines": [_side(side) for side in (comparison.first, comparison.second)],
            "changes": [worth_row(worth) for worth in comparison.changes],
            "together": worth_row(comparison.together),
        },
    )


def _side(side: Side) -> dict[str, Any]:
    supply = side.performance.supply
    return {
        "locomotive": side.performance.locomotive.name,
        "engine_notes": list(side.performance.notes),
        "rated_tractive_effort_N": rated_effort(side.performance.locomotive),
        "factor_of_adhesion": side.factor_of_adhesion,
        "heaviest_coupled_axle_kg": side.axle_load,
        "fuel": {"kind": side.performance.fuel.kind, "heating_value_J_kg": supply.heating_value},
        "sustained_steam_kg_s": supply.sustained,
        "boiler_held_by": supply.binding.name,
        "start": curve_row(side.start),
        "rows": [curve_row(p) for p in side.rows],
        "at_speed": curve_row(side.at_speed),
        "cheapest_cutoff": side.cheapest_cutoff,
        "cheapest_steam_per_work_kg_J": side.cheapest_steam,
    }
