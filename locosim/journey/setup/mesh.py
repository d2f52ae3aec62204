"""Where the steps of a run begin and end, and how fast the train may be there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from locosim.model import Route
from locosim.physics.types import Floats

SAME_CHAINAGE = 0.01  # two breaks closer than this are one [m]
START_MESH_STEPS = 20  # at least, over the length below
START_MESH_LENGTH = 400.0  # after a stop, steps grow from nothing over this length [m]
NODES_BEFORE_STOP = (
    0.5,
    2.0,
    6.0,
)  # nodes before a stop, so that a crawling train does not brake over a whole step [m]


def node_chainages(breaks: Sequence[float], stops: Sequence[float], step: float) -> Floats:
    """Nodes between breaks, no longer apart than the step, and crowded after each stop and just before it.

    After a stop the nodes stand at L (i/n)²: the time error of equal steps sits in the standing starts.

    Args:
        breaks: Places no step may cross, in any order [m].
        stops: Places where the train stands, among the breaks, the last one the end of the run [m].
        step: Greatest distance between nodes [m].

    Returns:
        Growing chainages, shape (n + 1,) [m].
    """
    places = [s + START_MESH_LENGTH for s in stops] + [
        s - before for s in stops for before in NODES_BEFORE_STOP
    ]
    ends = sorted({*breaks, *(place for place in places if min(breaks) < place < max(breaks))})
    kept = [ends[0]]
    for place in ends[1:]:
        if place - kept[-1] > SAME_CHAINAGE:
            kept.append(place)
        else:
            kept[-1] = place if place in stops else kept[-1]
    nodes = [kept[0]]
    starting = set(stops)
    for a, b in pairwise(kept):
        length = b - a
        if a in starting:
            count = max(math.ceil(2.0 * length / step), START_MESH_STEPS)
            nodes.extend(a + length * (i / count) ** 2 for i in range(1, count))
        else:
            count = math.ceil(length / step)
            nodes.extend(a + length * i / count for i in range(1, count))
        nodes.append(b)
    return np.array(nodes)


def speed_limit_spans(
    line: Route, *, ahead: float, behind: float, ceiling: float
) -> tuple[tuple[float, float, float], ...]:
    """Speed limits as the train engine meets them: start [m], end [m], speed [m/s].

    A limit of a stretch stands in place of the line's, lower or higher. Each holds from when the front of the
    train enters it until the rear has left it.

    Args:
        line: The line in the direction of travel.
        ahead: Length of assisting engines before the train engine [m].
        behind: Length from the front of the train engine to the rear of the train [m].
        ceiling: Greatest speed of engines and crew [m/s].
    """
    own = line.speed_limits
    edges = sorted({line.start, line.end, *(s.start for s in own), *(s.end for s in own)})
    pieces = []
    for a, b in pairwise(edges):
        here = [s.speed for s in own if s.start <= a and s.end >= b]
        speed = min([*(here or [line.speed_limit]), ceiling])
        pieces.append((max(a - ahead, line.start), min(b + behind, line.end), speed))
    return tuple(pieces)


def envelope(
    nodes: Floats, limits: Sequence[tuple[float, float, float]], stops: Sequence[float], deceleration: float
) -> Floats:
    """Greatest v²/2 at each node from which every limit and stop ahead can be met.

    The backward pass is exact for braking with constant deceleration: what a place ahead allows here is its own
    v²/2 and the deceleration times the way there, and the least of all that counts.

    Args:
        nodes: Chainages [m].
        limits: Pieces of the line with a speed, start [m], end [m], speed [m/s].
        stops: Chainages of stops [m].
        deceleration: With which the driver plans to brake [m/s²].

    Returns:
        Greatest kinetic energy per mass, same shape as the nodes [J/kg].
    """
    top = np.full(len(nodes), np.inf)
    for start, end, speed in limits:
        inside = (nodes >= start - 1e-6) & (nodes <= end + 1e-6)
        top[inside] = np.minimum(top[inside], 0.5 * speed**2)
    for stop in stops:
        top[np.abs(nodes - stop) < 1e-6] = 0.0
    braking_energy = deceleration * (nodes - nodes[0])
    return np.asarray(
        np.minimum(top, np.minimum.accumulate((top + braking_energy)[::-1])[::-1] - braking_energy)
    )
