"""Units at the boundary: what is read, what is refused with which message, and what is shown."""

from __future__ import annotations

import contextlib
import math
import os
import re
import subprocess
import sys
from pathlib import Path

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locosim import units
from locosim.errors import UnitError
from locosim.units.format import DISPLAYS
from locosim.units.vocabulary import AMBIGUOUS_UNITS, KINDS_BY_UNIT, UNITS

PINT = pint.UnitRegistry()

# Unit words that pint knows by another name, with that name.
AS_PINT_WRITES = {
    "%": "percent",
    "‰": "permille",
    "rev": "dimensionless",
    "revolution": "dimensionless",
    "revolutions": "dimensionless",
    "rpm": "1/minute",  # pint counts a revolution as 2 pi radian
    "ch": "chain",
    "m2": "m^2",
    "ft2": "ft^2",
    "in2": "in^2",
    "m3": "m^3",
    "ft3": "ft^3",
    **dict.fromkeys(("us_gallon", "us_gallons", "US_gallon", "us_gal"), "gallon"),
    **dict.fromkeys(
        ("imperial_gallons", "uk_gallon", "imp_gallon", "imp_gal"),
        "imperial_gallon",
    ),
    **dict.fromkeys(("long_cwt",), "long_hundredweight"),
    **dict.fromkeys(("short_cwt",), "short_hundredweight"),
    **dict.fromkeys(("short_tonf", "short_ton_force"), "short_ton*g_0"),
    **dict.fromkeys(("long_tonf", "long_ton_force"), "long_ton*g_0"),
    "tonne_force": "tonne*g_0",
    "kp": "kgf",
    "secs": "second",
    "mins": "minute",
    "hrs": "hour",
    "kmh": "km/hour",
    "btu": "Btu",
    "°C": "delta_degC",
    "degC": "delta_degC",
    "celsius": "delta_degC",
    "°F": "delta_degF",
    "degF": "delta_degF",
    "fahrenheit": "delta_degF",
    "inH2O": "foot_H2O*inch/foot",  # pint 0.24 has no word for it
    "mmH2O": "foot_H2O*mm/foot",
}
BASE = ("meter", "kilogram", "second", "kelvin")


