"""Momentum grades: stretches steeper than the ruling grade that a train climbs on the speed it brings."""

from __future__ import annotations

import numpy as np

from locosim.frozen import frozen
from locosim.model import Route
from locosim.physics.operation.momentum import ROTATING_MASS_FRACTION, speed_from_velocity_head, velocity_head
from locosim.physics.types import Floats
from locosim.survey.heights import Heights
from locosim.survey.ruling import resisting_heights

GRADE_PRECISION = 1e-6  # of the lowest ruling grade [1]
MIN_RISE = 0.1  # above the ruling grade, below which a stretch is not listed [m]


@frozen
class MomentumStretch:
    """A stretch that a train enters fast and loses speed on.

    Attributes:
        start: Chainage where the train begins to lose speed [m].
        slowest_place: Chainage of its lowest speed [m].
        end: Chainage where it has its allowed speed again, or where the line ends [m].
        rise: Height above the ruling grade from the start to the slowest place [m].
        steepest: Steepest grade on the stretch, averaged over the train, curve resistance included [1].
        entry_speed: Speed at the start [m/s].
        lowest_speed: Speed at the slowest place; 0 where the train stalls [m/s].
        required_speed: Speed at the start with which the lowest speed would be just the least one allowed [m/s].
        stations: Names of the stations on it, where a stop would lose the momentum.
    """

    start: float
    slowest_place: float
    end: float
    rise: float
    steepest: float
    entry_speed: float
    lowest_speed: float
    required_speed: float
    stations: tuple[str, ...]


@frozen
class MomentumGrades:
    """What momentum does for trains of one length in the direction of the chainage.

    Attributes:
        ruling: Ruling grade that the engine is loaded for [1].
        stated: Whether the ruling grade was given; otherwise it is the lowest with which momentum carries the train
            over every steeper stretch.
        without: Ruling grade without momentum, for the same train [1].
        length: Length of the train [m].
        entry_speed: Highest speed of the train, where the line allows it; None for the limits of the line [m/s].
        min_speed: Speed below which it must not fall [m/s].
        stretches: Stretches steeper than the ruling grade, in order.
    """

    ruling: float
    stated: bool
    without: float
    length: float
    entry_speed: float | None
    min_speed: float
    stretches: tuple[MomentumStretch, ...]


def momentum_grades(
    route: Route,
    *,
    length: float,
    min_speed: float,
    entry_speed: float | None = None,
    ruling: float | None = None,
) -> MomentumGrades:
    """The stretches on which momentum must help, with the speeds that it needs.

    The engine is taken to balance the resistance of the train and the ruling grade at every speed; what a grade
    rises above the ruling grade is paid from the velocity head, and what it falls below is added, up to the speed
    allowed. A real engine pulls less at higher speed: this is the trade's rule for a first look, not a run.

    Args:
        route: The line.
        length: Length of the train, over which grades are averaged [m].
        min_speed: Speed below which the train must not fall [m/s].
        entry_speed: Highest speed of the train; the limits of the line apply as well [m/s].
        ruling: Ruling grade; if omitted, the lowest that momentum allows [1].

    References:
        [Webb1906] §§ 124 and 193, with 5 % for the rotating mass.
    """
    line = _under_train(resisting_heights(route), length)
    chainage = np.unique(np.concatenate([line.chainage, _limit_places(route, line)]))
    line = Heights(chainage, line.at(chainage))
    top = _velocity_heads(_allowed_speeds(route, chainage, entry_speed))
    floor = float(velocity_head(speed=min_speed, rotating_mass_fraction=ROTATING_MASS_FRACTION))
    without = max(float(np.max(line.grades)), 0.0)
    found = _lowest_ruling(line, top, floor, without) if ruling is None else ruling
    heads = _heads(line, top, found)
    return MomentumGrades(
        ruling=found,
        stated=ruling is not None,
        without=without,
        length=length,
        entry_speed=entry_speed,
        min_speed=min_speed,
        stretches=tuple(_stretches(route, line, top, heads, found, floor)),
    )


