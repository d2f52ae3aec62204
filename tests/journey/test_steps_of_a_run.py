"""Forces and motion of a step, stops and what is recorded, by hand; and pieces of the search for the least fuel."""

from __future__ import annotations

import math
from types import ModuleType

import numpy as np
import pytest
import trials
from plain_python import in_plain_python
from scipy.integrate import solve_ivp

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
    assert step[:7] == pytest.approx(
        (middle, e - 100.0 * resisting[1] / inertia(0), resisting[1], 0.0, 0.0, 0.0, a.COASTING)
    )
    time = 100.0 / (0.5 * (12.0 + math.sqrt(2.0 * step.e_next)))
    assert (step.time, step.full_time, step.e_full, step.later_effort) == (pytest.approx(time), 0.0, e, 0.0)
    steep = line._replace(gravity=np.full(2, -60e3))
    step = tractive_step.solve_tractive_step(steep, LOAD, helped(), at(0), e)
    assert (step.e_next, step.e_mid, step.limit) == (e + 5.0, e + 2.5, a.BRAKING)
    assert -step.brake - step.total_resistance == pytest.approx(5.0 * inertia(0) / 100.0)
    with_helper = tractive_step.coast(steep, LOAD, helped(), at(1), e)
    assert -with_helper.brake - with_helper.total_resistance == pytest.approx(5.0 * inertia(1) / 100.0)


def full_effort_at(line: Line, i: int, energy: float) -> tuple[a.Forces, float]:
    """Forces at full effort, and what they add to v²/2 over 100 m."""
    forces = tractive_step.full_effort_forces(line, LOAD, helped(), at(i), energy)
    return forces, 100.0 * (forces.effort + forces.helper_effort - forces.total_resistance) / inertia(i)


@pytest.mark.parametrize("i", [0, 1])
@pytest.mark.parametrize("fall", [0.0, 0.5, 40.0])
def test_full_effort_ends_where_the_train_meets_the_speed_allowed(i: int, fall: float) -> None:
    e, start_top, top = 100.0, 104.0 + 0.2 * fall, 104.0 - 0.8 * fall
    ends = [start_top, top] if i == 0 else [0.0, start_top]
    curve = np.array([*ends, top])
    line = flat(envelope=curve, shutoff=curve)
    forces, gain = full_effort_at(line, i, 0.5 * (e + top))
    part = (start_top - e) / (gain + fall)  # where the two straight lines of v²/2 meet
    assert 0.1 < part < 1.0
    step = tractive_step.solve_tractive_step(line, LOAD, helped(), at(i), e)
    assert step.e_full == pytest.approx(e + part * gain)
    assert step.e_full == pytest.approx(start_top - part * fall)
    speeds = np.sqrt(2.0 * np.array([e, step.e_full, top]))
    parts = 100.0 * np.array([part, 1.0 - part]) / (0.5 * (speeds[:2] + speeds[1:]))
    assert (step.time, step.full_time) == pytest.approx((parts.sum(), parts[0]))
    assert step.full_effort == forces.effort
    assert step.effort == pytest.approx(part * step.full_effort + (1.0 - part) * step.later_effort)
    # Each part with its own forces does the work of the mean ones.
    resisting = forces.total_resistance - forces.thrust_friction
    net = forces.effort + forces.helper_effort - forces.thrust_friction
    after = resisting - fall * inertia(i) / 100.0  # what keeps to the curve
    assert step.effort + step.helper_effort == pytest.approx(
        (part * net + (1.0 - part) * max(after, 0.0)) * (forces.effort + forces.helper_effort) / net
    )
    assert step.brake == pytest.approx((1.0 - part) * max(-after, 0.0), abs=1e-6)
    assert step.limit == (a.BRAKING if after < 0.0 else a.AT_ALLOWED_SPEED)
    assert step.e_next == top
    force = step.effort + step.helper_effort - step.brake - step.total_resistance
    assert force * 100.0 / inertia(i) == pytest.approx(top - e, abs=1e-9)


def test_full_effort_ends_at_the_curve_from_which_the_train_coasts() -> None:
    e, curve = 100.0, np.array([103.0, 90.0, 85.0])
    line = flat(shutoff=curve)
    forces, gain = full_effort_at(line, 0, 0.5 * (e + 90.0))
    part = 3.0 / (gain + 13.0)
    step = tractive_step.solve_tractive_step(line, LOAD, helped(), at(0), e)
    assert (step.limit, step.brake, step.later_effort) == (a.COASTING, 0.0, 0.0)
    assert step.effort == pytest.approx(part * forces.effort)
    lost = 100.0 * (forces.total_resistance - forces.thrust_friction) / inertia(0)
    assert step.e_next == pytest.approx(e + part * gain - (1.0 - part) * lost)
    low = line._replace(envelope=np.array([200.0, step.e_next - 0.2, 200.0]))
    braked = tractive_step.solve_tractive_step(low, LOAD, helped(), at(0), e)
    assert (braked.limit, braked.e_next, braked.effort) == (a.BRAKING, step.e_next - 0.2, step.effort)
    assert braked.brake == pytest.approx(0.2 * inertia(0) / 100.0)


