"""Engines that the handbook method was not made for."""

from __future__ import annotations

from locosim.constants import PSI
from locosim.engine.si_text import format_pressure
from locosim.model import Locomotive, PoppetGear

# The tables of [Cole1914] are averages over engines of their time. What an engine of that time did not exceed is common
# practice, no source.
MAX_PRESSURE = 215.0 * PSI  # working pressure, gauge [Pa]
MAX_SUPERHEATER_SHARE = 0.32  # superheater over evaporative surface of tubes and flues
MAX_VALVE_TRAVEL = 0.178  # 7 in [m]


def method_cautions(locomotive: Locomotive, method: str) -> tuple[str, ...]:
    """One caution where the handbook method is used for an engine later than its tables; none otherwise.

    Args:
        locomotive: The engine.
        method: `cycle` or `handbook`.
    """
    reasons = _reasons(locomotive) if method == "handbook" else []
    if not reasons:
        return ()
    return (
        "caution: the tables of the handbook method end with engines of about 1914, and this engine is later: "
        f"{', '.join(reasons)}; expect more power and less steam than computed, and use method = 'cycle'",
    )


def _reasons(locomotive: Locomotive) -> list[str]:
    """What tells that an engine is later than the tables."""
    boiler = locomotive.boiler
    reasons = []
    if boiler.working_pressure_gauge > MAX_PRESSURE:
        reasons.append(f"working pressure above {format_pressure(MAX_PRESSURE)}")
    if boiler.superheater_heating_surface > MAX_SUPERHEATER_SHARE * boiler.tube_heating_surface:
        reasons.append(f"superheater above {MAX_SUPERHEATER_SHARE:g} of the tube surface")
    gears = [unit.gear_of(cylinders) for unit in locomotive.engine_units for cylinders in unit.cylinders]
    if any(isinstance(gear, PoppetGear) for gear in gears):
        reasons.append("poppet gear")
    if any(gear.travel > MAX_VALVE_TRAVEL for gear in gears if gear and not isinstance(gear, PoppetGear)):
        reasons.append("valve travel above 178 mm (7 in)")
    return reasons
