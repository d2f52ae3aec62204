"""Forces and motion of a step, stops and what is recorded, by hand; and pieces of the search for the least fuel."""

from __future__ import annotations

import math
from types import ModuleType

import numpy as np
import pytest
import trials
from plain_python import in_plain_python

from locosim.engine.map import interpolation
from locosim.journey.kernel import arrays as a
from locosim.journey.kernel import (
    boiler_state,
    coasting,
    crew,
    effort_tables,
    fire,
    integrate,
    least_cost,
    rehearsal,
    tractive_step,
)
from locosim.journey.kernel.arrays import Engine, Line, Load, StepConditions
from locosim.journey.setup.prepare import prepare
from locosim.physics.resistance import starting
from locosim.physics.traction import adhesion

ASKED = trials.excursion(trials.line([(3000.0, 0.0), (4000.0, 0.006), (2000.0, -0.004)]))
PREPARED = prepare(ASKED, trials.performance(ASKED), transient_boiler=True)
BOILER = PREPARED.boiler
MODULES: tuple[ModuleType, ...] = (
    interpolation, boiler_state, coasting, crew, effort_tables, fire, integrate, least_cost, rehearsal, tractive_step,
    starting, adhesion,
)  # fmt: skip
G = 9.80665
CONTENTS = 20e3
START = interpolation.Cells(0, 0)  # of the map, from which it is searched


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, *MODULES)


def flat(**changes: object) -> Line:
    """Two steps of 100 m without curves, at 25 m/s at most, a helper of row 0 in the second."""
    made = Line(
        distance=np.array([0.0, 100.0, 200.0]), envelope=np.full(3, 312.5), shutoff=np.full(3, 312.5),
        gravity=np.array([1000.0, 2000.0]), grade=np.array([0.002, 0.003]), curve=np.array([300.0, 400.0]),
        adhesion=np.full(2, 0.3), steam_share=np.ones(2), max_cutoff=np.full(2, 0.8), bed_aim=np.full(3, -1.0),
        firing_ahead=np.full(3, -1.0), water_aim=np.full(3, -1.0), helper_row=np.array([-1, 0], dtype=np.int8),
        helper_mass=np.array([0.0, 50e3]), dwell=np.full(3, -1.0), cleaning=np.zeros(3),
        earliest_departure=np.full(3, -1e9), water_rate=np.zeros(3), fuel_rate=np.zeros(3),
    )  # fmt: skip
    return made._replace(**changes)  # type: ignore[arg-type]


LOAD = Load(
    mass=300e3, rotating=10e3, a=3000.0, b=100.0, c=12.0, a_contents=0.015, b_contents=0.0004, wind=2.0,
    starting=40e3, starting_warm=30e3, cooling_time=1800.0, rolling_start=9000.0,
)  # fmt: skip


def helped(**changes: object) -> Engine:
    made = PREPARED.engine._replace(
        friction=2500.0, friction_share=0.05, helper_speed_step=10.0,
        helper_effort=np.array([[60e3, 40e3, 20e3]]), helper_adhesive_weight=np.array([150e3]),
        helper_resistance=np.array([[800.0, 20.0, 3.0]]), helper_starting=np.array([[7000.0, 2000.0]]),
        helper_friction=np.array([900.0]),
    )  # fmt: skip
    return made._replace(**changes)  # type: ignore[arg-type]


def at(i: int, **changes: float) -> StepConditions:
    made = StepConditions(
        i=i, contents=CONTENTS, pressure=BOILER.working_pressure, max_steam=1e9, starting=0.0, guess=START
    )
    return made._replace(**changes)  # type: ignore[arg-type]


def own(speed: float) -> float:
    """Resistance of the train in a headwind of 2 m/s."""
    wind = (speed + 2.0) * abs(speed + 2.0)
    return 3000.0 + 100.0 * speed + 12.0 * wind + (0.015 + 0.0004 * speed) * CONTENTS


