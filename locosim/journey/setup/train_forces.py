"""From the model to what the kernel reads: nodes along the line, forces averaged over the train, and loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from locosim.constants import GRAVITY, WATER_DENSITY
from locosim.engine.own_resistance import engine_resistance, full_contents
from locosim.journey.kernel.arrays import Load
from locosim.journey.setup.helper_engines import Helper
from locosim.journey.setup.weather import air_density_ratio, plain_start
from locosim.model import Excursion, Route, Vehicle
from locosim.physics.resistance.form import Coefficients
from locosim.physics.resistance.grade_and_curve import (
    BROKEN_AWAY,
    BROKEN_AWAY_SPEED,
    CURVE_LAWS,
    START_ROLLER,
    grade_resistance,
)
from locosim.physics.resistance.laws import LAWS, with_air_density
from locosim.physics.types import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A stretch of train of even mass per length, for averaging forces along it."""

    mass: float  # [kg]
    front: float  # behind the front of the train [m]
    rear: float  # [m]


def vehicle_coefficients(vehicle: Vehicle) -> Coefficients:
    """Running resistance per mass of one vehicle by the law it names, in N/kg and powers of m/s."""
    if vehicle.own_resistance is not None:
        own = vehicle.own_resistance
        return Coefficients(own.a, own.b, own.c)
    law = LAWS[vehicle.resistance]
    return law(axle_load=vehicle.axle_load, axles=vehicle.axles, frontal_area=vehicle.frontal_area)


def train_blocks(excursion: Excursion) -> tuple[Block, ...]:
    """The engine, its empty tender and the vehicles without water for the engine, front first."""
    blocks = []
    front = 0.0
    locomotive, tender = excursion.locomotive, excursion.locomotive.tender
    leading = [(locomotive.mass, locomotive.length), (tender.mass_empty, tender.length)]
    if excursion.engine_facing == "tender_first":
        leading.reverse()
    for mass, length in (
        *leading,
        *((v.mass_dry * v.count, v.length * v.count) for v in excursion.train.vehicles),
    ):
        if mass > 0.0:
            blocks.append(Block(mass=mass, front=front, rear=front + max(length, 0.1)))
        front += length
    return tuple(blocks)


def consist_length(excursion: Excursion) -> float:
    """Length of engine, tender and train, without assisting engines [m]."""
    locomotive = excursion.locomotive
    return locomotive.length + locomotive.tender.length + excursion.train.length


def helper_blocks(helpers: Sequence[Helper], train_length: float) -> tuple[Block, ...]:
    """Assisting engines before the train engine or behind the last vehicle, the first named of each nearest to it."""
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
    return full_contents(excursion.locomotive) + WATER_DENSITY * excursion.train.water


def load_of(excursion: Excursion) -> Load:
    """Masses and resistance of engine, tender and train in the weather of the day."""
    locomotive, train = excursion.locomotive, excursion.train
    tender = locomotive.tender
    full = full_contents(locomotive)
    empty_engine = engine_resistance(locomotive, 0.0)
    full_engine = engine_resistance(locomotive, full)
    density_ratio = air_density_ratio(excursion)
    a, b, c = empty_engine
    c *= density_ratio
    # Breaking away is hardest with all supplies on board, so they count as full.
    plain = plain_start(excursion)
    starting = max(plain * (locomotive.mass + tender.mass_empty + full), full_engine[0])
    for vehicle in train.vehicles:
        mass = vehicle.mass * vehicle.count
        per = with_air_density(vehicle_coefficients(vehicle), density_ratio=density_ratio)
        # Water for the engine is among the contents, wherever it is carried.
        a, b, c = (
            a + per.a * vehicle.mass_dry * vehicle.count,
            b + per.b * vehicle.mass_dry * vehicle.count,
            c + per.c * mass,
        )
        starting += max(START_ROLLER if vehicle.bearing == "roller" else plain, per.a) * mass
    fixed = locomotive.mass + tender.mass_empty + train.mass - WATER_DENSITY * train.water
    rotating = locomotive.rotating_allowance * (locomotive.mass + tender.mass_empty) + train.rotating_mass
    return Load(
        mass=fixed,
        rotating=rotating,
        a=a,
        b=b,
        c=c,
        a_contents=(full_engine[0] - empty_engine[0]) / full,
        b_contents=(full_engine[1] - empty_engine[1]) / full,
        wind=excursion.weather.head_wind,
        starting=starting,
        broken_away=min(BROKEN_AWAY * (fixed + contents_at_start(excursion)), starting),
        starting_speed=BROKEN_AWAY_SPEED,
    )


