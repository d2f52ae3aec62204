"""Rated tractive effort of compound engines, by the rules of their builders."""

from __future__ import annotations


def baldwin_four_cylinder_compound(
    *,
    gauge_pressure: float,
    high_pressure_bore: float,
    low_pressure_bore: float,
    stroke: float,
    driver_diameter: float,
) -> float:
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
    *, gauge_pressure: float, high_pressure_bore: float, stroke: float, driver_diameter: float
) -> float:
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


def johnson_mallet(
    *,
    gauge_pressure: float,
    low_pressure_bore: float,
    stroke: float,
    driver_diameter: float,
    volume_ratio: float,
) -> float:
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
