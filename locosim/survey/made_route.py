"""A line made from points or from other lines, with a statement of what was done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import NamedTuple

from locosim.frozen import frozen
from locosim.model import Route
from locosim.survey.heights import Heights
from locosim.survey.positions import CurveFound, Geometry
from locosim.survey.roughness import Smoothing


@frozen(kw_only=False)
class Note:
    """Something left out, added or noticed.

    Attributes:
        text: A sentence with the names of figures in braces, as in a finding.
        facts: Value in SI and kind of each figure.
    """

    text: str
    facts: Mapping[str, tuple[float, str]] = field(default_factory=dict)


def verbatim(text: str) -> str:
    """A name for the text of a note, whose braces are no figures."""
    return text.replace("{", "{{").replace("}", "}}")


class CurvatureFitted(NamedTuple):
    """The geometry of positions, and the curves found in it."""

    geometry: Geometry
    curves: tuple[CurveFound, ...]


@frozen
class MadeRoute:
    """A line that was made, smoothed, reversed, joined or cut.

    Attributes:
        route: The line.
        notes: What was left out, added or noticed, one each.
        before: Heights before smoothing; None where heights were not smoothed.
        smoothing: What the smoothing changed; None where heights were not smoothed.
        curvature: Geometry with its curves; None where the line was not made from positions.
    """

    route: Route
    notes: tuple[Note, ...] = ()
    before: Heights | None = None
    smoothing: Smoothing | None = None
    curvature: CurvatureFitted | None = None
