"""Driving to the timetable: in each section between booked stops, the most eased driving that is on time."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from locosim.frozen import frozen
from locosim.journey.climbing import StepsRun, climb_steps, slowest_steps
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel import integrate as kernel
from locosim.journey.kernel.arrays import InitialState, Line, RunArrays, RunRecord
from locosim.journey.kernel.rehearsal import SteadyRun, joined
from locosim.journey.least_steam import UNKNOWN, least_steam
from locosim.journey.result import StopRecord
from locosim.journey.setup.easing import LeastSteam, Section, SectionDriving, build_section, eased_line
from locosim.journey.setup.prepare import PreparedRun
from locosim.physics.types import Floats

TIME_TOLERANCE = 1.5  # before the time aimed at, within which a section counts as found [s]
TOLERATED_SHARE = 0.05  # of the time in hand, the same where the time in hand is short
EASE_TOLERANCE = 1e-4  # width at which the search ends, whatever the time [1]
APPROACH_TOLERANCE = 200.0  # of where the approach to a climb begins [m]
CLIMB_RESERVE = (
    1.1  # speed an eased train keeps on climbs, over the least allowed: pressure may fall a little
)
# Where an ease loses a climb before the time is used, the climb is kept for that ease, then for one farther on, as
# parts of the way to 1.
LOST_CLIMB_STEPS = (0.0, 0.5, 1.0)
CLIMB_LOSS = 0.01  # of its slowest climb, that an eased train may lose where full effort has no reserve [1]
BEGUN_TARGET = 2.0 / 3.0  # of that tolerance, looked for in a search begun from a similar run
# Time in hand beyond which more of it changes no driving, with what a run with the boiler may be off [s].
PLENTY_IN_HAND = 160.0
BEGIN_WIDTH = 0.03  # first bracket on each side of the ease of the last run [1]
BRACKET_TRIES = 5  # before the whole range of the ease is taken
SLOWING_RANGE = 3.0  # by which the slowing seen in two tries may differ from that of the earlier run


class BookedSection(NamedTuple):
    """Section that ends at a booked stop."""

    first_stop: int  # number of the stop it begins at
    last_stop: int
    booked: float  # clock time of arrival [s]


@frozen(eq=False)
class TimetableDriving:
    """A run prepared to be driven to its booked times.

    Attributes:
        prepared: The run, with the plan of the driver.
        sections: Sections that end at a booked stop.
        driven: Driving of each.
        aims: Clock time of arrival aimed at in each [s].
        searches: Search of each, which gives its line at any ease.
        steady: The run with steady pressure; none where the last stop is not booked.
        in_hand: Time from the arrival at full effort, with constant pressure, to the one aimed at in each [s]; infinite
            where there is plenty.
    """

    prepared: PreparedRun
    sections: tuple[BookedSection, ...]
    driven: tuple[SectionDriving, ...]
    aims: tuple[float, ...]
    searches: tuple[SectionSearch, ...]
    steady: SteadyRun | None
    in_hand: tuple[float, ...]

    @property
    def ease(self) -> tuple[float, ...]:
        """Ease of each section, 0 for full effort, up to 1."""
        return tuple(section.ease for section in self.driven)


def booked_sections(prepared: PreparedRun) -> tuple[BookedSection, ...]:
    """Sections between booked stops. A stop with a booked departure only is booked to arrive its dwell earlier."""
    found, before = [], 0
    for number, (stop, node) in enumerate(zip(prepared.excursion.stops, prepared.stop_nodes, strict=True)):
        booked = stop.arrive
        if booked is None and stop.depart is not None:
            booked = stop.depart - max(float(prepared.line.dwell[node]), 0.0)
        if number > 0 and booked is not None:
            found.append(BookedSection(before, number, booked))
            before = number
    return tuple(found)


def drive_to_timetable(
    prepared: PreparedRun,
    *,
    begin: Sequence[SectionDriving] = (),
    searches: SectionSearches | None = None,
    search_type: type[SectionSearch] | None = None,
    again: bool = False,
    full_effort: Sequence[StopRecord] = (),
) -> TimetableDriving:
    """Find the most eased driving that is on time, section by section, with constant boiler pressure.

    A section that full effort does not run in its time is run at full effort. Beyond the last booked stop the crew
    keeps to its habit.

    Args:
        prepared: The run, with the plan of the habit.
        begin: Driving of each section in an earlier run, from which the search begins, with the lateness to make up
            for.
        searches: Searches of earlier rounds of the same run, whose results are used again; this round's are added.
        search_type: How a section is searched; by the family of eased drivings if omitted.
        again: Whether the earlier run is one of the same excursion, which needs the same steam.
        full_effort: Stops of its run at full effort, if known: where they show plenty of time in hand, no run is made
            to see how much.
    """
    searches = {} if searches is None else searches
    sections = booked_sections(prepared)
    line, start = copied_plan(prepared.line), prepared.start
    steady = replace(prepared, boiler=prepared.boiler._replace(transient=False))
    driven: list[SectionDriving] = []
    aims: list[float] = []
    used: list[SectionSearch] = []
    runs: list[RunArrays] = []
    in_hand: list[float] = []
    for number, booked in enumerate(sections):
        first, last = (prepared.stop_nodes[stop] for stop in (booked.first_stop, booked.last_stop))
        search = searches.get((number, start))
        if search is None or search.family_changed:
            search = (search_type or SectionSearch)(steady, build_section(steady, first, last, start), start)
            searches[number, start] = search
        # The earlier run may have stalled sooner, and have no driving for this section.
        earlier = begin[number] if number < len(begin) else None
        recovery = prepared.excursion.crew.recovery
        if recovery > 0.0:
            recovery *= max(booked.booked - search.departure, 0.0)
        aim = booked.booked - recovery - (earlier.made_up if earlier else 0.0)
        plenty = aim - _latest_arrival(prepared, booked, start, full_effort) >= PLENTY_IN_HAND
        driven.append(search.most_eased(aim, earlier, again=again, plenty=plenty))
        used.append(search)
        arrays = search.run(driven[-1].ease)
        write_section(line, search.line(driven[-1].ease), first)
        aims.append(booked.booked - recovery)
        runs.append(arrays)
        in_hand.append(np.inf if plenty else max(aims[-1] - search.arrival(0.0), 0.0))
        if arrays.status != records.ARRIVED:
            break
        start = state_on_arrival(start, arrays)
    # A run that ends in a section has nothing beyond it.
    whole = bool(runs) and (
        runs[-1].status != records.ARRIVED or sections[-1].last_stop == len(prepared.stop_nodes) - 1
    )
    return TimetableDriving(
        prepared=replace(prepared, line=line),
        sections=sections[: len(driven)],
        driven=tuple(driven),
        aims=tuple(aims),
        searches=tuple(used),
        steady=joined(runs) if whole else None,
        in_hand=tuple(in_hand),
    )


def _latest_arrival(
    prepared: PreparedRun, booked: BookedSection, start: InitialState, full_effort: Sequence[StopRecord]
) -> float:
    """Arrival at the end of a section at full effort, rather too late than too early [s]; infinite if not known."""
    if booked.last_stop >= len(full_effort):
        return np.inf
    line, node = prepared.line, prepared.stop_nodes[booked.first_stop]
    first, last = full_effort[booked.first_stop], full_effort[booked.last_stop]
    filling = (
        (first.water_on_departure - first.water_on_arrival, float(line.water_rate[node])),
        (first.fuel_on_departure - first.fuel_on_arrival, float(line.fuel_rate[node])),
    )
    standing = max(float(line.dwell[node]), *(mass / rate if rate > 0.0 else 0.0 for mass, rate in filling))
    return max(first.depart, start.time + standing) + last.arrive - first.depart


class SectionSearch:
    """Search for the most eased driving of one section, with every run made in it.

    Attributes:
        family_changed: Whether the family was changed so that the train climbs.
    """

    def __init__(self, prepared: PreparedRun, section: Section, start: InitialState) -> None:
        self._prepared, self._section, self._start = prepared, section, start
        self._min_climbing_speed = prepared.excursion.min_climbing_speed
        self._runs: dict[float, RunArrays] = {}
        self._arrivals: dict[float, float] = {}
        self._departure: float | None = None
        self._arrivals_with: dict[float, float] = {}  # clock time of arrival at full effort, by steam rate
        self._least_steam = UNKNOWN
        self._record: RunRecord | None = None
        self.family_changed = False

    @property
    def departure(self) -> float:
        """Clock time of departure from its first stop [s]."""
        if self._departure is None:
            self.run(0.0)
        assert self._departure is not None
        return self._departure

    def line(self, ease: float) -> Line:
        """Line of the section with an ease."""
        return eased_line(self._prepared, self._section, ease)

    def run(self, ease: float) -> RunArrays:
        """Run the section with an ease."""
        if ease not in self._runs:
            self._runs[ease] = self._run(self.line(ease))
        return self._runs[ease]

    def arrival(self, ease: float) -> float:
        """Clock time of arrival with an ease [s]; infinite where it stalls, or climbs slower than it may."""
        if ease not in self._arrivals:
            self._arrivals[ease] = self._arrival(self.run(ease))
        return self._arrivals[ease]

    def fuel_until_departure(self, ease: float, later: float) -> float:
        """Fuel burned from the start of the section to the departure from its end [kg].

        Args:
            ease: Ease of the section.
            later: By which that departure is booked later than in the excursion [s].
        """
        line = self.line(ease)
        departures = line.earliest_departure.copy()
        departures[-1] += later
        arrays = self._run(line._replace(earliest_departure=departures))
        return float(arrays.sums[records.FUEL_BURNED])

    def most_eased(
        self, aim: float, begin: SectionDriving | None, *, again: bool = False, plenty: bool = False
    ) -> SectionDriving:
        """Largest ease with which the section is run in time and does not lose its climbs.

        Args:
            aim: Clock time of arrival [s].
            begin: Driving at which to begin; none for no guess.
            again: Whether that was of the same train; otherwise it is tried whether this one needs as much steam.
            plenty: Whether there is so much time in hand that it need not be known.
        """

        made_up = begin.made_up if begin else 0.0
        if not plenty and self.arrival(0.0) >= aim:
            return SectionDriving(0.0, made_up, self._least_steam, 0.0)
        # What the run with the boiler loses is made up for by speed: the steam stays that of the booked time, as long
        # as that is enough.
        if begin is not None and again and begin.steam.rate > 0.0:
            self._limit_steam(begin.steam)
        else:
            self._set_steam(aim + made_up, begin)
        of_booked_time = self._least_steam
        in_hand = np.inf if plenty else aim - self.arrival(0.0)
        tolerance = min(TIME_TOLERANCE, TOLERATED_SHARE * in_hand)
        ease, slowing = self._most_eased(aim, begin, tolerance)
        if ease <= 0.0 < made_up:
            self._set_steam(aim, begin)
            ease, slowing = self._most_eased(aim, begin, tolerance)
        # Where less is made up for in the next round, more steam than that of the booked time may not be needed.
        return SectionDriving(ease, made_up, of_booked_time, slowing)

    def _most_eased(self, aim: float, begin: SectionDriving | None, tolerance: float) -> tuple[float, float]:
        """Largest ease within the steam of the family, and the running time that more ease takes near it [s]."""

        def early(ease: float) -> float:
            return aim - self.arrival(ease)

        if begin is not None and 0.0 <= early(begin.ease) <= tolerance:
            return begin.ease, begin.slowing
        ease, slowing = _most_eased(early, begin, tolerance)
        for part in LOST_CLIMB_STEPS:
            beyond = min(ease + EASE_TOLERANCE, 1.0)
            if early(ease) <= tolerance or early(beyond) > -np.inf:
                break
            self._keep_climbs(beyond + part * (1.0 - beyond))
            ease, slowing = _most_eased(early, begin, tolerance)
        return ease, slowing

    def _set_steam(self, aim: float, begin: SectionDriving | None) -> None:
        """Let the family use no more steam than the section needs, with some reserve.

        Args:
            aim: Clock time of arrival [s].
            begin: Driving of a similar run; none for no guess.
        """
        line, sustained = self._section.line, self._prepared.boiler.sustained_steam

        def late(steam: float) -> float:
            if steam not in self._arrivals_with:
                share = np.minimum(line.steam_share, steam / sustained)
                self._arrivals_with[steam] = self._arrival(self._try(line._replace(steam_share=share)))
            return self._arrivals_with[steam] - aim

        most = float(np.max(line.steam_share)) * sustained
        # That of this section itself is to be found again, not to be read off.
        known = self._least_steam._replace(gain=0.0)
        if known == UNKNOWN and begin is not None:
            known = begin.steam
        self._limit_steam(least_steam(late, most, known))

    def _limit_steam(self, least: LeastSteam) -> None:
        """Let the family use no more than a least steam rate, with some reserve."""
        self._least_steam = least
        reserve = self._prepared.excursion.assumptions.steam_reserve
        max_share = reserve * least.rate / self._prepared.boiler.sustained_steam
        if max_share != self._section.max_share:
            self._section = replace(self._section, max_share=max_share)
            self._forget_eased()

    def _change_family(self, section: Section) -> None:
        self._section = section
        self._forget_eased()
        self.family_changed = True

    def _forget_eased(self) -> None:
        self._runs = {ease: run for ease, run in self._runs.items() if ease == 0.0}
        self._arrivals = {ease: arrival for ease, arrival in self._arrivals.items() if ease == 0.0}

    def _keep_climbs(self, ease: float) -> None:
        """Let no climb that an ease loses be entered slower, from as far before it as it takes."""
        section = self._section
        climbs = climb_steps(section.line.distance, self._grade(), self._prepared.excursion.assumptions)
        for climb in climbs:
            if self._loses(section, ease, climb):
                section = self._with_approach(section, ease, climb)
        if section is not self._section:
            self._change_family(section)

    def _with_approach(self, section: Section, ease: float, climb: tuple[int, int]) -> Section:
        """The section with a climb, and as much of the line before it as it takes, run without coasting."""
        distance = section.line.distance
        low, high = 0, climb[0]
        kept = replace(section, at_speed=(*section.at_speed, climb))
        if not self._loses(kept, ease, climb):
            return kept
        while distance[high] - distance[low] > APPROACH_TOLERANCE and high - low > 1:
            middle = (low + high) // 2
            tried = replace(section, at_speed=(*section.at_speed, (middle, climb[1])))
            low, high = (low, middle) if self._loses(tried, ease, climb) else (middle, high)
        return replace(section, at_speed=(*section.at_speed, (low, climb[1])))

    def _loses(self, section: Section, ease: float, climb: tuple[int, int]) -> bool:
        """Whether a train driven with an ease does not get over a climb, or does so slower than it may."""
        arrays = self._try(eased_line(self._prepared, section, ease))
        if arrays.last_node < climb[1]:
            return True
        return self._too_slow(self._slowest_climb(arrays, climb))

    def _try(self, line: Line) -> RunArrays:
        """Run the section into the arrays of the try before, which is faster."""
        if self._record is None:
            self._record = kernel.blank_record(len(line.grade))
        return self._run(line, self._record)

    def _run(self, line: Line, record: RunRecord | None = None) -> RunArrays:
        prepared = self._prepared
        arrays = kernel.run(line, prepared.load, prepared.engine, prepared.boiler, self._start, record)
        self._departure = float(arrays.nodes[records.DEPART, 0])
        return arrays

    def _arrival(self, arrays: RunArrays) -> float:
        """Clock time of arrival [s]; infinite where the train stalls, or climbs slower than it may."""
        if arrays.status != records.ARRIVED:
            return np.inf
        if self._too_slow(self._slowest_climb(arrays)):
            return np.inf
        return float(arrays.nodes[records.ARRIVE, -1])

    def _too_slow(self, speed: float) -> bool:
        """Whether a speed on a climb is below the least of an eased train [m/s]."""
        if speed >= CLIMB_RESERVE * self._min_climbing_speed:
            return False
        return speed < (1.0 - CLIMB_LOSS) * self._slowest_climb(self.run(0.0))

    def _grade(self) -> Floats:
        section = self._section
        return self._prepared.grade[section.first : section.last]

    def _slowest_climb(self, arrays: RunArrays, only: tuple[int, int] | None = None) -> float:
        """Lowest speed that counts on all climbs, or on one [m/s]; infinite where none counts."""
        section, n = self._section, arrays.last_node
        steps = StepsRun(
            section.line.distance[: n + 1],
            arrays.nodes[records.ENERGY, : n + 1],
            self._grade()[:n],
            arrays.limit[:n],
        )
        climbs = slowest_steps(steps, self._prepared.excursion.assumptions)
        counted = (climb.speed for climb in climbs if only is None or only[0] <= climb.step < only[1])
        return min(counted, default=np.inf)


# By number of the section and state on arrival at its first stop.
SectionSearches = dict[tuple[int, InitialState], SectionSearch]


def _most_eased(
    early: Callable[[float], float], begin: SectionDriving | None, tolerance: float
) -> tuple[float, float]:
    """Largest ease with which a train is not late, and the running time that more ease takes near it [s]."""
    low, high = _bracket(early, begin, tolerance) if begin is not None else (0.0, 1.0)
    if begin is not None and low > 0.0 and early(low) <= tolerance:
        return low, begin.slowing
    if low == 0.0 and early(low) <= 0.0:
        return 0.0, 0.0
    if high == 1.0 and early(high) >= 0.0:
        return 1.0, 0.0
    return _last_root(early, low, high, tolerance, begun=begin is not None)


def _last_root(
    early: Callable[[float], float], low: float, high: float, tolerance: float, *, begun: bool
) -> tuple[float, float]:
    """Ease at which a train stops being early, from the early side, and the running time that more ease takes [s].

    False position, halving the value at the end that stays (the Illinois method); halving the interval where the
    train does not arrive.

    Args:
        early: Time by which an ease is early [s].
        low: Ease at which the train is early.
        high: Ease at which it is late.
        tolerance: Time by which the ease found may be early [s].
        begun: Whether the search begins from a similar run, and looks for an ease that is a little early.
    """
    target = BEGUN_TARGET * tolerance if begun else 0.0
    at_low, at_high = early(low), early(high)
    side, weight_low, weight_high = 0, at_low - target, at_high - target
    while at_low > tolerance and high - low > EASE_TOLERANCE:
        part = weight_low / (weight_low - weight_high) if weight_high > -np.inf else 0.5
        ease = low + min(max(part, 0.02), 0.98) * (high - low)
        value = early(ease)
        if value >= 0.0:
            low, at_low, weight_low = ease, value, max(value - target, 0.0)
            weight_high *= 0.5 if side > 0 else 1.0
            side = 1
        else:
            high, at_high, weight_high = ease, value, value - target
            weight_low *= 0.5 if side < 0 else 1.0
            side = -1
    slowing = (at_low - at_high) / (high - low)
    return low, slowing if np.isfinite(slowing) else 0.0


def _bracket(early: Callable[[float], float], begin: SectionDriving, tolerance: float) -> tuple[float, float]:
    """Ease at which the train is early, and one at which it is late, close to that of an earlier run."""
    low, high = 0.0, 1.0
    ease, width = begin.ease, BEGIN_WIDTH
    before: tuple[float, float] | None = None
    for _ in range(BRACKET_TRIES):
        value = early(ease)
        low, high = (max(low, ease), high) if value >= 0.0 else (low, min(high, ease))
        if 0.0 <= value <= tolerance or (low > 0.0 and high < 1.0):
            break
        if begin.slowing > 0.0 and np.isfinite(value):
            slowing = begin.slowing
            if before is not None and ease != before[0]:
                seen = (before[1] - value) / (ease - before[0])
                slowing = min(max(seen, slowing / SLOWING_RANGE), SLOWING_RANGE * slowing)
            width = abs(value - BEGUN_TARGET * tolerance) / slowing
            before = (ease, value)
        ease = min(max(ease + math.copysign(width, value), 0.0), 1.0)
        width *= 2.0
    return low, high


def copied_plan(line: Line) -> Line:
    """The line with a plan of its own to write sections into."""
    return line._replace(
        envelope=line.envelope.copy(), shutoff=line.shutoff.copy(), steam_share=line.steam_share.copy()
    )


def write_section(line: Line, section: Line, first: int) -> None:
    """Write the plan of a section into that of the whole line."""
    last = first + len(section.grade)
    # The first node of a section is the last one of the section before, a stop in both.
    line.envelope[first : last + 1] = section.envelope
    line.shutoff[first : last + 1] = section.shutoff
    line.steam_share[first:last] = section.steam_share


def state_on_arrival(start: InitialState, arrays: RunArrays) -> InitialState:
    """State at a stop, before the train stands."""
    return start._replace(
        time=float(arrays.nodes[records.ARRIVE, -1]),
        tender_water=float(arrays.nodes[records.WATER_ON_ARRIVAL, -1]),
        tender_fuel=float(arrays.nodes[records.FUEL_ON_ARRIVAL, -1]),
        warm=True,
    )
