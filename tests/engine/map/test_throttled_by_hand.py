"""The throttled branch of a map, on engines whose steam and effort are straight lines."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from locosim.engine.map import throttled as t
from locosim.engine.map.control_axis import EFFORT_SHARES
from locosim.physics.steam import properties as steam

BOILER = 14e5
RATIO, PASSAGE = 0.8, 0.01


def engine() -> Any:
    """Two groups of cylinders with one area of passage; steam of 3.1 MJ/kg at the pressure of the boiler."""
    return SimpleNamespace(
        steam_temperature=lambda rates: 600.0 + 1e-3 * np.asarray(rates),
        enthalpy=lambda pressures, temperatures: 2.5e6 + 1e3 * temperatures + (pressures - BOILER),
        groups=[SimpleNamespace(group_count=2, passage=PASSAGE)],
        throttle_area_ratio=RATIO,
        min_cutoff=0.2,
    )


def wide(
    efforts: list[float], steams: list[float], pressures: tuple[float, ...] = (6e5, 10e5, BOILER)
) -> t.WideOpen:
    return t.WideOpen(
        pressures=np.array(pressures), speeds=np.array([10.0]), effort=np.array(efforts)[:, None],
        steam=np.array(steams)[:, None],
    )  # fmt: skip


def flow(opening: float, chest: float) -> float:
    """Steam from boiler to chest by Zeuner's ellipse through throttle and passage in series [kg/s]."""
    whole = (
        math.sqrt(1.0 + RATIO**2) * PASSAGE
    )  # wide open throttle whose series with the rest is the passage
    rest = PASSAGE * whole / math.sqrt(whole**2 - PASSAGE**2)
    area = whole * opening * rest / math.hypot(whole * opening, rest)
    n = 1.3
    critical = (2.0 / (n + 1.0)) ** (n / (n - 1.0))
    choked = math.sqrt(n) * (2.0 / (n + 1.0)) ** (0.5 * (n + 1.0) / (n - 1.0))
    share = min((1.0 - chest / BOILER) / (1.0 - critical), 1.0)
    density = steam.density_at_enthalpy(pressure=BOILER, enthalpy=3.1e6)
    return 2.0 * area * choked * math.sqrt(BOILER * density * share * (2.0 - share))


@pytest.mark.parametrize(
    ("efforts", "steams", "chests", "rates"),
    [
        # in straight lines over the points of lower pressure, and on below the least: shares 0.10, 0.40, 0.78 of 100
        ([20.0, 60.0, 100.0], [0.4, 1.0, 1.8], [5.0, 8.0, 11.8], [0.25, 0.7, 1.36]),
        # points without effort do not count
        ([-5.0, 20.0, 100.0], [0.3, 0.5, 1.8], [9.5, 11.0, 12.9], [0.3375, 0.825, 1.4425]),
        # of one alone: two tenths of its steam and four of its pressure are taken for no effort
        ([-5.0, 0.0, 100.0], [0.3, 0.5, 1.8], [0.46 * 14, 0.64 * 14, 0.868 * 14], [0.504, 0.936, 1.4832]),
        # no less than 0.03 of the steam, and a tenth of the pressure
        ([60.0, 80.0, 100.0], [0.1, 1.0, 1.8], [1.4, 2.0, 9.6], [0.054, 0.054, 0.91]),
    ],
)  # fmt: skip
def test_openings_let_the_steam_through_that_an_effort_takes(
    efforts: list[float], steams: list[float], chests: list[float], rates: list[float]
) -> None:
    found, openings = t._estimates(engine(), wide(efforts, steams), 2, 0)
    assert found == pytest.approx(rates)
    for opening, chest, rate in zip(openings, chests, rates, strict=True):
        if opening < 0.999:
            assert flow(float(opening), chest * 1e5) == pytest.approx(rate, rel=2e-3)
        else:
            assert flow(1.0, chest * 1e5) <= rate * 1.001


def test_a_chest_is_never_within_half_a_per_cent_of_the_boiler() -> None:
    """Points at nearly the same pressure would ask for no drop at all."""
    _, openings = t._estimates(engine(), wide([10.0, 100.0], [0.002, 0.02], (0.999 * BOILER, BOILER)), 1, 0)
    assert flow(float(openings[2]), 0.995 * BOILER) == pytest.approx(0.02 * 0.78, rel=0.05)


def straight_line(monkeypatch: pytest.MonkeyPatch, at: t.WideOpen) -> dict[str, Any]:
    """An engine with steam 0.2 + 0.8 of the effort, and openings by (steam)² (1/opening² - 1) = 3 (1 - share)."""
    asked: dict[str, Any] = {}
    shares = np.array([0.10, 0.40, 0.78])
    parts = 0.2 + 0.8 * shares

    def estimates(_: Any, over: t.WideOpen, i: int, j: int) -> tuple[np.ndarray, np.ndarray]:
        asked.setdefault("cells", []).append((i, j))
        return parts * over.steam[i, j], 1.0 / np.sqrt(1.0 + 3.0 * (1.0 - shares) / parts**2)

    def points(_: Any, **given: Any) -> Any:
        asked.update(given)
        cells = asked["cells"]
        return SimpleNamespace(
            effort=np.array([shares * at.effort[c] for c in cells]),
            steam=np.array([parts * at.steam[c] for c in cells]),
        )

    monkeypatch.setattr(t, "_estimates", estimates)
    monkeypatch.setattr(t, "operating_points", points)
    return asked


