"""Steam in the cylinders of an engine at rest, when the throttle has just been opened.

An end whose steam port is open has the pressure of the chest. An end open to exhaust has that of the atmosphere, and
so has one whose ports are closed, because it has had time to leak down. So the torque depends on the crank angle at
which the engine happens to stand, and it is least where one cylinder has just cut off.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import in_python
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.cylinder.valve_gear import (
    ValveMotion,
    poppet_lift,
    steam_opening,
    valve_displacement,
)
from locosim.physics.types import Floats


def standing_pressures(
    cylinder: Cylinder, valves: ValveMotion, *, chest_pressure: float, outside_pressure: float, steps: int
) -> Floats:
    """Pressure in both ends of a cylinder at rest over crank angle.

    Args:
        cylinder: The cylinder.
        valves: Motion of its valves.
        chest_pressure: Absolute pressure in the steam chest [Pa].
        outside_pressure: Absolute pressure outside [Pa].
        steps: Crank steps in a revolution.

    Returns:
        Absolute pressure, rows front and back end over crank angle from the dead center of each end,
        shape (2, steps + 1) [Pa].
    """
    angles = np.linspace(0.0, 2.0 * math.pi, steps + 1)
    row = [
        chest_pressure if _steam_port_open(cylinder, valves, float(angle)) else outside_pressure
        for angle in angles
    ]
    return np.array([row, row])


def _steam_port_open(cylinder: Cylinder, valves: ValveMotion, angle: float) -> bool:
    """Whether an end is open to steam at a crank angle from its dead center [rad]."""
    if valves.lift_angle > 0.0:
        opens, closes = valves.admission_angle, valves.cutoff_angle
        return bool(in_python(poppet_lift)(angle, opens, closes, valves.lift_angle) > 0.0)
    displacement = in_python(valve_displacement)(angle, valves.lap_and_lead, valves.link_amplitude)
    return bool(in_python(steam_opening)(displacement, cylinder.lap, cylinder.port_width) > 0.0)
