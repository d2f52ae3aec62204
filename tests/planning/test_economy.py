"""Driving with the least fuel: never dearer than the everyday driving, on time, and a card that covers the run."""

from __future__ import annotations

import csv
import io
import json
import os
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from plans import plan
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.errors import LocosimError, NoSolution
from locosim.journey.result import Journey
from locosim.model import Excursion
from locosim.planning.check import check_runs
from locosim.planning.coal import fuel_cost
from locosim.planning.crew_card import BRAKE, COAST, STEAM
from locosim.planning.economy import Economy, find_economy
from locosim.planning.finding import severity
from locosim.planning.section_choices import EVERYDAY, SectionChoice, neighbors
from locosim.planning.timetable import TimetableRequest
from locosim.planning.timetable_search import compute_timetable, without_times
from locosim.planning.trial_runs import compute_trial_runs
from locosim.report.text.economy import economy_text

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios" / "excursions"
SPRING = str(SCENARIOS / "spring_special.toml")
# LOCOSIM_PLANS=200 pytest tests/planning/test_economy.py tries more.
PLANS = int(os.environ.get("LOCOSIM_PLANS", "6"))
RUNNER = CliRunner()


@cache
def found(name: str) -> Economy:
    return find_economy(ls.load_excursion(SCENARIOS / f"{name}.toml"))


def is_late(economy: Economy, journey: Journey) -> bool:
    """Whether a run keeps a booked time less well than the everyday driving."""
    stops = zip(economy.excursion.stops, economy.everyday.stops, journey.stops, strict=True)
    return any(
        stop.arrive is not None and record.arrive > max(stop.arrive, before.arrive) + 0.01
        for stop, before, record in stops
    )


def check_economy(economy: Economy) -> None:
    assert economy.fuel <= economy.everyday_fuel
    assert economy.journey is (economy.everyday if economy.refused else economy.planned)
    assert not is_late(economy, economy.journey)
    # The card covers the run without a gap.
    card, journey = economy.card, economy.journey
    assert (card[0].start, card[-1].end) == (journey.chainage[0], journey.chainage[-1])
    assert all(first.end == second.start for first, second in pairwise(card))
    assert [entry.stop for entry in card if entry.stop] == [s.station for s in economy.excursion.stops[1:]]
    assert all((entry.cutoff is not None) <= (entry.task == STEAM) for entry in card)


@pytest.mark.parametrize("seed", range(PLANS))
def test_random_plans_are_confirmed_by_the_check_and_the_next_cheaper_are_late(seed: int) -> None:
    booked = compute_timetable(plan(seed), TimetableRequest(recovery=0.08, step=30.0)).excursion
    economy = find_economy(booked)
    check_economy(economy)
    runs = compute_trial_runs(booked, economy.performance)
    everyday, chosen = (
        check_runs(replace(runs, booked=journey)) for journey in (economy.everyday, economy.journey)
    )
    assert severity(chosen.verdict) <= severity(everyday.verdict)
    for choices in neighbors(economy.choices):
        slower = economy.runs.run(choices)
        late = is_late(economy, slower)
        worse = severity(check_runs(replace(runs, booked=slower)).verdict) > severity(everyday.verdict)
        assert late or worse or fuel_cost(slower) >= economy.planned_fuel


def test_a_section_that_no_plan_betters_keeps_the_everyday_driving(tmp_path: Path) -> None:
    excursion = ls.load_excursion(SCENARIOS.parent / "planners_day" / "with_helper.toml")
    request = TimetableRequest(recovery=0.10, sharing="even")
    economy = find_economy(compute_timetable(excursion, request).excursion)
    check_economy(economy)
    climb = economy.sections[1]
    assert [section.planned for section in economy.sections] == [True, False, True]
    assert climb.fuel == pytest.approx(climb.everyday_fuel, rel=2e-3)
    # Neither the everyday driving in one section more nor the plan in one less burns less.
    runs = economy.runs
    for number, choice in enumerate(economy.choices):
        for other, driving in enumerate(runs.drivings):
            if other == choice.driving:
                continue
            instead = (other, driving.ease[number])
            choices = tuple(
                SectionChoice(*instead) if k == number else each for k, each in enumerate(economy.choices)
            )
            journey = runs.run(choices)
            late = is_late(economy, journey)
            assert late or fuel_cost(journey) >= economy.planned_fuel
    assert "the everyday driving stands there" in " ".join(economy_text(economy).split())


