"""The boiler over its firing rate as text."""

from __future__ import annotations

from locosim.engine.boiler.boiler_table import BoilerPoint, BoilerTable, LimitPoint
from locosim.report.caution import CAUTION
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number

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
        paragraph(_fuel_and_grate(boiler, system)),
        paragraph(f"Method: {METHODS[supply.method]}."),
        "",
        _firing_table(boiler, system),
        "",
        paragraph("Limits on evaporation:"),
        "",
        _limit_table(boiler, system),
        "",
    ]
    if supply.ratings:
        shown = "; ".join(f"{r.name} {show(r.steam, 'steam_rate', system)}" for r in supply.ratings)
        lines.append(paragraph(f"For comparison, not binding: {shown}."))
    if boiler.available_draft is not None:
        lines.append(
            paragraph(
                f"Draft is limited at {show(boiler.available_draft, 'draft', system)}, which the blast raises at "
                f"the back pressure customary at full steam ({show(boiler.assumptions.design_back_pressure, 'pressure', system)}). "
                "Heat lost by the outside: "
                f"{show(supply.radiation_loss, 'power', system)}."
            )
        )
    return "\n".join([*lines, paragraph(CAUTION)])


def _fuel_and_grate(boiler: BoilerTable, system: str) -> str:
    """What is burned, on what."""
    boiler_data = boiler.locomotive.boiler
    value = show(boiler.supply.heating_value, "heating_value", system)
    grate = show(boiler_data.grate_area, "area", system)
    surface = show(boiler_data.evaporative_heating_surface, "area", system)
    if boiler_data.firing == "oil":
        return (
            f"Burning oil, {value} gross; {surface} of evaporating surface. Firing rates are for the area that would "
            f"be grate, {grate}."
        )
    return (
        f"Burning {boiler.fuel.kind.replace('_', '-')}, {value} gross, on {grate} of grate, fired by {boiler_data.firing}; "
        f"{surface} of evaporating surface."
    )


def _firing_table(boiler: BoilerTable, system: str) -> str:
    by_heat_balance = boiler.supply.balance is not None
    headers = [
        "firing\nrate\n" + label("firing_rate_per_grate_area", system),
        "fuel\n" + label("fuel_rate", system),
        "steam\n" + label("steam_rate", system),
        "steam\nper\nfuel",
        "effi-\nciency\n%",
    ]
    if by_heat_balance:
        headers += [
            "steam\ntemperature\n" + label("temperature", system),
            "superheat\n" + label("temperature_difference", system),
            "smokebox\n" + label("temperature", system),
            "draft\n" + label("draft", system),
            "unburned\n%",
        ]
    return table(
        headers, [_row(point, system, by_heat_balance=by_heat_balance) for point in boiler.points], left=0
    )


def _row(p: BoilerPoint, system: str, *, by_heat_balance: bool) -> tuple[str, ...]:
    row = [
        show_number(p.firing_rate_per_grate_area, "firing_rate_per_grate_area", system, 0),
        show_number(p.fuel, "fuel_rate", system),
        show_number(p.steam, "steam_rate", system),
        show_number(p.steam_per_fuel, "number", system),
        show_number(p.efficiency, "ratio", system, 1),
    ]
    if by_heat_balance:
        row += [
            "-" if value is None else show_number(value, kind, system, digits)
            for value, kind, digits in (
                (p.steam_temperature, "temperature", None),
                (p.superheat, "temperature_difference", None),
                (p.smokebox_temperature, "temperature", None),
                (p.draft, "draft", None),
                (p.unburned, "ratio", 1),
            )
        ]
    return tuple(row)


def _limit_table(boiler: BoilerTable, system: str) -> str:
    headers = (
        "limit",
        "steam\n" + label("steam_rate", system),
        "firing\nrate\n" + label("firing_rate_per_grate_area", system),
        "",
    )
    top = boiler.points[-1].firing_rate_per_grate_area
    rows = [
        (
            limit.name,
            "-" if limit.steam is None else show_number(limit.steam, "steam_rate", system),
            _rate(limit, top, system),
            "binds" if limit.binds else "",
        )
        for limit in boiler.limits
    ]
    return table(headers, rows)


def _rate(limit: LimitPoint, top: float, system: str) -> str:
    """Firing rate of a limit; a dash where the fire cannot make its steam, up to the last rate of the table."""
    rate = show_number(limit.firing_rate_per_grate_area, "firing_rate_per_grate_area", system, 0)
    if limit.steam is None:
        return f"beyond {rate}"
    return rate if limit.firing_rate_per_grate_area < top else "-"
