"""Accuracy of the figures that the engine commands print, as bands.

The bands are made by `python -m docs.build.validation` from the published rows that no constant was fitted to, and kept
in `accuracy.toml` beside this file. A band covers the model and the dimensions assumed for a published engine, not the
weather, the coal or the crew of a given day.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from locosim.frozen import frozen

SHARE = 0.8  # of the published figures that lie within a band


@frozen
class Band:
    """Band of one figure.

    Attributes:
        figure: Name of the figure.
        within: Half width over the computed figure [1].
        rows: Published figures that it was made from.
        engines: Engines they belong to.
        lowest: Published figure furthest below the computed one, as a share of it; negative if below [1].
        highest: Published figure furthest above [1].
    """

    figure: str
    within: float
    rows: int
    engines: int
    lowest: float
    highest: float

    @property
    def one_sided(self) -> bool:
        """Whether all published figures lie above the computed ones, or all below."""
        return self.lowest * self.highest > 0.0


@cache
def bands() -> dict[str, Band]:
    """All bands by the name of their figure."""
    text = (files("locosim.engine") / "accuracy.toml").read_text(encoding="utf-8")
    return {figure: Band(figure=figure, **values) for figure, values in tomllib.loads(text).items()}


def sustained_power_band(*, method: str, compound: bool, anchored: bool) -> Band:
    """Band of the power on sustained steam.

    Args:
        method: `cycle` or `handbook`.
        compound: Whether the engine is a compound.
        anchored: Whether its power was set from a test sheet.
    """
    if method == "handbook":
        return bands()["sustained_power_handbook"]
    if anchored:
        return bands()["sustained_power_anchored"]
    return bands()["sustained_power_compound" if compound else "sustained_power"]