@pytest.mark.parametrize("speed", [0.0, 1.3, 12.0])
def test_resistance_of_train_and_helper(speed: float) -> None:
    running = tractive_step.train_resistance(LOAD, at(0), speed)
    assert running == pytest.approx(own(speed))
    following = tractive_step.train_resistance(LOAD._replace(wind=-20.0), at(0), speed)
    assert following == pytest.approx(own(speed) - 12.0 * ((speed + 2.0) ** 2 + (20.0 - speed) ** 2))
    helper = 800.0 + 20.0 * speed + 3.0 * (speed + 2.0) ** 2
    assert tractive_step.helper_resistance(LOAD, helped(), at(1), 0, speed) == pytest.approx(helper)
    track = 300.0 + 1000.0 + CONTENTS * G * 0.002
    resisting = tractive_step.resisting_force(flat(), LOAD, helped(), at(0), speed)
    assert resisting == pytest.approx(running + 2500.0 + track)
    with_helper = tractive_step.resisting_force(flat(), LOAD, helped(), at(1), speed)
    track = 400.0 + 2000.0 + CONTENTS * G * 0.003
    assert with_helper == pytest.approx(running + 2500.0 + track + helper + 900.0)


@pytest.mark.parametrize("rest", [0.5, 20e3])
def test_until_it_has_broken_away_a_train_resists_more(rest: float) -> None:
    # from its value at rest to 9,000 N at 6 mph in a straight line, where that is more than running
    quarter = 0.25 * 6.0 * 0.44704
    line = max(own(quarter), 0.75 * rest + 0.25 * min(9000.0, rest))
    assert tractive_step.train_resistance(LOAD, at(0, starting=rest), quarter) == pytest.approx(line)
    # the helper starts with the train, whatever the train's own resistance
    helper = tractive_step.helper_resistance(LOAD, helped(), at(1, starting=rest), 0, quarter)
    assert helper == pytest.approx(0.75 * 7000.0 + 0.25 * 2000.0)


def test_full_effort_is_that_of_cylinders_steam_or_adhesion() -> None:
    speed = 8.0
    energy = 0.5 * speed**2
    engine = helped(adhesive_weight=1e9)
    grid, pressure = engine.grid, BOILER.working_pressure
    cylinders, _, place = interpolation.max_effort(grid, pressure, speed, 1e9, 0.8, START)
    found = tractive_step.full_effort_forces(flat(), LOAD, engine, at(0), energy)
    assert (found.effort, found.limit, found.helper_effort, found.place) == (
        cylinders,
        a.CYLINDERS,
        0.0,
        place,
    )
    assert found.thrust_friction == pytest.approx(0.05 * cylinders)
    resisting = tractive_step.resisting_force(flat(), LOAD, engine, at(0), speed)
    assert found.total_resistance == pytest.approx(resisting + 0.05 * cylinders)
    weak = tractive_step.full_effort_forces(flat(), LOAD, engine, at(0, max_steam=1.5), energy)
    assert weak.limit == a.STEAM
    assert interpolation.find_setting(grid, pressure, speed, weak.effort, START).steam == pytest.approx(
        1.5, rel=1e-6
    )
    # 0.3 at rest falls by the formula of 1944 from 0.3315 to 7.5/(3.6 x 8 + 44) + 0.161
    coefficient = 0.3 * (7.5 / (3.6 * speed + 44.0) + 0.161) / (7.5 / 44.0 + 0.161)
    light = helped(adhesive_weight=200e3)
    slips = tractive_step.full_effort_forces(flat(), LOAD, light, at(1), energy)
    assert slips.limit == a.ADHESION
    assert 0.95 * slips.effort - 2500.0 == pytest.approx(coefficient * 200e3)  # at the rail
    # the helper gives 44,000 N at 8 m/s, or what its own adhesion and friction allow
    assert slips.helper_effort == pytest.approx(min(44e3, coefficient * 150e3 + 900.0))
    heavy = helped(helper_adhesive_weight=np.array([1e6]))
    assert tractive_step.full_effort_forces(
        flat(), LOAD, heavy, at(1), energy
    ).helper_effort == pytest.approx(44e3)
    at_rest = tractive_step.full_effort_forces(flat(), LOAD, heavy, at(1), -5.0)
    assert at_rest.helper_effort == pytest.approx(60e3)
    assert tractive_step.friction_at(engine, 1e5) == 2500.0 + 5e3


