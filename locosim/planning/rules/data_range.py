"""Rule of data: published laws used outside the range of their data."""

from __future__ import annotations

import numpy as np

from locosim.journey.kernel.arrays import MAP_END
from locosim.journey.result import Journey
from locosim.model import Vehicle
from locosim.physics.resistance.laws import PUBLISHED_RANGES
from locosim.planning.finding import (
    WHOLE_LINE,
    Comparison,
    Explanation,
    Finding,
    Location,
    VerdictScale,
    at_least,
    at_most,
    judge,
)
from locosim.planning.rules.braking import MAX_BRAKE_DATA_SPEED

OUTSIDE_DATA = VerdictScale(note=True)  # the result may be right, but nobody measured it
HELD_BY_THE_MAP = VerdictScale(
    tight_margin=1e-3, note=True
)  # the run reaches the last speed of the map, never beyond


def data_range(journey: Journey) -> list[Finding]:
    """Vehicles and speeds outside the range that their resistance law or the brake-shoe data were published for."""
    fastest = float(np.max(journey.speed))
    found = [
        finding for vehicle in journey.excursion.train.vehicles for finding in _law_findings(vehicle, fastest)
    ]
    if np.any(journey.limit == MAP_END):
        explanation = Explanation(
            because="the train could run faster, but the performance map of the engine ends at this speed",
            remedy="give the engine's max_speed, the crew's, or a limit of the line",
        )
        compared = at_most(fastest, journey.performance.map.max_speed, "speed")
        found.append(judge("data range", compared, WHOLE_LINE, HELD_BY_THE_MAP, explanation))
    if fastest > MAX_BRAKE_DATA_SPEED:
        explanation = Explanation(
            because="the data on brake-shoe friction end below this speed; stops are longer than computed",
            remedy="run slower, or prove the brakes by test",
        )
        compared = at_most(fastest, MAX_BRAKE_DATA_SPEED, "speed")
        found.append(judge("data range", compared, WHOLE_LINE, OUTSIDE_DATA, explanation))
    return found


def _law_findings(vehicle: Vehicle, fastest: float) -> list[Finding]:
    """Figures of one vehicle that its resistance law was not published for."""
    known = PUBLISHED_RANGES.get(vehicle.resistance_law)
    if known is None:
        return []
    compared: tuple[tuple[str, Comparison], ...] = (
        ("axle load", at_least(vehicle.axle_load, known.min_axle_load, "mass")),
        ("mass", at_least(vehicle.mass, known.min_mass, "mass")),
        ("mass", at_most(vehicle.mass, known.max_mass, "mass")),
        ("speed", at_most(fastest, known.max_published_speed, "speed")),
    )
    return [
        judge(
            "data range", each, Location(vehicle.name, None), OUTSIDE_DATA, _law_explanation(vehicle, figure)
        )
        for figure, each in compared
        if each.margin < 0.0
    ]


def _law_explanation(vehicle: Vehicle, figure: str) -> Explanation:
    return Explanation(
        because=f"the resistance law {vehicle.resistance_law} was not published for this {figure}",
        remedy="choose another law, or allow for the doubt",
    )
