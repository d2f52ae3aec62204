"""Laws of running resistance from American practice; `laws.LAWS` lists them.

Arguments are those of `laws.ResistanceLaw`. V is the speed in mile/h, w the mass on one axle in short tons, n the
number of axles, A the frontal area in square feet; the resistance is in lb per short ton.
"""

from __future__ import annotations

import numpy as np

from locosim.physics.data_tables import read_table
from locosim.physics.resistance.form import Coefficients, american, customary

SCHMIDT = read_table("schmidt_1910.csv")


def davis_1926_locomotive(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Engines and tenders: 1.3 + 29/w + 0.03 V + 0.0024 A V²/(w n), usual A 120. [Davis1926], from memory."""
    w, wn, A = customary(axle_load, axles, frontal_area)
    return american(1.3 + 29 / w, 0.03, 0.0024 * A / wn)


def davis_1926_freight(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Freight cars: 1.3 + 29/w + 0.045 V + 0.0005 A V²/(w n), usual A 88.

    [Davis1926], from memory; its four terms with A 88 read in a quotation of [Cyclopedia1970] p. 842.
    """
    w, wn, A = customary(axle_load, axles, frontal_area)
    return american(1.3 + 29 / w, 0.045, 0.0005 * A / wn)


def davis_1926_passenger(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Passenger cars: 1.3 + 29/w + 0.03 V + 0.00034 A V²/(w n), usual A 120. [Davis1926], from memory."""
    w, wn, A = customary(axle_load, axles, frontal_area)
    return american(1.3 + 29 / w, 0.03, 0.00034 * A / wn)


def _modified_1970(drag: float, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    w, wn, _ = customary(axle_load, axles, frontal_area)
    return american(0.6 + 20 / w, 0.01, drag / wn)


def modified_1970(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Ordinary cars on later track: 0.6 + 20/w + 0.01 V + 0.07 V²/(w n).

    0.07 read in [Trani]; 0.6, 20 and 0.01 of [AREA1970] from memory. The 0.07 includes the frontal area.
    """
    return _modified_1970(0.07, axle_load, axles, frontal_area)


def modified_1970_containers(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Container cars: as `modified_1970` with 0.0935 V²/(w n). [Trani]; [AREA1970] from memory."""
    return _modified_1970(0.0935, axle_load, axles, frontal_area)


def modified_1970_trailers(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Trailers on flat cars: as `modified_1970` with 0.16 V²/(w n). [Trani]; [AREA1970] from memory."""
    return _modified_1970(0.16, axle_load, axles, frontal_area)


def aar_rp548(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Freight cars on roller bearings: 1.3 + 72.5/(w n) + 0.015 V + 0.055 V²/(w n). [Szanto]."""
    _, wn, _ = customary(axle_load, axles, frontal_area)
    return american(1.3 + 72.5 / wn, 0.015, 0.055 / wn)


def _canadian_national(factor: float, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    w, wn, A = customary(axle_load, axles, frontal_area)
    return american(1.5 + 18 / w, 0.03, factor * A / (10_000 * wn))


def canadian_national_locomotive(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Locomotives with an open front: 1.5 + 18/w + 0.03 V + 24 A V²/(10,000 w n). [CanadianNational], from memory."""
    return _canadian_national(24.0, axle_load, axles, frontal_area)


def canadian_national_box(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Box cars: as `canadian_national_locomotive` with 4.9. [CanadianNational], from memory."""
    return _canadian_national(4.9, axle_load, axles, frontal_area)


def canadian_national_gondola_loaded(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Loaded gondolas: as `canadian_national_locomotive` with 4.2. [CanadianNational], from memory."""
    return _canadian_national(4.2, axle_load, axles, frontal_area)


def canadian_national_gondola_empty(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Empty gondolas: as `canadian_national_locomotive` with 12. [CanadianNational], from memory."""
    return _canadian_national(12.0, axle_load, axles, frontal_area)


def canadian_national_tank(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Tank cars: as `canadian_national_locomotive` with 5.5. [CanadianNational], from memory."""
    return _canadian_national(5.5, axle_load, axles, frontal_area)


def canadian_national_passenger(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Passenger cars: as `canadian_national_locomotive` with 3.5. [CanadianNational], from memory."""
    return _canadian_national(3.5, axle_load, axles, frontal_area)


def schmidt_1910(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Freight cars by gross car weight, 15 to 75 short tons, 5 to 40 mile/h, air above 30 °F, good track.

    Linear between the tabulated weights, the nearest row beyond them. [Schmidt1910], from memory.
    """
    _, car, _ = customary(axle_load, axles, frontal_area)
    weights = SCHMIDT["car_weight_short_ton"]
    return american(*(np.interp(car, weights, SCHMIDT[column]) for column in "abc"))


def shurtleff_1907(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Freight cars at low speed: 1 + 90/C, C the gross weight of the car in short tons. [Randolph1910], discussion."""
    _, car, _ = customary(axle_load, axles, frontal_area)
    return american(1 + 90 / car, 0.0, 0.0)


def wellington_1880(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Slow freight trains of about 1880: 6 at any speed. [Randolph1910]."""
    return american(6.0, 0.0, 0.0)


def dennis_1910(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Slow freight trains of 1908 to 1910: 4.7 at any speed. [Randolph1910]."""
    return american(4.7, 0.0, 0.0)


def army_good_track(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Planning value for good to fair track: 6 at any speed. [Army603] table II."""
    return american(6.0, 0.0, 0.0)


def army_poor_track(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Planning value for fair to poor track: 7 at any speed. [Army603] table II."""
    return american(7.0, 0.0, 0.0)


def engineering_news(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Whole freight train: 2 + V/4. [Henderson1907]."""
    return american(2.0, 1 / 4, 0.0)


def baldwin(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Whole train: 3 + V/6. [Henderson1907]."""
    return american(3.0, 1 / 6, 0.0)


def cole_1914_locomotive(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Head air resistance of the locomotive: 0.002 A V² lb, without any resistance of its axles.

    The driving axles are in `machine_friction.cole_1914`; carrying axles and tender need another law.
    [Cole1914], from memory.
    """
    _, wn, A = customary(axle_load, axles, frontal_area)
    return american(0.0, 0.0, 0.002 * A / wn)
