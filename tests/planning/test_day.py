"""The check of a day: carrying over, findings for the day, and laws that hold for every plan."""

from __future__ import annotations

import json
import math
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine.performance import compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.journey.run import run_full_effort
from locosim.model import CrewHours, Day, Diesel, Excursion, Helper, Layover, Leg, Train, Vehicle
from locosim.planning.answer import check_excursion
from locosim.planning.day import DayAnswer, check_day
from locosim.planning.finding import CLEAR, STOP, VERDICTS, Finding
from locosim.planning.helper_duty import Help
from locosim.planning.light_diesel import light_diesel_time
from locosim.planning.light_engine import Used, used_by_helper
from locosim.report.json.day import day_json
from locosim.report.text.day import day_text

LINE = trials.line([(4000.0, 0.0), (5000.0, 0.008), (4000.0, -0.004)], stops=(6000.0,))
WORK = {"turn": "turntable", "run_around": "yes", "take_water": "fill"}


def with_turntables(length: float = 25.0) -> Any:
    return replace(LINE, stations=tuple(replace(s, turntable_length=length) for s in LINE.stations))


def there(**changes: Any) -> Excursion:
    return trials.excursion(with_turntables(), departure=8 * 3600.0, **changes)


def back(departure: float = 12 * 3600.0, **changes: Any) -> Excursion:
    out = there(**changes)
    return replace(
        out, name="back", direction="reverse", departure=departure, stops=tuple(reversed(out.stops))
    )


def day_of(*legs: Leg, **changes: Any) -> Day:
    return Day(name="trial day", legs=legs, **changes)


def there_and_back(departure: float = 12 * 3600.0, layover: Layover | None = None, **changes: Any) -> Day:
    return day_of(
        Leg(excursion=there()),
        Leg(excursion=back(departure), layover=layover or Layover(**WORK)),
        **changes,
    )


def finding(answer: DayAnswer, rule: str) -> Finding:
    (found,) = [each for each in answer.findings if each.rule == rule]
    return found


def rank(verdict: str) -> int:
    return VERDICTS.index(verdict)


# One leg


def test_a_day_of_one_leg_has_the_findings_of_its_check_byte_for_byte() -> None:
    day = check_day(day_of(Leg(excursion=there())))
    checked = check_excursion(there())
    assert repr(day.answers[0].findings) == repr(checked.findings)
    assert day.verdict == checked.verdict
    assert day.findings == ()


# Carrying over


def test_a_late_arrival_delays_the_next_departure_by_what_the_layover_lacks() -> None:
    arrive = check_day(day_of(Leg(excursion=there()))).answers[0].journey.stops[-1].arrive
    layover = Layover(inspection_time=0.0, run_around="yes", running_around_time=600.0, brake_test_time=300.0)
    leg = Leg(excursion=back(arrive + 200.0, engine_facing="tender_first"), layover=layover)
    answer = check_day(day_of(Leg(excursion=there()), leg))
    departed = answer.answers[1].journey.stops[0].depart
    assert departed == pytest.approx(arrive + 900.0, abs=1e-6)
    assert finding(answer, "layover").verdict == "stop"
    assert finding(answer, "layover").margin == pytest.approx((200.0 - 900.0) / 900.0)
    (late,) = [f for f in answer.answers[1].findings if f.rule == "time"]
    assert late.value == pytest.approx(700.0, abs=1e-6)


def test_a_long_layover_leaves_the_departure_as_booked() -> None:
    answer = check_day(there_and_back())
    assert answer.answers[1].journey.stops[0].depart == 12 * 3600.0
    assert finding(answer, "layover").verdict == "clear"


def test_the_next_leg_starts_with_what_the_layover_leaves() -> None:
    answer = check_day(there_and_back())
    layover = answer.legs[1].layover
    assert layover is not None
    assert layover.water is not None
    assert layover.fuel is not None
    first, second = (each.journey for each in answer.answers)
    assert layover.water.end == first.tender_water[-1]
    assert second.stops[0].water_on_arrival == pytest.approx(layover.water.start, rel=1e-12)
    assert second.stops[0].fuel_on_arrival == pytest.approx(layover.fuel.start, rel=1e-12)
    full = 1000.0 * second.excursion.locomotive.tender.water_capacity
    assert layover.water.taken == pytest.approx(full - layover.water.end)
    rate = 1000.0 * LINE.stations[-1].water_rate
    assert layover.tasks[0] == ("water", pytest.approx(layover.water.taken / rate))


