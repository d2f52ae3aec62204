"""The helper engines of an excursion: where on the train, and from where to where."""

from __future__ import annotations

from typing import Any

from locosim.model import Excursion


def helper_lines(excursion: Excursion) -> list[str]:
    """One sentence that names every helper engine; none without helpers."""
    named = [
        f"{helper['name']} at the {helper['place']} from {helper['from']} to {helper['to']}"
        for helper in helper_content(excursion)
    ]
    return [f"Helper engine{'s' if len(named) > 1 else ''}: {'; '.join(named)}."] if named else []


def helper_content(excursion: Excursion) -> list[dict[str, Any]]:
    """The same for JSON."""
    return [
        {
            "name": helper.name_beside(excursion.locomotive.name),
            "place": helper.place,
            "from": helper.from_station or excursion.stops[0].station,
            "to": helper.to_station or excursion.stops[-1].station,
        }
        for helper in excursion.helpers
    ]
