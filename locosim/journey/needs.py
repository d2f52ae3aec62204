"""Needs: the least steam, and the least adhesion, with which a train keeps its times and its climbing speed.

They are properties of engine, train, line and timetable. No habit of the crew enters them: the train runs at full
effort with the same share of the sustained evaporation, and of the adhesion of the rail, everywhere, at constant
boiler pressure.
"""

from __future__ import annotations

import math
from dataclasses import field, replace
from enum import Enum
from typing import NamedTuple

import numpy as np

from locosim.engine.performance import Performance
from locosim.frozen import frozen
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
PLENTY = 2 * ALL_STEPS  # where it is asked whether any amount suffices
MAX_GUESSES = 4  # trials that fail, before it is asked
FAR_OFF = ALL_STEPS // 4  # steps to go by which it is asked at once
MAX_SURPRISE = 0.05  # of the steam need, that the adhesion need is expected to share [1]
# A search begun from a similar run reads the need off the slack of a trial within so many steps of it, unless the whole
# step is in doubt: by a share of what is to go, with the gain of the similar run or with that between two trials [1].
READ_STEPS, WHOLE_STEP, GAIN_DOUBT, SLOPE_DOUBT = 2.0, 0.03, 0.5, 0.1
STALL_PART = 8  # of a share with which the train stalls, by which the next is more at least
READ_TRIALS = 5  # after which it is searched for, step by step
SAME_PLACE = 500.0  # within which two failures are of the same climb or stop [m]
# Lateness and lack of climbing speed that count alike in the guess of the next share [s], [m/s].
LATENESS_SCALE, SPEED_SCALE = 600.0, 5.0


class What(Enum):
    """What is needed; the value is the limit of the effort where there is too little of it."""

    STEAM = records.STEAM
    ADHESION = records.ADHESION


class SearchRecord(NamedTuple):
    """What the search for a need has shown.

    Attributes:
        capacity: What the share is taken of, over the mass of the train; needs of similar runs are about as 1 over it.
        gain: Slack that one more step of the share gives at the need [1]; 0 if unknown.
        surprise: Need over what was expected from that of a similar run [1].
    """

    capacity: float
    gain: float
    surprise: float


@frozen
class Need:
    """Least uniform share of the sustained evaporation, all purposes included, or of the adhesion, that a run needs.

    Attributes:
        share: Least share [1]; None where no amount suffices, because something else limits the train.
        set_by: What fails with a little less: `time`, `climb` or `stall`; with no share, what fails at any.
        chainage: Where it fails [m].
        search: What a search for the need of a similar run begins with.
    """

    share: float | None
    set_by: str
    chainage: float
    search: SearchRecord | None = field(default=None, compare=False, repr=False)


class _Failure(NamedTuple):
    """What a run fails in first, and where [m]."""

    cause: str
    chainage: float


class _Reading(NamedTuple):
    """A need found: steps that suffice, 0 for none; what fails with one less; slack that one step gives."""

    steps: int
    failure: _Failure
    gain: float


class _Trial(NamedTuple):
    """Run with one share of what is needed.

    Attributes:
        failure: What it fails in first; None where it suffices.
        tightest: What it fails in with the least slack, or would with less; None where nothing limits it.
        slack: How far it is from failing, below 0 where it fails; minus infinity where it does not arrive [1].
        is_limited: Whether what is needed limits it anywhere.
        is_final: Whether more would give the same run.
    """

    failure: _Failure | None
    tightest: _Failure | None
    slack: float
    is_limited: bool
    is_final: bool


def steam_need(
    excursion: Excursion,
    performance: Performance,
    *,
    begin: Need | None = None,
    pull: AssistingPull | None = None,
) -> Need:
    """Find the least uniform share of the sustained evaporation with which the excursion can be run.

    Suffices means: it does not stall, no climbing speed is below `criteria.min_climbing_speed`, and no arrival or
    departure is later than `criteria.max_lateness` allows. Stored heat is not credited; where climbing speed sets
    the need, a short climb can be run with less, at the cost of pressure.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        begin: Need of a similar run, at which the search begins; the result hardly depends on it, by a step at most.
        pull: A pull from outside, if any.
    """
    return _Search(_at_full_effort(_with_pull(excursion, performance, pull)), What.STEAM).least(begin)


