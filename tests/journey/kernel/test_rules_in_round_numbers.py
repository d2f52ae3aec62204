"""Rules of the crew and of the fire worked by hand, for a boiler of round numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trials
from plain_python import in_plain_python

from locosim.journey.kernel import boiler_state, crew, fire
from locosim.journey.kernel.arrays import (
    THROTTLE_OPEN,
    THROTTLE_SHUT,
    Boiler,
    BoilerState,
    FireState,
    SteamDemand,
)
from locosim.journey.setup.prepare import prepare

ASKED = trials.excursion(trials.line([(4000.0, 0.004)]))
PREPARED = prepare(ASKED, trials.performance(ASKED), transient_boiler=True)
BAR = 1e5
# Working pressure 12 bar, valves at 12.5 and floor at 8; 5,000 kg of water, 4,000 at the crown sheet; 2 kg/s sustained.
BOILER: Boiler = PREPARED.boiler._replace(
    transient=True, pressure_floor=8.0 * BAR, working_pressure=12.0 * BAR, safety_set_pressure=12.5 * BAR,
    safety_full_lift=13.0 * BAR, safety_capacity=2.0, damper_range=1.0 * BAR, min_damper=0.2, floor_slope=5.0,
    target_water=5000.0, crown_sheet_water=4000.0, filled_water=5600.0, feed_deferral=0.6, recovery_time=600.0,
    low_demand_steam=0.8, feed_boost=3.0, max_feed=4.0, sustained_steam=2.0, auxiliary_steam=0.1, blower_steam=0.2,
    max_firing=0.5, firing_capacity=0.6, max_burning=0.55, min_firing=0.02, blower_firing=0.1, blast_air_ratio=1.25,
    full_bed=400.0, idle_bed=100.0, max_bed=500.0, heating_time=60.0, bed_recovery_time=300.0, horizon=900.0,
    heat_table=np.array([1.0, 5.0, 8.0, 10.0]), firing_step=0.2, evaporation_heat=3.0, radiation_loss=0.5,
)  # fmt: skip
OIL = BOILER._replace(full_bed=0.0)
LINE = PREPARED.line


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, boiler_state, crew, fire)


def state(**changes: float) -> BoilerState:
    made = BoilerState(
        heat=0.0, water=5000.0, fire=FireState(0.3, 0.3, 20.0, 280.0, 0.0, 0.3), tender=9e3, fuel=4e3,
        temperature=460.0, feed=0.0,
    )  # fmt: skip
    return made._replace(**changes)  # type: ignore[arg-type]


def feed(
    bar: float,
    steam: float,
    *,
    water: float = 5000.0,
    valves: float = 0.0,
    aim: float = 5000.0,
    hold: float = 0.0,
    tender: float = 9e3,
) -> float:
    return float(
        crew.feed_rate(BOILER, state(water=water, tender=tender), bar * BAR, steam, valves, aim, hold)
    )


def test_feed_makes_up_steam_less_what_is_put_off() -> None:
    assert feed(12.5, 1.6) == pytest.approx(1.6)  # nothing is put off at the pressure of the valves
    assert feed(8.0, 1.6) == pytest.approx(1.6 * 0.4)  # six tenths are at the floor
    assert feed(6.0, 1.6) == pytest.approx(1.6 * 0.4)
    # at 9.5 bar a third of the way up: two thirds of it
    assert feed(9.5, 1.5) == pytest.approx(1.5 * (1.0 - 0.6 * 2.0 / 3.0))
    # with the water 200 kg low, of 500 down to halfway to the crown sheet, three fifths of that; and it is restored in
    # 600 s, by a third at that pressure and with more steam than 0.8 kg/s
    missing = 200.0 / 600.0
    assert feed(9.5, 1.5, water=4800.0) == pytest.approx(1.5 * (1.0 - 0.6 * 2.0 / 3.0 * 0.6) + missing / 3.0)
    # with a quarter of 0.8 kg/s drawn, by three quarters
    assert feed(9.5, 0.2, water=4800.0) == pytest.approx(0.2 * (1.0 - 0.6 * 2.0 / 3.0 * 0.6) + missing * 0.75)
    # halfway from working pressure to the valves twice as fast, at the valves three times
    up = 4.25 / 4.5
    assert feed(12.25, 1.5, water=4800.0) == pytest.approx(
        1.5 * (1.0 - 0.6 * (1.0 - up) * 0.6) + missing * up * 2.0
    )
    assert feed(12.5, 0.0, water=4800.0) == pytest.approx(missing * 3.0)
    # too much water goes by not being fed
    assert feed(12.5, 1.5, water=5300.0) == pytest.approx(1.5 - 0.5)
    assert feed(12.5, 0.2, water=5300.0) == 0.0
    # below halfway to the crown sheet nothing is put off
    assert feed(8.0, 1.5, water=4400.0) == pytest.approx(1.5)


def test_feed_replaces_what_the_valves_blow_and_is_held_back_on_request() -> None:
    assert feed(12.5, 1.0, valves=0.4) == pytest.approx(1.4)
    assert feed(12.5, 1.0, valves=0.4, hold=0.5) == pytest.approx(0.9)
    assert feed(12.5, 1.0, hold=1.5) == 0.0
    assert feed(12.5, 0.0, water=4800.0, hold=1.5) == pytest.approx(
        1.0
    )  # the hold takes nothing from recovery
    assert feed(12.5, 9.0) == 4.0
    assert feed(12.5, 1.0, tender=1e-9) == 1.0
    assert feed(12.5, 1.0, tender=0.0) == 0.0


def test_water_is_filled_ahead_of_a_climb_with_pressure_to_spare() -> None:
    # 200 of 400 kg filled: half the hold; at 11.5 bar half of the rest is aimed at
    up = 3.5 / 4.5
    made_up = (1.5 - 0.5) * (1.0 - 0.6 * (1.0 - up))
    assert feed(11.5, 1.5, water=5200.0, aim=5400.0, hold=1.0) == pytest.approx(made_up + 100.0 / 600.0 * up)
    # up to 0.95 of the sustained steam; with more none, and what is above the working level stays
    at_margin = (1.9 - 0.5) * (1.0 - 0.6 * (1.0 - up))
    assert feed(11.5, 1.9, water=5200.0, aim=5400.0, hold=1.0) == pytest.approx(
        at_margin + 100.0 / 600.0 * up
    )
    beyond = (1.91 - 0.5) * (1.0 - 0.6 * (1.0 - up))
    assert feed(11.5, 1.91, water=5200.0, aim=5400.0, hold=1.0) == pytest.approx(beyond)
    # fuller than the aim: fed less, down to the aim
    assert feed(12.5, 1.5, water=5460.0, aim=5400.0) == pytest.approx(1.5 - 0.1)
    # lower than working level: at hard work back to that
    assert feed(12.5, 2.0, water=4880.0, aim=5400.0) == pytest.approx(2.0 + 120.0 / 600.0 * 3.0)


@pytest.mark.parametrize(
    ("share", "bar", "expected"),
    [
        (1.4, 12.0, 2.8), (1.4, 8.16, 2.8), (1.4, 8.08, 2.4), (1.4, 8.0, 2.0), (1.4, 7.6, 1.5), (1.4, 6.4, 0.0),
        (1.4, 5.0, 0.0), (0.5, 12.0, 1.0), (0.5, 8.0, 1.0), (0.5, 7.6, 1.0), (0.5, 7.0, 0.75), (1.0, 8.0, 2.0),
        (1.05, 8.0, 2.0), (1.05, 12.0, 2.1),
    ],
)  # fmt: skip
def test_steam_is_eased_around_the_pressure_floor(share: float, bar: float, expected: float) -> None:
    # from 1.02 of the floor the share falls to 1 at the floor, and below by five times the share of the pressure lost
    line = LINE._replace(steam_share=np.array([9.0, share]))
    assert crew.allowed_steam(line, BOILER, 1, bar * BAR) == pytest.approx(max(expected - 0.1, 0.0))
    steady = BOILER._replace(transient=False)
    assert crew.allowed_steam(line, steady, 1, bar * BAR) == pytest.approx(2.0 * share - 0.1)


def test_a_blower_is_shut_off_between_working_pressure_and_the_valves() -> None:
    for bar, expected in ((11.0, 1.0), (12.0, 1.0), (12.125, 0.75), (12.5, 0.0), (13.0, 0.0)):
        assert crew.blower_opening(BOILER, bar * BAR, THROTTLE_SHUT, 0.3) == pytest.approx(expected)
    # pulling: from a bar below working pressure, the less the harder the engine works; hard work is half of 0.5 kg/s
    for bar, firing, expected in (
        (10.5, 0.0, 1.0), (11.25, 0.0, 0.75), (12.0, 0.0, 0.0), (11.25, 0.1, 0.75 * 0.6), (11.0, 0.25, 0.0),
        (11.0, 0.4, 0.0),
    ):  # fmt: skip
        assert crew.blower_opening(BOILER, bar * BAR, THROTTLE_OPEN, firing) == pytest.approx(expected)


def test_dampers_close_by_pressure_and_by_what_lies_ahead() -> None:
    # open at 11 bar, a fifth open at 12.5
    for bar, expected in ((10.0, 1.0), (11.0, 1.0), (11.75, 0.6), (12.5, 0.2), (14.0, 0.2)):
        for ahead in (-1.0, 0.4, 0.5):
            assert crew.damper_opening(BOILER, bar * BAR, 0.4, ahead) == pytest.approx(expected)
    # a quarter of the steam ahead, half the way from the floor to working pressure: 3/8 closed, or as pressure has it
    assert crew.damper_opening(BOILER, 10.0 * BAR, 0.4, 0.1) == pytest.approx(1.0 - 0.8 * 0.5 * 0.75)
    assert crew.damper_opening(BOILER, 12.25 * BAR, 0.4, 0.3) == pytest.approx(1.0 - 0.8 * 1.25 / 1.5)
    assert crew.damper_opening(BOILER, 12.0 * BAR, 0.4, 0.0) == pytest.approx(0.2)
    assert crew.damper_opening(BOILER, 7.0 * BAR, 0.4, 0.0) == 1.0


def test_the_bed_of_a_burning_rate_and_what_the_fireman_throws() -> None:
    # 400/1.25 = 320 kg at hard work, 100 standing; green fuel on top, 60 s of it
    for burning, expected in ((0.0, 100.0), (0.125, 210.0 + 7.5), (0.25, 320.0 + 15.0), (0.5, 320.0 + 30.0)):
        assert crew.bed_for_burning(BOILER, burning) == pytest.approx(expected)
        assert crew.bed_for_burning(OIL, burning) == 0.0
    burnt = FireState(0.3, 0.1, 20.0, 280.0, 0.0, 0.25)
    for aim, expected in (
        (300.0, 0.25),
        (360.0, 0.45),
        (240.0, 0.05),
        (210.0, 0.0),
        (500.0, 0.6),
        (0.0, 0.0),
    ):
        assert crew.firing_aim(BOILER, burnt, aim) == pytest.approx(expected)
    low = BOILER._replace(max_bed=330.0)
    assert crew.firing_aim(low, burnt, 400.0) == pytest.approx(0.25 + 0.1)
    # standing: 0.95 of 0.6 kg/s can be thrown until the departure
    for aim, left, expected in (
        (400.0, 0.0, 400.0), (400.0, 100.0, 343.0), (400.0, 800.0, 100.0), (700.0, 900.0, 187.0), (700.0, 900.1, 100.0),
        (0.0, 10.0, 100.0), (-1.0, 0.0, 335.0),
    ):  # fmt: skip
        assert crew.bed_aim_standing(BOILER, aim, left) == pytest.approx(expected)


@pytest.mark.parametrize("near", [-1.0, 0.0, 0.1, 0.2, 0.35, 0.4, 0.59, 0.6, 5.0])
def test_the_firing_rate_of_a_heat_is_found_from_any_rate(near: float) -> None:
    find = fire.firing_for_heat
    for heat, expected in (
        (0.5, 0.0), (1.0, 0.0), (2.0, 0.05), (5.0, 0.2), (6.5, 0.3), (8.0, 0.4), (9.5, 0.55), (10.0, 0.6), (12.0, 0.6),
    ):  # fmt: skip
        assert find(BOILER, heat, 9.0, near) == pytest.approx(expected)
        assert find(BOILER, heat, 0.25, near) == pytest.approx(min(expected, 0.25))
    # 1.5 kg/s of steam takes 4.5 W, and half a watt is lost
    assert fire.firing_for_steam(BOILER, 1.5, near) == pytest.approx(0.2)
    assert fire.firing_for_steam(BOILER, 3.1, near) == pytest.approx(
        0.55
    )  # no more than grate and draft burn


def test_air_and_bed_let_the_fire_burn() -> None:
    assert fire.fire_air(BOILER, 0.4, 0.5, 0.3) == pytest.approx(0.02 + 0.03 + 0.25)
    assert fire.burning_for_air(BOILER, state().fire, 0.5, 0.0) == pytest.approx(0.5 * 280.0 / 400.0)
    deep = state().fire._replace(bed=450.0)
    assert fire.burning_for_air(BOILER, deep, 0.5, 0.0) == 0.5
    assert fire.burning_for_air(BOILER, deep, 0.6, 0.0) == 0.55
    assert fire.burning_for_air(OIL, deep, 0.5, 0.3) == 0.3
    assert fire.burning_for_air(OIL, deep, 0.2, 0.3) == 0.2
    assert [fire.fire_heat(BOILER, burned) for burned in (0.0, 0.1, 0.5, 0.6, 2.0)] == pytest.approx(
        [1.0, 3.0, 9.0, 10.0, 10.0]
    )
    lags = BOILER._replace(burning_lag=10.0, firing_lag=40.0)
    assert tuple(fire.fire_decay(lags, 20.0)) == pytest.approx(
        (math.exp(-2.0), math.exp(-0.5), math.exp(-1.0 / 3.0))
    )
    assert tuple(fire.fire_decay(lags._replace(full_bed=0.0), 20.0)) == pytest.approx(
        (math.exp(-2.0), 0.0, 0.0)
    )


def test_the_aim_of_the_bed_is_that_of_the_road_or_of_the_present_steam() -> None:
    """With no fuel on the way the fireman's aim is the only difference between the two."""
    at = state(temperature=BOILER.working_temperature)
    rates = {}
    for aim in (-1.0, 0.0, 310.0):
        asked = SteamDemand(1.0, 0.1, THROTTLE_OPEN, aim, -1.0, 5000.0, 0.0)
        rates[aim] = boiler_state.boiler_rates(BOILER, at, asked, 0.25).fire.firing
    assert rates[-1.0] == pytest.approx(0.3 + 35.0 / 300.0)
    assert rates[0.0] == 0.0
    assert rates[310.0] == pytest.approx(0.3 + 10.0 / 300.0)
