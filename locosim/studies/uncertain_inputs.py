"""Uncertain inputs of an excursion, in SI, and the excursion with their values of one sample."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np

from locosim.engine.accuracy import SHARE, sustained_power_band
from locosim.engine.boiler.front_end import EXHAUST_HEATERS
from locosim.engine.boiler.steam_supply import heating_value
from locosim.engine.map.nearby import NearbyMaps
from locosim.engine.map.store import MAP_ASSUMPTIONS
from locosim.engine.performance import compute_excursion_performance
from locosim.errors import LocosimError, OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Excursion, Locomotive, RailConditionZone, Route
from locosim.model.assumptions import CHANCE, DOUBT, RULE
from locosim.model.uncertainty import (
    AS_GIVEN,
    LOGNORMAL,
    NORMAL,
    OUTCOMES,
    TRIANGULAR,
    UNIFORM,
    USUAL,
    UncertainInput,
)
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION
from locosim.physics.types import Floats
from locosim.scenario.described_keys import Path, Place, figure_of, places_of, value_of
from locosim.scenario.schema import Key
from locosim.studies.distributions import Distribution, Lognormal, Normal, Outcomes, Triangular, Uniform

# Values for keys that a file may leave out.
_LEFT_OUT = {
    "fuel.heating_value": lambda excursion: heating_value(excursion.fuel),
    "crew.max_firing": lambda excursion: compute_excursion_performance(excursion).supply.firing_capacity,
}


# The error of the model, as a factor on the power; and assumptions that are causes of it.
POWER_FACTOR = "power_factor"
CAUSES_OF_POWER_ERROR = (
    "steam_rate_factor",
    "superheater_factor",
    "unburned_factor",
    "draft_roughness_factor",
    "max_back_pressure",
    "low_pressure_cutoff_offset",
    "low_pressure_cutoff_slope",
)

# Assumptions that a check of some excursions does not read, with the condition under which it does.
_NOT_IN_A_CHECK = (
    "switching_time",
    "deferred_feed_share",
)  # of doubling a hill, of the curve of a short effort


def _by_habit(*habits: str) -> Callable[[Excursion], bool]:
    return lambda excursion: excursion.crew.habit in habits


def _by_firing(firing: str) -> Callable[[Excursion], bool]:
    return lambda excursion: excursion.locomotive.boiler.firing == firing


def _engines(excursion: Excursion) -> tuple[Locomotive, ...]:
    """The engine and all helpers that are steam locomotives."""
    return (excursion.locomotive, *(h.locomotive for h in excursion.helpers if h.locomotive))


def _by_engine(reads: Callable[[Locomotive], bool]) -> Callable[[Excursion], bool]:
    return lambda excursion: any(map(reads, _engines(excursion)))


def _by_bearing(bearing: str) -> Callable[[Excursion], bool]:
    return _by_engine(lambda engine: any(unit.axle_bearing == bearing for unit in engine.engine_units))


def _by_feed(*kinds: str) -> Callable[[Excursion], bool]:
    return _by_engine(lambda engine: any(device.kind in kinds for device in engine.feed_devices))


def _cleans_fire(excursion: Excursion) -> bool:
    return any(stop.clean_fire == "yes" for stop in excursion.stops)


def _has_diesel(excursion: Excursion) -> bool:
    return any(helper.diesel for helper in excursion.helpers)


_READ_WHEN: dict[str, Callable[[Excursion], bool]] = {
    **dict.fromkeys(_NOT_IN_A_CHECK, lambda _: False),
    "stoker_lag": _by_firing("stoker"),
    "oil_lag": _by_firing("oil"),
    "hand_firing_lag": _by_firing("hand"),
    "machine_friction_plain": _by_bearing("plain"),
    "machine_friction_roller": _by_bearing("roller"),
    "steady_steam_share": _by_habit("steady_steam"),
    "saving_steam_share": _by_habit("save_steam_before_climbs"),
    "climb_approach": _by_habit("save_steam_before_climbs"),
    "coasting_deceleration": _by_habit("coast_to_stops"),
    "min_coasting_deceleration": _by_habit("coast_to_stops"),
    "braking_energy_share": _by_habit("coast_to_stops"),
    "fire_cleaning_time": _cleans_fire,
    "cleaning_loss": _cleans_fire,
    "diesel_rotating_share": _has_diesel,
    # An engine may have a figure of its own in place of the assumed one.
    "max_stoker_firing": _by_engine(lambda engine: engine.boiler.firing == "stoker"),
    "max_heater_steam_share": _by_feed("pump_with_feedwater_heater"),
    "heater_exhaust_share": _by_feed(*EXHAUST_HEATERS),
    "low_pressure_cutoff_offset": _by_engine(lambda engine: engine.compound),
    "low_pressure_cutoff_slope": _by_engine(lambda engine: engine.compound),
    "superheater_factor": _by_engine(
        lambda engine: engine.boiler.superheater is not None and engine.boiler.superheater_factor is None
    ),
    "unburned_factor": _by_engine(lambda engine: engine.boiler.unburned_factor is None),
    "draft_roughness_factor": _by_engine(lambda engine: engine.boiler.draft_roughness_factor is None),
    "max_back_pressure": _by_engine(lambda engine: engine.steam_passages.max_back_pressure is None),
    "steam_rate_factor": _by_engine(lambda engine: engine.steam_passages.steam_rate_factor is None),
}


@frozen
class SampledInput:
    """An uncertain input in SI.

    Attributes:
        label: Name in results.
        key: Path of its key.
        unit: Unit word of the figures: that of the key, or none for a factor.
        distribution: Of the figures, or of the numbers of the outcomes.
        applies_as: `value`, `factor` or `difference`.
        paths: Where the values are in the excursion: names of fields, and numbers of items from 0.
        given: The value there, of each path.
        integer: Whether the key is a whole number.
        outcomes: Values of each outcome; none for a number.
        stretch: Start and end of the stretch of a rail condition [m]; None for all other inputs.
        nature: `chance` or `doubt`.
        source: Source of the figures.
    """

    label: str
    key: str
    unit: str
    distribution: Distribution
    applies_as: str
    paths: tuple[Path, ...]
    given: tuple[Any, ...]
    integer: bool = False
    outcomes: tuple[Any, ...] = ()
    stretch: tuple[float, float] | None = None
    nature: str = CHANCE
    source: str = ""

    def values(self, shares: Floats) -> Floats:
        """Figures at shares of the distribution, or numbers of outcomes, shape (n,)."""
        return self.distribution.quantile(shares)

    def text(self, value: float) -> str:
        """An outcome by its number."""
        return str(self.outcomes[int(value)])

    def value_with(self, figure: float, given: Any) -> Any:
        """Value of the key with a figure of a sample, where the excursion as given has a value."""
        if self.outcomes:
            return self.outcomes[int(figure)]
        value = figure
        if self.applies_as == "factor":
            value *= given
        elif self.applies_as == "difference":
            value += given
        return int(np.rint(value)) if self.integer else float(value)


@frozen
class InputSet:
    """The uncertain inputs of an excursion.

    Attributes:
        inputs: They.
        unused: Usual inputs and assumptions that are not varied, each with the reason.
    """

    inputs: tuple[SampledInput, ...]
    unused: tuple[tuple[str, str], ...]


def uncertain_inputs(excursion: Excursion) -> InputSet:
    """The inputs that the file of an excursion gives, the usual ones, and the assumptions.

    Args:
        excursion: The excursion.

    Raises:
        OutOfRange: An input that names no key, or has figures that do not fit.
    """
    given = excursion.uncertainty.inputs
    inputs = [each for number, one in enumerate(given, start=1) for each in _of_file(one, number, excursion)]
    taken = {one.key for one in given}
    unused: list[tuple[str, str]] = []
    if excursion.uncertainty.usual == "yes":
        for one in USUAL:
            if one.key in taken:
                continue
            found = _usual(one, excursion)
            if isinstance(found, str):
                unused.append((one.label, found))
            else:
                inputs += found
    assumed, left_out = _assumptions(excursion, taken)
    if excursion.uncertainty.model_error == "yes":
        power, why_not = _power_error(excursion, taken)
        inputs += power
        unused += why_not
    return InputSet(inputs=(*inputs, *assumed), unused=(*unused, *left_out))


def _of_file(one: UncertainInput, number: int, excursion: Excursion) -> list[SampledInput]:
    """An input of the file; faults name it."""
    try:
        return _sampled(one, excursion)
    except LocosimError as wrong:
        raise OutOfRange(f"uncertainty.inputs[{number}], key = {one.key!r}: {wrong}") from None


def _usual(one: UncertainInput, excursion: Excursion) -> list[SampledInput] | str:
    """A usual input, or the reason why it does not apply."""
    try:
        found = _sampled(one, excursion)
    except LocosimError as wrong:
        return str(wrong)
    if one.key == "rail":
        given = ADHESION_BY_RAIL_CONDITION[excursion.rail].coefficient
        found = [
            replace(
                each,
                outcomes=tuple(
                    rail if ADHESION_BY_RAIL_CONDITION[rail].coefficient < given else excursion.rail
                    for rail in each.outcomes
                ),
            )
            for each in found
        ]
    if all(value == 0 for each in found for value in each.given) and one.applies_as == "factor":
        return "there is none"
    return found


def _sampled(one: UncertainInput, excursion: Excursion) -> list[SampledInput]:
    """An input in SI: one, or one for each item where these are apart."""
    places = [_with_value(place, one, excursion) for place in places_of(one.key, excursion)]
    if not places:
        raise LocosimError("names no item: the list is empty")
    key = places[0].key
    outcomes = tuple(
        places[0].value if each.value == AS_GIVEN else value_of(key, each.value) for each in one.outcomes
    )
    made = SampledInput(
        label=one.label,
        key=one.key,
        unit="" if one.applies_as == "factor" or outcomes else key.unit,
        distribution=_distribution(one, key),
        applies_as=one.applies_as,
        paths=tuple(place.path for place in places),
        given=tuple(place.value for place in places),
        integer=key.kind == "integer",
        outcomes=outcomes,
        stretch=_stretch(one, excursion),
        nature=one.nature,
        source=one.source,
    )
    if one.items == "together" or len(places) == 1:
        return [made]
    return [
        replace(made, label=f"{one.label} [{number}]", paths=(place.path,), given=(place.value,))
        for number, place in enumerate(places, start=1)
    ]


def _with_value(place: Place, one: UncertainInput, excursion: Excursion) -> Place:
    """A place with the value that applies where the file leaves the key out."""
    if place.value is not None or one.applies_as == "value":
        return place
    left_out = _LEFT_OUT.get(one.key)
    if left_out is None:
        raise LocosimError(f"the file gives no value to apply a {one.applies_as} to; write values of the key")
    return place._replace(value=left_out(excursion))


def _distribution(one: UncertainInput, key: Key) -> Distribution:
    """The distribution in SI.

    Raises:
        LocosimError: A figure that is none of the key, or figures out of order.
    """
    if one.distribution == OUTCOMES:
        return Outcomes(probabilities=tuple(each.probability for each in one.outcomes))
    figures = {
        name: _figure(one, key, name)
        for name in ("mean", "deviation", "median", "low", "likely", "high")
        if getattr(one, name) is not None
    }
    if not figures.get("low", -np.inf) < figures.get("high", np.inf):
        raise LocosimError(f"high: must be above low, {one.low!r}, found {one.high!r}")
    if one.distribution == UNIFORM:
        return Uniform(**figures)
    return {NORMAL: _normal, LOGNORMAL: _lognormal, TRIANGULAR: _triangular}[one.distribution](one, figures)


def _figure(one: UncertainInput, key: Key, name: str) -> float:
    """A figure in SI; the standard deviation is a difference of two values."""
    applies_as = one.applies_as
    if name == "deviation" and applies_as == "value":
        applies_as = "difference"
    try:
        return figure_of(key, getattr(one, name), applies_as)
    except LocosimError as wrong:
        raise LocosimError(f"{name}: {wrong}") from None


def _normal(one: UncertainInput, figures: Mapping[str, float]) -> Distribution:
    found = Normal(**figures)
    if found.deviation <= 0.0:
        raise LocosimError(f"deviation: must be above 0, found {one.deviation!r}")
    if not found.low - 5.0 * found.deviation < found.mean < found.high + 5.0 * found.deviation:
        raise LocosimError(f"mean: {one.mean!r} lies far outside low and high")
    return found


def _lognormal(one: UncertainInput, figures: Mapping[str, float]) -> Distribution:
    found = Lognormal(spread=one.spread or 0.0, **figures)
    if found.median <= 0.0:
        raise LocosimError(f"median: must be above 0, found {one.median!r}")
    if found.high <= 0.0:
        raise LocosimError(f"high: must be above 0, found {one.high!r}")
    return found


def _triangular(one: UncertainInput, figures: Mapping[str, float]) -> Distribution:
    found = Triangular(**figures)
    if not found.low <= found.likely <= found.high:
        raise LocosimError(f"likely: must lie between low and high, found {one.likely!r}")
    return found


def _stretch(one: UncertainInput, excursion: Excursion) -> tuple[float, float] | None:
    """Start and end of the stretch of a rail condition by the chainage of the route [m]."""
    if one.from_station is None or one.to_station is None:
        return None
    chainages = {station.name: station.chainage for station in excursion.route.stations}
    for key, name in (("from_station", one.from_station), ("to_station", one.to_station)):
        if name not in chainages:
            raise LocosimError(f"{key}: must be a station of the route, found {name!r}")
    ends = sorted((chainages[one.from_station], chainages[one.to_station]))
    if ends[0] == ends[1]:
        raise LocosimError("to_station: must be another station than from_station")
    return ends[0], ends[1]


def _assumptions(
    excursion: Excursion, taken: Iterable[str]
) -> tuple[list[SampledInput], list[tuple[str, str]]]:
    """Assumptions from low to high, most likely as they are; and those that are not varied, with the reason."""
    with_power = excursion.uncertainty.model_error == "yes"
    wanted = {"all": (CHANCE, DOUBT), "none": ()}.get(
        excursion.uncertainty.assumptions, (excursion.uncertainty.assumptions,)
    )
    found, left_out = [], []
    for name, declared in Assumptions.declared().items():
        data = declared.metadata
        key = f"assumptions.{name}"
        if data["nature"] not in wanted or key in taken or data["nature"] == RULE:
            continue
        if name in _READ_WHEN and not _READ_WHEN[name](excursion):
            continue
        if with_power and name in CAUSES_OF_POWER_ERROR:
            left_out.append((name, "a cause of the error of the model, which is drawn"))
            continue
        place = places_of(key, excursion)[0]
        low, high = min(data["low"], place.value), max(data["high"], place.value)
        found.append(
            SampledInput(
                label=name.replace("_", " "),
                key=key,
                unit=data["unit"],
                distribution=Triangular(low=low, likely=place.value, high=high),
                applies_as="value",
                paths=(place.path,),
                given=(place.value,),
                nature=data["nature"],
                source=data["source"],
            )
        )
    return found, left_out


def _power_error(
    excursion: Excursion, taken: Iterable[str]
) -> tuple[list[SampledInput], list[tuple[str, str]]]:
    """The error of the model as a factor on the power, lognormal; or the reason why it is not drawn.

    The band of the accuracy is that of a share of the published figures; the spread puts as many samples within it.
    """
    from scipy.special import ndtri  # slow to import, and seldom needed

    key = f"assumptions.{POWER_FACTOR}"
    if key in taken:
        return [], []
    engine = excursion.locomotive
    anchored = any(anchor.of_power for anchor in engine.anchors or ())
    band = sustained_power_band(method=excursion.method, compound=engine.compound, anchored=anchored)
    if band.one_sided:
        return [], [("error of the model", "all published figures lie on one side of those computed")]
    place = places_of(key, excursion)[0]
    spread = float(np.log1p(band.within) / ndtri(0.5 + 0.5 * SHARE))
    made = SampledInput(
        label="error of the model",
        key=key,
        unit="",
        distribution=Lognormal(median=place.value, spread=spread),
        applies_as="value",
        paths=(place.path,),
        given=(place.value,),
        nature=DOUBT,
        source=f"{band.rows} published figures of the power, of {band.engines} engines; docs/validation.md",
    )
    return [made], []


def nearby_maps(excursion: Excursion, inputs: Iterable[SampledInput]) -> NearbyMaps | None:
    """Maps to interpolate those of the samples from; None where no map changes with them.

    Args:
        excursion: The excursion as given.
        inputs: What is drawn.
    """
    drawn = {each.key.removeprefix("assumptions.") for each in inputs if each.key.startswith("assumptions.")}
    if excursion.method != "cycle" or drawn.isdisjoint(MAP_ASSUMPTIONS):
        return None
    return NearbyMaps(excursion.assumptions, sorted(drawn), _engines(excursion))


class SampledExcursions:
    """The excursion with the values of one sample after another.

    Only what a sample changes is built again: no file is read, and parts that stay are the same objects.

    Args:
        excursion: The excursion as given.
        inputs: Its uncertain inputs.
    """

    def __init__(self, excursion: Excursion, inputs: Sequence[SampledInput]) -> None:
        self._excursion, self._inputs = excursion, inputs
        self._routes: dict[tuple[str, ...], Route] = {}

    @cached_property
    def _stretches(self) -> list[tuple[int, SampledInput]]:
        return [(number, each) for number, each in enumerate(self._inputs) if each.stretch is not None]

    def excursion(self, sample: Floats) -> Excursion:
        """The excursion with the values of one sample, shape (inputs,).

        Raises:
            OutOfRange: A value is out of the range of its key.
        """
        changes: dict[Any, Any] = {}
        for value, each in zip(sample, self._inputs, strict=True):
            if each.stretch is not None:
                continue
            for path, given in zip(each.paths, each.given, strict=True):
                _put(changes, path, each.value_with(float(value), given))
        made: Excursion = _changed(self._excursion, changes)
        if not self._stretches:
            return made
        rails = tuple(each.text(sample[number]) for number, each in self._stretches)
        if rails not in self._routes:
            zones = [
                RailConditionZone(start=each.stretch[0], end=each.stretch[1], rail=rail)
                for rail, (_, each) in zip(rails, self._stretches, strict=True)
                if each.stretch is not None
            ]
            route = made.route
            self._routes[rails] = replace(route, rail_condition_zones=(*route.rail_condition_zones, *zones))
        return replace(made, route=self._routes[rails])


def _put(changes: dict[Any, Any], path: Sequence[str | int], value: Any) -> None:
    """Put a value into a tree of changes."""
    for step in path[:-1]:
        changes = changes.setdefault(step, {})
    changes[path[-1]] = value


def _changed(described: Any, changes: Mapping[Any, Any]) -> Any:
    """A description, or a tuple of some, with the values of a tree of changes."""
    if isinstance(described, tuple):
        return tuple(
            _changed(item, changes[number]) if number in changes else item
            for number, item in enumerate(described)
        )
    return replace(
        described,
        **{
            name: _changed(getattr(described, name), value) if isinstance(value, dict) else value
            for name, value in changes.items()
        },
    )
