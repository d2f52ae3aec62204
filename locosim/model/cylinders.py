"""The engine unit: cylinders, valve gear and steam passages."""

from __future__ import annotations

import math
from collections.abc import Iterator

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import check, choice, entry, measure


@frozen
class ValveGear:
    """Valve setting, as measured on the valve."""

    lap: float = measure(
        "m",
        "Steam lap: overlap of the valve over the port in mid position.",
        above=0,
        below=0.2,
        example="1.25 in",
    )
    lead: float = measure(
        "m",
        "Port opening at dead center in full gear; the same at every cutoff unless `lead_mid_gear` is given.",
        at_least=0,
        below=0.1,
        example="0.25 in",
    )
    lead_mid_gear: float | None = measure(
        "m",
        "Lead in mid gear, larger than in full gear with a shifting link (Stephenson); if omitted, lead is constant.",
        at_least=0,
        below=0.1,
        default=None,
        example="0.375 in",
    )
    travel: float = measure("m", "Valve travel in full gear.", above=0, below=0.6, example="7 in")
    exhaust_lap: float = measure(
        "m",
        "Exhaust lap; negative for exhaust clearance.",
        above=-0.05,
        below=0.05,
        default=0.0,
        example="0 in",
    )
    port_length: float | None = measure(
        "m",
        "Length of port edge at one end of the cylinder, bridges deducted.",
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
        """Yield a fault if full gear does not open the port."""
        needed = 2 * (self.lap + self.lead)
        if self.travel <= needed:
            yield Fault(
                "travel",
                "must exceed twice the sum of lap and lead ({needed}), found {found}; check all three",
                "m",
                {"needed": needed, "found": self.travel},
            )

    def _lead_faults(self) -> Iterator[Fault]:
        """Yield a fault if the lead grows too much for the travel: two link positions would give one cutoff."""
        amplitude_squared = 0.25 * self.travel**2 - (self.lap + self.lead) ** 2
        if self.lead_mid_gear is None or amplitude_squared <= 0.0:
            return
        if 4.0 * self.lead_rise * (self.lap + self.lead_mid_gear) > amplitude_squared:
            yield Fault(
                "lead_mid_gear",
                "is too large for a travel of {travel}, found {found}; check lead and travel",
                "m",
                {"travel": self.travel, "found": self.lead_mid_gear},
            )

    @property
    def lead_rise(self) -> float:
        """Lead in mid gear less that in full gear [m]."""
        return 0.0 if self.lead_mid_gear is None else self.lead_mid_gear - self.lead


@frozen
class PoppetGear:
    """Poppet valves with cams, release and compression the same at every cutoff; positions are means of both ends."""

    release: float = measure(
        "",
        "Fraction of the stroke completed when the exhaust valve opens.",
        above=0.5,
        below=1,
        example="0.9",
    )
    compression: float = measure(
        "",
        "Fraction of the return stroke remaining when the exhaust valve closes.",
        above=0,
        below=0.6,
        example="0.12",
    )
    preadmission: float = measure(
        "",
        "Fraction of the return stroke remaining when the steam valve opens (default: common practice, no source).",
        at_least=0,
        below=0.1,
        default=0.005,
    )
    steam_valve_area_ratio: float = measure(
        "",
        "Flow area of the steam valves of one end at full lift, length of their seats times the lift, over piston area "
        "(default: common practice, no source).",
        above=0.01,
        below=0.5,
        default=0.10,
    )
    exhaust_valve_area_ratio: float = measure(
        "",
        "The same for the exhaust valves (default: common practice, no source).",
        above=0.01,
        below=0.5,
        default=0.12,
    )
    lift_rotation: float = measure(
        "",
        "Crank rotation in which a valve reaches full lift, as a fraction of a revolution (default: common practice, "
        "no source).",
        above=0.005,
        below=0.25,
        default=0.08,
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


def _double_gear_faults(valve_gear: ValveGear | None, poppet_gear: PoppetGear | None) -> Iterator[Fault]:
    """Yield a fault if a table has both kinds of valve gear."""
    if valve_gear is not None and poppet_gear is not None:
        yield Fault("poppet_gear", "and valve_gear exclude each other; give one of them")


@frozen
class Cylinders:
    """Equal cylinders supplied from one source."""

    number: int = entry(
        "Number of cylinders in this set; enter more than four as two sets.", at_least=1, at_most=4
    )
    bore: float = measure("m", "Present bore, after any reboring.", above=0.01, below=1.5, example="22 in")
    stroke: float = measure("m", "Piston stroke.", above=0.01, below=1.5, example="28 in")
    clearance: float = measure(
        "",
        "Clearance volume of one end, as a fraction of its swept volume.",
        at_least=0.01,
        at_most=0.5,
        default=0.09,
    )
    rod_ratio: float = measure(
        "", "Main rod length over crank radius.", at_least=2.5, at_most=20, default=7.0
    )
    steam_source: str = choice(
        ("boiler", "receiver"),
        "Source of the steam: `receiver` for the low-pressure cylinders of a compound.",
        default="boiler",
    )
    reciprocating_mass: float | None = measure(
        "kg",
        "Mass of the reciprocating parts of one cylinder: piston, rod, crosshead and the front end of the main rod; if "
        "omitted, an assumed share of the engine's mass.",
        above=0,
        below=5000,
        default=None,
        example="1200 lb",
    )
    live_steam_pressure_gauge: float | None = measure(
        "Pa",
        "Gauge pressure of the live steam that low-pressure cylinders receive at starting, while the high-pressure "
        "cylinders exhaust to the nozzle; if omitted, the engine starts compound.",
        above=0,
        below=3e6,
        default=None,
        example="80 psi",
    )
    valve_gear: ValveGear | None = entry(
        "Valve setting of this set, if it differs from that of the engine unit.", default=None
    )
    poppet_gear: PoppetGear | None = entry(
        "Poppet valves of this set, if they differ from those of the engine unit.", default=None
    )

    def __post_init__(self) -> None:
        """Check every field, and that the keys fit the source of the steam."""
        check(self)

    def _gear_faults(self) -> Iterator[Fault]:
        """Yield a fault if both kinds of valve gear are given."""
        yield from _double_gear_faults(self.valve_gear, self.poppet_gear)

    def _live_steam_faults(self) -> Iterator[Fault]:
        """Yield a fault if cylinders that always have live steam are given a pressure for starting."""
        if self.live_steam_pressure_gauge is not None and self.steam_source == "boiler":
            yield Fault(
                "live_steam_pressure_gauge",
                'is for the low-pressure cylinders of a compound; remove it or write steam_source = "receiver"',
            )

    @property
    def area(self) -> float:
        """Area of one piston, rod not deducted [m²]."""
        return math.pi / 4 * self.bore**2

    @property
    def swept_volume(self) -> float:
        """Swept volume of one piston per stroke [m³]."""
        return self.area * self.stroke


@frozen
class EngineUnit:
    """A set of coupled drivers and the cylinders that drive them; an articulated engine has two."""

    driver_diameter: float = measure(
        "m",
        "Present driver diameter on the tread, as turned, not as built.",
        above=0.05,
        below=3.5,
        example="63 in",
    )
    driving_axles: int = entry("Number of driving axles.", at_least=1, at_most=12)
    mass_on_drivers: float = measure("kg", "Mass on the drivers.", above=0, below=1e6, example="180000 lb")
    axle_bearing: str = choice(
        ("plain", "roller"), "Type of axle bearing of the drivers, for machine friction.", default="plain"
    )
    cylinders: tuple[Cylinders, ...] = entry("Sets of cylinders.", at_least=1, at_most=4)
    valve_gear: ValveGear | None = entry(
        "Valve setting; if omitted, the cylinder cycle uses a typical one and notes it.", default=None
    )
    poppet_gear: PoppetGear | None = entry("Poppet valves instead of a slide or piston valve.", default=None)
    max_cutoff: float = measure(
        "",
        "Cutoff in full gear, as a fraction of the stroke.",
        at_least=0.3,
        at_most=0.95,
        default=0.85,
    )
    min_cutoff: float = measure(
        "",
        "Shortest cutoff used on the road, as a fraction of the stroke.",
        at_least=0.02,
        at_most=0.5,
        default=0.15,
    )

    def __post_init__(self) -> None:
        """Check every field, and the order of the cutoffs."""
        check(self)

    def _cutoff_faults(self) -> Iterator[Fault]:
        """Yield a fault if the shortest cutoff is not below the longest."""
        if self.min_cutoff >= self.max_cutoff:
            yield Fault(
                "min_cutoff",
                "must be below max_cutoff ({most}), found {found}",
                "",
                {"most": self.max_cutoff, "found": self.min_cutoff},
            )

    def _gear_faults(self) -> Iterator[Fault]:
        """Yield a fault if both kinds of valve gear are given, or if poppet valves would release before cutoff."""
        yield from _double_gear_faults(self.valve_gear, self.poppet_gear)
        for cylinders in self.cylinders:
            gear = self.gear_of(cylinders)
            if isinstance(gear, PoppetGear) and gear.release <= self.max_cutoff:
                yield Fault(
                    "max_cutoff",
                    "must be below the release of the poppet gear ({release}), found {found}",
                    "",
                    {"release": gear.release, "found": self.max_cutoff},
                )

    def gear_of(self, cylinders: Cylinders) -> ValveGear | PoppetGear | None:
        """Valve gear of a set of cylinders: its own, or that of the unit; None where neither is given.

        Args:
            cylinders: One of the unit's sets.
        """
        return cylinders.poppet_gear or cylinders.valve_gear or self.poppet_gear or self.valve_gear

    @property
    def stroke(self) -> float:
        """Longest stroke of the unit's cylinders, which determines its piston speed [m]."""
        return max(cylinders.stroke for cylinders in self.cylinders)


@frozen
class SteamPassages:
    """Steam-passage data that override the default constants of the cycle."""

    steam_passage_area: float | None = measure(
        "m^2",
        "Effective flow area from boiler to steam chests, throttle wide open: the area of the one opening that would "
        "resist as much as throttle, dry pipe, superheater and steam pipes together. Without it 0.0124 of the area of "
        "the pistons that take boiler steam.",
        above=0,
        below=1,
        default=None,
        example="14 in^2",
    )
    max_back_pressure: float | None = measure(
        "Pa",
        "Highest gauge back pressure at which the engine is worked; it limits the evaporation by the front end.",
        above=1e4,
        below=3e5,
        default=None,
        example="12 psi",
    )
    nozzle_area: float | None = measure(
        "m^2",
        "Effective area of all exhaust nozzles, about nine tenths of the measured area. Without it 0.0289 of the gas "
        "area through tubes and flues.",
        above=0,
        below=1,
        default=None,
        example="30 in^2",
    )
    draft_to_back_pressure_ratio: float | None = measure(
        "",
        "Smokebox draft over back pressure, both gauge. A plain front end has 0.074, an inch of water for an inch of "
        "mercury; a good double stack about twice that. It is compared with what the fire requires; it limits nothing.",
        at_least=0.03,
        at_most=0.4,
        default=None,
        example="0.15",
    )
    admission_discharge_coefficient: float | None = measure(
        "",
        "Discharge coefficient of the port at admission.",
        above=0.1,
        at_most=1,
        default=None,
        example="0.65",
    )
    exhaust_discharge_coefficient: float | None = measure(
        "",
        "Discharge coefficient of the port at exhaust.",
        above=0.1,
        at_most=1,
        default=None,
        example="0.60",
    )
    leakage_area_ratio: float | None = measure(
        "",
        "Leakage area of valve and piston over piston area.",
        at_least=0,
        below=0.01,
        default=None,
        example="0.0001",
    )
    wet_wall_heat_transfer: float | None = measure(
        "W/m^2/K",
        "Heat-transfer coefficient between steam and a wet wall.",
        above=0,
        below=1e5,
        default=None,
        example="4300 W/m^2/K",
    )
    dry_wall_heat_transfer: float | None = measure(
        "W/m^2/K",
        "Heat-transfer coefficient between steam and a dry wall.",
        above=0,
        below=1e4,
        default=None,
        example="540 W/m^2/K",
    )
    steam_rate_factor: float | None = measure(
        "",
        "Steam to the cylinders over that computed by the cycle; overrides the assumption of that name.",
        at_least=0.5,
        at_most=2,
        default=None,
        example="1.05",
    )
    quench_energy: float | None = measure(
        "J/kg",
        "Specific energy of superheated steam above saturation at which a cold wall no longer condenses it.",
        above=1e3,
        below=1e6,
        default=None,
        example="86 kJ/kg",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)
