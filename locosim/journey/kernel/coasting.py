"""The coasting curve: from which speed a train with the throttle shut comes to where it brakes.

It is the backward pass of the speed limits once more, with the resistance of the train in place of the brakes.
"""

from __future__ import annotations

import math

from locosim.compiled import compiled_inline
from locosim.engine.map.interpolation import Cells
from locosim.journey.kernel.arrays import Engine, Line, Load, StepConditions
from locosim.journey.kernel.tractive_step import resisting_force
from locosim.physics.types import Floats

# Retardation counted in the backward pass over the one computed: a train a little above the curve stays above it, and
# does not open the throttle again while it coasts.
COASTING_MARGIN = 1.02


@compiled_inline
def coasting_curve(
    line: Line, load: Load, engine: Engine, contents: float, brake_energy: float, curve: Floats
) -> None:
    """Write the v²/2 at each node from which the train coasts to the next place where it brakes.

    Going back from a stop or limit, the curve follows the braking curve up to the energy at which braking begins, and
    from there the coasting of the train. On a falling grade it goes down again, so that the grade takes the train to
    the limit and not beyond it, but not below the energy at which braking begins.

    Args:
        line: The line; its envelope is the braking curve.
        load: Mass and resistance of the train.
        engine: Machine friction and helpers.
        contents: Water and fuel carried [kg].
        brake_energy: v²/2 at which braking begins [J/kg].
        curve: Written: v²/2 at the nodes, shape (n + 1,) [J/kg].
    """
    envelope = line.envelope
    n = len(line.grade)
    curve[n] = envelope[n]
    inertia = load.mass + contents + load.rotating
    for i in range(n - 1, -1, -1):
        top, ahead = envelope[i], curve[i + 1]
        if top <= brake_energy:
            curve[i] = top
            continue
        h = line.distance[i + 1] - line.distance[i]
        start = max(ahead, brake_energy)
        at = StepConditions(
            i=i, contents=contents, pressure=0.0, max_steam=0.0, starting=0.0, guess=Cells(0, 0)
        )
        lost = resisting_force(line, load, engine, at, math.sqrt(2.0 * start)) / (
            inertia + line.helper_mass[i]
        )
        lost *= COASTING_MARGIN if lost > 0.0 else 1.0
        if ahead < brake_energy:
            # Braking begins within the step, at the same chainage with any step.
            h *= (top - brake_energy) / (top - ahead)
        curve[i] = min(max(start + lost * h, brake_energy), top)