def test_steam_of_a_step_in_which_full_effort_ends() -> None:
    """Each part takes its own steam."""
    full, hold = 3e4, 1e4
    step = a.TractiveStep(
        81.0, 98.0, 2e4, 18e3, 0.0, 0.0, a.AT_ALLOWED_SPEED, 10.0, 0.0, full, a.CYLINDERS, 0.0, 98.0, hold
    )
    engine, pressure = PREPARED.engine, BOILER.working_pressure
    find = interpolation.find_setting
    before = find(engine.grid, pressure, 9.0 * math.sqrt(2.0), full, START)
    after = find(engine.grid, pressure, 14.0, hold, START)
    for share, longer in ((0.3, after), (0.6, before)):
        found = integrate.engine_setting(engine, at(0), step._replace(full_time=10.0 * share))
        assert found.steam == pytest.approx(share * before.steam + (1.0 - share) * after.steam)
        assert (found.cutoff, found.throttle) == pytest.approx((longer.cutoff, longer.throttle), nan_ok=True)
    shut = step._replace(full_time=3.0, later_effort=0.0, brake=500.0, e_next=72.0)
    found = integrate.engine_setting(engine, at(0), shut)
    assert found == pytest.approx((0.3 * before.steam + 0.7 * engine.drifting_steam, 0.0, 0.0, 0.0))


@pytest.mark.parametrize("ratio", [0.24, 0.26, 1.01, 1e3])
def test_a_crawling_train_takes_a_step_in_parts(ratio: float) -> None:
    """As many as keep the work against its resistance below half of its kinetic energy in each, up to 64."""
    resistance, mass = 8e3, 300e3 + CONTENTS
    energy = resistance * 100.0 / (2.0 * mass * ratio)
    count = tractive_step.substeps(flat(), LOAD, at(0), resistance, energy)
    assert count == {0.24: 1, 0.26: 2, 1.01: 5, 1e3: 64}[ratio]
    assert tractive_step.substeps(flat(), LOAD, at(0), -resistance, energy) == 1
    assert tractive_step.substeps(flat(), LOAD, at(0), resistance, 0.0) == 64


@pytest.mark.parametrize("pull", [6e4, 9e4])
def test_a_crawling_train_keeps_the_speed_that_its_steam_keeps(pull: float) -> None:
    """From the differential equation of the step, solved by another method: speed, time and work."""
    weak = at(0, max_steam=0.6)
    line, engine, e = flat(gravity=np.full(2, pull - CONTENTS * G * 0.002)), helped(adhesive_weight=1e9), 2.0

    def force(energy: float) -> float:
        forces = tractive_step.full_effort_forces(line, LOAD, engine, weak, energy)
        return forces.effort - forces.total_resistance

    def rates(_: float, y: np.ndarray) -> list[float]:
        energy = max(float(y[0]), 1e-6)
        effort = tractive_step.full_effort_forces(line, LOAD, engine, weak, energy).effort
        return [force(energy) / inertia(0), 1.0 / math.sqrt(2.0 * energy), effort]

    exact = solve_ivp(rates, (0.0, 100.0), [e, 0.0, 0.0], method="LSODA", rtol=1e-7, atol=1e-7)
    step = tractive_step.solve_tractive_step(line, LOAD, engine, weak, e)
    assert step.e_next == pytest.approx(exact.y[0, -1], rel=5e-3)
    assert (step.time, 100.0 * step.effort) == pytest.approx(exact.y[1:, -1], rel=3e-3)
    assert step.e_mid == pytest.approx(0.5 * (100.0 / step.time) ** 2)
    gained = 100.0 * (step.effort - step.total_resistance) / inertia(0)
    assert step.e_next - e == pytest.approx(gained, abs=1e-9)


def test_a_train_that_stalls_in_a_step_is_shown_where() -> None:
    """The energy at the end is below zero, as if it fell evenly to where the train stalls."""
    line, engine, e = flat(gravity=np.full(2, 9e4)), helped(adhesive_weight=200e3), 6.0
    step = tractive_step.solve_tractive_step(line, LOAD, engine, at(0), e)

    def rate(_: float, y: np.ndarray) -> list[float]:
        forces = tractive_step.full_effort_forces(line, LOAD, engine, at(0), max(float(y[0]), 0.0))
        return [(forces.effort - forces.total_resistance) / inertia(0)]

    def at_rest(_: float, y: np.ndarray) -> float:
        return float(y[0])

    at_rest.terminal = True  # type: ignore[attr-defined]
    exact = solve_ivp(rate, (0.0, 100.0), [e], events=at_rest, rtol=1e-8, atol=1e-8, max_step=0.5)
    assert (step.e_mid, step.e_next < 0.0) == (0.0, True)
    assert 30.0 < exact.t[-1] < 90.0
    assert 100.0 * e / (e - step.e_next) == pytest.approx(exact.t[-1], abs=0.5)


