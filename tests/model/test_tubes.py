"""Tubes and flues in the description of a boiler: surfaces by closed form, and faults that say what to write."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from locosim.errors import OutOfRange
from locosim.model import Boiler, Flues, Superheater, Tubes

TUBES = Tubes(count=150, outside_diameter=0.057)
FLUES = Flues(count=24, outside_diameter=0.133)
ELEMENTS = Superheater(pipes_per_flue=4, pipe_diameter=0.036, return_bend_distance=0.6)


def boiler(**changes: Any) -> Boiler:
    given: dict[str, Any] = {
        "working_pressure_gauge": 14e5,
        "grate_area": 3.0,
        "firebox_surface": 15.0,
        "tube_length": 5.0,
        "tubes": TUBES,
        "flues": FLUES,
        "superheater": ELEMENTS,
    }
    return Boiler(**(given | changes))


def test_surfaces_follow_from_the_dimensions() -> None:
    made = boiler()
    assert made.tube_heating_surface == pytest.approx(math.pi * 5.0 * (150 * 0.057 + 24 * 0.133), rel=1e-12)
    assert made.superheater_heating_surface == pytest.approx(24 * 4 * math.pi * 0.036 * 4.4, rel=1e-12)
    assert made.evaporative_heating_surface == pytest.approx(15.0 + made.tube_heating_surface, rel=1e-12)


def test_surfaces_as_given_stand_without_dimensions() -> None:
    made = boiler(tubes=None, flues=None, tube_surface=150.0, superheater=Superheater(surface=40.0))
    assert (made.tube_heating_surface, made.superheater_heating_surface) == (150.0, 40.0)
    assert (
        boiler(tubes=None, flues=None, tube_surface=150.0, superheater=None).superheater_heating_surface
        == 0.0
    )


def test_the_elements_are_at_most_as_long_as_the_flues() -> None:
    large = replace(ELEMENTS, return_bend_distance=None, surface=500.0)
    assert boiler(superheater=large).element_length == 5.0


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"tubes": None, "flues": None, "superheater": None},
            r"tube_surface missing; write for example tube_surface =",
        ),
        ({"tube_length": None}, r"tube_length missing; tubes and flues need it"),
        ({"flues": None}, r"flues missing; a superheater with tubes needs"),
        (
            {"tubes": None, "flues": None, "tube_surface": 150.0},
            r"superheater\.surface missing; without flues",
        ),
        ({"superheater": Superheater(surface=40.0)}, r"pipes_per_flue missing.*pipe_diameter missing"),
        (
            {"superheater": replace(ELEMENTS, pipe_diameter=0.06)},
            r"pipe_diameter must be at most .* found 0\.06",
        ),
        ({"superheater": replace(ELEMENTS, return_bend_distance=5.5)}, r"must be below tube_length \(5"),
    ],
    ids=["nothing", "length", "flues", "surface", "pipes", "fit", "distance"],
)
def test_what_is_missing_or_does_not_fit_is_a_fault(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        boiler(**changes)


def test_a_superheater_needs_a_surface_or_a_distance() -> None:
    with pytest.raises(OutOfRange, match=r"surface missing; write for example surface ="):
        Superheater(pipes_per_flue=4, pipe_diameter=0.036)


def test_a_superheater_without_flues_needs_its_surface() -> None:
    with pytest.raises(OutOfRange, match="flues missing"):
        boiler(flues=None)
