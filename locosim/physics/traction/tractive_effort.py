"""Tractive effort at the rim of the driving wheels: rated effort, mean pressure, piston speed, crank effort.

Rated tractive effort is by definition computed from the gauge pressure stamped on the boiler.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from locosim.constants import GRAVITY
from locosim.physics.types import Real

TRACTIVE_EFFORT_FACTOR = 0.85  # mean effective pressure at starting over boiler pressure [Baldwin13]


class CrankEffort(NamedTuple):
    """Maximum and minimum crank effort of a revolution over its mean [1]."""

    maximum: float
    minimum: float


def effort_per_pressure(*, bore: Real, stroke: Real, driver_diameter: Real, cylinders: Real = 2) -> Real:
    """Mean tractive effort per mean effective pressure.

    Args:
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        cylinders: Number of like double-acting simple cylinders on these wheels [1].

    Returns:
        Tractive effort per pressure [N/Pa].

    References:
        Work of a revolution over the circumference: (n/2) d² s / D. [Sinclair1888] chapter XXVI (Pambour).
    """
    return cylinders / 2 * bore**2 * stroke / driver_diameter


def rated_tractive_effort(
    *,
    gauge_pressure: Real,
    bore: Real,
    stroke: Real,
    driver_diameter: Real,
    cylinders: Real = 2,
    coefficient: Real = TRACTIVE_EFFORT_FACTOR,
) -> Real:
    """Rated starting tractive effort of a simple-expansion engine, or of one of its engine units.

    Count all cylinders of an articulated simple engine. An engine with limited cutoff needs a smaller coefficient.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        cylinders: Number of like cylinders [1].
        coefficient: Mean effective pressure over boiler pressure [1].

    Returns:
        Rated tractive effort at the rim [N].

    References:
        [Baldwin13] (two cylinders, 0.85); proportional to the number of cylinders.
    """
    per_pressure = effort_per_pressure(
        bore=bore, stroke=stroke, driver_diameter=driver_diameter, cylinders=cylinders
    )
    return coefficient * gauge_pressure * per_pressure


def indicated_effort_at_rim(
    *, mean_effective_pressure: Real, bore: Real, stroke: Real, driver_diameter: Real, cylinders: Real = 2
) -> Real:
    """Indicated tractive effort for a mean effective pressure.

    Args:
        mean_effective_pressure: Forward less back pressure, mean over the stroke [Pa].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        cylinders: Number of like double-acting cylinders [1].

    Returns:
        Indicated tractive effort [N].

    References:
        [Sinclair1888] chapter XXVI (Pambour).
    """
    per_pressure = effort_per_pressure(
        bore=bore, stroke=stroke, driver_diameter=driver_diameter, cylinders=cylinders
    )
    return mean_effective_pressure * per_pressure


def mean_effective_pressure(
    *, indicated_effort_at_rim: Real, bore: Real, stroke: Real, driver_diameter: Real, cylinders: Real = 2
) -> Real:
    """Mean effective pressure that gives an indicated tractive effort.

    Args:
        indicated_effort_at_rim: Indicated tractive effort [N].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        cylinders: Number of like double-acting cylinders [1].

    Returns:
        Mean effective pressure [Pa].

    References:
        [Sinclair1888] chapter XXVI (Pambour).
    """
    return indicated_effort_at_rim / effort_per_pressure(
        bore=bore, stroke=stroke, driver_diameter=driver_diameter, cylinders=cylinders
    )


def piston_power(*, mean_effective_pressure: Real, piston_area: Real, piston_speed: Real) -> Real:
    """Indicated power of one double-acting cylinder.

    Args:
        mean_effective_pressure: Forward less back pressure, mean over the stroke and both ends [Pa].
        piston_area: Area of the piston [m²].
        piston_speed: Mean speed of the piston [m/s].

    Returns:
        Indicated power [W].

    References:
        [MRS70]: P L A N / 33,000.
    """
    return mean_effective_pressure * piston_area * piston_speed


def indicated_power(
    *,
    mean_effective_pressure: Real,
    speed: Real,
    bore: Real,
    stroke: Real,
    driver_diameter: Real,
    cylinders: Real = 2,
) -> Real:
    """Indicated power of all cylinders at a speed.

    Args:
        mean_effective_pressure: Forward less back pressure, mean over the stroke and both ends [Pa].
        speed: Speed of the train [m/s].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        cylinders: Number of like double-acting cylinders [1].

    Returns:
        Indicated power [W].

    References:
        [MRS70]: P L A N / 33,000, both ends of all cylinders.
    """
    swept = swept_volume_rate(
        speed=speed, bore=bore, stroke=stroke, driver_diameter=driver_diameter, cylinders=cylinders
    )
    return mean_effective_pressure * swept


def power(*, effort: Real, speed: Real) -> Real:
    """Power of a tractive effort at a speed.

    Args:
        effort: Tractive effort at the rim, or drawbar pull [N].
        speed: Speed of the train [m/s].

    Returns:
        Power [W].

    References:
        [MRS70]: T V / 375 in pounds, mile/h and horsepower.
    """
    return effort * speed


def piston_area(*, bore: Real) -> Real:
    """Area of a piston, neglecting the rod.

    Args:
        bore: Diameter of the cylinder [m].

    Returns:
        Area [m²].

    References:
        Geometry.
    """
    return np.pi / 4 * bore**2


def swept_volume(*, bore: Real, stroke: Real) -> Real:
    """Volume swept by a piston in one stroke, neglecting the rod.

    Args:
        bore: Diameter of the cylinder [m].
        stroke: Travel of the piston [m].

    Returns:
        Volume [m³].

    References:
        Geometry.
    """
    return piston_area(bore=bore) * stroke


def swept_volume_rate(
    *, speed: Real, bore: Real, stroke: Real, driver_diameter: Real, cylinders: Real = 2
) -> Real:
    """Volume swept by all pistons per unit time, both ends counted.

    Args:
        speed: Speed of the train [m/s].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        cylinders: Number of like double-acting cylinders [1].

    Returns:
        Volume rate [m³/s].

    References:
        [Vose1857] article 362.
    """
    strokes = 2 * cylinders * driver_revolutions(speed=speed, driver_diameter=driver_diameter)
    return strokes * swept_volume(bore=bore, stroke=stroke)


def driver_revolutions(*, speed: Real, driver_diameter: Real) -> Real:
    """Driving-wheel speed without slip.

    Args:
        speed: Speed of the train [m/s].
        driver_diameter: Diameter of the driving wheels at the tread [m].

    Returns:
        Revolutions per second [1/s].

    References:
        Geometry.
    """
    return speed / (np.pi * driver_diameter)


def piston_speed(*, speed: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Mean speed of the pistons.

    Args:
        speed: Speed of the train [m/s].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].

    Returns:
        Mean piston speed [m/s].

    References:
        Two strokes a revolution.
    """
    return 2 * stroke * driver_revolutions(speed=speed, driver_diameter=driver_diameter)