def test_an_hour_more_burns_the_fuel_of_a_banked_fire() -> None:
    one, two = (check_day(there_and_back(hour * 3600.0)).legs[1].layover for hour in (12, 13))
    assert one is not None
    assert two is not None
    assert one.fuel
    assert two.fuel
    assert one.water
    assert two.water
    performance = trials.performance(there())
    assumptions = there().assumptions
    banked = assumptions.banked_share * performance.supply.max_firing
    assert two.fuel.used - one.fuel.used >= banked * 3600.0 * (1 - 1e-9)
    assert two.fuel.used - one.fuel.used < 2.5 * banked * 3600.0
    steam = there().locomotive.auxiliaries.continuous_demand
    assert two.water.used - one.water.used >= steam * 3600.0 * (1 - 1e-9)


def test_an_amount_is_taken_only_as_far_as_there_is_room() -> None:
    layover = Layover(turn="turntable", run_around="yes", water=0.2, fuel=1e5)
    record = check_day(there_and_back(layover=layover)).legs[1].layover
    assert record is not None
    assert record.water
    assert record.fuel
    assert record.water.taken == pytest.approx(200.0)
    assert record.fuel.end + record.fuel.taken == pytest.approx(there().locomotive.tender.fuel_capacity)


def water_car() -> Vehicle:
    return trials.coaches(1, name="water car", people=0, water=30.0, kind="water_car")


def test_water_in_a_car_goes_with_the_car() -> None:
    with_car = Train(name="with", vehicles=(water_car(), trials.coaches()))
    without = Train(name="without", vehicles=(trials.coaches(),))
    layover = Layover(turn="turntable", run_around="yes")
    left = check_day(
        day_of(Leg(excursion=there(made_of=with_car)), Leg(excursion=back(made_of=without), layover=layover))
    )
    record = left.legs[1].layover
    assert record is not None
    assert record.water
    tank = 1000.0 * there().locomotive.tender.water_capacity
    assert record.water.left == pytest.approx(record.water.end - tank)
    assert record.cars_left == {"water car": 1}
    taken = check_day(
        day_of(Leg(excursion=there(made_of=without)), Leg(excursion=back(made_of=with_car), layover=layover))
    )
    record = taken.legs[1].layover
    assert record is not None
    assert record.water
    assert record.water.brought == pytest.approx(30e3)
    assert record.cars_taken == {"water car": 1}
    kept = check_day(
        day_of(Leg(excursion=there(made_of=with_car)), Leg(excursion=back(made_of=with_car), layover=layover))
    )
    record = kept.legs[1].layover
    assert record is not None
    assert record.water
    assert (record.water.left, record.water.brought) == (0.0, 0.0)
    assert kept.answers[1].journey.stops[0].water_on_arrival == pytest.approx(record.water.start)


def test_a_leg_after_one_that_does_not_arrive_is_not_run() -> None:
    heavy = Train(name="heavy", vehicles=(trials.coaches(60),))
    day = there_and_back()
    legs = (
        replace(day.legs[0], excursion=there(made_of=heavy)),
        replace(day.legs[1], excursion=back(made_of=heavy)),
    )
    answer = check_day(replace(day, legs=legs))
    assert answer.verdict == "stop"
    assert answer.legs[1].not_run == "leg 1 does not arrive"


