"""Water over the crown sheet, with the boiler tilted by the grade and by gaining or losing speed.

The water space is taken as one cylinder lying along the engine, from the backhead to the front tube plate.
What tubes and firebox take of it lies below the surface, so it is a constant: every `volume` here is the
volume under the surface, water and what is sunk in it together. Positions run along the boiler from the
middle of its length, positive towards the stack; heights from the lowest line of the barrel.

The free surface stands across the sum of gravity and the engine's own acceleration. Its tilt against the
barrel is grade + acceleration / g in the direction of travel, and with the stack leading the depth is
h - tilt x:

* climbing or gaining speed, water runs to the backhead: the glass reads high, and the front end of the crown
  sheet has the least cover;
* over a summit, and still more when brakes are put on with the grade falling, tilt turns negative: water runs
  to the stack, and the back end of the crown sheet, which the glass has shown deep in water, is uncovered
  first.

With the stack trailing both are reversed. Surging, and the swelling of water that boils, are left out.
The functions take plain numbers and are the same text compiled or not.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled
from locosim.constants import GRAVITY
from locosim.physics.types import Floats, Real

MAX_ITERATIONS = 100
ANGLE_TOLERANCE = 1e-8  # of the angle [rad]: the step after it is about the square of this

STACK_LEADING = 1.0
STACK_TRAILING = -1.0


@compiled
def segment_area(height: float, diameter: float) -> float:
    """Area under a level in a circle [m2]: exact circular segment.

    Args:
        height: Level above the lowest point; below 0 counts as 0, above the diameter as full [m].
        diameter: Diameter of the circle [m].
    """
    if height <= 0.0:
        return 0.0
    if height >= diameter:
        return 0.25 * math.pi * diameter * diameter
    radius = 0.5 * diameter
    below = radius - height
    return radius * radius * math.acos(below / radius) - below * math.sqrt(height * (diameter - height))


@compiled
def level(volume: float, length: float, diameter: float) -> float:
    """Height of the surface in a level boiler [m].

    Newton for the angle the surface is seen under from the axis: f = angle - sin angle is convex up to half a
    turn, so from there the steps go one way; a boiler more than half full is solved by its steam space.

    Args:
        volume: Volume under the surface [m3].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].

    Raises:
        ArithmeticError: Steps that do not come to rest, as of a volume that is not a number.
    """
    radius = 0.5 * diameter
    target = 2.0 * volume / (length * radius * radius)  # angle - sin angle, of 2 pi
    if target <= 0.0:
        return 0.0
    if target >= 2.0 * math.pi:
        return diameter
    over_half_full = target > math.pi
    if over_half_full:
        target = 2.0 * math.pi - target
    angle = math.pi
    for _ in range(MAX_ITERATIONS):
        step = (angle - math.sin(angle) - target) / (1.0 - math.cos(angle))
        angle -= step
        if abs(step) < ANGLE_TOLERANCE:
            break
    else:
        raise ArithmeticError("the level of the water does not settle")
    height = radius * (1.0 - math.cos(0.5 * angle))
    return diameter - height if over_half_full else height


@compiled
def volume_below(height: float, length: float, diameter: float) -> float:
    """Volume under the surface of a level boiler [m3]: the inverse of `level`.

    Args:
        height: Level above the lowest line of the barrel [m].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
    """
    return length * segment_area(height, diameter)


def surface_tilt(*, grade: Real, acceleration: Real, leading: float) -> Real:
    """Slope of the surface against the barrel, falling towards the stack [1].

    Args:
        grade: Rise of the line over its length in the direction of travel [1].
        acceleration: Gain of speed in the direction of travel; braking is negative [m/s2].
        leading: STACK_LEADING or STACK_TRAILING.
    """
    return leading * (grade + acceleration / GRAVITY)


@compiled
def level_at_midlength(volume: float, tilt: float, length: float, diameter: float) -> float:
    """Height of a tilted surface at the middle of the boiler's length [m].

    The plane turns about the line where the level surface cuts the middle, but for a term of second order:
    above the axis the barrel narrows upwards, so the rising end holds less than the falling end gives up.
    Keeping the volume asks for h = h_level - (A'' / A') tilt^2 L^2 / 24, with A the segment area, A' its
    width. Good while the surface meets both ends between bottom and top.

    Args:
        volume: Volume under the surface [m3].
        tilt: Slope of the surface, falling towards the stack [1].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
    """
    height = level(volume, length, diameter)
    width_squared = height * (diameter - height)
    if width_squared <= 0.0:
        return height
    narrowing = (0.5 * diameter - height) / width_squared  # A'' / A'
    return height - narrowing * (tilt * length) ** 2 / 24.0


@compiled
def level_at(position: float, volume: float, tilt: float, length: float, diameter: float) -> float:
    """Height of the surface at a place along the boiler [m].

    Args:
        position: Distance from the middle of the boiler's length, positive towards the stack [m].
        volume: Volume under the surface [m3].
        tilt: Slope of the surface, falling towards the stack [1].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
    """
    return level_at_midlength(volume, tilt, length, diameter) - tilt * position


@compiled
def levels_at(position: float, volume: Floats, tilt: Floats, length: float, diameter: float) -> Floats:
    """Height of the surface at one position along the boiler, for each volume and tilt [m], shape (n,).

    Args:
        position: Distance from the middle of the boiler's length, positive toward the stack [m].
        volume: Volume under the surface, shape (n,) [m3].
        tilt: Slope of the surface, falling toward the stack, shape (n,) [1].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
    """
    heights = np.empty(len(volume))
    for i in range(len(volume)):
        heights[i] = level_at(position, volume[i], tilt[i], length, diameter)
    return heights
