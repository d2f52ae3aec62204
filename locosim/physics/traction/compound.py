"""Rated tractive effort of compound engines, by the rules of their builders."""

from __future__ import annotations

from locosim.physics.types import Real


def baldwin_four_cylinder_compound(
    *,
    gauge_pressure: Real,
    high_pressure_bore: Real,
    low_pressure_bore: Real,
    stroke: Real,
    driver_diameter: Real,
) -> Real:
    """Rated tractive effort of a compound engine with two high- and two low-pressure cylinders.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        high_pressure_bore: Diameter of a high-pressure cylinder [m].
        low_pressure_bore: Diameter of a low-pressure cylinder [m].
        stroke: Travel of the pistons [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].

    Returns:
        Rated tractive effort at the rim [N].

    References:
        [BaldwinRules], from memory: T = (2/3 d_h² + 1/4 d_l²) P s / D.
    """
    return (
        (2 / 3 * high_pressure_bore**2 + low_pressure_bore**2 / 4) * gauge_pressure * stroke / driver_diameter
    )


def baldwin_cross_compound(
    *, gauge_pressure: Real, high_pressure_bore: Real, stroke: Real, driver_diameter: Real
) -> Real:
    """Rated tractive effort of a cross compound: one high- and one low-pressure cylinder.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        high_pressure_bore: Diameter of the high-pressure cylinder [m].
        stroke: Travel of the pistons [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].

    Returns:
        Rated tractive effort at the rim [N].

    References:
        [BaldwinRules], from memory: T = 2/3 d_h² P s / D.
    """
    return 2 / 3 * high_pressure_bore**2 * gauge_pressure * stroke / driver_diameter


def johnson_two_cylinder_compound(
    *, gauge_pressure: Real, low_pressure_bore: Real, stroke: Real, driver_diameter: Real, volume_ratio: Real
) -> Real:
    """Rated tractive effort of a two-cylinder compound engine, by its low-pressure cylinder.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        low_pressure_bore: Diameter of the low-pressure cylinder [m].
        stroke: Travel of the pistons [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        volume_ratio: Low-pressure over high-pressure cylinder volume, above 1 [1].

    Returns:
        Rated tractive effort at the rim [N].

    References:
        [Johnson1942], from memory: T = 0.85 P d_l² s / ((R + 1) D).
    """
    return 0.85 * gauge_pressure * low_pressure_bore**2 * stroke / ((volume_ratio + 1) * driver_diameter)


def johnson_mallet(
    *, gauge_pressure: Real, low_pressure_bore: Real, stroke: Real, driver_diameter: Real, volume_ratio: Real
) -> Real:
    """Rated tractive effort, worked compound, of a four-cylinder Mallet.

    Started simple, the tractive effort is about 1.2 times as much.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        low_pressure_bore: Diameter of a low-pressure cylinder [m].
        stroke: Travel of the pistons [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        volume_ratio: Low-pressure over high-pressure cylinder volume, above 1 [1].

    Returns:
        Rated tractive effort at the rim of both engine units together [N].

    References:
        [Johnson1942], from memory: T = 1.7 P d_l² s / ((R + 1) D).
    """
    return 1.7 * gauge_pressure * low_pressure_bore**2 * stroke / ((volume_ratio + 1) * driver_diameter)


def phillipson_receiver_pressure(*, gauge_pressure: Real, area_ratio: Real) -> Real:
    """Effective receiver pressure of a compound engine.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        area_ratio: High-pressure over low-pressure piston area, below 1 [1].

    Returns:
        Gauge pressure [Pa].

    References:
        [Phillipson1936]: p = 0.8 P / (R + 1).
    """
    return 0.8 * gauge_pressure / (area_ratio + 1)


def phillipson_four_cylinder_compound(
    *, receiver_pressure: Real, low_pressure_bore: Real, stroke: Real, driver_diameter: Real, area_ratio: Real
) -> Real:
    """Tractive effort of a four-cylinder compound engine from its receiver pressure.

    Args:
        receiver_pressure: Gauge pressure from `phillipson_receiver_pressure` [Pa].
        low_pressure_bore: Diameter of a low-pressure cylinder [m].
        stroke: Travel of the pistons [m].
        driver_diameter: Diameter of the driving wheels at the tread [m].
        area_ratio: High-pressure over low-pressure piston area, below 1 [1].

    Returns:
        Tractive effort at the rim [N].

    References:
        [Phillipson1936]: T = 2 d_l² s p / ((R + 1) D).
    """
    return 2 * receiver_pressure * low_pressure_bore**2 * stroke / ((area_ratio + 1) * driver_diameter)
