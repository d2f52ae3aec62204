"""The locomotive and its tender."""

from __future__ import annotations

from collections.abc import Iterator

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.boiler import Auxiliaries, Boiler, FeedDevice
from locosim.model.cylinders import EngineUnit, SteamPassages
from locosim.model.declare import attached, check, entry, measure
from locosim.model.engine_test_sheet import Anchor, EngineTestSheet
from locosim.model.provenance import Provenance
from locosim.model.track import MIN_CURVE_RADIUS
from locosim.model.train import CustomResistance


@frozen
class Tender:
    """Tender with its water and fuel; for a tank engine, its tanks and bunker, with the two capacities alone."""

    empty_mass: float = measure(
        "kg",
        "Mass without water and fuel; 0 for a tank engine.",
        at_least=0,
        below=5e5,
        default=0.0,
        example="60000 lb",
    )
    water_capacity: float = measure("m^3", "Water capacity.", above=0, below=500, example="8000 us_gallon")
    fuel_capacity: float = measure("kg", "Fuel capacity.", above=0, below=2e5, example="12 short_ton")
    axles: int = entry("Number of axles; 0 for a tank engine.", at_least=0, at_most=20, default=0)
    length: float = measure("m", "Length over couplers.", at_least=0, below=40, default=0.0, example="30 ft")
    braking_ratio: float = measure(
        "",
        "Brake shoe force at full service application over empty mass; 0 counts no brake. Usual are 0.9 to 1.0 "
        "[common practice, from memory].",
        at_least=0,
        at_most=2,
        default=0.0,
    )

    def __post_init__(self) -> None:
        """Check every field, and that mass and axles are both given, or neither."""
        check(self)

    def _tender_faults(self) -> Iterator[Fault]:
        """Yield a fault for a tender with a mass and no axles, or with axles and no mass."""
        for key, other, example in (
            ("axles", "empty_mass", "axles = 4"),
            ("empty_mass", "axles", 'empty_mass = "60000 lb"'),
        ):
            if getattr(self, key, None) == 0 and getattr(self, other, 0):
                yield Fault(
                    key,
                    f"missing; a tender with {other} needs it: write for example {example}. A tank engine has neither",
                )


