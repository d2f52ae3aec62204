"""Rated effort and adhesion of whole engines against published figures."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import trials

from locosim import units
from locosim.engine.performance import compute_performance, cycle_layout
from locosim.engine.rated_effort import factor_of_adhesion, rated_effort, unit_efforts
from locosim.errors import OutOfRange
from locosim.model import Cylinders, EngineUnit, Locomotive

PUBLISHED = Path(__file__).parents[1] / "published"
POUND_FORCE, PSI, INCH = 4.4482216152605, 6894.757293168, 0.0254


def published() -> list[Any]:
    found = []
    for name in ("rated_effort_memory", "rated_effort_class_pages", "rated_effort_british"):
        table = tomllib.loads((PUBLISHED / f"{name}.toml").read_text(encoding="utf-8"))
        for value in table["value"]:
            within = float(value.get("within", table["within"]))
            found.append(pytest.param(value, within, id=value.get("note", name)))
    return found


def engine_of(given: dict[str, Any], *, units_count: int) -> Locomotive:
    bore, stroke, wheel = (units.si(given[k], "m") for k in ("bore", "stroke", "driver_diameter"))
    made = trials.locomotive(
        bore=bore, stroke=stroke, wheel=wheel, pressure=units.si(given["gauge_pressure"], "Pa")
    )
    unit = made.engine_units[0]
    cylinders = replace(unit.cylinders[0], number=given["cylinders"] // units_count)
    unit = replace(unit, cylinders=(cylinders,))
    return replace(made, mass=200e3, engine_units=(unit,) * units_count)


@pytest.mark.parametrize(("value", "within"), published())
def test_rated_effort_of_a_whole_engine_is_the_published_one(value: dict[str, Any], within: float) -> None:
    articulated = "8-8" in value.get("note", "") or "6-6" in value.get("note", "")
    engine = engine_of(value["given"], units_count=2 if articulated else 1)
    printed = float(value["printed"].split()[0])
    assert rated_effort(engine) / POUND_FORCE == pytest.approx(printed, abs=within)
    assert len(unit_efforts(engine)) == (2 if articulated else 1)


def compound(*, low: tuple[int, float], high: tuple[int, float], apart: bool = False) -> Locomotive:
    """An engine with high- and low-pressure cylinders of number and bore in inches, 26 in by 57 in, 200 psi."""
    base = trials.locomotive(wheel=57 * INCH, stroke=26 * INCH, pressure=200 * PSI)
    sets = [
        Cylinders(number=number, bore=bore * INCH, stroke=26 * INCH, steam_source=source)
        for (number, bore), source in ((high, "boiler"), (low, "receiver"))
    ]
    unit = base.engine_units[0]
    if apart:
        engines = (replace(unit, cylinders=(sets[0],)), replace(unit, cylinders=(sets[1],)))
        return replace(base, mass=150e3, engine_units=engines)
    return replace(base, engine_units=(replace(unit, cylinders=tuple(sets)),))


def test_four_cylinders_on_the_same_wheels_go_by_the_builders_rule() -> None:
    # [BaldwinRules], from memory, in pounds and inches: (2/3 x 15² + 1/4 x 25²) x 200 x 26/57 = 27,916 lb.
    found = rated_effort(compound(high=(2, 15), low=(2, 25))) / POUND_FORCE
    assert found == pytest.approx((2 / 3 * 225 + 625 / 4) * 200 * 26 / 57, rel=1e-9)


def test_two_cylinders_on_the_same_wheels_go_by_the_small_one() -> None:
    # [BaldwinRules], from memory: 2/3 x 20² x 200 x 26/57.
    found = rated_effort(compound(high=(1, 20), low=(1, 31))) / POUND_FORCE
    assert found == pytest.approx(2 / 3 * 400 * 200 * 26 / 57, rel=1e-9)


def test_an_articulated_engine_goes_by_the_large_cylinders_and_halves_them() -> None:
    # [Johnson1942], from memory: 1.7 x 200 x 34² x 26 / ((R + 1) x 57), R = (34/21.5)².
    engine = compound(high=(2, 21.5), low=(2, 34), apart=True)
    ratio = (34 / 21.5) ** 2
    expected = 1.7 * 200 * 34**2 * 26 / ((ratio + 1) * 57)
    front, rear = unit_efforts(engine)
    assert front == rear
    assert (front + rear) / POUND_FORCE == pytest.approx(expected, rel=1e-9)


def test_the_volume_ratio_of_a_compound_includes_the_strokes() -> None:
    """Low-pressure pistons of longer travel: 30 in against 26 in."""
    made = compound(high=(2, 21.5), low=(2, 34), apart=True)
    high, low = made.engine_units
    longer = replace(low, cylinders=(replace(low.cylinders[0], stroke=30 * INCH),))
    # [Johnson1942], from memory: 1.7 x 200 x 34² x 30 / ((R + 1) x 57), R = (34/21.5)² x 30/26.
    ratio = (34 / 21.5) ** 2 * 30 / 26
    expected = 1.7 * 200 * 34**2 * 30 / ((ratio + 1) * 57)
    found = sum(unit_efforts(replace(made, engine_units=(high, longer))))
    assert found / POUND_FORCE == pytest.approx(expected, rel=1e-9)


def test_an_arrangement_no_rule_covers_has_no_rated_effort() -> None:
    three = compound(high=(1, 20), low=(2, 24))
    assert rated_effort(three) is None
    assert factor_of_adhesion(three) is None
    with pytest.raises(
        OutOfRange, match=r"no published rule rates 1 high- and 2 low-.* write method = 'cycle'"
    ):
        compute_performance(three, method="handbook")


def test_a_set_too_few_is_refused() -> None:
    lonely = compound(high=(2, 15), low=(2, 25))
    unit = lonely.engine_units[0]
    with pytest.raises(OutOfRange, match=r"one set of cylinders supplied from the boiler .*, found 0 and 1"):
        replace(lonely, engine_units=(replace(unit, cylinders=(unit.cylinders[1],)),))


def test_a_limited_cutoff_engine_has_a_coefficient_of_its_own() -> None:
    full, limited = trials.locomotive(), trials.locomotive(tractive_effort_factor=0.75)
    assert rated_effort(limited) / rated_effort(full) == pytest.approx(0.75 / 0.85)


def test_three_cylinders_of_two_expansions_have_their_cranks_evenly_round() -> None:
    group = cycle_layout(compound(high=(1, 20), low=(2, 24))).groups[0]
    turns = [angle / (2 * math.pi) for angles in group.cranks for angle in angles]
    assert turns == pytest.approx([0.0, 1 / 3, 2 / 3])


# Adhesion


def test_one_unit_uses_all_its_adhesive_mass() -> None:
    engine = trials.locomotive(mass_on_drivers=51e3)
    assert compute_performance(engine, method="handbook").mass_on_drivers == pytest.approx(51e3)


def test_two_like_units_use_all_their_adhesive_mass() -> None:
    engine = trials.locomotive(units=2, mass_on_drivers=51e3)
    assert compute_performance(engine, method="handbook").mass_on_drivers == pytest.approx(102e3)


def test_the_unit_that_slips_first_holds_both() -> None:
    # Units of like cylinders with 60 and 40 t: the lighter one slips at 40 t a half, so 80 t count.
    engine = trials.locomotive(units=2)
    heavy, light = (replace(engine.engine_units[0], mass_on_drivers=mass) for mass in (60e3, 40e3))
    engine = replace(engine, engine_units=(heavy, light), mass=125e3)
    assert compute_performance(engine, method="handbook").mass_on_drivers == pytest.approx(80e3)
    # And the other way about.
    engine = replace(engine, engine_units=(light, heavy))
    assert compute_performance(engine, method="handbook").mass_on_drivers == pytest.approx(80e3)


def test_a_unit_with_small_cylinders_slips_later() -> None:
    engine = trials.locomotive(units=2, mass_on_drivers=50e3)
    unit = engine.engine_units[0]
    small = EngineUnit(
        driver_diameter=unit.driver_diameter,
        driving_axles=3,
        mass_on_drivers=50e3,
        cylinders=(replace(unit.cylinders[0], bore=0.26),),
        max_cutoff=unit.max_cutoff,
    )
    engine = replace(engine, engine_units=(unit, small))
    # The large pair gives 4/5 of the pull on 50 t: 62.5 t count.
    assert compute_performance(engine, method="handbook").mass_on_drivers == pytest.approx(62.5e3)
