"""The picture of what comes of one or two inputs that are varied."""

from __future__ import annotations

from matplotlib.figure import Figure

from locosim.plot.variation_lines import line_panels
from locosim.plot.variation_maps import map_panels
from locosim.studies.vary import Variation


def plot_variation(variation: Variation) -> Figure:
    """Draw the columns: over one input as lines, over two as contours, or as lines or cells where one is a text."""
    numeric = [each.numbers is not None and len(each.texts) > 1 for each in variation.inputs]
    if len(variation.inputs) == 1 or sum(numeric) == 1:
        return line_panels(variation, along=numeric.index(True) if any(numeric) else 0)
    return map_panels(variation, contours=all(numeric))
