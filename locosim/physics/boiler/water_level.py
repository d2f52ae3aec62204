"""Water level over the crown sheet, with the boiler tilted by the grade and by acceleration.

The water space is treated as one cylinder along the engine, from the backhead to the front tube sheet. Tubes and
firebox lie below the surface, so their volume is a constant: every `volume` here is the volume under the surface,
water and submerged parts together. Positions are measured along the boiler from the middle of its length, positive
toward the stack; heights from the lowest line of the barrel.

The free surface is perpendicular to the sum of gravity and the acceleration of the engine. Its tilt against the
barrel is grade + acceleration / g in the direction of travel, and with the stack leading the depth is h - tilt x:

* climbing or gaining speed, water runs to the backhead: the glass reads high, and the front end of the crown sheet
  has the least cover;
* over a summit, and still more when braking on a falling grade, the tilt turns negative: water runs toward the stack,
  and the back end of the crown sheet, which the glass has shown well covered, is uncovered first.

With the stack trailing both are reversed. Surging, and swelling of the boiling water, are neglected.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled
from locosim.constants import GRAVITY
from locosim.physics.types import Floats, Real

MAX_ITERATIONS = 100
MIN_GUESS = 0.5  # smallest angle to begin from [rad]
ANGLE_TOLERANCE = 1e-6  # [rad]; the next step would be about the square of this

STACK_LEADING = 1.0
STACK_TRAILING = -1.0


@compiled
def segment_area(height: float, diameter: float) -> float:
    """Area of the circular segment below a level [m2].

    Args:
        height: Level above the lowest point; below 0 gives 0, above the diameter the whole circle [m].
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
def level_and_angle(volume: float, length: float, diameter: float, guess: float) -> tuple[float, float]:
    """Height of the surface in a level boiler [m], and the angle it subtends at the axis, of at most half a turn [rad].

    Newton's method for the angle: f = angle - sin angle is convex up to half a turn, so the steps go one way, from a
    guess below the root after the first; a boiler more than half full is solved by its steam space.

    Args:
        volume: Volume under the surface [m3].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
        guess: Angle to begin from, as that of a similar volume [rad].

    Raises:
        ArithmeticError: No convergence, as with a volume that is not a number.
    """
    radius = 0.5 * diameter
    target = 2.0 * volume / (length * radius * radius)  # angle - sin angle, of 2 pi
    if target <= 0.0:
        return 0.0, math.pi
    if target >= 2.0 * math.pi:
        return diameter, math.pi
    over_half_full = target > math.pi
    if over_half_full:
        target = 2.0 * math.pi - target
    # A small angle has hardly a slope: a step from there would go far.
    angle = guess if MIN_GUESS < guess < math.pi else math.pi
    for _ in range(MAX_ITERATIONS):
        step = (angle - math.sin(angle) - target) / (1.0 - math.cos(angle))
        angle = min(angle - step, math.pi)
        if abs(step) < ANGLE_TOLERANCE:
            break
    else:
        raise ArithmeticError("the water level did not converge")
    height = radius * (1.0 - math.cos(0.5 * angle))
    return diameter - height if over_half_full else height, angle


@compiled
def volume_below(height: float, length: float, diameter: float) -> float:
    """Volume under the surface of a level boiler [m3], the inverse of `level_and_angle`.

    Args:
        height: Level above the lowest line of the barrel [m].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
    """
    return length * segment_area(height, diameter)


def surface_tilt(*, grade: Real, acceleration: Real, leading: float) -> Real:
    """Slope of the surface against the barrel, positive where it falls toward the stack [1].

    Args:
        grade: Rise over run of the line in the direction of travel [1].
        acceleration: Acceleration in the direction of travel, negative when braking [m/s2].
        leading: STACK_LEADING or STACK_TRAILING.
    """
    return leading * (grade + acceleration / GRAVITY)


@compiled
def level_at_midlength(height: float, tilt: float, length: float, diameter: float) -> float:
    """Height of a tilted surface at the middle of the boiler's length [m].

    The surface turns about its middle line except for a term of second order: above the axis the barrel narrows
    upward, so the rising end gains less volume than the falling end loses. Constant volume requires
    h = h_level - (A'' / A') tilt^2 L^2 / 24, with A the area of the segment and A' its width. Valid while the surface
    meets both ends of the boiler between bottom and top.

    Args:
        height: Height of the surface in the level boiler [m].
        tilt: Slope of the surface, falling toward the stack [1].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
    """
    width_squared = height * (diameter - height)
    if width_squared <= 0.0:
        return height
    narrowing = (0.5 * diameter - height) / width_squared  # A'' / A'
    return height - narrowing * (tilt * length) ** 2 / 24.0


def levels_at_midlength(volume: Floats, tilt: Floats, length: float, diameter: float) -> Floats:
    """Height of the surface at the middle of the boiler's length, for each volume and tilt [m], shape (n,).

    Args:
        volume: Volume under the surface, shape (n,) [m3].
        tilt: Slope of the surface, falling toward the stack, shape (n,) [1].
        length: Length of the water space [m].
        diameter: Inside diameter of the barrel [m].
    """
    # Machine code that makes an array would load half the compiler of numba.
    heights = np.empty(len(volume))
    write_levels(volume, tilt, length, diameter, heights)
    return heights


@compiled
def write_levels(volume: Floats, tilt: Floats, length: float, diameter: float, heights: Floats) -> None:
    """Write the heights of `levels_at_midlength` into an array, shape (n,) [m]."""
    angle = math.pi  # the water changes little from one to the next
    for i in range(len(volume)):
        height, angle = level_and_angle(volume[i], length, diameter, angle)
        heights[i] = level_at_midlength(height, tilt[i], length, diameter)
