"""Nodes of a run, and the envelope of limits and stops."""

from __future__ import annotations

import numpy as np
import pytest
import trials
from hypothesis import given, settings
from hypothesis import strategies as st

from locosim.journey.run import run_journey
from locosim.journey.setup.mesh import START_MESH_LENGTH, envelope, node_chainages, speed_limit_spans
from locosim.journey.setup.prepare import prepare
from locosim.model import Curve, RailConditionZone, SpeedLimit


def test_there_is_a_node_at_every_break() -> None:
    breaks = [0.0, 13.0, 977.0, 977.5, 2000.0]
    nodes = node_chainages(breaks, [0.0], 20.0)
    assert all(np.min(np.abs(nodes - at)) == 0.0 for at in breaks)
    assert np.all(np.diff(nodes) > 0.0)


def test_steps_are_no_longer_than_the_given_step() -> None:
    nodes = node_chainages([0.0, 333.0, 5000.0], [0.0], 20.0)
    assert np.max(np.diff(nodes)) <= 20.0 + 1e-9
    # After the start the nodes are at (i/n)²: each step is longer than the one before, and the first is short.
    start = nodes[nodes <= 333.0]
    steps = np.diff(start)
    assert np.all(np.diff(steps) > 0.0)
    assert steps[0] < 0.5


def test_nodes_after_a_start_are_at_squares() -> None:
    nodes = node_chainages([0.0, 3000.0], [0.0], 20.0)
    count = 40
    assert nodes[: count + 1] == pytest.approx(START_MESH_LENGTH * (np.arange(count + 1) / count) ** 2)


def test_breaks_within_a_centimeter_are_merged() -> None:
    nodes = node_chainages([0.0, 500.0, 500.005, 500.1, 1000.0], [0.0], 20.0)
    near = nodes[np.abs(nodes - 500.0) < 1.0]
    assert near == pytest.approx([500.0, 500.1])


def test_a_stop_close_to_a_break_keeps_its_chainage() -> None:
    nodes = node_chainages([0.0, 499.996, 500.0, 1000.0], [0.0, 500.0], 20.0)
    assert 500.0 in nodes
    assert 499.996 not in nodes


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    st.lists(st.floats(0.0, 9000.0), min_size=2, max_size=30, unique=True),
    st.sampled_from([3.0, 5.0, 10.0, 20.0, 50.0]),
)
def test_nodes_increase_and_end_where_the_breaks_end(breaks: list[float], step: float) -> None:
    breaks = sorted(breaks)
    if breaks[-1] - breaks[0] < 1.0:
        return
    nodes = node_chainages(breaks, [breaks[0]], step)
    assert nodes[0] == breaks[0]
    assert nodes[-1] == pytest.approx(breaks[-1], abs=0.011)
    gaps = np.diff(nodes)
    assert np.all(gaps > 0.0)
    assert np.max(gaps) <= step * (1 + 1e-9)


def test_every_change_along_the_line_is_a_node() -> None:
    route = trials.line(
        [(333.3, 0.001), (777.7, 0.004), (2000.0, -0.002)],
        speed_limits=(SpeedLimit(start=1500.5, end=1800.25, speed=12.0),),
        curves=(Curve(start=2011.0, end=2099.0, radius=300.0),),
        rail_condition_zones=(RailConditionZone(start=2500.0, end=2600.0, rail="wet"),),
    )
    excursion = trials.excursion(route)
    nodes = prepare(excursion, trials.performance(excursion)).chainage
    engine = excursion.locomotive
    length = engine.length + engine.tender.length + excursion.train.length
    for place in (1333.3, 2111.0, 1500.5, 1800.25 + length, 2011.0, 2099.0, 2500.0, 2600.0):
        assert np.min(np.abs(nodes - place)) < 1e-9, place


# The envelope


def test_braking_is_exact() -> None:
    # v² = 2 b s: 800 m from 20 m/s at 0.25 m/s².
    nodes = np.linspace(0.0, 2000.0, 101)
    top = envelope(nodes, [(0.0, 2000.0, 20.0)], [2000.0], 0.25)
    expected = np.minimum(200.0, 0.25 * (2000.0 - nodes))
    assert top == pytest.approx(expected, rel=1e-13, abs=1e-13)
    assert top[60] == pytest.approx(200.0)  # 800 m before the stop


def test_braking_to_a_limit_is_exact() -> None:
    nodes = np.linspace(0.0, 2000.0, 201)
    top = envelope(nodes, [(0.0, 2000.0, 20.0), (1000.0, 1500.0, 10.0)], [], 0.25)
    expected = np.where(nodes < 1000.0, np.minimum(200.0, 50.0 + 0.25 * (1000.0 - nodes)), 200.0)
    expected[(nodes >= 1000.0) & (nodes <= 1500.0)] = 50.0
    assert top == pytest.approx(expected, rel=1e-13)


