"""A locomotive laid out for the cylinder cycle: sets of cylinders and their share of the steam ways.

What the file does not give follows from rules of practice, and `notes` says which rule was used. Steam pipes and
blast nozzle are made for the steam the grate gives with the usual fuel, whoever fires today.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from locosim.engine.boiler.by_heat_balance import design_supply, vacuum_ratio
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.si_text import temperature_said
from locosim.errors import OutOfRange
from locosim.model import Boiler, Cylinders, EngineUnit, Locomotive, SteamWays, ValveGear
from locosim.physics.boiler.draft import VACUUM_OVER_BACK_PRESSURE
from locosim.physics.boiler.limits import DRAUGHT, FIRE, GRATE, OIL_BURNER
from locosim.physics.cylinder import design_rules as engine_practice
from locosim.physics.cylinder.revolution import CycleConstants, Cylinder
from locosim.physics.cylinder.valve_gear import full_gear_cutoff, least_cutoff
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

DRYNESS = 0.985  # of steam from a boiler without superheater, as in the fit of the cycle's constants
HOTTEST = 755.4  # of steam, 900 degF [K]; common practice, no source
OF_THE_BOILER = (GRATE, OIL_BURNER, FIRE, DRAUGHT)  # limits that belong to the boiler, not to the day
# Cutoff of the low-pressure cylinders, which one lever sets with the high: longer, so that the receiver's pressure
# shares the work. Common practice, no source.
LOW_FIRST, LOW_SLOPE = 0.45, 0.5
# Crank angles behind the first, by number of cylinders on an engine unit, in however many sets [turn]: two at right
# angles, three evenly, four as two pairs of opposed cranks at right angles. Common practice, no source.
CRANKS = {1: (0.0,), 2: (0.0, 0.25), 3: (0.0, 1 / 3, 2 / 3), 4: (0.0, 0.25, 0.5, 0.75)}


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderGroup:
    """Cylinders that work alike, with their part of the steam ways.

    Attributes:
        stages: One set of cylinders, or the high- and the low-pressure set.
        cranks: Crank angles of each set; of like ones those of the first [rad].
        wheel: Diameter of the driving wheels [m].
        alike: How many such groups the engine has.
        units: Numbers of the engine units they drive.
        turned: Crank angle of each such group behind the first [rad].
        passage: Flow area from boiler to chest of one group [m²].
        nozzle: Its part of the blast nozzle [m²].
        low_longest: Longest cutoff of the low-pressure set [1].
    """

    stages: tuple[Cylinder, ...]
    cranks: tuple[tuple[float, ...], ...]
    wheel: float
    alike: int
    units: tuple[int, ...]
    turned: tuple[float, ...]
    passage: float
    nozzle: float
    low_longest: float

    def cutoffs(self, cutoff: Floats) -> list[Floats]:
        """Cutoff of each stage [1]; cutoff as the lever is set [1]."""
        if len(self.stages) == 1:
            return [cutoff]
        return [cutoff, np.minimum(LOW_FIRST + LOW_SLOPE * cutoff, self.low_longest)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CycleEngine:
    """An engine ready for the cycle.

    Attributes:
        locomotive: What it is made from.
        groups: Its cylinders.
        design: Steam supply the steam ways are made for.
        constants: Of the cycle, the engine's own among them.
        full_steam: Steam to the cylinders at that [kg/s].
        cutoff_least: Shortest cutoff used [1].
        cutoff_greatest: Longest cutoff of the gear [1].
        notes: What was taken by a rule for want of a figure.
    """

    locomotive: Locomotive
    groups: tuple[CylinderGroup, ...]
    design: SteamSupply
    constants: CycleConstants
    full_steam: float
    cutoff_least: float
    cutoff_greatest: float
    notes: tuple[str, ...]

    def steam_temperature(self, steam_rate: Floats) -> Floats:
        """Temperature of the steam when the cylinders take a rate [K]; steam_rate in kg/s."""
        return self.design.temperature_for(steam_rate + self.locomotive.auxiliaries.steady)

    def enthalpy(self, pressure: Floats, temperature: Floats) -> Floats:
        """Enthalpy of the steam as it leaves the boiler [J/kg].

        Args:
            pressure: Absolute boiler pressure [Pa].
            temperature: Temperature of the steam; not used without a superheater [K].
        """
        if self.locomotive.boiler.superheater is None:
            return np.asarray(np.vectorize(_wet, otypes=[float])(pressure))
        return np.asarray(np.vectorize(_superheated, otypes=[float])(pressure, temperature))


def _wet(pressure: float) -> float:
    return steam.wet_enthalpy(pressure=pressure, dryness=DRYNESS)


def _superheated(pressure: float, temperature: float) -> float:
    boiling = steam.saturation_temperature(pressure=pressure)
    return steam.enthalpy(pressure=pressure, temperature=max(temperature, boiling + 0.1))


def cycle_engine(locomotive: Locomotive) -> CycleEngine:
    """Lay a locomotive out for the cycle.

    Args:
        locomotive: The engine.

    Raises:
        OutOfRange: Cylinders arranged so that the cycle does not cover them, or a gear that gives no cutoff.
    """
    design = design_supply(locomotive)
    held = min(limit.steam for limit in design.limits if limit.name in OF_THE_BOILER)
    full = max(held - locomotive.auxiliaries.steady, 0.5 * held)
    pressure = locomotive.boiler.absolute_pressure
    hot = float(design.temperature_for(held))
    enthalpy = _wet(pressure) if locomotive.boiler.superheater is None else _superheated(pressure, hot)
    ways = locomotive.steam_ways
    passage = engine_practice.steam_passage(
        full_steam=full,
        boiler_pressure=pressure,
        boiler_enthalpy=enthalpy,
        chest_drop=_own(ways.chest_drop, engine_practice.CHEST_DROP),
    )
    nozzle = _nozzle(locomotive, full)
    groups = _groups(locomotive, passage, nozzle)
    least, greatest, notes = _cutoffs(locomotive, groups)
    return CycleEngine(
        locomotive=locomotive,
        groups=groups,
        design=design,
        constants=_constants(ways),
        full_steam=full,
        cutoff_least=least,
        cutoff_greatest=greatest,
        notes=(
            *_gear_notes(locomotive),
            *_nozzle_notes(locomotive, design, full, nozzle),
            *_heat_notes(hot),
            *notes,
        ),
    )


def _nozzle(locomotive: Locomotive, full_steam: float) -> float:
    """Area of the blast nozzle: as given, or for the usual vacuum of this front end at full steam [m²]."""
    ways = locomotive.steam_ways
    if ways.nozzle_area is not None:
        return ways.nozzle_area
    usual = engine_practice.BACK_PRESSURE * VACUUM_OVER_BACK_PRESSURE / vacuum_ratio(locomotive)
    return engine_practice.blast_nozzle(full_steam=full_steam, back_pressure=_own(ways.back_pressure, usual))


def _nozzle_notes(locomotive: Locomotive, design: SteamSupply, full_steam: float, nozzle: float) -> list[str]:
    """Say it where a nozzle of the engine's own leaves the fire short of draught at full steam."""
    ways = locomotive.steam_ways
    if (ways.nozzle_area is None and ways.back_pressure is None) or design.draught is None:
        return []
    fired = design.fuel_for(full_steam + locomotive.auxiliaries.steady)
    asked = float(np.interp(fired, design.firing, design.draught))
    widest = engine_practice.blast_nozzle(
        full_steam=full_steam, back_pressure=asked / vacuum_ratio(locomotive)
    )
    if nozzle <= widest:
        return []
    return [
        f"the blast nozzle is {nozzle / widest - 1.0:.0%} wider than the widest whose blast raises the draught that "
        "full steam asks; no limit counts this"
    ]


