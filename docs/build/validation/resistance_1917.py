"""Resistance of a whole train in 1917, as printed, against laws of locosim."""

from __future__ import annotations

from functools import lru_cache

from locosim.constants import GRAVITY, KMH
from locosim.physics.resistance.laws import LAWS, specific_resistance

from .comparison import Comparison, Section
from .tables import rows_of

ENGINE, CAR, CARS = 110e3, 40e3, 11  # [kg], with tender; a car; number of cars
TRAINS = (
    # Law of the engine and tender, law of the cars; axles and areas are assumed.
    ("strahl_locomotive", "strahl_express_cars", "Strahl"),
    ("davis_1926_locomotive", "davis_1926_passenger", "Davis"),
)


def whole_train(engine_law: str, car_law: str, speed: float) -> float:
    """Resistance of engine, tender and cars on level track [kg force]."""
    own = specific_resistance(
        law=LAWS[engine_law], speed=speed, axle_load=ENGINE / 9, axles=9, frontal_area=10.0
    )
    cars = specific_resistance(law=LAWS[car_law], speed=speed, axle_load=CAR / 4, axles=4, frontal_area=10.0)
    return (ENGINE * float(own) + CARS * CAR * float(cars)) / GRAVITY


@lru_cache
def whole_train_1917() -> Section:
    """The level row of the printed table by two pairs of laws."""
    comparisons = [
        Comparison(
            case=f"{row['speed_kmh']} km/h, {name}",
            computed=whole_train(own, cars, float(row["speed_kmh"]) * KMH),
            published=float(row["resistance_kg"]), unit="kg", source="Dingler1917", status="read",
        )
        for own, cars, name in TRAINS
        for row in rows_of("studien_1917")
    ]  # fmt: skip
    return Section(
        title="Resistance of a whole train, 1917",
        text=(
            "An engine with tender of 110 t and 11 cars of 40 t on level track, by the formula of a study society, "
            "printed with its table ([Dingler1917], read); it is a formula, not a trial. The other rows of the table "
            "add 550 t times the grade, as locosim does. Computed by Strahl's laws, from memory, and by those of "
            "[Davis1926], the driving axles taken to run like the others; nine axles of engine and tender and 10 m² "
            "of frontal area are assumed.",
        ),
        comparisons=tuple(comparisons),
    )