def test_uneven_nodes_give_the_same_braking() -> None:
    nodes = np.sort(np.concatenate([[0.0, 2000.0], 2000.0 * np.random.default_rng(7).random(60)]))
    top = envelope(nodes, [(0.0, 2000.0, 20.0)], [2000.0], 0.25)
    assert top == pytest.approx(np.minimum(200.0, 0.25 * (2000.0 - nodes)), rel=1e-12, abs=1e-12)


def test_a_node_close_to_a_stop_is_not_a_stop() -> None:
    top = envelope(np.array([0.0, 0.01, 10.0]), [(0.0, 10.0, 20.0)], [0.0], 0.25)
    assert top[0] == 0.0
    assert top[1] > 0.0


def test_a_limit_applies_until_the_rear_has_passed_it() -> None:
    route = trials.line([(4000.0, 0.0)], speed_limits=(SpeedLimit(start=2000.0, end=2200.0, speed=8.0),))
    limits = speed_limit_spans(route, ahead=0.0, behind=150.0, ceiling=99.0)
    assert limits == ((0.0, 2150.0, 20.0), (2000.0, 2350.0, 8.0), (2200.0, 5000.0, 20.0))
    # It ends with the line.
    assert speed_limit_spans(route, ahead=0.0, behind=9000.0, ceiling=99.0)[1][1] == 5000.0


def test_a_front_helper_enters_a_limit_first() -> None:
    route = trials.line([(4000.0, 0.0)], speed_limits=(SpeedLimit(start=2000.0, end=2200.0, speed=8.0),))
    assert speed_limit_spans(route, ahead=20.0, behind=150.0, ceiling=99.0)[1] == (1980.0, 2350.0, 8.0)


def test_a_faster_stretch_counts_once_the_whole_train_is_on_it() -> None:
    fast = SpeedLimit(start=2000.0, end=3000.0, speed=25.0)
    route = trials.line([(4000.0, 0.0)], speed_limit=15.0, speed_limits=(fast,))
    top = envelope(
        np.arange(0.0, 5001.0, 10.0), speed_limit_spans(route, ahead=0.0, behind=200.0, ceiling=99.0), [], 9.9
    )
    allowed = np.sqrt(2.0 * top)
    assert allowed[190] == pytest.approx(15.0)
    assert allowed[215] == pytest.approx(15.0)
    assert allowed[260] == pytest.approx(25.0)
    assert allowed[300] == pytest.approx(15.0)


def test_the_lower_of_line_limit_and_ceiling_applies() -> None:
    route = trials.line([(4000.0, 0.0)], speed_limits=(SpeedLimit(start=2000.0, end=2200.0, speed=18.0),))
    limits = speed_limit_spans(route, ahead=0.0, behind=0.0, ceiling=15.0)
    assert [speed for _, _, speed in limits] == [15.0, 15.0, 15.0]


def test_the_train_accelerates_after_its_rear_has_cleared_a_limit() -> None:
    limit = SpeedLimit(start=3000.0, end=3300.0, speed=9.0)
    excursion = trials.excursion(trials.line([(7000.0, 0.0)], speed_limits=(limit,)))
    journey = run_journey(excursion, trials.performance(excursion), transient_boiler=False)
    engine = excursion.locomotive
    length = engine.length + engine.tender.length + excursion.train.length
    head, rear = journey.chainage, journey.chainage - length
    touching = (head >= limit.start) & (rear <= limit.end)
    assert np.max(journey.speed[touching]) == pytest.approx(9.0)
    assert np.max(journey.speed[rear > limit.end + 50.0]) > 9.5


def test_a_curve_that_ends_just_before_the_last_stop_does_not_remove_it() -> None:
    end = 5000.0
    route = trials.line([(4000.0, 0.0)], curves=(Curve(start=3000.0, end=end - 0.005, radius=600.0),))
    excursion = trials.excursion(route)
    journey = run_journey(excursion, trials.performance(excursion), transient_boiler=False)
    assert journey.arrived
    assert journey.chainage[-1] == end
    assert journey.speed[-1] == 0.0


def test_nodes_are_denser_before_a_stop() -> None:
    """A train that crawls up to a stop brakes over half a meter, not over a whole step."""
    nodes = node_chainages([0.0, 3000.0, 5000.0], [0.0, 3000.0, 5000.0], 20.0)
    for place in (2994.0, 2998.0, 2999.5, 4994.0, 4998.0, 4999.5):
        assert place in nodes
