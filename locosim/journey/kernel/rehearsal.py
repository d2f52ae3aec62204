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
    """Clock of a run, arrival and departure of each node in turn, with what is used until then."""

    clock: Floats  # [s]
    burned: Floats  # fuel [kg]
    deferred_feed: Floats  # feed to be left out to make the steam, less what can be filled in [kg]
    firing_ahead: Floats  # mean burning rate just ahead [kg/s]
    bed_need: Floats  # fuel on the grate that the burning rate ahead needs [kg]


@compiled_inline
def accumulate(boiler: Boiler, run: SteadyRun, made: Rehearsal) -> None:
    """Fuel and deferred feed of a run over its clock, into arrays of a rehearsal."""
    clock, burned, deferred = made.clock, made.burned, made.deferred_feed
    standing = boiler.auxiliary_steam + boiler.blower_steam
    standing_firing = firing_for_steam(boiler, standing)
    # Heat saved by leaving out a kilogram of feed makes this much steam.
    saving = (boiler.working_liquid_enthalpy - boiler.feed_enthalpy) / boiler.evaporation_heat
    filling = (boiler.filled_water - boiler.target_water) / boiler.recovery_time
    for i in range(len(run.arrive)):
        j = 2 * i
        clock[j], clock[j + 1] = run.arrive[i], run.depart[i]
        if i > 0:
            dt = clock[j] - clock[j - 1]
            steam = run.steam[i - 1] + boiler.auxiliary_steam
            burned[j] = burned[j - 1] + dt * firing_for_steam(boiler, steam)
            excess = (steam - FIRING_MARGIN * boiler.sustained_steam) / saving
            deferred[j] = deferred[j - 1] + dt * max(excess, -filling)
        stood = clock[j + 1] - clock[j]
        burned[j + 1] = burned[j] + stood * standing_firing
        deferred[j + 1] = deferred[j] - stood * filling


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
def rehearse(boiler: Boiler, run: SteadyRun, made: Rehearsal) -> None:
    """Follow a run with its use of fuel and steam, into arrays of a rehearsal."""
    accumulate(boiler, run, made)
    beyond = 0.0 if run.arrived else boiler.max_firing
    # The fire follows the dampers in one lag: he closes them over the mean of two.
    find_mean_ahead(made.clock, made.burned, 2.0 * boiler.burning_lag, beyond, made.firing_ahead)
    lead = min(boiler.bed_lead, boiler.horizon)
    find_mean_ahead(made.clock, made.burned, lead, beyond, made.bed_need)
    for j in range(len(made.bed_need)):
        burning = made.bed_need[j]
        if j == 1 or (j % 2 == 1 and made.clock[j] > made.clock[j - 1]):
            # He comes to a stop with fire enough to start again without firing [Gregory1841].
            burning = max(burning, made.firing_ahead[j])
        made.bed_need[j] = bed_for_burning(boiler, burning)


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
    reached = len(run.arrive)
    count = 2 * reached
    made = Rehearsal(*np.zeros((5, count)))
    rehearse(boiler, run, made)
    fired = FIRING_MARGIN * boiler.firing_capacity * (made.clock - made.clock[0])
    level = np.full(count, boiler.target_water)
    bed, water = np.empty(count), np.empty(count)
    waiting = np.empty(count, dtype=np.int64)
    aim_ahead(made.clock, made.bed_need, made.burned - fired, boiler.horizon, waiting, bed)
    aim_ahead(made.clock, level, made.deferred_feed, boiler.horizon, waiting, water)
    # The bed follows his aim after his round and the time he gives himself: he begins so much earlier.
    soon = np.interp(made.clock + boiler.firing_lag + boiler.bed_recovery_time, made.clock, bed)
    bed = np.maximum(bed, soon)
    aims = CrewAims(
        np.full(nodes, in_python(bed_for_burning)(boiler, boiler.max_firing)),
        np.full(nodes, -1.0),
        np.full(nodes, boiler.target_water),
    )
    aims.firing_ahead[:reached] = made.firing_ahead[1::2]
    aims.bed[:reached] = np.minimum(bed[1::2], boiler.max_bed)
    aims.water[:reached] = np.minimum(water[1::2], boiler.filled_water)
    return aims
