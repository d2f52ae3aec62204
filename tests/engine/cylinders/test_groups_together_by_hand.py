"""Sets of cylinders that work together: points summed, torques of each unit, and starts, from made-up cycles."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine.cylinders import operating_points, starting, wheel_torque
from locosim.engine.cylinders.wheel_torque import WheelTorque, combine_by_unit
from locosim.errors import NoSolution, OutOfRange

AIR = 101325.0

# Points


def stage(work: float, *, chest: float = 12e5, back: float = 1.2e5) -> Any:
    """A stage with two thirds of its work at the front end."""
    return SimpleNamespace(
        work_front=np.array([work * 2 / 3]), work_back=np.array([work / 3]), chest_pressure=np.array([chest]),
        back_pressure=np.array([back]), mean_effective_pressure=np.array([5e5]),
        wall_condensation_share=np.array([0.2]),
    )  # fmt: skip


def cycle(power: float, *stages: Any, steam: float = 1.0, converged: bool = True) -> Any:
    return SimpleNamespace(
        power=np.array([power]),
        steam=np.array([steam]),
        converged=np.array([converged]),
        stages=stages or (stage(100.0),),
    )


def group(*numbers: int, units: tuple[int, ...] = (0,), count: int = 1, wheel: float = 1.5) -> Any:
    return SimpleNamespace(
        stages=tuple(SimpleNamespace(number=number) for number in numbers), units=units, group_count=count,
        driver_diameter=wheel, passage=0.02, cutoffs=lambda cutoff: [cutoff + 0.1 * k for k in range(len(numbers))],
        cycle_engine=lambda constants: ("cycle", numbers, constants),
    )  # fmt: skip


def engine(*groups: Any, units: int = 1, **changes: Any) -> Any:
    made = {
        "groups": groups, "locomotive": trials.locomotive(units=units), "steam_rate_factor": 1.1,
        "throttle_area_ratio": 2.0,
        "constants": "constants", "design_steam_rate": 2.0,
        "enthalpy": lambda pressure, temperature: pressure + temperature,
        "steam_temperature": lambda steam: 500.0 + 10.0 * steam,
    }  # fmt: skip
    return SimpleNamespace(**{**made, **changes})


SPEED, HOT = np.array([10.0]), np.array([600.0])


def test_groups_add_up_each_on_its_units() -> None:
    made = engine(group(2, units=(0, 1), count=2), group(1, units=(1,)), units=2)
    found = operating_points._combined(made, [cycle(2e5, steam=0.8), cycle(1e5, steam=0.5)], SPEED, HOT)
    assert list(found.effort_by_unit[:, 0]) == pytest.approx([20e3, 30e3])
    assert found.effort == pytest.approx([50e3])
    assert found.steam == pytest.approx([1.1 * (2 * 0.8 + 0.5)])
    assert (found.back_pressure, found.chest_pressure) == (
        pytest.approx([1.2e5 - AIR]),
        pytest.approx([12e5]),
    )
    assert (found.steam_temperature, found.mean_pressure) == (HOT, pytest.approx([5e5]))
    assert found.wall_condensation_share == pytest.approx([0.2])
    assert (found.receiver_pressure, list(found.stage_work_shares[:, 0])) == (None, [1.0])


def test_the_stages_of_a_compound_divide_the_effort_by_their_work() -> None:
    # Two cylinders of 300 J and one of 200 J: three quarters.
    made = engine(group(2, 1, units=(0, 1)), units=2)
    found = operating_points._combined(
        made, [cycle(4e5, stage(300.0), stage(200.0, chest=4e5, back=1.1e5))], SPEED, HOT
    )
    assert list(found.effort_by_unit[:, 0]) == pytest.approx([30e3, 10e3])
    assert list(found.stage_work_shares[:, 0]) == pytest.approx([0.75, 0.25])
    assert (found.receiver_pressure, found.back_pressure) == (
        pytest.approx([4e5]),
        pytest.approx([1.1e5 - AIR]),
    )
    assert found.chest_pressure == pytest.approx([12e5])
    same = engine(group(2, 1, units=(0, 0)))
    assert operating_points._combined(
        same, [cycle(4e5, stage(300.0), stage(200.0))], SPEED, HOT
    ).effort == pytest.approx([4e4])
    still = operating_points._stage_work_shares(group(2, 1), cycle(0.0, stage(0.0), stage(0.0)))
    assert np.all(np.isnan(still))


@pytest.mark.parametrize(
    ("power", "converged", "known"),
    [(1e5, True, True), (1e5, False, True), (-1.0, True, True), (-1.0, False, False), (0.0, False, False)],
)
def test_a_point_is_not_known_where_a_set_gives_no_power_and_does_not_converge(
    power: float, converged: bool, known: bool
) -> None:
    made = engine(group(2), group(1))
    found = operating_points._combined(made, [cycle(1e5), cycle(power, converged=converged)], SPEED, HOT)
    for figure in (found.effort, found.steam, found.back_pressure, found.chest_pressure, found.mean_pressure,
                   found.wall_condensation_share, found.effort_by_unit, found.stage_work_shares):  # fmt: skip
        assert np.all(np.isfinite(figure) == known)


@pytest.mark.parametrize(("opening", "area"), [(1.0, 0.02), (0.5, None)])
def test_a_wide_open_throttle_leaves_the_passage_as_it_is(opening: float, area: float | None) -> None:
    found = operating_points.throttled_area(engine(), group(2), np.array([opening, 1.0]))
    assert found[1] == 0.02
    assert (found[0] == area) if area else (0.005 < found[0] < 0.02)
    for wrong in (0.0, -0.1, 1.0 + 1e-9, math.nan):
        with pytest.raises(OutOfRange, match="throttle must be above 0 and at most 1"):
            operating_points.throttled_area(engine(), group(2), np.array([0.5, wrong]))


@pytest.mark.parametrize("superheater", [True, False])
def test_steam_temperature_is_that_of_the_steam_found_after_two_coarse_rounds(
    superheater: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    def points(
        made: Any, at: Any, throttle: Any, temperature: Any, steps: int, *, omit_unclosed: bool
    ) -> Any:
        asked.append((temperature[0], steps, omit_unclosed))
        assert [float(each[0]) for each in at] == [10.0, 0.4, 13e5]
        assert float(throttle[0]) == 0.7
        return SimpleNamespace(steam=np.array([0.01 * temperature[0]]))

    monkeypatch.setattr(operating_points, "_points_at", points)
    made = engine(group(2), locomotive=trials.locomotive(superheater=superheater))
    at = {"speeds": SPEED, "cutoffs": 0.4, "pressures": 13e5, "throttle": 0.7}
    found = operating_points.operating_points(made, omit_unclosed=True, **at)
    # 500 K and 10 K for each kilogram of steam a second, which is a hundredth of the temperature: 520, 552, 555.2.
    rounds = [520.0, 552.0, 555.2] if superheater else [520.0]
    assert [each[0] for each in asked] == pytest.approx(rounds)
    assert [each[1] for each in asked] == [120] * (len(rounds) - 1) + [operating_points.STEPS]
    assert {each[2] for each in asked} == {True}
    assert found.steam == pytest.approx([0.01 * rounds[-1]])
    asked.clear()
    operating_points.operating_points(made, temperatures=np.array([666.0]), steps=40, **at)
    assert asked == [(666.0, 40, False)]


def test_each_group_is_computed_at_its_own_turns_cutoffs_and_passage(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    def grid(cycle_engine: Any, points: Any, *, steps: int, omit_unclosed: bool) -> Any:
        asked.append((cycle_engine, points, steps, omit_unclosed))
        return cycle(1e5, *[stage(100.0)] * len(cycle_engine[1]))

    monkeypatch.setattr(operating_points, "cycle_grid", grid)
    made = engine(group(2), group(2, 2, units=(0, 0), wheel=2.0))
    at = (SPEED, np.array([0.4]), np.array([13e5]))
    operating_points._points_at(made, at, np.array([1.0]), HOT, 77, omit_unclosed=True)
    assert [each[0] for each in asked] == [("cycle", (2,), "constants"), ("cycle", (2, 2), "constants")]
    for (_, points, steps, omit), wheel, count in zip(asked, (1.5, 2.0), (1, 2), strict=True):
        assert points.speeds == pytest.approx(10.0 / (math.pi * wheel))
        assert [float(c[0]) for c in points.cutoffs] == pytest.approx([0.4, 0.5][:count])
        assert (points.boiler_pressures, points.boiler_enthalpies) == ([13e5], [13e5 + 600.0])
        assert (points.passage_areas, steps, omit) == (pytest.approx([0.02]), 77, True)


def test_diagrams_are_those_of_the_point_with_its_steam_and_refused_where_it_is_not_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    effort = {"now": 5e4}

    def points(made: Any, **at: Any) -> Any:
        assert [float(at[name][0]) for name in ("speeds", "cutoffs", "pressures")] == [10.0, 0.4, 13e5]
        assert at["throttle"] == 0.8
        return SimpleNamespace(effort=np.array([effort["now"]]), steam_temperature=HOT)

    monkeypatch.setattr(operating_points, "operating_points", points)
    monkeypatch.setattr(operating_points, "cycle_diagram", lambda cycle_engine, at: (cycle_engine, at))
    made = engine(group(2), group(2, 2, units=(0, 0), wheel=2.0))
    at = {"speed": 10.0, "cutoff": 0.4, "pressure": 13e5, "throttle": 0.8}
    _, cycles = operating_points.diagrams(made, **at)
    assert [each[0][1] for each in cycles] == [(2,), (2, 2)]
    for (_, given), wheel, cutoffs in zip(cycles, (1.5, 2.0), ([0.4], [0.4, 0.5]), strict=True):
        assert given.speeds == pytest.approx(10.0 / (math.pi * wheel))
        assert given.cutoffs == pytest.approx(cutoffs)
        assert (given.boiler_pressures, given.boiler_enthalpies) == (13e5, 13e5 + 600.0)
        assert float(given.passage_areas) < 0.02
    effort["now"] = math.nan
    with pytest.raises(NoSolution, match="the cylinders give no power at this point"):
        operating_points.diagrams(made, **at)


# Torques

ANGLE = 2.0 * math.pi * (np.arange(8) + 0.5) / 8


def turned(
    *numbers: int, units: tuple[int, ...], offsets: tuple[float, ...] = (0.0,), wheel: float = 2.0
) -> Any:
    return SimpleNamespace(
        stages=numbers, units=units, crank_offset=offsets, driver_diameter=wheel,
        reciprocating_masses=tuple(100.0 * n for n in numbers), cranks=tuple((0.0,) * n for n in numbers),
    )  # fmt: skip


@pytest.fixture
def moving(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Inertia of a set is its mass times its turns a second, the same all the way."""
    asked: list[Any] = []

    def torque(cylinder: Any, *, mass: float, cranks: Any, driver_speed: float, steps: int) -> Any:
        asked.append((cylinder, mass, cranks, driver_speed, steps))
        return np.full(steps, mass * driver_speed)

    monkeypatch.setattr(wheel_torque, "reciprocating_torque", torque)
    return asked


