"""Laws of the cylinder cycle, and limits where the answer is known from elsewhere."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from cylinders import SATURATED, SUPERHEATED, cycle_inputs, express
from scipy.optimize import brentq

from locosim.constants import ATMOSPHERE
from locosim.errors import NoSolution, OutOfRange
from locosim.physics.cylinder import coupling, cycle, solver
from locosim.physics.cylinder.cycle import cycle_diagram, cycle_grid
from locosim.physics.cylinder.design_rules import (
    FITTED_CONSTANTS,
    piston_valve_cylinder,
    throttled_passage_area,
)
from locosim.physics.cylinder.valve_gear import valve_events
from locosim.physics.steam import properties as steam
from locosim.physics.steam.property_table import steam_table

SPEEDS = np.array([0.3, 1.0, 2.0, 4.0, 6.0])
CUTOFFS = np.array([0.15, 0.25, 0.35, 0.5, 0.65, 0.8])


def sweep(around, *, steps=cycle.STEPS, **changes):
    speeds, cutoffs = np.meshgrid(SPEEDS, CUTOFFS, indexing="ij")
    return cycle_grid(
        *cycle_inputs([express], around, speeds=speeds, cutoffs=[cutoffs], **changes), steps=steps
    )


@pytest.fixture(scope="module")
def superheated():
    return sweep(SUPERHEATED)


@pytest.fixture(scope="module")
def saturated():
    return sweep(SATURATED)


@pytest.mark.parametrize("kind", ["superheated", "saturated"])
def test_mass_and_heat_of_a_revolution_close(kind, request):
    grid = request.getfixturevalue(kind)
    assert grid.power.shape == (len(SPEEDS), len(CUTOFFS))
    assert np.all(grid.converged)
    assert np.max(np.abs(grid.mass_residual)) < 1e-6
    assert np.max(np.abs(grid.heat_residual)) < 1e-6
    boiler = (SUPERHEATED if kind == "superheated" else SATURATED)["boiler_enthalpy"]
    spent = grid.power + grid.steam * grid.exhaust_enthalpy
    assert spent == pytest.approx(grid.steam * boiler, rel=2e-6)


@pytest.mark.parametrize("kind", ["superheated", "saturated"])
def test_longer_cutoff_never_lowers_the_mean_pressure_at_road_speeds(kind, request):
    # Above 2 rev/s the exhaust chokes at the longest cutoffs and the law no longer applies; see the next test.
    pressures = request.getfixturevalue(kind).stages[0].mean_effective_pressure
    assert np.all(np.diff(pressures[:3], axis=1) > 0)


def test_longer_cutoff_never_lowers_the_mean_pressure_at_speed_with_free_exhaust():
    grid = sweep(SUPERHEATED, nozzle_area=10.0)
    assert np.all(np.diff(grid.stages[0].mean_effective_pressure[:, :5], axis=1) > 0)


@pytest.mark.parametrize("kind", ["superheated", "saturated"])
def test_mean_pressure_falls_with_speed(kind, request):
    pressures = request.getfixturevalue(kind).stages[0].mean_effective_pressure
    assert np.all(np.diff(pressures[1:], axis=0) < 0)


@pytest.mark.parametrize("around", [SUPERHEATED, SATURATED])
def test_half_the_step_changes_the_mean_pressure_by_less_than_0_3_percent(around):
    coarse = sweep(around).stages[0].mean_effective_pressure
    fine = sweep(around, steps=720).stages[0].mean_effective_pressure
    assert coarse == pytest.approx(fine, rel=3e-3)


def test_array_equals_its_elements(superheated):
    for i, j in ((0, 1), (2, 3), (4, 5)):
        inputs = cycle_inputs([express], SUPERHEATED, speeds=SPEEDS[i], cutoffs=[CUTOFFS[j]])
        one = cycle_grid(*inputs)
        assert one.power.shape == ()
        assert float(one.power) == superheated.power[i, j]
        assert float(one.steam) == superheated.steam[i, j]


def diagram(*, cylinders=(express,), speeds=2.0, cutoffs=(0.3,), steps=cycle.STEPS, **changes):
    inputs = cycle_inputs(cylinders, SUPERHEATED, speeds=speeds, cutoffs=cutoffs, **changes)
    return cycle_diagram(*inputs, steps=steps)


def test_diagram_and_grid_agree(superheated):
    drawn = diagram(cutoffs=[0.25])
    assert float(drawn.point.power[0]) == pytest.approx(superheated.power[2, 1], rel=1e-12)


def test_a_diagram_that_does_not_converge_is_retried_as_in_a_grid(monkeypatch):
    usual = diagram(cutoffs=[0.25])
    monkeypatch.setattr(cycle, "ATTEMPTS", ((0, 1), (40, solver.MAX_REVOLUTIONS_RETRY)))
    again = diagram(cutoffs=[0.25])
    assert len(again.torque) == len(usual.torque) + 40
    assert bool(again.point.converged[0])
    assert float(again.point.power[0]) == pytest.approx(float(usual.point.power[0]), rel=3e-3)


def test_work_is_the_area_of_the_diagram():
    drawn = diagram()
    stage, result = drawn.stages[0], drawn.point.stages[0]
    front = np.trapezoid(stage.pressure_front, stage.volume_front)
    back = np.trapezoid(stage.pressure_back, stage.volume_back)
    assert front == pytest.approx(float(result.work_front[0]), rel=3e-5)
    assert back == pytest.approx(float(result.work_back[0]), rel=3e-5)


def test_work_of_the_torque_is_the_work_of_the_cylinders():
    drawn = diagram()
    result = drawn.point.stages[0]
    around = float(np.mean(drawn.torque)) * 2 * math.pi
    assert around == pytest.approx(2 * float(result.work_front[0] + result.work_back[0]), rel=3e-5)
    assert float(drawn.point.peak_torque_ratio[0]) == pytest.approx(drawn.torque.max() / drawn.torque.mean())


def test_diagram_has_the_events_of_an_indicator_card():
    drawn = diagram(speeds=0.5)
    stage, result = drawn.stages[0], drawn.point.stages[0]
    stroke = (stage.volume_front - stage.volume_front.min()) / np.ptp(stage.volume_front)
    outward = stage.angle < math.pi
    chest = float(result.chest_pressure[0])
    admission = outward & (stroke > 0.05) & (stroke < 0.25)
    assert stage.pressure_front[admission] == pytest.approx(chest, rel=0.03)
    exhaust = ~outward & (stroke > 0.6) & (stroke < 0.95)
    assert stage.pressure_front[exhaust] == pytest.approx(float(result.back_pressure[0]), rel=0.03)
    late = outward & (stroke > 0.4) & (stroke < 0.6)
    assert np.all(np.diff(stage.pressure_front[late]) < 0)
    assert stage.pressure_front[0] > 0.9 * chest  # lead fills the clearance by dead center


def loss_free_engine(stroke=0.7):
    """An engine with large ports, no leaks and no heat to the walls."""
    constants = FITTED_CONSTANTS._replace(
        leakage_area_ratio=1e-9, wet_wall_heat_transfer=1e-6, dry_wall_heat_transfer=1e-6
    )
    cylinder = piston_valve_cylinder(number=2, bore=0.55, stroke=stroke)._replace(
        port_length=4.0, rod_diameter=0.0, rod_ratio=1e4
    )
    return {"cylinders": [cylinder], "constants": constants, "passage_area": 10.0, "nozzle_area": 10.0}


def pressure_after(volume_ratio, pressure, temperature):
    """Pressure after a loss-free expansion of superheated steam, by the 1997 formulation."""
    entropy = steam.entropy(pressure=pressure, temperature=temperature)
    density = steam.density(pressure=pressure, temperature=temperature) / volume_ratio

    def excess(end):
        enthalpy = steam.enthalpy_at_entropy(pressure=end, entropy=entropy)
        return steam.density_at_enthalpy(pressure=end, enthalpy=enthalpy) - density

    return brentq(excess, 0.2 * pressure, pressure)


@pytest.mark.parametrize(
    "temperature", [560.0, 620.0]
)  # around that of the steam, near 600 K; the range changes the final pressure by only 0.1 %
def test_expansion_without_losses_is_isentropic(temperature):
    stage = diagram(speeds=1.0, **loss_free_engine()).stages[0]
    stroke = (stage.volume_front - stage.volume_front.min()) / np.ptp(stage.volume_front)
    first, last = (int(np.argmin(np.abs(stroke[:180] - position))) for position in (0.34, 0.6))
    ratio = stage.volume_front[last] / stage.volume_front[first]
    end = pressure_after(ratio, stage.pressure_front[first], temperature)
    assert stage.pressure_front[last] == pytest.approx(end, rel=4e-3)


def test_slow_loss_free_engine_does_the_work_of_the_ideal_card():
    # The area of an ideal card by its events: boiler pressure from admission to cutoff, loss-free expansion to release,
    # outside pressure to compression, loss-free compression to admission. The exponent of real steam is 1.27 to 1.30;
    # the card uses 1.3, which changes its area by 1 %.
    engine = loss_free_engine()
    cylinder = engine["cylinders"][0]
    computed = (
        diagram(speeds=0.05, cutoffs=[0.4], steps=720, **engine).point.stages[0].mean_effective_pressure[0]
    )
    events, _ = valve_events(
        cutoff=0.4, lap=cylinder.lap, lead=cylinder.lead, exhaust_lap=0.0, rod_ratio=cylinder.rod_ratio
    )
    high, low, k, clearance = SUPERHEATED["boiler_pressure"], ATMOSPHERE, 1.3, cylinder.clearance

    def loss_free(pressure, start, end):
        begin, stop = start + clearance, end + clearance
        return pressure * begin / (k - 1) * (1 - (begin / stop) ** (k - 1))

    forward = high * events.cutoff + loss_free(high, events.cutoff, events.release)
    forward += low * (1 - events.release)
    backward = low * (1 - events.compression) - loss_free(low, events.compression, events.admission)
    backward += high * events.admission
    assert float(computed) == pytest.approx(forward - backward, rel=0.01)


def test_steam_without_losses_fills_the_cylinder_to_cutoff():
    engine = loss_free_engine()
    drawn = diagram(speeds=0.05, cutoffs=[0.6], **engine)
    cylinder = engine["cylinders"][0]
    swept = math.pi / 4 * cylinder.bore**2 * cylinder.stroke
    density = steam.density_at_enthalpy(
        pressure=SUPERHEATED["boiler_pressure"], enthalpy=SUPERHEATED["boiler_enthalpy"]
    )
    max_steam = 4 * swept * (0.6 + cylinder.clearance) * density * 0.05
    min_steam = 4 * swept * 0.6 * density * 0.05  # the trapped steam fills the clearance at best
    assert min_steam < float(drawn.point.steam[0]) < max_steam


def test_saturated_steam_condenses_on_the_walls_and_superheated_steam_much_less():
    wet, dry = (
        cycle_grid(*cycle_inputs([express], around, speeds=np.array([1.0, 3.0]), cutoffs=[0.25]))
        .stages[0]
        .wall_condensation_share
        for around in (SATURATED, SUPERHEATED)
    )
    # The rest of the missing water goes past the valve, as the tests of 1897 found [CallendarNicolson1897].
    assert np.all(wet > 0.03)
    assert np.all(dry < 0.5 * wet)
    assert wet[0] > wet[1]


def test_throttling_uses_more_steam_than_a_shorter_cutoff(superheated):
    passage = throttled_passage_area(
        passage=SUPERHEATED["passage_area"], throttle=0.1, throttle_area_ratio=2.0
    )
    throttled = sweep(SUPERHEATED, passage_area=passage)
    assert np.all(throttled.stages[0].chest_pressure <= superheated.stages[0].chest_pressure)
    wanted = throttled.power[3, 3]
    by_cutoff = np.interp(wanted, superheated.power[3], superheated.steam[3])
    assert throttled.stages[0].chest_pressure[3, 3] < 0.85 * superheated.stages[0].chest_pressure[3, 3]
    assert throttled.steam[3, 3] > 1.01 * by_cutoff


def test_crank_torque_at_constant_pressure_has_the_published_ratio():
    # Constant pressure, infinite rod: sqrt(2) pi/4 for two cranks at right angles, pi/3 for three at 120 degrees.
    steps = 720
    cylinder = express._replace(rod_ratio=1e6, rod_diameter=0.0)
    pressures = np.full((2, steps + 1), ATMOSPHERE)
    pressures[:, : steps // 2 + 1] = 10e5
    for cranks, ratio in (((0, 90), 1.1107207), ((0, 120, 240), 1.0471976), ((0, 90, 180, 270), 1.1107207)):
        torque = solver.crank_torque(cylinder, pressures, np.radians(cranks), ATMOSPHERE)
        assert torque.max() / torque.mean() == pytest.approx(ratio, rel=4e-3)


def test_torque_of_three_cylinders_is_more_even_than_of_two():
    two = diagram(cutoffs=[0.7], speeds=0.5)
    three = diagram(
        cylinders=[express._replace(number=3.0)], cranks=[[0, 2 * math.pi / 3, 4 * math.pi / 3]], cutoffs=[0.7],
        speeds=0.5,
    )  # fmt: skip
    assert float(three.point.peak_torque_ratio[0]) < float(two.point.peak_torque_ratio[0])


def compound(*, steps=cycle.STEPS, **changes):
    high = piston_valve_cylinder(number=2, bore=0.38, stroke=0.65)
    low = piston_valve_cylinder(number=2, bore=0.60, stroke=0.65)
    low = low._replace(exhaust_lap=-0.004)
    given = {
        "cranks": [[0, math.pi / 2], [math.pi, 1.5 * math.pi]],
        "speeds": np.array([1.0, 2.5, 4.0]),
        "cutoffs": [np.array([0.6, 0.55, 0.5]), np.array([0.65, 0.6, 0.6])],
    }
    return cycle_grid(*cycle_inputs([high, low], SUPERHEATED, **(given | changes)), steps=steps)


def test_receiver_pressure_lies_between_and_heat_closes_over_both_stages():
    grid = compound()
    high, low = grid.stages
    assert np.all(high.chest_pressure > high.back_pressure)
    assert high.back_pressure == pytest.approx(low.chest_pressure)
    assert np.all(low.chest_pressure > low.back_pressure)
    spent = grid.power + grid.steam * grid.exhaust_enthalpy
    assert spent == pytest.approx(grid.steam * SUPERHEATED["boiler_enthalpy"], rel=2e-6)


def test_longer_low_pressure_cutoff_lowers_the_receiver_pressure():
    short = compound(cutoffs=[0.55, 0.55]).stages[1].chest_pressure
    long = compound(cutoffs=[0.55, 0.75]).stages[1].chest_pressure
    assert np.all(long < short)


def test_compound_expansion_has_a_lower_steam_rate_than_simple():
    double = compound()
    single = sweep(SUPERHEATED)
    assert np.min(double.steam / double.power) < np.min(single.steam / single.power)


PLAIN = """
import json
from cylinders import cycle_inputs, express, SUPERHEATED
from locosim.compiled import available
from locosim.physics.cylinder.cycle import cycle_diagram
drawn = cycle_diagram(*cycle_inputs([express], SUPERHEATED, speeds=2.0, cutoffs=[0.5]), steps=120)
print(json.dumps([available, float(drawn.point.power[0]), float(drawn.point.steam[0]), float(drawn.torque.max())]))
"""


def run_in_new_process(**environment):
    found = subprocess.run(
        [sys.executable, "-c", PLAIN], env=os.environ | environment, cwd=Path(__file__).parents[2], check=True,
        capture_output=True, text=True,
    )  # fmt: skip
    return json.loads(found.stdout)


def test_plain_python_gives_the_same_results():
    compiled, plain = run_in_new_process(LOCOSIM_PURE_PYTHON="0"), run_in_new_process(LOCOSIM_PURE_PYTHON="1")
    assert plain[0] is False
    assert plain[1:] == pytest.approx(compiled[1:], rel=1e-9)


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"speeds": 0.0}, "speed must be above 0"),
        ({"cutoffs": [0.01]}, "cannot be set"),
        ({"boiler_pressure": ATMOSPHERE}, "above the outside pressure"),
        ({"cutoffs": [0.3, 0.5]}, "found 1 sets of cylinders and 2 cutoffs"),
        ({"passage_area": -1.0}, "passage area must be above 0"),
    ],
)
def test_impossible_points_are_refused(changes, match):
    with pytest.raises(OutOfRange, match=match):
        diagram(**changes)


@pytest.mark.parametrize("steps", [60, 120, 360])
@pytest.mark.parametrize("pressure", [4e5, 8e5, 15e5])
def test_crawling_with_coarse_steps_still_converges(steps, pressure):
    # A quarter of a second a step: the ports equalize all pressures within one.
    grid = compound(speeds=0.1, cutoffs=[[0.2, 0.56, 0.8], 0.7], boiler_pressure=pressure, steps=steps)
    assert np.all(np.isfinite(grid.power))
    assert np.all(grid.converged)


def test_flow_work_that_does_not_converge_is_nan(monkeypatch):
    plain = getattr(coupling.flow_work_at, "py_func", coupling.flow_work_at)
    found = plain(1.0e6, 3.0e6, steam_table())
    # 1 MPa and 3,000 kJ/kg: p/rho by the formulation itself
    assert found == pytest.approx(1.0e6 / steam.density_at_enthalpy(pressure=1.0e6, enthalpy=3.0e6), rel=1e-3)
    monkeypatch.setattr(coupling, "FLOW_WORK_ITERATIONS", 2)
    assert math.isnan(plain(1.0e6, 3.0e6, steam_table()))


def test_opening_the_throttle_never_lowers_the_power_at_speed():
    # At 8 rev/s and 15 % the first revolutions of the search give no power: the cylinder starts full of exhaust steam.
    for around in (SUPERHEATED, SATURATED):
        passages = around["passage_area"] * np.array([0.1, 0.3, 1.0])
        grid = cycle_grid(*cycle_inputs([express], around, speeds=8.0, cutoffs=[0.15], passage_area=passages))
        assert np.all(grid.power > 0.0)
        assert np.all(np.diff(grid.power) > 0.0)
        assert np.all(np.diff(grid.stages[0].chest_pressure) > 0.0)
        assert np.all(grid.converged)


def test_an_engine_that_takes_power_is_given_up_soon():
    # wire-drawn to 3 % of the passage, long cutoff, 8 rev/s: the cylinders pump
    inputs = cycle_inputs(
        [express], SUPERHEATED, speeds=8.0, cutoffs=[0.6], passage_area=0.03 * SUPERHEATED["passage_area"]
    )
    grid = cycle_grid(*inputs)
    assert float(grid.power) < 0.0
    many, _ = cycle._inputs(*inputs)
    results = np.zeros((1, coupling.ENGINE_SIZE))
    stages = np.zeros((1, 1, coupling.STAGE_SIZE))
    solver.converge_points(many, cycle.STEPS, solver.MAX_REVOLUTIONS_RETRY, results, stages, steam_table())
    assert coupling.DAMPING_ONSET < results[0, coupling.REVOLUTIONS] < 2 * coupling.DAMPING_ONSET


def test_a_point_that_does_not_close_or_leaves_the_steam_table_is_refused_or_left_out(monkeypatch):
    inputs = cycle_inputs([express], SUPERHEATED, speeds=2.0, cutoffs=[0.25])
    monkeypatch.setattr(cycle, "ATTEMPTS", ((0, 2), (40, 2)))
    for run in (cycle_grid, cycle_diagram):
        with pytest.raises(NoSolution, match="of its throughput is missing"):
            run(*inputs)
    left_out = cycle_grid(*inputs, omit_unclosed=True)
    assert float(left_out.power) == 0.0
    assert not bool(left_out.converged)
    high, low = express._replace(bore=0.4), express._replace(bore=0.6)
    stages = cycle_inputs(
        [high, low], SUPERHEATED, speeds=2.0, cutoffs=[0.6, 0.6], cranks=[[0.0], [0.5 * math.pi]]
    )
    assert float(cycle_grid(*stages, steps=60, omit_unclosed=True).power) == 0.0
    monkeypatch.undo()
    for limit, words in (
        ("MAX_TABLE_DENSITY", "density in the cylinder is outside"),
        ("WET_NODES", "is wetter than"),
    ):
        monkeypatch.setattr(cycle, limit, 1e-3 if limit == "MAX_TABLE_DENSITY" else -1000)
        with pytest.raises(NoSolution, match=words):
            cycle_grid(*inputs)
        assert float(cycle_grid(*inputs, omit_unclosed=True).power) == 0.0
        monkeypatch.undo()
    assert float(cycle_grid(*inputs).power) > 0.0


def test_equal_pressures_on_both_sides_of_a_piston_without_rod_turn_nothing():
    steps = 24
    cylinder = express._replace(rod_diameter=0.0)
    balanced = solver.crank_torque(cylinder, np.full((2, steps + 1), 3e5), np.array([0.0, 1.5]), ATMOSPHERE)
    assert np.abs(balanced).max() < 1e-9
    # Work of a constant pressure out, and of half of it in the first step back: pressure times volume of each cylinder.
    pressures = np.full((2, steps + 1), ATMOSPHERE)
    pressures[0, : steps // 2 + 1] = ATMOSPHERE + 1e5
    swept = 0.25 * math.pi * cylinder.bore**2 * cylinder.stroke
    sine, ratio = math.sin(2.0 * math.pi / steps), cylinder.rod_ratio
    short = 0.5 * (1.0 - math.cos(2.0 * math.pi / steps) - (ratio - math.sqrt(ratio**2 - sine**2)))
    for cranks, count in (([0.0], 1), ([0.0, 1.5], 2), ([0.3, np.nan], 1)):
        torque = solver.crank_torque(cylinder, pressures, np.array(cranks), ATMOSPHERE)
        work = 2.0 * math.pi * torque.mean() / count
        assert work == pytest.approx(1e5 * swept * (1.0 - 0.5 * short), rel=1e-9)


def revolutions_of(inputs):
    """Results of the engine, with the revolutions that each point took."""
    many, _ = cycle._inputs(*inputs)
    results = np.zeros((len(many.point), coupling.ENGINE_SIZE))
    stages = np.zeros((len(many.point), many.cylinders.shape[0], coupling.STAGE_SIZE))
    solver.converge_points(many, cycle.STEPS, solver.MAX_REVOLUTIONS, results, stages, steam_table())
    return results


def test_points_settle_in_few_revolutions():
    # what a better or worse first guess and learned slope change: 22, 25 and 34 revolutions on the mean when written
    speeds, cutoffs = np.meshgrid(SPEEDS, CUTOFFS, indexing="ij")
    found = [
        revolutions_of(cycle_inputs([express], around, speeds=speeds, cutoffs=[cutoffs]))
        for around in (SUPERHEATED, SATURATED)
    ]
    high, low = express._replace(bore=0.38), express._replace(bore=0.6, exhaust_lap=-0.004)
    stages = {
        "cranks": [[0, math.pi / 2], [math.pi, 1.5 * math.pi]],
        "cutoffs": [[0.6, 0.55, 0.5], [0.65, 0.6, 0.6]],
    }
    found.append(revolutions_of(cycle_inputs([high, low], SUPERHEATED, speeds=[1.0, 2.5, 4.0], **stages)))
    for results, mean in zip(found, (24.0, 28.0, 37.0), strict=True):
        assert np.mean(results[:, coupling.REVOLUTIONS]) < mean
