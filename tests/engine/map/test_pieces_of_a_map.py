"""Pieces from which a map is made, each on figures that can be read by eye."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from locosim.engine.map import cycle_tables as c
from locosim.engine.map import from_cycle as f
from locosim.engine.map import throttled as t
from locosim.engine.map.control_axis import EFFORT_SHARES, control_cutoffs
from locosim.engine.map.nearby import Levels
from locosim.engine.map.store import StoredMap
from locosim.errors import NoSolution, OutOfRange

NAN = math.nan


def test_points_are_clustered_toward_the_low_end() -> None:
    assert c._clustered(2.0, 10.0, 3, 2.0).tolist() == [2.0, 4.0, 10.0]
    assert c._clustered(2.0, 10.0, 5, 1.0).tolist() == [2.0, 4.0, 6.0, 8.0, 10.0]


def test_missing_points_between_known_ones_lie_on_straight_lines() -> None:
    values = np.array([[[1.0, NAN, NAN, 7.0, NAN], [NAN] * 5, [NAN, 2.0, NAN, 4.0, 5.0]]])
    found = c._filled_between(values, np.array([0.1, 0.2, 0.3, 0.4, 0.5]))
    expected = [[1.0, 3.0, 5.0, 7.0, NAN], [NAN] * 5, [NAN, 2.0, 3.0, 4.0, 5.0]]
    assert found[0] == pytest.approx(np.array(expected), nan_ok=True)


def extrapolated(rows: list[list[float]], *, low: float = -1e9, high: float = 1e9) -> list[list[float]]:
    speeds, cutoffs = np.array([1.0, 2.0, 4.0])[: len(rows)], np.array([0.1, 0.2, 0.4, 0.5])
    found: list[list[float]] = c._extrapolated(np.array([rows]), speeds, cutoffs, low=low, high=high)[
        0
    ].tolist()
    return found


def test_missing_points_at_the_ends_carry_on() -> None:
    # from longer cutoffs along 0.7 of the last slope, by the distance: 20 - 0.7 x 1/2 x (40 - 20)
    assert extrapolated([[NAN, 20.0, 40.0, 50.0]])[0] == pytest.approx([13.0, 20.0, 40.0, 50.0])
    # from shorter ones at the lowest speed: 20 + 0.7 x 2 x (20 - 10), and half the distance further
    assert extrapolated([[10.0, 20.0, NAN, NAN]])[0] == pytest.approx([10.0, 20.0, 34.0, 38.9])
    # at higher speeds in parallel with the speed below
    found = extrapolated([[10.0, 20.0, 40.0, 50.0], [8.0, 15.0, NAN, NAN]])
    assert found[1] == pytest.approx([8.0, 15.0, 35.0, 45.0])
    # where none is known: the speed below, then 0.7 of the slope by the distance, 2
    rows = [[10.0, 20.0, 40.0, 50.0], [NAN] * 4]
    assert extrapolated(rows)[1] == rows[0]
    rows = [[10.0, 20.0, 40.0, 50.0], [9.0, 18.0, 35.0, 45.0], [NAN] * 4]
    assert extrapolated(rows)[2] == pytest.approx([9.0 - 1.4, 18.0 - 2.8, 35.0 - 7.0, 45.0 - 7.0])
    assert extrapolated([[NAN, 20.0, 40.0, 50.0]], low=15.0)[0][0] == 15.0
    assert extrapolated([[10.0, 20.0, NAN, NAN]], high=30.0)[0][2:] == [30.0, 30.0]
    for nothing in ([[NAN] * 4], [[-1.0, -2.0, 0.0, -3.0]]):
        with pytest.raises(NoSolution, match="does not converge"):
            extrapolated(nothing)


def test_steam_at_rest_goes_on_in_a_straight_line_and_is_never_below_zero() -> None:
    nodes = [np.array([1.0, 2.0]), np.array([0.5, 1.5, 3.0]), np.array([0.1, 0.2, 0.3])]
    steam = np.array([[[1.0, 2.0, 3.0], [1.4, 3.0, 9.0], [9.0] * 3]] * 2)
    found = f._steam_at_rest(steam, nodes, [nodes[0], np.array([0.0, 1.0]), nodes[2]])
    assert found == pytest.approx(
        np.array([[0.8, 1.5, 1.5]] * 2)
    )  # 3 - 0.5 x 6 would be 0: not below a shorter one


def test_a_map_rises_with_the_cutoff() -> None:
    effort = np.array([[[0.001, -3.0, 5.0, 9.0, 10.0, 8.0]]])
    steam = np.array([[[0.3, 0.2, 0.4, 0.6, 0.8, 0.9]]])
    back = np.arange(6.0)[None, None]
    found, used, pressure = c._monotone(effort, steam, back)
    # no effort at cutoffs up to the last without one; beyond the best nothing changes
    assert found[0, 0].tolist() == [0.0, 0.0, 5.0, 9.0, 10.0, 10.0]
    assert used[0, 0].tolist() == [0.2, 0.2, 0.4, 0.6, 0.8, 0.8]
    assert pressure[0, 0].tolist() == [0.0, 1.0, 2.0, 3.0, 4.0, 4.0]
    # two thousandths of the largest count as none
    limit = np.array([[[0.02, 0.021, 10.0]]])
    found, _, _ = c._monotone(limit, np.ones((1, 1, 3)), np.zeros((1, 1, 3)))
    assert found[0, 0].tolist() == [0.0, 0.021, 10.0]


def test_ripple_is_smoothed_up_to_half_a_per_cent() -> None:
    assert c._nondecreasing("steam", np.array([[[1.0, 0.96, 10.0]]]))[0, 0].tolist() == [1.0, 1.0, 10.0]
    with pytest.raises(
        NoSolution, match=r"steam of the performance map falls with a longer cutoff by 0\.60%"
    ):
        c._nondecreasing("steam", np.array([[[1.0, 0.94, 10.0]]]))
    with pytest.raises(OutOfRange, match="steam of the performance map is not finite"):
        c._nondecreasing("steam", np.array([[[1.0, math.inf, 10.0]]]))


# The throttled branch.


def test_estimates_carry_on_below_the_least_effort() -> None:
    found = t._carried_on(
        np.array([5.0, 10.0, 15.0, 20.0, 40.0]), np.array([10.0, 20.0, 30.0]), np.array([1.0, 3.0, 4.0])
    )
    assert found == pytest.approx([0.0, 1.0, 2.0, 3.0, 4.0])


def test_saving_and_closing_of_an_engine_with_a_straight_line() -> None:
    # steam = 0.2 + 0.8 effort saves 0.8 of what is given up; opening by (steam)² (1/opening² - 1) = 3 (1 - share)
    shares = np.array([0.1, 0.4, 0.78])
    steam = 0.2 + 0.8 * shares
    openings = 1.0 / np.sqrt(1.0 + 3.0 * (1.0 - shares) / steam**2)
    nodes = np.array(EFFORT_SHARES)
    for known in (np.full(3, True), np.array([True, True, False])):
        saving, closing = t._fitted(np.where(known, shares, NAN), steam, openings)
        assert saving == pytest.approx(np.full(len(nodes), 0.8))
        assert closing == pytest.approx(3.0 * (1.0 - nodes), abs=1e-9)
    for few in ([0.1, NAN, NAN], [0.1, 0.1005, NAN], [-0.1, 0.4, 0.99], [0.1, 0.1, 0.995]):
        saving, closing = t._fitted(np.array(few), steam, openings)
        assert np.all(np.isnan(saving))
        assert np.all(np.isnan(closing))


def test_missing_lines_come_from_the_next_pressure_and_speed() -> None:
    values = np.array([[[NAN], [NAN], [7.0]], [[2.0], [NAN], [NAN]], [[5.0], [NAN], [9.0]]])
    found = t._filled(values, np.array([1.0, 2.0, 6.0]))[..., 0].tolist()
    assert found == [[2.0, 4.0, 7.0], [2.0, 4.0, 9.0], [5.0, 10.0, 9.0]]
    assert t._filled(np.full((2, 2, 1), NAN), np.array([1.0, 2.0])).tolist() == [
        [[0.0], [0.0]],
        [[0.0], [0.0]],
    ]


def test_a_line_is_resampled_and_holds_beyond_its_nodes() -> None:
    values = np.array([[[1.0], [3.0]], [[2.0], [4.0]]])
    at = (np.array([1.0, 2.0]), np.array([10.0, 20.0]))
    found = t._resampled(values, at, (np.array([0.0, 1.5, 9.0]), np.array([5.0, 15.0, 99.0])))[..., 0]
    assert found == pytest.approx(np.array([[1.0, 2.0, 3.0], [1.5, 2.5, 3.5], [2.0, 3.0, 4.0]]))
    alone = t._resampled(values[:1], (at[0][:1], at[1]), (np.array([0.0, 5.0]), at[1]))
    assert alone[..., 0].tolist() == [[1.0, 3.0], [1.0, 3.0]]


def line(**changes: Any) -> t.ThrottlingLine:
    shape = (1, 2, len(EFFORT_SHARES))
    made = {"saving": np.full(shape, 0.02), "closing": np.full(shape, 1e-12)} | changes
    return t.ThrottlingLine(pressures=np.array([1e6]), speeds=np.array([1.0, 5.0]), **made)


def test_nodes_of_the_branch_give_up_effort_and_save_steam() -> None:
    shares = np.array(EFFORT_SHARES)
    given: dict[str, Any] = {
        "pressures": np.array([1e6]), "speeds": np.array([0.0, 5.0]), "effort": np.array([[60.0, 40.0]]),
        "steam": np.array([[2.0, 1.6]]), "rest_steam": np.array([0.5]),
    }  # fmt: skip
    found = line().nodes(**given)
    assert found.effort[0, 1] == pytest.approx(40.0 * shares)
    assert found.steam[0, 1] == pytest.approx(1.6 - 0.02 * 40.0 * (1.0 - shares))
    assert found.steam[0, 0] == pytest.approx(
        0.25 * (2.0 - 0.02 * 60.0 * (1.0 - shares))
    )  # at rest a quarter
    opening = found.steam[0, 1] / np.sqrt(found.steam[0, 1] ** 2 + 1e12 * 1e-12)
    assert found.throttles[0, 1] == pytest.approx(opening)
    much = line(saving=np.full((1, 2, len(shares)), 1.0)).nodes(**given)
    assert much.steam.min() == 0.0
    assert np.all(np.diff(much.steam, axis=2) >= 0.0)
    none = line(saving=np.full((1, 2, len(shares)), -1.0), closing=np.full((1, 2, len(shares)), -1.0)).nodes(
        **given
    )
    assert none.steam[0, 1] == pytest.approx(np.full(len(shares), 1.6))
    assert none.throttles == pytest.approx(np.ones_like(none.throttles))


def test_the_control_axis_has_the_shortest_cutoff_while_the_throttle_opens() -> None:
    found = control_cutoffs(np.array([0.2, 0.4, 0.6]))
    assert found.tolist() == [0.2] * 9 + [0.2, 0.4, 0.6]
    assert EFFORT_SHARES[0] == 0.0
    assert list(EFFORT_SHARES) == sorted(EFFORT_SHARES)
    assert EFFORT_SHARES[-1] < 1.0


def test_a_change_between_levels_and_beyond_them_is_on_straight_lines() -> None:
    levels = Levels((1.0, 2.0, 4.0), np.array([[0.0, 10.0], [1.0, 20.0], [5.0, 20.0]]))
    for at, first, second in (
        (1.0, 0.0, 10.0),
        (1.5, 0.5, 15.0),
        (2.0, 1.0, 20.0),
        (3.0, 3.0, 20.0),
        (5.0, 7.0, 20.0),
    ):
        assert levels.change(at) == pytest.approx([first, second])
    assert levels.change(0.0) == pytest.approx([-1.0, 0.0])


def stored(**changes: Any) -> StoredMap:
    table = np.ones((2, 3, 4))
    made: dict[str, Any] = {
        "pressures": np.array([1e6, 2e6]), "speeds": np.arange(3.0), "cutoffs": np.arange(4.0), "throttles": table,
        "effort": table, "steam": table, "back_pressure": table, "peak_effort_ratio": 1.0,
        "unit_effort_shares": (1.0,), "min_starting_effort_ratio": 0.8, "live_steam_starting_effort": 0.0, "notes": (),
    }  # fmt: skip
    return StoredMap(**(made | changes))


def test_a_stored_map_with_one_figure_or_shape_wrong_is_not_valid() -> None:
    assert stored().is_valid
    assert stored().size == 8 * (2 + 3 + 4 + 4 * 24 + 4)
    spoilt = np.ones((2, 3, 4))
    for bad in (NAN, math.inf):
        spoilt[1, 2, 3] = bad
        for name in ("throttles", "effort", "steam", "back_pressure"):
            assert not stored(**{name: spoilt}).is_valid
        assert not stored(pressures=np.array([1e6, bad])).is_valid
        assert not stored(speeds=np.array([0.0, bad, 2.0])).is_valid
        assert not stored(cutoffs=np.array([0.0, 1.0, 2.0, bad])).is_valid
        assert not stored(unit_effort_shares=(0.5, bad)).is_valid
        for name in ("peak_effort_ratio", "min_starting_effort_ratio", "live_steam_starting_effort"):
            assert not stored(**{name: bad}).is_valid
    for name in ("throttles", "effort", "steam", "back_pressure"):
        assert not stored(**{name: np.ones((2, 3, 5))}).is_valid
    assert not stored(peak_effort_ratio=0.0).is_valid
