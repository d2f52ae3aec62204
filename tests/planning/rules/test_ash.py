"""Rule of ash: ash on the grate from one cleaning of the fire to the next."""

from __future__ import annotations

from dataclasses import replace

import pytest
from judged import hills, one, run, under

from locosim.model import Fuel
from locosim.planning.rules.boiler import ash


def test_ash_is_that_of_the_fuel_burned_on_the_road() -> None:
    journey = run(replace(hills(), fuel=Fuel(kind="bituminous")))
    burned = journey.fuel_burned
    # 6.52 % of the dry coal is ash, 5 % of the coal as fired water.
    found = one(ash, journey)
    assert found.value == pytest.approx(
        burned * 0.95 * 0.0652 / journey.excursion.locomotive.boiler.grate_area, rel=1e-6
    )
    assert found.verdict == "clear"


def test_too_much_ash_is_a_note() -> None:
    journey = run(hills())
    value = one(ash, journey).value
    assert one(ash, under(journey, max_ash_per_grate_area=1.05 * value)).verdict == "note"
    beyond = one(ash, under(journey, max_ash_per_grate_area=0.5 * value))
    assert beyond.verdict == "note"
    assert "clean the fire" in beyond.remedy


def test_a_fire_cleaned_on_the_way_starts_again_from_zero() -> None:
    asked = hills()
    stops = tuple(replace(stop, clean_fire="yes" if k == 1 else "no") for k, stop in enumerate(asked.stops))
    plain, cleaned = run(asked), run(replace(asked, stops=stops))
    assert one(ash, cleaned).value < 0.9 * one(ash, plain).value


def test_oil_leaves_no_ash() -> None:
    asked = hills()
    boiler = replace(asked.locomotive.boiler, firing="oil")
    burning = replace(asked, locomotive=replace(asked.locomotive, boiler=boiler), fuel=Fuel(kind="oil"))
    assert ash(run(burning)) == []
