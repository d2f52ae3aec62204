"""Ends of the usual ranges of an engine's figures: just outside is noted, the end itself is not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from locosim.engine.comparison import with_values
from locosim.engine.plausibility import implausible_inputs
from locosim.model import Locomotive
from locosim.scenario import load_locomotive

TEASEL = load_locomotive(Path(__file__).resolve().parents[2] / "scenarios" / "engines" / "teasel.toml")
UNIT, BOILER, PASSAGES = TEASEL.engine_units[0], TEASEL.boiler, TEASEL.steam_passages
CYLINDERS, GEAR = UNIT.cylinders[0], UNIT.valve_gear
assert GEAR is not None
AT = "engine_units[1]"
VOLUME = CYLINDERS.number * CYLINDERS.swept_volume
# What is set, its value at 1 of the range, and both ends as docs/theory names them to the user: common practice.
RANGES = [
    ("boiler.working_pressure_gauge", 1.0, 4e5, 2.5e6, "boiler.working_pressure_gauge"),
    ("boiler.firebox_surface", BOILER.grate_area, 1.5, 15.0, "boiler.firebox_surface / boiler.grate_area"),
    ("boiler.tube_surface", BOILER.grate_area, 12.0, 130.0, "boiler.tube_surface / boiler.grate_area"),
    (
        "boiler.superheater.surface",
        BOILER.tube_heating_surface,
        0.05,
        0.9,
        "boiler.superheater.surface / boiler.tube",
    ),
    (
        "steam_passages.nozzle_area",
        BOILER.grate_area,
        0.001,
        0.02,
        "steam_passages.nozzle_area / boiler.grate_area",
    ),
    ("steam_passages.max_back_pressure", 1.0, 2e4, 2e5, "steam_passages.max_back_pressure"),
    ("steam_passages.leakage_area_ratio", 1.0, None, 1e-3, "steam_passages.leakage_area_ratio"),
    ("steam_passages.wet_wall_heat_transfer", 1.0, 2e3, 4e4, "steam_passages.wet_wall_heat_transfer"),
    ("steam_passages.dry_wall_heat_transfer", 1.0, 50.0, 2000.0, "steam_passages.dry_wall_heat_transfer"),
    ("steam_passages.admission_discharge_coefficient", 1.0, 0.3, None, "admission_discharge_coefficient"),
    ("steam_passages.exhaust_discharge_coefficient", 1.0, 0.3, None, "exhaust_discharge_coefficient"),
    (f"{AT}.cylinders[1].clearance", 1.0, 0.03, 0.25, f"{AT}.cylinders[1].clearance"),
    (f"{AT}.valve_gear.lap", CYLINDERS.stroke, 0.015, 0.1, f"{AT}.valve_gear.lap / stroke"),
    (f"{AT}.valve_gear.lead", CYLINDERS.stroke, None, 0.03, f"{AT}.valve_gear.lead / stroke"),
    (
        f"{AT}.valve_gear.lead_mid_gear",
        CYLINDERS.stroke,
        None,
        0.04,
        f"{AT}.valve_gear.lead_mid_gear / stroke",
    ),
    (f"{AT}.valve_gear.exhaust_lap", GEAR.lap, -0.8, 0.8, f"{AT}.valve_gear.exhaust_lap / lap"),
    (f"{AT}.valve_gear.port_width", CYLINDERS.stroke, 0.03, 0.15, f"{AT}.valve_gear.port_width / stroke"),
    (f"{AT}.valve_gear.port_length", CYLINDERS.bore, 0.4, 3.5, f"{AT}.valve_gear.port_length / bore"),
]


LONG_TRAVEL = {f"{AT}.valve_gear.travel": 0.3}  # so much lead needs it


def noted(path: str, value: Any, key: str) -> str | None:
    more = LONG_TRAVEL if path.endswith("lead_mid_gear") else {}
    try:
        found = with_values(TEASEL, {path: value, **more})
    except ValueError as fault:
        pytest.fail(str(fault))
    assert isinstance(found, Locomotive)
    return next((text for text in implausible_inputs(found) if key in text), None)


@pytest.mark.parametrize(("path", "one", "low", "high", "key"), RANGES)
def test_just_outside_a_usual_range_is_noted_with_both_ends(
    path: str, one: float, low: float | None, high: float | None, key: str
) -> None:
    for end, outward in ((low, -1.0), (high, 1.0)):
        if end is None:
            continue
        inside, outside = (end + sign * outward * abs(end) * 1e-6 for sign in (-1.0, 1.0))
        assert noted(path, one * inside, key) is None
        text = noted(path, one * outside, key)
        assert text is not None
        assert "usually" in text
    if one == 1.0:
        for end in (low, high):
            assert end is None or noted(path, end, key) is None


def test_the_volume_of_the_cylinders_is_held_against_the_grate() -> None:
    key = "volume of the cylinders by bore and stroke / boiler.grate_area"
    for end, inward in ((0.01, 1.0), (0.4, -1.0)):
        for outside in (False, True):
            wanted = end * BOILER.grate_area * (1.0 + inward * (-1e-6 if outside else 1e-6))
            stroke = CYLINDERS.stroke * wanted / VOLUME
            bore = 1.0
            if not 0.1 < stroke < 1.2:
                bore, stroke = (stroke / CYLINDERS.stroke) ** 0.5, CYLINDERS.stroke
            found = with_values(
                TEASEL,
                {f"{AT}.cylinders[1].bore": bore * CYLINDERS.bore, f"{AT}.cylinders[1].stroke": stroke},
            )
            assert isinstance(found, Locomotive)
            text = next((text for text in implausible_inputs(found) if key in text), None)
            assert (text is not None) == outside
            assert text is None or text.endswith("usually 0.01 m to 0.4 m")


def test_a_note_shows_large_figures_whole_and_units_beside() -> None:
    text = noted("steam_passages.wet_wall_heat_transfer", 1000.0, "wet_wall")
    assert (
        text == "steam_passages.wet_wall_heat_transfer 1,000 W/m^2/K, usually 2,000 W/m^2/K to 40,000 W/m^2/K"
    )
    text = noted("steam_passages.dry_wall_heat_transfer", 12.345, "dry_wall")
    assert text == "steam_passages.dry_wall_heat_transfer 12.3 W/m^2/K, usually 50 W/m^2/K to 2,000 W/m^2/K"
    text = noted("steam_passages.max_back_pressure", 12e3, "max_back")
    assert text is not None
    assert text.endswith("12,000 Pa (1.74 psi), usually 20,000 Pa (2.9 psi) to 200,000 Pa (29 psi)")
