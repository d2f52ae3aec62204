"""Pull at the rim of the driving wheels: rated efforts, mean pressure, piston speed, crank effort.

Pressures called gauge are those stamped on the boiler; the rated efforts were always made from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from locosim.constants import GRAVITY
from locosim.physics.types import Real

TRACTIVE_EFFORT_FACTOR = 0.85  # share of boiler pressure that reaches the piston at starting, customary


class CrankEffort(NamedTuple):
    """Greatest and least crank effort of a turn over its mean [1]."""

    maximum: float
    minimum: float


def effort_per_pressure(*, bore: Real, stroke: Real, driver_diameter: Real, cylinders: Real = 2) -> Real:
    """Mean rim pull for each pascal of mean effective pressure.

    Args:
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].
        cylinders: Number of like double-acting simple cylinders that drive these wheels [1].

    Returns:
        Pull per pressure [N/Pa].

    References:
        Work of a turn over the circumference: (n/2) d² s / D. [Sinclair1888] chapter XXVI (Pambour).
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

    An articulated simple engine counts all its cylinders. An engine with limited cutoff takes a smaller
    coefficient.

    Args:
        gauge_pressure: Working pressure of the boiler above atmosphere [Pa].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].
        cylinders: Number of like cylinders [1].
        coefficient: Mean effective pressure over boiler pressure [1].

    Returns:
        Rated tractive effort at the rim [N].

    References:
        [Baldwin13] (two cylinders, 0.85); more cylinders in proportion.
    """
    per_pressure = effort_per_pressure(
        bore=bore, stroke=stroke, driver_diameter=driver_diameter, cylinders=cylinders
    )
    return coefficient * gauge_pressure * per_pressure


def indicated_effort_at_rim(
    *, mean_effective_pressure: Real, bore: Real, stroke: Real, driver_diameter: Real, cylinders: Real = 2
) -> Real:
    """Mean pull at the rim for a mean effective pressure, machine friction apart.

    Args:
        mean_effective_pressure: Forward less back pressure, mean over the stroke [Pa].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].
        cylinders: Number of like double-acting cylinders [1].

    Returns:
        Indicated pull at the rim [N].

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
    """Mean effective pressure that gives an indicated pull at the rim.

    Args:
        indicated_effort_at_rim: Indicated pull at the rim [N].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].
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
        driver_diameter: Diameter of the driving wheels on the tread [m].
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
    """Power of a pull at a speed.

    Args:
        effort: Pull at the rim or at the drawbar [N].
        speed: Speed of the train [m/s].

    Returns:
        Power [W].

    References:
        [MRS70]: T V / 375 in pounds, mile/h and horsepower.
    """
    return effort * speed


def piston_area(*, bore: Real) -> Real:
    """Area of a piston, its rod neglected.

    Args:
        bore: Diameter of the cylinder [m].

    Returns:
        Area [m²].

    References:
        Geometry.
    """
    return np.pi / 4 * bore**2


def swept_volume(*, bore: Real, stroke: Real) -> Real:
    """Volume swept by a piston in one stroke, its rod neglected.

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
    """Volume swept by all pistons in unit time, both ends counted.

    Args:
        speed: Speed of the train [m/s].
        bore: Diameter of a cylinder [m].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].
        cylinders: Number of like double-acting cylinders [1].

    Returns:
        Volume rate [m³/s].

    References:
        [Vose1857] article 362.
    """
    strokes = 2 * cylinders * driver_revolutions(speed=speed, driver_diameter=driver_diameter)
    return strokes * swept_volume(bore=bore, stroke=stroke)


def driver_revolutions(*, speed: Real, driver_diameter: Real) -> Real:
    """Turns of the driving wheels in unit time, without slip.

    Args:
        speed: Speed of the train [m/s].
        driver_diameter: Diameter of the driving wheels on the tread [m].

    Returns:
        Turns per second [1/s].

    References:
        Geometry.
    """
    return speed / (np.pi * driver_diameter)


def piston_speed(*, speed: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Mean speed of the pistons.

    Args:
        speed: Speed of the train [m/s].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].

    Returns:
        Mean piston speed [m/s].

    References:
        Two strokes a turn.
    """
    return 2 * stroke * driver_revolutions(speed=speed, driver_diameter=driver_diameter)


def speed_from_piston_speed(*, piston_speed: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Speed of the train at a mean piston speed.

    Args:
        piston_speed: Mean speed of the pistons [m/s].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].

    Returns:
        Speed of the train [m/s].

    References:
        Two strokes a turn.
    """
    return piston_speed * np.pi * driver_diameter / (2 * stroke)


def piston_force_from_effort(*, effort: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Force on the pistons, as if on one of them throughout, that gives a pull at the rim.

    Args:
        effort: Pull at the rim, friction apart [N].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].

    Returns:
        Mean force on all pistons together [N].

    References:
        [Bourne1865] Q. 297 and 497: circumference over the double stroke.
    """
    return effort * np.pi * driver_diameter / (2 * stroke)


def effort_from_piston_force(*, piston_force: Real, stroke: Real, driver_diameter: Real) -> Real:
    """Pull at the rim from the mean force on all pistons together.

    Args:
        piston_force: Mean force on all pistons together [N].
        stroke: Travel of the piston [m].
        driver_diameter: Diameter of the driving wheels on the tread [m].

    Returns:
        Pull at the rim, friction apart [N].

    References:
        [Vose1857] article 362: stroke over half circumference.
    """
    return piston_force * 2 * stroke / (np.pi * driver_diameter)


def crank_effort(*, crank_angle: Real, cranks: Sequence[float]) -> Real:
    """Turning effort on the axle over its mean, for full pressure all through and a long connecting rod.

    Args:
        crank_angle: Angle the first crank has turned from its dead center [rad].
        cranks: Angle of each crank against the first [rad].

    Returns:
        Effort over mean effort [1].

    References:
        Geometry; the mean of |sin| is 2/pi, printed 0.6366 in [Sinclair1888] chapter XXVI.
    """
    total = sum(np.abs(np.sin(np.add(crank_angle, crank))) for crank in cranks)
    return total / (len(cranks) * 2 / np.pi)


def crank_effort_extremes(*, cranks: Sequence[float]) -> CrankEffort:
    """Greatest and least turning effort of a turn over the mean, as in `crank_effort`.

    Args:
        cranks: Angle of each crank against the first [rad].

    Returns:
        Greatest and least effort over the mean [1].

    References:
        Own derivation. Between the dead centres of all cranks the sum of |sin| is one sine arch: it is
        least at a dead center, and greatest at the top of an arch or at a dead center.
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
    """Weight on the driving wheels over tractive effort.

    Args:
        mass_on_drivers: Mass on the driving wheels [kg].
        tractive_effort: Tractive effort at the rim [N].

    Returns:
        Factor of adhesion, about 4 for a well-proportioned engine [1].

    References:
        Common practice; range from memory.
    """
    return mass_on_drivers * GRAVITY / tractive_effort