@pytest.mark.parametrize("e", [0.0, 2.0])
def test_a_train_that_cannot_get_through_ends_below_zero(e: float) -> None:
    steep = flat(gravity=np.full(2, 2e6))
    step = tractive_step.solve_tractive_step(steep, LOAD, helped(), at(0), e)
    assert step.e_mid <= 0.0
    forces = tractive_step.full_effort_forces(steep, LOAD, helped(), at(0), 0.5 * e)
    covered = e * inertia(0) / (forces.total_resistance - forces.effort)
    assert step.e_next < 0.0
    assert 100.0 * e / (e - step.e_next) == pytest.approx(covered, rel=0.01)


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
    assert found == (1.5, BOILER.auxiliary_steam, a.THROTTLE_OPEN, 350.0, -1.0, 6.95e3, 100.0 / 8.0)
    rising = line._replace(water_aim=np.array([6e3, 6.9e3, 7e3]))
    shut = integrate.steam_demand(rising, BOILER, 1, 0.1, 0.0, 8.0)
    assert shut == (0.1, BOILER.auxiliary_steam, a.THROTTLE_SHUT, 150.0, -1.0, 6.95e3, 0.0)
    unknown = line._replace(bed_aim=np.array([400.0, -1.0, -1.0]), firing_ahead=np.array([0.2, 0.3, -1.0]))
    found = integrate.steam_demand(unknown, BOILER, 0, 1.5, 2e4, 8.0)
    assert (found.bed_aim, found.firing_ahead) == (400.0, 0.25)
    step = a.TractiveStep(
        32.0, 32.0, 2e4, 3e4, 0.0, 0.0, a.AT_ALLOWED_SPEED, 8.0, 0.0, 5e4, a.STEAM, 0.0, 32.0, 3e4
    )
    engine, pressure = PREPARED.engine, BOILER.working_pressure
    found = integrate.engine_setting(engine, at(0), step)
    expected = interpolation.find_setting(engine.grid, pressure, 8.0, 3e4, START)
    assert (found.steam, found.cutoff, found.place) == (expected.steam, expected.cutoff, expected.place)
    drifting = integrate.engine_setting(engine, at(0), step._replace(effort=0.0, later_effort=0.0))
    assert drifting == (engine.drifting_steam, 0.0, 0.0, 0.0)
    assert integrate.engine_setting(engine, at(0), step._replace(effort=0.5, later_effort=0.5)).cutoff > 0.0
    # where steam limits the effort, the setting is the one that takes it
    weak = at(0, max_steam=1.5)
    forces = tractive_step.full_effort_forces(flat(), LOAD, helped(adhesive_weight=1e9), weak, 32.0)
    limited = step._replace(full_time=8.0, full_effort=0.0, place=forces.place)
    taken = integrate.engine_setting(engine, weak, limited)
    expected = interpolation.find_setting(engine.grid, pressure, 8.0, forces.effort, START)
    assert (taken.steam, taken.cutoff) == pytest.approx((1.5, expected.cutoff), rel=1e-6)


def test_work_of_a_step_is_force_times_way() -> None:
    sums = np.zeros(a.SUM_COUNT)
    step = a.TractiveStep(32.0, 40.0, 25e3, 30e3, 7e3, 500.0, 0, 9.0, 9.0, 30e3, 0, 0.0, 40.0, 0.0)
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
    rehearsal.find_mean_ahead(clock, burned, 5.0, 0.4, rate)
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
    rehearsal.raise_to_later(clock, 2.0, np.array([1.0, 9.0, 9.0]), leaving, raised)
    assert raised == pytest.approx([2.6, 9.0, 9.0])
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


# A run put together from its steps.


def stretch(steps: int = 6, **changes: object) -> Line:
    """Steps of 100 m and more, without helper, with stops at the first, the fourth and the last node."""
    n = steps
    top = np.full(n + 1, 312.5)
    top[[0, 3, n]] = 0.0
    made = Line(
        distance=np.cumsum([0.0, *np.linspace(100.0, 150.0, n)]), envelope=top, shutoff=top,
        gravity=np.linspace(1000.0, 3000.0, n), grade=np.linspace(0.001, 0.003, n), curve=np.linspace(100.0, 400.0, n),
        adhesion=np.full(n, 0.3), steam_share=np.full(n, 0.9), max_cutoff=np.full(n, 0.8),
        bed_aim=np.full(n + 1, -1.0), firing_ahead=np.full(n + 1, -1.0), water_aim=np.full(n + 1, -1.0),
        helper_row=np.full(n, -1, dtype=np.int8), helper_mass=np.zeros(n), dwell=np.full(n + 1, -1.0),
        cleaning=np.zeros(n + 1), earliest_departure=np.full(n + 1, -1e9), water_rate=np.zeros(n + 1),
        fuel_rate=np.zeros(n + 1),
    )  # fmt: skip
    made.dwell[[0, 3]] = 20.0, 40.0
    return made._replace(**changes)  # type: ignore[arg-type]


