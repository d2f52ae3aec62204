"""Keys of an engine that a test sheet can set."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, replace

from locosim.engine.boiler.by_heat_balance import fuel_or_default
from locosim.engine.boiler.front_end import max_back_pressure
from locosim.engine.boiler.steam_supply import heating_value
from locosim.model import Assumptions, Locomotive
from locosim.model.engine_test_sheet import Anchor
from locosim.physics.boiler.fuels import FUELS, scaled_to_heating_value

BACK_PRESSURE = "steam_passages.max_back_pressure"
FIRING_RATE = "boiler.max_firing_rate"
UNBURNED = "boiler.unburned_factor"
SUPERHEATER = "boiler.superheater_factor"
ROUGHNESS = "boiler.draft_roughness_factor"
STEAM_RATE = "steam_passages.steam_rate_factor"
BOILER_KEYS = {"evaporation": UNBURNED, "steam_temperature": SUPERHEATER, "draft": ROUGHNESS}


def key_value(locomotive: Locomotive, key: str) -> float | None:
    """Value of a key that a test sheet can set; None where the engine file gives none."""
    table, name = key.split(".")
    value: float | None = getattr(getattr(locomotive, table), name)
    return value


def with_key(locomotive: Locomotive, key: str, value: float | None) -> Locomotive:
    """The engine with another value of a key that a test sheet can set.

    Args:
        locomotive: The engine.
        key: Such as `boiler.unburned_factor`.
        value: In SI; None for a key that is not given.

    Raises:
        OutOfRange: A value that the key cannot have.
    """
    table, name = key.split(".")
    part = getattr(locomotive, table)
    return replace(locomotive, **{table: replace(part, **{name: value})})


def without_anchors(locomotive: Locomotive) -> Locomotive:
    """The engine as its file describes it, with no key set from the test sheet."""
    for anchor in locomotive.anchors or ():
        locomotive = with_key(locomotive, anchor.key, anchor.given)
    return replace(locomotive, anchors=None)


def with_anchors(locomotive: Locomotive, anchors: Iterable[Anchor]) -> Locomotive:
    """The engine with keys set as they were set from the test sheet.

    Args:
        locomotive: The engine, perhaps changed since it was tested.
        anchors: The keys; `given` of each becomes the present value.
    """
    found = tuple(replace(anchor, given=key_value(locomotive, anchor.key)) for anchor in anchors)
    for anchor in found:
        locomotive = with_key(locomotive, anchor.key, anchor.value)
    return replace(locomotive, anchors=found)


def usual_value(locomotive: Locomotive, key: str, assumptions: Assumptions) -> float:
    """Value of a key without the test sheet [SI]: as given, or the assumed or computed one."""
    given = key_value(locomotive, key)
    if given is not None:
        return given
    if key == BACK_PRESSURE:
        return max_back_pressure(locomotive, assumptions)
    if key == FIRING_RATE:
        fuel = fuel_or_default(locomotive, locomotive.test_sheet.fuel)
        return scaled_to_heating_value(fuel=FUELS[fuel.kind], heating_value=heating_value(fuel)).grate_limit
    return float(getattr(assumptions, key.split(".")[1]))


def range_of_key(key: str, locomotive: Locomotive) -> tuple[float, float]:
    """Values that a key can have [SI]."""
    table, name = key.split(".")
    part = getattr(locomotive, table)
    metadata = next(field.metadata for field in fields(part) if field.name == name)
    low = metadata["above"] if metadata.get("above") is not None else metadata["at_least"]
    high = metadata["below"] if metadata.get("below") is not None else metadata["at_most"]
    return low * (1 + 1e-9), high * (1 - 1e-9)
