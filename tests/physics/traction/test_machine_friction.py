"""Machine friction by its named laws."""

from __future__ import annotations

import pytest

from locosim.physics.traction import machine_friction

ENGINE = {"indicated_effort": 120e3, "mass_on_drivers": 72e3, "driving_axles": 4, "effort_per_pressure": 0.12}


@pytest.mark.parametrize("name", sorted(machine_friction.LAWS))
def test_friction_takes_some_of_the_pull_and_not_much(name: str) -> None:
    """Mechanical efficiency at full pull lies between 0.85 and 0.97, common practice, no source."""
    friction = machine_friction.LAWS[name](**ENGINE)
    assert 0.03 < friction / ENGINE["indicated_effort"] < 0.15


def test_strahl_keeps_to_its_ends() -> None:
    def at(axles: float) -> float:
        return float(machine_friction.strahl_1913(**ENGINE | {"driving_axles": axles}))

    assert at(1) == at(2) < at(3) < at(4) < at(5) == at(6)


def test_bourne_leaves_seven_eighths_and_asks_one_psi_of_an_idle_engine() -> None:
    psi = 6894.757293168361
    friction = machine_friction.bourne_1865(**ENGINE)
    left = ENGINE["indicated_effort"] - friction
    assert left + left / 7 + psi * ENGINE["effort_per_pressure"] == pytest.approx(ENGINE["indicated_effort"])
    idle = machine_friction.bourne_1865(**ENGINE | {"indicated_effort": 0.0})
    assert idle == pytest.approx(psi * ENGINE["effort_per_pressure"])
