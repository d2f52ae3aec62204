"""The check again with something gone wrong: which of it turns a clear excursion into one that stops?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import Field, dataclass, fields, replace
from typing import Any

from locosim.constants import MPH
from locosim.engine.boiler.steam_supply import heating_value
from locosim.model import Excursion, Fuel, Weather
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.planning.check import Check, check_excursion
from locosim.planning.finding import Finding

POOR_COAL_SHARE = 0.80  # of the heating value; common practice, no source
ADDED_HEAD_WIND = 20.0 * MPH  # on top of the day's wind [m/s]
REMAINING_COMPRESSOR_STEAM = (
    1.25  # steam of one compressor doing the work of two, over what both took; common practice
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Contingency:
    """One thing gone wrong.

    Attributes:
        name: What went wrong.
        verdict: Of the check with it; None where it was not tried.
        worst: The gravest finding with it; None when everything is clear, or nothing was tried.
        becomes_stop: Whether a verdict that was not stop has become stop.
        not_run: Why it was not tried, in words.
    """

    name: str
    verdict: str | None = None
    worst: Finding | None = None
    becomes_stop: bool = False
    not_run: str = ""


def feed_device_out(excursion: Excursion) -> Excursion | str:
    """Lose the largest feed device, where there is a second one to go on with."""
    devices = excursion.locomotive.feed_devices
    if not devices:
        return "the engine file lists none"
    if len(devices) < 2:
        return "she has only one, and cannot go on without it"
    largest = max(devices, key=lambda device: device.max_rate)
    left = tuple(device for device in devices if device is not largest)
    return replace(excursion, locomotive=replace(excursion.locomotive, feed_devices=left))


def poor_coal(excursion: Excursion) -> Excursion:
    """Burn fuel of a fifth less heat."""
    poorest = declared_field(Fuel, "heating_value").metadata["above"]
    poor = max(POOR_COAL_SHARE * heating_value(excursion.fuel), 1.001 * poorest)
    fuel = replace(excursion.fuel, heating_value=poor)
    return replace(excursion, fuel=fuel)


def compressor_out(excursion: Excursion) -> Excursion | str:
    """Lose one air compressor, where there are others to do its work, less well."""
    auxiliaries = excursion.locomotive.auxiliaries
    count = auxiliaries.air_compressor_count
    if count < 2:
        return "she has only one, and no air without it" if count else "she has none"
    each = auxiliaries.air_compressor_steam * count * REMAINING_COMPRESSOR_STEAM / (count - 1)
    left = replace(auxiliaries, air_compressor_count=count - 1, air_compressor_steam=each)
    return replace(excursion, locomotive=replace(excursion.locomotive, auxiliaries=left))


def declared_field(model: type, name: str) -> Field[Any]:
    """Declaration of a field, so that what goes wrong stays within what a file may say."""
    return next(declared for declared in fields(model) if declared.name == name)


def wet_rail(excursion: Excursion) -> Excursion | str:
    """Run on a wet rail, where the day's is better."""
    if rail_adhesion_coefficient(condition=excursion.rail) <= rail_adhesion_coefficient(condition="wet"):
        return f"the {excursion.rail} rail asked for holds no more than a wet one"
    return replace(excursion, rail="wet")


def headwind(excursion: Excursion) -> Excursion:
    """Run against 20 mile/h more wind."""
    strongest = declared_field(Weather, "headwind").metadata["below"]
    weather = replace(
        excursion.weather, headwind=min(excursion.weather.headwind + ADDED_HEAD_WIND, 0.999 * strongest)
    )
    return replace(excursion, weather=weather)


CONTINGENCIES: dict[str, Callable[[Excursion], Excursion | str]] = {
    "largest feed device out": feed_device_out,
    "fuel with a fifth less heat": poor_coal,
    "one air compressor out": compressor_out,
    "wet rail": wet_rail,
    "stronger head wind": headwind,
}


def run_contingencies(check: Check) -> tuple[Contingency, ...]:
    """Repeat a check with each thing gone wrong, or say why that is not tried.

    Args:
        check: The check with nothing gone wrong.
    """
    found = []
    for name, change in CONTINGENCIES.items():
        changed = change(check.journey.excursion)
        if isinstance(changed, str):
            found.append(Contingency(name=name, not_run=changed))
            continue
        again = check_excursion(changed)
        worst = again.findings[0] if again.verdict != "clear" else None
        becomes_stop = again.verdict == "stop" and check.verdict != "stop"
        found.append(Contingency(name=name, verdict=again.verdict, worst=worst, becomes_stop=becomes_stop))
    return tuple(found)
