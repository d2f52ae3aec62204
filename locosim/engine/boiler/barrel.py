"""Tubes and flues of a boiler: by their dimensions where these are given, by rule from the surfaces otherwise."""

from __future__ import annotations

from locosim.engine.si_text import format_area
from locosim.model import Boiler, Flues, Tubes
from locosim.physics.boiler.barrel import (
    FLUE_TO_SUPERHEATER_SURFACE,
    GAS_AREA_TO_TUBE_SURFACE,
    Barrel,
    Elements,
    TubeBank,
    barrel_by_dimensions,
    barrel_by_surfaces,
)

# Difference between a surface as given and by dimensions that gets a note; rounding and ferrules explain less.
SURFACE_TOLERANCE = 0.05


def barrel_of(boiler: Boiler) -> Barrel:
    """The gas passages of a boiler.

    Args:
        boiler: The boiler.
    """
    if not boiler.dimensions_known or boiler.tube_length is None:
        return barrel_by_surfaces(
            tube_surface=boiler.tube_heating_surface,
            superheater_surface=boiler.superheater_heating_surface,
            tube_length=boiler.tube_length,
        )
    return barrel_by_dimensions(
        length=boiler.tube_length,
        tubes=_bank(boiler.tubes),
        flues=_bank(boiler.flues),
        elements=_elements(boiler),
    )


def free_gas_area(boiler: Boiler) -> float:
    """Free area for the gas through all tubes and flues [m²].

    Args:
        boiler: The boiler.
    """
    return barrel_of(boiler).free_gas_area


def _bank(tubes: Tubes | Flues | None) -> TubeBank | None:
    if tubes is None:
        return None
    return TubeBank(
        count=tubes.count, outside_diameter=tubes.outside_diameter, inside_diameter=tubes.inside_diameter
    )


def _elements(boiler: Boiler) -> Elements | None:
    superheater = boiler.superheater
    if superheater is None or superheater.pipes_per_flue is None or superheater.pipe_diameter is None:
        return None
    return Elements(
        pipes=superheater.pipes_per_flue, diameter=superheater.pipe_diameter, length=boiler.element_length
    )


def barrel_notes(boiler: Boiler) -> tuple[str, ...]:
    """Notes on the tubes and flues: the rule used, or surfaces that disagree with the dimensions.

    Args:
        boiler: The boiler.
    """
    if not boiler.dimensions_known:
        return (_rule_note(boiler),)
    return (*_tube_surface_notes(boiler), *_superheater_surface_notes(boiler))


def _rule_note(boiler: Boiler) -> str:
    area = free_gas_area(boiler)
    flues = (
        ""
        if boiler.superheater is None
        else f", and flue surface {FLUE_TO_SUPERHEATER_SURFACE:g} times superheater surface"
    )
    return (
        f"dimensions of tubes and flues not given: gas area {format_area(area)} assumed, "
        f"1/{1.0 / GAS_AREA_TO_TUBE_SURFACE:.0f} of tube_surface{flues}"
    )


def _tube_surface_notes(boiler: Boiler) -> list[str]:
    """Warn if the surface as given is neither the outside nor the inside surface of the tubes and flues."""
    given, outside = boiler.tube_surface, boiler.tube_heating_surface
    if given is None:
        return []
    banks = [bank for bank in (boiler.tubes, boiler.flues) if bank is not None]
    ratio = sum(bank.count * bank.inside_diameter for bank in banks) / sum(
        bank.count * bank.outside_diameter for bank in banks
    )
    if any(abs(given / surface - 1.0) <= SURFACE_TOLERANCE for surface in (outside, ratio * outside)):
        return []
    return [
        f"tube_surface is given as {format_area(given)}, but tubes and flues of the given dimensions have "
        f"{format_area(outside)} outside and {format_area(ratio * outside)} inside; the dimensions are used"
    ]


def _superheater_surface_notes(boiler: Boiler) -> list[str]:
    """Warn if the superheater surface as given is not that of its elements."""
    given = None if boiler.superheater is None else boiler.superheater.surface
    found = boiler.superheater_heating_surface
    if given is None or boiler.flues is None or abs(given / found - 1.0) <= SURFACE_TOLERANCE:
        return []
    return [
        f"superheater.surface is given as {format_area(given)}, but its elements have {format_area(found)} in the "
        "flues; the dimensions are used"
    ]
