"""Dimensions that a drawing would give, by the rules that stand for it, on an engine of round figures."""

from __future__ import annotations

import math

import pytest

from locosim.constants import ATMOSPHERE
from locosim.errors import OutOfRange
from locosim.physics.cylinder import design_rules as rules
from locosim.physics.cylinder.poppet_gear import PoppetGear, poppet_motion
from locosim.physics.cylinder.valve_gear import (
    full_gear_cutoff,
    harmonic_motion,
    mid_gear_cutoff,
    valve_events,
    valve_travel,
)


def test_a_piston_valve_of_a_cylinder_of_half_a_meter() -> None:
    # valve 0.54 of the bore with a quarter lost to bars; lap 0.058, lead 0.0095, port 0.07 of the stroke; rod 0.17
    found = rules.piston_valve_cylinder(number=3, bore=0.5, stroke=1.0)
    assert (found.number, found.bore, found.stroke, found.rod_ratio, found.clearance) == (
        3.0,
        0.5,
        1.0,
        7.0,
        0.09,
    )
    assert (found.lap, found.lead, found.exhaust_lap, found.port_width) == (0.058, 0.0095, 0.0, 0.07)
    assert found.rod_diameter == pytest.approx(0.085)
    assert found.port_length == pytest.approx(0.75 * math.pi * 0.27)
    assert (found.lead_rise, found.travel) == (0.0, 0.0)


def test_a_slide_valve_is_near_the_nine_of_1888() -> None:
    found = rules.slide_valve_cylinder(number=2, bore=0.5, stroke=1.0)
    assert (found.number, found.rod_ratio, found.clearance, found.exhaust_lap) == (2.0, 7.5, 0.09, 0.0)
    # [Sinclair1888], means of nine engines: port 0.86 of the bore and 0.051 of the stroke
    assert (found.port_length, found.port_width) == (0.475, 0.055)
    assert (found.lap, found.lead) == (0.04, 0.008)
    assert found.rod_diameter == pytest.approx(0.075)
    assert found.port_length == pytest.approx(0.86 * 0.5, rel=0.12)
    assert found.port_width == pytest.approx(0.051, rel=0.1)


def test_throttle_and_passage_are_two_resistances_in_series() -> None:
    wide = rules.throttled_passage_area(passage=0.02, throttle=1.0, throttle_area_ratio=2.0)
    assert wide == pytest.approx(0.02)
    for opening in (0.1, 0.5):
        found = rules.throttled_passage_area(passage=0.02, throttle=opening, throttle_area_ratio=2.0)
        # 1/A² adds up; wide open the throttle has twice the area of the rest
        rest = 0.02 * math.sqrt(1.25)
        assert 1.0 / found**2 == pytest.approx(1.0 / rest**2 + 1.0 / (2.0 * opening * rest) ** 2)


def test_an_exhaust_nozzle_passes_what_saint_venant_says() -> None:
    # p/rho of nearly dry steam near the atmosphere, 175 kJ/kg; exponent 1.3
    upstream = ATMOSPHERE + 5e4
    ratio, k = ATMOSPHERE / upstream, 1.3
    flow = (
        math.sqrt(2 * k / (k - 1) * (ratio ** (2 / k) - ratio ** ((k + 1) / k)))
        * upstream
        / math.sqrt(1.75e5)
    )
    assert rules.nozzle_steam_rate(area=0.02, back_pressure=5e4) == pytest.approx(0.02 * flow)


def test_a_gear_gives_cutoffs_from_mid_to_full_gear() -> None:
    lap, lead, travel = 0.04, 0.006, 0.16
    least = mid_gear_cutoff(lap=lap, lead=lead)
    assert least == pytest.approx(0.006 / (2 * 0.046))
    assert harmonic_motion(cutoff=least, lap=lap, lead=lead).link_amplitude == pytest.approx(0.0, abs=1e-12)
    for cutoff in (least * (1 - 1e-6), 1.0):
        with pytest.raises(OutOfRange, match="cannot be set"):
            harmonic_motion(cutoff=cutoff, lap=lap, lead=lead)
    most = full_gear_cutoff(lap=lap, lead=lead, travel=travel)
    assert valve_travel(cutoff=most, lap=lap, lead=lead) == pytest.approx(travel)
    for short in (0.092, 0.0919):
        with pytest.raises(OutOfRange, match=r"write more than 0\.092 m"):
            full_gear_cutoff(lap=lap, lead=lead, travel=short)
    rising = {"lap": lap, "lead": lead, "lead_rise": 0.004, "travel": travel}
    assert valve_travel(
        cutoff=full_gear_cutoff(lap=lap, lead=lead, travel=travel), **rising
    ) == pytest.approx(travel)
    shut = mid_gear_cutoff(lap=lap, lead=lead, lead_rise=0.004)
    assert shut == pytest.approx(0.010 / 0.1)
    assert harmonic_motion(cutoff=shut, **rising).lap_and_lead == pytest.approx(0.05)
    with pytest.raises(OutOfRange, match="too much for a"):
        harmonic_motion(cutoff=0.4, lap=lap, lead=lead, lead_rise=0.02, travel=0.1)