def _heat_notes(hot: float) -> list[str]:
    """Say it where the steam at full steam [K] is hotter than steam was run with."""
    if hot <= HOTTEST:
        return []
    return [
        f"at full steam the superheater makes steam of {temperature_said(hot)}, above the {temperature_said(HOTTEST)} "
        "that oil and packings stand; look at boiler.superheater.surface"
    ]


def _own(given: float | None, general: float) -> float:
    """The engine's own figure, or the general one."""
    return general if given is None else given


def _constants(ways: SteamWays) -> CycleConstants:
    """The general constants of the cycle with the engine's own in their place."""
    known = {name: getattr(ways, name, None) for name in CycleConstants._fields}
    return engine_practice.GENERAL._replace(
        **{name: value for name, value in known.items() if value is not None}
    )


def _groups(locomotive: Locomotive, passage: float, nozzle: float) -> tuple[CylinderGroup, ...]:
    """Sets of cylinders with their shares of the steam ways, alike ones together."""
    if locomotive.two_expansion:
        return (_two_expansion(locomotive, passage, nozzle),)
    boiler = locomotive.boiler
    sets = [(i, unit, c) for i, unit in enumerate(locomotive.engine_units) for c in unit.cylinders]
    fillings = [c.number * c.swept_volume / unit.driving_wheel_diameter for _, unit, c in sets]
    cranks = [angles for unit in locomotive.engine_units for angles in _unit_cranks(unit)]
    groups: list[CylinderGroup] = []
    for (i, unit, cylinders), angles, filling in zip(sets, cranks, fillings, strict=True):
        share = filling / sum(fillings)
        found = CylinderGroup(
            stages=(physics_cylinder(boiler, unit, cylinders),),
            cranks=(angles,),
            wheel=unit.driving_wheel_diameter,
            alike=1,
            units=(i,),
            turned=(0.0,),
            passage=share * passage,
            nozzle=share * nozzle,
            low_longest=unit.cutoff_greatest,
        )
        same = [g for g in groups if (g.stages, g.wheel) == (found.stages, found.wheel)]
        if same:
            at = groups.index(same[0])
            groups[at] = _joined(same[0], found)
        else:
            groups.append(found)
    return tuple(groups)


