"""Figures as messages and notes say them: in SI, with the trade's units beside.

This room knows nothing of the reader's units, so it says those that readers ask in.
"""

from __future__ import annotations

from locosim.constants import FOOT, KMH, MPH, POUND_FORCE, ZERO_CELSIUS


def format_speed(speed: float) -> str:
    """A speed [m/s]."""
    return f"{speed:.2f} m/s ({speed / KMH:.1f} km/h, {speed / MPH:.1f} mph)"


def format_force(force: float) -> str:
    """A pull [N]."""
    return f"{force:.0f} N ({force / POUND_FORCE:.0f} lbf)"


def format_temperature(temperature: float) -> str:
    """A temperature [K]."""
    return f"{temperature - ZERO_CELSIUS:.0f} °C ({1.8 * temperature - 459.67:.0f} °F)"


def format_area(area: float) -> str:
    """An area [m²]."""
    return f"{area:.1f} m² ({area / FOOT**2:.0f} ft²)"
