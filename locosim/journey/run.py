"""Simulation of an excursion: one run, or a run that the fireman has rehearsed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.engine.performance import Performance
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel import integrate as kernel
from locosim.journey.kernel.arrays import RunArrays
from locosim.journey.kernel.rehearsal import SteadyRun, crew_aims, steady_run
from locosim.journey.result import Journey, StopRecord, build_journey
from locosim.journey.setup.assisting_pull import AssistingPull, with_pull
from locosim.journey.setup.easing import SectionDriving
from locosim.journey.setup.endless_supplies import ADDED_SUPPLY, with_endless_supplies
from locosim.journey.setup.prepare import MAX_STEP, PreparedRun, prepare
from locosim.journey.timetable import (
    SectionSearch,
    SectionSearches,
    TimetableDriving,
    copied_plan,
    drive_to_timetable,
    write_section,
)
from locosim.model import Excursion
from locosim.physics.types import Floats

MAX_ROUNDS = 3  # in which the driving is corrected for what the boiler does to the times
LATE_ROUNDS = 3  # further ones, for lateness only
TOO_EARLY = 10.0  # time ahead of the booked one that is left as it is [s]
TOO_EARLY_SHARE = 0.1  # of the time in hand, the same where the time in hand is short
LEFT_LATE = 5.0  # lateness that is left as it is, before an eased section is run at full effort [s]
SPARE_TIME = 0.5  # by which a shifted aim is ahead, so that the run with the boiler is not late [s]
SPARE_TIME_BEGUN = (
    1.5  # the same in a run begun from a similar one: a round more costs a quarter of a check [s]
)
AHEAD_BEGUN = 1.0  # by which such a run aims ahead from the first, for the same reason [s]

# The C library of Linux gives the memory of small arrays back to the system and asks for it again in each run, until it
# has seen a larger array come and go: so this one does. It was a tenth of the time of a check of a short line.
KEPT_MEMORY = 8 * 2**20  # [bytes]
np.empty(KEPT_MEMORY, dtype=np.int8)


def run_journey(
    excursion: Excursion, performance: Performance, *, step: float = MAX_STEP, transient_boiler: bool = False
) -> Journey:
    """Simulate an excursion and close its ledgers.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        step: Longest distance between nodes [m].
        transient_boiler: Compute boiler pressure and water along the run; without it pressure is constant and steam
            is limited to the sustained evaporation.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    prepared = prepare(excursion, performance, step=step, transient_boiler=transient_boiler)
    if transient_boiler:
        prepared = with_rehearsal(prepared)
    return build_journey(prepared, run_prepared(prepared))


def run_full_effort(
    excursion: Excursion, performance: Performance, *, pull: AssistingPull | None = None
) -> Journey:
    """Simulate an excursion at full effort: the allowed steam wherever the train may go faster, whatever the habit.

    What a train can do is what it can do again: a crew that is allowed more than the sustained evaporation keeps to
    that here. More would tell how the crew manages pressure, not what the train can do.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        pull: A pull from outside, if any.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    prepared = prepare(excursion, performance, transient_boiler=True)
    if pull is not None:
        prepared = with_pull(prepared, pull)
    line = prepared.line._replace(
        envelope=prepared.max_energy,
        shutoff=prepared.max_energy,
        steam_share=np.full(len(prepared.line.grade), min(excursion.crew.steam_allowance, 1.0)),
    )
    run, arrays = _run_with_boiler(replace(prepared, line=line))
    return build_journey(run, arrays, levels=False)


def run_to_timetable(
    excursion: Excursion,
    performance: Performance,
    *,
    begin: Sequence[SectionDriving] = (),
    same_steam: bool = False,
    search_type: type[SectionSearch] = SectionSearch,
    full_effort: Journey | None = None,
) -> Journey:
    """Simulate an excursion run to its booked times, not ahead of them; without any, by the habit of the crew.

    The driving is found with constant pressure, section by section, and then run with the boiler. What that run loses
    or gains on the times is made up for in further rounds.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        begin: Driving of each section in a similar run (`Journey.driven`), from which the search begins.
        same_steam: Whether at constant boiler pressure this run is the same as that one, and needs the same steam.
        search_type: How a section is searched: the family of eased drivings, or `LeastFuelSearch`.
        full_effort: Its run at full effort, if known: some runs are then left out.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    return drive_to_times(
        excursion,
        performance,
        begin=begin,
        same_steam=same_steam,
        search_type=search_type,
        full_effort=full_effort,
    )[0]


