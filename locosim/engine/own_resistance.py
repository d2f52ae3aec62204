"""Resistance of the engine itself: machine friction, and running resistance of engine and tender."""

from __future__ import annotations

from locosim.constants import WATER_DENSITY
from locosim.model import Assumptions, Locomotive
from locosim.physics.resistance.laws import LAWS


def machine_friction_at_no_effort(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> float:
    """Machine friction of all engine units without steam, at the rim [N]: weight on drivers by type of axle bearing.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures; `machine_friction_plain` and `machine_friction_roller` apply.
    """
    per_mass = {"plain": assumptions.machine_friction_plain, "roller": assumptions.machine_friction_roller}
    return sum(per_mass[unit.axle_bearing] * unit.mass_on_drivers for unit in locomotive.engine_units)


def engine_resistance_coefficients(locomotive: Locomotive, tender_load: float) -> tuple[float, float, float]:
    """Running resistance of engine and tender, as a + b v + c v² in newtons.

    Machine friction includes the running resistance of the driving wheels, so the law of
    [Davis1926] for locomotives applies to the carrying axles and the tender, and its air term to the engine
    as a whole. A measured resistance of the carrying axles replaces all but that air term.

    Args:
        locomotive: The engine with its tender.
        tender_load: Water and fuel on the tender [kg].

    Returns:
        Coefficients in N, N/(m/s) and N/(m/s)².
    """
    tender = locomotive.tender
    carried_mass = max(locomotive.mass - locomotive.mass_on_drivers + tender.empty_mass + tender_load, 1.0)
    axles = max(locomotive.truck_axles + tender.axles, 1)
    a, b, c = LAWS["davis_1926_locomotive"](
        axle_load=carried_mass / axles, axles=axles, frontal_area=locomotive.frontal_area
    )
    own = locomotive.carrying_resistance
    if own is not None:
        a, b, c = own.a, own.b, own.c + c  # what the law has in v² is the air
    return float(a * carried_mass), float(b * carried_mass), float(c * carried_mass)


def full_tender_load(locomotive: Locomotive) -> float:
    """Water and fuel on a full tender [kg]."""
    return WATER_DENSITY * locomotive.tender.water_capacity + locomotive.tender.fuel_capacity


def engine_resistance_at_speed(locomotive: Locomotive, speed: float) -> float:
    """Running resistance of engine and full tender on straight level track [N].

    Args:
        locomotive: The engine with its tender.
        speed: Train speed [m/s].
    """
    a, b, c = engine_resistance_coefficients(locomotive, full_tender_load(locomotive))
    return a + b * speed + c * speed**2