def test_an_exhaust_lap_is_below_the_half_travel() -> None:
    gear = {"cutoff": 0.5, "lap": 0.04, "lead": 0.006, "rod_ratio": 7.0}
    half = 0.5 * valve_travel(cutoff=0.5, lap=0.04, lead=0.006)
    for lap in (half, -half, 1.1 * half):
        with pytest.raises(OutOfRange, match="more than the half travel"):
            valve_events(exhaust_lap=lap, **gear)
    front, back = valve_events(exhaust_lap=0.99 * half, **gear)
    assert front.release > 0.9
    assert 0.5 * (front.cutoff + back.cutoff) == pytest.approx(0.5)
    assert front.steam_opening == pytest.approx(half - 0.04)
    line, _ = valve_events(exhaust_lap=0.0, **gear)
    assert line.compression_angle - line.release_angle == pytest.approx(math.pi)


def test_a_poppet_gear_cuts_off_before_release() -> None:
    gear = PoppetGear(
        preadmission=0.01, release=0.9, compression=0.12, steam_area=0.01, exhaust_area=0.015, lift_angle=0.3
    )
    found = poppet_motion(gear, cutoff=0.25)
    for angle, position in (
        (-found.admission_angle, 0.01), (found.cutoff_angle, 0.25), (found.release_angle, 0.9),
        (2.0 * math.pi - found.compression_angle, 0.12),
    ):  # fmt: skip
        assert 0.5 * (1.0 - math.cos(angle)) == pytest.approx(position)
    assert (found.steam_area, found.exhaust_area, found.lift_angle) == (0.01, 0.015, 0.3)
    assert (found.lap_and_lead, found.link_amplitude) == (0.0, 0.0)
    for cutoff in (0.0, 0.9, 0.95):
        with pytest.raises(OutOfRange, match="below the release"):
            poppet_motion(gear, cutoff=cutoff)


def test_a_short_lap_leaks_more() -> None:
    """Fitted: 1.08e-4 of the piston area with a lap of 0.058 of the stroke, 2.65 times that with 0.040."""
    for part, factor in ((0.07, 1.0), (0.058, 1.0), (0.049, 2.65**0.5), (0.040, 2.65), (0.02, 2.65)):
        found = rules.leakage_area_ratio(lap=part * 0.7, stroke=0.7)
        assert found == pytest.approx(1.08e-4 * factor)


@pytest.mark.parametrize("ratio", [0.5, 0.8, 2.0, 3.0])
def test_a_throttle_wide_open_is_so_many_times_the_rest_of_the_passage(ratio: float) -> None:
    given = {"passage": 0.012, "throttle_area_ratio": ratio}
    assert rules.throttled_passage_area(throttle=1.0, **given) == pytest.approx(0.012)
    # in series: one over the squares of the areas add up
    rest = 0.012 * math.sqrt(1.0 + 1.0 / ratio**2)
    for opening in (0.1, 0.35, 0.9):
        found = rules.throttled_passage_area(throttle=opening, **given)
        assert 1.0 / found**2 == pytest.approx(1.0 / (ratio * rest * opening) ** 2 + 1.0 / rest**2)


def test_cylinders_by_rule_with_a_stroke_of_700_mm() -> None:
    piston = rules.piston_valve_cylinder(number=2, bore=0.5, stroke=0.7)
    assert (piston.lap, piston.lead, piston.port_width) == pytest.approx((0.0406, 0.00665, 0.049))
    assert (piston.rod_diameter, piston.rod_ratio, piston.clearance) == pytest.approx((0.085, 7.0, 0.09))
    assert piston.port_length == pytest.approx(math.pi * 0.27 * 0.75)
    slide = rules.slide_valve_cylinder(number=2, bore=0.5, stroke=0.7)
    assert (slide.lap, slide.lead, slide.port_width) == pytest.approx((0.028, 0.0056, 0.0385))
    assert (slide.rod_diameter, slide.rod_ratio, slide.clearance) == pytest.approx((0.075, 7.5, 0.09))
    assert slide.port_length == pytest.approx(0.475)
    assert (piston.exhaust_lap, slide.exhaust_lap) == (0.0, 0.0)


def test_figures_that_were_fitted_are_those_of_the_page() -> None:
    """docs/theory/cylinder-cycle.md and tests/validation say to what."""
    assert tuple(rules.FITTED_CONSTANTS) == (0.70, 0.64, 1.08e-4, 4280.0, 535.0, 2.0, 86e3)
    assert (rules.NOZZLE_TO_GAS_AREA, rules.PASSAGE_TO_PISTON_AREA) == (0.0289, 0.0124)
