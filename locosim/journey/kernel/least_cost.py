"""Driving with the least cost over a line: dynamic programming over distance and speed, with a price of time.

The value of a node, a speed and a throttle shut or open is the least cost from there to the end, time counted at its
price, and each opening of the throttle at a price of its own: without that price, the driving of least cost opens and
shuts the throttle every few hundred yards. Going back from the end, each speed of an even axis tries shares of full
effort, from shut to full, and the share that holds the speed. Going forward, the train takes the best share at the
speed it really has. A higher price of time gives a faster run; the caller searches for the price that keeps a booked
time.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_inline
from locosim.journey.kernel.arrays import Codes
from locosim.physics.types import Floats

UNREACHABLE = 1e18  # cost where the train does not get through
LEVELS_BACK, LEVELS_AHEAD = 12, 48  # shares of effort tried, going back and going forward
RISING = 0.02  # acceleration below the floor of speed, with less than full effort; ours [m/s²]
SHUT, OPEN = 0, 1  # throttle before a step, the first axis of the values


class Choices(NamedTuple):
    """A line in n steps, with forces and cost of a train on m speeds of an even axis, in rows of like steps."""

    length: Floats  # n [m]
    top: Floats  # n + 1, highest v²/2 [J/kg]
    floor: Floats  # n + 1, v²/2 below which the train works up speed, or is at full effort [J/kg]
    slope: Floats  # n, force of grade and curves, positive against motion [N]
    inertia: Floats  # n, mass with rotating mass [kg]
    row: Codes  # n, row of the tables
    speed_step: float  # [m/s]
    resistance: Floats  # rows, m: resistance without effort [N]
    effort: Floats  # rows, m: full effort at the rim, less what friction of the thrust takes [N]
    rate: Floats  # rows, m, shares: cost per time at even shares of full effort, from hardly any to 1
    shut_rate: float  # cost per time with the throttle shut
    opening: float  # cost of opening the throttle


class Move(NamedTuple):
    """One step of a driving."""

    energy: float  # v²/2 at the end [J/kg]; negative where the train does not get through
    share: float  # of full effort
    time: float  # [s]
    cost: float


@compiled_inline
def at_speed(table: Floats, row: int, place: float) -> float:
    """Read a table at a place on the speed axis."""
    k = min(max(int(place), 0), table.shape[1] - 2)
    part = place - k
    return float(table[row, k] + part * (table[row, k + 1] - table[row, k]))


@compiled_inline
def cost_rate(choices: Choices, row: int, place: float, share: float) -> float:
    """Cost per time at a place on the speed axis and a share of full effort."""
    if share <= 0.0:
        return choices.shut_rate
    rate = choices.rate
    k = min(max(int(place), 0), rate.shape[1] - 2)
    at = share * (rate.shape[2] - 1)
    j = min(int(at), rate.shape[2] - 2)
    part, over = place - k, at - j
    low = rate[row, k, j] + part * (rate[row, k + 1, j] - rate[row, k, j])
    high = rate[row, k, j + 1] + part * (rate[row, k + 1, j + 1] - rate[row, k, j + 1])
    return float(low + over * (high - low))


@compiled_inline
def move(choices: Choices, i: int, energy: float, share: float) -> Move:
    """Move a train over a step with a share of full effort, less where that would exceed the limit at its end."""
    h, row, top = choices.length[i], choices.row[i], choices.top[i + 1]
    inertia, slope = choices.inertia[i], choices.slope[i]
    speed = math.sqrt(2.0 * energy)
    place = speed / choices.speed_step
    force = share * at_speed(choices.effort, row, place) - at_speed(choices.resistance, row, place) - slope
    middle = energy + 0.5 * h * force / inertia
    if middle <= 0.0:
        return Move(-1.0, share, 0.0, 0.0)
    place = math.sqrt(2.0 * middle) / choices.speed_step
    force = share * at_speed(choices.effort, row, place) - at_speed(choices.resistance, row, place) - slope
    after = energy + h * force / inertia
    if after > top:
        after = top
        place = math.sqrt(energy + top) / choices.speed_step
        needed = (top - energy) * inertia / h + at_speed(choices.resistance, row, place) + slope
        share = min(max(needed / at_speed(choices.effort, row, place), 0.0), share)
    elif after <= 0.0:
        return Move(-1.0, share, 0.0, 0.0)
    mean = 0.5 * (speed + math.sqrt(2.0 * after))
    time = h / max(mean, 1e-6)
    return Move(after, share, time, time * cost_rate(choices, row, mean / choices.speed_step, share))


@compiled_inline
def value_at(choices: Choices, values: Floats, throttle: int, i: int, energy: float) -> float:
    """Value of a node at any speed, after a step with the throttle shut or open."""
    k = min(int(math.sqrt(2.0 * energy) / choices.speed_step), values.shape[2] - 2)
    # Between two speeds the value is nearly linear in the energy, not in the speed: kinetic energy saves fuel.
    part = (2.0 * energy / choices.speed_step**2 - k * k) / (2 * k + 1)
    low = values[throttle, i, k]
    return float(low + part * (values[throttle, i, k + 1] - low))


@compiled_inline
def holding_share(choices: Choices, i: int, energy: float) -> float:
    """Share of full effort that holds a speed; outside 0 to 1 where none does."""
    row, place = choices.row[i], math.sqrt(2.0 * energy) / choices.speed_step
    needed = at_speed(choices.resistance, row, place) + choices.slope[i]
    return float(needed / at_speed(choices.effort, row, place))


@compiled_inline
def best_moves(
    choices: Choices, i: int, energy: float, price: float, values: Floats, levels: int
) -> tuple[Move, float, Move, float]:
    """The step with the least cost from here to the end with the throttle shut, and the one with it open.

    Returns:
        The shut step, its cost to the end, the open step and its cost to the end, without that of opening.
    """
    shut = opened = Move(-1.0, 0.0, 0.0, 0.0)
    least_shut = least_open = UNREACHABLE
    least_energy = 0.0 if energy >= choices.floor[i] else energy + RISING * choices.length[i]
    for level in range(levels + 2):
        share = holding_share(choices, i, energy) if level == levels else min(level / levels, 1.0)
        if not 0.0 <= share <= 1.0:
            continue
        found = move(choices, i, energy, share)
        if found.energy < 0.0 or (found.energy < least_energy and level <= levels):
            continue
        total = found.cost + price * found.time
        if found.share > 0.0:
            total += value_at(choices, values, OPEN, i + 1, found.energy)
            if total < least_open:
                opened, least_open = found, total
        else:
            total += value_at(choices, values, SHUT, i + 1, found.energy)
            if total < least_shut:
                shut, least_shut = found, total
    return shut, least_shut, opened, least_open


@compiled_inline
def fill_values(choices: Choices, price: float, values: Floats) -> None:
    """Fill the values of all nodes, shape (2, n + 1, m), going back from the end."""
    n, m = len(choices.length), values.shape[2]
    for throttle in range(2):
        for k in range(m):
            values[throttle, n, k] = 0.0
    for i in range(n - 1, -1, -1):
        highest = min(int(math.sqrt(2.0 * choices.top[i]) / choices.speed_step) + 1, m - 1)
        for k in range(highest + 1):
            speed = k * choices.speed_step
            _, shut, _, opened = best_moves(choices, i, 0.5 * speed * speed, price, values, LEVELS_BACK)
            values[OPEN, i, k] = min(opened, shut)
            values[SHUT, i, k] = min(opened + choices.opening, shut)
        for throttle in range(2):
            for k in range(highest + 1, m):
                values[throttle, i, k] = values[throttle, i, highest]


@compiled_inline
def drive(
    choices: Choices, price: float, values: Floats, energies: Floats, shares: Floats
) -> tuple[int, float, float]:
    """Drive from rest by the values, writing v²/2 at the nodes and the share of full effort in the steps.

    Returns:
        Last node reached, time [s] and cost, without that of the first opening.
    """
    n = len(choices.length)
    time, cost = 0.0, 0.0
    energies[0] = 0.0
    opening = 0.0
    for i in range(n):
        shut, least_shut, opened, least_open = best_moves(
            choices, i, energies[i], price, values, LEVELS_AHEAD
        )
        if min(least_shut, least_open) >= UNREACHABLE:
            return i, time, cost
        found = shut
        if least_open + opening < least_shut:
            found = opened
            cost += opening
        opening = 0.0 if found.share > 0.0 else choices.opening
        energies[i + 1], shares[i] = found.energy, found.share
        time += found.time
        cost += found.cost
    return n, time, cost
