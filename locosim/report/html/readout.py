"""Figures of a run for the read-out of the HTML report: few enough to send, close enough to read."""

from __future__ import annotations

import base64
import hashlib
import json
from importlib.resources import files
from typing import Any

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.journey.result import LIMITS, Journey
from locosim.units import label, number, show_number

PLACES = 500  # places along the run that can be read


def script() -> str:
    """The script of the report."""
    return files("locosim.report.html").joinpath("check_page.js").read_text(encoding="utf-8")


def csp_script_hash(text: str) -> str:
    """Hash by which the page allows this script and no other."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def samples_json(journey: Journey, system: str, *, left: float, right: float) -> str:
    """Samples for the script, with the room the panels take of the picture's width.

    Args:
        journey: The run.
        system: Units, `us`, `metric` or `british`.
        left: Where the panels begin, as a share of the width of the picture [1].
        right: Where they end [1].
    """
    content = {
        "left": round(left, 5),
        "right": round(right, 5),
        "headers": [f"{name} [{unit}]" if unit else name for name, unit in _heads(system)],
        "rows": [_row(journey, int(i), system) for i in sampled_nodes(journey)],
    }
    # Signs that could end the element the text stands in are written as escapes.
    return json.dumps(content, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def sampled_nodes(journey: Journey) -> Any:
    """Nodes near evenly spaced places along the run; none twice."""
    steps = len(journey.chainage) - 1
    places = np.linspace(journey.chainage[0], journey.chainage[-1], PLACES)
    return np.unique(np.minimum(np.searchsorted(journey.chainage, places), max(steps - 1, 0)))


def _heads(system: str) -> list[tuple[str, str]]:
    return [
        ("distance", label("distance", system)),
        ("", ""),
        ("speed", label("speed", system)),
        ("tractive effort", label("force", system)),
        ("cutoff", "%"),
        ("pressure", label("pressure", system)),
        ("steam", label("steam_rate", system)),
        ("water", label("water", system)),
        ("limited by", ""),
    ]


def _row(journey: Journey, i: int, system: str) -> list[float | str]:
    held = LIMITS[int(journey.limit[i])] if i < len(journey.limit) else ""
    pull = (
        max(float(journey.effort[i]) - journey.performance.map.friction, 0.0)
        if i < len(journey.effort)
        else 0.0
    )
    steam = float(journey.steam[i]) if i < len(journey.steam) else 0.0
    cutoff = float(journey.cutoff[i]) if i < len(journey.cutoff) else 0.0
    return [
        round(float(number(journey.chainage[i] - journey.chainage[0], "distance", system)), 3),
        show_number(float(journey.time[i]), "clock", system),
        show_number(float(journey.speed[i]), "speed", system),
        show_number(pull, "force", system),
        show_number(cutoff, "ratio", system, 0) if cutoff > 0.0 else "shut",
        show_number(float(journey.pressure[i]) - ATMOSPHERE, "pressure", system),
        show_number(steam, "steam_rate", system),
        show_number(float(journey.tender_water[i]), "water", system),
        held,
    ]
