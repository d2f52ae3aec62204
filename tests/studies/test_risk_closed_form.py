"""Risk against closed form, through the real command: cases whose probabilities are known by arithmetic."""

from __future__ import annotations

import json
import math
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest
from typer.testing import CliRunner

from locosim.cli import app

ROOT = Path(__file__).resolve().parents[2]
ENGINE = ROOT / "scenarios" / "engines" / "campion.toml"
RUNNER = CliRunner()
NORMAL = NormalDist()
SAMPLES = 400

EXCURSION = """
name = "Closed form"
locomotive = "{engine}"
route = "route.toml"
method = "handbook"
rail = "{rail}"
[[stops]]
station = "A"
[[stops]]
station = "B"
[weather]
temperature = "15 degC"
[train]
name = "five cars"
[[train.vehicles]]
name = "car"
count = 5
empty_mass = "30 t"
load = "{load}"
length = "20 m"
bearing = "plain"
[criteria]
min_climbing_speed = "0 m/s"
[uncertainty]
usual = "no"
assumptions = "none"
"""
ROUTE = """
name = "short line"
speed_limit = "30 km/h"
{axle_load_limit}
[[profile]]
chainage = "0 km"
grade = "{grade}"
[[profile]]
chainage = "3 km"
elevation = "0 m"
[[stations]]
name = "A"
chainage = "1 km"
[[stations]]
name = "B"
chainage = "2 km"
"""


def risk(
    folder: Path,
    inputs: str,
    *,
    load: str = "10 t",
    rail: str = "dry",
    grade: str = "level",
    limit: str = "",
    samples: int = SAMPLES,
) -> dict[str, Any]:
    """JSON of the command for the train on the short line."""
    route = ROUTE.format(grade=grade, axle_load_limit=f'axle_load_limit = "{limit}"' if limit else "")
    (folder / "route.toml").write_text(route.replace('elevation = "0 m"\n', f'grade = "{grade}"\n'))
    text = EXCURSION.format(engine=ENGINE.as_posix(), rail=rail, load=load)
    (folder / "excursion.toml").write_text(text + inputs)
    arguments = ["risk", str(folder / "excursion.toml"), "--samples", str(samples), "--jobs", "1", "--json"]
    result = RUNNER.invoke(app, arguments)
    assert result.exit_code == 0, result.output + repr(result.exception)
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def finding(found: dict[str, Any], rule: str, place: str) -> dict[str, Any]:
    return next(each for each in found["findings"] if (each["rule"], each["place"]) == (rule, place))


# Load on one axle: (30 t + load) / 4; with a limit of 17.5 t it fails with more than 40 t of load.
@pytest.mark.parametrize(
    ("figures", "expected"),
    [
        ('distribution = "normal"\nmean = "35 t"\ndeviation = "3 t"', 1 - NORMAL.cdf((40 - 35) / 3)),
        ('mean = "0 t"\ndeviation = "3 t"\napplies_as = "difference"', 1 - NORMAL.cdf((40 - 35) / 3)),
        ('mean = 1\ndeviation = "10 %"\napplies_as = "factor"', 1 - NORMAL.cdf((40 - 35) / 3.5)),
        (
            'distribution = "lognormal"\nmedian = "34 t"\nspread = 0.1',
            1 - NORMAL.cdf(math.log(40 / 34) / 0.1),
        ),
        ('distribution = "triangular"\nlow = "20 t"\nlikely = "35 t"\nhigh = "44 t"', 4**2 / (24 * 9)),
        ('distribution = "uniform"\nlow = "30 t"\nhigh = "42 t"', 2 / 12),
        (
            'distribution = "outcomes"\n'
            'outcomes = [{value = "36 t", probability = 0.7}, {value = "44 t", probability = 0.3}]',
            0.3,
        ),
    ],
    ids=["normal", "difference", "factor", "lognormal", "triangular", "uniform", "outcomes"],
)
def test_an_axle_load_fails_as_often_as_its_distribution_says(
    tmp_path: Path, figures: str, expected: float
) -> None:
    inputs = f'[[uncertainty.inputs]]\nkey = "train.vehicles[1].load"\n{figures}\n'
    found = finding(risk(tmp_path, inputs, load="35 t", limit="17.5 t"), "axle load", "whole line")
    chance = found["probability"]
    # A Latin hypercube of one input has one sample in each slice: the count is the nearest whole number, or beside it.
    assert chance["count"] == pytest.approx(SAMPLES * expected, abs=1.0)
    assert chance["low"] < expected < chance["high"]


