"""The handbook map: published figures it is built from, and errors outside them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials
from hypothesis import given
from hypothesis import strategies as st

from locosim.constants import ATMOSPHERE
from locosim.engine.map.from_handbook import BACK_PRESSURE, handbook_map
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.rated_effort import rated_effort
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Cylinders, EngineUnit, Locomotive
from locosim.physics.traction import mean_pressure as handbook

FOOT_PER_MINUTE = 0.3048 / 60
POUND_PER_HORSEPOWER_HOUR = 0.45359237 / (745.69987 * 3600)

ENGINES = {
    "superheated": trials.locomotive(),
    "saturated": trials.locomotive(superheater=False),
    "articulated": trials.locomotive(units=2),
    "high pressure": trials.locomotive(pressure=20.7e5, bore=0.6, stroke=0.81, wheel=1.8),
    "small": trials.locomotive(pressure=9.7e5, bore=0.38, stroke=0.56, wheel=1.2, superheater=False),
}


@pytest.fixture(params=ENGINES)
def engine(request: pytest.FixtureRequest) -> Locomotive:
    return ENGINES[request.param]


def speed_at(engine: Locomotive, feet_per_minute: float) -> float:
    """Train speed at a piston speed: one turn of the wheels is two strokes."""
    unit = engine.engine_units[0]
    return feet_per_minute * FOOT_PER_MINUTE * np.pi * unit.driver_diameter / (2 * unit.stroke)


def full(engine: Locomotive, performance_map: PerformanceMap, feet_per_minute: float) -> float:
    return performance_map.effort_at(
        speed=speed_at(engine, feet_per_minute),
        cutoff=float(performance_map.cutoffs[-1]),
        pressure=engine.boiler.absolute_pressure,
    )


def test_at_rest_the_longest_cutoff_gives_the_rated_effort(engine: Locomotive) -> None:
    assert full(engine, handbook_map(engine), 0.0) == pytest.approx(rated_effort(engine), rel=1e-3)


@pytest.mark.parametrize("feet_per_minute", [250.0, 400.0, 600.0, 800.0, 1000.0, 1200.0, 1400.0, 1600.0])
def test_pull_keeps_below_the_published_speed_factors(engine: Locomotive, feet_per_minute: float) -> None:
    # [Cole1914], from memory: an envelope, met where the diagram would give more.
    superheated = engine.boiler.superheater is not None
    table = handbook.speed_factor_superheated if superheated else handbook.speed_factor_saturated
    factor = float(table(piston_speed=feet_per_minute * FOOT_PER_MINUTE))
    found = full(engine, handbook_map(engine), feet_per_minute) / rated_effort(engine)
    assert found <= factor * 1.005  # straight lines between the nodes of a curve that is hollow
    if feet_per_minute >= 1000:
        assert found == pytest.approx(factor, rel=5e-3)


def at_pressure(engine: Locomotive, pounds_per_square_inch: float) -> Locomotive:
    gauge = pounds_per_square_inch * 6894.757
    return replace(engine, boiler=replace(engine.boiler, working_pressure_gauge=gauge))


def steam_per_work(engine: Locomotive, performance_map: PerformanceMap, speed: float, effort: float) -> float:
    pressure = engine.boiler.absolute_pressure
    steam = performance_map.setting_for(effort=effort, speed=speed, pressure=pressure).steam
    return steam / (effort * speed) / POUND_PER_HORSEPOWER_HOUR


@pytest.mark.parametrize(("name", "pounds"), [("superheated", 20.8), ("saturated", 27.0), ("small", 27.0)])
def test_steam_at_a_thousand_feet_a_minute_is_the_published_rate(name: str, pounds: float) -> None:
    # [Cole1914], from memory: 20.8 and 27.0 lb an indicated horsepower-hour, where the pull is on his curve.
    # The corner of the curve lies between two cutoffs of the grid, 2.8 % of the stroke apart.
    engine = at_pressure(ENGINES[name], 200.0)
    performance_map = handbook_map(engine)
    speed = speed_at(engine, 1000.0)
    effort = full(engine, performance_map, 1000.0)
    # The shortest cutoff that gives this pull: of all that give it, the one a driver uses.
    cutoffs = np.linspace(performance_map.cutoffs[0], performance_map.cutoffs[-1], 4001)
    pressure = engine.boiler.absolute_pressure
    pulls = np.array(
        [performance_map.effort_at(speed=speed, cutoff=float(c), pressure=pressure) for c in cutoffs]
    )
    first = float(cutoffs[int(np.argmax(pulls >= effort * (1 - 1e-6)))])
    steam = performance_map.steam_at(speed=speed, cutoff=first, pressure=pressure)
    assert steam / (effort * speed) / POUND_PER_HORSEPOWER_HOUR == pytest.approx(pounds, rel=0.025)


@pytest.mark.parametrize(("name", "pounds"), [("superheated", 20.8), ("saturated", 27.0)])
def test_a_pull_that_many_cutoffs_give_is_had_with_the_shortest(name: str, pounds: float) -> None:
    engine = at_pressure(ENGINES[name], 200.0)
    performance_map = handbook_map(engine)
    speed = speed_at(engine, 1000.0)
    rate = steam_per_work(engine, performance_map, speed, full(engine, performance_map, 1000.0))
    assert rate == pytest.approx(pounds, rel=0.025)


@pytest.mark.parametrize(
    ("pressure", "pounds"),
    [(120.0, 29.1), (140.0, 27.7), (160.0, 26.6), (180.0, 26.0), (220.0, 25.1), (240.0, 24.7)],
)
def test_the_steam_rate_falls_with_boiler_pressure_as_measured(pressure: float, pounds: float) -> None:
    # [Goss1907], from memory: lb an indicated horsepower-hour on saturated steam, 25.5 at 200 psi.
    def rate(gauge: float) -> float:
        engine = at_pressure(ENGINES["saturated"], gauge)
        performance_map = handbook_map(engine)
        speed = speed_at(engine, 1000.0)
        return steam_per_work(engine, performance_map, speed, full(engine, performance_map, 1000.0))

    assert rate(pressure) / rate(200.0) == pytest.approx(pounds / 25.5, rel=0.03)


def test_pull_and_steam_in_the_map_answer_each_other(engine: Locomotive) -> None:
    performance_map = handbook_map(engine)
    pressure = engine.boiler.absolute_pressure
    for speed in (3.0, 7.7, 12.0):
        for cutoff in (0.22, 0.35, 0.5):
            effort = performance_map.effort_at(speed=speed, cutoff=cutoff, pressure=pressure)
            setting = performance_map.setting_for(effort=effort, speed=speed, pressure=pressure)
            steam, found = setting.steam, setting.cutoff
            assert found <= cutoff + 1e-9
            assert performance_map.effort_at(speed=speed, cutoff=found, pressure=pressure) == pytest.approx(
                effort
            )
            assert steam == pytest.approx(
                performance_map.steam_at(speed=speed, cutoff=found, pressure=pressure)
            )


def test_below_the_shortest_cutoff_steam_fills_the_cylinder_at_less_pressure(engine: Locomotive) -> None:
    # Hyperbolic expansion is straight in admission pressure: the effort is 0 where the mean pressure is the back
    # pressure, and the steam is what fills the cylinder at that pressure. In proportion to effort it would be less.
    performance_map = handbook_map(engine)
    pressure = engine.boiler.absolute_pressure
    least = float(performance_map.cutoffs[0])
    effort, steam = (
        read(speed=10.0, cutoff=least, pressure=pressure)
        for read in (performance_map.effort_at, performance_map.steam_at)
    )
    clearance = engine.engine_units[0].cylinders[0].clearance
    ratio = least + (least + clearance) * np.log((1 + clearance) / (least + clearance))
    for share in (0.2, 0.4, 0.7):
        eased = performance_map.setting_for(effort=share * effort, speed=10.0, pressure=pressure)
        assert eased.cutoff == pytest.approx(least)
        assert np.isnan(eased.throttle)
        assert share * steam < eased.steam < steam
        # admission pressure for the share of the mean pressure; density goes with pressure to the power of 15/16
        admission = (share * (ratio * pressure - BACK_PRESSURE) + BACK_PRESSURE) / ratio
        filled, full_filled, kept = (p ** (15 / 16) for p in (admission, pressure, BACK_PRESSURE))
        by_hand = (filled * (least + clearance) - kept * clearance) / (
            full_filled * (least + clearance) - kept * clearance
        )
        assert eased.steam / steam == pytest.approx(by_hand, rel=0.04)  # the power law is 3 % off at 20 bar


def test_greatest_pull_names_what_holds_it(engine: Locomotive) -> None:
    performance_map = handbook_map(engine)
    pressure = engine.boiler.absolute_pressure
    longest = float(performance_map.cutoffs[-1])
    effort, held = performance_map.max_effort(speed=8.0, pressure=pressure)
    assert held == "cylinders"
    assert effort == pytest.approx(performance_map.effort_at(speed=8.0, cutoff=longest, pressure=pressure))
    half = 0.5 * performance_map.steam_at(speed=8.0, cutoff=0.5, pressure=pressure)
    effort, held = performance_map.max_effort(speed=8.0, pressure=pressure, steam=half)
    assert held == "steam"
    steam = performance_map.setting_for(effort=effort, speed=8.0, pressure=pressure).steam
    assert steam == pytest.approx(half)
    effort, held = performance_map.max_effort(speed=8.0, pressure=pressure, cutoff=0.3)
    assert held == "cylinders"
    assert effort == pytest.approx(performance_map.effort_at(speed=8.0, cutoff=0.3, pressure=pressure))


def test_outside_the_map_is_an_error(engine: Locomotive) -> None:
    performance_map = handbook_map(engine)
    pressure, top = engine.boiler.absolute_pressure, performance_map.max_speed
    inside = {"speed": 5.0, "cutoff": 0.5, "pressure": pressure}
    for name, value in (
        ("speed", top * 1.01),
        ("speed", -0.1),
        ("cutoff", 0.05),
        ("cutoff", 0.9),
        ("pressure", 1.2 * pressure),
        ("pressure", 0.3 * engine.boiler.working_pressure_gauge),
    ):
        with pytest.raises(OutOfRange, match=rf"the performance map runs from .* in {name}, found"):
            performance_map.effort_at(**{**inside, name: value})
        with pytest.raises(OutOfRange, match=rf"the performance map runs from .* in {name}, found"):
            performance_map.steam_at(**{**inside, name: value})
    with pytest.raises(OutOfRange, match=r"tractive effort must be at most \d+ N .* at 5\.00 m/s .*, found"):
        performance_map.setting_for(effort=2 * rated_effort(engine), speed=5.0, pressure=pressure)


def test_the_map_ends_where_the_table_of_speed_factors_ends(engine: Locomotive) -> None:
    assert handbook_map(engine).max_speed == pytest.approx(speed_at(engine, 1600.0))


def test_the_fastest_pistons_of_two_engine_units_end_the_map() -> None:
    one = trials.locomotive()
    long_stroke = Cylinders(number=2, bore=0.5, stroke=0.8)
    unit = replace(one.engine_units[0], cylinders=(long_stroke,))
    both = replace(one, mass=150e3, engine_units=(one.engine_units[0], unit))
    assert handbook_map(both).max_speed == pytest.approx(
        1600 * FOOT_PER_MINUTE * np.pi * unit.driver_diameter / (2 * 0.8)
    )


def test_the_map_says_its_method_and_its_back_pressure(engine: Locomotive) -> None:
    performance_map = handbook_map(engine)
    assert performance_map.method == "handbook"
    assert pytest.approx(17.0 * 6894.757) == BACK_PRESSURE  # [MRS70], psi absolute
    found = performance_map.back_pressure_at(speed=5.0, cutoff=0.4, pressure=engine.boiler.absolute_pressure)
    assert found == pytest.approx(BACK_PRESSURE - ATMOSPHERE)


def test_mean_pressure_over_cutoff_is_hyperbolic_in_the_published_ratio() -> None:
    # Worked by hand for [MRS70]'s hyperbola: c + (c + k) ln((1 + k)/(c + k)), less 17 psi, both over p.
    engine = ENGINES["superheated"]
    performance_map = handbook_map(engine)
    pressure, clearance = engine.boiler.absolute_pressure, 0.09

    def net(cutoff: float) -> float:
        ratio = cutoff + (cutoff + clearance) * np.log((1 + clearance) / (cutoff + clearance))
        return float(ratio - 17.0 * 6894.757 / pressure)

    longest = float(performance_map.cutoffs[-1])
    nodes = [float(performance_map.cutoffs[k]) for k in (3, 10, 18)]
    for cutoff in nodes:
        found = performance_map.effort_at(speed=0.0, cutoff=cutoff, pressure=pressure) / rated_effort(engine)
        assert found == pytest.approx(net(cutoff) / net(longest), rel=2e-3)


def test_machine_friction_is_that_of_the_assumptions() -> None:
    # 8 lb per short ton on drivers, 6 with roller bearings, and 8 % of the indicated effort.
    engine = ENGINES["superheated"]
    short_tons = engine.mass_on_drivers / 907.18474
    plain = handbook_map(engine)
    assert plain.friction == pytest.approx(8.0 * short_tons * 4.4482216, rel=1e-3)
    assert plain.friction_at(100e3) == pytest.approx(plain.friction + 8e3)
    units = tuple(replace(unit, axle_bearing="roller") for unit in engine.engine_units)
    roller = handbook_map(replace(engine, engine_units=units))
    assert roller.friction == pytest.approx(0.75 * plain.friction)
    changed = handbook_map(engine, Assumptions(machine_friction_share=0.10))
    assert changed.friction_at(100e3) == pytest.approx(plain.friction + 10e3)


@given(st.floats(0.0, 5e5))
def test_indicated_effort_is_the_inverse_of_rim_effort(rim: float) -> None:
    performance_map = handbook_map(ENGINES["superheated"])
    indicated = performance_map.indicated_effort(rim)
    assert indicated > rim
    assert performance_map.rim_effort(indicated) == pytest.approx(rim, abs=1e-6)


def test_two_engine_units_share_the_pull_by_their_rated_efforts() -> None:
    one = trials.locomotive()
    small = EngineUnit(
        driver_diameter=1.57,
        driving_axles=3,
        mass_on_drivers=45e3,
        cylinders=(Cylinders(number=2, bore=0.44, stroke=0.65),),
        max_cutoff=0.83,
    )
    performance_map = handbook_map(replace(one, mass=130e3, engine_units=(one.engine_units[0], small)))
    expected = 0.52**2 / (0.52**2 + 0.44**2)
    assert performance_map.unit_effort_shares == pytest.approx((expected, 1 - expected))