def inertia(i: int) -> float:
    return 300e3 + CONTENTS + 10e3 + (0.0, 50e3)[i]


@pytest.mark.parametrize("i", [0, 1])
def test_a_step_at_full_effort_is_a_midpoint_step(i: int) -> None:
    engine, e = helped(), 0.5 * 6.0**2
    step = tractive_step.solve_tractive_step(flat(), LOAD, engine, at(i), e)
    first = tractive_step.full_effort_forces(flat(), LOAD, engine, at(i), e)
    middle = e + 50.0 * (first.effort + first.helper_effort - first.total_resistance) / inertia(i)
    second = tractive_step.full_effort_forces(flat(), LOAD, engine, at(i), middle)
    end = e + 100.0 * (second.effort + second.helper_effort - second.total_resistance) / inertia(i)
    assert (step.e_mid, step.e_next) == pytest.approx((middle, end))
    assert step.limit == second.limit
    assert (step.effort, step.helper_effort, step.brake) == (second.effort, second.helper_effort, 0.0)


@pytest.mark.parametrize("i", [0, 1])
@pytest.mark.parametrize("rise", [0.0, 0.3, -2.0, -60.0])
def test_a_limit_is_met_exactly_by_effort_or_brake(i: int, rise: float) -> None:
    e = 0.5 * 12.0**2
    top = e + rise
    line = flat(envelope=np.full(3, top), shutoff=np.full(3, top))
    step = tractive_step.solve_tractive_step(line, LOAD, helped(), at(i), e)
    assert (step.e_next, step.e_mid) == (top, 0.5 * (e + top))
    force = step.effort + step.helper_effort - step.brake - step.total_resistance
    assert force == pytest.approx(rise * inertia(i) / 100.0, abs=1e-6)
    resisting = tractive_step.resisting_force(line, LOAD, helped(), at(i), math.sqrt(2.0 * step.e_mid))
    assert step.total_resistance == pytest.approx(resisting + 0.05 * step.effort)
    assert step.limit == (a.AT_ALLOWED_SPEED if rise >= 0.0 else step.limit)
    if rise == -60.0:
        assert (step.effort, step.helper_effort, step.limit) == (0.0, 0.0, a.BRAKING)
        assert step.brake > 0.0
    else:
        assert step.brake == 0.0 or rise == -2.0
    if step.helper_effort:  # engine and helper are eased alike
        full = tractive_step.full_effort_forces(line, LOAD, helped(), at(i), step.e_mid)
        assert step.effort / full.effort == pytest.approx(step.helper_effort / full.helper_effort)


def test_above_the_shutoff_the_train_coasts_and_brakes_only_to_the_envelope() -> None:
    e = 0.5 * 12.0**2
    line = flat(shutoff=np.full(3, e - 50.0), envelope=np.full(3, e + 5.0))
    step = tractive_step.solve_tractive_step(line, LOAD, helped(), at(0), e)
    resisting = [tractive_step.resisting_force(line, LOAD, helped(), at(0), math.sqrt(2.0 * e))]
    middle = e - 50.0 * resisting[0] / inertia(0)
    resisting.append(tractive_step.resisting_force(line, LOAD, helped(), at(0), math.sqrt(2.0 * middle)))
    assert step == pytest.approx(
        (middle, e - 100.0 * resisting[1] / inertia(0), resisting[1], 0.0, 0.0, 0.0, a.COASTING, 0.0)
    )
    steep = line._replace(gravity=np.full(2, -60e3))
    step = tractive_step.solve_tractive_step(steep, LOAD, helped(), at(0), e)
    assert (step.e_next, step.e_mid, step.limit) == (e + 5.0, e + 2.5, a.BRAKING)
    assert -step.brake - step.total_resistance == pytest.approx(5.0 * inertia(0) / 100.0)
    with_helper = tractive_step.coast(steep, LOAD, helped(), at(1), e)
    assert -with_helper.brake - with_helper.total_resistance == pytest.approx(5.0 * inertia(1) / 100.0)


