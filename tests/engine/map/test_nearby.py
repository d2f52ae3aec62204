"""Maps interpolated for other assumptions: equal to the base there, and close to the maps computed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.boiler.by_method import compute_steam_supply
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.map import nearby
from locosim.engine.map.cached import cycle_map
from locosim.engine.map.nearby import NearbyMaps
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import MAP_ASSUMPTIONS, StoredMap
from locosim.engine.performance import compute_performance
from locosim.journey.setup.helper_performance import build_helpers
from locosim.model import Assumptions, Crew, Fuel, Helper, Locomotive
from locosim.model.assumptions import RULE

BASE = Assumptions()
DRAWN = tuple(name for name in MAP_ASSUMPTIONS if Assumptions.declared()[name].metadata["nature"] != RULE)
WITHIN = 0.01  # of the power at a given steam, set before the first comparison; a tenth of what it moves


def far_assumptions() -> Assumptions:
    """Every assumption of a map more than half the way to an end of its range, some to the low and some to the high."""
    moved = {}
    for number, name in enumerate(DRAWN):
        data, usual = Assumptions.declared()[name].metadata, getattr(BASE, name)
        moved[name] = usual + 0.6 * (data["low" if number % 2 else "high"] - usual)
    return replace(BASE, **moved)


def powers(found: PerformanceMap, steam: float) -> np.ndarray:
    """Power on half of a steam rate to all of it, at speeds of a run [W]."""
    pressure = float(found.pressures[-2])
    return np.array(
        [
            [found.max_effort(speed=v, pressure=pressure, steam=s)[0] * v for v in (4.0, 9.0, 15.0)]
            for s in (0.5 * steam, 0.75 * steam, steam)
        ]
    )


# The only test of the interpolation against a map computed: four maps of 2 s each.
def test_an_interpolated_map_has_the_power_of_the_one_computed() -> None:
    engine, assumptions = trials.locomotive(), far_assumptions()
    found, _ = NearbyMaps(BASE, DRAWN, [engine]).find(engine, assumptions)
    computed, _ = cycle_map(engine, assumptions)
    steam = compute_steam_supply(
        engine, method="cycle", fuel=Fuel(), crew=Crew(), assumptions=assumptions
    ).sustained
    wanted = powers(computed, steam)
    assert powers(found, steam) == pytest.approx(wanted, rel=WITHIN)
    usual, _ = cycle_map(engine, BASE)
    assert np.max(np.abs(powers(usual, steam) / wanted - 1.0)) > 4.0 * WITHIN
    assert np.all(np.diff(found.effort, axis=2) >= 0.0)
    assert np.all(np.diff(found.steam, axis=2) >= 0.0)


def test_with_the_assumptions_of_the_base_it_is_the_map_of_the_base() -> None:
    engine = trials.locomotive()
    found, notes = NearbyMaps(BASE, DRAWN, [engine]).find(engine, BASE)
    computed, expected = cycle_map(engine, BASE)
    for table in ("throttles", "effort", "steam", "back_pressure"):
        assert getattr(found, table) == pytest.approx(getattr(computed, table), rel=1e-12, abs=1e-12)
    assert notes == expected


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Locomotive]:
    """Engines whose maps are asked for; a map that no engine has stands in for each."""
    engines: list[Locomotive] = []

    def stand_in(locomotive: Locomotive, assumptions: Assumptions) -> StoredMap:
        engines.append(locomotive)
        made = trials.small_map(float(len(engines)))
        return replace(made, pressures=np.array([5e5, 20e5]), unit_effort_shares=(1.0,))

    monkeypatch.setattr(nearby, "stored_map", stand_in)
    return engines


def test_without_superheater_the_factor_on_the_steam_is_exact_and_no_map_is_computed(
    asked: list[Locomotive],
) -> None:
    engine = trials.locomotive(superheater=False)
    maps = NearbyMaps(BASE, DRAWN, [engine])
    assert asked == [engine]
    found, _ = maps.find(engine, replace(far_assumptions(), steam_rate_factor=1.07))
    assert found.steam == pytest.approx(1.07 * trials.small_map().steam)
    assert np.array_equal(found.effort, trials.small_map().effort)


def test_another_engine_is_computed_by_itself(asked: list[Locomotive]) -> None:
    engine, other = trials.locomotive(superheater=False), trials.locomotive(superheater=False, bore=0.50)
    maps = NearbyMaps(BASE, DRAWN, [engine])
    found, _ = maps.find(other, BASE)
    assert asked == [engine, other]
    assert np.array_equal(found.effort, trials.small_map(2.0).effort)
    maps.find(replace(engine, mass=engine.mass + 1e3), BASE)
    assert asked == [engine, other], "the mass does not enter a map"


def test_helpers_are_interpolated_too(asked: list[Locomotive]) -> None:
    engine = trials.locomotive(superheater=False)
    maps = NearbyMaps(BASE, DRAWN, [engine])
    excursion = replace(
        trials.excursion(trials.line([(2000.0, 0.0)])), helpers=(Helper(locomotive=engine),), method="cycle"
    )
    usual, thrifty = (
        build_helpers(replace(excursion, assumptions=replace(BASE, steam_rate_factor=factor)), maps)[0]
        for factor in (1.0, 0.5)
    )
    assert asked == [engine]
    assert np.any(thrifty.effort > usual.effort)


@pytest.mark.parametrize("name", DRAWN)
def test_what_counts_as_not_read_moves_nothing_that_the_cylinders_receive(name: str) -> None:
    engine = trials.locomotive()
    if nearby._is_read(name, engine) or name in ("steam_rate_factor", "throttle_area_ratio"):
        return
    layouts = [
        build_cycle_layout(engine, replace(BASE, **{name: Assumptions.declared()[name].metadata[end]}))
        for end in ("low", "high")
    ]
    steam = np.linspace(0.0, 5.0, 9)
    assert layouts[0].groups == layouts[1].groups
    assert np.array_equal(*(layout.steam_temperature(steam) for layout in layouts))


def test_more_power_at_a_given_steam_is_as_much_less_steam_at_a_given_power() -> None:
    engine = trials.locomotive()
    usual, better = (
        compute_performance(engine, method="handbook", assumptions=replace(BASE, power_factor=factor))
        for factor in (1.0, 1.25)
    )
    effort = usual.map.effort_at(speed=10.0, cutoff=0.4, pressure=12e5)
    assert better.map.effort_at(speed=10.0, cutoff=0.4, pressure=12e5) == effort
    steam = usual.map.steam_at(speed=10.0, cutoff=0.4, pressure=12e5)
    assert better.map.steam_at(speed=10.0, cutoff=0.4, pressure=12e5) == pytest.approx(steam / 1.25)
