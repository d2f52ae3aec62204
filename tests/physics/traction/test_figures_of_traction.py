"""Rules of traction worked by hand, with the figures of their sources."""

from __future__ import annotations

import math

import pytest

from locosim.physics.traction import compound, mean_pressure
from locosim.physics.traction.adhesion import curtius_kniffler
from locosim.physics.traction.crank_effort import CRANK_ANGLES, standing_effort_ratio
from locosim.physics.traction.machine_friction import cole_1914, machine_friction
from locosim.physics.traction.rail_conditions import (
    ADHESION_BY_RAIL_CONDITION,
    rail_adhesion_coefficient,
    sanded_rail_condition,
)
from locosim.physics.traction.tractive_effort import effort_per_pressure, rated_tractive_effort

# Parts of the weight on drivers: [Molesworth1882] in lb for a long ton, the others as their sources print them.
RAIL = {
    "dry sanded": 0.30, "very dry": 600 / 2240, "dry": 0.25, "wet washed": 550 / 2240, "ordinary": 450 / 2240,
    "moist": 0.20, "wet sanded": 0.20, "long grade": 0.16, "wet": 0.15, "greasy": 300 / 2240, "frost": 200 / 2240,
    "half wet": 1 / 12,
}  # fmt: skip


def test_rail_conditions_are_those_of_their_sources() -> None:
    found = {name: rail_adhesion_coefficient(condition=name) for name in ADHESION_BY_RAIL_CONDITION}
    assert found == pytest.approx(RAIL)
    assert list(found.values()) == sorted(found.values(), reverse=True)
    for each in ADHESION_BY_RAIL_CONDITION.values():
        assert each.reference[0].isalpha() or each.reference[0] == "["


def test_sand_helps_where_it_grips_better_than_the_rail() -> None:
    found = {name: sanded_rail_condition(condition=name) for name in RAIL}
    dry = {"dry sanded", "very dry", "dry"}
    kept = {"wet washed", "ordinary", "moist"}  # as good as a wet rail with sand, or better
    assert {name for name, sanded in found.items() if sanded == "dry sanded"} == dry
    assert {name for name, sanded in found.items() if sanded == name} == kept | {"dry sanded", "wet sanded"}
    assert {sanded for name, sanded in found.items() if name not in dry | kept} == {"wet sanded"}


def test_adhesion_of_1944_at_two_speeds() -> None:
    # [CurtiusKniffler1944], from memory: 7.5/(V + 44) + 0.161, V in km/h
    assert curtius_kniffler(0.0) == pytest.approx(7.5 / 44.0 + 0.161)
    assert curtius_kniffler(100.0 / 3.6) == pytest.approx(7.5 / 144.0 + 0.161)


def test_machine_friction_of_both_rules() -> None:
    assert machine_friction(at_no_effort=2000.0, thrust_share=0.08, effort=50e3) == pytest.approx(6000.0)
    # [Cole1914], from memory: 22.2 lb for a short ton of 907.18474 kg
    assert cole_1914(mass_on_drivers=60e3) == pytest.approx(22.2 * 4.4482216 * 60e3 / 907.18474, rel=1e-6)


def test_compounds_by_their_builders() -> None:
    given = {"gauge_pressure": 14e5, "stroke": 0.7, "driver_diameter": 1.4}
    # [BaldwinRules] and [Johnson1942], from memory
    four = compound.baldwin_four_cylinder_compound(**given, high_pressure_bore=0.4, low_pressure_bore=0.7)
    assert four == pytest.approx((2.0 / 3.0 * 0.16 + 0.25 * 0.49) * 7e5)
    cross = compound.baldwin_cross_compound(**given, high_pressure_bore=0.5)
    assert cross == pytest.approx(2.0 / 3.0 * 0.25 * 7e5)
    mallet = compound.johnson_mallet(**given, low_pressure_bore=0.9, volume_ratio=2.4)
    assert mallet == pytest.approx(1.7 * 0.81 * 7e5 / 3.4)