def recorded(line: Line, begun: a.InitialState, load: Load = LOAD) -> tuple[a.RunArrays, a.RunRecord]:
    record = integrate.blank_record(len(line.grade))
    record.nodes[:], record.steps[:], record.limits[:] = math.nan, math.nan, 99
    return integrate.run(line, load, helped(), BOILER, begun, record), record


@pytest.mark.parametrize("warm", [False, True])
def test_a_run_is_made_of_its_steps(warm: bool) -> None:
    line, begun = stretch(), start(time=500.0, warm=warm)
    run, record = recorded(line, begun)
    nodes, steps, n = run.nodes, run.steps, 6
    assert (run.last_node, run.status, run.end_distance) == (n, a.ARRIVED, -1.0)
    assert np.all(np.isfinite(nodes))
    assert np.all(np.isfinite(steps))
    assert nodes[a.ARRIVE, 0] == 500.0
    assert nodes[a.DEPART] - nodes[a.ARRIVE] == pytest.approx([20.0, 0.0, 0.0, 40.0, 0.0, 0.0, 0.0])
    energy = nodes[a.ENERGY]
    assert energy[[0, 3, n]].tolist() == [0.0, 0.0, 0.0]
    speed, h = np.sqrt(2.0 * energy), np.diff(line.distance)
    cold, hot = LOAD.starting, LOAD.starting_warm
    at_stop = cold + (hot - cold) * math.exp(-40.0 / 1800.0)
    first = cold + (hot - cold) * math.exp(-20.0 / 1800.0) if warm else cold
    broken = speed >= 6 * 0.44704
    assert broken.tolist() == [False, True, True, False, True, True, False]
    for i in range(n):
        rest = {0: first, 3: at_stop}.get(i, 0.0)
        contents = nodes[a.WATER_ON_DEPARTURE, i] + nodes[a.FUEL_ON_DEPARTURE, i]
        pressure = nodes[a.PRESSURE, i]
        most = crew.allowed_steam(line, BOILER, i, pressure)
        here = StepConditions(i, contents, pressure, most, rest, START)
        step = tractive_step.solve_tractive_step(line, LOAD, helped(), here, energy[i])
        setting = integrate.engine_setting(helped(), here, step)
        row = (
            step.effort, step.helper_effort, step.total_resistance, step.brake, setting.cutoff, setting.throttle,
            setting.steam,
        )  # fmt: skip
        assert steps[: a.FEED, i] == pytest.approx(row, rel=1e-9, abs=1e-9)
        assert run.limit[i] == step.limit
        assert nodes[a.ARRIVE, i + 1] - nodes[a.DEPART, i] == pytest.approx(step.time)
        mass = LOAD.mass + contents + LOAD.rotating
        force = step.effort + step.helper_effort - step.brake - step.total_resistance
        assert force * h[i] == pytest.approx(mass * (energy[i + 1] - energy[i]), abs=1e-3)
        fed = steps[a.FEED, i]
        assert nodes[a.WATER_ON_DEPARTURE, i] - nodes[a.WATER_ON_ARRIVAL, i + 1] >= 0.0
        assert fed >= 0.0
    pressures = [
        float(np.interp(p, BOILER.pressure_table, np.arange(len(BOILER.pressure_table))))
        for p in nodes[a.PRESSURE]
    ]
    assert max(pressures) < len(BOILER.pressure_table) - 1
    assert run.sums[a.INDICATED_WORK] == pytest.approx(float(np.sum(steps[a.EFFORT] * h)))
    used = nodes[a.WATER_ON_ARRIVAL, 0] + nodes[a.FUEL_ON_ARRIVAL, 0]
    used -= nodes[a.WATER_ON_DEPARTURE, n] + nodes[a.FUEL_ON_DEPARTURE, n]
    assert used == pytest.approx(
        run.sums[a.FUEL_FIRED] + BOILER.tender_water_ratio * run.sums[a.FEED_WATER], rel=1e-9
    )
    assert run.initial_heat == begun.heat
    assert run.initial_bed_heat == BOILER.heating_heat * begun.bed
    # written again in the same place it is the same
    first_sums = run.sums.copy()
    again = integrate.run(line, LOAD, helped(), BOILER, begun, record)
    assert again.sums == pytest.approx(first_sums)


