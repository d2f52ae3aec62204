"""The question of a load, part by part: sections, conditions, momentum, and the search begun again."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
import trials

from locosim.errors import OutOfRange
from locosim.model import Diesel, Excursion, Helper, Stop
from locosim.planning import load
from locosim.planning.contingencies import Change
from locosim.planning.finding import CLEAR, TIGHT
from locosim.planning.load import Condition, LoadQuestion, conditions_of, find_load
from locosim.planning.load_search import LargestLoad, Proof
from locosim.planning.varied_train import varied_train

LINE = trials.line([(12000.0, 0.0)], stops=(3000.0, 6000.0, 9000.0))
DIESEL = Diesel(name="D1", mass=90e3, length=17.0, rail_power=0.9e6, starting_tractive_effort=150e3)
STOPS = (
    Stop(station="A"),
    Stop(station="B", depart=37000.0, dwell=60.0, take_water="fill"),
    Stop(station="C", arrive=38000.0, clean_fire="yes"),
    Stop(station="E", arrive=40000.0, take_fuel="fill"),
)
PLAN = replace(trials.excursion(LINE), stops=STOPS, departure=36000.0, initial_water=0.8, initial_fuel=0.6)


def helpers(*spans: tuple[str | None, str | None]) -> tuple[Helper, ...]:
    return tuple(Helper(diesel=DIESEL, from_station=on, to_station=off) for on, off in spans)


def check(*left: tuple[float, float, float]) -> Any:
    """A check whose run leaves its stops at these times with so much water and fuel."""
    stops = [SimpleNamespace(depart=t, water_on_departure=w, fuel_on_departure=f) for t, w, f in left]
    return SimpleNamespace(journey=SimpleNamespace(stops=stops))


def test_each_section_is_a_plan_of_its_own_with_what_the_run_has_there() -> None:
    ran = check((36005.0, 20e3, 5e3), (37010.0, 25e3, 4e3), (38500.0, 10e3, 1.0), (40000.0, 0.0, 0.0))
    asked = replace(PLAN, helpers=helpers((None, None), ("B", None), (None, "B"), ("B", "C")))
    first, second, third = load._sections(asked, ran)
    assert [name for name, _ in (first, second, third)] == ["A to B", "B to C", "C to E"]
    a, b, c = (section for _, section in (first, second, third))
    # A booked departure counts before that of the run; the end is an arrival alone.
    assert [each.departure for each in (a, b, c)] == [36005.0, 37000.0, 38500.0]
    assert a.stops == (Stop(station="A"), Stop(station="B", take_water="fill", dwell=0.0))
    assert b.stops == (Stop(station="B"), Stop(station="C", arrive=38000.0, dwell=0.0))
    assert c.stops == (Stop(station="C"), Stop(station="E", arrive=40000.0, take_fuel="fill", dwell=0.0))
    assert [each.initial_water for each in (a, b, c)] == pytest.approx([0.8, 0.8, 0.4])
    assert [each.initial_fuel for each in (a, b, c)] == pytest.approx([0.6, 0.48, 0.6e-3])
    assert [len(each.helpers) for each in (a, b, c)] == [2, 3, 2]
    assert {(h.from_station, h.to_station) for each in (a, b, c) for h in each.helpers} == {(None, None)}


def test_where_no_load_is_accepted_or_the_run_ends_sections_begin_as_the_plan_does() -> None:
    for ran, known in ((None, 0), (check((36005.0, 20e3, 5e3), (37010.0, 25e3, 4e3)), 2)):
        parts = [part for _, part in load._sections(PLAN, ran)]
        assert [part.departure for part in parts] == [36005.0 if known else 36000.0, 37000.0, 36000.0]
        assert [part.initial_water for part in parts] == pytest.approx([0.8, 0.8, 0.8])
        assert [part.initial_fuel for part in parts] == pytest.approx([0.6, 0.48 if known else 0.6, 0.6])
    two = replace(PLAN, stops=(STOPS[0], STOPS[-1]))
    assert load._sections(two, None) == []
    assert len(load._sections(replace(PLAN, stops=(STOPS[0], *STOPS[2:])), None)) == 2


@pytest.mark.parametrize(
    ("on", "off", "sections"),
    [(None, None, [0, 1, 2]), ("B", None, [1, 2]), (None, "C", [0, 1]), ("B", "C", [1]), ("C", "E", [2])],
)
def test_a_helper_helps_in_the_sections_between_its_stations(
    on: str | None, off: str | None, sections: list[int]
) -> None:
    assert [k for k in range(3) if load._helps(on, off, STOPS, k)] == sections


@pytest.mark.parametrize(
    ("first", "now", "share"),
    [(10.0, 5.0, 0.5), (10.0, 12.0, 1.0), (10.0, 0.0, 1e-3), (0.0, 5.0, 1.0), (0.5, 0.25, 0.5)],
)
def test_supplies_in_a_section_over_those_at_the_first_departure(
    first: float, now: float, share: float
) -> None:
    assert load._left(first, now) == pytest.approx(share)


# Conditions


def test_each_condition_changes_one_thing() -> None:
    usual = conditions_of(PLAN, LoadQuestion())
    assert [each.change.name for each in usual] == [
        "wet rail", "air", "air", "poor coal, 20 % less heat", "one injector failed"
    ]  # fmt: skip
    assert [each.fact for each in usual] == [
        None,
        (263.15, "temperature"),
        (308.15, "temperature"),
        None,
        None,
    ]
    asked = LoadQuestion(rails=("frost", "moist"), temperatures=(280.0,), heating_values=(25e6,))
    given = conditions_of(PLAN, asked)
    assert [each.change.name for each in given] == [
        "frost rail",
        "moist rail",
        "air",
        "coal",
        "one injector failed",
    ]
    excursions = [each.change.excursion for each in given[:4]]
    assert excursions == [
        replace(PLAN, rail="frost"), replace(PLAN, rail="moist"),
        replace(PLAN, weather=replace(PLAN.weather, temperature=280.0)),
        replace(PLAN, fuel=replace(PLAN.fuel, heating_value=25e6)),
    ]  # fmt: skip
    assert given[3].fact == (25e6, "heating_value")


def made_load(name: str, number: int | None, verdict: str, proof: Any = None) -> LargestLoad:
    """A load with a made-up check, and a note of what was asked."""
    ran = None if number is None else check((0.0, 1.0, 1.0))
    if ran is not None:
        ran.runs = SimpleNamespace(full_effort=SimpleNamespace(arrived=True))
    return LargestLoad(
        name=name, number=number, check=ran, refused_number=1, limit=None if number else "limit",
        note=f"{verdict} {proof}",
    )  # type: ignore[arg-type]  # fmt: skip


class Searches:
    """Made-up searches; each is listed with how it was begun."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.made: list[Any] = []
        self.answers: dict[str, int | None] = {CLEAR: 5, TIGHT: 9}
        self.learned: list[int | None] = []
        self.accepts_more = 0
        searches = self

        class Search:
            def __init__(self, excursion: Excursion, varied: Any, **begin: Any) -> None:
                self.excursion = excursion
                assert varied.at(1).name == excursion.train.name
                searches.made.append((excursion, varied, begin))

            def largest(self, name: str, verdict: str, *, far: bool = False) -> LargestLoad:
                if self.excursion.rail == "frost":
                    raise OutOfRange("cannot run")
                return LargestLoad(name=name, number=3, note=f"{verdict} {far}")

            def answer(self, verdict: str) -> int | None:
                return searches.answers[verdict]

            def found(self, name: str, verdict: str) -> LargestLoad:
                return self.load(name, self.answer(verdict), verdict)

            def learn(self, load: LargestLoad) -> None:
                searches.learned.append(load.number)

            load = staticmethod(made_load)

            def proof(self, number: int | None, verdict: str) -> Any:
                if searches.accepts_more:
                    searches.accepts_more -= 1
                    return None
                return Proof(None, None) if number is not None else None

            def above(self, number: int, verdict: str) -> int:
                return number + 10

        patch.setattr(load, "LoadSearch", Search)
        self._patch_runs(patch)

    def _patch_runs(self, patch: pytest.MonkeyPatch) -> None:
        """Let nothing run but the made-up searches."""
        patch.setattr(load, "answer_each", lambda asked, known: [each() for each in asked])
        patch.setattr(load, "compute_excursion_performance", lambda excursion: None)
        patch.setattr(load, "momentum_grades_of", lambda full: ("grade",))
        patch.setattr(
            load, "prepare", lambda excursion, performance: sum(v.count for v in excursion.train.vehicles)
        )
        patch.setattr(load, "holds_everywhere", lambda cars: cars <= 4)


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> Searches:
    return Searches(monkeypatch)


