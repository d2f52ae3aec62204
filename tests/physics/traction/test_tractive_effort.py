"""Pull at the rim, piston speed, crank effort; two-expansion rules against one another."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from locosim.physics.traction import compound as compound
from locosim.physics.traction import tractive_effort as te

ENGINE = {"bore": 0.5, "stroke": 0.66, "driver_diameter": 1.4}


@given(
    pressure=st.floats(1e4, 2e6),
    speed=st.floats(0.1, 40),
    bore=st.floats(0.1, 1),
    stroke=st.floats(0.2, 1),
    wheel=st.floats(0.6, 2.5),
    cylinders=st.integers(1, 4),
)
def test_power_at_the_rim_is_power_in_the_cylinders(
    pressure: float, speed: float, bore: float, stroke: float, wheel: float, cylinders: int
) -> None:
    effort = te.indicated_effort_at_rim(
        mean_effective_pressure=pressure, bore=bore, stroke=stroke, driver_diameter=wheel, cylinders=cylinders
    )
    in_cylinders = cylinders * te.piston_power(
        mean_effective_pressure=pressure,
        piston_area=te.piston_area(bore=bore),
        piston_speed=te.piston_speed(speed=speed, stroke=stroke, driver_diameter=wheel),
    )
    assert te.power(effort=effort, speed=speed) == pytest.approx(in_cylinders, rel=1e-12)
    at_once = te.indicated_power(
        mean_effective_pressure=pressure,
        speed=speed,
        bore=bore,
        stroke=stroke,
        driver_diameter=wheel,
        cylinders=cylinders,
    )
    assert at_once == pytest.approx(in_cylinders, rel=1e-12)


def test_mean_pressure_and_pull_are_inverse() -> None:
    effort = te.indicated_effort_at_rim(mean_effective_pressure=7e5, cylinders=3, **ENGINE)
    assert te.mean_effective_pressure(indicated_effort_at_rim=effort, cylinders=3, **ENGINE) == pytest.approx(
        7e5
    )


def test_piston_speed_and_train_speed_are_inverse() -> None:
    speeds = np.linspace(1, 30, 5)
    pistons = te.piston_speed(speed=speeds, stroke=0.66, driver_diameter=1.4)
    assert te.speed_from_piston_speed(
        piston_speed=pistons, stroke=0.66, driver_diameter=1.4
    ) == pytest.approx(speeds)


def test_piston_force_and_pull_are_inverse() -> None:
    force = te.piston_force_from_effort(effort=9e4, stroke=0.66, driver_diameter=1.4)
    assert te.effort_from_piston_force(piston_force=force, stroke=0.66, driver_diameter=1.4) == pytest.approx(
        9e4
    )


def test_cylinders_pull_in_proportion_and_an_articulated_engine_counts_both_pairs() -> None:
    two, three, four = (
        te.rated_tractive_effort(gauge_pressure=1.4e6, cylinders=count, **ENGINE) for count in (2, 3, 4)
    )
    assert three == pytest.approx(1.5 * two)
    assert four == pytest.approx(2 * two)


def test_mean_of_crank_effort_is_one() -> None:
    for cranks in ([0.0], [0.0, math.pi / 2], [0.0, 2 * math.pi / 3, 4 * math.pi / 3]):
        mean = (
            quad(lambda angle, cranks=cranks: te.crank_effort(crank_angle=angle, cranks=cranks), 0, math.pi)[
                0
            ]
            / math.pi
        )
        assert mean == pytest.approx(1.0, abs=1e-8)


@given(st.lists(st.floats(0, 2 * math.pi), min_size=1, max_size=5))
def test_crank_effort_extremes_are_those_of_a_fine_sweep(cranks: list[float]) -> None:
    sweep = te.crank_effort(crank_angle=np.linspace(0, math.pi, 20_001), cranks=cranks)
    found = te.crank_effort_extremes(cranks=cranks)
    assert found.maximum == pytest.approx(sweep.max(), abs=2e-4)
    assert found.minimum == pytest.approx(sweep.min(), abs=3e-4)
    assert found.maximum >= sweep.max() - 1e-12
    assert found.minimum <= sweep.min() + 1e-12


def test_factor_of_adhesion_of_a_well_proportioned_engine_is_about_four() -> None:
    """174,000 lb on the drivers and a pull of 43,500 lbf."""
    factor = te.factor_of_adhesion(
        mass_on_drivers=174_000 * 0.45359237, tractive_effort=43_500 * 4.4482216152605
    )
    assert factor == pytest.approx(4.0, rel=1e-9)


def test_two_expansion_rules_agree_on_a_usual_engine() -> None:
    """Volume ratio 2.5, stroke and wheels alike: the builders' rules lie within 15 % of one another."""
    high, ratio = 0.4, 2.5
    low = high * math.sqrt(ratio)
    common = {"gauge_pressure": 1.4e6, "stroke": 0.66, "driver_diameter": 1.4}
    baldwin = compound.baldwin_four_cylinder_compound(
        high_pressure_bore=high, low_pressure_bore=low, **common
    )
    johnson = compound.johnson_mallet(low_pressure_bore=low, volume_ratio=ratio, **common)
    receiver = compound.phillipson_receiver_pressure(gauge_pressure=1.4e6, area_ratio=1 / ratio)
    phillipson = compound.phillipson_four_cylinder_compound(
        receiver_pressure=receiver,
        low_pressure_bore=low,
        stroke=0.66,
        driver_diameter=1.4,
        area_ratio=1 / ratio,
    )
    assert baldwin == pytest.approx(johnson, rel=0.15)
    # Phillipson's expression has the low pressure share of both pairs twice over; it is kept as printed.
    assert phillipson > johnson


def test_four_cylinders_pull_as_two_engines_of_two() -> None:
    common = {"gauge_pressure": 1.4e6, "stroke": 0.66, "driver_diameter": 1.4}
    mallet = compound.johnson_mallet(low_pressure_bore=0.7, volume_ratio=2.4, **common)
    one = compound.johnson_two_cylinder_compound(low_pressure_bore=0.7, volume_ratio=2.4, **common)
    assert mallet == pytest.approx(2 * one)


def test_cross_compound_is_its_high_pressure_cylinder() -> None:
    common = {"gauge_pressure": 1.4e6, "stroke": 0.66, "driver_diameter": 1.4}
    cross = compound.baldwin_cross_compound(high_pressure_bore=0.5, **common)
    vauclain = compound.baldwin_four_cylinder_compound(
        high_pressure_bore=0.5, low_pressure_bore=0.0, **common
    )
    assert cross == pytest.approx(vauclain)
    # About what a simple engine pulls with one such cylinder at 4/3 of the pressure: 2/3 P d² s / D.
    simple = te.rated_tractive_effort(bore=0.5, cylinders=1, coefficient=4 / 3, **common)
    assert cross == pytest.approx(simple)
