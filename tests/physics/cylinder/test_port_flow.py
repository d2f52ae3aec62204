"""Flow through a port in one crank step: its direction, its size where little changes, and equal pressures."""

from __future__ import annotations

import math

import pytest

from locosim.physics.cylinder import port_flow
from locosim.physics.cylinder.port_flow import PortSteam
from locosim.physics.steam.nozzle_flow import nozzle_flow

CHEST = PortSteam(12e5, 2.2e5, 2.95e6, 0.0)
AREA_TIME = 2e-7  # a port of 20 cm² open for 0.1 ms


@pytest.fixture(autouse=True)
def _in_plain_python(monkeypatch: pytest.MonkeyPatch) -> None:
    """Called one by one, the compiler would take seconds for each function."""
    for name, each in list(vars(port_flow).items()):
        if hasattr(each, "py_func"):
            monkeypatch.setattr(port_flow, name, each.py_func)


def admitted(
    pressure: float, *, volume: float = 1e3, no_flow: float | None = None, area: float = AREA_TIME
) -> float:
    """Mass that enters; a large volume keeps its pressure."""
    inside = PortSteam(pressure, 2.0e5, 2.9e6, 0.0)
    return float(
        port_flow.port_flow(area, inside, CHEST, pressure if no_flow is None else no_flow, 1.3, volume)
    )


@pytest.mark.parametrize("drop", [0.3, 40.0, 2e4])
def test_steam_flows_toward_the_lower_pressure(drop: float) -> None:
    enters, leaves = admitted(CHEST.pressure - drop), admitted(CHEST.pressure + drop)
    assert enters > 0.0 > leaves
    # by Bernoulli for a small drop: root of twice the drop times the density upstream, which is p over p/rho
    for mass, dense in ((enters, 12e5 / 2.2e5), (-leaves, 12e5 / 2.0e5)):
        assert mass == pytest.approx(AREA_TIME * math.sqrt(2.0 * drop * dense), rel=0.02)


def test_nothing_flows_through_a_shut_port_or_between_equal_pressures() -> None:
    assert admitted(9e5, area=0.0) == 0.0
    assert admitted(CHEST.pressure) == 0.0


def test_a_large_drop_flows_as_a_nozzle_does() -> None:
    # Saint-Venant by another function; Zeuner's ellipse is within 1 % of it
    expected = AREA_TIME * nozzle_flow(12e5, 12e5 / 2.2e5, 8e5, 1.3)
    assert admitted(8e5) == pytest.approx(expected, rel=0.02)


def test_a_small_volume_fills_to_the_pressure_outside_and_not_beyond() -> None:
    volume = 2e-6
    mass = admitted(8e5, volume=volume, area=100.0 * AREA_TIME)
    rise = (1.3 * 2.0e5 + 0.3 * (2.95e6 - 2.9e6)) / volume * mass  # energy of an open volume, ideal gas
    assert rise == pytest.approx(4e5, rel=0.05)
    assert mass < admitted(8e5, area=100.0 * AREA_TIME)


def test_a_port_that_ends_with_equal_pressures_takes_part_of_the_first_flow() -> None:
    # the piston alone brings the pressure to that of the chest by the end of the step
    first = admitted(11e5)
    assert 0.0 < admitted(11e5, no_flow=12e5) < first
    assert admitted(11e5, no_flow=13e5) < admitted(11e5, no_flow=12e5)
