"""Changed assumptions change the performance of an engine, and the key of its map where they change the map."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.boiler.by_heat_balance import boiler_radiation_loss, heat_balance_supply
from locosim.engine.boiler.feed_devices import feed_water
from locosim.engine.boiler.front_end import front_end_evaporation
from locosim.engine.boiler.stored_heat import short_efforts
from locosim.engine.cylinders.layout import CycleLayout, build_cycle_layout
from locosim.engine.cylinders.operating_points import throttled_area
from locosim.engine.indicator_diagram import indicator_diagram
from locosim.engine.map.store import MAP_ASSUMPTIONS, map_key
from locosim.engine.performance import compute_excursion_performance, compute_performance
from locosim.model import (
    Assumptions,
    Crew,
    Cylinders,
    FeedDevice,
    Fuel,
    Locomotive,
    SteamPassages,
    Superheater,
)

DECLARED = Assumptions.declared()


def assuming(**values: float) -> Assumptions:
    return replace(Assumptions(), **values)


def ends(name: str) -> tuple[Assumptions, Assumptions]:
    """Assumptions with one of them at either end of its range."""
    metadata = DECLARED[name].metadata
    return assuming(**{name: metadata["low"]}), assuming(**{name: metadata["high"]})


def two_feed_devices(locomotive: Locomotive) -> Locomotive:
    devices = (
        FeedDevice(name="heater", kind="pump_with_feedwater_heater", max_rate=2.0),
        FeedDevice(name="injector", max_rate=30.0),
    )
    return replace(locomotive, feed_devices=devices)


def large_stoker_engine() -> Locomotive:
    """A grate of 14 m², more than a small stoker can fire, with two unlike feed devices."""
    made = trials.locomotive(grate=14.0)
    boiler = replace(
        made.boiler, firebox_surface=75.0, tube_surface=680.0, superheater=Superheater(surface=200.0)
    )
    return two_feed_devices(replace(made, boiler=boiler))


def hot_engine() -> Locomotive:
    """A superheater so large that the steam temperature gets a note at the low end of its range."""
    made = trials.locomotive()
    return replace(made, boiler=replace(made.boiler, superheater=Superheater(surface=130.0)))


def poor_front_end() -> Locomotive:
    """A front end so poor that draft limits the evaporation."""
    return replace(
        two_feed_devices(trials.locomotive()),
        steam_passages=SteamPassages(draft_to_back_pressure_ratio=0.03),
    )


def compound() -> Locomotive:
    made = trials.locomotive(superheater=False)
    sets = (
        Cylinders(number=2, bore=0.40, stroke=0.65),
        Cylinders(number=2, bore=0.63, stroke=0.65, steam_source="receiver"),
    )
    return replace(made, engine_units=(replace(made.engine_units[0], cylinders=sets),))


ENGINES = (large_stoker_engine(), hot_engine(), poor_front_end(), compound())


def inputs_of_map(engine: CycleLayout) -> list[object]:
    """All that a map is computed from, with the notes stored with it."""
    cutoffs = np.linspace(engine.min_cutoff, engine.max_cutoff, 5)
    steam = np.linspace(0.0, 2.0 * engine.design_steam_rate, 9)
    return [
        engine.design_steam_rate,
        engine.steam_rate_factor,
        engine.constants,
        engine.notes,
        engine.steam_temperature(steam).tolist(),
        [(group.passage, group.nozzle) for group in engine.groups],
        [float(throttled_area(engine, group, 0.3)) for group in engine.groups],
        [values.tolist() for group in engine.groups for values in group.cutoffs(cutoffs)],
    ]


@pytest.fixture(scope="module")
def usual() -> list[list[object]]:
    return [inputs_of_map(build_cycle_layout(engine)) for engine in ENGINES]


def changes_a_map(assumptions: Assumptions, usual: list[list[object]]) -> bool:
    return any(
        inputs_of_map(build_cycle_layout(engine, assumptions)) != expected
        for engine, expected in zip(ENGINES, usual, strict=True)
    )


@pytest.mark.parametrize("name", MAP_ASSUMPTIONS)
def test_each_assumption_of_the_map_key_changes_a_map(name: str, usual: list[list[object]]) -> None:
    assert any(changes_a_map(changed, usual) for changed in ends(name))
    engine = trials.locomotive()
    assert {map_key(engine, changed) for changed in ends(name)} != {map_key(engine)}


@pytest.mark.parametrize("end", ["low", "high"])
def test_no_other_assumption_changes_a_map(end: str, usual: list[list[object]]) -> None:
    others = {name: each.metadata[end] for name, each in DECLARED.items() if name not in MAP_ASSUMPTIONS}
    assert len(others) > 20
    changed = assuming(**others)
    assert not changes_a_map(changed, usual)
    assert map_key(trials.locomotive(), changed) == map_key(trials.locomotive())


def test_performance_keeps_the_assumptions_it_was_computed_with() -> None:
    changed = assuming(water_per_surface=40.0)
    assert compute_performance(trials.locomotive(), method="handbook").assumptions == Assumptions()
    assert (
        compute_performance(trials.locomotive(), method="handbook", assumptions=changed).assumptions
        == changed
    )
    asked = replace(trials.excursion(trials.line([(2000.0, 0.0)])), assumptions=changed)
    assert compute_excursion_performance(asked).assumptions == changed


def test_a_smaller_stoker_lowers_the_sustained_evaporation_by_either_method() -> None:
    small = assuming(max_stoker_firing=0.3)
    engine = trials.locomotive()
    for method in ("handbook", "cycle"):
        found = [
            compute_performance(engine, method=method, assumptions=each).supply
            for each in (Assumptions(), small)
        ]
        assert found[1].binding.name == "stoker"
        assert found[1].max_firing == pytest.approx(0.3)
        assert found[1].sustained < found[0].sustained


def test_rougher_tubes_need_more_draft_and_more_back_pressure_raises_more() -> None:
    engine = trials.locomotive()
    smooth, rough = (
        heat_balance_supply(engine, Fuel(), Crew(), assuming(draft_roughness_factor=value)).draft
        for value in (1.1, 1.6)
    )
    assert smooth is not None
    assert rough is not None
    assert np.all(rough[1:] > smooth[1:])
    # More steam goes through the nozzle at a higher back pressure, as the root below the critical ratio.
    usual, doubled = (
        front_end_evaporation(engine, assuming(max_back_pressure=factor * Assumptions().max_back_pressure))
        - engine.auxiliaries.continuous_demand
        for factor in (0.25, 0.5)
    )
    assert doubled / usual == pytest.approx(2.0**0.5, rel=0.02)


def test_warmer_tender_water_and_more_exhaust_steam_bring_more_heat() -> None:
    boiler = trials.locomotive().boiler
    injector = FeedDevice(name="injector", max_rate=3.0)
    heater = FeedDevice(name="heater", kind="pump_with_feedwater_heater", max_rate=3.0)
    cold, warm = (
        feed_water(boiler, injector, assuming(tender_water_temperature=t)) for t in (283.15, 303.15)
    )
    # Water of 4.19 kJ/(kg K)
    assert warm.enthalpy_of_net_water - cold.enthalpy_of_net_water == pytest.approx(20.0 * 4.19e3, rel=0.01)
    little, much = (feed_water(boiler, heater, assuming(max_heater_steam_share=s)) for s in (0.05, 0.10))
    # Exhaust steam condensing at 100 °C gives up some 2.1 MJ/kg, at 95 % quality.
    assert much.enthalpy - little.enthalpy == pytest.approx(0.05 * 2.14e6, rel=0.02)


def test_wind_raises_the_radiation_loss() -> None:
    boiler = trials.locomotive().boiler
    still, usual, storm = (
        boiler_radiation_loss(boiler, assuming(boiler_wind_speed=v)) for v in (0.0, 10.0, 25.0)
    )
    assert still < usual < storm


@pytest.mark.parametrize("name", ["water_per_surface", "deferred_feed_share", "boiler_metal_share"])
def test_larger_stores_of_heat_make_more_steam_in_a_short_effort(name: str) -> None:
    engine = trials.locomotive()
    supply = compute_performance(engine, method="handbook").supply
    less, more = (
        short_efforts(engine, supply, duration=600.0, assumptions=each)[-1].extra_steam for each in ends(name)
    )
    assert more > less


def test_the_low_pressure_cutoff_follows_its_line_up_to_the_longest_of_the_gear() -> None:
    (group,) = build_cycle_layout(
        compound(), assuming(low_pressure_cutoff_offset=0.40, low_pressure_cutoff_slope=0.6)
    ).groups
    high, low = group.cutoffs(np.array([0.2, 0.5, 0.8]))
    assert high == pytest.approx([0.2, 0.5, 0.8])
    assert low == pytest.approx([0.52, 0.70, 0.83])


def test_a_wider_throttle_chokes_less_when_partly_open_and_as_much_when_open() -> None:
    engine = trials.locomotive()
    narrow, wide = ends("throttle_area_ratio")

    def chest_pressures(throttle: float) -> list[float]:
        drawn = [
            indicator_diagram(engine, speed=8.0, cutoff=0.5, throttle=throttle, assumptions=each)
            for each in (narrow, wide)
        ]
        assert [each.assumptions for each in drawn] == [narrow, wide]
        return [float(each.figures.chest_pressure[0]) for each in drawn]

    partly, open_ = chest_pressures(0.25), chest_pressures(1.0)
    assert partly[1] > 1.01 * partly[0]
    assert open_[1] == open_[0]
