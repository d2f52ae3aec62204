"""Axes and labels of pictures of a variation: columns, inputs, and cells around their values."""

from __future__ import annotations

import math
import textwrap
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, MultipleLocator

from locosim.constants import HOUR
from locosim.physics.types import Floats
from locosim.planning.finding import STOP, TIGHT
from locosim.studies.vary import AnyColumn, Variation, VariedInput, fixed_conditions
from locosim.units import label, number, scale, show, show_number, written_unit

MAX_PANELS = 6
MARGIN_SHOWN = 100.0  # a larger margin, on either side, is drawn as this [%]
MIN_SPAN = 0.02  # of an axis, over the greatest value on it, so that rounding does not look like a trend
MIN_TIME_SPAN = 120.0  # [s]
SECONDS_BELOW = 600.0  # span of times below which seconds are shown [s]
CLOSE_VALUES = 9  # values over a span that must differ in their digits: the contours
MOST_DIGITS = 9
HATCHES = {TIGHT: "...", STOP: "///"}  # of the cells of a verdict
TIME_STEPS = (10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400)  # [s]


def is_number(variation: Variation, place: int) -> bool:
    """Whether the values of a column are numbers."""
    if variation.columns[place].kind is not None:
        return True
    return not any(isinstance(value, str) for value in variation.column_values(place))


def shown_values(variation: Variation, place: int) -> Floats:
    """Values of a column in the reader's units, row by row: NaN where there is none; times in seconds."""
    kind = variation.columns[place].kind
    found = [math.nan if v is None else float(v) for v in variation.column_values(place)]
    values = np.array(found)
    if kind in (None, "time", "clock"):
        return values
    if kind == "temperature":
        return np.asarray(number(values, kind))
    shown = np.asarray(values * scale(kind or "")[0])
    return np.clip(shown, -MARGIN_SHOWN, MARGIN_SHOWN) if is_margin(variation.columns[place]) else shown


def is_margin(column: AnyColumn) -> bool:
    """Whether a column has margins, of which those far out are drawn at the edge."""
    return column.name.partition(":")[0] == "margin"


def axis_range(values: Floats, column: AnyColumn) -> tuple[float, float]:
    """Ends of an axis for finite values, with room at both."""
    low, high = float(values.min()), float(values.max())
    least = MIN_TIME_SPAN if column.kind in ("time", "clock") else MIN_SPAN * max(abs(low), abs(high)) or 1.0
    middle, half = 0.5 * (low + high), 0.58 * max(high - low, least)
    return middle - half, middle + half


def column_label(column: AnyColumn, width: int = 24) -> str:
    """Name of a column with its unit, on several lines."""
    kind = column.kind
    unit = "h:min" if kind in ("time", "clock") else ""
    if kind is not None and not unit:
        unit = label(kind) if kind == "temperature" else scale(kind)[1]
    drawn = f", drawn to ±{MARGIN_SHOWN:.0f}" if is_margin(column) else ""
    name = textwrap.fill(column.name.replace(":", ": ") + drawn, width)
    return f"{name} [{unit}]" if unit else name


def format_axis(axis: Any, column: AnyColumn, low: float, high: float) -> None:
    """Ticks of an axis by the kind of its column."""
    if column.kind in ("time", "clock"):
        step = _time_step(high - low, 5)
        axis.set_major_locator(MultipleLocator(step))
        axis.set_major_formatter(FuncFormatter(lambda value, _: clock_text(value, seconds=step < 60)))
    else:
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))


def _time_step(span: float, most: int) -> float:
    """Round step that divides a span of time into at most some parts [s]."""
    return next((float(each) for each in TIME_STEPS if span / each <= most), float(TIME_STEPS[-1]))


def clock_text(value: float, *, seconds: bool = False) -> str:
    """A time or time of day in seconds as h:min, to the nearest minute, or as h:min:s."""
    return show_number(value, "time") if seconds else show_number(60.0 * round(value / 60.0), "time")[:-3]


