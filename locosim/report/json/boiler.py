"""The boiler by firing rate as JSON."""

from __future__ import annotations

from typing import Any

from locosim.engine.boiler.barrel import free_gas_area
from locosim.engine.boiler.boiler_table import BoilerPoint, BoilerTable, LimitPoint
from locosim.engine.boiler.front_end import FrontEnd
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def boiler_json(boiler: BoilerTable) -> str:
    """Write evaporation, efficiency and limits by firing rate."""
    supply = boiler.supply
    return envelope(
        "boiler",
        supply.method,
        made_from(boiler),
        {
            "locomotive": boiler.locomotive.name,
            "fuel": boiler.fuel.kind,
            "heating_value_J_kg": supply.heating_value,
            "radiation_loss_W": supply.radiation_loss,
            "feed_enthalpy_J_kg": supply.feed_enthalpy,
            "free_gas_area_m2": None if supply.balance is None else free_gas_area(boiler.locomotive.boiler),
            "gas_area_by_rule": not boiler.locomotive.boiler.dimensions_known,
            "front_end": None if boiler.front_end is None else _front_end(boiler.front_end),
            "limited_by": supply.binding.name,
            "limits": [_limit(limit) for limit in boiler.limits],
            "reference_ratings": {rating.name: rating.steam for rating in supply.ratings},
            "rows": [_row(point) for point in boiler.points],
            "forced": [
                {"asked": forced.asked, **_row(forced.point), "limits_exceeded": list(forced.exceeded)}
                for forced in boiler.forced
            ],
            "notes": list(boiler.notes),
        },
    )


def _front_end(end: FrontEnd) -> dict[str, float]:
    return {
        "nozzle_area_m2": end.nozzle_area,
        "max_back_pressure_gauge_Pa": end.max_back_pressure,
        "available_draft_Pa": end.available_draft,
        "required_draft_Pa": end.required_draft,
        "required_draft_over_back_pressure": end.required_ratio,
    }


def _limit(limit: LimitPoint) -> dict[str, Any]:
    reached = limit.steam is not None
    return {
        "name": limit.name,
        "steam_kg_s": limit.steam,
        "firing_rate_per_grate_area_kg_m2_s": limit.firing_rate_per_grate_area if reached else None,
        "binds": limit.binds,
    }


def _row(point: BoilerPoint) -> dict[str, Any]:
    return {
        "firing_rate_per_grate_area_kg_m2_s": point.firing_rate_per_grate_area,
        "fuel_kg_s": point.fuel,
        "steam_kg_s": point.steam,
        "efficiency": point.efficiency,
        "steam_per_fuel": point.steam_per_fuel,
        "steam_temperature_K": point.steam_temperature,
        "superheat_K": point.superheat,
        "unburned_share": point.unburned,
        "smokebox_temperature_K": point.smokebox_temperature,
        "required_draft_Pa": point.draft,
    }
