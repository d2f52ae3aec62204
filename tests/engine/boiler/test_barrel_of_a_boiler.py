"""Tubes and flues of an engine file: what a change of their dimensions does to steam, draft and superheat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.boiler.barrel import barrel_notes, barrel_of, free_gas_area
from locosim.engine.boiler.by_heat_balance import heat_balance_supply
from locosim.engine.performance import compute_performance
from locosim.model import Crew, Flues, Fuel, Locomotive, Superheater, Tubes


def with_tubes(
    *, length: float = 5.0, tubes: int = 170, flues: int = 26, distance: float = 0.6
) -> Locomotive:
    made = trials.locomotive(superheater=True)
    boiler = replace(
        made.boiler,
        tube_surface=None,
        tube_length=length,
        tubes=Tubes(count=tubes, outside_diameter=0.051),
        flues=Flues(count=flues, outside_diameter=0.133),
        superheater=Superheater(pipes_per_flue=4, pipe_diameter=0.036, return_bend_distance=distance),
    )
    return replace(made, boiler=boiler)


def steam_at(locomotive: Locomotive, rate: float = 0.12) -> tuple[float, float, float]:
    """Heat to the steam over heat fired, draft [Pa] and steam temperature [K] at a firing rate a m2 of grate [kg/s]."""
    supply = heat_balance_supply(locomotive, Fuel(kind="bituminous"), Crew())
    fuel = rate * locomotive.boiler.grate_area
    assert supply.balance is not None
    assert supply.draft is not None
    return (
        float(np.interp(fuel, supply.balance.firing_rate, supply.balance.efficiency)),
        float(np.interp(fuel, supply.firing_rates, supply.draft)),
        float(np.interp(fuel, supply.balance.firing_rate, supply.balance.steam_temperature)),
    )


def test_length_changes_heat_and_draft_but_not_the_gas_area() -> None:
    short, long = with_tubes(length=4.5), with_tubes(length=5.5)
    assert free_gas_area(short.boiler) == pytest.approx(free_gas_area(long.boiler), rel=1e-12)
    (heat_short, draft_short, _), (heat_long, draft_long, _) = steam_at(short), steam_at(long)
    assert 1.005 < heat_long / heat_short < 1.06
    assert 1.05 < draft_long / draft_short < 1.25


def test_more_tubes_ease_the_draft() -> None:
    assert steam_at(with_tubes(tubes=200))[1] < 0.95 * steam_at(with_tubes())[1]


def test_return_bends_nearer_the_fire_make_hotter_steam() -> None:
    assert steam_at(with_tubes(distance=0.3))[2] > steam_at(with_tubes(distance=1.2))[2] + 5.0


def test_gas_area_is_that_of_the_dimensions() -> None:
    boiler = with_tubes().boiler
    tubes = 170 * np.pi / 4.0 * (0.051 - 0.006) ** 2
    flues = 26 * np.pi / 4.0 * ((0.133 - 0.008) ** 2 - 4 * 0.036**2)
    assert free_gas_area(boiler) == pytest.approx(tubes + flues, rel=1e-12)
    assert barrel_of(boiler).tubes.area == pytest.approx(tubes, rel=1e-12)


def test_the_rule_is_a_note_of_the_cycle_only() -> None:
    made = trials.locomotive(superheater=True)
    assert any("1/400 of tube_surface" in note for note in compute_performance(made).notes)
    assert not any("tube_surface" in note for note in compute_performance(made, method="handbook").notes)


def test_surfaces_that_disagree_with_the_dimensions_are_noted() -> None:
    boiler = with_tubes().boiler
    outside = boiler.tube_heating_surface
    elements = boiler.superheater_heating_surface
    assert barrel_notes(boiler) == ()
    # inside and outside surface are both printed in the trade
    for surface in (outside, 0.92 * outside):
        assert barrel_notes(replace(boiler, tube_surface=surface)) == ()
    (note,) = barrel_notes(replace(boiler, tube_surface=1.3 * outside))
    assert f"tube_surface is given as {1.3 * outside:.1f} m²" in note
    assert f"have {outside:.1f} m² ({outside / 0.09290304:.0f} ft²) outside" in note
    assert boiler.superheater is not None
    given = replace(boiler.superheater, surface=1.4 * elements)
    (note,) = barrel_notes(replace(boiler, superheater=given))
    assert f"but its elements have {elements:.1f} m²" in note
    assert barrel_notes(replace(boiler, superheater=replace(given, surface=elements))) == ()
