"""Performance map: indicated tractive effort and steam over boiler pressure, speed, and throttle and cutoff."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locosim.compiled import in_python
from locosim.engine.map.interpolation import (
    Cells,
    MapGrid,
    Setting,
    cell_of,
    cutoff_cell,
    find_setting,
    max_effort,
    value_at_node,
)
from locosim.engine.si_text import format_force, format_speed
from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.physics.traction.machine_friction import machine_friction
from locosim.physics.types import Floats, Real


def outside_map_error(name: str, value: float, first: float, last: float) -> OutOfRange:
    """Error for a value outside the map.

    Args:
        name: What it is: speed, cutoff or pressure.
        value: The value [m/s, 1 or Pa].
        first: Start of the map.
        last: End of the map.
    """
    unit = {"speed": "m/s", "cutoff": "", "pressure": "Pa"}[name]
    low, high, found = (
        format_speed(each) if name == "speed" else f"{each:.4g} {unit}".rstrip()
        for each in (first, last, value)
    )
    fault = Fault(
        name,
        "must lie where the performance map runs from {least} to {most}, found {found}",
        unit,
        {"least": first, "most": last, "found": value},
    )
    return OutOfRange(f"the performance map runs from {low} to {high} in {name}, found {found}", [fault])


@frozen(eq=False)
class PerformanceMap:
    """A grid of operating points, interpolated linearly.

    Along its control axis effort rises: first the throttle opens at the shortest cutoff, then the cutoff lengthens
    with the throttle wide open.

    Attributes:
        method: How the grid was computed: `handbook` or `cycle`.
        pressures: Absolute boiler pressures, evenly spaced [Pa].
        speeds: Train speeds from rest, evenly spaced [m/s].
        cutoffs: Cutoff at each node of the control axis, fraction of stroke; the shortest on the throttled branch,
            evenly spaced beyond it [1].
        throttles: Throttle opening, shape (pressures, speeds, nodes); NaN on the throttled branch by the handbook,
            which knows no passages [1].
        effort: Indicated tractive effort at the rim, same shape [N].
        steam: Steam to the cylinders, same shape; at the first node that of drifting [kg/s].
        back_pressure: In the exhaust passage above atmosphere; by the handbook the mean of the return stroke; same
            shape [Pa].
        peak_effort_ratio: Peak over mean tractive effort at starting, relative to an engine with two cranks at right
            angles, by which adhesion is judged [1].
        unit_effort_shares: Share of each engine unit in the tractive effort [1].
        friction: Machine friction without steam, at the rim [N].
        friction_share: Machine friction added per indicated tractive effort [1].
        min_starting_effort_ratio: Tractive effort at rest at the worst crank angle over the mean tractive effort at
            starting, both indicated, in full gear [1].
        live_steam_starting_effort: Mean indicated tractive effort of a compound started with live steam in its
            low-pressure cylinders; 0 where it has none [N].
    """

    method: str
    pressures: Floats
    speeds: Floats
    cutoffs: Floats
    throttles: Floats
    effort: Floats
    steam: Floats
    back_pressure: Floats
    peak_effort_ratio: float
    unit_effort_shares: tuple[float, ...]
    min_starting_effort_ratio: float
    live_steam_starting_effort: float
    friction: float
    friction_share: float

    @property
    def grid(self) -> MapGrid:
        """The arrays, as the compiled functions use them."""
        return MapGrid(
            pressure_start=float(self.pressures[0]),
            pressure_step=float(self.pressures[1] - self.pressures[0]),
            speed_step=float(self.speeds[1]),
            wide_open=self.wide_open,
            cutoff_start=float(self.cutoffs[0]),
            cutoff_step=float(self.cutoffs[-1] - self.cutoffs[-2]),
            effort=self.effort,
            steam=self.steam,
            throttles=self.throttles,
        )

    @property
    def wide_open(self) -> int:
        """First node of the control axis with the throttle wide open."""
        return int(np.count_nonzero(self.cutoffs == self.cutoffs[0])) - 1

    def with_drifting_steam(self, drifting: float) -> PerformanceMap:
        """The map with the throttle shut at its first node.

        Args:
            drifting: Steam to the cylinders when drifting; where the throttle just open takes less, that applies
                [kg/s].
        """
        steam = np.array(self.steam)
        steam[:, :, 0] = np.minimum(drifting, steam[:, :, 1])
        throttles = np.array(self.throttles)
        throttles[:, :, 0] = 0.0
        return replace(self, steam=steam, throttles=throttles)

    def with_power_factor(self, factor: float) -> PerformanceMap:
        """The map of an engine that needs so much less steam for the same power."""
        return self if factor == 1.0 else replace(self, steam=self.steam / factor)

    @property
    def max_speed(self) -> float:
        """Highest speed of the map [m/s]."""
        return float(self.speeds[-1])

    def friction_at(self, effort: Real) -> Real:
        """Machine friction at the rim [N] at an indicated tractive effort [N], any shape."""
        return machine_friction(at_no_effort=self.friction, thrust_share=self.friction_share, effort=effort)

    def rim_effort(self, effort: Real) -> Real:
        """Tractive effort at the rim after machine friction [N], from the indicated tractive effort [N], any shape."""
        return effort - self.friction_at(effort)

    def indicated_effort(self, rim_effort: Real) -> Real:
        """Indicated tractive effort [N] that leaves a tractive effort at the rim [N], any shape."""
        return (rim_effort + self.friction) / (1.0 - self.friction_share)

    def effort_at(self, *, speed: float, cutoff: float, pressure: float) -> float:
        """Indicated tractive effort at the rim with the throttle wide open [N].

        Args:
            speed: Train speed [m/s].
            cutoff: Fraction of the stroke [1].
            pressure: Absolute boiler pressure [Pa].

        Raises:
            OutOfRange: Outside the map.
        """
        return self._read(self.effort, speed, cutoff, pressure)

    def starting_efforts(self, pressure: float) -> tuple[float, float, bool]:
        """Indicated tractive effort at starting in full gear: mean, and at rest at the worst crank angle [N].

        Args:
            pressure: Absolute boiler pressure [Pa].

        Returns:
            Mean over a slow revolution, worst at rest, and whether low-pressure cylinders have live steam.

        Raises:
            OutOfRange: Outside the map.
        """
        mean = self.effort_at(speed=0.0, cutoff=float(self.cutoffs[-1]), pressure=pressure)
        live_steam = self.live_steam_starting_effort > 0.0
        if live_steam:
            mean = self.live_steam_starting_effort
        return mean, self.min_starting_effort_ratio * mean, live_steam

    def steam_at(self, *, speed: float, cutoff: float, pressure: float) -> float:
        """Steam to the cylinders likewise [kg/s]; arguments and errors as `effort_at`."""
        return self._read(self.steam, speed, cutoff, pressure)

    def back_pressure_at(self, *, speed: float, cutoff: float, pressure: float) -> float:
        """Back pressure above atmosphere likewise [Pa]; arguments and errors as `effort_at`."""
        return self._read(self.back_pressure, speed, cutoff, pressure)

    def setting_for(self, *, effort: float, speed: float, pressure: float) -> Setting:
        """Steam, cutoff and throttle opening for an indicated tractive effort.

        Args:
            effort: Indicated tractive effort at the rim [N].
            speed: Train speed [m/s].
            pressure: Absolute boiler pressure [Pa].

        Returns:
            The setting; the shortest cutoff where the throttle must be eased. By the handbook the throttle is then
            NaN.

        Raises:
            OutOfRange: Outside the map, or more tractive effort than the longest cutoff gives.
        """
        self._check_inside(speed, float(self.cutoffs[-1]), pressure)
        most = self.effort_at(speed=speed, cutoff=float(self.cutoffs[-1]), pressure=pressure)
        if effort > most * (1 + 1e-12):
            raise OutOfRange(
                f"tractive effort must be at most {format_force(most)} at {format_speed(speed)}, "
                f"found {format_force(effort)}"
            )
        begin = Cells(self.wide_open, 0)
        return Setting(*map(float, find_setting(self.grid, pressure, speed, effort, begin)))

    def max_effort(
        self, *, speed: float, pressure: float, steam: float = np.inf, cutoff: float | None = None
    ) -> tuple[float, str]:
        """Largest indicated tractive effort within a steam rate and a cutoff, and its limit.

        Args:
            speed: Train speed [m/s].
            pressure: Absolute boiler pressure [Pa].
            steam: Highest steam rate to the cylinders [kg/s].
            cutoff: Longest cutoff used; None for the longest of the map [1].

        Returns:
            Tractive effort [N], and what limits it: `steam` or `cylinders`.

        Raises:
            OutOfRange: Outside the map.
        """
        longest = float(self.cutoffs[-1]) if cutoff is None else cutoff
        self._check_inside(speed, longest, pressure)
        begin = Cells(self.wide_open, 0)
        effort, steam_limited, _ = max_effort(self.grid, pressure, speed, steam, longest, begin)
        return float(effort), "steam" if steam_limited else "cylinders"

    def _read(self, table: Floats, speed: float, cutoff: float, pressure: float) -> float:
        self._check_inside(speed, cutoff, pressure)
        g = self.grid
        i, fi = in_python(cell_of)(pressure, g.pressure_start, g.pressure_step, len(self.pressures))
        j, fj = in_python(cell_of)(speed, 0.0, g.speed_step, len(self.speeds))
        k, fk = in_python(cutoff_cell)(g, cutoff)
        here, there = (
            in_python(value_at_node)(table, i, fi, j, fj, k),
            in_python(value_at_node)(table, i, fi, j, fj, k + 1),
        )
        return float(here + fk * (there - here))

    def _check_inside(self, speed: float, cutoff: float, pressure: float) -> None:
        """Refuse to read outside the grid."""
        for name, value, axis in (
            ("speed", speed, self.speeds),
            ("cutoff", cutoff, self.cutoffs),
            ("pressure", pressure, self.pressures),
        ):
            slack = 1e-9 * abs(float(axis[-1]))
            if not axis[0] - slack <= value <= axis[-1] + slack:
                raise outside_map_error(name, value, float(axis[0]), float(axis[-1]))
