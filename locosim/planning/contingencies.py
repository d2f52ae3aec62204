"""Contingencies: the check repeated with one thing changed for the worse at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import Field, fields, replace
from functools import partial
from typing import Any, NamedTuple

from locosim.engine.boiler.steam_supply import heating_value
from locosim.frozen import frozen
from locosim.model import Excursion, Fuel, Weather
from locosim.model.assumptions import Assumptions
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION
from locosim.planning.bands import with_bands_that_count
from locosim.planning.check import Check
from locosim.planning.checker import Checker
from locosim.planning.finding import CLEAR, STOP, Finding


@frozen
class Contingency:
    """Result of the check with one thing changed for the worse.

    Attributes:
        name: What was changed.
        verdict: Verdict with the change; None where the check was not run.
        worst: Worst finding with the change; None where all are clear or the check was not run.
        becomes_stop: Whether the change turns another verdict into stop.
        not_run: Reason why the check was not run; empty where it was.
    """

    name: str
    verdict: str | None = None
    worst: Finding | None = None
    becomes_stop: bool = False
    not_run: str = ""


class Change(NamedTuple):
    """One thing changed for the worse.

    Attributes:
        name: What is changed.
        excursion: The excursion with the change; None where it does not apply.
        not_run: Reason why it does not apply.
    """

    name: str
    excursion: Excursion | None
    not_run: str = ""


def feed_device_failed(excursion: Excursion) -> Change:
    """Lose the largest feed device, if there is a second one."""
    devices = excursion.locomotive.feed_devices
    if not devices:
        return Change("one injector failed", None, "the engine file lists no feed devices")
    largest = max(devices, key=lambda device: device.max_rate)
    name = f"one {'injector' if 'injector' in largest.kind else 'feed pump'} failed"
    if len(devices) < 2:
        return Change(name, None, "the engine has no other feed device and cannot run without it")
    left = tuple(device for device in devices if device is not largest)
    return Change(name, replace(excursion, locomotive=replace(excursion.locomotive, feed_devices=left)))


def poor_fuel(excursion: Excursion) -> Change:
    """Lower the heating value of the fuel by the assumed share, but not below what a file may give."""
    share = excursion.assumptions.poor_coal_share
    kind = excursion.fuel.kind
    name = f"poor {kind if kind in ('wood', 'oil') else 'coal'}, {100.0 * (1.0 - share):.3g} % less heat"
    lowest = declared_field(Fuel, "heating_value").metadata["above"]
    value = max(share * heating_value(excursion.fuel), 1.001 * lowest)
    return Change(name, replace(excursion, fuel=replace(excursion.fuel, heating_value=value)))


def compressor_failed(excursion: Excursion) -> Change:
    """Lose one air compressor, if there is another; the others take the assumed steam for its work."""
    name = "one air compressor failed"
    auxiliaries = excursion.locomotive.auxiliaries
    count = auxiliaries.air_compressor_count
    if count < 1:
        return Change(name, None, "the engine has none")
    if count < 2:
        return Change(name, None, "the engine has only one, and no air without it")
    more = excursion.assumptions.remaining_compressor_steam
    each = auxiliaries.air_compressor_steam * count * more / (count - 1)
    left = replace(auxiliaries, air_compressor_count=count - 1, air_compressor_steam=each)
    return Change(name, replace(excursion, locomotive=replace(excursion.locomotive, auxiliaries=left)))


def wet_rail(excursion: Excursion) -> Change:
    """Wet the rail, if it is not as slippery already."""
    given, wet = (ADHESION_BY_RAIL_CONDITION[rail].coefficient for rail in (excursion.rail, "wet"))
    if given <= wet:
        return Change("wet rail", None, f"the rail is as slippery already: {excursion.rail}")
    return Change("wet rail", replace(excursion, rail="wet"))


def stronger_headwind(excursion: Excursion) -> Change:
    """Add the assumed headwind, up to what a file may give."""
    strongest = declared_field(Weather, "headwind").metadata["below"]
    wind = min(excursion.weather.headwind + excursion.assumptions.added_headwind, 0.999 * strongest)
    return Change("stronger headwind", replace(excursion, weather=replace(excursion.weather, headwind=wind)))


def slow_fire(excursion: Excursion) -> Change:
    """Give the fire the slowest believable answer to the air, and green coal the longest time to burn."""
    given, declared = excursion.assumptions, Assumptions.declared()
    slow = {
        name: max(declared[name].metadata["high"], getattr(given, name))
        for name in ("air_lag", "green_coal_time")
    }
    return Change("slow fire", replace(excursion, assumptions=replace(given, **slow)))


def stranger_to_the_road(excursion: Excursion) -> Change:
    """Give the engine a fireman who does not know what is ahead."""
    name = "fireman a stranger to the road"
    if excursion.crew.horizon == 0.0:
        return Change(name, None, "crew.horizon is 0 already")
    return Change(name, replace(excursion, crew=replace(excursion.crew, horizon=0.0)))


def declared_field(model: type, name: str) -> Field[Any]:
    """Declaration of a model field, which carries the range a file may give."""
    return next(declared for declared in fields(model) if declared.name == name)


CHANGES: tuple[Callable[[Excursion], Change], ...] = (
    feed_device_failed,
    poor_fuel,
    compressor_failed,
    wet_rail,
    stronger_headwind,
    slow_fire,
    stranger_to_the_road,
)


def run_contingencies(check: Check) -> tuple[Contingency, ...]:
    """Repeat a check with each change in turn; where one does not apply, give the reason.

    Args:
        check: The check without changes.

    Returns:
        One contingency for each of `CHANGES`, in order.
    """
    return tuple(each() for each in contingency_runs(check))


def contingency_runs(check: Check) -> list[Callable[[], Contingency]]:
    """The repetitions of `run_contingencies`, not yet run."""
    checker = Checker(check)
    return [partial(_run, change(check.journey.excursion), checker) for change in CHANGES]


def _run(change: Change, checker: Checker) -> Contingency:
    if change.excursion is None:
        return Contingency(name=change.name, not_run=change.not_run)
    # What was in doubt without the change is so with it; what becomes so is seen by bands of its own.
    changed = with_bands_that_count(checker.check(change.excursion))
    return Contingency(
        name=change.name,
        verdict=changed.verdict,
        worst=changed.findings[0] if changed.verdict != CLEAR else None,
        becomes_stop=changed.verdict == STOP and checker.base.verdict != STOP,
    )
