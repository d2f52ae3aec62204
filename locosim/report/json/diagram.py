"""The indicator diagram as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.starting import StartingEffort
from locosim.engine.cylinders.wheel_torque import WheelTorque
from locosim.engine.indicator_diagram import (
    ENDS,
    IndicatorDiagram,
    end_mean_pressure,
    labeled_stages,
    labeled_wheel_torques,
    stage_events,
    stroke_positions,
)
from locosim.physics.cylinder import valve_gear
from locosim.physics.cylinder.cycle_results import StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.report.json.cutoff import events_row
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def diagram_json(diagram: IndicatorDiagram) -> str:
    """Write an operating point with its diagrams; crank angles run from the dead center of each end."""
    figures = diagram.figures
    return envelope(
        "diagram",
        "cycle",
        made_from(diagram),
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
            "receiver_pressure_gauge_Pa": None
            if figures.receiver_pressure is None
            else float(figures.receiver_pressure[0]) - ATMOSPHERE,
            "stage_work_shares": [float(share[0]) for share in figures.stage_work_shares],
            "starting": starting_row(diagram.starting),
            "cylinders": [
                _cylinder(*stage, ends)
                for stage, ends in zip(labeled_stages(diagram), stage_events(diagram), strict=True)
            ],
            "revolution": [_torque_row(revolution) for _, revolution in labeled_wheel_torques(diagram)],
        },
    )


def starting_row(starting: StartingEffort) -> dict[str, Any]:
    """Indicated tractive effort at starting in full gear: mean, and at rest at the worst crank angle of each unit."""
    return {
        "mean_indicated_tractive_effort_N": starting.mean,
        "worst_indicated_tractive_effort_N": starting.worst,
        "worst_crank_angle_rad": starting.worst_angles,
        "live_steam_in_low_pressure_cylinders": starting.live_steam,
    }


def _cylinder(
    name: str,
    cylinder: Cylinder,
    stage: StageDiagram,
    events: Sequence[valve_gear.ValveEvents] | None,
) -> dict[str, Any]:
    """Pressure, volume and valve events of both ends over a revolution."""
    ends: dict[str, dict[str, Any]] = {
        end: {
            "mean_effective_pressure_Pa": end_mean_pressure(stage, end),
            "stroke": stroke_positions(cylinder, stage, end),
            "volume_m3": getattr(stage, f"volume_{end}"),
            "pressure_gauge_Pa": getattr(stage, f"pressure_{end}") - ATMOSPHERE,
        }
        for end in ENDS
    }
    for end, found in zip(ENDS, events or (None, None), strict=True):
        ends[end]["events"] = None if found is None else _end_events(found)
    return {"name": name, **ends, "crank_angle_rad": stage.angle}


def _end_events(events: valve_gear.ValveEvents) -> dict[str, float]:
    """Valve events of one end, as fractions of the stroke."""
    return {name: getattr(events, name) for name in ("admission", "cutoff", "release", "compression")}


def _torque_row(revolution: WheelTorque) -> dict[str, Any]:
    """Torque of one engine unit over a revolution, with the numbers of all units like it."""
    return {
        "engine_units": revolution.units,
        "crank_angle_rad": revolution.angle,
        "torque_N_m": revolution.torque,
        "rim_tractive_effort_N": revolution.effort,
        "max_over_mean": revolution.peak_to_mean,
        "torque_with_inertia_N_m": revolution.torque + revolution.inertia_torque,
        "rim_tractive_effort_with_inertia_N": revolution.effort_with_inertia,
        "max_over_mean_with_inertia": revolution.peak_to_mean_with_inertia,
    }
