"""Laws of the verdict: what a change for the worse, for the better, or of no account may do to the margins."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import trials

from locosim.engine.boiler.steam_supply import heating_value
from locosim.journey.result import Journey
from locosim.model import Excursion
from locosim.planning.check import Check, run_and_check
from locosim.planning.finding import CLEAR, NOTE, severity, worst_verdict

MARGIN_TOLERANCE = (
    0.005  # of steam, time, climb, start and stall, and of any margin where nothing changed [1]
)
ENOUGH = 1.0  # a margin above this, as of a start with seven times the pull it needs, counts as this [1]
PRESSURE_TOLERANCE = 0.01  # [1]
PRESSURE_TOLERANCE_ON_WET_RAIL = 0.04  # a wet rail holds back the steam of the start [1]
USE_TOLERANCE = 0.02  # of the water or fuel used, where both runs keep time [1]
COVER_TOLERANCE = 0.005  # of the water over the crown sheet [m]
LATE = 5.0  # lateness with which a run still keeps its booked times here [s]
BEFORE_LOWEST = 60.0  # time before the lowest pressure in which what was drawn counts [s]
ALL_STEAM = 0.99  # of what the crew may draw, which counts as all [1]
MIN_NEED = 0.3  # a train that needs less steam than this is not judged by it [1]

CAPABILITY = ("steam", "time", "climb", "start", "stall", "adhesion")
# Rules of how fast the train runs: one that is slower for want of steam, or behind more cars, turns its wheels slower.
OF_SPEED = (
    "stopping distance",
    "descending grade",
    "curve speed",
    "driving-wheel speed",
    "piston speed",
    "data range",
)
SUPPLIES = ("water", "fuel")
OF_STEAM = (
    "poorer coal",
    "less firing",
    "one injector less",
    "more grate",
    "more pressure",
)  # change the supply


class Outcome(NamedTuple):
    """What a check says, by rule."""

    verdict: str
    margins: dict[str, float]  # least margin of each rule
    verdicts: dict[str, str]  # worst verdict of each rule
    cover: float  # least water over the crown sheet [m]
    used: dict[str, float]  # water and fuel used [kg]
    running: tuple[float, ...]  # time of the booked run from each stop to the next [s]
    on_time: bool
    stalled: bool
    overdraws: bool  # whether the crew may draw more steam than the boiler sustains
    drawn_out: bool  # whether the pressure is lowest while the crew draws all the steam it may


class Broken(NamedTuple):
    """A law that a pair of excursions breaks."""

    rule: str
    before: float
    after: float
    apart: bool = False  # whether the two runs are not alike, for a cause that is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change of an excursion.

    Attributes:
        name: What changes.
        direction: -1 for the worse, +1 for the better, 0 where it is of no account.
        apply: The excursion with the change; None where it cannot be made.
    """

    name: str
    direction: int
    apply: Callable[[Excursion], Excursion | None]


def outcome_of(excursion: Excursion) -> Outcome:
    """Check an excursion."""
    return read(run_and_check(excursion, trials.performance(excursion)))


def read(check: Check) -> Outcome:
    """The least margin and the worst verdict of each rule."""
    margins: dict[str, float] = {}
    verdicts: dict[str, str] = {}
    for finding in check.findings:
        margins[finding.rule] = min(margins.get(finding.rule, ENOUGH), finding.margin)
        # The worst of several findings of a rule; a note has no verdict.
        verdicts[finding.rule] = worst_verdict([verdicts.get(finding.rule, CLEAR), finding.verdict])
        if finding.verdict == NOTE:
            verdicts.setdefault(finding.rule, NOTE)
    journey = check.journey
    return Outcome(
        verdict=check.verdict,
        margins=margins,
        verdicts=verdicts,
        cover=float(journey.crown_cover.min()) if len(journey.crown_cover) else math.inf,
        used=_used(journey),
        running=_running(journey),
        on_time=_on_time(journey),
        stalled=not (journey.arrived and check.runs.full_effort.arrived),
        overdraws=journey.excursion.crew.steam_allowance > 1.0,
        drawn_out=_drawn_out(journey),
    )


def _drawn_out(journey: Journey) -> bool:
    lowest = int(np.argmin(journey.pressure))
    first = int(np.searchsorted(journey.time, journey.time[lowest] - BEFORE_LOWEST))
    drawn = journey.steam[first : lowest + 1]
    auxiliary = journey.excursion.locomotive.auxiliaries.continuous_demand
    most = journey.excursion.crew.steam_allowance * journey.performance.supply.sustained - auxiliary
    return len(drawn) > 0 and bool(np.max(drawn) >= ALL_STEAM * most)


