"""Groups of cylinders that work alike, with their cranks and their share of the steam passages."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.valves import cycle_cylinder, cycle_poppets, longest_gear_cutoff
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Cylinders, EngineUnit, Locomotive
from locosim.physics.cylinder.cycle import CycleEngine
from locosim.physics.cylinder.poppet_gear import PoppetGear
from locosim.physics.cylinder.revolution import CycleConstants, Cylinder
from locosim.physics.traction.crank_effort import CRANK_ANGLES
from locosim.physics.types import Floats


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
    poppets: tuple[PoppetGear | None, ...]
    reciprocating_masses: tuple[float, ...]
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


def cylinder_groups(
    locomotive: Locomotive, passage: float, nozzle: float, assumptions: Assumptions
) -> tuple[CylinderGroup, ...]:
    """Sets of cylinders with their shares of the steam passages, like sets combined.

    Args:
        locomotive: The engine.
        passage: Flow area from boiler to steam chest of the whole engine [m²].
        nozzle: Area of its exhaust nozzle, as the cylinders use it [m²].
        assumptions: Assumed figures.

    Raises:
        OutOfRange: Cylinders arranged so that the cycle does not cover them.
    """
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


def _merged(group: CylinderGroup, more: CylinderGroup) -> CylinderGroup:
    """A group with one more like it."""
    crank_offset = more.cranks[0][0] - group.cranks[0][0]
    return replace(
        group,
        group_count=group.group_count + 1,
        units=(*group.units, *more.units),
        crank_offset=(*group.crank_offset, crank_offset),
    )


def _reciprocating_mass(locomotive: Locomotive, cylinders: Cylinders, assumptions: Assumptions) -> float:
    """Reciprocating mass of one cylinder of a set: as given, or the assumed share by piston area [kg]."""
    if cylinders.reciprocating_mass is not None:
        return cylinders.reciprocating_mass
    total = 2.0 * assumptions.reciprocating_mass_share * locomotive.mass
    area = sum(c.number * c.area for unit in locomotive.engine_units for c in unit.cylinders)
    return total * cylinders.area / area


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
            longest=min(low_unit.max_cutoff, longest_gear_cutoff(low.valve_gear)),
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
