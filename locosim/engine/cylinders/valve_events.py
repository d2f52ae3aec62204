"""Valve events of a set of cylinders, whichever valves it has."""

from __future__ import annotations

from locosim.physics.cylinder.poppet_gear import PoppetGear, poppet_events
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.cylinder.valve_gear import (
    ValveEvents,
    lead_at,
    link_amplitude,
    mid_gear_cutoff,
    valve_events,
)


def events_of_ends(
    cylinder: Cylinder, poppets: PoppetGear | None, cutoff: float
) -> tuple[ValveEvents, ValveEvents] | None:
    """Valve events at the front and the back end.

    Args:
        cylinder: The cylinder, with its sliding valve.
        poppets: Poppet valves instead of it, if any.
        cutoff: Cutoff of this set, mean of both ends [1].

    Returns:
        The events; None where the gear gives no cutoff so short.
    """
    if poppets is not None:
        return poppet_events(poppets, cutoff=cutoff, rod_ratio=cylinder.rod_ratio)
    if cutoff < mid_gear_cutoff(lap=cylinder.lap, lead=cylinder.lead, lead_rise=cylinder.lead_rise):
        return None
    return valve_events(
        cutoff=cutoff,
        lap=cylinder.lap,
        lead=cylinder.lead,
        exhaust_lap=cylinder.exhaust_lap,
        rod_ratio=cylinder.rod_ratio,
        lead_rise=cylinder.lead_rise,
        travel=cylinder.travel,
    )


def lead_at_cutoff(cylinder: Cylinder, cutoff: float) -> float:
    """Lead of a sliding valve at a cutoff that its gear gives [m]; cutoff as a fraction of the stroke."""
    gear = {
        "lap": cylinder.lap,
        "lead": cylinder.lead,
        "lead_rise": cylinder.lead_rise,
        "travel": cylinder.travel,
    }
    return lead_at(link_amplitude=link_amplitude(cutoff=cutoff, **gear), **gear)
