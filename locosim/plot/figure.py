"""Figures drawn without a screen, byte for byte the same each time."""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Sequence
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure as Figure  # others name the type without importing matplotlib
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.ticker import FuncFormatter

from locosim import __version__
from locosim.units import label

# A palette readable with the common kinds of color blindness and in grayscale; line styles differ as well.
COLORS = ("#1b4965", "#c1440e", "#5a7d2b", "#6b4c9a", "#8a6d00", "#3a3a3a")
STYLES = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)))
# Behind a text that could lie over a line.
TEXT_BOX: dict[str, Any] = {
    "boxstyle": "square,pad=0.1",
    "facecolor": "#ffffff",
    "alpha": 0.75,
    "linewidth": 0,
}
FOOTER_SIZE, FOOTER_LINE = 6.5, 0.115  # type [pt] and height of a line [in]
POSITION_DIGITS = 6  # of the position of a panel, as a fraction of the figure
FOOTER_CHARACTERS = 18  # of a footer line, for each inch of width
_PATH = re.compile(rb' d="[^"]*"')
_DECIMALS = re.compile(rb"(\.\d\d)\d+")
SETTINGS: Any = {
    "svg.hashsalt": "locosim",
    "svg.fonttype": "none",
    "pdf.fonttype": 42,
    "path.simplify_threshold": 0.15,
    "text.parse_math": False,  # a dollar sign in a name is no formula
    "font.size": 9.5,
    "axes.grid": True,
    "grid.alpha": 0.35,
    "grid.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "legend.frameon": False,
}


def new_figure(width: float, height: float) -> Figure:
    """Make an empty figure with the common type and grid; width and height in inches."""
    matplotlib.rcParams.update(SETTINGS)
    return Figure(figsize=(width, height), layout="constrained")


def axis_label(name: str, kind: str) -> str:
    """Name of a quantity with its unit."""
    return f"{name} [{label(kind)}]"


def group_thousands(axes: Axes) -> None:
    """Write the tick labels of an axes with thousands separators, as the tables do."""
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))


def figure_bytes(figure: Figure, suffix: str, made_from: Sequence[str] = ()) -> bytes:
    """Draw a figure as the content of a file.

    Args:
        figure: The figure.
        suffix: `.png`, `.svg` or `.pdf`.
        made_from: What the figure was made from, in lines; written below it and in the metadata of the file.
    """
    kind = suffix.lower().lstrip(".")
    if made_from:
        _add_footer(figure, made_from)
    _fix_layout(figure)
    content = io.BytesIO()
    figure.savefig(content, format=kind, dpi=130, metadata=_metadata(kind, " ".join(made_from)))
    return _round_paths(content.getvalue()) if kind == "svg" else content.getvalue()


def _fix_layout(figure: Figure) -> None:
    """Lay the panels out and round their positions, so that the same result gives the same file.

    The solver of the layout repeats itself only to about 1e-13, and the names of clip paths depend on every digit.
    """
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for axes in figure.axes:
        axes.set_position(tuple(round(edge, POSITION_DIGITS) for edge in axes.get_position().bounds))


def _metadata(kind: str, made_from: str) -> dict[str, str | None]:
    """Metadata by format, without a date, so that the same result gives the same file."""
    name = f"locosim {__version__}"
    described: dict[str, dict[str, str | None]] = {
        "svg": {"Date": None, "Creator": name, "Description": made_from},
        "pdf": {"CreationDate": None, "Creator": name, "Subject": made_from},
        "png": {"Software": name, "Description": made_from},
    }
    return described.get(kind, {})


def _add_footer(figure: Figure, lines: Sequence[str]) -> None:
    """Write lines below the panels; the figure grows by their height."""
    width, height = figure.get_size_inches()
    wrapped = [part for line in lines for part in textwrap.wrap(line, int(FOOTER_CHARACTERS * width))]
    room = FOOTER_LINE * len(wrapped) + 0.1
    figure.set_size_inches(width, height + room)
    share = room / (height + room)
    layout = figure.get_layout_engine()
    if isinstance(layout, ConstrainedLayoutEngine):
        layout.set(rect=(0.0, share, 1.0, 1.0 - share))
    figure.text(
        0.01, 0.05 / (height + room), "\n".join(wrapped), fontsize=FOOTER_SIZE, color=COLORS[5], ha="left", va="bottom"
    )  # fmt: skip


def _round_paths(svg: bytes) -> bytes:
    """Round the coordinates of paths to hundredths of a point, which saves two thirds of the size invisibly."""
    return _PATH.sub(lambda path: _DECIMALS.sub(rb"\1", path[0]), svg)
