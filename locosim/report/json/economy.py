"""The driving with the least fuel as JSON."""

from __future__ import annotations

from typing import Any

from locosim.planning.crew_card import CardEntry
from locosim.planning.economy import Economy
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def economy_json(economy: Economy) -> str:
    """Write the driving with the least fuel as JSON, in SI; times on the clock in s from midnight."""
    return envelope(
        "economy",
        economy.performance.method,
        made_from(economy),
        {
            "excursion": economy.excursion.name,
            "everyday_fuel_kg": economy.everyday_fuel,
            "planned_fuel_kg": economy.planned_fuel,
            "fuel_kg": economy.fuel,
            "alternating_fuel_kg": economy.alternating_fuel,
            "saving": economy.saving,
            "everyday_driving_stands_because": economy.refused,
            "sections": [
                {
                    "from": section.start,
                    "to": section.end,
                    "booked_arrival_s": section.booked,
                    "everyday_arrival_s": section.everyday_arrival,
                    "arrival_s": section.arrival,
                    "everyday_fuel_kg": section.everyday_fuel,
                    "fuel_kg": section.fuel,
                    "driven_by_plan": section.planned,
                }
                for section in economy.sections
            ],
            "card": [_entry(entry) for entry in economy.card],
        },
    )


def _entry(entry: CardEntry) -> dict[str, Any]:
    return {
        "milepost_m": entry.milepost,
        "start_m": entry.start,
        "end_m": entry.end,
        "time_s": entry.time,
        "task": entry.task,
        "from_speed_m_s": entry.from_speed,
        "to_speed_m_s": entry.to_speed,
        "cutoff": entry.cutoff,
        "throttle": entry.throttle,
        "stop": entry.stop,
    }
