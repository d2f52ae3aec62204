"""Flow through openings, against expansion by the 1997 formulation, Napier's rule, and its own inverse."""

from __future__ import annotations

import math

import numpy as np
import pytest
from iapws import IAPWS97

from locosim.constants import ATMOSPHERE, INCH, POUND, PSI
from locosim.physics.steam import properties as steam
from locosim.physics.steam.nozzle_flow import (
    SUPERHEATED_EXPONENT,
    WET_EXPONENT,
    choked_flow_number,
    critical_ratio,
    ellipse_flow,
    nozzle_flow,
    solve_downstream_pressure,
    solve_upstream_pressure,
)


def expanded(pressure, temperature, ratio):
    """Flow per area of real steam in loss-free expansion, from the enthalpy drop and the exit density."""
    start = steam.enthalpy(pressure=pressure, temperature=temperature)
    entropy = steam.entropy(pressure=pressure, temperature=temperature)
    end = steam.enthalpy_at_entropy(pressure=ratio * pressure, entropy=entropy)
    density = steam.density_at_enthalpy(pressure=ratio * pressure, enthalpy=end)
    return density * math.sqrt(2.0 * (start - end))


@pytest.mark.parametrize("pressure", [3e5, 10e5, 18e5])
@pytest.mark.parametrize("ratio", [0.95, 0.8, 0.65])
def test_superheated_flow_agrees_with_real_steam(pressure, ratio):
    temperature = steam.saturation_temperature(pressure=pressure) + 120.0
    density = steam.density(pressure=pressure, temperature=temperature)
    computed = nozzle_flow(pressure, density, ratio * pressure, SUPERHEATED_EXPONENT)
    assert computed == pytest.approx(expanded(pressure, temperature, ratio), rel=0.006)


@pytest.mark.parametrize("back_psi", [1.0, 4.0, 8.0, 12.0])
def test_exhaust_nozzle_is_a_loss_free_expansion(back_psi):
    # States from an unrelated library; the throat is choked where the pressure ratio requires it.
    start = IAPWS97(P=(ATMOSPHERE + back_psi * PSI) / 1e6, T=440.0)
    ratio = max(ATMOSPHERE / (ATMOSPHERE + back_psi * PSI), 0.546)
    throat = IAPWS97(P=start.P * ratio, s=start.s)
    exact = math.sqrt(2e3 * (start.h - throat.h)) / throat.v
    found = nozzle_flow(1e6 * start.P, start.rho, ATMOSPHERE, SUPERHEATED_EXPONENT)
    assert found == pytest.approx(exact, rel=0.01)


@pytest.mark.parametrize("ratio", [0.3, 0.5])
def test_flow_is_choked(ratio):
    pressure, density = 10e5, 4.5
    choked = choked_flow_number(SUPERHEATED_EXPONENT) * math.sqrt(pressure * density)
    assert nozzle_flow(pressure, density, ratio * pressure, SUPERHEATED_EXPONENT) == pytest.approx(choked)


@pytest.mark.parametrize("pounds", [50.0, 100.0, 200.0])
def test_wet_choked_flow_near_napiers_rule(pounds):
    # [Babcock1919] formula (49): W = p a / 70, lb/s, in2, lb/in2 absolute; accurate to a few per cent.
    pressure = pounds * PSI
    flow = INCH**2 * nozzle_flow(pressure, steam.vapor_density(pressure=pressure), ATMOSPHERE, WET_EXPONENT)
    assert flow / POUND == pytest.approx(pounds / 70.0, rel=0.035)


@pytest.mark.parametrize(("exponent", "within"), [(SUPERHEATED_EXPONENT, 0.0105), (WET_EXPONENT, 0.023)])
def test_ellipse_is_near_the_exact_law(exponent, within):
    critical, choked = critical_ratio(exponent), choked_flow_number(exponent)
    for ratio in np.linspace(0.3, 0.999, 60):
        exact = nozzle_flow(10e5, 5.0, ratio * 10e5, exponent)
        by_ellipse = ellipse_flow(10e5, 5.0, (1 - ratio) * 10e5, critical, choked)
        assert by_ellipse == pytest.approx(exact, rel=within)


@pytest.mark.parametrize("area", [0.0005, 0.003, 0.02])
def test_downstream_pressure_passes_the_flow_taken(area):
    conductance = 3e-6
    pressure = solve_downstream_pressure(15e5, 2.4e5, area, conductance)
    passed = area * ellipse_flow(
        15e5, 15e5 / 2.4e5, 15e5 - pressure, critical_ratio(1.3), choked_flow_number(1.3)
    )
    assert passed == pytest.approx(conductance * pressure, rel=1e-9)


@pytest.mark.parametrize("flow", [0.0, 0.1, 4.0, 20.0])
def test_upstream_pressure_drives_the_flow(flow):
    pressure = solve_upstream_pressure(ATMOSPHERE, 1.75e5, 0.03, flow)
    driven = 0.03 * ellipse_flow(
        pressure, pressure / 1.75e5, pressure - ATMOSPHERE, critical_ratio(1.3), choked_flow_number(1.3)
    )
    assert driven == pytest.approx(flow, rel=1e-6, abs=1e-4)
    assert pressure >= ATMOSPHERE * (1 - 1e-12)


@pytest.mark.parametrize("beyond", [0.95, 1.0001, 1.05, 1.3])
def test_pressures_on_both_sides_of_choking(beyond: float) -> None:
    """A little before and after the critical ratio, against a root of Zeuner's ellipse itself."""
    area, flow_work = 1e-3, 2.0e5
    critical, choked = critical_ratio(SUPERHEATED_EXPONENT), choked_flow_number(SUPERHEATED_EXPONENT)

    def passed(upstream: float, downstream: float) -> float:
        share = min((1.0 - downstream / upstream) / (1.0 - critical), 1.0)
        return area * choked * upstream / math.sqrt(flow_work) * math.sqrt(share * (2.0 - share))

    most = area * choked * 10e5 / math.sqrt(flow_work)
    conductance = beyond * most / (critical * 10e5)
    found = solve_downstream_pressure(10e5, flow_work, area, conductance)
    assert passed(10e5, found) == pytest.approx(conductance * found, rel=1e-9)
    flow = beyond * area * choked * (2e5 / critical) / math.sqrt(flow_work)
    upstream = solve_upstream_pressure(2e5, flow_work, area, flow)
    assert passed(upstream, 2e5) == pytest.approx(flow, rel=1e-9)
