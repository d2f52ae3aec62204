"""Running resistance of vehicles on straight level track, by published laws.

Every law is a function of the same three arguments, used or not, and gives the three coefficients of

    resistance per mass = a + b v + c v²

so that one fast kernel serves all of them: the laws that locosim keeps are quadratic in speed at given
weights. `LAWS` names them. In the docstrings V is in mile/h or km/h as said, w the short tons on an axle,
n the axles of the vehicle, A the frontal area in square feet, and the resistance is in lb per short ton
unless another unit is named. A law gives what its author measured: journals, track and weather of his time.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np

from locosim.constants import FOOT, GRAVITY, KMH, LONG_TON, MPH, POUND_FORCE, SHORT_TON
from locosim.physics.real import Real
from locosim.physics.tables import read_table

SCHMIDT = read_table("schmidt_1910.csv")
SIDE_WIND_ALLOWANCE = 12 * KMH  # [m/s] added to the speed for an average side wind, [Railcars1938] p. 28


class Coefficients(NamedTuple):
    """Resistance per mass as a + b v + c v²; a [N/kg], b [N/kg per m/s], c [N/kg per (m/s)²]."""

    a: Real
    b: Real
    c: Real


class Law(Protocol):
    """A law of running resistance."""

    def __call__(self, *, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
        """Coefficients for one vehicle.

        Args:
            axle_load: Mass of the loaded vehicle for each of its axles [kg].
            axles: Number of axles [1].
            frontal_area: Cross section of the vehicle [m²].

        Returns:
            Coefficients in SI.
        """


class Range(NamedTuple):
    """Where a law was published for; outside it the caller should say so.

    Attributes:
        axle_load_least: Least mass for each axle [kg].
        mass_least: Least mass of the vehicle [kg].
        mass_most: Greatest mass of the vehicle [kg].
        speed_most: Highest speed [m/s].
    """

    axle_load_least: float = 0.0
    mass_least: float = 0.0
    mass_most: float = np.inf
    speed_most: float = np.inf


def specific_resistance(*, law: Law, speed: Real, axle_load: Real, axles: Real, frontal_area: Real) -> Real:
    """Running resistance per mass by a law, in still air.

    Args:
        law: One of `LAWS`, or any function like them.
        speed: Speed [m/s].
        axle_load: Mass of the loaded vehicle for each of its axles [kg].
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
        coefficients: As a law gives them.
        speed: Speed [m/s].

    Returns:
        Resistance per mass [N/kg].

    References:
        Definition.
    """
    a, b, c = coefficients
    return a + (b + c * speed) * speed


def with_head_wind(coefficients: Coefficients, *, head_wind: Real) -> Coefficients:
    """Coefficients with the head wind added to the speed in the quadratic term.

    Good while speed plus wind is not below zero: a tail wind stronger than the train is fast would push,
    and this form resists instead.

    Args:
        coefficients: In still air.
        head_wind: Speed of the wind against the train, below zero from behind [m/s].

    Returns:
        Coefficients against the wind.

    References:
        [Railcars1938] p. 28: the full speed of a head wind is added; c (v + w)² written out.
    """
    a, b, c = coefficients
    return Coefficients(a + c * head_wind**2, b + 2 * c * head_wind, c)


def with_air_density(coefficients: Coefficients, *, density_ratio: Real) -> Coefficients:
    """Coefficients with the quadratic term in proportion to the density of the air.

    Args:
        coefficients: At the density the author had, near sea level.
        density_ratio: Density of the air over that near sea level [1].

    Returns:
        Coefficients in that air.

    References:
        Dynamic pressure. Parts of the term that do not come from air are scaled with it.
    """
    a, b, c = coefficients
    return Coefficients(a, b, c * density_ratio)


def mean_coefficients(*, masses: Sequence[float], coefficients: Sequence[Coefficients]) -> Coefficients:
    """Coefficients of a whole train from those of its vehicles.

    Args:
        masses: Mass of each vehicle [kg].
        coefficients: Coefficients of each vehicle, in the same order.

    Returns:
        Mean coefficients, weighted by mass.

    References:
        The resistances of the vehicles add.
    """
    a, b, c = np.average(np.asarray(coefficients, dtype=float), axis=0, weights=masses)
    return Coefficients(float(a), float(b), float(c))


def quadratic(*, a: float, b: float, c: float) -> Law:
    """A user's own law, the same for every vehicle.

    Args:
        a: Constant part [N/kg].
        b: Part in proportion to speed [N/kg per m/s].
        c: Part in proportion to the square of speed [N/kg per (m/s)²].

    Returns:
        The law.

    References:
        None: the user answers for the numbers.
    """

    def own(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
        return Coefficients(a, b, c)

    return own


def _american(a: Real, b: Real, c: Real) -> Coefficients:
    """Coefficients from lb per short ton and mile/h."""
    unit = POUND_FORCE / SHORT_TON
    return Coefficients(a * unit, b * unit / MPH, c * unit / MPH**2)


def _british(a: Real, b: Real, c: Real) -> Coefficients:
    """Coefficients from lb per long ton and mile/h."""
    unit = POUND_FORCE / LONG_TON
    return Coefficients(a * unit, b * unit / MPH, c * unit / MPH**2)


def _german(a: Real, b: Real, c: Real) -> Coefficients:
    """Coefficients from kg per tonne and km/h."""
    unit = GRAVITY / 1000
    return Coefficients(a * unit, b * unit / KMH, c * unit / KMH**2)


def _weights(axle_load: Real, axles: Real, frontal_area: Real) -> tuple[Real, Real, Real]:
    """Short tons on an axle, short tons of the vehicle, square feet."""
    w = axle_load / SHORT_TON
    return w, w * axles, frontal_area / FOOT**2


def davis_1926_locomotive(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Engines and tenders: 1.3 + 29/w + 0.03 V + 0.0024 A V²/(w n), usual A 120. [Davis1926], from memory."""
    w, wn, A = _weights(axle_load, axles, frontal_area)
    return _american(1.3 + 29 / w, 0.03, 0.0024 * A / wn)


