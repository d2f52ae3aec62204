"""What an engine file may say of its own steam passages, in place of the general constants."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.boiler.by_heat_balance import heat_balance_supply
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.cylinders.operating_points import operating_points
from locosim.errors import OutOfRange
from locosim.model import Crew, Fuel, Locomotive, SteamPassages
from locosim.physics.boiler.draft import DRAFT_TO_BACK_PRESSURE_RATIO
from locosim.physics.cylinder import design_rules as engine_practice

PSI = 6894.757


def power(ways: SteamPassages) -> tuple[float, float]:
    """Indicated power and steam at one hard operating point."""
    engine: Locomotive = replace(trials.locomotive(), steam_passages=ways)
    points = operating_points(
        build_cycle_layout(engine),
        speeds=np.array([22.0]),
        cutoffs=np.array([0.4]),
        pressures=np.array([engine.boiler.absolute_pressure]),
        throttle=1.0,
    )
    return float(points.effort[0]) * 22.0, float(points.steam[0])


def limit_of(ways: SteamPassages, name: str) -> float:
    """Steam that one limit of the boiler allows."""
    supply = heat_balance_supply(replace(trials.locomotive(), steam_passages=ways), Fuel(), Crew())
    return next(limit.steam for limit in supply.limits if limit.name == name)


def test_saying_the_general_figures_changes_nothing() -> None:
    general = engine_practice.FITTED_CONSTANTS
    told = SteamPassages(
        pressure_drop_to_steam_chest=engine_practice.PRESSURE_DROP_TO_STEAM_CHEST,
        back_pressure=engine_practice.BACK_PRESSURE,
        admission_discharge_coefficient=general.admission_discharge_coefficient,
        exhaust_discharge_coefficient=general.exhaust_discharge_coefficient,
        leakage_area_ratio=general.leakage_area_ratio,
        wet_wall_heat_transfer=general.wet_wall_heat_transfer,
        dry_wall_heat_transfer=general.dry_wall_heat_transfer,
    )
    assert power(told) == pytest.approx(power(SteamPassages()), rel=1e-9)


def test_a_wider_nozzle_and_freer_steam_pipes_give_more_power() -> None:
    usual, _ = power(SteamPassages())
    assert power(SteamPassages(back_pressure=7 * PSI))[0] > 1.01 * usual
    assert power(SteamPassages(pressure_drop_to_steam_chest=5 * PSI))[0] > 1.005 * usual
    assert power(SteamPassages(nozzle_area=0.05))[0] > usual


def test_leaks_cost_steam() -> None:
    tight, leaky = power(SteamPassages(leakage_area_ratio=0.0)), power(SteamPassages(leakage_area_ratio=1e-3))
    assert leaky[1] / leaky[0] > tight[1] / tight[0]


def test_the_nozzle_is_told_in_one_way() -> None:
    with pytest.raises(OutOfRange, match="both size the nozzle; give one of them"):
        SteamPassages(back_pressure=1e5, nozzle_area=0.02)


def test_a_better_front_end_gives_more_steam_against_less_back_pressure() -> None:
    plain, double = (
        SteamPassages(),
        SteamPassages(draft_to_back_pressure_ratio=2 * DRAFT_TO_BACK_PRESSURE_RATIO),
    )
    usual, improved = power(plain), power(double)
    assert improved[0] > 1.01 * usual[0]
    assert improved[1] / improved[0] < usual[1] / usual[0]
    by_draught = [limit_of(ways, "draft") for ways in (plain, double)]
    assert by_draught[1] > 1.05 * by_draught[0]


def test_saying_the_usual_front_end_changes_nothing() -> None:
    told = SteamPassages(draft_to_back_pressure_ratio=DRAFT_TO_BACK_PRESSURE_RATIO)
    assert power(told) == pytest.approx(power(SteamPassages()), rel=1e-12)


def test_half_the_back_pressure_at_full_steam_goes_with_twice_the_vacuum_for_it() -> None:
    double = SteamPassages(draft_to_back_pressure_ratio=2 * DRAFT_TO_BACK_PRESSURE_RATIO)
    halved = SteamPassages(back_pressure=0.5 * engine_practice.BACK_PRESSURE)
    assert power(double) == pytest.approx(power(halved), rel=1e-9)


def test_a_nozzle_too_wide_for_the_fire_is_said() -> None:
    def notes(ways: SteamPassages) -> str:
        return " ".join(build_cycle_layout(replace(trials.locomotive(), steam_passages=ways)).notes)

    assert "wider than the widest" not in notes(SteamPassages())
    assert "wider than the widest" not in notes(SteamPassages(back_pressure=15 * PSI))
    assert re.search(r"nozzle is \d+% wider than the widest", notes(SteamPassages(back_pressure=5 * PSI)))
    good_front_end = SteamPassages(back_pressure=5 * PSI, draft_to_back_pressure_ratio=0.3)
    assert "wider than the widest" not in notes(good_front_end)
