"""Remedies: every finding that is not clear has one, and it works when run."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import trials
from judged import boilered, hill_route, hills, one, run, trial_runs, under

from locosim.engine.rated_effort import rated_effort
from locosim.journey.needs import Need
from locosim.journey.run import run_full_effort
from locosim.model import Crew, Criteria, Curve, Diesel, Excursion, Helper, Route
from locosim.planning import partial_check
from locosim.planning.answer import check_excursion
from locosim.planning.bands import with_bands
from locosim.planning.changes import ladders
from locosim.planning.check import judge_runs, run_and_check
from locosim.planning.finding import CLEAR, worst_verdict
from locosim.planning.remedies import Remedy, try_remedies
from locosim.planning.rules import boiler as boiler_rules
from locosim.planning.rules import traction as traction_rules
from locosim.planning.trial_runs import TrialRuns
from locosim.report.text.check import check_text

MIN_LONG_CLIMB = trials.line([(3000.0, 0.0), (16000.0, 0.009)], speed_limit=25.0)
EVERYTHING: dict[str, Any] = {
    "tight_margin": 1.0,
    "min_climbing_speed": 30.0,
    "max_lateness": 0.0,
    "min_starting_acceleration": 1.0,
    "max_stopping_distance": 1.0,
    "max_driver_rotation": 0.1,
    "max_piston_speed": 0.1,
    "min_boiler_pressure": 1.0,
    "min_crown_sheet_cover": 1.0,
    "water_reserve": 0.99,
    "fuel_reserve": 0.99,
}


@pytest.mark.parametrize("margin", [0.0, 1.0])
def test_every_finding_that_is_not_clear_has_a_remedy(margin: float) -> None:
    found = set()
    bends = (Curve(start=4100.0, end=4500.0, radius=90.0),)
    weak = trials.train(
        trials.coaches(braking_ratio=0.06, empty_mass=4e3, people=0, resistance_law="davis_1926_freight")
    )
    route = replace(hill_route(axle_load_limit=1e4), curves=bends)
    engine = trials.locomotive(min_curve_radius=100.0)
    for asked in (
        boilered(hills()),
        boilered(trials.excursion(route, engine=engine, made_of=weak, rail="greasy")),
        trials.excursion(MIN_LONG_CLIMB, rail="half wet"),
        trials.excursion(MIN_LONG_CLIMB, crew=Crew(steam_allowance=1.3), initial_water=0.05),
    ):
        judged = under(run(asked), **{**EVERYTHING, "tight_margin": margin})
        short = Need(share=1.2 - margin, set_by="time", chainage=float(judged.chainage[-1]))
        slippery = replace(short, share=1.2 - 0.5 * margin)
        runs = TrialRuns(booked=judged, full_effort=judged, need=short, adhesion_need=slippery)
        for finding in judge_runs(runs):
            assert (finding.verdict == CLEAR) == (finding.remedy == ""), finding
            found |= {finding.rule} if finding.verdict != CLEAR else set()
    assert len(found) >= 15


def margins(rule: Any, asked: Excursion, tried: Excursion) -> tuple[float, float]:
    before, after = (one(rule, run(e)) for e in (asked, tried))
    return before.margin, after.margin


def test_less_steam_and_a_lighter_train_ease_the_pressure() -> None:
    hard = trials.excursion(
        MIN_LONG_CLIMB, crew=Crew(steam_allowance=1.3), criteria=Criteria(min_boiler_pressure=0.95)
    )
    finding = one(boiler_rules.pressure, run(hard))
    assert "use less steam (crew.steam_allowance)" in finding.remedy
    assert "coal" not in finding.remedy
    before, after = margins(boiler_rules.pressure, hard, replace(hard, crew=Crew(steam_allowance=0.8)))
    assert after > before


def test_where_the_feed_limits_the_boiler_the_remedy_names_feed() -> None:
    engine = trials.locomotive()
    small = replace(engine, feed_devices=tuple(replace(d, max_rate=0.3) for d in engine.feed_devices))
    runs = trial_runs(trials.excursion(trials.line([(3000.0, 0.0), (9000.0, 0.006)]), engine=small))
    (finding,) = boiler_rules.steaming(runs.full_effort, runs.need)
    assert "limited by the feed devices" in finding.because
    assert finding.verdict != CLEAR
    assert "a larger feed device" in finding.remedy


def test_a_lighter_train_or_a_pusher_eases_the_couplers() -> None:
    asked = trials.excursion(MIN_LONG_CLIMB, made_of=replace(trials.train(), max_coupler_pull=80e3))
    finding = one(traction_rules.couplers, run(asked))
    assert finding.remedy == "take cars off, or put a helper engine at the rear"
    light = replace(asked.train, vehicles=(trials.coaches(4),))
    diesel = Diesel(name="D1", mass=90e3, length=17.0, rail_power=0.9e6, starting_tractive_effort=150e3)
    for tried in (
        replace(asked, train=light),
        replace(asked, helpers=(Helper(diesel=diesel, place="rear"),)),
    ):
        before, after = margins(traction_rules.couplers, asked, tried)
        assert after > before + 0.1


def test_water_out_of_sight_by_braking_is_mended_by_braking_gently() -> None:
    level = trials.line([(9000.0, 0.0)], speed_limit=25.0)
    engine = trials.locomotive()
    shape = {
        "water_space_length": 16.0,
        "shell_inside_diameter": 1.7,
        "crown_sheet_length": 2.2,
        "crown_sheet_height": 1.2,
    }
    engine = replace(engine, boiler=replace(engine.boiler, **shape))
    asked = trials.excursion(level, engine=engine, criteria=Criteria(service_deceleration=0.3))
    finding = one(boiler_rules.water_glass_in_braking, run(asked))
    assert finding.facts["acceleration"][0] == pytest.approx(0.3, abs=0.01)
    assert "losing speed at {acceleration}" in finding.because
    assert one(boiler_rules.crown_cover, run(asked)).value < 0.2
    judged = one(boiler_rules.water_glass_in_braking, under(run(asked), tight_margin=1.0))
    assert judged.remedy == "brake more gently (criteria.service_deceleration)"
    gentle = run(replace(asked, criteria=Criteria(service_deceleration=0.05)))
    assert all(
        f.facts["lowest"][0] < finding.facts["lowest"][0] for f in boiler_rules.water_glass_in_braking(gentle)
    )


def test_water_out_of_sight_on_a_long_descent_is_mended_by_more_water() -> None:
    fall = trials.line([(3000.0, 0.0), (4000.0, 0.018), (6000.0, -0.018)], speed_limit=12.0)
    engine = trials.locomotive()
    shape = {
        "water_space_length": 16.0,
        "shell_inside_diameter": 1.7,
        "crown_sheet_length": 2.2,
        "crown_sheet_height": 1.2,
    }
    asked = trials.excursion(fall, engine=replace(engine, boiler=replace(engine.boiler, **shape)))
    finding = one(boiler_rules.water_glass, run(asked))
    assert finding.value > 60.0
    assert finding.remedy == "fill the boiler before the grade changes, or carry more water in it"


# Remedies that were run

SHORT = Criteria(min_climbing_speed=9.0, max_lateness=60.0)
HARD_CLIMB = trials.line([(3000.0, 0.0), (9000.0, 0.012), (2000.0, 0.0)], stops=(3000.0,), speed_limit=18.0)


def kinds(excursion: Excursion, rule: str) -> dict[str, Remedy]:
    check = with_bands(run_and_check(excursion, trials.performance(excursion)))
    return {r.kind: r for r in try_remedies(check) if r.rule == rule}


def verdict_of(excursion: Excursion, rule: str) -> str:
    findings = with_bands(run_and_check(excursion, trials.performance(excursion))).findings
    return worst_verdict(f.verdict for f in findings if f.rule in (rule, "stall", "end of run"))


def with_cars(count: int, **changes: Any) -> Excursion:
    return trials.excursion(HARD_CLIMB, made_of=trials.train(trials.coaches(count)), **changes)


@pytest.mark.parametrize(
    ("excursion", "rule"),
    [
        (with_cars(14, criteria=SHORT), "climb"),
        (with_cars(10, rail="wet", criteria=SHORT), "adhesion"),
        (with_cars(16, rail="wet"), "stall"),
    ],
    ids=["climb", "adhesion", "stall"],
)
def test_the_cars_taken_off_suffice_and_one_less_does_not(excursion: Excursion, rule: str) -> None:
    assert verdict_of(excursion, rule) != CLEAR
    remedy = kinds(excursion, rule)["cars off"]
    number = int(remedy.amount)
    left = excursion.train.vehicles[0].count - number
    assert remedy.facts["off"][0] == pytest.approx(number * excursion.train.vehicles[0].mass)
    assert verdict_of(replace(excursion, train=trials.train(trials.coaches(left))), rule) == remedy.verdict
    assert (
        verdict_of(replace(excursion, train=trials.train(trials.coaches(left + 1))), rule) != remedy.verdict
    )


def test_a_late_train_is_on_time_with_an_earlier_departure_or_later_times() -> None:
    asked = with_cars(8, criteria=SHORT)
    end = run_full_effort(asked, trials.performance(asked)).stops[-1].arrive
    stops = (*asked.stops[:-1], replace(asked.stops[-1], arrive=end - 300.0))
    asked = replace(asked, stops=stops)
    found = kinds(asked, "time")
    assert set(found) >= {"cars off", "earlier departure", "later times"}
    for kind, changed in (
        ("earlier departure", replace(asked, departure=asked.departure - found["earlier departure"].amount)),
        ("later times", replace(asked, stops=(
            *stops[:-1], replace(stops[-1], arrive=end - 300.0 + found["later times"].amount)
        ))),
    ):  # fmt: skip
        assert found[kind].verdict == verdict_of(changed, "time") == CLEAR
        # Late by 300 s, allowed 60 s and a tenth of it to be clear: 246 s, in whole minutes.
        assert found[kind].amount == 300.0


def test_remedies_that_do_not_help_are_left_out() -> None:
    found = kinds(with_cars(14, criteria=SHORT, rail="dry sanded"), "climb")
    assert "sanded rail" not in found  # it is sanded
    assert "less steam" not in found
    assert "water stop" not in found


def test_a_dry_tender_is_filled_at_a_named_place() -> None:
    asked = hills(initial_water=0.22)
    remedy = kinds(asked, "water")["water stop"]
    assert remedy.change == "water taken at B"
    stops = (asked.stops[0], replace(asked.stops[1], take_water="fill"), asked.stops[2])
    assert verdict_of(replace(asked, stops=stops), "water") == remedy.verdict != "stop"


def test_a_helper_is_named_with_its_stretch_and_what_it_is_copied_from() -> None:
    diesel = Diesel(name="D1", mass=90e3, length=17.0, rail_power=0.9e6, starting_tractive_effort=150e3)
    alone = kinds(with_cars(14, criteria=SHORT), "climb")["helper"]
    assert alone.change == "a helper like trial engine, rated {pull}, at the front from B to C"
    assert alone.facts["pull"][0] == pytest.approx(rated_effort(trials.locomotive()))
    one_on = with_cars(14, criteria=SHORT, helpers=(Helper(diesel=diesel, place="rear", to_station="B"),))
    more = kinds(one_on, "climb")["helper"]
    assert more.change == "one more helper like D1, rated {pull}, at the rear from B to C"
    assert more.facts["pull"] == (150e3, "force")


def test_tonnage_to_take_off_is_exact_with_a_helper() -> None:
    level = trials.line([(6000.0, 0.015)])
    asked = trials.excursion(
        level, made_of=trials.train(trials.coaches(40)), helpers=(Helper(locomotive=trials.locomotive()),)
    )
    finding = one(traction_rules.starting, run(asked))
    assert finding.margin < 0.0
    left = 1.0 - finding.facts["excess"][0] / asked.train.mass

    def margin(share: float) -> float:
        # Shorter cars of the same number of axles, so that the whole train is lighter by a share.
        coach = trials.coaches(40)
        lighter = replace(coach, empty_mass=share * coach.empty_mass, person_mass=share * coach.person_mass)
        return one(traction_rules.starting, run(replace(asked, train=trials.train(lighter)))).margin

    assert margin(left) == pytest.approx(0.0, abs=2e-3)
    assert margin(left + 0.02) < -2e-3


# Changes for the glass, and for speed


def long_boilered(route: Route, **changes: Any) -> Excursion:
    """An excursion of an engine with a boiler so long that the glass shows every tilt."""
    engine = trials.locomotive()
    shape = {
        "water_space_length": 16.0,
        "shell_inside_diameter": 1.7,
        "crown_sheet_length": 2.2,
        "crown_sheet_height": 1.2,
    }
    return trials.excursion(route, engine=replace(engine, boiler=replace(engine.boiler, **shape)), **changes)


def test_a_glass_in_doubt_by_its_level_is_clear_with_a_level_that_is_kept() -> None:
    fall = trials.line([(3000.0, 0.0), (4000.0, 0.01), (8000.0, -0.012)], speed_limit=12.0)
    asked = long_boilered(fall)
    check = with_bands(run_and_check(asked, trials.performance(asked)))
    (finding,) = [f for f in check.findings if f.rule == "water glass"]
    assert (finding.value, finding.verdict, finding.flips) == (0.0, "tight", True)
    (remedy,) = [r for r in try_remedies(check) if r.kind == "higher water"]
    assert remedy.verdict == CLEAR
    kept = replace(asked.assumptions, working_level_in_glass=remedy.amount)
    assert verdict_of(replace(asked, assumptions=kept), "water glass") == CLEAR
    lower = replace(kept, working_level_in_glass=remedy.amount - 0.01)
    assert verdict_of(replace(asked, assumptions=lower), "water glass") != CLEAR


@pytest.mark.parametrize(
    ("rule", "kinds"),
    [
        (
            "crown sheet",
            {"cars off", "helper", "longer stop", "less steam", "higher water", "gentler braking"},
        ),
        ("curve speed", {"cars off", "helper", "slower running"}),
        ("fuel", {"cars off", "less steam"}),
        ("steam", {"cars off", "helper", "earlier departure", "later times"}),
    ],
)
def test_only_what_may_help_a_rule_is_tried(rule: str, kinds: set[str]) -> None:
    asked = boilered(trials.excursion(HARD_CLIMB))
    stops = (*asked.stops[:-1], replace(asked.stops[-1], arrive=asked.departure + 3600.0))
    criteria = replace(asked.criteria, min_crown_sheet_cover=0.2)  # too much beyond the stop
    check = run_and_check(replace(asked, stops=stops, criteria=criteria))
    assert {ladder.trial(1).kind for ladder in ladders(check, rule)} == kinds


def test_the_gentler_braking_suffices_and_the_harder_does_not() -> None:
    asked = long_boilered(
        trials.line([(9000.0, 0.0)], speed_limit=25.0),
        criteria=Criteria(service_deceleration=0.3, tight_margin=0.7),
    )
    assert verdict_of(asked, "glass in braking") != CLEAR
    remedy = kinds(asked, "glass in braking")["gentler braking"]
    gentle = replace(asked, criteria=replace(asked.criteria, service_deceleration=remedy.amount))
    assert verdict_of(gentle, "glass in braking") == remedy.verdict == CLEAR


def test_a_curve_taken_too_fast_is_clear_at_the_speed_that_is_named() -> None:
    bend = (Curve(start=4100.0, end=4500.0, radius=350.0, superelevation=0.05),)
    asked = trials.excursion(replace(trials.line([(9000.0, 0.0)], speed_limit=25.0), curves=bend))
    assert verdict_of(asked, "curve speed") == "stop"
    remedy = kinds(asked, "curve speed")["slower running"]
    slower = replace(asked, crew=replace(asked.crew, max_speed=remedy.amount))
    assert verdict_of(slower, "curve speed") == remedy.verdict == CLEAR
    assert remedy.facts["speed"] == (remedy.amount, "speed")


def test_no_change_tried_is_written_only_where_none_helps() -> None:
    answer = check_excursion(with_cars(14, criteria=SHORT), contingencies=False)
    assert "No change tried helps: " in " ".join(check_text(replace(answer, remedies=())).split())
    assert "No change tried helps: " not in " ".join(check_text(answer).split())


def test_cars_off_for_a_stall_let_the_booked_run_arrive_too(monkeypatch: pytest.MonkeyPatch) -> None:
    check = run_and_check(with_cars(16, rail="wet"))

    def cars_off() -> float:
        (found,) = (r for r in try_remedies(check) if (r.rule, r.kind) == ("stall", "cars off"))
        return found.amount

    least = cars_off()
    run_booked = partial_check.run_booked

    def stalls_with_one_car_less(asked: Excursion, *known: Any, **begin: Any) -> Any:
        enough = asked.train.vehicles[0].count < 16 - least
        return run_booked(asked, *known, **begin) if enough else check.runs.full_effort

    monkeypatch.setattr(partial_check, "run_booked", stalls_with_one_car_less)
    assert cars_off() == least + 1
