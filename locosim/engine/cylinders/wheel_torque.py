"""Torque of the driving wheels over a revolution: all sets of cylinders that turn them, and their moving parts."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from locosim.engine.cylinders.cylinder_groups import CylinderGroup
from locosim.engine.cylinders.layout import CycleLayout
from locosim.frozen import frozen
from locosim.physics.cylinder.cycle_results import CycleDiagram
from locosim.physics.cylinder.inertia import reciprocating_torque
from locosim.physics.types import Floats


@frozen(eq=False)
class WheelTorque:
    """Torque and tractive effort of an engine unit over one revolution, from steam pressure alone and with inertia.

    Attributes:
        units: Numbers from 1 of the engine units to which it applies, each by itself.
        angle: Crank angle of the unit's first cylinder past its front dead center, shape (n,) [rad].
        torque: Torque on the unit's wheels from steam pressure alone, same shape [N m].
        effort: Tractive effort at their rim from steam pressure alone, same shape [N].
        inertia_torque: Torque of the reciprocating parts on the unit's wheels, same shape, mean 0 [N m].
        inertia_effort: The same at the rim [N].
    """

    units: tuple[int, ...]
    angle: Floats
    torque: Floats
    effort: Floats
    inertia_torque: Floats
    inertia_effort: Floats

    @property
    def peak_to_mean(self) -> float:
        """Peak over mean tractive effort from steam pressure alone [1]."""
        return float(self.effort.max() / self.effort.mean())

    @property
    def effort_with_inertia(self) -> Floats:
        """Tractive effort at the rim with the inertia of the reciprocating parts, shape (n,) [N]."""
        return self.effort + self.inertia_effort

    @property
    def peak_to_mean_with_inertia(self) -> float:
        """Peak over mean tractive effort with the inertia of the reciprocating parts [1]."""
        return float(self.effort_with_inertia.max() / self.effort.mean())


def torque_by_unit(
    groups: Sequence[CylinderGroup], cycles: Sequence[CycleDiagram], *, speed: float = 0.0
) -> tuple[WheelTorque, ...]:
    """Torque of each engine unit over one revolution; like units are listed once.

    All sets of cylinders on a unit turn its wheels together, each with its cranks. Units turn independently: the
    stages of a compound are added only where they drive the same wheels.

    Args:
        groups: Groups of cylinders that work alike.
        cycles: Diagrams of each group at one operating point.
        speed: Train speed, for the inertia of the reciprocating parts; 0 leaves it out [m/s].
    """
    torques = [tuple(stage.torque for stage in cycle.stages) for cycle in cycles]
    return combine_by_unit(groups, [cycle.torque_angle for cycle in cycles], torques, speed=speed)


def combine_by_unit(
    groups: Sequence[CylinderGroup],
    angles: Sequence[Floats],
    torques: Sequence[Sequence[Floats]],
    *,
    speed: float = 0.0,
) -> tuple[WheelTorque, ...]:
    """Torque of each engine unit from that of each set of cylinders; like units are listed once.

    Args:
        groups: Groups of cylinders that work alike.
        angles: Crank angles of each group, evenly spaced over a revolution, shape (n,) each [rad].
        torques: Torque of each stage of each group from steam pressure, same shapes [N m].
        speed: Train speed, for the inertia of the reciprocating parts; 0 leaves it out [m/s].
    """
    angle = angles[0]
    totals: dict[int, tuple[Floats, Floats]] = {}
    radius: dict[int, float] = {}
    for group, own_angle, stages in zip(groups, angles, torques, strict=True):
        inertia = _inertia_torques(group, speed, len(own_angle))
        for unit, crank_offset, steam, moving in _unit_torques(group, stages, inertia):
            before = totals.get(unit, (np.zeros_like(angle), np.zeros_like(angle)))
            totals[unit] = tuple(
                total + np.interp(angle + crank_offset, own_angle, torque, period=2.0 * math.pi)
                for total, torque in zip(before, (steam, moving), strict=True)
            )  # type: ignore[assignment]
            radius[unit] = 0.5 * group.driver_diameter
    alike: dict[tuple[bytes, bytes, float], list[int]] = {}
    for unit in sorted(totals):
        key = (totals[unit][0].tobytes(), totals[unit][1].tobytes(), radius[unit])
        alike.setdefault(key, []).append(unit)
    return tuple(
        WheelTorque(
            units=tuple(unit + 1 for unit in units),
            angle=angle,
            torque=totals[units[0]][0],
            effort=totals[units[0]][0] / radius[units[0]],
            inertia_torque=totals[units[0]][1],
            inertia_effort=totals[units[0]][1] / radius[units[0]],
        )
        for units in alike.values()
    )


def _inertia_torques(group: CylinderGroup, speed: float, steps: int) -> list[Floats]:
    """Torque of the reciprocating parts of each set of a group at a train speed in m/s [N m]."""
    return [
        reciprocating_torque(
            cylinder,
            mass=mass,
            cranks=cranks,
            driver_speed=speed / (math.pi * group.driver_diameter),
            steps=steps,
        )
        for cylinder, mass, cranks in zip(group.stages, group.reciprocating_masses, group.cranks, strict=True)
    ]


def _unit_torques(
    group: CylinderGroup, steam: Sequence[Floats], inertia: Sequence[Floats]
) -> list[tuple[int, float, Floats, Floats]]:
    """Each engine unit a group drives, the offset of its cranks [rad], and its torques of steam and inertia [N m]."""
    if len(group.stages) == 2:
        return [(unit, 0.0, steam[s], inertia[s]) for s, unit in enumerate(group.units)]
    return [
        (unit, crank_offset, steam[0], inertia[0])
        for unit, crank_offset in zip(group.units, group.crank_offset, strict=True)
    ]


def peak_to_mean(engine: CycleLayout, cycles: Sequence[CycleDiagram]) -> float:
    """Peak over mean tractive effort in a revolution, from steam pressure alone; the largest of all units [1].

    Args:
        engine: The engine laid out.
        cycles: Diagrams of each of its groups at one operating point.
    """
    return max(torque.peak_to_mean for torque in torque_by_unit(engine.groups, cycles))
