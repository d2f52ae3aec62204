"""Notes and cautions on keys set from a test sheet, for every answer."""

from __future__ import annotations

from locosim.engine.si_text import format_pressure
from locosim.model import Locomotive
from locosim.model.engine_test_sheet import Anchor


def anchor_notes(locomotive: Locomotive) -> tuple[str, ...]:
    """One note for each key that was set from the test sheet, with its caution.

    Args:
        locomotive: The engine.
    """
    if locomotive.test_sheet.use and locomotive.anchors is None:
        return (
            "caution: the test sheet is not used; read the engine file by load_engine, or call anchored_engine",
        )
    return tuple(anchor_note(anchor) for anchor in locomotive.anchors or ())


def anchor_note(anchor: Anchor) -> str:
    """The key, its size, the readings it was set by, and a caution where there is reason for one."""
    note = (
        f"{anchor.key} = {_shown(anchor.value, anchor)} set from the test sheet ({anchor.by}), "
        f"{_shown(anchor.usual, anchor)} without it"
    )
    return "; ".join([note, *anchor_cautions(anchor)])


def anchor_cautions(anchor: Anchor) -> list[str]:
    """Cautions on a key set from a test sheet; none where the sheet is reached within the believable range."""
    cautions = []
    if not anchor.believable:
        cautions.append(
            f"caution: {anchor.key} lies beyond the believable range of {_shown(anchor.low, anchor)} to "
            f"{_shown(anchor.high, anchor)}; check the sheet and the dimensions of the engine"
        )
    if not anchor.reached:
        limit = f", limited by the {anchor.limited_by}" if anchor.limited_by else ""
        cautions.append(
            f"caution: the test sheet is not reached by {anchor.key}; the nearest is off by {_error(anchor)}{limit}"
        )
    return cautions


def _error(anchor: Anchor) -> str:
    if anchor.key == "boiler.superheater_factor":
        return f"{100.0 * anchor.error:+.0f} K"
    return f"{100.0 * anchor.error:+.1f} %"


def _shown(value: float, anchor: Anchor) -> str:
    if anchor.unit == "Pa":
        return format_pressure(value)
    if anchor.unit == "kg/m^2/s":
        per_hour = 3600.0 * value
        return f"{per_hour:.0f} kg/(m² h) ({per_hour / 4.88243:.0f} lb/ft² h)"
    return f"{value:.3g}"
