"""Tubes and flues: closed forms of their dimensions, equal friction, and heat along a flue against a general solver."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from boilers import EXPRESS, FEED_60F
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from locosim.constants import ATMOSPHERE, FOOT, INCH, POUND_PER_SQUARE_FOOT_HOUR, PSI
from locosim.errors import NoSolution
from locosim.physics.boiler import barrel as barrel_rules
from locosim.physics.boiler import draft, fuels
from locosim.physics.boiler import gas_passages as passages_of
from locosim.physics.boiler.barrel import (
    Barrel,
    Elements,
    Passage,
    TubeBank,
    barrel_by_dimensions,
    barrel_by_surfaces,
    surface_element_factor,
)
from locosim.physics.boiler.heat_balance import heat_balance
from locosim.physics.steam import properties as steam

GRATE = 63.0 * FOOT**2
PRESSURE = 195 * PSI + ATMOSPHERE


def bank(count, outside, inside):
    return TubeBank(count=count, outside_diameter=outside, inside_diameter=inside)


TUBES, FLUES = bank(230, 2.25 * INCH, 2.01 * INCH), bank(36, 5.5 * INCH, 5.2 * INCH)


def elements(length=15.0 * FOOT, pipes=4, diameter=1.5 * INCH):
    return Elements(pipes=pipes, diameter=diameter, length=length)


def express(*, length=18.0 * FOOT, tubes=TUBES, flues=FLUES, inside=None) -> Barrel:
    return barrel_by_dimensions(
        length=length, tubes=tubes, flues=flues, elements=inside or elements(length=length - 3.0 * FOOT)
    )


def balance(barrel, pounds=(30.0, 60.0, 90.0, 120.0)):
    return heat_balance(
        firing_rate=np.array(pounds) * POUND_PER_SQUARE_FOOT_HOUR * GRATE,
        grate_area=GRATE,
        firebox_surface=281 * FOOT**2,
        barrel=barrel,
        pressure=PRESSURE,
        feed_temperature=FEED_60F,
        fuel=fuels.BITUMINOUS,
    )


def test_surface_area_and_diameter_of_tubes():
    # closed form: 100 tubes, 50 mm outside, 46 mm inside, 4 m long
    found = barrel_by_dimensions(length=4.0, tubes=bank(100, 0.050, 0.046), flues=None, elements=None)
    assert found.tubes is not None
    assert found.tubes.surface == pytest.approx(100 * math.pi * 0.050 * 4.0, rel=1e-12)
    assert found.free_gas_area == pytest.approx(100 * math.pi / 4.0 * 0.046**2, rel=1e-12)
    assert found.tubes.diameter == 0.046
    assert found.flue_share == 0.0


def test_hydraulic_diameter_of_an_annulus_is_the_difference_of_its_diameters():
    found = barrel_by_dimensions(
        length=5.0,
        tubes=None,
        flues=bank(20, 0.14, 0.13),
        elements=elements(length=4.0, pipes=1, diameter=0.08),
    )
    assert found.flues is not None
    assert found.flues.diameter == pytest.approx(0.13 - 0.08, rel=1e-12)
    assert found.free_gas_area == pytest.approx(20 * math.pi / 4.0 * (0.13**2 - 0.08**2), rel=1e-12)
    assert found.element_surface == pytest.approx(20 * math.pi * 0.08 * 4.0, rel=1e-12)
    assert found.flue_share == 1.0
    assert found.all_gas.area == found.free_gas_area


def test_friction_is_the_same_in_tubes_and_flues():
    # by Blasius's law as the draft computes it, with the loss at the ends taken out
    found = express()

    def friction(passage, share):
        def drop(length):
            return draft.tube_pressure_drop(
                gas_rate=share * 12.0,
                free_gas_area=passage.area,
                tube_length=length,
                tube_diameter=passage.diameter,
                gas_temperature=900.0,
                roughness_factor=1.3,
            )

        return drop(passage.length) - drop(0.0)

    along = friction(found.flues, found.flue_share) + friction(found.bare_flues, found.flue_share)
    assert along == pytest.approx(friction(found.tubes, 1.0 - found.flue_share), rel=1e-9)


def test_draft_by_all_gas_is_that_of_the_tubes():
    found = express()
    assert found.all_gas.area * (1.0 - found.flue_share) == pytest.approx(found.tubes.area, rel=1e-12)


def test_dimensions_and_rule_agree_where_they_describe_the_same_tubes():
    # thin tubes 0.05 m wide and 100 diameters long have 1/400 of their surface as gas area
    same = barrel_by_dimensions(length=5.0, tubes=bank(400, 0.05, 0.05), flues=None, elements=None)
    rule = barrel_by_surfaces(tube_surface=400 * math.pi * 0.05 * 5.0, superheater_surface=0.0)
    assert same.free_gas_area == pytest.approx(rule.free_gas_area, rel=1e-12)
    one, two = balance(same), balance(rule)
    assert one.steam_rate == pytest.approx(two.steam_rate, rel=1e-12)
    assert same.all_gas.length == pytest.approx(rule.all_gas.length, rel=1e-12)


def test_flue_with_elements_agrees_with_a_general_solver():
    # gas along the flue: first against the wall alone, then against wall and elements; the steam counts at its mean
    a, b, wall, entering = 900.0, 0.25, 470.0, 1400.0
    found = passages_of.gas_passages(
        gas_rate=np.array([10.0]), a=np.array([10.0 * a]), b=np.array([10.0 * b]), barrel=express()
    )
    heat = passages_of.barrel_heat(
        passages=found,
        entering=np.array([entering]),
        wall=wall,
        pressure=1.45e6,
        other_heat=np.array([6e6]),
        evaporation_heat=2.6e6,
    )
    mean_steam = 0.5 * (wall + float(heat.steam_temperature[0]))
    share = found.flue_share
    bare, flues, units = (float(k[0]) for k in (found.bare_flues, found.flues, found.elements))

    def slope(x, temperature):
        gas = temperature[0]
        loss = bare * (gas - wall) if x < 1.0 else flues * (gas - wall) + units * (gas - mean_steam)
        to_steam = 0.0 if x < 1.0 else units * (gas - mean_steam)
        return [-loss / (share * 10.0 * (a + b * gas)), to_steam]

    first = solve_ivp(slope, (0.0, 1.0 - 1e-12), [entering, 0.0], rtol=1e-10, atol=1e-8).y[:, -1]
    last = solve_ivp(slope, (1.0, 2.0), first, rtol=1e-10, atol=1e-6).y[:, -1]
    # the elements radiate to the flue
    radiated = (
        5.670374e-8 * passages_of.ELEMENT_RADIATION * express().element_surface * (mean_steam**4 - wall**4)
    )
    assert 0.0 < radiated < 0.3 * last[1]
    assert float(heat.superheater[0]) == pytest.approx(last[1] - radiated, rel=1e-6)


def test_radiation_to_the_flue_makes_the_superheat_rise_faster_with_the_firing_rate(monkeypatch):
    def superheat():
        return balance(express()).steam_temperature - boiling

    boiling = steam.saturation_temperature(pressure=PRESSURE)
    with_radiation = superheat()
    monkeypatch.setattr(passages_of, "ELEMENT_RADIATION", 0.0)
    without = superheat()
    assert np.all(with_radiation < without)
    assert with_radiation[-1] / with_radiation[0] > 1.05 * without[-1] / without[0]


@settings(max_examples=30, deadline=None)
@given(
    count=st.integers(20, 350),
    flue_count=st.integers(0, 120),
    flue=st.floats(0.08, 0.15),
    pipes=st.integers(1, 6),
    reach=st.floats(0.3, 1.0),
    length=st.floats(2.5, 7.5),
)
def test_the_heat_balance_closes_for_any_dimensions(count, flue_count, flue, pipes, reach, length):
    filled = elements(
        length=reach * length, pipes=pipes, diameter=0.9 * math.sqrt(0.5 / pipes) * (flue - 0.008)
    )
    barrel = barrel_by_dimensions(
        length=length,
        tubes=bank(count, 0.057, 0.051),
        flues=bank(flue_count, flue, flue - 0.008) if flue_count else None,
        elements=filled if flue_count else None,
    )
    found = balance(barrel)
    assert np.max(np.abs(found.residual)) < 1e-9
    assert np.all(found.firebox_exit_temperature > found.smokebox_temperature)
    assert np.all(np.diff(found.steam_temperature) >= 0.0)


def required(barrel, found):
    passage = barrel.all_gas
    return draft.tube_pressure_drop(
        gas_rate=found.gas_rate,
        free_gas_area=passage.area,
        tube_length=passage.length,
        tube_diameter=passage.diameter,
        gas_temperature=900.0,
        roughness_factor=1.3,
    )


@pytest.mark.parametrize(
    ("changed", "sign_of_drop"),
    [(express(length=20.0 * FOOT), 1), (express(tubes=replace(TUBES, count=260)), -1)],
    ids=["longer", "more tubes"],
)
def test_more_tube_surface_makes_more_steam_and_a_cooler_smokebox(changed, sign_of_drop):
    before, after = balance(express()), balance(changed)
    assert np.all(after.heat_to_steam > before.heat_to_steam)
    assert np.all(after.smokebox_temperature < before.smokebox_temperature)
    assert np.all(sign_of_drop * (required(changed, after) - required(express(), before)) > 0.0)


def test_narrow_tubes_cost_draft():
    narrow = express(tubes=bank(230, 2.0 * INCH, 1.76 * INCH))
    assert np.all(required(narrow, balance(narrow)) > required(express(), balance(express())))


def test_steam_is_hotter_the_nearer_the_return_bends_are_to_the_fire():
    near = balance(express(inside=elements(length=17.0 * FOOT)))
    far = balance(express(inside=elements(length=13.0 * FOOT)))
    assert np.all(near.steam_temperature > far.steam_temperature + 10.0)


def test_empty_flues_make_saturated_steam_and_a_hot_smokebox():
    # wide open flues draw most of the gas, and it leaves hot
    bare = barrel_by_dimensions(length=18.0 * FOOT, tubes=TUBES, flues=FLUES, elements=None)
    found = balance(bare)
    assert found.superheater == pytest.approx(0.0)
    assert bare.free_gas_area > express().free_gas_area
    assert np.all(found.smokebox_temperature > balance(express()).smokebox_temperature + 50.0)


def test_superheater_factor_falls_slowly_with_the_size_of_the_superheater():
    assert surface_element_factor(share=0.0) == 0.0
    assert surface_element_factor(share=0.25) == pytest.approx(
        barrel_rules.ELEMENT_FACTOR * barrel_rules.SURFACE_FACTOR
    )
    shares = np.linspace(0.05, 1.0, 20)
    heat = [share * surface_element_factor(share=float(share)) for share in shares]
    assert np.all(np.diff(heat) > 0.0)  # a larger superheater still absorbs more
    assert surface_element_factor(share=0.5) < surface_element_factor(share=0.25)


def test_a_passage_twice_as_wide_has_less_friction():
    narrow = Passage(surface=1.0, area=0.5, diameter=0.04, length=4.0)
    assert (
        replace(narrow, diameter=0.08).resistance < narrow.resistance < replace(narrow, area=0.4).resistance
    )


def test_a_superheat_that_does_not_settle_names_the_surface(monkeypatch):
    monkeypatch.setattr(passages_of, "_STEAM_TOLERANCE", -1.0)  # no two steps are alike
    with pytest.raises(
        NoSolution, match=r"^the superheater absorbs more heat .* can carry; check the surface of the"
    ):
        heat_balance(firing_rate=np.array([1.0]), **EXPRESS, fuel=fuels.BITUMINOUS)


def test_a_superheat_settles_in_few_iterations(monkeypatch):
    counted = []
    plain = passages_of._superheat_temperature

    def found(*, pressure, heat):
        counted.append(heat)
        return plain(pressure=pressure, heat=heat)

    monkeypatch.setattr(passages_of, "_superheat_temperature", found)
    rates = np.linspace(20, 200, 10) * POUND_PER_SQUARE_FOOT_HOUR * EXPRESS["grate_area"]
    first = heat_balance(firing_rate=rates, **EXPRESS, fuel=fuels.BITUMINOUS)
    assert len(counted) <= 8
    # nor do the steps of the iteration change what it ends at
    steps = {"_RELAXATION": 0.4, "_LEAST_SLOPE": 0.5, "_LONGEST_STEP": 2.0, "_STEAM_HEAT_CAPACITY": 4e3}
    for name, value in steps.items():
        monkeypatch.setattr(passages_of, name, value)
        again = heat_balance(firing_rate=rates, **EXPRESS, fuel=fuels.BITUMINOUS)
        assert again.steam_temperature == pytest.approx(first.steam_temperature, abs=1e-6)
