"""Cutoffs, options for an effort and scope of the handbook, of an engine and of a compound."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import trials

from locosim.engine.cutoff_table import (
    cutoff_table,
    default_cutoffs,
    group_by_throttle,
    locomotive_valve_events,
    options_for_effort,
)
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.handbook_scope import method_cautions
from locosim.engine.map.from_handbook import handbook_map
from locosim.engine.performance import Performance, compute_performance
from locosim.errors import OutOfRange
from locosim.model import Cylinders, Locomotive, PoppetGear, ValveGear

PERFORMANCE: Performance = compute_performance(trials.locomotive(), method="handbook")
PSI = 6894.757


def compound(**changes: object) -> Locomotive:
    """A two-cylinder compound, its low-pressure cylinder 2.25 times as large."""
    engine = trials.locomotive()
    unit = engine.engine_units[0]
    sets = (
        Cylinders(number=1, bore=0.52, stroke=0.65),
        Cylinders(number=1, bore=0.78, stroke=0.65, steam_source="receiver"),
    )
    return replace(engine, engine_units=(replace(unit, cylinders=sets),), **changes)


def with_gear(**gear: object) -> Locomotive:
    engine = trials.locomotive()
    return replace(engine, engine_units=(replace(engine.engine_units[0], **gear),))


def test_fuel_over_distance_is_fuel_over_speed_and_endless_at_rest() -> None:
    table = cutoff_table(PERFORMANCE, speed=10.0)
    assert [point.cutoff for point in table] == list(default_cutoffs(PERFORMANCE))
    for point in table:
        assert point.fuel_per_distance == pytest.approx(point.fuel / 10.0)
        assert point.indicated_power == pytest.approx(10.0 * point.indicated_effort)
    standing = cutoff_table(PERFORMANCE, speed=0.0)[-1]
    assert (standing.fuel_per_distance, standing.steam_per_work) == (math.inf, math.inf)
    assert [[p.cutoff for p in group] for group in group_by_throttle([*table, *standing_at_half(table)])] == [
        [p.cutoff for p in table],
        [p.cutoff for p in table],
    ]


def standing_at_half(table):  # type: ignore[no-untyped-def]
    return [replace(point, throttle=0.5) for point in table]


def test_the_option_for_an_effort_gives_it_and_one_out_of_reach_is_refused() -> None:
    table = cutoff_table(PERFORMANCE, speed=12.0)
    for effort in (table[1].rim_effort, 0.5 * (table[2].rim_effort + table[3].rim_effort)):
        options = options_for_effort(PERFORMANCE, speed=12.0, effort=effort)
        assert options.most_economical.rim_effort == pytest.approx(effort, rel=5e-3)
        assert options.points == (options.most_economical,)
    most = max(point.rim_effort for point in table)
    with pytest.raises(OutOfRange):
        options_for_effort(PERFORMANCE, speed=12.0, effort=1.05 * most)
    with pytest.raises(OutOfRange):  # the handbook does not ease the throttle
        options_for_effort(PERFORMANCE, speed=12.0, effort=0.5 * table[0].rim_effort)
    with pytest.raises(OutOfRange, match="effort must be above 0 N"):
        options_for_effort(PERFORMANCE, speed=12.0, effort=0.0)


def test_a_compound_uses_five_sixths_of_the_steam_for_the_same_work() -> None:
    # [MRS70]: 25 lb per ihp-h for two expansions, 30 for one, middle of the ranges; both at 1,000 ft/min full gear
    engine = compound()
    unit = engine.engine_units[0]
    speed = 1000.0 * 0.3048 / 60.0 * math.pi * unit.driver_diameter / (2.0 * 0.65)
    rates = []
    for made in (engine, trials.locomotive()):
        found = handbook_map(made)
        pressure = made.boiler.absolute_pressure
        cutoff = float(found.cutoffs[-1])
        at = {"speed": speed, "cutoff": cutoff, "pressure": pressure}
        rates.append(found.steam_at(**at) / (found.effort_at(**at) * speed))
    assert rates[0] / rates[1] == pytest.approx(25.0 / 30.0, rel=0.02)


def test_an_engine_later_than_the_tables_is_told_apart() -> None:
    assert method_cautions(trials.locomotive(), "handbook") == ()
    poppet = PoppetGear(release=0.9, compression=0.1)
    later = {
        "poppet gear": with_gear(poppet_gear=poppet),
        "valve travel above 178 mm": with_gear(valve_gear=ValveGear(lap=0.035, lead=0.006, travel=0.19)),
        "working pressure above": trials.locomotive(pressure=216.0 * PSI),
    }
    for words, engine in later.items():
        (note,) = method_cautions(engine, "handbook")
        assert words in note
        assert method_cautions(engine, "cycle") == ()
    assert method_cautions(trials.locomotive(pressure=214.9 * PSI), "handbook") == ()


def test_a_gear_gives_no_events_below_mid_gear_and_no_engine_runs_on_one_too_small() -> None:
    engine = with_gear(valve_gear=ValveGear(lap=0.03, lead=0.006, travel=0.15))
    # mid gear cuts off at lead / (2 (lap + lead)) of the stroke
    assert locomotive_valve_events(engine, 0.98 * 0.006 / 0.072) is None
    events = locomotive_valve_events(engine, 1.02 * 0.006 / 0.072)
    assert events is not None
    assert events.lead == pytest.approx(0.006)
    # the port opens by half the travel less the lap, or by its width: here 8 mm of half the travel of 76 mm
    wide, narrow = (
        locomotive_valve_events(
            with_gear(valve_gear=ValveGear(lap=0.03, lead=0.006, travel=0.15, port_width=width)), 0.8
        )
        for width in (0.05, 0.008)
    )
    assert wide is not None
    assert narrow is not None
    assert narrow.opening == 0.008
    assert wide.opening is not None
    assert 0.008 < wide.opening < 0.05
    with pytest.raises(OutOfRange, match="the valve gear gives cutoffs from"):
        build_cycle_layout(with_gear(valve_gear=ValveGear(lap=0.03, lead=0.006, travel=0.0725)))
