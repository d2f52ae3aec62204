"""An engine laid out for the cylinder cycle: cutoffs of its gear, cranks, shares and notes, by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials
from iapws import IAPWS97

from locosim.engine.cylinders import cylinder_groups, layout, valves
from locosim.engine.cylinders.cylinder_groups import LowPressureCutoff
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.errors import OutOfRange
from locosim.model import (
    Assumptions,
    Auxiliaries,
    Cylinders,
    EngineUnit,
    FeedDevice,
    Locomotive,
    PoppetGear,
    SteamPassages,
    ValveGear,
)
from locosim.physics.cylinder import design_rules

USUAL = Assumptions()
LAP, LEAD = 0.030, 0.006  # [m]: in mid gear the valve closes at 6 / (2 x 36) of the stroke
SHORTEST = 0.5 * LEAD / (LAP + LEAD)


def longest(lap: float, lead: float, travel: float) -> float:
    """Cutoff in full gear: the valve is at lap + lead at dead center, and back at the lap where it closes."""
    half = 0.5 * travel
    angle = math.pi - math.asin(lap / half) - math.asin((lap + lead) / half)
    return 0.5 * (1.0 - math.cos(angle))


def cylinders(number: int = 2, bore: float = 0.52, **changes: Any) -> Cylinders:
    return Cylinders(number=number, bore=bore, stroke=0.65, **changes)


def unit(*sets: Cylinders, **changes: Any) -> EngineUnit:
    return replace(trials.locomotive().engine_units[0], **{"cylinders": sets or (cylinders(),), **changes})


def engine(*units: EngineUnit, **changes: Any) -> Locomotive:
    return replace(trials.locomotive(mass=250e3), engine_units=units or (unit(),), **changes)


def low(number: int = 2, bore: float = 0.82, **changes: Any) -> Cylinders:
    return cylinders(number, bore, steam_source="receiver", **changes)


GEAR = ValveGear(lap=LAP, lead=LEAD, travel=0.16)
LONGEST = longest(LAP, LEAD, 0.16)


# Cutoffs


def test_cutoffs_are_those_that_both_the_gear_and_the_file_allow() -> None:
    found = valves.cutoff_range(engine(unit(valve_gear=GEAR, min_cutoff=0.05, max_cutoff=0.9)))
    assert found[:2] == (pytest.approx(SHORTEST, rel=1e-8), pytest.approx(LONGEST))
    assert found[0] > SHORTEST
    found = valves.cutoff_range(engine(unit(valve_gear=GEAR, min_cutoff=0.2, max_cutoff=0.5)))
    assert found == (0.2, 0.5, [])
    two = [unit(min_cutoff=least, max_cutoff=most) for least, most in ((0.2, 0.7), (0.3, 0.8))]
    assert valves.cutoff_range(engine(*two)) == (0.3, 0.7, [])
    smaller = replace(GEAR, travel=0.12)
    both = [unit(valve_gear=gear, min_cutoff=0.05, max_cutoff=0.9) for gear in (GEAR, smaller)]
    assert valves.cutoff_range(engine(*both))[1] == pytest.approx(longest(LAP, LEAD, 0.12))
    quicker = replace(GEAR, lead=0.009)
    both = [unit(valve_gear=gear, min_cutoff=0.05, max_cutoff=0.9) for gear in (GEAR, quicker)]
    assert valves.cutoff_range(engine(*both))[0] == pytest.approx(0.5 * 9 / 39, rel=1e-8)


@pytest.mark.parametrize(("by", "noted"), [(0.0048, False), (0.0052, True)])
def test_a_gear_narrower_than_the_file_by_half_a_per_cent_is_noted(by: float, noted: bool) -> None:
    _, _, notes = valves.cutoff_range(engine(unit(valve_gear=GEAR, min_cutoff=0.2, max_cutoff=LONGEST + by)))
    assert len(notes) == noted
    assert not noted or notes[0].startswith("valve travel limits cutoff to 83%, below the 83% of")
    _, _, notes = valves.cutoff_range(engine(unit(valve_gear=GEAR, min_cutoff=SHORTEST - by, max_cutoff=0.5)))
    assert len(notes) == noted
    assert not noted or notes[0].startswith("lap and lead limit cutoff to 8% or longer, above the 8% of")


def test_both_ends_are_noted_where_both_are_narrower() -> None:
    _, _, notes = valves.cutoff_range(engine(unit(valve_gear=GEAR, min_cutoff=0.05, max_cutoff=0.9)))
    assert [note.split(",")[0] for note in notes] == [
        f"valve travel limits cutoff to {LONGEST:.0%}",
        "lap and lead limit cutoff to 8% or longer",
    ]


def test_lead_that_grows_to_mid_gear_counts_in_the_shortest_cutoff() -> None:
    growing = replace(GEAR, lead=0.003, lead_mid_gear=LEAD)
    shortest, _, _ = valves.cutoff_range(engine(unit(valve_gear=growing, min_cutoff=0.05)))
    assert shortest == pytest.approx(SHORTEST, rel=1e-8)


def test_poppet_valves_limit_no_cutoff() -> None:
    own = unit(poppet_gear=PoppetGear(release=0.9, compression=0.1), min_cutoff=0.03, max_cutoff=0.85)
    assert valves.cutoff_range(engine(own)) == (0.03, 0.85, [])


def test_without_a_gear_the_usual_lap_and_lead_limit_the_shortest_cutoff() -> None:
    # A long-travel piston valve: lap 0.058 and lead 0.0095 of the stroke.
    least, most, _ = valves.cutoff_range(engine(unit(min_cutoff=0.03, max_cutoff=0.85)))
    assert (least, most) == (pytest.approx(0.5 * 0.0095 / 0.0675, rel=1e-8), 0.85)


@pytest.mark.parametrize(
    ("low_gear", "own", "limited"),
    [
        ("of the unit", None, True),  # the lever sets both
        ("of the unit", "of the set", False),  # valves of its own limit that set alone
        (None, "of the set", False),
    ],
)
def test_only_valves_that_the_lever_sets_limit_it(
    low_gear: str | None, own: str | None, limited: bool
) -> None:
    narrow = ValveGear(lap=LAP, lead=0.012, travel=0.11)
    high_unit = unit(cylinders(), valve_gear=GEAR, min_cutoff=0.05, max_cutoff=0.9)
    low_unit = unit(
        low(valve_gear=narrow if own else None), valve_gear=narrow if low_gear else None, min_cutoff=0.05,
        max_cutoff=0.9,
    )  # fmt: skip
    least, most, _ = valves.cutoff_range(engine(high_unit, low_unit))
    if limited:
        assert least == pytest.approx(0.5 * 12 / 42, rel=1e-8)
        assert most == pytest.approx(longest(LAP, 0.012, 0.11))
    else:
        assert (least, most) == (pytest.approx(SHORTEST, rel=1e-8), pytest.approx(LONGEST))


def test_a_set_on_boiler_steam_limits_the_lever_by_its_own_valves() -> None:
    narrow = replace(GEAR, travel=0.12)
    own = unit(cylinders(valve_gear=narrow), valve_gear=GEAR, max_cutoff=0.9)
    assert valves.cutoff_range(engine(own))[1] == pytest.approx(longest(LAP, LEAD, 0.12))


@pytest.mark.parametrize(("share", "refused"), [(0.89, False), (0.91, True)])
def test_cutoffs_that_differ_by_less_than_a_tenth_are_refused(share: float, refused: bool) -> None:
    narrow = engine(unit(min_cutoff=0.5 * share, max_cutoff=0.5))
    if not refused:
        assert valves.cutoff_range(narrow)[:2] == (0.5 * share, 0.5)
        return
    with pytest.raises(OutOfRange, match=r"trial engine: the valve gear gives cutoffs from 0\.455 to 0\.500"):
        valves.cutoff_range(narrow)


def test_the_low_pressure_cutoff_grows_with_the_high_to_the_end_of_its_gear() -> None:
    cutoff = LowPressureCutoff(offset=0.25, slope=0.8, longest=0.75)
    assert cutoff.at(np.array([0.0, 0.5, 0.7])) == pytest.approx(np.array([0.25, 0.65, 0.75]))


# Cranks and shares


@pytest.mark.parametrize(
    ("high_count", "low_count", "same", "high_turns", "low_turns"),
    [
        (1, 1, True, [0], [1 / 4]),
        (2, 2, True, [0, 1 / 4], [1 / 2, 3 / 4]),  # each low-pressure crank opposite a high
        (1, 2, True, [0], [1 / 3, 2 / 3]),
        (2, 1, True, [0, 1 / 3], [2 / 3]),
        (1, 3, True, [0], [1 / 4, 7 / 12, 11 / 12]),
        (2, 2, False, [0, 1 / 4], [0, 1 / 4]),
        (1, 2, False, [0], [0, 1 / 4]),
    ],
)
def test_cranks_of_a_compound(
    high_count: int, low_count: int, same: bool, high_turns: list[float], low_turns: list[float]
) -> None:
    found = cylinder_groups._compound_cranks(cylinders(high_count), low(low_count), same_wheels=same)
    for angles, turns in zip(found, (high_turns, low_turns), strict=True):
        assert np.array(angles) / (2.0 * math.pi) == pytest.approx(np.array(turns))


def test_more_than_four_cylinders_on_a_unit_are_refused() -> None:
    assert len(cylinder_groups._cranks(4)) == 4
    with pytest.raises(OutOfRange, match="covers 1 to 4 cylinders on an engine unit, found 5"):
        cylinder_groups._cranks(5)


def test_like_sets_are_one_group_and_others_share_the_passages_by_what_they_fill() -> None:
    one = unit(cylinders(2), cylinders(1), cylinders(1, bore=0.26), mass_on_drivers=60e3)
    other = unit(cylinders(2), driver_diameter=0.5 * one.driver_diameter, mass_on_drivers=60e3)
    groups = cylinder_groups.cylinder_groups(engine(one, one, other), 0.03, 0.02, USUAL)
    # Cylinders fill for each meter run: 2, 1, 1/4 twice over, and 2 on wheels of half the size: 6.5 + 4.
    assert [(g.group_count, g.units) for g in groups] == [(2, (0, 1)), (2, (0, 1)), (2, (0, 1)), (1, (2,))]
    fillings = [2.0, 1.0, 0.25, 4.0]
    assert [g.passage for g in groups] == pytest.approx([0.03 * each / 10.5 for each in fillings])
    assert [g.nozzle for g in groups] == pytest.approx([0.02 * each / 10.5 for each in fillings])
    turns = [[angle / (2.0 * math.pi) for angle in g.cranks[0]] for g in groups]
    assert turns == [[0.0, 0.25], [0.5], [0.75], [0.0, 0.25]]
    assert [g.crank_offset for g in groups] == [(0.0, 0.0)] * 3 + [(0.0,)]
    assert [g.driver_diameter for g in groups] == [1.57, 1.57, 1.57, 0.785]
    # Two sets of one cylinder on a unit: the second stands a quarter of a turn behind.
    (pair,) = cylinder_groups.cylinder_groups(engine(unit(cylinders(1), cylinders(1))), 0.03, 0.02, USUAL)
    assert (pair.group_count, pair.units, pair.passage) == (2, (0, 0), pytest.approx(0.015))
    assert pair.crank_offset == pytest.approx((0.0, 0.5 * math.pi))


@pytest.mark.parametrize(
    "change",
    [{"driver_diameter": 1.5}, {"valve_gear": GEAR}, {"poppet_gear": PoppetGear(release=0.9, compression=0.1)},
     {"cylinders": (cylinders(reciprocating_mass=900.0),)}, {"cylinders": (cylinders(clearance=0.08),)}],
)  # fmt: skip
def test_sets_that_differ_are_groups_of_their_own(change: dict[str, Any]) -> None:
    groups = cylinder_groups.cylinder_groups(engine(unit(), unit(**change)), 0.03, 0.02, USUAL)
    assert [(g.group_count, g.units) for g in groups] == [(1, (0,)), (1, (1,))]


def test_reciprocating_mass_is_given_or_a_share_of_the_engine_by_piston_area() -> None:
    large, small = cylinders(2), cylinders(1, bore=0.26)
    made = engine(unit(large, small))
    assumed = replace(USUAL, reciprocating_mass_share=0.01)
    # 2 x 1 % of 250 t over two pistons of area 4 and one of area 1
    assert cylinder_groups._reciprocating_mass(made, large, assumed) == pytest.approx(5000.0 * 4 / 9)
    assert cylinder_groups._reciprocating_mass(made, small, assumed) == pytest.approx(5000.0 / 9)
    assert (
        cylinder_groups._reciprocating_mass(made, replace(large, reciprocating_mass=700.0), assumed) == 700.0
    )


def test_the_two_stages_of_a_compound_are_one_group() -> None:
    gear = replace(GEAR, travel=0.13)
    high_unit = unit(cylinders(reciprocating_mass=500.0), min_cutoff=0.2)
    low_unit = unit(low(live_steam_pressure_gauge=5e5), valve_gear=gear, max_cutoff=0.7)
    made = engine(high_unit, low_unit)
    (group,) = cylinder_groups.cylinder_groups(made, 0.03, 0.02, USUAL)
    assert (group.units, group.group_count, group.passage, group.nozzle) == ((0, 1), 1, 0.03, 0.02)
    assert [stage.bore for stage in group.stages] == [0.52, 0.82]
    assert group.stages[1].lap == LAP
    assert (group.crank_offset, group.poppets) == ((0.0,), (None, None))
    assert group.live_steam_pressure == pytest.approx(5e5 + 101325.0)
    assert group.reciprocating_masses[0] == 500.0
    assert group.reciprocating_masses[1] > 500.0
    cutoff = group.low_pressure_cutoff
    assert cutoff is not None
    assert (cutoff.offset, cutoff.slope) == (
        USUAL.low_pressure_cutoff_offset,
        USUAL.low_pressure_cutoff_slope,
    )
    assert cutoff.longest == pytest.approx(min(0.7, longest(LAP, LEAD, 0.13)))
    wide = engine(high_unit, replace(low_unit, valve_gear=GEAR))
    (group,) = cylinder_groups.cylinder_groups(wide, 0.03, 0.02, USUAL)
    assert group.low_pressure_cutoff is not None
    assert group.low_pressure_cutoff.longest == 0.7
    back = engine(low_unit, high_unit)
    assert cylinder_groups.cylinder_groups(back, 0.03, 0.02, USUAL)[0].units == (1, 0)
    poppets = PoppetGear(release=0.9, compression=0.1)
    (group,) = cylinder_groups.cylinder_groups(
        engine(replace(high_unit, poppet_gear=poppets), low_unit), 0.03, 0.02, USUAL
    )
    assert [each is None for each in group.poppets] == [False, True]
    same = engine(unit(cylinders(), low()))
    (group,) = cylinder_groups.cylinder_groups(same, 0.03, 0.02, USUAL)
    assert (group.units, group.live_steam_pressure) == ((0, 0), None)
    assert group.cranks[1][0] == pytest.approx(math.pi)
    three = engine(unit(cylinders(1)), unit(low(2)))
    (group,) = cylinder_groups.cylinder_groups(three, 0.03, 0.02, USUAL)
    assert [len(angles) for angles in group.cranks] == [1, 2]


def test_a_group_is_given_to_the_cycle_with_its_part_of_the_nozzle_and_a_cutoff_for_each_stage() -> None:
    constants = design_rules.FITTED_CONSTANTS
    for made, cutoffs in ((engine(), [0.4]), (engine(unit(), unit(low())), [0.4, None])):
        (group,) = cylinder_groups.cylinder_groups(made, 0.03, 0.02, USUAL)
        given = group.cycle_engine(constants)
        assert (given.cylinders, given.cranks, given.poppets) == (group.stages, group.cranks, group.poppets)
        assert (given.nozzle_area, given.constants) == (0.02, constants)
        lever = np.array([0.4])
        found = group.cutoffs(lever)
        assert len(found) == len(cutoffs)
        assert found[0] is lever
        if group.low_pressure_cutoff is not None:
            assert found[1] == group.low_pressure_cutoff.at(lever) > lever


@pytest.mark.parametrize(("ratio", "refused"), [(1.0095, False), (1.0105, True), (1 / 1.0105, True)])
def test_wheels_of_both_stages_may_differ_by_one_per_cent(ratio: float, refused: bool) -> None:
    made = engine(unit(cylinders(), driver_diameter=1.5 * ratio), unit(low(), driver_diameter=1.5))
    if not refused:
        (group,) = cylinder_groups.cylinder_groups(made, 0.03, 0.02, USUAL)
        assert group.driver_diameter == 1.5 * ratio
        return
    with pytest.raises(OutOfRange, match=f"found {1.5 * ratio:.3f} and 1.500 m"):
        cylinder_groups.cylinder_groups(made, 0.03, 0.02, USUAL)


def test_a_cylinder_has_the_valve_of_its_gear_and_the_rest_by_rule() -> None:
    made = engine()
    usual = valves.cycle_cylinder(made.boiler, unit(), cylinders())
    assert usual == design_rules.piston_valve_cylinder(
        number=2, bore=0.52, stroke=0.65, rod_ratio=7.0, clearance=0.09
    )
    saturated = replace(made.boiler, superheater=None)
    assert valves.cycle_cylinder(saturated, unit(), cylinders(rod_ratio=6.0)) == (
        design_rules.slide_valve_cylinder(number=2, bore=0.52, stroke=0.65, rod_ratio=6.0, clearance=0.09)
    )
    gear = replace(GEAR, exhaust_lap=0.002)
    found = valves.cycle_cylinder(made.boiler, unit(valve_gear=gear), cylinders())
    assert found == usual._replace(lap=LAP, lead=LEAD, exhaust_lap=0.002)
    gear = replace(GEAR, port_length=0.7, port_width=0.05, lead_mid_gear=0.009)
    found = valves.cycle_cylinder(made.boiler, unit(valve_gear=gear), cylinders())
    assert (found.port_length, found.port_width) == (0.7, 0.05)
    assert (found.lead_rise, found.travel) == (pytest.approx(0.003), 0.16)
    own = valves.cycle_cylinder(made.boiler, unit(valve_gear=GEAR), cylinders(valve_gear=gear))
    assert own.port_width == 0.05


def test_poppet_valves_have_areas_by_the_piston_and_a_lift_by_the_turn() -> None:
    gear = PoppetGear(
        release=0.9, compression=0.1, preadmission=0.01, steam_valve_area_ratio=0.08,
        exhaust_valve_area_ratio=0.11, lift_rotation=0.1,
    )  # fmt: skip
    found = valves.cycle_poppets(unit(poppet_gear=gear), cylinders(bore=0.4))
    assert found is not None
    area = 0.25 * math.pi * 0.16
    assert (found.preadmission, found.release, found.compression) == (0.01, 0.9, 0.1)
    assert found.steam_area == pytest.approx(0.08 * area)
    assert found.exhaust_area == pytest.approx(0.11 * area)
    assert found.lift_angle == pytest.approx(0.2 * math.pi)
    assert valves.cycle_poppets(unit(valve_gear=GEAR), cylinders()) is None


def test_the_first_valves_are_those_of_the_first_set_of_the_first_unit() -> None:
    made = engine(unit(cylinders(1, 0.3), cylinders(1, 0.4)), unit(cylinders(bore=0.5)))
    cylinder, poppets = valves.first_valves(made)
    assert (cylinder.bore, poppets) == (0.3, None)


# The whole engine


def test_the_steam_passage_is_given_or_by_the_pistons_on_boiler_steam() -> None:
    compound = engine(unit(cylinders(2), low(2)))
    assert layout._steam_passage_area(compound) == pytest.approx(0.0124 * 0.5 * math.pi * 0.52**2)
    simple = engine(unit(cylinders(2)), unit(cylinders(1, 0.4)))
    area = 0.25 * math.pi * (2 * 0.52**2 + 0.4**2)
    assert layout._steam_passage_area(simple) == pytest.approx(0.0124 * area)
    given = replace(simple, steam_passages=SteamPassages(steam_passage_area=0.02))
    assert layout._steam_passage_area(given) == 0.02


def test_the_steam_rate_factor_of_the_engine_goes_before_the_assumed() -> None:
    assumed = replace(USUAL, steam_rate_factor=1.1)
    own = replace(engine(), steam_passages=SteamPassages(steam_rate_factor=0.95))
    assert layout._steam_rate_factor(engine(), assumed) == 1.1
    assert layout._steam_rate_factor(own, assumed) == 0.95


def test_constants_of_the_cycle_are_the_engines_own_where_given() -> None:
    cylinder = valves.cycle_cylinder(engine().boiler, unit(valve_gear=GEAR), cylinders())
    leakage = design_rules.leakage_area_ratio(lap=LAP, stroke=0.65)
    assert leakage > 1.1 * design_rules.FITTED_CONSTANTS.leakage_area_ratio
    usual = design_rules.FITTED_CONSTANTS._replace(leakage_area_ratio=leakage)
    assert layout._cycle_constants(SteamPassages(), cylinder) == usual
    own = SteamPassages(leakage_area_ratio=0.0, quench_energy=9e4)
    assert layout._cycle_constants(own, cylinder) == usual._replace(leakage_area_ratio=0.0, quench_energy=9e4)


def test_steam_leaves_the_boiler_superheated_or_with_one_and_a_half_per_cent_of_water() -> None:
    made = build_cycle_layout(engine())
    pressure, hot = 1.4e6, 600.0
    asked = made.enthalpy(np.array([pressure]), np.array([hot]))
    assert asked[0] == pytest.approx(1e3 * IAPWS97(P=1.4, T=hot).h, rel=1e-4)
    # Never below what boils: a tenth of a kelvin over it.
    (cool,) = made.enthalpy(np.array([pressure]), np.array([300.0]))
    boiling = IAPWS97(P=1.4, x=1.0)
    assert cool == pytest.approx(1e3 * IAPWS97(P=1.4, T=boiling.T + 0.1).h, rel=2e-6)
    boiler = replace(made.locomotive.boiler, superheater=None)
    saturated = replace(made, locomotive=replace(made.locomotive, boiler=boiler))
    (wet,) = saturated.enthalpy(np.array([pressure]), np.array([0.0]))
    assert wet == pytest.approx(1e3 * IAPWS97(P=1.4, x=0.985).h, rel=2e-5)
    demand = made.locomotive.auxiliaries.continuous_demand
    found = made.steam_temperature(np.array([1.5]))
    assert found == pytest.approx(made.design.steam_temperature_at(np.array([1.5 + demand])))
    assert found[0] != made.design.steam_temperature_at(1.5)


def test_full_steam_is_that_of_the_boiler_itself_less_the_auxiliaries() -> None:
    made = build_cycle_layout(engine())
    limits = {each.name: each.steam for each in made.design.limits}
    of_itself = [limits[name] for name in limits if name in ("grate", "fire", "front end")]
    assert len(of_itself) >= 2
    demand = made.locomotive.auxiliaries.continuous_demand
    assert made.design_steam_rate == pytest.approx(min(of_itself) - demand)
    assert (made.throttle_area_ratio, made.steam_rate_factor) == (
        USUAL.throttle_area_ratio, USUAL.steam_rate_factor,
    )  # fmt: skip
    assert (made.min_cutoff, made.max_cutoff) == valves.cutoff_range(made.locomotive)[:2]
    # With half of it for heating the train, and more, half is left for the cylinders all the same.
    for share, left in ((0.45, 0.55), (0.55, 0.5)):
        auxiliaries = Auxiliaries(air_compressor_count=0, dynamo=0.0, train_heat=share * min(of_itself))
        found = build_cycle_layout(engine(auxiliaries=auxiliaries))
        assert found.design_steam_rate == pytest.approx(left * min(of_itself))


def test_a_heater_that_takes_a_part_of_the_exhaust_makes_the_nozzle_seem_so_much_wider() -> None:
    plain, heated = (
        build_cycle_layout(engine(feed_devices=(FeedDevice(name="pump", kind=kind, max_rate=5.0),)))
        for kind in ("injector", "pump_with_feedwater_heater")
    )
    assert heated.groups[0].nozzle == pytest.approx(plain.groups[0].nozzle / 0.88)  # 12 % to the heater


# Notes


def test_what_the_file_does_not_give_of_the_valves_is_noted() -> None:
    rule = "long-travel piston valve in proportion"
    notes = valves.valve_gear_notes
    assert notes(engine()) == [f"valve gear not given: lap, lead and ports are those of a {rule}"]
    assert notes(engine(unit(valve_gear=GEAR))) == [f"ports not given: those of a {rule}"]
    whole = replace(GEAR, port_length=0.7, port_width=0.05)
    assert notes(engine(unit(valve_gear=whole))) == []
    for part in ("port_length", "port_width"):
        assert notes(engine(unit(valve_gear=replace(whole, **{part: None})))) == [
            f"ports not given: those of a {rule}"
        ]
    assert len(notes(engine(unit(valve_gear=GEAR), unit()))) == 2
    assert notes(engine(unit(poppet_gear=PoppetGear(release=0.9, compression=0.1)))) == []
    saturated = replace(engine(), boiler=replace(engine().boiler, superheater=None))
    assert notes(saturated)[0].endswith("those of a slide valve of about 1900 in proportion")
    one, two = (
        notes(engine(unit(cylinders(), valve_gear=whole), unit(low(**live), valve_gear=whole)))
        for live in ({}, {"live_steam_pressure_gauge": 5e5})
    )
    assert two == ["one lever sets both stages, the low-pressure cutoff longer"]
    assert one[0].startswith(f"{two[0]}; it starts compound")


@pytest.mark.parametrize(("over", "noted"), [(0.0, False), (0.01, True)])
def test_steam_above_what_oil_withstands_is_noted(over: float, noted: bool) -> None:
    found = layout._superheat_notes(USUAL.max_steam_temperature + over, USUAL)
    assert len(found) == noted
    assert not noted or "look at boiler.superheater.surface" in found[0]


@pytest.mark.parametrize(("required", "noted"), [(0.999, False), (1.001, True)])
def test_a_draft_the_front_end_does_not_raise_is_noted(
    required: float, noted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    raised = 0.2
    monkeypatch.setattr(layout, "front_end", lambda *asked: SimpleNamespace(required_ratio=required * raised))
    own = SteamPassages(nozzle_area=0.01, max_back_pressure=5e4, draft_to_back_pressure_ratio=raised)
    made = engine(steam_passages=own)
    notes = layout._front_end_notes(made, SimpleNamespace(draft=np.ones(2)), USUAL)  # type: ignore[arg-type]
    assert len(notes) == noted
    assert not noted or "of 0.200 of the back pressure; the front end raises 0.200" in notes[0]
    assert layout._front_end_notes(made, SimpleNamespace(draft=None), USUAL) == []  # type: ignore[arg-type]
    without = replace(made, steam_passages=SteamPassages())
    assert len(layout._front_end_notes(without, SimpleNamespace(draft=None), USUAL)) == 2  # type: ignore[arg-type]
