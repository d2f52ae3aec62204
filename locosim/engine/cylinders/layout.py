"""A locomotive laid out for the cylinder cycle: sets of cylinders and their share of the steam passages.

What the file does not give follows from design rules, and `notes` says which rule was used. The steam temperature is
that of the design supply, with the usual fuel, whoever fires today.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from locosim import model
from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.by_heat_balance import design_supply
from locosim.engine.boiler.front_end import (
    front_end,
    nozzle_area,
    nozzle_steam_share,
    vacuum_ratio,
)
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.si_text import format_opening, format_pressure, format_temperature
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Boiler, Cylinders, EngineUnit, Locomotive, SteamPassages, ValveGear
from locosim.physics.boiler.draft import DRAFT_TO_BACK_PRESSURE_RATIO
from locosim.physics.boiler.limits import FIRE, FRONT_END, GRATE, OIL_BURNER
from locosim.physics.cylinder import design_rules
from locosim.physics.cylinder.cycle import CycleEngine
from locosim.physics.cylinder.poppet_gear import PoppetGear
from locosim.physics.cylinder.revolution import CycleConstants, Cylinder
from locosim.physics.cylinder.valve_gear import full_gear_cutoff, mid_gear_cutoff
from locosim.physics.steam import properties as steam
from locosim.physics.traction.crank_effort import CRANK_ANGLES
from locosim.physics.types import Floats

# Quality of steam from a boiler without superheater, as in the fit of the cycle's constants.
BOILER_STEAM_QUALITY = 0.985
BOILER_LIMITS = (
    GRATE,
    OIL_BURNER,
    FIRE,
    FRONT_END,
)  # limits of the boiler itself, not of the crew or the feed


class LowPressureCutoff(NamedTuple):
    """Cutoff of the low-pressure cylinders, set by the same lever as the high-pressure cutoff.

    It is longer than the high-pressure cutoff, so that receiver pressure divides the work between the stages.

    Attributes:
        offset: Cutoff with the high-pressure cutoff at 0 [1].
        slope: Its growth over that of the high-pressure cutoff [1].
        longest: Longest cutoff of the gear [1].
    """

    offset: float
    slope: float
    longest: float

    def at(self, cutoff: Floats) -> Floats:
        """Low-pressure cutoff at a high-pressure cutoff [1], of the same shape."""
        return np.minimum(self.offset + self.slope * cutoff, self.longest)


@frozen
class CylinderGroup:
    """Cylinders that work alike, with their part of the steam passages.

    Attributes:
        stages: One set of cylinders, or the high- and the low-pressure set.
        cranks: Crank angles of each set; of several like groups those of the first [rad].
        driver_diameter: Diameter of the driving wheels [m].
        group_count: Number of such groups on the engine.
        units: Indices from 0 of the engine units they drive.
        crank_offset: Crank angle of each such group behind the first [rad].
        passage: Flow area from boiler to steam chest of one group [m²].
        nozzle: Its part of the exhaust nozzle [m²].
        low_pressure_cutoff: Cutoff of the low-pressure set; None for one stage.
        poppets: Poppet valves of each set, None for a set with a sliding valve.
        reciprocating_masses: Reciprocating mass of one cylinder of each set [kg].
        live_steam_pressure: Absolute pressure of live steam in the low-pressure set at starting; None where the engine
            starts compound, or is no compound [Pa].
    """

    stages: tuple[Cylinder, ...]
    cranks: tuple[tuple[float, ...], ...]
    driver_diameter: float
    group_count: int
    units: tuple[int, ...]
    crank_offset: tuple[float, ...]
    passage: float
    nozzle: float
    low_pressure_cutoff: LowPressureCutoff | None = None
    poppets: tuple[PoppetGear | None, ...] = (None,)
    reciprocating_masses: tuple[float, ...] = (0.0,)
    live_steam_pressure: float | None = None

    def cycle_engine(self, constants: CycleConstants) -> CycleEngine:
        """The group as the cylinder cycle needs it."""
        return CycleEngine(
            cylinders=self.stages,
            cranks=self.cranks,
            nozzle_area=self.nozzle,
            constants=constants,
            poppets=self.poppets,
        )

    def cutoffs(self, cutoff: Floats) -> list[Floats]:
        """Cutoff of each stage [1], each of the shape of the argument.

        Args:
            cutoff: Cutoff as the lever is set [1].
        """
        return [cutoff] if self.low_pressure_cutoff is None else [cutoff, self.low_pressure_cutoff.at(cutoff)]


@frozen(eq=False)
class CycleLayout:
    """An engine ready for the cycle.

    Attributes:
        locomotive: The engine.
        groups: Its cylinders.
        design: Steam supply that gives the steam temperature.
        constants: Constants of the cycle, with the engine's own values.
        design_steam_rate: Steam to the cylinders at the limit of the boiler itself [kg/s].
        throttle_area_ratio: Area of the wide-open throttle over that of the rest of the steam passage [1].
        steam_rate_factor: Steam to the cylinders over that computed by the cycle [1].
        min_cutoff: Shortest cutoff used [1].
        max_cutoff: Longest cutoff of the gear [1].
        notes: What was set by rule because the engine file does not give it.
    """

    locomotive: Locomotive
    groups: tuple[CylinderGroup, ...]
    design: SteamSupply
    constants: CycleConstants
    design_steam_rate: float
    throttle_area_ratio: float
    steam_rate_factor: float
    min_cutoff: float
    max_cutoff: float
    notes: tuple[str, ...]

    def steam_temperature(self, steam_rate: Floats) -> Floats:
        """Steam temperature [K] at a steam rate to the cylinders in kg/s, of the same shape."""
        return self.design.steam_temperature_at(steam_rate + self.locomotive.auxiliaries.continuous_demand)

    def enthalpy(self, pressure: Floats, temperature: Floats) -> Floats:
        """Enthalpy of the steam leaving the boiler [J/kg], of the shape of the arguments.

        Args:
            pressure: Absolute boiler pressure [Pa].
            temperature: Steam temperature; not used without a superheater [K].
        """
        if self.locomotive.boiler.superheater is None:
            return np.asarray(np.vectorize(_wet_steam_enthalpy, otypes=[float])(pressure))
        return np.asarray(np.vectorize(_superheated_enthalpy, otypes=[float])(pressure, temperature))


def _wet_steam_enthalpy(pressure: float) -> float:
    return steam.wet_steam_enthalpy(pressure=pressure, quality=BOILER_STEAM_QUALITY)


def _superheated_enthalpy(pressure: float, temperature: float) -> float:
    boiling = steam.saturation_temperature(pressure=pressure)
    return steam.enthalpy(pressure=pressure, temperature=max(temperature, boiling + 0.1))


def _steam_rate_factor(locomotive: Locomotive, assumptions: Assumptions) -> float:
    """Steam over that computed by the cycle: the engine's own factor, or the assumed one [1]."""
    own = locomotive.steam_passages.steam_rate_factor
    return assumptions.steam_rate_factor if own is None else own


