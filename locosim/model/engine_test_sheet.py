"""The test sheet: what a published or recorded test of an engine prints, beside which locosim shows its own figures."""

from __future__ import annotations

from collections.abc import Iterator

from locosim.errors import Fault, suggestion
from locosim.frozen import frozen
from locosim.model.boiler import Fuel
from locosim.model.declare import check, choice, entry, measure

# What a sheet can be used for: each reading sets one key of the engine.
WHOLE_SHEET = ("max_back_pressure", "max_firing_rate", "max_evaporation")
BY_ROW = ("evaporation", "steam_temperature", "draft", "indicated_power", "steam_rate")
USES = WHOLE_SHEET + BY_ROW


@frozen
class EngineTestRow:
    """One test: its conditions and what was read."""

    label: str | None = entry("Name or number of the test.", default=None)
    firing_rate: float | None = measure(
        "kg/m^2/s",
        "Fuel fired per unit of grate area.",
        above=0.01,
        at_most=0.352,
        default=None,
        example="110 lb/ft^2/hour",
    )
    draft: float | None = measure(
        "Pa",
        "Draft in the smokebox: a reading at the firing rate or evaporation; alone, the condition of the test.",
        above=0,
        below=1e4,
        default=None,
        example="8 inH2O",
    )
    evaporation: float | None = measure(
        "kg/s",
        "Steam made per hour: a reading at the firing rate or draft; a condition for the other readings.",
        above=0,
        below=60,
        default=None,
        example="42000 lb/hour",
    )
    steam_temperature: float | None = measure(
        "K", "Temperature of the superheated steam.", above=400, below=800, default=None, example="620 degF"
    )
    speed: float | None = measure("m/s", "Train speed.", above=0, below=90, default=None, example="50 mph")
    cutoff: float | None = measure(
        "",
        "Cutoff, throttle wide open; used for power and steam rate where no evaporation is given.",
        above=0.02,
        at_most=0.95,
        default=None,
    )
    indicated_power: float | None = measure(
        "W", "Indicated power.", above=0, below=2e7, default=None, example="2400 hp"
    )
    drawbar_power: float | None = measure(
        "W", "Drawbar power on level track.", above=0, below=2e7, default=None, example="2000 hp"
    )
    drawbar_basis: str = choice(
        ("road", "plant"),
        "Drawbar power behind the tender on the road, or of the engine alone on a testing plant, without tender and "
        "air resistance.",
        default="road",
    )
    steam_rate: float | None = measure(
        "kg/J",
        "Steam per indicated work.",
        above=0,
        below=1e-4,
        default=None,
        example="18.5 lb/hp/hour",
    )
    boiler: str = choice(
        ("sustained", "forced"),
        "What the boiler gave where a row gives no evaporation, firing rate, draft or cutoff: all limits apply, or "
        "only those of fire and front end, with as many firemen as needed.",
        default="sustained",
    )
    role: str = choice(
        ("anchor", "compare"),
        "Whether the row serves as an anchor for what `use` lists, or is only compared.",
        default="anchor",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the row has a reading with its conditions."""
        check(self)

    def _condition_faults(self) -> Iterator[Fault]:
        """Yield each reading without the condition it was read at."""
        if not self.steam_given:
            for key in ("steam_temperature",):
                if getattr(self, key) is not None:
                    yield Fault(
                        key,
                        'needs what the boiler did in that test; write for example firing_rate = "110 lb/ft^2/hour", '
                        "or an evaporation or draft",
                    )
        if self.speed is None:
            for key in ("indicated_power", "drawbar_power", "steam_rate", "cutoff"):
                if getattr(self, key) is not None:
                    yield Fault(key, 'needs the speed of the test; write for example speed = "50 mph"')

    def _reading_faults(self) -> Iterator[Fault]:
        """Yield a fault for a row without any reading."""
        if not self.readings:
            yield Fault(
                "evaporation",
                "is missing, as is every other reading; a row needs one of "
                "evaporation (with firing_rate or draft), steam_temperature, draft (with firing_rate or evaporation), "
                "indicated_power, drawbar_power or steam_rate",
            )

    @property
    def steam_given(self) -> bool:
        """Whether the row tells what the boiler did."""
        return any(value is not None for value in (self.evaporation, self.firing_rate, self.draft))

    @property
    def by_cutoff(self) -> bool:
        """Whether power and steam rate are those at the cutoff given."""
        return self.evaporation is None and self.cutoff is not None

    @property
    def at_boiler_limit(self) -> bool:
        """Whether power is that of the boiler at its limit."""
        return not self.steam_given and self.cutoff is None

    @property
    def readings(self) -> tuple[str, ...]:
        """Names of the readings of the row, in order."""
        found = []
        if self.evaporation is not None and (self.firing_rate is not None or self.draft is not None):
            found.append("evaporation")
        if self.steam_temperature is not None:
            found.append("steam_temperature")
        if self.draft is not None and (self.firing_rate is not None or self.evaporation is not None):
            found.append("draft")
        return (
            *found,
            *(
                name
                for name in ("indicated_power", "drawbar_power", "steam_rate")
                if getattr(self, name) is not None
            ),
        )


@frozen
class EngineTestSheet:
    """A test sheet of the engine as this file describes it."""

    source: str | None = entry("Where the sheet is printed.", default=None)
    fuel: Fuel | None = entry(
        "Fuel of the tests; if omitted, the usual fuel of the engine's means of firing.", default=None
    )
    use: tuple[str, ...] = entry(
        f"Readings that set a key of the engine: {', '.join(USES)}. Without it the sheet is only compared.",
        default=(),
        example='["max_back_pressure"]',
    )
    max_back_pressure: float | None = measure(
        "Pa", "Greatest gauge back pressure.", above=1e4, below=3e5, default=None, example="14 psi"
    )
    max_firing_rate: float | None = measure(
        "kg/m^2/s",
        "Greatest firing rate per unit of grate area.",
        above=0.01,
        at_most=0.352,
        default=None,
        example="150 lb/ft^2/hour",
    )
    max_evaporation: float | None = measure(
        "kg/s", "Greatest sustained evaporation.", above=0, below=60, default=None, example="60000 lb/hour"
    )
    rows: tuple[EngineTestRow, ...] = entry("The tests.", default=(), at_most=500, table=True)

    def __post_init__(self) -> None:
        """Check every field, and that what `use` lists is on the sheet."""
        check(self)

    def _use_faults(self) -> Iterator[Fault]:
        """Yield each entry of `use` that is not known, or that the sheet does not give."""
        for name in self.use:
            if name not in USES:
                yield Fault(
                    "use",
                    "has {found}, which is no reading; {advice}",
                    figures={"found": repr(name), "advice": suggestion(name, USES)},
                )
            elif name in WHOLE_SHEET and getattr(self, name) is None:
                yield Fault(
                    "use", f"lists {name}, but the sheet does not give it; add {name} or remove it here"
                )
            elif name in BY_ROW and not self.anchor_rows(name):
                yield Fault("use", f"lists {name}, but {_MISSING[name]}; add such a row or remove it here")

    def _back_pressure_faults(self) -> Iterator[Fault]:
        """Yield a fault if more than one reading would set the greatest back pressure."""
        setting: list[str] = [name for name in ("max_back_pressure", "max_evaporation") if name in self.use]
        if any(row.at_boiler_limit for row in self.anchor_rows("indicated_power")):
            setting.append("indicated_power")
        if len(setting) > 1:
            yield Fault(
                "use",
                f"lists {' and '.join(setting)}, which would each set the greatest back pressure; keep one of them"
                + (
                    ' (indicated_power does so by the rows without evaporation; give those role = "compare")'
                    if "indicated_power" in setting
                    else ""
                ),
            )

    def anchor_rows(self, name: str) -> tuple[EngineTestRow, ...]:
        """Rows that serve as anchors for a reading; none if `use` does not list it.

        Args:
            name: One of `BY_ROW`.
        """
        if name not in self.use:
            return ()
        return tuple(
            row
            for row in self.rows
            if row.role == "anchor"
            and name in row.readings
            and not (name == "indicated_power" and row.by_cutoff)
            and not (name == "evaporation" and row.firing_rate is None)
        )


_MISSING = {
    "evaporation": "no anchor row gives evaporation with a firing rate",
    "steam_temperature": "no anchor row gives steam_temperature",
    "draft": "no anchor row gives draft with a firing rate or evaporation",
    "indicated_power": "no anchor row gives indicated_power with an evaporation, a firing rate or at the boiler's "
    "limit (power at a cutoff sets nothing: steam_rate does)",
    "steam_rate": "no anchor row gives steam_rate",
}


@frozen
class Anchor:
    """A key of the engine that was set from its test sheet.

    Attributes:
        key: Path of the key in the engine file.
        value: Value set, in SI.
        usual: Value without the sheet, in SI.
        given: Value in the engine file; None where it gives none.
        unit: SI unit; empty for a factor.
        low: Low end of the believable range.
        high: High end of the believable range.
        by: Readings it was set from.
        error: Mean error of these readings that is left, as a fraction; of a steam temperature of 100 K.
        reached: Whether the readings were reached.
        limited_by: What limits the boiler where a reading at its limit was not reached; empty otherwise.
    """

    key: str
    value: float
    usual: float
    given: float | None
    unit: str
    low: float
    high: float
    by: str
    error: float = 0.0
    reached: bool = True
    limited_by: str = ""

    @property
    def believable(self) -> bool:
        """Whether the value lies within the believable range."""
        return self.low * (1 - 1e-9) <= self.value <= self.high * (1 + 1e-9)

    @property
    def of_power(self) -> bool:
        """Whether it was set from readings of the power."""
        return "indicated_power" in self.by