def speed_from_piston_speed(*, piston_speed: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Speed of the train at a mean piston speed.

    Args:
        piston_speed: Mean speed of the pistons [m/s].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].

    Returns:
        Speed of the train [m/s].

    References:
        Two strokes a revolution.
    """
    return piston_speed * np.pi * driver_diameter / (2 * stroke)


def piston_force_from_effort(*, effort: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Mean force on all pistons together that gives a tractive effort.

    Args:
        effort: Indicated tractive effort [N].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].

    Returns:
        Mean force on all pistons together [N].

    References:
        [Bourne1865] Q. 297 and 497: circumference over the double stroke.
    """
    return effort * np.pi * driver_diameter / (2 * stroke)


def effort_from_piston_force(*, piston_force: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Indicated tractive effort from the mean force on all pistons together.

    Args:
        piston_force: Mean force on all pistons together [N].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].

    Returns:
        Indicated tractive effort [N].

    References:
        [Vose1857] article 362: stroke over half circumference.
    """
    return piston_force * 2 * stroke / (np.pi * driver_diameter)


def crank_effort(*, crank_angle: Real, cranks: Sequence[float]) -> Real:
    """Crank effort over its mean, for constant pressure and an infinitely long connecting rod.

    Args:
        crank_angle: Angle of the first crank from its dead center [rad].
        cranks: Angle of each crank relative to the first [rad].

    Returns:
        Effort over mean effort [1].

    References:
        Geometry; the mean of |sin| is 2/pi, printed 0.6366 in [Sinclair1888] chapter XXVI.
    """
    total = sum(np.abs(np.sin(np.add(crank_angle, crank))) for crank in cranks)
    return total / (len(cranks) * 2 / np.pi)


def crank_effort_extremes(*, cranks: Sequence[float]) -> CrankEffort:
    """Maximum and minimum of `crank_effort` over a revolution.

    Args:
        cranks: Angle of each crank relative to the first [rad].

    Returns:
        Maximum and minimum effort over the mean [1].

    References:
        Own derivation. Between the dead centers of all cranks the sum of |sin| is one sine arch: its minimum is at a
        dead center, its maximum at the top of an arch or at a dead center.
    """
    phases = np.asarray(cranks, dtype=float)
    dead_centers = np.sort(np.mod(-phases, np.pi))
    middles = (dead_centers + np.append(dead_centers[1:], dead_centers[0] + np.pi)) / 2
    signs = np.sign(np.sin(middles[:, None] + phases[None, :]))
    arches = (signs * np.exp(1j * phases)).sum(axis=1)
    tops = np.pi / 2 - np.angle(arches)
    at_dead_centers = crank_effort(crank_angle=dead_centers, cranks=cranks)
    at_tops = crank_effort(crank_angle=tops, cranks=cranks)
    return CrankEffort(float(max(at_tops.max(), at_dead_centers.max())), float(at_dead_centers.min()))


def factor_of_adhesion(*, mass_on_drivers: Real, tractive_effort: Real) -> Real:
    """Weight on drivers over tractive effort.

    Args:
        mass_on_drivers: Mass on the driving wheels [kg].
        tractive_effort: Tractive effort at the rim [N].

    Returns:
        Factor of adhesion, about 4 for a well-proportioned engine [1].

    References:
        Common practice; range from memory.
    """
    return mass_on_drivers * GRAVITY / tractive_effort
