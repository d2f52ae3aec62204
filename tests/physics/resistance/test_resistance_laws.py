"""Resistance laws against a second transcription in customary units, converted by pint."""

from __future__ import annotations

import numpy as np
import pint
import pytest

from locosim.physics.resistance import laws as resistance
from locosim.physics.resistance.form import Coefficients

ureg = pint.UnitRegistry()
US = ureg.lbf / ureg.short_ton
UK = ureg.lbf / ureg.long_ton
KG = ureg.kgf / ureg.metric_ton
MPH = ureg.mile / ureg.hour
KMH = ureg.kilometer / ureg.hour
MS = ureg.meter / ureg.second


# A vehicle of four axles, 80 short tons, 100 square feet; each law as printed.
w, n, A, wn, wn_long, t = 20.0, 4, 100.0, 80.0, 80 / 1.12, 80 * 0.90718474
kg, m2 = t * 1000, 100 * 0.3048**2


AS_WRITTEN = {
    "davis_1926_locomotive": (US, MPH, lambda V: 1.3 + 29 / w + 0.03 * V + 0.0024 * A * V**2 / (w * n)),
    "davis_1926_freight": (US, MPH, lambda V: 1.3 + 29 / w + 0.045 * V + 0.0005 * A * V**2 / (w * n)),
    "davis_1926_passenger": (US, MPH, lambda V: 1.3 + 29 / w + 0.03 * V + 0.00034 * A * V**2 / (w * n)),
    "modified_1970": (US, MPH, lambda V: 0.6 + 20 / w + 0.01 * V + 0.07 * V**2 / (w * n)),
    "modified_1970_containers": (US, MPH, lambda V: 0.6 + 20 / w + 0.01 * V + 0.0935 * V**2 / (w * n)),
    "modified_1970_trailers": (US, MPH, lambda V: 0.6 + 20 / w + 0.01 * V + 0.16 * V**2 / (w * n)),
    "aar_rp548": (US, MPH, lambda V: 1.3 + 72.5 / wn + 0.015 * V + 0.055 * V**2 / wn),
    "canadian_national_locomotive": (US, MPH, lambda V: 1.5 + 18 / w + 0.03 * V + 24 * A * V**2 / 1e4 / wn),
    "canadian_national_box": (US, MPH, lambda V: 1.5 + 18 / w + 0.03 * V + 4.9 * A * V**2 / 1e4 / wn),
    "canadian_national_gondola_loaded": (
        US,
        MPH,
        lambda V: 1.5 + 18 / w + 0.03 * V + 4.2 * A * V**2 / 1e4 / wn,
    ),
    "canadian_national_gondola_empty": (
        US,
        MPH,
        lambda V: 1.5 + 18 / w + 0.03 * V + 12 * A * V**2 / 1e4 / wn,
    ),
    "canadian_national_tank": (US, MPH, lambda V: 1.5 + 18 / w + 0.03 * V + 5.5 * A * V**2 / 1e4 / wn),
    "canadian_national_passenger": (US, MPH, lambda V: 1.5 + 18 / w + 0.03 * V + 3.5 * A * V**2 / 1e4 / wn),
    "schmidt_1910": (US, MPH, lambda V: 2.87 + 0.019 * V + 0.00113 * V**2),
    "shurtleff_1907": (US, MPH, lambda V: 1 + 90 / wn),
    "wellington_1880": (US, MPH, lambda V: 6.0),
    "dennis_1910": (US, MPH, lambda V: 4.7),
    "army_good_track": (US, MPH, lambda V: 6.0),
    "army_poor_track": (US, MPH, lambda V: 7.0),
    "engineering_news": (US, MPH, lambda V: 2 + V / 4),
    "baldwin": (US, MPH, lambda V: 3 + V / 6),
    "cole_1914_locomotive": (US, MPH, lambda V: 0.002 * A * V**2 / wn),
    "clark_1855": (UK, MPH, lambda V: 8 + V**2 / 171),
    "molesworth": (UK, MPH, lambda V: 6 + 0.009 * V**2),
    "harding": (UK, MPH, lambda V: 6 + 0.33 * V + 0.0025 * V**2 * A / wn_long),
    "launhardt_1888": (KG, MS, lambda v: 1000 * (0.0028 + 0.000016 * v**2)),
    "frank_passenger_locomotive": (KG, MS, lambda v: (0.003306 * kg + 1.038 * v**2 + 31) / t),
    "frank_passenger_cars": (KG, MS, lambda v: (0.00258 * kg + 0.0000072 * kg * v**2) / t),
    "frank_freight_locomotive": (KG, MS, lambda v: (0.003952 * kg + 1.149 * v**2 + 52) / t),
    "frank_freight_cars": (KG, MS, lambda v: (0.0026 * kg + 0.0000078 * kg * v**2) / t),
    "strahl_express_cars": (KG, KMH, lambda V: 2.5 + V**2 / 4000),
    "strahl_passenger_cars": (KG, KMH, lambda V: 2.5 + V**2 / 3000),
    "strahl_freight_mixed": (KG, KMH, lambda V: 2 + (0.007 + 0.05) * (V / 10) ** 2),
    "strahl_freight_loaded_gondolas": (KG, KMH, lambda V: 2 + (0.007 + 0.032) * (V / 10) ** 2),
    "strahl_freight_empty_gondolas": (KG, KMH, lambda V: 2 + (0.007 + 0.1) * (V / 10) ** 2),
    "strahl_freight_fast": (KG, KMH, lambda V: 2 + (0.007 + 0.04) * (V / 10) ** 2),
    "strahl_locomotive": (KG, KMH, lambda V: 2.5 + 0.6 * m2 * (V / 10) ** 2 / t),
    "erfurt": (KG, KMH, lambda V: 2.4 + V**2 / 1300),
    "von_borries_leitzmann": (KG, KMH, lambda V: 1.5 + 0.012 * V + 0.0003 * V**2),
    "barbier_two_axle": (KG, KMH, lambda V: 1.6 + 0.46 * V * (V + 50) / 1000),
    "barbier_four_axle": (KG, KMH, lambda V: 1.6 + 0.456 * V * (V + 10) / 1000),
    "sanzin_four_axle": (KG, KMH, lambda V: 1.6 + 0.0184 * V + 0.00046 * V**2),
}

