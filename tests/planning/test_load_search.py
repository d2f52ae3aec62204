"""The search for the largest load against a count of every load, over made-up checks whose margins go with the load."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import pytest
import trials

from locosim.errors import OutOfRange
from locosim.planning import load_search
from locosim.planning.check import Check, sorted_check
from locosim.planning.finding import (
    CLEAR,
    TIGHT,
    WHOLE_LINE,
    Band,
    Comparison,
    Explanation,
    Finding,
    VerdictScale,
    judge,
)
from locosim.planning.largest_number import last_that
from locosim.planning.load_search import LargestLoad, LoadSearch
from locosim.planning.partial_check import ADHESION, BOOKED, FULL_EFFORT, STEAM
from locosim.planning.varied_train import VariedTrain, varied_train

PART = {
    "climb": FULL_EFFORT,
    "start": FULL_EFFORT,
    "steam": STEAM,
    "adhesion": ADHESION,
    "water": BOOKED,
    "axle load": BOOKED,
    "stopping distance": BOOKED,  # of brakes: a rule that may get better with load
}
PLAN = trials.excursion(trials.line([(1000.0, 0.0)]))
TIGHT_MARGIN = PLAN.criteria.tight_margin
RUNS: Any = SimpleNamespace(booked=SimpleNamespace(excursion=PLAN))


@dataclass(frozen=True)
class Rule:
    """Margin by the number of cars: at none, and lost with each car; and what an assumption may take from it."""

    at_none: float
    per_car: float
    lost: float = 0.0

    def margin(self, number: int) -> float:
        return self.at_none - self.per_car * number


Rules = dict[str, Rule]


def finding(name: str, rule: Rule, number: int) -> Finding:
    margin = rule.margin(number)
    scale = VerdictScale() if name == "axle load" else VerdictScale(TIGHT_MARGIN)
    return judge(
        name, Comparison(margin, 1.0, "ratio", margin), WHOLE_LINE, scale, Explanation(because="", remedy="")
    )


def with_fake_checks(patch: pytest.MonkeyPatch, rules: Rules) -> list[int]:
    """Let a search see made-up checks; the list gets the number of each load whose check is begun."""
    begun = []

    class Parts:
        def __init__(self, excursion: Any, performance: Any, *, begin: Any = None) -> None:
            self.number = sum(vehicle.count for vehicle in excursion.train.vehicles)
            begun.append(self.number)

        def findings(self, part: str) -> list[Finding]:
            return [finding(name, rule, self.number) for name, rule in rules.items() if PART[name] == part]

        def check(self) -> Check:
            return sorted_check([finding(name, rule, self.number) for name, rule in rules.items()], RUNS)

    def banded(check: Check) -> Check:
        found = []
        for each in check.findings:
            least = each.margin - rules[each.rule].lost
            if each.rule == "axle load":  # met or not, and rests on no assumption
                found.append(each)
                continue
            flips = each.verdict == CLEAR and least < TIGHT_MARGIN
            band = Band("air_lag", least, each.margin)
            found.append(replace(each, bands=(band,), flips=flips, verdict=TIGHT if flips else each.verdict))
        return sorted_check(found, RUNS)

    patch.setattr(load_search, "PartialCheck", Parts)
    patch.setattr(load_search, "with_bands", banded)
    patch.setattr(load_search, "compute_excursion_performance", lambda excursion: None)
    return begun


def accepts(rules: Rules, number: int, goal: str) -> bool:
    """Whether every rule is as good as the goal, by hand."""
    return all(
        rule.margin(number) >= 0.0
        and (
            goal == TIGHT
            or name == "axle load"
            or rule.margin(number) - rule.lost >= TIGHT_MARGIN
        )
        for name, rule in rules.items()
    )  # fmt: skip


def cars(count: int = 6) -> VariedTrain:
    return varied_train(trials.train(trials.coaches(count)))


def largest(rules: Rules, goal: str, *, begin: int | None = None, far: bool = False) -> LargestLoad:
    return LoadSearch(PLAN, cars(), begin=begin).largest("found", goal, far=far)


def drawn_rules(seed: int) -> Rules:
    draw = random.Random(seed)
    chosen = draw.sample(["climb", "start", "steam", "adhesion", "water", "axle load"], draw.randint(1, 4))
    last = {name: draw.choice((0, 1, 2, 5, 30, 120, 299, 400)) + draw.random() for name in chosen}
    rules = {}
    for name in chosen:
        per_car = draw.choice((0.001, 0.01, 0.3))
        lost = draw.choice((0.0, 0.0, 0.04, 0.5)) if name in ("climb", "steam") else 0.0
        rules[name] = Rule(per_car * last[name] + draw.choice((0.0, 0.1, -0.02)), per_car, lost)
    if draw.random() < 0.4:  # brakes of the engine alone are too weak up to some number of cars
        rules["stopping distance"] = Rule(0.1 - 0.02 * draw.choice((0.5, 1.5, 4.5, 200.0)), -0.02)
    return rules


@pytest.mark.parametrize("goal", [CLEAR, TIGHT])
def test_the_answer_is_the_largest_of_all_loads_that_the_whole_check_accepts(
    monkeypatch: pytest.MonkeyPatch, goal: str
) -> None:
    found = set()
    for seed in range(150):
        rules = drawn_rules(seed)
        with_fake_checks(monkeypatch, rules)
        accepted = [number for number in range(301) if accepts(rules, number, goal)]
        most = max(accepted, default=None)
        for begin in (None, 0, 40, 1000):
            load = largest(rules, goal, begin=begin)
            assert load.number == most, (seed, begin)
        found.add(most)
        _check_proof(load, rules, goal)
        if accepted and accepted[0] == 0:
            assert largest(rules, goal, begin=accepted[len(accepted) // 3], far=True).number == most, seed
    assert {None, 0, 1, 2, 300} <= found
    assert len(found) > 8


def _check_proof(load: LargestLoad, rules: Rules, goal: str) -> None:
    """The check of the answer, and that of the next larger load with what it fails by."""
    if load.number is None:
        heavy = {"climb", "start", "steam", "adhesion", "water", "axle load"}
        broken = [name for name, rule in rules.items() if not accepts({name: rule}, 0, goal)]
        by_brakes = not heavy.intersection(broken)
        one_too = not accepts(rules, 1, goal)
        assert load.refused_number == (1 if by_brakes and one_too else 0)
        assert (load.train, load.check, load.mass, load.rests_on) == (None, None, None, ())
    else:
        assert load.train == cars().at(load.number)
        assert load.mass == load.train.mass
        assert load.check is not None
        assert {f.rule: f.margin for f in load.check.findings} == {
            name: rule.margin(load.number) for name, rule in rules.items()
        }
        assert load.refused_number == load.number + 1
        if load.number == 300:
            assert load.note == "a file may not describe a longer or heavier train"
            assert (load.refused, load.limit) == (None, None)
            return
    assert load.note == ""
    assert load.refused is not None
    assert load.limit is not None
    number = load.refused_number
    assert {f.rule: f.margin for f in load.refused.findings} == {
        name: rule.margin(number) for name, rule in rules.items()
    }
    assert not accepts({load.limit.rule: rules[load.limit.rule]}, number, goal)


def test_a_load_like_another_takes_over_its_doubts_and_has_no_bands_of_its_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rules = {"climb": Rule(1.001, 0.01, 0.2), "water": Rule(0.951, 0.01)}
    with_fake_checks(monkeypatch, rules)
    base = LoadSearch(PLAN, cars()).load("base", 40, CLEAR).check
    assert base is not None
    # At 70 cars 0.3 of margin is left to climb, of which an assumption may take 0.2; for water 85 cars leave 0.1.
    alone = largest(rules, CLEAR)
    assert alone.number == 70
    assert alone.limit is not None
    assert (alone.limit.rule, alone.limit.flips) == ("climb", True)
    assert alone.rests_on == ()
    assert LoadSearch(PLAN, cars()).load("base", 75, TIGHT).rests_on == ("air_lag",)
    like = LoadSearch(PLAN, cars(), begin=6, like=base).largest("like", CLEAR)
    assert (like.number, like.name) == (70, "like")
    assert like.check is not None
    assert all(f.bands == () and not f.flips for f in like.check.findings)
    tight = LoadSearch(PLAN, cars(), like=base).largest("like", TIGHT)
    assert tight.number == 95


def test_a_heavy_trains_doubts_do_not_refuse_what_its_own_check_accepts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An assumption may take 0.6 of the margin from 50 cars on and nothing below: 49 are accepted."""
    rules = {"climb": Rule(1.0, 0.001)}
    with_fake_checks(monkeypatch, rules)
    plain = load_search.with_bands

    def heavy_alone(check: Check) -> Check:
        (found,) = check.findings
        number = round((1.0 - found.margin) / 0.001)
        rules["climb"] = Rule(1.0, 0.001, 0.95 if number >= 50 else 0.0)
        return plain(check)

    monkeypatch.setattr(load_search, "with_bands", heavy_alone)
    load = largest(rules, CLEAR)
    assert (load.number, load.refused_number) == (49, 50)
    assert load.limit is not None
    assert load.limit.flips


