"""An engine at starting, as its map has it: evenness of the torque, shares of the engine units, and effort at rest.

Published coefficients of adhesion were measured on two-cylinder engines with cranks at right angles, and include the
unevenness of their torque. So adhesion is judged by the peak over mean tractive effort at starting of all cylinders on
an engine unit, over that of such an engine at 85 % cutoff: 1 for two cylinders in full gear, less for three.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.operating_points import diagrams
from locosim.engine.cylinders.speed_range import min_cycle_speed
from locosim.engine.cylinders.starting import starting_effort
from locosim.engine.cylinders.wheel_torque import peak_to_mean
from locosim.physics.cylinder.cycle import CycleEngine, CyclePoints, cycle_grid

REFERENCE_CUTOFF = 0.85  # full gear of the engines on which adhesion was measured
RIGHT_ANGLE = (0.0, 0.5 * math.pi)


class StartingFigures(NamedTuple):
    """Figures of an engine at starting, in full gear at working pressure.

    Attributes:
        peak_effort_ratio: Unevenness of the torque relative to that of the engines on which adhesion was measured [1].
        unit_effort_shares: Share of each engine unit in the effort [1].
        min_starting_effort_ratio: Effort at the worst crank angle over the mean [1].
        live_steam_starting_effort: Mean effort of a compound that starts with live steam in the low-pressure
            cylinders; 0 for any other engine [N].
    """

    peak_effort_ratio: float
    unit_effort_shares: tuple[float, ...]
    min_starting_effort_ratio: float
    live_steam_starting_effort: float


def starting_figures(engine: CycleLayout) -> StartingFigures:
    """Figures of an engine at starting.

    Args:
        engine: The engine laid out.
    """
    start, cycles = diagrams(
        engine,
        speed=min_cycle_speed(engine.locomotive),
        cutoff=engine.max_cutoff,
        pressure=engine.locomotive.boiler.absolute_pressure,
    )
    shares = start.effort_by_unit[:, 0] / start.effort[0]
    effort = starting_effort(engine, float(start.effort[0]))
    return StartingFigures(
        peak_effort_ratio=peak_effort_ratio(engine, peak_to_mean(engine, cycles)),
        unit_effort_shares=tuple(float(share) for share in shares),
        min_starting_effort_ratio=effort.worst_ratio,
        live_steam_starting_effort=effort.mean if effort.live_steam else 0.0,
    )


def peak_effort_ratio(engine: CycleLayout, peak: float) -> float:
    """Unevenness of the torque relative to that of the engines on which adhesion was measured [1].

    Args:
        engine: The engine laid out.
        peak: Its peak over mean tractive effort at starting [1].
    """
    group = engine.groups[0]
    if len(group.stages) == 2 and len(set(group.units)) == 2:
        return 1.0  # units turn independently, each with two cranks at right angles
    pressure = np.array([engine.locomotive.boiler.absolute_pressure])
    share = 2.0 / group.stages[0].number
    usual = cycle_grid(
        CycleEngine(
            cylinders=(group.stages[0]._replace(number=2.0),),
            cranks=(RIGHT_ANGLE,),
            nozzle_area=share * group.nozzle,
            constants=engine.constants,
        ),
        CyclePoints(
            speeds=min_cycle_speed(engine.locomotive) / (math.pi * group.driver_diameter),
            cutoffs=[REFERENCE_CUTOFF],
            passage_areas=share * group.passage,
            boiler_pressures=pressure,
            boiler_enthalpies=engine.enthalpy(pressure, engine.steam_temperature(np.zeros(1))),
        ),
    )
    return peak / float(usual.peak_torque_ratio[0])
