"""Ruling grade by train length and momentum grades, against arithmetic, a fine grid and published examples."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from locosim.constants import FOOT, MPH
from locosim.errors import OutOfRange
from locosim.model import Curve, ProfilePoint, Route, SpeedLimit, Station
from locosim.physics.operation.superelevation import curve_speed, degree_of_curve, radius_of_curve
from locosim.scenario import load_route
from locosim.survey.examination import examine_route, line_pieces, missing_data
from locosim.survey.momentum_grades import momentum_grades
from locosim.survey.ruling import resisting_heights, ruling_grades

MAIN = load_route("scenarios/routes/main_line.toml")


def line(*grades: tuple[float, float], speed: float = 20.0, **fields: object) -> Route:
    """A line of pieces, each with its length [m] and grade."""
    at, points = 0.0, []
    for length, grade in grades:
        points.append(ProfilePoint(chainage=at, grade=grade))
        at += length
    points.append(ProfilePoint(chainage=at))
    stations = (Station(name="First", chainage=0.0), Station(name="Last", chainage=at))
    return Route(name="Line", profile=tuple(points), stations=stations, speed_limit=speed, **fields)  # type: ignore[arg-type]


def test_the_ruling_grade_of_one_hill_is_its_share_of_the_train() -> None:
    hill = line((3000, 0.0), (1000, 0.02), (3000, 0.0))
    found = ruling_grades(hill, [500.0, 1000.0, 2000.0, 9000.0])
    assert [each.forward for each in found] == pytest.approx([0.02, 0.02, 0.01])
    assert [each.backward for each in found] == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)
    assert found[2].forward_place == pytest.approx(4000.0)


def test_a_curve_adds_four_hundredths_of_a_percent_for_each_degree() -> None:
    # 0.8 lb per ton and degree against 20 lb per ton and percent [Army603] paragraph 2.8.
    radius = float(radius_of_curve(degree_of_curve=np.radians(4.0)))
    curved = line((2000, 0.01), curves=(Curve(start=500.0, end=1500.0, radius=radius),))
    found = ruling_grades(curved, [300.0])[0]
    assert found.forward == pytest.approx(0.01 + 4 * 0.0004, rel=1e-3)
    assert found.forward_grade == pytest.approx(0.01)
    assert found.backward == pytest.approx(
        -0.01 + 4 * 0.0004 if 4 * 0.0004 > 0.01 else -0.01 + 0.0016, rel=1e-2
    )


@pytest.mark.parametrize("length", [137.0, 410.0, 1500.0])
def test_the_ruling_grade_is_the_greatest_on_a_fine_grid(length: float) -> None:
    felt = resisting_heights(MAIN)
    heads = np.arange(MAIN.start + length, MAIN.end, 1.0)
    finest = np.max((felt.at(heads) - felt.at(heads - length)) / length)
    found = ruling_grades(MAIN, [length])[0].forward
    assert finest <= found + 1e-9
    assert found - finest < 2e-5


def test_a_longer_train_never_has_a_steeper_ruling_grade_than_a_part_of_it() -> None:
    found = ruling_grades(MAIN, [200.0, 400.0, 800.0, 1600.0])  # each is two of the one before
    assert all(a.forward >= b.forward - 1e-12 for a, b in pairwise(found))


@pytest.mark.parametrize(
    ("entry", "rise", "slowest", "within"), [(39.2, 40.0, 20.0, 0.3), (45.4, 40.0, 30.0, 0.5)]
)
def test_the_sag_of_webb_run_the_other_way(entry: float, rise: float, slowest: float, within: float) -> None:
    # [Webb1906] § 193: from 20 mph over 39 after falling 40 ft, from 30 mph over 45; the tolerance is his "over".
    steep = line((3000, 0.01), (rise * FOOT / 0.01, 0.02), (6000, 0.0), speed=entry * MPH)
    found = momentum_grades(steep, length=1.0, min_speed=1.0, ruling=0.01)
    assert len(found.stretches) == 1
    stretch = found.stretches[0]
    assert stretch.lowest_speed / MPH == pytest.approx(slowest, abs=within)
    assert stretch.rise == pytest.approx(rise * FOOT, rel=2e-3)
    assert stretch.start == pytest.approx(3000.0, abs=2.0)


def test_the_required_entry_speed_is_just_enough() -> None:
    steep = line((3000, 0.005), (800, 0.02), (5000, 0.0), speed=25.0)
    first = momentum_grades(steep, length=100.0, min_speed=5.0, ruling=0.01).stretches[0]
    again = momentum_grades(
        steep, length=100.0, min_speed=5.0, ruling=0.01, entry_speed=first.required_speed
    ).stretches[0]
    assert again.lowest_speed == pytest.approx(5.0, rel=1e-6)


def test_the_lowest_ruling_grade_suffices_and_a_lower_one_does_not() -> None:
    found = momentum_grades(MAIN, length=200.0, min_speed=5.0)
    assert 0.0 < found.ruling < found.without
    assert min(each.lowest_speed for each in found.stretches) == pytest.approx(5.0, abs=0.05)
    lower = momentum_grades(MAIN, length=200.0, min_speed=5.0, ruling=found.ruling - 1e-4)
    assert min(each.lowest_speed for each in lower.stretches) < 4.9


def test_more_speed_never_asks_for_a_higher_ruling_grade_and_a_longer_train_for_no_higher_one_without() -> (
    None
):
    rulings = [
        momentum_grades(MAIN, length=200.0, min_speed=4.0, entry_speed=speed).ruling
        for speed in (6, 9, 12, 16)
    ]
    assert all(a >= b - 2e-6 for a, b in pairwise(rulings))


def test_a_slow_order_in_a_stretch_takes_the_momentum() -> None:
    steep = line((2000, 0.0), (1000, 0.02), (2000, 0.0), speed=20.0)
    slow = replace(steep, speed_limits=(SpeedLimit(start=2300.0, end=2400.0, speed=6.0),))
    free = momentum_grades(steep, length=50.0, min_speed=4.0).ruling
    held = momentum_grades(slow, length=50.0, min_speed=4.0).ruling
    assert held > free


def test_a_stall_is_told_from_a_climb() -> None:
    steep = line((2000, 0.0), (3000, 0.02), (500, 0.0), speed=15.0)
    found = momentum_grades(steep, length=50.0, min_speed=4.0, ruling=0.01)
    assert found.stretches[0].lowest_speed == 0.0


def test_total_rise_and_fall_differ_by_the_net_rise() -> None:
    found = examine_route(MAIN, lengths=[200.0])
    net = sum((end - start) * grade for start, end, grade in MAIN.grade_segments())
    assert found.rise - found.fall == pytest.approx(net)
    assert found.steepest_rise.grade == pytest.approx(max(g for _, _, g in MAIN.grade_segments()))
    assert sum(s.grade * (s.end - s.start) for s in found.stretches) == pytest.approx(net)
    assert len(found.stretches) <= 28


def test_the_speed_on_a_curve_is_that_of_the_rule_the_check_uses() -> None:
    curve = Curve(start=100.0, end=400.0, radius=400.0, superelevation=0.08)
    bare = Curve(start=500.0, end=700.0, radius=300.0)
    limits = (SpeedLimit(start=0.0, end=450.0, speed=12.0), SpeedLimit(start=300.0, end=600.0, speed=10.0))
    found = examine_route(line((2000, 0.0), curves=(curve, bare), speed_limits=limits), lengths=[100.0])
    degree = degree_of_curve(radius=400.0)
    first, second = found.curves
    assert first.allowed_speed == pytest.approx(
        curve_speed(degree_of_curve=degree, superelevation=0.08, unbalanced_superelevation=0.0762)
    )
    assert first.limit == 12.0
    assert second.limit == 20.0
    assert second.allowed_speed is None
    needed = second.required_superelevation
    assert curve_speed(
        degree_of_curve=degree_of_curve(radius=300.0), superelevation=needed, unbalanced_superelevation=0.0762
    ) == pytest.approx(20.0)
    assert found.curved_length == pytest.approx(500.0)


def test_pieces_join_without_gaps_and_give_the_line_again() -> None:
    pieces = line_pieces(MAIN)
    assert pieces[0].start == MAIN.start
    assert pieces[-1].end == MAIN.end
    assert all(a.end == b.start for a, b in pairwise(pieces))
    for piece in pieces[::17]:
        middle = (piece.start + piece.end) / 2
        grade = next(g for a, b, g in MAIN.grade_segments() if a <= middle <= b)
        assert piece.grade == pytest.approx(grade, abs=1e-9)


def test_what_is_missing_is_said_and_what_is_there_is_not() -> None:
    bare = " ".join(missing_data(line((2000, 0.0))))
    for word in ("curves", "water", "fuel", "speed limits", "axle load", "tunnels", "references"):
        assert word in bare
    assert "water" not in " ".join(missing_data(MAIN))


@pytest.mark.parametrize(
    ("arguments", "key"),
    [
        ({"lengths": [0.0]}, "lengths"),
        ({"lengths": [1e6]}, "lengths"),
        ({"lengths": []}, "lengths"),
        ({"lengths": [100.0], "min_speed": 0.0}, "min_speed"),
        ({"lengths": [100.0], "min_speed": 1e308}, "min_speed"),
        ({"lengths": [100.0], "entry_speed": 1.0}, "entry_speed"),
        ({"lengths": [100.0], "ruling": -0.1}, "ruling"),
    ],
)
def test_arguments_out_of_range_are_named(arguments: dict[str, object], key: str) -> None:
    with pytest.raises(OutOfRange) as error:
        examine_route(MAIN, **arguments)  # type: ignore[arg-type]
    assert error.value.faults[0].key == key
