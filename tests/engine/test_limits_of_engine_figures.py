"""Limits and usual values of engine figures: what is accepted or noted at each, and what is not just beyond it."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine import cutoff_table, indicator_diagram, plausibility, si_text, speed_curve
from locosim.engine.cutoff_table import DEFAULT_THROTTLE_OPENINGS, CutoffPoint
from locosim.engine.cylinders import speed_range
from locosim.engine.handbook_scope import method_cautions
from locosim.engine.tonnage_rating import METRIC_USUAL_SPEEDS, USUAL_SPEEDS
from locosim.errors import OutOfRange
from locosim.model import Auxiliaries, Cylinders, Locomotive, PoppetGear, ValveGear

MPH, PSI, INCH = 0.44704, 6894.757293168, 0.0254


# The handbook


def cautions(**changes: Any) -> str:
    return " ".join(method_cautions(replace(trials.locomotive(), **changes), "handbook"))


def boiler(**changes: Any) -> Any:
    return replace(trials.locomotive().boiler, **changes)


def test_the_handbook_ends_with_engines_of_about_1914() -> None:
    """215 psi, a superheater of 0.32 of the tubes, valves that travel 7 in."""
    assert cautions() == ""
    assert method_cautions(trials.locomotive(pressure=18e5), "cycle") == ()
    assert cautions(boiler=boiler(working_pressure_gauge=214.9 * PSI)) == ""
    assert "working pressure above 14.82 bar (215.0 psi)" in cautions(
        boiler=boiler(working_pressure_gauge=215.1 * PSI)
    )
    tubes = trials.locomotive().boiler.tube_surface
    own = trials.locomotive().boiler.superheater
    assert own is not None
    for share, later in ((0.319, False), (0.321, True)):
        heated = boiler(superheater=replace(own, surface=share * tubes))
        assert ("superheater above 0.32 of the tube surface" in cautions(boiler=heated)) == later
    unit = trials.locomotive().engine_units[0]
    for travel, later in ((7.0 * INCH, False), (7.05 * INCH, True)):
        gear = ValveGear(lap=0.03, lead=0.005, travel=travel)
        found = cautions(engine_units=(unit, replace(unit, valve_gear=gear)), mass=150e3)
        assert ("valve travel above 178 mm (7 in)" in found) == later
    poppets = replace(unit, poppet_gear=PoppetGear(release=0.9, compression=0.1))
    found = cautions(engine_units=(unit, poppets), mass=150e3)
    assert "this engine is later: poppet gear; expect more power" in found


# Notes on inputs


@pytest.mark.parametrize(("share", "noted"), [(0.0995, False), (0.1005, True)])
def test_auxiliaries_are_noted_above_a_tenth_of_the_steam(share: float, noted: bool) -> None:
    own = Auxiliaries(air_compressor_count=0, dynamo=0.0, train_heat=0.3)
    found = plausibility._auxiliary_notes(own, 0.3 / share)
    assert found == (
        [f"auxiliaries use {share:.0%} of the sustained evaporation ([auxiliaries]: train_heat)"]
        if noted
        else []
    )
    usual = plausibility._auxiliary_notes(Auxiliaries(), Auxiliaries().continuous_demand)
    assert usual == [
        "auxiliaries use 100% of the sustained evaporation ([auxiliaries]: air_compressor_steam, dynamo; "
        "air_compressor_steam and dynamo by default, as for a larger engine)"
    ]
    stoker = plausibility._auxiliary_notes(replace(own, train_heat=0.0, stoker=0.1), 0.1)
    assert stoker[0].endswith("([auxiliaries]: stoker)")


@pytest.mark.parametrize(("mass", "noted"), [(19.9e3, True), (20e3, False), (20.1e3, False)])
def test_a_light_engine_is_one_below_twenty_tons(mass: float, noted: bool) -> None:
    light = trials.locomotive(mass_on_drivers=10e3, mass=mass)
    assert len(plausibility._frontal_area_notes(light)) == noted
    assert plausibility._frontal_area_notes(replace(light, frontal_area=5.0)) == []


# Speeds


def test_usual_speeds_are_round_in_miles_or_kilometers_an_hour() -> None:
    assert pytest.approx(30 * MPH) == speed_curve.USUAL_SPEED
    miles = np.array(USUAL_SPEEDS) / MPH
    kilometers = np.array(METRIC_USUAL_SPEEDS) * 3.6
    assert (miles[0], miles[-1], kilometers[0], kilometers[-1]) == pytest.approx((10.0, 35.0, 15.0, 55.0))
    assert np.diff(miles) == pytest.approx(5.0)
    assert np.diff(kilometers) == pytest.approx(10.0)


def engine(*wheels: float, compound: bool = False, **changes: Any) -> Locomotive:
    unit = trials.locomotive().engine_units[0]
    low = Cylinders(number=2, bore=0.82, stroke=0.65, steam_source="receiver")
    units = [replace(unit, driver_diameter=wheel) for wheel in wheels]
    if compound:
        units[-1] = replace(units[-1], cylinders=(low,))
    return replace(trials.locomotive(mass=150e3), engine_units=tuple(units), **changes)


def test_cycles_are_computed_from_a_turn_in_ten_seconds_or_in_two_of_a_compound() -> None:
    assert speed_range.min_cycle_speed(engine(1.2, 1.5)) == pytest.approx(0.1 * math.pi * 1.5)
    assert speed_range.min_cycle_speed(engine(1.5, 1.5, compound=True)) == pytest.approx(0.5 * math.pi * 1.5)


def test_cycles_are_computed_a_twentieth_beyond_the_permitted_speed_and_to_the_end_of_the_speed_factors() -> (
    None
):
    """A piston runs twice its stroke in a turn: 1,600 ft/min end the table [Cole1914], 2,400 any engine there was."""
    foot = 0.3048 / 60.0
    small, large = engine(1.2), engine(1.2, 1.5)

    def at(pistons: float, wheel: float) -> float:
        return pistons * foot / (2.0 * 0.65) * math.pi * wheel

    assert speed_range.max_factor_speed(small) == pytest.approx(at(1600.0, 1.2))
    assert speed_range.max_factor_speed(large) == pytest.approx(
        at(1600.0, 1.2)
    )  # the small wheels turn faster
    assert speed_range.max_cycle_speed(large) == pytest.approx(at(2400.0, 1.2))
    assert speed_range.max_cycle_speed(replace(small, max_speed=30.0)) == pytest.approx(31.5)
    assert speed_range.max_cycle_speed(replace(small, max_speed=10.0)) == pytest.approx(at(1600.0, 1.2))


# A point of the cycle


def test_a_point_may_lie_at_the_ends_of_speed_cutoff_and_pressure_and_not_beyond() -> None:
    made = engine(1.5, max_speed=30.0)
    low, high = speed_range.min_cycle_speed(made), speed_range.max_cycle_speed(made)
    for speed in (low, high, high * (1.0 + 5e-10)):
        indicator_diagram._check_speed(speed, made)
    with pytest.raises(OutOfRange, match=r"a very slow revolution, and 31\.5"):
        indicator_diagram._check_speed(low * (1.0 - 1e-9), made)
    with pytest.raises(OutOfRange, match=r"from 0(\.0+)? m/s.* in speed, found|from 0 .*in speed, found"):
        indicator_diagram._check_speed(high * (1.0 + 2e-9), made)
    for gauge in (0.2001e6, 0.2e6, 1.1e6 - 1.0):
        indicator_diagram._check_pressure(gauge, 1e6)
    for gauge in (0.1999e6, 1.1001e6):
        with pytest.raises(OutOfRange, match="between 20 % and 110 %"):
            indicator_diagram._check_pressure(gauge, 1e6)
    for cutoff in (0.15 - 5e-10, 0.15, 0.8, 0.8 + 5e-10):
        indicator_diagram._check_cutoff(cutoff, 0.15, 0.8)
    for cutoff in (0.15 - 2e-9, 0.8 + 2e-9, math.nan):
        with pytest.raises(OutOfRange, match="between 15 % and 80 %"):
            indicator_diagram._check_cutoff(cutoff, 0.15, 0.8)


@pytest.mark.parametrize(
    ("low", "high", "cutoff", "words"),
    [
        (0.15001, 0.80009, 0.9, "between 15.01 % and 80 % for this engine, found 90 %"),
        (0.15, 0.8, 0.1, "between 15 % and 80 % for this engine, found 10 %"),
        (0.15, 0.8, 30.0, "found 3000 %; write a percentage, as 30 %"),
    ],
)
def test_the_ends_named_are_rounded_inward(low: float, high: float, cutoff: float, words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        indicator_diagram._check_cutoff(cutoff, low, high)


# The throttle


def test_throttles_tried_go_from_full_to_a_quarter_each_about_three_quarters_of_the_one_before() -> None:
    assert DEFAULT_THROTTLE_OPENINGS[0] == 1.0
    assert DEFAULT_THROTTLE_OPENINGS[-1] == 0.25
    assert len(DEFAULT_THROTTLE_OPENINGS) == 5
    for more, less in pairwise(DEFAULT_THROTTLE_OPENINGS):
        assert 0.66 < less / more < 0.76
        assert round(100 * less) % 5 == 0


def eased(
    effort: float, *, slope: float = 1.0, bend: float = 0.0, guess: float = 0.5, speed: float = 10.0
) -> Any:
    """The point found where the rim effort of the shortest cutoff is 100 kN times the opening, less a bend."""
    asked: list[float] = []

    def table(performance: Any, *, speed: float, cutoffs: Any, throttle: float) -> Any:
        assert cutoffs == (0.15,)
        asked.append(throttle)
        rim = 1e5 * slope * (throttle - bend * throttle * (1.0 - throttle))
        return (CutoffPoint(speed=speed, throttle=throttle, cutoff=0.15, indicated_effort=rim + 2e3, rim_effort=rim,
                            steam=1.0, fuel=0.1, back_pressure=0.0, steam_share=0.5),)  # fmt: skip

    performance: Any = SimpleNamespace(
        locomotive=trials.locomotive(),
        map=SimpleNamespace(
            cutoffs=np.array([0.15, 0.8]), friction=2e3, effort_at=lambda **at: 102e3,
            setting_for=lambda *, effort, speed, pressure: SimpleNamespace(throttle=guess),
        ),
    )  # fmt: skip
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cutoff_table, "cutoff_table", table)
        return cutoff_table._eased_at_shortest_cutoff(performance, speed, effort), asked


def test_the_throttle_is_eased_by_the_secant_of_two_points_near_the_opening_of_the_map() -> None:
    (point,), asked = eased(40e3)
    assert asked == pytest.approx([0.525, 0.55, 0.4])
    assert point.rim_effort == pytest.approx(40e3)
    (point,), asked = eased(40e3, bend=0.3)
    assert abs(point.rim_effort - 40e3) < 1e-3 * 42e3
    assert 3 <= len(asked) <= 5
    # Near full opening both points stay within it, and apart.
    (point,), asked = eased(97e3, guess=0.98)
    assert asked == pytest.approx([0.99, 1.0, 0.97])


@pytest.mark.parametrize(
    ("effort", "changes"),
    [
        (100e3, {}),  # what the shortest cutoff gives with the throttle wide open
        (40e3, {"speed": 0.4}),  # slower than any cycle
        (40e3, {"slope": 0.3}),  # the secant leads beyond full opening
        (40e3, {"slope": -1.0}),  # or below none
    ],
)
def test_where_easing_gives_no_such_effort_there_is_no_point(
    effort: float, changes: dict[str, float]
) -> None:
    assert eased(effort, **changes)[0] == ()


# Texts


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (si_text.format_speed(13.4112), "13.41 m/s (48.3 km/h, 30.0 mph)"),
        (si_text.format_force(44482.216), "44482 N (10000 lbf)"),
        (si_text.format_temperature(310.9278), "38 °C (100 °F)"),
        (si_text.format_area(0.9290304), "0.93 m² (10 ft²)"),
        (si_text.format_area(0.92), "0.92 m² (9.9 ft²)"),
        (si_text.format_area(1.0), "1.0 m² (11 ft²)"),
        (si_text.format_opening(0.001), "10 cm² (1.6 in²)"),
        (si_text.format_opening(0.00099), "9.90 cm² (1.5 in²)"),
        (si_text.format_opening(0.00064516), "6.45 cm² (1.0 in²)"),
        (si_text.format_opening(0.00064), "6.40 cm² (0.99 in²)"),
        (si_text.format_pressure(1e6), "10.00 bar (145.0 psi)"),
    ],
)
def test_quantities_are_written_in_both_units(text: str, expected: str) -> None:
    assert text == expected