@pytest.mark.parametrize("word", UNITS)
def test_every_word_of_the_table_agrees_with_pint(word):
    factor, dimension = UNITS[word]
    theirs = PINT.Quantity(1.0, AS_PINT_WRITES.get(word, word))
    ours = PINT.Quantity(factor, "*".join(f"{b}^({d})" for b, d in zip(BASE, dimension, strict=True)))
    # 2.1e-6: pint's chain is that of the US survey; its Btu is rounded in the seventh figure
    assert theirs.to(ours.units).magnitude == pytest.approx(factor, rel=2.1e-6)
    if "chain" not in word and word != "ch" and word.lower() != "btu":
        assert theirs.to(ours.units).magnitude == pytest.approx(factor, rel=1e-13)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("6 ft 3 in", "m", 75 * 0.0254),
        ("6ft 3in", "m", 75 * 0.0254),
        ("22 1/2 in", "m", 22.5 * 0.0254),
        ("6 ft 3 1/4 in", "m", 75.25 * 0.0254),
        ("5/8 in", "m", 0.625 * 0.0254),
        ("-12 mile 43 chain", "m", -(12 * 80 + 43) * 66 * 0.3048),
        ("79 long_ton 17 long_hundredweight", "kg", (79 * 20 + 17) * 112 * 0.45359237),
        ("210 psi", "Pa", 210 * 6894.757293168361),
        ("14.5 bar", "Pa", 14.5e5),
        ("14 kgf/cm^2", "Pa", 14 * 98066.5),
        ("30.28 ft²", "m^2", 30.28 * 0.3048**2),
        ("15 degC", "K", 288.15),
        ("- 40 degF", "K", 233.15),
        ("60 °F", "K", 288.7055555555556),
        ("336 rpm", "Hz", 5.6),
        ("336 rev/minute", "Hz", 5.6),
        ("1600 ft per minute", "m/s", 8.128),
        ("13500 Btu/lb", "J/kg", 13500 * 2326.0),  # 1 Btu/lb (IT) is 2326 J/kg exactly
        ("4 lbf/short_ton", "N/kg", 4 * 9.80665 / 2000),
        ("0.001 lbf / (short_ton * mph^2)", "N/kg/(m/s)^2", 0.001 * 9.80665 / 2000 / 0.44704**2),
        ("2e3 lbf", "N", 2000 * 4.4482216152605),
        ("1 horsepower", "W", 745.6998715822702),
        ("1 metric_horsepower", "W", 735.49875),
        ("3 furlong", "m", 3 * 201.168),
        ("29 inHg", "Pa", 29 * 3386.3886),
        ("85 %", "", 0.85),
        ("0.85", "", 0.85),
        ("12 mm/m", "", 0.012),
    ],
)
def test_a_quantity_is_read(text, unit, value):
    assert units.si(text, unit) == pytest.approx(value, rel=4e-6 if "furlong" in text else 1e-7)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1 in 80", 1 / 80),
        ("-1 in 80", -1 / 80),
        ("down 1 in 80", -1 / 80),
        ("1 in 80 falling", -1 / 80),
        ("up 1 in 80", 1 / 80),
        ("1:80", 1 / 80),
        ("1 in 62.5", 0.016),
        ("1.25 %", 0.0125),
        ("-1.25%", -0.0125),
        ("−1.25 %", -0.0125),
        ("12.5 permille", 0.0125),
        ("12.5 ‰", 0.0125),
        ("66 ft/mile", 0.0125),  # 66 of 5280
        ("down 66 ft per mile", -0.0125),
        ("level", 0.0),
        ("Level", 0.0),
    ],
)
def test_a_grade_is_read(text, value):
    assert units.si(text, "grade") == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("1 deg", 5729.65),  # radii of the railway curve tables for a chord of 100 ft, from memory
        ("4 deg", 1432.69),
        ("10°", 573.69),
        ("2 deg 30 min", 2292.01),
        ("1000 ft", 1000),
        ("15 chain", 990),
    ],
)
def test_a_curve_is_read_as_its_radius(text, feet):
    assert units.si(text, "curve") == pytest.approx(feet * 0.3048, abs=0.005 * 0.3048)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("10:35", 38100), ("10:35:30", 38130), ("0:00", 0), ("23:59:59", 86399), ("24:10", 87000)],
)
def test_a_time_of_day_is_read(text, seconds):
    assert units.si(text, "clock") == seconds


def test_a_volume_of_water_in_a_time_is_read_as_its_mass():
    assert units.si("3500 us_gallon/hour", "kg/s") == pytest.approx(3500 * 3.785411784 / 3600, rel=1e-12)
    assert units.si("2500 imperial_gallon/hour", "kg/s") == pytest.approx(2500 * 4.54609 / 3600, rel=1e-12)


