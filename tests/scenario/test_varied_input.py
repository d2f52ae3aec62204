"""Inputs that are varied: ranges and lists in the notation of the trade, and errors that say what to write."""

from __future__ import annotations

import math
import random
from pathlib import Path

import pytest

from locosim.errors import LocosimError, ScenarioError
from locosim.model import Excursion, Locomotive
from locosim.scenario.schema import keys_of
from locosim.scenario.varied_input import InputKind, read_varied_input
from locosim.scenario.varied_keys import read_varied_file
from locosim.studies.varied_rows import CONDITIONS
from locosim.units import si

DATA = Path(__file__).parent / "data"
MOGUL, MIXED = DATA / "engines" / "mogul.toml", DATA / "excursions" / "mixed.toml"
PRESSURE, LENGTH, CLOCK = (InputKind("measure", unit) for unit in ("Pa", "m", "clock"))
RATIO, GRADE, CURVE = (InputKind("measure", unit) for unit in ("", "grade", "curve"))
COUNT, RAIL = InputKind("integer"), InputKind("text", options=("dry", "wet", "frost"))


def read(text: str, kind: InputKind):
    return read_varied_input(text, lambda _: kind)


@pytest.mark.parametrize(
    ("text", "kind", "texts"),
    [
        ("p=180:200:10 psi", PRESSURE, ("180 psi", "190 psi", "200 psi")),
        ("p=180 psi:200 psi:10 psi", PRESSURE, ("180 psi", "190 psi", "200 psi")),
        ("p = 180 to 200 by 10 psi", PRESSURE, ("180 psi", "190 psi", "200 psi")),
        ("p=200:180:10 psi", PRESSURE, ("200 psi", "190 psi", "180 psi")),
        ("p=200:180:-10 psi", PRESSURE, ("200 psi", "190 psi", "180 psi")),
        ("p=180:205:10 psi", PRESSURE, ("180 psi", "190 psi", "200 psi")),
        ("p=12.5,13,14 bar", PRESSURE, ("12.5 bar", "13 bar", "14 bar")),
        ("p=12:13:0.5,15 bar", PRESSURE, ("12 bar", "12.5 bar", "13 bar", "15 bar")),
        ("p=0.1:0.3:0.1 bar", PRESSURE, ("0.1 bar", "0.2 bar", "0.3 bar")),
        ("lap=7/8:1 1/8:1/16 in", LENGTH, ("7/8 in", "15/16 in", "1 in", "1 1/16 in", "1 1/8 in")),
        ("d=5 ft 3 in,5 ft 9 in", LENGTH, ("5 ft 3 in", "5 ft 9 in")),
        ("n=4:12:4", COUNT, ("4", "8", "12")),
        ("n=4:6", COUNT, ("4", "5", "6")),
        ("rail=dry, frost", RAIL, ("dry", "frost")),
        ("g=1:2:0.5 %", GRADE, ("1 %", "1.5 %", "2 %")),
        ("g=1 in 80,1 in 100", GRADE, ("1 in 80", "1 in 100")),
        ("c=4:8:2 deg", CURVE, ("4 deg", "6 deg", "8 deg")),
        ("t=08:00 to 09:00 by 30 minute", CLOCK, ("08:00", "08:30", "09:00")),
        ("t=08:00,09:15", CLOCK, ("08:00", "09:15")),
        ("x=0.2:0.4:0.1", RATIO, ("0.2", "0.3", "0.4")),
        ("w=\N{MINUS SIGN}5:5:5 mph", InputKind("measure", "m/s"), ("-5 mph", "0 mph", "5 mph")),
        ("T=-10:40:25 degF", InputKind("measure", "K"), ("-10 degF", "15 degF", "40 degF")),
    ],
)
def test_ranges_and_lists_are_read_as_the_values_a_user_would_write(text, kind, texts):
    found = read(text, kind)
    assert found.texts == texts
    path = text.partition("=")[0].strip()
    assert found.changes == tuple(f"{path}={each}" for each in texts)
    if kind.kind == "measure":
        assert found.values == tuple(si(each, kind.unit) for each in texts)


def test_numbers_for_an_axis_are_in_the_unit_of_the_user():
    assert (read("p=180:200:10 psi", PRESSURE).unit, read("p=180:200:10 psi", PRESSURE).numbers) == (
        "psi", (180.0, 190.0, 200.0)
    )  # fmt: skip
    assert read("p=180 psi,12 bar", PRESSURE).unit == "Pa"  # no one unit
    assert read("g=1 in 80,1 in 100", GRADE).numbers == pytest.approx((1.25, 1.0))
    assert read("t=08:30,09:00", CLOCK).numbers == (8.5, 9.0)
    assert read("rail=dry,wet", RAIL).numbers is None


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("rail", RAIL, "write key=values, for example"),
        ("=dry", RAIL, "write key=values"),
        ("rail=", RAIL, "has no values after ="),
        ("rail=dry,,wet", RAIL, "nothing between two commas"),
        ("rail=dry,dry", RAIL, "'dry' twice"),
        ("rail=dry,weg", RAIL, "found 'weg' for rail; did you mean 'wet'"),
        ("p=180:220 psi", PRESSURE, 'has no step; write "p=180:220:STEP psi"'),
        ("p=180:220:0 psi", PRESSURE, "a step of 0"),
        ("p=180:220:-10 psi", PRESSURE, "rises with a step below 0"),
        ("p=180:220:10:5 psi", PRESSURE, "a range is its first and last value and its step"),
        ("p=180::10 psi", PRESSURE, "a range is its first and last value and its step"),
        ("p=180:220:10", PRESSURE, "a number without a unit; a pressure is expected"),
        ("p=180:220:10 in", PRESSURE, "is a length; a pressure is expected"),
        ("p=180 psi:14 bar:1 psi", PRESSURE, "write all of a range in one unit"),
        ("d=5 ft 3 in:5 ft 9 in:1 in", LENGTH, "write all of a range in one unit"),
        ("p=1:1e9:1 psi", PRESSURE, "1000000000 values, at most 1000"),
        ("p=1:1e99999999:1 psi", PRESSURE, "too many digits"),
        ("p=1/0:2:1 psi", PRESSURE, "'1/0' is not a number"),
        ("n=4,6.5", COUNT, "n is a whole number, found '6.5'"),
        ("n=4:6:0.5", COUNT, "n is a whole number"),
        ("n=4:6 cars", COUNT, "has '6 cars', where a number is expected"),
        ("t=08:00:10:00", CLOCK, "write a range of times as .*08:00 to 10:00 by 30 minute"),
        ("t=08:00 to 10:00", CLOCK, "has no step; write .*08:00 to 10:00 by 30 minute"),
    ],
)
def test_a_wrong_input_is_named_with_what_to_write(text, kind, message):
    with pytest.raises(LocosimError, match=message) as caught:
        read(text, kind)
    assert str(caught.value).startswith("input ")