def test_a_run_that_ends_in_motion_has_the_energy_of_all_that_moves() -> None:
    top = np.full(7, 312.5)
    top[3] = 0.0
    line = stretch(
        envelope=top, shutoff=top, helper_mass=np.array([0.0, 0.0, 0.0, 50e3, 50e3, 60e3]),
        helper_row=np.array([-1, -1, -1, 0, 0, 0], dtype=np.int8),
    )  # fmt: skip
    run, _ = recorded(line, start())
    moving = LOAD.mass + LOAD.rotating + 60e3
    moving += run.nodes[a.WATER_ON_ARRIVAL, 6] + run.nodes[a.FUEL_ON_ARRIVAL, 6]
    assert run.nodes[a.ENERGY, 6] > 10.0
    assert run.final_energy == pytest.approx(moving * run.nodes[a.ENERGY, 6])
    assert run.nodes[a.GRATE_FUEL, 6] >= run.final_bed_heat / BOILER.heating_heat > 0.0


def test_a_train_stalls_where_its_energy_is_used_up() -> None:
    line = stretch(
        gravity=np.array([0.0, 0.0, 1e6, 1e6, 1e6, 1e6]),
        envelope=np.full(7, 312.5),
        shutoff=np.full(7, 312.5),
    )
    line.dwell[3] = -1.0
    run, _ = recorded(line, start())
    assert run.status == a.STALLED
    assert run.last_node == 2
    e = run.nodes[a.ENERGY, 2]
    contents = run.nodes[a.WATER_ON_DEPARTURE, 2] + run.nodes[a.FUEL_ON_DEPARTURE, 2]
    pressure = run.nodes[a.PRESSURE, 2]
    here = StepConditions(2, contents, pressure, crew.allowed_steam(line, BOILER, 2, pressure), 0.0, START)
    step = tractive_step.solve_tractive_step(line, LOAD, helped(), here, e)
    assert step.e_next < 0.0
    part = e / (e - step.e_next)
    assert run.end_distance == pytest.approx(line.distance[2] + part * (line.distance[3] - line.distance[2]))
    # one that cannot start stalls where it stands
    stuck, _ = recorded(line._replace(gravity=np.full(6, 2e6)), start())
    assert (stuck.status, stuck.last_node, stuck.end_distance) == (a.STALLED, 0, 0.0)


def test_a_train_without_water_stops_where_it_ran_out() -> None:
    begun = start(tender_water=3.0)
    run, _ = recorded(stretch(), begun)
    assert run.status == a.OUT_OF_WATER
    assert 0 < run.last_node < 6
    assert run.nodes[a.WATER_ON_DEPARTURE, run.last_node] < 0.0
    assert np.all(run.nodes[a.WATER_ON_DEPARTURE, : run.last_node] >= 0.0)
    assert run.end_distance == stretch().distance[run.last_node]
    at_start = PREPARED.engine.grid.pressure_start
    for pressure, cause in ((at_start, a.ARRIVED), (0.999 * at_start, a.LOW_PRESSURE)):
        state = boiler_state.initial_boiler_state(BOILER, PREPARED.start)
        assert integrate.termination_cause(BOILER, PREPARED.engine, state, pressure) == cause


def test_half_a_second_and_half_a_newton_count() -> None:
    assert stopped(dwell=0.5)[0] == 100.5
    assert stopped(dwell=0.5)[2][a.FEED_WATER] > 0.0
    found = integrate.steam_demand(flat(), BOILER, 0, 0.1, 0.5, 8.0)
    assert found.throttle == a.THROTTLE_OPEN


# Least cost once more, on tables that no straight line fits.


def random_choices() -> least_cost.Choices:
    draw = np.random.default_rng(7)
    return CHOICES._replace(
        resistance=draw.random((2, 5)), effort=draw.random((2, 5)), rate=draw.random((2, 5, 4))
    )


def test_tables_are_read_as_by_a_general_interpolator() -> None:
    from scipy.interpolate import RegularGridInterpolator

    choices, draw = random_choices(), np.random.default_rng(8)
    for row in (0, 1):
        line = RegularGridInterpolator(
            (np.arange(5.0),), choices.effort[row], bounds_error=False, fill_value=None
        )
        plane = RegularGridInterpolator(
            (np.arange(5.0), np.linspace(0.0, 1.0, 4)), choices.rate[row], bounds_error=False, fill_value=None
        )
        for place, share in [*zip(draw.uniform(0.0, 4.7, 20), draw.uniform(0.01, 1.0, 20), strict=True)]:
            assert least_cost.at_speed(choices.effort, row, place) == pytest.approx(float(line([place])[0]))
            found = least_cost.cost_rate(choices, row, place, share)
            assert found == pytest.approx(float(plane([(place, share)])[0]))
        assert least_cost.cost_rate(choices, row, 3.5, 1.0) == pytest.approx(float(plane([(3.5, 1.0)])[0]))
    values = draw.random((2, 3, 5))
    for energy in (1.0, 13.0, 60.0, 190.0):
        squares = 0.5 * (5.0 * np.arange(5.0)) ** 2
        expected = np.interp(energy, squares, values[1, 2])
        assert least_cost.value_at(choices, values, 1, 2, energy) == pytest.approx(float(expected))