def test_engines_change_and_the_first_waits_with_its_water() -> None:
    other = replace(trials.locomotive(), name="other engine")
    none = Train(name="light", vehicles=())
    answer = check_day(
        day_of(
            Leg(excursion=there()),
            Leg(excursion=back(10 * 3600.0, engine=other)),
            Leg(
                excursion=replace(there(engine=other, made_of=none), departure=12 * 3600.0),
                layover=Layover(turn="turntable"),
            ),
            Leg(
                excursion=back(14 * 3600.0, engine_facing="tender_first"),
                layover=Layover(take_water="fill"),
            ),
        )
    )
    assert [leg.verdict for leg in answer.legs].count("") == 0
    names = [[task.name for task in leg.layover.tasks] for leg in answer.legs if leg.layover]
    assert names == [
        ["changing engines", "inspection", "brake test"],
        ["turning", "setting out and picking up cars", "inspection"],
        ["water", "changing engines", "setting out and picking up cars", "inspection", "brake test"],
    ]
    last = answer.legs[3].layover
    assert last is not None
    assert last.water
    assert last.water.end == answer.answers[0].journey.tender_water[-1]
    assert [each.engine for each in answer.supplies] == ["trial engine", "other engine"]
    assert [f.verdict for f in answer.findings if f.rule == "tender first"] == ["note"]


# Findings for the day


@pytest.mark.parametrize(
    ("length", "wheelbase", "verdict"),
    [(25.0, None, "clear"), (19.9, None, "stop"), (19.9, 17.0, "clear"), (0.0, 17.0, "stop")],
)
def test_the_engine_must_fit_the_turntable(length: float, wheelbase: float | None, verdict: str) -> None:
    engine = replace(trials.locomotive(), wheelbase=wheelbase)  # 11.7 m and 8.3 m over couplers
    line = with_turntables(length)
    legs = (
        Leg(excursion=replace(there(engine=engine), route=line)),
        Leg(excursion=replace(back(engine=engine), route=line), layover=Layover(**WORK)),
    )
    assert finding(check_day(day_of(*legs)), "turning").verdict == verdict


@pytest.mark.parametrize(
    ("turn", "wye", "verdict"),
    [
        ("wye", 21.0, "clear"),
        ("wye", 19.0, "stop"),
        ("wye_with_train", 184.0, "clear"),
        ("wye_with_train", 183.0, "stop"),
    ],
)
def test_engine_or_train_must_fit_the_wye(turn: str, wye: float, verdict: str) -> None:
    line = replace(LINE, stations=tuple(replace(s, wye_length=wye) for s in LINE.stations))
    layover = Layover(turn=turn, run_around="no" if turn == "wye_with_train" else "yes")
    legs = (
        Leg(excursion=replace(there(), route=line)),
        Leg(excursion=replace(back(), route=line), layover=layover),
    )
    # 20 m of engine and tender, and eight coaches of 20.4 m
    assert finding(check_day(day_of(*legs)), "turning").verdict == verdict


@pytest.mark.parametrize(("share", "verdict"), [(1.2, "clear"), (1.05, "tight"), (0.95, "stop")])
def test_crew_hours_are_from_preparing_to_putting_away(share: float, verdict: str) -> None:
    end = check_day(there_and_back()).answers[1].journey.time[-1]
    limit = share * (end - 8 * 3600.0 + 4200.0)
    hours = CrewHours(preparing_time=3000.0, putting_away_time=1200.0, max_time=limit)
    answer = check_day(there_and_back(crew_hours=hours))
    found = finding(answer, "crew hours")
    assert found.value == pytest.approx(end - 8 * 3600.0 + 4200.0)
    assert found.verdict == verdict


def test_a_break_is_time_free_of_work() -> None:
    hours = CrewHours(
        preparing_time=0.0, putting_away_time=0.0, min_break=1800.0, max_time_without_break=3 * 3600.0
    )
    answer = check_day(there_and_back(crew_hours=hours))
    layover = answer.legs[1].layover
    assert layover is not None
    (duty,) = answer.duties
    assert duty.breaks == ((pytest.approx(layover.arrive + layover.work), 12 * 3600.0),)
    longest = max(layover.arrive + layover.work - 8 * 3600.0, duty.end - 12 * 3600.0)
    assert finding(answer, "time without break").value == pytest.approx(longest)
    short = check_day(there_and_back(layover.arrive + layover.work + 1700.0, crew_hours=hours))
    assert short.duties[0].breaks == ()


