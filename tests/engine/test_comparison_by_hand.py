"""Two engines side by side, on made-up figures: relative changes, what counts as a change, and how fields are set."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import pytest
import trials

from locosim.engine import comparison
from locosim.engine.comparison import ChangeEffect, changed, compare_engines, strip_indices, with_values
from locosim.engine.cutoff_table import cutoff_table
from locosim.engine.performance import compute_performance
from locosim.engine.rated_effort import factor_of_adhesion, rated_effort
from locosim.engine.speed_curve import curve_point
from locosim.errors import Fault, LocosimError, OutOfRange
from locosim.model import Assumptions, Crew, Fuel, Locomotive

FIRST = trials.locomotive()
SECOND = trials.locomotive(bore=0.54, grate=3.2, max_speed=24.0, name="second")
EFFECT = ChangeEffect(
    fields=("engine_units[1].cylinders[1].bore", "engine_units[2].cylinders[1].bore"), unit="m", before=0.5,
    after=0.6, start=0.0, power=0.0, fuel=0.0, problem=None,
)  # fmt: skip


def test_both_engines_are_shown_at_the_speeds_asked_and_compared_at_one() -> None:
    found = compare_engines(FIRST, SECOND, speed=10.0, speeds=(4.0, 8.0), rail="wet", method="handbook")
    assert (found.speed, found.rail) == (10.0, "wet")
    for side, engine in ((found.first, FIRST), (found.second, SECOND)):
        performance = compute_performance(engine, method="handbook")
        assert side.performance.locomotive is engine
        assert (side.rated_effort, side.factor_of_adhesion) == (
            rated_effort(engine),
            factor_of_adhesion(engine),
        )
        assert side.axle_load == pytest.approx(51e3 / 3)
        assert side.start == curve_point(performance, 0.0, "wet")
        assert side.rows == tuple(curve_point(performance, at, "wet") for at in (4.0, 8.0))
        assert side.at_speed == curve_point(performance, 10.0, "wet")
        least = min(
            cutoff_table(performance, speed=10.0), key=lambda point: point.steam / point.indicated_effort
        )
        assert (side.best_cutoff, side.min_steam_per_work) == (least.cutoff, least.steam_per_work)
    combined = found.combined
    assert (combined.fields, combined.unit, combined.faults) == ((), "", ())
    assert (combined.before, combined.after, combined.problem) == ("trial engine", "second", None)
    assert (combined.name, combined.label) == ("all combined", "all combined")
    first, second = found.first, found.second
    assert combined.start == pytest.approx(second.start.rim_effort / first.start.rim_effort - 1.0)
    assert combined.power == pytest.approx(second.at_speed.drawbar_power / first.at_speed.drawbar_power - 1.0)
    per_work = [side.at_speed.fuel / side.at_speed.drawbar_power for side in (first, second)]
    assert combined.fuel == pytest.approx(per_work[1] / per_work[0] - 1.0)
    assert [change.name for change in found.changes] == [
        "boiler.grate_area", "engine_units.cylinders.bore", "max_speed",
    ]  # fmt: skip
    bore = found.changes[1]
    assert (bore.unit, bore.before, bore.after, bore.problem, bore.faults) == ("m", 0.52, 0.54, None, ())


def test_speeds_not_asked_for_are_usual_ones_of_the_slower_engine() -> None:
    found = compare_engines(FIRST, SECOND, method="handbook")
    assert found.speed == pytest.approx(30 * 0.44704)
    assert [row.speed for row in found.first.rows] == pytest.approx([4.0, 8.0, 12.0, 16.0, 20.0, 24.0])
    slow = replace(SECOND, max_speed=9.0)
    found = compare_engines(FIRST, slow, method="handbook")
    assert found.speed == 9.0
    assert [row.speed for row in found.second.rows] == pytest.approx([1.5, 3.0, 4.5, 6.0, 7.5, 9.0])


def test_sixths_are_of_what_the_map_and_the_permitted_speeds_allow() -> None:
    def made(map_end: float, permitted: float | None) -> Any:
        return SimpleNamespace(
            map=SimpleNamespace(max_speed=map_end), locomotive=SimpleNamespace(max_speed=permitted)
        )

    for sides, top in (
        ([made(30.0, None), made(36.0, None)], 30.0), ([made(30.0, 24.0), made(36.0, None)], 24.0),
        ([made(30.0, 60.0), made(36.0, 18.0)], 18.0),
    ):  # fmt: skip
        assert comparison._comparison_speeds(sides) == pytest.approx([top * n / 6 for n in range(1, 7)])


def test_crew_fuel_and_assumptions_are_those_of_both_engines(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = {
        "fuel": Fuel(heating_value=25e6),
        "crew": Crew(max_firing=0.2),
        "assumptions": Assumptions(power_factor=1.1),
    }
    found = compare_engines(FIRST, SECOND, speed=10.0, speeds=(4.0,), method="handbook", **asked)
    for side, engine in ((found.first, FIRST), (found.second, SECOND)):
        own = compute_performance(engine, method="handbook", **asked)
        assert side.at_speed == curve_point(own, 10.0, "dry")
        assert side.performance.supply.sustained == own.supply.sustained


def setup(**changes: Any) -> Any:
    given = {
        "method": "cycle", "fuel": None, "crew": None, "speed": 10.0, "rail": "dry", "assumptions": Assumptions(),
        **changes,
    }  # fmt: skip
    return comparison._ComparisonSetup(**given)


def test_by_the_cycle_a_change_is_computed_at_rest_and_one_speed_once_for_engines_with_one_map(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[Any] = []

    def two_speeds(layout: Any, speed: float, assumptions: Any) -> Any:
        made.append((layout, speed, assumptions))
        return len(made)

    supplied = []

    def supply(*asked: Any) -> Any:
        supplied.append(asked)
        return "supply"

    monkeypatch.setattr(comparison, "two_speed_map", two_speeds)
    monkeypatch.setattr(comparison, "heat_balance_supply", supply)
    monkeypatch.setattr(comparison, "cycle_layout", lambda engine, assumptions: (engine.name, assumptions))
    monkeypatch.setattr(comparison, "map_key", lambda engine, assumptions: engine.engine_units)
    asked = setup(assumptions=Assumptions(power_factor=1.1))
    heavier = replace(FIRST, mass=FIRST.mass + 1e3)
    maps = [asked.quick_performance_of(engine).map for engine in (FIRST, heavier, SECOND, FIRST)]
    assert maps == [1, 1, 2, 1]
    assert made == [(("trial engine", asked.assumptions), 10.0, asked.assumptions),
                    (("second", asked.assumptions), 10.0, asked.assumptions)]  # fmt: skip
    found = asked.quick_performance_of(FIRST)
    assert (found.locomotive, found.supply, found.assumptions) == (FIRST, "supply", asked.assumptions)
    assert found.fuel == Fuel()
    assert supplied[-1] == (FIRST, Fuel(), Crew(), asked.assumptions)
    given = setup(fuel=Fuel(kind="anthracite"), crew=Crew(max_firing=0.2))
    assert given.quick_performance_of(FIRST).fuel == Fuel(kind="anthracite")
    assert supplied[-1][1:3] == (Fuel(kind="anthracite"), Crew(max_firing=0.2))
    by_handbook = setup(method="handbook").quick_performance_of(FIRST)
    assert by_handbook.map is compute_performance(FIRST, method="handbook").map
    assert len(made) == 3


def figures(start: float = 2.0, power: float = 4.0, fuel: float = 5.0) -> Any:
    return comparison._KeyFigures(start=start, power=power, fuel=fuel)


def test_a_change_is_relative_and_none_where_there_is_nothing_to_relate_to() -> None:
    change = comparison._relative_change
    assert change(figures(), figures(3.0, 3.0, 5.5)) == pytest.approx(
        {"start": 0.5, "power": -0.25, "fuel": 0.1}
    )
    assert change(figures(start=0.0, power=-1.0, fuel=math.inf), figures()) == dict.fromkeys(
        ("start", "power", "fuel")
    )
    # An engine that pulls nothing at the speed has no fuel per work, but loses all its power.
    assert change(figures(), figures(power=-1.0, fuel=math.inf)) == {
        "start": 0.0,
        "power": -1.25,
        "fuel": None,
    }
    assert change(figures(start=0.5), figures(start=1.0))["start"] == 1.0


def test_an_engine_that_pulls_nothing_has_no_fuel_per_work(monkeypatch: pytest.MonkeyPatch) -> None:
    pull = {"power": 0.0}

    def point(performance: Any, speed: float, rail: str) -> Any:
        assert (performance, rail) == ("performance", "wet")
        return SimpleNamespace(rim_effort=1e3 + speed, drawbar_power=pull["power"], fuel=0.2)

    monkeypatch.setattr(comparison, "curve_point", point)
    asked: Any = SimpleNamespace(quick_performance_of=lambda engine: "performance", speed=10.0, rail="wet")
    found = comparison._key_figures(FIRST, asked)
    assert (found.start, found.power, found.fuel) == (1e3, 0.0, math.inf)
    pull["power"] = 0.5
    assert comparison._key_figures(FIRST, asked).fuel == 0.4


@pytest.mark.parametrize("name", ["start", "power", "fuel"])
@pytest.mark.parametrize(
    ("value", "counts"), [(4.9e-4, False), (5.1e-4, True), (-5.1e-4, True), (None, True)]
)
def test_a_change_counts_from_a_twentieth_of_a_per_cent(name: str, value: float | None, counts: bool) -> None:
    assert replace(EFFECT, **{name: value}).has_effect == counts
    assert not EFFECT.has_effect


def test_a_change_is_named_by_its_field_without_numbers() -> None:
    assert (EFFECT.name, EFFECT.label) == ("engine_units.cylinders.bore", "cylinders: bore")
    assert replace(EFFECT, fields=("tender.water_capacity",)).label == "tender: water capacity"
    assert strip_indices("engine_units[12].cylinders[3].bore") == "engine_units.cylinders.bore"


@pytest.mark.parametrize("error", [LocosimError("no way"), OutOfRange("no way", [Fault("bore", "is wrong")])])
def test_a_change_that_fails_alone_is_told_with_its_figures(
    error: LocosimError, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(engine: Locomotive, setup: Any) -> Any:
        raise error

    monkeypatch.setattr(comparison, "_key_figures", fail)
    paths = {"mass": (70e3, 80e3), "length": (1.0, 2.0)}
    found = comparison._change_effect(FIRST, paths, "kg", setup(), figures())
    assert (found.fields, found.unit, found.before, found.after) == (("mass", "length"), "kg", 70e3, 80e3)
    assert (found.start, found.power, found.fuel, found.problem) == (None, None, None, "no way")
    assert found.faults == (error.faults if isinstance(error, OutOfRange) else ())


# Fields


@dataclass(frozen=True)
class Wheel:
    size: float = field(metadata={"unit": "m"})
    label: str = ""


@dataclass(frozen=True)
class Cart:
    name: str
    wheels: tuple[Wheel, ...]
    load: float = field(default=1.0, metadata={"unit": "kg"})
    axle: Wheel | None = None
    words: tuple[str, ...] = ()
    read_from: str = field(default="", compare=False)


CART = Cart("a", (Wheel(1.0), Wheel(2.0)))


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (CART, []),
        (replace(CART, name="b", read_from="elsewhere"), []),
        (replace(CART, load=2.0), [({"load": (1.0, 2.0)}, "kg")]),
        (replace(CART, wheels=(Wheel(1.0), Wheel(3.0))), [({"wheels[2].size": (2.0, 3.0)}, "m")]),
        (
            replace(CART, wheels=(Wheel(4.0, "x"), Wheel(3.0))),
            [({"wheels[1].size": (1.0, 4.0), "wheels[2].size": (2.0, 3.0)}, "m"), ({"wheels[1].label": ("", "x")}, "")],
        ),
        (replace(CART, wheels=CART.wheels[:1]), [({"wheels": (CART.wheels, CART.wheels[:1])}, "")]),
        (replace(CART, wheels=()), [({"wheels": (CART.wheels, ())}, "")]),
        (replace(CART, axle=Wheel(1.0)), [({"axle": (None, Wheel(1.0))}, "")]),
        (replace(CART, words=("x",)), [({"words": ((), ("x",))}, "")]),
    ],
)  # fmt: skip
def test_fields_that_differ_are_found_with_their_units(other: Cart, expected: list[Any]) -> None:
    assert changed(CART, other) == expected  # type: ignore[arg-type]
    made = CART
    for paths, _ in expected:
        made = with_values(made, {path: values[1] for path, values in paths.items()})
    assert replace(made, name=other.name, read_from=other.read_from) == other


def test_like_descriptions_are_compared_within_and_lists_of_words_as_a_whole() -> None:
    first, second = (
        replace(CART, axle=Wheel(1.0), words=("x", "y")),
        replace(CART, axle=Wheel(2.0), words=("x", "z")),
    )
    assert changed(first, second) == [  # type: ignore[arg-type]
        ({"axle.size": (1.0, 2.0)}, "m"), ({"words": (("x", "y"), ("x", "z"))}, ""),
    ]  # fmt: skip


def test_values_are_set_at_any_depth_and_beside_each_other() -> None:
    made = with_values(CART, {"load": 5.0, "axle": Wheel(9.0), "axle.label": "rear", "wheels[2].size": 7.0})
    assert made == Cart("a", (Wheel(1.0), Wheel(7.0)), 5.0, Wheel(9.0, "rear"))
