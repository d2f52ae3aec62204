"""Tables and paragraphs at the widths of terminals."""

from __future__ import annotations

import pytest

from locosim.engine import si_text
from locosim.report.text.layout import in_reader_units, margin_text, paragraph, table
from locosim.units.format import unit_system

HEADERS = ("verdict", "place", "value\nmph")
ROWS = [("clear", "Tarn Hollow to Pellow Summit", "12.0"), ("stop", "Marlby", "1,003.5")]


@pytest.fixture
def columns(monkeypatch: pytest.MonkeyPatch):
    return lambda count: monkeypatch.setenv("COLUMNS", str(count))


def test_a_wide_terminal_gives_one_line_a_row(columns) -> None:
    columns(80)
    assert table(HEADERS, ROWS, left=2, wrapped=(1,)).splitlines() == [
        "                                         value",
        "verdict  place                             mph",
        "-------  ----------------------------  -------",
        "clear    Tarn Hollow to Pellow Summit     12.0",
        "stop     Marlby                        1,003.5",
    ]


def test_words_are_wrapped_before_anything_else_gives_way(columns) -> None:
    columns(41)
    assert table(HEADERS, ROWS, left=2, wrapped=(1,)).splitlines() == [
        "                                   value",
        "verdict  place                       mph",
        "-------  ----------------------  -------",
        "clear    Tarn Hollow to Pellow      12.0",
        "         Summit",
        "stop     Marlby                  1,003.5",
    ]


def test_figures_are_parted_with_the_first_column_repeated(columns) -> None:
    columns(41)
    heads = ("speed", *(f"quantity {i}" for i in range(5)))
    rows = [("10", *(f"{i}.5" for i in range(5)))]
    assert table(heads, rows, left=0).split("\n\n") == [
        "speed quantity 0 quantity 1 quantity 2\n"
        "----- ---------- ---------- ----------\n"
        "   10        0.5        1.5        2.5",
        "speed quantity 3 quantity 4\n----- ---------- ----------\n   10        3.5        4.5",
    ]


def test_a_table_of_words_too_wide_for_wrapping_becomes_paragraphs(columns) -> None:
    columns(41)
    heads = (*HEADERS, "limit of it", "margin in hand")
    text = table(heads, [(*ROWS[0], "10.0 mph and more", "+20%")], left=2, wrapped=(1,))
    assert text.splitlines() == [
        "clear: place Tarn Hollow to Pellow",
        "  Summit; value 12.0 mph; limit of it",
        "  10.0 mph and more; margin in hand +20%",
    ]


@pytest.mark.parametrize("count", [41, 60, 80, 111, 300])
def test_nothing_is_wider_than_the_terminal(columns, count: int) -> None:
    columns(count)
    texts = [paragraph("words and words " * 40), table(HEADERS, ROWS * 3, left=2, wrapped=(1,))]
    assert max(len(line) for text in texts for line in text.splitlines()) < count


@pytest.mark.parametrize(
    ("margin", "text"),
    [
        (0.0, "+0%"),
        (-0.004, "-0.4%"),
        (0.0099, "+1.0%"),
        (0.01, "+1%"),
        (0.126, "+13%"),
        (-0.5, "-50%"),
        (9.99, "+999%"),
        (9.996, "ample"),
        (-12.0, "far over"),
    ],
)
def test_margins(margin: float, text: str) -> None:
    assert margin_text(margin) == text


def test_a_note_of_the_engine_shows_the_figures_of_the_reader_alone() -> None:
    note = "nozzle 160 cm² (24.8 in²), at most 0.83 bar (12.0 psi), 370 °C (698 °F), 12.50 m/s (45.0 km/h, 28.0 mph)"
    with unit_system("us"):
        assert in_reader_units(note) == "nozzle 24.8 in², at most 12.0 psi, 698 °F, 28.0 mph"
    with unit_system("metric"):
        assert in_reader_units(note) == "nozzle 160 cm², at most 0.83 bar, 370 °C, 45.0 km/h"


@pytest.mark.parametrize("system", ["us", "metric", "british"])
def test_every_pair_that_the_engine_writes_becomes_one_figure(system: str) -> None:
    pairs = (
        si_text.format_speed(7.0), si_text.format_force(1e5), si_text.format_temperature(643.0),
        si_text.format_area(0.3), si_text.format_area(41.0), si_text.format_opening(0.016),
        si_text.format_pressure(83e3),
    )  # fmt: skip
    with unit_system(system):
        assert [p for p in pairs if "(" in in_reader_units(p)] == []


def test_in_a_paragraph_for_each_row_the_unit_follows_its_number(columns) -> None:
    columns(40)
    headers = ("station", "place", "trailing\nshort ton", "milepost\nmi", "how the train stands there")
    rows = [
        ("Marlby", "at the foot of the long grade", "469.0", "none", "waits for the helper to be coupled")
    ]
    assert " ".join(table(headers, rows, left=2, wrapped=(1, 4)).split()) == (
        "Marlby: place at the foot of the long grade; trailing 469.0 short ton; milepost none; "
        "how the train stands there waits for the helper to be coupled"
    )
