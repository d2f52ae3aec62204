"""Faults reported in the units the user wrote."""

from __future__ import annotations

import pytest

from locosim import units
from locosim.errors import Fault, OutOfRange


@pytest.mark.parametrize(
    ("text", "unit", "found"),
    [
        ("2 km", "m", "km"),
        ("12 mile 43 chain", "m", "mile"),
        ("22 1/2 in", "m", "in"),
        ("9e99psi", "Pa", "psi"),
        ("-5mph", "m/s", "mph"),
        ("9000 kg/hour", "kg/s", "kg/hour"),
        ("30.5 ft^2", "m^2", "ft^2"),
        ("20 %", "grade", "%"),
        ("1 in 80", "grade", ""),
        ("4 deg", "curve", ""),
        ("10:35", "clock", ""),
        ("0.85", "", ""),
        ("3 psi", "m", ""),
    ],
)
def test_the_unit_of_a_text_is_found(text: str, unit: str, found: str) -> None:
    assert units.unit_in(text, unit) == found


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("60 mm", "must exceed 64 mm, found '60 mm'"),
        ("2 3/8in", "must exceed 2.51969 in, found '2 3/8in'"),
        ("", "must exceed 0.064 m, found 0.06 m"),
    ],
)
def test_a_fault_is_reported_in_the_unit_of_the_text(text: str, message: str) -> None:
    fault = Fault("travel", "must exceed {least}, found {found}", "m", {"least": 0.064, "found": 0.06})
    assert units.fault_message(fault, text) == message
    assert str(OutOfRange.by([fault], "ValveGear")) == "ValveGear.travel must exceed 0.064 m, found 0.06 m"


def test_water_by_volume_is_shown_by_volume() -> None:
    assert units.show_like(2.5, "kg/s", "9 m^3/hour") == "9 m^3/hour"
    assert units.show_like(300.0, "K", "-3 degC") == "26.85 degC"


def test_a_brace_in_a_text_of_the_user_is_not_a_placeholder() -> None:
    fault = Fault("name", "is not known, found {found}", figures={"found": repr("{x}")})
    assert units.fault_message(fault, "{x}") == fault.format() == "is not known, found '{x}'"
