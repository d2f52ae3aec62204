"""Flow through a port of the cylinder within one crank step.

At slow speed, the flow through a wide-open port equalizes the pressures within a fraction of a step. The step is
solved with the square-root law for small pressure differences. It weights the flows at the start and the end of the
step: equally, unless that would overshoot equal pressure; then the weight of the end rises just enough to prevent it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_inline, in_python
from locosim.physics.steam.nozzle_flow import (
    SUPERHEATED_EXPONENT,
    WET_EXPONENT,
    choked_flow_number,
    critical_ratio,
    ellipse_flow,
)

_CRITICAL_DRY = in_python(critical_ratio)(SUPERHEATED_EXPONENT)
_CRITICAL_WET = in_python(critical_ratio)(WET_EXPONENT)
_FLOW_DRY = in_python(choked_flow_number)(SUPERHEATED_EXPONENT)
_FLOW_WET = in_python(choked_flow_number)(WET_EXPONENT)
_DEW_BAND = (
    4.0e3  # energy below dry saturated over which dry behavior changes to wet: 0.2 % of latent heat [J/kg]
)
_EXPANSION_EXPONENT = 0.23  # (k - 1)/k at k = 1.3, by which p/rho follows pressure in an expansion


class PortSteam(NamedTuple):
    """Steam on one side of a port.

    Attributes:
        pressure: Absolute pressure [Pa].
        flow_work: p/rho [J/kg].
        enthalpy: Specific enthalpy [J/kg].
        wetness: From `wetness_blend` [1].
    """

    pressure: float
    flow_work: float
    enthalpy: float
    wetness: float


@compiled_inline
def wetness_blend(superheat_energy: float) -> float:
    """Weight of wet behavior against dry, continuous across the dew line.

    Args:
        superheat_energy: Specific energy above dry saturated steam, negative when wet [J/kg].

    Returns:
        0 for superheated steam, rising to 1 at 0.2 % of moisture [1].
    """
    return min(max(-superheat_energy / _DEW_BAND, 0.0), 1.0)


@compiled_inline
def orifice_flow(area: float, upstream: PortSteam, pressure_drop: float) -> float:
    """Mass flow through an opening by Zeuner's ellipse.

    Args:
        area: Flow area, discharge coefficient included [m2].
        upstream: Steam upstream.
        pressure_drop: Pressure drop across the opening, not negative [Pa].

    Returns:
        Mass flow [kg/s].
    """
    critical = _CRITICAL_DRY + (_CRITICAL_WET - _CRITICAL_DRY) * upstream.wetness
    choked_number = _FLOW_DRY + (_FLOW_WET - _FLOW_DRY) * upstream.wetness
    density = upstream.pressure / upstream.flow_work
    return area * ellipse_flow(upstream.pressure, density, pressure_drop, critical, choked_number)


@compiled_inline
def port_flow(
    area_time: float,
    inside: PortSteam,
    outside: PortSteam,
    no_flow_pressure: float,
    exponent: float,
    volume: float,
) -> float:
    """Mass that enters through a port in a step, negative when it leaves.

    With d the pressure outside less inside, dd/dt = c - S F(d), where F is the flow and S is the pressure rise inside
    per mass admitted. F is nearly proportional to the root of d, so the weighted step
    d1 = d0 + c t - S t ((1 - w) F(d0) + w F(d1)) is a quadratic in the root of d1. The weight w is 1/2 unless the
    initial flow would then overshoot equal pressure.

    Args:
        area_time: Flow area, discharge coefficient included, times the length of the step [m2 s].
        inside: Steam inside at the start of the step.
        outside: Steam outside.
        no_flow_pressure: Pressure inside at the end of the step if nothing flowed here [Pa].
        exponent: Isentropic exponent inside [1].
        volume: Volume inside at the middle of the step [m3].

    Returns:
        Mass [kg].
    """
    stiffness = port_stiffness(outside.pressure - no_flow_pressure, inside, outside, exponent) / volume
    start_pressure_drop = outside.pressure - inside.pressure
    start = _signed_flow(area_time, inside, outside, start_pressure_drop)
    weight = 0.5
    pressure_rise = stiffness * abs(start)
    if pressure_rise > 2.0 * abs(start_pressure_drop):
        weight = 1.0 - abs(start_pressure_drop) / pressure_rise
    end_pressure_drop = outside.pressure - no_flow_pressure - stiffness * (1.0 - weight) * start
    later = inside
    if end_pressure_drop < 0.0:  # steam that leaves at the end of the step is less dense
        pressure = outside.pressure - end_pressure_drop
        flow_work = inside.flow_work * (1.0 + _EXPANSION_EXPONENT * (pressure / inside.pressure - 1.0))
        later = PortSteam(pressure, flow_work, inside.enthalpy, inside.wetness)
    end = _signed_flow(area_time, later, outside, end_pressure_drop)
    if end == 0.0:
        return (1.0 - weight) * start
    size = abs(end_pressure_drop)
    slope = abs(end) / math.sqrt(size)
    half = 0.5 * stiffness * weight * slope
    root = size / (half + math.sqrt(half * half + size))
    return (1.0 - weight) * start + weight * math.copysign(slope * root, end_pressure_drop)


@compiled_inline
def port_stiffness(flow: float, inside: PortSteam, outside: PortSteam, exponent: float) -> float:
    """Pressure rise inside per mass admitted, times the volume.

    Args:
        flow: Flow into the end, or pressure drop into it; only its sign matters.
        inside: Steam inside.
        outside: Steam outside.
        exponent: Isentropic exponent inside [1].

    Returns:
        Pressure rise times volume over mass [Pa m3/kg].
    """
    if flow > 0.0:
        return exponent * inside.flow_work + (exponent - 1.0) * (outside.enthalpy - inside.enthalpy)
    return exponent * inside.flow_work


@compiled_inline
def _signed_flow(area: float, inside: PortSteam, outside: PortSteam, pressure_drop: float) -> float:
    """Mass flow into the end [kg/s], negative outward, for a pressure drop into it [Pa]."""
    if pressure_drop >= 0.0:
        return orifice_flow(area, outside, pressure_drop)
    return -orifice_flow(area, inside, -pressure_drop)
