"""Driving chosen section by section, and the card for the crew, over made-up runs."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.errors import NoSolution
from locosim.journey.kernel.arrays import BRAKING, COASTING, STEAM
from locosim.model import Stop
from locosim.planning import coal, economy, section_choices
from locosim.planning.crew_card import crew_card
from locosim.planning.economy import find_economy
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.section_choices import SectionChoice, SectionRuns, best_choices, neighbors

LINE = trials.line([(12000.0, 0.0)], stops=(4000.0, 8000.0))
PLAN = trials.excursion(LINE)

# Choices of sections


def runs_of(*eases: tuple[float, ...]) -> SectionRuns:
    """Drivings whose sections have these eases; the first is the everyday one."""
    return SectionRuns(drivings=[SimpleNamespace(ease=ease) for ease in eases])  # type: ignore[misc]


def test_a_run_by_the_same_choices_is_made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    made = []

    def run_sections(everyday: Any, chosen: Any) -> Any:
        made.append((everyday, chosen))
        return len(made)

    monkeypatch.setattr(section_choices, "run_sections", run_sections)
    runs = runs_of((0.0, 0.0), (0.4, 0.6))
    choices = (SectionChoice(1, 0.4), SectionChoice(0, 0.0))
    assert (runs.run(choices), runs.run(choices)) == (1, 1)
    assert made == [(runs.drivings[0], [(runs.drivings[1], 0.4), (runs.drivings[0], 0.0)])]
    assert runs.whole(1) == (SectionChoice(1, 0.4), SectionChoice(1, 0.6))


def test_the_next_slower_plans_are_one_step_of_the_prices_away_in_one_section() -> None:
    choices = (
        SectionChoice(1, 0.5),
        SectionChoice(0, 0.5),
        SectionChoice(2, 0.0),
        SectionChoice(1, 1.0),
        SectionChoice(2, 0.995),
    )
    step = 1.0 / 96
    assert neighbors(choices) == [
        (SectionChoice(1, 0.5 + step), *choices[1:]),
        (*choices[:4], SectionChoice(2, 1.0)),
    ]


@pytest.mark.parametrize("seed", range(12))
def test_the_choices_found_are_the_best_of_all_where_sections_do_not_touch(
    monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """Fuel of each section by driving and ease, each with one valley; the sum of the sections counts."""
    draw = random.Random(seed)
    eases = [
        tuple(0.0 for _ in range(3)),
        *(tuple(draw.uniform(0.1, 0.9) for _ in range(3)) for _ in range(2)),
    ]
    valley = {(d, k): draw.uniform(0.1, 1.0) for d in (1, 2) for k in range(3)}
    base = {(d, k): draw.uniform(5.0, 9.0) for d in range(3) for k in range(3)}

    def fuel(choices: Any) -> float:
        return sum(
            base[choice.driving, k]
            + (0.0 if choice.driving == 0 else 3.0 * abs(choice.ease - valley[choice.driving, k]))
            for k, choice in enumerate(choices)
        )

    runs = runs_of(*eases)
    monkeypatch.setattr(SectionRuns, "run", lambda self, choices: choices)
    found = best_choices(runs, runs.whole(draw.randrange(3)), lambda a, b: fuel(a) < fuel(b))
    for k, choice in enumerate(found):
        # No other driving as it was found is better, and no slower plan by a quarter of a step.
        for other in range(3):
            tried = (*found[:k], SectionChoice(other, eases[other][k]), *found[k + 1 :])
            assert fuel(tried) >= fuel(found)
        if choice.driving and 0.0 < choice.ease < 1.0:
            slower = (
                *found[:k],
                SectionChoice(choice.driving, min(choice.ease + 0.25 / 96, 1.0)),
                *found[k + 1 :],
            )
            assert fuel(slower) >= fuel(found)
    begun = [runs.whole(number) for number in range(3)]
    mixed = [
        tuple(SectionChoice(d, eases[d][k]) for k, d in enumerate(drivings))
        for drivings in product(range(3), repeat=3)
    ]
    assert fuel(found) <= min(fuel(each) for each in [*begun, *mixed]) + 1e-12


def test_an_improvement_without_end_ends_after_six_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a section burns depends on the others: here each pass would change the driving again."""
    asked = []
    monkeypatch.setattr(SectionRuns, "run", lambda self, choices: choices)

    def better(tried: Any, best: Any) -> bool:
        asked.append(tried)
        return True

    found = best_choices(runs_of((0.0,), (0.0,)), (SectionChoice(0, 0.0),), better)
    assert len(asked) == 6
    assert found == (SectionChoice(0, 0.0),)