def davis_1926_freight(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Freight cars: 1.3 + 29/w + 0.045 V + 0.0005 A V²/(w n), usual A 88.

    [Davis1926], from memory; its four terms with A 88 read in a quotation of [Cyclopedia1970] p. 842.
    """
    w, wn, A = _weights(axle_load, axles, frontal_area)
    return _american(1.3 + 29 / w, 0.045, 0.0005 * A / wn)


def davis_1926_passenger(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Passenger cars: 1.3 + 29/w + 0.03 V + 0.00034 A V²/(w n), usual A 120. [Davis1926], from memory."""
    w, wn, A = _weights(axle_load, axles, frontal_area)
    return _american(1.3 + 29 / w, 0.03, 0.00034 * A / wn)


def _modified_1970(drag: float, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    w, wn, _ = _weights(axle_load, axles, frontal_area)
    return _american(0.6 + 20 / w, 0.01, drag / wn)


def modified_1970(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Ordinary cars on later track: 0.6 + 20/w + 0.01 V + 0.07 V²/(w n).

    0.07 read in [Trani]; 0.6, 20 and 0.01 of [AREA1970] from memory. Frontal area is in the 0.07.
    """
    return _modified_1970(0.07, axle_load, axles, frontal_area)


def modified_1970_containers(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Containers on flat cars: as `modified_1970` with 0.0935 V²/(w n). [Trani]; [AREA1970] from memory."""
    return _modified_1970(0.0935, axle_load, axles, frontal_area)


def modified_1970_trailers(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Road trailers on flat cars: as `modified_1970` with 0.16 V²/(w n). [Trani]; [AREA1970] from memory."""
    return _modified_1970(0.16, axle_load, axles, frontal_area)


def aar_rp548(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Freight cars on roller bearings: 1.3 + 72.5/(w n) + 0.015 V + 0.055 V²/(w n). [Szanto]."""
    _, wn, _ = _weights(axle_load, axles, frontal_area)
    return _american(1.3 + 72.5 / wn, 0.015, 0.055 / wn)


def _canadian_national(factor: float, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    w, wn, A = _weights(axle_load, axles, frontal_area)
    return _american(1.5 + 18 / w, 0.03, factor * A / (10_000 * wn))


def canadian_national_locomotive(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Open-fronted engines: 1.5 + 18/w + 0.03 V + 24 A V²/(10,000 w n). [CanadianNational], from memory."""
    return _canadian_national(24.0, axle_load, axles, frontal_area)


def canadian_national_box(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Box cars: as `canadian_national_locomotive` with 4.9. [CanadianNational], from memory."""
    return _canadian_national(4.9, axle_load, axles, frontal_area)


def canadian_national_gondola_loaded(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Loaded open cars: as `canadian_national_locomotive` with 4.2. [CanadianNational], from memory."""
    return _canadian_national(4.2, axle_load, axles, frontal_area)


def canadian_national_gondola_empty(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Empty open cars: as `canadian_national_locomotive` with 12. [CanadianNational], from memory."""
    return _canadian_national(12.0, axle_load, axles, frontal_area)


def canadian_national_tank(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Tank cars: as `canadian_national_locomotive` with 5.5. [CanadianNational], from memory."""
    return _canadian_national(5.5, axle_load, axles, frontal_area)


def canadian_national_passenger(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Passenger cars: as `canadian_national_locomotive` with 3.5. [CanadianNational], from memory."""
    return _canadian_national(3.5, axle_load, axles, frontal_area)


def schmidt_1910(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Freight cars by gross car weight, 15 to 75 short tons, 5 to 40 mile/h, air above 30 °F, good track.

    Between the tabulated weights linear; beyond them the nearest row. [Schmidt1910], from memory.
    """
    _, car, _ = _weights(axle_load, axles, frontal_area)
    weights = SCHMIDT["car_weight_short_ton"]
    return _american(*(np.interp(car, weights, SCHMIDT[column]) for column in "abc"))


def shurtleff_1907(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Freight cars at low speed: 1 + 90/C, C the gross short tons of the car. [Randolph1910], discussion."""
    _, car, _ = _weights(axle_load, axles, frontal_area)
    return _american(1 + 90 / car, 0.0, 0.0)


def wellington_1880(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Slow freight trains of about 1880: 6, whatever the speed. [Randolph1910]."""
    return _american(6.0, 0.0, 0.0)


def dennis_1910(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Slow freight trains of 1908 to 1910: 4.7, whatever the speed. [Randolph1910]."""
    return _american(4.7, 0.0, 0.0)


def army_good_track(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Planning value for good to fair track: 6, whatever the speed. [Army603] table II."""
    return _american(6.0, 0.0, 0.0)


def army_poor_track(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Planning value for fair to poor track: 7, whatever the speed. [Army603] table II."""
    return _american(7.0, 0.0, 0.0)


def engineering_news(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Whole freight train: 2 + V/4. [Henderson1907]."""
    return _american(2.0, 1 / 4, 0.0)


def baldwin(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Whole train: 3 + V/6. [Henderson1907]."""
    return _american(3.0, 1 / 6, 0.0)


def clark_1855(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Engine, tender and train together: 8 + V²/171 lb per long ton, V mile/h. [Bourne1865] Q. 499."""
    return _british(8.0, 0.0, 1 / 171)


def molesworth(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Whole train, calm, level, straight: 6 + 0.009 V² lb per long ton, V mile/h. [Molesworth1882] p. 223."""
    return _british(6.0, 0.0, 0.009)


def harding(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Whole train: 6 + 0.33 V + 0.0025 V² A/T lb per long ton, V mile/h, A sq ft, T long tons.

    [Molesworth1882] p. 222, who says it gives too much at low speed. Area and mass are the train's.
    """
    T = axle_load * axles / LONG_TON
    return _british(6.0, 0.33, 0.0025 * frontal_area / FOOT**2 / T)


def launhardt_1888(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Whole train with an average wind of 1 m/s: 0.0028 + 0.000016 v² kg/kg, v m/s. [Launhardt1888] p. 36."""
    return Coefficients(0.0028 * GRAVITY, 0.0, 0.000016 * GRAVITY)


def frank_passenger_locomotive(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Passenger engine with tender, L kg: 0.003306 + 31/L + 1.038/L v² kg/kg, v m/s. [Launhardt1888] p. 31."""
    L = axle_load * axles
    return Coefficients((0.003306 + 31 / L) * GRAVITY, 0.0, 1.038 / L * GRAVITY)


def frank_passenger_coaches(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Coaches behind their engine: 0.00258 + 0.0000072 v² kg/kg, v m/s. [Launhardt1888] p. 31."""
    return Coefficients(0.00258 * GRAVITY, 0.0, 0.0000072 * GRAVITY)


def frank_goods_locomotive(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Goods engine and tender of L kg: 0.003952 + 52/L + 1.149/L v² kg/kg, v m/s. [Launhardt1888] p. 33.

    1.149 is as printed; the 0.1274 times 9.1 it is made from gives 1.159.
    """
    L = axle_load * axles
    return Coefficients((0.003952 + 52 / L) * GRAVITY, 0.0, 1.149 / L * GRAVITY)


def frank_goods_wagons(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Goods wagons behind their engine: 0.0026 + 0.0000078 v² kg/kg, v m/s. [Launhardt1888] p. 33."""
    return Coefficients(0.0026 * GRAVITY, 0.0, 0.0000078 * GRAVITY)


def strahl_express_coaches(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Express coaches: 2.5 + V²/4000 kg per tonne, V km/h. [Strahl1913], from memory."""
    return _german(2.5, 0.0, 1 / 4000)


def strahl_ordinary_coaches(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Ordinary coaches: 2.5 + V²/3000 kg per tonne, V km/h. [Strahl1913], from memory."""
    return _german(2.5, 0.0, 1 / 3000)


def _strahl_freight(m: float) -> Coefficients:
    return _german(2.0, 0.0, (0.007 + m) / 100)


def strahl_freight_mixed(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Mixed goods trains: 2.0 + (0.007 + 0.05)(V/10)² kg per tonne, V km/h. [Strahl1913], from memory."""
    return _strahl_freight(0.05)


def strahl_freight_full_open(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Full open wagons: as `strahl_freight_mixed` with 0.032. [Strahl1913], from memory."""
    return _strahl_freight(0.032)


def strahl_freight_empty_open(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Empty open wagons: as `strahl_freight_mixed` with 0.1. [Strahl1913], from memory."""
    return _strahl_freight(0.1)


def strahl_freight_fast(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Fast goods trains: as `strahl_freight_mixed` with 0.04. [Strahl1913], from memory."""
    return _strahl_freight(0.04)


def strahl_locomotive(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Engine and tender without the motion: 2.5 kg per tonne and 0.6 F (V/10)² kg, V km/h, F m² (10 usual).

    The coupled axles have their own, greater figure in `machine_friction.strahl_1913`, which contains
    their 2.5. [Strahl1913], from memory.
    """
    tonnes = axle_load * axles / 1000
    return _german(2.5, 0.0, 0.6 * frontal_area / 100 / tonnes)


def erfurt(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Whole train with its engine: 2.4 + V²/1300 kg per tonne, V km/h. [GermanRules], from memory."""
    return _german(2.4, 0.0, 1 / 1300)


def von_borries_leitzmann(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Coaches: 1.5 + 0.012 V + 0.0003 V² kg per tonne, V km/h. [GermanRules], from memory."""
    return _german(1.5, 0.012, 0.0003)


def barbier_two_axle(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Two-axle coaches: 1.6 + 0.46 V (V + 50)/1000 kg per tonne, V km/h. [GermanRules], from memory."""
    return _german(1.6, 0.46 * 50 / 1000, 0.46 / 1000)


def barbier_four_axle(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Bogie coaches: 1.6 + 0.456 V (V + 10)/1000 kg per tonne, V km/h. [GermanRules], from memory."""
    return _german(1.6, 0.456 * 10 / 1000, 0.456 / 1000)


def sanzin_four_axle(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Bogie coaches: 1.6 + 0.0184 V + 0.00046 V² kg per tonne, V km/h. [GermanRules], memory, doubtful."""
    return _german(1.6, 0.0184, 0.00046)


def cole_1914_locomotive(*, axle_load: Real, axles: Real, frontal_area: Real) -> Coefficients:
    """Head air resistance of the engine: 0.002 A V² lb, V mile/h, and nothing for its axles.

    The driving axles are in `machine_friction.cole_1914`; carrying axles and tender run as cars by another
    law. [Cole1914], from memory.
    """
    _, wn, A = _weights(axle_load, axles, frontal_area)
    return _american(0.0, 0.0, 0.002 * A / wn)


def aspinall_passenger(*, speed: Real, train_length: Real) -> Real:
    """Running resistance per mass of passenger trains; not quadratic, so not among `LAWS`.

    Args:
        speed: Speed [m/s].
        train_length: Length over the coach bodies [m].

    Returns:
        Resistance per mass [N/kg].

    References:
        [Henderson1907]: 2.5 + V^(5/3)/(50.8 + 0.0278 L) lb per long ton, L ft; the exponent from memory.
    """
    fall = 50.8 + 0.0278 * train_length / FOOT
    return POUND_FORCE / LONG_TON * (2.5 + (speed / MPH) ** (5 / 3) / fall)


LAWS: dict[str, Law] = {
    law.__name__: law
    for law in (
        davis_1926_locomotive,
        davis_1926_freight,
        davis_1926_passenger,
        modified_1970,
        modified_1970_containers,
        modified_1970_trailers,
        aar_rp548,
        canadian_national_locomotive,
        canadian_national_box,
        canadian_national_gondola_loaded,
        canadian_national_gondola_empty,
        canadian_national_tank,
        canadian_national_passenger,
        schmidt_1910,
        shurtleff_1907,
        wellington_1880,
        dennis_1910,
        army_good_track,
        army_poor_track,
        engineering_news,
        baldwin,
        clark_1855,
        molesworth,
        harding,
        launhardt_1888,
        frank_passenger_locomotive,
        frank_passenger_coaches,
        frank_goods_locomotive,
        frank_goods_wagons,
        strahl_express_coaches,
        strahl_ordinary_coaches,
        strahl_freight_mixed,
        strahl_freight_full_open,
        strahl_freight_empty_open,
        strahl_freight_fast,
        strahl_locomotive,
        erfurt,
        von_borries_leitzmann,
        barbier_two_axle,
        barbier_four_axle,
        sanzin_four_axle,
        cole_1914_locomotive,
    )
}

RANGES: dict[str, Range] = {
    "davis_1926_locomotive": Range(axle_load_least=5 * SHORT_TON),  # from memory
    "davis_1926_freight": Range(axle_load_least=5 * SHORT_TON),  # from memory
    "davis_1926_passenger": Range(axle_load_least=5 * SHORT_TON),  # from memory
    "schmidt_1910": Range(mass_least=15 * SHORT_TON, mass_most=75 * SHORT_TON, speed_most=40 * MPH),
}