def test_a_volume_is_never_read_as_a_mass():
    with pytest.raises(UnitError, match="is a volume; a mass is expected"):
        units.si("8000 us_gallon", "kg")


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("50 ton", "kg", r"which ton\? write long_ton \(2240 lb\), short_ton"),
        ("50 tons", "kg", r"which ton\?"),
        ("50 Ton", "kg", r"which ton\?"),
        ("6 lbf/ton", "N/kg", r"which ton\?"),
        ("3500 gallon", "m^3", r"which gallon\? write us_gallon"),
        ("3500 gal/hour", "kg/s", r"which gallon\?"),
        ("30 gpm", "m^3/s", r"which gallon\?"),
        ("5 cwt", "kg", r"which hundredweight\?"),
        ("5 hundredweight", "kg", r"which hundredweight\?"),
        ("50 tonf", "N", "write long_tonf"),
        ("1200 PS", "W", "write metric_horsepower"),
        ("1200 ihp", "W", "write hp"),
        ("210 psig", "Pa", "write psi; the key says whether a pressure is gauge"),
        ("50 sqft", "m^2", r"write ft\^2"),
        ("60 F", "K", "write degF"),
        ("4 grade", "grade", "write for example '1 in 80'"),
        ("540 kcal", "J", "calories differ; write kJ"),
        ("225", "Pa", "has a number without a unit; a pressure is expected, such as psi"),
        ("", "m", "the text is empty; write a number and its unit"),
        ("   ", "m", "the text is empty"),
        ("m", "m", "has 'm' where a number is expected"),
        ("nan m", "m", "has 'nan' where a number is expected"),
        ("inf m", "m", "has 'inf' where a number is expected"),
        ("nan", "", "must be finite"),
        ("inf", "", "must be finite"),
        ("1e999 m", "m", "a number that is too large"),
        ("2**99 m", "m", "where a number is expected|is not a unit"),
        ("2**9999999", "m", "is not a unit"),
        ("__import__('os')", "m", "where a number is expected"),
        ("1 ft if True else 2 ft", "m", "'if' where a number is expected"),
        ("3 ft^99", "m", "has the power 99"),
        ("3 ft^99999999", "m", "has the power 99999999"),
        ("3 (ft", "m", "parenthesis that is not closed"),
        ("3 ft)", "m", "is not a unit"),
        ("3 ft/", "m", "lacks a unit word at its end"),
        ("3 /ft", "m", "lacks a unit word before '/'"),
        ("3 ft lb", "J", "'lb' where a number is expected"),
        ("6 3 in", "m", "two numbers in a row"),
        ("1/0 in", "m", "the fraction 1/0"),
        ("3 in 6 ft", "m", "from the larger unit to the smaller"),
        ("3 ft 6 ft", "m", "from the larger unit to the smaller"),
        ("12 m 43 ch", "m", "from the larger unit to the smaller"),  # miles meant, meters written
        ("+-5 m", "m", "has '-5' where a number is expected"),
        ("--5 m", "m", "has '-5' where a number is expected"),
        ("- -5 %", "", "has '-5' where a number is expected"),
        ("--1 in 80", "grade", "is not a grade"),
        ("+-300 m", "curve", "has '-300' where a number is expected"),
        ("6 ft -3 in", "m", "has '-3' where a number is expected"),
        ("20 degC 5 degC", "K", "adds temperatures"),
        ("1,250 ft", "m", "has a comma in a number"),
        ("14,5 bar", "Pa", "has a comma in a number"),
        ('26"', "m", "a foot or inch mark"),
        ("6' 3\"", "m", "a foot or inch mark"),
        ("18 inn", "m", "unit 'inn' is not known; did you mean 'in'"),
        ("3 Mile", "m", "did you mean 'mile'"),
        ("9 Mft", "m", "unit 'Mft' is not known"),
        ("5 cch", "m", "unit 'cch' is not known"),
        ("80.5 psi", "m", "is a pressure; a length is expected, such as in, ft"),
        ("5 A", "m", "unit 'A' is not known"),
        ("3 dB", "", "unit 'dB' is not known"),
        ("14 kg/cm^2", "Pa", "for a force write lbf or kgf"),
        ("100 lbf", "kg", "for a mass write lb or kg"),
        ("4 deg", "grade", "is not a grade"),
        ("1 in 0", "grade", "write 'level'"),
        ("down -1 in 80", "grade", "both a sign and the word 'down'"),
        ("2 in 80", "grade", "is not a grade"),
        ("0 deg", "curve", "is not a curve"),
        ("4 grade", "curve", "or a degree of curve for a 100 ft chord"),
        ("10.35", "clock", "is not a time of day"),
        ("10:75", "clock", "minutes to 59"),
        ("48:00", "clock", "hours run to 47"),
        ("10:35 am", "clock", "is not a time of day"),
        ("x" * 200, "m", "a text of 200 characters"),
    ],
)
def test_wrong_quantities_are_refused_with_advice(text, unit, message):
    with pytest.raises(UnitError, match=message):
        units.si(text, unit)


@pytest.mark.parametrize("word", AMBIGUOUS_UNITS)
def test_every_ambiguous_unit_is_refused(word):
    with pytest.raises(UnitError, match=r"is not accepted|is not a unit"):
        units.si(f"3 {word}", "kg")


@settings(max_examples=500, deadline=None)
@given(st.text(max_size=40), st.sampled_from(["m", "kg/s", "K", "", "grade", "curve", "clock"]))
def test_any_text_gives_a_finite_number_or_a_unit_error(text, unit):
    with contextlib.suppress(UnitError):
        assert math.isfinite(units.si(text, unit))


SCRAPS = [
    "1",
    "80",
    " in ",
    " ",
    "ft",
    "deg",
    "/",
    "*",
    "^2",
    "(",
    ")",
    "-",
    "down ",
    "1e9",
    ".",
    "%",
    ":",
    "°",
]


