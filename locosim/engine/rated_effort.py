"""Rated tractive effort of a locomotive, for any arrangement of cylinders."""

from __future__ import annotations

from locosim.constants import GRAVITY
from locosim.errors import OutOfRange
from locosim.model import Cylinders, EngineUnit, Locomotive
from locosim.physics.traction.compound import (
    baldwin_cross_compound,
    baldwin_four_cylinder_compound,
    johnson_mallet,
)
from locosim.physics.traction.tractive_effort import rated_tractive_effort


def unit_efforts(locomotive: Locomotive) -> tuple[float, ...]:
    """Rated tractive effort of each engine unit [N].

    Simple engines by [Baldwin13] with the engine's own coefficient. A compound with both stages on the same
    wheels by [BaldwinRules], one with the stages on two engine units by [Johnson1942], shared evenly between
    the units.

    Args:
        locomotive: The engine.

    Raises:
        OutOfRange: A compound that no published rule rates.
    """
    if locomotive.compound:
        found = _compound_efforts(locomotive)
        if found is None:
            high, low = _high_and_low_sets(locomotive)
            raise OutOfRange(
                f"no published rule rates {high.number} high- and {low.number} low-pressure cylinders on one set of "
                "wheels, and the handbook method needs the rated tractive effort; write method = 'cycle'"
            )
        return found
    pressure = locomotive.boiler.working_pressure_gauge
    return tuple(
        sum(
            float(
                rated_tractive_effort(
                    gauge_pressure=pressure,
                    bore=c.bore,
                    stroke=c.stroke,
                    driver_diameter=unit.driver_diameter,
                    cylinders=c.number,
                    coefficient=locomotive.tractive_effort_factor,
                )
            )
            for c in unit.cylinders
        )
        for unit in locomotive.engine_units
    )


def rated_effort(locomotive: Locomotive) -> float | None:
    """Rated tractive effort of all engine units together [N]; None where no published rule rates the engine.

    Args:
        locomotive: The engine.
    """
    if locomotive.compound and _compound_efforts(locomotive) is None:
        return None
    return sum(unit_efforts(locomotive))


def factor_of_adhesion(locomotive: Locomotive) -> float | None:
    """Weight on drivers over rated tractive effort [1]; None where no published rule rates the engine.

    Args:
        locomotive: The engine.
    """
    rated = rated_effort(locomotive)
    return None if rated is None else locomotive.mass_on_drivers * GRAVITY / rated


def _high_and_low_sets(locomotive: Locomotive) -> tuple[Cylinders, Cylinders]:
    """High- and low-pressure cylinders of a compound."""
    return _single_set(locomotive.engine_units, "boiler"), _single_set(locomotive.engine_units, "receiver")


def _compound_efforts(locomotive: Locomotive) -> tuple[float, ...] | None:
    """Rated tractive effort of each unit by the rule for its arrangement [N]; None where there is no rule."""
    pressure = locomotive.boiler.working_pressure_gauge
    units = locomotive.engine_units
    high, low = _high_and_low_sets(locomotive)
    ratio = (low.bore / high.bore) ** 2 * low.stroke / high.stroke * low.number / high.number
    if len(units) == 2:
        wheel = units[1].driver_diameter
        together = johnson_mallet(
            gauge_pressure=pressure,
            low_pressure_bore=low.bore,
            stroke=low.stroke,
            driver_diameter=wheel,
            volume_ratio=ratio,
        )
        return (0.5 * float(together), 0.5 * float(together))
    wheel = units[0].driver_diameter
    if high.number == low.number == 1:
        effort = baldwin_cross_compound(
            gauge_pressure=pressure, high_pressure_bore=high.bore, stroke=high.stroke, driver_diameter=wheel
        )
    elif high.number == low.number == 2:
        effort = baldwin_four_cylinder_compound(
            gauge_pressure=pressure,
            high_pressure_bore=high.bore,
            low_pressure_bore=low.bore,
            stroke=high.stroke,
            driver_diameter=wheel,
        )
    else:
        return None
    return (float(effort),)


def _single_set(units: tuple[EngineUnit, ...], steam_source: str) -> Cylinders:
    """The one set of cylinders with this steam source."""
    return next(c for unit in units for c in unit.cylinders if c.steam_source == steam_source)
