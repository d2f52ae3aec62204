"""A train run as a log says, against the run of the kernel over distance and against arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
import trials
from plain_python import in_plain_python

from locosim.engine.map import interpolation
from locosim.journey.kernel import crew, logged_steps, tractive_step
from locosim.journey.kernel.arrays import StepConditions
from locosim.journey.kernel.effort_tables import fill_effort_tables
from locosim.journey.kernel.logged_steps import (
    BY_CUTOFF,
    BY_MOTION,
    FULL_EFFORT,
    MIN_SPEED,
    SHUT,
    UNKNOWN,
    LoggedRows,
    follow_log,
    steam_of_log,
    step_at,
)
from locosim.journey.run import run_full_effort
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.physics.resistance import starting

ASKED = trials.excursion(trials.line([(3000.0, 0.0), (4000.0, 0.006), (2000.0, 0.0)], speed_limit=30.0))
PERFORMANCE = trials.performance(ASKED)
PREPARED: PreparedRun = prepare(ASKED, PERFORMANCE, transient_boiler=False)
MODEL = (PREPARED.line, PREPARED.load, PREPARED.engine, PREPARED.boiler)
WORKING = ASKED.locomotive.boiler.absolute_pressure
CARRIED = PREPARED.start.tender_water + PREPARED.start.tender_fuel


def rows(
    times: np.ndarray, driving: int, *, distance: float | np.ndarray = 500.0, cutoff: float = 0.3
) -> LoggedRows:
    count = len(times)
    return LoggedRows(
        time=times,
        distance=np.broadcast_to(distance, count).astype(float),
        driving=np.full(count, driving),
        cutoff=np.full(count, cutoff),
        pressure=np.full(count, WORKING),
        contents=np.full(count, CARRIED),
        acceleration=np.zeros(count),
        stretch=np.append(np.zeros(count - 1, dtype=np.int64), -1),
    )


def resistance(speed: float) -> float:
    """Running resistance and machine friction without steam, on the level [N]."""
    load = PREPARED.load
    a, b = load.a + load.a_contents * CARRIED, load.b + load.b_contents * CARRIED
    return float(a + b * speed + load.c * (speed + load.wind) ** 2 + PREPARED.engine.friction)


def test_full_effort_over_time_is_full_effort_over_distance() -> None:
    journey = run_full_effort(ASKED, PERFORMANCE)
    part = (journey.speed > 5.0) & (journey.chainage < 8000.0)
    first = int(np.argmax(part))
    last = len(part) - 1 - int(np.argmax(part[::-1]))
    times = np.arange(journey.time[first], journey.time[last], 5.0)
    places = np.interp(times, journey.time, journey.chainage) - journey.chainage[0]
    found, covered = follow_log(*MODEL, rows(times, FULL_EFFORT, distance=places), journey.speed[[first]])
    assert len(times) > 40
    # The run over distance uses water on the way, which makes it lighter by 1 %.
    assert found == pytest.approx(np.interp(times, journey.time, journey.speed), rel=0.02)
    assert covered[-1] == pytest.approx(places[-1] - places[0], rel=0.01)


def test_with_the_throttle_shut_the_resistance_alone_slows_the_train() -> None:
    times = np.array([0.0, 4.0, 8.0])
    found, covered = follow_log(*MODEL, rows(times, SHUT), np.array([15.0]))
    inertia = PREPARED.load.mass + CARRIED + PREPARED.load.rotating
    slowing = resistance(14.95) / inertia
    assert (found[0] - found) == pytest.approx(slowing * times, rel=0.02)
    assert covered == pytest.approx(15.0 * times - 0.5 * slowing * times**2, rel=1e-4)


def test_a_train_that_the_model_stops_creeps_on() -> None:
    times = np.arange(0.0, 200.0, 20.0)
    found, _ = follow_log(*MODEL, rows(times, SHUT, distance=5000.0), np.array([3.0]))
    assert found[-1] == MIN_SPEED


def test_each_stretch_begins_at_its_own_speed_and_between_them_is_nothing() -> None:
    made = rows(np.arange(0.0, 25.0, 5.0), BY_CUTOFF)._replace(stretch=np.array([0, -1, 1, 1, -1]))
    found, covered = follow_log(*MODEL, made, np.array([8.0, 12.0]))
    assert found[[0, 2]].tolist() == [8.0, 12.0]
    assert covered[[0, 2]].tolist() == [0.0, 0.0]
    assert np.all(np.diff(found[2:]) > 0.0)
    alone = made._replace(stretch=np.array([-1, -1, 0, -1, -1]))
    assert np.isnan(follow_log(*MODEL, alone, np.array([8.0]))[0]).tolist() == [
        True,
        True,
        False,
        False,
        True,
    ]


def test_a_longer_cutoff_pulls_harder_and_the_steam_is_that_of_the_map() -> None:
    times = np.array([0.0, 5.0])
    found = [
        follow_log(*MODEL, rows(times, BY_CUTOFF, cutoff=cutoff), np.array([10.0]))[0][-1]
        for cutoff in (0.25, 0.35, 0.5)
    ]
    assert found == sorted(found)
    grid = PREPARED.engine.grid
    j = round(10.0 / grid.speed_step)
    speed = j * grid.speed_step
    i = grid.effort.shape[0] - 1
    cutoff = grid.cutoff_start + 2 * grid.cutoff_step
    at_top = rows(times, BY_CUTOFF, cutoff=cutoff)._replace(
        pressure=np.full(2, grid.pressure_start + i * grid.pressure_step)
    )
    steam = steam_of_log(*MODEL, at_top, np.array([speed, speed]))
    assert steam[0] / 5.0 == pytest.approx(grid.steam[i, j, grid.wide_open + 2], rel=1e-6)


def test_steam_of_the_motion_is_that_of_the_effort_that_makes_it() -> None:
    times, speeds = np.array([0.0, 1.0]), np.array([12.0, 12.0])
    steam, rate = {}, {}
    for driving in (FULL_EFFORT, BY_CUTOFF):
        found, _ = follow_log(*MODEL, rows(times, driving), speeds[:1])
        rate[driving] = found[1] - found[0]
        steam[driving] = steam_of_log(*MODEL, rows(times, driving), speeds)[0]
    for driving in (FULL_EFFORT, BY_CUTOFF):
        made = rows(times, BY_MOTION)._replace(acceleration=np.array([rate[driving], 0.0]))
        assert steam_of_log(*MODEL, made, speeds)[0] == pytest.approx(steam[driving], rel=0.02)
    braked = rows(times, BY_MOTION)._replace(acceleration=np.array([-0.5, 0.0]))
    drifting = PREPARED.engine.drifting_steam
    assert steam_of_log(*MODEL, braked, speeds)[0] == pytest.approx(drifting)
    assert steam_of_log(*MODEL, rows(times, SHUT), speeds)[0] == pytest.approx(drifting)
    assert steam_of_log(*MODEL, rows(times, SHUT), 0.0 * speeds)[0] == 0.0
    assert steam_of_log(*MODEL, rows(times, UNKNOWN), speeds).tolist() == [0.0, 0.0]


def test_the_step_is_found_from_any_guess() -> None:
    distance = PREPARED.line.distance
    plain = getattr(step_at, "py_func", step_at)
    for place in (-10.0, 0.0, 777.7, 5000.0, float(distance[-1]) + 10.0):
        expected = min(max(int(np.searchsorted(distance, place, side="right")) - 1, 0), len(distance) - 2)
        assert {plain(PREPARED.line, place, guess) for guess in (-5, 0, 3, 10**6)} == {expected}


def test_tables_of_effort_and_fuel() -> None:
    resisting, effort, fuel = np.zeros(8), np.zeros(8), np.zeros((8, 5))
    fill_effort_tables(*MODEL, 3, CARRIED, 2.5, resisting, effort, fuel)
    assert resisting[4] == pytest.approx(resistance(10.0), rel=1e-9)
    assert np.all(np.diff(resisting) > 0.0)
    assert np.all(np.diff(effort) <= 0.0)
    assert np.all(np.diff(fuel[1:], axis=1) > 0.0)  # at rest no effort takes steam
    full, _ = follow_log(*MODEL, rows(np.array([0.0, 0.01]), FULL_EFFORT), np.array([10.0]))
    inertia = PREPARED.load.mass + CARRIED + PREPARED.load.rotating
    assert effort[4] - resisting[4] == pytest.approx(inertia * (full[1] - 10.0) / 0.01, rel=1e-3)


# By hand, in plain Python.


def test_between_rows_place_pressure_and_load_change_evenly(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, logged_steps, crew)
    made = rows(np.array([0.0, 10.0, 20.0]), SHUT)._replace(
        distance=np.array([100.0, 900.0, 5000.0]), pressure=np.array([12e5, 11e5, 8e5]),
        contents=np.array([20e3, 19e3, 15e3]),
    )  # fmt: skip
    line, boiler = PREPARED.line, PREPARED.boiler
    for j, part, expected in (
        (0, 0.0, (100.0, 12e5, 20e3)), (0, 0.25, (300.0, 11.75e5, 19.75e3)), (1, 0.25, (1925.0, 10.25e5, 18e3)),
    ):  # fmt: skip
        found = logged_steps.conditions_at(line, boiler, made, j, part, 0)
        place = int(np.searchsorted(line.distance, expected[0], side="right")) - 1
        assert (found.i, found.starting) == (place, 0.0)
        assert (found.pressure, found.contents) == pytest.approx(expected[1:])
        assert found.max_steam == pytest.approx(crew.allowed_steam(line, boiler, place, expected[1]))


@pytest.fixture
def asked_at(monkeypatch: pytest.MonkeyPatch) -> list[tuple[float, float]]:
    """Load and speed at which the acceleration is asked for; it falls with the speed and with the load."""
    in_plain_python(monkeypatch, logged_steps)
    asked: list[tuple[float, float]] = []

    def slowing(*given: object) -> float:
        conditions, speed = given[4], given[7]
        asked.append((conditions.contents, speed))  # type: ignore[attr-defined, arg-type]
        return -0.02 * speed - 1e-6 * conditions.contents  # type: ignore[attr-defined, operator, no-any-return]

    monkeypatch.setattr(logged_steps, "logged_acceleration", slowing)
    return asked


@pytest.mark.parametrize(("seconds", "steps"), [(1.0, 1), (2.0, 1), (2.1, 2), (5.9, 3)])
def test_steps_over_time_are_midpoint_steps(
    seconds: float, steps: int, asked_at: list[tuple[float, float]]
) -> None:
    made = rows(np.array([50.0, 50.0 + seconds]), SHUT)._replace(contents=np.array([20e3, 10e3]))
    speed, covered = np.full(2, np.nan), np.full(2, np.nan)
    logged_steps.follow_rows(*MODEL, made, np.array([12.0]), speed, covered)
    v, x, h = 12.0, 0.0, seconds / steps
    expected = []
    for k in range(steps):
        load = 20e3 - 10e3 * k / steps
        middle = v + 0.5 * h * (-0.02 * v - 1e-6 * load)
        load_there = load - 5e3 / steps
        after = v + h * (-0.02 * middle - 1e-6 * load_there)
        expected += [(load, v), (load_there, middle)]
        x += 0.5 * h * (v + after)
        v = after
    assert asked_at == [pytest.approx(each) for each in expected]
    assert (speed.tolist(), covered.tolist()) == ([12.0, pytest.approx(v)], [0.0, pytest.approx(x)])


def test_no_speed_is_less_than_a_tenth_of_a_meter_a_second(asked_at: list[tuple[float, float]]) -> None:
    made = rows(np.array([0.0, 1.0, 2.0]), SHUT)._replace(contents=np.full(3, 10e6))
    speed, covered = np.full(3, np.nan), np.full(3, np.nan)
    logged_steps.follow_rows(*MODEL, made, np.array([5.0]), speed, covered)
    assert speed.tolist() == [5.0, 0.1, 0.1]
    assert [v for _, v in asked_at] == [5.0, 0.1, 0.1, 0.1]
    assert covered.tolist() == pytest.approx([0.0, 2.55, 2.65])


def test_steam_by_cutoff_is_that_of_a_general_interpolator() -> None:
    from scipy.interpolate import RegularGridInterpolator

    grid = PREPARED.engine.grid
    pressures, speeds, nodes = (np.arange(count, dtype=float) for count in grid.effort.shape)
    general = RegularGridInterpolator((pressures, speeds, nodes), grid.steam)
    times, logged = np.array([100.0, 104.0, 111.0]), np.array([8.0, 11.0, 15.0])
    made = rows(times, BY_CUTOFF, cutoff=grid.cutoff_start + 3.4 * grid.cutoff_step)._replace(
        pressure=grid.pressure_start + grid.pressure_step * np.array([4.2, 4.6, 5.4])
    )
    found = steam_of_log(*MODEL, made, logged)
    at = [
        (4.4, 9.5 / grid.speed_step, grid.wide_open + 3.4),
        (5.0, 13.0 / grid.speed_step, grid.wide_open + 3.4),
    ]
    assert found[:2] == pytest.approx(general(at) * np.array([4.0, 7.0]), rel=1e-9)
    assert found[2] == 0.0


def test_the_codes_of_driving_differ() -> None:
    assert len({UNKNOWN, SHUT, BY_CUTOFF, FULL_EFFORT, BY_MOTION}) == 5


def test_acceleration_by_cutoff_is_that_of_the_map(monkeypatch: pytest.MonkeyPatch) -> None:
    from scipy.interpolate import RegularGridInterpolator

    in_plain_python(monkeypatch, logged_steps, tractive_step, interpolation, starting)
    grid, engine = PREPARED.engine.grid, PREPARED.engine
    general = RegularGridInterpolator([np.arange(n, dtype=float) for n in grid.effort.shape], grid.effort)
    last = grid.effort.shape[1] - 1
    for place, speed_cells, cutoffs in ((4.4, 3.7, 2.3), (5.6, 6.2, 4.8), (4.4, float(last), 2.3)):
        pressure = grid.pressure_start + place * grid.pressure_step
        speed = speed_cells * grid.speed_step
        cutoff = grid.cutoff_start + cutoffs * grid.cutoff_step
        at = StepConditions(0, CARRIED, pressure, 1e9, 0.0, interpolation.Cells(0, 0))
        found = logged_steps.logged_acceleration(*MODEL, at, BY_CUTOFF, cutoff, speed)
        effort = float(general([(place, speed_cells, grid.wide_open + cutoffs)])[0])
        inertia = PREPARED.load.mass + CARRIED + PREPARED.load.rotating
        resisting = tractive_step.resisting_force(PREPARED.line, PREPARED.load, engine, at, speed)
        expected = ((1.0 - engine.friction_share) * effort - resisting) / inertia
        assert found == pytest.approx(expected, rel=1e-9)
        shut = logged_steps.logged_acceleration(*MODEL, at, SHUT, cutoff, speed)
        assert shut == pytest.approx(-resisting / inertia)
