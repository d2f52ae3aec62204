"""Parts of the page: comparisons of a computed with a published figure, and the sections they stand in."""

from __future__ import annotations

from typing import NamedTuple

POWER, STEAM, FACTORS, EVAPORATION = "indicated power", "steam rate", "speed factors", "evaporation"
# Targets of the project for these, with general constants only.
TARGETS = {
    POWER: "indicated power at the stated speed within 10 %",
    STEAM: "steam rate within 10 %",
    FACTORS: "speed factors within 0.05 from 250 to 1,400 ft/min",
    EVAPORATION: "evaporation per pound of coal within 10 %",
}


class Comparison(NamedTuple):
    """One published figure and what locosim computes for it.

    `target` names the target it counts toward; without one it is for information only. `fitted` tells whether the
    constants were fitted to it.
    """

    case: str
    computed: float
    published: float
    unit: str
    source: str
    status: str
    digits: str = ",.0f"
    target: str = ""
    fitted: bool = False
    absolute: float = 0.0  # allowed difference; 0 means a tenth of the published figure
    remark: str = ""

    @property
    def error(self) -> float:
        """Difference as a fraction of the published figure, or absolute where the target is absolute."""
        difference = self.computed - self.published
        return difference if self.absolute else difference / self.published

    @property
    def met(self) -> bool:
        return abs(self.error) <= (self.absolute or 0.10)

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
