"""Driving to the booked times: on time, with the least effort, and without steam that the brakes take away."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trials

import locosim as ls
from locosim.engine.performance import compute_excursion_performance
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel.rehearsal import steady_run
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort, run_journey, run_prepared, run_to_timetable
from locosim.journey.setup.easing import braking_speed, build_section, eased_line
from locosim.journey.setup.prepare import MAX_STEP, prepare
from locosim.journey.timetable import booked_sections, drive_to_timetable
from locosim.model import Crew, Excursion, Stop

DEPARTURE = 36000.0
ON_TIME = 0.5  # lateness that the report shows as none [s]
LEVEL_THEN_CLIMB = ((4000.0, 0.0), (3000.0, 0.006), (2000.0, 0.0))


def to_times(excursion: Excursion, **keys: object) -> Journey:
    return run_to_timetable(excursion, compute_excursion_performance(excursion), **keys)  # type: ignore[arg-type]


def at_full_effort(excursion: Excursion) -> Journey:
    return run_full_effort(excursion, compute_excursion_performance(excursion))


def with_slack(excursion: Excursion, slack: float) -> Excursion:
    """The excursion, booked to arrive everywhere with a share of the running time at full effort to spare."""
    free = at_full_effort(excursion)
    assert free.arrived
    stops, clock = [excursion.stops[0]], DEPARTURE
    for (before, here), stop in zip(pairwise(free.stops), excursion.stops[1:], strict=True):
        clock += (here.arrive - before.depart) * (1.0 + slack)
        stops.append(replace(stop, arrive=clock, depart=clock + stop.dwell))
        clock += stop.dwell
    stops[-1] = replace(stops[-1], depart=None)
    return replace(excursion, stops=tuple(stops))


def trip(
    *pieces: tuple[float, float], stops: tuple[float, ...] = (), cars: int = 8, **changes: object
) -> Excursion:
    route = trials.line(pieces or LEVEL_THEN_CLIMB, stops=stops)
    return trials.excursion(route, made_of=trials.train(trials.coaches(cars)), **changes)


def lateness(journey: Journey) -> list[float]:
    pairs = zip(journey.stops, journey.excursion.stops, strict=False)
    return [record.arrive - stop.arrive for record, stop in pairs if stop.arrive is not None]


def brake_work(journey: Journey) -> float:
    return float(np.sum(journey.brake * np.diff(journey.chainage)))


def test_the_demonstration_keeps_its_times_with_a_tenth_less_coal_than_full_effort() -> None:
    loaded = ls.load_excursion("scenarios/excursions/summit_express.toml")
    # In a light wind, on a better rail: in the headwind of the file there is less time in hand (10 % less coal).
    light_wind = replace(loaded.weather, headwind=12.0 * 0.44704)
    excursion = replace(loaded, rail="long grade", weather=light_wind)
    booked, full = to_times(excursion), at_full_effort(excursion)
    assert all(-10.0 <= late <= ON_TIME for late in lateness(booked))
    assert all(late < -200.0 for late in lateness(full))
    # 12 % less with a bed of fuel on the grate, 17 % with a fire that follows the steam at once.
    assert booked.fuel_burned < 0.90 * full.fuel_burned
    assert brake_work(booked) < 0.85 * brake_work(full)


def test_a_train_with_time_in_hand_arrives_on_time_and_not_before() -> None:
    booked = to_times(with_slack(trip(stops=(5000.0,)), 0.15))
    assert all(-10.0 <= late <= ON_TIME for late in lateness(booked))
    assert all(0.0 < ease < 1.0 for ease in booked.ease)


def test_the_more_time_the_less_fuel() -> None:
    runs = [to_times(with_slack(trip(), slack)) for slack in (0.0, 0.05, 0.1, 0.2, 0.3)]
    eases = [run.ease[0] for run in runs]
    assert eases == sorted(eases)
    steam = [float(np.sum(run.steam * np.diff(run.time))) for run in runs]
    assert all(after < before for before, after in pairwise(steam))


def test_a_train_that_cannot_keep_time_is_run_at_full_effort() -> None:
    hurried = with_slack(trip(), -0.1)
    booked, full = to_times(hurried), at_full_effort(hurried)
    assert booked.ease == (0.0,)
    assert np.array_equal(booked.time, full.time)


def test_without_booked_times_the_crew_keeps_to_its_habit() -> None:
    excursion = trip(crew=Crew(habit="steady_steam"))
    booked = to_times(excursion)
    habit = run_journey(excursion, compute_excursion_performance(excursion), transient_boiler=True)
    assert booked.ease == ()
    assert np.array_equal(booked.time, habit.time)
    assert np.array_equal(booked.firing, habit.firing)


def test_beyond_the_last_booked_stop_the_crew_keeps_to_its_habit() -> None:
    slack = with_slack(trip(stops=(5000.0,), crew=Crew(habit="steady_steam")), 0.2)
    open_end = replace(slack, stops=(*slack.stops[:-1], replace(slack.stops[-1], arrive=None)))
    prepared = prepare(open_end, compute_excursion_performance(open_end))
    driving = drive_to_timetable(prepared)
    node = prepared.stop_nodes[1]
    assert len(driving.ease) == 1
    assert np.array_equal(driving.prepared.line.steam_share[node:], prepared.line.steam_share[node:])
    assert np.all(driving.prepared.line.steam_share[:node] < prepared.line.steam_share[:node])


def test_recovery_is_time_kept_in_hand() -> None:
    slack = with_slack(trip(), 0.2)
    (late,) = lateness(to_times(replace(slack, crew=Crew(recovery=0.05))))
    running_time = slack.stops[-1].arrive - DEPARTURE  # type: ignore[operator]
    assert late == pytest.approx(-0.05 * running_time, abs=10.0)


def test_a_stop_with_a_booked_departure_only_is_booked_its_dwell_earlier() -> None:
    stops = (
        Stop(station="A"),
        Stop(station="B", dwell=90.0, depart=DEPARTURE + 700.0),
        Stop(station="C", arrive=DEPARTURE + 1500.0),
    )
    excursion = replace(trip(stops=(5000.0,)), stops=stops)
    sections = booked_sections(prepare(excursion, compute_excursion_performance(excursion)))
    assert [tuple(section) for section in sections] == [
        (0, 1, DEPARTURE + 610.0),
        (1, 2, DEPARTURE + 1500.0),
    ]


def test_a_short_fall_takes_the_train_to_the_limit_without_brake() -> None:
    excursion = trip((5000.0, 0.0), (1200.0, -0.008), (4000.0, 0.0))
    booked, full = to_times(with_slack(excursion, 0.1)), at_full_effort(excursion)
    on_fall = (booked.chainage[:-1] > 6000.0) & (booked.chainage[1:] < 7300.0)
    steps = np.diff(full.chainage)[on_fall]
    assert np.sum(booked.brake[on_fall] * steps) < 0.005 * np.sum(full.brake[on_fall] * steps)


def test_steam_is_shut_off_before_a_short_fall_and_not_used_on_it() -> None:
    booked = to_times(with_slack(trip((5000.0, 0.0), (1200.0, -0.008), (4000.0, 0.0)), 0.1))
    assert booked.effort[(booked.chainage[:-1] > 6050.0) & (booked.chainage[1:] < 7100.0)].max() == 0.0


def test_a_long_fall_is_entered_slowly_and_without_steam() -> None:
    excursion = trip((5000.0, 0.004), (6000.0, -0.012), (3000.0, 0.0))
    booked, full = to_times(with_slack(excursion, 0.15)), at_full_effort(excursion)
    at_top = int(np.searchsorted(booked.chainage, 6000.0))
    assert booked.speed[at_top] < 0.8 * full.speed[at_top]
    assert brake_work(booked) < brake_work(full)
    braked = np.flatnonzero((booked.brake > 0.0) & (booked.grade < -0.005))
    assert len(braked) > 0
    # From the top of the fall to where it must be braked, no steam.
    assert booked.effort[at_top + 5 : braked[0]].max() == 0.0


def test_coasting_lasts_until_the_brakes_with_the_throttle_opened_no_more() -> None:
    booked = to_times(with_slack(trip((12000.0, 0.0)), 0.15))
    working = np.flatnonzero(booked.effort > 0.0)
    coasting = np.flatnonzero(booked.limit == records.COASTING)
    braking = np.flatnonzero(booked.limit == records.BRAKING)
    assert working[-1] < coasting[0] < coasting[-1] < braking[0]
    assert np.array_equal(coasting, np.arange(coasting[0], coasting[-1] + 1))


def test_braking_begins_at_the_speed_of_least_energy() -> None:
    # Where ψ(V)/φ'(V) of the resistance puts it, here by differences of the forces of the run.
    excursion = with_slack(trip((12000.0, 0.0)), 0.1)
    prepared = prepare(excursion, compute_excursion_performance(excursion))
    contents = prepared.start.tender_water + prepared.start.tender_fuel
    load, hold, step = prepared.load, 15.0, 1e-3

    def force(v: float) -> float:
        own = load.a + load.b * v + load.c * (v + load.wind) ** 2
        return own + (load.a_contents + load.b_contents * v) * contents + prepared.engine.friction

    slope = (force(hold + step) - force(hold - step)) / (2.0 * step)
    phi_slope = ((hold + step) * force(hold + step) - (hold - step) * force(hold - step)) / (2.0 * step)
    assert braking_speed(prepared, contents, hold) == pytest.approx(hold**2 * slope / phi_slope, rel=1e-6)


def test_the_habit_counts_while_there_is_time() -> None:
    pieces = ((6000.0, 0.0), (3000.0, 0.008), (2000.0, 0.0))
    excursion = with_slack(trip(*pieces, crew=Crew(habit="save_steam_before_climbs")), 0.15)
    line = drive_to_timetable(prepare(excursion, compute_excursion_performance(excursion))).prepared.line
    share = line.steam_share
    foot = int(np.searchsorted(line.distance, 6000.0))
    assert share[foot - 30] == pytest.approx(excursion.assumptions.saving_steam_share * share[5])
    assert share[foot + 50] == share[5]


def test_an_eased_train_still_climbs() -> None:
    excursion = trip((3000.0, 0.0), (5000.0, 0.012), (1000.0, 0.0), cars=11)
    slack = with_slack(excursion, 1.0)
    full, booked = at_full_effort(slack), to_times(slack)
    least = slack.criteria.min_climbing_speed
    climb = (full.chainage > 6000.0) & (full.chainage < 9000.0)
    assert full.speed[climb].min() > least
    assert booked.arrived
    assert booked.speed[climb].min() > least


def test_a_search_begun_from_an_earlier_run_finds_the_same_driving() -> None:
    excursion = with_slack(trip(stops=(5000.0,)), 0.12)
    first = to_times(excursion)
    again = to_times(excursion, begin=first.driven)
    assert again.ease == pytest.approx(first.ease, abs=0.01)
    assert max(lateness(again)) <= ON_TIME


def test_half_the_step_gives_the_same_ease() -> None:
    excursion = with_slack(trip((4000.0, 0.0), (1500.0, -0.008), (3000.0, 0.004), (2000.0, 0.0)), 0.12)
    performance = compute_excursion_performance(excursion)
    coarse, fine = (
        drive_to_timetable(prepare(excursion, performance, step=step)) for step in (MAX_STEP, MAX_STEP / 2)
    )
    assert coarse.ease == pytest.approx(fine.ease, abs=0.01)


def test_full_effort_is_one_end_of_the_family() -> None:
    excursion = with_slack(trip(), 0.1)
    prepared = prepare(excursion, compute_excursion_performance(excursion))
    section = build_section(prepared, *prepared.stop_nodes, prepared.start)
    barely = eased_line(prepared, section, 1e-9)
    assert np.allclose(barely.shutoff, section.line.shutoff)
    assert np.allclose(barely.steam_share, section.line.steam_share)


def test_the_runs_of_the_sections_are_together_the_run_with_steady_pressure() -> None:
    """The fireman rehearses it: times and steam at every node, to the last digit."""
    excursion = with_slack(
        trip((4000.0, 0.0), (5000.0, 0.006), (3000.0, -0.004), stops=(5000.0, 9000.0)), 0.1
    )
    prepared = prepare(excursion, compute_excursion_performance(excursion), transient_boiler=True)
    driving = drive_to_timetable(prepared)
    whole = replace(driving.prepared, boiler=prepared.boiler._replace(transient=False))
    expected = steady_run(run_prepared(whole))
    assert driving.steady is not None
    assert len(driving.sections) == 3
    for found, run in zip(driving.steady, expected, strict=True):
        assert np.array_equal(found, run)


def test_a_last_stop_without_a_time_is_not_in_the_rehearsal_of_the_sections() -> None:
    excursion = with_slack(trip((4000.0, 0.0), (5000.0, 0.0), stops=(4500.0,)), 0.1)
    open_ended = replace(excursion, stops=(*excursion.stops[:-1], replace(excursion.stops[-1], arrive=None)))
    prepared = prepare(open_ended, compute_excursion_performance(open_ended), transient_boiler=True)
    assert drive_to_timetable(prepared).steady is None