def test_sections_and_conditions_begin_from_the_answer(searches: Searches) -> None:
    rating = find_load(PLAN, LoadQuestion(rails=("dry",)))
    varied = varied_train(PLAN.train)
    assert (rating.whole.number, rating.verdict, rating.not_clear) == (5, CLEAR, None)
    assert rating.whole.note == f"{CLEAR} {Proof(None, None)}"
    assert [each.name for each in rating.sections] == ["A to B", "B to C", "C to E"]
    assert {each.note for each in rating.sections} == {"clear True"}
    assert [each.name for each in rating.conditions] == [
        "dry rail", "air", "air", "poor coal, 20 % less heat", "one injector failed"
    ]  # fmt: skip
    assert {each.note for each in rating.conditions} == {"clear False"}
    assert [each.fact for each in rating.conditions][1] == (263.15, "temperature")
    assert (rating.without_momentum, rating.momentum) == (4, ("grade",))
    assert (rating.excursion, rating.varied) == (PLAN, varied)
    begun = [begin for _, _, begin in searches.made]
    assert begun[0] == {}
    assert all(each["begin"] == 5 and each["like"] is not None for each in begun[1:])
    assert {id(each["like"]) for each in begun[1:]} == {id(begun[1]["like"])}
    alone = find_load(PLAN, LoadQuestion(conditions=False, verdict=TIGHT))
    assert (alone.sections, alone.conditions, alone.whole.number) == ((), (), 9)


