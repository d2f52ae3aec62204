"""Steps and books of a boiler in which no figure is 0 or 1, so that none can be left out or turned round unseen.

With an injector the water from the tender is the feed, and by the handbook nothing is lost by radiation.
"""

from __future__ import annotations

import numpy as np
import pytest
import trials
from plain_python import in_plain_python

from locosim.engine.map import interpolation
from locosim.journey.kernel import arrays as a
from locosim.journey.kernel import boiler_state as b
from locosim.journey.kernel import crew, fire
from locosim.journey.kernel.arrays import THROTTLE_OPEN, Boiler, BoilerState, FireState, SteamDemand
from locosim.journey.setup.prepare import prepare

ASKED = trials.excursion(trials.line([(4000.0, 0.004)]))
BOILER: Boiler = prepare(ASKED, trials.performance(ASKED), transient_boiler=True).boiler._replace(
    tender_water_ratio=0.87, radiation_loss=45e3, auxiliary_steam=0.13, blower_steam=0.17, ash_share=0.08
)
ZERO = 273.15
BLOWING = (BOILER.safety_set_pressure + BOILER.safety_full_lift) / 2.0


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, b, crew, fire, interpolation)


def nodes(boiler: Boiler = BOILER) -> np.ndarray:
    """Temperatures of the saturation tables [K]."""
    count = len(boiler.pressure_table)
    return np.asarray(boiler.first_temperature + boiler.temperature_step * np.arange(count))


def temperature_of(pressure: float) -> float:
    return float(np.interp(pressure, BOILER.pressure_table, nodes()))


def state(pressure: float) -> BoilerState:
    temperature = temperature_of(pressure)
    water = BOILER.target_water - 150.0
    liquid = float(np.interp(temperature, nodes(), BOILER.liquid_enthalpy_table))
    heat = water * liquid + BOILER.metal_heat_capacity * (temperature - ZERO)
    at = FireState(burning=0.31, firing=0.22, green=14.0, bed=0.8 * BOILER.full_bed, ash=6.0, burned=0.29)
    return BoilerState(heat, water, at, 9e3, 4e3, temperature, 0.4)


ASKED_FOR = SteamDemand(1.7, 0.13, THROTTLE_OPEN, 280.0, 0.1, BOILER.target_water + 80.0, 0.05)


@pytest.mark.parametrize("part", [0.0, 0.21, 0.5, 0.83])
def test_saturation_is_read_in_straight_lines(part: float) -> None:
    for k in (0, 7, len(nodes()) - 2):
        temperature = nodes()[k] + part * BOILER.temperature_step
        tables = (BOILER.pressure_table, BOILER.liquid_enthalpy_table, BOILER.steam_enthalpy_table)
        expected = [float(np.interp(temperature, nodes(), table)) for table in tables]
        assert tuple(b.saturation(BOILER, temperature)) == pytest.approx(tuple(expected), rel=1e-9)