def number_text(value: float, column: AnyColumn, span: float) -> str:
    """A shown value in a cell or at a contour, with as many digits as tell it from values close to it.

    Args:
        value: The value, as `shown_values` gives it.
        column: Its column.
        span: Greatest less least of the values.
    """
    if math.isnan(value):
        return "-"
    if column.kind in ("time", "clock"):
        return clock_text(value, seconds=span < SECONDS_BELOW)
    if value == 0.0:
        return "0"
    size = math.floor(math.log10(abs(float(f"{value:.3g}"))))  # of the first digit, rounded
    apart = math.floor(math.log10(span / CLOSE_VALUES)) if span > 0.0 else size
    digits = min(max(3, size + 1, size - apart + 1), MOST_DIGITS)
    return f"{value:,.{digits}g}"


def axis_of_input(axis: Any, each: VariedInput) -> Floats:
    """Set an axis up for an input; the places of its values on it."""
    unit = f" [{written_unit(each.unit)}]" if each.unit else ""
    name = textwrap.fill(each.path, 48)
    if each.numbers is None:
        places = np.arange(len(each.texts), dtype=float)
        axis.set_ticks(
            places, [textwrap.shorten(value_name(text), 18, placeholder="…") for text in each.texts]
        )
        axis.set_label_text(name)
        return places
    places = np.array(each.numbers)
    if each.unit == "h" and ":" in each.texts[0]:
        span = HOUR * float(places.max() - places.min())
        axis.set_major_locator(MultipleLocator(_time_step(span, 8) / HOUR))
        axis.set_major_formatter(FuncFormatter(lambda value, _: clock_text(value * HOUR)))
        axis.set_label_text(f"{name} [h:min]")
    elif all(value == int(value) for value in each.numbers) and not each.unit:
        axis.set_major_locator(MaxNLocator(integer=True))
        axis.set_label_text(name)
    elif any("/" in text for text in each.texts) and len(each.texts) <= 12:
        axis.set_major_locator(FixedLocator([float(place) for place in places]))
        texts = dict(zip(each.numbers, (t.removesuffix(each.unit).strip() for t in each.texts), strict=True))
        axis.set_major_formatter(FuncFormatter(lambda value, _: texts.get(value, f"{value:g}")))
        axis.set_label_text(f"{name}{unit}")
    else:
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))
        axis.set_label_text(f"{name}{unit}")
    return places


def value_name(text: str) -> str:
    """A value as a tick: of a file its name."""
    return text.rpartition("/")[2].removesuffix(".toml") if text.endswith(".toml") else text


def cell_edges(places: Floats) -> Floats:
    """Bounds of the cells around places in rising order, in the middle between them."""
    if len(places) == 1:
        return np.array([places[0] - 0.5, places[0] + 0.5])
    middles = 0.5 * (places[1:] + places[:-1])
    return np.concatenate([[places[0] - (middles[0] - places[0])], middles, [2 * places[-1] - middles[-1]]])


def text_columns(variation: Variation) -> list[int]:
    """Columns of texts, the verdict apart, which is drawn otherwise."""
    return [
        i
        for i, column in enumerate(variation.columns)
        if not is_number(variation, i) and column.name != "verdict" and categories(variation, i)
    ]


def categories(variation: Variation, place: int) -> list[str]:
    """Texts of a column, each once, in order."""
    found = variation.column_values(place)
    return list(dict.fromkeys(str(value) for value in found if value is not None))


def add_title(figure: Figure, variation: Variation) -> None:
    """Write what was varied in, and the conditions that were not."""
    conditions = ", ".join(
        f"{name} {show(*fact)}".strip() if fact else name for name, fact in fixed_conditions(variation)
    )
    text = f"{variation.base.name}{f': {conditions}' if conditions else ''}"
    figure.suptitle(textwrap.fill(text, 90), x=0.01, ha="left", fontsize=10)
