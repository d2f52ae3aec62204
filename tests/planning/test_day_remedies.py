"""Remedies for a day: each was run, helps, and is the smallest of its kind."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.model import CrewHours, Day, Excursion, Layover, Leg
from locosim.planning.day import DayAnswer, DayRemedy, check_day
from locosim.planning.day_remedies import shifted, with_day_remedies
from locosim.planning.finding import worst_verdict
from locosim.report.text.day import day_text

LINE = trials.line([(4000.0, 0.0), (5000.0, 0.008), (4000.0, -0.004)], stops=(6000.0,))
HOUR = 3600.0


def there(turntable: float = 25.0, wye: float = 0.0) -> Excursion:
    stations = tuple(replace(s, turntable_length=turntable, wye_length=wye) for s in LINE.stations)
    return trials.excursion(replace(LINE, stations=stations), departure=8 * HOUR)


def there_and_back(
    out: Excursion,
    departure: float = 12 * HOUR,
    layover: Layover | None = None,
    hours: CrewHours | None = None,
) -> Day:
    back = replace(
        out, name="back", direction="reverse", departure=departure, stops=tuple(reversed(out.stops))
    )
    work = layover or Layover(turn="turntable", run_around="yes", take_water="fill")
    legs = (Leg(excursion=out), Leg(excursion=back, layover=work))
    return Day(name="trial day", legs=legs, crew_hours=hours or CrewHours())


def answered(day: Day) -> DayAnswer:
    return with_day_remedies(check_day(day))


def by_kind(answer: DayAnswer) -> dict[str, DayRemedy]:
    return {remedy.kind: remedy for remedy in answer.remedies}


def verdict(day: Day, rule: str) -> str:
    return next((f.verdict for f in check_day(day).findings if f.rule == rule), "clear")


def test_a_day_that_is_clear_has_no_remedies() -> None:
    answer = answered(there_and_back(there()))
    assert all(f.verdict == "clear" for f in answer.findings)
    assert answer.remedies == ()


def test_a_leg_departs_later_by_the_fewest_minutes_that_make_the_layover_clear() -> None:
    arrive = check_day(there_and_back(there())).answers[0].journey.stops[-1].depart
    day = there_and_back(there(), departure=arrive + 1200.0)
    remedy = by_kind(answered(day))["later leg"]
    later = [
        replace(day.legs[1], excursion=shifted(day.legs[1].excursion, m))
        for m in (remedy.amount - 60.0, remedy.amount)
    ]
    assert verdict(replace(day, legs=(day.legs[0], later[0])), "layover") != "clear"
    assert verdict(replace(day, legs=(day.legs[0], later[1])), "layover") == remedy.verdict == "clear"


def test_an_engine_too_long_for_the_turntable_runs_tender_first_or_is_turned_on_the_wye() -> None:
    assert set(by_kind(answered(there_and_back(there(turntable=15.0))))) == {"not turned"}
    remedies = by_kind(answered(there_and_back(there(turntable=15.0, wye=60.0))))
    assert set(remedies) == {"not turned", "other turning"}
    assert remedies["other turning"].whole_verdict == "clear"


def test_a_crew_too_long_on_duty_is_relieved_or_departs_earlier() -> None:
    day = there_and_back(there())
    (duty,) = check_day(day).duties
    hours = CrewHours(max_time=0.97 * duty.time)
    remedies = by_kind(answered(replace(day, crew_hours=hours)))
    assert set(remedies) == {"another crew", "earlier leg"}
    earlier = replace(day.legs[1], excursion=shifted(day.legs[1].excursion, -remedies["earlier leg"].amount))
    assert verdict(replace(day, crew_hours=hours, legs=(day.legs[0], earlier)), "crew hours") == "clear"


def test_water_is_taken_before_a_leg_that_starts_with_too_little() -> None:
    out = replace(there(), initial_water=0.25)
    day = there_and_back(out, layover=Layover(turn="turntable", run_around="yes", water_rate=0.02))
    assert verdict(day, "water at start") != "clear"
    assert by_kind(answered(day))["water taken"].verdict == "clear"


def test_what_does_not_help_is_not_printed_as_a_remedy() -> None:
    out = there()
    day = there_and_back(out, departure=20 * HOUR, hours=CrewHours(max_time=60.0))
    answer = answered(day)
    assert not answer.remedies
    text = day_text(answer)
    assert "No change tried helps: another crew" in text
    assert "not tried" not in text


def test_a_leg_has_remedies_that_were_run_with_the_whole_day() -> None:
    """Water is short on the way out and back: filling at the stop on the way helps the leg, and the day."""
    day = there_and_back(replace(there(), initial_water=0.2))
    short = next(leg for leg in check_day(day).legs if leg.verdict == "stop")
    (remedy,) = [r for r in answered(day).leg_remedies(short.number, "water") if r.kind == "water stop"]
    assert remedy.change == "water taken at B"
    leg = day.legs[short.number - 1]
    stops = tuple(replace(s, take_water="fill") if s.station == "B" else s for s in leg.excursion.stops)
    filled = replace(leg, excursion=replace(leg.excursion, stops=stops))
    changed = check_day(replace(day, legs=(filled, *day.legs[1:])))
    assert changed.verdict == remedy.whole_verdict
    of_leg = changed.answers[short.number - 1].findings
    assert worst_verdict(f.verdict for f in of_leg if f.rule == "water") == remedy.verdict != "stop"
    text = " ".join(day_text(answered(day)).split())
    assert "Remedy tried: water taken at B: " in text


def test_cars_taken_off_a_leg_are_not_there_on_the_way_back() -> None:
    strict = replace(trials.WIDE, min_climbing_speed=14.0)
    out = replace(there(), train=trials.train(trials.coaches(14)), criteria=strict)
    day = there_and_back(out)
    answer = answered(day)
    remedies = [r for r in answer.remedies if r.kind == "cars off" and r.rule == "climb"]
    assert remedies
    for remedy in remedies:
        assert remedy.change.endswith("off ({off}) in every leg with this train")
        fewer = trials.train(trials.coaches(14 - round(remedy.amount)))
        legs = tuple(replace(leg, excursion=replace(leg.excursion, train=fewer)) for leg in day.legs)
        changed = check_day(replace(day, legs=legs))
        assert changed.verdict == remedy.whole_verdict
        found = changed.answers[remedy.leg - 1].findings
        assert {f.verdict for f in found if f.rule == "climb"} <= {remedy.verdict, "clear"}


def test_a_narrow_table_of_legs_reads_as_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """It began with "1: verdict tight" and had "late on time" in it."""
    monkeypatch.setenv("COLUMNS", "60")
    out = there()
    fastest = check_day(there_and_back(out)).answers[0].journey.stops[-1].arrive
    day = there_and_back(out)
    booked = (*out.stops[:-1], replace(out.stops[-1], arrive=fastest + 300.0))
    legs = (replace(day.legs[0], excursion=replace(out, stops=booked)), day.legs[1])
    text = " ".join(day_text(check_day(replace(day, legs=legs))).split())
    assert "leg 1: verdict " in text
    assert "; on time; " in text
    assert "late on time" not in text
