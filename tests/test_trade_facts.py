"""Facts of the trade that every engine crew knows; common practice, no source ([Trade])."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from locosim.engine.map.from_handbook import handbook_map
from locosim.engine.rated_effort import rated_effort, unit_efforts
from locosim.model import Boiler, Cylinders, EngineUnit, Locomotive, Tender

ROOT = Path(__file__).parents[1]
ENGINES = sorted((ROOT / "scenarios" / "engines").glob("*.toml"))


def engine(*, units: int) -> Locomotive:
    """An invented engine with a pair of 26 by 30 in cylinders on each engine unit."""
    unit = EngineUnit(
        driver_diameter=1.6,
        driving_axles=4,
        mass_on_drivers=110_000.0,
        cylinders=(Cylinders(number=2, bore=26 * 0.0254, stroke=30 * 0.0254),),
    )
    return Locomotive(
        name="invented",
        mass=300_000.0,
        length=25.0,
        boiler=Boiler(working_pressure_gauge=1.5e6, grate_area=8.0, firebox_surface=35.0, tube_surface=350.0),
        engine_units=(unit,) * units,
        tender=Tender(empty_mass=60_000.0, water_capacity=60.0, fuel_capacity=15_000.0, axles=6),
    )


def test_a_26_by_30_in_cylinder_sweeps_9_22_cubic_feet_per_stroke() -> None:
    cylinders = engine(units=1).engine_units[0].cylinders[0]
    assert cylinders.swept_volume / 0.3048**3 == pytest.approx(9.22, abs=0.005)


def test_an_articulated_engine_has_twice_the_effort_of_one_engine_unit() -> None:
    articulated = engine(units=2)
    first, second = unit_efforts(articulated)
    assert first == pytest.approx(second)
    assert rated_effort(articulated) == pytest.approx(2 * rated_effort(engine(units=1)))


def test_power_reverse_lets_any_cutoff_be_set() -> None:
    """No notches: every cutoff between the ends has its own effort, and that effort gives the same cutoff."""
    performance = handbook_map(engine(units=1))
    pressure, speed = 1.5e6 + 101_325.0, 2.0
    first, last = performance.cutoffs[0], performance.cutoffs[-1]
    for share in (0.013, 0.271, 0.618, 0.707):
        cutoff = float(first + share * (last - first))
        effort = performance.effort_at(speed=speed, cutoff=cutoff, pressure=pressure)
        found = performance.setting_for(effort=effort, speed=speed, pressure=pressure).cutoff
        assert found == pytest.approx(cutoff, abs=1e-6)


@pytest.mark.parametrize("path", ENGINES, ids=[path.stem for path in ENGINES])
def test_a_boiler_has_two_independent_feed_devices(path: Path) -> None:
    assert len(tomllib.loads(path.read_text(encoding="utf-8"))["feed_devices"]) >= 2
