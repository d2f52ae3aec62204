"""Driving with the least fuel for the same times: dynamic programming on distance and speed, section by section.

The plan is found with constant boiler pressure on a mesh coarser than that of the run, as a speed and a share of full
effort along the section. It is then driven like any plan: steam up to the speed of the plan, shut off where it coasts.

References:
    [Howlett1990], power, hold, coast and brake.
"""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np
import numpy.typing as npt

from locosim.compiled import in_python
from locosim.constants import GRAVITY
from locosim.frozen import frozen
from locosim.journey.kernel.arrays import InitialState, Line
from locosim.journey.kernel.effort_tables import fill_effort_tables, shut_firing
from locosim.journey.kernel.fire import firing_for_steam
from locosim.journey.kernel.least_cost import Choices, drive, fill_values
from locosim.journey.setup.easing import Section, SectionDriving
from locosim.journey.setup.prepare import PreparedRun
from locosim.journey.timetable import CLIMB_RESERVE, SectionSearch
from locosim.physics.types import Floats

SPEEDS = 160  # of the axis of speed
SHARES = 24  # of full effort, in the table of fuel
MAX_LENGTH, LEAST_STEPS = 100.0, 60  # longest step of the plan [m], and least number of its longest steps
LENGTH_GROWTH = 0.2  # longest step over the distance from the stop before
ENVELOPE_TOLERANCE = 0.01  # by which the limit may lie below a straight line within a step, over the limit
STOPPING = 1000.0  # before a stop, where a train may coast below the least climbing speed [m]
# Price of time over the firing rate that makes the sustained evaporation: at ease 0 and at ease 1.
PRICES = (20.0, 0.01)
FULL, SHUT = 0.995, 0.005  # shares of full effort that count as full and as shut
PLANS = 96  # from ease 0 to 1
VALUE_SPACING = 4  # plans between two for which the values are computed
# Time of firing at the rate of the sustained evaporation that opening the throttle shall cost, each tried [s].
OPENING_TIMES = (1.0, 3.0)
BELOW_COASTING = 0.64  # of v²/2 of the plan, up to which steam is used where it coasts: 0.8 of its speed


@frozen(eq=False)
class PlanMesh:
    """Steps of the plan.

    Attributes:
        nodes: Nodes of the section that are nodes of the plan, shape (n + 1,).
        choices: What the kernel of the dynamic programming reads.
    """

    nodes: npt.NDArray[np.int64]
    choices: Choices


