"""From the model to what the kernel reads: nodes along the line, forces averaged over the train, and loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from locosim.constants import GRAVITY, WATER_DENSITY, ZERO_CELSIUS
from locosim.journey.assistance import Helper
from locosim.journey.records import Load
from locosim.model import Excursion, Locomotive, Route, Train, Vehicle
from locosim.performance.running_resistance import engine_resistance, full_contents
from locosim.physics.line_resistance import (
    BROKEN_AWAY,
    BROKEN_AWAY_SPEED,
    CURVE_LAWS,
    START_PLAIN,
    START_PLAIN_FROST,
    START_ROLLER,
    grade_resistance,
)
from locosim.physics.real import Floats
from locosim.physics.resistance import LAWS, with_air_density
from locosim.physics.resistance_form import Coefficients

STANDARD_TEMPERATURE = 288.15  # air temperature the laws of resistance are taken to hold at [K]


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


def train_blocks(locomotive: Locomotive, train: Train) -> tuple[Block, ...]:
    """The engine, its empty tender and the vehicles without water for the engine, front first."""
    blocks = []
    front = 0.0
    tender = locomotive.tender
    for mass, length in (
        (locomotive.mass, locomotive.length),
        (tender.mass_empty, tender.length),
        *((v.mass_dry * v.count, v.length * v.count) for v in train.vehicles),
    ):
        if mass > 0.0:
            blocks.append(Block(mass=mass, front=front, rear=front + max(length, 0.1)))
        front += length
    return tuple(blocks)


def consist_length(excursion: Excursion) -> float:
    """Length of engine, tender and train, without assisting engines [m]."""
    locomotive = excursion.locomotive
    return locomotive.length + locomotive.tender.length + excursion.train.length


def helper_block(helper: Helper, train_length: float) -> Block:
    """An assisting engine before the train engine, or behind the last vehicle."""
    if helper.place == "front":
        return Block(mass=helper.mass, front=-helper.length, rear=0.0)
    return Block(mass=helper.mass, front=train_length, rear=train_length + helper.length)


def plain_start(excursion: Excursion) -> float:
    """Resistance of plain bearings at rest [N/kg]; more when they have stood in frost."""
    return START_PLAIN_FROST if excursion.weather.temperature < ZERO_CELSIUS else START_PLAIN


def air_density_ratio(excursion: Excursion) -> float:
    """Density of the day's air over that at which the laws of resistance hold, by temperature."""
    return STANDARD_TEMPERATURE / excursion.weather.temperature


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
    starting = plain * (locomotive.mass + tender.mass_empty + full)
    for vehicle in train.vehicles:
        mass = vehicle.mass * vehicle.count
        per = with_air_density(vehicle_coefficients(vehicle), density_ratio=density_ratio)
        # Water for the engine is among the contents, wherever it is carried.
        a, b, c = (
            a + per.a * vehicle.mass_dry * vehicle.count,
            b + per.b * vehicle.mass_dry * vehicle.count,
            c + per.c * mass,
        )
        starting += (START_ROLLER if vehicle.bearing == "roller" else plain) * mass
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
    locomotive = excursion.locomotive
    contents = contents_at_start(excursion)
    alignment = alignment_of(excursion.line)
    head = np.array([chainage])
    length = consist_length(excursion)
    blocks = (*train_blocks(locomotive, excursion.train), *(helper_block(h, length) for h in helpers))
    gravity = float(alignment.mean_weight(blocks, head)[0])
    front, rear = tender_ends(locomotive)
    gravity += contents * GRAVITY * float(alignment.mean_grade(front, rear, head)[0])
    helped = sum(h.mass for h in helpers)
    mass = load.mass + contents + helped
    return Demand(
        starting=load.starting + sum(h.at_rest for h in helpers),
        gravity=gravity,
        curve=float(alignment.mean_curving(blocks, head)[0]),
        inertia=mass + load.rotating + sum(h.rotating for h in helpers),
        mass=mass,
        assist=sum(float(h.pull[0]) for h in helpers),
        assist_weight=sum(h.adhesive_weight for h in helpers),
    )


def tender_ends(locomotive: Locomotive) -> tuple[float, float]:
    """Front and rear of what carries water and fuel, behind the head of the engine [m]."""
    if locomotive.tender.length > 0.0:
        return locomotive.length, locomotive.length + locomotive.tender.length
    return 0.0, locomotive.length
