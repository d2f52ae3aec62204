"""Driving with the least fuel for the same times: dynamic programming on distance and speed, section by section.

The plan is found with constant boiler pressure on a mesh coarser than that of the run, as a speed and a share of full
effort along the section. It is then driven like any plan: steam up to the speed of the plan, shut off where it coasts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY
from locosim.journey.kernel.arrays import InitialState, Line
from locosim.journey.kernel.effort_tables import fill_effort_tables
from locosim.journey.kernel.least_cost import Choices, drive, fill_values
from locosim.journey.setup.easing import Section
from locosim.journey.setup.prepare import PreparedRun
from locosim.journey.timetable import CLIMB_RESERVE, SectionSearch
from locosim.physics.types import Floats

SPEEDS = 160  # of the axis of speed
SHARES = 24  # of full effort, in the table of fuel
MAX_LENGTH = 100.0  # longest step of the plan [m]
LENGTH_GROWTH = 0.2  # longest step over the distance from the stop before
ENVELOPE_TOLERANCE = 0.01  # by which the limit may lie below a straight line within a step, over the limit
CLIMB_GRADE = 0.001  # from which the floor of speed applies [1]
# Price of time over the firing rate that makes the sustained evaporation: at ease 0 and at ease 1.
PRICES = (20.0, 0.01)
FULL, SHUT = 0.995, 0.005  # shares of full effort that count as full and as shut
# Shortest full effort or coasting of a crew, each tried: where the plan has shorter ones, one speed is held [m]. Ours:
# half a minute at 45 mph, so that nobody works the throttle every quarter of a mile.
SHORTEST_TASKS = (600.0, 800.0, 1000.0)
BELOW_COASTING = 0.64  # of v²/2 of the plan, up to which steam is used where it coasts: 0.8 of its speed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanMesh:
    """Steps of the plan.

    Attributes:
        nodes: Nodes of the section that are nodes of the plan, shape (n + 1,).
        choices: What the kernel of the dynamic programming reads.
    """

    nodes: npt.NDArray[np.int64]
    choices: Choices


def plan_mesh(prepared: PreparedRun, section: Section) -> PlanMesh:
    """Build the steps of the plan of a section, with tables of effort and fuel.

    Args:
        prepared: The run, with steady pressure.
        section: The section.
    """
    line = section.line
    kinds, rows = _kinds(line)
    nodes = _plan_nodes(line, kinds)
    speed_step = 1.02 * math.sqrt(2.0 * float(np.max(line.envelope))) / (SPEEDS - 1)
    resistance, effort = np.zeros((2, len(rows), SPEEDS))
    fuel = np.zeros((len(rows), SPEEDS, SHARES + 1))
    for row, step in enumerate(rows):
        fill_effort_tables(
            line, prepared.load, prepared.engine, prepared.boiler, step, section.contents, speed_step,
            resistance[row], effort[row], fuel[row],
        )  # fmt: skip
    length = np.diff(line.distance)
    slope = line.gravity + line.curve + section.contents * GRAVITY * line.grade
    mean_slope = np.add.reduceat(slope * length, nodes[:-1]) / np.diff(line.distance[nodes])
    inertia = prepared.load.mass + prepared.load.rotating + section.contents + line.helper_mass[nodes[:-1]]
    return PlanMesh(
        nodes=nodes,
        choices=Choices(
            length=np.diff(line.distance[nodes]),
            top=line.envelope[nodes],
            floor=_floor(prepared, line, mean_slope / (inertia * GRAVITY), nodes),
            slope=mean_slope,
            inertia=inertia,
            row=kinds[nodes[:-1]],
            speed_step=speed_step,
            resistance=resistance,
            effort=np.maximum(effort, 1.0),
            rate=fuel,
        ),
    )


def _kinds(line: Line) -> tuple[npt.NDArray[np.int8], list[int]]:
    """Kind of each step, and one step of each kind: adhesion, longest cutoff, steam and helpers are alike."""
    columns = np.column_stack([line.adhesion, line.max_cutoff, line.steam_share, line.helper_row])
    _, first, kinds = np.unique(columns, axis=0, return_index=True, return_inverse=True)
    return kinds.ravel().astype(np.int8), first.tolist()


def _plan_nodes(line: Line, kinds: npt.NDArray[np.int8]) -> npt.NDArray[np.int64]:
    """Nodes of the plan: as far apart as kind of step, limit and the start from rest allow."""
    distance, limit = line.distance - line.distance[0], line.envelope
    last = len(distance) - 1
    nodes = [0]
    while nodes[-1] < last:
        a = nodes[-1]
        b = a + 1
        longest = min(MAX_LENGTH, max(distance[b] - distance[a], LENGTH_GROWTH * distance[a]))
        while (
            b < last
            and distance[b + 1] - distance[a] <= longest
            and kinds[b] == kinds[a]
            and _straight(distance, limit, a, b + 1)
        ):
            b += 1
        nodes.append(b)
    return np.array(nodes)


def _straight(distance: Floats, limit: Floats, a: int, b: int) -> bool:
    """Whether the limit between two nodes is not below the straight line between theirs."""
    middle = (a + b) // 2
    part = (distance[middle] - distance[a]) / (distance[b] - distance[a])
    between = limit[a] + part * (limit[b] - limit[a])
    return bool(limit[middle] >= (1.0 - ENVELOPE_TOLERANCE) * between)


def _floor(prepared: PreparedRun, line: Line, grade: Floats, nodes: npt.NDArray[np.int64]) -> Floats:
    """v²/2 below which only full effort is used: on climbs, the reserve of an eased train [J/kg]."""
    least = 0.5 * (CLIMB_RESERVE * prepared.excursion.criteria.min_climbing_speed) ** 2
    climbing = np.concatenate([grade > CLIMB_GRADE, [False]])
    floor: Floats = np.where(climbing, np.minimum(least, 0.9 * line.envelope[nodes]), 0.0)
    return floor


class LeastFuelSearch(SectionSearch):
    """Search for the driving with the least fuel that is on time; its ease goes by the price of time.

    Attributes:
        shortest_task: Shortest full effort or coasting between others: where the plan has shorter ones, as no crew
            opens and shuts the throttle every quarter of a mile, one speed is held [m].
    """

    shortest_task: ClassVar[float] = SHORTEST_TASKS[0]

    def __init__(self, prepared: PreparedRun, section: Section, start: InitialState) -> None:
        self._mesh = plan_mesh(prepared, section)
        self._values = np.zeros((len(self._mesh.nodes), SPEEDS))
        self._lines: dict[float, Line] = {}
        super().__init__(prepared, section, start)

    def line(self, ease: float) -> Line:
        """Line of the section with the plan of least fuel at a price of time; full effort at ease 0."""
        if ease <= 0.0:
            return self._section.line
        if ease not in self._lines:
            self._lines[ease] = self._planned(ease)
        return self._lines[ease]

    def _planned(self, ease: float) -> Line:
        high, low = PRICES
        price = self._prepared.boiler.max_firing * high * (low / high) ** ease
        choices, nodes, line = self._mesh.choices, self._mesh.nodes, self._section.line
        energies, shares = np.zeros(len(nodes)), np.zeros(len(nodes) - 1)
        fill_values(choices, price, self._values)
        reached, _, _ = drive(choices, price, self._values, energies, shares)
        if reached < len(nodes) - 1:
            return line  # the plan does not get through: full effort decides
        return line._replace(shutoff=_shutoff(line, nodes, (energies, shares), self.shortest_task))

    def _reach_climbs(self) -> None:
        """The plan keeps its climbs by a floor of speed."""

    def _keep_climbs(self, ease: float) -> None:
        """The plan keeps its climbs by a floor of speed."""


def least_fuel_search(shortest_task: float) -> type[LeastFuelSearch]:
    """The search with a shortest task of its own; 0 alternates steam and coasting as often as saves fuel."""

    class Search(LeastFuelSearch):
        pass

    Search.shortest_task = shortest_task
    return Search


def _shutoff(
    line: Line, nodes: npt.NDArray[np.int64], plan: tuple[Floats, Floats], shortest: float
) -> Floats:
    """v²/2 up to which the engineer uses steam at each node: the speed of the plan, less where it coasts.

    Args:
        line: The line of the section.
        nodes: Nodes of the plan.
        plan: v²/2 at these nodes, and shares of full effort between them.
        shortest: Shortest full effort or coasting between others [m].
    """
    energies, shares = plan
    distance = line.distance
    planned = np.interp(distance, distance[nodes], energies)
    used = np.repeat(shares, np.diff(nodes))
    full, shut = (_long_runs(mask, distance, shortest) for mask in (used >= FULL, used <= SHUT))
    held = ~(full | shut)
    aim = np.where(held, _mean_around(planned, distance, shortest)[1:], planned[1:])
    aim[full] = np.inf
    aim[shut] *= BELOW_COASTING
    shutoff: Floats = np.minimum(np.concatenate([planned[:1], aim]), line.envelope)
    return shutoff


def _long_runs(mask: npt.NDArray[np.bool_], distance: Floats, shortest: float) -> npt.NDArray[np.bool_]:
    """The steps of a mask that belong to a stretch of some length, or to one at the beginning or end."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    kept = np.zeros(len(mask), dtype=bool)
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        at_end = first == 0 or last == len(mask)
        kept[first:last] = at_end or distance[last] - distance[first] >= shortest
    return kept


def _mean_around(values: Floats, distance: Floats, span: float) -> Floats:
    """Mean of values at nodes over a span around each node."""
    if span <= 0.0:
        return values
    total = np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(distance))])
    low = np.maximum(distance - 0.5 * span, distance[0])
    high = np.minimum(distance + 0.5 * span, distance[-1])
    mean: Floats = (np.interp(high, distance, total) - np.interp(low, distance, total)) / (high - low)
    return mean
