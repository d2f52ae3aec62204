"""Aims of a fireman who knows the road: fuel on the grate and water in the boiler, from a rehearsal of the run.

A fireman can fire at most so much. Where more will be burned, the difference must lie on the grate before; likewise
feed that is to be left out on a hard stretch must be in the boiler before. With C(t) the time integral of what is
used over what can be supplied, and n(s) what is needed at a time s at the least, the aim at t is

    max over s from t to t + horizon of (n(s) + C(s)) - C(t)

found for all t in one backward pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.compiled import compiled_inline, in_python
from locosim.journey.kernel.arrays import (
    ARRIVE,
    ARRIVED,
    CYLINDER_STEAM_RATE,
    DEPART,
    Boiler,
    RunArrays,
)
from locosim.journey.kernel.crew import FIRING_MARGIN, bed_for_burning
from locosim.journey.kernel.fire import firing_for_steam
from locosim.physics.types import Floats

Indices = npt.NDArray[np.int64]


class CrewAims(NamedTuple):
    """Aims of the fireman on leaving each node."""

    bed: Floats  # fuel on the grate [kg]
    firing_ahead: Floats  # firing rate that the steam just ahead needs [kg/s]
    water: Floats  # in the boiler [kg]


class SteadyRun(NamedTuple):
    """A run with steady pressure, as the fireman goes over it in his mind: over the nodes it reached."""

    arrive: Floats  # at each node, shape (n + 1,) [s]
    depart: Floats  # from each node, shape (n + 1,) [s]
    steam: Floats  # to the cylinders in each step, shape (n,) [kg/s]
    arrived: bool


class Rehearsal(NamedTuple):
    """Clock of a run, with what is used until then: arrivals, and departures of nodes where the train stands."""

    clock: Floats  # [s]
    burned: Floats  # fuel, in the end less what can be fired [kg]
    deferred_feed: Floats  # feed to be left out to make the steam, less what can be filled in [kg]
    firing_ahead: Floats  # mean burning rate just ahead [kg/s]
    bed_need: Floats  # fuel on the grate that the burning rate ahead needs [kg]
    level: Floats  # water in the boiler at the least [kg]
    bed_aim: Floats  # fuel on the grate to have [kg]
    water_aim: Floats  # water in the boiler to have [kg]


@compiled_inline
def accumulate(boiler: Boiler, run: SteadyRun, made: Rehearsal, leaving: Indices) -> None:
    """Fuel and deferred feed of a run over its clock, into arrays of a rehearsal.

    Args:
        boiler: The boiler.
        run: The run.
        made: Its clock, fuel and feed are written. The first node has a departure even where the train does not stand.
        leaving: Written: place in the clock of leaving each node.
    """
    clock, burned, deferred = made.clock, made.burned, made.deferred_feed
    standing = boiler.auxiliary_steam + boiler.blower_steam
    standing_firing = firing_for_steam(boiler, standing)
    # Heat saved by leaving out a kilogram of feed makes this much steam.
    saving = (boiler.working_liquid_enthalpy - boiler.feed_enthalpy) / boiler.evaporation_heat
    filling = (boiler.filled_water - boiler.target_water) / boiler.recovery_time
    clock[0], burned[0], deferred[0] = run.arrive[0], 0.0, 0.0
    j, burning = 0, standing_firing
    for i in range(len(run.arrive)):
        if i > 0:
            j += 1
            clock[j] = run.arrive[i]
            dt = clock[j] - clock[j - 1]
            steam = run.steam[i - 1] + boiler.auxiliary_steam
            burning = firing_for_steam(boiler, steam, burning)
            burned[j] = burned[j - 1] + dt * burning
            excess = (steam - FIRING_MARGIN * boiler.sustained_steam) / saving
            deferred[j] = deferred[j - 1] + dt * max(excess, -filling)
        if i == 0 or run.depart[i] > clock[j]:
            j += 1
            clock[j] = run.depart[i]
            stood = clock[j] - clock[j - 1]
            burned[j] = burned[j - 1] + stood * standing_firing
            deferred[j] = deferred[j - 1] - stood * filling
        leaving[i] = j


@compiled_inline
def find_mean_ahead(clock: Floats, burned: Floats, span: float, beyond: float, rate: Floats) -> None:
    """Mean burning rate over a span of time from each time of the clock.

    Args:
        clock: Rising times [s].
        burned: Fuel burned until then [kg].
        span: Time ahead [s].
        beyond: Burning rate beyond the end of the clock [kg/s].
        rate: The result [kg/s].
    """
    last = len(clock) - 1
    k = 0
    for j in range(last + 1):
        until = clock[j] + span
        while k < last and clock[k + 1] <= until:
            k += 1
        at = burned[k]
        if k == last:
            at += beyond * (until - clock[k])
        else:
            at += (burned[k + 1] - burned[k]) * (until - clock[k]) / (clock[k + 1] - clock[k])
        rate[j] = (at - burned[j]) / span


@compiled_inline
def aim_ahead(
    clock: Floats, needed: Floats, net_use: Floats, horizon: float, waiting: Indices, aim: Floats
) -> None:
    """Stock to have at each time, so that what is needed is there within the horizon.

    Args:
        clock: Rising times [s].
        needed: Stock needed at each time [kg].
        net_use: Use less possible supply, summed up to each time [kg].
        horizon: Time looked ahead [s].
        waiting: Room for as many indices.
        aim: The result [kg].
    """
    n = len(clock)
    # waiting[first:last] are the times of the window that may count, from the latest need to the largest.
    first, last = n, n
    for j in range(n - 1, -1, -1):
        need = needed[j] + net_use[j]
        while first < last and needed[waiting[first]] + net_use[waiting[first]] <= need:
            first += 1
        first -= 1
        waiting[first] = j
        while clock[waiting[last - 1]] > clock[j] + horizon:
            last -= 1
        largest = waiting[last - 1]
        aim[j] = needed[largest] + net_use[largest] - net_use[j]


@compiled_inline
def raise_to_later(clock: Floats, span: float, aim: Floats, leaving: Indices, raised: Floats) -> None:
    """The aim on leaving each node, or that a span of time later where it is more; the last one from the end on.

    Args:
        clock: Rising times [s].
        span: Time ahead [s].
        aim: At each time of the clock.
        leaving: Place in the clock of leaving each node.
        raised: The result, at each node.
    """
    last = len(clock) - 1
    k = 0
    for i in range(len(raised)):
        until = clock[leaving[i]] + span
        while k < last and clock[k + 1] <= until:
            k += 1
        later = aim[k]
        if k < last:
            later += (aim[k + 1] - aim[k]) / (clock[k + 1] - clock[k]) * (until - clock[k])
        raised[i] = max(aim[leaving[i]], later)


@compiled_inline
def rehearse(
    boiler: Boiler, run: SteadyRun, made: Rehearsal, waiting: Indices, leaving: Indices, aims: CrewAims
) -> None:
    """Follow a run with its use of fuel and steam, and find the aims at the nodes it reached.

    Args:
        boiler: The boiler.
        run: The run.
        made: Room for two times for each of its nodes.
        waiting: Room for as many indices.
        leaving: Room for an index for each node.
        aims: Written, for each node reached.
    """
    nodes = len(run.arrive)
    accumulate(boiler, run, made, leaving)
    count = leaving[nodes - 1] + 1
    clock, burned, deferred = made.clock[:count], made.burned[:count], made.deferred_feed[:count]
    ahead, need, level = made.firing_ahead[:count], made.bed_need[:count], made.level[:count]
    beyond = 0.0 if run.arrived else boiler.max_firing
    # The fire follows the dampers in one lag: he closes them over the mean of two.
    find_mean_ahead(clock, burned, 2.0 * boiler.burning_lag, beyond, ahead)
    find_mean_ahead(clock, burned, min(boiler.bed_lead, boiler.horizon), beyond, need)
    can_fire = FIRING_MARGIN * boiler.firing_capacity
    arriving = 0
    for i in range(nodes):
        for j in range(arriving, leaving[i] + 1):
            # He comes to a stop with fire enough to start again without firing [Gregory1841].
            burning = max(need[j], ahead[j]) if j > arriving else need[j]
            need[j] = bed_for_burning(boiler, burning)
            burned[j] -= can_fire * (clock[j] - clock[0])
            level[j] = boiler.target_water
        arriving = leaving[i] + 1
    aim_ahead(clock, need, burned, boiler.horizon, waiting, made.bed_aim)
    aim_ahead(clock, level, deferred, boiler.horizon, waiting, made.water_aim)
    # The bed follows his aim after his round and the time he gives himself: he begins so much earlier.
    raise_to_later(clock, boiler.firing_lag + boiler.bed_recovery_time, made.bed_aim, leaving, aims.bed)
    for i in range(nodes):
        aims.firing_ahead[i] = ahead[leaving[i]]
        aims.bed[i] = min(aims.bed[i], boiler.max_bed)
        aims.water[i] = min(made.water_aim[leaving[i]], boiler.filled_water)


def steady_run(run: RunArrays) -> SteadyRun:
    """A run with steady pressure as the aims need it."""
    n = run.last_node
    return SteadyRun(
        run.nodes[ARRIVE, : n + 1],
        run.nodes[DEPART, : n + 1],
        run.steps[CYLINDER_STEAM_RATE, :n],
        run.status == ARRIVED,
    )


def joined(runs: Sequence[RunArrays]) -> SteadyRun:
    """One run of several, each from the stop where the one before arrived."""
    parts = [steady_run(run) for run in runs]
    # The stop is a node of both, which the second leaves after standing there.
    *before, last = parts
    return SteadyRun(
        np.concatenate([*(part.arrive[:-1] for part in before), last.arrive]),
        np.concatenate([*(part.depart[:-1] for part in before), last.depart]),
        np.concatenate([part.steam for part in parts]),
        last.arrived,
    )


def crew_aims(boiler: Boiler, run: SteadyRun, nodes: int) -> CrewAims:
    """Aims of the fireman from a run with steady pressure; beyond its end he expects the sustained rate.

    Args:
        boiler: The boiler.
        run: The rehearsal.
        nodes: Number of nodes of the line.
    """
    aims = CrewAims(
        np.full(nodes, in_python(bed_for_burning)(boiler, boiler.max_firing)),
        np.full(nodes, -1.0),
        np.full(nodes, boiler.target_water),
    )
    reached = len(run.arrive)
    waiting, leaving = np.empty(2 * reached, dtype=np.int64), np.empty(reached, dtype=np.int64)
    at_reached = CrewAims(*(aim[:reached] for aim in aims))
    rehearse(boiler, run, Rehearsal(*np.empty((8, 2 * reached))), waiting, leaving, at_reached)
    return aims
