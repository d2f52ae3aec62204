"""Laws of the performance map over random engines, and one excursion in two systems of units."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from drawn import engines
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.by_handbook import handbook_supply
from locosim.engine.map.from_handbook import handbook_map
from locosim.engine.performance import compute_excursion_performance, compute_performance
from locosim.engine.speed_curve import speed_curve
from locosim.journey.run import run_journey
from locosim.model import Crew, Fuel, Locomotive
from locosim.scenario import load_excursion

# No shrinking: it takes minutes.
PHASES = (Phase.explicit, Phase.generate)
QUICK = settings(derandomize=True, deadline=None, max_examples=40, phases=PHASES)
DATA = Path(__file__).parents[1] / "scenario" / "data"


@QUICK
@given(engines())
def test_effort_never_falls_with_cutoff_and_pressure_nor_rises_with_speed(engine: Locomotive) -> None:
    performance_map = handbook_map(engine)
    grain = 1e-9 * float(performance_map.effort.max())
    assert np.all(np.diff(performance_map.effort, axis=2) >= -grain)  # cutoff
    assert np.all(np.diff(performance_map.effort, axis=0) >= -grain)  # pressure
    assert np.all(np.diff(performance_map.effort, axis=1) <= grain)  # speed
    assert np.all(performance_map.effort >= 0.0)


@QUICK
@given(engines())
def test_steam_rises_with_effort_and_is_zero_at_rest(engine: Locomotive) -> None:
    performance_map = handbook_map(engine)
    assert np.all(performance_map.steam[:, 0, :] == 0.0)
    wide = performance_map.wide_open
    assert np.all(np.diff(performance_map.steam[:, 1:, wide:], axis=0) >= 0.0)
    # Where all cutoffs give the same effort, as on the speed curve, there is nothing to compare.
    steam, pull = performance_map.steam[:, 1:, :], performance_map.effort[:, 1:, :]
    compared = (np.diff(pull, axis=2) > 1e-9 * pull.max()) & (performance_map.cutoffs[:-1] >= 0.25)
    assert np.all(np.diff(steam, axis=2)[compared] > 0.0)
    # Shorter cutoffs expand below the back pressure at low pressure or high piston speed, and may use a few
    # hundredths more than the next.
    assert np.all(
        np.diff(performance_map.steam[:, 1:, :], axis=2) >= -0.08 * performance_map.steam[:, 1:, :-1]
    )


@QUICK
@given(engines(), st.floats(1.05, 1.3))
def test_effort_at_a_given_steam_never_falls_with_boiler_pressure(engine: Locomotive, more: float) -> None:
    working = engine.boiler.working_pressure_gauge
    raised = replace(engine, boiler=replace(engine.boiler, working_pressure_gauge=more * working))
    one, other = handbook_map(engine), handbook_map(raised)
    grain = 1e-4 * float(one.effort.max())
    low, pressure, high = (ATMOSPHERE + part * working for part in (1.0 / more, 1.0, more))
    for speed in np.linspace(0.1, 0.99, 6) * one.max_speed:
        wide = one.steam_at(speed=speed, cutoff=float(one.cutoffs[-1]), pressure=pressure)
        for steam in np.linspace(0.05, 1.0, 20) * wide:
            in_less, in_one = (
                one.max_effort(speed=speed, pressure=p, steam=steam)[0] for p in (low, pressure)
            )
            in_other, _ = other.max_effort(speed=speed, pressure=high, steam=steam)
            # The maps are straight between nodes where the curves are not, and the corner of a speed curve moves
            # within a step of cutoff.
            assert in_one >= in_less * (1 - 2e-3) - grain
            assert in_other >= in_one * (1 - 1e-2) - grain


@QUICK
@given(engines(), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_values_read_from_the_map_lie_between_its_nodes(
    engine: Locomotive, a: float, b: float, c: float
) -> None:
    performance_map = handbook_map(engine)

    def share(axis: np.ndarray, part: float) -> float:
        return float(axis[0] + part * (axis[-1] - axis[0]))

    at = {
        "pressure": share(performance_map.pressures, a),
        "speed": share(performance_map.speeds, b),
        "cutoff": share(performance_map.cutoffs, c),
    }
    cell = []
    for axis, value in (
        (performance_map.pressures, at["pressure"]),
        (performance_map.speeds, at["speed"]),
        (performance_map.cutoffs, at["cutoff"]),
    ):
        k = int(np.clip(np.searchsorted(axis, value, side="right") - 1, 0, len(axis) - 2))
        cell.append(slice(k, k + 2))
    corner = performance_map.effort[tuple(cell)]
    found = performance_map.effort_at(**at)
    grain = 1e-9 * float(performance_map.effort.max())
    assert corner.min() - grain <= found <= corner.max() + grain


@QUICK
@given(engines())
def test_the_curve_stays_within_the_sustained_steam_and_falls(engine: Locomotive) -> None:
    performance = compute_performance(engine, method="handbook")
    top = performance.map.max_speed
    points = speed_curve(performance, speeds=tuple(np.linspace(0.0, top * 0.999, 25)))
    assert all(p.steam <= max(performance.sustained_cylinder_steam, 0.0) * (1 + 1e-9) + 1e-12 for p in points)
    efforts = [p.indicated_effort for p in points]
    assert np.all(np.diff(efforts) <= 1e-6)


@QUICK
@given(engines(), st.floats(1.02, 1.5))
def test_a_larger_grate_never_makes_less_steam(engine: Locomotive, more: float) -> None:
    larger = replace(engine, boiler=replace(engine.boiler, grate_area=engine.boiler.grate_area * more))
    one, other = (handbook_supply(e, Fuel(), Crew()).sustained for e in (engine, larger))
    assert other >= one * (1 - 1e-9)


def test_an_excursion_in_trade_units_and_its_twin_in_si_are_the_same() -> None:
    trade = load_excursion(DATA / "excursions" / "mixed.toml", ["method=handbook"])
    twin = load_excursion(Path(__file__).parent / "data" / "trip_si.toml", ["method=handbook"])
    one, other = (
        run_journey(x, compute_excursion_performance(x), transient_boiler=True) for x in (trade, twin)
    )
    assert one.outcome == other.outcome
    assert len(one.time) == len(other.time)
    assert one.duration == pytest.approx(other.duration, rel=1e-9)
    assert one.fuel_burned == pytest.approx(other.fuel_burned, rel=1e-9)
    assert one.speed == pytest.approx(other.speed, rel=1e-7, abs=1e-7)
    assert one.pressure == pytest.approx(other.pressure, rel=1e-9)
