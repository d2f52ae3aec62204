"""Two engines side by side as JSON."""

from __future__ import annotations

from typing import Any

from locosim.engine.comparison import ChangeEffect, ComparedEngine, Comparison
from locosim.engine.rated_effort import rated_effort
from locosim.report.json.curve import curve_row
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from
from locosim.report.text.compare import value_text


def compare_json(comparison: Comparison) -> str:
    """Write two engines side by side, and the effect of each change."""
    return envelope(
        "compare",
        comparison.first.performance.method,
        made_from(comparison),
        {
            "rail": comparison.rail,
            "speed_m_s": comparison.speed,
            "engines": [_side(side) for side in (comparison.first, comparison.second)],
            "changes": [_effect_row(effect) for effect in comparison.changes],
            "combined": _effect_row(comparison.combined),
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
        "sustained_evaporation_kg_s": supply.sustained,
        "boiler_limited_by": supply.binding.name,
        "start": curve_row(side.start),
        "rows": [curve_row(p) for p in side.rows],
        "at_speed": curve_row(side.at_speed),
        "best_cutoff": side.best_cutoff,
        "min_steam_per_work_kg_J": side.min_steam_per_work,
    }


def _effect_row(effect: ChangeEffect) -> dict[str, Any]:
    """One change as plain data."""
    numbers = (int, float, str, type(None))
    return {
        "change": effect.name,
        "fields": list(effect.fields),
        "unit": effect.unit,
        "before": effect.before if isinstance(effect.before, numbers) else value_text(effect.before, ""),
        "after": effect.after if isinstance(effect.after, numbers) else value_text(effect.after, ""),
        "starting_tractive_effort_change": effect.start,
        "drawbar_power_change": effect.power,
        "fuel_per_work_change": effect.fuel,
        "problem": effect.problem,
    }