def test_another_crew_begins_its_own_hours() -> None:
    day = there_and_back(crew_hours=CrewHours(max_time=12 * 3600.0))
    answer = check_day(replace(day, legs=(day.legs[0], replace(day.legs[1], crew="second crew"))))
    assert [(duty.crew, duty.first_leg) for duty in answer.duties] == [("engine crew", 1), ("second crew", 2)]


def helped(excursion: Excursion, start: str | None = None, end: str | None = None) -> Excursion:
    helper = Helper(locomotive=trials.locomotive(name="helper"), from_station=start, to_station=end)
    return replace(excursion, helpers=(helper,))


def test_the_crew_of_a_helper_is_on_duty_until_it_is_back() -> None:
    hours = CrewHours(preparing_time=3000.0, putting_away_time=1200.0, max_time=2 * 3600.0)
    answer = check_day(day_of(Leg(excursion=helped(there(), "A", "B")), crew_hours=hours))
    _, duty = answer.duties
    run = answer.answers[0].journey
    (back_light,) = duty.light_runs
    assert duty.crew == "crew of helper helper"
    assert back_light.station == "A"
    assert back_light.start == run.stops[1].arrive
    light = replace(
        back(),
        locomotive=trials.locomotive(),
        train=Train(name="none", vehicles=()),
        engine_facing="tender_first",
    )
    light = replace(light, stops=light.stops[1:], departure=8 * 3600.0)
    alone = check_day(day_of(Leg(excursion=light))).answers[0].journey
    assert back_light.end - back_light.start == pytest.approx(
        alone.duration, rel=0.1
    )  # tender not full there
    assert duty.start == 8 * 3600.0 - 3000.0
    assert duty.end == back_light.end + 1200.0
    (found,) = [f for f in answer.findings if f.place == "crew of helper helper"]
    assert found.value == pytest.approx(duty.time)
    assert "cut the helper off sooner" in found.advice


def test_a_helper_that_helps_again_from_where_it_is_waits_there() -> None:
    hours = CrewHours(preparing_time=0.0, putting_away_time=0.0)
    legs = (
        Leg(excursion=helped(there())),
        Leg(excursion=helped(back(), "C", "B"), layover=Layover(**WORK)),
    )
    answer = check_day(day_of(*legs, crew_hours=hours))
    duty = answer.duties[-1]
    out, home = (each.journey for each in answer.answers)
    assert [run.station for run in duty.light_runs] == ["C"]
    assert duty.breaks == ((out.stops[-1].arrive, home.stops[0].depart),)
    assert duty.end == duty.light_runs[0].end > home.stops[1].arrive


def test_water_and_fuel_of_a_helper_are_those_of_its_own_plan_and_of_a_light_run() -> None:
    answer = check_day(day_of(Leg(excursion=helped(there(), "A", "B"))))
    ((help,),) = answer.helps
    run = answer.answers[0].journey
    performance = run.performance  # a like engine
    assert help.back is not None
    assert (help.helping, help.used) == (used_by_helper(run, performance, 0), sum_of(help))
    # Its steam is what its cylinders take for its effort by the map, and what its auxiliaries take.
    power = float(np.sum(run.helper_effort * np.diff(run.chainage)))
    assert 5.0 < 3.6e6 * help.helping.water / power < 25.0  # kg of steam for a kWh at the rim
    light = finding(answer, "helper water")
    held = 1000.0 * help.helper.locomotive.tender.water_capacity
    assert light.value == held
    assert light.limit == pytest.approx(help.used.water + 0.15 * held)
    assert light.verdict == CLEAR
    table = " ".join(day_text(answer).split())
    assert "tender helper leg from to used helping light holds" in table
    content = json.loads(day_json(answer))["helpers"][0]
    assert content["light_run"]["water_kg"] == help.back.used.water


def sum_of(help: Help) -> Used:
    helping, back = help.helping, help.back.used
    return Used(
        time=helping.time + back.time, water=helping.water + back.water, fuel=helping.fuel + back.fuel
    )