class Alignment:
    """Sums of grade and curvature along a line, so that a mean over any stretch is a difference.

    Beyond the ends of the line its first and last grade go on, on straight track.
    """

    def __init__(self, line: Route) -> None:
        pieces = line.grade_pieces()
        self._grade_at = np.array([pieces[0][0], *(end for _, end, _ in pieces)])
        pulls = grade_resistance(gradient=np.array([grade for _, _, grade in pieces]))
        self._weight_first, self._weight_last = float(pulls[0]), float(pulls[-1])
        self._weight = np.concatenate([[0.0], np.cumsum(pulls * np.diff(self._grade_at))])
        starts = np.array([c.start for c in line.curves] + [line.start])
        ends = np.array([c.end for c in line.curves] + [line.end])
        law = CURVE_LAWS[line.curve_law]
        bends = np.array([float(law(radius=c.radius, rigid_wheelbase=0.0)) for c in line.curves] + [0.0])
        self._curve_at = np.unique(np.concatenate([starts, ends]))
        # Each curve comes on at its start and goes off at its end; curves that overlap add up.
        change = np.zeros(len(self._curve_at))
        np.add.at(change, np.searchsorted(self._curve_at, starts), bends)
        np.add.at(change, np.searchsorted(self._curve_at, ends), -bends)
        curving = np.cumsum(change)[:-1]
        self._curve = np.concatenate([[0.0], np.cumsum(curving * np.diff(self._curve_at))])

    def weight_along(self, chainage: Floats) -> Floats:
        """Work of lifting a kilogram from the start of the line to a place [J/kg]."""
        inside = np.interp(chainage, self._grade_at, self._weight)
        before = np.minimum(chainage - self._grade_at[0], 0.0) * self._weight_first
        beyond = np.maximum(chainage - self._grade_at[-1], 0.0) * self._weight_last
        return np.asarray(inside + before + beyond)

    def curving_along(self, chainage: Floats) -> Floats:
        """Work of moving a kilogram through the curves from the start of the line to a place [J/kg]."""
        return np.asarray(np.interp(chainage, self._curve_at, self._curve))

    def mean_weight(self, blocks: Sequence[Block], head: Floats) -> Floats:
        """Weight of a train along the track with its head at a place, positive against motion [N]."""
        force = np.zeros_like(head)
        for block in blocks:
            work = self.weight_along(head - block.front) - self.weight_along(head - block.rear)
            force += block.mass * work / (block.rear - block.front)
        return force

    def mean_curving(self, blocks: Sequence[Block], head: Floats) -> Floats:
        """Curve resistance of a train with its head at a place [N]."""
        force = np.zeros_like(head)
        for block in blocks:
            work = self.curving_along(head - block.front) - self.curving_along(head - block.rear)
            force += block.mass * work / (block.rear - block.front)
        return force

    def mean_grade(self, front: float, rear: float, head: Floats) -> Floats:
        """Mean of sin(slope) under a stretch of the train with its head at a place [1]."""
        work = self.weight_along(head - front) - self.weight_along(head - rear)
        return np.asarray(work / (GRAVITY * (rear - front)))


@lru_cache(maxsize=8)
def alignment_of(line: Route) -> Alignment:
    """Alignment of a line, made once: a check runs the same line many times."""
    return Alignment(line)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What holds a standing train with full tender, assisting engines among it, and what they pull.

    Attributes:
        starting: Resistance of breaking away [N].
        gravity: Weight along the track, positive against motion [N].
        curve: Curve resistance [N].
        inertia: Mass with the turning wheels [kg].
        mass: Mass [kg].
        assist: Pull of assisting engines at rest, adhesion not counted [N].
        assist_weight: Their adhesive weight [N].
    """

    starting: float
    gravity: float
    curve: float
    inertia: float
    mass: float
    assist: float
    assist_weight: float

    @property
    def total(self) -> float:
        """All forces that hold it [N]."""
        return self.starting + self.gravity + self.curve


def demand_at_rest(excursion: Excursion, helpers: Sequence[Helper], chainage: float) -> Demand:
    """What it takes to start a train with its head at a place, tender full.

    Args:
        excursion: Engine, train and line.
        helpers: Assisting engines that are on there.
        chainage: Of the head of the train engine, in the direction of travel [m].
    """
    load = load_of(excursion)
    contents = contents_at_start(excursion)
    alignment = alignment_of(excursion.line)
    head = np.array([chainage])
    length = consist_length(excursion)
    own, helping = train_blocks(excursion), helper_blocks(helpers, length)
    gravity = float(alignment.mean_weight((*own, *helping), head)[0])
    gravity += contents * GRAVITY * float(alignment.mean_grade(*tender_ends(excursion), head)[0])
    curve = float(alignment.mean_curving(own, head)[0]) * curving_with_contents(own, contents)
    helped = sum(h.mass for h in helpers)
    mass = load.mass + contents + helped
    return Demand(
        starting=load.starting + sum(h.at_rest for h in helpers),
        gravity=gravity,
        curve=curve + float(alignment.mean_curving(helping, head)[0]),
        inertia=mass + load.rotating + sum(h.rotating for h in helpers),
        mass=mass,
        assist=sum(float(h.pull[0]) for h in helpers),
        assist_weight=sum(h.adhesive_weight for h in helpers),
    )


def curving_with_contents(blocks: Sequence[Block], contents: float) -> float:
    """Curve resistance with water and fuel on board over that without [1]; both spread over the train alike."""
    return 1.0 + contents / sum(block.mass for block in blocks)


def engine_ends(excursion: Excursion) -> tuple[float, float]:
    """Front and rear of the train engine without its tender, behind the head of the train [m]."""
    locomotive = excursion.locomotive
    ahead = locomotive.tender.length if excursion.engine_facing == "tender_first" else 0.0
    return ahead, ahead + locomotive.length


def tender_ends(excursion: Excursion) -> tuple[float, float]:
    """Front and rear of what carries water and fuel, behind the head of the train [m]."""
    locomotive = excursion.locomotive
    if locomotive.tender.length == 0.0:
        return engine_ends(excursion)
    ahead = 0.0 if excursion.engine_facing == "tender_first" else locomotive.length
    return ahead, ahead + locomotive.tender.length
