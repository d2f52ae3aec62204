"""Effect of the weather on resistance."""

from __future__ import annotations

from locosim.model import Excursion

STANDARD_TEMPERATURE = 288.15  # air temperature assumed for the resistance laws [K]


def air_density_ratio(excursion: Excursion) -> float:
    """Density of the air over that of the resistance laws, by temperature [1]."""
    return STANDARD_TEMPERATURE / excursion.weather.temperature
