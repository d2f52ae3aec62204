"""A map read in straight lines, against a general interpolator, and its ends."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from plain_python import in_plain_python
from scipy.interpolate import RegularGridInterpolator

from locosim.engine.map import interpolation
from locosim.engine.map import performance_map as pm
from locosim.engine.map.control_axis import EFFORT_SHARES
from locosim.engine.map.interpolation import Cells
from locosim.engine.map.performance_map import PerformanceMap
from locosim.errors import OutOfRange

PRESSURES, SPEEDS = np.linspace(6e5, 14e5, 5), np.linspace(0.0, 30.0, 7)
WIDE = np.linspace(0.2, 0.8, 6)
CUTOFFS = np.concatenate([np.full(len(EFFORT_SHARES), WIDE[0]), WIDE])
FIRST = len(EFFORT_SHARES)  # first node with the throttle wide open


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, interpolation, pm)


def rising(seed: int) -> np.ndarray:
    """A table that rises along the last axis, and is uneven in all."""
    draw = np.random.default_rng(seed)
    return np.cumsum(draw.uniform(0.2, 1.0, (5, 7, len(CUTOFFS))), axis=2)


def made(**changes: Any) -> PerformanceMap:
    throttles = np.ones((5, 7, len(CUTOFFS)))
    throttles[:, :, :FIRST] = np.linspace(0.0, 0.9, FIRST) ** 2
    throttles[:, :, 0] += 0.01
    given: dict[str, Any] = {
        "method": "cycle", "pressures": PRESSURES, "speeds": SPEEDS, "cutoffs": CUTOFFS, "throttles": throttles,
        "effort": 1e4 * rising(1), "steam": 0.3 * rising(2), "back_pressure": 1e4 * rising(3), "peak_effort_ratio": 1.0,
        "unit_effort_shares": (1.0,), "min_starting_effort_ratio": 0.8, "live_steam_starting_effort": 0.0,
        "friction": 2000.0, "friction_share": 0.08,
    }  # fmt: skip
    return PerformanceMap(**(given | changes))


MAP = made()
NODES = np.arange(float(len(CUTOFFS)))


def general(table: np.ndarray) -> RegularGridInterpolator:
    return RegularGridInterpolator((PRESSURES, SPEEDS, NODES), table)


def along(table: np.ndarray, pressure: float, speed: float) -> np.ndarray:
    """A table along its control axis at a pressure and speed."""
    return np.asarray(general(table)([(pressure, speed, k) for k in NODES]))


def points() -> list[tuple[float, float]]:
    draw = np.random.default_rng(4)
    inside = [
        (float(p), float(v)) for p, v in zip(draw.uniform(6e5, 14e5, 8), draw.uniform(0, 30, 8), strict=True)
    ]
    return [*inside, (6e5, 0.0), (14e5, 30.0), (10e5, 15.0), (6e5, 30.0), (13.9e5, 29.9)]


@pytest.mark.parametrize(("pressure", "speed"), points())
@pytest.mark.parametrize("cutoff", [0.2, 0.317, 0.44, 0.62, 0.799, 0.8])
def test_wide_open_a_map_is_straight_between_nodes(pressure: float, speed: float, cutoff: float) -> None:
    at = {"speed": speed, "cutoff": cutoff, "pressure": pressure}
    place = (pressure, speed, FIRST + (cutoff - 0.2) / 0.12)
    for read, table in (
        (MAP.effort_at, MAP.effort), (MAP.steam_at, MAP.steam), (MAP.back_pressure_at, MAP.back_pressure),
    ):  # fmt: skip
        assert read(**at) == pytest.approx(float(general(table)([place])[0]), rel=1e-9)


@pytest.mark.parametrize(("pressure", "speed"), points())
def test_an_effort_is_set_on_the_control_axis(pressure: float, speed: float) -> None:
    efforts, steams = along(MAP.effort, pressure, speed), along(MAP.steam, pressure, speed)
    openings = along(MAP.throttles, pressure, speed)
    for effort in (0.5 * efforts[0], efforts[0], *np.linspace(1.01 * efforts[0], efforts[-1], 9)):
        found = MAP.setting_for(effort=float(effort), speed=speed, pressure=pressure)
        place = float(np.interp(effort, efforts, NODES))
        assert found.place == pytest.approx(place, abs=1e-9)
        assert found.steam == pytest.approx(float(np.interp(effort, efforts, steams)))
        assert found.throttle == pytest.approx(float(np.interp(place, NODES, openings)))
        assert found.cutoff == pytest.approx(float(np.interp(place, NODES, CUTOFFS)))
        # from whatever cells the search begins
        for guess in (Cells(0, 0), Cells(13, 5), Cells(FIRST, 3), Cells(7, 1), Cells(99, 2), Cells(-3, 4)):
            again = interpolation.find_setting(MAP.grid, pressure, speed, float(effort), guess)
            assert tuple(again) == pytest.approx(tuple(found))
    most = efforts[-1]
    with pytest.raises(OutOfRange, match="tractive effort must be at most"):
        MAP.setting_for(effort=float(most) * (1.0 + 1e-9), speed=speed, pressure=pressure)
    for outside in ({"speed": 30.1}, {"pressure": 5e5}):
        with pytest.raises(OutOfRange, match="the performance map runs from"):
            MAP.setting_for(**({"effort": 1.0, "speed": speed, "pressure": pressure} | outside))


@pytest.mark.parametrize(("pressure", "speed"), points())
def test_the_largest_effort_is_that_of_the_steam_or_of_the_cutoff(pressure: float, speed: float) -> None:
    efforts, steams = along(MAP.effort, pressure, speed), along(MAP.steam, pressure, speed)
    for cutoff in (0.2, 0.41, 0.8):
        end = FIRST + (cutoff - 0.2) / 0.12
        whole = float(np.interp(end, NODES, efforts))
        for steam in (0.5 * steams[0], steams[0], *np.linspace(steams[0], 1.1 * steams[-1], 7)):
            found = MAP.max_effort(speed=speed, pressure=pressure, steam=float(steam), cutoff=cutoff)
            by_steam = float(np.interp(steam, steams, efforts))
            limited = float(np.interp(steam, steams, NODES)) < end
            assert found == (
                pytest.approx(by_steam if limited else whole),
                "steam" if limited else "cylinders",
            )
            for guess in (Cells(0, 0), Cells(11, 5), Cells(99, 3)):
                effort, _, place = interpolation.max_effort(
                    MAP.grid, pressure, speed, float(steam), cutoff, guess
                )
                assert effort == pytest.approx(found[0])
                assert place == pytest.approx(min(float(np.interp(steam, steams, NODES)), end))
    assert MAP.max_effort(speed=speed, pressure=pressure) == (pytest.approx(efforts[-1]), "cylinders")


def test_where_more_steam_gives_no_more_effort_steam_is_not_the_limit() -> None:
    level = np.array(MAP.effort)
    level[:, :, FIRST + 2 :] = level[:, :, FIRST + 2 : FIRST + 3]
    flat = made(effort=level)
    pressure, speed = 10e5, 15.0
    steams = along(flat.steam, pressure, speed)
    effort, limit = flat.max_effort(speed=speed, pressure=pressure, steam=float(steams[FIRST + 3]))
    assert (effort, limit) == (pytest.approx(along(flat.effort, pressure, speed)[-1]), "cylinders")
    # and the least steam that gives it is used
    found = flat.setting_for(effort=effort, speed=speed, pressure=pressure)
    assert (found.place, found.steam) == pytest.approx((FIRST + 2, steams[FIRST + 2]))


def test_a_map_is_not_read_outside() -> None:
    inside = {"speed": 15.0, "cutoff": 0.5, "pressure": 10e5}
    for name, axis in (("speed", SPEEDS), ("cutoff", WIDE), ("pressure", PRESSURES)):
        reach = 1e-9 * float(axis[-1])
        for value in (axis[0] - 0.9 * reach, axis[-1] + 0.9 * reach):  # rounding
            MAP.effort_at(**(inside | {name: float(value)}))
            MAP.max_effort(**(inside | {name: float(value)}))
        for value in (axis[0] - 1.2 * reach, axis[-1] + 1.2 * reach, axis[0] - 1.0, 2.0 * axis[-1]):
            for read in (MAP.effort_at, MAP.steam_at, MAP.back_pressure_at, MAP.max_effort):
                with pytest.raises(OutOfRange, match=rf"the performance map runs from .* in {name}, found"):
                    read(**(inside | {name: float(value)}))


def test_the_grid_of_a_map() -> None:
    grid = MAP.grid
    assert (grid.pressure_start, grid.pressure_step, grid.speed_step) == pytest.approx((6e5, 2e5, 5.0))
    assert (grid.wide_open, grid.cutoff_start, grid.cutoff_step) == pytest.approx((FIRST, 0.2, 0.12))
    assert MAP.max_speed == 30.0


def test_drifting_steam_and_power_of_a_map() -> None:
    second = MAP.steam[:, :, 1]
    drifting = float(np.median(second))
    found = MAP.with_drifting_steam(drifting)
    assert np.array_equal(found.steam[:, :, 0], np.minimum(drifting, second))
    assert np.array_equal(found.steam[:, :, 1:], MAP.steam[:, :, 1:])
    assert np.all(found.throttles[:, :, 0] == 0.0)
    assert np.array_equal(found.throttles[:, :, 1:], MAP.throttles[:, :, 1:])
    assert MAP.with_power_factor(1.0) is MAP
    assert MAP.with_power_factor(1.25).steam == pytest.approx(MAP.steam / 1.25)
    assert MAP.friction_at(5e4) == pytest.approx(6000.0)
    assert MAP.rim_effort(5e4) == pytest.approx(44e3)
    assert MAP.indicated_effort(44e3) == pytest.approx(5e4)


def test_effort_at_starting_is_that_in_full_gear_or_of_live_steam() -> None:
    full = MAP.effort_at(speed=0.0, cutoff=0.8, pressure=9e5)
    assert MAP.starting_efforts(9e5) == (full, pytest.approx(0.8 * full), False)
    for live in (0.5, 3e5):
        compound = made(live_steam_starting_effort=live)
        assert compound.starting_efforts(9e5) == (live, pytest.approx(0.8 * live), True)


def test_tables_and_cells_of_an_even_axis() -> None:
    table = np.array([3.0, 5.0, 4.0, 8.0])
    axis = 10.0 + 2.0 * np.arange(4)
    for at in (-5.0, 10.0, 10.5, 12.0, 13.7, 15.99, 16.0, 99.0):
        assert interpolation.between(table, 10.0, 2.0, at) == pytest.approx(float(np.interp(at, axis, table)))
        k, part = interpolation.cell_of(at, 10.0, 2.0, 4)
        place = min(max((at - 10.0) / 2.0, 0.0), 3.0)
        assert k == min(int(place), 2)
        assert part == pytest.approx(place - k)
        for guess in (0, 1, 2):
            near, its_part = interpolation.cell_near(at, 10.0, 2.0, 4, guess)
            assert near + its_part == pytest.approx(place)
            assert 0.0 <= its_part <= 1.0
            assert 0 <= near <= 2


class Counted:
    """A table of three axes that counts how often it is read."""

    def __init__(self, table: np.ndarray) -> None:
        self.table, self.shape, self.read = table, table.shape, 0

    def __getitem__(self, place: tuple[int, int, int]) -> float:
        self.read += 1
        return float(self.table[place])


def reads(place: float, guess: int) -> int:
    """Nodes of the control axis read to find an effort at a place, in a map of 100 nodes that rises evenly."""
    even = Counted(np.broadcast_to(np.arange(100.0), (2, 2, 100)))
    other = np.broadcast_to(np.arange(100.0), (2, 2, 100))
    found = interpolation.reading(even, other, 0, 0.0, 0, 0.0, place, guess)  # type: ignore[arg-type]
    assert found == pytest.approx((place, place))
    return even.read // 4


def test_a_search_from_the_right_cell_reads_two_nodes_and_no_more_than_bisection_from_afar() -> None:
    for cell in (0, 1, 37, 97):
        assert reads(cell + 0.5, cell) == 2
        assert reads(cell + 0.5, cell + 1) <= 3
    for cell in (3, 50, 96):
        for guess in range(0, 99, 7):
            assert reads(cell + 0.5, guess) <= 2 * (math.log2(1 + abs(cell - guess)) + 2)
