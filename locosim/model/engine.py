"""The locomotive: boiler, engine units, cylinders, valve gear and tender."""

from __future__ import annotations

import math
from dataclasses import dataclass

from locosim.constants import ATMOSPHERE
from locosim.errors import OutOfRange
from locosim.model.field import check, choice, entry, measure


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveGear:
    """Setting of the steam distribution, as measured on the valve."""

    lap: float = measure(
        "m", "Steam lap: overlap of the valve over the port at mid position.", above=0, example="1.25 in"
    )
    lead: float = measure(
        "m", "Port opening at dead centre; constant as with a radial gear.", at_least=0, example="0.25 in"
    )
    travel: float = measure("m", "Full-gear travel of the valve.", above=0, example="7 in")
    exhaust_lap: float = measure(
        "m",
        "Exhaust lap; negative is clearance.",
        above=-0.05,
        below=0.05,
        default=0.0,
        example="0 in",
    )
    port_length: float | None = measure(
        "m",
        "Length of port edge at one end of the cylinder, bars taken off.",
        above=0,
        default=None,
        example="28 in",
    )
    port_width: float | None = measure(
        "m",
        "Width of the steam port in the direction of valve travel.",
        above=0,
        default=None,
        example="2 in",
    )

    def __post_init__(self) -> None:
        """Check every field, and that full gear opens the port."""
        check(self)
        if self.travel <= 2 * (self.lap + self.lead):
            raise OutOfRange(
                f"ValveGear.travel must exceed twice lap plus lead ({2 * (self.lap + self.lead):g} m), "
                f"found {self.travel:g}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinders:
    """A set of like cylinders fed from one place."""

    number: int = entry("How many cylinders there are in this set.", at_least=1)
    bore: float = measure("m", "Bore as it is now, after reboring.", above=0.05, below=1.5, example="22 in")
    stroke: float = measure("m", "Travel of the piston.", above=0.05, below=1.5, example="28 in")
    clearance: float = measure(
        "", "Clearance volume of one end over its swept volume.", at_least=0.01, at_most=0.5, default=0.09
    )
    rod_ratio: float = measure(
        "", "Length of the connecting rod over the crank radius.", at_least=2.5, at_most=20, default=7.0
    )
    steam_from: str = choice(
        ("boiler", "receiver"),
        "Where the steam comes from: `receiver` marks the low-pressure cylinders of a two-expansion engine.",
        default="boiler",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @property
    def area(self) -> float:
        """Area of one piston, rod not taken off [m²]."""
        return math.pi / 4 * self.bore**2

    @property
    def swept_volume(self) -> float:
        """Volume one piston sweeps in one stroke [m³]."""
        return self.area * self.stroke


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineUnit:
    """One set of coupled wheels with the cylinders that drive them; an articulated engine has two."""

    driving_wheel_diameter: float = measure(
        "m", "Diameter on the tread as turned now, not as built.", above=0.3, below=3.5, example="63 in"
    )
    coupled_axles: int = entry("Number of coupled axles.", at_least=1)
    adhesive_mass: float = measure("kg", "Mass carried by the coupled wheels.", above=0, example="180000 lb")
    cylinders: tuple[Cylinders, ...] = entry("The sets of cylinders.", at_least=1)
    valve_gear: ValveGear | None = entry(
        "Setting of the valves; left out, the cylinder cycle takes a usual one and says so.", default=None
    )
    cutoff_greatest: float = measure(
        "",
        "Longest cutoff the gear gives, as a fraction of the stroke.",
        at_least=0.3,
        at_most=0.95,
        default=0.85,
    )
    cutoff_least: float = measure(
        "", "Shortest cutoff used on the road.", at_least=0.02, at_most=0.5, default=0.15
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)
        if self.cutoff_least >= self.cutoff_greatest:
            raise OutOfRange(
                f"EngineUnit.cutoff_least must be below cutoff_greatest ({self.cutoff_greatest:g}), "
                f"found {self.cutoff_least:g}"
            )

    @property
    def stroke(self) -> float:
        """Longest stroke of the unit's cylinders, which sets its piston speed [m]."""
        return max(cylinders.stroke for cylinders in self.cylinders)


@dataclass(frozen=True, slots=True, kw_only=True)
class Superheater:
    """Elements that carry the steam through the flues."""

    surface: float = measure("m^2", "Heating surface of the elements.", above=0, example="900 ft^2")

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Boiler:
    """Boiler and fire."""

    working_pressure_gauge: float = measure(
        "Pa",
        "Working pressure on the boiler's certificate, by gauge.",
        above=1e5,
        below=4e6,
        example="210 psi",
    )
    grate_area: float = measure("m^2", "Area of the grate.", above=0.1, below=25, example="50 ft^2")
    firebox_surface: float = measure(
        "m^2",
        "Evaporating surface of firebox, combustion chamber, arch tubes and syphons.",
        above=0,
        example="250 ft^2",
    )
    tube_surface: float = measure(
        "m^2", "Evaporating surface of tubes and flues.", above=0, example="2600 ft^2"
    )
    tube_length: float | None = measure(
        "m", "Length of tubes between the tube plates.", above=0.5, below=12, default=None, example="18 ft"
    )
    superheater: Superheater | None = entry("Superheater; leave out for saturated steam.", default=None)
    firing: str = choice(
        ("hand", "stoker", "oil"), "How the fire is fed; hand firing has a limit of its own.", default="hand"
    )
    barrel_diameter: float | None = measure(
        "m",
        "Inside diameter of the barrel over the crown sheet.",
        above=0.4,
        below=3.5,
        default=None,
        example="72 in",
    )
    barrel_length: float | None = measure(
        "m",
        "Length of the water space, backhead to front tube plate.",
        above=1,
        below=25,
        default=None,
        example="28 ft",
    )
    crown_length: float | None = measure(
        "m", "Length of the crown sheet, back to front.", above=0.3, below=10, default=None, example="9 ft"
    )
    crown_height: float | None = measure(
        "m",
        "Height of the highest part of the crown sheet above the bottom of the barrel.",
        above=0.2,
        below=3,
        default=None,
        example="50 in",
    )
    crown_slope: float = measure(
        "gradient",
        "Fall of the crown sheet from its front end towards the backhead.",
        at_least=0,
        at_most=0.2,
        default=0.0,
        example="1 in 24",
    )
    glass_least_cover: float = measure(
        "m",
        "Water over the highest part of the crown sheet at the lowest reading of the glass.",
        above=0,
        below=0.5,
        default=0.0762,
        example="3 in",
    )
    metal_mass: float | None = measure(
        "kg",
        "Mass of boiler metal that follows the steam temperature.",
        above=0,
        default=None,
        example="60000 lb",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @property
    def evaporating_surface(self) -> float:
        """Firebox, tubes and flues together [m²]."""
        return self.firebox_surface + self.tube_surface

    @property
    def absolute_pressure(self) -> float:
        """Working pressure above vacuum [Pa]."""
        return self.working_pressure_gauge + ATMOSPHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedDevice:
    """One way of putting water into the boiler."""

    name: str = entry("What the crew calls it.")
    kind: str = choice(
        ("injector", "exhaust_injector", "pump", "pump_with_heater"), "Kind of device.", default="injector"
    )
    rate_greatest: float = measure(
        "kg/s", "Greatest delivery.", above=0, below=50, example="3500 us_gallon/hour"
    )
    rate_least: float = measure(
        "kg/s",
        "Least delivery at which it still works.",
        at_least=0,
        default=0.0,
        example="1500 us_gallon/hour",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)
        if self.rate_least > self.rate_greatest:
            raise OutOfRange(
                f"FeedDevice.rate_least must not exceed rate_greatest ({self.rate_greatest:g} kg/s), "
                f"found {self.rate_least:g}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tender:
    """Water, fuel and the wheels under them; a tank engine has its supplies here too, with mass_empty 0."""

    mass_empty: float = measure("kg", "Mass without water and fuel.", at_least=0, example="60000 lb")
    water_capacity: float = measure("m^3", "Water it holds when full.", above=0, example="8000 us_gallon")
    fuel_capacity: float = measure("kg", "Fuel it holds when full.", above=0, example="12 short_ton")
    axles: int = entry("Number of axles.", at_least=0)
    length: float = measure("m", "Length over couplers.", at_least=0, default=0.0, example="30 ft")

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Auxiliaries:
    """What takes steam beside the cylinders, as steam rates."""

    air_compressor: float = measure(
        "kg/s",
        "Steam to one air compressor at its mean duty.",
        at_least=0,
        default=0.03,
        example="240 lb/hour",
    )
    air_compressors: int = entry("Number of air compressors.", at_least=0, default=1)
    dynamo: float = measure(
        "kg/s", "Steam to the turbo-generator.", at_least=0, default=0.012, example="100 lb/hour"
    )
    blower: float = measure(
        "kg/s",
        "Steam to the blower when standing or drifting.",
        at_least=0,
        default=0.06,
        example="480 lb/hour",
    )
    stoker: float = measure(
        "kg/s", "Steam to the stoker engine while firing.", at_least=0, default=0.0, example="300 lb/hour"
    )
    train_heat: float = measure(
        "kg/s", "Steam to heat the whole train.", at_least=0, default=0.0, example="1500 lb/hour"
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @property
    def steady(self) -> float:
        """Steam taken at all times [kg/s]."""
        return self.air_compressor * self.air_compressors + self.dynamo + self.train_heat + self.stoker


@dataclass(frozen=True, slots=True, kw_only=True)
class SteamWays:
    """What is known of this engine's steam ways and cylinders, in place of the general constants of the cycle."""

    chest_drop: float | None = measure(
        "Pa",
        "Fall of pressure from boiler to steam chest at full steam, regulator wide open.",
        above=0,
        below=1e6,
        default=None,
        example="15 psi",
    )
    back_pressure: float | None = measure(
        "Pa",
        "Pressure in the exhaust passage above the air at full steam.",
        above=0,
        below=5e5,
        default=None,
        example="15 psi",
    )
    nozzle_area: float | None = measure(
        "m^2",
        "Area of all blast nozzles, in place of the back pressure.",
        above=0,
        below=1,
        default=None,
        example="30 in^2",
    )
    steam_discharge: float | None = measure(
        "", "Discharge coefficient of the port to steam.", above=0.1, at_most=1, default=None, example="0.65"
    )
    exhaust_discharge: float | None = measure(
        "",
        "Discharge coefficient of the port to exhaust.",
        above=0.1,
        at_most=1,
        default=None,
        example="0.60",
    )
    leakage_share: float | None = measure(
        "",
        "Area of leaks past valve and piston over piston area.",
        at_least=0,
        below=0.01,
        default=None,
        example="0.0001",
    )
    condensing_coefficient: float | None = measure(
        "W/m^2/K",
        "Heat transfer between steam and a wet wall.",
        at_least=0,
        below=1e5,
        default=None,
        example="10000 W/m^2/K",
    )
    dry_coefficient: float | None = measure(
        "W/m^2/K",
        "Heat transfer between steam and a dry wall.",
        at_least=0,
        below=1e4,
        default=None,
        example="430 W/m^2/K",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the nozzle is told in one way."""
        check(self)
        if self.back_pressure is not None and self.nozzle_area is not None:
            raise OutOfRange("SteamWays.nozzle_area and back_pressure both size the nozzle; give one of them")


@dataclass(frozen=True, slots=True, kw_only=True)
class Locomotive:
    """A steam locomotive, as she is today."""

    name: str = entry("Name or number.")
    mass: float = measure(
        "kg", "Mass of the engine in working order, tender not counted.", above=1000, example="300000 lb"
    )
    length: float = measure(
        "m", "Length of the engine over couplers or to the tender.", above=2, below=60, example="45 ft"
    )
    carrying_axles: int = entry("Axles of the engine that are not coupled.", at_least=0, default=0)
    boiler: Boiler = entry("Boiler and fire.")
    engine_units: tuple[EngineUnit, ...] = entry("One, or two for an articulated engine.", at_least=1)
    tender: Tender = entry("Tender, or the tanks and bunker of a tank engine.")
    feed_devices: tuple[FeedDevice, ...] = entry(
        "Ways of feeding the boiler; two independent ones are required on most lines.", default=(), at_least=0
    )
    steam_ways: SteamWays = entry(
        "What is known of her steam ways, in place of the general constants of the cycle.",
        default=SteamWays(),
    )
    auxiliaries: Auxiliaries = entry("What else takes steam.", default=Auxiliaries())
    frontal_area: float = measure(
        "m^2", "Cross section against the wind.", above=1, below=20, default=11.15, example="120 ft^2"
    )
    rotating_allowance: float = measure(
        "", "Rotating parts as a share of the engine's mass.", at_least=0, at_most=0.3, default=0.06
    )
    fixed_wheelbase: float | None = measure(
        "m", "Longest rigid wheelbase.", above=0.5, below=12, default=None, example="16 ft"
    )
    curve_radius_least: float | None = measure(
        "curve", "Tightest curve she is passed for.", above=20, default=None, example="16 deg"
    )
    speed_greatest: float | None = measure(
        "m/s", "Greatest speed she is passed for.", above=0, below=70, default=None, example="60 mph"
    )
    speed_greatest_tender_first: float | None = measure(
        "m/s", "Greatest speed tender first.", above=0, below=70, default=None, example="35 mph"
    )
    rated_coefficient: float = measure(
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
        if self.adhesive_mass > self.mass * (1 + 1e-9) and self.tender.mass_empty > 0:
            raise OutOfRange(
                f"Locomotive.mass must be at least the adhesive mass ({self.adhesive_mass:g} kg), "
                f"found {self.mass:g}"
            )

    @property
    def adhesive_mass(self) -> float:
        """Mass on all coupled wheels [kg]."""
        return sum(unit.adhesive_mass for unit in self.engine_units)

    @property
    def coupled_axles(self) -> int:
        """Coupled axles of all engine units."""
        return sum(unit.coupled_axles for unit in self.engine_units)

    @property
    def axles(self) -> int:
        """Axles of engine and tender."""
        return self.coupled_axles + self.carrying_axles + self.tender.axles

    @property
    def greatest_axle_load(self) -> float:
        """Mass on the heaviest coupled axle, each unit's axles loaded alike [kg]."""
        return max(unit.adhesive_mass / unit.coupled_axles for unit in self.engine_units)

    @property
    def two_expansion(self) -> bool:
        """Whether steam is used twice, in high- and then in low-pressure cylinders."""
        return any(c.steam_from == "receiver" for unit in self.engine_units for c in unit.cylinders)
