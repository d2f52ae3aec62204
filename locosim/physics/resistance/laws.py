"""Running resistance of vehicles on straight level track, by published laws.

Every law is a function of the same three arguments, used or not, and returns the three coefficients of

    resistance per mass = a + b v + c v²

so that one compiled kernel serves them all. `LAWS` lists them by name. A law describes the bearings, track and
weather its author measured.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

import numpy as np

from locosim.constants import KMH, MPH, SHORT_TON
from locosim.physics.resistance import american as us
from locosim.physics.resistance import european as eu
from locosim.physics.resistance.form import Coefficients
from locosim.physics.types import Real

SIDE_WIND_ALLOWANCE = 12 * KMH  # [m/s] added to the speed for an average side wind: [Railcars1938] p. 28


class ResistanceLaw(Protocol):
    """A law of running resistance."""

    def __call__(self, *, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
        """Coefficients for one vehicle.

        Args:
            axle_load: Mass of the loaded vehicle per axle [kg].
            axles: Number of axles [1].
            frontal_area: Cross section of the vehicle [m²].

        Returns:
            Coefficients in SI.
        """


class PublishedRange(NamedTuple):
    """Range that a law was published for; callers report a vehicle outside it.

    Attributes:
        min_axle_load: Minimum mass per axle [kg].
        min_mass: Minimum mass of the vehicle [kg].
        max_mass: Maximum mass of the vehicle [kg].
        max_published_speed: Maximum speed [m/s].
    """

    min_axle_load: float = 0.0
    min_mass: float = 0.0
    max_mass: float = np.inf
    max_published_speed: float = np.inf


def specific_resistance(
    *, law: ResistanceLaw, speed: Real, axle_load: float, axles: float, frontal_area: float
) -> Real:
    """Running resistance per mass by a law, in still air.

    Args:
        law: One of `LAWS`, or another function of the same arguments.
        speed: Speed [m/s].
        axle_load: Mass of the loaded vehicle per axle [kg].
        axles: Number of axles [1].
        frontal_area: Cross section of the vehicle [m²].

    Returns:
        Resistance per mass [N/kg].

    References:
        Those of the law.
    """
    return at_speed(law(axle_load=axle_load, axles=axles, frontal_area=frontal_area), speed=speed)


def at_speed(coefficients: Coefficients, *, speed: Real) -> Real:
    """Running resistance per mass from its coefficients.

    Args:
        coefficients: Coefficients from a law.
        speed: Speed [m/s].

    Returns:
        Resistance per mass [N/kg].

    References:
        Definition.
    """
    a, b, c = coefficients
    return a + (b + c * speed) * speed


def with_air_density(coefficients: Coefficients, *, density_ratio: float) -> Coefficients:
    """Coefficients with the quadratic term in proportion to the density of the air.

    Args:
        coefficients: Coefficients near sea level.
        density_ratio: Density of the air over that near sea level [1].

    Returns:
        Coefficients in that air.

    References:
        Dynamic pressure; parts of the term that do not come from the air are scaled too.
    """
    a, b, c = coefficients
    return Coefficients(a, b, c * density_ratio)


LAWS: dict[str, ResistanceLaw] = {
    law.__name__: law
    for law in (
        us.davis_1926_locomotive,
        us.davis_1926_freight,
        us.davis_1926_passenger,
        us.modified_1970,
        us.modified_1970_containers,
        us.modified_1970_trailers,
        us.aar_rp548,
        us.canadian_national_locomotive,
        us.canadian_national_box,
        us.canadian_national_gondola_loaded,
        us.canadian_national_gondola_empty,
        us.canadian_national_tank,
        us.canadian_national_passenger,
        us.schmidt_1910,
        us.shurtleff_1907,
        us.wellington_1880,
        us.dennis_1910,
        us.army_good_track,
        us.army_poor_track,
        us.engineering_news,
        us.baldwin,
        eu.clark_1855,
        eu.molesworth,
        eu.harding,
        eu.launhardt_1888,
        eu.frank_passenger_locomotive,
        eu.frank_passenger_cars,
        eu.frank_freight_locomotive,
        eu.frank_freight_cars,
        eu.strahl_express_cars,
        eu.strahl_passenger_cars,
        eu.strahl_freight_mixed,
        eu.strahl_freight_loaded_gondolas,
        eu.strahl_freight_empty_gondolas,
        eu.strahl_freight_fast,
        eu.strahl_locomotive,
        eu.erfurt,
        eu.von_borries_leitzmann,
        eu.barbier_two_axle,
        eu.barbier_four_axle,
        eu.sanzin_four_axle,
        us.cole_1914_locomotive,
    )
}

PUBLISHED_RANGES: dict[str, PublishedRange] = {
    "davis_1926_locomotive": PublishedRange(min_axle_load=5 * SHORT_TON),  # from memory
    "davis_1926_freight": PublishedRange(min_axle_load=5 * SHORT_TON),  # from memory
    "davis_1926_passenger": PublishedRange(min_axle_load=5 * SHORT_TON),  # from memory
    "schmidt_1910": PublishedRange(
        min_mass=15 * SHORT_TON, max_mass=75 * SHORT_TON, max_published_speed=40 * MPH
    ),
}
