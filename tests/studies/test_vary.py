"""One or two inputs varied: each row is what the command of the same question gives, and laws hold along an input."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from locosim.constants import MPH
from locosim.engine.cutoff_table import cutoff_table
from locosim.engine.indicator_diagram import end_mean_pressure, indicator_diagram, labeled_stages
from locosim.engine.performance import compute_performance
from locosim.engine.speed_curve import curve_point
from locosim.errors import LocosimError
from locosim.loading import load_engine, load_excursion
from locosim.planning.answer import check_excursion
from locosim.report.json.vary import vary_json
from locosim.studies.engine_columns import AT_CUTOFF, ENGINE_COLUMNS, FROM_MAP
from locosim.studies.engine_figures import EngineConditions
from locosim.studies.vary import Variation, columns_of, vary

ROOT = Path(__file__).resolve().parents[2]
SPRING = str(ROOT / "scenarios" / "excursions" / "spring_special.toml")
TEASEL = str(ROOT / "scenarios" / "engines" / "teasel.toml")
MONKSHOOD = str(ROOT / "scenarios" / "engines" / "monkshood.toml")
TWINS = ROOT / "tests" / "scenario" / "data" / "engines"
AT_30 = EngineConditions(cutoff=0.3)


def values(found: Variation, name: str) -> list:
    names = [column.name for column in found.columns]
    return found.column_values(names.index(name))


def test_a_row_of_an_excursion_is_the_check_with_its_changes():
    found = vary(
        SPRING,
        ["train.vehicles[1].count=6,10", "rail=dry,wet"],
        columns=["verdict", "margin", "rule", "time", "water"],
        changes=["weather.headwind=4 m/s"],
    )
    assert [row.numbers for row in found.rows] == [(6.0, "dry"), (6.0, "wet"), (10.0, "dry"), (10.0, "wet")]
    for row in found.rows:
        excursion = load_excursion(SPRING, changes=["weather.headwind=4 m/s", *row.changes])
        answer = check_excursion(excursion, contingencies=False, remedies=False)
        first, journey = answer.findings[0], answer.journey
        time, water = (journey.duration, journey.water_used) if journey.arrived else (None, None)
        assert row.values == (answer.verdict, first.margin, first.rule, time, water)
        assert row.verdict == answer.verdict


def test_a_row_of_an_engine_is_what_its_commands_compute():
    names = ["indicated power", "drawbar pull", "limited by", "indicated power at cutoff", "evaporation"]
    cutoffs = [
        "steam per work",
        "back pressure",
        "tractive effort at cutoff",
        "steam over sustained",
        "release",
    ]
    found = vary(
        TEASEL,
        ["boiler.grate_area=30,36 ft^2", "speed=15,35 mph"],
        columns=[*names, *cutoffs],
        conditions=replace(AT_30, rail="wet"),
    )
    for row in found.rows:
        area, speed = row.numbers
        performance = compute_performance(load_engine(TEASEL, changes=[f"boiler.grate_area={area} ft^2"]))
        curve = curve_point(performance, speed * MPH, "wet")
        (point,) = cutoff_table(performance, speed=speed * MPH, cutoffs=(0.3,))
        assert row.values[:3] == (curve.indicated_power, curve.drawbar_pull, curve.limit)
        assert row.values[3] == pytest.approx(point.indicated_power, rel=1e-12)
        assert row.values[4] == performance.supply.sustained
        expected = (point.steam_per_work, point.back_pressure, point.rim_effort, point.steam_share)
        assert row.values[5:9] == pytest.approx(expected, rel=1e-12)
        assert point.events is not None
        assert row.values[9] == point.events.release


def test_mean_pressure_is_that_of_the_indicator_diagram():
    found = vary(TEASEL, ["cutoff=25,45 %"], columns=["mean pressure"])
    engine = load_engine(TEASEL)
    for row in found.rows:
        diagram = indicator_diagram(engine, speed=30 * MPH, cutoff=row.numbers[0] / 100)
        _, _, stage = next(iter(labeled_stages(diagram)))
        ends = [end_mean_pressure(stage, end) for end in ("front", "back")]
        assert min(ends) < row.values[0] < max(ends)
        assert row.values[0] == pytest.approx(sum(ends) / 2, rel=2e-3)


def test_no_longer_train_has_a_larger_margin_of_steam():
    found = vary(SPRING, ["train.vehicles[1].count=2:14:2", "rail=dry,moist"], columns=["margin:steam"])
    margins = [-1e9 if margin is None else margin for margin in values(found, "margin:steam")]
    for rail in (margins[0::2], margins[1::2]):
        assert len(rail) == 7
        assert all(longer <= shorter + 1e-9 for shorter, longer in pairwise(rail))
    assert len(set(margins)) > 6  # it does move


@pytest.mark.parametrize("engine", [TEASEL, MONKSHOOD])
def test_no_longer_cutoff_gives_less_mean_pressure(engine):
    """At speeds where the exhaust is not choked: at the highest ones a longer cutoff does give less."""
    found = vary(engine, ["speed=5:25:10 mph", "cutoff=20:80:5 %"], columns=["mean pressure"])
    pressures = values(found, "mean pressure")
    for start in range(0, len(pressures), 13):
        along = pressures[start : start + 13]
        assert None not in along
        assert all(longer > shorter for shorter, longer in pairwise(along))


def test_more_pressure_and_more_bore_raise_the_rated_effort_in_proportion():
    found = vary(
        MONKSHOOD,
        ["boiler.working_pressure_gauge=150,225 psi", "engine_units[*].cylinders[*].bore=20,25 in"],
        columns=["rated tractive effort"],
    )
    low, low_wide, high, high_wide = values(found, "rated tractive effort")
    assert high / low == pytest.approx(1.5)
    assert low_wide / low == pytest.approx(25**2 / 20**2)
    assert high_wide / high == pytest.approx(25**2 / 20**2)


def test_twins_in_us_units_and_in_si_agree():
    us = vary(TWINS / "mogul.toml", ["boiler.working_pressure_gauge=150:170:10 psi"], conditions=AT_30)
    si = vary(
        TWINS / "mogul_si.toml",
        ["boiler.working_pressure_gauge=1034.213594:1172.108740:68.947573 kPa"],
        conditions=AT_30,
    )
    assert len(us.rows) == len(si.rows) == 3
    for one, other in zip(us.rows, si.rows, strict=True):
        assert one.values == pytest.approx(other.values, rel=1e-6)


def test_units_of_an_input_do_not_change_a_check():
    in_mph = vary(SPRING, ["weather.headwind=5,10 mph"])
    in_si = vary(SPRING, ["weather.headwind=2.2352,4.4704 m/s"])
    for one, other in zip(in_mph.rows, in_si.rows, strict=True):
        assert one.values[::2] == other.values[::2]
        assert [v for v in one.values[1::2] if not isinstance(v, str)] == pytest.approx(
            [v for v in other.values[1::2] if not isinstance(v, str)], rel=1e-9
        )


def test_a_row_that_cannot_be_computed_keeps_its_problem_and_the_rest_goes_on():
    found = vary(SPRING, ["train.vehicles[1].count=0,6,400"])
    assert [bool(row.problem) for row in found.rows] == [True, False, True]
    assert "must be at least 1 and at most 300, found 0" in found.rows[0].problem
    assert found.rows[0].values == ()
    assert values(found, "verdict") == [None, "tight", None]
    engine = vary(TEASEL, ["cutoff=5,30,95 %"])
    assert [bool(row.problem) for row in engine.rows] == [True, False, True]
    files = vary(SPRING, ["locomotive=../engines/campion.toml,../engines/none.toml"])
    assert "no such file" in files.rows[1].problem


def test_another_engine_is_among_the_files_used():
    found = vary(SPRING, ["locomotive=../engines/campion.toml,../engines/teasel.toml"], columns=["verdict"])
    assert [Path(row.files[1].path).stem for row in found.rows] == ["campion", "teasel"]
    assert [row.engine for row in found.rows] == ["No. 14 Campion, 4-6-0", "No. 41 Teasel, 2-8-0"]
    source = json.loads(vary_json(found))["made_from"]
    assert source["locomotives"] == ["No. 14 Campion, 4-6-0", "No. 41 Teasel, 2-8-0"]
    assert sum("engines" in each["path"] for each in source["files"]) == 2


def test_one_process_and_two_give_the_same():
    inputs = ["train.vehicles[1].count=5:8,0"]
    assert vary_json(vary(SPRING, inputs, jobs=1)) == vary_json(vary(SPRING, inputs, jobs=2))
    laps = ["engine_units[*].valve_gear.lap=1:1 1/2:1/4 in"]
    one, two = (vary(TEASEL, laps, conditions=AT_30, jobs=jobs) for jobs in (1, 2))
    assert vary_json(one) == vary_json(two)


@pytest.mark.parametrize(
    ("file", "inputs", "options", "message"),
    [
        (
            SPRING,
            ["rail=dry,wet"],
            {"columns": ["verdicts"]},
            "'verdicts' is not a result; did you mean 'verdict'",
        ),
        (TEASEL, ["rail=dry,wet"], {"columns": ["verdict"]}, "column 'verdict' is not known for an engine"),
        (TEASEL, ["rail=dry,wet"], {"columns": ["mean pressure"]}, "'mean pressure' needs a cutoff"),
        (SPRING, ["rail=dry,wet"], {"conditions": EngineConditions()}, "is an excursion; speed, cutoff"),
        (
            SPRING,
            ["train.vehicles[1].count=1:200", "weather.headwind=0:30:0.5 mph"],
            {},
            "12,200 rows, at most 10,000",
        ),
    ],
)
def test_a_wrong_question_is_refused_before_anything_runs(file, inputs, options, message):
    with pytest.raises(LocosimError, match=message):
        vary(file, inputs, **options)


@pytest.mark.parametrize("method", ["cycle", "handbook"])
def test_every_column_of_an_engine_has_a_value_or_none(method):
    found = vary(
        TEASEL,
        ["speed=20,40 mph"],
        columns=list(ENGINE_COLUMNS),
        conditions=replace(AT_30, method=method),
    )
    assert not any(row.problem for row in found.rows)
    missing = {column.name for i, column in enumerate(found.columns) if found.column_values(i)[0] is None}
    if method == "cycle":
        assert not missing
    else:  # the handbook knows neither pressures nor temperatures inside the engine
        assert missing <= {"mean pressure", "steam temperature", "superheat", "draft required",
                           "steam condensed on walls", "lead", "port opening", "release", "compression"}  # fmt: skip


def test_columns_of_a_file_are_listed():
    assert {"verdict", "margin:steam", "late:STATION"} <= {name for name, _ in columns_of(SPRING)}
    names = [name for name, _ in columns_of(TEASEL)]
    assert names == list(ENGINE_COLUMNS)
    assert set(names) >= AT_CUTOFF
    assert all(meaning for _, meaning in columns_of(TEASEL))


def test_columns_that_need_no_map_compute_none(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("a map is computed")

    monkeypatch.setattr("locosim.studies.engine_figures.compute_performance", refuse)
    names = [name for name in ENGINE_COLUMNS if name not in FROM_MAP]
    found = vary(TEASEL, ["boiler.grate_area=30,33 ft^2"], columns=names, conditions=AT_30)
    assert not any(row.problem for row in found.rows)
    assert "a map is computed" in vary(TEASEL, ["speed=20,30 mph"], columns=["drawbar pull"]).rows[0].problem