def test_a_helper_whose_tender_does_not_last_is_a_stop() -> None:
    excursion = helped(there(), "A", "B")
    (help,) = excursion.helpers
    needed = check_day(day_of(Leg(excursion=excursion))).helps[0][0].used.water / 1000.0
    # 15 % are the reserve.
    for share, verdict in ((1.05, STOP), (1.4, CLEAR)):
        tender = replace(help.locomotive.tender, water_capacity=share * needed)
        small = replace(help, locomotive=replace(help.locomotive, tender=tender))
        answer = check_day(day_of(Leg(excursion=replace(excursion, helpers=(small,)))))
        assert finding(answer, "helper water").verdict == verdict
        assert (answer.verdict == STOP) == (verdict == STOP)


def test_two_helpers_on_at_once_share_the_effort() -> None:
    excursion = helped(there(), "A", "B")
    (one,) = excursion.helpers
    two = replace(one, locomotive=trials.locomotive(name="other"), place="rear")
    answer = check_day(day_of(Leg(excursion=replace(excursion, helpers=(one, two)))))
    (first,), (second,) = answer.helps
    assert first.helping == second.helping
    alone = check_day(day_of(Leg(excursion=excursion))).helps[0][0]
    assert first.helping.water < alone.helping.water


def test_two_helpers_of_one_name_have_two_crews_and_a_diesel_runs_back() -> None:
    diesel = Helper(
        diesel=Diesel(name="switcher", mass=9e4, length=15.0, rail_power=8e5, starting_tractive_effort=2e5),
        from_station="A",
        to_station="B",
    )
    excursion = replace(there(), helpers=(diesel, replace(diesel, place="rear")))
    answer = check_day(day_of(Leg(excursion=excursion)))
    duties = answer.duties
    assert [each.crew for each in duties[1:]] == [
        "crew of helper switcher",
        "crew of helper switcher, number 2",
    ]
    assert [[run.station for run in each.light_runs] for each in duties[1:]] == [["A"], ["A"]]
    assert "The fuel of switcher, switcher, number 2 is not computed." in " ".join(day_text(answer).split())
    assert not [f for f in answer.findings if f.rule.startswith("helper ")]


def test_a_light_diesel_runs_as_constant_power_and_braking_by_hand_have_it() -> None:
    route = trials.line([(20000.0, 0.0)], speed_limit=20.0)
    excursion = trials.excursion(route)
    diesel = Diesel(name="d", mass=9e4, length=15.0, rail_power=8e5, starting_tractive_effort=2e5)
    performance = compute_excursion_performance(excursion)
    top = min(20.0, float(np.max(run_full_effort(excursion, performance).speed)))
    found = light_diesel_time(excursion, performance, diesel, ("B", "A"))
    # Constant effort up to power over effort, constant power from there; resistance left out, so a little too quick.
    mass = 9e4 * (1.0 + excursion.assumptions.diesel_rotating_share)
    effort = min(2e5, 9e4 * 9.80665 * 0.25)
    corner = 8e5 / effort
    rising = mass * corner / effort + mass * (top**2 - corner**2) / (2.0 * 8e5)
    way = mass * corner**2 / (2.0 * effort) + mass * (top**3 - corner**3) / (3.0 * 8e5)
    slowing = top / excursion.criteria.service_deceleration
    by_hand = rising + slowing + (20000.0 - way - 0.5 * top * slowing) / top
    assert by_hand < found < 1.02 * by_hand
    steep = replace(excursion, route=trials.line([(20000.0, -0.14)], speed_limit=20.0))
    assert (
        light_diesel_time(steep, performance, replace(diesel, starting_tractive_effort=1e5), ("B", "A"))
        == math.inf
    )


def test_too_little_water_at_the_start_of_a_leg_is_a_finding() -> None:
    first = replace(there(), initial_water=0.25, stops=there().stops)
    legs = (Leg(excursion=first), Leg(excursion=back(), layover=Layover(turn="turntable", run_around="yes")))
    answer = check_day(day_of(*legs))
    found = finding(answer, "water at start")
    start = answer.answers[1].journey.stops[0].water_on_arrival
    left = answer.answers[1].journey.stops[-1].water_on_arrival
    reserve = 0.15 * 1000.0 * first.locomotive.tender.water_capacity
    assert found.value == start
    assert found.limit == pytest.approx(start - left + reserve)
    assert (found.verdict == "stop") == (left < reserve)


