"""Tubes and flues of a boiler: the free area for the gas through them."""

from __future__ import annotations

from locosim.model import Boiler
from locosim.physics.boiler.gas_passages import GAS_AREA_TO_TUBE_SURFACE


def free_gas_area(boiler: Boiler) -> float:
    """Free area for the gas through all tubes and flues [m²].

    Args:
        boiler: The boiler.
    """
    return boiler.tube_surface * GAS_AREA_TO_TUBE_SURFACE