def test_a_train_that_cannot_get_through_ends_below_zero() -> None:
    steep = flat(gravity=np.full(2, 2e6))
    step = tractive_step.solve_tractive_step(steep, LOAD, helped(), at(0), 2.0)
    assert step.e_mid <= 0.0
    assert step.e_next == pytest.approx(2.0 * step.e_mid - 2.0)


# Stops, demand and records.


def start(**changes: object) -> a.InitialState:
    made = PREPARED.start._replace(tender_water_full=9e3, tender_fuel_full=4e3)
    return made._replace(**changes)  # type: ignore[arg-type]


def stopped(**line: object) -> tuple[float, a.BoilerState, np.ndarray]:
    """Stop of a train with 8,000 kg of water and 3,500 kg of coal at 100 s."""
    state = boiler_state.initial_boiler_state(BOILER, PREPARED.start)._replace(tender=8e3, fuel=3.5e3)
    sums = np.zeros(a.SUM_COUNT)
    values = {name: np.full(3, float(value)) for name, value in line.items()}  # type: ignore[arg-type]
    t, after = integrate.station_stop(flat(**values), BOILER, start(), state, 1, 100.0, sums)
    return t, after, sums


def test_a_train_leaves_when_all_is_done_that_takes_longest() -> None:
    assert stopped(dwell=30.0)[0] == 130.0
    assert stopped(dwell=30.0, earliest_departure=170.0)[0] == 170.0
    assert stopped(dwell=0.0)[0] == 100.0
    assert stopped(dwell=0.0, earliest_departure=90.0)[0] == 100.0
    assert stopped(dwell=10.0, water_rate=20.0)[0] == pytest.approx(100.0 + 1000.0 / 20.0)
    assert stopped(dwell=10.0, fuel_rate=8.0, water_rate=20.0)[0] == pytest.approx(100.0 + 500.0 / 8.0)
    assert stopped(dwell=100.0, fuel_rate=8.0, water_rate=20.0)[0] == 200.0


def test_a_tender_is_filled_and_never_emptied_at_a_stop() -> None:
    _, after, sums = stopped(dwell=0.0, fuel_rate=0.5)
    assert (sums[a.FUEL_TAKEN], sums[a.WATER_TAKEN]) == (500.0, 0.0)
    # standing 1,000 s uses a little of it again
    assert after.fuel == pytest.approx(4e3 - sums[a.FUEL_FIRED])
    _, after, sums = stopped(dwell=0.0, water_rate=0.5)
    assert (sums[a.FUEL_TAKEN], sums[a.WATER_TAKEN]) == (0.0, 1000.0)
    assert after.tender == pytest.approx(9e3 - BOILER.tender_water_ratio * sums[a.FEED_WATER])
    state = boiler_state.initial_boiler_state(BOILER, PREPARED.start)._replace(tender=9e3, fuel=4e3)
    for over in (0.0, 50.0):
        sums = np.zeros(a.SUM_COUNT)
        full = state._replace(tender=9e3 + over, fuel=4e3 + over)
        line = flat(dwell=np.zeros(3), water_rate=np.full(3, 5.0), fuel_rate=np.full(3, 5.0))
        t, after = integrate.station_stop(line, BOILER, start(), full, 1, 100.0, sums)
        assert (t, after.tender, after.fuel) == (100.0, 9e3 + over, 4e3 + over)
        assert (sums[a.FUEL_TAKEN], sums[a.WATER_TAKEN]) == (0.0, 0.0)


