"""The handbook map by its figures, and tables of the map by the cycle, by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials
from scipy.interpolate import CubicSpline

from locosim.engine.map import cycle_tables, from_handbook
from locosim.engine.map.control_axis import EFFORT_SHARES
from locosim.engine.map.from_handbook import handbook_map
from locosim.engine.map.throttled import ThrottlingLine
from locosim.errors import NoSolution
from locosim.model import Locomotive

ENGINE = trials.locomotive()
FIRST = len(EFFORT_SHARES)
NAN = math.nan


def with_unit(**changes: Any) -> Locomotive:
    return replace(ENGINE, engine_units=(replace(ENGINE.engine_units[0], **changes),))


def test_axes_of_the_handbook_map() -> None:
    found = handbook_map(ENGINE)
    assert found.effort.shape == (8, 65, 34)
    gauge = ENGINE.boiler.working_pressure_gauge
    assert found.pressures == pytest.approx(101325.0 + gauge * np.linspace(0.35, 1.05, 8))
    assert (found.peak_effort_ratio, found.live_steam_starting_effort) == (1.0, 0.0)
    units = (
        replace(ENGINE.engine_units[0], min_cutoff=0.15, max_cutoff=0.80),
        replace(ENGINE.engine_units[0], min_cutoff=0.22, max_cutoff=0.85),
    )
    both = handbook_map(replace(ENGINE, mass=150e3, engine_units=units))
    assert both.cutoffs[[0, FIRST, -1]] == pytest.approx([0.22, 0.22, 0.80])


def test_the_diagram_shrinks_from_250_to_1000_feet_a_minute() -> None:
    """[MRS70] diagram factors, 0.90 and 0.75, at piston speeds by our reading; the nodes are 25 ft/min apart."""
    found = handbook_map(ENGINE)
    effort = found.effort[7, :, FIRST]  # at the shortest cutoff the speed curve does not limit yet
    slow, middle, fast, beyond = effort[[10, 25, 40, 44]]
    assert fast / slow == pytest.approx(0.75 / 0.90, rel=1e-6)
    assert middle / slow == pytest.approx(0.5 + 0.5 * 0.75 / 0.90, rel=1e-5)
    assert beyond == pytest.approx(fast, rel=1e-6)
    assert effort[0] == pytest.approx(slow, rel=1e-6)


def test_two_expansions_take_25_pounds_where_one_takes_30() -> None:
    """[MRS70], middle of its ranges for an indicated horsepower and hour."""
    cylinders = ENGINE.engine_units[0].cylinders[0]
    low = replace(cylinders, bore=0.8, steam_source="receiver")
    compound = with_unit(cylinders=(cylinders, low))
    cutoffs, gauge = np.linspace(0.2, 0.8, 5), np.array([8e5, 12e5])
    one, two = (
        from_handbook._steam_per_work(engine, cylinders, gauge, cutoffs) for engine in (ENGINE, compound)
    )
    assert two == pytest.approx(one * 25.0 / 30.0)


@pytest.mark.parametrize("cutoff", [0.75, 0.85])
def test_at_the_worst_crank_angle_one_cylinder_pushes_alone(cutoff: float) -> None:
    """Two cranks at right angles: the one past cutoff gives nothing, the other the sine of its own angle."""
    cut = math.acos(1.0 - 2.0 * cutoff)
    least = math.sin(cut - 0.5 * math.pi)
    engine = with_unit(max_cutoff=cutoff)
    expected = least * math.pi / 4.0 / engine.tractive_effort_factor
    assert handbook_map(engine).min_starting_effort_ratio == pytest.approx(expected, rel=5e-3)
    two = replace(
        engine, mass=150e3, engine_units=(engine.engine_units[0], with_unit(max_cutoff=0.85).engine_units[0])
    )
    other = -math.cos(math.acos(1.0 - 2.0 * 0.85)) * math.pi / 4.0 / engine.tractive_effort_factor
    assert handbook_map(two).min_starting_effort_ratio == pytest.approx(0.5 * (expected + other), rel=5e-3)


def test_pressures_without_effort_do_not_end_the_throttled_branch() -> None:
    weak = trials.locomotive(pressure=4e5)
    weak = replace(weak, engine_units=(replace(weak.engine_units[0], min_cutoff=0.05),))
    found = handbook_map(weak)
    wide = found.effort[:, 1, FIRST]
    assert wide[0] == 0.0
    assert wide[-1] > 0.0
    for i in range(8):
        assert found.effort[i, 1, :FIRST] == pytest.approx(np.array(EFFORT_SHARES) * wide[i])
    assert np.all(found.steam[-1, 1, 1:FIRST] > 0.0)


# Tables of the map by the cycle.


def test_back_pressure_goes_with_the_square_of_the_flow() -> None:
    nodes = np.array(EFFORT_SHARES)
    line = ThrottlingLine(
        pressures=np.array([1e6]), speeds=np.array([1.0, 5.0]), saving=np.full((1, 2, FIRST), 0.02),
        closing=np.full((1, 2, FIRST), 1e-12),
    )  # fmt: skip
    effort = np.array([[[60.0, 80.0, 90.0], [40.0, 60.0, 70.0]]])
    steam, back = (
        np.array([[[0.5, 1.0, 1.5], [1.6, 2.0, 2.4]]]),
        np.array([[[2e3, 3e3, 5e3], [9e3, 12e3, 15e3]]]),
    )
    found = cycle_tables.with_throttled_branch(
        (effort, steam, back), line, (np.array([1e6]), np.array([1.0, 5.0])), np.array([2.0])
    )
    eased = 1.6 - 0.02 * 40.0 * (1.0 - nodes)
    assert found.steam[0, 1] == pytest.approx([*eased, 1.6, 2.0, 2.4])
    assert found.back_pressure[0, 1] == pytest.approx([*(9e3 * (eased / 1.6) ** 2), 9e3, 12e3, 15e3])
    # at rest in proportion to the steam of the slow turn, 2 kg/s
    slow = 0.25 * (2.0 - 0.02 * 60.0 * (1.0 - nodes))
    assert found.steam[0, 0, :FIRST] == pytest.approx(slow)
    assert found.back_pressure[0, 0, :FIRST] == pytest.approx(2e3 * (slow / 0.5) ** 2)
    assert found.throttles[0, :, FIRST:].tolist() == [[1.0] * 3] * 2


def test_points_that_are_missing_give_no_effort_and_use_some_steam() -> None:
    speeds, cutoffs = np.array([1.0, 2.0]), np.array([0.1, 0.2, 0.4, 0.5])
    found = SimpleNamespace(
        effort=np.array([[[NAN, 20.0, 40.0, 50.0], [-80.0, 10.0, 30.0, 40.0]]]),
        steam=np.array([[[NAN, 2.0, 4.0, 5.0], [NAN, 0.1, 3.0, 4.0]]]),
        back_pressure=np.array([[[1.0, 2.0, NAN, NAN], [1.0, 2.0, 3.0, 4.0]]]) * 1e3,
    )
    effort, steam, back = cycle_tables.complete_arrays(found, speeds, cutoffs)  # type: ignore[arg-type]
    # no power is no effort, and no further below zero than the largest effort is above it
    assert effort[0].tolist() == [[0.0, 20.0, 40.0, 50.0], [-50.0, 10.0, 30.0, 40.0]]
    # 2 - 0.7 x 1/2 x 2; the other would be below zero
    assert steam[0, :, 0] == pytest.approx([1.3, 0.0])
    assert back[0, 0] == pytest.approx([1e3, 2e3, 3.4e3, 3.89e3])
    nothing = SimpleNamespace(
        effort=np.full((1, 2, 4), NAN), steam=found.steam, back_pressure=found.back_pressure
    )
    with pytest.raises(
        NoSolution, match=r"^the cylinder cycle does not converge for this engine; look at clearance"
    ):
        cycle_tables.complete_arrays(nothing, speeds, cutoffs)  # type: ignore[arg-type]


def test_tables_are_resampled_by_cubic_splines() -> None:
    draw = np.random.default_rng(6)
    nodes = [np.array([1.0, 1.5, 2.5, 3.0, 4.5]), np.array([0.0, 1.0, 4.0, 5.0, 9.0])]
    to = [np.array([1.2, 2.0, 4.4]), np.array([0.3, 3.3, 8.0])]
    values = draw.random((5, 5))
    expected = CubicSpline(nodes[1], CubicSpline(nodes[0], values, axis=0)(to[0]), axis=1)(to[1])
    assert cycle_tables.resampled(values, nodes, to) == pytest.approx(expected)