def _running(journey: Journey) -> tuple[float, ...]:
    return tuple(here.arrive - before.depart for before, here in pairwise(journey.stops))


def _on_time(journey: Journey) -> bool:
    """Whether times are booked, and the booked run keeps them."""
    booked = [
        (record, stop.arrive)
        for record, stop in zip(journey.stops, journey.excursion.stops, strict=False)
        if stop.arrive is not None
    ]
    return journey.arrived and bool(booked) and all(r.arrive <= t + LATE for r, t in booked)


def _used(journey: Journey) -> dict[str, float]:
    """Water made into steam and fuel burned, wherever they came from [kg].

    The tender alone would not do: with an injector less the boiler ends the run emptier. So fuel is that burned, less
    what made the heat that the boiler holds at the end over that at the start.
    """
    ledgers = {ledger.name.split(" [")[0]: ledger for ledger in journey.ledgers}
    water, heat = dict(ledgers["water"].entries), ledgers["boiler heat"]
    made = sum(amount for name, amount in heat.entries if name.startswith("fire"))
    burned = -dict(ledgers["fuel on the grate"].entries)["burned"]
    return {
        "water": sum(-amount for name, amount in water.items() if "steam to" in name or "valves" in name),
        "fuel": burned * (1.0 - heat.stored / made) if made > 0.0 else burned,
    }


def broken_laws(change: Change, before: Outcome, after: Outcome) -> Iterator[Broken]:
    """Laws that a change breaks. Runs that do not arrive are left out of all but the first.

    A train that does not arrive must not do so after a change for the worse.
    """
    if change.direction < 0 and before.stalled and not after.stalled:
        yield Broken("arrival", 0.0, 1.0)
    if change.direction > 0 and after.stalled and not before.stalled:
        yield Broken("arrival", 1.0, 0.0)
    if before.stalled or after.stalled:
        return
    worse, better = (before, after) if change.direction > 0 else (after, before)
    if change.direction == 0:
        yield from _moved(before, after)
        return
    on_time = before.on_time and after.on_time
    # A crew without booked times, or behind them, draws what the boiler sustains: less from one that gives less.
    like = on_time or change.name not in OF_STEAM
    # Where the crew overdraws, pressure is its doing, and a note.
    for rule in (*CAPABILITY, *(("pressure",) if like and not before.overdraws else ())):
        if rule not in before.margins or rule not in after.margins:
            continue
        gain = worse.margins[rule] - better.margins[rule]
        if rule == "steam" and max(before.margins[rule], after.margins[rule]) > 1.0 - MIN_NEED:
            continue
        if gain > _tolerance(rule, change) * (1.0 + abs(worse.margins[rule])):
            # A boiler that is drawn on for all it gives gives less than a better one: it loses speed, not pressure.
            apart = rule == "pressure" and worse.drawn_out
            yield Broken(rule, before.margins[rule], after.margins[rule], apart)
    yield from _supplies(before, after, worse, better)
    yield from _crown_sheet(before, after, worse, better)


def _tolerance(rule: str, change: Change) -> float:
    if rule == "pressure":
        return PRESSURE_TOLERANCE_ON_WET_RAIL if change.name == "wetter" else PRESSURE_TOLERANCE
    return MARGIN_TOLERANCE


def _supplies(before: Outcome, after: Outcome, worse: Outcome, better: Outcome) -> Iterator[Broken]:
    # A slower run uses less, and the most eased driving still arrives early with much time in hand: it may then wait.
    if not (before.on_time and after.on_time):
        return
    if sum(abs(one - other) for one, other in zip(before.running, after.running, strict=True)) > LATE:
        return
    for name in SUPPLIES:
        if worse.used[name] < (1.0 - USE_TOLERANCE) * better.used[name]:
            yield Broken(name, before.used[name], after.used[name])


def _crown_sheet(before: Outcome, after: Outcome, worse: Outcome, better: Outcome) -> Iterator[Broken]:
    rule = "crown sheet"
    if rule not in before.verdicts or rule not in after.verdicts:
        return
    if (
        severity(worse.verdicts[rule]) < severity(better.verdicts[rule])
        and worse.cover > better.cover + COVER_TOLERANCE
    ):
        yield Broken(rule, before.cover, after.cover)


def _moved(before: Outcome, after: Outcome) -> Iterator[Broken]:
    for rule in sorted(before.margins.keys() | after.margins.keys()):
        one, other = (margins.get(rule, math.inf) for margins in (before.margins, after.margins))
        if one != other and not abs(one - other) <= MARGIN_TOLERANCE * (1.0 + abs(one)):
            yield Broken(rule, one, other)