# Least fuel


def journey(
    fuel: float, arrive: tuple[float, ...], *, findings: tuple[Any, ...] = (), arrived: bool = True
) -> Any:
    stops = [SimpleNamespace(arrive=at, chainage=1000.0 + 4000.0 * k) for k, at in enumerate(arrive)]
    return SimpleNamespace(
        fuel=fuel, stops=stops, findings=findings, arrived=arrived, outcome="arrived" if arrived else "out of water",
        excursion=BOOKED, performance="known",
    )  # fmt: skip


BOOKED = replace(
    PLAN,
    stops=(
        Stop(station="A"),
        Stop(station="B", arrive=36600.0),
        Stop(station="C"),
        Stop(station="D", arrive=37800.0),
    ),
)


def found(rule: str, verdict: str) -> Any:
    return SimpleNamespace(rule=rule, verdict=verdict, place="B")


EVERYDAY = journey(
    100.0, (36000.0, 36605.0, 37000.0, 37700.0), findings=(found("water", TIGHT), found("water", CLEAR))
)


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(economy, "fuel_cost", lambda made: made.fuel)
    monkeypatch.setattr(economy, "judge_booked", lambda made: list(made.findings[:1]))
    monkeypatch.setattr(economy, "climbing", lambda made: list(made.findings[1:]))


@pytest.mark.parametrize(
    ("planned", "why"),
    [
        (journey(90.0, (0.0, 36605.0, 37500.0, 37800.0)), ""),
        (journey(90.0, (0.0, 36605.0, 37500.0, 37800.0), arrived=False), "the plan ends with: out of water"),
        (journey(100.0, (0.0, 36605.0, 37500.0, 37800.0)), "run with the boiler, the plan burns no less"),
        (journey(99.9, (0.0, 36605.009, 37500.0, 37800.009)), ""),
        (
            journey(90.0, (0.0, 36605.011, 37500.0, 37800.0)),
            "run with the boiler, the plan does not keep a booked",
        ),
        (
            journey(90.0, (0.0, 36500.0, 37500.0, 37800.011)),
            "run with the boiler, the plan does not keep a booked",
        ),
        (journey(90.0, (0.0,) * 4, findings=(found("water", TIGHT), found("climb", CLEAR))), ""),
        (
            journey(90.0, (0.0,) * 4, findings=(found("water", STOP),)),
            "the plan is STOP for water at B, the everyday",
        ),
        (journey(90.0, (0.0,) * 4, findings=(found("climb", TIGHT),)), "the plan is TIGHT for climb at B"),
        (
            journey(90.0, (0.0,) * 4, findings=(found("fuel", TIGHT), found("climb", STOP))),
            "the plan is STOP for climb",
        ),
    ],
)
@pytest.mark.usefixtures("judged")
def test_why_a_plan_is_not_chosen(planned: Any, why: str) -> None:
    refusal = economy._refusal(EVERYDAY, planned)
    assert refusal.startswith(why)
    assert bool(refusal) == bool(why)


