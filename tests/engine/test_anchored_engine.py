"""Round trips: the sheet of an engine with one constant changed gives that constant back."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest
import trials

from locosim.constants import HOUR, POUND, POUND_PER_SQUARE_FOOT_HOUR, PSI
from locosim.engine.anchor_notes import anchor_cautions
from locosim.engine.performance import compute_performance
from locosim.engine.test_sheet import anchored
from locosim.engine.test_sheet.anchored import anchored_engine, solve_key
from locosim.engine.test_sheet.keys import BACK_PRESSURE, key_value, with_key
from locosim.engine.test_sheet.readings import EngineUnderTest, mean_error, reading_error
from locosim.engine.test_sheet.sheet_comparison import compare_sheet
from locosim.errors import OutOfRange
from locosim.model import Assumptions, EngineTestRow, EngineTestSheet, Locomotive

RATES = [rate * POUND_PER_SQUARE_FOOT_HOUR for rate in (60.0, 110.0)]
SPEED = 14.0  # [m/s]


@lru_cache
def real_engine(**assumed: float) -> EngineUnderTest:
    """The engine of the tests as it would behave with other constants than those of locosim."""
    return EngineUnderTest.of(trials.locomotive(), replace(Assumptions(), **assumed)).with_map()


def printed(real: EngineUnderTest, reading: str, **conditions: float | str) -> EngineTestRow:
    """A row of a sheet as the tested engine would print it."""
    placeholder = {"steam_rate": 2e-6}.get(reading, 500.0 if reading != "evaporation" else 1.0)
    row = EngineTestRow(**conditions, **{reading: placeholder})
    return replace(row, **{reading: real.computed(row, reading)})


def with_sheet(*rows: EngineTestRow, use: tuple[str, ...], **figures: float) -> Locomotive:
    sheet = EngineTestSheet(use=use, rows=rows, **figures)
    return replace(trials.locomotive(), test_sheet=sheet)


@pytest.mark.parametrize(
    ("reading", "key", "assumption", "value"),
    [
        ("evaporation", "boiler.unburned_factor", "unburned_factor", 1.3),
        ("evaporation", "boiler.unburned_factor", "unburned_factor", 0.7),
        ("steam_temperature", "boiler.superheater_factor", "superheater_factor", 0.8),
        ("steam_temperature", "boiler.superheater_factor", "superheater_factor", 1.25),
        ("draft", "boiler.draft_roughness_factor", "draft_roughness_factor", 1.5),
    ],
)
@pytest.mark.parametrize("count", [1, 2])
def test_readings_of_the_boiler_give_a_changed_constant_back(
    reading: str, key: str, assumption: str, value: float, count: int
) -> None:
    real = real_engine(**{assumption: value})
    rows = [printed(real, reading, firing_rate=rate) for rate in RATES[:count]]
    engine = anchored_engine(with_sheet(*rows, use=(reading,)))
    assert key_value(engine, key) == pytest.approx(value, rel=0.01)
    (anchor,) = engine.anchors or ()
    assert (anchor.key, anchor.reached, anchor.believable) == (key, True, True)
    assert anchor_cautions(anchor) == []


def test_three_constants_of_the_boiler_come_back_together() -> None:
    real = real_engine(unburned_factor=1.2, superheater_factor=1.1, draft_roughness_factor=1.2)
    names = ("evaporation", "steam_temperature", "draft")
    rows = [printed(real, name, firing_rate=rate) for name in names for rate in RATES]
    engine = anchored_engine(with_sheet(*rows, use=names))
    found = {anchor.key: anchor.value for anchor in engine.anchors or ()}
    assert found["boiler.unburned_factor"] == pytest.approx(1.2, rel=0.01)
    assert found["boiler.superheater_factor"] == pytest.approx(1.1, rel=0.01)
    assert found["boiler.draft_roughness_factor"] == pytest.approx(1.2, rel=0.01)


@pytest.mark.parametrize(
    ("reading", "conditions"),
    [
        ("indicated_power", {"evaporation": 2.6}),
        ("steam_rate", {"evaporation": 2.6}),
        ("steam_rate", {"cutoff": 0.35}),
    ],
)
def test_power_and_steam_rate_give_the_steam_rate_factor_back(
    reading: str, conditions: dict[str, float]
) -> None:
    real = real_engine(steam_rate_factor=1.07)
    row = printed(real, reading, speed=SPEED, **conditions)
    engine = anchored_engine(with_sheet(row, use=(reading,)))
    assert key_value(engine, "steam_passages.steam_rate_factor") == pytest.approx(1.07, rel=0.01)
    (line,) = compare_sheet(engine).lines
    assert line.anchored_error == pytest.approx(0.0, abs=2e-3)
    assert abs(line.error or 0.0) > 0.03


def test_power_at_the_boilers_limit_gives_the_greatest_back_pressure_back() -> None:
    real = real_engine(max_back_pressure=9.0 * PSI)
    row = printed(real, "indicated_power", speed=SPEED, boiler="forced")
    engine = anchored_engine(with_sheet(row, use=("indicated_power",)))
    assert key_value(engine, BACK_PRESSURE) == pytest.approx(9.0 * PSI, rel=0.01)


def test_the_greatest_evaporation_gives_the_greatest_back_pressure_back() -> None:
    real = real_engine(max_back_pressure=4.0 * PSI)
    assert real.supply.binding.name == "front end"
    engine = anchored_engine(with_sheet(use=("max_evaporation",), max_evaporation=real.supply.sustained))
    assert key_value(engine, BACK_PRESSURE) == pytest.approx(4.0 * PSI, rel=0.01)
    (anchor,) = engine.anchors or ()
    assert not anchor.believable
    assert any("beyond the believable range" in text for text in anchor_cautions(anchor))


def test_what_cannot_be_reached_says_so_with_the_nearest_and_its_limit() -> None:
    engine = anchored_engine(with_sheet(use=("max_evaporation",), max_evaporation=20.0))
    (anchor,) = engine.anchors or ()
    assert not anchor.reached
    assert anchor.limited_by != ""
    nearest = EngineUnderTest.of(engine, Assumptions()).supply.sustained
    assert anchor.error == pytest.approx(nearest / 20.0 - 1.0, abs=1e-6)
    assert any(
        f"the nearest is off by {100 * anchor.error:+.1f} %, limited by the {anchor.limited_by}" in text
        for text in anchor_cautions(anchor)
    )


def test_figures_of_the_whole_sheet_are_used_as_printed_and_limit_the_boiler() -> None:
    rate = 60.0 * POUND_PER_SQUARE_FOOT_HOUR
    engine = anchored_engine(
        with_sheet(
            use=("max_back_pressure", "max_firing_rate"), max_back_pressure=11.0 * PSI, max_firing_rate=rate
        )
    )
    assert key_value(engine, BACK_PRESSURE) == 11.0 * PSI
    supply = compute_performance(engine).supply
    assert supply.binding.name == "grate"
    assert supply.max_firing == pytest.approx(rate * engine.boiler.grate_area)


def test_a_sheet_that_is_not_used_changes_nothing_but_is_compared() -> None:
    row = EngineTestRow(firing_rate=RATES[0], evaporation=2.0, speed=SPEED, indicated_power=9e5)
    engine = with_sheet(row, use=())
    assert anchored_engine(engine) is engine
    plain = compute_performance(trials.locomotive())
    assert compute_performance(engine).supply.sustained == plain.supply.sustained
    comparison = compare_sheet(engine)
    assert [(line.reading, line.anchored, line.used) for line in comparison.lines] == [
        ("evaporation", None, False),
        ("indicated_power", None, False),
    ]
    # By arithmetic from the tables of the supply and the map.
    supply = plain.supply
    made = supply.steam[1:] / supply.firing_rates[1:]
    per_fuel = (comparison.lines[0].computed or 0.0) / (RATES[0] * engine.boiler.grate_area)
    assert made.min() < per_fuel < made.max()
    steam = 2.0 - engine.auxiliaries.continuous_demand
    effort, _ = plain.map.max_effort(speed=SPEED, pressure=engine.boiler.absolute_pressure, steam=steam)
    assert comparison.lines[1].computed == pytest.approx(effort * SPEED)


def test_a_row_for_comparison_sets_nothing() -> None:
    real = real_engine(unburned_factor=1.3)
    first = printed(real, "evaporation", firing_rate=RATES[0])
    wrong = EngineTestRow(firing_rate=RATES[1], evaporation=30000.0 * POUND / HOUR, role="compare")
    alone, both = (
        anchored_engine(with_sheet(*rows, use=("evaporation",))) for rows in ((first,), (first, wrong))
    )
    assert key_value(alone, "boiler.unburned_factor") == key_value(both, "boiler.unburned_factor")
    assert [line.used for line in compare_sheet(both).lines] == [True, False]


def test_an_engine_anchored_twice_is_the_same() -> None:
    real = real_engine(unburned_factor=1.3)
    once = anchored_engine(
        with_sheet(printed(real, "evaporation", firing_rate=RATES[0]), use=("evaporation",))
    )
    assert anchored_engine(once) == once
    assert (compare_sheet(once).lines[0].error or 0.0) > 0.01  # without the sheet still as before


def test_drawbar_power_on_a_plant_is_more_than_on_the_road() -> None:
    rows = [
        EngineTestRow(speed=SPEED, evaporation=2.0, drawbar_power=8e5, drawbar_basis=basis)
        for basis in ("road", "plant")
    ]
    road, plant = (line.computed or 0.0 for line in compare_sheet(with_sheet(*rows, use=())).lines)
    assert road < plant


def test_a_speed_beyond_the_engine_is_told_and_the_other_rows_computed() -> None:
    rows = [
        EngineTestRow(label=label, speed=speed, indicated_power=9e5)
        for label, speed in (("a", 14.0), ("b", 80.0))
    ]
    first, second = compare_sheet(with_sheet(*rows, use=())).lines
    assert first.computed is not None
    assert second.computed is None
    assert "speed" in second.problem


def test_a_draft_no_fire_needs_is_refused_with_the_greatest() -> None:
    with pytest.raises(OutOfRange, match="draft must be above 0 Pa and at most"):
        real_engine().supply.firing_rate_at_draft(9e4)


@pytest.mark.parametrize("start", [0.2, 1.0, 5.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_key_is_found_from_either_side(start: float, sign: float) -> None:
    value, left = solve_key(lambda x: sign * (x - 1.7), start, 0.1, 10.0)
    assert value == pytest.approx(1.7, rel=1e-4)
    assert left == pytest.approx(0.0, abs=1e-3)


def test_a_search_that_starts_where_another_limit_binds_goes_on_until_the_key_acts() -> None:
    value, left = solve_key(lambda x: min(x, 1.0) - 0.5, 3.0, 0.1, 10.0)
    assert value == pytest.approx(0.5)
    assert left == pytest.approx(0.0, abs=1e-9)
    assert solve_key(lambda x: 1.0, 3.0, 0.1, 10.0)[0] == pytest.approx(3.0)  # nothing acts: the usual value


def test_a_key_stops_where_the_error_stops_falling_or_the_range_ends() -> None:
    value, left = solve_key(lambda x: min(x, 3.0) - 4.0, 1.0, 0.1, 10.0)
    assert value == pytest.approx(3.0, rel=0.13)
    assert left == pytest.approx(-1.0)
    value, left = solve_key(lambda x: x - 40.0, 1.0, 0.1, 10.0)
    assert (value, left) == (pytest.approx(10.0), pytest.approx(-30.0))


def test_a_key_set_by_hand_is_kept_where_the_sheet_does_not_set_it() -> None:
    engine = with_key(
        with_sheet(use=("max_back_pressure",), max_back_pressure=11.0 * PSI), "boiler.unburned_factor", 1.2
    )
    assert key_value(anchored_engine(engine), "boiler.unburned_factor") == 1.2


def test_too_little_power_counts_as_too_much_steam() -> None:
    real = real_engine()
    conditions = {"speed": SPEED, "evaporation": 2.6}
    rate, power = (printed(real, name, **conditions) for name in ("steam_rate", "indicated_power"))
    stronger = replace(power, indicated_power=1.1 * (power.indicated_power or 0.0))
    greedier = replace(rate, steam_rate=1.1 * (rate.steam_rate or 0.0))
    short = 1.0 - 1.0 / 1.1
    for first, second, expected in (
        (rate, power, 0.0), (rate, stronger, 0.5 * short), (greedier, power, -0.5 * short), (greedier, stronger, 0.0),
    ):  # fmt: skip
        readings = ((first, "steam_rate"), (second, "indicated_power"))
        assert anchored._mean_error_of_steam(real, 1.0, readings) == pytest.approx(expected, abs=1e-9)
    assert anchored._mean_error_of_steam(real, 1.05, ((rate, "steam_rate"),)) > 0.0


def test_the_error_left_is_the_mean_of_the_readings() -> None:
    rows = [
        EngineTestRow(firing_rate=rate, steam_temperature=value)
        for rate, value in zip(RATES, (600.0, 640.0), strict=True)
    ]
    built = EngineUnderTest.of(trials.locomotive(), Assumptions())
    found = [built.computed(row, "steam_temperature") for row in rows]
    # an error of a steam temperature is a fraction of 100 K
    expected = 0.5 * ((found[0] - 600.0) + (found[1] - 640.0)) / 100.0
    readings = tuple((row, "steam_temperature") for row in rows)
    assert mean_error(built, readings) == pytest.approx(expected)
    assert reading_error("indicated_power", 330.0, 300.0) == pytest.approx(0.1)
