"""The locomotive and her tender."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from locosim.errors import Fault
from locosim.model.boiler import Auxiliaries, Boiler, FeedDevice
from locosim.model.cylinders import EngineUnit, SteamPassages
from locosim.model.declare import check, entry, measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Tender:
    """Water, fuel and the wheels under them; a tank engine has its supplies here too, with empty_mass 0."""

    empty_mass: float = measure(
        "kg", "Mass without water and fuel.", at_least=0, below=5e5, example="60000 lb"
    )
    water_capacity: float = measure(
        "m^3", "Water it holds when full.", above=0, below=500, example="8000 us_gallon"
    )
    fuel_capacity: float = measure(
        "kg", "Fuel it holds when full.", above=0, below=2e5, example="12 short_ton"
    )
    axles: int = entry("Number of axles.", at_least=0, at_most=20)
    length: float = measure("m", "Length over couplers.", at_least=0, below=40, default=0.0, example="30 ft")

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Locomotive:
    """A steam locomotive, as she is today."""

    name: str = entry("Name or number.")
    mass: float = measure(
        "kg",
        "Mass of the engine in working order, tender not counted.",
        above=1000,
        below=1e6,
        example="300000 lb",
    )
    length: float = measure(
        "m", "Length of the engine over couplers or to the tender.", above=2, below=60, example="45 ft"
    )
    truck_axles: int = entry("Axles of the engine that are not coupled.", at_least=0, at_most=20, default=0)
    boiler: Boiler = entry("Boiler and fire.")
    engine_units: tuple[EngineUnit, ...] = entry(
        "One, or two for an articulated engine.", at_least=1, at_most=4
    )
    tender: Tender = entry("Tender, or the tanks and bunker of a tank engine.")
    feed_devices: tuple[FeedDevice, ...] = entry(
        "Ways of feeding the boiler; two independent ones are required on most lines.",
        default=(),
        at_least=0,
        at_most=10,
    )
    steam_passages: SteamPassages = entry(
        "What is known of her steam passages, in place of the general constants of the cycle.",
        default=SteamPassages(),
    )
    auxiliaries: Auxiliaries = entry("What else takes steam.", default=Auxiliaries())
    frontal_area: float = measure(
        "m^2", "Cross section against the wind.", above=1, below=20, default=11.15, example="120 ft^2"
    )
    rotating_mass_fraction: float = measure(
        "", "Rotating parts as a share of the engine's mass.", at_least=0, at_most=0.3, default=0.06
    )
    min_curve_radius: float | None = measure(
        "curve", "Tightest curve she is passed for.", above=20, below=1e6, default=None, example="16 deg"
    )
    max_speed: float | None = measure(
        "m/s", "Greatest speed she is passed for.", above=0, below=70, default=None, example="60 mph"
    )
    max_speed_tender_first: float | None = measure(
        "m/s", "Greatest speed tender first.", above=0, below=70, default=None, example="35 mph"
    )
    tractive_effort_factor: float = measure(
        "",
        "Mean pressure at starting over boiler pressure in the rated tractive effort.",
        at_least=0.4,
        at_most=1.0,
        default=0.85,
    )
    references: tuple[str, ...] = entry("Where these data come from.", default=())

    def __post_init__(self) -> None:
        """Check every field, and that the coupled wheels do not carry more than there is."""
        check(self)

    def _mass_faults(self) -> Iterator[Fault]:
        """Yield a fault when the coupled wheels carry more than there is."""
        if self.mass_on_drivers > self.mass * (1 + 1e-9) and self.tender.empty_mass > 0:
            yield Fault(
                "mass",
                "must be at least the adhesive mass of the engine units ({least}), found {found}",
                "kg",
                {"least": self.mass_on_drivers, "found": self.mass},
            )

    def _expansion_faults(self) -> Iterator[Fault]:
        """Yield a fault when steam is to be used twice by other than one set of cylinders after one other."""
        fed = [
            (f"engine_units[{u}].cylinders[{c}].steam_source", cylinders.steam_source)
            for u, unit in enumerate(self.engine_units, start=1)
            for c, cylinders in enumerate(unit.cylinders, start=1)
        ]
        high, low = ([place for place, source in fed if source == kind] for kind in ("boiler", "receiver"))
        if low and (len(high), len(low)) != (1, 1):
            yield Fault(
                low[0],
                "makes a two-expansion engine, which needs one set of cylinders fed from the boiler and one from "
                f"the receiver, found {len(high)} and {len(low)}; give the set that feeds the receiver "
                'steam_source = "boiler"',
            )

    @property
    def mass_on_drivers(self) -> float:
        """Mass on all coupled wheels [kg]."""
        return sum(unit.mass_on_drivers for unit in self.engine_units)

    @property
    def driving_axles(self) -> int:
        """Coupled axles of all engine units."""
        return sum(unit.driving_axles for unit in self.engine_units)

    @property
    def axles(self) -> int:
        """Axles of engine and tender."""
        return self.driving_axles + self.truck_axles + self.tender.axles

    @property
    def max_axle_load(self) -> float:
        """Mass on the heaviest coupled axle, each unit's axles loaded alike [kg]."""
        return max(unit.mass_on_drivers / unit.driving_axles for unit in self.engine_units)

    @property
    def compound(self) -> bool:
        """Whether steam is used twice, in high- and then in low-pressure cylinders."""
        return any(c.steam_source == "receiver" for unit in self.engine_units for c in unit.cylinders)
