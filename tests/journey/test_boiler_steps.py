"""Steps of the boiler's state: each by hand, and several against its differential equations."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import seuif97
import trials
from plain_python import in_plain_python
from scipy.integrate import solve_ivp

from locosim.engine.map import interpolation
from locosim.journey.kernel import arrays as a
from locosim.journey.kernel import boiler_state as b
from locosim.journey.kernel import crew, fire
from locosim.journey.kernel.arrays import (
    THROTTLE_OPEN,
    THROTTLE_SHUT,
    Boiler,
    BoilerState,
    FireState,
    SteamDemand,
)
from locosim.journey.setup.prepare import prepare
from locosim.model import Fuel

ASKED = trials.excursion(trials.line([(4000.0, 0.004)]))
ODD = {"radiation_loss": 40e3, "tender_water_ratio": 0.93}  # by the handbook 0 and 1, which would hide a slip
BOILER: Boiler = prepare(ASKED, trials.performance(ASKED), transient_boiler=True).boiler._replace(**ODD)
_WITH_OIL = replace(
    ASKED,
    fuel=Fuel(kind="oil"),
    locomotive=replace(ASKED.locomotive, boiler=replace(ASKED.locomotive.boiler, firing="oil")),
)
OIL: Boiler = prepare(_WITH_OIL, trials.performance(_WITH_OIL), transient_boiler=True).boiler._replace(**ODD)
ZERO = 273.15


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, b, crew, fire, interpolation)


def heat_at(boiler: Boiler, temperature: float, water: float) -> float:
    """Heat of water and metal above water at 0 °C."""
    nodes = boiler.first_temperature + boiler.temperature_step * np.arange(len(boiler.liquid_enthalpy_table))
    liquid = np.interp(temperature, nodes, boiler.liquid_enthalpy_table)
    return float(water * liquid + boiler.metal_heat_capacity * (temperature - ZERO))


def state_at(boiler: Boiler, temperature: float, **changes: float) -> BoilerState:
    bed = boiler.full_bed
    made = BoilerState(
        heat=heat_at(boiler, temperature, boiler.target_water),
        water=boiler.target_water,
        fire=FireState(burning=0.3, firing=0.25, green=15.0, bed=0.9 * bed, ash=5.0, burned=0.3),
        tender=9e3,
        fuel=4e3,
        temperature=temperature,
        feed=0.0,
    )
    return made._replace(**changes)  # type: ignore[arg-type]


def demand(**changes: float) -> SteamDemand:
    made = SteamDemand(
        cylinders=2.0, auxiliary=0.1, throttle=THROTTLE_OPEN, bed_aim=-1.0, firing_ahead=-1.0,
        water_aim=BOILER.target_water, feed_hold=0.0,
    )  # fmt: skip
    return made._replace(**changes)  # type: ignore[arg-type]


def test_the_temperature_of_a_heat_is_found_from_any_guess() -> None:
    first, step, count = (
        BOILER.first_temperature, BOILER.temperature_step, len(BOILER.liquid_enthalpy_table),
    )  # fmt: skip
    last = first + step * (count - 1)
    places = [
        first + 0.3 * step,
        first + 1.7 * step,
        0.5 * (first + last),
        last - 0.4 * step,
        first + 5.0 * step,
    ]
    for temperature in places:
        heat = heat_at(BOILER, temperature, 5e3)
        for guess in (
            0.0,
            first,
            first + 0.5 * step,
            temperature - step,
            temperature + step,
            last,
            2.0 * last,
        ):
            found = b.boiler_temperature(BOILER, heat, 5e3, guess)
            assert found == pytest.approx(temperature, abs=1e-6)
    # beyond the table it goes on along its last line
    over = heat_at(BOILER, last, 5e3) + 1e6
    slope = (BOILER.liquid_enthalpy_table[-1] - BOILER.liquid_enthalpy_table[-2]) / step
    for guess in (first, last):
        assert b.boiler_temperature(BOILER, over, 5e3, guess) == pytest.approx(
            last + 1e6 / (5e3 * slope + BOILER.metal_heat_capacity), abs=1e-6
        )


@pytest.mark.parametrize("celsius", [150.0, 165.3, 180.05, 195.0])
def test_boiling_water_is_that_of_the_formulation(celsius: float) -> None:
    found = b.saturation(BOILER, celsius + ZERO)
    assert found.pressure == pytest.approx(seuif97.tx2p(celsius, 0.5) * 1e6, rel=1e-3)
    assert found.liquid_enthalpy == pytest.approx(seuif97.tx2h(celsius, 0.0) * 1e3, rel=1e-3)
    assert found.steam_enthalpy == pytest.approx(seuif97.tx2h(celsius, 1.0) * 1e3, rel=1e-3)


def test_the_safety_valves_open_from_their_set_pressure_to_full_lift() -> None:
    opens, full, most = BOILER.safety_set_pressure, BOILER.safety_full_lift, BOILER.safety_capacity
    found = [
        b.safety_valve_flow(BOILER, p)
        for p in (opens - 1.0, opens, 0.75 * opens + 0.25 * full, full, 2 * full)
    ]
    assert found == pytest.approx([0.0, 0.0, 0.25 * most, most, most])


def test_a_boiler_starts_as_it_is_given() -> None:
    start = a.InitialState(
        time=50.0, heat=heat_at(BOILER, 460.0, 6e3), water=6e3, burning=0.2, bed=300.0, tender_water=8e3,
        tender_fuel=3e3, tender_water_full=9e3, tender_fuel_full=4e3, warm=False,
    )  # fmt: skip
    found = b.initial_boiler_state(BOILER, start)
    assert found.temperature == pytest.approx(460.0)
    assert found.fire == FireState(0.2, 0.2, 0.0, 300.0, 0.0, 0.2)
    assert (found.heat, found.water, found.tender, found.fuel, found.feed) == (start.heat, 6e3, 8e3, 3e3, 0.0)


@pytest.mark.parametrize("throttle", [THROTTLE_OPEN, THROTTLE_SHUT])
def test_rates_of_a_boiler_are_the_sum_of_what_crew_and_fire_do(throttle: int) -> None:
    temperature = BOILER.working_temperature - 4.0
    state, asked = state_at(BOILER, temperature), demand(throttle=throttle)
    firing = fire.firing_for_steam(BOILER, 2.1)
    found = b.boiler_rates(BOILER, state, asked, firing)
    boiling = b.saturation(BOILER, temperature)
    blower = crew.blower_opening(BOILER, boiling.pressure, throttle, firing)
    steam = 2.1 + BOILER.blower_steam * (1.0 if throttle == THROTTLE_SHUT else blower)
    assert found.steam == pytest.approx(steam)
    assert found.safety_valve_steam == 0.0
    assert found.feed == pytest.approx(
        crew.feed_rate(BOILER, state, boiling.pressure, steam, 0.0, BOILER.target_water, 0.0)
    )
    assert found.heat_but_fire == pytest.approx(
        found.feed * BOILER.feed_enthalpy - steam * boiling.steam_enthalpy - BOILER.radiation_loss
    )
    assert found.fire.firing == pytest.approx(
        crew.firing_aim(BOILER, state.fire, crew.bed_for_burning(BOILER, firing))
    )
    air = BOILER.min_firing + BOILER.blower_firing * blower
    air += BOILER.blast_air_ratio * firing * crew.damper_opening(BOILER, boiling.pressure, firing, -1.0)
    assert found.fire.burning == pytest.approx(min(0.9 * air, BOILER.max_burning))
    known = b.boiler_rates(BOILER, state, demand(throttle=throttle, bed_aim=0.0), firing)
    assert known.fire.firing == pytest.approx(crew.firing_aim(BOILER, state.fire, 0.0))


def test_a_burner_makes_steam_feed_losses_and_lost_heat() -> None:
    temperature = OIL.working_temperature - 3.0
    state, boiling = state_at(OIL, temperature), b.saturation(OIL, temperature)
    lost = heat_at(OIL, OIL.working_temperature, state.water) - state.heat
    for steam, feed in ((0.6, 0.5), (1.0, 0.0)):
        need = steam * (boiling.steam_enthalpy - boiling.liquid_enthalpy) + OIL.radiation_loss
        need += feed * (boiling.liquid_enthalpy - OIL.feed_enthalpy) + lost / OIL.recovery_time
        found = crew.burner_aim(OIL, state, boiling, steam, feed)
        assert fire.fire_heat(OIL, found) == pytest.approx(need, rel=1e-4)
    assert crew.burner_aim(OIL, state, boiling, 0.0, 0.0) >= OIL.min_firing
    full = state_at(OIL, OIL.working_temperature + 5.0)
    assert crew.burner_aim(OIL, full, boiling, 0.0, 0.0) == OIL.min_firing
    assert crew.burner_aim(OIL, state, boiling, 1e3, 0.0) == pytest.approx(OIL.firing_capacity)
    # The fire takes what is fired and what there is air for, whichever is less.
    at = FireState(0.1, 0.1, 0.0, 0.0, 0.0, 0.1)
    assert fire.burning_for_air(OIL, at, 0.2, 0.3) == 0.2
    assert fire.burning_for_air(OIL, at, 0.3, 0.2) == 0.2
    assert fire.burning_for_air(OIL, at, 1e3, 1e3) == OIL.max_burning


def test_the_fire_follows_its_targets_by_exponentials() -> None:
    start, targets, dt = FireState(0.4, 0.3, 12.0, 200.0, 1.0, 0.0), fire.FireTargets(0.2, 0.5), 7.0
    after, step = fire.advance_fire(BOILER, start, targets, fire.fire_decay(BOILER, dt), dt)
    burning = 0.2 + 0.2 * np.exp(-dt / BOILER.burning_lag)
    firing = 0.5 - 0.2 * np.exp(-dt / BOILER.firing_lag)
    times = np.linspace(0.0, dt, 20001)
    assert (after.burning, after.firing) == pytest.approx((burning, firing))
    burned = np.trapezoid(0.2 + 0.2 * np.exp(-times / BOILER.burning_lag), times)
    fired = np.trapezoid(0.5 - 0.2 * np.exp(-times / BOILER.firing_lag), times)
    assert (dt * step.burned, dt * step.fired) == pytest.approx((burned, fired), rel=1e-6)
    mean = fired / dt * BOILER.heating_time
    green = mean + (12.0 - mean) * np.exp(-dt / BOILER.heating_time)
    assert after.green == pytest.approx(green, rel=1e-6)
    assert after.bed == pytest.approx(200.0 + 12.0 + fired - green - burned, rel=1e-6)
    assert after.ash == pytest.approx(1.0 + BOILER.ash_share * burned)
    assert step.green_heat == pytest.approx(
        BOILER.heating_heat * (12.0 + fired - green - burned) / dt, rel=1e-5
    )
    twice = fire.twice_as_long(fire.fire_decay(BOILER, 3.5))
    assert tuple(twice) == pytest.approx(tuple(fire.fire_decay(BOILER, 7.0)))
    # a thin bed burns no more than there is
    thin = start._replace(bed=0.5, green=0.0)
    after, step = fire.advance_fire(BOILER, thin, fire.FireTargets(2.0, 0.0), fire.fire_decay(BOILER, dt), dt)
    assert after.bed == pytest.approx(0.0, abs=1e-9)
    oil, step = fire.advance_fire(OIL, start, targets, fire.fire_decay(OIL, dt), dt)
    burning = 0.2 + 0.2 * np.exp(-dt / OIL.burning_lag)
    burned = np.trapezoid(0.2 + 0.2 * np.exp(-times / OIL.burning_lag), times) / dt
    assert tuple(oil) == pytest.approx(
        (burning, burning, 0.0, 0.0, 1.0 + dt * OIL.ash_share * burned, burned), rel=1e-6
    )
    assert tuple(step) == pytest.approx((burned, burned, 0.0), rel=1e-6)


@pytest.mark.parametrize("boiler", [BOILER, OIL], ids=["coal", "oil"])
def test_a_step_goes_by_the_rates_at_its_middle(boiler: Boiler, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[BoilerState, b.BoilerRates]] = []
    plain = b.boiler_rates

    def rates(at: Boiler, state: BoilerState, asked: SteamDemand, firing: float) -> b.BoilerRates:
        seen.append((state, plain(at, state, asked, firing)))
        return seen[-1][1]

    monkeypatch.setattr(b, "boiler_rates", rates)
    state = state_at(boiler, boiler.working_temperature - 6.0)
    after = b.advance_transient(boiler, state, demand(), 4.0, np.zeros(a.SUM_COUNT))
    (first, at_first), (middle, at_middle) = seen
    assert first == state
    for found, seconds, by in ((middle, 2.0, at_first), (after, 4.0, at_middle)):
        burning, step = fire.advance_fire(
            boiler, state.fire, by.fire, fire.fire_decay(boiler, seconds), seconds
        )
        assert tuple(found.fire) == pytest.approx(tuple(burning), rel=1e-12)
        gained = fire.fire_heat(boiler, step.burned) - step.green_heat + by.heat_but_fire
        assert found.heat == pytest.approx(state.heat + seconds * gained, rel=1e-14)
        lost = by.steam + by.safety_valve_steam - by.feed
        assert found.water == pytest.approx(state.water - seconds * lost, rel=1e-14)
        assert heat_at(boiler, found.temperature, found.water) == pytest.approx(found.heat, rel=1e-12)
    assert after.feed == at_middle.feed


def test_steps_end_where_the_differential_equations_end() -> None:
    state = state_at(BOILER, BOILER.working_temperature - 5.0)
    asked = demand()
    firing = fire.firing_for_steam(BOILER, 2.1)

    def rates(_: float, y: np.ndarray) -> list[float]:
        heat, water, burning, fired, green, bed = y
        at = state._replace(
            heat=heat, water=water, fire=FireState(burning, fired, green, bed, 0.0, burning),
            temperature=b.boiler_temperature(BOILER, heat, water, 450.0),
        )  # fmt: skip
        found = b.boiler_rates(BOILER, at, asked, firing)
        heated = green / BOILER.heating_time
        gained = fire.fire_heat(BOILER, burning) - BOILER.heating_heat * (heated - burning)
        return [
            gained + found.heat_but_fire,
            found.feed - found.steam - found.safety_valve_steam,
            (found.fire.burning - burning) / BOILER.burning_lag,
            (found.fire.firing - fired) / BOILER.firing_lag,
            fired - heated,
            heated - burning,
        ]

    first = [state.heat, state.water, *state.fire[:4]]
    expected = solve_ivp(rates, (0.0, 60.0), first, rtol=1e-8, max_step=1.0).y[:, -1]
    sums = np.zeros(a.SUM_COUNT)
    after = b.advance_boiler(BOILER, state, asked, 60.0, sums)
    assert after.heat - state.heat == pytest.approx(expected[0] - state.heat, rel=5e-3)
    assert after.water - state.water == pytest.approx(expected[1] - state.water, abs=0.05)
    assert tuple(after.fire[:4]) == pytest.approx(tuple(expected[2:]), rel=2e-3)
    # what the sums say has gone through the boiler is what is there less what was there
    fired, burned, feed = sums[a.FUEL_FIRED], sums[a.FUEL_BURNED], sums[a.FEED_WATER]
    bed_heat = BOILER.heating_heat * (after.fire.bed - state.fire.bed)
    gained = sums[a.FIRE_HEAT] + sums[a.FEED_HEAT] - sums[a.HEAT_IN_STEAM] - sums[a.RADIATION_LOSS] - bed_heat
    assert after.heat - state.heat == pytest.approx(gained, abs=1.0)
    assert state.fuel - after.fuel == pytest.approx(fired)
    assert state.tender - after.tender == pytest.approx(BOILER.tender_water_ratio * feed)
    assert sums[a.RETURNED_EXHAUST] == pytest.approx((1.0 - BOILER.tender_water_ratio) * feed)
    assert sums[a.CYLINDER_STEAM] == pytest.approx(120.0)
    steam = sums[a.CYLINDER_STEAM] + sums[a.AUXILIARY_STEAM]
    assert after.water - state.water == pytest.approx(feed - steam - sums[a.SAFETY_VALVE_STEAM])
    assert after.fire.green + after.fire.bed == pytest.approx(
        state.fire.green + state.fire.bed + fired - burned
    )
    assert sums[a.ASH_MADE] == pytest.approx(BOILER.ash_share * burned)
    assert sums[a.RADIATION_LOSS] == pytest.approx(60.0 * BOILER.radiation_loss)
    assert sums[a.FEED_HEAT] == pytest.approx(feed * BOILER.feed_enthalpy)


def test_a_boiler_blowing_off_books_the_steam_of_its_valves() -> None:
    full = BOILER.safety_full_lift
    celsius = seuif97.px2t((full + 2e4) / 1e6, 0.5)
    state = state_at(BOILER, celsius + ZERO)
    sums = np.zeros(a.SUM_COUNT)
    after = b.advance_transient(BOILER, state, demand(cylinders=0.0, throttle=THROTTLE_SHUT), 0.1, sums)
    assert sums[a.SAFETY_VALVE_STEAM] == pytest.approx(0.1 * BOILER.safety_capacity)
    boiling = b.saturation(BOILER, state.temperature)
    steam = sums[a.AUXILIARY_STEAM] + sums[a.SAFETY_VALVE_STEAM]
    assert sums[a.HEAT_IN_STEAM] == pytest.approx(steam * boiling.steam_enthalpy, rel=1e-4)
    assert after.water == pytest.approx(state.water + sums[a.FEED_WATER] - steam)


@pytest.mark.parametrize(("seconds", "steps"), [(0.5, 1), (5.0, 1), (5.001, 2), (14.0, 3)])
def test_no_step_is_longer_than_five_seconds(
    seconds: float, steps: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken: list[float] = []
    plain = b.advance_transient

    def counted(
        boiler: Boiler, state: BoilerState, asked: SteamDemand, dt: float, sums: np.ndarray
    ) -> BoilerState:
        taken.append(dt)
        return plain(boiler, state, asked, dt, sums)

    monkeypatch.setattr(b, "advance_transient", counted)
    state, sums = state_at(BOILER, BOILER.working_temperature), np.zeros(a.SUM_COUNT)
    b.advance_boiler(BOILER, state, demand(), seconds, sums)
    b.hold_standing(BOILER, state, seconds, 0.0, -1.0, BOILER.target_water, sums)
    assert taken == pytest.approx([seconds / steps] * 2 * steps)
    b.advance_boiler(BOILER._replace(transient=False), state, demand(), seconds, sums)
    assert len(taken) == 2 * steps


def test_while_the_fire_is_cleaned_nothing_is_built_up(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[SteamDemand] = []
    plain = b.advance_transient

    def seen(
        boiler: Boiler, state: BoilerState, wanted: SteamDemand, dt: float, sums: np.ndarray
    ) -> BoilerState:
        asked.append(wanted)
        return plain(boiler, state, wanted, dt, sums)

    monkeypatch.setattr(b, "advance_transient", seen)
    state, sums = state_at(BOILER, BOILER.working_temperature), np.zeros(a.SUM_COUNT)
    after = b.hold_standing(BOILER, state, 20.0, 10.0, 500.0, 7e3, sums)
    aims = [each.bed_aim for each in asked]
    assert aims[:2] == [0.0, 0.0]
    assert aims[2:] == [crew.bed_aim_standing(BOILER, 500.0, left) for left in (10.0, 5.0)]
    for each in asked:
        assert each._replace(bed_aim=0.0) == SteamDemand(
            0.0, BOILER.auxiliary_steam, THROTTLE_SHUT, 0.0, -1.0, 7e3, 0.0
        )
    lost = BOILER.cleaning_loss
    assert sums[a.FUEL_DROPPED] == pytest.approx(lost * (state.fire.green + state.fire.bed))
    assert sums[a.DROPPED_HEAT] == pytest.approx(lost * state.fire.bed * BOILER.heating_heat)
    assert sums[a.ASH_DROPPED] == state.fire.ash == 5.0
    assert after.fire.ash == pytest.approx(sums[a.ASH_MADE])
    cleaned = b.clean_fire(BOILER, state, sums)
    assert cleaned.fire.bed == pytest.approx((1.0 - lost) * state.fire.bed)
    assert cleaned.fire.green == pytest.approx((1.0 - lost) * state.fire.green)
    assert cleaned._replace(fire=state.fire) == state
    b.hold_standing(BOILER, state, 20.0, 0.0, 500.0, 7e3, sums := np.zeros(a.SUM_COUNT))
    assert sums[a.FUEL_DROPPED] == 0.0


@pytest.mark.parametrize("throttle", [THROTTLE_OPEN, THROTTLE_SHUT])
def test_with_steady_pressure_water_and_fuel_follow_the_steam(throttle: int) -> None:
    steady = BOILER._replace(transient=False)
    state, sums = state_at(BOILER, BOILER.working_temperature), np.zeros(a.SUM_COUNT)
    if throttle == THROTTLE_OPEN:
        after = b.advance_boiler(steady, state, demand(), 10.0, sums)
        drawn, cylinders = 2.1, 2.0
    else:
        after = b.hold_standing(steady, state, 10.0, 0.0, 0.0, 0.0, sums)
        drawn, cylinders = BOILER.auxiliary_steam + BOILER.blower_steam, 0.0
    rate = fire.firing_for_steam(BOILER, drawn)
    made = drawn * BOILER.evaporation_heat + BOILER.radiation_loss
    assert fire.fire_heat(BOILER, rate) == pytest.approx(made, rel=1e-6)
    assert state.tender - after.tender == pytest.approx(10.0 * drawn * BOILER.tender_water_ratio)
    assert state.fuel - after.fuel == pytest.approx(10.0 * rate)
    assert after.fire == pytest.approx(
        (rate, rate, 15.0, state.fire.bed, 5.0 + 10.0 * BOILER.ash_share * rate, rate)
    )
    assert (after.heat, after.water, after.temperature) == (state.heat, state.water, state.temperature)
    assert after.feed == pytest.approx(drawn)
    expected = {
        a.CYLINDER_STEAM: cylinders, a.AUXILIARY_STEAM: drawn - cylinders, a.FEED_WATER: drawn,
        a.RETURNED_EXHAUST: drawn * (1.0 - BOILER.tender_water_ratio), a.FUEL_FIRED: rate, a.FUEL_BURNED: rate,
        a.ASH_MADE: BOILER.ash_share * rate,
    }  # fmt: skip
    assert sums / 10.0 == pytest.approx([expected.get(k, 0.0) for k in range(a.SUM_COUNT)], abs=1e-12)
