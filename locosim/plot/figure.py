"""Figures without a screen, written the same byte for byte each time."""

from __future__ import annotations

from pathlib import Path

import matplotlib
from matplotlib.figure import Figure

# A palette that survives the common kinds of colour blindness and greyscale; line styles differ as well.
COLOURS = ("#1b4965", "#c1440e", "#5a7d2b", "#6b4c9a", "#8a6d00", "#3a3a3a")
STYLES = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)))


def new_figure(width: float, height: float) -> Figure:
    """Make a figure in inches with the house's type and grid."""
    matplotlib.rcParams.update(
        {
            "svg.hashsalt": "locosim",
            "svg.fonttype": "none",
            "pdf.fonttype": 42,
            "font.size": 9.5,
            "axes.grid": True,
            "grid.alpha": 0.35,
            "grid.linewidth": 0.6,
            "axes.spines.top": False,
            "axes.spines.right": False,
            "legend.frameon": False,
        }
    )
    return Figure(figsize=(width, height), layout="constrained")


def write_figure(figure: Figure, path: Path) -> None:
    """Write a figure; its suffix, png, svg or pdf, says the format."""
    suffix = path.suffix.lower().lstrip(".")
    metadata = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(suffix, {})
    figure.savefig(path, format=suffix, dpi=130, metadata=metadata)
