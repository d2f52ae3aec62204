"""Tractive effort at the rim of the driving wheels, as rated, and piston speed.

Rated tractive effort is by definition computed from the gauge pressure stamped on the boiler.
"""

from __future__ import annotations

import numpy as np

from locosim.physics.types import Real

TRACTIVE_EFFORT_FACTOR = 0.85  # mean effective pressure at starting over boiler pressure [Baldwin13]


def effort_per_pressure(*, bore: float, stroke: float, driver_diameter: float, cylinders: float = 2) -> float:
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
    gauge_pressure: float,
    bore: float,
    stroke: float,
    driver_diameter: float,
    cylinders: float = 2,
    coefficient: float = TRACTIVE_EFFORT_FACTOR,
) -> float:
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


def driver_revolutions(*, speed: Real, driver_diameter: float) -> Real:
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


def piston_speed(*, speed: Real, stroke: float, driver_diameter: float) -> Real:
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


def speed_from_piston_speed(*, piston_speed: Real, stroke: float, driver_diameter: float) -> Real:
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
