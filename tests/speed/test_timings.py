"""Timings, run with `pytest tests/speed --benchmark-enable`; without it they are plain tests."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trials
from long_line import two_hundred_kilometres

from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.cylinders.operating_points import operating_points
from locosim.engine.map.from_cycle import build_map
from locosim.engine.performance import compute_excursion_performance, compute_performance
from locosim.engine.speed_curve import evenly_spaced_speeds, speed_curve
from locosim.journey.needs import steam_need
from locosim.journey.run import run_journey, run_prepared, run_to_timetable, with_rehearsal
from locosim.journey.setup.prepare import prepare
from locosim.planning.check import run_and_check
from locosim.planning.load import find_load
from locosim.scenario import load_excursion, load_locomotive
from locosim.side_by_side import answering_side_by_side

SCENARIOS = Path(__file__).parents[2] / "scenarios"
pytestmark = pytest.mark.speed


def took(benchmark: Any) -> float:
    """Shortest time of a call [s], as other work on the machine only adds; 0 where timings are off."""
    return float(benchmark.stats.stats.min) if benchmark.stats else 0.0


@pytest.mark.parametrize("transient", [True, False], ids=["transient boiler", "steady boiler"])
def test_one_run_of_two_hundred_kilometres(benchmark: Any, transient: bool) -> None:
    excursion = two_hundred_kilometres()
    prepared = prepare(excursion, trials.performance(excursion), transient_boiler=transient)
    if transient:
        prepared = with_rehearsal(prepared)
    arrays = benchmark(run_prepared, prepared)
    assert arrays.last_node == len(prepared.chainage) - 1 > 3000
    assert took(benchmark) < 5e-3


def test_one_journey(benchmark: Any) -> None:
    excursion = two_hundred_kilometres()
    performance = trials.performance(excursion)
    journey = benchmark(run_journey, excursion, performance, transient_boiler=True)
    assert journey.arrived
    assert took(benchmark) < 0.2


def test_one_drive_to_the_timetable(benchmark: Any) -> None:
    excursion = load_excursion(SCENARIOS / "excursions" / "spring_special.toml")
    performance = compute_excursion_performance(excursion)
    journey = benchmark(run_to_timetable, excursion, performance)
    assert len(journey.ease) == 4
    assert took(benchmark) < 0.2


def test_one_search_for_the_steam_need(benchmark: Any) -> None:
    excursion = load_excursion(SCENARIOS / "excursions" / "spring_special.toml")
    performance = compute_excursion_performance(excursion)
    assert benchmark(steam_need, excursion, performance).share < 1.0
    assert took(benchmark) < 0.1


def test_one_curve(benchmark: Any) -> None:
    performance = compute_performance(
        load_locomotive(SCENARIOS / "engines" / "teasel.toml"), method="handbook"
    )
    speeds = evenly_spaced_speeds(performance, 0.447)
    points = benchmark(speed_curve, performance, speeds=speeds)
    assert len(points) == len(speeds) > 40
    assert took(benchmark) < 0.05


def test_one_check_with_the_engine_known(benchmark: Any) -> None:
    asked = replace(load_excursion(SCENARIOS / "excursions" / "spring_special.toml"), method="handbook")
    performance = compute_excursion_performance(asked)
    checked = benchmark(run_and_check, asked, performance)
    assert checked.verdict in ("clear", "tight", "stop")
    assert took(benchmark) < 0.2


@pytest.mark.parametrize(
    "name", ["spring_special", "harvest_excursion", "winter_freight", "summit_express"]
)  # fmt: skip
def test_one_search_for_a_load_on_two_cores(benchmark: Any, name: str) -> None:
    asked = load_excursion(SCENARIOS / "excursions" / f"{name}.toml")
    with answering_side_by_side():
        rating = benchmark.pedantic(find_load, (asked,), rounds=5, warmup_rounds=1)
    assert len(rating.sections) == len(asked.stops) - 1
    assert took(benchmark) < 0.5


def test_one_handbook_map(benchmark: Any) -> None:
    from locosim.engine.map.from_handbook import handbook_map

    engine = load_locomotive(SCENARIOS / "engines" / "teasel.toml")
    assert benchmark(handbook_map, engine).effort.max() > 0.0
    assert took(benchmark) < 0.2


def test_a_thousand_points_of_the_cycle(benchmark: Any) -> None:
    engine = build_cycle_layout(load_locomotive(SCENARIOS / "engines" / "teasel.toml"))
    grid = {
        "speeds": np.linspace(1.0, 25.0, 25)[:, None],
        "cutoffs": np.linspace(0.15, 0.8, 40)[None, :],
        "pressures": engine.locomotive.boiler.absolute_pressure,
        "temperatures": np.full((25, 40), 600.0),
    }
    found = benchmark.pedantic(operating_points, (engine,), grid, rounds=3, warmup_rounds=1)
    assert np.count_nonzero(np.isfinite(found.effort)) > 900
    assert took(benchmark) < 2.5


def test_one_map_by_the_cycle(benchmark: Any) -> None:
    engine = build_cycle_layout(load_locomotive(SCENARIOS / "engines" / "teasel.toml"))
    performance_map = benchmark.pedantic(build_map, (engine,), rounds=3, warmup_rounds=1)
    assert performance_map.effort.max() > 0.0
    assert took(benchmark) < 2.5
