"""Laws of running resistance from British, German and French practice; `laws.LAWS` lists them.

Arguments are those of `laws.ResistanceLaw`. V is the speed in mile/h or km/h, v in m/s; each law names its unit.
"""

from __future__ import annotations

from locosim.constants import FOOT, GRAVITY, LONG_TON
from locosim.physics.resistance.form import Coefficients, british, german


def clark_1855(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Engine, tender and train together: 8 + V²/171 lb per long ton, V mile/h. [Bourne1865] Q. 499."""
    return british(8.0, 0.0, 1 / 171)


def molesworth(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Whole train, calm, level, straight: 6 + 0.009 V² lb per long ton, V mile/h. [Molesworth1882] p. 223."""
    return british(6.0, 0.0, 0.009)


def harding(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Whole train: 6 + 0.33 V + 0.0025 V² A/T lb per long ton, V mile/h, A sq ft, T long tons.

    [Molesworth1882] p. 222, which calls it too high at low speed. Area and mass are those of the train.
    """
    T = axle_load * axles / LONG_TON
    return british(6.0, 0.33, 0.0025 * frontal_area / FOOT**2 / T)


def launhardt_1888(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Whole train with an average wind of 1 m/s: 0.0028 + 0.000016 v² kg/kg, v m/s. [Launhardt1888] p. 36."""
    return Coefficients(0.0028 * GRAVITY, 0.0, 0.000016 * GRAVITY)


def frank_passenger_locomotive(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Passenger locomotive and tender of L kg: 0.003306 + 31/L + 1.038/L v² kg/kg, v m/s. [Launhardt1888] p. 31."""
    L = axle_load * axles
    return Coefficients((0.003306 + 31 / L) * GRAVITY, 0.0, 1.038 / L * GRAVITY)


def frank_passenger_cars(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Passenger cars behind their locomotive: 0.00258 + 0.0000072 v² kg/kg, v m/s. [Launhardt1888] p. 31."""
    return Coefficients(0.00258 * GRAVITY, 0.0, 0.0000072 * GRAVITY)


def frank_freight_locomotive(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Freight locomotive and tender of L kg: 0.003952 + 52/L + 1.149/L v² kg/kg, v m/s. [Launhardt1888] p. 33.

    1.149 is as printed; its factors, 0.1274 times 9.1, give 1.159.
    """
    L = axle_load * axles
    return Coefficients((0.003952 + 52 / L) * GRAVITY, 0.0, 1.149 / L * GRAVITY)


def frank_freight_cars(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Freight cars behind their locomotive: 0.0026 + 0.0000078 v² kg/kg, v m/s. [Launhardt1888] p. 33."""
    return Coefficients(0.0026 * GRAVITY, 0.0, 0.0000078 * GRAVITY)


def strahl_express_cars(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Express passenger cars: 2.5 + V²/4000 kg per tonne, V km/h. [Strahl1913], from memory."""
    return german(2.5, 0.0, 1 / 4000)


def strahl_passenger_cars(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Ordinary passenger cars: 2.5 + V²/3000 kg per tonne, V km/h. [Strahl1913], from memory."""
    return german(2.5, 0.0, 1 / 3000)


def _strahl_freight(m: float) -> Coefficients:
    return german(2.0, 0.0, (0.007 + m) / 100)


def strahl_freight_mixed(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Mixed freight trains: 2.0 + (0.007 + 0.05)(V/10)² kg per tonne, V km/h. [Strahl1913], from memory."""
    return _strahl_freight(0.05)


def strahl_freight_loaded_gondolas(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Loaded gondolas: as `strahl_freight_mixed` with 0.032. [Strahl1913], from memory."""
    return _strahl_freight(0.032)


def strahl_freight_empty_gondolas(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Empty gondolas: as `strahl_freight_mixed` with 0.1. [Strahl1913], from memory."""
    return _strahl_freight(0.1)


def strahl_freight_fast(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Fast freight trains: as `strahl_freight_mixed` with 0.04. [Strahl1913], from memory."""
    return _strahl_freight(0.04)


def strahl_locomotive(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Locomotive and tender without machine friction: 2.5 kg per tonne and 0.6 F (V/10)² kg, V km/h, F m² (10 usual).

    The source gives the coupled axles a larger figure of their own. [Strahl1913], from memory.
    """
    tonnes = axle_load * axles / 1000
    return german(2.5, 0.0, 0.6 * frontal_area / 100 / tonnes)


def erfurt(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Whole train with its locomotive: 2.4 + V²/1300 kg per tonne, V km/h. [GermanRules], from memory."""
    return german(2.4, 0.0, 1 / 1300)


def von_borries_leitzmann(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Passenger cars: 1.5 + 0.012 V + 0.0003 V² kg per tonne, V km/h. [GermanRules], from memory."""
    return german(1.5, 0.012, 0.0003)


def barbier_two_axle(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Two-axle passenger cars: 1.6 + 0.46 V (V + 50)/1000 kg per tonne, V km/h. [GermanRules], from memory."""
    return german(1.6, 0.46 * 50 / 1000, 0.46 / 1000)


def barbier_four_axle(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Four-axle passenger cars: 1.6 + 0.456 V (V + 10)/1000 kg per tonne, V km/h. [GermanRules], from memory."""
    return german(1.6, 0.456 * 10 / 1000, 0.456 / 1000)


def sanzin_four_axle(*, axle_load: float, axles: float, frontal_area: float) -> Coefficients:
    """Four-axle passenger cars: 1.6 + 0.0184 V + 0.00046 V² kg per tonne. [GermanRules], from memory, doubtful."""
    return german(1.6, 0.0184, 0.00046)
