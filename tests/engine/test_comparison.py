"""Two engines side by side, and what each change is worth."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
import trials
from typer.testing import CliRunner

from locosim.cli import app
from locosim.engine.comparison import (
    ChangeEffect,
    Comparison,
    changed,
    compare_engines,
    with_values,
)
from locosim.errors import LocosimError, OutOfRange
from locosim.model import Locomotive, ValveGear
from locosim.plot.compare import plot_compare
from locosim.report.text.compare import compare_text, value_text
from locosim.units import unit_system

ENGINES = Path(__file__).resolve().parents[2] / "scenarios" / "engines"
TEASEL = str(ENGINES / "teasel.toml")
RUNNER = CliRunner()
SPEED = 12.0


def compare(second: Locomotive, first: Locomotive | None = None, method: str = "handbook") -> Comparison:
    """Against the usual engine on a rail so good that cylinders, not adhesion, hold the start."""
    return compare_engines(
        first or trials.locomotive(mass_on_drivers=75e3),
        second,
        speed=SPEED,
        rail="dry sanded",
        method=method,
    )


def worth(comparison: Comparison, name: str) -> ChangeEffect:
    return next(found for found in comparison.changes if found.name == name)


def heavy(**changes: float) -> Locomotive:
    return trials.locomotive(mass_on_drivers=75e3, **changes)


def test_an_engine_against_herself_shows_no_change() -> None:
    same = compare(replace(heavy(), name="the same under another name", references=("x",)))
    assert same.changes == ()
    assert same.combined.start == same.combined.power == same.combined.fuel == 0.0
    assert "do not differ" in compare_text(same)


@pytest.mark.parametrize("method", ["handbook", "cycle"])
@pytest.mark.parametrize(
    ("changes", "name", "ratio"),
    [
        ({"wheel": 1.52}, "engine_units.driver_diameter", 1.57 / 1.52),  # worn tyres
        ({"bore": 0.53}, "engine_units.cylinders.bore", (0.53 / 0.52) ** 2),  # rebored
        ({"pressure": 11.8e5}, "boiler.working_pressure_gauge", 11.8 / 13.1),  # lowered
    ],
)
def test_starting_pull_changes_as_every_rule_has_it(
    changes: dict[str, float], name: str, ratio: float, method: str
) -> None:
    # Pressure times bore squared times stroke over wheel; the effort at the rim is that less machine friction, of
    # which the part of the weight does not change, so it changes by some per cent more.
    found = worth(compare(heavy(**changes), method=method), name)
    assert found.start is not None
    assert found.start == pytest.approx(ratio - 1.0, rel=0.15)
    assert abs(found.start) > abs(ratio - 1.0)
    assert found.problem is None


def test_the_boiler_and_not_the_cylinder_is_worth_something_at_speed() -> None:
    # Where steam holds the engine, a larger grate gives power and a larger cylinder next to none.
    rebored = compare(heavy(bore=0.53), method="cycle").combined
    regrated = compare(heavy(grate=3.2), method="cycle").combined
    assert rebored.power is not None
    assert regrated.power is not None
    assert abs(rebored.power) < 0.01
    assert regrated.power > max(2.0 * abs(rebored.power), 0.01)


def test_lap_and_lead_are_worth_something_by_the_cycle_and_nothing_by_the_handbook() -> None:
    def geared(lap: float, lead: float) -> Locomotive:
        made = heavy()
        gear = ValveGear(lap=lap, lead=lead, travel=0.16)
        return replace(made, engine_units=(replace(made.engine_units[0], valve_gear=gear),))

    short, long = geared(0.022, 0.004), geared(0.038, 0.006)
    by_cycle = compare(long, short, method="cycle")
    assert {found.name for found in by_cycle.changes} == {
        "engine_units.valve_gear.lap",
        "engine_units.valve_gear.lead",
    }
    lap = worth(by_cycle, "engine_units.valve_gear.lap")
    assert lap.power is not None
    assert lap.fuel is not None
    # Longer lap opens the port wider at the same cutoff: more power from the same steam, less fuel for the work
    assert lap.power > 0.005
    assert lap.fuel < -0.005
    by_handbook = compare(long, short)
    assert by_handbook.combined.power == pytest.approx(0.0, abs=1e-12)


def test_all_changes_together_make_the_second_engine() -> None:
    first, second = heavy(), heavy(wheel=1.50, bore=0.54, pressure=12.4e5)
    found = compare(second)
    assert len(found.changes) == 3
    combined = found.combined
    assert combined.start == pytest.approx(
        found.second.start.rim_effort / found.first.start.rim_effort - 1.0, rel=1e-9
    )
    for one in found.changes:
        alone = with_values(first, {path: one.after for path in one.fields})
        assert [paths for paths, _ in changed(first, alone)] == [
            {path: (one.before, one.after) for path in one.fields}
        ]


def test_like_changes_of_both_units_are_one() -> None:
    found = changed(trials.locomotive(units=2), trials.locomotive(units=2, bore=0.53))
    ((paths, unit),) = found
    assert set(paths) == {"engine_units[1].cylinders[1].bore", "engine_units[2].cylinders[1].bore"}
    assert unit == "m"


def test_a_change_that_cannot_stand_alone_says_why() -> None:
    def geared(lap: float, travel: float) -> Locomotive:
        made = heavy()
        gear = ValveGear(lap=lap, lead=0.004, travel=travel)
        return replace(made, engine_units=(replace(made.engine_units[0], valve_gear=gear),))

    found = compare(geared(0.060, 0.20), geared(0.025, 0.11))
    lap = worth(found, "engine_units.valve_gear.lap")
    assert lap.problem is not None
    assert "travel must exceed" in lap.problem
    assert lap.start is None
    assert "cannot be changed alone" in compare_text(found)


def test_another_arrangement_is_one_change() -> None:
    found = changed(trials.locomotive(), trials.locomotive(superheater=False))
    assert [list(paths) for paths, _ in found] == [["boiler.superheater"]]
    units = changed(trials.locomotive(), trials.locomotive(units=2))
    assert ["engine_units"] in [list(paths) for paths, _ in units]


def test_values_are_set_all_at_once_and_checked() -> None:
    made = heavy()
    wide = with_values(made, {"engine_units[1].min_cutoff": 0.4, "engine_units[1].max_cutoff": 0.45})
    assert (wide.engine_units[0].min_cutoff, wide.engine_units[0].max_cutoff) == (0.4, 0.45)
    with pytest.raises(OutOfRange, match="min_cutoff must be below"):
        with_values(made, {"engine_units[1].max_cutoff": 0.31, "engine_units[1].min_cutoff": 0.5})


def test_values_are_written_as_the_trade_reads_them() -> None:
    assert value_text(0.0254 * 59.5, "m") == "59.50 in"
    assert value_text(1241056.0, "Pa") == "180.0 psi"
    assert value_text(None, "m") == "none"
    assert value_text((1, 2), "") == "2 items"
    assert value_text(0.85, "") == "0.85"
    assert value_text("stoker", "") == "stoker"


def test_the_picture_has_both_engines_and_a_bar_for_each_change() -> None:
    found = compare(heavy(wheel=1.50, bore=0.54))
    with unit_system("metric"):
        figure = plot_compare(found)
    pull, power, bars = figure.axes
    assert pull.get_ylabel() == "drawbar pull [kN]"
    assert power.get_ylabel() == "drawbar power [kW]"
    assert len(pull.get_lines()) == 2
    assert len(bars.patches) == 3 * (len(found.changes) + 1)
    widths = [bar.get_width() for bar in bars.patches]
    assert 100 * found.combined.start in widths


@pytest.mark.parametrize("method", ["cycle", "handbook"])
def test_the_command_gives_text_and_json(method: str) -> None:
    arguments = [
        "compare", TEASEL, TEASEL, "--change", "engine_units[1].driver_diameter=57 in", "--method", method
    ]  # fmt: skip
    said = RUNNER.invoke(app, arguments, env={"COLUMNS": "101"})
    assert said.exit_code == 0, said.output
    assert "57.00 in" in said.stdout
    assert f"Method: {method}" in said.stdout
    found = json.loads(RUNNER.invoke(app, [*arguments, "--json"]).stdout)
    assert (found["command"], found["method"], found["format"]) == ("compare", method, 2)
    (change,) = found["changes"]
    assert change["unit"] == "m"
    assert change["after"] == pytest.approx(57 * 0.0254)
    assert change["starting_tractive_effort_change"] > 0.0
    assert change["drawbar_power_change"] == pytest.approx(found["combined"]["drawbar_power_change"])
    assert len(found["engines"]) == 2


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--speed", "0 mph"], "speed must be above|step|between"),
        (["--speed", "500 mph"], "runs from"),
        (["--speed", "30"], "number without a unit"),
        (["--rail", "icy"], "--rail: must be one of"),
        (["--change", "boiler.grate_aera=5 m^2"], "unknown key"),
    ],
)
def test_the_command_says_what_it_cannot_compare(arguments: list[str], message: str) -> None:
    result = RUNNER.invoke(app, ["compare", TEASEL, TEASEL, *arguments])
    assert isinstance(result.exception, LocosimError)
    import re

    assert re.search(message, str(result.exception))


def test_why_a_change_cannot_stand_alone_is_told_in_the_units_of_the_reader() -> None:
    def on_drivers(mass: float) -> Locomotive:
        return trials.locomotive(mass_on_drivers=mass, mass=mass + 5e3)

    found = compare(on_drivers(50e3), on_drivers(60e3))
    for system, heavy_by in (("us", "132,277 lb"), ("metric", "60,000 kg")):
        with unit_system(system):
            text = " ".join(compare_text(found).split())
        assert f"mass must be at least the mass on drivers of the engine units ({heavy_by})" in text
