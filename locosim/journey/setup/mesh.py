"""Nodes of a run along the line, and the speed allowed at each."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise

import numpy as np

from locosim.model import Route, SpeedLimit
from locosim.physics.types import Floats

SAME_CHAINAGE = 0.01  # breaks closer than this count as one [m]
START_MESH_LENGTH = 400.0  # after a stop, over which steps grow from zero [m]
START_MESH_STEPS = 20  # least number of steps over that length
START_MESH_STEP = 20.0  # longest step over it [m]
# Distances of extra nodes before a stop [m], so that a crawling train does not brake over a whole step.
NODES_BEFORE_STOP = (0.5, 2.0, 6.0)


def node_chainages(breaks: Sequence[float], stops: Sequence[float], step: float) -> Floats:
    """Chainages of nodes between breaks, no farther apart than the step, and denser before and after each stop.

    After a stop the nodes are at L (i/n)²: most of the time error of equal steps is in the starts from rest.

    Args:
        breaks: Chainages no step may cross, in any order [m].
        stops: Chainages of the stops, which are among the breaks; the last is the end of the run [m].
        step: Longest distance between nodes [m].

    Returns:
        Increasing chainages, shape (n + 1,) [m].
    """
    extra = [s + START_MESH_LENGTH for s in stops]
    extra += [s - before for s in stops for before in NODES_BEFORE_STOP]
    first, last = min(breaks), max(breaks)
    ends = np.array(_merged({*breaks, *(at for at in extra if first < at < last)}, stops))
    length = np.diff(ends)
    starting = np.isin(ends[:-1], stops)
    # The last step after a start is nearly twice as long as the mean.
    count = np.ceil(np.where(starting, 2.0 * length / min(step, START_MESH_STEP), length / step)).astype(int)
    count[starting] = np.maximum(count[starting], START_MESH_STEPS)
    begin = np.cumsum(count) - count
    number = np.arange(count.sum()) - np.repeat(begin, count)
    nodes = np.repeat(ends[:-1], count) + np.repeat(length, count) * number / np.repeat(count, count)
    for k in np.flatnonzero(starting).tolist():
        a, steps = float(ends[k]), int(count[k])
        part = [a + float(length[k]) * (i / steps) ** 2 for i in range(steps)]
        nodes[begin[k] : begin[k] + steps] = part
    return np.append(nodes, ends[-1])


def _merged(breaks: Collection[float], stops: Sequence[float]) -> list[float]:
    """Breaks in order, those at the same chainage merged; a stop keeps its own."""
    first, *others = sorted(breaks)
    merged = [first]
    for at in others:
        if at - merged[-1] > SAME_CHAINAGE:
            merged.append(at)
        elif at in stops:
            merged[-1] = at
    return merged


def speed_limit_spans(
    line: Route, *, ahead: float, behind: float, ceiling: float
) -> tuple[tuple[float, float, float], ...]:
    """Speed limits by chainage of the train engine: start [m], end [m], speed [m/s].

    The limit of a stretch replaces that of the line, lower or higher. Each applies from when the front of the train
    enters it until the rear has left it.

    Args:
        line: The line in the direction of travel.
        ahead: Length of helpers ahead of the train engine [m].
        behind: Length from the front of the train engine to the rear of the train [m].
        ceiling: Speed limit of engines and crew [m/s].
    """
    own = sorted(line.speed_limits, key=lambda limit: limit.start)
    edges = sorted({line.start, line.end, *(s.start for s in own), *(s.end for s in own)})
    pieces = []
    here: list[SpeedLimit] = []
    entered = 0
    for a, b in pairwise(edges):
        while entered < len(own) and own[entered].start <= a:
            here.append(own[entered])
            entered += 1
        here = [limit for limit in here if limit.end >= b]
        speed = min([*([limit.speed for limit in here] or [line.speed_limit]), ceiling])
        pieces.append((max(a - ahead, line.start), min(b + behind, line.end), speed))
    return tuple(pieces)


def nodes_between(nodes: Floats, start: float, end: float) -> slice:
    """Nodes from one chainage to another, both included [m]."""
    return slice(
        int(np.searchsorted(nodes, start, side="left")), int(np.searchsorted(nodes, end, side="right"))
    )


def nearest_node(nodes: Floats, chainage: float) -> int:
    """Node nearest to a chainage [m]; of two as near, the first."""
    after = min(int(np.searchsorted(nodes, chainage)), len(nodes) - 1)
    before = max(after - 1, 0)
    return before if abs(nodes[before] - chainage) <= abs(nodes[after] - chainage) else after


def envelope(
    nodes: Floats, limits: Sequence[tuple[float, float, float]], stops: Sequence[float], deceleration: float
) -> Floats:
    """Highest v²/2 at each node from which every limit and stop ahead can be met.

    The backward pass is exact for braking with constant deceleration: a node ahead allows its own v²/2 plus the
    deceleration times the distance to it, and the lowest of all applies.

    Args:
        nodes: Chainages [m].
        limits: Speed limits: start [m], end [m], speed [m/s].
        stops: Chainages of stops [m].
        deceleration: Planned deceleration of braking [m/s²].

    Returns:
        Kinetic energy per mass, same shape as the nodes [J/kg].
    """
    top = np.full(len(nodes), np.inf)
    for start, end, speed in limits:
        inside = nodes_between(nodes, start - 1e-6, end + 1e-6)
        top[inside] = np.minimum(top[inside], 0.5 * speed**2)
    for stop in stops:
        near = nodes_between(nodes, stop - 1e-5, stop + 1e-5)
        top[near][np.abs(nodes[near] - stop) < 1e-6] = 0.0
    braking_energy = deceleration * (nodes - nodes[0])
    return np.asarray(
        np.minimum(top, np.minimum.accumulate((top + braking_energy)[::-1])[::-1] - braking_energy)
    )
