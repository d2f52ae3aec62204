"""Parts of the page: comparisons of a computed with a published figure, and the sections they stand in."""

from __future__ import annotations

from typing import NamedTuple

from .fit_rows import FIT_ROWS

STEAM, EVAPORATION, FACTORS = "steam", "evaporation", "speed factors"
SUSTAINED, COMPOUND = "sustained power", "sustained power of compounds"
COAL, MAX_EVAPORATION, TEMPERATURE = "coal rate", "maximum evaporation", "steam temperature"
HANDBOOK, ANCHORED = "sustained power by the handbook", "power of anchored engines"
# What is judged, with general constants only. The first two are judged at given steam and at given firing.
JUDGED = {
    STEAM: "power or steam rate at given steam",
    EVAPORATION: "evaporation per pound of coal at a given firing rate",
    FACTORS: "speed factors from 250 to 1,400 ft/min",
    TEMPERATURE: "steam temperature at a given firing rate",
    COAL: "coal per unit of work",
    MAX_EVAPORATION: "maximum evaporation",
    SUSTAINED: "sustained power, blind",
    COMPOUND: "sustained power of compounds, blind",
    HANDBOOK: "sustained power by the handbook method",
    ANCHORED: "power of an engine anchored on another row",
}
# Set before the results were seen: share of the test rows within the first, and none beyond the second unless the
# sources contradict each other.
WITHIN, BEYOND, SHARE = 0.07, 0.15, 0.80


class Comparison(NamedTuple):
    """One published figure and what locosim computes for it.

    `judged` names what it counts toward, one of `JUDGED`; without one it is for information only. `row` is its name in
    `fit_rows`, if it has one there. `engine` is the engine it is about: rows of one engine are not independent.
    """

    case: str
    computed: float
    published: float
    unit: str
    source: str
    status: str
    digits: str = ",.0f"
    judged: str = ""
    row: str = ""
    absolute: float = 0.0  # allowed difference; 0 means `WITHIN` of the published figure
    remark: str = ""
    engine: str = ""
    contradicted: str = ""  # by which source, where the published figures contradict each other

    @property
    def fitted(self) -> bool:
        """Whether the constants were fitted to it."""
        return self.row in FIT_ROWS

    @property
    def error(self) -> float:
        """Difference as a fraction of the published figure, or absolute where the target is absolute."""
        difference = self.computed - self.published
        return difference if self.absolute else difference / self.published

    @property
    def met(self) -> bool:
        return abs(self.error) <= (self.absolute or WITHIN)

    @property
    def error_text(self) -> str:
        return f"{self.error:+.3f}" if self.absolute else f"{100 * self.error:+.1f} %"

    def shown(self, value: float) -> str:
        return f"{value:{self.digits}} {self.unit}".strip()


class Grid(NamedTuple):
    """A table that does not compare figure by figure."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    caption: str = ""


class Section(NamedTuple):
    """A section of the page."""

    title: str
    text: tuple[str, ...]
    comparisons: tuple[Comparison, ...] = ()
    grids: tuple[Grid, ...] = ()
    after: tuple[str, ...] = ()
    plot: str = ""  # name of a function of `plots`, and of its file
    plot_says: str = ""


class Expectation(NamedTuple):
    """A trend the trade expects, and whether it is met."""

    expected: str
    found: str
    met: bool