def test_a_line_is_scaled_to_effort_steam_and_pressure_of_each_point(monkeypatch: pytest.MonkeyPatch) -> None:
    over = t.WideOpen(
        pressures=np.array([6e5, 10e5, 14e5]), speeds=np.array([1.0, 5.0]),
        effort=np.array([[2.1, 2.0], [70.0, 50.0], [100.0, 80.0]]),
        steam=np.array([[0.5, 0.9], [0.8, 1.2], [1.0, 1.8]]),
    )  # fmt: skip
    asked = straight_line(monkeypatch, over)
    line = t.throttling_line(engine(), over)
    # a point with two per cent of the largest effort is not throttled any further
    assert asked["cells"] == [(0, 0), (1, 0), (1, 1), (2, 0), (2, 1)]
    assert asked["cutoffs"] == 0.2
    assert asked["omit_unclosed"] is True
    assert asked["speeds"].ravel().tolist() == [1.0, 1.0, 5.0, 1.0, 5.0]
    assert asked["pressures"].ravel().tolist() == [6e5, 10e5, 10e5, 14e5, 14e5]
    # at the temperature of the steam of each
    parts = 0.2 + 0.8 * np.array([0.10, 0.40, 0.78])
    rates = np.array([over.steam[cell] * parts for cell in asked["cells"]])
    assert asked["temperatures"] == pytest.approx(600.0 + 1e-3 * rates, abs=1e-9)
    nodes = np.array(EFFORT_SHARES)
    for i, j in ((0, 0), (1, 0), (1, 1), (2, 0), (2, 1)):
        assert line.saving[i, j] == pytest.approx(
            np.full(len(nodes), 0.8 * over.steam[i, j] / over.effort[i, j])
        )
        closing = (over.steam[i, j] / over.pressures[i]) ** 2 * 3.0 * (1.0 - nodes)
        assert line.closing[i, j] == pytest.approx(closing, abs=1e-20)
    # that point has the line of the next higher pressure
    assert line.saving[0, 1] == pytest.approx(line.saving[1, 1])
    assert line.closing[0, 1] == pytest.approx(line.closing[1, 1])


def test_a_line_of_some_pressures_and_speeds(monkeypatch: pytest.MonkeyPatch) -> None:
    over = t.WideOpen(
        pressures=np.array([6e5, 10e5, 14e5]), speeds=np.array([1.0, 5.0, 9.0]),
        effort=np.full((3, 3), 50.0), steam=np.full((3, 3), 1.0),
    )  # fmt: skip
    asked = straight_line(monkeypatch, over)
    line = t.throttling_line(engine(), over, rows=(1, 2), columns=(0, 2))
    assert asked["cells"] == [(1, 0), (1, 2), (2, 0), (2, 2)]
    assert line.pressures.tolist() == [10e5, 14e5]
    assert line.speeds.tolist() == [1.0, 9.0]
    assert line.saving.shape == line.closing.shape == (2, 2, len(EFFORT_SHARES))
    # an engine without any effort has no line
    none = t.WideOpen(pressures=over.pressures, speeds=over.speeds, effort=np.zeros((3, 3)), steam=over.steam)
    empty = t.throttling_line(engine(), none)
    assert np.all(empty.saving == 0.0)
    assert np.all(empty.closing == 0.0)


def test_a_curved_line_is_carried_by_a_parabola() -> None:
    shares, nodes = np.array([0.10, 0.40, 0.78]), np.array(EFFORT_SHARES)

    def saved(x: np.ndarray) -> np.ndarray:
        return 0.5 + 0.3 * x + 0.2 * x**2

    saving, _ = t._fitted(shares, 1.0 - (1.0 - shares) * saved(shares), np.array([0.05, 0.2, 0.5]))
    assert saving == pytest.approx(saved(nodes))
    # two that differ by less than a thousandth of the effort count as one
    few = np.array([0.1, 0.10105, 0.5])
    assert np.all(np.isfinite(t._fitted(few, 1.0 - (1.0 - few) * saved(few), np.array([0.05, 0.2, 0.5]))[0]))


def test_nothing_is_filled_from_a_lower_pressure() -> None:
    nan = math.nan
    values = np.array([[[7.0], [nan]], [[nan], [nan]], [[nan], [nan]]])
    found = t._filled(values, np.array([2.0, 3.0]))[..., 0].tolist()
    assert found == [[7.0, 10.5], [0.0, 0.0], [0.0, 0.0]]


def test_a_table_is_resampled_by_cubic_splines() -> None:
    from scipy.interpolate import CubicSpline

    draw = np.random.default_rng(3)
    pressures, speeds = np.array([1.0, 1.5, 2.5, 3.0, 4.5, 6.0]), np.array([0.0, 1.0, 4.0, 5.0, 9.0, 12.0])
    values = draw.random((6, 6, 2))
    to = (np.array([0.5, 1.2, 5.0, 7.0]), np.array([-1.0, 3.3, 11.0, 40.0]))
    found = t._resampled(values, (pressures, speeds), to)
    first = CubicSpline(pressures, values, axis=0)(np.clip(to[0], 1.0, 6.0))
    assert found == pytest.approx(CubicSpline(speeds, first, axis=1)(np.clip(to[1], 0.0, 12.0)))
