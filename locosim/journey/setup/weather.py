"""Effect of the weather on resistance."""

from __future__ import annotations

from locosim.constants import ZERO_CELSIUS
from locosim.model import Excursion
from locosim.physics.resistance.grade_and_curve import STARTING_PLAIN_BEARINGS, STARTING_PLAIN_BEARINGS_COLD

STANDARD_TEMPERATURE = 288.15  # air temperature assumed for the resistance laws [K]


def plain_bearing_start(excursion: Excursion) -> float:
    """Resistance of plain bearings at rest [N/kg]; higher below freezing."""
    return (
        STARTING_PLAIN_BEARINGS_COLD
        if excursion.weather.temperature < ZERO_CELSIUS
        else STARTING_PLAIN_BEARINGS
    )


def air_density_ratio(excursion: Excursion) -> float:
    """Density of the air over that of the resistance laws, by temperature [1]."""
    return STANDARD_TEMPERATURE / excursion.weather.temperature