def test_sets_on_one_unit_turn_it_together_and_units_each_for_themselves(moving: list[Any]) -> None:
    groups = [turned(1, units=(0, 1), offsets=(0.0, 0.0)), turned(2, units=(1,))]
    torques = [[np.arange(8.0)], [np.full(8, 10.0)]]
    first, second = combine_by_unit(groups, [ANGLE, ANGLE], torques, speed=2.0 * math.pi)
    assert (first.units, second.units) == ((1,), (2,))
    assert first.torque == pytest.approx(np.arange(8.0))
    assert second.torque == pytest.approx(np.arange(8.0) + 10.0)
    assert first.effort == pytest.approx(first.torque)  # wheels of 1 m radius
    # A turn a second, with 100 and 200 kg.
    assert first.inertia_torque == pytest.approx(np.full(8, 100.0))
    assert second.inertia_torque == pytest.approx(np.full(8, 300.0))
    assert moving[0] == (1, 100.0, (0.0,), pytest.approx(1.0), 8)
    assert first.effort_with_inertia == pytest.approx(np.arange(8.0) + 100.0)


@pytest.mark.usefixtures("moving")
def test_a_set_behind_another_is_read_so_much_further_on() -> None:
    torque = np.sin(ANGLE)
    apart = turned(1, units=(0, 0), offsets=(0.0, 0.5 * math.pi), wheel=1.0)
    (found,) = combine_by_unit([apart], [ANGLE], [[torque]])
    assert found.torque == pytest.approx(torque + np.roll(torque, -2))
    assert found.effort == pytest.approx(2.0 * found.torque)
    assert found.inertia_torque == pytest.approx(np.zeros(8))


