"""Consists compared as JSON."""

from __future__ import annotations

from typing import Any

from locosim.planning.consists import Consist, ConsistTable
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def consists_json(compared: ConsistTable) -> str:
    """Write consists compared as JSON."""
    prices = compared.prices
    content = {
        "order": compared.order,
        "prices": {"fuel_per_kg": prices.fuel, "water_per_m3": prices.water, "time_per_s": prices.time},
        "rows": [_row(each) for each in compared.consists],
    }
    return envelope("consists", compared.method, made_from(compared), content)


def _row(each: Consist) -> dict[str, Any]:
    worst, excursion = each.worst, each.excursion
    return {
        "consist": each.name,
        "locomotive": excursion and excursion.locomotive.name,
        "train": excursion and excursion.train.name,
        "trailing_mass_kg": excursion and excursion.train.mass,
        "verdict": each.verdict,
        "margin": worst and worst.margin,
        "rule": worst and worst.rule,
        "place": worst and worst.place,
        "time_s": each.time,
        "water_kg": each.water,
        "fuel_kg": each.fuel,
        "cost": each.cost,
        "problem": each.problem,
    }
