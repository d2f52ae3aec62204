"""Cylinders with their valves as the cycle uses them, and the range of cutoffs their gear gives.

What the engine file leaves out follows from design rules; `valve_gear_notes` says where.
"""

from __future__ import annotations

import math

from locosim import model
from locosim.errors import OutOfRange
from locosim.model import Boiler, Cylinders, EngineUnit, Locomotive, ValveGear
from locosim.physics.cylinder import design_rules
from locosim.physics.cylinder.poppet_gear import PoppetGear
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.cylinder.valve_gear import full_gear_cutoff, mid_gear_cutoff


def cycle_cylinder(boiler: Boiler, unit: EngineUnit, cylinders: Cylinders) -> Cylinder:
    """A cylinder with its valve, as the cycle uses it; what the file leaves out by design rules.

    Args:
        boiler: The boiler; without a gear in the file, superheated steam means piston valves, saturated steam slide
            valves.
        unit: The engine unit, with its gear.
        cylinders: The set the cylinder belongs to.
    """
    rule = design_rules.slide_valve_cylinder
    if boiler.superheater is not None:
        rule = design_rules.piston_valve_cylinder
    usual = rule(
        number=cylinders.number,
        bore=cylinders.bore,
        stroke=cylinders.stroke,
        rod_ratio=cylinders.rod_ratio,
        clearance=cylinders.clearance,
    )
    gear = unit.gear_of(cylinders)
    if not isinstance(gear, ValveGear):
        return usual
    return usual._replace(
        lap=gear.lap,
        lead=gear.lead,
        exhaust_lap=gear.exhaust_lap,
        port_length=usual.port_length if gear.port_length is None else gear.port_length,
        port_width=usual.port_width if gear.port_width is None else gear.port_width,
        lead_rise=gear.lead_rise,
        travel=gear.travel if gear.lead_rise else 0.0,
    )


def cycle_poppets(unit: EngineUnit, cylinders: Cylinders) -> PoppetGear | None:
    """Poppet valves of a set, as the cycle uses them; None where it has a sliding valve.

    Args:
        unit: The engine unit, with its gear.
        cylinders: The set.
    """
    gear = unit.gear_of(cylinders)
    if not isinstance(gear, model.PoppetGear):
        return None
    return PoppetGear(
        preadmission=gear.preadmission,
        release=gear.release,
        compression=gear.compression,
        steam_area=gear.steam_valve_area_ratio * cylinders.area,
        exhaust_area=gear.exhaust_valve_area_ratio * cylinders.area,
        lift_angle=2.0 * math.pi * gear.lift_rotation,
    )


def first_valves(locomotive: Locomotive) -> tuple[Cylinder, PoppetGear | None]:
    """The first cylinder of the first engine unit with its sliding valve, and its poppet valves if it has any.

    Args:
        locomotive: The engine; design rules apply where no gear is given.
    """
    unit = locomotive.engine_units[0]
    cylinders = unit.cylinders[0]
    return cycle_cylinder(locomotive.boiler, unit, cylinders), cycle_poppets(unit, cylinders)


def longest_gear_cutoff(gear: ValveGear | None) -> float:
    """Longest cutoff the valve travel of a gear allows [1]; 1 without a gear.

    Args:
        gear: The gear of a sliding valve.
    """
    if gear is None:
        return 1.0
    return full_gear_cutoff(lap=gear.lap, lead=gear.lead, travel=gear.travel)


def cutoff_range(locomotive: Locomotive) -> tuple[float, float, list[str]]:
    """Range of cutoffs that both file and gear allow [1], and a note where the gear is narrower.

    Args:
        locomotive: The engine.

    Raises:
        OutOfRange: A gear that gives no cutoff, or nearly only one.
    """
    units = locomotive.engine_units
    file_min = max(unit.min_cutoff for unit in units)
    file_max = min(unit.max_cutoff for unit in units)
    # Valves of its own on a low-pressure set limit the cutoff of that set, not the lever.
    sets = [
        (unit, c)
        for unit in units
        for c in unit.cylinders
        if c.steam_source == "boiler" or c.valve_gear is None
    ]
    gears = [gear for unit, c in sets if isinstance(gear := unit.gear_of(c), ValveGear)]
    sliding = [
        cycle_cylinder(locomotive.boiler, unit, c) for unit, c in sets if cycle_poppets(unit, c) is None
    ]
    shortest = max(
        (mid_gear_cutoff(lap=c.lap, lead=c.lead, lead_rise=c.lead_rise) for c in sliding), default=0.0
    )
    longest = min((longest_gear_cutoff(gear) for gear in gears), default=1.0)
    notes = []
    if longest < file_max - 0.005:
        notes.append(
            f"valve travel limits cutoff to {longest:.0%}, below the {file_max:.0%} of the engine file"
        )
    if shortest > file_min + 0.005:
        notes.append(
            f"lap and lead limit cutoff to {shortest:.0%} or longer, above the {file_min:.0%} of the engine file"
        )
    low, high = max(file_min, shortest * (1 + 1e-9)), min(file_max, longest)
    if low > 0.9 * high:
        raise OutOfRange(
            f"{locomotive.name}: the valve gear gives cutoffs from {low:.3f} to {high:.3f} only; "
            "look at lap, lead and travel"
        )
    return low, high, notes


def valve_gear_notes(locomotive: Locomotive) -> list[str]:
    """State which dimensions of the valve gear were set by rule.

    Args:
        locomotive: The engine.
    """
    kind = (
        "slide valve of about 1900" if locomotive.boiler.superheater is None else "long-travel piston valve"
    )
    gears_by_set = [unit.gear_of(c) for unit in locomotive.engine_units for c in unit.cylinders]
    notes = []
    if None in gears_by_set:
        notes.append(f"valve gear not given: lap, lead and ports are those of a {kind} in proportion")
    gears = [gear for gear in gears_by_set if isinstance(gear, ValveGear)]
    if any(gear.port_length is None or gear.port_width is None for gear in gears):
        notes.append(f"ports not given: those of a {kind} in proportion")
    if locomotive.compound:
        low = next(
            c for unit in locomotive.engine_units for c in unit.cylinders if c.steam_source == "receiver"
        )
        starting = (
            "; it starts compound, because live_steam_pressure_gauge of the low-pressure cylinders is not given"
            if low.live_steam_pressure_gauge is None
            else ""
        )
        notes.append(f"one lever sets both stages, the low-pressure cutoff longer{starting}")
    return notes