@settings(max_examples=500, deadline=None)
@given(
    st.lists(st.sampled_from(SCRAPS), max_size=8).map("".join),
    st.sampled_from(["m", "m^2", "", "grade", "curve", "clock"]),
)
def test_any_scraps_of_notation_give_a_finite_number_or_a_unit_error(text, unit):
    with contextlib.suppress(UnitError):
        assert math.isfinite(units.si(text, unit))


def test_every_pint_name_is_read_or_refused():
    for word in sorted(set(PINT)):
        with contextlib.suppress(UnitError):
            assert math.isfinite(units.convert(1.0, word, "m"))


@given(
    st.floats(-1e6, 1e6), st.sampled_from([word for word, worth in UNITS.items() if worth[1] == (1, 0, 0, 0)])
)
def test_a_length_converts_to_si_and_back(number, word):
    there = units.si(f"{number!r} {word}", "m")
    assert units.convert(there, "m", word) == pytest.approx(number, rel=1e-12, abs=1e-12)


@given(st.integers(0, 500), st.integers(0, 79))
def test_miles_and_chains_are_added(miles, chains):
    assert units.si(f"{miles} mile {chains} chain", "m") == pytest.approx(
        (80 * miles + chains) * 20.1168, rel=1e-12
    )


@given(st.floats(-200, 3000))
def test_temperatures_agree_with_pint(celsius):
    theirs = PINT.Quantity(celsius, "degC").to("degF").magnitude
    assert units.convert(celsius, "degC", "degF") == pytest.approx(theirs, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("number", "unit", "wanted", "value"),
    [
        (80, "1 in n", "grade", 0.0125),
        (-80, "1 in", "grade", -0.0125),
        (1.25, "%", "grade", 0.0125),
        (4, "deg", "curve", 436.68),
        (300, "m", "curve", 300),
        (381.8, "degF", "K", 467.48),
        (2.5, "hour", "clock", 9000),
        (100, "psi", "bar", 6.8948),
        (20.5, "lb/hp/hour", "kg/kW/hour", 12.4697),
    ],
)
def test_a_number_is_converted(number, unit, wanted, value):
    assert units.convert(number, unit, wanted) == pytest.approx(value, rel=2e-5)


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_not_converted(number):
    with pytest.raises(UnitError, match="must be finite"):
        units.convert(number, "ft", "m")


# Labels shown, with their names in pint.
LABELS = {
    "ft/min": "ft/minute",
    "ft/s²": "ft/s^2",
    "m/s²": "m/s^2",
    "ft²": "ft^2",
    "m²": "m^2",
    "m³": "m^3",
    "m³/h": "m^3/hour",
    "°F": "delta_degF",
    "°C": "delta_degC",
    "rpm": "1/minute",
    "hp h": "hp*hour",
    "lb/hp h": "lb/hp/hour",
    "kg/kWh": "kg/kWh",
    "lb/ft² h": "lb/ft^2/hour",
    "kg/m² h": "kg/m^2/hour",
    "short ton": "short_ton",
    "long ton": "long_ton",
    "lbf/short ton": "lbf/short_ton",
    "lbf/long ton": "lbf/long_ton",
    "N/t": "N/tonne",
    "US gal": "gallon",
    "imp gal": "imperial_gallon",
    "US gal/min": "gallon/minute",
    "imp gal/min": "imperial_gallon/minute",
    "in water": "foot_H2O*inch/foot",
    "‰": "permille",
    "%": "percent",
    "h:min:s": "s",
    "": "dimensionless",
}


# A degree of curve is not proportional to the radius; it has its own test.
IN_PROPORTION = [(s, k) for s, kinds in DISPLAYS.items() for k in kinds if (s, k) != ("us", "curve")]


@pytest.mark.parametrize(("system", "kind"), IN_PROPORTION)
def test_every_shown_unit_agrees_with_pint(system, kind):
    found = DISPLAYS[system][kind]
    unit = PINT.Quantity(1.0, LABELS.get(found.unit, found.unit))
    si = unit.to_base_units().magnitude
    per_si = 1000.0 * si if kind in ("water", "small_water") else si
    # pint's Btu is rounded in the seventh figure, its chain is that of the US survey
    assert found.factor * per_si == pytest.approx(1.0, rel=2.1e-6 if "chain" in found.unit else 2e-7)