@pytest.mark.usefixtures("moving")
def test_like_units_are_listed_once_and_the_stages_of_a_compound_drive_their_own() -> None:
    alike = turned(1, units=(0, 1), offsets=(0.0, 0.0))
    (found,) = combine_by_unit([alike], [ANGLE], [[np.arange(8.0)]])
    assert found.units == (1, 2)
    compound = turned(1, 2, units=(1, 0))
    first, second = combine_by_unit([compound], [ANGLE], [[np.arange(8.0), np.full(8, 3.0)]])
    assert (first.units, second.units) == ((1,), (2,))
    assert first.torque == pytest.approx(np.full(8, 3.0))
    assert second.torque == pytest.approx(np.arange(8.0))
    same = turned(1, 2, units=(0, 0))
    (both,) = combine_by_unit([same], [ANGLE], [[np.arange(8.0), np.full(8, 3.0)]])
    assert both.torque == pytest.approx(np.arange(8.0) + 3.0)


def torque(
    *effort: float, inertia: tuple[float, ...] = (0.0, 0.0), units: tuple[int, ...] = (1,)
) -> WheelTorque:
    made = np.array(effort)
    return WheelTorque(
        units=units, angle=np.arange(float(len(effort))), torque=made, effort=made, inertia_torque=np.array(inertia),
        inertia_effort=np.array(inertia),
    )  # fmt: skip


