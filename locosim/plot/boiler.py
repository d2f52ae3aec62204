"""The boiler by firing rate as a picture: efficiency, steam with its limits, temperatures, draft."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.engine.boiler.boiler_table import PLOT_STEP, BoilerTable, boiler_table
from locosim.plot.figure import COLORS, STYLES, axis_label, group_thousands, new_figure
from locosim.units import number


def plot_boiler(boiler: BoilerTable) -> Figure:
    """Draw the panels over a common firing rate, with a step fine enough for smooth lines."""
    boiler = boiler_table(boiler.locomotive, method=boiler.supply.method, fuel=boiler.fuel, step=PLOT_STEP)
    by_heat_balance = boiler.supply.balance is not None
    panels = [efficiency_panel, steam_panel] + ([temperature_panel, draft_panel] if by_heat_balance else [])
    figure = new_figure(8.5, 1.0 + 2.6 * len(panels))
    axes = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
    for panel, ax in zip(panels, axes, strict=True):
        panel(ax, boiler)
        limit = _limit_line(ax, boiler)
    axes[-1].set_xlim(0, _firing_rates(boiler)[-1])
    _limit_name(axes[0], limit, boiler)
    axes[-1].set_xlabel(axis_label("firing rate per unit of grate area", "firing_rate_per_grate_area"))
    axes[0].set_title(
        f"{boiler.locomotive.name}: boiler, {boiler.fuel.kind}, method {boiler.supply.method}",
        loc="left",
    )
    return figure


def _firing_rates(boiler: BoilerTable) -> list[float]:
    return [number(p.firing_rate_per_grate_area, "firing_rate_per_grate_area") for p in boiler.points]


def _limit_line(axes: Axes, boiler: BoilerTable) -> float:
    """Mark the firing rate of the limit that binds, and return it in the reader's units."""
    binding = next(limit for limit in boiler.limits if limit.binds)
    at = float(number(binding.firing_rate_per_grate_area, "firing_rate_per_grate_area"))
    axes.axvline(at, color=COLORS[5], linewidth=0.9, linestyle="--")
    return at


def _limit_name(axes: Axes, at: float, boiler: BoilerTable) -> None:
    """Name the limit that binds beside its line, at the top of a panel."""
    right = at > 0.4 * axes.get_xlim()[1]  # the legend takes the upper right
    axes.annotate(
        f"limited by the {boiler.supply.binding.name}", (at, 1.0), xycoords=("data", "axes fraction"),
        xytext=(-4 if right else 4, -4), textcoords="offset points", ha="right" if right else "left", va="top",
        fontsize=8,
    )  # fmt: skip


def efficiency_panel(axes: Axes, boiler: BoilerTable) -> Axes:
    """Heat to steam, and heat of unburned fuel, over heat fired."""
    rates = _firing_rates(boiler)
    axes.plot(rates, [100 * p.efficiency for p in boiler.points], color=COLORS[0], label="to steam")
    if boiler.supply.balance is not None:
        lost = [100 * p.unburned for p in boiler.points if p.unburned is not None]
        axes.plot(rates, lost, color=COLORS[1], linestyle=STYLES[1], label="unburned")
    axes.set_ylim(0, 100)
    axes.set_ylabel("share of heat fired [%]")
    axes.legend(loc="upper right")
    return axes


def steam_panel(axes: Axes, boiler: BoilerTable) -> Axes:
    """Steam generated, with every limit within the panel named at its level."""
    rates = _firing_rates(boiler)
    steam = [number(p.steam, "steam_rate") for p in boiler.points]
    axes.plot(rates, steam, color=COLORS[0], label="steam generated")
    top = 1.2 * max(steam)
    known = [(limit, number(limit.steam, "steam_rate")) for limit in boiler.limits if limit.steam is not None]
    reached = [(limit, level) for limit, level in known if level < top]
    higher = [*(level for _, level in reached[1:]), np.inf]
    for (limit, level), above in zip(reached, higher, strict=True):
        axes.axhline(level, color=COLORS[1 if limit.binds else 5], linewidth=1.2 if limit.binds else 0.7)
        under = above - level < 0.07 * top  # no room above the line
        axes.annotate(
            f"{limit.name} (binds)" if limit.binds else limit.name, (rates[-1], level),
            xytext=(-4, -3 if under else 2), textcoords="offset points", ha="right",
            va="top" if under else "bottom", fontsize=8,
        )  # fmt: skip
    axes.set_ylim(0, top)
    axes.set_ylabel(axis_label("steam", "steam_rate"))
    group_thousands(axes)
    return axes


def temperature_panel(axes: Axes, boiler: BoilerTable) -> Axes:
    """Temperatures of steam and smokebox gas."""
    rates = _firing_rates(boiler)
    steam = [p.steam_temperature for p in boiler.points if p.steam_temperature is not None]
    smokebox = [p.smokebox_temperature for p in boiler.points if p.smokebox_temperature is not None]
    for i, (name, values) in enumerate((("steam", steam), ("smokebox gas", smokebox))):
        shown = [number(v, "temperature") for v in values]
        axes.plot(rates, shown, color=COLORS[i], linestyle=STYLES[i], label=name)
    boiling = number(boiler.supply.saturation_temperature, "temperature")
    axes.axhline(boiling, color=COLORS[5], linewidth=0.8, linestyle=":", label="saturation")
    axes.set_ylabel(axis_label("temperature", "temperature"))
    axes.legend(loc="lower right", ncols=3)
    return axes


def draft_panel(axes: Axes, boiler: BoilerTable) -> Axes:
    """Draft required by the fire, and the maximum available."""
    needed = [number(p.draft, "draft") for p in boiler.points if p.draft is not None]
    axes.plot(_firing_rates(boiler), needed, color=COLORS[0], label="required by the fire")
    if boiler.front_end is not None:
        level = number(boiler.front_end.available_draft, "draft")
        axes.axhline(
            level, color=COLORS[1], linewidth=1.0, linestyle="--", label="raised at the highest back pressure"
        )
    axes.set_ylim(bottom=0)
    axes.set_ylabel(axis_label("smokebox draft", "draft"))
    axes.legend(loc="lower right")
    return axes
