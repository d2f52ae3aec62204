"""The boiler, its fuel, fire and feed devices, and the auxiliaries that use steam."""

from __future__ import annotations

import math
from collections.abc import Iterator

from locosim.constants import ATMOSPHERE
from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import check, choice, entry, measure
from locosim.model.tubes import Flues, Superheater, Tubes


@frozen
class Fuel:
    """The fuel burned."""

    kind: str = choice(
        ("bituminous", "subbituminous", "anthracite", "wood", "oil"), "Kind of fuel.", default="bituminous"
    )
    heating_value: float | None = measure(
        "J/kg",
        "Gross heating value as fired; if omitted, the published value for the kind of fuel.",
        above=5e6,
        below=5e7,
        default=None,
        example="13500 Btu/lb",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Boiler:
    """A boiler and its fire."""

    working_pressure_gauge: float = measure(
        "Pa",
        "Gauge working pressure on the boiler certificate.",
        above=1e5,
        below=4e6,
        example="210 psi",
    )
    grate_area: float = measure("m^2", "Area of the grate.", above=0.002, below=25, example="50 ft^2")
    firebox_surface: float = measure(
        "m^2",
        "Evaporative heating surface of firebox, combustion chamber, arch tubes and syphons.",
        above=0,
        below=200,
        example="250 ft^2",
    )
    tube_surface: float | None = measure(
        "m^2",
        "Evaporative heating surface of tubes and flues; required unless it follows from their dimensions.",
        above=0,
        below=10_000,
        default=None,
        example="2600 ft^2",
    )
    tube_length: float | None = measure(
        "m",
        "Length of the tubes between tube sheets; required with tubes or flues.",
        above=0.05,
        below=12,
        default=None,
        example="18 ft",
    )
    tubes: Tubes | None = entry("Small tubes; omit if only surfaces are known.", default=None)
    flues: Flues | None = entry("Flues; omit if only surfaces are known.", default=None)
    superheater: Superheater | None = entry("Superheater; omit for saturated steam.", default=None)
    firing: str = choice(
        ("hand", "stoker", "oil"), "How the fire is fed; hand firing has its own limit.", default="hand"
    )
    shell_inside_diameter: float | None = measure(
        "m",
        "Inside diameter of the boiler shell at the crown sheet.",
        above=0.08,
        below=3.5,
        default=None,
        example="72 in",
    )
    water_space_length: float | None = measure(
        "m",
        "Length of the water space, backhead to front tube sheet.",
        above=0.1,
        below=25,
        default=None,
        example="28 ft",
    )
    crown_sheet_length: float | None = measure(
        "m", "Length of the crown sheet, front to back.", above=0.03, below=10, default=None, example="9 ft"
    )
    crown_sheet_height: float | None = measure(
        "m",
        "Height of the highest part of the crown sheet above the bottom of the shell.",
        above=0.03,
        below=3,
        default=None,
        example="50 in",
    )
    crown_sheet_slope: float = measure(
        "grade",
        "Slope of the crown sheet, falling from its front end toward the backhead.",
        at_least=0,
        at_most=0.2,
        default=0.0,
        example="1 in 24",
    )
    crown_sheet_cover_at_glass_bottom: float = measure(
        "m",
        "Water over the highest part of the crown sheet at the lowest reading of the water glass.",
        above=0,
        below=0.5,
        default=0.0762,
        example="3 in",
    )
    max_firing_rate: float | None = measure(
        "kg/m^2/s",
        "Greatest firing rate per unit of grate area; if omitted, the published limit for the fuel.",
        above=0.01,
        at_most=0.36,
        default=None,
        example="150 lb/ft^2/hour",
    )
    unburned_factor: float | None = measure(
        "",
        "Share of the fuel lost unburned, over that of the usual line; overrides the assumption of that name.",
        at_least=0.1,
        at_most=4,
        default=None,
        example="0.9",
    )
    superheater_factor: float | None = measure(
        "",
        "Heat transfer to the superheater, over that of the usual law; overrides the assumption of that name.",
        at_least=0.1,
        at_most=4,
        default=None,
        example="0.9",
    )
    draft_roughness_factor: float | None = measure(
        "",
        "Pressure drop through the tubes over that through smooth ones; overrides the assumption of that name.",
        at_least=0.3,
        at_most=5,
        default=None,
        example="1.4",
    )
    metal_mass: float | None = measure(
        "kg",
        "Mass of boiler metal that follows the steam temperature.",
        above=0,
        below=5e5,
        default=None,
        example="60000 lb",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the crown sheet fits in the shell."""
        check(self)

    def _crown_sheet_faults(self) -> Iterator[Fault]:
        """Yield each dimension of the crown sheet that does not fit in the shell."""
        for part, whole in (
            ("crown_sheet_height", "shell_inside_diameter"),
            ("crown_sheet_length", "water_space_length"),
        ):
            small, large = getattr(self, part, None), getattr(self, whole, None)
            if small is not None and large is not None and small >= large:
                yield Fault(
                    part,
                    f"must be below {whole} ({{most}}), found {{found}}",
                    "m",
                    {"most": large, "found": small},
                )

    def _tube_faults(self) -> Iterator[Fault]:
        """Yield what is missing to know the tubes and flues."""
        if self.tubes is None and self.flues is None:
            if self.tube_surface is None:
                yield Fault(
                    "tube_surface",
                    'missing; write for example tube_surface = "2600 ft^2", or the dimensions of tubes and flues',
                )
        elif self.tube_length is None:
            yield Fault(
                "tube_length", 'missing; tubes and flues need it: write for example tube_length = "18 ft"'
            )

    def _element_faults(self) -> Iterator[Fault]:
        """Yield what is missing to know the superheater elements in the flues, or does not fit."""
        superheater, flues = self.superheater, self.flues
        if superheater is None:
            return
        if flues is None:
            if self.tubes is not None:
                yield Fault(
                    "flues", "missing; a superheater with tubes needs the dimensions of its flues too"
                )
            elif superheater.surface is None:
                yield Fault(
                    "superheater.surface", 'missing; without flues write for example surface = "900 ft^2"'
                )
            return
        for key, line in (
            ("pipes_per_flue", "pipes_per_flue = 4"),
            ("pipe_diameter", 'pipe_diameter = "1.5 in"'),
        ):
            if getattr(superheater, key) is None:
                yield Fault(f"superheater.{key}", f"missing; flues need it: write for example {line}")
        if superheater.pipes_per_flue is None or superheater.pipe_diameter is None:
            return
        room = math.sqrt(0.75 / superheater.pipes_per_flue) * flues.inside_diameter
        if superheater.pipe_diameter > room:
            yield Fault(
                "superheater.pipe_diameter",
                f"must be at most {{most}}, so that {superheater.pipes_per_flue} pipes leave a quarter of the flue "
                "free, found {found}",
                "m",
                {"most": room, "found": superheater.pipe_diameter},
            )

    def _return_bend_faults(self) -> Iterator[Fault]:
        """Yield a fault if the elements do not reach into the flues."""
        distance = None if self.superheater is None else self.superheater.return_bend_distance
        if distance is not None and self.tube_length is not None and distance >= self.tube_length:
            yield Fault(
                "superheater.return_bend_distance",
                "must be below tube_length ({most}), found {found}",
                "m",
                {"most": self.tube_length, "found": distance},
            )

    @property
    def dimensions_known(self) -> bool:
        """Whether surfaces and gas area follow from the dimensions of tubes and flues."""
        return self.tubes is not None or self.flues is not None

    @property
    def element_length(self) -> float:
        """Length of flue that contains superheater elements; 0 without flues or superheater [m].

        It is the length ahead of the front tube sheet to the return bends. Where their distance is not given, it
        follows from the surface of the superheater, up to the whole length.
        """
        superheater, length = self.superheater, self.tube_length
        if superheater is None or self.flues is None or length is None:
            return 0.0
        if superheater.return_bend_distance is not None:
            return length - superheater.return_bend_distance
        assert superheater.surface is not None  # checked: one of the two is given
        return min(superheater.surface / superheater.surface_per_length(self.flues), length)

    @property
    def tube_heating_surface(self) -> float:
        """Evaporative heating surface of tubes and flues: by their dimensions, or as given [m²]."""
        if not self.dimensions_known:
            assert self.tube_surface is not None  # checked
            return self.tube_surface
        banks = [bank for bank in (self.tubes, self.flues) if bank is not None]
        length = self.tube_length or 0.0
        return sum(bank.count * math.pi * bank.outside_diameter * length for bank in banks)

    @property
    def superheater_heating_surface(self) -> float:
        """Heating surface of the superheater: by its dimensions, or as given; 0 for saturated steam [m²]."""
        if self.superheater is None:
            return 0.0
        if self.flues is None:
            assert self.superheater.surface is not None  # checked
            return self.superheater.surface
        return self.element_length * self.superheater.surface_per_length(self.flues)

    @property
    def evaporative_heating_surface(self) -> float:
        """Heating surface of firebox, tubes and flues [m²]."""
        return self.firebox_surface + self.tube_heating_surface

    @property
    def absolute_pressure(self) -> float:
        """Absolute working pressure [Pa]."""
        return self.working_pressure_gauge + ATMOSPHERE


@frozen
class FeedDevice:
    """An injector or feed pump."""

    name: str = entry("Name of the device.")
    kind: str = choice(
        ("injector", "exhaust_steam_injector", "pump", "pump_with_feedwater_heater"),
        "Kind of device.",
        default="injector",
    )
    max_rate: float = measure(
        "kg/s",
        "Maximum net gain of water in the boiler: the delivery less the live steam used.",
        above=0,
        below=50,
        example="3500 us_gallon/hour",
    )
    min_rate: float = measure(
        "kg/s",
        "Minimum delivery at which it works.",
        at_least=0,
        below=50,
        default=0.0,
        example="1500 us_gallon/hour",
    )

    def __post_init__(self) -> None:
        """Check every field, and the order of the rates."""
        check(self)

    def _rate_faults(self) -> Iterator[Fault]:
        """Yield a fault if the minimum delivery exceeds the maximum."""
        if self.min_rate > self.max_rate:
            yield Fault(
                "min_rate",
                "must not exceed max_rate ({most}), found {found}",
                "kg/s",
                {"most": self.max_rate, "found": self.min_rate},
            )


@frozen
class Auxiliaries:
    """Steam rates of everything but the cylinders."""

    air_compressor_steam: float = measure(
        "kg/s",
        "Steam to one air compressor at average duty.",
        at_least=0,
        below=5,
        default=0.03,
        example="240 lb/hour",
    )
    air_compressor_count: int = entry("Number of air compressors.", at_least=0, at_most=6, default=1)
    dynamo: float = measure(
        "kg/s", "Steam to the turbogenerator.", at_least=0, below=5, default=0.012, example="100 lb/hour"
    )
    blower: float = measure(
        "kg/s",
        "Steam to the blower when standing or drifting.",
        at_least=0,
        below=5,
        default=0.06,
        example="480 lb/hour",
    )
    stoker: float = measure(
        "kg/s",
        "Steam to the stoker engine while firing.",
        at_least=0,
        below=5,
        default=0.0,
        example="300 lb/hour",
    )
    train_heat: float = measure(
        "kg/s",
        "Steam to heat the train.",
        at_least=0,
        below=5,
        default=0.0,
        example="1500 lb/hour",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @property
    def continuous_demand(self) -> float:
        """Steam used at all times: everything but the blower [kg/s]."""
        return (
            self.air_compressor_steam * self.air_compressor_count
            + self.dynamo
            + self.train_heat
            + self.stoker
        )
