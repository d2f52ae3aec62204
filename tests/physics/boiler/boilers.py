"""Invented boilers for the boiler's laws, as the Larkspur Valley Railway might have them: surfaces in square feet."""

from __future__ import annotations

from locosim.constants import ATMOSPHERE, FOOT, PSI, ZERO_CELSIUS
from locosim.physics.boiler.barrel import barrel_by_surfaces

SQUARE_FOOT = FOOT**2
FEED_60F = ZERO_CELSIUS + (60.0 - 32.0) / 1.8


def boiler(*, grate, firebox, tubes, superheater, gauge_psi, feed_temperature=FEED_60F):
    return {
        "grate_area": grate * SQUARE_FOOT,
        "firebox_surface": firebox * SQUARE_FOOT,
        "barrel": barrel_by_surfaces(
            tube_surface=tubes * SQUARE_FOOT, superheater_surface=superheater * SQUARE_FOOT
        ),
        "pressure": gauge_psi * PSI + ATMOSPHERE,
        "feed_temperature": feed_temperature,
    }


EXPRESS = boiler(
    grate=63, firebox=281, tubes=3340, superheater=835, gauge_psi=195
)  # of a large passenger engine
SATURATED = boiler(grate=19, firebox=137, tubes=1290, superheater=0, gauge_psi=150)  # of a small one