def drive_to_times(
    excursion: Excursion,
    performance: Performance,
    *,
    begin: Sequence[SectionDriving] = (),
    same_steam: bool = False,
    search_type: type[SectionSearch] = SectionSearch,
    full_effort: Journey | None = None,
) -> tuple[Journey, TimetableDriving]:
    """Run an excursion to its booked times, as `run_to_timetable` does, and return the driving too."""
    prepared = prepare(excursion, performance, transient_boiler=True)
    stops = full_effort.stops if full_effort is not None else ()
    found = _run_to_times(prepared, begin, search_type, same_steam=same_steam, full_effort=stops)
    return replace(build_journey(found.run, found.arrays), driven=found.driving.driven), found.driving


def run_sections(driving: TimetableDriving, drivings: Sequence[tuple[TimetableDriving, float]]) -> Journey:
    """Run an excursion with each section driven as another driving of the same excursion has it.

    Args:
        driving: A driving of the excursion, whose sections these are.
        drivings: For each section, the driving whose search gives its line, and the ease.
    """
    prepared = driving.prepared
    line = copied_plan(prepared.line)
    for number, (booked, (other, ease)) in enumerate(zip(driving.sections, drivings, strict=True)):
        write_section(line, other.searches[number].line(ease), prepared.stop_nodes[booked.first_stop])
    run, arrays = _run_with_boiler(replace(prepared, line=line))
    driven = (other.driven[number]._replace(ease=ease) for number, (other, ease) in enumerate(drivings))
    return replace(build_journey(run, arrays), driven=tuple(driven))


def run_with_endless_supplies(
    excursion: Excursion, performance: Performance, *, begin: Sequence[SectionDriving] = ()
) -> Journey:
    """Simulate an excursion to its booked times as if a tank could be less than empty.

    Water and fuel in the tender are those of `run_to_timetable`, and go on below zero where that run ends. Nothing
    else differs. Arguments and errors as there.
    """
    prepared = with_endless_supplies(prepare(excursion, performance, transient_boiler=True))
    found = _run_to_times(prepared, begin)
    journey = replace(build_journey(found.run, found.arrays), driven=found.driving.driven)
    return replace(
        journey,
        tender_water=journey.tender_water - ADDED_SUPPLY,
        tender_fuel=journey.tender_fuel - ADDED_SUPPLY,
        stops=tuple(_less_added(stop) for stop in journey.stops),
    )


def _less_added(stop: StopRecord) -> StopRecord:
    """A stop with the supplies that were really there."""
    return replace(
        stop,
        water_on_arrival=stop.water_on_arrival - ADDED_SUPPLY,
        fuel_on_arrival=stop.fuel_on_arrival - ADDED_SUPPLY,
        water_on_departure=stop.water_on_departure - ADDED_SUPPLY,
        fuel_on_departure=stop.fuel_on_departure - ADDED_SUPPLY,
    )


class _Driven(NamedTuple):
    """A run to the booked times: the driving, what was run with the boiler, and its arrays."""

    driving: TimetableDriving
    run: PreparedRun
    arrays: RunArrays

    @property
    def worst(self) -> tuple[bool, float]:
        """Whether it stalls, and its greatest lateness [s]."""
        return self.arrays.status == records.STALLED, max(_lateness(self.driving, self.arrays), default=0.0)


def _run_to_times(
    prepared: PreparedRun,
    begin: Sequence[SectionDriving],
    search_type: type[SectionSearch] = SectionSearch,
    *,
    same_steam: bool = False,
    full_effort: Sequence[StopRecord] = (),
) -> _Driven:
    """Drive to the booked times.

    A crew that is allowed more than the sustained evaporation keeps to that where more makes it later, or stall: it
    loses by low pressure what it gained.
    """
    found = _run_in_rounds(prepared, begin, search_type, same_steam=same_steam, full_effort=full_effort)
    if found.worst <= (False, 0.0) or prepared.excursion.crew.steam_allowance <= 1.0:
        return found
    within = _run_in_rounds(_within_sustained(prepared), begin, search_type, same_steam=False)
    if within.worst >= found.worst:
        return found
    return within._replace(run=replace(within.run, excursion=prepared.excursion))


def _within_sustained(prepared: PreparedRun) -> PreparedRun:
    """The run with a crew that keeps to the sustained evaporation."""
    excursion, line = prepared.excursion, prepared.line
    share = line.steam_share / excursion.crew.steam_allowance
    return replace(
        prepared,
        excursion=replace(excursion, crew=replace(excursion.crew, steam_allowance=1.0)),
        line=line._replace(steam_share=share),
    )