def adhesion_need(
    excursion: Excursion,
    performance: Performance,
    steam: Need,
    *,
    begin: Need | None = None,
    pull: AssistingPull | None = None,
) -> Need:
    """Find the least share of the adhesion of the rail, everywhere, with which the excursion can be run.

    Suffices means the same as for steam. The steam is the sustained evaporation; where that is near to the steam need
    or below, it is the steam need with some reserve, so that the rail is not blamed for the boiler.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        steam: Steam need of the excursion.
        begin: Need of a similar run, at which the search begins; the result hardly depends on it, by a step at most.
        pull: A pull from outside, if any.
    """
    share = float(ENDLESS) if steam.share is None else max(STEAM_RESERVE * steam.share, 1.0)
    prepared = _at_full_effort(_with_pull(excursion, performance, pull))
    line = prepared.line._replace(steam_share=np.full(len(prepared.line.grade), share))
    return _Search(replace(prepared, line=line), What.ADHESION).least(
        begin, steam.search.surprise if steam.search else 1.0
    )


def _with_pull(excursion: Excursion, performance: Performance, pull: AssistingPull | None) -> PreparedRun:
    prepared = prepare(excursion, performance)
    return prepared if pull is None else with_pull(prepared, pull)


class _Search:
    """Search for a need, in steps of the share."""

    def __init__(self, prepared: PreparedRun, what: What) -> None:
        self._prepared, self._what = prepared, what
        self._min_climbing_speed = prepared.excursion.min_climbing_speed
        self._record = kernel.blank_record(len(prepared.line.grade))
        # Whether a train that does not start sets the similar need: other slack says nothing of it.
        self._by_start = False
        self._tried_before = 0  # trials of a need that could not be read off
        stall = _Failure("stall", float(prepared.chainage[0]))
        self._trials = {0: _Trial(stall, stall, -np.inf, is_limited=True, is_final=False)}

    def least(self, begin: Need | None, surprise: float = 1.0) -> Need:
        """The need, searched from that of a similar run.

        Args:
            begin: Need of the similar run.
            surprise: Need of something else over what was expected [1]: this one is likely to differ as much.
        """
        guess, gain = None, 0.0
        if begin is not None and begin.share is not None:
            gain = begin.search.gain if begin.search else 0.0
            capacity = self._capacity(begin)
            scale = begin.search.capacity / capacity if begin.search and capacity > 0.0 else 1.0
            # A great one is of the time, which steam and adhesion do not gain alike; a start has nothing of it.
            self._by_start = begin.set_by == "stall"
            scale *= surprise if abs(surprise - 1.0) < MAX_SURPRISE and not self._by_start else 1.0
            guess = min(max(round(scale * begin.share / SHARE_STEP), 1), ENDLESS * ALL_STEPS)
        elif begin is not None:
            guess = PLENTY
        found = self._read(guess, gain, begin) if begin is not None and guess is not None else None
        steps, failure, gain = found if found is not None else self._tried_out(guess, gain)
        capacity = self._capacity(failure)
        return Need(
            share=steps * SHARE_STEP if steps > 0 else None,
            set_by=failure.cause,
            chainage=failure.chainage,
            search=SearchRecord(capacity, gain, steps / guess if guess and steps > 0 else 1.0),
        )

    def _tried_out(self, guess: int | None, gain: float) -> _Reading:
        """The need between steps that fail and one more that suffice, both tried."""
        fail = max((number for number, trial in self._trials.items() if trial.failure is not None), default=0)
        suffice = min((number for number, trial in self._trials.items() if trial.failure is None), default=0)
        self._tried_before = len(self._trials) - 1
        known = fail > 0 and suffice > 0
        bracket = (fail, suffice) if known else self._bracket(fail or suffice or guess, gain)
        low, high = self._neighbors(*bracket, gain)
        failure = self.trial(low).failure
        assert failure is not None
        found = self.trial(high).slack - self.trial(low).slack
        return _Reading(high, failure, found if np.isfinite(found) else 0.0)

    def _read(self, guess: int, gain: float, begin: Need) -> _Reading | None:
        """The need read off the slack of a trial close to it, the slack taken as straight; None where that is not sure.

        Args:
            guess: Where to begin.
            gain: Slack that one more step gave at the need of a similar run.
            begin: That need.
        """
        number, before, doubt, gained_by = guess, 0, GAIN_DOUBT, _Failure(begin.set_by, begin.chainage)
        for _ in range(READ_TRIALS):
            here = self.trial(number)
            if here.tightest is None or not here.is_limited or not np.isfinite(here.slack):
                return None
            if before > 0 and _same(here.tightest, self.trial(before).tightest):
                gain = (here.slack - self.trial(before).slack) / (number - before)
                doubt, gained_by = SLOPE_DOUBT, here.tightest
            if gain <= 0.0:
                return None
            off = -here.slack / gain
            root = number + off
            whole = round(root)
            sure = whole == number or abs(root - whole) > WHOLE_STEP + doubt * abs(off)
            if abs(off) <= READ_STEPS and sure and _same(here.tightest, gained_by):
                return _Reading(math.ceil(root), here.tightest, gain)
            before, number = number, min(max(whole, 1), ENDLESS * ALL_STEPS)
            if number == before:
                return None
        return None

    @property
    def _guesses(self) -> int:
        """Trials of the search at hand."""
        return len(self._trials) - self._tried_before

    def _capacity(self, place: Need | _Failure) -> float:
        """What a share is taken of, over the mass of the train; needs of similar runs are about as 1 over it.

        The adhesion is that of the rail where the train slips on a climb, or of the whole line where it loses time.
        """
        prepared = self._prepared
        mass = prepared.load.mass + prepared.start.tender_water_full + prepared.start.tender_fuel_full
        if self._what is What.STEAM:
            return prepared.boiler.sustained_steam / mass
        adhesion = prepared.line.adhesion
        cause = place.set_by if isinstance(place, Need) else place.cause
        step = int(np.searchsorted(prepared.chainage, place.chainage)) - 1
        here = np.mean(adhesion) if cause == "time" else adhesion[min(max(step, 0), len(adhesion) - 1)]
        return float(prepared.engine.adhesive_weight * here / mass)

    def trial(self, number: int) -> _Trial:
        """The run with a number of steps of the share; none does not move the train."""
        if number not in self._trials:
            self._trials[number] = self._tried(number * SHARE_STEP)
        return self._trials[number]

    def _neighbors(self, low: int, high: int, gain: float) -> tuple[int, int]:
        """Steps that fail and one more that suffice, between two; 0 for the latter where no amount does."""
        turn, wide = 0, False
        while high - low > 1:
            turn += 1
            # A straight line may leave one end where it is for long, and there is none between two kinds of failure.
            alike = _same(self.trial(low).tightest, self.trial(high).tightest)
            halve = turn % 4 == 0 or (wide and not alike)
            middle = (low + high) // 2 if halve else self._expected(low, high, gain)
            before = high - low
            low, high = (low, middle) if self.trial(middle).failure is None else (middle, high)
            wide = 2 * (high - low) > before
        return low, high

    def _bracket(self, guess: int | None, gain: float) -> tuple[int, int]:
        """Steps that fail, and more that suffice, close to a guess; 0 for the latter where no amount suffices.

        Args:
            guess: Where to begin.
            gain: Slack that one more step is likely to give there; 0 if unknown.
        """
        low, high = 0, ALL_STEPS if guess is None else guess
        first = ALL_STEPS if guess in (None, PLENTY) else 1
        stride = first
        while self.trial(high).failure is not None:
            if high >= ENDLESS * ALL_STEPS or self.trial(high).is_final:
                return high, 0
            low, high, stride = high, self._more(high, stride, gain), 4 * stride
        stride = first
        while low == 0:
            fewer = max(high - self._fewer(high, stride, gain), 0)
            if self.trial(fewer).failure is not None:
                return fewer, high
            high, stride = fewer, 4 * stride
        return low, high

    def _more(self, number: int, stride: int, gain: float) -> int:
        """Steps to try after some that fail."""
        off, few = self._steps_off(number, gain), self._guesses < MAX_GUESSES
        if not self.trial(number).is_limited:
            # A train that does not start says nothing about what limits it.
            wider = ENDLESS * ALL_STEPS if number >= ALL_STEPS else max(number + stride, ALL_STEPS)
        elif self._guesses > MAX_GUESSES or off > FAR_OFF or number >= PLENTY:
            # Slack that hardly grows: see first whether any amount suffices.
            wider = PLENTY if number < PLENTY else ENDLESS * ALL_STEPS
        else:
            stalled = self.trial(number).slack == -np.inf
            wider = number + (
                off if off > 0 and few else max(off, stride, number // STALL_PART if stalled else 0)
            )
        return min(wider, ENDLESS * ALL_STEPS)

    def _fewer(self, number: int, stride: int, gain: float) -> int:
        """By how many steps to go down from some that suffice."""
        off, few = 0 if self._by_start else self._steps_off(number, gain), self._guesses < MAX_GUESSES
        if gain > 0.0:
            # Slack that is plenty grows less than at the need: a step is not worth less than expected there.
            off = min(off, math.ceil(min(self.trial(number).slack / gain, float(ALL_STEPS))))
        return off if off > 0 and few else max(off, stride)

    def _steps_off(self, number: int, gain: float) -> int:
        """Steps from a number to where there would be no slack; 0 if unknown."""
        slack, slope = abs(self.trial(number).slack), self._slope(number, gain)
        return min(math.ceil(slack / slope), ALL_STEPS) if slope > 0.0 and np.isfinite(slack) else 0

    def _slope(self, number: int, gain: float) -> float:
        """Slack that one more step gives near a number, by the nearest other trial; as expected without one."""
        here = self.trial(number).slack
        others = [
            (abs(at - number), (trial.slack - here) / (at - number))
            for at, trial in self._trials.items()
            if at != number and np.isfinite(trial.slack - here)
        ]
        slope = min(others, default=(0, 0.0))[1]
        return slope if slope > 0.0 else gain

    def _expected(self, low: int, high: int, gain: float) -> int:
        """Number between two at which the slack is expected to begin, or the middle."""
        short, spare = self.trial(low).slack, self.trial(high).slack
        nearest = high if spare < -short else low
        slope, root = self._slope(nearest, gain), -np.inf
        if slope > 0.0:
            root = nearest - self.trial(nearest).slack / slope
        if not low < root < high and np.isfinite(short) and np.isfinite(spare) and spare > short:
            root = low + (high - low) * short / (short - spare)
        return min(max(math.ceil(root), low + 1), high - 1) if low < root < high else (low + high) // 2

    def _run(self, share: float) -> RunArrays:
        """Run with a share of what is needed, into the arrays of the run before."""
        prepared, line = self._prepared, self._prepared.line
        if self._what is What.ADHESION:
            line = line._replace(adhesion=share * line.adhesion)
        else:
            line = line._replace(steam_share=np.full(len(line.grade), share))
        return kernel.run(line, prepared.load, prepared.engine, prepared.boiler, prepared.start, self._record)

    def _tried(self, share: float) -> _Trial:
        """Run with a share of what is needed, and see whether it suffices."""
        prepared, arrays = self._prepared, self._run(share)
        excursion, chainage, criteria = prepared.excursion, prepared.chainage, prepared.excursion.criteria
        n = arrays.last_node
        steps = StepsRun(
            chainage[: n + 1],
            arrays.nodes[records.ENERGY, : n + 1],
            prepared.grade[:n],
            arrays.limit[:n],
        )
        climbs = slowest_steps(steps, excursion.assumptions)
        late = [
            (_lateness(arrays, i, stop.arrive, stop.depart) - criteria.max_lateness, i)
            for stop, i in zip(excursion.stops, prepared.stop_nodes, strict=True)
            if i <= n
        ]
        found = [
            (
                (slow.speed - self._min_climbing_speed) / SPEED_SCALE,
                _Failure("climb", float(chainage[slow.step + 1])),
            )
            for slow in climbs
        ]
        found += [(-lateness / LATENESS_SCALE, _Failure("time", float(chainage[i]))) for lateness, i in late]
        if arrays.status != records.ARRIVED:
            found.append((-np.inf, _Failure("stall", float(arrays.end_distance + chainage[0]))))
        failures = [failure for slack, failure in found if slack < 0.0]
        slack, tightest = min(found, key=lambda each: each[0], default=(np.inf, None))
        is_limited = bool(np.any(arrays.limit[:n] == self._what.value))
        return _Trial(
            failure=min(failures, key=lambda failure: failure.chainage, default=None),
            tightest=tightest,
            slack=slack,
            is_limited=is_limited,
            # More adhesion may still help the helpers; a train that stalls says nothing of the step in which it does.
            is_final=self._what is What.STEAM and not is_limited and arrays.status == records.ARRIVED,
        )


def _same(one: _Failure | None, other: _Failure | None) -> bool:
    """Whether two failures are of the same cause, on the same climb or at the same stop."""
    if one is None or other is None or one.cause != other.cause:
        return False
    return abs(one.chainage - other.chainage) <= SAME_PLACE


def _at_full_effort(prepared: PreparedRun) -> PreparedRun:
    """The run at the speed limits, with supplies that do not run out."""
    endless = with_endless_supplies(prepared)
    line = endless.line._replace(envelope=prepared.max_energy, shutoff=prepared.max_energy)
    return replace(endless, line=line)


def _lateness(arrays: RunArrays, node: int, arrive: float | None, depart: float | None) -> float:
    """Lateness at a stop [s]; negative where it is early or no time is booked."""
    late = [-np.inf]
    if arrive is not None:
        late.append(float(arrays.nodes[records.ARRIVE, node]) - arrive)
    if depart is not None and node > 0:
        late.append(float(arrays.nodes[records.DEPART, node]) - depart)
    return max(late)
