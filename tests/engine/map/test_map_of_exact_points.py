"""A map made of points whose effort and steam are polynomials, which splines carry over without error."""

from __future__ import annotations

from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.speed_range import max_cycle_speed, min_cycle_speed
from locosim.engine.map import from_cycle, two_speed
from locosim.engine.map.control_axis import EFFORT_SHARES
from locosim.engine.map.starting_figures import StartingFigures
from locosim.engine.map.throttled import ThrottlingLine, WideOpen
from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Locomotive

SIMPLE, WET = trials.locomotive(), trials.locomotive(superheater=False)
GAUGE = SIMPLE.boiler.working_pressure_gauge
FIRST = len(EFFORT_SHARES)
START = StartingFigures(1.03, (0.45, 0.55), 0.77, 123.0)


def effort_at(p: np.ndarray, v: np.ndarray, c: np.ndarray) -> np.ndarray:
    return (1e4 + 0.1 * p) * (0.3 + 2.0 * c - c**2) * (1.0 - v / 200.0)


def steam_at(p: np.ndarray, v: np.ndarray, c: np.ndarray) -> np.ndarray:
    return p / 1e6 * (0.1 + 0.05 * v) * (c + 0.1)


def back_at(p: np.ndarray, v: np.ndarray, c: np.ndarray) -> np.ndarray:
    return 1e3 + 50.0 * v**2 * c + 0.0 * p


def layout(locomotive: Locomotive) -> Any:
    return SimpleNamespace(
        locomotive=locomotive, min_cutoff=0.15, max_cutoff=0.83, notes=("a note",), design_steam_rate=2.5,
        steam_temperature=lambda steam: 500.0 + 40.0 * steam,
    )  # fmt: skip


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> dict[str, list[Any]]:
    """What is asked of the cycle and of the throttle; with it eased nothing is saved."""
    seen: dict[str, list[Any]] = {"points": [], "lines": []}

    def points(_: Any, **given: Any) -> Any:
        p, v, c = np.broadcast_arrays(given["pressures"], given["speeds"], given["cutoffs"])
        seen["points"].append(given)
        return SimpleNamespace(
            effort=effort_at(p, v, c), steam=steam_at(p, v, c), back_pressure=back_at(p, v, c)
        )

    def line(_: Any, wide: WideOpen, **given: Any) -> ThrottlingLine:
        seen["lines"].append((wide, given))
        none = np.zeros((1, 1, FIRST))
        return ThrottlingLine(pressures=wide.pressures[:1], speeds=wide.speeds[:1], saving=none, closing=none)

    modules: tuple[ModuleType, ...] = (from_cycle, two_speed)
    for module in modules:
        monkeypatch.setattr(module, "operating_points", points)
        monkeypatch.setattr(module, "throttling_line", line)
        monkeypatch.setattr(module, "starting_figures", lambda _: START)
    return seen


def test_a_map_has_the_effort_and_steam_of_its_points(asked: dict[str, list[Any]]) -> None:
    engine = layout(SIMPLE)
    found = from_cycle.build_map(engine)
    slow, top = min_cycle_speed(SIMPLE), max_cycle_speed(SIMPLE)
    assert found.pressures == pytest.approx(ATMOSPHERE + GAUGE * np.linspace(0.35, 1.05, 8))
    assert found.speeds == pytest.approx(np.linspace(0.0, top, 49))
    assert found.cutoffs == pytest.approx([*[0.15] * FIRST, *np.linspace(0.15, 0.83, 29)])
    p = found.pressures[:, None, None]
    v = np.maximum(found.speeds, slow)[None, :, None]  # at rest the effort of a slow turn
    c = np.linspace(0.15, 0.83, 29)[None, None, :]
    assert found.effort[:, :, FIRST:] == pytest.approx(effort_at(p, v, c), rel=1e-6)
    at_rest = np.where(found.speeds[None, :, None] == 0.0, 0.0, v)  # steam goes on to rest in a straight line
    assert found.steam[:, :, FIRST:] == pytest.approx(steam_at(p, at_rest, c), rel=1e-6)
    assert found.back_pressure[:, :, FIRST:] == pytest.approx(back_at(p, v, c), rel=1e-6)
    # with the throttle eased no steam is saved, nor at rest
    shares = np.array(EFFORT_SHARES)
    assert found.effort[:, :, :FIRST] == pytest.approx(effort_at(p, v, c[:, :, :1]) * shares, rel=1e-6)
    shortest = np.broadcast_to(steam_at(p, at_rest, c[:, :, :1]), (8, 49, FIRST))
    assert found.steam[:, :, :FIRST] == pytest.approx(shortest, rel=1e-6)
    assert np.all(found.throttles == 1.0)
    assert (found.peak_effort_ratio, found.unit_effort_shares) == (1.03, (0.45, 0.55))
    assert (found.min_starting_effort_ratio, found.live_steam_starting_effort) == (0.77, 123.0)
    assert found.notes == ("a note",)


