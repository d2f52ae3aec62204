"""The kernel compared with a general solver of differential equations, and with itself at half the step."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import trials
from continuous import Arrival, Continuous, run_continuous

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup.prepare import MAX_STEP
from locosim.model import Curve, Excursion, SpeedLimit, Weather
from locosim.scenario import load_excursion

EXCURSIONS = sorted((Path(__file__).parents[2] / "scenarios" / "excursions").glob("*.toml"))

# Length [m] and grade: climbs and descents of unequal length, with one long climb that slows the train.
UNEVEN = (
    (730.0, 0.0),
    (410.0, 0.004),
    (1290.0, -0.006),
    (355.0, 0.002),
    (2870.0, 0.0105),
    (605.0, 0.0),
    (1740.0, -0.008),
    (980.0, 0.0065),
    (1333.0, -0.0015),
    (3100.0, 0.003),
    (1200.0, -0.002),
)


def uneven() -> Excursion:
    route = trials.line(
        UNEVEN,
        stops=(6800.0,),
        speed_limit=22.0,
        speed_limits=(
            SpeedLimit(start=3100.0, end=3420.0, speed=11.0),
            SpeedLimit(start=10500.0, end=11800.0, speed=14.0),
        ),
        curves=(
            Curve(start=1700.0, end=2050.0, radius=450.0),
            Curve(start=5200.0, end=5900.0, radius=300.0),
            Curve(start=11000.0, end=11350.0, radius=600.0),
        ),
    )
    return trials.excursion(route, weather=Weather(temperature=281.0, headwind=3.0))


@lru_cache
def by_solver() -> list[Arrival]:
    excursion = uneven()
    return run_continuous(excursion, trials.performance(excursion))


@lru_cache
def by_kernel(step: float) -> Journey:
    excursion = uneven()
    return run_journey(excursion, trials.performance(excursion), step=step, transient_boiler=False)


def running_times(arrivals: list[float], leaving: list[float]) -> list[float]:
    return [b - a for a, b in zip(leaving[:-1], arrivals[1:], strict=True)]


@pytest.mark.parametrize(("step", "within"), [(MAX_STEP, 5e-4), (MAX_STEP / 4, 2e-4)])
def test_running_time_agrees_with_a_general_solver(step: float, within: float) -> None:
    # 0.05 % is required at the step in use.
    journey, reference = by_kernel(step), by_solver()
    dwell = journey.excursion.stops[1].dwell
    expected = running_times([a.time for a in reference], [reference[0].time, reference[1].time + dwell, 0.0])
    found = running_times([s.arrive for s in journey.stops], [s.depart for s in journey.stops])
    assert found == pytest.approx(expected, rel=within)


@pytest.mark.parametrize(("step", "within"), [(MAX_STEP, 2e-3), (MAX_STEP / 4, 4e-4)])
def test_water_and_fuel_agree_with_a_general_solver(step: float, within: float) -> None:
    # A step in which full effort ends counts in two parts; with one mean effort for it the error is
    # 4e-3 with steps of 40 m and 2.4e-3 with 20 m.
    journey, reference = by_kernel(step), by_solver()
    used = [(journey.stops[0].water_on_departure - s.water_on_arrival) for s in journey.stops[1:]]
    burned = [(journey.stops[0].fuel_on_departure - s.fuel_on_arrival) for s in journey.stops[1:]]
    assert used == pytest.approx([reference[0].water - a.water for a in reference[1:]], rel=within)
    assert burned == pytest.approx([reference[0].fuel - a.fuel for a in reference[1:]], rel=within)


def test_speed_stays_below_limits_and_braking_curves() -> None:
    journey = by_kernel(MAX_STEP)
    case = Continuous(journey.excursion, journey.performance)
    allowed = np.array([case.top(at) for at in journey.chainage])
    assert np.all(journey.speed <= allowed + 1e-6)
    # The envelope at the nodes is the continuous one, except in a step in which braking begins.
    on_the_way = ~np.isin(journey.chainage, case.stops)
    assert np.max((allowed - journey.allowed_speed)[on_the_way]) < 0.15
    assert np.all(journey.allowed_speed <= allowed + 1e-6)


@pytest.mark.parametrize("path", EXCURSIONS, ids=lambda path: path.stem)
def test_half_the_step_changes_little(path: Path) -> None:
    # Required: arrival within 0.1 % of the running time, lowest pressure within 0.5 %.
    excursion = load_excursion(path)
    performance = compute_excursion_performance(excursion)
    whole, half = (
        run_journey(excursion, performance, step=step, transient_boiler=True)
        for step in (MAX_STEP, MAX_STEP / 2)
    )
    assert whole.outcome == half.outcome
    if whole.outcome == "stalled":
        # A train stalls slowly, where effort and resistance nearly balance: 0.2 % of the distance.
        run = half.end_chainage - float(half.chainage[0])
        assert whole.end_chainage == pytest.approx(half.end_chainage, abs=2e-3 * run)
        return
    assert whole.duration == pytest.approx(half.duration, rel=1e-3)
    assert float(whole.pressure.min()) == pytest.approx(float(half.pressure.min()), rel=5e-3)


@pytest.mark.parametrize("step", [3.0, 5.0, 7.0, 40.0, 80.0])
def test_any_step_arrives(step: float) -> None:
    journey = by_kernel(step)
    assert journey.arrived
    assert journey.duration == pytest.approx(by_kernel(10.0).duration, rel=2e-4)