def varied(file: Path, *inputs: str, changes: tuple[str, ...] = ()):
    return read_varied_file(file, inputs, changes=changes, conditions=CONDITIONS)


def test_keys_of_a_file_of_files_it_names_and_assumptions_can_be_varied():
    assert varied(MIXED, "train.vehicles[*].count=4:6").model is Excursion
    assert varied(MIXED, "locomotive.boiler.grate_area=20:24:2 ft^2", "rail=dry,wet").inputs[1].texts == (
        "dry",
        "wet",
    )
    assert varied(MIXED, "assumptions.air_lag=20:40:10 s").inputs[0].unit == "s"
    assert (
        varied(MIXED, "locomotive=../engines/mogul.toml,../engines/mogul_si.toml").inputs[0].numbers is None
    )
    assert (
        varied(MOGUL, "engine_units[*].driver_diameter=50:54:2 in", "speed=10:30:10 mph").model is Locomotive
    )
    assert varied(MOGUL, "assumptions.air_lag=20:40:10 s").inputs[0].values == (20.0, 30.0, 40.0)


@pytest.mark.parametrize(
    ("file", "inputs", "message"),
    [
        (MIXED, ("rial=dry,wet",), "unknown key 'rial' in .*did you mean 'rail'"),
        (MIXED, ("train.vehicles[9].count=1:2",), r"'vehicles' has 2 items, found \[9\]"),
        (MIXED, ("weather=1,2",), "'weather' is not a single value"),
        (MIXED, ("rail=dry,wet", "rail=frost"), "rail is varied twice"),
        (MIXED, (), "found 0 inputs; vary one or two"),
        (MIXED, ("rail=dry", "initial_water=50,60 %", "initial_fuel=50,60 %"), "found 3 inputs"),
        (MIXED, ("speed=20:30:10 mph",), "unknown key 'speed'"),
        (MOGUL, ("sped=20:30:10 mph",), "conditions that are no keys of the file are speed, cutoff"),
        (MOGUL, ("assumptions.air_lug=20:30:10 s",), "unknown assumption 'air_lug'; did you mean 'air_lag'"),
        (MOGUL, ("references=a,b",), "a list of texts, which cannot be varied"),
    ],
)
def test_a_key_that_cannot_be_varied_is_found_before_anything_runs(file, inputs, message):
    with pytest.raises(LocosimError, match=message):
        varied(file, *inputs)


def test_a_wrong_file_or_change_is_reported_as_by_every_command():
    train = DATA.parents[2] / "scenarios" / "trains" / "wooden_six.toml"
    with pytest.raises(ScenarioError, match="looks like a train, but an excursion or an engine is expected"):
        varied(train, "rail=dry,wet")
    with pytest.raises(ScenarioError, match="no such file"):
        varied(DATA / "none.toml", "rail=dry,wet")
    with pytest.raises(ScenarioError, match="unknown key 'rial'"):
        varied(MIXED, "rail=dry,wet", changes=("rial=wet",))


def test_conditions_do_not_hide_a_key_of_an_engine_file():
    assert not set(CONDITIONS) & set(keys_of(Locomotive))


def test_no_text_ends_in_anything_but_values_or_a_message():
    draw = random.Random(5)
    parts = [
        "1",
        "180",
        "0.5",
        "1/2",
        "1 1/8",
        "-3",
        "1e3",
        "9" * 25,
        " ",
        ":",
        ",",
        "psi",
        "in",
        "%",
        "degF",
        "to",
    ]
    parts += ["by", "1 in 80", "08:30", "minute", "=", "nan", "²", "'", "/", "−", "\0", "٣", "½", "wet"]
    read_well = 0
    for _ in range(4000):
        text = "k=" + "".join(draw.choice(parts) for _ in range(draw.randint(1, 9)))
        kind = draw.choice((PRESSURE, LENGTH, CLOCK, RATIO, GRADE, CURVE, COUNT, RAIL))
        try:
            found = read(text, kind)
        except LocosimError:
            continue
        assert len(found.texts) == len(found.values) > 0
        assert all(isinstance(value, str) or math.isfinite(value) for value in found.values)
        read_well += 1
    assert read_well > 30
