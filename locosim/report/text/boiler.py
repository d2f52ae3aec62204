"""The boiler over its firing rate as text."""

from __future__ import annotations

from locosim.engine.boiler.boiler_table import BoilerPoint, BoilerTable, LimitPlace
from locosim.physics.boiler.draft import GREATEST_BACK_PRESSURE
from locosim.report.caution import CAUTION
from locosim.report.text.layout import paragraph, table
from locosim.units import figure, label, show

METHODS = {
    "cycle": "cycle: the boiler by its heat balance, from firebox, tubes and superheater",
    "handbook": "handbook: published evaporation per coal, falling with the firing rate",
}


def boiler_text(boiler: BoilerTable, system: str) -> str:
    """Write what a boiler gives and loses, and where each limit lies.

    Args:
        boiler: The boiler over its firing rate.
        system: Units, `us`, `metric` or `british`.
    """
    supply = boiler.supply
    lines = [
        boiler.locomotive.name,
        paragraph(_fire(boiler, system)),
        paragraph(f"Method: {METHODS[supply.method]}."),
        "",
        _points(boiler, system),
        "",
        paragraph("What bounds the steam:"),
        "",
        _limits(boiler, system),
        "",
    ]
    if supply.ratings:
        shown = "; ".join(f"{r.name} {show(r.steam, 'steam_rate', system)}" for r in supply.ratings)
        lines.append(paragraph(f"For comparison, not binding: {shown}."))
    if boiler.draught_raised is not None:
        lines.append(
            paragraph(
                f"Draught is limited at {show(boiler.draught_raised, 'draught', system)}, which the blast raises at "
                f"the back pressure customary at full steam ({show(GREATEST_BACK_PRESSURE, 'pressure', system)}). "
                "Heat lost by the outside: "
                f"{show(supply.standing_loss, 'power', system)}."
            )
        )
    return "\n".join([*lines, paragraph(CAUTION)])


def _fire(boiler: BoilerTable, system: str) -> str:
    """What is burnt, on what."""
    made = boiler.locomotive.boiler
    value = show(boiler.supply.heating_value, "heating_value", system)
    grate = show(made.grate_area, "area", system)
    surface = show(made.evaporating_surface, "area", system)
    if made.firing == "oil":
        return (
            f"Burning oil, {value} gross; {surface} of evaporating surface. Firing rates are for the area that would "
            f"be grate, {grate}."
        )
    return (
        f"Burning {boiler.fuel.kind.replace('_', '-')}, {value} gross, on {grate} of grate, fired by {made.firing}; "
        f"{surface} of evaporating surface."
    )


def _points(boiler: BoilerTable, system: str) -> str:
    balanced = boiler.supply.balance is not None
    heads = [
        "firing\nrate\n" + label("grate_rate", system),
        "fuel\n" + label("fuel_rate", system),
        "steam\n" + label("steam_rate", system),
        "steam\nper\nfuel",
        "effi-\nciency\n%",
    ]
    if balanced:
        heads += [
            "steam\ntemperature\n" + label("temperature", system),
            "superheat\n" + label("temperature_difference", system),
            "smokebox\n" + label("temperature", system),
            "draught\n" + label("draught", system),
            "never\nburnt\n%",
        ]
    return table(heads, [_row(point, system, balanced=balanced) for point in boiler.points], left=0)


def _row(p: BoilerPoint, system: str, *, balanced: bool) -> tuple[str, ...]:
    row = [
        figure(p.grate_rate, "grate_rate", system, 0),
        figure(p.fuel, "fuel_rate", system),
        figure(p.steam, "steam_rate", system),
        figure(p.evaporation, "number", system),
        figure(p.efficiency, "ratio", system, 1),
    ]
    if balanced:
        row += [
            "-" if value is None else figure(value, kind, system, digits)
            for value, kind, digits in (
                (p.steam_temperature, "temperature", None),
                (p.superheat, "temperature_difference", None),
                (p.smokebox_temperature, "temperature", None),
                (p.draught, "draught", None),
                (p.unburnt, "ratio", 1),
            )
        ]
    return tuple(row)


def _limits(boiler: BoilerTable, system: str) -> str:
    heads = (
        "limit",
        "steam\n" + label("steam_rate", system),
        "firing\nrate\n" + label("grate_rate", system),
        "",
    )
    top = boiler.points[-1].grate_rate
    rows = [
        (
            limit.name,
            "-" if limit.steam is None else figure(limit.steam, "steam_rate", system),
            _rate(limit, top, system),
            "binds" if limit.binds else "",
        )
        for limit in boiler.limits
    ]
    return table(heads, rows)


def _rate(limit: LimitPlace, top: float, system: str) -> str:
    """Firing rate of a limit; a dash where the fire cannot make its steam, up to the last rate of the table."""
    rate = figure(limit.grate_rate, "grate_rate", system, 0)
    if limit.steam is None:
        return f"beyond {rate}"
    return rate if limit.grate_rate < top else "-"
