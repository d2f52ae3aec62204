"""Figures without a screen, written the same byte for byte each time."""

from __future__ import annotations

import io
import re
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure as Figure  # cli names the type, and may not know matplotlib
from matplotlib.ticker import FuncFormatter

from locosim.units import label

# A palette that survives the common kinds of colour blindness and greyscale; line styles differ as well.
COLORS = ("#1b4965", "#c1440e", "#5a7d2b", "#6b4c9a", "#8a6d00", "#3a3a3a")
STYLES = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)))
_PATH = re.compile(rb' d="[^"]*"')
_DECIMALS = re.compile(rb"(\.\d\d)\d+")
SETTINGS: Any = {
    "svg.hashsalt": "locosim",
    "svg.fonttype": "none",
    "pdf.fonttype": 42,
    "path.simplify_threshold": 0.15,
    "text.parse_math": False,  # a dollar in a name is a dollar
    "font.size": 9.5,
    "axes.grid": True,
    "grid.alpha": 0.35,
    "grid.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "legend.frameon": False,
}


def new_figure(width: float, height: float) -> Figure:
    """Make a figure in inches with the house's type and grid."""
    matplotlib.rcParams.update(SETTINGS)
    return Figure(figsize=(width, height), layout="constrained")


def axis_label(name: str, kind: str, system: str) -> str:
    """Name a quantity with its unit."""
    return f"{name} [{label(kind, system)}]"


def group_thousands(axes: Axes) -> None:
    """Write the figures of an axes as the tables do, thousands apart."""
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))


def figure_bytes(figure: Figure, suffix: str) -> bytes:
    """Draw a figure as the content of a file.

    Args:
        figure: The figure.
        suffix: `.png`, `.svg` or `.pdf`.
    """
    kind = suffix.lower().lstrip(".")
    # Without a date, so that the same run gives the same file.
    metadata = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(kind, {})
    content = io.BytesIO()
    figure.savefig(content, format=kind, dpi=130, metadata=metadata)
    return _round_paths(content.getvalue()) if kind == "svg" else content.getvalue()


def panel_span(figure: Figure) -> tuple[float, float]:
    """Where the panels of a drawn figure begin and end, as shares of its width."""
    box = figure.axes[0].get_position()
    return float(box.x0), float(box.x1)


def _round_paths(svg: bytes) -> bytes:
    """Cut the coordinates of paths to hundredths of a point: a third of the size, and nothing to be seen."""
    return _PATH.sub(lambda path: _DECIMALS.sub(rb"\1", path[0]), svg)
