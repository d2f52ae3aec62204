"""A helper engine for an excursion: where help is needed, what a named helper does, and doubling the hill instead."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort
from locosim.model import Excursion, Helper, Locomotive, Stop
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.check import Check, judge_full_effort, run_and_check
from locosim.planning.checker import Checker
from locosim.planning.doubling import Doubling, double_hill
from locosim.planning.finding import STOP, Finding
from locosim.planning.help_needed import HELP_RULES, HelpNeeded, find_help_needed
from locosim.planning.light_engine import (
    Used,
    compute_helper_performance,
    run_light,
    used_by_helper,
    used_on,
)
from locosim.planning.rules.stall import stalling

MAX_PAIRS = 150  # pairs of stations between which the helper is tried, the shortest first
MAX_DOUBLINGS = 6


@frozen(eq=False)
class RefusedPair:
    """A shorter stretch over which the helper does not suffice.

    Attributes:
        coupled: Station where the helper is coupled on.
        cut_off: Station where it is cut off.
        finding: What stops.
    """

    coupled: str
    cut_off: str
    finding: Finding


@frozen(eq=False)
class HelperService:
    """A helper over the shortest stretch between two stations that suffices.

    Attributes:
        helper: The helper, with the stations where it is coupled on and cut off.
        new_stops: Those of the two where the excursion does not stop anyhow.
        answer: The check of the excursion with it, run once more by itself.
        refused: Shorter stretches that were run, the longest first.
        helping: What a steam helper uses while it helps; None for a diesel.
        back: Its run back light; None for a diesel.
        tender_water: Water of its full tender [kg]; 0 for a diesel.
    """

    helper: Helper
    new_stops: tuple[str, ...]
    answer: Answer
    refused: tuple[RefusedPair, ...]
    helping: Used | None
    back: Journey | None
    tender_water: float

    @property
    def coupled(self) -> str:
        """Station where the helper is coupled on."""
        return str(self.helper.from_station)

    @property
    def cut_off(self) -> str:
        """Station where it is cut off."""
        return str(self.helper.to_station)

    @property
    def suffices(self) -> bool:
        """Whether the check with it finds no stop by a rule that help can cure."""
        return not stops_of(self.answer.check)

    @property
    def round_trip(self) -> Used | None:
        """Helping and the run back together; None for a diesel."""
        if self.helping is None or self.back is None:
            return None
        back = used_on(self.back)
        return Used(
            time=self.helping.time + back.time,
            water=self.helping.water + back.water,
            fuel=self.helping.fuel + back.fuel,
        )


@frozen(eq=False)
class HelperPlan:
    """Help for an excursion.

    Attributes:
        alone: The check without a helper.
        need: Where help is needed, and how much.
        helper: The helper that was tried.
        service: The helper over the shortest stretch that suffices; None where none is needed or none suffices.
        refused: Stretches over which the helper was run and does not suffice, where none does.
        doubling: Doubling the hill instead; None where no help is needed or the train cannot be divided.
    """

    alone: Check
    need: HelpNeeded
    helper: Helper
    service: HelperService | None
    refused: tuple[RefusedPair, ...]
    doubling: Doubling | None

    @property
    def excursion(self) -> Excursion:
        """The excursion with the helper where one is needed and suffices, or else without."""
        return self.service.answer.excursion if self.service else self.alone.journey.excursion

    @property
    def performance(self) -> Performance:
        """Performance of the train engine."""
        return self.alone.journey.performance

    @property
    def helper_name(self) -> str:
        """Name of the helper that was tried, told apart from the train engine."""
        return self.helper.name_beside(self.performance.locomotive.name)

    @property
    def needed(self) -> bool:
        """Whether the train engine alone is stopped by something that help can cure."""
        return bool(self.need.alone)


def plan_helper(
    excursion: Excursion, *, locomotive: Locomotive | None = None, place: str | None = None
) -> HelperPlan:
    """Find where an excursion needs help, and what a helper or doubling the hill does.

    Helpers of the file are left out; the first of them is the helper that is tried where no engine is given, and one
    like the train engine where the file has none.

    Args:
        excursion: The excursion.
        locomotive: The helper engine.
        place: `front` or `rear`; that of the helper of the file, or front, if omitted.
    """
    named = excursion.helpers[0] if excursion.helpers else None
    own = Helper(locomotive=locomotive or excursion.locomotive)
    helper = own if locomotive is not None or named is None else named
    helper = replace(
        helper, place=place or (named.place if named else "front"), from_station=None, to_station=None
    )
    light = replace(excursion, helpers=())
    performance = compute_excursion_performance(light)
    alone = run_and_check(light, performance)
    need = find_help_needed(light, performance, tuple(f for f in alone.findings if f.verdict == STOP))
    if not need.alone:
        return HelperPlan(alone=alone, need=need, helper=helper, service=None, refused=(), doubling=None)
    service, refused = _best_service(alone, need, helper)
    return HelperPlan(
        alone=alone,
        need=need,
        helper=helper,
        service=service,
        refused=refused,
        doubling=_doubling(alone, need, service),
    )


def stops_of(check: Check) -> tuple[Finding, ...]:
    """Findings that stop, by the rules that help can cure."""
    return tuple(f for f in check.findings if f.verdict == STOP and f.rule in HELP_RULES)


def _pairs(excursion: Excursion, need: HelpNeeded) -> Iterator[tuple[str, str]]:
    """Pairs of stations around what fails without help, the shortest stretch first, then those with fewer new stops."""
    line = excursion.route_as_run
    first, last = (line.station(excursion.stops[k].station).chainage for k in (0, -1))
    stations = [s for s in line.stations if first <= s.chainage <= last]
    stops = {stop.station for stop in excursion.stops}
    lacking = {name for name, _ in need.starts}
    shortest = need.stretches[-1] if need.stretches else None
    found = []
    for k, a in enumerate(stations):
        for b in stations[k + 1 :]:
            around = shortest is not None and a.chainage < shortest.end and b.chainage > shortest.start
            if around or a.name in lacking:
                new = (a.name not in stops) + (b.name not in stops)
                found.append((b.chainage - a.chainage, new, a.name, b.name))
    return iter([(a, b) for _, _, a, b in sorted(found)][:MAX_PAIRS])


def with_helper(excursion: Excursion, helper: Helper, coupled: str, cut_off: str) -> Excursion:
    """The excursion with a helper between two stations; it stops at both."""
    line = excursion.route_as_run
    known = {stop.station for stop in excursion.stops}
    stops = [*excursion.stops, *(Stop(station=name) for name in (coupled, cut_off) if name not in known)]
    stops.sort(key=lambda stop: line.station(stop.station).chainage)
    added = replace(helper, from_station=coupled, to_station=cut_off)
    return replace(excursion, stops=tuple(stops), helpers=(added,))


def _best_service(
    alone: Check, need: HelpNeeded, helper: Helper
) -> tuple[HelperService | None, tuple[RefusedPair, ...]]:
    """The helper over the shortest stretch that suffices, and the shorter ones that do not."""
    excursion, performance = alone.journey.excursion, alone.journey.performance
    checker = Checker(alone)
    refused: list[RefusedPair] = []
    for coupled, cut_off in _pairs(excursion, need):
        changed = with_helper(excursion, helper, coupled, cut_off)
        try:
            journey = run_full_effort(changed, performance)
            found = [*stalling(journey), *judge_full_effort(journey)]
            wrong = [f for f in found if f.verdict == STOP and f.rule in HELP_RULES]
            if not wrong:
                wrong = [*stops_of(checker.check(changed))]
        except OutOfRange:  # the helper cannot be computed at a speed of the run
            continue
        if not wrong:
            return _service(changed, refused), tuple(reversed(refused))
        refused.append(RefusedPair(coupled=coupled, cut_off=cut_off, finding=wrong[0]))
    return None, tuple(reversed(refused))


def _service(changed: Excursion, refused: list[RefusedPair]) -> HelperService:
    helper = changed.helpers[0]
    answer = check_excursion(changed, contingencies=False, remedies=False)
    helping, back, tank = None, None, 0.0
    if helper.locomotive is not None:
        performance = compute_helper_performance(changed, helper.locomotive)
        helping = used_by_helper(answer.journey, performance, 0)
        stations = (str(helper.to_station), str(helper.from_station))
        back = run_light(changed, helper.locomotive, performance, stations)
        tank = 1000.0 * helper.locomotive.tender.water_capacity
    return HelperService(
        helper=helper,
        new_stops=_new_stops(changed, helper),
        answer=answer,
        refused=tuple(reversed(refused)),
        helping=helping,
        back=back,
        tender_water=tank,
    )


def _new_stops(changed: Excursion, helper: Helper) -> tuple[str, ...]:
    """Stops made only for the helper: those without any booked time, water, fuel or dwell of their own."""
    plain = {stop.station for stop in changed.stops if stop == Stop(station=stop.station)}
    ends = {changed.stops[0].station, changed.stops[-1].station}
    return tuple(
        name for name in (helper.from_station, helper.to_station) if name in plain - ends and name is not None
    )


def _doubling(alone: Check, need: HelpNeeded, service: HelperService | None) -> Doubling | None:
    """Doubling over the shortest stretch on which both trips succeed, or the first that was tried."""
    excursion, performance = alone.journey.excursion, alone.journey.performance
    first = None
    for number, (foot, top) in enumerate(_pairs(excursion, need)):
        if number >= MAX_DOUBLINGS:
            break
        found = double_hill(excursion, performance, foot, top)
        if found is None:
            return None
        first = first or found
        if found.works:
            return _with_through_time(found, service)
    return _with_through_time(first, service) if first else None


def _with_through_time(doubling: Doubling, service: HelperService | None) -> Doubling:
    """The doubling with the time that the whole train takes over the same stretch with the helper."""
    if service is None:
        return doubling
    journey = service.answer.journey
    line = journey.excursion.route_as_run
    leave, arrive = (line.station(name).chainage for name in (doubling.foot, doubling.top))
    nodes = [int(abs(journey.chainage - at).argmin()) for at in (leave, arrive)]
    return replace(doubling, through=float(journey.time[nodes[1]] - journey.departure_time[nodes[0]]))
