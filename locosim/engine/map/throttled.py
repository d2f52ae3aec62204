"""Throttled branch of the performance map: light efforts, with the throttle eased at the shortest cutoff.

Below the effort of the shortest cutoff, the throttle sets the effort. The nodes of the branch are shares of the
effort at the shortest cutoff with the throttle wide open; each has its steam and its throttle opening. By the cycle
both come from operating points computed with the throttle partly open. Plotted over effort, steam is nearly a
straight line (Willans); so what is carried from the points computed to the nodes of the map is the steam saved over
the effort given up, which hardly changes with pressure and effort and goes nearly in a straight line with speed.

The node without effort stands for drifting, with the throttle shut. Between it and the next node steam is
interpolated, as if the throttle were opened and shut in turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.interpolate import make_interp_spline

from locosim.compiled import in_python
from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.operating_points import operating_points, throttled_area
from locosim.engine.map.control_axis import EFFORT_SHARES
from locosim.frozen import frozen
from locosim.physics.steam import properties as steam_properties
from locosim.physics.steam.nozzle_flow import (
    SUPERHEATED_EXPONENT,
    choked_flow_number,
    critical_ratio,
    ellipse_flow,
)
from locosim.physics.types import Floats

COMPUTED_SHARES = (0.10, 0.40, 0.78)  # aimed at in the points computed
MIN_WORKING_SHARE = 0.02  # of the largest effort: less at the shortest cutoff is not throttled any further
MIN_STEAM_SHARE = 0.03  # least first estimate of throttled steam, over that wide open
_OPENINGS = np.geomspace(1e-4, 1.0, 400)


class ThrottledNodes(NamedTuple):
    """Nodes of the throttled branch, each of shape (pressures, speeds, shares)."""

    effort: Floats  # indicated, at the rim [N]
    steam: Floats  # to the cylinders [kg/s]
    throttles: Floats  # throttle opening [1]


@frozen(eq=False)
class WideOpen:
    """The shortest cutoff with the throttle wide open, at the points computed.

    Attributes:
        pressures: Absolute boiler pressures [Pa].
        speeds: Train speeds [m/s].
        effort: Indicated tractive effort, shape (pressures, speeds) [N].
        steam: Steam to the cylinders, same shape [kg/s].
    """

    pressures: Floats
    speeds: Floats
    effort: Floats
    steam: Floats


@frozen(eq=False)
class ThrottlingLine:
    """How steam and throttle opening go with effort, at the points computed and at `EFFORT_SHARES`.

    Attributes:
        pressures: Absolute boiler pressures [Pa].
        speeds: Train speeds [m/s].
        saving: Steam saved over indicated effort given up, from wide open to the share; shape (pressures, speeds,
            shares) [kg/(s N)].
        closing: (steam over boiler pressure)² (1/opening² - 1), same shape [(kg/(s Pa))²].
    """

    pressures: Floats
    speeds: Floats
    saving: Floats
    closing: Floats

    def nodes(
        self, *, pressures: Floats, speeds: Floats, effort: Floats, steam: Floats, rest_steam: Floats
    ) -> ThrottledNodes:
        """Nodes of the branch on the axes of a map.

        Args:
            pressures: Absolute boiler pressures [Pa].
            speeds: Train speeds, the first standing for rest [m/s].
            effort: Effort at the shortest cutoff with the throttle wide open, shape (pressures, speeds) [N].
            steam: Steam there, same shape; in the row at rest that of its speed [kg/s].
            rest_steam: Steam at rest, shape (pressures,) [kg/s].
        """
        shares = np.array(EFFORT_SHARES)
        saving, closing = (
            _resampled(values, (self.pressures, self.speeds), (pressures, speeds))
            for values in (self.saving, self.closing)
        )
        wide, given_up = steam[:, :, None], effort[:, :, None] * (1.0 - shares)
        found = np.clip(wide - np.maximum(saving, 0.0) * given_up, 0.0, wide)
        at_rest = rest_steam / np.maximum(steam[:, 0], 1e-12)
        found[:, 0] *= at_rest[:, None]
        found = np.maximum.accumulate(found, axis=2)
        shut = pressures[:, None, None] ** 2 * np.maximum(closing, 0.0)
        opening = found / np.sqrt(np.maximum(found**2 + shut, 1e-24))
        return ThrottledNodes(
            effort=effort[:, :, None] * shares,
            steam=found,
            throttles=np.maximum.accumulate(np.clip(opening, 0.0, 1.0), axis=2),
        )


def throttling_line(
    engine: CycleLayout,
    wide: WideOpen,
    *,
    rows: Sequence[int] | None = None,
    columns: Sequence[int] | None = None,
) -> ThrottlingLine:
    """Compute the engine with the throttle partly open at its shortest cutoff.

    Args:
        engine: The engine laid out.
        wide: The same wide open.
        rows: Indices of the pressures to compute; None for all.
        columns: Indices of the speeds to compute; None for all.

    Returns:
        The line; where the shortest cutoff gives hardly any effort, that of the next higher pressure or lower speed.
    """
    some_rows = list(range(len(wide.pressures)) if rows is None else rows)
    some_columns = list(range(len(wide.speeds)) if columns is None else columns)
    least = MIN_WORKING_SHARE * float(np.max(wide.effort))
    cells = [(i, j) for i in some_rows for j in some_columns if wide.effort[i, j] > least]
    shape = (len(wide.pressures), len(wide.speeds), len(EFFORT_SHARES))
    saving, closing = np.full(shape, np.nan), np.full(shape, np.nan)
    if cells:
        estimates = np.array([_estimates(engine, wide, i, j) for i, j in cells])
        steam_rates, openings = estimates[:, 0], estimates[:, 1]
        pressures = np.array([wide.pressures[i] for i, _ in cells])[:, None]
        speeds = np.array([wide.speeds[j] for _, j in cells])[:, None]
        found = operating_points(
            engine,
            speeds=speeds,
            cutoffs=engine.min_cutoff,
            pressures=pressures,
            throttle=openings,
            temperatures=engine.steam_temperature(steam_rates),
            omit_unclosed=True,  # the line goes through the others
        )
        for n, (i, j) in enumerate(cells):
            saving[i, j], closing[i, j] = _fitted(
                found.effort[n] / wide.effort[i, j],
                found.steam[n] / wide.steam[i, j],
                openings[n],
            )
            saving[i, j] *= wide.steam[i, j] / wide.effort[i, j]
            closing[i, j] *= (wide.steam[i, j] / wide.pressures[i]) ** 2
    at = np.ix_(some_rows, some_columns)
    return ThrottlingLine(
        pressures=wide.pressures[some_rows],
        speeds=wide.speeds[some_columns],
        saving=_filled(saving[at], wide.speeds[some_columns]),
        closing=_filled(closing[at], np.ones(len(some_columns))),
    )


def _estimates(engine: CycleLayout, wide: WideOpen, i: int, j: int) -> tuple[Floats, Floats]:
    """Steam [kg/s] and throttle openings [1] that give about `COMPUTED_SHARES` of the effort wide open.

    A throttled engine works as one of lower boiler pressure: the wide-open points of lower pressure show the
    chest pressure and the steam of an effort.
    """
    working = np.flatnonzero(wide.effort[:, j] > 0.0)
    efforts, steams, pressures = (
        values[working] for values in (wide.effort[:, j], wide.steam[:, j], wide.pressures)
    )
    pressure = float(wide.pressures[i])
    if len(working) < 2:
        efforts = np.array([0.0, wide.effort[i, j]])
        steams, pressures = np.array([0.2, 1.0]) * wide.steam[i, j], np.array([0.4, 1.0]) * pressure
    wanted = np.array(COMPUTED_SHARES) * wide.effort[i, j]
    chest, rates = (_carried_on(wanted, efforts, values) for values in (pressures, steams))
    rates = np.maximum(rates, MIN_STEAM_SHARE * wide.steam[i, j])
    chest = np.clip(chest, 0.1 * pressure, 0.995 * pressure)
    temperatures = engine.steam_temperature(rates)
    enthalpies = engine.enthalpy(np.full(len(rates), pressure), temperatures)
    critical = in_python(critical_ratio)(SUPERHEATED_EXPONENT)
    number = in_python(choked_flow_number)(SUPERHEATED_EXPONENT)
    areas = [
        rate
        / in_python(ellipse_flow)(
            pressure,
            steam_properties.density_at_enthalpy(pressure=pressure, enthalpy=float(enthalpy)),
            pressure - low,
            critical,
            number,
        )
        for rate, low, enthalpy in zip(rates, chest, enthalpies, strict=True)
    ]
    whole = sum(group.group_count * throttled_area(engine, group, _OPENINGS) for group in engine.groups)
    return rates, np.interp(areas, np.asarray(whole), _OPENINGS)


def _carried_on(wanted: Floats, efforts: Floats, values: Floats) -> Floats:
    """Interpolate over efforts; below the least of them along the line through the two least."""
    slope = (values[1] - values[0]) / (efforts[1] - efforts[0])
    below = values[0] + slope * (wanted - efforts[0])
    return np.where(wanted < efforts[0], below, np.interp(wanted, efforts, values))


def _fitted(shares: Floats, steam: Floats, openings: Floats) -> tuple[Floats, Floats]:
    """Saving and closing at `EFFORT_SHARES`, over their values wide open; NaN where too few points give power.

    Args:
        shares: Effort over that wide open; NaN without power [1].
        steam: Steam over that wide open [1].
        openings: Throttle openings, rising [1].
    """
    nodes = np.array(EFFORT_SHARES)
    known = np.isfinite(shares) & (shares > 0.0) & (shares < 0.99)
    known[1:] &= np.diff(np.maximum.accumulate(np.nan_to_num(shares))) > 1e-3
    if np.count_nonzero(known) < 2:
        return np.full(len(nodes), np.nan), np.full(len(nodes), np.nan)
    x, y = shares[known], steam[known]
    order = min(2, len(x) - 1)
    saving = make_interp_spline(x, (1.0 - y) / (1.0 - x), k=order)(nodes)
    shut = y**2 * (1.0 / openings[known] ** 2 - 1.0)
    closing = make_interp_spline([*x, 1.0], [*shut, 0.0], k=2)(nodes)
    return saving, closing


def _filled(values: Floats, speeds: Floats) -> Floats:
    """Fill missing lines from the next higher pressure, then from the next lower speed; 0 where there is none.

    From another speed they go in proportion to `speeds`.
    """
    filled = np.array(values)
    for i in range(filled.shape[0] - 2, -1, -1):
        filled[i] = np.where(np.isnan(filled[i]), filled[i + 1], filled[i])
    for j in range(1, filled.shape[1]):
        carried = filled[:, j - 1] * speeds[j] / speeds[j - 1]
        filled[:, j] = np.where(np.isnan(filled[:, j]), carried, filled[:, j])
    return np.nan_to_num(filled)


def _resampled(values: Floats, nodes: tuple[Floats, Floats], wanted: tuple[Floats, Floats]) -> Floats:
    """Resample the first two axes by cubic splines; beyond the nodes the nearest value applies."""
    for axis, (at, to) in enumerate(zip(nodes, wanted, strict=True)):
        if len(at) == 1:
            values = np.repeat(values, len(to), axis)
        else:
            order = min(3, len(at) - 1)
            values = make_interp_spline(at, values, k=order, axis=axis)(np.clip(to, at[0], at[-1]))
    return np.asarray(values)
