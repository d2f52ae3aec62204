"""Figures of an engine that lie far outside what was built: each allowed by itself, and hardly ever meant.

The ranges are wide on purpose: common practice, no source. They bind nothing. They stand in notes, and in messages
where an engine cannot be computed, so that the figure at fault is named rather than the place where it shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields

from locosim.constants import PSI
from locosim.engine.si_text import area_said
from locosim.errors import Unsettled
from locosim.model import Auxiliaries, EngineUnit, Locomotive

AUXILIARY_SHARE = 0.10  # of the sustained steam, from which on the auxiliaries are worth a note
LIGHT_ENGINE = 20e3  # [kg]; the usual frontal area is that of an engine a good deal heavier
STEADY = ("air_compressor", "dynamo", "train_heat", "stoker")  # auxiliaries that take steam at all times


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """A figure with the range it usually has.

    Attributes:
        key: Its key in the engine file, or two keys and what is made of them.
        value: The engine's own.
        low: Less is hardly ever built.
        high: Nor is more.
        unit: Unit of all three; empty for ratios.
        aside: Factor to the unit in brackets, and that unit.
    """

    key: str
    value: float | None
    low: float
    high: float
    unit: str = ""
    aside: tuple[float, str] | None = None

    @property
    def odd(self) -> bool:
        """Whether it is known and lies outside."""
        return self.value is not None and not self.low <= self.value <= self.high

    @property
    def words(self) -> str:
        """The figure and its usual range."""
        assert self.value is not None
        return (
            f"{self.key} {self._said(self.value)}, usually {self._said(self.low)} to {self._said(self.high)}"
        )

    def _said(self, value: float) -> str:
        beside = "" if self.aside is None else f" ({value / self.aside[0]:.3g} {self.aside[1]})"
        shown = f"{value:,.0f}" if value >= 1000.0 else f"{value:.3g}"
        return f"{shown} {self.unit}".rstrip() + beside


def odd_figures(locomotive: Locomotive) -> tuple[str, ...]:
    """Name the figures far outside what was built, each with its usual range."""
    figures = [*_of_boiler(locomotive), *_of_steam_ways(locomotive)]
    for number, unit in enumerate(locomotive.engine_units, start=1):
        figures += _of_unit(unit, f"engine_units[{number}]")
    return tuple(figure.words for figure in figures if figure.odd)


def _of_boiler(locomotive: Locomotive) -> list[Usual]:
    boiler = locomotive.boiler
    grate = boiler.grate_area
    fed = [(c.number * c.swept_volume, c) for unit in locomotive.engine_units for c in unit.cylinders]
    volume = sum(swept for swept, cylinders in fed if cylinders.steam_from == "boiler")
    elements = None if boiler.superheater is None else boiler.superheater.surface / boiler.tube_surface
    return [
        Usual(
            key="boiler.working_pressure_gauge", value=boiler.working_pressure_gauge, low=4e5, high=2.5e6,
            unit="Pa", aside=(PSI, "psi"),
        ),
        Usual(
            key="boiler.firebox_surface / boiler.grate_area", value=boiler.firebox_surface / grate, low=1.5, high=15
        ),
        Usual(key="boiler.tube_surface / boiler.grate_area", value=boiler.tube_surface / grate, low=12, high=130),
        Usual(key="boiler.superheater.surface / boiler.tube_surface", value=elements, low=0.05, high=0.9),
        Usual(
            key="volume of the cylinders by bore and stroke / boiler.grate_area", value=volume / grate,
            low=0.01, high=0.4, unit="m",
        ),
    ]  # fmt: skip


def _of_steam_ways(locomotive: Locomotive) -> list[Usual]:
    ways = locomotive.steam_ways
    nozzle = None if ways.nozzle_area is None else ways.nozzle_area / locomotive.boiler.grate_area
    coefficient = "W/m^2/K"
    return [
        Usual(key="steam_ways.nozzle_area / boiler.grate_area", value=nozzle, low=0.001, high=0.02),
        Usual(
            key="steam_ways.back_pressure", value=ways.back_pressure, low=1e4, high=2e5, unit="Pa",
            aside=(PSI, "psi"),
        ),
        Usual(
            key="steam_ways.chest_drop", value=ways.chest_drop, low=0.0,
            high=0.3 * locomotive.boiler.working_pressure_gauge, unit="Pa", aside=(PSI, "psi"),
        ),
        Usual(key="steam_ways.leakage_share", value=ways.leakage_share, low=0.0, high=1e-3),
        Usual(
            key="steam_ways.condensing_coefficient", value=ways.condensing_coefficient, low=2e3, high=4e4,
            unit=coefficient,
        ),
        Usual(
            key="steam_ways.dry_coefficient", value=ways.dry_coefficient, low=50, high=2000, unit=coefficient
        ),
        Usual(key="steam_ways.steam_discharge", value=ways.steam_discharge, low=0.3, high=1.0),
        Usual(key="steam_ways.exhaust_discharge", value=ways.exhaust_discharge, low=0.3, high=1.0),
    ]  # fmt: skip


def _of_unit(unit: EngineUnit, at: str) -> list[Usual]:
    found = [
        Usual(key=f"{at}.cylinders[{number}].clearance", value=each.clearance, low=0.03, high=0.25)
        for number, each in enumerate(unit.cylinders, start=1)
    ]
    gear, first = unit.valve_gear, unit.cylinders[0]
    if gear is None:
        return found
    wide = None if gear.port_width is None else gear.port_width / first.stroke
    long = None if gear.port_length is None else gear.port_length / first.bore
    return [
        *found,
        Usual(key=f"{at}.valve_gear.lap / stroke", value=gear.lap / first.stroke, low=0.015, high=0.1),
        Usual(key=f"{at}.valve_gear.lead / stroke", value=gear.lead / first.stroke, low=0.0, high=0.03),
        Usual(
            key=f"{at}.valve_gear.exhaust_lap / lap", value=gear.exhaust_lap / gear.lap, low=-0.8, high=0.8
        ),
        Usual(key=f"{at}.valve_gear.port_width / stroke", value=wide, low=0.03, high=0.15),
        Usual(key=f"{at}.valve_gear.port_length / bore", value=long, low=0.4, high=3.5),
    ]


@contextmanager
def naming_odd_figures(locomotive: Locomotive) -> Iterator[None]:
    """Where an engine cannot be computed, name what of her lies far outside what was built.

    Args:
        locomotive: The engine computed within.

    Raises:
        Unsettled: With the odd figures in place of the general remedy, where there are any.
    """
    try:
        yield
    except Unsettled as fault:
        odd = odd_figures(locomotive)
        if not odd:
            raise
        raise Unsettled(
            fault.what, f"far outside what was built, and likely the cause: {'; '.join(odd)}"
        ) from fault


def figure_notes(locomotive: Locomotive, sustained: float) -> tuple[str, ...]:
    """What in the figures of an engine deserves a note.

    Args:
        locomotive: The engine.
        sustained: Steam the boiler keeps up [kg/s].
    """
    odd = [f"far outside what was built: {words}" for words in odd_figures(locomotive)]
    return (*odd, *_auxiliaries(locomotive.auxiliaries, sustained), *_frontal_area(locomotive))


def _auxiliaries(auxiliaries: Auxiliaries, sustained: float) -> list[str]:
    """Say it where the auxiliaries take much of the steam."""
    if auxiliaries.steady <= AUXILIARY_SHARE * sustained:
        return []
    defaults = {declared.name: declared.default for declared in fields(auxiliaries)}
    taken = [name for name in STEADY if getattr(auxiliaries, name) > 0.0]
    if not auxiliaries.air_compressors:
        taken = [name for name in taken if name != "air_compressor"]
    usual = [name for name in taken if getattr(auxiliaries, name) == defaults[name]]
    larger = f"; {' and '.join(usual)} as for a larger engine, taken where nothing is given" if usual else ""
    return [
        f"auxiliaries take {auxiliaries.steady / sustained:.0%} of the steam the boiler keeps up ([auxiliaries]: "
        f"{', '.join(taken)}{larger})"
    ]


def _frontal_area(locomotive: Locomotive) -> list[str]:
    """Say it where a light engine has the frontal area of a large one because none is given."""
    usual = next(declared.default for declared in fields(locomotive) if declared.name == "frontal_area")
    if locomotive.mass >= LIGHT_ENGINE or locomotive.frontal_area != usual:
        return []
    return [
        f"frontal_area {area_said(locomotive.frontal_area)} as for a larger engine, taken where nothing is given"
    ]
