"""Figures of an engine by name, each with its kind of quantity: the columns of a study of engines."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import NamedTuple

from locosim.engine.rated_effort import factor_of_adhesion, rated_effort
from locosim.engine.speed_curve import CurvePoint
from locosim.errors import LocosimError, suggestion
from locosim.studies.engine_figures import EngineFigures


class EngineColumn(NamedTuple):
    """A figure of an engine by name.

    Attributes:
        name: Its name.
        kind: Kind of quantity of its values, in SI; None for texts.
        value: Computes it; None where the engine or the method has none.
        meaning: What it is, in a few words.
    """

    name: str
    kind: str | None
    value: Callable[[EngineFigures], float | str | None]
    meaning: str


def _peak(figures: EngineFigures, power: Callable[[CurvePoint], float]) -> CurvePoint:
    return max(figures.curve, key=power)


_ALONE = (
    EngineColumn(
        "rated tractive effort",
        "force",
        lambda e: rated_effort(e.locomotive),
        "by the published rule for the cylinders",
    ),
    EngineColumn(
        "factor of adhesion",
        "number",
        lambda e: factor_of_adhesion(e.locomotive),
        "weight on drivers over rated tractive effort",
    ),
    EngineColumn(
        "axle load", "mass", lambda e: e.locomotive.max_axle_load, "mass on the heaviest driving axle"
    ),
    EngineColumn(
        "starting tractive effort",
        "force",
        lambda e: e.start.rim_effort,
        "at the rim in full gear, within adhesion",
    ),
    EngineColumn(
        "evaporation", "steam_rate", lambda e: e.supply.sustained, "sustained evaporation, for all purposes"
    ),
    EngineColumn(
        "evaporation limited by", None, lambda e: e.supply.binding.name, "what limits the evaporation"
    ),
    EngineColumn("firing rate", "fuel_rate", lambda e: e.supply.max_firing, "fuel for that evaporation"),
    EngineColumn(
        "firing rate of the grate",
        "firing_rate_per_grate_area",
        lambda e: e.boiler.firing_rate_per_grate_area,
        "the same per unit of grate area",
    ),
    EngineColumn(
        "boiler efficiency",
        "ratio",
        lambda e: e.boiler.efficiency,
        "heat in the steam over heat fired, at that evaporation",
    ),
    EngineColumn(
        "evaporation per fuel", "number", lambda e: e.boiler.steam_per_fuel, "mass of steam over mass of fuel"
    ),
    EngineColumn(
        "steam temperature",
        "temperature",
        lambda e: e.boiler.steam_temperature,
        "leaving the boiler, at that evaporation",
    ),
    EngineColumn(
        "superheat",
        "temperature_difference",
        lambda e: e.boiler.superheat,
        "of the steam above saturation, at that evaporation",
    ),
    EngineColumn("draft required", "draft", lambda e: e.boiler.draft, "smokebox vacuum for that fire"),
    EngineColumn(
        "highest indicated power",
        "power",
        lambda e: _peak(e, lambda p: p.indicated_power).indicated_power,
        "sustained, over all speeds",
    ),
    EngineColumn(
        "speed of highest indicated power",
        "speed",
        lambda e: _peak(e, lambda p: p.indicated_power).speed,
        "to a sixtieth of the highest speed",
    ),
    EngineColumn(
        "highest drawbar power",
        "power",
        lambda e: _peak(e, lambda p: p.drawbar_power).drawbar_power,
        "sustained, over all speeds",
    ),
)
_AT_SPEED = (
    EngineColumn(
        "tractive effort",
        "force",
        lambda e: e.sustained.rim_effort,
        "the most sustained at the speed, at the rim",
    ),
    EngineColumn(
        "drawbar pull",
        "force",
        lambda e: e.sustained.drawbar_pull,
        "the most sustained at the speed, on level track",
    ),
    EngineColumn(
        "indicated power", "power", lambda e: e.sustained.indicated_power, "the most sustained at the speed"
    ),
    EngineColumn(
        "drawbar power",
        "power",
        lambda e: e.sustained.drawbar_power,
        "the most sustained at the speed, on level track",
    ),
    EngineColumn("sustained cutoff", "ratio", lambda e: e.sustained.cutoff, "at that power"),
    EngineColumn("steam", "steam_rate", lambda e: e.sustained.steam, "to the cylinders at that power"),
    EngineColumn("fuel", "fuel_rate", lambda e: e.sustained.fuel, "at that power"),
    EngineColumn("limited by", None, lambda e: e.sustained.limit, "what limits that power"),
    EngineColumn(
        "best cutoff", "ratio", lambda e: e.cheapest.cutoff, "with the least steam per work, to 5 %"
    ),
    EngineColumn(
        "least steam per work",
        "specific_steam_consumption",
        lambda e: e.cheapest.steam_per_work,
        "steam over indicated work at the best cutoff",
    ),
    EngineColumn(
        "driver speed",
        "rotation",
        lambda e: e.conditions.speed / (math.pi * min(u.driver_diameter for u in e.locomotive.engine_units)),
        "of the smallest drivers",
    ),
)
_AT_CUTOFF = (
    EngineColumn(
        "mean pressure",
        "pressure",
        lambda e: e.mean_pressure,
        "mean effective pressure of the first set of cylinders",
    ),
    EngineColumn(
        "tractive effort at cutoff",
        "force",
        lambda e: e.at_cutoff.rim_effort,
        "at the rim, whatever the boiler makes",
    ),
    EngineColumn(
        "drawbar pull at cutoff",
        "force",
        lambda e: e.drawbar_pull_at_cutoff,
        "on level track, whatever the boiler makes",
    ),
    EngineColumn(
        "indicated power at cutoff",
        "power",
        lambda e: e.at_cutoff.indicated_power,
        "whatever the boiler makes",
    ),
    EngineColumn("steam at cutoff", "steam_rate", lambda e: e.at_cutoff.steam, "to the cylinders"),
    EngineColumn(
        "steam per work",
        "specific_steam_consumption",
        lambda e: e.at_cutoff.steam_per_work,
        "steam over indicated work: lb per ihp-h or kg per kWh",
    ),
    EngineColumn(
        "steam over sustained",
        "ratio",
        lambda e: e.at_cutoff.steam_share,
        "above 100 % only for a short effort",
    ),
    EngineColumn(
        "back pressure", "pressure", lambda e: e.at_cutoff.back_pressure, "in the exhaust, above atmosphere"
    ),
    EngineColumn(
        "steam condensed on walls",
        "ratio",
        lambda e: e.at_cutoff.wall_condensation_share,
        "over steam admitted",
    ),
    EngineColumn("lead", "small_length", lambda e: e.event("lead"), "opening at dead center"),
    EngineColumn("port opening", "small_length", lambda e: e.event("opening"), "most that the valve opens"),
    EngineColumn("release", "ratio", lambda e: e.event("release"), "stroke completed when the exhaust opens"),
    EngineColumn(
        "compression", "ratio", lambda e: e.event("compression"), "stroke remaining when the exhaust closes"
    ),
)
ENGINE_COLUMNS: dict[str, EngineColumn] = {
    column.name: column for column in (*_ALONE, *_AT_SPEED, *_AT_CUTOFF)
}
AT_CUTOFF = frozenset(column.name for column in _AT_CUTOFF)
# What is read from the map of the engine, which takes seconds to compute.
FROM_MAP = frozenset(
    column.name
    for column in (*_ALONE, *_AT_SPEED)
    if column.name.startswith(("starting", "highest", "speed of highest")) or column in _AT_SPEED[:-1]
)
DEFAULT_COLUMNS = ("rated tractive effort", "evaporation", "indicated power", "drawbar pull", "limited by")
DEFAULT_CUTOFF_COLUMNS = ("mean pressure", "indicated power at cutoff", "steam per work", "back pressure")


def engine_columns(names: Iterable[str]) -> tuple[EngineColumn, ...]:
    """Columns by name.

    Raises:
        LocosimError: A name that is not known.
    """
    found = []
    for name in names:
        if name not in ENGINE_COLUMNS:
            raise LocosimError(
                f"column {name!r} is not known for an engine; {suggestion(name, ENGINE_COLUMNS)}"
            )
        found.append(ENGINE_COLUMNS[name])
    return tuple(found)
