"""Plausibility check: inputs far outside what was built, each valid by itself and probably a mistake.

The ranges are wide on purpose: common practice, no source. They limit nothing. They appear in notes, and in messages
where an engine cannot be computed, so that the message names the input at fault rather than where it shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields

from locosim.constants import PSI
from locosim.engine.si_text import format_area
from locosim.errors import NoSolution
from locosim.frozen import frozen
from locosim.model import Auxiliaries, EngineUnit, Locomotive

AUXILIARY_SHARE = 0.10  # of the sustained evaporation; auxiliaries above it get a note
LIGHT_ENGINE_MASS = 20e3  # [kg]; the default frontal area is that of a much heavier engine
# Auxiliaries with a continuous steam demand.
CONTINUOUS_AUXILIARIES = ("air_compressor_steam", "dynamo", "train_heat", "stoker")


@frozen
class PlausibleRange:
    """An input, or a ratio of two, with its usual range.

    Attributes:
        key: Key in the engine file, or an expression of keys.
        value: The engine's own value; None where not given.
        low: Low end of the usual range.
        high: High end of the usual range.
        unit: Unit of all three; empty for ratios.
        display_unit: SI value of the unit shown in parentheses, and its name.
    """

    key: str
    value: float | None
    low: float
    high: float
    unit: str = ""
    display_unit: tuple[float, str] | None = None

    @property
    def implausible(self) -> bool:
        """Whether the value is given and outside the range."""
        return self.value is not None and not self.low <= self.value <= self.high

    @property
    def text(self) -> str:
        """The value and its usual range."""
        assert self.value is not None
        return f"{self.key} {self._format(self.value)}, usually {self._format(self.low)} to {self._format(self.high)}"

    def _format(self, value: float) -> str:
        beside = (
            ""
            if self.display_unit is None
            else f" ({value / self.display_unit[0]:.3g} {self.display_unit[1]})"
        )
        shown = f"{value:,.0f}" if value >= 1000.0 else f"{value:.3g}"
        return f"{shown} {self.unit}".rstrip() + beside


def implausible_inputs(locomotive: Locomotive) -> tuple[str, ...]:
    """Inputs far outside what was built, each with its usual range.

    Args:
        locomotive: The engine.

    Returns:
        One text per input; none where all are plausible.
    """
    ranges = [*_boiler_ranges(locomotive), *_steam_passage_ranges(locomotive)]
    for number, unit in enumerate(locomotive.engine_units, start=1):
        ranges += _unit_ranges(unit, f"engine_units[{number}]")
    return tuple(each.text for each in ranges if each.implausible)


def _boiler_ranges(locomotive: Locomotive) -> list[PlausibleRange]:
    boiler = locomotive.boiler
    grate = boiler.grate_area
    fed = [(c.number * c.swept_volume, c) for unit in locomotive.engine_units for c in unit.cylinders]
    volume = sum(swept for swept, cylinders in fed if cylinders.steam_source == "boiler")
    tubes = boiler.tube_heating_surface
    elements = None if boiler.superheater is None else boiler.superheater_heating_surface / tubes
    return [
        PlausibleRange(
            key="boiler.working_pressure_gauge", value=boiler.working_pressure_gauge, low=4e5, high=2.5e6,
            unit="Pa", display_unit=(PSI, "psi"),
        ),
        PlausibleRange(
            key="boiler.firebox_surface / boiler.grate_area", value=boiler.firebox_surface / grate, low=1.5, high=15
        ),
        PlausibleRange(
            key="boiler.tube_surface / boiler.grate_area", value=tubes / grate, low=12, high=130
        ),
        PlausibleRange(key="boiler.superheater.surface / boiler.tube_surface", value=elements, low=0.05, high=0.9),
        PlausibleRange(
            key="volume of the cylinders by bore and stroke / boiler.grate_area", value=volume / grate,
            low=0.01, high=0.4, unit="m",
        ),
    ]  # fmt: skip


def _steam_passage_ranges(locomotive: Locomotive) -> list[PlausibleRange]:
    passages = locomotive.steam_passages
    nozzle = None if passages.nozzle_area is None else passages.nozzle_area / locomotive.boiler.grate_area
    coefficient = "W/m^2/K"
    return [
        PlausibleRange(key="steam_passages.nozzle_area / boiler.grate_area", value=nozzle, low=0.001, high=0.02),
        PlausibleRange(
            key="steam_passages.max_back_pressure", value=passages.max_back_pressure, low=2e4, high=2e5, unit="Pa",
            display_unit=(PSI, "psi"),
        ),
        PlausibleRange(key="steam_passages.leakage_area_ratio", value=passages.leakage_area_ratio, low=0.0, high=1e-3),
        PlausibleRange(
            key="steam_passages.wet_wall_heat_transfer", value=passages.wet_wall_heat_transfer, low=2e3, high=4e4,
            unit=coefficient,
        ),
        PlausibleRange(
            key="steam_passages.dry_wall_heat_transfer", value=passages.dry_wall_heat_transfer, low=50, high=2000,
            unit=coefficient,
        ),
        PlausibleRange(
            key="steam_passages.admission_discharge_coefficient", value=passages.admission_discharge_coefficient,
            low=0.3, high=1.0,
        ),
        PlausibleRange(
            key="steam_passages.exhaust_discharge_coefficient", value=passages.exhaust_discharge_coefficient,
            low=0.3, high=1.0,
        ),
    ]  # fmt: skip


def _unit_ranges(unit: EngineUnit, at: str) -> list[PlausibleRange]:
    found = [
        PlausibleRange(key=f"{at}.cylinders[{number}].clearance", value=each.clearance, low=0.03, high=0.25)
        for number, each in enumerate(unit.cylinders, start=1)
    ]
    gear, first = unit.valve_gear, unit.cylinders[0]
    if gear is None:
        return found
    wide = None if gear.port_width is None else gear.port_width / first.stroke
    long = None if gear.port_length is None else gear.port_length / first.bore
    return [
        *found,
        PlausibleRange(
            key=f"{at}.valve_gear.lap / stroke", value=gear.lap / first.stroke, low=0.015, high=0.1
        ),
        PlausibleRange(
            key=f"{at}.valve_gear.lead / stroke", value=gear.lead / first.stroke, low=0.0, high=0.03
        ),
        PlausibleRange(
            key=f"{at}.valve_gear.lead_mid_gear / stroke",
            value=None if gear.lead_mid_gear is None else gear.lead_mid_gear / first.stroke,
            low=0.0,
            high=0.04,
        ),
        PlausibleRange(
            key=f"{at}.valve_gear.exhaust_lap / lap", value=gear.exhaust_lap / gear.lap, low=-0.8, high=0.8
        ),
        PlausibleRange(key=f"{at}.valve_gear.port_width / stroke", value=wide, low=0.03, high=0.15),
        PlausibleRange(key=f"{at}.valve_gear.port_length / bore", value=long, low=0.4, high=3.5),
    ]


@contextmanager
def naming_implausible_inputs(locomotive: Locomotive) -> Iterator[None]:
    """Context in which a failed computation names the implausible inputs of an engine.

    Args:
        locomotive: The engine computed within.

    Raises:
        NoSolution: With the implausible inputs in place of the general remedy, where there are any.
    """
    try:
        yield
    except NoSolution as fault:
        implausible = implausible_inputs(locomotive)
        if not implausible:
            raise
        raise NoSolution(
            fault.what, f"far outside what was built, and likely the cause: {'; '.join(implausible)}"
        ) from fault


def input_notes(locomotive: Locomotive, sustained: float) -> tuple[str, ...]:
    """Notes on the inputs of an engine: implausible ones, large auxiliaries, a default frontal area.

    Args:
        locomotive: The engine.
        sustained: Sustained evaporation [kg/s].
    """
    implausible = [f"far outside what was built: {text}" for text in implausible_inputs(locomotive)]
    return (
        *implausible,
        *_auxiliary_notes(locomotive.auxiliaries, sustained),
        *_frontal_area_notes(locomotive),
    )


def _auxiliary_notes(auxiliaries: Auxiliaries, sustained: float) -> list[str]:
    """Warn if the auxiliaries use a large share of the sustained evaporation."""
    if auxiliaries.continuous_demand <= AUXILIARY_SHARE * sustained:
        return []
    defaults = {declared.name: declared.default for declared in fields(auxiliaries)}
    in_use = [name for name in CONTINUOUS_AUXILIARIES if getattr(auxiliaries, name) > 0.0]
    if not auxiliaries.air_compressor_count:
        in_use = [name for name in in_use if name != "air_compressor_steam"]
    by_default = [name for name in in_use if getattr(auxiliaries, name) == defaults[name]]
    default_note = f"; {' and '.join(by_default)} by default, as for a larger engine" if by_default else ""
    return [
        f"auxiliaries use {auxiliaries.continuous_demand / sustained:.0%} of the sustained evaporation "
        f"([auxiliaries]: {', '.join(in_use)}{default_note})"
    ]


def _frontal_area_notes(locomotive: Locomotive) -> list[str]:
    """Warn if a light engine has the frontal area of a large one by default."""
    default = next(declared.default for declared in fields(locomotive) if declared.name == "frontal_area")
    if locomotive.mass >= LIGHT_ENGINE_MASS or locomotive.frontal_area != default:
        return []
    return [f"frontal_area {format_area(locomotive.frontal_area)} by default, as for a larger engine"]