def test_where_no_load_is_clear_the_largest_that_is_tight_is_given(searches: Searches) -> None:
    searches.answers[CLEAR] = None
    rating = find_load(PLAN, LoadQuestion(conditions=False))
    assert (rating.whole.number, rating.verdict) == (9, TIGHT)
    assert (rating.not_clear, rating.not_clear_number) == ("limit", 1)
    assert searches.learned == [9]
    searches.answers[TIGHT] = None
    none = find_load(PLAN)
    assert (none.whole.number, none.whole.check, none.momentum) == (None, None, ())
    assert none.whole.note == f"{TIGHT} None"
    assert {each.note for each in none.sections} == {"tight False"}
    asked = [begin for _, _, begin in searches.made[-8:]]
    assert [each["begin"] for each in asked[:5]] == [0] * 5
    assert [each["begin"] for each in asked[5:]] == [None] * 3
    assert none.without_momentum == 4


def test_the_search_goes_on_where_one_more_is_accepted(searches: Searches) -> None:
    searches.accepts_more = 2
    rating = find_load(PLAN, LoadQuestion(conditions=False))
    assert rating.whole.number == 25


def test_a_condition_that_cannot_be_run_says_why(searches: Searches) -> None:
    whole = LargestLoad(name="as planned", number=5)
    varied = varied_train(PLAN.train)

    def under(change: Change) -> LargestLoad:
        return load._with_change(Condition(change, (1.0, "time")), varied, CLEAR, whole)

    failed = under(Change("one injector failed", None, "there is no other"))
    assert (failed.name, failed.note, failed.number, failed.fact) == (
        "one injector failed", "there is no other", None, (1.0, "time")
    )  # fmt: skip
    frozen = under(Change("frost rail", replace(PLAN, rail="frost")))
    assert (frozen.note, frozen.number, frozen.fact) == ("cannot run", None, (1.0, "time"))
    assert under(Change("dry rail", PLAN)).number == 3


def test_the_ruling_section_is_that_with_the_smallest_load(searches: Searches) -> None:
    rating = find_load(PLAN)

    def of(*numbers: int | None) -> Any:
        sections = tuple(LargestLoad(name=str(n), number=n) for n in numbers)
        found = replace(rating, sections=sections).ruling_section
        return None if found is None else found.name

    assert of(5, 3, 4) == "3"
    assert of(5, None, 0) == "None"
    assert (of(5), of(), of(5, 4)) == (None, None, "4")


def test_a_train_that_a_file_may_not_describe_ends_the_search_without_momentum(searches: Searches) -> None:
    varied = varied_train(PLAN.train)

    class Few:
        max_number, as_described = varied.max_number, varied.as_described

        @staticmethod
        def at(number: int) -> Any:
            if number > 2:
                raise OutOfRange("too long")
            return varied.at(number)

    assert load._without_momentum(PLAN, Few(), None) == 2  # type: ignore[arg-type]
    assert load._without_momentum(PLAN, varied, 200) == 4


@pytest.mark.parametrize(("arrived", "grades"), [(True, ("grade",)), (False, ())])
def test_a_run_that_does_not_arrive_shows_no_momentum(searches: Searches, arrived: bool, grades: Any) -> None:
    ran: Any = SimpleNamespace(runs=SimpleNamespace(full_effort=SimpleNamespace(arrived=arrived)))
    assert load._momentum(LargestLoad(name="x", number=1, check=ran)) == grades
    assert load._momentum(LargestLoad(name="x")) == ()


def test_a_verdict_that_is_none_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^verdict must be one of clear, tight, found 'stop'"):
        find_load(PLAN, LoadQuestion(verdict="stop"))