def _joined(group: CylinderGroup, more: CylinderGroup) -> CylinderGroup:
    turned = more.cranks[0][0] - group.cranks[0][0]
    return replace(
        group,
        alike=group.alike + 1,
        units=(*group.units, *more.units),
        turned=(*group.turned, turned),
    )


def _two_expansion(locomotive: Locomotive, passage: float, nozzle: float) -> CylinderGroup:
    """The high- and low-pressure sets as one group, whichever units they drive."""
    placed = {
        kind: [
            (i, unit, c)
            for i, unit in enumerate(locomotive.engine_units)
            for c in unit.cylinders
            if c.steam_from == kind
        ]
        for kind in ("boiler", "receiver")
    }
    for kind, sets in placed.items():
        if len(sets) != 1:
            raise OutOfRange(
                f"a two-expansion engine needs one set of cylinders with steam_from = {kind!r}, found {len(sets)}"
            )
    (high_at, high_unit, high), (low_at, low_unit, low) = placed["boiler"][0], placed["receiver"][0]
    wheels = (high_unit.driving_wheel_diameter, low_unit.driving_wheel_diameter)
    if abs(wheels[0] / wheels[1] - 1.0) > 0.01:
        raise OutOfRange(
            "the cylinder cycle wants equal wheels under both sets of a two-expansion engine, found "
            f"{wheels[0]:.3f} and {wheels[1]:.3f} m; write method = 'handbook'"
        )
    cranks, low_cranks = _two_expansion_cranks(high, low, together=high_at == low_at)
    return CylinderGroup(
        stages=(
            physics_cylinder(locomotive.boiler, high_unit, high),
            physics_cylinder(locomotive.boiler, low_unit, low),
        ),
        cranks=(cranks, low_cranks),
        wheel=wheels[0],
        alike=1,
        units=(high_at, low_at),
        turned=(0.0,),
        passage=passage,
        nozzle=nozzle,
        low_longest=low_unit.cutoff_greatest,
    )