def test_demand_and_setting_of_a_step() -> None:
    line = flat(water_aim=np.array([7e3, 6.9e3, -1.0]), bed_aim=np.array([400.0, 300.0, 0.0]))
    target = BOILER.target_water
    assert integrate.water_aim(line, BOILER, 0) == 7e3
    assert integrate.water_aim(line, BOILER, 2) == target
    assert integrate.water_aim(line._replace(water_aim=np.zeros(3)), BOILER, 2) == 0.0
    found = integrate.steam_demand(line, BOILER, 0, 1.5, 2e4, 8.0)
    assert found == (1.5, BOILER.auxiliary_steam, a.THROTTLE_OPEN, 400.0, -1.0, 7e3, 100.0 / 8.0)
    rising = line._replace(water_aim=np.array([6e3, 6.9e3, 7e3]))
    shut = integrate.steam_demand(rising, BOILER, 1, 0.1, 0.0, 8.0)
    assert shut == (0.1, BOILER.auxiliary_steam, a.THROTTLE_SHUT, 300.0, -1.0, 6.9e3, 0.0)
    step = a.TractiveStep(32.0, 32.0, 2e4, 3e4, 0.0, 0.0, a.AT_ALLOWED_SPEED, 0.0)
    engine, pressure = PREPARED.engine, BOILER.working_pressure
    found = integrate.engine_setting(engine, at(0), step)
    expected = interpolation.find_setting(engine.grid, pressure, 8.0, 3e4, START)
    assert (found.steam, found.cutoff, found.place) == (expected.steam, expected.cutoff, expected.place)
    drifting = integrate.engine_setting(engine, at(0), step._replace(effort=0.0))
    assert drifting == (engine.drifting_steam, 0.0, 0.0, 0.0)
    assert integrate.engine_setting(engine, at(0), step._replace(effort=0.5)).cutoff > 0.0
    # where steam limits the effort, the setting is the one that takes it
    weak = at(0, max_steam=1.5)
    forces = tractive_step.full_effort_forces(flat(), LOAD, helped(adhesive_weight=1e9), weak, 32.0)
    limited = step._replace(effort=forces.effort, limit=a.STEAM, place=forces.place)
    taken = integrate.engine_setting(engine, weak, limited)
    expected = interpolation.find_setting(engine.grid, pressure, 8.0, forces.effort, START)
    assert (taken.steam, taken.cutoff) == pytest.approx((1.5, expected.cutoff), rel=1e-6)


def test_work_of_a_step_is_force_times_way() -> None:
    sums = np.zeros(a.SUM_COUNT)
    step = a.TractiveStep(32.0, 40.0, 25e3, 30e3, 7e3, 500.0, 0, 0.0)
    for _ in range(2):
        integrate.book_work(flat(), helped(), at(1), step, 12.0, sums)
    grade = 2000.0 + CONTENTS * G * 0.003
    friction = 2500.0 + 0.05 * 30e3
    expected = {
        a.INDICATED_WORK: 30e3, a.HELPER_WORK: 7e3, a.FRICTION_WORK: friction, a.CURVE_WORK: 400.0,
        a.GRAVITY_WORK: grade, a.RESISTANCE_WORK: 25e3 - grade - 400.0 - friction, a.BRAKE_WORK: 500.0,
    }  # fmt: skip
    for entry, force in expected.items():
        assert sums[entry] == pytest.approx(2.0 * force * 100.0)
    assert sums[a.USED_SUPPLIES_ENERGY] == pytest.approx(2.0 * 12.0 * 40.0)


# The search for the least fuel, on a table that can be read by eye.

