"""The tonnage rating of an engine: against the speed curve, adjusted tonnage, laws, a run, and the command."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
import trials
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.engine.performance import compute_excursion_performance
from locosim.engine.speed_curve import curve_point
from locosim.engine.tonnage_rating import RatingCar, rate_tonnage
from locosim.errors import LocosimError, OutOfRange
from locosim.journey.run import run_journey
from locosim.model import Vehicle
from locosim.physics.operation.tonnage import adjusted_tonnage

TEASEL = str(Path(__file__).parents[2] / "scenarios" / "engines" / "teasel.toml")
GRADES, SPEEDS = (0.0, 0.01, 0.02), (4.0, 8.0, 12.0)
RUNNER = CliRunner()


def rated(**changes: object) -> object:
    performance = trials.performance(trials.excursion(trials.line([(3000.0, 0.0)])))
    return rate_tonnage(performance, grades=GRADES, speeds=SPEEDS, **changes)  # type: ignore[arg-type]


def test_each_load_balances_the_pull_on_its_grade() -> None:
    rating = rated()
    performance, car = rating.performance, rating.car  # type: ignore[attr-defined]
    engine = performance.locomotive
    own = (
        engine.mass
        + engine.tender.empty_mass
        + 1000.0 * engine.tender.water_capacity
        + engine.tender.fuel_capacity
    )
    for each in rating.ratings:  # type: ignore[attr-defined]
        if each.loaded == 0.0:
            continue
        count = each.loaded / car.loaded_mass
        needed = count * (
            car.resistance(car.loaded_mass, each.speed) + car.loaded_mass * 9.80665 * each.grade
        )
        left = curve_point(performance, each.speed, "dry").drawbar_pull - own * 9.80665 * each.grade
        assert needed == pytest.approx(left, rel=1e-3)  # sine for tangent


def test_mixed_trains_at_the_adjusted_rating_need_the_pull_whatever_their_cars() -> None:
    """The law of [Davis1926] is a constant and a part in proportion to mass, so the method is exact for it."""
    rating = rated()
    car = rating.car  # type: ignore[attr-defined]
    for each in rating.ratings:  # type: ignore[attr-defined]
        if each.adjusted == 0.0:
            continue
        for mass in (car.empty_mass, 31e3, 48e3, car.loaded_mass):
            cars = each.adjusted / (mass + each.car_factor)
            assert adjusted_tonnage(mass=cars * mass, cars=cars, car_factor=each.car_factor) == pytest.approx(
                each.adjusted
            )
            needed = cars * (car.resistance(mass, each.speed) + mass * 9.80665 * each.grade)
            assert needed == pytest.approx(each.pull, rel=1e-3)


def test_steeper_faster_and_wetter_never_rates_higher() -> None:
    dry, wet = rated(), rated(rail="wet")
    for i in range(len(GRADES)):
        loads = [dry.at(i, k).loaded for k in range(len(SPEEDS))]  # type: ignore[attr-defined]
        assert loads == sorted(loads, reverse=True)
        for k in range(len(SPEEDS)):
            assert wet.at(i, k).loaded <= dry.at(i, k).loaded  # type: ignore[attr-defined]
            if i:
                assert dry.at(i, k).loaded < dry.at(i - 1, k).loaded  # type: ignore[attr-defined]
                assert dry.at(i, k).car_factor < dry.at(i - 1, k).car_factor  # type: ignore[attr-defined]


def test_a_train_of_the_rating_holds_the_speed_on_a_long_grade() -> None:
    """A run of its own, with a tender still nearly full: it settles at the speed of the rating."""
    line = trials.line([(2000.0, 0.0), (12_000.0, 0.01)], speed_limit=20.0)
    law = "davis_1926_freight"
    asked = trials.excursion(line)
    performance = compute_excursion_performance(asked)
    rating = rate_tonnage(performance, grades=(0.01,), speeds=(7.0,), car=RatingCar(law=law)).at(0, 0)
    car = RatingCar()
    cars = round(rating.loaded / car.loaded_mass)
    # The mass of whole cars is made that of the rating.
    each = rating.loaded / cars
    vehicle = Vehicle(
        name="car", count=cars, empty_mass=car.empty_mass, load=each - car.empty_mass, length=12.0,
        resistance_law=law, frontal_area=car.frontal_area, kind="freight_car",
    )  # fmt: skip
    journey = run_journey(replace(asked, train=trials.train(vehicle)), performance)
    assert journey.outcome == "arrived"
    assert float(journey.speed[journey.chainage < 13_000.0][-1]) == pytest.approx(7.0, rel=0.02)


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"rail": "muddy"}, "rail must be one of"),
        ({"car": RatingCar(law="davis")}, "law 'davis' is not known"),
        ({"car": RatingCar(loaded_mass=1e4)}, "loaded_mass must be above"),
    ],
)
def test_what_a_user_may_get_wrong(changes: dict[str, object], match: str) -> None:
    with pytest.raises(OutOfRange, match=match):
        rated(**changes)


def test_the_command_and_its_files(tmp_path: Path) -> None:
    table, picture = tmp_path / "rating.csv", tmp_path / "rating.png"
    result = RUNNER.invoke(
        app, ["rating", TEASEL, "--csv", str(table), "--plot", str(picture)], env={"COLUMNS": "61"}
    )
    assert result.exit_code == 0, result.output
    assert max(map(len, result.stdout.splitlines())) <= 60
    assert "do not approve an engine" in " ".join(result.stdout.split())
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert len(rows) == 42
    assert picture.read_bytes()[:4] == b"\x89PNG"
    found = json.loads(
        RUNNER.invoke(app, ["rating", TEASEL, "--json", "--grade", "1.2 %", "--speed", "12 mph"]).stdout
    )
    (row,) = found["rows"]
    assert row["grade"] == pytest.approx(0.012)
    library = ls.tonnage_rating(ls.load_engine(TEASEL), grades=["1.2 %"], speeds=["12 mph"])
    assert len(library.plot().axes[0].lines) == 1
    assert library.rows[0].speed == pytest.approx(row["speed_m_s"])


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        (("--grade", "steep"), "--grade"),
        (("--grade", "12 %"), "--grade: must be between"),
        (("--speed", "900 mph"), "--speed: must be above"),
        (("--speed", "12"), "--speed"),
        (("--loaded-car", "10 short_ton"), "--loaded-car: must be above"),
        (("--law", "davies"), "--law: 'davies' is not known"),
        (("--change", "boiler.grate=3 ft^2"), "grate"),
    ],
)
def test_what_a_user_of_the_command_may_get_wrong(arguments: tuple[str, ...], match: str) -> None:
    result = RUNNER.invoke(app, ["rating", TEASEL, *arguments])
    assert isinstance(result.exception, LocosimError), result.output
    assert match in str(result.exception)
