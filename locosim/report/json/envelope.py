"""The envelope of every JSON answer: version, format, command, method, caution, accuracy and what it was made from."""

from __future__ import annotations

import json
import math
from typing import Any

from locosim import __version__
from locosim.report.accuracy import accuracy_content
from locosim.report.caution import CAUTION
from locosim.report.made_from import MadeFrom, made_from_content

FORMAT_VERSION = 2  # raised when a key changes its meaning or goes


def envelope(command: str, method: str | None, source: MadeFrom, content: dict[str, Any]) -> str:
    """Wrap a result as JSON: SI throughout, each key with its unit.

    Args:
        command: Command that made it.
        method: `cycle` or `handbook`; None for a line alone.
        source: What it was made from.
        content: The result.
    """
    header = {
        "locosim": __version__,
        "format": FORMAT_VERSION,
        "command": command,
        "method": method,
        "made_from": made_from_content(source),
        "caution": CAUTION,
        "accuracy": accuracy_content(command, method, source),
    }
    return json.dumps(_to_json({**header, **content}), indent=1, allow_nan=False)


def _to_json(value: Any) -> Any:
    """Turn arrays and tuples into lists, and what is not finite into null."""
    if isinstance(value, dict):
        return {key: _to_json(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_to_json(item) for item in value]
    if hasattr(value, "tolist"):
        return _to_json(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