def build_cycle_layout(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> CycleLayout:
    """Lay a locomotive out for the cycle.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures.

    Raises:
        OutOfRange: Cylinders arranged so that the cycle does not cover them, or a gear that gives no cutoff.
    """
    design = design_supply(locomotive, assumptions)
    boiler_limit = min(limit.steam for limit in design.limits if limit.name in BOILER_LIMITS)
    full = max(boiler_limit - locomotive.auxiliaries.continuous_demand, 0.5 * boiler_limit)
    temperature = float(design.steam_temperature_at(boiler_limit))
    # A feedwater heater takes its part of the exhaust, as if the nozzle were so much wider.
    nozzle = nozzle_area(locomotive) / nozzle_steam_share(locomotive, assumptions)
    passage = _steam_passage_area(locomotive)
    groups = _cylinder_groups(locomotive, passage, nozzle, assumptions)
    shortest, longest, notes = _cutoff_range(locomotive)
    return CycleLayout(
        locomotive=locomotive,
        groups=groups,
        design=design,
        constants=_cycle_constants(locomotive.steam_passages, groups[0].stages[0]),
        design_steam_rate=full,
        throttle_area_ratio=assumptions.throttle_area_ratio,
        steam_rate_factor=_steam_rate_factor(locomotive, assumptions),
        min_cutoff=shortest,
        max_cutoff=longest,
        notes=(
            *_valve_gear_notes(locomotive),
            *_front_end_notes(locomotive, design, assumptions),
            *_superheat_notes(temperature, assumptions),
            *notes,
        ),
    )


def _steam_passage_area(locomotive: Locomotive) -> float:
    """Flow area from boiler to steam chest of the whole engine [m²]: as given, or by the pistons it feeds."""
    given = locomotive.steam_passages.steam_passage_area
    if given is not None:
        return given
    fed = [
        cylinders
        for unit in locomotive.engine_units
        for cylinders in unit.cylinders
        if cylinders.steam_source == "boiler"
    ]
    pistons = sum(cylinders.number * 0.25 * math.pi * cylinders.bore**2 for cylinders in fed)
    return design_rules.PASSAGE_TO_PISTON_AREA * pistons


def _front_end_notes(locomotive: Locomotive, design: SteamSupply, assumptions: Assumptions) -> list[str]:
    """Name a nozzle set by rule, and warn if the fire requires more of the front end than it raises."""
    passages = locomotive.steam_passages
    notes = []
    if passages.nozzle_area is None:
        notes.append(
            f"exhaust nozzle not given: {format_opening(nozzle_area(locomotive))}, a usual share of the gas area, "
            "is assumed"
        )
    if passages.max_back_pressure is None:
        notes.append(
            f"highest back pressure not given: {format_pressure(assumptions.max_back_pressure)} is assumed"
        )
    if design.draft is not None:
        required = front_end(locomotive, design, assumptions).required_ratio
        if required > vacuum_ratio(locomotive):
            notes.append(
                f"at the front-end limit the fire requires a draft of {required:.3f} of the back pressure; the front "
                f"end raises {vacuum_ratio(locomotive):.3f} (plain {DRAFT_TO_BACK_PRESSURE_RATIO:.3f}, a good double "
                "stack about twice that)"
            )
    return notes


def _superheat_notes(temperature: float, assumptions: Assumptions) -> list[str]:
    """Warn if the steam temperature at full steam [K] is higher than any in practice."""
    if temperature <= assumptions.max_steam_temperature:
        return []
    return [
        f"steam temperature at full steam is {format_temperature(temperature)}, above the "
        f"{format_temperature(assumptions.max_steam_temperature)} that oil and packings withstand; "
        "look at boiler.superheater.surface"
    ]


def _cycle_constants(passages: SteamPassages, cylinder: Cylinder) -> CycleConstants:
    """Constants of the cycle, with leakage by the lap of the valve and the engine's own values where given."""
    leakage = design_rules.leakage_area_ratio(lap=cylinder.lap, stroke=cylinder.stroke)
    given = {name: getattr(passages, name, None) for name in CycleConstants._fields}
    return design_rules.FITTED_CONSTANTS._replace(leakage_area_ratio=leakage)._replace(
        **{name: value for name, value in given.items() if value is not None}
    )


def _cylinder_groups(
    locomotive: Locomotive, passage: float, nozzle: float, assumptions: Assumptions
) -> tuple[CylinderGroup, ...]:
    """Sets of cylinders with their shares of the steam passages, like sets combined."""
    if locomotive.compound:
        return (_compound_group(locomotive, passage, nozzle, assumptions),)
    boiler = locomotive.boiler
    sets = [(i, unit, c) for i, unit in enumerate(locomotive.engine_units) for c in unit.cylinders]
    fillings = [c.number * c.swept_volume / unit.driver_diameter for _, unit, c in sets]
    cranks = [angles for unit in locomotive.engine_units for angles in _unit_cranks(unit)]
    groups: list[CylinderGroup] = []
    for (i, unit, cylinders), angles, filling in zip(sets, cranks, fillings, strict=True):
        share = filling / sum(fillings)
        found = CylinderGroup(
            stages=(cycle_cylinder(boiler, unit, cylinders),),
            cranks=(angles,),
            driver_diameter=unit.driver_diameter,
            group_count=1,
            units=(i,),
            crank_offset=(0.0,),
            passage=share * passage,
            nozzle=share * nozzle,
            poppets=(cycle_poppets(unit, cylinders),),
            reciprocating_masses=(_reciprocating_mass(locomotive, cylinders, assumptions),),
        )
        same = [g for g in groups if _works_like(g, found)]
        if same:
            at = groups.index(same[0])
            groups[at] = _merged(same[0], found)
        else:
            groups.append(found)
    return tuple(groups)


def _works_like(group: CylinderGroup, other: CylinderGroup) -> bool:
    """Whether two groups have the same cylinders, valves and driving wheels."""
    compared = ("stages", "poppets", "driver_diameter", "reciprocating_masses")
    return all(getattr(group, name) == getattr(other, name) for name in compared)


def _reciprocating_mass(locomotive: Locomotive, cylinders: Cylinders, assumptions: Assumptions) -> float:
    """Reciprocating mass of one cylinder of a set: as given, or the assumed share by piston area [kg]."""
    if cylinders.reciprocating_mass is not None:
        return cylinders.reciprocating_mass
    total = 2.0 * assumptions.reciprocating_mass_share * locomotive.mass
    area = sum(c.number * c.area for unit in locomotive.engine_units for c in unit.cylinders)
    return total * cylinders.area / area


def _merged(group: CylinderGroup, more: CylinderGroup) -> CylinderGroup:
    """A group with one more like it."""
    crank_offset = more.cranks[0][0] - group.cranks[0][0]
    return replace(
        group,
        group_count=group.group_count + 1,
        units=(*group.units, *more.units),
        crank_offset=(*group.crank_offset, crank_offset),
    )


def _compound_group(
    locomotive: Locomotive, passage: float, nozzle: float, assumptions: Assumptions
) -> CylinderGroup:
    """The high- and low-pressure sets as one group, whichever units they drive."""
    (high_at, high_unit, high), (low_at, low_unit, low) = (
        next(
            (i, unit, c)
            for i, unit in enumerate(locomotive.engine_units)
            for c in unit.cylinders
            if c.steam_source == kind
        )
        for kind in ("boiler", "receiver")
    )
    wheels = (high_unit.driver_diameter, low_unit.driver_diameter)
    if abs(wheels[0] / wheels[1] - 1.0) > 0.01:
        raise OutOfRange(
            "the cylinder cycle requires driving wheels of equal diameter under both stages of a compound, found "
            f"{wheels[0]:.3f} and {wheels[1]:.3f} m; write method = 'handbook'"
        )
    cranks, low_cranks = _compound_cranks(high, low, same_wheels=high_at == low_at)
    return CylinderGroup(
        stages=(
            cycle_cylinder(locomotive.boiler, high_unit, high),
            cycle_cylinder(locomotive.boiler, low_unit, low),
        ),
        cranks=(cranks, low_cranks),
        driver_diameter=wheels[0],
        group_count=1,
        units=(high_at, low_at),
        crank_offset=(0.0,),
        passage=passage,
        nozzle=nozzle,
        low_pressure_cutoff=LowPressureCutoff(
            offset=assumptions.low_pressure_cutoff_offset,
            slope=assumptions.low_pressure_cutoff_slope,
            longest=min(low_unit.max_cutoff, _full_gear_cutoff(low.valve_gear)),
        ),
        poppets=(cycle_poppets(high_unit, high), cycle_poppets(low_unit, low)),
        reciprocating_masses=(
            _reciprocating_mass(locomotive, high, assumptions),
            _reciprocating_mass(locomotive, low, assumptions),
        ),
        live_steam_pressure=None
        if low.live_steam_pressure_gauge is None
        else low.live_steam_pressure_gauge + ATMOSPHERE,
    )


def _compound_cranks(
    high: Cylinders, low: Cylinders, *, same_wheels: bool
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Crank angles of the high- and the low-pressure cylinders, on the same wheels or on wheels of their own [rad]."""
    cranks, low_cranks = _cranks(high.number), _cranks(low.number)
    if not same_wheels:
        return cranks, low_cranks
    if high.number + low.number == 3:  # evenly spaced
        evenly = _cranks(3)
        return evenly[: high.number], evenly[high.number :]
    # The low-pressure cranks stand between, or opposite, the high.
    turn = math.pi / 2 if high.number == 1 else math.pi
    return cranks, tuple(angle + turn for angle in low_cranks)


def _cranks(number: int) -> tuple[float, ...]:
    """Crank angles of so many cylinders on an engine unit [rad]."""
    if number not in CRANK_ANGLES:
        raise OutOfRange(
            f"the cycle covers 1 to 4 cylinders on an engine unit, found {number}; write method = 'handbook'"
        )
    return tuple(2.0 * math.pi * turn for turn in CRANK_ANGLES[number])


def _unit_cranks(unit: EngineUnit) -> list[tuple[float, ...]]:
    """Crank angles of each set on a unit: those of all its cylinders, assigned in order [rad]."""
    angles = iter(_cranks(sum(cylinders.number for cylinders in unit.cylinders)))
    return [tuple(next(angles) for _ in range(cylinders.number)) for cylinders in unit.cylinders]


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


def _full_gear_cutoff(gear: ValveGear | None) -> float:
    """Longest cutoff the valve travel of a gear allows [1]; 1 without a gear."""
    if gear is None:
        return 1.0
    return full_gear_cutoff(lap=gear.lap, lead=gear.lead, travel=gear.travel)


def _valve_gear_notes(locomotive: Locomotive) -> list[str]:
    """State which dimensions of the valve gear were set by rule."""
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


def _cutoff_range(locomotive: Locomotive) -> tuple[float, float, list[str]]:
    """Range of cutoffs that both file and gear allow [1], and a note where the gear is narrower."""
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
    longest = min((_full_gear_cutoff(gear) for gear in gears), default=1.0)
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
