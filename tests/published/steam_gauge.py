"""Steam functions with the gauge pressure the old tables print; everything else is locosim's."""

from __future__ import annotations

from locosim.constants import ATMOSPHERE
from locosim.physics.steam import properties as steam


def factor_of_evaporation(*, gauge_pressure: float, feed_temperature: float) -> float:
    """Factor of evaporation of dry saturated steam."""
    return steam.saturated_factor_of_evaporation(
        pressure=gauge_pressure + ATMOSPHERE, feed_temperature=feed_temperature
    )
