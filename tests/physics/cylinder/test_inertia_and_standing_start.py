"""Inertia of the reciprocating parts, and torque at rest, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from cylinders import CRANKS, express

from locosim.constants import ATMOSPHERE
from locosim.physics.cylinder.design_rules import piston_valve_cylinder
from locosim.physics.cylinder.inertia import reciprocating_torque
from locosim.physics.cylinder.poppet_gear import PoppetGear, poppet_motion
from locosim.physics.cylinder.solver import crank_torque
from locosim.physics.cylinder.standing_start import standing_pressures
from locosim.physics.cylinder.valve_gear import harmonic_motion
from locosim.physics.traction.crank_effort import CRANK_ANGLES, standing_effort_ratio

LONG_ROD = express._replace(rod_ratio=1e6)


def test_one_cylinder_without_obliquity_has_the_double_frequency_of_the_textbook():
    mass, speed, steps = 500.0, 4.0, 720
    found = reciprocating_torque(LONG_ROD, mass=mass, cranks=(0.0,), driver_speed=speed, steps=steps)
    angle = 2 * math.pi * (np.arange(steps) + 0.5) / steps
    expected = -0.5 * mass * (0.5 * LONG_ROD.stroke * 2 * math.pi * speed) ** 2 * np.sin(2 * angle)
    assert found == pytest.approx(expected, abs=1e-4 * np.abs(expected).max())


def test_two_cranks_at_right_angles_cancel_without_obliquity():
    one = reciprocating_torque(LONG_ROD, mass=500.0, cranks=(0.0,), driver_speed=4.0, steps=360)
    two = reciprocating_torque(LONG_ROD, mass=500.0, cranks=CRANKS[0], driver_speed=4.0, steps=360)
    assert np.abs(two).max() < 1e-5 * np.abs(one).max()


def test_inertia_gives_back_what_it_takes_and_grows_with_the_square_of_speed():
    torques = [
        reciprocating_torque(express, mass=500.0, cranks=CRANKS[0], driver_speed=speed, steps=360)
        for speed in (2.0, 4.0)
    ]
    assert abs(torques[1].mean()) < 1e-9 * np.abs(torques[1]).max()
    assert torques[1] == pytest.approx(4.0 * torques[0], rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(("number", "expected"), [(2, math.pi / 4), (3, math.pi / 2 / math.sqrt(3))])
def test_least_torque_with_full_pressure_all_through(number, expected):
    # Two cranks: printed as 0.7854 of the mean in the derived table. Three: the least sum of three sines 60 degrees
    # apart is sqrt 3, over a mean of 6/pi: 0.9069.
    cranks = [2 * math.pi * turn for turn in CRANK_ANGLES[number]]
    assert standing_effort_ratio(cranks, cutoff=1.0) == pytest.approx(expected, rel=1e-3)


def test_worst_angle_of_two_cranks_is_just_past_cutoff():
    # One cylinder has cut off at 85 % of the stroke, 134.4 degrees; the other pushes with the sine of 44.4 degrees.
    angle = math.acos(1.0 - 2.0 * 0.85)
    expected = math.sin(angle - math.pi / 2) / (4.0 / math.pi)
    cranks = [0.0, math.pi / 2]
    assert standing_effort_ratio(cranks, cutoff=0.85) == pytest.approx(expected, abs=2e-3)


def test_limited_cutoff_may_leave_an_engine_unable_to_start():
    # The reason for auxiliary starting ports on engines limited to 50 % cutoff (common practice).
    assert standing_effort_ratio([0.0, math.pi / 2], cutoff=0.5) < 0.01
    # Three cylinders: only one pushes, 30 degrees past its dead center.
    three = [0.0, 2 * math.pi / 3, 4 * math.pi / 3]
    assert standing_effort_ratio(three, cutoff=0.5) == pytest.approx(0.5 / (6.0 / math.pi), abs=2e-3)


def test_torque_at_rest_from_the_valve_agrees_with_the_closed_form():
    steps, pressure = 1440, 15e5
    cylinder = LONG_ROD._replace(lead=1e-9, rod_diameter=0.0)
    motion = harmonic_motion(cutoff=0.85, lap=cylinder.lap, lead=cylinder.lead)
    ends = standing_pressures(
        cylinder, motion, chest_pressure=pressure + ATMOSPHERE, outside_pressure=ATMOSPHERE, steps=steps
    )
    torque = crank_torque(cylinder, ends, np.array(CRANKS[0]), ATMOSPHERE)
    full = pressure * math.pi / 4 * cylinder.bore**2 * 0.5 * cylinder.stroke * 4.0 / math.pi
    assert torque.min() / full == pytest.approx(standing_effort_ratio(CRANKS[0], cutoff=0.85), abs=0.01)


def test_poppet_valves_at_rest_admit_steam_to_their_cutoff():
    gear = PoppetGear(
        preadmission=0.005, release=0.9, compression=0.1, steam_area=0.02, exhaust_area=0.02, lift_angle=0.5
    )
    ends = standing_pressures(
        express, poppet_motion(gear, cutoff=0.5), chest_pressure=15e5, outside_pressure=ATMOSPHERE, steps=360
    )
    # half the stroke without obliquity is a quarter of a turn; the half per cent before the stroke begins at -8.1 deg
    steam = np.flatnonzero(ends[0] == 15e5)
    assert set(ends[0]) == {15e5, ATMOSPHERE}
    assert steam.tolist() == [*range(90), *range(352, 361)]


def test_torque_of_a_missing_cylinder_is_none():
    # stages of unequal numbers of cylinders: the shorter row of cranks is filled with NaN
    ends = np.random.default_rng(5).uniform(1e5, 15e5, (2, 361))
    two = crank_torque(express, ends, np.array([0.0, math.pi / 2]), ATMOSPHERE)
    assert crank_torque(express, ends, np.array([0.0, math.nan, math.pi / 2]), ATMOSPHERE) == pytest.approx(
        two
    )


@pytest.mark.parametrize("cranks", [(0.0,), (0.0, 0.5 * math.pi), (0.0, 2.1, 4.0)])
def test_parts_take_up_energy_as_their_motion_says(cranks: tuple[float, ...]) -> None:
    """The piston is where crank and rod put it; its speed by differences of that, with a short rod."""
    cylinder = piston_valve_cylinder(number=1, bore=0.5, stroke=0.66, rod_ratio=3.5)
    found = reciprocating_torque(cylinder, mass=300.0, cranks=cranks, driver_speed=4.0, steps=90)
    angle = np.linspace(0.0, 2.0 * math.pi, 91)

    def place(at: np.ndarray) -> np.ndarray:
        return np.asarray(0.33 * ((1.0 - np.cos(at)) + 3.5 - np.sqrt(3.5**2 - np.sin(at) ** 2)))

    energy = np.zeros(91)
    for crank in cranks:
        speed = 2.0 * math.pi * 4.0 * (place(angle + crank + 1e-6) - place(angle + crank - 1e-6)) / 2e-6
        energy += 0.5 * 300.0 * speed**2
    assert found == pytest.approx(-np.diff(energy) / np.diff(angle), rel=1e-5, abs=1e-3 * np.abs(found).max())