def test_doubts_of_a_heavier_train_hide_no_larger_load(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the doubts of 300 cars 100 would be the last, but 299 have none of their own."""
    rules = {"climb": Rule(1.001, 0.003)}
    with_fake_checks(monkeypatch, rules)
    plain = load_search.with_bands

    def heaviest_alone(check: Check) -> Check:
        number = round((1.001 - check.findings[0].margin) / 0.003)
        rules["climb"] = Rule(1.001, 0.003, 0.6 if number == 300 else 0.0)
        return plain(check)

    monkeypatch.setattr(load_search, "with_bands", heaviest_alone)
    search = LoadSearch(PLAN, cars())
    assert search.answer(CLEAR) == 100
    assert search.proof(100, CLEAR) is None
    load = search.largest("found", CLEAR)
    assert (load.number, load.refused_number) == (299, 300)
    assert load.limit is not None
    assert load.limit.flips


@pytest.mark.parametrize("goal", [CLEAR, TIGHT])
def test_brakes_that_a_light_engine_lacks_leave_the_largest_load_of_the_other_rules(
    monkeypatch: pytest.MonkeyPatch, goal: str
) -> None:
    need = TIGHT_MARGIN if goal == CLEAR else 0.0
    for rule in ("climb", "water"):
        for last in range(-1, 5):
            for first in range(6):
                heavy = Rule(need + 0.01 * (last + 0.5), 0.01)
                brakes = Rule(need - 0.02 * (first - 0.5), -0.02)
                with_fake_checks(monkeypatch, {rule: heavy, "stopping distance": brakes})
                for begin in (0, 1, 6):
                    load = largest({}, goal, begin=begin)
                    assert load.number == (last if first <= last else None), (rule, last, first, begin)
                    if load.number is None:
                        assert load.refused_number == (0 if last < 0 else 1)
                        assert load.limit is not None


def test_only_brakes_refuse_every_load(monkeypatch: pytest.MonkeyPatch) -> None:
    with_fake_checks(monkeypatch, {"climb": Rule(9.0, 0.01), "stopping distance": Rule(-9.0, -0.001)})
    load = largest({}, TIGHT)
    assert (load.number, load.refused_number) == (None, 1)
    assert load.limit is not None
    assert load.limit.rule == "stopping distance"
    assert load.limit.margin == pytest.approx(-8.999)


def test_few_checks_are_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    """On straight margins two loads tell where the last is; it and the next one are checked whole."""
    rules = {"climb": Rule(2.6, 0.01, 0.0), "water": Rule(1.901, 0.01)}
    begun = with_fake_checks(monkeypatch, rules)
    base = LoadSearch(PLAN, cars()).load("base", 100, CLEAR).check

    assert LoadSearch(PLAN, cars(), begin=160, like=base).largest("found", CLEAR).number == 180
    assert len(set(begun)) - 1 <= 4  # and that of the base
    begun.clear()
    assert LoadSearch(PLAN, cars(), begin=6).largest("found", CLEAR).number == 180
    assert len(set(begun)) <= 11


@pytest.mark.parametrize(
    ("possible", "rule", "number"),
    [
        ((1, 2, 3), "climb", 0),  # no train without cars: no check at all
        ((0, 2, 3), "stopping distance", 0),  # none with one: the engine alone shows what lacks
        ((0, 1), "stopping distance", 1),
    ],
)
def test_a_train_that_a_file_may_not_describe_proves_nothing(
    monkeypatch: pytest.MonkeyPatch, possible: tuple[int, ...], rule: str, number: int
) -> None:
    with_fake_checks(monkeypatch, {rule: Rule(-1.0, 0.0)})

    class Some(VariedTrain):
        def at(self, number: int) -> Any:
            if number not in possible:
                raise OutOfRange("no such train")
            return super().at(number)

    load = LoadSearch(PLAN, Some(train=cars().train, vehicle=0)).largest("no train", CLEAR)
    assert (load.number, load.refused_number) == (None, number)
    if number in possible:
        assert load.limit is not None
        assert load.limit.rule == rule
        assert load.note == ""
    else:
        assert (load.refused, load.limit) == (None, None)
        assert load.note == "a train file may not describe the train without this load"


def test_what_a_rule_refuses_without_load_is_searched_no_further(monkeypatch: pytest.MonkeyPatch) -> None:
    begun = with_fake_checks(monkeypatch, {"water": Rule(-0.1, 0.001)})
    assert largest({}, CLEAR, begin=0).number is None
    assert set(begun) == {0}


def test_where_no_number_is_possible_there_is_none() -> None:
    assert last_that(lambda number: {"one": 1.0}, 3, -1) is None


@pytest.mark.parametrize("guess", [0, 20, 80, 160, 300])
def test_the_search_ends_where_one_thing_comes_to_lack_as_another_ceases_to(guess: int) -> None:
    """Steam to spare up to 5 and brakes from 16 on: no number is enough. It went on without end from 80."""
    tried = []

    def spare(number: int) -> dict[str, float]:
        tried.append(number)
        assert len(tried) < 50
        return {"steam": 0.01 * (5.5 - number), "brakes": 0.02 * (number - 15.5)}

    assert last_that(spare, guess, 300) is None
    assert len(tried) <= 6
