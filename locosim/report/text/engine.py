"""Sentences about the engine that several answers share: rating, boiler, method and notes."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.engine.performance import Performance
from locosim.engine.rated_effort import factor_of_adhesion, rated_effort
from locosim.model import Locomotive
from locosim.report.caution import METHODS
from locosim.report.text.layout import in_reader_units, paragraph
from locosim.units import show

FUEL_NAMES = {
    "bituminous": "bituminous coal",
    "subbituminous": "subbituminous coal",
    "anthracite": "anthracite",
    "wood": "wood",
    "oil": "oil",
}


def heading(performance: Performance) -> list[str]:
    """Name of the engine, its rating, its boiler, the method and the notes, as wrapped lines."""
    sentences = [*engine_lines(performance), *method_lines(performance)]
    return [performance.locomotive.name, *map(paragraph, sentences), ""]


def engine_lines(performance: Performance) -> list[str]:
    """Rated tractive effort and sustained evaporation, in sentences."""
    engine, supply = performance.locomotive, performance.supply
    rated, factor = rated_effort(engine), factor_of_adhesion(engine)
    limits = "; ".join(
        f"{limit.name} {show(limit.steam, 'steam_rate')}"
        for limit in sorted(supply.limits, key=lambda limit: limit.steam)
        if limit.reached
    )
    not_reached = " and ".join(limit.name for limit in supply.limits if not limit.reached)
    return [
        f"Rated tractive effort {'-' if rated is None else show(rated, 'force')}, factor of adhesion "
        f"{'-' if factor is None else format(factor, '.2f')}.",
        f"Sustained evaporation {show(supply.sustained, 'steam_rate')}, limited by the {supply.binding.name}, on "
        f"{fuel_description(performance)} ({limits}{f'; {not_reached} not reached' if not_reached else ''}).",
    ]


def fuel_description(performance: Performance) -> str:
    """Name and heating value of the fuel."""
    name = FUEL_NAMES.get(performance.fuel.kind, performance.fuel.kind)
    return f"{name} of {show(performance.supply.heating_value, 'heating_value')}"


def fuel_word(kind: str) -> str:
    """Word for a kind of fuel beside an amount: coal, wood or oil."""
    return kind if kind in ("wood", "oil") else "coal"


def with_full_supplies(locomotive: Locomotive) -> str:
    """Where the pull on the train is given: behind a tender, or of a tank engine, with what they carry."""
    return "behind a full tender" if locomotive.coupled_behind == "tender" else "with full tanks and bunker"


def method_lines(performance: Performance) -> list[str]:
    """The method, and the notes on the engine."""
    return [f"Method: {METHODS[performance.method]}.", *note_lines(performance.notes)]


def note_lines(notes: Sequence[str]) -> list[str]:
    """Notes on the engine: defaults used for missing data, and implausible inputs."""
    return [f"Notes on the engine: {in_reader_units('; '.join(notes))}."] if notes else []