CHOICES = least_cost.Choices(
    length=np.array([100.0, 200.0]),
    top=np.array([200.0, 200.0, 200.0]),
    floor=np.array([0.0, 50.0, 50.0]),
    slope=np.array([10.0, -20.0]),
    inertia=np.array([100.0, 100.0]),
    row=np.array([0, 1], dtype=np.int8),
    speed_step=5.0,
    resistance=np.array([[20.0, 30.0, 50.0, 80.0, 120.0], [40.0, 50.0, 70.0, 100.0, 140.0]]),
    effort=np.array([[200.0, 160.0, 120.0, 80.0, 40.0], [300.0, 250.0, 200.0, 150.0, 100.0]]),
    rate=np.arange(30.0).reshape(2, 5, 3),
    shut_rate=0.5,
    opening=7.0,
)


def test_tables_of_the_search_are_read_in_straight_lines() -> None:
    table = CHOICES.resistance
    assert [least_cost.at_speed(table, 1, place) for place in (0.0, 1.5, 3.25, 4.0)] == [
        40.0,
        60.0,
        110.0,
        140.0,
    ]
    assert least_cost.at_speed(table, 1, 5.0) == 180.0  # goes on along the last line
    # rate[row, speed, share] = 15 row + 3 speed + share, shares at 0, 1/2 and 1
    for place, share in ((0.0, 0.5), (1.5, 0.25), (3.7, 1.0), (4.0, 0.75), (2.0, 1e-9)):
        assert least_cost.cost_rate(CHOICES, 1, place, share) == pytest.approx(
            15.0 + 3.0 * place + 2.0 * share
        )
    assert least_cost.cost_rate(CHOICES, 1, 2.0, 0.0) == 0.5
    values = np.zeros((2, 3, 5))
    values[1, 2] = [100.0, 80.0, 60.0, 50.0, 45.0]
    # in a straight line over the energy: at 7.5 m/s 5/12 of the way from 5 to 10 m/s
    energy = 0.5 * 7.5**2
    assert least_cost.value_at(CHOICES, values, 1, 2, energy) == pytest.approx(80.0 - 20.0 * 5.0 / 12.0)
    assert least_cost.value_at(CHOICES, values, 1, 2, 200.0) == pytest.approx(45.0)
    assert least_cost.value_at(CHOICES, values, 1, 2, 0.0) == 100.0


def test_a_move_is_a_midpoint_step_up_to_the_limit() -> None:
    energy = 0.5 * 10.0**2
    found = least_cost.move(CHOICES, 0, energy, 0.5)
    middle = energy + 50.0 * (60.0 - 50.0 - 10.0) / 100.0
    assert middle == energy  # held
    assert found[:2] == (50.0, 0.5)
    assert found.time == pytest.approx(10.0)
    assert found.cost == pytest.approx(10.0 * (6.0 + 1.0))
    full = least_cost.move(CHOICES, 0, energy, 1.0)
    place = math.sqrt(2.0 * (energy + 50.0 * (120.0 - 60.0) / 100.0)) / 5.0
    force = (
        np.interp(place, range(5), CHOICES.effort[0])
        - np.interp(place, range(5), CHOICES.resistance[0])
        - 10.0
    )
    end = energy + 100.0 * force / 100.0
    assert full.energy == pytest.approx(end)
    mean = 0.5 * (10.0 + math.sqrt(2.0 * end))
    assert full.time == pytest.approx(100.0 / mean)
    assert full.cost == pytest.approx(full.time * (3.0 * mean / 5.0 + 2.0))
    limited = CHOICES._replace(top=np.array([200.0, 60.0, 60.0]))
    held = least_cost.move(limited, 0, energy, 1.0)
    place = math.sqrt(110.0) / 5.0
    needed = 10.0 * 100.0 / 100.0 + np.interp(place, range(5), CHOICES.resistance[0]) + 10.0
    assert held.energy == 60.0
    assert held.share == pytest.approx(needed / np.interp(place, range(5), CHOICES.effort[0]))
    down = least_cost.move(limited._replace(slope=np.array([-500.0, 0.0])), 0, energy, 1.0)
    assert (down.energy, down.share) == (60.0, 0.0)  # the brakes do it
    assert least_cost.holding_share(CHOICES, 0, energy) == pytest.approx(60.0 / 120.0)
    assert least_cost.holding_share(CHOICES, 1, energy) == pytest.approx(50.0 / 200.0)
    stalls = least_cost.move(CHOICES._replace(slope=np.array([500.0, 0.0])), 0, energy, 1.0)
    assert stalls.energy < 0.0