def test_sections_driven_as_they_were_found_give_the_same_run() -> None:
    economy = found("spring_special")
    runs = economy.runs
    again = runs.run(runs.whole(EVERYDAY))
    assert np.array_equal(again.speed, economy.everyday.speed)
    assert np.array_equal(again.firing, economy.everyday.firing)
    assert runs.whole(EVERYDAY) != economy.choices


@pytest.mark.parametrize("seed", range(PLANS))
def test_away_from_stops_the_speed_is_not_below_the_least_climbing_speed(seed: int) -> None:
    booked = compute_timetable(plan(seed), TimetableRequest(recovery=0.3, step=30.0)).excursion
    journey = find_economy(booked).journey
    stops = np.array([record.chainage for record in journey.stops])
    away = np.abs(journey.chainage[:, None] - stops[None, :]).min(axis=1) > 1000.0
    assert not away.any() or float(journey.speed[away].min()) >= booked.criteria.min_climbing_speed


@pytest.mark.parametrize("name", ["spring_special", "summit_express"])
def test_the_bundled_excursions_save_fuel_in_the_same_time(name: str) -> None:
    economy = found(name)
    check_economy(economy)
    assert economy.refused == ""
    assert economy.saving > 0.0
    assert economy.alternating_fuel < economy.planned_fuel
    assert {entry.task for entry in economy.card} == {STEAM, COAST, BRAKE}


def test_without_recovery_there_is_hardly_anything_to_save() -> None:
    booked = compute_timetable(ls.load_excursion(SPRING), TimetableRequest(recovery=0.0)).excursion
    economy = find_economy(booked)
    check_economy(economy)
    assert economy.saving < found("spring_special").saving + 0.01


@pytest.mark.parametrize(
    ("excursion", "match"),
    [
        (without_times(ls.load_excursion(SPRING)), "no arrival is booked"),
        (ls.load_excursion(SCENARIOS / "winter_freight.toml"), "does not arrive"),
    ],
)
def test_what_has_no_answer_is_refused(excursion: Excursion, match: str) -> None:
    with pytest.raises(NoSolution, match=match):
        find_economy(excursion)


def test_a_plan_that_is_no_better_gives_the_everyday_driving(monkeypatch: pytest.MonkeyPatch) -> None:
    from locosim.planning import economy as module

    monkeypatch.setattr(module, "fuel_cost", lambda journey: 100.0)
    economy = find_economy(ls.load_excursion(SPRING))
    assert economy.refused.startswith("run with the boiler, the plan burns no less")
    assert economy.journey is economy.everyday
    assert "The everyday driving stands" in economy_text(economy)
    assert economy.fuel == economy.everyday_fuel


def output(*arguments: str, columns: str = "101") -> str:
    result = RUNNER.invoke(app, ["economy", SPRING, *arguments], env={"COLUMNS": columns})
    assert result.exit_code == 0, result.output + repr(result.exception)
    return result.stdout


def test_the_text_has_the_card_and_fits_a_narrow_terminal() -> None:
    text = output(columns="61")
    assert max(map(len, text.splitlines())) <= 60
    for words in (
        "Card for the crew",
        "SHUT OFF",
        "brake, stop at",
        "They do not",
        "in the everyday driving",
    ):
        assert words in " ".join(text.split())


def test_json_csv_and_picture(tmp_path: Path) -> None:
    table, picture = tmp_path / "card.csv", tmp_path / "card.svg"
    content = json.loads(output("--json", "--csv", str(table), "--plot", str(picture)))
    assert content["fuel_kg"] <= content["everyday_fuel_kg"]
    assert len(list(csv.DictReader(io.StringIO(table.read_text())))) == len(content["card"])
    assert "shut off" in picture.read_text()


def test_the_library_has_the_card() -> None:
    result = ls.economy(ls.load_excursion(SPRING))
    assert result.saving > 0.0
    assert result.run.outcome == "arrived"
    assert len(result.to_rows("us")) == len(result.rows)


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        (("no_such.toml",), "no such file"),
        ((SPRING, "--change", "rial=wet"), "did you mean 'rail'"),
        ((SPRING, "--plot", "card.txt"), "must end in"),
    ],
)
def test_errors_teach(arguments: tuple[str, ...], match: str) -> None:
    result = RUNNER.invoke(app, ["economy", *arguments])
    assert isinstance(result.exception, LocosimError)
    assert match in str(result.exception)


def test_a_looser_timetable_never_needs_more_fuel() -> None:
    excursion = ls.load_excursion(SPRING)
    tight, loose = (
        find_economy(compute_timetable(excursion, TimetableRequest(recovery=share)).excursion).fuel
        for share in (0.05, 0.12)
    )
    assert loose < tight
