"""Rated tractive effort and piston speed; compound rules against one another."""

from __future__ import annotations

import math

import numpy as np
import pytest

from locosim.physics.traction import compound as compound
from locosim.physics.traction import tractive_effort as te

ENGINE = {"bore": 0.5, "stroke": 0.66, "driver_diameter": 1.4}


def test_piston_speed_and_train_speed_are_inverse() -> None:
    speeds = np.linspace(1, 30, 5)
    pistons = te.piston_speed(speed=speeds, stroke=0.66, driver_diameter=1.4)
    assert te.speed_from_piston_speed(
        piston_speed=pistons, stroke=0.66, driver_diameter=1.4
    ) == pytest.approx(speeds)


def test_rated_effort_is_proportional_to_the_number_of_cylinders() -> None:
    two, three, four = (
        te.rated_tractive_effort(gauge_pressure=1.4e6, cylinders=count, **ENGINE) for count in (2, 3, 4)
    )
    assert three == pytest.approx(1.5 * two)
    assert four == pytest.approx(2 * two)


def test_compound_rules_agree_on_a_typical_engine() -> None:
    """At volume ratio 2.5 and equal stroke and wheels, the rules of two builders agree within 15 %."""
    high, ratio = 0.4, 2.5
    low = high * math.sqrt(ratio)
    common = {"gauge_pressure": 1.4e6, "stroke": 0.66, "driver_diameter": 1.4}
    baldwin = compound.baldwin_four_cylinder_compound(
        high_pressure_bore=high, low_pressure_bore=low, **common
    )
    johnson = compound.johnson_mallet(low_pressure_bore=low, volume_ratio=ratio, **common)
    assert baldwin == pytest.approx(johnson, rel=0.15)


def test_cross_compound_depends_on_its_high_pressure_cylinder() -> None:
    common = {"gauge_pressure": 1.4e6, "stroke": 0.66, "driver_diameter": 1.4}
    cross = compound.baldwin_cross_compound(high_pressure_bore=0.5, **common)
    vauclain = compound.baldwin_four_cylinder_compound(
        high_pressure_bore=0.5, low_pressure_bore=0.0, **common
    )
    assert cross == pytest.approx(vauclain)
    # The effort of a simple engine with one such cylinder at 4/3 of the pressure: 2/3 P d² s / D.
    simple = te.rated_tractive_effort(bore=0.5, cylinders=1, coefficient=4 / 3, **common)
    assert cross == pytest.approx(simple)
