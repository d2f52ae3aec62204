"""The bands of the figures in an answer, in words and as plain data."""

from __future__ import annotations

from typing import Any

from locosim.engine.accuracy import SHARE, Band, bands, sustained_power_band
from locosim.report.made_from import MadeFrom

SUSTAINED = "sustained power"
# What each command prints, and the band that applies to it.
FIGURES = {
    "curve": {
        SUSTAINED: "",
        "steam at a given power": "power_at_steam",
        "fuel for a given steam": "steam_per_fuel",
    },
    "cutoff": {
        "indicated power and steam rate": "power_at_steam",
        "fuel for a given steam": "steam_per_fuel",
    },
    "diagram": {"indicated power and steam rate": "power_at_steam"},
    "boiler": {"steam per fuel": "steam_per_fuel", "highest evaporation": "max_evaporation"},
    "compare": {SUSTAINED: "", "steam rate": "power_at_steam", "fuel per work": "fuel_per_work"},
    "test-sheet": {
        "indicated power and steam rate": "power_at_steam",
        "evaporation": "steam_per_fuel",
        "power at the boiler's limit": "",
    },
    "check": {
        "water for the work computed": "power_at_steam",
        "fuel for the work computed": "fuel_per_work",
        "power at full effort, on which times depend": "",
    },
}
FIGURES["rating"] = {SUSTAINED: ""}
FIGURES["vary"] = {
    "power at full effort, on which times depend": "",
    "steam or water for the work computed": "power_at_steam",
    "fuel for the work computed": "fuel_per_work",
}
for _command in (
    "batch",
    "consists",
    "day",
    "economy",
    "helper",
    "load",
    "risk",
    "run",
    "timetable",
    "water",
):
    FIGURES[_command] = FIGURES["check"]


def accuracy(command: str, method: str | None, source: MadeFrom) -> dict[str, Band]:
    """The bands that apply to an answer, by what it prints.

    Args:
        command: Command that made it.
        method: `cycle` or `handbook`; of the handbook only the sustained power was compared with tests. None for an
            answer without an engine, which has no bands.
        source: What it was made from.
    """
    if method is None or command not in FIGURES:
        return {}
    power = _power_band(method, source)
    found = {what: bands()[figure] if figure else power for what, figure in FIGURES[command].items()}
    if method == "handbook":
        return {what: band for what, band in found.items() if band is power}
    return found


def _power_band(method: str, source: MadeFrom) -> Band:
    return sustained_power_band(method=method, compound=source.compound, anchored=source.anchored)


def accuracy_text(command: str, method: str, source: MadeFrom) -> str:
    """The same in a sentence."""
    found = accuracy(command, method, source)
    if method == "handbook":
        return _handbook_text(_power_band(method, source))
    share = f"{100 * SHARE:.0f} % of tests outside the fit lie within"
    parts = [f"{what} ±{100 * band.within:.0f} % (n = {band.rows})" for what, band in found.items()]
    return f"Accuracy: {', '.join(parts)}; {share}."


def _handbook_text(band: Band) -> str:
    """What is known of the handbook method: it is low on every later engine it was compared with."""
    return (
        f"Accuracy: the handbook method was compared with {band.rows} published powers of {band.engines} engines of "
        f"the 1910s to 1930s, which lie {100 * band.lowest:.0f} to {100 * band.highest:.0f} % above it. Its steam and "
        "fuel are averages of 1914; no band is known for them."
    )


def accuracy_content(command: str, method: str | None, source: MadeFrom) -> list[dict[str, Any]]:
    """The same for JSON."""
    return [
        {
            "figure": what,
            "within": band.within,
            "share_inside": SHARE,
            "tests": band.rows,
            "engines": band.engines,
            "lowest": band.lowest,
            "highest": band.highest,
        }
        for what, band in accuracy(command, method, source).items()
    ]