def plan_mesh(prepared: PreparedRun, section: Section, opening_time: float) -> PlanMesh:
    """Build the steps of the plan of a section, with tables of effort and fuel.

    Args:
        prepared: The run, with steady pressure.
        section: The section.
        opening_time: Time of firing that opening the throttle shall cost [s].
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
            floor=_floor(prepared, line, nodes),
            slope=mean_slope,
            inertia=inertia,
            row=kinds[nodes[:-1]],
            speed_step=speed_step,
            resistance=resistance,
            effort=np.maximum(effort, 1.0),
            rate=fuel,
            shut_rate=in_python(shut_firing)(prepared.engine, prepared.boiler),
            opening=opening_time * prepared.boiler.max_firing,
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
    most = min(MAX_LENGTH, distance[-1] / LEAST_STEPS)
    nodes = [0]
    while nodes[-1] < last:
        a = nodes[-1]
        b = a + 1
        longest = min(most, max(distance[b] - distance[a], LENGTH_GROWTH * distance[a]))
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


def _floor(prepared: PreparedRun, line: Line, nodes: npt.NDArray[np.int64]) -> Floats:
    """v²/2 below which the train works up speed, but before a stop: the reserve of an eased train on climbs [J/kg]."""
    least = 0.5 * (CLIMB_RESERVE * prepared.excursion.min_climbing_speed) ** 2
    before_stop = line.distance[-1] - line.distance[nodes] < STOPPING
    floor: Floats = np.where(before_stop, 0.0, np.minimum(least, 0.9 * line.envelope[nodes]))
    return floor


@frozen(eq=False)
class SectionPlans:
    """Plans of a section by price of time, from full effort at ease 0 to hardly any hurry at ease 1.

    Plans are made for `PLANS` prices, as they are asked for, from values at every `VALUE_SPACING`th of them: values
    between are interpolated.

    Attributes:
        mesh: Steps of the plan.
        prices: Price of time of each plan [kg/s].
        values: By number of the plan.
        made: v²/2 and shares of full effort of each plan that has been made; None where it does not get through.
    """

    mesh: PlanMesh
    prices: Floats
    values: dict[int, Floats]
    made: dict[int, tuple[Floats, Floats] | None]

    def plan(self, number: int) -> tuple[Floats, Floats] | None:
        """v²/2 at the nodes of a plan and shares of full effort between them; None where it does not get through."""
        if number not in self.made:
            nodes = self.mesh.nodes
            energies, shares = np.zeros(len(nodes)), np.zeros(len(nodes) - 1)
            price = float(self.prices[number])
            reached, _, _ = drive(self.mesh.choices, price, self._values(number), energies, shares)
            self.made[number] = (energies, shares) if reached == len(nodes) - 1 else None
        return self.made[number]

    def _values(self, number: int) -> Floats:
        low = number // VALUE_SPACING * VALUE_SPACING
        if number == low:
            return self._filled(low)
        high = low + VALUE_SPACING
        part = (self.prices[number] - self.prices[low]) / (self.prices[high] - self.prices[low])
        values: Floats = (1.0 - part) * self._filled(low) + part * self._filled(high)
        return values

    def _filled(self, number: int) -> Floats:
        if number not in self.values:
            self.values[number] = np.zeros((2, len(self.mesh.nodes), SPEEDS))
            fill_values(self.mesh.choices, float(self.prices[number]), self.values[number])
        return self.values[number]


class LeastFuelSearch(SectionSearch):
    """Search for the driving with the least fuel that is on time; its ease goes by the price of time.

    Attributes:
        opening_time: Time of firing at the rate of the sustained evaporation that opening the throttle shall cost [s].
        plans: Plans of each section, by its first node.
    """

    opening_time: ClassVar[float] = OPENING_TIMES[0]
    plans: ClassVar[dict[int, SectionPlans]] = {}

    def __init__(self, prepared: PreparedRun, section: Section, start: InitialState) -> None:
        if section.first not in self.plans:
            self.plans[section.first] = section_plans(prepared, section, self.opening_time)
        self._plans = self.plans[section.first]
        self._lines: dict[float, Line] = {}
        self._shutoffs: dict[int, Floats] = {}
        super().__init__(prepared, section, start)

    def line(self, ease: float) -> Line:
        """Line of the section with the plan of least fuel at a price of time; full effort at ease 0."""
        if ease <= 0.0:
            return self._section.line
        if ease not in self._lines:
            self._lines[ease] = self._planned(ease)
        return self._lines[ease]

    def _planned(self, ease: float) -> Line:
        """The slower of two plans up to a part of the way, and the faster from there.

        The time of arrival then changes little by little even where the plans differ by a whole coasting.
        """
        line = self._section.line
        number = min(int(ease * PLANS), PLANS - 1)
        distance = line.distance - line.distance[0]
        change = int(np.searchsorted(distance, (ease * PLANS - number) * distance[-1]))
        faster, slower = self._shutoff(number), self._shutoff(number + 1)
        return line._replace(shutoff=np.concatenate([slower[:change], faster[change:]]))

    def _shutoff(self, number: int) -> Floats:
        """v²/2 up to which a plan uses steam; where it does not get through, full effort decides."""
        if number not in self._shutoffs:
            line, plan = self._section.line, self._plans.plan(number)
            nodes = self._plans.mesh.nodes
            self._shutoffs[number] = line.envelope if plan is None else _shutoff(line, nodes, plan)
        return self._shutoffs[number]

    def _set_steam(self, aim: float, begin: SectionDriving | None) -> None:
        """The plan decides the steam."""

    def _keep_climbs(self, ease: float) -> None:
        """The plan keeps its climbs by a floor of speed."""


def section_plans(prepared: PreparedRun, section: Section, opening_time: float) -> SectionPlans:
    """The plans of a section, none of them made yet.

    Args:
        prepared: The run, with steady pressure.
        section: The section.
        opening_time: Time of firing that opening the throttle shall cost [s].
    """
    boiler, line = prepared.boiler, section.line
    # A train that arrives before its time burns fuel while it waits for its departure: so much less is time worth.
    waits = math.isfinite(line.earliest_departure[-1])
    waiting = (
        in_python(firing_for_steam)(boiler, boiler.auxiliary_steam + boiler.blower_steam) if waits else 0.0
    )
    return SectionPlans(
        mesh=plan_mesh(prepared, section, opening_time),
        prices=boiler.max_firing * np.geomspace(*PRICES, PLANS + 1) - waiting,
        values={},
        made={},
    )


def least_fuel_search(opening_time: float) -> type[LeastFuelSearch]:
    """The search with a cost of opening the throttle; 0 alternates steam and coasting as often as saves fuel.

    It remembers the plans of its sections: use it for one excursion.

    Args:
        opening_time: Time of firing at the rate of the sustained evaporation that opening the throttle shall cost [s].
    """
    made = {"opening_time": opening_time, "plans": {}}
    return type("LeastFuelSearchWithOpening", (LeastFuelSearch,), made)


def _shutoff(line: Line, nodes: npt.NDArray[np.int64], plan: tuple[Floats, Floats]) -> Floats:
    """v²/2 up to which the engineer uses steam at each node: the speed of the plan, less where it coasts.

    Args:
        line: The line of the section.
        nodes: Nodes of the plan.
        plan: v²/2 at these nodes, and shares of full effort between them.
    """
    energies, shares = plan
    planned = np.interp(line.distance, line.distance[nodes], energies)
    used = np.repeat(shares, np.diff(nodes))
    aim = planned[1:].copy()
    aim[used >= FULL] = np.inf
    aim[used <= SHUT] *= BELOW_COASTING
    shutoff: Floats = np.minimum(np.concatenate([planned[:1], aim]), line.envelope)
    return shutoff
