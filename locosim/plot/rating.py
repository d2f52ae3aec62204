"""The tonnage rating of an engine as a picture: trailing load over speed, a line for each grade."""

from __future__ import annotations

from matplotlib.figure import Figure

from locosim.engine.tonnage_rating import TonnageRating
from locosim.plot.figure import COLORS, STYLES, axis_label, group_thousands, new_figure
from locosim.units import number, show


def plot_rating(rating: TonnageRating) -> Figure:
    """Draw the trailing load of loaded cars over speed on a logarithmic scale, a line for each grade."""
    figure = new_figure(8.5, 5.0)
    axes = figure.subplots()
    speeds = [number(speed, "speed") for speed in rating.speeds]
    for i, grade in enumerate(rating.grades):
        loads = [rating.at(i, k).loaded for k in range(len(speeds))]
        shown = [(v, number(load, "mass")) for v, load in zip(speeds, loads, strict=True) if load > 0.0]
        if shown:
            axes.plot(
                *zip(*shown, strict=True),
                color=COLORS[i % len(COLORS)],
                linestyle=STYLES[(i + i // len(COLORS)) % len(STYLES)],
                marker="o",
                markersize=3.5,
                label=show(grade, "grade"),
            )
    axes.set_yscale("log")
    axes.set_xlabel(axis_label("speed held", "speed"))
    axes.set_ylabel(axis_label("trailing load of loaded cars", "mass"))
    group_thousands(axes)
    axes.set_title(f"Tonnage rating: {rating.performance.locomotive.name}, {rating.rail} rail", loc="left")
    if axes.lines:
        axes.legend(title="grade", loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return figure
