"""What cannot be known about an excursion: each uncertain input with its distribution and its source."""

from __future__ import annotations

from collections.abc import Iterator

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.assumptions import CHANCE, DOUBT
from locosim.model.declare import attached, check, choice, entry, measure
from locosim.model.provenance import Provenance

NORMAL, LOGNORMAL, TRIANGULAR, UNIFORM, OUTCOMES = "normal", "lognormal", "triangular", "uniform", "outcomes"
AS_GIVEN = "as given"  # an outcome that keeps the value of the file
ASSUMED = "assumed, no source"

# Figures that each distribution needs, and those it may have.
FIGURES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    NORMAL: (("mean", "deviation"), ("low", "high")),
    LOGNORMAL: (("median", "spread"), ("low", "high")),
    TRIANGULAR: (("low", "likely", "high"), ()),
    UNIFORM: (("low", "high"), ()),
    OUTCOMES: (("outcomes",), ()),
}
_ALL_FIGURES = ("mean", "deviation", "median", "spread", "low", "likely", "high", "outcomes")


@frozen
class Outcome:
    """One of the values that an uncertain input can have."""

    value: str = entry("A value of the key, or `as given` for that of the file.", number=True)
    probability: float = measure(
        "", "Its probability; those of all outcomes add to 1.", at_least=0, at_most=1, example="20 %"
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class UncertainInput:
    """An input that is not known before the run."""

    key: str = entry(
        "Key of the excursion file or of a file it names, as in a change, such as `weather.headwind` or "
        "`train.vehicles[*].load`."
    )
    name: str | None = entry("Name in results; the key if omitted.", default=None)
    distribution: str = choice(tuple(FIGURES), "Distribution.", default=NORMAL)
    applies_as: str = choice(
        ("value", "factor", "difference"),
        "Whether the figures are values of the key, factors on the value of the file, or differences added to it.",
        default="value",
    )
    mean: str | None = entry("Mean of a normal distribution.", default=None, number=True)
    deviation: str | None = entry("Standard deviation of a normal distribution.", default=None, number=True)
    median: str | None = entry("Median of a lognormal distribution.", default=None, number=True)
    spread: float | None = measure(
        "",
        "Spread of a lognormal distribution: standard deviation of the natural logarithm.",
        above=0,
        at_most=3,
        default=None,
        example="0.2",
    )
    low: str | None = entry(
        "Lowest value; it cuts off a normal or lognormal distribution.", default=None, number=True
    )
    likely: str | None = entry("Most likely value of a triangular distribution.", default=None, number=True)
    high: str | None = entry(
        "Highest value; it cuts off a normal or lognormal distribution.", default=None, number=True
    )
    outcomes: tuple[Outcome, ...] = entry("Values with their probabilities.", default=(), at_most=20)
    from_station: str | None = entry(
        "For `rail` only: first station of the stretch that it applies to; the whole line if omitted.",
        default=None,
    )
    to_station: str | None = entry("For `rail` only: last station of the stretch.", default=None)
    items: str = choice(
        ("together", "apart"),
        "With `[*]`: whether all items have the same value, factor or difference, or each its own.",
        default="together",
    )
    nature: str = choice(
        (CHANCE, DOUBT),
        "Chance, which differs from trip to trip, or doubt, which is the same on every trip but is not known.",
        default=CHANCE,
    )
    source: str = entry("Source of the figures.", default=ASSUMED)

    def __post_init__(self) -> None:
        """Check every field, and that the figures fit the distribution."""
        check(self)

    def _figure_faults(self) -> Iterator[Fault]:
        """Yield a fault for each figure that the distribution lacks or does not have."""
        needed, allowed = FIGURES[self.distribution]
        figures = {"distribution": self.distribution, "figures": ", ".join((*needed, *allowed))}
        for name in _ALL_FIGURES:
            given = bool(getattr(self, name)) if name == "outcomes" else getattr(self, name) is not None
            if given and name not in (*needed, *allowed):
                text = 'does not belong to distribution = "{distribution}", which has {figures}'
                yield Fault(name, text, figures=figures)
            elif not given and name in needed:
                text = 'is required with distribution = "{distribution}", which has {figures}'
                yield Fault(name, text, figures=figures)

    def _probability_faults(self) -> Iterator[Fault]:
        """Yield a fault if the probabilities of the outcomes do not add to 1."""
        total = sum(outcome.probability for outcome in self.outcomes)
        if self.outcomes and abs(total - 1.0) > 1e-6:
            yield Fault(
                "outcomes", "must have probabilities that add to 1, found {total}", "", {"total": total}
            )

    def _stretch_faults(self) -> Iterator[Fault]:
        """Yield a fault for a stretch of another key than the rail, or one with a single end."""
        ends = (self.from_station, self.to_station)
        if any(ends) and self.key != "rail":
            yield Fault(
                "from_station", 'is for key = "rail" only, found key = "{key}"', figures={"key": self.key}
            )
        if (ends[0] is None) != (ends[1] is None):
            missing = "to_station" if ends[1] is None else "from_station"
            yield Fault(missing, "is missing; a stretch has both ends")

    @property
    def label(self) -> str:
        """Name in results."""
        if self.name is not None:
            return self.name
        stretch = f" between {self.from_station} and {self.to_station}" if self.from_station else ""
        return self.key + stretch


@frozen
class Correlation:
    """A correlation of two uncertain inputs."""

    first: str = entry("Name of an input, or its key.")
    second: str = entry("Name of another.")
    correlation: float = measure(
        "",
        "Correlation of both as normal scores; close to the rank correlation.",
        above=-1,
        below=1,
        example="-0.4",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Uncertainty:
    """What cannot be known before the run, for `risk`; other commands do not use it."""

    usual: str = choice(
        ("yes", "no"),
        "Whether the usual inputs apply beside those given here; one given here replaces the usual one of its key.",
        default="yes",
    )
    assumptions: str = choice(
        ("all", "doubt", "chance", "none"),
        "Which assumptions are varied from low to high.",
        default="all",
    )
    model_error: str = choice(
        ("no", "yes"),
        "Whether the error of the model is drawn too, as a factor on the power by the band of the line Accuracy, in "
        "place of the assumptions that cause it.",
        default="no",
    )
    inputs: tuple[UncertainInput, ...] = entry("Uncertain inputs.", default=(), at_most=200)
    correlations: tuple[Correlation, ...] = entry(
        "Inputs that go together; all others are independent.", default=(), at_most=200
    )
    provenance: Provenance | None = attached("Files and changes it was read from.")

    def __post_init__(self) -> None:
        """Check every field, and that no key is given twice."""
        check(self)

    def _repeated_faults(self) -> Iterator[Fault]:
        """Yield a fault for each input given twice."""
        seen: set[tuple[object, ...]] = set()
        for number, each in enumerate(self.inputs, start=1):
            target = (getattr(each, "key", None), getattr(each, "from_station", None))
            if target[0] is not None and target in seen:
                yield Fault(f"inputs[{number}].key", "is given twice: {key}", figures={"key": target[0]})
            seen.add(target)


_BETWEEN_CREWS = (
    "spread between crews of 5 to 15 % each for engineer and fireman, from memory; the shape is assumed"
)

# The usual inputs: what varies from trip to trip on any line. A table of docs/theory/risk.md lists them.
USUAL: tuple[UncertainInput, ...] = (
    UncertainInput(
        key="rail",
        name="rail",
        distribution=OUTCOMES,
        outcomes=(
            Outcome(value=AS_GIVEN, probability=0.75),
            Outcome(value="wet", probability=0.20),
            Outcome(value="greasy", probability=0.05),
        ),
        source="coefficients as in the table of rail conditions; how often is assumed, no source",
    ),
    UncertainInput(
        key="weather.headwind",
        name="headwind",
        applies_as="difference",
        mean="0 m/s",
        deviation="3.2 m/s",
        source="wind of a Rayleigh-distributed speed from any side is normal along the track; its mean speed, 4 m/s, "
        "is assumed, no source",
    ),
    UncertainInput(
        key="weather.temperature",
        name="air temperature",
        applies_as="difference",
        mean="0 K",
        deviation="4 K",
        source=ASSUMED,
    ),
    UncertainInput(
        key="fuel.heating_value",
        name="heating value",
        applies_as="factor",
        mean="1",
        deviation="0.03",
        low="0.85",
        high="1.15",
        source="[Babcock1919] table 38, dry coal of one bed: standard deviation 1.1 to 4.6 % of the mean",
    ),
    UncertainInput(
        key="train.vehicles[*].people",
        name="people on board",
        distribution=TRIANGULAR,
        applies_as="factor",
        low="0.7",
        likely="1",
        high="1.1",
    ),
    UncertainInput(
        key="train.vehicles[*].load",
        name="load of the cars",
        applies_as="factor",
        mean="1",
        deviation="0.05",
        low="0.8",
        high="1.2",
    ),
    UncertainInput(
        key="train.vehicles[*].empty_mass",
        name="empty mass of the cars",
        applies_as="factor",
        mean="1",
        deviation="0.02",
        low="0.92",
        high="1.08",
        nature=DOUBT,
    ),
    UncertainInput(
        key="crew.max_firing",
        name="firing",
        distribution=TRIANGULAR,
        applies_as="factor",
        low="0.85",
        likely="1",
        high="1",
        source=_BETWEEN_CREWS,
    ),
    UncertainInput(
        key="crew.steam_allowance",
        name="engineer's steam",
        distribution=TRIANGULAR,
        applies_as="factor",
        low="0.85",
        likely="1",
        high="1",
        source=_BETWEEN_CREWS,
    ),
)