def test_the_best_moves_count_time_at_its_price() -> None:
    values = np.zeros((2, 3, 5))
    values[:, 1] = [[90.0, 80.0, 70.0, 60.0, 50.0], [85.0, 75.0, 65.0, 55.0, 45.0]]
    energy, levels = 0.5 * 10.0**2, 12

    def cost(share: float, price: float) -> float:
        found = least_cost.move(CHOICES, 0, energy, share)
        throttle = 1 if found.share > 0.0 else 0
        return (
            found.cost + price * found.time + least_cost.value_at(CHOICES, values, throttle, 1, found.energy)
        )

    for price in (0.0, 5.0, 100.0):
        shut, least_shut, opened, least_open = least_cost.best_moves(
            CHOICES, 0, energy, price, values, levels
        )
        assert shut == least_cost.move(CHOICES, 0, energy, 0.0)
        assert least_shut == pytest.approx(cost(0.0, price))
        shares = [
            *(level / levels for level in range(1, levels + 1)),
            least_cost.holding_share(CHOICES, 0, energy),
        ]
        costs = [cost(share, price) for share in shares]
        assert least_open == pytest.approx(min(costs))
        assert opened.share == pytest.approx(shares[int(np.argmin(costs))])
    # below the floor the train must gain 0.02 m/s2 unless at full effort or held
    slow = CHOICES._replace(floor=np.full(3, 100.0))
    shut, least_shut, opened, _ = least_cost.best_moves(slow, 0, energy, 0.0, values, levels)
    assert least_shut == least_cost.UNREACHABLE
    assert opened.energy >= energy + 0.02 * 100.0
    at_floor = CHOICES._replace(floor=np.full(3, energy))
    assert least_cost.best_moves(at_floor, 0, energy, 0.0, values, levels)[1] < least_cost.UNREACHABLE


# The fireman's rehearsal.


def test_the_mean_ahead_goes_on_beyond_the_end() -> None:
    clock, burned, rate = np.array([0.0, 10.0, 30.0]), np.array([0.0, 5.0, 25.0]), np.zeros(3)
    rehearsal.find_mean_ahead(clock, burned, 20.0, 0.4, rate)
    assert rate == pytest.approx([15.0 / 20.0, 20.0 / 20.0, 0.4])
    rehearsal.find_mean_ahead(clock, burned, 10.0, 0.4, rate)
    assert rate == pytest.approx([0.5, 1.0, 0.4])
    rehearsal.find_mean_ahead(clock, burned, 40.0, 0.4, rate)
    assert rate == pytest.approx([(25.0 + 4.0) / 40.0, (20.0 + 0.4 * 20.0) / 40.0, 0.4])


def test_the_stock_ahead_is_the_most_that_is_needed_within_the_horizon() -> None:
    rng = np.random.default_rng(5)
    for horizon in (0.0, 3.0, 7.5, 1e3):
        clock = np.cumsum(rng.integers(1, 4, 40)).astype(float)
        needed, used, found = rng.random(40), np.cumsum(rng.random(40) - 0.6), np.zeros(40)
        rehearsal.aim_ahead(clock, needed, used, horizon, np.zeros(40, dtype=np.int64), found)
        plain = [
            max(needed[s] + used[s] for s in range(j, 40) if clock[s] <= clock[j] + horizon) - used[j]
            for j in range(40)
        ]
        assert found == pytest.approx(plain)


