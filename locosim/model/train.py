"""Vehicles and the train they make."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from locosim.constants import WATER_DENSITY
from locosim.errors import Fault
from locosim.model.declare import check, choice, entry, measure
from locosim.physics.resistance.laws import LAWS

PERSON_MASS = 80.0  # with what they carry [kg]; common practice, no source
MAX_TRAIN_LENGTH = 10_000.0  # train anyone has run, with room to spare [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomResistance:
    """Resistance per mass as a + b v + c v², measured by the user."""

    a: float = measure("N/kg", "Constant part.", at_least=0, below=1, example="4 lbf/short_ton")
    b: float = measure("N/kg/(m/s)", "Part proportional to speed.", at_least=0, below=0.1, default=0.0)
    c: float = measure(
        "N/kg/(m/s)^2", "Part proportional to speed squared.", at_least=0, below=0.01, default=0.0
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """A kind of vehicle and how many of them run together."""

    name: str = entry("What it is called.")
    count: int = entry("How many of these there are in a row.", default=1, at_least=1, at_most=300)
    empty_mass: float = measure("kg", "Mass empty.", above=100, below=1e6, example="45 short_ton")
    load: float = measure(
        "kg", "Mass of what it carries.", at_least=0, below=1e6, default=0.0, example="30 short_ton"
    )
    people: int = entry(
        "People on board, at 80 kg each with what they carry.", default=0, at_least=0, at_most=1000
    )
    axles: int = entry("Number of axles.", at_least=2, at_most=40, default=4)
    length: float = measure("m", "Length over couplers or buffers.", above=2, below=40, example="80 ft")
    resistance_law: str = choice(
        (*LAWS, "custom"), "Published law of running resistance, or `custom`.", default="davis_1926_passenger"
    )
    custom_resistance: CustomResistance | None = entry("Coefficients of the law `custom`.", default=None)
    frontal_area: float = measure(
        "m^2", "Cross section in the resistance law.", above=1, below=20, default=11.15, example="120 ft^2"
    )
    bearing: str = choice(("plain", "roller"), "Kind of axle bearing.", default="plain")
    braking_ratio: float = measure(
        "", "Shoe force at a full service application over tare weight.", at_least=0, at_most=2, default=0.6
    )
    rotating_mass_fraction: float = measure(
        "", "Rotating parts as a share of the tare.", at_least=0, at_most=0.3, default=0.06
    )
    water: float = measure(
        "m^3",
        "Water it carries for the engine, as an auxiliary water car.",
        at_least=0,
        below=500,
        default=0.0,
        example="10000 us_gallon",
    )
    kind: str = choice(("passenger_car", "freight_car", "water_car", "diesel"), "What it is for.", default="passenger_car")

    def __post_init__(self) -> None:
        """Check every field, and that a law of one's own is given where it is named."""
        check(self)

    def _custom_resistance_faults(self) -> Iterator[Fault]:
        """Yield a fault when a law of one's own is named but not given, or given but not named."""
        rule = 'goes with resistance_law = "custom", and only with it'
        if self.resistance_law == "custom" and self.custom_resistance is None:
            yield Fault(
                "custom_resistance", f"{rule}; give its coefficients under [vehicles.custom_resistance]"
            )
        elif self.resistance_law != "custom" and self.custom_resistance is not None:
            yield Fault(
                "custom_resistance", f'{rule}; write resistance_law = "custom", or leave the coefficients out'
            )

    @property
    def mass(self) -> float:
        """Mass of one vehicle with load, people and water [kg]."""
        return self.empty_mass + self.load + PERSON_MASS * self.people + WATER_DENSITY * self.water

    @property
    def mass_without_water(self) -> float:
        """Mass of one vehicle without the water it carries for the engine [kg]."""
        return self.mass - WATER_DENSITY * self.water

    @property
    def axle_load(self) -> float:
        """Mass on one axle [kg]."""
        return self.mass / self.axles


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """What is coupled behind the tender."""

    name: str = entry("Name of the train.")
    vehicles: tuple[Vehicle, ...] = entry("The vehicles, front first.", at_least=1, at_most=300)
    max_coupler_pull: float = measure(
        "N",
        "Greatest pull the weakest coupler may see.",
        above=0,
        below=1e7,
        default=1.1e6,
        example="250000 lbf",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the train is no longer than any there has been."""
        check(self)

    def _length_faults(self) -> Iterator[Fault]:
        """Yield a fault when the train is longer than any there has been."""
        if self.length > MAX_TRAIN_LENGTH:
            yield Fault(
                "vehicles",
                "make a train of {length}, but at most {most} is allowed; look at count and length of each",
                "m",
                {"length": self.length, "most": MAX_TRAIN_LENGTH},
            )

    @property
    def mass(self) -> float:
        """Mass behind the tender [kg]."""
        return sum(vehicle.mass * vehicle.count for vehicle in self.vehicles)

    @property
    def length(self) -> float:
        """Length behind the tender [m]."""
        return sum(vehicle.length * vehicle.count for vehicle in self.vehicles)

    @property
    def rotating_mass(self) -> float:
        """Equivalent mass of the wheels' rotation [kg]."""
        return sum(v.rotating_mass_fraction * v.empty_mass * v.count for v in self.vehicles)

    @property
    def water(self) -> float:
        """Water in auxiliary water cars [m³]."""
        return sum(vehicle.water * vehicle.count for vehicle in self.vehicles)
