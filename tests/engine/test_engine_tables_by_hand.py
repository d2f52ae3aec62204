"""Tables, curves and cards of an engine from made-up points: which are chosen, how they are read and what is told."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine import command_results, cutoff_table, indicator_diagram, performance, speed_curve
from locosim.engine.anchor_notes import anchor_cautions, anchor_note, anchor_notes
from locosim.engine.cutoff_table import CutoffPoint, options_for_effort
from locosim.engine.indicator_diagram import (
    end_mean_pressure,
    labeled_stages,
    pressures_by_stroke,
    stage_events,
    stroke_positions,
)
from locosim.engine.own_resistance import (
    engine_resistance_at_speed,
    engine_resistance_coefficients,
    full_tender_load,
    machine_friction_at_no_effort,
)
from locosim.engine.performance import Performance
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Cylinders, EngineTestSheet
from locosim.model.engine_test_sheet import Anchor
from locosim.physics.resistance.laws import LAWS

PSI = 6894.757293168

# Cutoffs for an effort


def point(cutoff: float, rim: float, *, throttle: float = 1.0, steam: float = 1.0) -> CutoffPoint:
    return CutoffPoint(speed=10.0, throttle=throttle, cutoff=cutoff, indicated_effort=rim + 1e3, rim_effort=rim,
                       steam=steam, fuel=0.1, back_pressure=0.0, steam_share=0.5)  # fmt: skip


def searched(
    monkeypatch: pytest.MonkeyPatch, tables: dict[float, list[tuple[float, float]]], *, method: str = "cycle"
) -> Any:
    """An engine whose table has these cutoffs and rim efforts at each opening; steam is 10 times the cutoff."""

    def table(engine: Any, *, speed: float, cutoffs: tuple[float, ...] = (), throttle: float = 1.0) -> Any:
        rows = tables.get(throttle, [(0.2, math.nan)])
        if cutoffs:
            x, y = zip(*rows, strict=True)
            rows = [(c, float(np.interp(c, x, y))) for c in cutoffs]
        return tuple(point(c, rim, throttle=throttle, steam=10.0 * c) for c, rim in rows)

    monkeypatch.setattr(cutoff_table, "cutoff_table", table)
    return SimpleNamespace(method=method)


RISING = [(0.2, 10e3), (0.4, 30e3), (0.6, 40e3), (0.8, 35e3)]  # the longest chokes the exhaust


@pytest.mark.parametrize(
    ("effort", "cutoff", "nearest"),
    [
        (10e3, 0.2, 10e3),
        (20e3, 0.3, 20e3),
        (40e3, 0.6, 40e3),
        (37e3, 0.54, 37e3),
        (9e3, None, 10e3),
        (41e3, None, 40e3),
    ],
)
def test_the_cutoff_of_an_effort_lies_before_the_one_of_the_greatest(
    monkeypatch: pytest.MonkeyPatch, effort: float, cutoff: float | None, nearest: float
) -> None:
    engine = searched(monkeypatch, {1.0: [(0.15, math.nan), *RISING]})
    found = cutoff_table._cutoff_or_nearest_effort(engine, 10.0, effort, 1.0)
    assert found == (None if cutoff is None else pytest.approx(cutoff), nearest)


def test_an_opening_without_power_gives_no_effort(monkeypatch: pytest.MonkeyPatch) -> None:
    engine = searched(monkeypatch, {})
    assert cutoff_table._cutoff_or_nearest_effort(engine, 10.0, 1e3, 1.0) == (None, 0.0)


def test_of_the_openings_that_give_an_effort_that_with_the_least_steam_is_the_most_economical(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    engine = searched(
        monkeypatch, {1.0: RISING, 0.75: [(0.2, 15e3), (0.6, 30e3)], 0.5: [(0.2, 5e3), (0.8, 9e3)]}
    )
    found = options_for_effort(engine, speed=10.0, effort=20e3)
    # Full: 0.3; three quarters: 0.2 + 0.4 / 3; half gives 9 kN at most, and the rest no power at all.
    assert [(p.throttle, p.cutoff) for p in found.points] == [
        (1.0, pytest.approx(0.3)),
        (0.75, pytest.approx(1 / 3)),
    ]
    assert (found.effort, found.most_economical) == (20e3, found.points[0])
    assert found.unreachable == ((0.5, 9e3), (0.35, 0.0), (0.25, 0.0))
    asked = options_for_effort(engine, speed=10.0, effort=20e3, throttle_openings=(0.75, 0.5))
    assert [p.throttle for p in asked.points] == [0.75]
    assert asked.unreachable == ((0.5, 9e3),)
    by_handbook = searched(monkeypatch, {1.0: RISING}, method="handbook")
    assert options_for_effort(by_handbook, speed=10.0, effort=20e3).unreachable == ()


def test_the_throttle_is_eased_only_where_none_was_asked_for_and_the_cycle_computes_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    eased = point(0.2, 5e3, throttle=0.4)
    calls = []

    def ease(*asked: Any) -> tuple[CutoffPoint, ...]:
        calls.append(asked)
        return (eased,)

    monkeypatch.setattr(cutoff_table, "_eased_at_shortest_cutoff", ease)
    engine = searched(monkeypatch, {opening: RISING for opening in (1.0, 0.75, 0.5, 0.35, 0.25)})
    found = options_for_effort(engine, speed=10.0, effort=5e3)
    assert (found.points, calls) == ((eased,), [(engine, 10.0, 5e3)])
    assert len(found.unreachable) == 5
    with pytest.raises(OutOfRange, match="the shortest cutoff gives 10000 N"):
        options_for_effort(engine, speed=10.0, effort=5e3, throttle_openings=(1.0,))
    handbook = searched(monkeypatch, {1.0: RISING}, method="handbook")
    with pytest.raises(OutOfRange, match="the shortest cutoff gives 10000 N"):
        options_for_effort(handbook, speed=10.0, effort=5e3)
    assert len(calls) == 1


def test_an_effort_out_of_reach_is_refused_with_the_nearest_below_and_above() -> None:
    error = cutoff_table._unreachable_effort([(1.0, 4e4), (0.5, 2e4), (0.25, 9e4), (0.35, 7e4)], 5e4, 10.0)
    assert str(error) == (
        "no cutoff gives 50000 N (11240 lbf) at 10.00 m/s (36.0 km/h, 22.4 mph): the most is 40000 N (8992 lbf) with "
        "the throttle open 100 %; the shortest cutoff gives 70000 N (15737 lbf) with the throttle open 35 %"
    )
    (fault,) = error.faults
    assert (fault.key, fault.unit) == ("effort", "N")
    assert fault.figures == {"found": 5e4, "most": 4e4, "least": 7e4}
    for least, words in ((0.0, "nothing over machine friction"), (0.4, "0 N (0 lbf)")):
        assert f"the most is {words} with" in str(cutoff_table._unreachable_effort([(1.0, least)], 5e4, 10.0))


def test_points_of_the_cycle_are_put_together_from_its_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    from locosim.engine.cylinders import operating_points as module

    asked: dict[str, Any] = {}

    def operating_points(engine: Any, **given: Any) -> Any:
        asked.update(given, engine=engine)
        count = np.arange(2.0)
        return SimpleNamespace(
            effort=5e4 + count, steam=2.0 + count, back_pressure=3e4 + count, chest_pressure=12e5 + count,
            steam_temperature=600.0 + count, wall_condensation_share=0.1 + count,
        )  # fmt: skip

    monkeypatch.setattr(module, "operating_points", operating_points)
    monkeypatch.setattr(cutoff_table, "valve_events_at", lambda made, cutoff: f"events {cutoff}")
    own = trials.locomotive()
    saturated = trials.locomotive(superheater=False)
    for engine, temperatures in ((own, [600.0, 601.0]), (saturated, [465.0, 465.0])):
        layout = SimpleNamespace(locomotive=engine, design=SimpleNamespace(saturation_temperature=465.0))
        monkeypatch.setattr(cutoff_table, "cycle_layout", lambda engine, assumed, layout=layout: layout)
        made: Any = SimpleNamespace(
            locomotive=engine, assumptions="assumed", map=SimpleNamespace(rim_effort=lambda effort: 0.9 * effort),
            supply=SimpleNamespace(sustained=4.0, firing_rate_for=lambda steam: steam / 8.0),
        )  # fmt: skip
        found = cutoff_table._points_by_cycle(made, 12.0, (0.3, 0.5), 0.6)
        assert asked["engine"] is layout
        assert (asked["throttle"], asked["pressures"]) == (0.6, engine.boiler.absolute_pressure)
        assert (list(asked["speeds"]), list(asked["cutoffs"])) == ([12.0, 12.0], [0.3, 0.5])
        second = found[1]
        total = 3.0 + engine.auxiliaries.continuous_demand
        assert [p.steam_temperature for p in found] == temperatures
        assert (second.speed, second.throttle, second.cutoff, second.events) == (12.0, 0.6, 0.5, "events 0.5")
        assert (second.indicated_effort, second.rim_effort) == (50001.0, pytest.approx(0.9 * 50001.0))
        assert (second.steam, second.back_pressure, second.chest_pressure) == (3.0, 30001.0, 1200001.0)
        assert second.wall_condensation_share == 1.1
        assert (second.fuel, second.steam_share) == (pytest.approx(total / 8.0), pytest.approx(total / 4.0))


# The speed curve


def test_the_shortest_cutoff_that_gives_the_most_is_shown() -> None:
    efforts = {0.2: 30e3, 0.4: 50e3 * (1.0 - 0.5e-9), 0.6: 50e3, 0.8: 48e3}
    made: Any = SimpleNamespace(
        map=SimpleNamespace(
            cutoffs=np.array(list(efforts)), effort_at=lambda *, speed, cutoff, pressure: efforts[cutoff]
        )
    )
    assert speed_curve._min_cutoff_for(made, 50e3, 10.0, 13e5) == 0.4
    assert speed_curve._min_cutoff_for(made, 30e3, 10.0, 13e5) == 0.2
    assert speed_curve._min_cutoff_for(made, 51e3, 10.0, 13e5) == 0.8


def test_a_short_effort_is_that_with_the_fall_of_pressure_that_gives_most(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def curve_point(made: Any, speed: float, rail: str, effort: float) -> Any:
        assert (made, rail) == ("engine", "wet")
        return SimpleNamespace(indicated_effort=10.0 - abs(effort - speed), of=effort)

    monkeypatch.setattr(speed_curve, "curve_point", curve_point)
    found = speed_curve.effort_curve("engine", speeds=(1.0, 3.0), efforts=(1.1, 2.0, 2.9), rail="wet")  # type: ignore[arg-type]
    assert [p.of for p in found] == [1.1, 2.9]  # type: ignore[attr-defined]


class Map:
    """A map that gives 25 kN for each kilogram of steam a second, 80 kN at most, and has 2 kN of friction."""

    cutoffs = np.array([0.2, 0.5])

    def max_effort(self, *, speed: float, pressure: float, steam: float) -> tuple[float, str]:
        self.pressure, self.steam = pressure, steam
        return min((25e3 * steam, "steam"), (80e3, "cylinders"))

    def setting_for(self, *, effort: float, speed: float, pressure: float) -> Any:
        assert pressure == self.pressure
        return SimpleNamespace(steam=effort / 25e3, cutoff=0.33)

    def effort_at(self, *, speed: float, cutoff: float, pressure: float) -> float:
        return 160e3 * cutoff

    def rim_effort(self, effort: float) -> float:
        return effort - 2e3

    def indicated_effort(self, rim: float) -> float:
        return rim + 2e3


def sustained(steam: float, **changes: Any) -> Any:
    engine = trials.locomotive()
    supply = SimpleNamespace(
        binding=SimpleNamespace(name="grate"),
        sustained=steam,
        max_firing=0.3,
        firing_rate_for=lambda steam: steam / 8.0,
    )
    made = {"map": Map(), "locomotive": engine, "supply": supply, "mass_on_drivers": 51e3,
            "sustained_cylinder_steam": steam - engine.auxiliaries.continuous_demand}  # fmt: skip
    return SimpleNamespace(**{**made, **changes})


def test_a_point_of_the_curve_has_what_its_limit_allows() -> None:
    made = sustained(2.0)
    demand = made.locomotive.auxiliaries.continuous_demand
    found = speed_curve.curve_point(made, 12.0, "dry")
    effort = 25e3 * (2.0 - demand)
    assert (found.limit, found.indicated_effort, found.cutoff) == ("grate", pytest.approx(effort), 0.33)
    assert found.drawbar_pull == pytest.approx(
        effort - 2e3 - engine_resistance_at_speed(made.locomotive, 12.0)
    )
    assert (found.steam, found.fuel, found.final_pressure) == (
        pytest.approx(2.0 - demand),
        pytest.approx(0.25),
        None,
    )
    assert made.map.pressure == made.locomotive.boiler.absolute_pressure
    strong = sustained(4.0)
    found = speed_curve.curve_point(strong, 12.0, "very dry")
    assert (found.limit, found.indicated_effort, found.cutoff) == ("cylinders", 80e3, 0.5)
    assert found.fuel == 0.3  # no more than sustained: stored heat gives the rest
    light = sustained(4.0, mass_on_drivers=20e3)
    found = speed_curve.curve_point(light, 12.0, "wet")
    assert found.limit == "adhesion"
    assert found.indicated_effort < 20e3 * 9.80665 * 0.25 + 2e3
    with pytest.raises(OutOfRange, match="rail must be one of"):
        speed_curve.curve_point(made, 12.0, "icy")
    extra: Any = SimpleNamespace(pressure=11e5, extra_steam=0.5, final_pressure=10e5)
    found = speed_curve.curve_point(made, 12.0, "dry", extra)
    assert (found.limit, found.final_pressure, made.map.pressure) == ("stored heat", 10e5, 11e5)
    assert made.map.steam == pytest.approx(2.5 - demand)


def test_a_curve_is_made_with_a_short_effort_where_a_duration_is_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    engine: Any = SimpleNamespace(
        locomotive="engine", supply="supply", assumptions="assumed", method="handbook"
    )
    fakes = {
        "evenly_spaced_speeds": lambda made, step: (0.0, step),
        "speed_curve": lambda made, *, speeds, rail: ("curve", speeds, rail),
        "_compound_figures": lambda made, points: ("stages", points),
        "short_efforts": lambda locomotive, supply, *, duration, assumptions: (
            locomotive,
            supply,
            duration,
            assumptions,
        ),
        "effort_curve": lambda made, *, speeds, efforts, rail: ("effort", speeds, efforts, rail),
    }
    for name, fake in fakes.items():
        monkeypatch.setattr(command_results, name, fake)
    found = command_results.compute_speed_curve(engine, step=2.0, rail="wet")
    assert (found.performance, found.rail, found.points) == (engine, "wet", ("curve", (0.0, 2.0), "wet"))
    assert (found.stages, found.efforts, found.effort_points) == (("stages", found.points), (), ())
    short = command_results.compute_speed_curve(engine, step=2.0, rail="wet", duration=300.0)
    assert short.efforts == ("engine", "supply", 300.0, "assumed")
    assert short.effort_points == ("effort", (0.0, 2.0), short.efforts, "wet")
    assert (short.points, short.stages, short.rail) == (found.points, found.stages, "wet")


def test_a_cutoff_table_has_one_opening_after_another_and_options_where_an_effort_is_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(
        command_results, "cutoff_table", lambda made, *, speed, throttle: [(speed, throttle), "next"]
    )
    monkeypatch.setattr(
        command_results, "options_for_effort", lambda made, **given: asked.append(given) or "options"
    )
    found = command_results.compute_cutoff_table("engine", speed=9.0)  # type: ignore[arg-type]
    assert (found.points, found.options, found.speed) == (((9.0, 1.0), "next"), None, 9.0)
    both = command_results.compute_cutoff_table("engine", speed=9.0, throttle_openings=(0.5, 0.7), effort=3e4)  # type: ignore[arg-type]
    assert both.points == ((9.0, 0.5), "next", (9.0, 0.7), "next")
    assert (both.options, asked) == (
        "options",
        [{"speed": 9.0, "effort": 3e4, "throttle_openings": (0.5, 0.7)}],
    )


def test_stages_of_a_compound_are_computed_at_the_points_of_the_curve(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from locosim.engine.cylinders import operating_points as module

    asked: dict[str, Any] = {}

    def operating_points(layout: Any, **given: Any) -> Any:
        asked.update(given)
        return SimpleNamespace(
            receiver_pressure=np.array([4e5, 5e5]), stage_work_shares=np.array([[0.55, 0.6], [0.45, 0.4]])
        )

    monkeypatch.setattr(module, "operating_points", operating_points)
    monkeypatch.setattr(command_results, "cycle_layout", lambda engine, assumed: None)
    unit = trials.locomotive().engine_units[0]
    low = Cylinders(number=2, bore=0.82, stroke=0.65, steam_source="receiver")
    engine = replace(trials.locomotive(), engine_units=(replace(unit, cylinders=(*unit.cylinders, low)),))
    points: Any = [SimpleNamespace(speed=0.0, cutoff=0.8), SimpleNamespace(speed=9.0, cutoff=0.4)]
    made: Any = SimpleNamespace(locomotive=engine, method="cycle", assumptions=None)
    found = command_results._compound_figures(made, points)
    assert [(f.receiver_pressure, f.high_pressure_share) for f in found] == [(4e5, 0.55), (5e5, 0.6)]
    assert list(asked["speeds"]) == [pytest.approx(0.5 * math.pi * 1.57), 9.0]  # a slow revolution for rest
    assert list(asked["cutoffs"]) == [0.8, 0.4]
    assert asked["pressures"] == engine.boiler.absolute_pressure
    for other in ({"method": "handbook"}, {"locomotive": trials.locomotive()}):
        assert command_results._compound_figures(SimpleNamespace(**{**vars(made), **other}), points) == ()  # type: ignore[arg-type]


# The card


def square(low: float, high: float, *, clearance: float = 0.1) -> Any:
    """A stage of a liter that admits at one pressure and exhausts at another; the back end half as much above air."""
    swept = 1e-3
    out = np.array([0.0, 0.25, 0.5, 1.0])
    place = np.concatenate([out, out[-2::-1]])
    pressure = np.array([high] * 4 + [low] * 3)
    volume = swept * (clearance + place)
    return SimpleNamespace(
        volume_front=volume,
        volume_back=volume,
        pressure_front=pressure,
        pressure_back=1e5 + 0.5 * (pressure - 1e5),
    )


def test_positions_pressures_and_mean_pressure_of_a_card() -> None:
    stage = square(1e5, 9e5)
    cylinder: Any = SimpleNamespace(clearance=0.1)
    assert stroke_positions(cylinder, stage, "front") == pytest.approx([0.0, 0.25, 0.5, 1.0, 0.5, 0.25, 0.0])
    working, returning = pressures_by_stroke(cylinder, stage, "front", np.array([0.1, 0.6]))
    assert working == pytest.approx([9e5, 9e5])
    assert returning == pytest.approx(
        [1e5, 1e5 + 8e5 * 0.2]
    )  # it falls from the reversal on, over half the stroke
    back, _ = pressures_by_stroke(cylinder, stage, "back", np.array([0.1]))
    assert back == pytest.approx([5e5])
    # By trapezoids: 9 bar out; back from 9 to 1 over half the stroke, then 1.
    assert end_mean_pressure(stage, "front") == pytest.approx(9e5 - 0.5 * 5e5 - 0.5 * 1e5)
    assert end_mean_pressure(stage, "back") == pytest.approx(0.5 * end_mean_pressure(stage, "front"))


def test_sets_of_cylinders_are_labeled_by_stage_and_number(monkeypatch: pytest.MonkeyPatch) -> None:
    def group(*names: str) -> Any:
        return SimpleNamespace(
            stages=names, poppets=tuple(f"valves of {name}" for name in names),
            cutoffs=lambda cutoff: [cutoff + 0.1 * k for k in range(len(names))],
        )  # fmt: skip

    def diagram(*groups: Any) -> Any:
        cycles = [SimpleNamespace(stages=[f"card of {name}" for name in each.stages]) for each in groups]
        return SimpleNamespace(groups=groups, cycles=cycles, cutoff=0.3)

    assert labeled_stages(diagram(group("a"))) == [("Cylinder", "a", "card of a")]
    assert labeled_stages(diagram(group("h", "l"))) == [
        ("High pressure", "h", "card of h"), ("Low pressure", "l", "card of l"),
    ]  # fmt: skip
    assert [label for label, _, _ in labeled_stages(diagram(group("a"), group("b")))] == [
        "Cylinder of set 1", "Cylinder of set 2",
    ]  # fmt: skip
    monkeypatch.setattr(indicator_diagram, "events_of_ends", lambda *asked: asked)
    assert stage_events(diagram(group("h", "l"), group("b"))) == [
        ("h", "valves of h", pytest.approx(0.3)), ("l", "valves of l", pytest.approx(0.4)), ("b", "valves of b", 0.3),
    ]  # fmt: skip
    torque = SimpleNamespace(units=(2,))
    assert indicator_diagram._unit_label(torque, 1) == ""  # type: ignore[arg-type]
    assert indicator_diagram._unit_label(torque, 2) == "engine unit 2 of 2"  # type: ignore[arg-type]
    assert indicator_diagram._unit_label(SimpleNamespace(units=(1, 3)), 3) == "one of 2 engine units"  # type: ignore[arg-type]


# Resistance and mass


def test_the_engine_itself_resists_by_its_carried_mass_axles_and_frontal_area() -> None:
    made = trials.locomotive()
    load = full_tender_load(made)
    assert load == 21e3 + 7e3
    # 19 t on the truck and a full tender of 51 t, on two and four axles
    carried, axles = 19e3 + 51e3, 6
    law = LAWS["davis_1926_locomotive"](
        axle_load=carried / axles, axles=axles, frontal_area=made.frontal_area
    )
    found = engine_resistance_coefficients(made, load)
    assert found == pytest.approx([carried * each for each in law])
    assert engine_resistance_at_speed(made, 8.0) == pytest.approx(found[0] + 8.0 * found[1] + 64.0 * found[2])
    friction = machine_friction_at_no_effort(made)
    assert friction == pytest.approx(Assumptions().machine_friction_plain * 51e3)
    roller = replace(made, engine_units=(replace(made.engine_units[0], axle_bearing="roller"),))
    assert machine_friction_at_no_effort(roller) == pytest.approx(
        Assumptions().machine_friction_roller * 51e3
    )
    # An engine without carrying axles: a kilogram on one.
    tender = replace(made.tender, empty_mass=0.0, axles=0, length=0.0)
    bare = replace(made, mass=51e3, truck_axles=0, tender=tender)
    law = LAWS["davis_1926_locomotive"](axle_load=1.0, axles=1, frontal_area=made.frontal_area)
    assert engine_resistance_coefficients(bare, 0.0) == pytest.approx(list(law))


def test_the_unit_that_slips_first_sets_the_mass_that_counts_and_the_peak_lowers_it() -> None:
    unit = trials.locomotive().engine_units[0]
    engine = replace(trials.locomotive(mass=150e3), engine_units=(unit, replace(unit, mass_on_drivers=40e3)))
    made: Any = SimpleNamespace(
        locomotive=engine, map=SimpleNamespace(unit_effort_shares=(0.6, 0.4), peak_effort_ratio=1.25)
    )
    mass = Performance.mass_on_drivers.fget(made)  # type: ignore[attr-defined]
    assert mass == pytest.approx(min(51e3 / 0.6, 40e3 / 0.4) / 1.25)
    made.supply = SimpleNamespace(sustained=0.01)
    assert Performance.sustained_cylinder_steam.fget(made) == 0.0  # type: ignore[attr-defined]


def test_drifting_steam_goes_by_the_area_of_all_pistons() -> None:
    assumed = replace(Assumptions(), drifting_steam=0.2)
    area = 2 * 0.25 * math.pi * 0.52**2
    assert performance.drifting_steam(trials.locomotive(), assumed) == pytest.approx(0.2 * area)
    assert performance.drifting_steam(trials.locomotive(units=2), assumed) == pytest.approx(0.4 * area)


# Notes on a test sheet


def anchor(key: str, **changes: Any) -> Anchor:
    made = {
        "value": 1.234,
        "usual": 1.0,
        "given": None,
        "unit": "",
        "low": 0.5,
        "high": 2.0,
        "by": "draft, 1 row",
    }
    return Anchor(key=key, **{**made, **changes})


def test_a_key_set_from_a_sheet_is_noted_in_its_unit_with_cautions() -> None:
    draft = anchor("boiler.draft_roughness_factor")
    assert (
        anchor_note(draft)
        == "boiler.draft_roughness_factor = 1.23 set from the test sheet (draft, 1 row), 1 without it"
    )
    pressure = anchor("steam_passages.max_back_pressure", value=10 * PSI, usual=12 * PSI, unit="Pa")
    assert "= 0.69 bar (10.0 psi) set from the test sheet (draft, 1 row), 0.83 bar (12.0 psi)" in anchor_note(
        pressure
    )
    rate = anchor("boiler.max_firing_rate", value=0.2, usual=0.1, unit="kg/m^2/s", low=0.0, high=0.352)
    assert "= 720 kg/(m² h) (147 lb/ft² h) set" in anchor_note(rate)
    (caution,) = anchor_cautions(replace(draft, value=2.1))
    assert caution.startswith(
        "caution: boiler.draft_roughness_factor lies beyond the believable range of 0.5 to 2;"
    )
    for key, words in (
        ("boiler.superheater_factor", "off by +12 K"), ("boiler.draft_roughness_factor", "off by +12.3 %"),
    ):  # fmt: skip
        (caution,) = anchor_cautions(anchor(key, reached=False, error=0.123))
        assert caution.endswith(words)
    (caution,) = anchor_cautions(replace(draft, reached=False, error=-0.5, limited_by="grate"))
    assert caution.endswith("off by -50.0 %, limited by the grate")
    assert len(anchor_cautions(replace(draft, value=0.4, reached=False))) == 2
    for value, believable in ((0.5, True), (2.0, True), (0.499, False), (2.001, False)):
        assert (anchor_cautions(replace(draft, value=value)) == []) == believable


def test_a_sheet_that_is_meant_to_be_used_and_is_not_is_noted() -> None:
    sheet = EngineTestSheet(use=("max_firing_rate",), max_firing_rate=0.2)
    unused = replace(trials.locomotive(), test_sheet=sheet)
    assert anchor_notes(unused)[0].startswith("caution: the test sheet is not used")
    used = replace(unused, anchors=(anchor("boiler.max_firing_rate", unit="kg/m^2/s"),))
    (note,) = anchor_notes(used)
    assert note.startswith("boiler.max_firing_rate = ")
    assert anchor_notes(trials.locomotive()) == ()
