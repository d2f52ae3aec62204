"""Tractive effort of an engine that starts: mean of a slow revolution, and at the worst crank angle at rest."""

from __future__ import annotations

import math

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.cylinder_groups import CylinderGroup
from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.speed_range import MIN_WHEEL_SPEED
from locosim.engine.cylinders.wheel_torque import WheelTorque, combine_by_unit
from locosim.frozen import frozen
from locosim.physics.cylinder import solver
from locosim.physics.cylinder.cycle import CycleEngine, CyclePoints, cycle_grid, valve_motion
from locosim.physics.cylinder.standing_start import standing_pressures
from locosim.physics.types import Floats

STANDING_STEPS = 1440  # crank steps in a revolution: a quarter of a degree


@frozen
class StartingEffort:
    """Tractive effort of an engine at starting, in full gear at working pressure.

    Attributes:
        mean: Indicated mean over a slow revolution, worked as it starts: simple where live steam is given to the
            low-pressure cylinders of a compound [N].
        worst: At rest at the worst crank angle of every engine unit [N].
        worst_angles: That crank angle of each unit's first cylinder past its front dead center [rad].
        live_steam: Whether the low-pressure cylinders of a compound have live steam.
    """

    mean: float
    worst: float
    worst_angles: tuple[float, ...]
    live_steam: bool

    @property
    def worst_ratio(self) -> float:
        """Tractive effort at the worst crank angle over the mean [1]."""
        return self.worst / self.mean


def starting_effort(engine: CycleLayout, compound_mean: float) -> StartingEffort:
    """Tractive effort of an engine at starting.

    Args:
        engine: The engine laid out.
        compound_mean: Mean indicated tractive effort of a slow revolution in full gear, started without live steam in
            low-pressure cylinders [N].
    """
    torques = standing_torques(engine)
    group = engine.groups[0]
    live = group.live_steam_pressure is not None
    worst = [float(torque.effort.min()) for torque in torques for _ in torque.units]
    angles = [float(torque.angle[int(np.argmin(torque.effort))]) for torque in torques for _ in torque.units]
    return StartingEffort(
        mean=_simple_mean(engine, group) if live else compound_mean,
        worst=sum(worst),
        worst_angles=tuple(angles),
        live_steam=live,
    )


def standing_torques(engine: CycleLayout) -> tuple[WheelTorque, ...]:
    """Torque of each engine unit at rest over crank angle, in full gear at working pressure; like units once.

    Args:
        engine: The engine laid out.
    """
    angle = 2.0 * math.pi * (np.arange(STANDING_STEPS) + 0.5) / STANDING_STEPS
    return combine_by_unit(
        engine.groups,
        [angle] * len(engine.groups),
        [_standing_stage_torques(engine, group) for group in engine.groups],
    )


def _standing_stage_torques(engine: CycleLayout, group: CylinderGroup) -> list[Floats]:
    """Torque at rest of each stage of a group over crank angle [N m]."""
    low = ATMOSPHERE if group.live_steam_pressure is None else group.live_steam_pressure
    pressures = (engine.locomotive.boiler.absolute_pressure, low)
    cutoffs = [float(c[0]) for c in group.cutoffs(np.array([engine.max_cutoff]))]
    found = []
    for s, cylinder in enumerate(group.stages):
        motion = valve_motion(cylinder, group.poppets[s], cutoff=cutoffs[s])
        ends = standing_pressures(
            cylinder,
            motion,
            chest_pressure=pressures[s],
            outside_pressure=ATMOSPHERE,
            steps=STANDING_STEPS,
        )
        found.append(solver.crank_torque(cylinder, ends, np.array(group.cranks[s]), ATMOSPHERE))
    return found


def _simple_mean(engine: CycleLayout, group: CylinderGroup) -> float:
    """Mean indicated tractive effort of a compound worked simple, both stages exhausting to the nozzle [N]."""
    boiler = engine.locomotive.boiler.absolute_pressure
    assert group.live_steam_pressure is not None
    enthalpy = engine.enthalpy(np.array([boiler]), engine.steam_temperature(np.zeros(1)))
    cutoffs = group.cutoffs(np.array([engine.max_cutoff]))
    work = 0.0
    for s, pressure in enumerate((boiler, group.live_steam_pressure)):
        found = cycle_grid(
            CycleEngine(
                cylinders=(group.stages[s],),
                cranks=(group.cranks[s],),
                nozzle_area=group.nozzle,
                constants=engine.constants,
                poppets=(group.poppets[s],),
            ),
            CyclePoints(
                speeds=MIN_WHEEL_SPEED,
                cutoffs=[cutoffs[s]],
                passage_areas=group.passage,
                boiler_pressures=pressure,
                boiler_enthalpies=enthalpy,
            ),
        )
        work += float(found.power[0]) / MIN_WHEEL_SPEED
    return work / (math.pi * group.driver_diameter)