READ_AS = {
    "water": "m^3",
    "small_water": "m^3",
    "firing_rate_per_grate_area": "kg/(m^2*s)",
    "evaporation_rate": "kg/(m^2*s)",
}
# Without a unit; and 10 °F read as a temperature is no difference.
NOT_READ = ("time", "clock", "temperature_difference")


@pytest.mark.parametrize(("system", "kind"), [each for each in IN_PROPORTION if each[1] not in NOT_READ])
def test_the_unit_of_an_answer_can_be_written_in_a_file(system, kind):
    found = DISPLAYS[system][kind]
    unit = READ_AS.get(kind, "grade" if kind == "grade" else units.si_label(kind))
    unit = re.sub(r"(?<=[ms])([23])$", r"^\1", unit)
    per_shown = 0.001 if kind in ("water", "small_water") else 1.0
    expected = per_shown * (10.0 - found.offset) / found.factor
    assert units.si(f"10 {found.unit}", unit) == pytest.approx(expected, rel=1e-6)


def test_a_mass_in_words_is_read():
    for text in ("12.5 short ton", "12.5 short tons", "12.5 short_ton"):
        assert units.si(text, "kg") == pytest.approx(12.5 * 907.18474)  # 2000 lb of 0.45359237 kg


def test_the_three_systems_show_the_same_kinds():
    assert set(DISPLAYS["us"]) == set(DISPLAYS["metric"]) == set(DISPLAYS["british"])


@pytest.mark.parametrize(
    ("value", "kind", "us", "metric", "british"),
    [
        (20.1168, "speed", "45.0 mph", "72.4 km/h", "45.0 mph"),
        (200e3, "force", "44,962 lbf", "200.0 kN", "44,962 lbf"),
        (1e6, "power", "1,341 hp", "1,000 kW", "1,341 hp"),
        (1447899.0, "pressure", "210.0 psi", "14.48 bar", "210.0 psi"),
        (288.15, "temperature", "59 °F", "15 °C", "59 °F"),
        (-0.0125, "grade", "-1.25 %", "-12.5 ‰", "down 1 in 80"),
        (0.0125, "grade", "1.25 %", "12.5 ‰", "1 in 80"),
        (0.0, "grade", "0.00 %", "0.0 ‰", "level"),
        (436.6825, "curve", "4.00°", "437 m", "21.7 chains"),
        (30000.0, "water", "7,925 US gal", "30.00 m³", "6,599 imp gal"),
        (1e6, "mass", "1,102.3 short tons", "1,000.0 t", "984.2 long tons"),
        (3725.4, "time", "1:02:05", "1:02:05", "1:02:05"),
        (-61, "time", "-0:01:01", "-0:01:01", "-0:01:01"),
        (38130, "clock", "10:35:30", "10:35:30", "10:35:30"),
        (87000, "clock", "00:10:00 (+1 day)", "00:10:00 (+1 day)", "00:10:00 (+1 day)"),
        (-1e-9, "speed", "0.0 mph", "0.0 km/h", "0.0 mph"),
        (0.5, "ratio", "50.0 %", "50.0 %", "50.0 %"),
        (1.7, "number", "1.70", "1.70", "1.70"),
    ],
)
def test_a_value_is_shown(value, kind, us, metric, british):
    shown = []
    for system in units.SYSTEMS:
        with units.unit_system(system):
            shown.append(units.show(value, kind))
    assert shown == [us, metric, british]


def test_decimals_can_be_asked_for():
    assert units.show(20.1168, "speed", 3) == "45.000 mph"
    with units.unit_system("metric"):
        assert units.show_number(20.1168, "speed", 0) == "72"


def test_what_is_not_a_number_is_a_dash_in_a_table():
    assert units.show_number(math.nan, "force") == units.show_number(math.nan, "time") == "-"


def test_a_scale_is_a_factor_and_a_label():
    with units.unit_system("metric"):
        factor, label = units.scale("speed")
    assert (factor * 10.0, label) == (pytest.approx(36.0), "km/h")
    with units.unit_system("british"):
        assert units.scale("grade") == (100.0, "%")
    assert units.scale("time") == (pytest.approx(1 / 60), "min")
    assert units.scale("curve")[1] == "ft"
    with pytest.raises(ValueError, match="no scale through zero"):
        units.scale("temperature")


def test_an_unknown_system_is_refused():
    with pytest.raises(UnitError, match="write one of us, metric, british"), units.unit_system("imperial"):
        pass


