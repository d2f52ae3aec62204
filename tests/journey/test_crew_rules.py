"""Rules of fireman and engineer, one by one: firing for a heat, bed, blower, dampers, feed, and what ends a run."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.journey.kernel import crew, fire, integrate
from locosim.journey.kernel.arrays import (
    ARRIVED,
    CROWN_UNCOVERED,
    LOW_PRESSURE,
    OUT_OF_FUEL,
    OUT_OF_WATER,
    THROTTLE_OPEN,
    THROTTLE_SHUT,
    Boiler,
    BoilerState,
    FireState,
)
from locosim.journey.run import run_journey
from locosim.journey.setup.prepare import prepare
from locosim.model import Fuel, Stop

ASKED = trials.excursion(trials.line([(4000.0, 0.004), (4000.0, 0.0)], stops=(4000.0,)))
PREPARED = prepare(ASKED, trials.performance(ASKED), transient_boiler=True)
BOILER: Boiler = PREPARED.boiler
FLOOR, WORKING, POPPING = BOILER.pressure_floor, BOILER.working_pressure, BOILER.safety_set_pressure


@pytest.fixture
def rules(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rules in plain Python: called one by one, the compiler would take seconds for each."""
    for module in (crew, fire, integrate):
        for name, each in list(vars(module).items()):
            if hasattr(each, "py_func"):
                monkeypatch.setattr(module, name, each.py_func)


def state(**changes: float) -> BoilerState:
    made = BoilerState(
        heat=0.0,
        water=BOILER.target_water,
        fire=FireState(burning=0.5, firing=0.5, green=20.0, bed=300.0, ash=0.0, burned=0.5),
        tender=9e3,
        fuel=4e3,
        temperature=BOILER.working_temperature,
        feed=0.0,
    )
    return made._replace(**changes)  # type: ignore[arg-type]


def feed(
    at: BoilerState,
    *,
    pressure: float = POPPING,
    steam: float = 2.0,
    aim: float = BOILER.target_water,
    hold: float = 0.0,
) -> float:
    return float(crew.feed_rate(BOILER, at, pressure, steam, 0.0, aim, hold))


@pytest.mark.usefixtures("rules")
def test_the_firing_for_a_heat_gives_that_heat() -> None:
    table, step = BOILER.heat_table, BOILER.firing_step
    find = fire.firing_for_heat
    assert find(BOILER, table[0] - 1.0, 9.0) == find(BOILER, table[0], 9.0) == 0.0
    for heat in np.linspace(table[0] + 1.0, table[-1] - 1.0, 17):
        rate = find(BOILER, heat, 1e9)
        assert np.interp(rate / step, np.arange(len(table)), table) == pytest.approx(heat, rel=1e-9)
        assert find(BOILER, heat, 0.5 * rate) == 0.5 * rate
    assert find(BOILER, 2.0 * table[-1], 1e9) == (len(table) - 1) * step
    assert find(BOILER, 2.0 * table[-1], 0.2) == 0.2


@pytest.mark.usefixtures("rules")
def test_while_standing_the_bed_is_built_up_in_time_for_the_departure() -> None:
    aim = crew.bed_aim_standing
    bed = 3.0 * BOILER.idle_bed
    assert aim(BOILER, bed, BOILER.horizon + 1.0) == BOILER.idle_bed
    assert aim(BOILER, bed, 0.0) == bed
    by_then = [aim(BOILER, bed, remaining) for remaining in (400.0, 120.0, 60.0, 0.0)]
    assert by_then == sorted(by_then)
    assert bed - by_then[2] <= BOILER.firing_capacity * 60.0
    # a fireman who does not know the road keeps the bed of half the sustained rate
    assert aim(BOILER, -1.0, 1e6) == crew.bed_for_burning(BOILER, 0.5 * BOILER.max_firing)
    assert crew.bed_for_burning(BOILER._replace(full_bed=0.0), 0.4) == 0.0


@pytest.mark.usefixtures("rules")
def test_a_deeper_bed_burns_more_and_is_thinner_at_light_work() -> None:
    beds = [crew.bed_for_burning(BOILER, share * BOILER.max_firing) for share in (0.0, 0.2, 0.5, 0.8)]
    assert beds[0] == BOILER.idle_bed
    assert beds == sorted(beds)
    # from half of the sustained rate on only the green fuel grows, by what is fired while it heats
    assert beds[3] - beds[2] == pytest.approx(0.3 * BOILER.max_firing * BOILER.heating_time)


@pytest.mark.usefixtures("rules")
def test_the_blower_draws_where_no_blast_does_and_the_pressure_is_not_high() -> None:
    blower = crew.blower_opening
    assert blower(BOILER, WORKING, THROTTLE_SHUT, 0.0) == 1.0
    assert blower(BOILER, POPPING, THROTTLE_SHUT, 0.0) == 0.0
    assert blower(BOILER, 0.5 * (WORKING + POPPING), THROTTLE_SHUT, 0.0) == pytest.approx(0.5)
    low = WORKING - BOILER.damper_range
    assert blower(BOILER, low, THROTTLE_OPEN, 0.0) == 1.0
    assert blower(BOILER, WORKING, THROTTLE_OPEN, 0.0) == 0.0
    assert blower(BOILER, low, THROTTLE_OPEN, 0.25 * BOILER.max_firing) == pytest.approx(0.5)
    assert blower(BOILER, low, THROTTLE_OPEN, 0.5 * BOILER.max_firing) == 0.0


