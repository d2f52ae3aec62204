"""Running time of a diesel alone on the line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from locosim.engine.performance import Performance
from locosim.journey.setup.helper_performance import HelperPerformance
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.journey.setup.train_forces import cached_alignment, helper_blocks
from locosim.model import Diesel, Excursion, Helper, Stop, Train
from locosim.physics.types import Floats


def light_diesel_time(
    excursion: Excursion, performance: Performance, diesel: Diesel, stations: tuple[str, str]
) -> float:
    """Time in which a diesel runs from one station back to another without a train [s].

    It runs as fast as line, crew and train engine may, and brakes at the service rate.

    Args:
        excursion: The excursion whose line, weather and crew apply.
        performance: Performance of its engine, for whose speed limit alone it counts.
        diesel: The diesel.
        stations: From and to, against the direction of the excursion.

    Returns:
        The time; infinite where the diesel does not get up a grade.
    """
    back = replace(
        excursion,
        train=Train(name="light engine", vehicles=()),
        direction="reverse" if excursion.direction == "forward" else "forward",
        stops=tuple(Stop(station=name) for name in stations),
        helpers=(Helper(diesel=diesel, place="rear"),),
    )
    prepared = prepare(back, performance)
    energy = _energies(prepared, prepared.helpers[0])
    if energy is None:
        return math.inf
    speed = np.sqrt(2.0 * energy)
    return float(np.sum(2.0 * np.diff(prepared.chainage) / (speed[1:] + speed[:-1])))


def _energies(prepared: PreparedRun, diesel: HelperPerformance) -> Floats | None:
    """v²/2 at the nodes at full effort within the limits [J/kg]; None where the diesel stalls."""
    length, top = np.diff(prepared.chainage), prepared.max_energy
    slope = _slope_force(prepared)
    grip = diesel.adhesive_weight * prepared.line.adhesion
    a, b, c = diesel.resistance
    inertia = diesel.mass + diesel.rotating

    def force(step: int, energy: float) -> float:
        speed = math.sqrt(2.0 * energy)
        effort = min(float(diesel.effort_at(speed)), float(grip[step]))
        return effort - (a + speed * (b + c * speed)) - float(slope[step])

    energy = np.zeros(len(top))
    for i in range(len(length)):
        middle = float(energy[i]) + 0.5 * float(length[i]) * force(i, float(energy[i])) / inertia
        after = float(energy[i]) + float(length[i]) * force(i, max(middle, 0.0)) / inertia
        if min(middle, after) <= 0.0:
            return None
        energy[i + 1] = min(after, float(top[i + 1]))
    return energy


def _slope_force(prepared: PreparedRun) -> Floats:
    """Force of grade and curves on the diesel in each step, positive against motion [N]."""
    blocks = helper_blocks(prepared.helpers, 0.0)
    alignment = cached_alignment(prepared.excursion.route_as_run)
    nodes = prepared.chainage
    return alignment.mean_grade_force(blocks, nodes) + alignment.mean_curve_force(blocks, nodes)
