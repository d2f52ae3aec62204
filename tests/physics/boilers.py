"""Boilers of published engines, for tests only: surfaces in square feet as printed."""

from __future__ import annotations

from locosim.constants import ATMOSPHERE, FOOT, PSI, ZERO_CELSIUS

SQUARE_FOOT = FOOT**2
FEED_60F = ZERO_CELSIUS + (60.0 - 32.0) / 1.8


def boiler(*, grate, firebox, tubes, superheater, gauge_psi, feed_temperature=FEED_60F):
    return {
        "grate_area": grate * SQUARE_FOOT,
        "firebox_surface": firebox * SQUARE_FOOT,
        "tube_surface": tubes * SQUARE_FOOT,
        "superheater_surface": superheater * SQUARE_FOOT,
        "pressure": gauge_psi * PSI + ATMOSPHERE,
        "feed_temperature": feed_temperature,
    }


# Surfaces as read on public pages (an enthusiasts' collection for the first, an encyclopaedia for the
# second); superheater of the LMS engine from memory.
NYC_J3A = boiler(grate=82, firebox=360, tubes=3827, superheater=1745, gauge_psi=265)
LMS_CORONATION = boiler(grate=50, firebox=230, tubes=2577, superheater=856, gauge_psi=250)
# grate, total surface and superheater from memory (total 4,041 ft2), the firebox's part of it too
PRR_K4S = boiler(grate=70, firebox=305, tubes=3736, superheater=943, gauge_psi=205)
# grate 17 ft2 and 1,322 ft2 from memory, the split from memory
PURDUE = boiler(grate=17, firebox=126, tubes=1196, superheater=0, gauge_psi=160)
PURDUE_FREE_GAS_AREA = 3.41 * SQUARE_FOOT  # 200 tubes of 2 in outside and 1.77 in inside, from memory