def test_water_used_up_in_a_layover_stops_the_day() -> None:
    first = replace(there(), initial_water=0.13)
    legs = (
        Leg(excursion=first),
        Leg(excursion=back(40 * 3600.0), layover=Layover(turn="turntable", run_around="yes")),
    )
    answer = check_day(day_of(*legs))
    assert answer.verdict == "stop"
    assert answer.legs[1].not_run == "the water is used up before leg 2 departs"


# Faults of a plan


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        (
            {"layover": Layover(run_around="yes")},
            r'legs\[2\].excursion.engine_facing of leg 2 must be "tender_first"',
        ),
        ({"layover": Layover(turn="turntable")}, r'legs\[2\].layover.run_around must be "yes"'),
        ({"layover": Layover(**WORK, leaves="onward")}, r'legs\[2\].layover.leaves is "onward"'),
        (
            {"excursion": there()},
            r"legs\[2\].excursion.departure of leg 2 must be after .*for two engines at work at once",
        ),
        (
            {"excursion": replace(there(), departure=43200.0)},
            r"legs\[2\].excursion.stops of leg 2 begin at A, but .* ends at C; .*a day file for each engine",
        ),
    ],
)
def test_a_leg_that_cannot_follow_is_refused(changes: dict[str, Any], match: str) -> None:
    day = there_and_back()
    with pytest.raises(OutOfRange, match=match):
        replace(day, legs=(day.legs[0], replace(day.legs[1], **changes)))


def test_an_amount_beside_filling_is_refused() -> None:
    with pytest.raises(OutOfRange, match='water is an amount beside take_water = "fill"'):
        Layover(take_water="fill", water=1.0)


def test_supplies_for_an_engine_that_begins_its_day_are_refused() -> None:
    with pytest.raises(OutOfRange, match="begins its day with this leg; write initial_water"):
        day_of(Leg(excursion=there(), layover=Layover(take_water="fill")))


# Laws over random plans


def random_day(seed: int) -> Day:
    """A day of two or three legs there and back, with random train, line, start, layovers and stops."""
    pick = random.Random(seed)
    pieces = [(pick.uniform(2000.0, 6000.0), pick.uniform(-0.012, 0.012)) for _ in range(3)]
    line = trials.line(pieces, stops=(pick.uniform(2000.0, 5000.0),))
    line = replace(line, stations=tuple(replace(s, turntable_length=30.0) for s in line.stations))
    made_of = Train(name="trial", vehicles=(trials.coaches(pick.randint(1, 9)),))
    changes = {"initial_water": pick.uniform(0.5, 1.0), "initial_fuel": pick.uniform(0.5, 1.0)}
    out = trials.excursion(line, made_of=made_of, departure=8 * 3600.0, **changes)
    legs = [Leg(excursion=out)]
    for number in range(pick.randint(1, 2)):
        reverse = number % 2 == 0
        stops = tuple(replace(stop, take_water=pick.choice(("no", "fill"))) for stop in out.stops[1:-1])
        stops = (out.stops[0], *stops, out.stops[-1])
        turned = pick.random() < 0.5
        facing = legs[-1].excursion.engine_facing
        if not turned:
            facing = "tender_first" if facing == "stack_first" else "stack_first"
        layover = Layover(
            turn="turntable" if turned else "no",
            run_around="yes",
            take_water=pick.choice(("no", "fill")),
            take_fuel=pick.choice(("no", "fill")),
            inspection_time=pick.uniform(0.0, 3600.0),
        )
        departure = legs[-1].excursion.departure + pick.uniform(0.7, 3.0) * 3600.0
        stops = tuple(reversed(stops)) if reverse else stops
        stops = (*stops[:-1], replace(stops[-1], arrive=departure + pick.uniform(900.0, 3600.0)))
        excursion = replace(
            out,
            direction="reverse" if reverse else "forward",
            stops=stops,
            departure=departure,
            engine_facing=facing,
        )
        legs.append(Leg(excursion=excursion, layover=layover))
    return day_of(*legs)


