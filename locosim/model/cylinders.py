"""The engine unit: cylinders, valve gear and steam passages."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from locosim.errors import Fault
from locosim.model.declare import check, choice, entry, measure


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveGear:
    """Setting of the steam distribution, as measured on the valve."""

    lap: float = measure(
        "m",
        "Steam lap: overlap of the valve over the port at mid position.",
        above=0,
        below=0.2,
        example="1.25 in",
    )
    lead: float = measure(
        "m",
        "Port opening at dead center; constant as with a radial gear.",
        at_least=0,
        below=0.1,
        example="0.25 in",
    )
    travel: float = measure("m", "Full-gear travel of the valve.", above=0, below=0.6, example="7 in")
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
        below=3,
        default=None,
        example="28 in",
    )
    port_width: float | None = measure(
        "m",
        "Width of the steam port in the direction of valve travel.",
        above=0,
        below=0.5,
        default=None,
        example="2 in",
    )

    def __post_init__(self) -> None:
        """Check every field, and that full gear opens the port."""
        check(self)

    def _travel_faults(self) -> Iterator[Fault]:
        """Yield a fault when full gear does not open the port."""
        least = 2 * (self.lap + self.lead)
        if self.travel <= least:
            yield Fault(
                "travel",
                "must exceed twice lap plus lead ({least}), found {found}; look at all three",
                "m",
                {"least": least, "found": self.travel},
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinders:
    """A set of like cylinders fed from one place."""

    number: int = entry(
        "How many cylinders there are in this set; more than four are two sets.", at_least=1, at_most=4
    )
    bore: float = measure("m", "Bore as it is now, after reboring.", above=0.05, below=1.5, example="22 in")
    stroke: float = measure("m", "Travel of the piston.", above=0.05, below=1.5, example="28 in")
    clearance: float = measure(
        "", "Clearance volume of one end over its swept volume.", at_least=0.01, at_most=0.5, default=0.09
    )
    rod_ratio: float = measure(
        "", "Length of the connecting rod over the crank radius.", at_least=2.5, at_most=20, default=7.0
    )
    steam_source: str = choice(
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

    driver_diameter: float = measure(
        "m", "Diameter on the tread as turned now, not as built.", above=0.3, below=3.5, example="63 in"
    )
    driving_axles: int = entry("Number of coupled axles.", at_least=1, at_most=12)
    mass_on_drivers: float = measure(
        "kg", "Mass carried by the coupled wheels.", above=0, below=1e6, example="180000 lb"
    )
    cylinders: tuple[Cylinders, ...] = entry("The sets of cylinders.", at_least=1, at_most=4)
    valve_gear: ValveGear | None = entry(
        "Setting of the valves; left out, the cylinder cycle takes a usual one and says so.", default=None
    )
    max_cutoff: float = measure(
        "",
        "Longest cutoff the gear gives, as a fraction of the stroke.",
        at_least=0.3,
        at_most=0.95,
        default=0.85,
    )
    min_cutoff: float = measure(
        "", "Shortest cutoff used on the road.", at_least=0.02, at_most=0.5, default=0.15
    )

    def __post_init__(self) -> None:
        """Check every field, and the order of the cutoffs."""
        check(self)

    def _cutoff_faults(self) -> Iterator[Fault]:
        """Yield a fault when the shortest cutoff is not below the longest."""
        if self.min_cutoff >= self.max_cutoff:
            yield Fault(
                "min_cutoff",
                "must be below max_cutoff ({most}), found {found}",
                "",
                {"most": self.max_cutoff, "found": self.min_cutoff},
            )

    @property
    def stroke(self) -> float:
        """Longest stroke of the unit's cylinders, which sets its piston speed [m]."""
        return max(cylinders.stroke for cylinders in self.cylinders)


@dataclass(frozen=True, slots=True, kw_only=True)
class SteamPassages:
    """What is known of this engine's steam passages and cylinders, in place of the general constants of the cycle."""

    pressure_drop_to_steam_chest: float | None = measure(
        "Pa",
        "Fall of pressure from boiler to steam chest at full steam, throttle wide open.",
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
        "Area of all blast nozzles, in place of the back pressure; of a measured one about nine tenths.",
        above=0,
        below=1,
        default=None,
        example="30 in^2",
    )
    draft_to_back_pressure_ratio: float | None = measure(
        "",
        "Vacuum the blast raises in the smokebox over its back pressure, both by gauge. A plain front end has 0.074, "
        "an inch of water for an inch of mercury; a good double stack about twice that. A nozzle that is not given "
        "is made as wide as the usual vacuum allows.",
        at_least=0.03,
        at_most=0.4,
        default=None,
        example="0.15",
    )
    admission_discharge_coefficient: float | None = measure(
        "", "Discharge coefficient of the port to steam.", above=0.1, at_most=1, default=None, example="0.65"
    )
    exhaust_discharge_coefficient: float | None = measure(
        "",
        "Discharge coefficient of the port to exhaust.",
        above=0.1,
        at_most=1,
        default=None,
        example="0.60",
    )
    leakage_area_ratio: float | None = measure(
        "",
        "Area of leaks past valve and piston over piston area.",
        at_least=0,
        below=0.01,
        default=None,
        example="0.0001",
    )
    wet_wall_heat_transfer: float | None = measure(
        "W/m^2/K",
        "Heat transfer between steam and a wet wall.",
        above=0,
        below=1e5,
        default=None,
        example="10000 W/m^2/K",
    )
    dry_wall_heat_transfer: float | None = measure(
        "W/m^2/K",
        "Heat transfer between steam and a dry wall.",
        above=0,
        below=1e4,
        default=None,
        example="430 W/m^2/K",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the nozzle is told in one way."""
        check(self)

    def _nozzle_faults(self) -> Iterator[Fault]:
        """Yield a fault when two figures size the nozzle."""
        if self.back_pressure is not None and self.nozzle_area is not None:
            yield Fault("nozzle_area", "and back_pressure both size the nozzle; give one of them")
