"""Ends of what may be asked of the tables of an engine: the end itself is answered, just beyond it is refused."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine import tonnage_rating
from locosim.engine.accuracy import Band, sustained_power_band
from locosim.engine.boiler.boiler_table import boiler_table
from locosim.engine.map.performance_map import outside_map_error
from locosim.engine.performance import Performance, compute_performance
from locosim.engine.speed_curve import evenly_spaced_speeds, speed_curve, usual_speed, usual_speeds
from locosim.engine.tonnage_rating import RatingCar, rate_tonnage
from locosim.errors import OutOfRange

MPH = 0.44704
HANDBOOK = compute_performance(trials.locomotive(), method="handbook")
MAP = HANDBOOK.map
PRESSURE = HANDBOOK.locomotive.boiler.absolute_pressure


def permitted(speed: float | None) -> Performance:
    return replace(HANDBOOK, locomotive=replace(HANDBOOK.locomotive, max_speed=speed))


def test_usual_speeds_are_those_an_engine_is_permitted() -> None:
    slow, free = permitted(5.0).locomotive, permitted(None).locomotive
    assert usual_speed(13.0, free) == 13.0
    assert usual_speed(13.0, free, slow) == 5.0
    speeds = (2.0, 4.0, 5.0, 8.0)
    assert usual_speeds(speeds, free) == speeds
    assert usual_speeds(speeds, slow) == (2.0, 4.0, 5.0)
    # fewer than three: thirds of its own
    assert usual_speeds(speeds[1:], permitted(6.0).locomotive) == pytest.approx((2.0, 4.0, 6.0))
    assert usual_speeds(speeds[:2], free) == speeds[:2]


@pytest.mark.parametrize(
    ("top", "step"), [(25.0, 5.0), (24.9, 2.0), (10.0, 2.0), (9.9, 1.0), (5.0, 1.0), (2.5, 0.5), (2.4, 0.48)]
)
def test_even_speeds_have_the_largest_usual_step_that_gives_five(top: float, step: float) -> None:
    found = np.array(evenly_spaced_speeds(permitted(top * MPH * (1.0 + 1e-12)))) / MPH
    assert found[0] == 0.0
    assert np.diff(found) == pytest.approx(step)
    assert top - step < found[-1] <= top * (1.0 + 1e-9)


def test_a_step_of_speed_is_a_thousandth_to_the_whole() -> None:
    found = permitted(10.0)
    assert evenly_spaced_speeds(found, 10.0) == (0.0, 10.0)
    assert len(evenly_spaced_speeds(found, 0.01)) == 1001
    for step in (10.001, 0.00999, 0.0, -1.0):
        with pytest.raises(OutOfRange, match="step"):
            evenly_spaced_speeds(found, step)


def test_powers_of_a_point_are_effort_times_speed() -> None:
    still, moving = speed_curve(HANDBOOK, speeds=(0.0, 12.0))
    assert (still.indicated_power, still.drawbar_power) == (0.0, 0.0)
    assert moving.indicated_power == 12.0 * moving.indicated_effort
    assert moving.drawbar_power == 12.0 * moving.drawbar_pull
    friction = moving.indicated_effort - moving.rim_effort
    assert friction == pytest.approx(MAP.friction + MAP.friction_share * moving.indicated_effort)
    assert MAP.indicated_effort(moving.rim_effort) == pytest.approx(moving.indicated_effort)


def test_a_map_is_read_to_its_ends_and_not_beyond() -> None:
    top, longest, shortest = MAP.max_speed, float(MAP.cutoffs[-1]), float(MAP.cutoffs[0])
    low, high = float(MAP.pressures[0]), float(MAP.pressures[-1])
    assert MAP.effort_at(speed=0.0, cutoff=longest, pressure=high) == MAP.effort[-1, 0, -1]
    assert MAP.steam_at(speed=top, cutoff=shortest, pressure=low) == MAP.steam[0, -1, MAP.wide_open]
    inside = {"speed": 5.0, "cutoff": 0.5, "pressure": PRESSURE}
    for name, least, most in (("speed", 0.0, top), ("cutoff", shortest, longest), ("pressure", low, high)):
        for value in (least - 1e-6 * most, most * (1.0 + 1e-6)):
            with pytest.raises(OutOfRange, match=f"in {name}, found"):
                MAP.back_pressure_at(**{**inside, name: value})
        for value in (least - 5e-10 * most, most * (1.0 + 5e-10)):
            assert np.isfinite(MAP.effort_at(**{**inside, name: value}))
    assert "from 0.2 to 0.8 in cutoff, found 0.9" in str(outside_map_error("cutoff", 0.9, 0.2, 0.8))
    most, limit = MAP.max_effort(speed=8.0, pressure=PRESSURE)
    assert limit == "cylinders"
    assert most == pytest.approx(MAP.effort_at(speed=8.0, cutoff=longest, pressure=PRESSURE))
    assert MAP.setting_for(effort=most, speed=8.0, pressure=PRESSURE).cutoff <= longest * (1.0 + 1e-12)
    with pytest.raises(OutOfRange, match="tractive effort must be at most"):
        MAP.setting_for(effort=most * (1.0 + 1e-9), speed=8.0, pressure=PRESSURE)
    part, limit = MAP.max_effort(speed=8.0, pressure=PRESSURE, steam=1.0)
    assert limit == "steam"
    assert MAP.setting_for(effort=part, speed=8.0, pressure=PRESSURE).steam == pytest.approx(1.0)
    assert MAP.with_power_factor(1.0) is MAP
    assert MAP.with_power_factor(1.25).steam == pytest.approx(MAP.steam / 1.25)
    drifting = MAP.with_drifting_steam(0.05)
    assert drifting.steam[:, :, 0].max() <= 0.05
    assert np.all(drifting.steam[:, :, 0] == np.minimum(0.05, MAP.steam[:, :, 1]))
    assert np.all(drifting.throttles[:, :, 0] == 0.0)
    assert np.all(drifting.steam[:, :, 1:] == MAP.steam[:, :, 1:])


def test_a_rating_is_for_grades_to_ten_per_cent_and_speeds_of_the_map() -> None:
    top = MAP.max_speed
    found = rate_tonnage(HANDBOOK, grades=[0.1, 0.0], speeds=[top, 5.0])
    assert (found.grades, found.speeds) == ((0.0, 0.1), (5.0, top))
    assert (found.at(1, 0).grade, found.at(1, 0).speed) == (0.1, 5.0)
    for grades, speeds, words in (([-0.001], [5.0], "grades"), ([0.1001], [5.0], "grades"),
                                  ([0.0], [0.0], "speeds"), ([0.0], [top * 1.001], "speeds")):  # fmt: skip
        with pytest.raises(OutOfRange, match=words) as fault:
            rate_tonnage(HANDBOOK, grades=grades, speeds=speeds)
        wrong = {"least": 0.0, "most": 0.1, "found": grades[0]} if words == "grades" else {
            "least": 0.0, "most": top, "found": speeds[0],
        }  # fmt: skip
        assert fault.value.faults[0].figures == wrong
    assert rate_tonnage(HANDBOOK, grades=[0.0], speeds=[0.5]).speeds == (0.5,)
    usual = RatingCar()
    assert (usual.empty_mass, usual.loaded_mass, usual.axles, usual.frontal_area) == (20e3, 65e3, 4, 9.3)
    RatingCar(empty_mass=1000.0, loaded_mass=1e6).check()
    for empty, loaded in ((999.9, 2e4), (2e4, 2e4), (2e4, 1.0001e6)):
        with pytest.raises(OutOfRange, match="loaded_mass"):
            RatingCar(empty_mass=empty, loaded_mass=loaded).check()


def test_an_engine_that_just_pulls_more_than_itself_has_a_load_and_one_that_does_not_has_none() -> None:
    for pull, loaded in ((0.5, True), (0.0, False), (-0.5, False)):
        point: Any = SimpleNamespace(speed=5.0, drawbar_pull=pull, limit="grate")
        found = tonnage_rating._rating(HANDBOOK, RatingCar(), 0.0, point)
        assert (found.loaded > 0.0, found.empty > 0.0, found.adjusted > 0.0) == (loaded,) * 3
        assert (found.pull, found.limit, found.pairs) == (pull, "grate", 0)


def test_a_rating_is_the_load_whose_resistance_is_the_pull() -> None:
    rating = rate_tonnage(HANDBOOK, grades=[0.01], speeds=[6.0]).at(0, 0)
    car = RatingCar()
    by_grade = 9.80665 * 0.01 / np.sqrt(1.0001)
    for load, mass in ((rating.loaded, 65e3), (rating.empty, 20e3)):
        assert load * (car.resistance(mass, 6.0) / mass + by_grade) == pytest.approx(rating.pull)
    # a pair of cars counts with the mass of both and twice the car factor
    assert rating.pairs == int(rating.adjusted / (85e3 + 2.0 * rating.car_factor))
    pair = car.resistance(20e3, 6.0) + car.resistance(65e3, 6.0) + 85e3 * by_grade
    assert rating.pull / pair == pytest.approx(rating.adjusted / (85e3 + 2.0 * rating.car_factor), rel=1e-9)


def test_a_table_of_the_boiler_has_a_step_of_a_five_hundredth_to_the_whole() -> None:
    supply = boiler_table(trials.locomotive()).supply
    grate = trials.locomotive().boiler.grate_area
    top = float(supply.firing_rates[int(np.argmax(supply.steam))]) / grate
    whole = boiler_table(trials.locomotive(), step=top)
    assert [point.firing_rate_per_grate_area for point in whole.points] == pytest.approx([top])
    for step in (top * 1.0001, top / 500.1):
        with pytest.raises(OutOfRange, match="step must be between"):
            boiler_table(trials.locomotive(), step=step)
    least, most = float(supply.firing_rates[1]) / grate, float(supply.firing_rates[-1]) / grate
    forced = boiler_table(trials.locomotive(), firing_rates=[least, most]).forced
    assert [each.point.firing_rate_per_grate_area for each in forced] == [least, most]
    assert forced[0].exceeded == ()
    for rate in (0.999 * least, 1.001 * most):
        with pytest.raises(OutOfRange, match="firing_rates"):
            boiler_table(trials.locomotive(), firing_rates=[rate])
    limits = whole.limits
    assert sum(each.binds for each in limits) == 1
    assert limits[0].binds
    reached = [each.steam for each in limits if each.steam is not None]
    assert reached == sorted(reached)
    binding = boiler_table(
        trials.locomotive(), firing_rates=[1.05 * limits[0].firing_rate_per_grate_area]
    ).forced
    assert limits[0].name in binding[0].exceeded
    point = binding[0].point
    assert point.steam_per_fuel == pytest.approx(point.steam / point.fuel)
    assert point.superheat == pytest.approx((point.steam_temperature or 0.0) - supply.saturation_temperature)


def test_a_band_lies_on_one_side_where_all_figures_do() -> None:
    def band(lowest: float, highest: float) -> Band:
        return Band(figure="x", within=0.1, rows=3, engines=2, lowest=lowest, highest=highest)

    assert [band(*ends).one_sided for ends in ((0.01, 0.2), (-0.2, -0.01), (-0.1, 0.1), (0.0, 0.1), (-0.3, 0.5))] == [
        True, True, False, False, False,
    ]  # fmt: skip
    names = [
        sustained_power_band(method=method, compound=compound, anchored=anchored).figure
        for method, compound, anchored in (
            ("handbook", True, True), ("cycle", True, True), ("cycle", True, False), ("cycle", False, False),
        )
    ]  # fmt: skip
    assert names == [
        "sustained_power_handbook", "sustained_power_anchored", "sustained_power_compound", "sustained_power",
    ]  # fmt: skip
