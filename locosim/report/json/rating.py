"""The tonnage rating of an engine as JSON."""

from __future__ import annotations

from locosim.engine.tonnage_rating import TonnageRating
from locosim.report.json.curve import engine_summary
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def rating_json(rating: TonnageRating) -> str:
    """Write the tonnage rating of an engine as JSON."""
    content = {
        **engine_summary(rating.performance),
        "rail": rating.rail,
        "car": {
            "empty_mass_kg": rating.car.empty_mass,
            "loaded_mass_kg": rating.car.loaded_mass,
            "axles": rating.car.axles,
            "frontal_area_m2": rating.car.frontal_area,
            "resistance_law": rating.car.law,
        },
        "rows": [
            {
                "grade": each.grade,
                "speed_m_s": each.speed,
                "pull_N": each.pull,
                "loaded_kg": each.loaded,
                "empty_kg": each.empty,
                "adjusted_rating_kg": each.adjusted,
                "car_factor_kg": each.car_factor,
                "pairs_of_loaded_and_empty_cars": each.pairs,
                "limited_by": each.limit,
            }
            for each in rating.ratings
        ],
    }
    return envelope("rating", rating.performance.method, made_from(rating), content)
