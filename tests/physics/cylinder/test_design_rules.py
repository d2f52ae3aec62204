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