def _under_train(heights: Heights, length: float) -> Heights:
    """Mean height under a train, by the chainage of its head, where the whole train is on the line.

    Its slope is the mean grade under the train. It is computed at the places where an end of the train passes a
    point of the profile; between them the slope is linear, and taken as constant.
    """
    length = min(length, 0.5 * float(np.ptp(heights.chainage)))
    first, last = heights.chainage[0] + length, heights.chainage[-1]
    heads = np.unique(np.clip(np.concatenate([heights.chainage, heights.chainage + length]), first, last))
    steps = np.diff(heights.chainage) * (heights.height[1:] + heights.height[:-1]) / 2
    areas = np.concatenate([[0.0], np.cumsum(steps)])

    def area(places: Floats) -> Floats:
        piece = np.clip(np.searchsorted(heights.chainage, places, side="right") - 1, 0, len(steps) - 1)
        run = places - heights.chainage[piece]
        return np.asarray(areas[piece] + run * (heights.height[piece] + heights.grades[piece] * run / 2))

    return Heights(heads, (area(heads) - area(heads - length)) / length)


def _limit_places(route: Route, line: Heights) -> Floats:
    """Places where a speed limit begins or ends, on the line."""
    ends = np.array(
        [place for limit in route.speed_limits for place in (limit.start, limit.end)], dtype=float
    )
    return np.asarray(ends[(ends > line.chainage[0]) & (ends < line.chainage[-1])])


def _allowed_speeds(route: Route, chainage: Floats, entry_speed: float | None) -> Floats:
    """Allowed speed on each piece between the places [m/s], shape (n - 1,)."""
    middle = (chainage[1:] + chainage[:-1]) / 2
    allowed = np.full(len(middle), min(route.speed_limit, entry_speed or np.inf))
    for limit in route.speed_limits:
        on = (middle > limit.start) & (middle < limit.end)
        allowed[on] = np.minimum(allowed[on], limit.speed)
    return allowed


def _velocity_heads(speeds: Floats) -> Floats:
    return np.asarray(velocity_head(speed=speeds, rotating_mass_fraction=ROTATING_MASS_FRACTION))


def _heads(line: Heights, top: Floats, ruling: float) -> Floats:
    """Velocity head at each place, below zero beyond a stall; the train begins at its allowed speed."""
    change = np.diff(line.chainage) * ruling - np.diff(line.height)
    heads = np.empty(len(line.chainage))
    head = heads[0] = top[0]
    for piece, (gain, most) in enumerate(zip(change.tolist(), top.tolist(), strict=True)):
        head = min(min(head, most) + gain, most)
        heads[piece + 1] = head
    return heads


def _lowest_ruling(line: Heights, top: Floats, floor: float, without: float) -> float:
    """Lowest ruling grade, from level to that without momentum, with which the head keeps above the floor.

    By bisection: a higher ruling grade gives a head that is nowhere lower.
    """
    low, high = 0.0, without
    while high - low > GRADE_PRECISION:
        middle = (low + high) / 2
        heads = _heads(line, top, middle)
        low, high = (low, middle) if np.all(heads >= np.minimum(floor, _tops(top))) else (middle, high)
    return high


def _tops(top: Floats) -> Floats:
    """The lower of the allowed velocity heads on both sides of each place."""
    return np.asarray(np.minimum(np.append(top, np.inf), np.concatenate([[np.inf], top])))


def _stretches(
    route: Route, line: Heights, top: Floats, heads: Floats, ruling: float, floor: float
) -> list[MomentumStretch]:
    """Stretches on which the head is below that of the allowed speed."""
    slow = heads[1:] < top - 1e-9
    edges = np.flatnonzero(np.diff(np.concatenate([[0], slow.astype(int), [0]])))
    found = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        within = heads[first : last + 1].copy()
        within[0] = min(within[0], top[first])
        highest_before = np.maximum.accumulate(within)
        lowest = int(np.argmax(highest_before - within))
        drop = float(highest_before[lowest] - within[lowest])
        if drop < MIN_RISE:
            continue  # within rounding, or a train that only gains speed after a lower limit
        fastest = int(np.argmax(within[: lowest + 1]))
        entry = float(within[fastest])
        start, end = (
            float(line.chainage[first + fastest]),
            float(line.chainage[min(last + 1, len(heads) - 1)]),
        )
        steepest = float(np.max(line.grades[first + fastest : first + lowest]))
        found.append(
            MomentumStretch(
                start=start,
                slowest_place=float(line.chainage[first + lowest]),
                end=end,
                rise=drop,
                steepest=steepest,
                entry_speed=_speed(entry),
                lowest_speed=_speed(max(float(within[lowest]), 0.0)),
                required_speed=_speed(min(floor, entry) + drop),
                stations=tuple(s.name for s in route.stations if start <= s.chainage <= end),
            )
        )
    return found


def _speed(head: float) -> float:
    return float(speed_from_velocity_head(head=head, rotating_mass_fraction=ROTATING_MASS_FRACTION))