vehicle = {
    "axle_load": (w * ureg.short_ton).to("kg").magnitude,
    "axles": n,
    "frontal_area": (A * ureg.foot**2).to("m^2").magnitude,
}


def test_every_law_is_checked() -> None:
    assert set(AS_WRITTEN) == set(resistance.LAWS)


@pytest.mark.parametrize("name", sorted(AS_WRITTEN))
def test_law_as_printed(name: str) -> None:
    unit, speed_unit, written = AS_WRITTEN[name]
    for V in (0.0, 12.0, 35.0, 60.0):
        found = resistance.specific_resistance(
            law=resistance.LAWS[name], speed=(V * speed_unit).to("m/s").magnitude, **vehicle
        )
        assert found == pytest.approx((written(V) * unit).to("N/kg").magnitude, rel=1e-12)


@pytest.mark.parametrize("name", sorted(resistance.LAWS))
def test_no_law_is_negative_or_falls_with_speed(name: str) -> None:
    speeds = np.linspace(0, 45, 46)
    found = resistance.specific_resistance(law=resistance.LAWS[name], speed=speeds, **vehicle)
    found = found + np.zeros_like(speeds)
    assert np.all(found >= 0)
    assert np.all(np.diff(found) >= 0)


def test_schmidt_interpolates_between_rows_and_is_constant_beyond() -> None:
    def at(tons: float) -> Coefficients:
        load = (tons / 4 * ureg.short_ton).to("kg").magnitude
        return resistance.LAWS["schmidt_1910"](axle_load=load, axles=4, frontal_area=8.0)

    assert at(42.5).a == pytest.approx((at(40).a + at(45).a) / 2)
    assert list(at(5)) == pytest.approx(list(at(15)), rel=1e-12)
    assert list(at(120)) == pytest.approx(list(at(75)), rel=1e-12)


def test_air_density_scales_only_the_quadratic_term() -> None:
    assert resistance.with_air_density(Coefficients(1.0, 2.0, 3.0), density_ratio=0.8) == (
        1.0,
        2.0,
        pytest.approx(2.4),
    )


def test_published_ranges() -> None:
    """[Schmidt1910]: 15 to 75 short tons, to 40 mile/h; [Davis1926] from 5 short tons an axle: from memory."""
    ton = 907.18474
    schmidt = resistance.PUBLISHED_RANGES["schmidt_1910"]
    assert (schmidt.min_mass / ton, schmidt.max_mass / ton) == pytest.approx((15, 75))
    assert schmidt.max_published_speed == pytest.approx(40 * 0.44704)
    for name in ("davis_1926_locomotive", "davis_1926_freight", "davis_1926_passenger"):
        assert resistance.PUBLISHED_RANGES[name] == resistance.PublishedRange(
            min_axle_load=pytest.approx(5 * ton)
        )
    assert resistance.PublishedRange() == (0.0, 0.0, np.inf, np.inf)
    assert pytest.approx(12 / 3.6) == resistance.SIDE_WIND_ALLOWANCE
