"""Coefficients of a law of running resistance, and their conversion from customary units."""

from __future__ import annotations

from typing import NamedTuple

from locosim.constants import FOOT, GRAVITY, KMH, LONG_TON, MPH, POUND_FORCE, POUND_PER_SHORT_TON, SHORT_TON


class Coefficients(NamedTuple):
    """Coefficients of resistance per mass, a + b v + c v²: a [N/kg], b [N/kg per m/s], c [N/kg per (m/s)²]."""

    a: float
    b: float
    c: float


def american(a: float, b: float, c: float) -> Coefficients:
    """Coefficients from lb per short ton and mile/h."""
    unit = POUND_PER_SHORT_TON
    return Coefficients(a * unit, b * unit / MPH, c * unit / MPH**2)


def british(a: float, b: float, c: float) -> Coefficients:
    """Coefficients from lb per long ton and mile/h."""
    unit = POUND_FORCE / LONG_TON
    return Coefficients(a * unit, b * unit / MPH, c * unit / MPH**2)


def german(a: float, b: float, c: float) -> Coefficients:
    """Coefficients from kg per tonne and km/h."""
    unit = GRAVITY / 1000
    return Coefficients(a * unit, b * unit / KMH, c * unit / KMH**2)


def customary(axle_load: float, axles: float, frontal_area: float) -> tuple[float, float, float]:
    """Mass on an axle and of the vehicle in short tons, and frontal area in square feet."""
    w = axle_load / SHORT_TON
    return w, w * axles, frontal_area / FOOT**2
