"""Constants from road logs: coverage of the intervals, what is told apart, and changes that commands take."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from made_logs import PRESSURE, Turn, least_and_most, made_log, with_noise

from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.journey.kernel.arrays import CYLINDERS, STEAM
from locosim.journey.run import run_full_effort, run_journey
from locosim.loading import load_excursion
from locosim.model import Excursion
from locosim.model.road_log import RoadLog
from locosim.scenario.road_log import read_road_log
from locosim.studies import log_problem
from locosim.studies.fit import fit_log
from locosim.studies.log_constants import NAMES, changes_for, with_values
from locosim.studies.log_model import LogModel
from locosim.studies.log_noise import find_correlation_time, independent

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
SPRING = SCENARIOS / "excursions" / "spring_special.toml"
LOG = SCENARIOS / "logs" / "spring_special.csv"
TRIALS = 200
TRUE = {"car_rolling": 1.12, "machine_friction_share": 0.095}
TURNS = tuple(Turn(120.0, cutoff) for cutoff in (0.30, 0.25, 0, 0.35, 0, 0.2, 0.3, 0, 0.3, 0.4, 0, 0.25))


@cache
def spring() -> tuple[Excursion, Performance]:
    excursion = load_excursion(SPRING)
    return excursion, compute_excursion_performance(excursion)


def with_truth(values: dict[str, float]) -> tuple[Excursion, Performance]:
    """The excursion with true constants; its map has another friction, as compute_performance gives it."""
    excursion, performance = spring()
    true = with_values(excursion, values)
    share = true.assumptions.machine_friction_share
    changed = replace(performance.map, friction_share=share)
    return true, replace(performance, map=changed, assumptions=true.assumptions)


@cache
def clean_log() -> RoadLog:
    return made_log(*with_truth(TRUE), TURNS, place=3000.0, speed=10.0)


def inside(log: RoadLog, true: dict[str, float]) -> list[bool]:
    excursion, performance = spring()
    found = fit_log(log, excursion, tuple(true), performance=performance)
    return [each.low <= true[each.name] <= each.high for each in found.constants]


@pytest.mark.parametrize(
    "time", [0.0, 12.0], ids=["independent noise", "noise that hangs together over 12 s"]
)
def test_intervals_hold_the_true_constants_in_95_of_100_logs(time: float) -> None:
    # Too few would be intervals that promise too much, too many ones that throw away what the log tells.
    random = np.random.default_rng(2026)
    hits = np.sum([inside(with_noise(clean_log(), 0.12, time, random), TRUE) for _ in range(TRIALS)], axis=0)
    least, most = least_and_most(TRIALS, 0.95)
    assert np.all((least <= hits) & (hits <= most)), hits


def test_the_count_would_show_intervals_without_the_correlation(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_problem, "find_correlation_time", lambda *_: 0.0)
    random = np.random.default_rng(2026)
    hits = np.sum([inside(with_noise(clean_log(), 0.12, 12.0, random), TRUE) for _ in range(60)], axis=0)
    assert np.all(hits < least_and_most(60, 0.95)[0]), hits


def test_intervals_of_the_steam_hold_in_95_of_100_logs() -> None:
    excursion, performance = spring()
    true, rows = {"steam_rate_factor": 1.04}, np.arange(0, 289, 12)
    readings = np.full(len(clean_log().time), np.nan)
    readings[rows] = 17000.0  # to have readings at these rows at all
    model = LogModel(replace(clean_log(), tender_water=readings), excursion, performance)
    (water,) = [each for each in model.readings if each.kind == "water"]
    clean = model.predict(water, true, np.array([17000.0]))
    random, hits = np.random.default_rng(7), 0
    for _ in range(TRIALS):
        noisy = readings.copy()
        noisy[rows] = clean + random.normal(0.0, 60.0, len(rows))
        hits += inside(replace(clean_log(), tender_water=noisy), true)[0]
    least, most = least_and_most(TRIALS, 0.95)
    assert least <= hits <= most


def test_without_noise_the_constants_come_back() -> None:
    excursion, performance = spring()
    tiny = with_noise(clean_log(), 1e-4, 0.0, np.random.default_rng(1))
    found = fit_log(tiny, excursion, tuple(TRUE), performance=performance)
    for each in found.constants:
        assert each.value == pytest.approx(TRUE[each.name], rel=2e-4)


@pytest.mark.parametrize(
    ("name", "true"), [("resistance_factor", 1.15), ("car_mass", 1.04), ("headwind", 4.0)]
)
def test_other_constants_come_back_too(name: str, true: float) -> None:
    excursion, performance = spring()
    log = made_log(with_values(excursion, {name: true}), performance, TURNS, place=3000.0, speed=10.0)
    tiny = with_noise(log, 1e-3, 0.0, np.random.default_rng(1))
    (found,) = fit_log(tiny, excursion, (name,), performance=performance).constants
    assert found.value == pytest.approx(true, rel=2e-3)


def test_places_alone_tell_the_constants_too() -> None:
    excursion, _ = spring()
    noise = np.random.default_rng(5).normal(0.0, 3.0, len(clean_log().time))
    stopwatch = replace(clean_log(), place=clean_log().place + noise, speed=np.full(len(noise), np.nan))
    found = fit_log(stopwatch, excursion, ("car_rolling",), performance=with_truth(TRUE)[1])
    assert found.compared[0].kind == "place"
    assert found.compared[0].spread == pytest.approx(3.0, rel=0.2)
    (rolling,) = found.constants
    # The share of the true engine is that of the map given, but not of the excursion: it stays as it is.
    assert rolling.low - 0.02 < 1.12 < rolling.high + 0.02


def test_a_light_engine_shows_the_machine_friction_that_a_train_does_not(tmp_path: Path) -> None:
    light = tmp_path / "light.toml"
    light.write_text('name = "Light engine"\nvehicles = []\n', encoding="utf-8")
    excursion = load_excursion(SPRING, changes=[f"train={light}"])
    performance = compute_excursion_performance(excursion)
    true = with_values(excursion, {"machine_friction": 0.033})
    friction = machine_friction_at_no_effort(true.locomotive, true.assumptions)
    turns = (Turn(60.0, 0.2), Turn(300.0, 0.0), Turn(120.0, 0.2), Turn(300.0, 0.0))
    driven = replace(
        performance, map=replace(performance.map, friction=friction), assumptions=true.assumptions
    )
    log = made_log(true, driven, turns, place=3000.0, speed=10.0)
    found = fit_log(with_noise(log, 0.1, 10.0, np.random.default_rng(1)), excursion, performance=performance)
    by_name = {each.name: each for each in found.constants}
    assert by_name["machine_friction"].low < 0.033 < by_name["machine_friction"].high
    assert by_name["machine_friction_share"].low < 0.08 < by_name["machine_friction_share"].high
    assert by_name["machine_friction"].high - by_name["machine_friction"].low < 0.002


def test_a_log_against_the_chainage_of_the_route_is_read_so() -> None:
    excursion, performance = spring()
    stops = tuple(replace(stop, arrive=None, depart=None) for stop in reversed(excursion.stops))
    back, route = replace(excursion, direction="reverse", stops=stops), excursion.route
    true, driven = with_truth(TRUE)
    log = made_log(replace(true, direction="reverse", stops=stops), driven, TURNS, place=8000.0, speed=10.0)
    as_noted = replace(log, place=route.start + (route.end - log.place))
    assert as_noted.place[0] > as_noted.place[-1]
    noisy = with_noise(as_noted, 0.1, 10.0, np.random.default_rng(1))
    for each in fit_log(noisy, back, tuple(TRUE), performance=performance).constants:
        assert each.low < TRUE[each.name] < each.high


def test_full_effort_without_a_noted_cutoff_is_that_of_a_run_at_full_effort() -> None:
    excursion, performance = spring()
    journey = run_full_effort(excursion, performance)
    times = np.arange(journey.time[0], journey.time[-1], 5.0)
    step = np.clip(
        np.searchsorted(journey.departure_time, times, side="right") - 1, 0, len(journey.limit) - 1
    )
    blank = np.full(len(times), np.nan)
    log = RoadLog(
        name="full effort", time=times, place=np.interp(times, journey.time, journey.chainage),
        speed=np.interp(times, journey.time, journey.speed),
        throttle=np.where(np.isin(journey.limit[step], (STEAM, CYLINDERS)), 1.0, 0.5), cutoff=blank,
        pressure=np.interp(times, journey.time, journey.pressure) - 101325.0,
        braking=np.zeros(len(times), dtype=bool), tender_water=blank, fuel_fired=blank,
    )  # fmt: skip
    noisy = with_noise(log, 0.1, 10.0, np.random.default_rng(1))
    (rolling,) = fit_log(noisy, excursion, ("car_rolling",), performance=performance).constants
    assert rolling.low < 1.0 < rolling.high
    with pytest.raises(
        OutOfRange, match=r"cannot tell car_rolling and steam_rate_factor apart .* let the train coast"
    ):
        fit_log(noisy, excursion, ("car_rolling", "steam_rate_factor"), performance=performance)


def test_the_model_of_a_log_goes_as_a_run_does() -> None:
    """The integration over time, driven by the settings of a run, gives the speeds that the run had over distance."""
    excursion, performance = spring()
    journey = run_journey(excursion, performance, transient_boiler=True)
    times = np.arange(journey.time[0], journey.time[-1], 2.0)
    step = np.clip(
        np.searchsorted(journey.departure_time, times, side="right") - 1, 0, len(journey.cutoff) - 1
    )
    blank = np.full(len(times), np.nan)
    speed = np.interp(times, journey.time, journey.speed)
    log = RoadLog(
        name="run", time=times, place=np.interp(times, journey.time, journey.chainage), speed=speed,
        throttle=journey.throttle[step], cutoff=np.where(journey.cutoff[step] > 0, journey.cutoff[step], np.nan),
        pressure=np.interp(times, journey.time, journey.pressure) - 101325.0, braking=journey.brake[step] > 0.0,
        tender_water=np.interp(times, journey.time, journey.tender_water),
        fuel_fired=blank,
    )  # fmt: skip
    model = LogModel(log, excursion, performance)
    motion = model.readings[0]
    error = model.predict(motion, {}, model.first_levels(motion)) - motion.value
    assert len(error) > 1000
    assert (
        float(np.sqrt(np.mean(error**2))) < 0.1
    )  # the lever moves in every step of a run, and the log sees every 2 s


def test_the_demonstration_log_gives_its_constants_back() -> None:
    excursion, performance = spring()
    found = fit_log(read_road_log(LOG), excursion, performance=performance)
    true = {
        "car_rolling": 1.12,
        "machine_friction_share": 0.095,
        "steam_rate_factor": 1.04,
        "unburned_factor": 1.25,
    }
    for each in found.constants:
        assert each.low <= true[each.name] <= each.high, each
    assert {each.name for each in found.constants} == set(true)
    speed = found.compared[0]
    assert speed.spread == pytest.approx(0.12, rel=0.1)
    assert speed.correlation_time == pytest.approx(12.0, rel=0.5)


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (
            ("car_rolling", "machine_friction"),
            "cannot tell car_rolling and machine_friction apart .* engine running light",
        ),
        (
            ("car_rolling", "car_air", "headwind"),
            "cannot tell car_rolling, car_air and headwind apart .* in both directions",
        ),
        (("unburned_factor",), "shows nothing of unburned_factor: it needs the fuel fired"),
        (("steam_rate_factor",), "shows nothing of steam_rate_factor: it needs readings of the water"),
        (("car_roling",), "'car_roling' is not known; did you mean 'car_rolling'"),
        (("car_air", "car_air"), "named twice"),
    ],
)
def test_what_a_log_does_not_tell_is_refused_by_name(names: tuple[str, ...], told: str) -> None:
    excursion, performance = spring()
    log = with_noise(clean_log(), 0.12, 0.0, np.random.default_rng(3))
    with pytest.raises(OutOfRange, match=told):
        fit_log(log, excursion, names, performance=performance)


def test_a_log_of_coasting_alone_shows_no_friction_of_the_pistons() -> None:
    excursion, performance = spring()
    coasting = made_log(*with_truth(TRUE), (Turn(200.0, 0.0),), place=15000.0, speed=16.0)
    log = with_noise(coasting, 0.05, 0.0, np.random.default_rng(3))
    with pytest.raises(
        OutOfRange, match="shows nothing of machine_friction_share: the log needs stretches with"
    ):
        fit_log(log, excursion, ("machine_friction_share",), performance=performance)


def test_a_log_without_settings_is_refused_with_what_it_lacks() -> None:
    excursion, performance = spring()
    blank = np.full(len(clean_log().time), np.nan)
    with pytest.raises(
        OutOfRange, match=r"throttle and cutoff not noted: 24 min.*note throttle, cutoff and brake"
    ):
        fit_log(replace(clean_log(), throttle=blank, cutoff=blank), excursion, performance=performance)


def test_a_log_of_another_line_is_refused() -> None:
    excursion, performance = spring()
    with pytest.raises(OutOfRange, match="lie beyond the first and last stop"):
        fit_log(replace(clean_log(), place=clean_log().place + 1e6), excursion, performance=performance)


def test_gaps_brakes_and_a_partly_open_throttle_are_left_out() -> None:
    excursion, performance = spring()
    log = clean_log()
    late = np.where(np.arange(len(log.time)) >= 100, 300.0, 0.0)
    throttle, braking = log.throttle.copy(), log.braking.copy()
    throttle[50:60], braking[20:30] = 0.4, True
    spent = LogModel(
        replace(log, time=log.time + late, throttle=throttle, braking=braking), excursion, performance
    ).laid.times_by_state()
    assert spent["gap in the log"] == 305.0
    assert spent["throttle partly open"] == 50.0
    assert spent["brakes on"] == 50.0


@pytest.mark.parametrize("name", NAMES)
def test_changes_give_the_fitted_excursion(name: str) -> None:
    excursion, _ = spring()
    values = {
        "headwind": 3.3,
        "machine_friction": 0.03,
        "machine_friction_share": 0.07,
        "heating_value": 3.0e7,
    }
    fitted = with_values(excursion, {name: values.get(name, 1.07)})
    read = load_excursion(SPRING, changes=changes_for((name,), fitted))
    for part in ("train", "weather", "assumptions", "locomotive", "fuel"):
        assert figures(getattr(read, part)) == pytest.approx(figures(getattr(fitted, part)), rel=1e-5), part
    assert figures(read.train) != figures(excursion.train) or name not in (
        "car_mass",
        "car_rolling",
        "car_air",
    )


def figures(described: object) -> list[float]:
    """All figures of a description, in order."""
    if isinstance(described, tuple):
        return [figure for item in described for figure in figures(item)]
    if hasattr(described, "__dataclass_fields__"):
        own = [n for n in described.__dataclass_fields__ if n not in ("provenance", "anchors")]
        return [figure for n in own for figure in figures(getattr(described, n))]
    return [float(described)] if isinstance(described, int | float) else []


def test_the_correlation_time_of_noise_is_found() -> None:
    random = np.random.default_rng(11)
    found = []
    for _ in range(20):
        log = with_noise(clean_log(), 1.0, 15.0, random)
        spacing = np.append(np.inf, np.diff(log.time))
        found.append(
            find_correlation_time(log.speed - clean_log().speed, np.ones((len(spacing), 1)), spacing)
        )
    assert np.mean(found) == pytest.approx(15.0, rel=0.15)
    made = independent(log.speed - clean_log().speed, spacing, 15.0)
    assert abs(np.corrcoef(made[1:], made[:-1])[0, 1]) < 0.15


def test_independent_noise_has_no_correlation_time() -> None:
    noise = np.random.default_rng(4).normal(size=400)
    spacing = np.append(np.inf, np.full(399, 5.0))
    assert find_correlation_time(noise, np.ones((400, 1)), spacing) == 0.0


def test_an_impossible_wish_of_a_log_is_no_result() -> None:
    excursion, performance = spring()
    wrong = replace(clean_log(), speed=clean_log().speed * 0.28)
    with pytest.raises(OutOfRange, match="the end of what was searched"):
        fit_log(wrong, excursion, ("car_rolling",), performance=performance)


def test_a_log_that_the_model_cannot_follow_is_told() -> None:
    excursion, performance = spring()
    miles_read_as_kilometers = replace(clean_log(), speed=clean_log().speed / 1.609)
    found = fit_log(miles_read_as_kilometers, excursion, ("car_rolling",), performance=performance)
    assert not found.constants[0].believable
    assert any(
        "lies outside its believable range: look for an error in the log" in note for note in found.notes
    )
    assert any("hang together in another way than assumed" in note for note in found.notes)


def test_pressure_not_noted_is_told() -> None:
    excursion, performance = spring()
    log = with_noise(
        replace(clean_log(), pressure=np.full(len(clean_log().time), np.nan)),
        0.1,
        0.0,
        np.random.default_rng(2),
    )
    found = fit_log(log, excursion, ("car_rolling",), performance=performance)
    assert any("gives no boiler pressure" in note for note in found.notes)
    assert performance.locomotive.boiler.working_pressure_gauge > PRESSURE
