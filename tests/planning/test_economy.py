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
HARVEST = "../planners_day/with_helper.toml"  # the harvest excursion does not arrive by itself
WINTER = "winter_freight.toml"
BEFORE_IT_RUNS = {WINTER: ("initial_water=100 %", "crew.max_speed=45 mph")}  # out of water as it is


@cache
def found(name: str) -> Economy:
    return find_economy(ls.load_excursion(SCENARIOS / f"{name}.toml"))


@cache
def found_for(name: str | int, recovery: float, *, sharing: str = "least_fuel") -> Economy:
    """Economy of an excursion by name, or of a random plan by its seed, booked with a recovery."""
    random = isinstance(name, int)
    excursion = (
        plan(name) if random else ls.load_excursion(SCENARIOS / name, changes=BEFORE_IT_RUNS.get(name, ()))
    )
    request = TimetableRequest(recovery=recovery, step=30.0 if random else 60.0, sharing=sharing)
    return find_economy(compute_timetable(excursion, request).excursion)


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
    economy = found_for(seed, 0.08)
    booked = economy.excursion
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


def test_a_section_that_no_plan_betters_keeps_the_everyday_driving() -> None:
    request = TimetableRequest(recovery=0.01, step=30.0)
    economy = find_economy(compute_timetable(plan(64), request).excursion)
    check_economy(economy)
    kept = economy.sections[0]
    assert [section.planned for section in economy.sections] == [False, True, True]
    assert kept.fuel == pytest.approx(kept.everyday_fuel, rel=2e-3)
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
    journey = found_for(seed, 0.3).journey
    booked = journey.excursion
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
    economy = found_for("spring_special.toml", 0.0)
    check_economy(economy)
    assert economy.saving < found("spring_special").saving + 0.01


@pytest.mark.parametrize(
    ("name", "tight", "loose"),
    [
        *((seed, 0.08, 0.3) for seed in range(PLANS)),
        ("spring_special.toml", 0.0, 0.1),
        ("summit_express.toml", 0.05, 0.12),
        (HARVEST, 0.05, 0.12),
        (WINTER, 0.05, 0.12),
    ],
)
def test_more_recovery_never_costs_more_fuel(name: str | int, tight: float, loose: float) -> None:
    assert found_for(name, loose).fuel <= found_for(name, tight).fuel


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


@pytest.fixture
def found_already(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search is run once for all tests of the output."""
    monkeypatch.setattr("locosim.planning.economy.find_economy", lambda _: found("spring_special"))


def output(*arguments: str, columns: str = "101") -> str:
    result = RUNNER.invoke(app, ["economy", SPRING, *arguments], env={"COLUMNS": columns})
    assert result.exit_code == 0, result.output + repr(result.exception)
    return result.stdout


@pytest.mark.usefixtures("found_already")
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