@frozen
class Locomotive:
    """A steam locomotive in its present condition."""

    name: str = entry("Name or number.")
    mass: float = measure(
        "kg",
        "Mass of the engine in working order, without the tender; for a tank engine, without the water and fuel of its "
        "tanks and bunker.",
        above=50,
        below=1e6,
        example="300000 lb",
    )
    length: float = measure(
        "m", "Length of the engine over couplers or to the tender.", above=0.3, below=60, example="45 ft"
    )
    wheelbase: float | None = measure(
        "m",
        "Wheelbase of engine and tender together, for which a turntable must be long enough; if omitted, their length "
        "over couplers counts.",
        above=0.3,
        below=60,
        default=None,
        example="60 ft",
    )
    truck_axles: int = entry(
        "Axles of the engine truck and trailing truck.", at_least=0, at_most=20, default=0
    )
    boiler: Boiler = entry("The boiler and its fire.")
    engine_units: tuple[EngineUnit, ...] = entry(
        "Engine units: one, or two for an articulated engine.", at_least=1, at_most=4
    )
    tender: Tender = entry("The tender, or the tanks and bunker of a tank engine.")
    feed_devices: tuple[FeedDevice, ...] = entry(
        "Injectors and feed pumps; most railroads require two independent ones.",
        default=(),
        at_least=0,
        at_most=10,
    )
    steam_passages: SteamPassages = entry(
        "Steam-passage data that override the default constants of the cycle.",
        default=SteamPassages(),
    )
    auxiliaries: Auxiliaries = entry("Auxiliaries that use steam.", default=Auxiliaries())
    frontal_area: float = measure(
        "m^2", "Frontal area, for air resistance.", above=0.05, below=20, default=11.15, example="120 ft^2"
    )
    rotating_mass_fraction: float = measure(
        "",
        "Equivalent mass of the rotating parts, as a fraction of the engine's mass.",
        at_least=0,
        at_most=0.3,
        default=0.06,
    )
    carrying_resistance: CustomResistance | None = entry(
        "Running resistance of the carrying axles of engine and tender per mass on them, as measured; the law "
        "`davis_1926_locomotive` if omitted. The air resistance by `frontal_area` is added.",
        default=None,
    )
    min_curve_radius: float | None = measure(
        "curve",
        "Sharpest curve the engine is approved for.",
        above=MIN_CURVE_RADIUS,
        below=1e6,
        default=None,
        example="16 deg",
    )
    max_speed: float | None = measure(
        "m/s",
        "Maximum speed the engine is approved for.",
        above=0.5,
        below=70,
        default=None,
        example="60 mph",
    )
    max_speed_tender_first: float | None = measure(
        "m/s", "Maximum speed running tender first.", above=0.5, below=70, default=None, example="35 mph"
    )
    braking_ratio: float = measure(
        "",
        "Brake shoe force at full service application over the mass on drivers; 0 counts no brake. Usual are 0.60 to "
        "0.75 [common practice, from memory].",
        at_least=0,
        at_most=2,
        default=0.0,
    )
    tractive_effort_factor: float = measure(
        "",
        "Mean effective pressure at starting over boiler pressure, in the rated tractive effort.",
        at_least=0.4,
        at_most=1.0,
        default=0.85,
    )
    references: tuple[str, ...] = entry("Sources of the data.", default=())
    test_sheet: EngineTestSheet = entry(
        "Published or recorded tests of the engine as described here, compared with what locosim computes and, where "
        "asked, used.",
        default=EngineTestSheet(),
    )
    anchors: tuple[Anchor, ...] | None = attached("Keys that were set from the test sheet.")
    provenance: Provenance | None = attached("Files and changes the engine was read from.")

    def __post_init__(self) -> None:
        """Check every field, and that the drivers do not carry more than the engine's mass."""
        check(self)

    def _mass_faults(self) -> Iterator[Fault]:
        """Yield a fault if the drivers carry more than the engine's mass."""
        if self.mass_on_drivers > self.mass * (1 + 1e-9) and self.tender.empty_mass > 0:
            yield Fault(
                "mass",
                "must be at least the mass on drivers of the engine units ({on_drivers}), found {found}",
                "kg",
                {"on_drivers": self.mass_on_drivers, "found": self.mass},
            )

    def _expansion_faults(self) -> Iterator[Fault]:
        """Yield a fault unless a compound has one high-pressure and one low-pressure set of cylinders."""
        sources = [
            (f"engine_units[{u}].cylinders[{c}].steam_source", cylinders.steam_source)
            for u, unit in enumerate(self.engine_units, start=1)
            for c, cylinders in enumerate(unit.cylinders, start=1)
        ]
        high, low = (
            [place for place, source in sources if source == kind] for kind in ("boiler", "receiver")
        )
        if low and (len(high), len(low)) != (1, 1):
            yield Fault(
                low[0],
                "makes a compound, which needs one set of cylinders supplied from the boiler and one from the "
                f"receiver, found {len(high)} and {len(low)}; give the set that exhausts into the receiver "
                'steam_source = "boiler"',
            )

    def _live_steam_faults(self) -> Iterator[Fault]:
        """Yield a fault if live steam for starting has more than boiler pressure."""
        working = self.boiler.working_pressure_gauge
        for u, unit in enumerate(self.engine_units, start=1):
            for c, cylinders in enumerate(unit.cylinders, start=1):
                live = cylinders.live_steam_pressure_gauge
                if live is not None and live > working:
                    yield Fault(
                        f"engine_units[{u}].cylinders[{c}].live_steam_pressure_gauge",
                        "must be at most the working pressure of the boiler ({working}), found {found}",
                        "Pa",
                        {"working": working, "found": live},
                    )

    @property
    def mass_on_drivers(self) -> float:
        """Mass on the drivers of all engine units [kg]."""
        return sum(unit.mass_on_drivers for unit in self.engine_units)

    @property
    def driving_axles(self) -> int:
        """Driving axles of all engine units."""
        return sum(unit.driving_axles for unit in self.engine_units)

    @property
    def coupled_behind(self) -> str:
        """Name of what the train is coupled to: the tender, or the engine itself if it is a tank engine."""
        return "tender" if self.tender.empty_mass > 0.0 else "engine"

    @property
    def rear_end(self) -> str:
        """Name of the end that leads where the stack does not: the tender, or the bunker of a tank engine."""
        return "tender" if self.tender.empty_mass > 0.0 else "bunker"

    @property
    def axles(self) -> int:
        """Axles of engine and tender."""
        return self.driving_axles + self.truck_axles + self.tender.axles

    @property
    def max_axle_load(self) -> float:
        """Mass on the heaviest driving axle, with equal axle loads within a unit [kg]."""
        return max(unit.mass_on_drivers / unit.driving_axles for unit in self.engine_units)

    @property
    def compound(self) -> bool:
        """Whether the engine is a compound."""
        return any(c.steam_source == "receiver" for unit in self.engine_units for c in unit.cylinders)
