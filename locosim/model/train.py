"""Vehicles and the train they form."""

from __future__ import annotations

from collections.abc import Iterator

from locosim.constants import WATER_DENSITY
from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import attached, check, choice, entry, measure
from locosim.model.provenance import Provenance
from locosim.physics.resistance.laws import LAWS

MAX_TRAIN_LENGTH = 10_000.0  # well beyond the longest train ever run [m]


@frozen
class CustomResistance:
    """Running resistance per unit mass, a + b v + c v², measured by the user."""

    a: float = measure("N/kg", "Constant term.", at_least=0, below=1, example="4 lbf/short_ton")
    b: float = measure("N/kg/(m/s)", "Coefficient of speed.", at_least=0, below=0.1, default=0.0)
    c: float = measure("N/kg/(m/s)^2", "Coefficient of speed squared.", at_least=0, below=0.01, default=0.0)

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Vehicle:
    """One or more identical vehicles coupled together."""

    name: str = entry("Name of the vehicle.")
    count: int = entry("Number of identical vehicles in a row.", default=1, at_least=1, at_most=300)
    empty_mass: float = measure(
        "kg", "Empty mass (light weight) of one vehicle.", above=10, below=1e6, example="45 short_ton"
    )
    load: float = measure(
        "kg",
        "Load of one vehicle, people and boiler water not counted.",
        at_least=0,
        below=1e6,
        default=0.0,
        example="30 short_ton",
    )
    people: int = entry("People on board one vehicle.", default=0, at_least=0, at_most=1000)
    person_mass: float = measure(
        "kg",
        "Mass of one person with belongings [common practice, no source].",
        above=0,
        below=500,
        default=80.0,
        example="80 kg",
    )
    axles: int = entry("Number of axles.", at_least=2, at_most=40, default=4)
    length: float = measure("m", "Length over couplers.", above=0.3, below=40, example="80 ft")
    resistance_law: str = choice(
        (*LAWS, "custom"), "Published law of running resistance, or `custom`.", default="davis_1926_passenger"
    )
    custom_resistance: CustomResistance | None = entry("Coefficients of the law `custom`.", default=None)
    frontal_area: float = measure(
        "m^2", "Frontal area in the resistance law.", above=0.05, below=20, default=11.15, example="120 ft^2"
    )
    bearing: str = choice(("plain", "roller"), "Type of axle bearing.", default="plain")
    braking_ratio: float = measure(
        "",
        "Brake shoe force at full service application over empty weight; by air 0.9 for a passenger car, by vacuum "
        "0.75 to 0.90 [common practice, from memory].",
        at_least=0,
        at_most=2,
        default=0.6,
    )
    rotating_mass_fraction: float = measure(
        "",
        "Equivalent mass of the rotating parts, as a fraction of the empty mass.",
        at_least=0,
        at_most=0.3,
        default=0.06,
    )
    water: float = measure(
        "m^3",
        "Water carried for the engine, in an auxiliary water car.",
        at_least=0,
        below=500,
        default=0.0,
        example="10000 us_gallon",
    )
    kind: str = choice(
        ("passenger_car", "freight_car", "water_car", "diesel"), "Type of vehicle.", default="passenger_car"
    )

    def __post_init__(self) -> None:
        """Check every field, and that the law `custom` has its coefficients."""
        check(self)

    def _custom_resistance_faults(self) -> Iterator[Fault]:
        """Yield a fault if the law `custom` is named without coefficients, or the reverse."""
        if self.resistance_law == "custom" and self.custom_resistance is None:
            yield Fault(
                "custom_resistance",
                'is required with resistance_law = "custom"; give its coefficients under [vehicles.custom_resistance]',
            )
        elif self.resistance_law != "custom" and self.custom_resistance is not None:
            yield Fault(
                "custom_resistance",
                'is allowed only with resistance_law = "custom"; write that, or omit the coefficients',
            )

    @property
    def mass(self) -> float:
        """Mass of one vehicle with load, people and water [kg]."""
        return self.empty_mass + self.load + self.person_mass * self.people + WATER_DENSITY * self.water

    @property
    def mass_without_water(self) -> float:
        """Mass of one vehicle without its water for the engine [kg]."""
        return self.mass - WATER_DENSITY * self.water

    @property
    def axle_load(self) -> float:
        """Mass on one axle [kg]."""
        return self.mass / self.axles


@frozen
class Train:
    """The vehicles behind the tender."""

    name: str = entry("Name of the train.")
    vehicles: tuple[Vehicle, ...] = entry(
        "Vehicles, front first; none, `vehicles = []`, for a light engine.", at_least=0, at_most=300
    )
    brake: str = choice(
        ("air", "vacuum"),
        "Kind of continuous brake; a simple vacuum brake applies in 14 s for each 10 cars [Dingler1877].",
        default="air",
    )
    max_coupler_pull: float = measure(
        "N",
        "Maximum pull on the weakest coupler.",
        above=0,
        below=1e7,
        default=1.1e6,
        example="250000 lbf",
    )
    provenance: Provenance | None = attached("Files and changes the train was read from.")

    def __post_init__(self) -> None:
        """Check every field, and that the train is not longer than any ever run."""
        check(self)

    def _length_faults(self) -> Iterator[Fault]:
        """Yield a fault if the train is longer than any ever run."""
        if self.length > MAX_TRAIN_LENGTH:
            yield Fault(
                "vehicles",
                "form a train of {length}, but at most {most} is allowed; check the count and length of each",
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
        """Equivalent mass of the rotating parts [kg]."""
        return sum(v.rotating_mass_fraction * v.empty_mass * v.count for v in self.vehicles)

    @property
    def water(self) -> float:
        """Water in auxiliary water cars [m³]."""
        return sum(vehicle.water * vehicle.count for vehicle in self.vehicles)