def planning(monkeypatch: pytest.MonkeyPatch, everyday: Any, plans: list[Any], alternating: Any) -> list[Any]:
    """Let the drivings run so; a mixture of sections is never better than a whole plan."""
    asked: list[Any] = []
    sections = [SimpleNamespace(first_stop=0, last_stop=1), SimpleNamespace(first_stop=1, last_stop=3)]
    drivings = [
        SimpleNamespace(ease=(0.1 * k, 0.1 * k), sections=sections, made=each)
        for k, each in enumerate([everyday, *plans])
    ]

    def drive_to_times(excursion: Any, performance: Any, *, search_type: Any = None) -> Any:
        asked.append(search_type)
        driving = drivings[len(asked) - 1]
        return driving.made, driving

    def run(self: Any, choices: Any) -> Any:
        (number,) = {choice.driving for choice in choices}
        return self.drivings[number].made

    monkeypatch.setattr(economy, "compute_excursion_performance", lambda excursion: "known")
    monkeypatch.setattr(economy, "drive_to_times", drive_to_times)
    monkeypatch.setattr(economy, "least_fuel_search", lambda opening: ("least fuel", opening))
    monkeypatch.setattr(
        economy,
        "run_to_timetable",
        lambda excursion, known, search_type: (asked.append(search_type), alternating)[1],
    )
    monkeypatch.setattr(economy, "best_choices", lambda runs, begin, better: begin)
    monkeypatch.setattr(economy, "crew_card", lambda chosen: (chosen,))
    monkeypatch.setattr(economy, "_burned", lambda made, number: made.fuel + number)
    monkeypatch.setattr(SectionRuns, "run", run)
    return asked


ON_TIME = (36000.0, 36600.0, 37100.0, 37750.0)