@pytest.mark.parametrize("pressure", [BOILER.working_pressure - 3e5, BLOWING, BOILER.safety_full_lift + 1e4])
def test_rates_and_books_of_a_step(pressure: float, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[b.BoilerRates] = []
    plain = b.boiler_rates

    def rates(at: Boiler, now: BoilerState, asked: SteamDemand, firing: float) -> b.BoilerRates:
        seen.append(plain(at, now, asked, firing))
        assert firing == pytest.approx(fire.firing_for_steam(BOILER, 1.83))
        boiling = b.saturation(BOILER, now.temperature)
        valves = b.safety_valve_flow(BOILER, boiling.pressure)
        blower = crew.blower_opening(BOILER, boiling.pressure, asked.throttle, firing)
        steam = 1.83 + 0.17 * blower
        feed = crew.feed_rate(BOILER, now, boiling.pressure, steam, valves, asked.water_aim, asked.feed_hold)
        damper = crew.damper_opening(BOILER, boiling.pressure, firing, 0.1)
        air = fire.fire_air(BOILER, firing, damper, blower)
        found = seen[-1]
        assert (found.steam, found.feed, found.safety_valve_steam) == pytest.approx((steam, feed, valves))
        assert found.steam_enthalpy == boiling.steam_enthalpy
        # steam and what the valves blow leave as dry steam; 45 kW are lost
        leaving = (steam + valves) * boiling.steam_enthalpy + 45e3
        assert found.heat_but_fire == pytest.approx(feed * BOILER.feed_enthalpy - leaving, rel=1e-12)
        assert found.fire.burning == pytest.approx(fire.burning_for_air(BOILER, now.fire, air, 0.0))
        assert found.fire.firing == pytest.approx(crew.firing_aim(BOILER, now.fire, 280.0))
        return found

    monkeypatch.setattr(b, "boiler_rates", rates)
    before, sums = state(pressure), np.zeros(a.SUM_COUNT)
    after = b.advance_transient(BOILER, before, ASKED_FOR, 3.0, sums)
    first, middle = seen
    assert (first.safety_valve_steam > 0.0) == (pressure > BOILER.safety_set_pressure)
    burning, burnt = fire.advance_fire(BOILER, before.fire, middle.fire, fire.fire_decay(BOILER, 3.0), 3.0)
    assert tuple(after.fire) == pytest.approx(tuple(burning), rel=1e-12)
    heat = fire.fire_heat(BOILER, burnt.burned)
    assert after.heat - before.heat == pytest.approx(
        3.0 * (heat - burnt.green_heat + middle.heat_but_fire), rel=1e-9
    )
    lost = middle.steam + middle.safety_valve_steam - middle.feed
    assert before.water - after.water == pytest.approx(3.0 * lost, rel=1e-9)
    assert before.tender - after.tender == pytest.approx(3.0 * middle.feed * 0.87, rel=1e-9)
    assert before.fuel - after.fuel == pytest.approx(3.0 * burnt.fired, rel=1e-9)
    assert after.feed == middle.feed
    expected = {
        a.CYLINDER_STEAM: 1.7, a.AUXILIARY_STEAM: middle.steam - 1.7, a.FEED_WATER: middle.feed,
        a.RETURNED_EXHAUST: 0.13 * middle.feed, a.FUEL_FIRED: burnt.fired, a.FUEL_BURNED: burnt.burned,
        a.ASH_MADE: 0.08 * burnt.burned, a.FIRE_HEAT: heat, a.FEED_HEAT: middle.feed * BOILER.feed_enthalpy,
        a.HEAT_IN_STEAM: (middle.steam + middle.safety_valve_steam) * middle.steam_enthalpy, a.RADIATION_LOSS: 45e3,
        a.SAFETY_VALVE_STEAM: middle.safety_valve_steam,
    }  # fmt: skip
    assert sums == pytest.approx([3.0 * expected.get(k, 0.0) for k in range(a.SUM_COUNT)], rel=1e-9)
    # what is booked is added to what was there
    b.advance_transient(BOILER, before, ASKED_FOR, 3.0, sums)
    assert sums == pytest.approx([6.0 * expected.get(k, 0.0) for k in range(a.SUM_COUNT)], rel=1e-9)


def test_the_middle_of_a_step_is_half_of_a_step_on(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[BoilerState] = []
    plain = b.boiler_rates

    def rates(at: Boiler, now: BoilerState, asked: SteamDemand, firing: float) -> b.BoilerRates:
        seen.append(now)
        return plain(at, now, asked, firing)

    before = state(BLOWING)
    by = b.boiler_rates(BOILER, before, ASKED_FOR, fire.firing_for_steam(BOILER, 1.83))
    assert by.safety_valve_steam > 0.0
    monkeypatch.setattr(b, "boiler_rates", rates)
    b.advance_transient(BOILER, before, ASKED_FOR, 4.0, np.zeros(a.SUM_COUNT))
    _, middle = seen
    assert middle.water - before.water == pytest.approx(
        2.0 * (by.feed - by.steam - by.safety_valve_steam), rel=1e-9
    )
    burning, burnt = fire.advance_fire(BOILER, before.fire, by.fire, fire.fire_decay(BOILER, 2.0), 2.0)
    assert tuple(middle.fire) == pytest.approx(tuple(burning))
    gained = fire.fire_heat(BOILER, burnt.burned) - burnt.green_heat + by.heat_but_fire
    assert middle.heat - before.heat == pytest.approx(2.0 * gained, rel=1e-9)
    assert (middle.tender, middle.fuel) == (before.tender, before.fuel)


def test_with_steady_pressure_the_books_are_those_of_the_steam() -> None:
    steady, before, sums = BOILER._replace(transient=False), state(BOILER.working_pressure), np.ones(20)
    sums = np.zeros(a.SUM_COUNT)
    after = b.advance_boiler(steady, before, ASKED_FOR, 8.0, sums)
    rate = fire.firing_for_steam(steady, 1.83)
    assert before.tender - after.tender == pytest.approx(8.0 * 1.83 * 0.87)
    assert before.fuel - after.fuel == pytest.approx(8.0 * rate)
    assert after.fire == pytest.approx(
        (rate, rate, 14.0, before.fire.bed, 6.0 + 8.0 * 0.08 * rate, rate), rel=1e-9
    )
    expected = {
        a.CYLINDER_STEAM: 1.7, a.AUXILIARY_STEAM: 0.13, a.FEED_WATER: 1.83, a.RETURNED_EXHAUST: 0.13 * 1.83,
        a.FUEL_FIRED: rate, a.FUEL_BURNED: rate, a.ASH_MADE: 0.08 * rate,
    }  # fmt: skip
    assert sums == pytest.approx([8.0 * expected.get(k, 0.0) for k in range(a.SUM_COUNT)], rel=1e-9)


def test_a_fire_is_cleaned_in_half_a_second_too() -> None:
    before, sums = state(BOILER.working_pressure), np.zeros(a.SUM_COUNT)
    b.hold_standing(BOILER, before, 2.0, 0.5, 300.0, BOILER.target_water, sums)
    loss = BOILER.cleaning_loss
    assert sums[a.FUEL_DROPPED] == pytest.approx(loss * (14.0 + before.fire.bed))
    assert sums[a.DROPPED_HEAT] == pytest.approx(loss * before.fire.bed * BOILER.heating_heat)
    assert sums[a.ASH_DROPPED] == 6.0
    cleaned = b.clean_fire(BOILER, before, np.zeros(a.SUM_COUNT))
    left = 1.0 - loss
    assert tuple(cleaned.fire) == pytest.approx(
        (0.31, 0.22, left * 14.0, left * before.fire.bed, 0.0, 0.29), rel=1e-12
    )


def test_the_fire_of_a_miniature_has_a_bed() -> None:
    """Half a kilogram of coal covers the grate of an engine of 7 1/4 in gauge."""
    small = BOILER._replace(full_bed=0.5, idle_bed=0.1, max_bed=0.8, heating_time=10.0)
    at = state(BOILER.working_pressure)
    at = at._replace(fire=FireState(0.001, 0.001, 0.01, 0.25, 0.0, 0.001))
    asked = ASKED_FOR._replace(cylinders=0.01, auxiliary=0.0, bed_aim=0.3)
    found = b.boiler_rates(small, at, asked, 0.002)
    assert found.fire.firing == pytest.approx(0.001 + 0.04 / small.bed_recovery_time)
    assert crew.bed_for_burning(small, small.max_firing) == pytest.approx(
        0.5 / small.blast_air_ratio + 10.0 * small.max_firing
    )
    decay = fire.fire_decay(small, 5.0)
    assert decay.heating == pytest.approx(np.exp(-0.5))
    after, step = fire.advance_fire(small, at.fire, fire.FireTargets(0.001, 0.001), decay, 5.0)
    assert after.green == pytest.approx(0.01)  # 10 s of what is fired
    assert after.bed == pytest.approx(0.25)
    assert step.green_heat == pytest.approx(0.0, abs=1e-9)
    assert fire.burning_for_air(small, at.fire, 0.01, 0.0) == pytest.approx(0.005)


class Counted(list[float]):
    """A table that counts how often it is read."""

    read = 0

    def __getitem__(self, k: object) -> float:  # type: ignore[override]
        self.read += 1
        return super().__getitem__(k)  # type: ignore[index,no-any-return]


def read_from(guess: float, heat: float) -> int:
    table = Counted(BOILER.liquid_enthalpy_table.tolist())
    b.boiler_temperature(BOILER._replace(liquid_enthalpy_table=table), heat, 5e3, guess)  # type: ignore[arg-type]
    return table.read


def test_a_temperature_is_found_at_once_from_one_close_by() -> None:
    """A run asks for it at every step: a search through the whole table would be most of its time."""
    step = BOILER.temperature_step
    for k in (1, 20, len(nodes()) - 3):
        at = nodes()[k] + 0.5 * step
        liquid = float(np.interp(at, nodes(), BOILER.liquid_enthalpy_table))
        heat = 5e3 * liquid + BOILER.metal_heat_capacity * (at - ZERO)
        cell = read_from(at, heat)
        assert cell == read_from(nodes()[k], heat) == read_from(nodes()[k + 1] - 1e-6, heat) <= 3
        assert read_from(at - step, heat) == read_from(at + step, heat) == 2 * cell
        for guess in nodes()[1:-1:5]:
            assert read_from(float(guess), heat) <= 5 * cell
    assert read_from(nodes()[0] + 0.5 * step, heat_of_first()) <= 3


def heat_of_first() -> float:
    """Heat in the first cell of the tables."""
    at = nodes()[0] + 0.5 * BOILER.temperature_step
    liquid = float(np.interp(at, nodes(), BOILER.liquid_enthalpy_table))
    return 5e3 * liquid + BOILER.metal_heat_capacity * (at - ZERO)


def test_a_firing_rate_is_found_at_once_from_one_close_by() -> None:
    table, step = BOILER.heat_table, BOILER.firing_step
    for k in (2, len(table) // 2, len(table) - 3):
        heat = 0.5 * float(table[k] + table[k + 1])
        counts = []
        for near in ((k + 0.5) * step, (k + 0.9) * step, (k + 1.5) * step, (k - 0.5) * step, 0.0):
            counted = Counted(table.tolist())
            fire.firing_for_heat(BOILER._replace(heat_table=counted), heat, 9.0, near)  # type: ignore[arg-type]
            counts.append(counted.read)
        assert counts[0] == counts[1]
        assert counts[2] == counts[3] == counts[0] + 1
        assert counts[4] == counts[0] + k
