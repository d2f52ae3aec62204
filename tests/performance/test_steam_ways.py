"""What an engine file may say of its own steam ways, in place of the general constants."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.errors import OutOfRange
from locosim.model import Locomotive, SteamWays
from locosim.performance.cycle_engine import cycle_engine
from locosim.performance.operating import operating_points
from locosim.physics import engine_practice

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
