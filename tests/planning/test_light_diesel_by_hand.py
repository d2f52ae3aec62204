"""A diesel alone on a made-up line: its speeds step by step, and where it does not get on."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from locosim.planning import light_diesel

MASS = 100e3  # with what turns [kg]


def energies(
    *, effort: float = 50e3, slope: float = 0.0, grip: float = 1.0,
    resistance: tuple[float, float, float] = (0.0, 0.0, 0.0), top: float = 200.0, step: float = 10.0,
    power: float = math.inf,
) -> Any:  # fmt: skip
    """Half the square of the speed over four steps, from rest."""
    prepared: Any = SimpleNamespace(
        chainage=step * np.arange(5.0),
        max_energy=np.full(5, top),
        line=SimpleNamespace(adhesion=np.full(4, 0.25)),
    )
    diesel: Any = SimpleNamespace(
        adhesive_weight=200e3 * grip, resistance=resistance, mass=0.9 * MASS, rotating=0.1 * MASS,
        effort_at=lambda speed: min(effort, power / speed if speed else math.inf),
    )  # fmt: skip
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(light_diesel, "_slope_force", lambda prepared: np.full(4, slope))
        return light_diesel._energies(prepared, diesel)


def test_a_constant_pull_gains_the_same_energy_in_each_step() -> None:
    # 50 kN over 10 m on 100 t: 5 J/kg
    assert energies() == pytest.approx([0.0, 5.0, 10.0, 15.0, 20.0])
    assert energies(slope=10e3) == pytest.approx([0.0, 4.0, 8.0, 12.0, 16.0])
    assert energies(grip=0.2) == pytest.approx([0.0, 1.0, 2.0, 3.0, 4.0])  # 10 kN on the rail
    assert energies(resistance=(20e3, 0.0, 0.0)) == pytest.approx([0.0, 3.0, 6.0, 9.0, 12.0])
    assert energies(top=12.0) == pytest.approx([0.0, 5.0, 10.0, 12.0, 12.0])
    assert energies(effort=4e3) == pytest.approx([0.0, 0.4, 0.8, 1.2, 1.6])  # slower than 1 m/s at first


def test_what_depends_on_the_speed_is_taken_at_the_middle_of_a_step() -> None:
    b, c = 500.0, 300.0
    found = energies(resistance=(1e3, b, c), effort=8e3)
    before = 0.0
    for after in found[1:]:
        half = before + 0.5 * 10.0 * (7e3 - b * math.sqrt(2.0 * before) - c * 2.0 * before) / MASS
        assert after == pytest.approx(
            before + 10.0 * (7e3 - b * math.sqrt(2.0 * half) - c * 2.0 * half) / MASS
        )
        before = after
    limited = energies(power=60e3)  # 60 kW: 50 kN up to 1.2 m/s
    assert limited[1] < 5.0
    assert limited[1] == pytest.approx(60e3 / math.sqrt(2.0 * 2.5) * 10.0 / MASS)


@pytest.mark.parametrize(("slope", "stalls"), [(49e3, False), (50e3, True), (60e3, True)])
def test_a_diesel_that_gains_nothing_stalls(slope: float, stalls: bool) -> None:
    assert (energies(slope=slope) is None) == stalls