def shifted(day: Day, by: float) -> Day:
    """A day with all legs after the first later by a time, their booked arrivals with them."""
    later = []
    for leg in day.legs[1:]:
        last = leg.excursion.stops[-1]
        arrive = None if last.arrive is None else last.arrive + by
        excursion = replace(
            leg.excursion,
            departure=leg.excursion.departure + by,
            stops=(*leg.excursion.stops[:-1], replace(last, arrive=arrive)),
        )
        later.append(replace(leg, excursion=excursion))
    return replace(day, legs=(day.legs[0], *later))


@pytest.mark.parametrize("seed", range(25))
def test_coal_and_water_close_over_the_day(seed: int) -> None:
    answer = check_day(random_day(seed))
    runs = [each.journey for each in answer.answers]
    layovers = [leg.layover for leg in answer.legs[1:] if leg.layover and leg.answer]
    for what, used in (("water", "water_used"), ("fuel", "fuel_fired")):
        first = getattr(runs[0].stops[0], f"{what}_on_arrival")
        end = float(getattr(runs[-1], f"tender_{what}")[-1])
        carried = [getattr(layover, what) for layover in layovers]
        taken = sum(run.taken_en_route(what) for run in runs) + sum(each.taken for each in carried)
        spent = sum(float(getattr(run, used)) for run in runs) + sum(each.used for each in carried)
        assert abs(first + taken - spent - end) <= 1e-9 * (first + taken)
        (supplies,) = answer.supplies
        ledger = getattr(supplies, what)
        assert abs(ledger.residual) <= 1e-9
        assert first + ledger.stored == pytest.approx(end, rel=1e-12)


def of_leg(answer: DayAnswer, number: int) -> list[str]:
    """Verdicts of a leg and of the layover before it, those of water and fuel apart."""
    layover = [f for f in answer.findings if f.rule == "layover"]
    found = answer.answers[number - 1].findings
    supplies = ("water", "fuel", "end of run")
    between = [f.verdict for f in layover if f"before leg {number} " in f.because]
    return between + [f.verdict for f in found if f.rule not in supplies]


@pytest.mark.parametrize("seed", range(25))
def test_a_longer_layover_never_worsens_a_verdict_but_by_water_fuel_and_hours(seed: int) -> None:
    # Standing longer uses water and fuel and hours of the crew, and may break their limits; nothing else may worsen.
    day = replace(random_day(seed), legs=random_day(seed).legs[:2])
    before, least = 3, -1.0
    for longer in (0.0, 600.0, 1800.0, 5400.0):
        answer = check_day(shifted(day, longer))
        margin = finding(answer, "layover").margin
        assert margin > least
        least = margin
        if len(answer.answers) == 2:
            worst = max(map(rank, (v for v in of_leg(answer, 2) if v in VERDICTS)))
            assert worst <= before
            before = worst


def test_standing_too_long_may_use_up_the_reserve() -> None:
    layover = Layover(turn="turntable", run_around="yes")
    verdicts = [
        rank(check_day(there_and_back(hour * 3600.0, layover)).verdict) for hour in (9.5, 12, 24, 60, 90, 120)
    ]
    assert verdicts[0] < verdicts[-1] == rank("stop")


@pytest.mark.parametrize("heavier", [0, -1])
@pytest.mark.parametrize("seed", range(12))
def test_heavier_cars_on_a_leg_never_improve_the_day(seed: int, heavier: int) -> None:
    day = random_day(seed)
    verdicts = []
    for load in (0.0, 8e3, 16e3, 40e3):
        cars = replace(day.legs[heavier].excursion.train.vehicles[0], load=load)
        excursion = replace(day.legs[heavier].excursion, train=Train(name="trial", vehicles=(cars,)))
        legs = list(day.legs)
        legs[heavier] = replace(legs[heavier], excursion=excursion)
        verdicts.append(rank(check_day(replace(day, legs=tuple(legs))).verdict))
    assert verdicts == sorted(verdicts)


def test_the_random_days_have_every_verdict() -> None:
    assert {check_day(random_day(seed)).verdict for seed in range(30)} == set(VERDICTS)