def test_an_aim_is_raised_to_that_of_a_little_later() -> None:
    clock, aim, raised = np.array([0.0, 10.0, 20.0]), np.array([5.0, 1.0, 9.0]), np.zeros(3)
    leaving = np.arange(3)
    for span, expected in (
        (5.0, [5.0, 5.0, 9.0]),
        (10.0, [5.0, 9.0, 9.0]),
        (15.0, [5.0, 9.0, 9.0]),
        (2.0, [5.0, 2.6, 9.0]),
    ):
        rehearsal.raise_to_later(clock, span, aim, leaving, raised)
        assert raised == pytest.approx(expected)
    rehearsal.raise_to_later(clock, 5.0, aim, np.array([1, 2]), raised[:2])
    assert raised[:2] == pytest.approx([5.0, 9.0])


def test_fuel_and_feed_of_a_run_are_summed_over_its_clock() -> None:
    run = rehearsal.SteadyRun(
        arrive=np.array([0.0, 110.0, 150.0]),
        depart=np.array([10.0, 110.0, 200.0]),
        steam=np.array([1.0, 2.5]),
        arrived=True,
    )
    made = rehearsal.Rehearsal(*np.zeros((8, 6)))
    leaving = np.zeros(3, dtype=np.int64)
    rehearsal.accumulate(BOILER, run, made, leaving)
    assert leaving.tolist() == [1, 2, 4]
    assert made.clock[:5].tolist() == [0.0, 10.0, 110.0, 150.0, 200.0]
    standing = fire.firing_for_steam(BOILER, BOILER.auxiliary_steam + BOILER.blower_steam)
    rates = [
        standing,
        *(fire.firing_for_steam(BOILER, s + BOILER.auxiliary_steam) for s in (1.0, 2.5)),
        standing,
    ]
    times = [10.0, 100.0, 40.0, 50.0]
    assert made.burned[:5] == pytest.approx([0.0, *np.cumsum(np.array(rates) * times)])
    saving = (BOILER.working_liquid_enthalpy - BOILER.feed_enthalpy) / BOILER.evaporation_heat
    filling = (BOILER.filled_water - BOILER.target_water) / BOILER.recovery_time
    deferred = [
        max((s + BOILER.auxiliary_steam - 0.95 * BOILER.sustained_steam) / saving, -filling)
        for s in (1.0, 2.5)
    ]
    feeds = [-filling, *deferred, -filling]
    assert made.deferred_feed[:5] == pytest.approx([0.0, *np.cumsum(np.array(feeds) * times)])


def test_the_coasting_curve_keeps_to_the_train_that_coasts() -> None:
    line = flat(
        envelope=np.array([312.5, 200.0, 40.0]),
        shutoff=np.full(3, 312.5),
        gravity=np.zeros(2),
        grade=np.zeros(2),
    )
    curve, engine = np.zeros(3), helped()
    coasting.coasting_curve(line, LOAD, engine, CONTENTS, 60.0, curve)
    assert curve[2] == 40.0
    slowing = 1.02 * tractive_step.resisting_force(line, LOAD, engine, at(1), math.sqrt(120.0)) / inertia(1)
    # the brakes take it from 60 to 40 J/kg in an eighth of the step from 200 to 40
    expected = 60.0 + slowing * 100.0 * 140.0 / 160.0
    assert curve[1] == pytest.approx(expected)
    slowing = (
        1.02
        * tractive_step.resisting_force(line, LOAD, engine, at(0), math.sqrt(2.0 * expected))
        / inertia(0)
    )
    assert curve[0] == pytest.approx(expected + slowing * 100.0)
    falling = line._replace(gravity=np.full(2, -40e3))
    coasting.coasting_curve(falling, LOAD, engine, CONTENTS, 60.0, curve)
    assert curve.tolist() == [60.0, 60.0, 40.0]
    low = line._replace(envelope=np.array([60.0, 200.0, 40.0]))
    coasting.coasting_curve(low, LOAD, engine, CONTENTS, 60.0, curve)
    assert curve[0] == 60.0
