"""Quantities as messages and notes write them: in SI, with trade units in parentheses.

The engine does not know the reader's unit system, so both are written.
"""

from __future__ import annotations

from locosim.constants import FOOT, INCH, KMH, MPH, POUND_FORCE, PSI, ZERO_CELSIUS


def format_speed(speed: float) -> str:
    """Write a speed [m/s]."""
    return f"{speed:.2f} m/s ({speed / KMH:.1f} km/h, {speed / MPH:.1f} mph)"


def format_force(force: float) -> str:
    """Write a force [N]."""
    return f"{force:.0f} N ({force / POUND_FORCE:.0f} lbf)"


def format_temperature(temperature: float) -> str:
    """Write a temperature [K]."""
    return f"{temperature - ZERO_CELSIUS:.0f} °C ({1.8 * temperature - 459.67:.0f} °F)"


def format_area(area: float) -> str:
    """Write an area [m²]."""
    feet = area / FOOT**2
    return f"{area:.{2 if area < 1.0 else 1}f} m² ({feet:.{1 if feet < 10.0 else 0}f} ft²)"


def format_opening(area: float) -> str:
    """Write the area of an opening [m²]."""
    centimeters, inches = 1e4 * area, area / INCH**2
    return (
        f"{centimeters:.{0 if centimeters >= 10.0 else 2}f} cm² ({inches:.{1 if inches >= 1.0 else 2}f} in²)"
    )


def format_pressure(pressure: float) -> str:
    """Write a gauge pressure [Pa]."""
    return f"{pressure / 1e5:.2f} bar ({pressure / PSI:.1f} psi)"