def test_the_peak_over_the_mean_is_that_of_the_worst_unit(monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = torque(1.0, 3.0, inertia=(2.0, -2.0)), torque(2.0, 2.5)
    assert (one.peak_to_mean, one.peak_to_mean_with_inertia) == (1.5, 1.5)
    monkeypatch.setattr(wheel_torque, "torque_by_unit", lambda groups, cycles: (two, one))
    assert wheel_torque.peak_to_mean(SimpleNamespace(groups=()), ()) == 1.5  # type: ignore[arg-type]


def test_torques_of_the_cycles_are_those_combined(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(
        wheel_torque, "combine_by_unit", lambda *given, speed: asked.append((given, speed)) or ()
    )
    cycles: Any = [
        SimpleNamespace(
            torque_angle="angle", stages=[SimpleNamespace(torque="a"), SimpleNamespace(torque="b")]
        )
    ]
    wheel_torque.torque_by_unit(["group"], cycles)  # type: ignore[list-item]
    wheel_torque.torque_by_unit(["group"], cycles, speed=3.0)  # type: ignore[list-item]
    assert asked == [((["group"], ["angle"], [("a", "b")]), 0.0), ((["group"], ["angle"], [("a", "b")]), 3.0)]


# Starts


@pytest.mark.parametrize("live", [None, 5e5])
def test_a_start_is_at_the_worst_angle_of_each_unit(
    live: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    torques = (
        torque(4e4, 1e4, 2e4, inertia=(0.0,) * 3),
        torque(3e4, 5e4, 2e4, inertia=(0.0,) * 3, units=(2, 3)),
    )
    monkeypatch.setattr(starting, "standing_torques", lambda engine: torques)
    monkeypatch.setattr(starting, "_simple_mean", lambda engine, group: 9e4)
    made: Any = SimpleNamespace(groups=(SimpleNamespace(live_steam_pressure=live),))
    found = starting.starting_effort(made, 8e4)
    assert (found.worst, found.worst_angles) == (1e4 + 2 * 2e4, (1.0, 2.0, 2.0))
    assert (found.mean, found.live_steam) == ((8e4, False) if live is None else (9e4, True))
    assert found.worst_ratio == 5e4 / found.mean


def test_at_rest_each_stage_has_its_pressure_and_cutoff(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(
        starting, "valve_motion", lambda cylinder, poppets, *, cutoff: (cylinder, poppets, cutoff)
    )

    def pressures(cylinder: Any, motion: Any, **given: Any) -> str:
        asked.append((motion, given))
        return f"ends of {cylinder}"

    monkeypatch.setattr(starting, "standing_pressures", pressures)
    monkeypatch.setattr(starting.solver, "crank_torque", lambda *given: given)
    for live, low in ((None, AIR), (6e5, 6e5)):
        asked.clear()
        sets = SimpleNamespace(
            live_steam_pressure=live, stages=("high", "low"), poppets=(None, "cams"), cranks=((0.0,), (1.0, 2.0)),
            cutoffs=lambda cutoff: [cutoff, cutoff - 0.1],
        )  # fmt: skip
        made: Any = SimpleNamespace(max_cutoff=0.8, locomotive=trials.locomotive())
        first, second = starting._standing_stage_torques(made, sets)  # type: ignore[arg-type]
        assert [motion for motion, _ in asked] == [("high", None, 0.8), ("low", "cams", pytest.approx(0.7))]
        boiler = made.locomotive.boiler.absolute_pressure
        assert [given["chest_pressure"] for _, given in asked] == [boiler, low]
        assert {(given["outside_pressure"], given["steps"]) for _, given in asked} == {(AIR, 1440)}
        assert (first[0], first[1], list(first[2]), first[3]) == ("high", "ends of high", [0.0], AIR)
        assert (second[0], list(second[2])) == ("low", [1.0, 2.0])
    made = SimpleNamespace(groups=("one", "two"))
    monkeypatch.setattr(starting, "_standing_stage_torques", lambda engine, group: [group])
    monkeypatch.setattr(
        starting, "combine_by_unit", lambda groups, angles, torques: (groups, angles, torques)
    )
    groups, angles, torques = starting.standing_torques(made)
    assert (groups, torques, len(angles)) == (("one", "two"), [["one"], ["two"]], 2)
    assert (angles[0][0], angles[0][-1]) == pytest.approx((math.pi / 1440, 2.0 * math.pi - math.pi / 1440))


def test_a_compound_worked_simple_has_the_mean_of_both_stages_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    def grid(cycle_engine: Any, points: Any) -> Any:
        asked.append((cycle_engine, points))
        return SimpleNamespace(power=np.array([1000.0 * len(asked)]))

    monkeypatch.setattr(starting, "cycle_grid", grid)
    sets = SimpleNamespace(
        live_steam_pressure=6e5, stages=("high", "low"), poppets=(None, "cams"), cranks=((0.0,), (1.0,)), nozzle=0.01,
        passage=0.02, driver_diameter=1.5, cutoffs=lambda cutoff: [cutoff, cutoff - 0.1],
    )  # fmt: skip
    made: Any = engine(sets, max_cutoff=0.8)
    boiler = made.locomotive.boiler.absolute_pressure
    # 1 and 2 kW at a tenth of a turn a second: 30 kJ in a turn, over the way of the rim.
    assert starting._simple_mean(made, sets) == pytest.approx(30e3 / (math.pi * 1.5))  # type: ignore[arg-type]
    for (cycle_engine, points), name, cams, pressure, cutoff in zip(
        asked, ("high", "low"), (None, "cams"), (boiler, 6e5), (0.8, 0.7), strict=True
    ):
        assert (cycle_engine.cylinders, cycle_engine.poppets, cycle_engine.nozzle_area) == (
            (name,),
            (cams,),
            0.01,
        )
        assert cycle_engine.cranks == ((0.0,) if name == "high" else (1.0,),)
        assert (points.boiler_pressures, points.passage_areas, points.speeds) == (pressure, 0.02, 0.1)
        assert list(points.boiler_enthalpies) == [boiler + 500.0]
        assert points.cutoffs[0] == pytest.approx([cutoff])
