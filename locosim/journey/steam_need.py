"""Steam need: the least steam with which a train keeps its times, its climbing speed, and does not stall.

It is a property of engine, train, line and timetable. No habit of the crew enters it: the train runs at full effort
with the same share of the sustained evaporation everywhere, at constant boiler pressure.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from locosim.constants import GRAVITY
from locosim.engine.performance import Performance
from locosim.journey.climbing import StepsRun, slowest_steps
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel import integrate as kernel
from locosim.journey.kernel.arrays import RunArrays
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.model import Excursion

SHARE_TOLERANCE = 5e-4  # width at which the search ends [1]
# Supplies added to the tender, and taken off the train, so that none runs out in the search [kg].
ENDLESS_SUPPLIES = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class SteamNeed:
    """Least uniform share of the sustained evaporation that a run needs, all purposes included.

    Attributes:
        share: Least share [1]; None where no steam suffices, because rail or cylinders limit the train.
        set_by: What fails with a little less: `time`, `climb` or `stall`; with no share, what fails at any.
        chainage: Where it fails [m].
    """

    share: float | None
    set_by: str
    chainage: float


class _Failure(NamedTuple):
    """What a run fails in first, and where [m]."""

    cause: str
    chainage: float


def steam_need(excursion: Excursion, performance: Performance) -> SteamNeed:
    """Find the least uniform share of the sustained evaporation with which the excursion can be run.

    Suffices means: it does not stall, no climbing speed is below `criteria.min_climbing_speed`, and no arrival or
    departure is later than `criteria.max_lateness` allows. Stored heat is not credited; where climbing speed sets
    the need, a short climb can be run with less, at the cost of pressure.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
    """
    prepared = _at_full_effort(prepare(excursion, performance))
    low, high = 0.0, 1.0
    fails = _Failure("stall", float(prepared.chainage[0]))
    while True:
        arrays = _run_with_share(prepared, high)
        failure = _failure(prepared, arrays)
        if failure is None:
            break
        if not np.any(arrays.limit[: arrays.last_node + 1] == records.STEAM):
            return SteamNeed(share=None, set_by=failure.cause, chainage=failure.chainage)
        low, high, fails = high, 2.0 * high, failure
    while high - low > SHARE_TOLERANCE:
        middle = 0.5 * (low + high)
        failure = _failure(prepared, _run_with_share(prepared, middle))
        if failure is None:
            high = middle
        else:
            low, fails = middle, failure
    return SteamNeed(share=high, set_by=fails.cause, chainage=fails.chainage)


def _at_full_effort(prepared: PreparedRun) -> PreparedRun:
    """The run at the speed limits, with supplies that do not run out.

    The added supplies are taken off the mass, weight and resistance of the rest of the train, so that nothing else
    changes.
    """
    line, load, start = prepared.line, prepared.load, prepared.start
    return replace(
        prepared,
        line=line._replace(
            envelope=prepared.max_energy,
            shutoff=prepared.max_energy,
            gravity=line.gravity - ENDLESS_SUPPLIES * GRAVITY * line.grade,
        ),
        load=load._replace(
            mass=load.mass - ENDLESS_SUPPLIES,
            a=load.a - ENDLESS_SUPPLIES * load.a_contents,
            b=load.b - ENDLESS_SUPPLIES * load.b_contents,
        ),
        start=start._replace(
            tender_water=start.tender_water + 0.5 * ENDLESS_SUPPLIES,
            tender_water_full=start.tender_water_full + 0.5 * ENDLESS_SUPPLIES,
            tender_fuel=start.tender_fuel + 0.5 * ENDLESS_SUPPLIES,
            tender_fuel_full=start.tender_fuel_full + 0.5 * ENDLESS_SUPPLIES,
        ),
    )


def _run_with_share(prepared: PreparedRun, share: float) -> RunArrays:
    line = prepared.line._replace(steam_share=np.full(len(prepared.line.grade), share))
    return kernel.run(line, prepared.load, prepared.engine, prepared.boiler, prepared.start)


def _failure(prepared: PreparedRun, arrays: RunArrays) -> _Failure | None:
    """First thing a run fails in; None where it suffices."""
    excursion, chainage = prepared.excursion, prepared.chainage
    n = arrays.last_node
    steps = StepsRun(
        chainage[: n + 1],
        np.sqrt(2.0 * arrays.nodes[records.ENERGY, : n + 1]),
        prepared.grade[:n],
        arrays.limit[:n],
    )
    failures = [
        _Failure("climb", float(chainage[slow.step + 1]))
        for slow in slowest_steps(steps, excursion.assumptions)
        if slow.speed < excursion.criteria.min_climbing_speed
    ]
    failures += [
        _Failure("time", float(chainage[i]))
        for stop, i in zip(excursion.stops, prepared.stop_nodes, strict=True)
        if i <= n and _lateness(arrays, i, stop.arrive, stop.depart) > excursion.criteria.max_lateness
    ]
    if arrays.status != records.ARRIVED:
        failures.append(_Failure("stall", float(arrays.end_distance + chainage[0])))
    return min(failures, key=lambda failure: failure.chainage, default=None)


def _lateness(arrays: RunArrays, node: int, arrive: float | None, depart: float | None) -> float:
    """Lateness at a stop [s]; negative where it is early or no time is booked."""
    late = [-np.inf]
    if arrive is not None:
        late.append(float(arrays.nodes[records.ARRIVE, node]) - arrive)
    if depart is not None and node > 0:
        late.append(float(arrays.nodes[records.DEPART, node]) - depart)
    return max(late)