def test_a_start_fails_as_often_as_the_load_is_above_what_the_rail_starts(tmp_path: Path) -> None:
    # By hand, per kilogram of train: 16 lb a short ton [Henderson1907], the grade, and 0.02 m/s2 with turning parts of
    # 6 % of the empty mass. Engine with full tender: 62.4 t, 19.3 t, 17.5 m3 and 6.5 t.
    g, grade, acceleration = 9.80665, 0.002, 0.02
    each = 16 * 4.4482216 / 907.18474 + g * math.sin(math.atan(grade)) + acceleration
    engine, empty = 62_400.0 + 19_300.0 + 17_500.0 + 6_500.0, 5 * 30_000.0
    turning = 0.06 * (62_400.0 + 19_300.0 + empty) * acceleration
    available = 43_800.0 * g * 0.15  # a wet rail, [Koffman1948]
    most = ((available - turning) / each - engine - empty) / 5  # load of each car
    assert most > 0.0
    mean, deviation = 0.9 * most, 0.08 * most
    inputs = (
        '[[uncertainty.inputs]]\nkey = "train.vehicles[*].load"\n'
        f'mean = "{mean:.3f} kg"\ndeviation = "{deviation:.3f} kg"\n'
    )
    expected = 1 - NORMAL.cdf((most - mean) / deviation)
    chance = finding(risk(tmp_path, inputs, rail="wet", grade="0.2 %"), "start", "A")["probability"]
    assert expected == pytest.approx(0.1056, abs=1e-4)
    assert chance["count"] == pytest.approx(
        SAMPLES * expected, abs=1.5
    )  # the tender's water weighs 998 kg/m3 there
    assert chance["low"] < expected < chance["high"]


ADDITIVE = (
    '[[uncertainty.inputs]]\nkey = "train.vehicles[1].load"\nmean = "35 t"\ndeviation = "3 t"\n'
    '[[uncertainty.inputs]]\nkey = "train.vehicles[1].empty_mass"\nmean = "30 t"\ndeviation = "1.5 t"\n'
    '[[uncertainty.inputs]]\nkey = "weather.headwind"\nmean = "0 m/s"\ndeviation = "2 m/s"\n'
)


def test_shares_and_rank_correlations_of_a_sum_are_those_of_its_variances(tmp_path: Path) -> None:
    found = finding(risk(tmp_path, ADDITIVE, limit="17.5 t", samples=1000), "axle load", "whole line")
    whole = 3.0**2 + 1.5**2
    expected = 1 - NORMAL.cdf((70 - 65) / math.sqrt(whole))
    assert found["probability"]["low"] < expected < found["probability"]["high"]
    assert found["probability"]["estimate"] == pytest.approx(expected, abs=0.012)
    assert found["drivers_of"] == "margin"
    for driver, variance in zip(found["drivers"], (3.0**2, 1.5**2, 0.0), strict=True):
        low, high = driver["variance_share_interval"]
        assert low <= variance / whole <= high
        assert driver["variance_share"] == pytest.approx(variance / whole, abs=0.05)
        # Pearson's and Spearman's correlation of normal variables.
        rank = -6 / math.pi * math.asin(0.5 * math.sqrt(variance / whole))
        # Three standard errors, 1 / sqrt(n - 1), of a rank correlation of 0; larger ones scatter less.
        assert driver["rank_correlation"] == pytest.approx(rank, abs=3 / math.sqrt(999))


def test_correlated_inputs_fail_as_often_as_their_sum_says(tmp_path: Path) -> None:
    together = (
        ADDITIVE + '[[uncertainty.correlations]]\nfirst = "train.vehicles[1].load"\n'
        'second = "train.vehicles[1].empty_mass"\ncorrelation = 0.8\n'
    )
    found = finding(risk(tmp_path, together, limit="17.5 t", samples=1000), "axle load", "whole line")
    expected = 1 - NORMAL.cdf(5 / math.sqrt(3.0**2 + 1.5**2 + 2 * 0.8 * 3.0 * 1.5))
    assert found["probability"]["low"] < expected < found["probability"]["high"]
    assert found["probability"]["estimate"] == pytest.approx(expected, abs=0.012)


def test_cars_apart_scatter_less_than_cars_together(tmp_path: Path) -> None:
    # Five cars in one row have one load; the row of each car by itself is another vehicle.
    inputs = '[[uncertainty.inputs]]\nkey = "train.vehicles[*].load"\nmean = "35 t"\ndeviation = "3 t"\n'
    rows = '[[train.vehicles]]\nname = "last car"\nempty_mass = "30 t"\nload = "10 t"\nlength = "20 m"\n'
    together = risk(tmp_path, rows + inputs, limit="17.5 t")
    apart = risk(tmp_path, rows + inputs + 'items = "apart"\n', limit="17.5 t")
    above = 1 - NORMAL.cdf(5 / 3)
    of_together, of_apart = (
        finding(each, "axle load", "whole line")["probability"]["count"] for each in (together, apart)
    )
    assert len(together["inputs"]) == 1
    assert len(apart["inputs"]) == 2
    assert of_together == pytest.approx(SAMPLES * above, abs=1.0)
    assert of_apart == pytest.approx(
        SAMPLES * (1 - (1 - above) ** 2), abs=4.0
    )  # the heavier of both is above


def test_a_finding_that_never_fails_has_a_bound(tmp_path: Path) -> None:
    inputs = '[[uncertainty.inputs]]\nkey = "weather.headwind"\nmean = "0 m/s"\ndeviation = "2 m/s"\n'
    found = risk(tmp_path, inputs, limit="17.5 t", samples=200)
    chance = finding(found, "axle load", "whole line")["probability"]
    assert (chance["count"], chance["low"]) == (0, 0.0)
    assert chance["high"] == pytest.approx(1 - 0.05 ** (1 / 200), rel=1e-5)  # 1.5 %, the rule of three