def improved_verdict(change: Change, before: Outcome, after: Outcome) -> str:
    """Rule by which a change for the worse improves the verdict of the whole check, or one for the better worsens it.

    A verdict that changes with margins that move by less than the tolerance is none: it stood on the edge. Findings on
    speed alone are left out.
    """
    worse, better = (before, after) if change.direction > 0 else (after, before)
    if change.direction == 0 or severity(worse.verdict) >= severity(better.verdict):
        return ""
    for rule, verdict in better.verdicts.items():
        moved = worse.margins.get(rule, ENOUGH) - better.margins[rule]
        if (
            rule not in OF_SPEED
            and severity(verdict) > severity(worse.verdict)
            and moved > PRESSURE_TOLERANCE
        ):
            return rule
    return ""


def _with_mass(excursion: Excursion, factor: float) -> Excursion:
    """The excursion with more load in the cars, which brings no brakes with it."""
    vehicles = tuple(
        replace(v, load=v.load + (factor - 1.0) * (v.empty_mass + v.load)) for v in excursion.train.vehicles
    )
    return replace(excursion, train=replace(excursion.train, vehicles=vehicles))


def _heavier(excursion: Excursion) -> Excursion | None:
    return _with_mass(excursion, 1.1)


def _wetter(excursion: Excursion) -> Excursion | None:
    worse = {"very dry": "dry", "dry": "wet"}.get(excursion.rail)
    return None if worse is None else replace(excursion, rail=worse)


def _colder(excursion: Excursion) -> Excursion | None:
    weather = excursion.weather
    return replace(excursion, weather=replace(weather, temperature=weather.temperature - 15.0))


def _windier(excursion: Excursion) -> Excursion | None:
    # A weaker tailwind too is one for the worse.
    weather = excursion.weather
    return replace(excursion, weather=replace(weather, headwind=weather.headwind + 4.0))


def _poorer_coal(excursion: Excursion) -> Excursion | None:
    fuel = replace(excursion.fuel, heating_value=0.85 * heating_value(excursion.fuel))
    return replace(excursion, fuel=fuel)


def _less_firing(excursion: Excursion) -> Excursion | None:
    firing = 0.85 * trials.performance(excursion).supply.max_firing
    return replace(excursion, crew=replace(excursion.crew, max_firing=firing))


def _injector_out(excursion: Excursion) -> Excursion | None:
    return _with_engine(excursion, feed_devices=excursion.locomotive.feed_devices[:1])


def _more_pressure(excursion: Excursion) -> Excursion | None:
    boiler = excursion.locomotive.boiler
    raised = replace(boiler, working_pressure_gauge=1.05 * boiler.working_pressure_gauge)
    return _with_engine(excursion, boiler=raised)


def _more_grate(excursion: Excursion) -> Excursion | None:
    boiler = excursion.locomotive.boiler
    return _with_engine(excursion, boiler=replace(boiler, grate_area=1.1 * boiler.grate_area))


def _more_slack(excursion: Excursion) -> Excursion | None:
    last = excursion.stops[-1]
    if last.arrive is None:
        return None
    later = replace(last, arrive=last.arrive + 0.05 * (last.arrive - excursion.departure))
    return replace(excursion, stops=(*excursion.stops[:-1], later))


def heavier_by(excursion: Excursion, share: float) -> Excursion:
    """The excursion with heavier cars."""
    return _with_mass(excursion, 1.0 + share)


def _hair_heavier(excursion: Excursion) -> Excursion | None:
    return heavier_by(excursion, 0.001)


def _with_engine(excursion: Excursion, **changes: Any) -> Excursion:
    return replace(excursion, locomotive=replace(excursion.locomotive, **changes))


CHANGES = (
    Change(name="heavier", direction=-1, apply=_heavier),
    Change(name="wetter", direction=-1, apply=_wetter),
    Change(name="colder", direction=-1, apply=_colder),
    Change(name="windier", direction=-1, apply=_windier),
    Change(name="poorer coal", direction=-1, apply=_poorer_coal),
    Change(name="less firing", direction=-1, apply=_less_firing),
    Change(name="one injector less", direction=-1, apply=_injector_out),
    Change(name="more pressure", direction=+1, apply=_more_pressure),
    Change(name="more grate", direction=+1, apply=_more_grate),
    Change(name="more slack", direction=+1, apply=_more_slack),
    Change(name="weight by 0.1 %", direction=0, apply=_hair_heavier),
)
