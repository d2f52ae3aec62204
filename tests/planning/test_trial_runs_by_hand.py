"""Which runs a check is made of, and from which runs of a similar excursion each begins."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from locosim.planning import trial_runs
from locosim.planning.trial_runs import (
    Needs,
    TrialRuns,
    compute_trial_runs,
    find_adhesion_need,
    find_need,
    run_booked,
)


class Runs:
    """Runs that tell what they were asked."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.asked: dict[str, Any] = {}

        def told(name: str) -> Any:
            def run(excursion: Any, performance: Any, *more: Any, **begin: Any) -> Any:
                assert (excursion.name, performance) == ("asked", "known")
                self.asked[name] = (*more, begin)
                return f"{name} found"

            return run

        for name in ("run_full_effort", "run_to_timetable", "steam_need", "adhesion_need"):
            patch.setattr(trial_runs, name, told(name))


@pytest.fixture
def runs(monkeypatch: pytest.MonkeyPatch) -> Runs:
    return Runs(monkeypatch)


ASKED: Any = SimpleNamespace(name="asked", stops=("A", "B", "C"))


def like(stops: int) -> Any:
    booked = SimpleNamespace(excursion=SimpleNamespace(stops=("X",) * stops), driven="driven before")
    return TrialRuns(booked=booked, full_effort="old", need="old steam", adhesion_need="old adhesion")  # type: ignore[arg-type]


def test_a_check_is_made_of_both_runs_and_both_needs(runs: Runs) -> None:
    found = compute_trial_runs(ASKED, "known")  # type: ignore[arg-type]
    assert (found.booked, found.full_effort) == ("run_to_timetable found", "run_full_effort found")
    assert (found.need, found.adhesion_need) == ("steam_need found", "adhesion_need found")
    assert runs.asked["steam_need"] == ({"begin": None},)
    assert runs.asked["adhesion_need"] == ("steam_need found", {"begin": None})
    assert runs.asked["run_to_timetable"] == (
        {"begin": (), "same_steam": False, "full_effort": "run_full_effort found"},
    )  # fmt: skip


@pytest.mark.parametrize(("stops", "driven"), [(3, "driven before"), (2, ()), (4, ())])
def test_it_begins_from_a_similar_one_and_its_driving_from_one_with_as_many_stops(
    runs: Runs, stops: int, driven: Any
) -> None:
    compute_trial_runs(ASKED, "known", begin=like(stops))  # type: ignore[arg-type]
    assert runs.asked["steam_need"] == ({"begin": "old steam"},)
    assert runs.asked["adhesion_need"][1] == {"begin": "old adhesion"}
    assert runs.asked["run_to_timetable"][0]["begin"] == driven


def test_needs_to_expect_go_before_those_of_the_similar_one(runs: Runs) -> None:
    near: Any = Needs("expected steam", "expected adhesion")  # type: ignore[arg-type]
    compute_trial_runs(ASKED, "known", begin=like(3), near=near)  # type: ignore[arg-type]
    assert runs.asked["steam_need"] == ({"begin": "expected steam"},)
    assert runs.asked["adhesion_need"][1] == {"begin": "expected adhesion"}
    assert runs.asked["run_to_timetable"][0]["begin"] == "driven before"


def test_parts_of_a_check_begin_alike(runs: Runs) -> None:
    assert find_need(ASKED, "known", begin=like(3)) == "steam_need found"  # type: ignore[arg-type]
    assert find_adhesion_need(ASKED, "known", "steam", begin=like(3)) == "adhesion_need found"  # type: ignore[arg-type]
    assert runs.asked["steam_need"] == ({"begin": "old steam"},)
    assert runs.asked["adhesion_need"] == ("steam", {"begin": "old adhesion"})
    find_need(ASKED, "known")  # type: ignore[arg-type]
    find_adhesion_need(ASKED, "known", "steam")  # type: ignore[arg-type]
    assert (runs.asked["steam_need"], runs.asked["adhesion_need"]) == (
        ({"begin": None},),
        ("steam", {"begin": None}),
    )
    run_booked(ASKED, "known")  # type: ignore[arg-type]
    assert runs.asked["run_to_timetable"] == ({"begin": (), "same_steam": False, "full_effort": None},)
    run_booked(ASKED, "known", begin=like(3), same_steam=True)  # type: ignore[arg-type]
    assert runs.asked["run_to_timetable"][0]["same_steam"]
