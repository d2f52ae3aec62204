"""Readings of a test sheet from made-up tables of boiler and cylinders, and the search for a key, by hand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine.own_resistance import engine_resistance_at_speed
from locosim.engine.test_sheet import anchored, sheet_comparison
from locosim.engine.test_sheet.anchored import solve_key
from locosim.engine.test_sheet.keys import (
    BACK_PRESSURE,
    FIRING_RATE,
    STEAM_RATE,
    UNBURNED,
    key_value,
    range_of_key,
    usual_value,
    with_anchors,
    with_key,
    without_anchors,
)
from locosim.engine.test_sheet.readings import EngineUnderTest, reading_error
from locosim.errors import OutOfRange
from locosim.model import Assumptions, EngineTestRow, EngineTestSheet, Fuel, Locomotive
from locosim.model.engine_test_sheet import Anchor

GRATE = 2.5  # [m²]
FIRED = np.array([0.0, 0.25, 0.5, 0.75])  # [kg/s], on a grate of 2.5 m²: 0, 0.1, 0.2, 0.3 kg/m²/s
STEAM = np.array([0.0, 2.0, 3.0, 3.5])  # [kg/s]
TEMPERATURE = np.array([460.0, 560.0, 600.0, 620.0])  # [K]
DRAFT = np.array([0.0, 400.0, 1600.0, 3600.0])  # [Pa]
DEMAND = 0.2  # of the auxiliaries [kg/s]
USUAL = Assumptions()


def supply() -> Any:
    """A boiler of four points: the fireman is the lowest limit, then front end, feed, fire."""
    limits = {"fireman": 2.4, "feed devices": 2.7, "front end": 2.9, "fire": 3.1}
    return SimpleNamespace(
        steam=STEAM, firing_rates=FIRED, steam_temperature=TEMPERATURE, draft=DRAFT, sustained=2.4,
        binding=SimpleNamespace(name="fireman"),
        limits=[SimpleNamespace(name=name, steam=steam) for name, steam in limits.items()],
        firing_rate_for=lambda steam: float(np.interp(steam, STEAM, FIRED)),
        firing_rate_at_draft=lambda draft: float(np.interp(draft, DRAFT, FIRED)),
    )  # fmt: skip


def cylinders(pressure: float) -> Any:
    """Cylinders that pull 25 kN for each kilogram of steam a second, and 1 kN for each hundredth of cutoff."""

    def at_pressure(found: float, asked: float) -> float:
        assert asked == pressure
        return found

    return SimpleNamespace(
        effort_at=lambda *, speed, cutoff, pressure: at_pressure(1e5 * cutoff, pressure),
        steam_at=lambda *, speed, cutoff, pressure: at_pressure(0.3 * cutoff * speed, pressure),
        max_effort=lambda *, speed, pressure, steam: (at_pressure(25e3 * steam, pressure), "steam"),
        setting_for=lambda *, effort, speed, pressure: SimpleNamespace(steam=at_pressure(effort / 25e3, pressure)),
        rim_effort=lambda effort: 0.9 * effort,
    )  # fmt: skip


def engine() -> Locomotive:
    made = trials.locomotive(grate=GRATE)
    auxiliaries = replace(made.auxiliaries, air_compressor_count=0, dynamo=0.0, train_heat=DEMAND)
    return replace(made, auxiliaries=auxiliaries)


def built(made: Locomotive | None = None) -> EngineUnderTest:
    made = made or engine()
    return EngineUnderTest(
        locomotive=made, assumptions=USUAL, supply=supply(), map=cylinders(made.boiler.absolute_pressure)
    )


def row(**given: Any) -> EngineTestRow:
    return EngineTestRow(**{"speed": 10.0, "indicated_power": 5e5, **given})


# Readings


@pytest.mark.parametrize(
    ("given", "fired", "steam"),
    [
        ({"evaporation": 2.5}, 0.375, 2.5),
        ({"firing_rate": 0.05}, 0.125, 1.0),  # 0.05 kg/m²/s on 2.5 m²
        ({"draft": 1000.0}, 0.375, 2.5),
        ({"firing_rate": 0.05, "draft": 1000.0}, 0.125, 1.0),
        ({"firing_rate": 0.05, "evaporation": 2.5}, 0.125, 2.5),
        ({}, 0.35, 2.4),  # all limits
        ({"boiler": "forced"}, 0.475, 2.9),  # front end, not fire, and whoever fires and feeds
        ({"cutoff": 0.3}, 0.35, 2.4),
    ],
)
def test_firing_rate_and_steam_of_a_row_are_those_given_or_of_the_table(
    given: dict[str, Any], fired: float, steam: float
) -> None:
    under = built()
    assert under.firing_rate(row(**given)) == pytest.approx(fired)
    assert under.steam_for(row(**given)) == pytest.approx(steam)
    assert under.cylinder_steam(row(**given)) == pytest.approx(steam - DEMAND)


def test_auxiliaries_that_take_all_the_steam_leave_none_for_the_cylinders() -> None:
    assert built().cylinder_steam(row(evaporation=0.15)) == 0.0


@pytest.mark.parametrize(
    ("given", "reading", "expected"),
    [
        ({"firing_rate": 0.15, "evaporation": 9.0}, "evaporation", 2.5),
        ({"draft": 1000.0, "evaporation": 9.0}, "evaporation", 2.5),
        ({"firing_rate": 0.05}, "steam_temperature", 510.0),
        ({"evaporation": 2.5}, "steam_temperature", 580.0),
        ({"firing_rate": 0.05, "evaporation": 2.5}, "steam_temperature", 510.0),
        ({"draft": 1000.0}, "steam_temperature", 580.0),
        ({"draft": 9.0, "evaporation": 2.5}, "steam_temperature", 580.0),  # the draft is a reading there
        ({"draft": 9.0, "firing_rate": 0.05}, "draft", 200.0),
        ({"draft": 9.0, "evaporation": 2.5}, "draft", 1000.0),
        # 2.3 kg/s to the cylinders: 57.5 kN at 10 m/s
        ({"evaporation": 2.5}, "indicated_power", 575e3),
        ({"evaporation": 2.5}, "steam_rate", 2.3 / 575e3),
        ({"cutoff": 0.4}, "indicated_power", 400e3),
        ({"cutoff": 0.4}, "steam_rate", 1.2 / 400e3),
        (
            {"evaporation": 2.5, "cutoff": 0.4},
            "indicated_power",
            575e3,
        ),  # cutoff counts only without evaporation
        ({"firing_rate": 0.05, "cutoff": 0.4}, "indicated_power", 400e3),
        ({"boiler": "forced"}, "indicated_power", 675e3),
        ({"evaporation": 2.5, "drawbar_basis": "plant"}, "drawbar_power", 0.9 * 575e3),
    ],
)
def test_a_reading_is_computed_from_the_tables(given: dict[str, Any], reading: str, expected: float) -> None:
    assert built().computed(row(**given), reading) == pytest.approx(expected)


def test_drawbar_power_on_the_road_is_less_the_resistance_of_the_engine_itself() -> None:
    under = built()
    resistance = engine_resistance_at_speed(under.locomotive, 10.0)
    assert resistance > 1000.0
    found = under.computed(row(evaporation=2.5), "drawbar_power")
    assert found == pytest.approx(0.9 * 575e3 - 10.0 * resistance)


def test_an_error_is_a_share_of_the_printed_or_of_a_hundred_kelvin() -> None:
    assert reading_error("draft", 450.0, 500.0) == pytest.approx(-0.1)
    assert reading_error("steam_temperature", 590.0, 600.0) == pytest.approx(-0.1)


# Keys


def test_the_usual_value_of_a_key_is_given_assumed_or_computed() -> None:
    made = engine()
    assert usual_value(with_key(made, UNBURNED, 1.2), UNBURNED, USUAL) == 1.2
    assert usual_value(made, UNBURNED, replace(USUAL, unburned_factor=0.9)) == 0.9
    assert usual_value(made, BACK_PRESSURE, replace(USUAL, max_back_pressure=7e4)) == 7e4
    assert usual_value(with_key(made, FIRING_RATE, 0.2), FIRING_RATE, USUAL) == 0.2
    # 120 lb/ft²/hour of bituminous coal [Cole1914], 65 of anthracite (docs/theory/boiler.md)
    pound = 0.45359237 / 0.3048**2 / 3600.0
    assert usual_value(made, FIRING_RATE, USUAL) == pytest.approx(120.0 * pound)
    anthracite = EngineTestSheet(fuel=Fuel(kind="anthracite"))
    assert usual_value(replace(made, test_sheet=anthracite), FIRING_RATE, USUAL) == pytest.approx(
        65.0 * pound
    )


@pytest.mark.parametrize("key", [UNBURNED, BACK_PRESSURE, STEAM_RATE, FIRING_RATE])
def test_both_ends_of_the_range_of_a_key_are_accepted_and_no_more(key: str) -> None:
    low, high = range_of_key(key, engine())
    for value in (low, high):
        assert key_value(with_key(engine(), key, value), key) == value
    for value in (low * (1.0 - 3e-9), high * (1.0 + 3e-9)):
        with pytest.raises(OutOfRange):
            with_key(engine(), key, value)


def test_anchors_are_taken_back_and_put_on_again() -> None:
    plain = with_key(engine(), UNBURNED, 1.1)
    of = {"usual": 1.0, "unit": "", "low": 0.5, "high": 2.0, "by": "evaporation, 1 row"}
    anchors = (
        Anchor(key=UNBURNED, value=1.3, given=None, **of), Anchor(key=STEAM_RATE, value=1.05, given=9.0, **of),
    )  # fmt: skip
    set_ = with_anchors(plain, anchors)
    assert (key_value(set_, UNBURNED), key_value(set_, STEAM_RATE)) == (1.3, 1.05)
    assert [anchor.given for anchor in set_.anchors or ()] == [1.1, None]
    assert without_anchors(set_) == plain
    assert without_anchors(plain) == plain


# The comparison


def test_each_line_shows_what_was_printed_and_computed_with_and_without_the_sheet(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    built_with_map = []

    class Made(EngineUnderTest):
        @classmethod
        def of(cls, locomotive: Locomotive, assumptions: Assumptions) -> Any:
            made = supply()
            factor = key_value(locomotive, UNBURNED) or 1.0
            made.steam, made.sustained = STEAM / factor, 2.4 / factor
            return cls(locomotive=locomotive, assumptions=assumptions, supply=made)

        def with_map(self) -> Any:
            built_with_map.append(self.locomotive.anchors is not None)
            return replace(self, map=cylinders(self.locomotive.boiler.absolute_pressure))

    monkeypatch.setattr(sheet_comparison, "EngineUnderTest", Made)
    rows = (
        EngineTestRow(label="no. 7", firing_rate=0.15, evaporation=2.0, speed=10.0, indicated_power=4e5),
        EngineTestRow(firing_rate=0.1, evaporation=1.9, draft=500.0, role="compare"),
    )
    figures = {"max_evaporation": 3.0, "max_firing_rate": 0.16}
    sheet = EngineTestSheet(use=("evaporation", "max_evaporation"), rows=rows, **figures)
    plain = replace(with_key(engine(), FIRING_RATE, 0.2), test_sheet=sheet)
    of = {"usual": 1.0, "unit": "", "low": 0.5, "high": 2.0, "by": "evaporation, 1 row"}
    with_sheet = with_anchors(plain, [Anchor(key=UNBURNED, value=1.25, given=None, **of)])
    blind = sheet_comparison.compare_sheet(plain)
    assert (blind.anchors, blind.locomotive, blind.assumptions) == ((), plain, USUAL)
    assert {line.anchored for line in blind.lines} == {None}
    assert built_with_map == [False]
    found = sheet_comparison.compare_sheet(with_sheet)
    assert built_with_map == [False, False, True]
    assert (found.anchors, found.locomotive) == (with_sheet.anchors, with_sheet)
    shown = [
        (
            line.row,
            line.label,
            line.reading,
            line.printed,
            line.computed,
            line.anchored,
            line.used,
            line.problem,
        )
        for line in found.lines
    ]
    assert shown == [
        (None, "whole sheet", "max_firing_rate", 0.16, 0.2, 0.2, False, ""),
        (None, "whole sheet", "max_evaporation", 3.0, 2.4, pytest.approx(1.92), True, ""),
        (1, "no. 7", "evaporation", 2.0, pytest.approx(2.5), pytest.approx(2.0), True, ""),
        (1, "no. 7", "indicated_power", 4e5, pytest.approx(450e3), pytest.approx(450e3), False, ""),
        (2, "row 2", "evaporation", 1.9, pytest.approx(2.0), pytest.approx(1.6), False, ""),
        (2, "row 2", "draft", 500.0, pytest.approx(400.0), pytest.approx(400.0), False, ""),
    ]
    assert [line.computed for line in found.lines] == [line.computed for line in blind.lines]
    errors = [line.error for line in found.lines[2:5]]
    assert errors == [pytest.approx(0.25), pytest.approx(0.125), pytest.approx(0.1 / 1.9)]
    assert found.lines[4].anchored_error == pytest.approx(-0.3 / 1.9)
    assert blind.lines[4].anchored_error is None
    of_boiler = sheet_comparison.compare_sheet(with_sheet, cylinders=False)
    assert [line.reading for line in of_boiler.lines[2:]] == ["evaporation", "evaporation", "draft"]
    assert built_with_map == [False, False, True]
    back = replace(with_key(plain, BACK_PRESSURE, 5e4), test_sheet=EngineTestSheet(max_back_pressure=6e4))
    (line,) = sheet_comparison.compare_sheet(back).lines
    assert (line.reading, line.printed, line.computed, line.used) == ("max_back_pressure", 6e4, 5e4, False)
    hot = replace(line, reading="steam_temperature", printed=600.0, computed=590.0)
    assert (hot.error, replace(hot, computed=None).error) == (-10.0, None)


def test_what_cannot_be_computed_is_told_beside_the_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: EngineUnderTest, row: EngineTestRow, reading: str) -> float:
        raise OutOfRange("too fast")

    monkeypatch.setattr(EngineUnderTest, "computed", refuse)
    assert sheet_comparison._computed(built(), row(), "indicated_power") == (None, "too fast")


# The search for a key


STEP = 1.12  # an eighth


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("start", [0.11, 0.9, 2.0, 4.9, 9.9])
@pytest.mark.parametrize("acts", ["above 5", "below 1", "everywhere"])
def test_a_zero_beyond_a_flat_stretch_is_found_on_its_side(sign: float, start: float, acts: str) -> None:
    error = {"above 5": lambda x: max(x, 5.0), "below 1": lambda x: min(x, 1.0), "everywhere": float}[acts]
    for zero in (5.02, 8.0) if acts == "above 5" else (0.5, 0.98) if acts == "below 1" else (0.15, 3.0, 9.0):
        value, left = solve_key(lambda x, zero=zero: sign * (error(x) - zero), start, 0.1, 10.0)
        assert value == pytest.approx(zero, rel=3e-5)
        assert left == pytest.approx(0.0, abs=3e-4)


def test_where_the_error_stops_falling_the_last_step_of_an_eighth_that_lowered_it_is_the_value() -> None:
    # 1.12^9 = 2.77, 1.12^10 = 3.11; from there on the error is -1.
    assert solve_key(lambda x: min(x, 3.0) - 4.0, 1.0, 0.1, 10.0) == (pytest.approx(STEP**10), -1.0)
    assert solve_key(lambda x: 4.0 - min(x, 3.0), 1.0, 0.1, 10.0) == (pytest.approx(STEP**10), 1.0)
    # Downward: 1 / 1.12^6 = 0.507, 1 / 1.12^7 = 0.452.
    found = solve_key(lambda x: max(x, 0.5) - 0.2, 1.0, 0.1, 10.0)
    assert found == (pytest.approx(STEP**-7), pytest.approx(0.3))
    # It rises again.
    assert solve_key(lambda x: 1.0 + abs(x - 1.12**4), 1.0, 0.1, 10.0)[0] == pytest.approx(STEP**4)


def test_a_value_at_which_nothing_can_be_computed_ends_the_search() -> None:
    def error(value: float) -> float:
        if value > 2.0:
            raise OutOfRange("too much")
        return value - 4.0

    # 1.12^6 = 1.97, 1.12^7 = 2.21
    value, left = solve_key(error, 1.0, 0.1, 10.0)
    assert (value, left) == (pytest.approx(STEP**6), pytest.approx(STEP**6 - 4.0))
    # Nothing can be computed on the far side of the start: the near side is searched all the same.
    assert solve_key(lambda x: error(x) + 3.5, 1.9, 0.1, 10.0)[0] == pytest.approx(0.5, rel=3e-5)


def test_a_range_ends_the_search_at_its_ends() -> None:
    assert solve_key(lambda x: x - 40.0, 1.0, 0.1, 10.0) == (10.0, -30.0)
    assert solve_key(lambda x: x + 40.0, 1.0, 0.1, 10.0) == (0.1, 40.1)
    assert solve_key(lambda x: x - 40.0, 10.0, 0.1, 10.0) == (10.0, -30.0)
    assert solve_key(lambda x: x + 40.0, 0.1, 0.1, 10.0) == (0.1, 40.1)
    assert solve_key(lambda x: 2.0, 1.0, 0.1, 10.0) == (1.0, 2.0)
    # A zero inside the last part of a step, at either end.
    assert solve_key(lambda x: x - 9.9, 1.0, 0.1, 10.0)[0] == pytest.approx(9.9, rel=3e-5)
    assert solve_key(lambda x: x - 0.101, 1.0, 0.1, 10.0)[0] == pytest.approx(0.101, rel=3e-5)


def test_a_start_that_is_right_is_kept() -> None:
    calls = []

    def error(value: float) -> float:
        calls.append(value)
        return 9e-10 * value

    assert solve_key(error, 1.0, 0.1, 10.0) == (1.0, 9e-10)
    assert calls == [1.0]


# What is set


def test_an_error_of_a_thousandth_counts_as_reached() -> None:
    of = {"usual": 1.0, "given": None, "unit": "", "low": 0.5, "high": 2.0, "by": "draft, 1 row"}
    anchor = Anchor(key=UNBURNED, value=1.3, **of)
    for left, reached in ((1e-3, True), (-1e-3, True), (1.05e-3, False), (-1.05e-3, False)):
        found = anchored._reached(anchor, left, "fire")
        assert (found.error, found.reached, found.limited_by) == (left, reached, "" if reached else "fire")


def test_the_readings_of_a_key_are_named_once_with_their_number() -> None:
    power, rate = row(evaporation=2.0), row(evaporation=2.0, steam_rate=2e-6)
    assert anchored._named(((power, "indicated_power"),)) == "indicated_power, 1 row"
    pairs = ((power, "indicated_power"), (rate, "indicated_power"), (rate, "steam_rate"))
    assert anchored._named(pairs) == "indicated_power and steam_rate, 3 rows"


@pytest.mark.parametrize(
    ("key", "unit", "low", "high"),
    [(FIRING_RATE, "kg/m^2/s", 0.0, 0.352), *((key, *(Assumptions.declared()[key.split(".")[1]].metadata[part]
      for part in ("unit", "low", "high"))) for key in (UNBURNED, BACK_PRESSURE, STEAM_RATE))],
)  # fmt: skip
def test_a_key_is_shown_with_its_usual_value_and_believable_range(
    key: str, unit: str, low: float, high: float
) -> None:
    base = with_key(engine(), UNBURNED, 1.1)
    found = anchored._anchor(base, USUAL, key, 1.5, "draft, 1 row")
    assert (found.key, found.value, found.by) == (key, 1.5, "draft, 1 row")
    assert found.usual == usual_value(base, key, USUAL)
    assert found.given == (1.1 if key == UNBURNED else None)
    assert (found.unit, found.low, found.high) == (unit, low, high)
    assert low < high


def test_figures_of_the_whole_sheet_are_anchors_only_where_they_are_used() -> None:
    sheet = EngineTestSheet(use=("max_firing_rate",), max_firing_rate=0.15, max_back_pressure=6e4)
    found = anchored.anchored_engine(replace(engine(), test_sheet=sheet))
    (anchor,) = found.anchors or ()
    assert (anchor.key, anchor.value, anchor.by, anchor.reached) == (
        FIRING_RATE,
        0.15,
        "max_firing_rate",
        True,
    )
    assert (key_value(found, FIRING_RATE), key_value(found, BACK_PRESSURE)) == (0.15, None)


# Keys set from a sheet, on an engine whose readings are simple functions of its keys


@dataclass(frozen=True)
class Map:
    steam: float


@dataclass(frozen=True)
class Simple:
    """Evaporation falls with what is unburned; a hotter fire superheats more; steam of the map by some power."""

    locomotive: Locomotive
    assumptions: Assumptions
    map: Map | None = None
    power = 1.0
    maps = 0

    @classmethod
    def of(cls, locomotive: Locomotive, assumptions: Assumptions) -> Simple:
        return cls(locomotive, assumptions)

    def key(self, name: str) -> float:
        return usual_value(self.locomotive, name, self.assumptions)

    def with_map(self) -> Simple:
        Simple.maps += 1
        return replace(self, map=Map(2.0 * self.key(STEAM_RATE) ** Simple.power))

    @property
    def supply(self) -> Any:
        front_end = self.key(BACK_PRESSURE) / 25e3
        name = "front end" if front_end < 3.0 else "grate"
        return SimpleNamespace(sustained=min(front_end, 3.0), binding=SimpleNamespace(name=name))

    def computed(self, row: EngineTestRow, reading: str) -> float:
        unburned, boiler = self.key(UNBURNED), 10.0 * (row.firing_rate or 0.0)
        if reading == "evaporation":
            return boiler / unburned
        if reading == "steam_temperature":
            return 500.0 + 100.0 * self.key("boiler.superheater_factor") / unburned
        if reading == "draft":
            return 1e4 * boiler * self.key("boiler.draft_roughness_factor") * unburned
        assert self.map is not None
        steam = row.evaporation or self.supply.sustained
        return 1e-6 * self.map.steam if reading == "steam_rate" else 1e6 * steam / self.map.steam


@pytest.fixture
def simple(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(anchored, "EngineUnderTest", Simple)
    anchored._anchors.cache_clear()
    Simple.power, Simple.maps = 1.0, 0


def set_by(*rows: EngineTestRow, use: tuple[str, ...], **figures: float) -> Locomotive:
    sheet = EngineTestSheet(use=use, rows=rows, **figures)
    return anchored.anchored_engine(replace(engine(), test_sheet=sheet))


@pytest.mark.usefixtures("simple")
def test_keys_of_the_boiler_are_set_together_and_named_by_their_rows() -> None:
    rows = (
        EngineTestRow(firing_rate=0.2, evaporation=1.5),
        EngineTestRow(firing_rate=0.1, evaporation=0.85),
        EngineTestRow(firing_rate=0.1, steam_temperature=590.0),
        EngineTestRow(firing_rate=0.1, draft=9e3),
    )
    found = set_by(
        *rows, use=("evaporation", "steam_temperature", "draft", "max_back_pressure"), max_back_pressure=6e4
    )
    back, *factors = found.anchors or ()
    assert (back.key, back.value, back.by) == (BACK_PRESSURE, 6e4, "max_back_pressure")
    # Errors 2 / (1.5 x) - 1 and 1 / (0.85 x) - 1 have no mean.
    unburned = 0.5 * (2.0 / 1.5 + 1.0 / 0.85)
    expected = {UNBURNED: unburned, "boiler.superheater_factor": 0.9 * unburned,
                "boiler.draft_roughness_factor": 0.9 / unburned}  # fmt: skip
    assert {anchor.key: anchor.value for anchor in factors} == pytest.approx(expected, rel=1e-4)
    assert {key: key_value(found, key) for key in expected} == pytest.approx(expected, rel=1e-4)
    assert [anchor.by for anchor in factors] == [
        "evaporation, 2 rows", "steam_temperature, 1 row", "draft, 1 row",
    ]  # fmt: skip
    assert all(anchor.reached and anchor.given is None and abs(anchor.error) < 1e-3 for anchor in factors)
    assert [anchor.usual for anchor in factors] == [usual_value(engine(), key, USUAL) for key in expected]
    assert anchored.anchored_engine(found) == found
    plain = replace(found, test_sheet=replace(found.test_sheet, use=()))
    assert anchored.anchored_engine(plain) == without_anchors(plain)


@pytest.mark.usefixtures("simple")
def test_a_factor_that_its_range_does_not_reach_is_left_at_the_end_with_its_error() -> None:
    found = set_by(EngineTestRow(firing_rate=0.1, evaporation=50.0), use=("evaporation",))
    low, _ = range_of_key(UNBURNED, engine())
    (anchor,) = found.anchors or ()
    assert (anchor.value, anchor.reached, anchor.limited_by) == (low, False, "")
    assert anchor.error == pytest.approx(1.0 / low / 50.0 - 1.0)


@pytest.mark.parametrize(
    ("power", "maps", "exponent"),
    [
        (1.0, 2, 1.0),  # the first map gives it, and the second confirms it
        (1.2, 3, 0.84),  # each map goes from x to x + 1 - 1.2 x: 1, 0.8, 0.84
        (1.011, 3, 1.0 / 1.011),  # 0.00105 between the first two
        (1.010, 2, 0.99),  # 0.00095
    ],
)
@pytest.mark.usefixtures("simple")
def test_the_steam_rate_is_found_with_three_maps_at_most(power: float, maps: int, exponent: float) -> None:
    Simple.power = power
    printed = row(evaporation=2.0, steam_rate=2.2e-6, indicated_power=None, label=f"{power}")
    found = set_by(printed, use=("steam_rate",))
    (anchor,) = found.anchors or ()
    assert Simple.maps == maps
    assert (anchor.key, anchor.by) == (STEAM_RATE, "steam_rate, 1 row")
    assert anchor.value == pytest.approx(1.1**exponent, rel=3e-5)
    assert key_value(found, STEAM_RATE) == anchor.value


@pytest.mark.usefixtures("simple")
def test_power_at_given_steam_sets_the_steam_rate_and_at_the_limit_the_back_pressure() -> None:
    # 1 MW for each kilogram of steam a second over the 2 of the map; 10 % less power for the steam of the first row.
    given = row(evaporation=2.0, indicated_power=0.9e6, label="given steam")
    at_limit = row(indicated_power=1.08e6, label="limit")
    found = set_by(given, at_limit, use=("indicated_power",))
    steam_rate, back = found.anchors or ()
    assert (steam_rate.key, back.key) == (STEAM_RATE, BACK_PRESSURE)
    assert steam_rate.value == pytest.approx(1.0 / 0.9, rel=1e-3)
    assert steam_rate.by == back.by == "indicated_power, 1 row"
    # With that steam rate 1.08 MW take 2.4 kg/s: 60 kPa.
    assert back.value == pytest.approx(1.08 * 2.0 / 0.9 * 25e3, rel=1e-3)
    assert (back.reached, back.limited_by) == (True, "")
    alone = set_by(at_limit, use=("indicated_power",))
    (only,) = alone.anchors or ()
    assert only.value == pytest.approx(1.08 * 2.0 * 25e3, rel=1e-3)


@pytest.mark.usefixtures("simple")
def test_the_greatest_evaporation_sets_the_back_pressure_or_names_the_limit() -> None:
    (anchor,) = set_by(use=("max_evaporation",), max_evaporation=2.6).anchors or ()
    assert (anchor.key, anchor.by, anchor.limited_by) == (BACK_PRESSURE, "max_evaporation", "")
    assert anchor.value == pytest.approx(65e3, rel=1e-4)
    assert anchor.error == pytest.approx(0.0, abs=1e-4)
    (anchor,) = set_by(use=("max_evaporation",), max_evaporation=3.3).anchors or ()
    assert (anchor.reached, anchor.limited_by) == (False, "grate")
    assert anchor.error == pytest.approx(3.0 / 3.3 - 1.0)
    assert Simple.maps == 0
