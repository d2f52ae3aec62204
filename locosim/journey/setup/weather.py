"""What the air of the day does to resistance."""

from __future__ import annotations

from locosim.model import Excursion

STANDARD_TEMPERATURE = 288.15  # air temperature the laws of resistance are taken to hold at [K]


def air_density_ratio(excursion: Excursion) -> float:
    """Density of the day's air over that at which the laws of resistance hold, by temperature."""
    return STANDARD_TEMPERATURE / excursion.weather.temperature