def test_what_does_not_get_through_is_no_move() -> None:
    none = least_cost.Move(-1.0, 0.25, 0.0, 0.0)
    steep = CHOICES._replace(slope=np.array([500.0, 0.0]))
    assert least_cost.move(steep, 0, 50.0, 0.25) == none  # not to the middle
    # to the middle, 200 J/kg less 50 times 3.9, but not to the end
    nearly = CHOICES._replace(
        slope=np.array([380.0, 0.0]), effort=0.0 * CHOICES.effort, resistance=np.full((2, 5), 10.0)
    )
    assert least_cost.move(nearly, 0, 200.0, 0.25) == none
    assert least_cost.move(nearly, 0, 390.5, 0.25).energy == pytest.approx(0.5)
    assert least_cost.move(nearly, 0, 195.4, 0.25) == none
    # the second of two steps has its own limit, row and inertia
    limits = CHOICES._replace(top=np.array([200.0, 10.0, 52.0]), inertia=np.array([1.0, 150.0]))
    found = least_cost.move(limits, 1, 50.0, 1.0)
    assert found.energy == 52.0
    place = math.sqrt(102.0) / 5.0
    needed = 2.0 * 150.0 / 200.0 + np.interp(place, range(5), CHOICES.resistance[1]) - 20.0
    assert found.share == pytest.approx(needed / np.interp(place, range(5), CHOICES.effort[1]))
    values = np.zeros((2, 3, 5))
    shut, least_shut, opened, least_open = least_cost.best_moves(steep, 0, 50.0, 1.0, values, 4)
    assert shut == opened == least_cost.Move(-1.0, 0.0, 0.0, 0.0)
    assert least_shut == least_open == least_cost.UNREACHABLE


def test_a_train_below_the_floor_may_hold_its_speed_or_pull_all_it_can() -> None:
    """At 10 m/s a tenth of full effort holds 30 N of resistance and 10 of grade on the second row's 400 N."""
    choices = CHOICES._replace(
        floor=np.full(3, 100.0), effort=np.full((2, 5), 400.0), resistance=np.full((2, 5), 30.0),
        slope=np.array([10.0, 10.0]), top=np.full(3, 500.0), shut_rate=0.0,
        rate=np.broadcast_to(np.array([0.0, 1.0, 4.0, 9.0, 16.0]), (2, 5, 5)).copy(),
    )  # fmt: skip
    values = np.zeros((2, 3, 5))
    # of quarters only those that gain 2 J/kg on 100 m count: a quarter gains 60
    _, _, opened, least = least_cost.best_moves(choices, 0, 50.0, 0.0, values, 4)
    assert (opened.share, opened.energy) == pytest.approx((0.25, 110.0))
    assert least == pytest.approx(opened.cost)
    # of tenths one holds the speed, which gains nothing
    _, _, opened, _ = least_cost.best_moves(choices, 0, 50.0, 0.0, values, 10)
    assert opened.share == pytest.approx(0.2)
    # two of nineteen parts gain 2.1 J/kg, which is enough
    _, _, opened, _ = least_cost.best_moves(choices, 0, 50.0, 0.0, values, 19)
    assert opened.share == pytest.approx(2.0 / 19.0)
    # where all the engine has does not hold the speed, it does that
    steep = choices._replace(slope=np.array([390.0, 10.0]))
    assert least_cost.holding_share(steep, 0, 50.0) == pytest.approx(1.05)
    _, _, opened, _ = least_cost.best_moves(steep, 0, 50.0, 0.0, values, 4)
    assert (opened.share, opened.energy) == pytest.approx((1.0, 30.0))
    # above the floor holding is the cheapest that does not slow: worth it where speed ahead has its value
    values[1, 1] = [1e3, 1e3, 0.0, 0.0, 0.0]
    free = choices._replace(floor=np.zeros(3))
    _, _, opened, _ = least_cost.best_moves(free, 0, 50.0, 0.0, values, 4)
    assert (opened.share, opened.energy) == pytest.approx((0.1, 50.0))


# Tables of effort and the coasting curve with grade, helper and several steps.


@pytest.mark.parametrize("i", [0, 1])
def test_tables_of_effort_leave_out_grade_and_curve_only(i: int) -> None:
    engine, line = helped(adhesive_weight=300e3), flat()
    resisting, effort, fuel = np.zeros(6), np.zeros(6), np.full((6, 4), np.nan)
    effort_tables.fill_effort_tables(line, LOAD, engine, BOILER, i, CONTENTS, 2.5, resisting, effort, fuel)
    most = crew.allowed_steam(line, BOILER, i, BOILER.working_pressure)
    for k in range(6):
        speed = 2.5 * k
        forces = tractive_step.full_effort_forces(
            line, LOAD, engine, at(i, max_steam=most), 0.5 * speed * speed
        )
        helper = 800.0 + 20.0 * speed + 3.0 * (speed + 2.0) ** 2 + 900.0 if i == 1 else 0.0
        assert resisting[k] == pytest.approx(own(speed) + 2500.0 + helper)
        assert effort[k] == pytest.approx(forces.effort + forces.helper_effort - forces.thrust_friction)
        for j in (1, 2, 3):
            part = forces.effort * j / 3.0
            setting = interpolation.find_setting(engine.grid, BOILER.working_pressure, speed, part, START)
            expected = fire.firing_for_steam(BOILER, setting.steam + BOILER.auxiliary_steam)
            assert fuel[k, j] == pytest.approx(expected)
        shut = fire.firing_for_steam(
            BOILER, engine.drifting_steam + BOILER.auxiliary_steam + BOILER.blower_steam
        )
        assert effort_tables.shut_firing(engine, BOILER) == pytest.approx(shut)
        assert fuel[k, 0] == pytest.approx(max(2.0 * fuel[k, 1] - fuel[k, 2], shut))