@pytest.mark.usefixtures("judged")
def test_of_the_plans_that_are_not_refused_that_with_the_least_fuel_is_chosen(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    late, good, worse = (
        journey(70.0, (0.0, 36700.0, 0.0, 0.0)),
        journey(80.0, ON_TIME),
        journey(90.0, ON_TIME),
    )
    for plans, chosen, number in (
        ([good, worse], good, 1),
        ([worse, good], good, 2),
        ([late, good], good, 2),
    ):
        asked = planning(monkeypatch, EVERYDAY, plans, journey(60.0, ON_TIME))
        result = find_economy(BOOKED)
        assert asked == [None, ("least fuel", 1.0), ("least fuel", 3.0), ("least fuel", 0.0)]
        assert (result.planned, result.journey, result.refused) == (chosen, chosen, "")
        assert (result.fuel, result.planned_fuel, result.everyday_fuel, result.alternating_fuel) == (
            80.0,
            80.0,
            100.0,
            60.0,
        )
        assert result.saving == pytest.approx(0.2)
        assert (result.card, {choice.driving for choice in result.choices}) == ((chosen,), {number})
        assert [section.planned for section in result.sections] == [True, True, True]
        assert [(s.start, s.end, s.booked) for s in result.sections] == [
            ("A", "B", 36600.0), ("B", "C", None), ("C", "D", 37800.0)
        ]  # fmt: skip
        assert [(s.everyday_arrival, s.arrival) for s in result.sections] == list(
            zip((36605.0, 37000.0, 37700.0), ON_TIME[1:], strict=True)
        )
        assert [(s.everyday_fuel, s.fuel) for s in result.sections] == [
            (100.0, 80.0),
            (101.0, 81.0),
            (102.0, 82.0),
        ]
        assert (result.excursion, result.performance) == (BOOKED, "known")


@pytest.mark.usefixtures("judged")
def test_where_all_plans_are_refused_the_everyday_driving_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    late = [journey(70.0, (0.0, 36700.0, 0.0, 0.0)), journey(60.0, (0.0, 36700.0, 0.0, 0.0))]
    planning(monkeypatch, EVERYDAY, late, journey(50.0, ON_TIME))
    result = find_economy(BOOKED)
    assert (result.planned, result.journey) == (late[1], EVERYDAY)
    assert "does not keep a booked time" in result.refused
    assert (result.fuel, result.planned_fuel, result.saving) == (100.0, 60.0, 0.0)
    assert {choice.driving for choice in result.choices} == {0}
    assert [section.planned for section in result.sections] == [False] * 3
    ended = [journey(70.0, ON_TIME, arrived=False), journey(60.0, ON_TIME, arrived=False)]
    planning(monkeypatch, EVERYDAY, ended, journey(50.0, ON_TIME))
    none = find_economy(BOOKED)
    assert (none.planned, none.journey, none.refused) == (
        ended[0],
        EVERYDAY,
        "the plan ends with: out of water",
    )


@pytest.mark.usefixtures("judged")
def test_what_has_no_time_or_does_not_arrive_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    planning(monkeypatch, replace_fields(EVERYDAY, arrived=False, outcome="stalled"), [], None)
    with pytest.raises(NoSolution, match=r"does not arrive \(stalled\)"):
        find_economy(BOOKED)
    free = replace(PLAN, stops=tuple(Stop(station=name) for name in "AD"))
    with pytest.raises(NoSolution, match="no arrival is booked"):
        find_economy(free)
    with pytest.raises(NoSolution, match="no arrival is booked"):
        find_economy(replace(free, stops=(Stop(station="A"), Stop(station="B"), Stop(station="D"))))
    economy._check_booked(
        replace(free, stops=(Stop(station="A"), Stop(station="B", depart=37000.0), Stop(station="D")))
    )


def replace_fields(made: Any, **changes: Any) -> Any:
    return SimpleNamespace(**{**vars(made), **changes})


@pytest.mark.parametrize(
    ("everyday", "planned", "refused", "fuel", "saving"),
    [
        (200.0, 150.0, "", 150.0, 0.25),
        (0.5, 0.3, "", 0.3, 0.4),
        (200.0, 150.0, "too late", 200.0, 0.0),
        (0.0, 0.0, "", 0.0, 0.0),
    ],
)
def test_what_is_saved_is_a_share_of_the_everyday_fuel(
    everyday: float, planned: float, refused: str, fuel: float, saving: float
) -> None:
    made = economy.Economy(
        everyday=None, planned=None, journey=None, refused=refused, everyday_fuel=everyday, planned_fuel=planned,
        alternating_fuel=0.0, card=(), sections=(), choices=(), runs=None,
    )  # type: ignore[arg-type]  # fmt: skip
    assert (made.fuel, made.saving) == (fuel, pytest.approx(saving))


def test_only_sections_driven_by_a_plan_count_as_planned() -> None:
    sections = [SimpleNamespace(first_stop=0, last_stop=2), SimpleNamespace(first_stop=2, last_stop=3)]
    driving: Any = SimpleNamespace(sections=sections)
    assert economy._by_plan(driving, (SectionChoice(1, 0.5), SectionChoice(0, 0.0))) == {0, 1}
    assert economy._by_plan(driving, (SectionChoice(0, 0.5), SectionChoice(2, 0.0))) == {2}


def test_fuel_of_a_section_is_what_burns_from_leaving_one_stop_to_reaching_the_next() -> None:
    made: Any = SimpleNamespace(
        chainage=np.array([1000.0, 2000.0, 3000.0, 5000.0, 6000.0]), time=np.array([0.0, 110.0, 200.0, 400.0, 600.0]),
        departure_time=np.array([10.0, 110.0, 260.0, 400.0, 600.0]), firing=np.array([9.0, 0.5, 0.7, 0.2, 0.3]),
        stops=[SimpleNamespace(chainage=at) for at in (1000.0, 3000.0, 6000.0)],
    )  # fmt: skip
    assert economy._burned(made, 0) == pytest.approx(100.0 * 0.5 + 90.0 * 0.7)
    assert economy._burned(made, 1) == pytest.approx(140.0 * 0.2 + 200.0 * 0.3)


@pytest.mark.parametrize(
    ("stored", "fire", "burned", "cost"),
    [
        (-200.0, 1000.0, 50.0, 60.0),
        (100.0, 1000.0, 50.0, 45.0),
        (100.0, 0.0, 50.0, 50.0),
        (100.0, 9.0, 0.0, 0.0),
        (0.1, 0.5, 0.5, 0.4),
        (-0.1, 0.5, 0.5, 0.6),
    ],
)
def test_heat_that_the_boiler_lost_is_made_good_by_fuel(
    stored: float, fire: float, burned: float, cost: float
) -> None:
    heat = SimpleNamespace(
        name="boiler heat [J]", entries=(("feed", 5.0), ("fire, all of it", fire)), stored=stored
    )
    water = SimpleNamespace(name="water [kg]", entries=(("fire", 1.0),), stored=7.0)
    made: Any = SimpleNamespace(ledgers=(water, heat), fuel_burned=burned)
    assert coal.fuel_cost(made) == pytest.approx(cost)
    made.ledgers = (water,)
    assert coal.fuel_cost(made) == burned


# The card

LIMITS = {"S": STEAM, "C": COASTING, "B": BRAKING}


def run(
    tasks: str, *, step: float = 100.0, stops: tuple[int, ...] = (), speed: Any = 10.0, **changes: Any
) -> Any:
    """A run of like steps from the first stop on, each with its task; stops at the given nodes and at the end."""
    n = len(tasks)
    chainage = 1000.0 + step * np.arange(n + 1)
    at = [0, *stops, n]
    made = {
        "excursion": PLAN, "chainage": chainage, "limit": np.array([LIMITS[task] for task in tasks]),
        "time": np.arange(n + 1.0), "departure_time": np.arange(n + 1.0) + 0.5,
        "speed": np.broadcast_to(np.asarray(speed, dtype=float), (n + 1,)),
        "cutoff": np.array([0.3 * (task == "S") for task in tasks]),
        "throttle": np.array([0.8 * (task == "S") for task in tasks]),
        "stops": [SimpleNamespace(chainage=chainage[k], station=f"stop {k}") for k in at],
    }  # fmt: skip
    return SimpleNamespace(**{**made, **changes})


def card(made: Any) -> list[tuple[str, int, int, str]]:
    """Task, first and last node, and stop of each entry."""
    step = made.chainage[1] - made.chainage[0]
    return [
        (
            e.task,
            round((e.start - 1000.0) / step),
            round((e.end - 1000.0) / step),
            e.stop.removeprefix("stop "),
        )
        for e in crew_card(made)
    ]


@pytest.mark.parametrize(
    ("tasks", "stops", "expected"),
    [
        ("S" * 6 + "C" * 6 + "B" * 2, (), [("steam", 0, 6, ""), ("shut off", 6, 12, ""), ("brake", 12, 14, "14")]),
        # A short entry is joined to its longer neighbor.
        ("S" * 9 + "C" * 4 + "S" * 5, (), [("steam", 0, 18, "18")]),
        ("S" * 5 + "B" * 4 + "C" * 6, (), [("steam", 0, 5, ""), ("shut off", 5, 15, "15")]),
        ("S" * 7 + "B" * 4 + "C" * 6, (), [("steam", 0, 11, ""), ("shut off", 11, 17, "17")]),
        # 500 m are long enough.
        ("S" * 9 + "C" * 5 + "S" * 5, (), [("steam", 0, 9, ""), ("shut off", 9, 14, ""), ("steam", 14, 19, "19")]),
        # Starting, and braking to a stop, are entries however short.
        ("S" + "C" * 8 + "B", (), [("steam", 0, 1, ""), ("shut off", 1, 9, ""), ("brake", 9, 10, "10")]),
        # Not across a stop.
        ("S" * 6 + "C" * 2 + "S" * 6, (8,), [("steam", 0, 8, "8"), ("steam", 8, 14, "14")]),
        ("S" * 6 + "S" * 6, (6,), [("steam", 0, 6, "6"), ("steam", 6, 12, "12")]),
        ("C" * 2 + "S" * 7, (2,), [("shut off", 0, 2, "2"), ("steam", 2, 9, "9")]),
        # The shortest first: two of coasting, then the three of braking between.
        ("S" * 6 + "B" * 3 + "C" * 2 + "S" * 7, (), [("steam", 0, 18, "18")]),
        # So here the braking goes first, and with it the two of coasting are one that is long enough.
        (
            "S" * 6 + "C" * 4 + "B" * 3 + "C" * 4 + "S" * 9, (),
            [("steam", 0, 6, ""), ("shut off", 6, 17, ""), ("steam", 17, 26, "26")],
        ),
    ],
)  # fmt: skip
def test_entries_of_the_card(tasks: str, stops: tuple[int, ...], expected: list[Any]) -> None:
    assert card(run(tasks, stops=stops)) == expected


def test_a_long_entry_with_steam_is_divided_into_equal_parts() -> None:
    assert card(run("S" * 50)) == [("steam", 0, 50, "50")]
    assert card(run("S" * 51)) == [("steam", 0, 26, ""), ("steam", 26, 51, "51")]
    assert card(run("S" * 120)) == [("steam", 0, 40, ""), ("steam", 40, 80, ""), ("steam", 80, 120, "120")]
    assert card(run("SS", step=6000.0)) == [("steam", 0, 1, ""), ("steam", 1, 2, "2")]  # no entry is empty
    assert card(run("C" * 60 + "B")) == [("shut off", 0, 60, ""), ("brake", 60, 61, "61")]


def test_holding_a_falling_grade_is_told_apart_from_slowing_to_a_stop() -> None:
    speed = np.array([9.0] * 7 + [10.0] * 9 + [9.71, 9.69, 5.0, 0.0])
    tasks = "S" * 6 + "B" * 13
    assert card(run(tasks, speed=speed)) == [
        ("steam", 0, 6, ""),
        ("brake", 6, 16, ""),
        ("brake", 16, 19, "19"),
    ]
    short = np.array([9.0] * 7 + [10.0] * 4 + [9.0] * 8 + [0.0])
    assert card(run(tasks, speed=short)) == [("steam", 0, 6, ""), ("brake", 6, 19, "19")]
    just = np.array([9.0] * 7 + [10.0] * 5 + [9.0] * 7 + [0.0])
    assert card(run(tasks, speed=just)) == [
        ("steam", 0, 6, ""),
        ("brake", 6, 11, ""),
        ("brake", 11, 19, "19"),
    ]


def test_an_entry_has_time_place_speeds_and_the_usual_cutoff_and_throttle() -> None:
    cutoff = np.array([0.7, *np.linspace(0.2, 0.4, 11), 0.0])
    throttle = np.array([*np.linspace(0.5, 1.0, 12), 0.0])
    made = run("S" * 12 + "B", cutoff=cutoff, throttle=throttle, speed=np.arange(14.0))
    steam, brake = crew_card(made)
    assert (steam.time, steam.from_speed, steam.to_speed, steam.milepost) == (0.5, 0.0, 12.0, 1000.0)
    # The first step lasts 0.5 s, the others 1 s: a tenth of the time is 1.15 s, nine tenths are 10.35 s.
    assert steam.cutoff == pytest.approx((0.22, 0.4))
    assert steam.throttle == pytest.approx((0.5 + 0.5 / 11, 0.5 + 10 * 0.5 / 11))
    assert (brake.time, brake.cutoff, brake.throttle, brake.stop) == (12.5, None, None, "stop 13")
    unknown = run("S" * 12 + "B", throttle=np.array([0.5] * 11 + [np.nan, 0.0]))
    assert crew_card(unknown)[0].cutoff == pytest.approx((0.3, 0.3))
    assert crew_card(unknown)[0].throttle is None
    shut = run("S" * 12 + "B", cutoff=np.zeros(13))
    assert (crew_card(shut)[0].task, crew_card(shut)[0].cutoff) == ("steam", None)
    partly = run(
        "S" * 12 + "B", cutoff=np.array([0.3] * 6 + [0.0] * 7), throttle=np.array([0.8] * 6 + [0.1] * 7)
    )
    assert crew_card(partly)[0].throttle == pytest.approx((0.8, 0.8))
    back = replace(PLAN, direction="reverse", stops=tuple(reversed(PLAN.stops)))
    assert crew_card(run("S" * 12 + "B", excursion=back))[0].milepost == LINE.start + LINE.end - 1000.0
