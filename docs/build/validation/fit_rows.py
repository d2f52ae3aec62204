"""The published rows that the general constants were fitted to: the one list that the fit and the page share.

`python -m docs.build.fit` reads its rows from here, and a figure of the page is a fit row if its name is here. All
other rows are test rows. How the fit rows were chosen: six German classes with two cylinders, so that those with three
cylinders or a rebuilt boiler are a test; every second pressure of the Purdue engine from 240 psi down; the speed
factors, at low weight; American boilers in general for two of the four engines, and the older of the two Purdue lines;
of each superheater with printed steam temperatures the one at the lower firing rate.
"""

from __future__ import annotations

GERMAN = ("52", "01 later series", "03", "41", "64", "38.10 (P8)")
PURDUE_PRESSURES = (120, 160, 200, 240)  # [psi]
FACTOR_SPEEDS = (300, 500, 700, 1000, 1300)  # [ft/min]
AMERICAN_BOILERS = ("nyc_j3a", "prr_k4s")
AMERICAN_RATES = (50, 200)  # [lb/(ft2 h)]
LMS_RATE = 130  # [lb/(ft2 h)]
SURFACE_RATES = (4, 6, 8, 10, 12, 14)  # evaporation of the saturated Purdue boiler [lb/(ft2 h)]
EFFICIENCY_RATES = (30, 70, 110, 150)  # [lb/(ft2 h)]
TEMPERATURE_RATES = (30, 120)  # [lb/(ft2 h)]
SUPERHEATERS = ("Altoona Pacific of 1912", "Belgian small-tube superheater")  # at the lower rate


def german(name: str) -> str:
    """Name of the row of a German class."""
    return f"German class {name}"


def purdue(kind: str, pressure_psi: int) -> str:
    """Name of the row of the steam rate at Purdue."""
    return f"Purdue steam rate, {kind}, {pressure_psi} psi"


def factor(kind: str, piston_speed: int) -> str:
    """Name of the row of a speed factor."""
    return f"speed factor, {kind}, {piston_speed} ft/min"


def evaporation(boiler: str, rate: float) -> str:
    """Name of the row of an evaporation per pound of coal."""
    return f"evaporation, {boiler}, {rate:.0f} lb/ft2 h"


def efficiency(rate: float) -> str:
    """Name of the row of a boiler efficiency."""
    return f"efficiency, {rate:.0f} lb/ft2 h"


def temperature(rate: float) -> str:
    """Name of the row of a steam temperature."""
    return f"steam temperature, Type A, {rate:.0f} lb/ft2 h"


def superheater(engine: str, end: str) -> str:
    """Name of the row of a printed steam temperature at the "low" or the "high" firing rate."""
    return f"steam temperature, {engine}, {end} rate"


CYLINDER_ROWS = (
    *map(german, GERMAN),
    *(purdue(kind, psi) for kind in ("saturated", "superheated") for psi in PURDUE_PRESSURES),
    *(factor("saturated", speed) for speed in FACTOR_SPEEDS),
    *(factor("superheated", speed) for speed in FACTOR_SPEEDS if speed >= 1000),  # no other is remembered
)
BOILER_ROWS = (
    *(evaporation(name, rate) for name in AMERICAN_BOILERS for rate in AMERICAN_RATES),
    evaporation("lms_coronation", LMS_RATE),
    *(evaporation("Purdue saturated", rate) for rate in SURFACE_RATES),
    *map(efficiency, EFFICIENCY_RATES),
    *map(temperature, TEMPERATURE_RATES),
    *(superheater(engine, "low") for engine in SUPERHEATERS),
)
FIT_ROWS = frozenset(CYLINDER_ROWS + BOILER_ROWS)
