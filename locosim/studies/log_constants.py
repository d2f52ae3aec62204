"""Constants that a road log can tell: what each is, where it is believed to lie, and how it changes an excursion.

Each is a key, or keys, of the files: `changes_for` writes them as changes that any command takes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from locosim.constants import POUND_PER_SHORT_TON
from locosim.engine.boiler.steam_supply import heating_value
from locosim.errors import LocosimError, OutOfRange, suggestion
from locosim.frozen import frozen
from locosim.journey.setup.train_forces import vehicle_coefficients
from locosim.model import Assumptions, CustomResistance, Excursion, Vehicle

MOTION, WATER, FUEL = "motion", "water", "fuel"  # readings of a log that tell of a constant
_ASSUMED = Assumptions.declared()


@frozen(eq=False)
class Constant:
    """A constant that can be fitted.

    Attributes:
        name: Name, as the command takes it.
        meaning: What it is, in a phrase.
        kind: Kind of quantity of `locosim.units`, with values in SI.
        low: Low end of the believable range; of a factor, over the value in the files.
        high: High end likewise.
        least: Least value that is searched.
        most: Largest value that is searched.
        readings: Readings of a log that tell of it.
        needs: What a log must have to show it, as a phrase after "needs".
        value: Its value in an excursion.
        put: The excursion with another value.
    """

    name: str
    meaning: str
    kind: str
    low: float
    high: float
    least: float
    most: float
    readings: tuple[str, ...]
    needs: str
    value: Callable[[Excursion], float]
    put: Callable[[Excursion, float], Excursion]


def _unchanged(_: Excursion) -> float:
    return 1.0


def _with_cars(excursion: Excursion, change: Callable[[Vehicle], Vehicle]) -> Excursion:
    cars = tuple(change(vehicle) for vehicle in excursion.train.vehicles)
    return replace(excursion, train=replace(excursion.train, vehicles=cars))


def _with_resistance(vehicle: Vehicle, rolling: float, air: float) -> Vehicle:
    """A vehicle with the resistance of its law times factors."""
    a, b, c = vehicle_coefficients(vehicle)
    own = CustomResistance(a=rolling * a, b=rolling * b, c=air * c)
    return replace(vehicle, resistance_law="custom", custom_resistance=own)


def _put_rolling(excursion: Excursion, factor: float) -> Excursion:
    return _with_cars(excursion, lambda vehicle: _with_resistance(vehicle, factor, 1.0))


def _put_air(excursion: Excursion, factor: float) -> Excursion:
    return _with_cars(excursion, lambda vehicle: _with_resistance(vehicle, 1.0, factor))


def _put_mass(excursion: Excursion, factor: float) -> Excursion:
    return _with_cars(excursion, lambda vehicle: replace(vehicle, empty_mass=factor * vehicle.empty_mass))


def _put_resistance(excursion: Excursion, factor: float) -> Excursion:
    return replace(excursion, assumptions=replace(excursion.assumptions, resistance_factor=factor))


def _put_headwind(excursion: Excursion, speed: float) -> Excursion:
    return replace(excursion, weather=replace(excursion.weather, headwind=speed))


def friction_key(excursion: Excursion) -> str:
    """Name of the assumption of machine friction for the bearings of the first engine unit."""
    return f"machine_friction_{excursion.locomotive.engine_units[0].axle_bearing}"


def _put_friction(excursion: Excursion, value: float) -> Excursion:
    return replace(excursion, assumptions=replace(excursion.assumptions, **{friction_key(excursion): value}))


def _put_friction_share(excursion: Excursion, value: float) -> Excursion:
    return replace(excursion, assumptions=replace(excursion.assumptions, machine_friction_share=value))


def _steam_rate(excursion: Excursion) -> float:
    own = excursion.locomotive.steam_passages.steam_rate_factor
    return excursion.assumptions.steam_rate_factor if own is None else own


def _put_steam_rate(excursion: Excursion, value: float) -> Excursion:
    passages = replace(excursion.locomotive.steam_passages, steam_rate_factor=value)
    return replace(excursion, locomotive=replace(excursion.locomotive, steam_passages=passages))


def _unburned(excursion: Excursion) -> float:
    own = excursion.locomotive.boiler.unburned_factor
    return excursion.assumptions.unburned_factor if own is None else own


def _put_unburned(excursion: Excursion, value: float) -> Excursion:
    boiler = replace(excursion.locomotive.boiler, unburned_factor=value)
    return replace(excursion, locomotive=replace(excursion.locomotive, boiler=boiler))


def _put_heating_value(excursion: Excursion, value: float) -> Excursion:
    return replace(excursion, fuel=replace(excursion.fuel, heating_value=value))


def _assumed(name: str) -> tuple[float, float]:
    """Believable range of an assumption."""
    return _ASSUMED[name].metadata["low"], _ASSUMED[name].metadata["high"]


# In the order in which they are put: mass first, for the resistance laws go by it.
CONSTANTS: tuple[Constant, ...] = (
    Constant(
        name="car_mass",
        meaning="empty mass of the cars, over that of the file",
        kind="number",
        low=0.9,
        high=1.1,
        least=0.5,
        most=2.0,
        readings=(MOTION,),
        needs="a climb worked at a known cutoff, and a level or falling stretch",
        value=_unchanged,
        put=_put_mass,
    ),
    Constant(
        name="resistance_factor",
        meaning="running resistance of engine and cars, over that of their laws",
        kind="number",
        low=_assumed("resistance_factor")[0],
        high=_assumed("resistance_factor")[1],
        least=0.08,
        most=10.0,
        readings=(MOTION,),
        needs="stretches with the throttle shut, of a minute or more",
        value=lambda excursion: excursion.assumptions.resistance_factor,
        put=_put_resistance,
    ),
    Constant(
        name="car_rolling",
        meaning="rolling resistance of the cars, over that of their laws",
        kind="number",
        low=0.6,
        high=1.5,
        least=0.05,
        most=5.0,
        readings=(MOTION,),
        needs="stretches with the throttle shut, of a minute or more",
        value=_unchanged,
        put=_put_rolling,
    ),
    Constant(
        name="car_air",
        meaning="air resistance of the cars, over that of their laws",
        kind="number",
        low=0.6,
        high=1.5,
        least=0.0,
        most=5.0,
        readings=(MOTION,),
        needs="coasting from a high speed to a low one",
        value=_unchanged,
        put=_put_air,
    ),
    Constant(
        name="headwind",
        meaning="headwind",
        kind="speed",
        low=-8.0,
        high=8.0,
        least=-35.0,
        most=35.0,
        readings=(MOTION,),
        needs="coasting from a high speed to a low one",
        value=lambda excursion: excursion.weather.headwind,
        put=_put_headwind,
    ),
    Constant(
        name="machine_friction",
        meaning="machine friction without steam, per mass on drivers",
        kind="specific_resistance",
        low=3.0 * POUND_PER_SHORT_TON,
        high=15.0 * POUND_PER_SHORT_TON,
        least=0.3 * POUND_PER_SHORT_TON,
        most=100.0 * POUND_PER_SHORT_TON,
        readings=(MOTION,),
        needs="stretches with the throttle shut, best of the engine running light",
        value=lambda excursion: float(getattr(excursion.assumptions, friction_key(excursion))),
        put=_put_friction,
    ),
    Constant(
        name="machine_friction_share",
        meaning="machine friction per indicated tractive effort",
        kind="ratio",
        low=_assumed("machine_friction_share")[0],
        high=_assumed("machine_friction_share")[1],
        least=0.004,
        most=0.9,
        readings=(MOTION,),
        needs="stretches with the throttle wide open at noted cutoffs",
        value=lambda excursion: excursion.assumptions.machine_friction_share,
        put=_put_friction_share,
    ),
    Constant(
        name="steam_rate_factor",
        meaning="steam to the cylinders, over that computed",
        kind="number",
        low=_assumed("steam_rate_factor")[0],
        high=_assumed("steam_rate_factor")[1],
        least=0.5,
        most=2.0,
        readings=(WATER, FUEL),
        needs="readings of the water left on the tender while the engine works",
        value=_steam_rate,
        put=_put_steam_rate,
    ),
    Constant(
        name="unburned_factor",
        meaning="share of the fuel lost unburned, over that of the usual line",
        kind="number",
        low=_assumed("unburned_factor")[0],
        high=_assumed("unburned_factor")[1],
        least=0.1,
        most=4.0,
        readings=(FUEL,),
        needs="the fuel fired, counted several times on the trip",
        value=_unburned,
        put=_put_unburned,
    ),
    Constant(
        name="heating_value",
        meaning="gross heating value of the fuel as fired",
        kind="heating_value",
        low=26.0e6,
        high=34.0e6,
        least=20.0e6,
        most=36.0e6,
        readings=(FUEL,),
        needs="the fuel fired, counted several times on the trip",
        value=lambda excursion: heating_value(excursion.fuel),
        put=_put_heating_value,
    ),
)
NAMES = tuple(constant.name for constant in CONSTANTS)
_CARS = ("car_mass", "car_rolling", "car_air")

# What kind of log tells some constants apart; the first entry whose constants are all among those mixed up applies.
APART: tuple[tuple[frozenset[str], str], ...] = (
    (
        frozenset({"resistance_factor", "car_rolling"}),
        "the cars are a part of both; fit one of them, or log the engine running light for resistance_factor",
    ),
    (
        frozenset({"car_rolling", "machine_friction"}),
        "both resist with a force that does not change; a log of the engine running light shows machine_friction alone",
    ),
    (
        frozenset({"car_air", "headwind"}),
        "both act on the air past the train; note the wind, or log the same line in both directions",
    ),
    (
        frozenset({"car_air", "car_rolling"}),
        "they differ only in how they grow with speed; let the train coast from a high speed down to a low one",
    ),
    (
        frozenset({"headwind", "car_rolling"}),
        "they differ only in how they grow with speed; let the train coast from a high speed down to a low one",
    ),
    (
        frozenset({"machine_friction_share", "car_mass"}),
        "both show in how fast a climb is made; weigh the cars, or coast over a summit and down the other side",
    ),
    (
        frozenset({"machine_friction_share"}),
        "work the engine at different cutoffs, and let it coast with the throttle shut between them",
    ),
    (
        frozenset({"car_mass"}),
        "log rising and falling stretches with the throttle shut, or weigh the cars",
    ),
    (
        frozenset({"unburned_factor", "heating_value"}),
        "both change the steam from a pound of fuel; have the heating value of the fuel tested, and give it",
    ),
    (
        frozenset({"car_rolling", "steam_rate_factor"}),
        "at full effort both show in the speed; let the train coast with the throttle shut, or note the water left",
    ),
    (
        frozenset({"steam_rate_factor"}),
        "note the water left on the tender more often: it shows the steam by itself",
    ),
)


def constants_named(names: Iterable[str], excursion: Excursion) -> tuple[Constant, ...]:
    """Constants by their names, in the order in which they are put.

    Raises:
        OutOfRange: A name that is not known, one named twice, or cars where the train has none.
    """
    named = list(names)
    for name in named:
        if name not in NAMES:
            raise OutOfRange(f"constant {name!r} is not known; {suggestion(name, NAMES)}")
        if named.count(name) > 1:
            raise OutOfRange(f"constant {name!r} is named twice; name each once")
        if name in _CARS and not excursion.train.vehicles:
            raise OutOfRange(
                f"constant {name!r} is of the cars, but the train has none; fit machine_friction"
            )
    return tuple(constant for constant in CONSTANTS if constant.name in named)


def with_values(excursion: Excursion, values: dict[str, float]) -> Excursion:
    """An excursion with other values of constants."""
    for constant in CONSTANTS:
        if constant.name in values:
            excursion = constant.put(excursion, values[constant.name])
    return excursion


def in_files(constant: Constant, excursion: Excursion, value: float) -> bool:
    """Whether a file may give this value."""
    try:
        constant.put(excursion, value)
    except LocosimError:
        return False
    return True


def changes_for(names: Iterable[str], fitted: Excursion) -> tuple[str, ...]:
    """Changes that give an excursion the values of another, as `key=value`.

    Args:
        names: Names of the constants that differ.
        fitted: The excursion with their values.
    """
    names = set(names)
    engine = fitted.locomotive
    own = {
        "resistance_factor": f"assumptions.resistance_factor={fitted.assumptions.resistance_factor:.6g}",
        "headwind": f"weather.headwind={fitted.weather.headwind:.6g} m/s",
        "machine_friction": (
            f"assumptions.{friction_key(fitted)}={getattr(fitted.assumptions, friction_key(fitted)):.6g} N/kg"
        ),
        "machine_friction_share": (
            f"assumptions.machine_friction_share={fitted.assumptions.machine_friction_share:.6g}"
        ),
        "steam_rate_factor": (
            f"locomotive.steam_passages.steam_rate_factor={engine.steam_passages.steam_rate_factor or 0.0:.6g}"
        ),
        "unburned_factor": f"locomotive.boiler.unburned_factor={engine.boiler.unburned_factor or 0.0:.6g}",
        "heating_value": f"fuel.heating_value={fitted.fuel.heating_value or 0.0:.6g} J/kg",
    }
    cars = [
        change
        for number, vehicle in enumerate(fitted.train.vehicles, start=1)
        for change in _car_changes(f"train.vehicles[{number}]", vehicle, names)
    ]
    return (*cars, *(text for name, text in own.items() if name in names))


def _car_changes(path: str, vehicle: Vehicle, names: set[str]) -> list[str]:
    changes = [f"{path}.empty_mass={vehicle.empty_mass:.6g} kg"] if "car_mass" in names else []
    own = vehicle.custom_resistance
    if names & {"car_rolling", "car_air"} and own is not None:
        inner = f"{path}.custom_resistance"
        changes += [
            f"{path}.resistance_law=custom",
            f"{inner}.a={own.a:.6g} N/kg",
            f"{inner}.b={own.b:.6g} N/kg/(m/s)",
            f"{inner}.c={own.c:.6g} N/kg/(m/s)^2",
        ]
    return changes