def test_a_system_holds_inside_its_block_only_even_after_an_error():
    assert units.current_system() == "us"
    with units.unit_system("metric"), units.unit_system("british"):
        assert units.show(1000.0, "mass") == "1.0 long tons"
    with contextlib.suppress(RuntimeError), units.unit_system("metric"):
        raise RuntimeError
    assert units.current_system() == "us"


@given(st.floats(1e-4, 0.14))
def test_a_british_grade_can_be_read_back(grade):
    with units.unit_system("british"):
        shown = units.show(-grade, "grade", 6)
    assert units.si(shown, "grade") == pytest.approx(-grade, rel=1e-5)


PAGE = Path(__file__).parents[1] / "docs" / "units.md"
# Units tried for the rows of a section of the page.
READABLE = {
    "## Quantities": (
        "m",
        "kg",
        "m^2",
        "m^3",
        "m/s",
        "N/kg",
        "N/kg/(m/s)",
        "K",
        "Hz",
        "",
        "kg/s",
        "kg/J",
        "Pa",
    ),
    "## Grades, curves, times of day": ("grade", "curve", "clock"),
}


@pytest.mark.parametrize("heading", READABLE)
def test_the_page_of_units_shows_only_what_can_be_read(heading):
    section = PAGE.read_text(encoding="utf-8").split(f"{heading}\n")[1].split("\n## ")[0]
    texts = [
        text for row in section.splitlines() if row.startswith("| `") for text in _quoted(row.split("|")[1])
    ]
    assert len(texts) > 10
    for text in texts:
        assert any(_reads(text, unit) for unit in READABLE[heading]), text


def test_the_page_of_units_names_every_shown_system():
    assert all(f"`{system}`" in PAGE.read_text(encoding="utf-8") for system in units.SYSTEMS)


def _quoted(cell: str) -> list[str]:
    """Quoted texts in code marks."""
    return re.findall(r'`"([^"]+)"`', cell)


def _reads(text: str, unit: str) -> bool:
    """Whether a text can be read in a unit."""
    with contextlib.suppress(UnitError):
        return math.isfinite(units.si(text, unit))
    return False


def _in_fresh_python(code: str, **environment: str) -> str:
    """Run code in a new process."""
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, **environment},
    ).stdout.strip()


def test_unit_words_of_the_trade_need_no_pint():
    code = "import sys; from locosim import units; units.si('6 ft 3 in', 'm'); units.show(1.0, 'speed');"
    assert _in_fresh_python(code + "print('pint' in sys.modules)") == "False"


def test_rare_words_are_read_without_a_writable_home():
    code = "from locosim import units; print(units.si('3 fathom', 'm') > 5)"
    nowhere = {"HOME": "/dev/null", "XDG_CACHE_HOME": "/dev/null/cache"}
    assert _in_fresh_python(code, **nowhere) == "True"


@pytest.mark.parametrize(
    ("text", "value"), [("1e-9m", 1e-9), ("1.5e3mm", 1.5), ("2E+2 m", 200.0), ("1e1m 5e0cm", 10.05)]
)
def test_a_power_of_ten_needs_no_space_before_its_unit(text: str, value: float) -> None:
    assert units.si(text, "m") == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("19.3 tt", "kg", "unit 'tt' is not known; did you mean 't'"),
        ("19.3 tt", "W", "unit 'tt' is not known; did you mean 'watt'"),
        (
            "1 kg",
            "N/kg/(m/s)",
            "'1 kg' is a mass; a force per mass and speed is expected, such as lbf/short_ton/mph",
        ),
        ("1 kg", "N/kg/(m/s)^2", "a force per mass and speed squared is expected, such as lbf/short_ton/mph"),
        ("1 kg", "Hz", "a rotational speed is expected, such as rpm"),
    ],
)
def test_the_message_names_the_expected_kind(text: str, unit: str, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        units.si(text, unit)


def test_every_suggested_unit_can_be_read() -> None:
    for unit, (_, words) in KINDS_BY_UNIT.items():
        for word in re.split(", | or ", words):
            assert units.si(f"1 {word}", unit) > 0


def test_a_speed_for_a_time_gives_no_advice_on_force() -> None:
    with pytest.raises(UnitError, match=r"a time is expected, such as s, minute or hour$"):
        units.si("9 mph", "s")