def test_coasting_back_over_several_limits() -> None:
    """Braking below 60 J/kg: from a limit of 30 in the middle as from the end, each with its own curve before it."""
    n = 5
    line = stretch(n, envelope=np.array([312.5, 300.0, 30.0, 60.0, 290.0, 20.0]), grade=np.zeros(n))
    engine, curve = helped(), np.full(n + 1, np.nan)
    helping = line._replace(
        helper_row=np.array([-1, 0, -1, 0, -1], dtype=np.int8),
        helper_mass=np.array([0.0, 50e3, 0.0, 50e3, 0.0]),
    )
    coasting.coasting_curve(helping, LOAD, engine, CONTENTS, 60.0, curve)

    def lost(i: int, energy: float) -> float:
        mass = LOAD.mass + CONTENTS + LOAD.rotating + helping.helper_mass[i]
        force = tractive_step.resisting_force(helping, LOAD, engine, at(i), math.sqrt(2.0 * energy))
        return float(1.02 * force / mass)

    h = np.diff(line.distance)
    assert curve[[5, 3, 2]].tolist() == [20.0, 60.0, 30.0]
    fourth = 60.0 + lost(4, 60.0) * h[4] * 230.0 / 270.0
    assert curve[4] == pytest.approx(fourth)
    first = 60.0 + lost(1, 60.0) * h[1] * 240.0 / 270.0
    assert curve[1] == pytest.approx(first)
    assert curve[0] == pytest.approx(first + lost(0, first) * h[0])
    # where the grade balances the resistance the curve is level, and on a fall it goes down without the margin
    falling = line._replace(
        gravity=np.full(n, -15e3), envelope=np.array([312.5, 300.0, 290.0, 280.0, 270.0, 200.0])
    )
    coasting.coasting_curve(falling, LOAD, engine, CONTENTS, 60.0, curve)
    mass = LOAD.mass + CONTENTS + LOAD.rotating
    gained = -tractive_step.resisting_force(falling, LOAD, engine, at(4), 20.0) / mass
    assert gained > 0.0
    assert curve[4:] == pytest.approx([200.0 - gained * h[4], 200.0])


def test_a_rehearsal_is_written_from_its_first_time() -> None:
    run = rehearsal.SteadyRun(
        arrive=np.array([300.0, 400.0]), depart=np.array([300.0, 400.0]), steam=np.array([1.5]), arrived=True
    )
    made = rehearsal.Rehearsal(*np.full((8, 4), np.nan))
    leaving = np.full(2, -1, dtype=np.int64)
    rehearsal.accumulate(BOILER, run, made, leaving)
    assert leaving.tolist() == [1, 2]
    assert made.clock[:3].tolist() == [300.0, 300.0, 400.0]
    assert made.burned[0] == made.burned[1] == made.deferred_feed[0] == made.deferred_feed[1] == 0.0
    assert made.burned[2] == pytest.approx(
        100.0 * fire.firing_for_steam(BOILER, 1.5 + BOILER.auxiliary_steam)
    )