@pytest.mark.parametrize("engine", [SIMPLE, WET], ids=["superheated", "saturated"])
def test_points_are_computed_at_their_steam_temperature(
    engine: Locomotive, asked: dict[str, list[Any]]
) -> None:
    from_cycle.build_map(layout(engine))
    *coarse, whole = asked["points"]
    ends = (whole["speeds"].min(), whole["speeds"].max())
    assert ends == pytest.approx((min_cycle_speed(engine), max_cycle_speed(engine)))
    # closer together at low speed and short cutoff; pressures evenly
    for name, axis, power in (("pressures", 0, 1.0), ("speeds", 1, 1.5), ("cutoffs", 2, 1.3)):
        at = np.moveaxis(whole[name], axis, 0)[:, 0, 0]
        assert np.all(np.moveaxis(whole[name], axis, 0) == at[:, None, None])
        part = np.linspace(0.0, 1.0, len(at)) ** power
        assert at == pytest.approx(at[0] + (at[-1] - at[0]) * part)
    steam = steam_at(whole["pressures"], whole["speeds"], whole["cutoffs"])
    expected = 500.0 + 40.0 * steam if coarse else np.full(steam.shape, 600.0)
    assert whole["temperatures"] == pytest.approx(expected, rel=1e-6)
    assert len(coarse) == (engine is SIMPLE)
    for first in coarse:
        assert first["steps"] == from_cycle.COARSE_STEPS
        assert first["speeds"].size < whole["speeds"].size / 5
    # the throttled branch is computed from the points at the shortest cutoff, at some of the speeds
    ((wide, given),) = asked["lines"]
    p, v = whole["pressures"][:, :, 0], whole["speeds"][:, :, 0]
    assert wide.pressures == pytest.approx(p[:, 0])
    assert wide.speeds == pytest.approx(v[0])
    assert wide.effort == pytest.approx(effort_at(p, v, np.array(0.15)))
    assert wide.steam == pytest.approx(steam_at(p, v, np.array(0.15)))
    columns = given["columns"]
    assert columns[0] == 0
    assert columns[-1] == len(wide.speeds) - 1
    assert list(columns) == sorted(set(columns))


def test_a_map_of_two_speeds(asked: dict[str, list[Any]]) -> None:
    assumed = Assumptions(machine_friction_share=0.07)
    found = two_speed.two_speed_map(layout(SIMPLE), 12.0, assumed)
    working, slow = SIMPLE.boiler.absolute_pressure, min_cycle_speed(SIMPLE)
    assert found.pressures == pytest.approx([0.9 * working, working])
    assert found.speeds.tolist() == [0.0, 12.0]
    assert found.cutoffs == pytest.approx([*[0.15] * FIRST, *np.linspace(0.15, 0.83, 29)])
    p, v = found.pressures[:, None, None], np.array([slow, 12.0])[None, :, None]
    c = np.linspace(0.15, 0.83, 29)[None, None, :]
    for table, exact in (
        (found.effort, effort_at), (found.steam, steam_at), (found.back_pressure, back_at),
    ):  # fmt: skip
        assert table[:, :, FIRST:] == pytest.approx(exact(p, v, c), rel=1e-6)
    shares = np.array(EFFORT_SHARES)
    assert found.effort[:, :, :FIRST] == pytest.approx(effort_at(p, v, c[:, :, :1]) * shares, rel=1e-6)
    ((wide, given),) = asked["lines"]
    assert given == {"rows": (1,), "columns": (1,)}
    assert wide.effort == pytest.approx(effort_at(p, v, c[:, :, :1])[:, :, 0], rel=1e-6)
    assert wide.steam == pytest.approx(steam_at(p, v, c[:, :, :1])[:, :, 0], rel=1e-6)
    assert (wide.pressures.tolist(), wide.speeds.tolist()) == (found.pressures.tolist(), [slow, 12.0])
    assert found.method == "cycle"
    assert found.friction == machine_friction_at_no_effort(SIMPLE, assumed)
    assert found.friction_share == 0.07
    assert (found.peak_effort_ratio, found.unit_effort_shares) == (1.03, (0.45, 0.55))
    assert (found.min_starting_effort_ratio, found.live_steam_starting_effort) == (0.77, 123.0)
    for speed in (2.0 * slow, 0.0):
        with pytest.raises(OutOfRange, match=rf"speed must be above {2.0 * slow:.2f} m/s .* mph\), found"):
            two_speed.two_speed_map(layout(SIMPLE), speed)
    two_speed.two_speed_map(layout(SIMPLE), 2.0001 * slow)
