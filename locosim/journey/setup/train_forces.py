"""Forces on the train: grade and curve averaged over its length, running and starting resistance."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from locosim.compiled import in_python
from locosim.constants import GRAVITY, WATER_DENSITY
from locosim.engine.own_resistance import engine_resistance_coefficients, full_tender_load
from locosim.frozen import frozen
from locosim.journey.kernel.arrays import Load
from locosim.journey.setup.helper_performance import HelperPerformance
from locosim.journey.setup.weather import (
    at_rest_per_mass,
    broken_away_per_mass,
    engine_at_rest,
    in_weather,
)
from locosim.model import Excursion, Route, Vehicle
from locosim.physics.resistance.form import Coefficients
from locosim.physics.resistance.grade_and_curve import (
    CURVE_LAWS,
    grade_resistance,
)
from locosim.physics.resistance.laws import LAWS
from locosim.physics.resistance.starting import resistance_after_standing
from locosim.physics.types import Floats
from locosim.recent import keep_recent

BEYOND = 1e5  # that a line goes on beyond its ends, more than a train is long [m]


@frozen
class Block:
    """Part of a train with uniform mass per length."""

    mass: float  # [kg]
    front: float  # distance behind the front of the train [m]
    rear: float  # [m]


def vehicle_coefficients(vehicle: Vehicle) -> Coefficients:
    """Running resistance per mass of one vehicle by its law, in N/kg and powers of m/s."""
    if vehicle.custom_resistance is not None:
        own = vehicle.custom_resistance
        return Coefficients(own.a, own.b, own.c)
    law = LAWS[vehicle.resistance_law]
    return law(axle_load=vehicle.axle_load, axles=vehicle.axles, frontal_area=vehicle.frontal_area)


def train_blocks(excursion: Excursion) -> tuple[Block, ...]:
    """Engine, empty tender and vehicles, without water for the engine, front first."""
    blocks = []
    front = 0.0
    locomotive, tender = excursion.locomotive, excursion.locomotive.tender
    leading = [(locomotive.mass, locomotive.length), (tender.empty_mass, tender.length)]
    if excursion.engine_facing == "tender_first":
        leading.reverse()
    for mass, length in (
        *leading,
        *((v.mass_without_water * v.count, v.length * v.count) for v in excursion.train.vehicles),
    ):
        if mass > 0.0:
            blocks.append(Block(mass=mass, front=front, rear=front + max(length, 0.1)))
        front += length
    return tuple(blocks)


def consist_length(excursion: Excursion) -> float:
    """Length of engine, tender and cars, without helpers [m]."""
    locomotive = excursion.locomotive
    return locomotive.length + locomotive.tender.length + excursion.train.length


def helper_blocks(helpers: Sequence[HelperPerformance], train_length: float) -> tuple[Block, ...]:
    """Helpers ahead of the train engine or behind the last car, the first in the list nearest to it."""
    blocks = []
    ahead, behind = 0.0, train_length
    for helper in helpers:
        if helper.place == "front":
            blocks.append(Block(mass=helper.mass, front=ahead - helper.length, rear=ahead))
            ahead -= helper.length
        else:
            blocks.append(Block(mass=helper.mass, front=behind, rear=behind + helper.length))
            behind += helper.length
    return tuple(blocks)


def contents_at_start(excursion: Excursion) -> float:
    """Water and fuel of a full tender, with the water of auxiliary cars [kg]."""
    return full_tender_load(excursion.locomotive) + WATER_DENSITY * excursion.train.water


class CarResistance(NamedTuple):
    """Resistance of a car per mass, in the weather of the day."""

    running: Coefficients  # [N/kg and powers of m/s]
    warm: float  # at rest, with bearings warm from running [N/kg]
    cold: float  # at rest, with bearings as cold as the air [N/kg]


@keep_recent(4)
def car_resistances(excursion: Excursion) -> tuple[CarResistance, ...]:
    """Resistance of each kind of car of the train."""
    bearings = {vehicle.bearing for vehicle in excursion.train.vehicles}
    at_rest = {
        bearing: [at_rest_per_mass(excursion, bearing, warm=warm) for warm in (True, False)]
        for bearing in bearings
    }
    return tuple(
        CarResistance(
            in_weather(vehicle_coefficients(vehicle), excursion, vehicle.bearing), *at_rest[vehicle.bearing]
        )
        for vehicle in excursion.train.vehicles
    )


def train_load(excursion: Excursion) -> Load:
    """Mass and resistance of engine, tender and cars in the weather of the day."""
    locomotive, train = excursion.locomotive, excursion.train
    tender = locomotive.tender
    full = full_tender_load(locomotive)
    empty_engine = in_weather(engine_resistance_coefficients(locomotive, 0.0), excursion, "plain")
    full_engine = in_weather(engine_resistance_coefficients(locomotive, full), excursion, "plain")
    a, b, c = empty_engine
    for vehicle, (per_mass, _, _) in zip(train.vehicles, car_resistances(excursion), strict=True):
        mass = vehicle.mass * vehicle.count
        # Water for the engine counts as contents, wherever it is carried.
        a, b, c = (
            a + per_mass.a * vehicle.mass_without_water * vehicle.count,
            b + per_mass.b * vehicle.mass_without_water * vehicle.count,
            c + per_mass.c * mass,
        )
    fixed = locomotive.mass + tender.empty_mass + train.mass - WATER_DENSITY * train.water
    rotating = locomotive.rotating_mass_fraction * (locomotive.mass + tender.empty_mass) + train.rotating_mass
    return Load(
        mass=fixed,
        rotating=rotating,
        a=a,
        b=b,
        c=c,
        a_contents=(full_engine[0] - empty_engine[0]) / full,
        b_contents=(full_engine[1] - empty_engine[1]) / full,
        wind=excursion.weather.headwind,
        starting=train_at_rest(excursion, warm=False),
        starting_warm=train_at_rest(excursion, warm=True),
        cooling_time=excursion.assumptions.bearing_cooling_time,
        rolling_start=broken_away_per_mass(excursion) * (fixed + contents_at_start(excursion)),
    )


def train_at_rest(excursion: Excursion, *, warm: bool) -> float:
    """Starting resistance of engine, tender and cars [N]; it is highest with full supplies, so they count as full.

    Args:
        excursion: Engine, train and weather.
        warm: Whether the bearings are warm from running; otherwise they are as cold as the air.
    """
    locomotive = excursion.locomotive
    full = full_tender_load(locomotive)
    running = in_weather(engine_resistance_coefficients(locomotive, full), excursion, "plain")
    force = max(engine_at_rest(excursion, locomotive, full, warm=warm), running.a)
    for vehicle, car in zip(excursion.train.vehicles, car_resistances(excursion), strict=True):
        at_rest = car.warm if warm else car.cold
        force += max(at_rest, car.running.a) * vehicle.mass * vehicle.count
    return force


class PiecewiseConstant:
    """A quantity that is constant between edges, with its first and second integral from the second edge.

    Args:
        edges: Increasing chainages, shape (n + 1,) [m].
        values: Between them, shape (n,).
    """

    def __init__(self, edges: Floats, values: Floats) -> None:
        self.edges, self.values = edges, values
        length = np.diff(edges)
        self._first = self._from_second_edge(values * length)
        self._second = self._from_second_edge(0.5 * length * (self._first[1:] + self._first[:-1]))

    def integral(self, chainage: Floats) -> Floats:
        """Integral from the second edge to a chainage."""
        return np.asarray(np.interp(chainage, self.edges, self._first))

    def second_integral(self, chainage: Floats) -> Floats:
        """Integral of the integral, from the second edge to a chainage."""
        piece = np.searchsorted(self.edges[1:-1], chainage, side="right")
        beyond = chainage - self.edges[piece]
        into = self._first[piece] + 0.5 * self.values[piece] * beyond
        return np.asarray(self._second[piece] + into * beyond)

    @staticmethod
    def _from_second_edge(pieces: Floats) -> Floats:
        total = np.cumsum(pieces)
        return np.asarray(np.append(0.0, total) - total[0])


class Alignment:
    """Integrals of grade and curve resistance along a line, so that a mean over any stretch is a difference.

    Beyond its ends the line continues with its first and last grade, on straight track.
    """

    def __init__(self, line: Route) -> None:
        pieces = line.grade_segments()
        edges = [pieces[0][0], *(end for _, end, _ in pieces)]
        forces = grade_resistance(grade=np.array([grade for _, _, grade in pieces]))
        # The first and last grade go on as far as any train is long.
        self._grade = PiecewiseConstant(
            np.array([edges[0] - BEYOND, *edges, edges[-1] + BEYOND]),
            np.concatenate([forces[:1], forces, forces[-1:]]),
        )
        starts = np.array([c.start for c in line.curves] + [line.start])
        ends = np.array([c.end for c in line.curves] + [line.end])
        law = CURVE_LAWS[line.curve_resistance_law]
        curve_resistances = np.array(
            [float(law(radius=c.radius, rigid_wheelbase=0.0)) for c in line.curves] + [0.0]
        )
        chainages = np.unique(np.concatenate([starts, ends]))
        # Each curve adds at its start and subtracts at its end, so curves that overlap add up.
        change = np.zeros(len(chainages))
        np.add.at(change, np.searchsorted(chainages, starts), curve_resistances)
        np.add.at(change, np.searchsorted(chainages, ends), -curve_resistances)
        self._curve = PiecewiseConstant(
            np.array([chainages[0] - BEYOND, *chainages, chainages[-1] + BEYOND]),
            np.concatenate([[0.0], np.cumsum(change)[:-1], [0.0]]),
        )

    def lifting_work(self, chainage: Floats) -> Floats:
        """Work of lifting a mass from the start of the line to a chainage, per mass [J/kg]."""
        return self._grade.integral(chainage)

    def curve_work(self, chainage: Floats) -> Floats:
        """Work against curve resistance from the start of the line to a chainage, per mass [J/kg]."""
        return self._curve.integral(chainage)

    def highest_force(self, rear: Floats, front: Floats) -> Floats:
        """Weight along the track and curve resistance, per mass, with the highest of each anywhere between [N/kg].

        Args:
            rear: Chainages, shape (k,) [m].
            front: Chainages beyond them, shape (k,) [m].
        """
        return _highest_between(self._grade, rear, front) + _highest_between(self._curve, rear, front)

    def grade_force(self, blocks: Sequence[Block], head: Floats) -> Floats:
        """Weight of a train along the track by chainage of its head, positive against motion [N]."""
        return _sum_over_blocks(self._grade.integral, blocks, head)

    def curve_force(self, blocks: Sequence[Block], head: Floats) -> Floats:
        """Curve resistance of a train by chainage of its head [N]."""
        return _sum_over_blocks(self._curve.integral, blocks, head)

    def mean_grade_force(self, blocks: Sequence[Block], nodes: Floats) -> Floats:
        """Weight of a train along the track, mean over each step between chainages of its head [N].

        Args:
            blocks: Parts of the train.
            nodes: Chainages of the head, increasing, shape (n + 1,) [m].
        """
        return _step_means(_sum_over_blocks(self._grade.second_integral, blocks, nodes), nodes)

    def mean_curve_force(self, blocks: Sequence[Block], nodes: Floats) -> Floats:
        """Curve resistance of a train, mean over each step between chainages of its head [N]."""
        return _step_means(_sum_over_blocks(self._curve.second_integral, blocks, nodes), nodes)

    def grade_under(self, span: tuple[float, float], head: Floats) -> Floats:
        """Mean sine of the slope under part of the train, by chainage of its head [1].

        Args:
            span: Where the part begins and ends, behind the head [m].
            head: Chainages of the head [m].
        """
        return self.grade_force([_unit_weight(span)], head)

    def mean_grade_under(self, span: tuple[float, float], nodes: Floats) -> Floats:
        """Mean sine of the slope under part of the train in each step between chainages of its head [1]."""
        return self.mean_grade_force([_unit_weight(span)], nodes)


def _unit_weight(span: tuple[float, float]) -> Block:
    """A block between two distances behind the head that weighs 1 N, so that its force is the sine of the slope."""
    front, rear = span
    return Block(mass=1.0 / GRAVITY, front=front, rear=rear)


def _highest_between(quantity: PiecewiseConstant, low: Floats, high: Floats) -> Floats:
    """Highest value anywhere between the two chainages of each pair."""
    first, last = np.searchsorted(quantity.edges, low), np.searchsorted(quantity.edges, high)
    spans = np.column_stack([first, last + 1]).ravel()
    padded = np.concatenate([[0.0], quantity.values, [0.0, -np.inf]])
    return np.asarray(np.maximum.reduceat(padded, spans)[::2])


def _sum_over_blocks(integral: Callable[[Floats], Floats], blocks: Sequence[Block], head: Floats) -> Floats:
    """Force on blocks by chainage of the head of the train, from the integral of the force per mass; or its integral.

    The integral counts by what the mass per length changes at each end of a block: two that touch share an end.
    """
    changes: dict[float, float] = {}
    for block in blocks:
        density = block.mass / (block.rear - block.front)
        changes[block.front] = changes.get(block.front, 0.0) + density
        changes[block.rear] = changes.get(block.rear, 0.0) - density
    total = np.zeros_like(head)
    for place, change in changes.items():
        total += change * integral(head - place)
    return total


def _step_means(integral: Floats, nodes: Floats) -> Floats:
    """Means over the steps between nodes of a quantity whose integral up to each node is known."""
    return np.asarray(np.diff(integral) / np.diff(nodes))


@keep_recent(8)
def cached_alignment(line: Route) -> Alignment:
    """Alignment of a line, built once: a check runs the same line many times."""
    return Alignment(line)


@frozen
class StartingDemand:
    """Force needed to start a train with full tender and its helpers, and what the helpers give.

    Attributes:
        starting: Breakaway resistance with bearings as cold as the air [N].
        starting_warm: The same with bearings of engine and cars warm from running; helpers have stood [N].
        gravity: Weight along the track, positive against motion [N].
        curve: Curve resistance [N].
        inertia: Mass with the rotating mass [kg].
        mass: Mass [kg].
        helper_effort: Effort of the helpers at rest, not limited by adhesion [N].
        helper_adhesive_weight: Adhesive weight of the helpers [N].
    """

    starting: float
    starting_warm: float
    gravity: float
    curve: float
    inertia: float
    mass: float
    helper_effort: float
    helper_adhesive_weight: float

    @property
    def total(self) -> float:
        """Sum of all forces against starting [N]."""
        return self.starting + self.gravity + self.curve

    def after_standing(self, standing: float, cooling_time: float) -> StartingDemand:
        """The demand of a train that came in with warm bearings, after a time standing.

        Args:
            standing: Time standing [s].
            cooling_time: Time constant of the cooling of the bearings [s].
        """
        cooled = in_python(resistance_after_standing)(
            self.starting_warm, self.starting, standing, cooling_time
        )
        return replace(self, starting=float(cooled))


def starting_demand(
    excursion: Excursion, helpers: Sequence[HelperPerformance], chainage: float
) -> StartingDemand:
    """Force needed to start a train with a full tender.

    Args:
        excursion: Engine, train and line.
        helpers: Helpers that are on.
        chainage: Chainage of the train engine, in the direction of travel [m].
    """
    return starting_demands(excursion, helpers, train_load(excursion), [chainage])[0]


def starting_demands(
    excursion: Excursion, helpers: Sequence[HelperPerformance], load: Load, chainages: Sequence[float]
) -> list[StartingDemand]:
    """Force needed to start a train with a full tender at each of some places, with the same helpers.

    Args:
        excursion: Engine, train and line.
        helpers: Helpers that are on.
        load: Mass and resistance of the train, by `train_load`.
        chainages: Chainages of the train engine, in the direction of travel [m].
    """
    contents = contents_at_start(excursion)
    alignment = cached_alignment(excursion.route_as_run)
    head = np.array(chainages)
    own, helper_active = train_blocks(excursion), helper_blocks(helpers, consist_length(excursion))
    gravity = alignment.grade_force((*own, *helper_active), head)
    gravity += contents * GRAVITY * alignment.grade_under(tender_span(excursion), head)
    curve = alignment.curve_force(own, head) * curve_factor_with_contents(own, contents)
    curve += alignment.curve_force(helper_active, head)
    mass = load.mass + contents + sum(h.mass for h in helpers)
    return [
        StartingDemand(
            starting=load.starting + sum(h.total_starting for h in helpers),
            starting_warm=load.starting_warm + sum(h.total_starting for h in helpers),
            gravity=float(gravity[k]),
            curve=float(curve[k]),
            inertia=mass + load.rotating + sum(h.rotating for h in helpers),
            mass=mass,
            helper_effort=sum(float(h.effort[0]) for h in helpers),
            helper_adhesive_weight=sum(h.adhesive_weight for h in helpers),
        )
        for k in range(len(head))
    ]


def curve_factor_with_contents(blocks: Sequence[Block], contents: float) -> float:
    """Curve resistance with water and fuel over that without [1], both spread evenly over the train."""
    return 1.0 + contents / sum(block.mass for block in blocks)


def engine_span(excursion: Excursion) -> tuple[float, float]:
    """Front and rear of the train engine without tender, as distances behind the head of the train [m]."""
    locomotive = excursion.locomotive
    ahead = locomotive.tender.length if excursion.engine_facing == "tender_first" else 0.0
    return ahead, ahead + locomotive.length


def tender_span(excursion: Excursion) -> tuple[float, float]:
    """Front and rear of what carries water and fuel, as distances behind the head of the train [m]."""
    locomotive = excursion.locomotive
    if locomotive.tender.length == 0.0:
        return engine_span(excursion)
    ahead = 0.0 if excursion.engine_facing == "tender_first" else locomotive.length
    return ahead, ahead + locomotive.tender.length
