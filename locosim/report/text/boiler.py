"""The boiler by firing rate as text."""

from __future__ import annotations

from locosim.engine.boiler.barrel import barrel_notes, free_gas_area
from locosim.engine.boiler.boiler_table import BoilerPoint, BoilerTable, LimitPoint
from locosim.model import Boiler
from locosim.physics.boiler.barrel import GAS_AREA_TO_TUBE_SURFACE
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import FUEL_NAMES, note_lines
from locosim.report.text.layout import in_reader_units, paragraph, table
from locosim.units import label, show, show_number

METHODS = {
    "cycle": "cycle: boiler by the heat balance of firebox, tubes and superheater",
    "handbook": "handbook: published evaporation per pound of coal, falling with the firing rate",
}


def boiler_text(boiler: BoilerTable) -> str:
    """Write evaporation, efficiency and losses by firing rate, and the firing rate of each limit."""
    supply = boiler.supply
    lines = [
        boiler.locomotive.name,
        paragraph(_fuel_and_grate(boiler)),
        paragraph(f"Method: {METHODS[supply.method]}."),
        "",
        _firing_table(boiler),
        "",
        paragraph("Limits on evaporation:"),
        "",
        _limit_table(boiler),
        "",
    ]
    if supply.ratings:
        shown = "; ".join(f"{r.name} {show(r.steam, 'steam_rate')}" for r in supply.ratings)
        lines.append(paragraph(f"For comparison only: {shown}."))
    if supply.balance is not None:
        lines.append(paragraph(_gas_area(boiler.locomotive.boiler)))
    if boiler.front_end is not None:
        end = boiler.front_end
        lines.append(
            paragraph(
                f"Front end: nozzle {show(end.nozzle_area, 'small_area')}, back pressure at most "
                f"{show(end.max_back_pressure, 'pressure')}, at which it raises a draft of "
                f"{show(end.available_draft, 'draft')}; the fire then requires {show(end.required_draft, 'draft')}. "
                f"Radiation loss {show(supply.radiation_loss, 'power')}."
            )
        )
    lines += [paragraph(line) for line in note_lines(boiler.notes)]
    if boiler.forced:
        lines += ["", paragraph("Forced, whatever the limits:"), "", _forced_table(boiler)]
    return "\n".join(
        [
            *lines,
            "",
            paragraph(accuracy_text("boiler", supply.method, made_from(boiler))),
            "",
            paragraph(CAUTION),
        ]
    )


def _fuel_and_grate(boiler: BoilerTable) -> str:
    """Fuel, grate and heating surface in a sentence."""
    boiler_data = boiler.locomotive.boiler
    value = show(boiler.supply.heating_value, "heating_value")
    grate = show(boiler_data.grate_area, "area")
    surface = show(boiler_data.evaporative_heating_surface, "area")
    if boiler_data.firing == "oil":
        return (
            f"Oil, {value} gross; evaporative heating surface {surface}. Firing rates are per unit of the area a grate "
            f"would have, {grate}."
        )
    fuel = FUEL_NAMES.get(boiler.fuel.kind, boiler.fuel.kind)
    return (
        f"{fuel[:1].upper()}{fuel[1:]}, {value} gross; grate area {grate}, {boiler_data.firing} fired; "
        f"evaporative heating surface {surface}."
    )


def _gas_area(boiler: Boiler) -> str:
    """Free gas area and how it was found, with surfaces that disagree."""
    area = show(free_gas_area(boiler), "area")
    if not boiler.dimensions_known:
        return (
            f"Gas area {area}, assumed: 1/{1.0 / GAS_AREA_TO_TUBE_SURFACE:.0f} of the tube surface, as the dimensions "
            "of tubes and flues are not given."
        )
    return " ".join(
        [
            f"Gas area {area}, by the dimensions of tubes and flues.",
            *(f"Note: {in_reader_units(note)}." for note in barrel_notes(boiler)),
        ]
    )


def _firing_table(boiler: BoilerTable) -> str:
    by_heat_balance = boiler.supply.balance is not None
    rows = [_row(point, by_heat_balance=by_heat_balance) for point in boiler.points]
    return table(_headers(by_heat_balance=by_heat_balance), rows, left=0)


def _forced_table(boiler: BoilerTable) -> str:
    by_heat_balance = boiler.supply.balance is not None
    rows = [
        (*_row(forced.point, by_heat_balance=by_heat_balance), ", ".join(forced.exceeded) or "none")
        for forced in boiler.forced
    ]
    return table([*_headers(by_heat_balance=by_heat_balance), "limits\nexceeded"], rows, left=0)


def _headers(*, by_heat_balance: bool) -> list[str]:
    headers = [
        "firing\nrate\n" + label("firing_rate_per_grate_area"),
        "fuel\n" + label("fuel_rate"),
        "steam\n" + label("steam_rate"),
        "steam\nper\nfuel",
        "effi-\nciency\n%",
    ]
    if by_heat_balance:
        headers += [
            "steam\ntemperature\n" + label("temperature"),
            "superheat\n" + label("temperature_difference"),
            "smokebox\n" + label("temperature"),
            "draft\n" + label("draft"),
            "unburned\n%",
        ]
    return headers


def _row(p: BoilerPoint, *, by_heat_balance: bool) -> tuple[str, ...]:
    row = [
        show_number(p.firing_rate_per_grate_area, "firing_rate_per_grate_area", 0),
        show_number(p.fuel, "fuel_rate"),
        show_number(p.steam, "steam_rate"),
        show_number(p.steam_per_fuel, "number"),
        show_number(p.efficiency, "ratio", 1),
    ]
    if by_heat_balance:
        row += [
            "-" if value is None else show_number(value, kind, digits)
            for value, kind, digits in (
                (p.steam_temperature, "temperature", None),
                (p.superheat, "temperature_difference", None),
                (p.smokebox_temperature, "temperature", None),
                (p.draft, "draft", None),
                (p.unburned, "ratio", 1),
            )
        ]
    return tuple(row)


def _limit_table(boiler: BoilerTable) -> str:
    headers = (
        "limit",
        "steam\n" + label("steam_rate"),
        "firing\nrate\n" + label("firing_rate_per_grate_area"),
        "",
    )
    top = boiler.points[-1].firing_rate_per_grate_area
    rows = [
        (
            limit.name,
            "-" if limit.steam is None else show_number(limit.steam, "steam_rate"),
            _rate(limit, top),
            "binds" if limit.binds else "",
        )
        for limit in boiler.limits
    ]
    return table(headers, rows)


def _rate(limit: LimitPoint, top: float) -> str:
    """Firing rate of a limit; `beyond` the last rate of the table where the fire cannot make its steam."""
    rate = show_number(limit.firing_rate_per_grate_area, "firing_rate_per_grate_area", 0)
    if limit.steam is None:
        return f"beyond {rate}"
    return rate if limit.firing_rate_per_grate_area < top else "-"
