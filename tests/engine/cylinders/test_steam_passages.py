"""What an engine file may say of its own steam ways, in place of the general constants."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.boiler.by_heat_balance import heat_supply
from locosim.engine.cylinders.layout import cycle_engine
from locosim.engine.cylinders.operating_points import operating_points
from locosim.errors import OutOfRange
from locosim.model import Crew, Fuel, Locomotive, SteamWays
from locosim.physics.boiler.draft import VACUUM_OVER_BACK_PRESSURE
from locosim.physics.cylinder import design_rules as engine_practice

PSI = 6894.757


def power(ways: SteamWays) -> tuple[float, float]:
    """Indicated power and steam at one hard operating point."""
    engine: Locomotive = replace(trials.locomotive(), steam_ways=ways)
    points = operating_points(
        cycle_engine(engine),
        speeds=np.array([22.0]),
        cutoffs=np.array([0.4]),
        pressures=np.array([engine.boiler.absolute_pressure]),
        regulator=1.0,
    )
    return float(points.pull[0]) * 22.0, float(points.steam[0])


def limit_of(ways: SteamWays, name: str) -> float:
    """Steam that one limit of the boiler allows."""
    supply = heat_supply(replace(trials.locomotive(), steam_ways=ways), Fuel(), Crew())
    return next(limit.steam for limit in supply.limits if limit.name == name)


def test_saying_the_general_figures_changes_nothing() -> None:
    general = engine_practice.GENERAL
    told = SteamWays(
        chest_drop=engine_practice.CHEST_DROP,
        back_pressure=engine_practice.BACK_PRESSURE,
        steam_discharge=general.steam_discharge,
        exhaust_discharge=general.exhaust_discharge,
        leakage_share=general.leakage_share,
        condensing_coefficient=general.condensing_coefficient,
        dry_coefficient=general.dry_coefficient,
    )
    assert power(told) == pytest.approx(power(SteamWays()), rel=1e-9)


def test_a_wider_nozzle_and_freer_steam_pipes_give_more_power() -> None:
    usual, _ = power(SteamWays())
    assert power(SteamWays(back_pressure=7 * PSI))[0] > 1.01 * usual
    assert power(SteamWays(chest_drop=5 * PSI))[0] > 1.005 * usual
    assert power(SteamWays(nozzle_area=0.05))[0] > usual


def test_leaks_cost_steam() -> None:
    tight, leaky = power(SteamWays(leakage_share=0.0)), power(SteamWays(leakage_share=1e-3))
    assert leaky[1] / leaky[0] > tight[1] / tight[0]


def test_the_nozzle_is_told_in_one_way() -> None:
    with pytest.raises(OutOfRange, match="both size the nozzle; give one of them"):
        SteamWays(back_pressure=1e5, nozzle_area=0.02)


def test_a_better_front_end_gives_more_steam_against_less_back_pressure() -> None:
    plain, double = SteamWays(), SteamWays(vacuum_over_back_pressure=2 * VACUUM_OVER_BACK_PRESSURE)
    usual, improved = power(plain), power(double)
    assert improved[0] > 1.01 * usual[0]
    assert improved[1] / improved[0] < usual[1] / usual[0]
    by_draught = [limit_of(ways, "draught") for ways in (plain, double)]
    assert by_draught[1] > 1.05 * by_draught[0]


def test_saying_the_usual_front_end_changes_nothing() -> None:
    told = SteamWays(vacuum_over_back_pressure=VACUUM_OVER_BACK_PRESSURE)
    assert power(told) == pytest.approx(power(SteamWays()), rel=1e-12)


def test_half_the_back_pressure_at_full_steam_goes_with_twice_the_vacuum_for_it() -> None:
    double = SteamWays(vacuum_over_back_pressure=2 * VACUUM_OVER_BACK_PRESSURE)
    halved = SteamWays(back_pressure=0.5 * engine_practice.BACK_PRESSURE)
    assert power(double) == pytest.approx(power(halved), rel=1e-9)


def test_a_nozzle_too_wide_for_the_fire_is_said() -> None:
    def notes(ways: SteamWays) -> str:
        return " ".join(cycle_engine(replace(trials.locomotive(), steam_ways=ways)).notes)

    assert "no limit counts this" not in notes(SteamWays())
    assert "no limit counts this" not in notes(SteamWays(back_pressure=15 * PSI))
    assert re.search(r"nozzle is \d+% wider than the widest", notes(SteamWays(back_pressure=5 * PSI)))
    good_front_end = SteamWays(back_pressure=5 * PSI, vacuum_over_back_pressure=0.3)
    assert "no limit counts this" not in notes(good_front_end)
