"""Results of the cylinder cycle: figures at each operating point, and diagrams of one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from locosim.frozen import frozen
from locosim.physics.types import Floats


@frozen
class StageResult:
    """One stage of expansion at each operating point; arrays of the shape of the points.

    Attributes:
        chest_pressure: Absolute pressure in the steam chest [Pa].
        chest_enthalpy: Specific enthalpy there [J/kg].
        back_pressure: Absolute pressure in the exhaust passage [Pa].
        mean_effective_pressure: Work of both ends over their swept volume [Pa].
        work_front: Work of the front end of one cylinder in a revolution [J].
        work_back: Work of the back end of one cylinder in a revolution [J].
        wall_condensation_share: Steam condensed on the walls over steam admitted [1].
    """

    chest_pressure: Floats
    chest_enthalpy: Floats
    back_pressure: Floats
    mean_effective_pressure: Floats
    work_front: Floats
    work_back: Floats
    wall_condensation_share: Floats


@frozen
class CycleResults:
    """An engine at each operating point; arrays of the shape of the points.

    Attributes:
        power: Indicated power of all cylinders; where it is not above 0 the engine would have to be driven at this
            point, and the other results are not valid [W].
        steam: Steam taken from the boiler [kg/s].
        exhaust_enthalpy: Specific enthalpy of the exhaust [J/kg].
        peak_torque_ratio: Peak torque of the steam forces over its mean in a revolution [1].
        stages: One result for single expansion, two for high and low pressure.
        mass_residual: Mass in less mass out, over mass in [1].
        heat_residual: Heat in less work and heat out, over heat in [1].
        converged: Whether both residuals are below 1e-6. Points that give power and have not converged are rare and
            lie near no load, where the steam of one revolution differs from that of the next; there both residuals
            are below 1e-4.
    """

    power: Floats
    steam: Floats
    exhaust_enthalpy: Floats
    peak_torque_ratio: Floats
    stages: tuple[StageResult, ...]
    mass_residual: Floats
    heat_residual: Floats
    converged: NDArray[np.bool_]


@frozen
class StageDiagram:
    """Indicator diagrams of one cylinder of a stage, over crank angle from the dead center of each end.

    Attributes:
        angle: Crank angle [rad].
        volume_front: Volume of the front end, clearance included [m3].
        volume_back: Volume of the back end [m3].
        pressure_front: Absolute pressure in the front end [Pa].
        pressure_back: Absolute pressure in the back end [Pa].
        torque: Torque of all cylinders of the stage, steam forces alone, over the crank angle of the first cylinder
            of all, at the middle of each step [N m].
    """

    angle: Floats
    volume_front: Floats
    volume_back: Floats
    pressure_front: Floats
    pressure_back: Floats
    torque: Floats


@frozen
class CycleDiagram:
    """One operating point with its diagrams.

    Attributes:
        point: The results, arrays of one element.
        stages: Diagrams of each stage.
        torque_angle: Crank angle of the first cylinder at the middle of each step [rad].
        torque: Torque of all cylinders on the axle, steam forces alone [N m].
    """

    point: CycleResults
    stages: tuple[StageDiagram, ...]
    torque_angle: Floats
    torque: Floats
