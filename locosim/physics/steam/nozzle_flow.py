"""Flow of steam through an opening: the exact loss-free nozzle, and the ellipse used by the cylinder cycle.

Saint-Venant's law gives the flow of a gas of constant exponent k from rest through an opening. Below the critical
pressure ratio the flow is choked and no longer rises. Zeuner approximated the rising branch by a quarter ellipse: one
square root instead of two powers, at most 1 % below the exact law for superheated and 2.3 % for wet steam.
"""

from __future__ import annotations

import math

from locosim.compiled import compiled, compiled_inline

SUPERHEATED_EXPONENT = 1.30  # [Zeuner1866]; the 1997 formulation gives 1.28 to 1.32 up to 20 bar
WET_EXPONENT = 1.13  # 1.035 + 0.1 x at quality x = 0.95, [Zeuner1866]


@compiled
def critical_ratio(exponent: float) -> float:
    """Pressure ratio below which the flow no longer rises.

    Args:
        exponent: Isentropic exponent [1].

    Returns:
        Downstream over upstream pressure [1].
    """
    return math.pow(2.0 / (exponent + 1.0), exponent / (exponent - 1.0))


@compiled
def choked_flow_number(exponent: float) -> float:
    """Choked flow per area over sqrt(upstream pressure x upstream density).

    Args:
        exponent: Isentropic exponent [1].

    Returns:
        Flow number [1].
    """
    power = 0.5 * (exponent + 1.0) / (exponent - 1.0)
    return math.sqrt(exponent) * math.pow(2.0 / (exponent + 1.0), power)


@compiled
def nozzle_flow(upstream_pressure: float, upstream_density: float, pressure: float, exponent: float) -> float:
    """Flow per area through a loss-free nozzle, from rest.

    Args:
        upstream_pressure: Absolute pressure upstream [Pa].
        upstream_density: Density upstream [kg/m3].
        pressure: Absolute pressure downstream, not above the upstream pressure [Pa].
        exponent: Isentropic exponent [1].

    Returns:
        Mass flow per area [kg/(m2 s)].

    References:
        [Zeuner1866].
    """
    ratio = max(pressure / upstream_pressure, critical_ratio(exponent))
    powers = ratio ** (2.0 / exponent) - ratio ** ((exponent + 1.0) / exponent)
    number = math.sqrt(2.0 * exponent / (exponent - 1.0) * max(powers, 0.0))
    return number * math.sqrt(upstream_pressure * upstream_density)


@compiled_inline
def ellipse_flow(
    upstream_pressure: float,
    upstream_density: float,
    pressure_drop: float,
    critical: float,
    choked_number: float,
) -> float:
    """Flow per area by Zeuner's ellipse.

    Args:
        upstream_pressure: Absolute pressure upstream [Pa].
        upstream_density: Density upstream [kg/m3].
        pressure_drop: Pressure drop across the opening, not negative [Pa].
        critical: Critical pressure ratio, from `critical_ratio` [1].
        choked_number: Choked flow number, from `choked_flow_number` [1].

    Returns:
        Mass flow per area [kg/(m2 s)].
    """
    share = min(pressure_drop / (upstream_pressure * (1.0 - critical)), 1.0)
    return choked_number * math.sqrt(upstream_pressure * upstream_density * share * (2.0 - share))


@compiled_inline
def solve_downstream_pressure(
    upstream_pressure: float, flow_work: float, area: float, conductance: float
) -> float:
    """Pressure downstream of an opening when the flow taken there is proportional to that pressure.

    Args:
        upstream_pressure: Absolute pressure upstream [Pa].
        flow_work: p/rho upstream [J/kg].
        area: Flow area, discharge coefficient included [m2].
        conductance: Mass flow taken over absolute pressure downstream [kg/(s Pa)].

    Returns:
        Absolute pressure [Pa].
    """
    critical = critical_ratio(SUPERHEATED_EXPONENT)
    choked = choked_flow_number(SUPERHEATED_EXPONENT) * area * upstream_pressure / math.sqrt(flow_work)
    demand = conductance * upstream_pressure / choked  # at ratio r: demand r = sqrt(1 - ((r - c)/(1 - c))^2)
    if demand * critical >= 1.0:
        return upstream_pressure / demand
    width = (1.0 - critical) ** 2
    a = demand * demand * width + 1.0
    return (
        upstream_pressure
        * (critical + math.sqrt(critical * critical + a * (width - critical * critical)))
        / a
    )


@compiled_inline
def solve_upstream_pressure(pressure: float, flow_work: float, area: float, flow: float) -> float:
    """Pressure upstream of an opening that drives a given flow.

    Args:
        pressure: Absolute pressure downstream [Pa].
        flow_work: p/rho upstream [J/kg].
        area: Flow area, discharge coefficient included [m2].
        flow: Mass flow [kg/s].

    Returns:
        Absolute pressure upstream [Pa].
    """
    critical = critical_ratio(SUPERHEATED_EXPONENT)
    demand = flow * math.sqrt(flow_work) / (choked_flow_number(SUPERHEATED_EXPONENT) * area * pressure)
    if demand * critical >= 1.0:
        return pressure * demand
    width = (1.0 - critical) ** 2  # with r = downstream / upstream: demand r = sqrt(1 - ((r - c)/(1 - c))^2)
    a = demand * demand * width + 1.0
    return pressure * a / (critical + math.sqrt(critical * critical + a * (width - critical * critical)))