def _two_expansion_cranks(
    high: Cylinders, low: Cylinders, *, together: bool
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Crank angles of the high- and the low-pressure cylinders, on the same wheels or on wheels of their own [rad]."""
    cranks, low_cranks = _cranks(high.number), _cranks(low.number)
    if not together:
        return cranks, low_cranks
    if high.number + low.number == 3:  # three evenly, in however many sets
        evenly = _cranks(3)
        return evenly[: high.number], evenly[high.number :]
    # The low-pressure cranks stand between, or opposite, the high.
    turn = math.pi / 2 if high.number == 1 else math.pi
    return cranks, tuple(angle + turn for angle in low_cranks)


def _cranks(number: int) -> tuple[float, ...]:
    if number not in CRANKS:
        raise OutOfRange(
            f"the cycle knows 1 to 4 cylinders on an engine unit, found {number}; write method = 'handbook'"
        )
    return tuple(2.0 * math.pi * turn for turn in CRANKS[number])


def _unit_cranks(unit: EngineUnit) -> list[tuple[float, ...]]:
    """Crank angles of each set on a unit: those of all its cylinders, dealt out in order [rad]."""
    angles = iter(_cranks(sum(cylinders.number for cylinders in unit.cylinders)))
    return [tuple(next(angles) for _ in range(cylinders.number)) for cylinders in unit.cylinders]


def physics_cylinder(boiler: Boiler, unit: EngineUnit, cylinders: Cylinders) -> Cylinder:
    """A cylinder with its valve as the cycle takes it; what the file leaves out by the rules of practice.

    Args:
        boiler: Superheated steam means piston valves where nothing is said, saturated steam slide valves.
        unit: The engine unit, whose gear it has.
        cylinders: The set it belongs to.
    """
    practice = engine_practice.slide_valve_cylinder
    if boiler.superheater is not None:
        practice = engine_practice.piston_valve_cylinder
    usual = practice(
        number=cylinders.number,
        bore=cylinders.bore,
        stroke=cylinders.stroke,
        rod_ratio=cylinders.rod_ratio,
        clearance=cylinders.clearance,
    )
    gear = unit.valve_gear
    if gear is None:
        return usual
    return usual._replace(
        lap=gear.lap,
        lead=gear.lead,
        exhaust_lap=gear.exhaust_lap,
        port_length=usual.port_length if gear.port_length is None else gear.port_length,
        port_width=usual.port_width if gear.port_width is None else gear.port_width,
    )


def first_cylinder(locomotive: Locomotive) -> Cylinder:
    """The first cylinder of the first engine unit with its valve, by rule where none is given."""
    unit = locomotive.engine_units[0]
    return physics_cylinder(locomotive.boiler, unit, unit.cylinders[0])


def _gear_notes(locomotive: Locomotive) -> list[str]:
    """Say which figures of the gear were taken by rule."""
    kind = (
        "slide valve of about 1900" if locomotive.boiler.superheater is None else "long-travel piston valve"
    )
    units = locomotive.engine_units
    notes = []
    if any(unit.valve_gear is None for unit in units):
        notes.append(f"valve gear not given: the usual {kind} is taken, lap, lead and ports in proportion")
    gears: list[ValveGear] = [unit.valve_gear for unit in units if unit.valve_gear is not None]
    if any(gear.port_length is None or gear.port_width is None for gear in gears):
        notes.append(f"ports not given: those of the usual {kind} are taken")
    if locomotive.two_expansion:
        notes.append(
            "one lever sets both stages, the low-pressure cutoff longer; starting with live steam in the "
            "low-pressure cylinders is not counted"
        )
    return notes


def _cutoffs(locomotive: Locomotive, groups: Sequence[CylinderGroup]) -> tuple[float, float, list[str]]:
    """Range of cutoffs of file and gear together, and a note where the gear is the narrower."""
    units = locomotive.engine_units
    least = max(unit.cutoff_least for unit in units)
    greatest = min(unit.cutoff_greatest for unit in units)
    shortest = max(least_cutoff(lap=c.lap, lead=c.lead) for g in groups for c in g.stages)
    longest = min(
        (
            full_gear_cutoff(
                lap=unit.valve_gear.lap, lead=unit.valve_gear.lead, travel=unit.valve_gear.travel
            )
            for unit in units
            if unit.valve_gear is not None
        ),
        default=1.0,
    )
    notes = []
    if longest < greatest - 0.005:
        notes.append(
            f"the travel of the valve gives {longest:.0%} cutoff at most, less than the {greatest:.0%} of the file"
        )
    if shortest > least + 0.005:
        notes.append(
            f"lap and lead give {shortest:.0%} cutoff at least, more than the {least:.0%} of the file"
        )
    low, high = max(least, shortest * (1 + 1e-9)), min(greatest, longest)
    if low > 0.9 * high:
        raise OutOfRange(
            f"{locomotive.name}: the valve gear gives cutoffs from {low:.3f} to {high:.3f} only; "
            "look at lap, lead and travel"
        )
    return low, high, notes