def _run_in_rounds(
    prepared: PreparedRun,
    begin: Sequence[SectionDriving],
    search_type: type[SectionSearch],
    *,
    same_steam: bool,
    full_effort: Sequence[StopRecord] = (),
) -> _Driven:
    """Drive to the booked times with constant pressure, and correct the driving for what the boiler does to them."""
    searches: SectionSearches = {}

    def drive(earlier: Sequence[SectionDriving], *, again: bool) -> _Driven:
        driving = drive_to_timetable(
            prepared,
            begin=earlier,
            searches=searches,
            search_type=search_type,
            again=again,
            full_effort=full_effort,
        )
        return _Driven(driving, *_run_with_boiler(driving.prepared, driving.steady))

    spare = SPARE_TIME_BEGUN if begin else SPARE_TIME
    # A run that differs in its boiler alone is compared with that one, and may not be driven faster.
    ahead = 0.0 if same_steam else AHEAD_BEGUN
    first = [section._replace(made_up=section.made_up + ahead) for section in begin]
    found = drive(first, again=same_steam)
    for number in range(MAX_ROUNDS + LATE_ROUNDS):
        late = _lateness(found.driving, found.arrays)
        too_early = np.minimum(TOO_EARLY, TOO_EARLY_SHARE * np.array(found.driving.in_hand))
        early = (late < -too_early) & (number < MAX_ROUNDS)
        off = ((late > 0.0) | early) & (np.array(found.driving.ease) > 0.0)
        if not off.any():
            break
        more = np.where(off, late + spare, 0.0)
        found = drive(_making_up(found, more, quick=bool(begin)), again=bool(begin))
    while (failed := _failed_eased(found)).any():
        more = np.where(failed, np.inf, 0.0)
        found = drive(_making_up(found, more, quick=False), again=bool(begin))
    return found


def _making_up(found: _Driven, more: Floats, *, quick: bool) -> list[SectionDriving]:
    """Driving of each section, to make up for more lateness; endless lateness asks for full effort."""
    return [
        section.sooner(each, quick=quick)
        for section, each in zip(found.driving.driven, more.tolist(), strict=True)
    ]


def _failed_eased(found: _Driven) -> npt.NDArray[np.bool_]:
    """Whether each section, though eased, is late or is where the train stalls."""
    driving, arrays = found.driving, found.arrays
    nodes = driving.prepared.stop_nodes
    stalled = [
        arrays.status == records.STALLED
        and nodes[section.first_stop] <= arrays.last_node < nodes[section.last_stop]
        for section in driving.sections
    ]
    late = _lateness(driving, arrays) > LEFT_LATE
    eased = np.array(driving.ease) > 0.0
    return np.asarray(eased & (late | np.array(stalled, dtype=bool)))


def _run_with_boiler(prepared: PreparedRun, steady: SteadyRun | None = None) -> tuple[PreparedRun, RunArrays]:
    rehearsed = with_rehearsal(prepared, steady)
    return rehearsed, run_prepared(rehearsed)


def _lateness(driving: TimetableDriving, arrays: RunArrays) -> Floats:
    """Lateness at the end of each section, 0 beyond the end of the run [s]."""
    nodes = [driving.prepared.stop_nodes[section.last_stop] for section in driving.sections]
    late = [
        float(arrays.nodes[records.ARRIVE, node]) - aim if node <= arrays.last_node else 0.0
        for node, aim in zip(nodes, driving.aims, strict=True)
    ]
    return np.array(late)


def run_prepared(prepared: PreparedRun) -> RunArrays:
    """Run the kernel on prepared arrays."""
    return kernel.run(prepared.line, prepared.load, prepared.engine, prepared.boiler, prepared.start)


def with_rehearsal(prepared: PreparedRun, steady: SteadyRun | None = None) -> PreparedRun:
    """Return the run with the aims of a fireman who knows the road, from a run with steady pressure.

    A stranger to the road, whose horizon is 0, has no rehearsal: he goes by the present steam.

    Args:
        prepared: The run.
        steady: The same run with steady pressure, where it is known.
    """
    boiler = prepared.boiler
    if boiler.horizon <= 0.0 or (boiler.full_bed <= 0.0 and boiler.filled_water <= boiler.target_water):
        return prepared
    if steady is None:
        steady = steady_run(run_prepared(replace(prepared, boiler=boiler._replace(transient=False))))
    aims = crew_aims(boiler, steady, len(prepared.chainage))
    return replace(
        prepared,
        line=prepared.line._replace(bed_aim=aims.bed, firing_ahead=aims.firing_ahead, water_aim=aims.water),
        start=prepared.start._replace(bed=float(aims.bed[0])),
    )
