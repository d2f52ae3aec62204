"""What an engine file may say of its own steam passages, in place of the general constants."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trials

from locosim.engine.boiler.by_heat_balance import heat_balance_supply
from locosim.engine.boiler.front_end import front_end_evaporation, nozzle_area
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.cylinders.operating_points import operating_points
from locosim.model import Assumptions, Crew, FeedDevice, Fuel, Locomotive, SteamPassages
from locosim.physics.boiler.draft import DRAFT_TO_BACK_PRESSURE_RATIO
from locosim.physics.cylinder import design_rules

PSI = 6894.757


def power(passages: SteamPassages, *, speed: float = 22.0, cutoff: float = 0.4) -> tuple[float, float]:
    """Indicated power and steam at one operating point, by default a hard one."""
    engine: Locomotive = replace(trials.locomotive(), steam_passages=passages)
    points = operating_points(
        build_cycle_layout(engine),
        speeds=np.array([speed]),
        cutoffs=np.array([cutoff]),
        pressures=np.array([engine.boiler.absolute_pressure]),
        throttle=1.0,
    )
    return float(points.effort[0]) * speed, float(points.steam[0])


def limit_of(passages: SteamPassages, name: str) -> float:
    """Steam that one limit of the boiler allows."""
    supply = heat_balance_supply(replace(trials.locomotive(), steam_passages=passages), Fuel(), Crew())
    return next(limit.steam for limit in supply.limits if limit.name == name)


def usual_passage(engine: Locomotive) -> float:
    """0.0124 of the area of both pistons."""
    bore = engine.engine_units[0].cylinders[0].bore
    return 0.0124 * 2 * math.pi / 4 * bore**2


def test_giving_the_default_figures_changes_nothing() -> None:
    general = design_rules.FITTED_CONSTANTS
    given = SteamPassages(
        steam_passage_area=usual_passage(trials.locomotive()),
        nozzle_area=0.0289 * trials.locomotive().boiler.tube_surface / 400,
        max_back_pressure=12 * PSI,
        admission_discharge_coefficient=general.admission_discharge_coefficient,
        exhaust_discharge_coefficient=general.exhaust_discharge_coefficient,
        leakage_area_ratio=general.leakage_area_ratio,
        wet_wall_heat_transfer=general.wet_wall_heat_transfer,
        dry_wall_heat_transfer=general.dry_wall_heat_transfer,
        quench_energy=general.quench_energy,
    )
    assert power(given) == pytest.approx(power(SteamPassages()), rel=1e-9)
    assert limit_of(given, "front end") == pytest.approx(limit_of(SteamPassages(), "front end"), rel=1e-6)


def test_a_wider_nozzle_and_freer_steam_pipes_give_more_power() -> None:
    usual, _ = power(SteamPassages())
    narrow, wide = (power(SteamPassages(nozzle_area=factor * 0.0104))[0] for factor in (0.7, 1.4))
    assert narrow < 0.99 * usual < usual < wide
    wider_pipes = SteamPassages(steam_passage_area=1.5 * usual_passage(trials.locomotive()))
    assert power(wider_pipes)[0] > 1.005 * usual


def test_leaks_cost_steam() -> None:
    tight, leaky = power(SteamPassages(leakage_area_ratio=0.0)), power(SteamPassages(leakage_area_ratio=1e-3))
    assert leaky[1] / leaky[0] > tight[1] / tight[0]


def test_superheat_keeps_the_walls_from_condensing() -> None:
    # slow and short cutoff: at hard work the walls of this engine stay too hot to condense anything
    soon, late = (
        power(SteamPassages(quench_energy=energy), speed=4.0, cutoff=0.2) for energy in (20e3, 400e3)
    )
    assert soon[1] / soon[0] < 0.99 * late[1] / late[0]


def test_a_short_lap_leaks_more_than_a_long_one() -> None:
    laps = [design_rules.leakage_area_ratio(lap=lap, stroke=0.66) for lap in np.linspace(0.015, 0.05, 15)]
    assert all(b <= a for a, b in pairwise(laps))
    assert laps[0] / laps[-1] == pytest.approx(design_rules.SHORT_LAP_LEAKAGE)


def test_the_front_end_limits_the_boiler_where_the_nozzle_reaches_the_back_pressure() -> None:
    area, pressure = 0.009, 10 * PSI
    given = SteamPassages(nozzle_area=area, max_back_pressure=pressure)
    steam = limit_of(given, "front end") - trials.locomotive().auxiliaries.continuous_demand
    # Saint-Venant's flow below the critical ratio, steam of p/rho = 175 kJ/kg, exponent 1.3; worked by hand.
    before = 101325.0 + pressure
    ratio = 101325.0 / before
    flow = math.sqrt(2 * 1.3 / 0.3 * (ratio ** (2 / 1.3) - ratio ** (2.3 / 1.3))) * before / math.sqrt(1.75e5)
    assert steam == pytest.approx(area * flow, rel=1e-9)
    assert limit_of(replace(given, max_back_pressure=1.2 * pressure), "front end") > steam


def test_a_feedwater_heater_relieves_the_nozzle() -> None:
    heater = FeedDevice(name="heater pump", kind="pump_with_feedwater_heater", max_rate=5.0)
    plain, heated = trials.locomotive(), trials.locomotive(feed_devices=(heater,))
    assumed = Assumptions()
    ratio = front_end_evaporation(heated, assumed) - heated.auxiliaries.continuous_demand
    ratio /= front_end_evaporation(plain, assumed) - plain.auxiliaries.continuous_demand
    assert ratio == pytest.approx(1 / (1 - 0.12))


def test_a_fire_that_needs_more_than_the_front_end_raises_is_noted() -> None:
    def notes(passages: SteamPassages) -> str:
        return " ".join(build_cycle_layout(replace(trials.locomotive(), steam_passages=passages)).notes)

    wide = SteamPassages(nozzle_area=0.03, max_back_pressure=8 * PSI)
    assert re.search(r"the fire requires a draft of 0\.\d+ of the back pressure", notes(wide))
    assert "the fire requires" not in notes(replace(wide, draft_to_back_pressure_ratio=0.4))


def test_what_is_assumed_of_the_front_end_is_printed() -> None:
    notes = " ".join(build_cycle_layout(trials.locomotive()).notes)
    assert "exhaust nozzle not given: 102 cm² (15.8 in²)" in notes
    assert "highest back pressure not given: 0.83 bar (12.0 psi)" in notes


def test_a_front_end_with_twice_the_draft_draws_the_same_fire_with_a_wider_nozzle() -> None:
    # Draft and back pressure both go with the square of the steam: at the steam at which a plain front end draws a
    # fire, one with twice the draft for a back pressure needs half the back pressure.
    plain = trials.locomotive()
    ratio = 2.0 * DRAFT_TO_BACK_PRESSURE_RATIO
    double = replace(plain, steam_passages=SteamPassages(draft_to_back_pressure_ratio=ratio))
    assert nozzle_area(double) == pytest.approx(math.sqrt(2.0) * nozzle_area(plain), rel=1e-12)
    wide, narrow = (area * steam_per_area(p) for area, p in ((math.sqrt(2.0), 3e4), (1.0, 6e4)))
    assert wide == pytest.approx(
        narrow, rel=0.06
    )  # the square law of a nozzle, which bends as its flow chokes
    gain = limit_of(double.steam_passages, "front end") / limit_of(SteamPassages(), "front end")
    assert gain == pytest.approx(math.sqrt(2.0), rel=0.02)
    given = replace(double, steam_passages=replace(double.steam_passages, nozzle_area=0.01))
    assert nozzle_area(given) == 0.01


def steam_per_area(back_pressure: float) -> float:
    """Steam through a nozzle of 1 m² at a back pressure [kg/s]."""
    return design_rules.nozzle_steam_rate(area=1.0, back_pressure=back_pressure)
