"""Velocity head, rotating mass and momentum runs."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locosim.physics.operation import momentum


@given(speed=st.floats(0, 50), share=st.floats(0, 0.2))
def test_head_and_speed_are_inverse(speed: float, share: float) -> None:
    head = momentum.velocity_head(speed=speed, rotating_mass_fraction=share)
    assert momentum.speed_from_velocity_head(head=head, rotating_mass_fraction=share) == pytest.approx(speed)


def test_customary_coefficient_of_velocity_head() -> None:
    """0.0351 V² feet with five per cent for the wheels; 0.03344 without."""
    mph, foot = 0.44704, 0.3048
    with_wheels = (
        momentum.velocity_head(speed=mph, rotating_mass_fraction=momentum.ROTATING_MASS_FRACTION) / foot
    )
    assert with_wheels == pytest.approx(0.0351, abs=0.00005)
    assert momentum.velocity_head(speed=mph) / foot == pytest.approx(0.03344, abs=0.00002)


def test_a_rise_above_the_velocity_head_stops_the_train() -> None:
    assert momentum.speed_after_rise(speed=10.0, rise=6.0) == 0.0
    assert momentum.speed_after_rise(speed=10.0, rise=5.0) == pytest.approx((100 - 2 * 9.80665 * 5) ** 0.5)


def test_a_disk_counts_half_its_mass() -> None:
    found = momentum.rotating_mass(count=2, mass=500.0, radius_of_gyration=0.5 / 2**0.5, wheel_radius=0.5)
    assert found == pytest.approx(500.0)


def test_force_times_distance_is_the_kinetic_energy_gained() -> None:
    force = momentum.accelerating_force(
        speed_before=5.0, speed_after=12.0, distance=300.0, rotating_mass_fraction=0.05
    )
    gained = momentum.kinetic_energy(mass=1.05, speed=12.0) - momentum.kinetic_energy(mass=1.05, speed=5.0)
    assert force * 300.0 == pytest.approx(gained)


def test_momentum_run_uses_up_the_velocity_head() -> None:
    head = momentum.velocity_head(speed=20.0)
    run = momentum.momentum_run(head=head, resistance=0.05)
    force = momentum.accelerating_force(speed_before=20.0, speed_after=0.0, distance=run)
    assert force == pytest.approx(-0.05)


def test_a_mass_that_does_not_turn_falls_at_the_speed_of_its_head() -> None:
    assert momentum.speed_from_velocity_head(head=5.0) == pytest.approx((2 * 9.80665 * 5.0) ** 0.5)
    assert momentum.accelerating_force(speed_before=3.0, speed_after=5.0, distance=4.0) == pytest.approx(2.0)
    assert momentum.speed_after_rise(speed=10.0, rise=-2.0, rotating_mass_fraction=0.05) == pytest.approx(
        (100.0 + 2 * 9.80665 * 2.0 / 1.05) ** 0.5
    )
