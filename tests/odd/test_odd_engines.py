"""Engines far from the standard gauge and lines far from the sea: read, run, and told where no law was published."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import locosim as ls
from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.front_end import front_end, nozzle_area
from locosim.engine.own_resistance import engine_resistance_coefficients
from locosim.engine.speed_curve import usual_speeds
from locosim.engine.tonnage_rating import USUAL_SPEEDS
from locosim.errors import OutOfRange
from locosim.journey.logged_run import USED, lay_log
from locosim.journey.setup.prepare import prepare
from locosim.journey.setup.weather import air_density_ratio
from locosim.loading import load_day, load_engine, load_excursion
from locosim.model import Crew, CustomResistance, Excursion, Tender
from locosim.model.day import Leg
from locosim.model.road_log import RoadLog
from locosim.physics.resistance.air import standard_pressure_ratio
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.day import DayAnswer, check_day
from locosim.planning.day_findings import tender_first
from locosim.planning.finding import NOTE
from locosim.planning.helper_plan import plan_helper
from locosim.planning.load import LoadQuestion, find_load
from locosim.planning.water_stops import car_like_tender, plan_water_stops
from locosim.rendering import check_page
from locosim.report.text.batch import batch_text
from locosim.report.text.check import check_text
from locosim.report.text.day import day_text
from locosim.report.text.fit import _spread
from locosim.report.text.helper_plan import helper_plan_text
from locosim.report.text.load import load_text
from locosim.report.text.run import run_text
from locosim.report.text.water_stops import water_stops_text
from locosim.studies.batch import run_batch
from locosim.studies.batch_rows import Grid
from locosim.studies.log_fit import ComparedReadings
from locosim.units import unit_system
from tests.fuzz.judge import Bench

DATA = Path(__file__).parent / "data"


def checked(excursion: Excursion) -> Answer:
    return check_excursion(excursion, contingencies=False, remedies=False, bands=False)


@pytest.fixture(scope="module")
def garden() -> Answer:
    return checked(load_excursion(DATA / "garden.toml"))


@pytest.fixture(scope="module")
def pass_in_july() -> Answer:
    return checked(load_excursion(DATA / "high_line.toml"))


@pytest.mark.parametrize("name", ["garden", "pass_in_july"])
def test_an_odd_engine_runs_and_its_figures_are_finite(name: str, request: pytest.FixtureRequest) -> None:
    journey = request.getfixturevalue(name).journey
    assert journey.arrived
    for values in (journey.speed, journey.pressure, journey.tender_water, journey.tender_fuel):
        assert np.all(np.isfinite(values))


@pytest.mark.parametrize("name", ["garden", "pass_in_july"])
def test_each_law_outside_its_range_is_named_once(name: str, request: pytest.FixtureRequest) -> None:
    notes = [f for f in request.getfixturevalue(name).findings if f.rule == "data range"]
    assert notes
    assert {note.verdict for note in notes} == {NOTE}
    reasons = [note.because for note in notes]
    assert len(reasons) == len(set(reasons))
    assert any("davis_1926_locomotive was not published for this axle load" in each for each in reasons)


def test_two_cars_outside_the_range_of_one_law_give_the_farthest(pass_in_july: Answer) -> None:
    excursion = pass_in_july.excursion
    car = excursion.train.vehicles[0]
    lighter = replace(car, name="lighter car", empty_mass=0.5 * car.empty_mass)
    found = checked(replace(excursion, train=replace(excursion.train, vehicles=(car, lighter)))).findings
    assert [f.place for f in found if f.rule == "data range" and "passenger" in f.because] == ["lighter car"]


def test_a_tank_engine_has_no_tender_in_its_file_or_its_answer(pass_in_july: Answer) -> None:
    tender = pass_in_july.excursion.locomotive.tender
    assert (tender.empty_mass, tender.axles, tender.length) == (0.0, 0, 0.0)
    assert "behind the engine" in check_text(pass_in_july)
    assert "tender" not in check_text(pass_in_july)


def test_an_engine_with_a_tender_says_so(garden: Answer) -> None:
    assert "behind the tender" in check_text(garden)


@pytest.mark.parametrize(("given", "missing"), [({"axles": 4}, "empty_mass"), ({"empty_mass": 2e4}, "axles")])
def test_half_a_tender_is_refused(given: dict[str, float], missing: str) -> None:
    with pytest.raises(OutOfRange, match=rf"Tender\.{missing} missing"):
        Tender(water_capacity=1.0, fuel_capacity=100.0, **given)  # type: ignore[arg-type]


def test_the_air_gets_thinner_with_altitude_and_warmth(pass_in_july: Answer) -> None:
    excursion = pass_in_july.excursion
    # The gas law by itself: at one pressure density is as the inverse of the absolute temperature.
    at_sea = replace(excursion, route=replace(excursion.route, altitude=0.0))
    assert air_density_ratio(at_sea) == pytest.approx(288.15 / 259.15)
    ratios = [standard_pressure_ratio(altitude=h) for h in (-400.0, 0.0, 500.0, 3600.0)]
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[1] == 1.0
    # Weight of the air between two heights, its mean density by the gas law: within the curvature of 10 m.
    drop = 101325.0 * (standard_pressure_ratio(altitude=995.0) - standard_pressure_ratio(altitude=1005.0))
    density = 101325.0 * standard_pressure_ratio(altitude=1000.0) / (287.053 * (288.15 - 6.5))
    assert drop == pytest.approx(9.80665 * density * 10.0, rel=1e-5)


def test_a_high_line_has_less_wind_and_no_other_change(pass_in_july: Answer) -> None:
    excursion = pass_in_july.excursion
    at_sea = checked(replace(excursion, route=replace(excursion.route, altitude=0.0)))
    high, low = pass_in_july.journey, at_sea.journey
    assert high.tender_water[-1] > low.tender_water[-1]
    assert high.performance.supply.sustained == low.performance.supply.sustained


def test_a_fire_short_of_draft_in_thin_air_is_a_note(pass_in_july: Answer) -> None:
    excursion = pass_in_july.excursion
    assert not [f for f in pass_in_july.findings if f.rule == "thin air"]
    engine, performance = excursion.locomotive, pass_in_july.journey.performance
    required = front_end(engine, performance.supply, performance.assumptions).required_ratio
    passages = replace(
        engine.steam_passages, nozzle_area=nozzle_area(engine), draft_to_back_pressure_ratio=1.2 * required
    )
    near = replace(excursion, locomotive=replace(engine, steam_passages=passages))
    # At 3,600 m the gas has 1.57 times the volume of sea level, at 1,000 m 1.13 times.
    (found,) = [f for f in checked(near).findings if f.rule == "thin air"]
    assert found.verdict == NOTE
    assert found.value == pytest.approx(1.57 * required, rel=0.01)
    lower = replace(near, route=replace(near.route, altitude=1000.0))
    assert not [f for f in checked(lower).findings if f.rule == "thin air"]


def test_bundled_engines_are_not_outside_any_law() -> None:
    scenarios = Path(__file__).resolve().parents[2] / "scenarios" / "excursions"
    answer = checked(load_excursion(scenarios / "spring_special.toml"))
    assert not [f for f in answer.findings if f.rule in ("data range", "thin air")]


def test_a_measured_resistance_of_the_carrying_axles_replaces_the_law_and_its_note(
    pass_in_july: Answer,
) -> None:
    engine = pass_in_july.excursion.locomotive
    measured = replace(engine, carrying_resistance=CustomResistance(a=0.03))
    carried = engine.mass - engine.mass_on_drivers + 600.0
    a, b, c = engine_resistance_coefficients(measured, 600.0)
    assert (a, b) == pytest.approx((0.03 * carried, 0.0))
    assert c == pytest.approx(engine_resistance_coefficients(engine, 600.0)[2])  # the air
    (said,) = [f.because for f in pass_in_july.findings if f.place == engine.name]
    assert 'carrying_resistance.a = "{example}"' in said
    found = checked(replace(pass_in_july.excursion, locomotive=measured)).findings
    assert not [f for f in found if f.place == engine.name]


@pytest.mark.parametrize(
    ("system", "example"),
    [("us", "4.00 lbf/short ton"), ("metric", "19.6 N/t"), ("british", "4.48 lbf/long ton")],
)
def test_the_keys_that_a_note_names_can_be_written_in_the_units_of_the_reader(
    system: str, example: str, pass_in_july: Answer
) -> None:
    with unit_system(system):
        text = " ".join(check_text(pass_in_july).split())
    assert f'carrying_resistance.a = "{example}"' in text
    engine = load_excursion(
        DATA / "garden.toml", changes=[f"locomotive.carrying_resistance.a={example}"]
    ).locomotive
    assert engine.carrying_resistance is not None
    assert engine.carrying_resistance.a == pytest.approx(4.0 * 4.448222 / 907.18474, rel=2e-3)


def test_the_fuel_of_a_small_engine_is_not_rounded_to_nothing(garden: Answer) -> None:
    assert re.search(r"[1-9][0-9.]* lb of coal", check_text(garden))


# Answers of the other commands, as texts: what an engineer of such a line would not write.


def load_texts(answer: Answer, **changes: object) -> str:
    rating = find_load(replace(answer.excursion, **changes), LoadQuestion(conditions=False))
    return " ".join(load_text(rating).split())


def test_the_proof_of_a_load_does_not_count_notes_among_margins(garden: Answer) -> None:
    assert "least margin +7% (adhesion" in load_texts(garden)


def test_where_no_load_is_clear_an_engine_without_brakes_is_not_the_reason(garden: Answer) -> None:
    """This engine has no brake, so it does not stop without its cars; what no load is clear for is another rule."""
    excursion = garden.excursion
    assert excursion.locomotive.braking_ratio == 0.0
    cold = load_texts(garden, weather=replace(excursion.weather, temperature=263.15))
    assert "No load is clear: with 1 x riding car the check is still TIGHT, crown sheet" in cold
    assert "stopping distance" not in cold


def test_a_line_slower_than_the_least_climbing_speed_is_judged_at_half_of_what_it_permits(
    garden: Answer,
) -> None:
    excursion = garden.excursion
    assert excursion.min_climbing_speed == pytest.approx(0.5 * 9 / 3.6)
    assert replace(excursion, crew=Crew(max_speed=2.0)).min_climbing_speed == 1.0
    assert "keeps 2.8 mph on every grade" in load_texts(garden)
    faster = replace(excursion, route=replace(excursion.route, speed_limit=4.48))
    assert faster.min_climbing_speed == 0.5 * excursion.locomotive.max_speed  # 12 km/h is no more either
    unlimited = replace(faster, locomotive=replace(excursion.locomotive, max_speed=None))
    assert unlimited.min_climbing_speed == excursion.criteria.min_climbing_speed


def test_a_train_on_a_slow_line_is_eased_to_its_booked_time(garden: Answer) -> None:
    """The least climbing speed, of 10 mph where nothing else is said, is above what this line permits."""
    (car,) = garden.excursion.train.vehicles
    light = replace(
        garden.excursion, train=replace(garden.excursion.train, vehicles=(replace(car, count=1),))
    )
    assert checked(light).journey.stops[-1].arrive == pytest.approx(light.stops[-1].arrive, abs=5.0)


def test_help_that_would_raise_a_margin_is_not_denied(garden: Answer) -> None:
    """The check of this plan has a helper among its remedies."""
    text = " ".join(helper_plan_text(plan_helper(garden.excursion)).split())
    assert "NO HELP NEEDED" in text
    assert "Tight, with a margin that help would raise: adhesion" in text
    assert "not for want of pull: adhesion" not in text


def test_the_water_car_of_a_small_engine_is_as_small(garden: Answer, pass_in_july: Answer) -> None:
    car = car_like_tender(garden.excursion)
    tender = garden.excursion.locomotive.tender
    assert (car.empty_mass, car.length, car.water) == (
        tender.empty_mass,
        tender.length,
        tender.water_capacity,
    )
    assert car.custom_resistance == garden.excursion.train.vehicles[0].custom_resistance
    tank = car_like_tender(pass_in_july.excursion)  # no tender to go by
    assert tank.empty_mass == pytest.approx(1000.0 * pass_in_july.excursion.locomotive.tender.water_capacity)


@pytest.fixture(scope="module")
def garden_day(tmp_path_factory: pytest.TempPathFactory) -> DayAnswer:
    railway = Bench(tmp_path_factory.mktemp("day") / "railway").folder
    return check_day(load_day(railway / "odd" / "day.toml"))


def test_little_water_and_fuel_are_shown_in_small_units(garden: Answer) -> None:
    with unit_system("metric"):
        run, check = run_text(garden.journey), check_text(garden, everything=True)
    used = rf"{garden.journey.water_used:.1f} L of water, {garden.journey.fuel_fired:.2f} kg of coal"
    assert used in run
    assert used in " ".join(check.split())
    assert re.search(r"\n +km +arrive +leave +L +kg\n", run.replace("station", "       "))
    assert "0.00 m³" not in run + check
    assert re.search(r"axle load +whole line +140 kg +≤ 250 kg", check)
    assert re.search(r"adhesion, .*: 1,0\d\d N, at least 9\d\d N needed", check)
    assert re.search(r"data range, Wren, 0-6-0: 125 kg, at least 4,536 kg needed", check)
    assert "is assumed" in run
    assert "2.15 cm², a usual share" in run


def test_a_day_of_a_small_engine_is_shown_in_small_units(garden_day: DayAnswer) -> None:
    with unit_system("metric"):
        text = day_text(garden_day)
    assert "The turntable is 2.00 m long; the engine needs 2.35 m" in " ".join(text.split())
    assert re.search(r"Wren, 0-6-0 +fuel kg +30\.00 +0\.[1-9]", text)
    assert re.search(r"Wren, 0-6-0 +water L +90\.0 ", text)
    assert not re.search(r"\b0\.0+ (t|m³)", text)


def test_a_tank_engine_runs_bunker_first(pass_in_july: Answer) -> None:
    backward = replace(pass_in_july.excursion, engine_facing="tender_first")
    assert backward.facing == "bunker first"
    (found,) = tender_first(Leg(excursion=backward), pass_in_july)
    assert found.rule == "bunker first"
    assert "the lookout past the bunker" in found.because
    assert "tender first" not in found.because
    with_tender = replace(load_excursion(DATA / "garden.toml"), engine_facing="tender_first")
    assert with_tender.facing == "tender first"


def test_tables_of_several_checks_are_shown_in_small_units(tmp_path: Path) -> None:
    garden = Bench(tmp_path / "railway").folder / "odd" / "garden.toml"
    with unit_system("metric"):
        varied = ls.vary(garden, "train.vehicles[1].count=1:2").text("metric")
        batch = batch_text(run_batch(Grid(excursions=(str(garden),)), name="grid", jobs=1))
    assert re.search(r"\[L\] +\[kg\]", varied)
    assert re.search(r"tight +\+9% .* 2\.3 +0\.19\n", varied)
    assert re.search(r" L +kg\n", batch)
    assert re.search(r"tight +\+9% .* 2\.3 +0\.19\n", batch)


@pytest.mark.parametrize(("name", "noted"), [("garden", True), ("pass_in_july", False)])
def test_a_log_of_a_line_slower_than_breaking_away_is_used(
    name: str, noted: bool, request: pytest.FixtureRequest
) -> None:
    """The garden line permits 5.6 mph, and starting resistance counts up to 6 mph."""
    journey = request.getfixturevalue(name).journey
    rows = slice(0, -1, 4)
    blank = np.full(len(journey.time[rows]), np.nan)
    log = RoadLog(
        name="made",
        time=journey.time[rows],
        place=journey.chainage[rows],
        speed=journey.speed[rows],
        throttle=np.ones(len(blank)),
        cutoff=np.append(journey.cutoff, journey.cutoff[-1])[rows],
        pressure=journey.pressure[rows] - ATMOSPHERE,
        braking=np.zeros(len(blank), dtype=bool),
        tender_water=blank,
        fuel_fired=blank,
    )
    laid = lay_log(log, prepare(journey.excursion, journey.performance, transient_boiler=True))
    assert laid.times_by_state()[USED] > 300.0
    assert any("half of it" in note for note in laid.notes) == noted


def test_small_masses_are_not_rounded_to_nothing(garden: Answer) -> None:
    for text in (check_text(garden, everything=True), run_text(garden.journey)):
        assert not re.search(r"\b0\.0 short ton", text)
    assert re.search(r"fuel +Orchard +6\d lb +≥ 10 lb", check_text(garden, everything=True))


@pytest.mark.parametrize(("name", "step"), [("wren", "1.0"), ("bracken", "2.0")])
def test_an_engine_is_rated_at_speeds_it_is_permitted(name: str, step: str) -> None:
    engine = load_engine(DATA / f"{name}.toml")
    rating = ls.tonnage_rating(engine, method="handbook", grades=["1 %"])
    speeds = [each.speed for each in rating.rows]
    assert len(speeds) >= 3
    assert engine.max_speed is not None
    assert max(speeds) <= engine.max_speed
    curve = ls.speed_curve(engine, method="handbook")
    assert f"\n  {step} " in curve.text("us")
    assert ("The engine is too small for such cars" in " ".join(rating.text().split())) == (name == "wren")
    for text in (curve.text(), rating.text()):
        assert ("behind a full tender" in text) == (name == "wren")


def test_two_engines_are_compared_at_a_speed_both_are_permitted() -> None:
    wren, bracken = (load_engine(DATA / f"{name}.toml") for name in ("wren", "bracken"))
    assert ls.compare(wren, bracken, method="handbook").content.speed == pytest.approx(12 / 3.6)


def test_usual_speeds_are_those_of_a_full_size_engine() -> None:
    assert (
        usual_speeds(USUAL_SPEEDS, load_engine(DATA / "wren.toml", changes=["max_speed=60 mph"]))
        == USUAL_SPEEDS
    )


def test_a_page_is_written_for_an_engine_slower_than_the_step_of_its_picture(
    garden: Answer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its pictures are computed and not drawn, which takes most of the time."""
    monkeypatch.setattr("locosim.plot.engine.plot_curve", lambda curve: curve)
    monkeypatch.setattr("locosim.plot.run.plot_check", lambda _: None)
    monkeypatch.setattr("locosim.plot.run.run_span", lambda *_: (0.0, 1.0))
    monkeypatch.setattr("locosim.plot.figure.figure_bytes", lambda *_: b"<svg></svg>")
    slow = replace(garden.excursion.locomotive, max_speed=0.6)
    page = check_page(checked(replace(garden.excursion, locomotive=slow)))
    assert page.rstrip().endswith("</html>")


def test_a_tank_engine_has_no_tender_in_the_answer_about_water(pass_in_july: Answer) -> None:
    text = water_stops_text(plan_water_stops(pass_in_july.excursion))
    assert "like the tanks" in text
    assert "tender" not in text


@pytest.mark.parametrize(
    ("kind", "spread", "shown"),
    [("water", 0.3, "0.3 L"), ("water", 48.0, "0.05 m³"), ("fuel", 0.06, "0.06 kg"), ("fuel", 12.0, "12 kg")],
)
def test_the_spread_of_a_small_log_is_not_rounded_to_nothing(kind: str, spread: float, shown: str) -> None:
    none, first = np.zeros(1), np.zeros(1, dtype=int)
    compared = ComparedReadings(
        kind=kind,
        row=first,
        group=first,
        time=none,
        distance=none,
        logged=none,
        model=none,
        spread=spread,
        spread_before=spread,
        correlation_time=0.0,
        left_over=0.0,
    )
    with unit_system("metric"):
        assert _spread(compared, spread) == shown
