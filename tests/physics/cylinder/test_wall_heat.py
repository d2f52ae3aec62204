"""Heat between steam and cylinder walls in a step, by hand and by integrating the law of the drying wall."""

from __future__ import annotations

import math

import numpy as np
import pytest
import seuif97
from plain_python import in_plain_python
from scipy.integrate import solve_ivp

from locosim.physics.cylinder import wall_heat
from locosim.physics.cylinder.wall_heat import WallTransfer

TRANSFER = WallTransfer(wet=10.0, dry=1.0, quench_energy=80e3)
MASS = 0.01
# A step cannot carry 10 g of dry steam past the wall: 1 J/K against 1500 J/(kg K) x 10 g = 15 J/K.
DRY = 1.0 / (1.0 + 1.0 / 15.0)
ATMOSPHERE = 101325.0


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, wall_heat)


def mean_share(initial: float, formed: float, drying: float) -> float:
    """Mean of the wet share, moisture up to 1, by integration over the step."""

    def rate(_: float, y: np.ndarray) -> list[float]:
        share = min(max(y[0], 0.0), 1.0)
        return [formed - drying * share, share]

    found = solve_ivp(rate, (0.0, 1.0), [initial, 0.0], rtol=1e-9, atol=1e-11, max_step=2e-2)
    return float(found.y[1, -1])


@pytest.mark.parametrize(
    ("initial", "formed", "drying"),
    [
        (0.3, 0.1, 0.5), (0.0, 0.4, 2.0), (1.0, 0.0, 3.0), (0.5, 0.2, 0.00009), (0.5, 0.2, 0.0011),
        (-0.2, 0.5, 1.0), (-0.4, 0.9, 0.00001), (1.4, 0.1, 1.5), (1.0, 0.5, 0.7), (1.2, 0.0, 0.4), (0.2, 0.0, 6.0),
    ],
)  # fmt: skip
def test_the_mean_wet_share_of_a_drying_wall(initial: float, formed: float, drying: float) -> None:
    # A step that dries less than 1e-4 leaves out the third term of a series: at most 1e-4 / 6 of what forms.
    assert wall_heat.mean_wetness(initial, formed, drying) == pytest.approx(
        mean_share(initial, formed, drying), abs=1e-4 / 6.0
    )


def test_a_wall_is_dry_or_wet_all_through_a_step() -> None:
    assert wall_heat.mean_wetness(-0.5, 0.4, 1.0) == 0.0
    assert wall_heat.mean_wetness(-0.5, 0.5, 1.0) == 0.0
    assert wall_heat.mean_wetness(1.5, 0.3, 0.7) == 1.0
    assert wall_heat.mean_wetness(1.5, 0.2, 0.7) == 1.0
    assert wall_heat.mean_wetness(0.1, -5.0, 0.0) == 0.0
    assert wall_heat.mean_wetness(0.9, 5.0, 0.0) == 1.0


@pytest.mark.parametrize("bar", [0.5, 1.0, 3.0, 10.0, 25.0])
def test_boiling_point_is_that_of_the_formulation(bar: float) -> None:
    assert wall_heat.boiling_point(bar * 1e5) == pytest.approx(
        seuif97.px2t(bar / 10.0, 0.5) + 273.15, abs=0.05
    )


def heat(temperature: float, energy: float, wall: float) -> tuple[float, float, float]:
    return tuple(wall_heat.wall_heat(temperature, ATMOSPHERE, energy, MASS, wall, TRANSFER))


def test_a_colder_wall_condenses_wet_steam_all_over() -> None:
    assert heat(400.0, -10e3, 390.0) == (100.0, 10.0, 100.0)
    assert heat(400.0, -10e3, 400.0) == (0.0, 10.0, 0.0)


def test_a_warmer_wall_gives_heat_where_it_is_wet() -> None:
    # moisture of half the full, of which 10 J/K x 10 K would dry another half
    share = (1.0 - math.exp(-0.5)) / 0.5 * 0.5
    conductance = 1.0 + 9.0 * share
    assert heat(400.0, -10e3, 410.0) == pytest.approx((-10.0 * conductance, conductance, 0.0))
    # 1 % of the latent heat, 20 kJ/kg, wets a wall all over
    assert heat(400.0, -20e3, 400.001)[1] == pytest.approx(10.0, rel=1e-3)
    assert heat(400.0, -19e3, 400.001)[1] == pytest.approx(9.55, rel=1e-3)


def test_superheated_steam_condenses_on_a_wall_below_the_boiling_point_only() -> None:
    assert heat(450.0, 40e3, 440.0) == pytest.approx((10.0 * DRY, DRY, 0.0))
    assert heat(450.0, 40e3, 460.0) == pytest.approx((-10.0 * DRY, DRY, 0.0))
    assert heat(450.0, 40e3, 450.0) == pytest.approx((0.0, DRY, 0.0))
    boiling = 373.15  # at 1 atm, within 0.05 K
    half = heat(450.0, 40e3, 353.15)
    assert half == pytest.approx(
        (97.0 * DRY - 0.15 * DRY + 5.0 * (boiling - 353.15), DRY + 5.0, 100.0), abs=0.5
    )
    assert half[0] == pytest.approx(half[2] + DRY * (450.0 - 353.15))
    assert half[1] == pytest.approx(DRY + 5.0)
    none = heat(450.0, 80e3, 353.15)
    assert none == pytest.approx((DRY * 96.85, DRY, 0.0))
    assert heat(450.0, 90e3, 353.15) == pytest.approx(none)
    # dry saturated steam has lost all its superheat
    assert heat(373.2, 0.0, 353.15)[1] == pytest.approx(DRY + 10.0)


def test_a_warm_wall_gives_the_mean_of_a_step() -> None:
    temperatures, energies, wall = (400.0, 402.0), (-10e3, -8e3), 410.0
    found = wall_heat.warm_wall_heat(temperatures, energies, MASS, wall, TRANSFER)
    # Moisture falls from 0.5 to 0.4 while a trial at 10 K dries part of the wall: the rest of the change was formed.
    trial = 10.0 * 10.0 / (20e3 * MASS)
    formed = 0.4 - 0.5 + trial * mean_share(0.5, 0.0, trial)
    share = mean_share(0.5, formed, 10.0 * 9.0 / (20e3 * MASS))
    conductance = DRY + (10.0 - DRY) * share
    assert tuple(found) == pytest.approx((-9.0 * conductance, conductance, 0.0), rel=1e-5)