@pytest.mark.usefixtures("rules")
def test_the_dampers_close_toward_the_safety_valves_and_ahead_of_less_steam() -> None:
    damper = crew.damper_opening
    low = WORKING - BOILER.damper_range
    assert damper(BOILER, low, 0.5, -1.0) == 1.0
    assert damper(BOILER, POPPING, 0.5, -1.0) == pytest.approx(BOILER.min_damper)
    assert damper(BOILER, low, 0.5, 0.1) < damper(BOILER, low, 0.5, 0.4) < 1.0
    assert damper(BOILER, low, 0.5, 0.6) == 1.0  # more steam ahead
    assert damper(BOILER, FLOOR, 0.5, 0.0) == 1.0  # the pressure must rise first


@pytest.mark.usefixtures("rules")
def test_feed_makes_up_the_steam_and_restores_the_level() -> None:
    assert feed(state()) == pytest.approx(2.0)
    assert feed(state(tender=0.0)) == 0.0
    assert feed(state(tender=-1.0)) == 0.0
    low = feed(state(water=BOILER.target_water - 100.0))
    assert low > 2.0
    assert feed(state(water=BOILER.target_water + 1e4)) == 0.0
    assert feed(state(), steam=1e3) == BOILER.max_feed
    assert feed(state(), pressure=FLOOR) == pytest.approx(2.0 * (1.0 - BOILER.feed_deferral))
    # a low level is restored while pressure is up, not at the floor at work
    missing = 100.0 / BOILER.recovery_time
    at_work = {"steam": BOILER.low_demand_steam, "pressure": FLOOR}
    kept = feed(state(water=BOILER.target_water - 100.0), **at_work)
    assert kept < BOILER.low_demand_steam + 0.01 * missing
    assert low - 2.0 == pytest.approx(missing * BOILER.feed_boost, rel=0.01)


@pytest.mark.usefixtures("rules")
def test_water_filled_ahead_of_a_climb_is_what_he_may_leave_out_on_it() -> None:
    aim = BOILER.target_water + 200.0
    filling = feed(state(), pressure=WORKING, aim=aim)
    assert filling > feed(state(), pressure=WORKING)
    assert feed(state(), pressure=WORKING, aim=aim, hold=1.0) == filling  # nothing filled yet to leave out
    assert feed(state(water=aim), pressure=WORKING, aim=aim, hold=1.0) < feed(
        state(water=aim), pressure=WORKING, aim=aim
    )
    hard = {"pressure": WORKING, "steam": BOILER.sustained_steam}
    assert feed(state(), aim=aim, **hard) == feed(state(), **hard)  # not at hard work


@pytest.mark.parametrize(
    ("changes", "pressure", "cause"),
    [
        ({}, WORKING, ARRIVED),
        ({"tender": 0.0, "fuel": 0.0, "water": BOILER.crown_sheet_water}, WORKING, ARRIVED),
        ({"tender": -1.0, "fuel": -1.0}, WORKING, OUT_OF_WATER),
        ({"fuel": -1.0}, 1e5, OUT_OF_FUEL),
        ({"water": 0.0}, 1e5, LOW_PRESSURE),
        ({"water": BOILER.crown_sheet_water - 1.0}, WORKING, CROWN_UNCOVERED),
    ],
)
@pytest.mark.usefixtures("rules")
def test_what_ends_a_run(changes: dict[str, float], pressure: float, cause: int) -> None:
    found = integrate.termination_cause(BOILER, PREPARED.engine, state(**changes), pressure)
    assert found == cause


@pytest.mark.usefixtures("rules")
def test_below_the_floor_the_engineer_draws_less() -> None:
    allowed = crew.allowed_steam
    shares = np.full(3, 1.2)
    line, most = PREPARED.line._replace(steam_share=shares), BOILER.sustained_steam
    drawn = [
        allowed(line, BOILER, 1, pressure) + BOILER.auxiliary_steam
        for pressure in (WORKING, FLOOR, 0.99 * FLOOR)
    ]
    assert drawn[0] == pytest.approx(1.2 * most)
    assert drawn[1] == pytest.approx(most)
    assert drawn[2] == pytest.approx(most * (1.0 - 0.01 * BOILER.floor_slope))
    assert allowed(line, BOILER, 1, 0.2 * FLOOR) == 0.0
    steady = BOILER._replace(transient=False)
    assert allowed(line, steady, 1, FLOOR) + BOILER.auxiliary_steam == pytest.approx(1.2 * most)


@pytest.mark.parametrize("kind", ["coal", "oil"])
def test_fuel_is_taken_at_a_stop_at_the_rate_of_the_place(kind: str) -> None:
    asked = replace(
        ASKED,
        fuel=Fuel(kind="oil") if kind == "oil" else ASKED.fuel,
        stops=(Stop(station="A"), Stop(station="B", take_fuel="fill", take_water="fill"), Stop(station="C")),
    )
    if kind == "oil":
        asked = replace(
            asked, locomotive=replace(asked.locomotive, boiler=replace(asked.locomotive.boiler, firing="oil"))
        )
    journey = run_journey(asked, trials.performance(asked), transient_boiler=True)
    b = journey.stops[1]
    assert b.fuel_on_departure == pytest.approx(ASKED.locomotive.tender.fuel_capacity, rel=1e-3)
    taken = ASKED.locomotive.tender.fuel_capacity - b.fuel_on_arrival
    assert b.depart - b.arrive >= taken / 8.0 - 1e-6
    assert b.depart - b.arrive >= (b.water_on_departure - b.water_on_arrival) / 50.0 - 1e-6
