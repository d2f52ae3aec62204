"""Findings of the boiler over made-up runs: where, how long, how far, and in which words."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.journey.needs import Need
from locosim.model import Crew, Excursion
from locosim.planning.rules import boiler as rules

PLAN = trials.excursion(trials.line([(8000.0, 0.0)], stops=(4000.0,)))
ATMOSPHERE = 101325.0
GAUGE = 13.1e5
SHAPE = {
    "water_space_length": 8.0, "shell_inside_diameter": 1.7, "crown_sheet_length": 2.2, "crown_sheet_height": 1.2
}  # fmt: skip


def made(
    *,
    speed: Any = 10.0,
    grade: Any = 0.0,
    glass: Any = (),
    cover: Any = (),
    pressure: Any = (GAUGE,),
    live: bool = True,
    binding: str = "grate",
    **changes: Any,
) -> Any:
    """A run of steps of 500 m and 50 s each from A on, which is at 1 km."""
    count = max(len(np.atleast_1d(each)) for each in (glass, cover, grade))
    engine = replace(PLAN.locomotive, boiler=replace(PLAN.locomotive.boiler, **SHAPE))
    asked: Excursion = replace(PLAN, locomotive=engine, **changes)
    supply = SimpleNamespace(binding=SimpleNamespace(name=binding, steam=2.5))
    return SimpleNamespace(
        excursion=asked, performance=SimpleNamespace(locomotive=engine, supply=supply), transient_boiler=live,
        chainage=1000.0 + 500.0 * np.arange(count + 1), time=50.0 * np.arange(count + 1),
        speed=np.broadcast_to(np.asarray(speed, dtype=float), (count + 1,)),
        engine_grade=np.broadcast_to(np.asarray(grade, dtype=float), (count,)),
        glass_reading=np.asarray(glass, dtype=float), crown_cover=np.asarray(cover, dtype=float),
        pressure=ATMOSPHERE + np.asarray(pressure),
    )  # fmt: skip


def energies(*gained: float) -> np.ndarray:
    """Speeds at the nodes from 20 m/s on, with these accelerations over steps of 500 m."""
    return np.sqrt(400.0 + 2.0 * 500.0 * np.concatenate([[0.0], np.cumsum(gained)]))


# Steam


@pytest.mark.parametrize(
    ("set_by", "words"), [("time", "booked time"), ("climb", "climbing"), ("stall", "not to stall")]
)
def test_steam_is_the_least_that_suffices_against_the_sustained(set_by: str, words: str) -> None:
    need = Need(share=0.94, set_by=set_by, chainage=3000.0)
    (found,) = rules.steaming(made(grade=(0.0, 0.0)), need)
    assert (found.rule, found.place, found.kind) == ("steam", "A to B", "steam_rate")
    assert (found.value, found.limit) == (pytest.approx(0.94 * 2.5), 2.5)
    assert (found.margin, found.verdict) == (pytest.approx(0.06), "tight")
    assert words in found.because
    assert "limited by the grate" in found.because
    assert found.facts == {"need": (found.value, "steam_rate"), "limit": (2.5, "steam_rate")}
    assert found.remedy == "take cars off or allow more time"
    (fed,) = rules.steaming(made(grade=(0.0,), binding="feed devices"), need)
    assert fed.remedy == "take cars off or allow more time, or fit a larger feed device"


def test_where_no_steam_suffices_it_is_a_note() -> None:
    (found,) = rules.steaming(made(grade=(0.0,)), Need(share=None, set_by="time", chainage=1000.0))
    assert (found.verdict, found.place) == ("note", "A")
    assert (found.value, found.limit, found.margin) == (math.inf, 2.5, -math.inf)
    assert found.value_text == "not what limits the train"
    assert found.remedy == "see these findings"


# Pressure


def test_pressure_is_the_lowest_gauge_pressure_against_that_allowed() -> None:
    run = made(grade=(0.0, 0.0, 0.0), pressure=(GAUGE, 11e5, 10.5e5, 12e5))
    (found,) = rules.pressure(run)
    assert (found.value, found.limit) == (pytest.approx(10.5e5), pytest.approx(0.8 * GAUGE))
    assert (found.chainage, found.kind) == (2000.0, "pressure")
    assert found.margin == pytest.approx(10.5e5 / (0.8 * GAUGE) - 1.0)
    assert found.verdict == "tight"
    assert found.facts == {
        "gauge": (found.value, "pressure"), "working": (GAUGE, "pressure"), "allowance": (1.0, "ratio")
    }  # fmt: skip
    assert "this is its doing" not in found.because
    run.transient_boiler = False
    assert rules.pressure(run) == []


@pytest.mark.parametrize(("allowance", "verdict"), [(1.0, "stop"), (1.01, "note")])
def test_a_crew_that_draws_more_than_is_sustained_lowers_the_pressure_itself(
    allowance: float, verdict: str
) -> None:
    (found,) = rules.pressure(made(grade=(0.0,), pressure=(GAUGE, 9e5), crew=Crew(steam_allowance=allowance)))
    assert found.verdict == verdict
    assert ("this is its doing" in found.because) == (verdict == "note")


# Crown sheet and glass


def test_the_least_cover_is_found_with_the_grade_the_motion_and_the_glass_there() -> None:
    run = made(
        grade=(0.004, 0.01, -0.02), speed=energies(0.0, -0.03, 0.001), glass=(0.1, 0.05, 0.07),
        cover=(0.2, 0.08, 0.081),
    )  # fmt: skip
    (found,) = rules.crown_cover(run)
    assert (found.rule, found.value, found.limit) == ("crown sheet", 0.08, pytest.approx(0.0762))
    assert (found.chainage, found.verdict, found.kind) == (1500.0, "tight", "small_length")
    assert found.facts["grade"] == (0.01, "grade")
    assert found.facts["acceleration"] == (pytest.approx(0.03), "acceleration")
    assert found.facts["glass"] == (0.05, "small_length")
    assert found.because.startswith(
        "on a rising grade of {grade} while losing speed at {acceleration}, water in the glass {glass}; surging"
    )
    assert found.remedy == (
        "fill the boiler before the grade changes and brake more gently (criteria.service_deceleration)"
    )
    run.transient_boiler = False
    assert rules.crown_cover(run) == []
    assert rules.crown_cover(made(grade=(0.0,))) == []


@pytest.mark.parametrize(
    ("glass", "words"),
    [
        (0.0, "water in the glass {glass};"),
        (0.5, "water in the glass {glass};"),
        (-0.01, "water {glass} below the glass;"),
    ],
)
def test_the_water_is_in_the_glass_or_below_it(glass: float, words: str) -> None:
    (found,) = rules.crown_cover(made(glass=(glass,), cover=(0.05,), grade=(0.0,)))
    assert words in found.because
    assert found.facts["glass"] == (abs(glass), "small_length")


@pytest.mark.parametrize(
    ("grade", "gained", "track", "motion", "remedy"),
    [
        (4.9e-5, 4.9e-4, "on level track", "", "carry more water in the boiler there"),
        (
            5.1e-5,
            5.1e-4,
            "on a rising grade of {grade}",
            " while gaining speed at {acceleration}",
            "carry more water",
        ),
        (
            -5.1e-5,
            -5.1e-4,
            "on a falling grade of {grade}",
            " while losing speed at {acceleration}",
            "carry more",
        ),
        (0.00201, 0.03, "on a rising", " while gaining", "fill the boiler before the grade changes"),
        (-0.00201, -0.019, "on a falling", " while losing", "fill the boiler before the grade changes"),
        (
            0.00199,
            -0.0201,
            "on a rising",
            " while losing",
            "brake more gently (criteria.service_deceleration)",
        ),
        (0.0, -0.0199, "on level track", " while losing", "carry more water in the boiler there"),
    ],
)
def test_what_tilts_the_boiler_is_named_and_small_tilts_are_not(
    grade: float, gained: float, track: str, motion: str, remedy: str
) -> None:
    (found,) = rules.crown_cover(made(grade=(grade,), speed=energies(gained), glass=(0.1,), cover=(0.01,)))
    assert found.because.startswith(track)
    assert motion in found.because
    assert ("while" in found.because) == bool(motion)
    assert found.remedy.startswith(remedy)


def test_the_longest_time_below_the_glass_at_steady_speed() -> None:
    run = made(
        glass=(0.1, -0.01, 0.2, -0.02, -0.05, -0.01, 0.1), grade=(0.0, 0.0, 0.0, -0.01, -0.012, -0.01, 0.0)
    )
    (found,) = rules.water_glass(run)
    assert (found.rule, found.value, found.limit) == ("water glass", 150.0, 60.0)
    assert (found.chainage, found.kind) == (2500.0, "time")
    assert found.margin == pytest.approx(-1.5)
    assert found.facts == {
        "lowest": (pytest.approx(0.05), "small_length"),
        "grade": (pytest.approx(0.012), "grade"),
    }
    assert found.because == (
        "the water is out of sight below the glass, by up to {lowest}, on a falling grade of {grade} at steady speed"
    )
    assert found.value_text == ""
    assert found.remedy == "fill the boiler before the grade changes, or carry more water in it"


def test_water_in_sight_throughout_says_how_low_it_stands_and_where() -> None:
    (found,) = rules.water_glass(made(glass=(0.1, 0.0, 0.2), grade=(0.0, 0.01, 0.0)))
    assert (found.value, found.margin, found.verdict) == (0.0, 1.0, "clear")
    assert found.chainage == 1500.0
    assert found.facts == {"lowest": (0.0, "small_length"), "grade": (0.01, "grade")}
    assert found.because.startswith(
        "the water stands lowest {lowest} above the bottom of the glass, on a rising"
    )
    assert found.value_text == "in sight throughout"
    run = made(glass=(0.1,), grade=(0.0,), live=False)
    assert rules.water_glass(run) == rules.water_glass_in_braking(run) == []
    none = made(grade=(0.0,))
    assert rules.water_glass(none) == rules.water_glass_in_braking(none) == []


@pytest.mark.parametrize(("facing", "sign"), [("stack_first", 1.0), ("tender_first", -1.0)])
def test_the_tilt_by_braking_is_half_the_length_times_the_acceleration_over_gravity(
    facing: str, sign: float
) -> None:
    """8 m of water: 0.1 m/s² raises one end by 4 m × 0.1 / 9.80665, the front end as speed is lost."""
    tilt = 4.0 * 0.1 / 9.80665
    for offset, below in ((1e-6, False), (-1e-6, True)):
        run = made(
            glass=(0.5, -sign * tilt + offset, 0.5), grade=(0.0, 0.0, 0.0), speed=energies(0.0, -0.1, 0.0),
            engine_facing=facing,
        )  # fmt: skip
        (found,) = rules.water_glass(run)
        assert (found.value > 0.0) == below
        braking = rules.water_glass_in_braking(run)
        if sign > 0.0 and not below:  # out of sight only as it slows
            (each,) = braking
            assert (each.rule, each.value, each.chainage) == ("glass in braking", 50.0, 1500.0)
            assert each.facts["lowest"] == (pytest.approx(tilt, abs=2e-6), "small_length")
            assert each.facts["acceleration"] == (pytest.approx(0.1), "acceleration")
            assert "on level track while losing speed at {acceleration}, and comes back" in each.because
            assert each.advice == "brake more gently (criteria.service_deceleration)"
        else:
            assert braking == []


def test_the_longest_of_two_times_out_of_sight_in_braking_counts() -> None:
    glass = (0.1, -0.01, 0.1, -0.015, -0.02, 0.1, 0.0)
    run = made(
        glass=glass, grade=(0.0, 0.0, 0.0, 0.003, 0.004, 0.0, 0.0),
        speed=energies(0.02, -0.05, 0.02, -0.05, -0.06, 0.02, 0.0),
    )  # fmt: skip
    (found,) = rules.water_glass_in_braking(run)
    assert (found.value, found.chainage) == (100.0, 2500.0)
    assert found.facts["lowest"][0] == pytest.approx(0.02)
    assert found.facts["grade"][0] == pytest.approx(0.004)
    assert found.facts["acceleration"][0] == pytest.approx(0.06)
    assert rules.water_glass(run)[0].value == 0.0