def test_two_cylinders_unless_told_otherwise() -> None:
    sizes = {"bore": 0.5, "stroke": 0.65, "driver_diameter": 1.5}
    assert effort_per_pressure(**sizes) == pytest.approx(0.25 * 0.65 / 1.5)
    assert effort_per_pressure(**sizes, cylinders=3) == pytest.approx(1.5 * 0.25 * 0.65 / 1.5)
    rated = rated_tractive_effort(gauge_pressure=12e5, **sizes)
    assert rated == pytest.approx(0.85 * 12e5 * 0.25 * 0.65 / 1.5)  # [Baldwin13]


def test_mean_pressures_by_hand() -> None:
    # without clearance c (1 + ln 1/c)
    assert mean_pressure.mean_pressure_ratio(cutoff=0.25) == pytest.approx(0.25 * (1.0 + math.log(4.0)))
    ratio = 0.25 + 0.33 * math.log(1.08 / 0.33)
    assert mean_pressure.mean_pressure_ratio(cutoff=0.25, clearance=0.08) == pytest.approx(ratio)
    # Clark's rule, from memory: 13.5 times the root of 36 less 28 is 53 per cent
    assert mean_pressure.mean_effective_pressure_clark(initial_pressure=8e5, cutoff=0.36) == pytest.approx(
        0.53 * 8e5
    )
    # [Cole1914], from memory: 27.0 and 20.8 lb for an indicated horsepower and hour
    per = 0.45359237 / (745.69987 * 3600.0)
    assert pytest.approx(27.0 * per, rel=1e-6) == mean_pressure.STEAM_PER_WORK_SATURATED
    assert pytest.approx(20.8 * per, rel=1e-6) == mean_pressure.STEAM_PER_WORK_SUPERHEATED


def test_superheated_factor_joins_its_table_at_1000_feet_a_minute() -> None:
    foot = 0.3048 / 60.0
    at = [mean_pressure.speed_factor_superheated(piston_speed=v * foot) for v in (999.99, 1000.0, 1000.5)]
    assert at[0] == pytest.approx(at[1], rel=1e-4)
    saturated = [mean_pressure.speed_factor_saturated(piston_speed=v * foot) for v in (625.0, 1000.0, 1300.0)]
    # the gain rises from 1 at 250 to 1.080 at 1,000, so that it is 1.040 halfway
    assert at[1] == pytest.approx(1.080 * saturated[1], rel=1e-3)
    half = mean_pressure.speed_factor_superheated(piston_speed=625.0 * foot)
    assert half == pytest.approx(1.040 * saturated[0], rel=1e-3)


def test_cranks_of_one_to_four_cylinders() -> None:
    assert sorted(CRANK_ANGLES) == [1, 2, 3, 4]
    for number, angles in CRANK_ANGLES.items():
        assert len(angles) == number
        assert angles[0] == 0.0
    assert CRANK_ANGLES[2][1] == 0.25  # at right angles
    assert CRANK_ANGLES[3] == pytest.approx((0.0, 1 / 3, 2 / 3))
    assert CRANK_ANGLES[4] == (0.0, 0.25, 0.5, 0.75)
    # one cylinder stands on dead center; two at right angles give 1 of 4/pi at the worst, three 1.732 of 6/pi
    turn = 2.0 * math.pi
    found = {
        n: standing_effort_ratio([turn * a for a in angles], cutoff=1.0) for n, angles in CRANK_ANGLES.items()
    }
    expected = {1: 0.0, 2: math.pi / 4.0, 3: math.sqrt(3.0) * math.pi / 6.0, 4: math.pi / 4.0}
    assert found == pytest.approx(expected, rel=1e-3, abs=1e-3)
    # at 85 % the crank is 134.4 degrees past dead center: its sine or that of 44.4 degrees is all there is
    cut = math.acos(1.0 - 2.0 * 0.85)
    least = min(math.sin(cut - math.pi / 2.0), math.sin(math.pi / 2.0))
    assert standing_effort_ratio([0.0, math.pi / 2.0], cutoff=0.85) == pytest.approx(
        least * math.pi / 4.0, rel=2e-3
    )
