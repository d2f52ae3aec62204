"""The boiler, its fire and feed devices, and the auxiliaries that use steam."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from locosim.constants import ATMOSPHERE
from locosim.errors import Fault
from locosim.model.declare import check, choice, entry, measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Superheater:
    """Superheater elements in the flues."""

    surface: float = measure(
        "m^2", "Heating surface of the elements.", above=0, below=1000, example="900 ft^2"
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Boiler:
    """Boiler and fire."""

    working_pressure_gauge: float = measure(
        "Pa",
        "Gauge working pressure on the boiler certificate.",
        above=1e5,
        below=4e6,
        example="210 psi",
    )
    grate_area: float = measure("m^2", "Area of the grate.", above=0.1, below=25, example="50 ft^2")
    firebox_surface: float = measure(
        "m^2",
        "Evaporative heating surface of firebox, combustion chamber, arch tubes and syphons.",
        above=0,
        below=200,
        example="250 ft^2",
    )
    tube_surface: float = measure(
        "m^2", "Evaporative heating surface of tubes and flues.", above=0, below=10_000, example="2600 ft^2"
    )
    tube_length: float | None = measure(
        "m", "Length of the tubes between tube sheets.", above=0.5, below=12, default=None, example="18 ft"
    )
    superheater: Superheater | None = entry("Superheater; omit for saturated steam.", default=None)
    firing: str = choice(
        ("hand", "stoker", "oil"), "How the fire is fed; hand firing has its own limit.", default="hand"
    )
    shell_inside_diameter: float | None = measure(
        "m",
        "Inside diameter of the boiler shell at the crown sheet.",
        above=0.4,
        below=3.5,
        default=None,
        example="72 in",
    )
    water_space_length: float | None = measure(
        "m",
        "Length of the water space, backhead to front tube sheet.",
        above=1,
        below=25,
        default=None,
        example="28 ft",
    )
    crown_sheet_length: float | None = measure(
        "m", "Length of the crown sheet, front to back.", above=0.3, below=10, default=None, example="9 ft"
    )
    crown_sheet_height: float | None = measure(
        "m",
        "Height of the highest part of the crown sheet above the bottom of the shell.",
        above=0.2,
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

    @property
    def evaporative_heating_surface(self) -> float:
        """Heating surface of firebox, tubes and flues [m²]."""
        return self.firebox_surface + self.tube_surface

    @property
    def absolute_pressure(self) -> float:
        """Absolute working pressure [Pa]."""
        return self.working_pressure_gauge + ATMOSPHERE


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
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
