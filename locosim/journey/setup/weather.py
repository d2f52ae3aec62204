"""What the air of the day does to resistance."""

from __future__ import annotations

from locosim.constants import ZERO_CELSIUS
from locosim.model import Excursion
from locosim.physics.resistance.grade_and_curve import STARTING_PLAIN_BEARINGS, STARTING_PLAIN_BEARINGS_COLD

STANDARD_TEMPERATURE = 288.15  # air temperature the laws of resistance are taken to hold at [K]


def plain_bearing_start(excursion: Excursion) -> float:
    """Resistance of plain bearings at rest [N/kg]; more when they have stood in frost."""
    return (
        STARTING_PLAIN_BEARINGS_COLD
        if excursion.weather.temperature < ZERO_CELSIUS
        else STARTING_PLAIN_BEARINGS
    )


def air_density_ratio(excursion: Excursion) -> float:
    """Density of the day's air over that at which the laws of resistance hold, by temperature."""
    return STANDARD_TEMPERATURE / excursion.weather.temperature
