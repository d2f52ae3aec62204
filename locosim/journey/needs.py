"""Needs: the least steam, and the least adhesion, with which a train keeps its times and its climbing speed.

They are properties of engine, train, line and timetable. No habit of the crew enters them: the train runs at full
effort with the same share of the sustained evaporation, and of the adhesion of the rail, everywhere, at constant
boiler pressure.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from typing import NamedTuple

import numpy as np

from locosim.engine.performance import Performance
from locosim.journey.climbing import StepsRun, slowest_steps
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel import integrate as kernel
from locosim.journey.kernel.arrays import RunArrays
from locosim.journey.setup.assisting_pull import AssistingPull, with_pull
from locosim.journey.setup.endless_supplies import with_endless_supplies
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.model import Excursion

SHARE_STEP = 2.0**-11  # a need is found as a whole number of these [1]
ALL_STEPS = round(1.0 / SHARE_STEP)  # the sustained evaporation, or the adhesion of the rail
ENDLESS = 16  # share at which neither steam nor the rail limits any train [1]
STEAM_RESERVE = 1.1  # over the steam need, of the steam with which the adhesion need is found; ours [1]
# Lateness and lack of climbing speed that count alike in the guess of the next share [s], [m/s].
LATENESS_SCALE, SPEED_SCALE = 600.0, 5.0


class What(Enum):
    """What is needed; the value is the limit of the effort where there is too little of it."""

    STEAM = records.STEAM
    ADHESION = records.ADHESION


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Least uniform share of the sustained evaporation, all purposes included, or of the adhesion, that a run needs.

    Attributes:
        share: Least share [1]; None where no amount suffices, because something else limits the train.
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


class _Trial(NamedTuple):
    """Run with one share of what is needed.

    Attributes:
        failure: What it fails in first; None where it suffices.
        slack: How far it is from failing, below 0 where it fails; minus infinity where it does not arrive [1].
        is_limited: Whether what is needed limits it anywhere.
    """

    failure: _Failure | None
    slack: float
    is_limited: bool


def steam_need(
    excursion: Excursion,
    performance: Performance,
    *,
    begin: float | None = None,
    pull: AssistingPull | None = None,
) -> Need:
    """Find the least uniform share of the sustained evaporation with which the excursion can be run.

    Suffices means: it does not stall, no climbing speed is below `criteria.min_climbing_speed`, and no arrival or
    departure is later than `criteria.max_lateness` allows. Stored heat is not credited; where climbing speed sets
    the need, a short climb can be run with less, at the cost of pressure.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        begin: Need of a similar run, at which the search begins; the result does not depend on it.
        pull: A pull from outside, if any.
    """
    return _least(_Search(_at_full_effort(_with_pull(excursion, performance, pull)), What.STEAM), begin)


def adhesion_need(
    excursion: Excursion,
    performance: Performance,
    steam: Need,
    *,
    begin: float | None = None,
    pull: AssistingPull | None = None,
) -> Need:
    """Find the least share of the adhesion of the rail, everywhere, with which the excursion can be run.

    Suffices means the same as for steam. The steam is the sustained evaporation; where that is near to the steam need
    or below, it is the steam need with some reserve, so that the rail is not blamed for the boiler.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        steam: Steam need of the excursion.
        begin: Need of a similar run, at which the search begins; the result does not depend on it.
        pull: A pull from outside, if any.
    """
    share = float(ENDLESS) if steam.share is None else max(STEAM_RESERVE * steam.share, 1.0)
    prepared = _at_full_effort(_with_pull(excursion, performance, pull))
    line = prepared.line._replace(steam_share=np.full(len(prepared.line.grade), share))
    return _least(_Search(replace(prepared, line=line), What.ADHESION), begin)


def _with_pull(excursion: Excursion, performance: Performance, pull: AssistingPull | None) -> PreparedRun:
    prepared = prepare(excursion, performance)
    return prepared if pull is None else with_pull(prepared, pull)


def _least(search: _Search, begin: float | None) -> Need:
    low, high = search.bracket(begin)
    while high - low > 1:
        middle = search.between(low, high)
        low, high = (low, middle) if search.trial(middle).failure is None else (middle, high)
    failure = search.trial(low).failure
    assert failure is not None
    return Need(
        share=high * SHARE_STEP if high > 0 else None, set_by=failure.cause, chainage=failure.chainage
    )


class _Search:
    """Search for a need, in steps of the share."""

    def __init__(self, prepared: PreparedRun, what: What) -> None:
        self._prepared, self._what = prepared, what
        stall = _Failure("stall", float(prepared.chainage[0]))
        self._trials = {0: _Trial(stall, -np.inf, is_limited=True)}

    def trial(self, number: int) -> _Trial:
        """The run with a number of steps of the share; none does not move the train."""
        if number not in self._trials:
            self._trials[number] = _tried(self._prepared, self._what, number * SHARE_STEP)
        return self._trials[number]

    def bracket(self, begin: float | None) -> tuple[int, int]:
        """Steps that fail, and more that suffice, close to a guess; 0 for the latter where no amount suffices."""
        high = ALL_STEPS if begin is None else max(round(begin / SHARE_STEP), 1)
        low, stride = (0, ALL_STEPS) if begin is None else (high - 1, 1)
        while self.trial(high).failure is not None:
            if high >= ENDLESS * ALL_STEPS:
                return high, 0
            # A train that does not start says nothing about what limits it.
            wider = high + stride if self.trial(high).is_limited else max(high + stride, ALL_STEPS)
            if high >= ALL_STEPS and not self.trial(high).is_limited:
                wider = ENDLESS * ALL_STEPS
            low, high, stride = high, min(wider, ENDLESS * ALL_STEPS), 4 * stride
        while self.trial(low).failure is None:
            low, high, stride = max(low - stride, 0), low, 4 * stride
        return low, high

    def between(self, low: int, high: int) -> int:
        """Next number to try: where the slack of the two would be none on a straight line, or the middle."""
        short, spare = self.trial(low).slack, self.trial(high).slack
        part = short / (short - spare) if np.isfinite(short) and np.isfinite(spare) and spare > 0.0 else 0.5
        # Not too close to one end, so that the other one moves too.
        part = min(max(part, 0.05), 0.95)
        return min(max(low + round(part * (high - low)), low + 1), high - 1)


def _at_full_effort(prepared: PreparedRun) -> PreparedRun:
    """The run at the speed limits, with supplies that do not run out."""
    endless = with_endless_supplies(prepared)
    line = endless.line._replace(envelope=prepared.max_energy, shutoff=prepared.max_energy)
    return replace(endless, line=line)


def _run_with_share(prepared: PreparedRun, what: What, share: float) -> RunArrays:
    line = prepared.line
    if what is What.ADHESION:
        line = line._replace(adhesion=share * line.adhesion)
    else:
        line = line._replace(steam_share=np.full(len(line.grade), share))
    return kernel.run(line, prepared.load, prepared.engine, prepared.boiler, prepared.start)


def _tried(prepared: PreparedRun, what: What, share: float) -> _Trial:
    """Run with a share of what is needed, and see whether it suffices."""
    arrays = _run_with_share(prepared, what, share)
    excursion, chainage, criteria = prepared.excursion, prepared.chainage, prepared.excursion.criteria
    n = arrays.last_node
    steps = StepsRun(
        chainage[: n + 1],
        np.sqrt(2.0 * arrays.nodes[records.ENERGY, : n + 1]),
        prepared.grade[:n],
        arrays.limit[:n],
    )
    climbs = slowest_steps(steps, excursion.assumptions)
    late = [
        (_lateness(arrays, i, stop.arrive, stop.depart) - criteria.max_lateness, i)
        for stop, i in zip(excursion.stops, prepared.stop_nodes, strict=True)
        if i <= n
    ]
    failures = [
        _Failure("climb", float(chainage[slow.step + 1]))
        for slow in climbs
        if slow.speed < criteria.min_climbing_speed
    ]
    failures += [_Failure("time", float(chainage[i])) for lateness, i in late if lateness > 0.0]
    slack = [(slow.speed - criteria.min_climbing_speed) / SPEED_SCALE for slow in climbs]
    slack += [-lateness / LATENESS_SCALE for lateness, _ in late]
    if arrays.status != records.ARRIVED:
        failures.append(_Failure("stall", float(arrays.end_distance + chainage[0])))
        slack.append(-np.inf)
    return _Trial(
        failure=min(failures, key=lambda failure: failure.chainage, default=None),
        slack=min(slack, default=np.inf),
        is_limited=bool(np.any(arrays.limit[: n + 1] == what.value)),
    )


def _lateness(arrays: RunArrays, node: int, arrive: float | None, depart: float | None) -> float:
    """Lateness at a stop [s]; negative where it is early or no time is booked."""
    late = [-np.inf]
    if arrive is not None:
        late.append(float(arrays.nodes[records.ARRIVE, node]) - arrive)
    if depart is not None and node > 0:
        late.append(float(arrays.nodes[records.DEPART, node]) - depart)
    return max(late)
