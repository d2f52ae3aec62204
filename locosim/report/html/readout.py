"""Values of a run for the readout of the HTML report, at some 500 positions."""

from __future__ import annotations

import base64
import hashlib
import json
import math
from importlib.resources import files
from typing import Any

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.journey.result import LIMITS, Journey
from locosim.physics.types import Floats
from locosim.units import label, number, show_number

POSITIONS = 500  # along the run, for a page of moderate size


def script() -> str:
    """The script of the page."""
    return files("locosim.report.html").joinpath("check_page.js").read_text(encoding="utf-8")


def csp_script_hash(text: str) -> str:
    """Hash with which the content security policy of the page allows this script and no other."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def samples_json(journey: Journey, left: float, right: float) -> str:
    """Samples for the script, and where the panels lie in the width of the picture.

    Args:
        journey: The run.
        left: Where the panels begin, as a fraction of the width of the picture [1].
        right: Where they end, likewise [1].
    """
    content = {
        "left": round(left, 5),
        "right": round(right, 5),
        "headers": [f"{name} [{unit}]" if unit else name for name, unit in _heads()],
        "rows": [_row(journey, int(i)) for i in sampled_nodes(journey)],
    }
    # A "<" could end the script element, so it is escaped.
    return json.dumps(content, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def sampled_nodes(journey: Journey) -> Any:
    """Indices of the nodes nearest to evenly spaced positions along the run, each once."""
    steps = len(journey.chainage) - 1
    positions = np.linspace(journey.chainage[0], journey.chainage[-1], POSITIONS)
    return np.unique(np.minimum(np.searchsorted(journey.chainage, positions), max(steps - 1, 0)))


def _heads() -> list[tuple[str, str]]:
    return [
        ("distance", label("distance")),
        ("", ""),
        ("speed", label("speed")),
        ("tractive effort", label("force")),
        ("cutoff", "%"),
        ("throttle", "%"),
        ("pressure", label("pressure")),
        ("steam", label("steam_rate")),
        ("water", label("water")),
        ("limited by", ""),
    ]


def _row(journey: Journey, i: int) -> list[float | str]:
    """Values at a node, and of the step that begins there."""
    cutoff = _step_value(journey.cutoff, i)
    return [
        round(float(number(journey.chainage[i] - journey.chainage[0], "distance")), 3),
        show_number(float(journey.time[i]), "clock"),
        show_number(float(journey.speed[i]), "speed"),
        show_number(
            max(float(journey.performance.map.rim_effort(_step_value(journey.effort, i))), 0.0), "force"
        ),
        show_number(cutoff, "ratio", 0) if cutoff > 0.0 else "shut",
        _opening(_step_value(journey.throttle, i)),
        show_number(float(journey.pressure[i]) - ATMOSPHERE, "pressure"),
        show_number(_step_value(journey.steam, i), "steam_rate"),
        show_number(float(journey.tender_water[i]), "water"),
        LIMITS[int(journey.limit[i])] if i < len(journey.limit) else "",
    ]


def _opening(throttle: float) -> str:
    """Throttle opening; by the handbook, which knows no passages, only whether it is eased."""
    if math.isnan(throttle):
        return "eased"
    return show_number(throttle, "ratio", 0) if throttle > 0.0 else "shut"


def _step_value(values: Floats, i: int) -> float:
    """Value of the step that begins at a node; 0 at the last node."""
    return float(values[i]) if i < len(values) else 0.0