@pytest.mark.parametrize("arrived", [True, False])
def test_aims_of_a_rehearsal_by_hand(arrived: bool) -> None:
    """A hard stretch of 600 s ahead of a light one: what he cannot fire in time must lie on the grate before."""
    boiler = BOILER._replace(horizon=1e6, bed_lead=100.0, max_bed=1e6, filled_water=BOILER.target_water + 1e6)
    hard, light = 1.4 * boiler.sustained_steam, 0.3 * boiler.sustained_steam
    run = rehearsal.SteadyRun(
        arrive=np.array([0.0, 600.0, 1800.0]), depart=np.array([0.0, 600.0, 1800.0]), steam=np.array([hard, light]),
        arrived=arrived,
    )  # fmt: skip
    aims = a_crew(boiler, run)
    burning = [fire.firing_for_steam(boiler, s + boiler.auxiliary_steam) for s in (hard, light)]
    beyond = 0.0 if arrived else boiler.max_firing
    can = 0.95 * boiler.firing_capacity
    lag = 2.0 * boiler.burning_lag
    ahead = [burning[0], burning[1], beyond]
    assert aims.firing_ahead == pytest.approx(ahead)
    assert lag < 600.0
    beds = [crew.bed_for_burning(boiler, rate) for rate in ahead]
    stock = [beds[0], beds[1] + (burning[0] - can) * 600.0]
    stock.append(beds[2] + (burning[0] - can) * 600.0 + (burning[1] - can) * 1200.0)
    later = boiler.firing_lag + boiler.bed_recovery_time
    assert aims.bed[2] == pytest.approx(beds[2])
    aim = [max(stock), max(stock[1:]) - stock[1] + beds[1], beds[2]]
    assert aims.bed[0] == pytest.approx(max(aim[0], aim[0] + (aim[1] - aim[0]) * later / 600.0))
    assert aims.bed[1] == pytest.approx(max(aim[1], aim[1] + (aim[2] - aim[1]) * later / 1200.0))
    saving = (boiler.working_liquid_enthalpy - boiler.feed_enthalpy) / boiler.evaporation_heat
    deferred = 600.0 * (hard + boiler.auxiliary_steam - 0.95 * boiler.sustained_steam) / saving
    assert aims.water == pytest.approx([boiler.target_water + deferred] + [boiler.target_water] * 2)


def a_crew(boiler: a.Boiler, run: rehearsal.SteadyRun) -> rehearsal.CrewAims:
    """Aims at the nodes of a run."""
    count = len(run.arrive)
    aims = rehearsal.CrewAims(*np.full((3, count), np.nan))
    made = rehearsal.Rehearsal(*np.full((8, 2 * count), np.nan))
    waiting, leaving = np.zeros(2 * count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    rehearsal.rehearse(boiler, run, made, waiting, leaving, aims)
    return aims


def test_a_stop_without_dwell_is_a_stop() -> None:
    """It waits for its time of departure, and the bearings cool as at any other."""
    line = stretch()
    top = np.array([0.0, 312.5, 0.0, 312.5, 312.5, 312.5, 0.0])
    line = line._replace(envelope=top, shutoff=top)
    for dwell in (0.0, 0.5):
        line.dwell[[0, 2, 3]] = 0.0, dwell, -1.0
        line.earliest_departure[2] = 900.0
        run, _ = recorded(line, start(time=500.0))
        assert run.nodes[a.DEPART, 2] == pytest.approx(900.0)
        stood = 900.0 - run.nodes[a.ARRIVE, 2]
        rest = LOAD.starting + (LOAD.starting_warm - LOAD.starting) * math.exp(-stood / 1800.0)
        contents = run.nodes[a.WATER_ON_DEPARTURE, 2] + run.nodes[a.FUEL_ON_DEPARTURE, 2]
        pressure = run.nodes[a.PRESSURE, 2]
        here = StepConditions(
            2, contents, pressure, crew.allowed_steam(line, BOILER, 2, pressure), rest, START
        )
        step = tractive_step.solve_tractive_step(line, LOAD, helped(), here, 0.0)
        assert run.steps[a.TOTAL_RESISTANCE, 2] == pytest.approx(step.total_resistance)


def test_a_train_that_has_broken_away_stays_so_and_one_at_5_miles_an_hour_has_not() -> None:
    mph = 0.44704
    for first, rest in ((5.9, LOAD.starting), (9.0, 0.0)):
        limits = np.array([0.0, first, 3.0, 4.0, 30.0, 30.0, 0.0]) * mph
        line = stretch(envelope=0.5 * limits**2, shutoff=0.5 * limits**2)
        line.dwell[3] = -1.0
        run, _ = recorded(line, start())
        assert run.status == a.ARRIVED
        assert run.nodes[a.ENERGY, 1:4] == pytest.approx(0.5 * limits[1:4] ** 2)
        for i in (1, 2):
            contents = run.nodes[a.WATER_ON_DEPARTURE, i] + run.nodes[a.FUEL_ON_DEPARTURE, i]
            pressure = run.nodes[a.PRESSURE, i]
            most = crew.allowed_steam(line, BOILER, i, pressure)
            here = StepConditions(i, contents, pressure, most, rest, START)
            step = tractive_step.solve_tractive_step(line, LOAD, helped(), here, run.nodes[a.ENERGY, i])
            assert run.steps[a.TOTAL_RESISTANCE, i] == pytest.approx(step.total_resistance)


def test_a_train_that_crawls_has_not_stalled() -> None:
    """At 0.9 m/s, which is less than 1 J/kg."""
    crawl = np.full(7, 0.4)
    crawl[[0, 6]] = 0.0
    line = stretch(envelope=crawl, shutoff=crawl)
    line.dwell[3] = -1.0
    run, _ = recorded(line, start())
    assert (run.status, run.last_node) == (a.ARRIVED, 6)
    assert run.nodes[a.ENERGY, 1:6] == pytest.approx(np.full(5, 0.4))
