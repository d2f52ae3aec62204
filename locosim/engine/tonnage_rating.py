"""Tonnage rating of an engine: the trailing load on each grade at each speed, with adjusted tonnage beside it."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.constants import MPH
from locosim.engine.own_resistance import full_tender_load
from locosim.engine.performance import Performance
from locosim.engine.speed_curve import CurvePoint, curve_point
from locosim.errors import Fault, OutOfRange, suggestion
from locosim.frozen import frozen
from locosim.physics.operation.tonnage import (
    adjusted_tonnage,
    car_factor,
    gross_trailing_load,
    resistance_per_added_mass,
)
from locosim.physics.resistance.grade_and_curve import grade_resistance
from locosim.physics.resistance.laws import LAWS, specific_resistance

USUAL_SPEEDS = tuple(n * MPH for n in (10, 15, 20, 25, 30, 35))  # of a rating [m/s]
METRIC_USUAL_SPEEDS = tuple(n / 3.6 for n in (15, 25, 35, 45, 55))


@frozen
class RatingCar:
    """The car that a rating is made for, empty and loaded.

    Attributes:
        empty_mass: Mass empty [kg].
        loaded_mass: Mass loaded [kg].
        axles: Number of axles [1].
        frontal_area: Frontal area in the resistance law [m²].
        law: Name of the law of running resistance.
    """

    empty_mass: float = 20_000.0
    loaded_mass: float = 65_000.0
    axles: int = 4
    frontal_area: float = 9.3
    law: str = "davis_1926_freight"

    def resistance(self, mass: float, speed: float) -> float:
        """Running resistance of one car of a mass [kg] at a speed [m/s], on straight level track [N]."""
        per_mass = specific_resistance(
            law=LAWS[self.law],
            speed=speed,
            axle_load=mass / self.axles,
            axles=self.axles,
            frontal_area=self.frontal_area,
        )
        return float(per_mass) * mass

    def check(self) -> None:
        """Check the car.

        Raises:
            OutOfRange: A law that is not known, or a loaded car that is not heavier than an empty one.
        """
        if self.law not in LAWS:
            raise OutOfRange.by([Fault("law", f"{self.law!r} is not known; {suggestion(self.law, LAWS)}")])
        if not 1000.0 <= self.empty_mass < self.loaded_mass <= 1e6:
            raise OutOfRange.by(
                [
                    Fault(
                        "loaded_mass",
                        "must be above that of an empty car, {empty}, and at most {most}, found {found}; an empty car "
                        "weighs at least {least}",
                        "kg",
                        {
                            "empty": self.empty_mass,
                            "most": 1e6,
                            "least": 1000.0,
                            "found": self.loaded_mass,
                        },
                    )
                ]
            )


@frozen
class Rating:
    """The rating on one grade at one speed.

    Attributes:
        grade: Rise over run, curve resistance included [1].
        speed: Speed held on it [m/s].
        pull: Pull behind the tender on that grade [N].
        loaded: Trailing load of loaded cars [kg]; 0 where the engine does not hold the speed alone.
        empty: Trailing load of empty cars [kg]; likewise.
        adjusted: Adjusted rating, with the car factor [kg]; likewise.
        car_factor: Mass to add for each car [kg].
        pairs: Pairs of a loaded and an empty car within the adjusted rating.
        limit: What limits the pull.
    """

    grade: float
    speed: float
    pull: float
    loaded: float
    empty: float
    adjusted: float
    car_factor: float
    pairs: int
    limit: str


@frozen(eq=False)
class TonnageRating:
    """Tonnage rating of an engine.

    Attributes:
        performance: The engine.
        rail: Rail condition.
        car: The car it is made for.
        grades: Grades, rising [1].
        speeds: Speeds, rising [m/s].
        ratings: One for each grade and speed, grade by grade.
    """

    performance: Performance
    rail: str
    car: RatingCar
    grades: tuple[float, ...]
    speeds: tuple[float, ...]
    ratings: tuple[Rating, ...]

    def at(self, grade: int, speed: int) -> Rating:
        """The rating by the indices of its grade and speed."""
        return self.ratings[grade * len(self.speeds) + speed]


def rate_tonnage(
    performance: Performance,
    *,
    grades: Sequence[float],
    speeds: Sequence[float],
    rail: str = "dry",
    car: RatingCar = RatingCar(),
) -> TonnageRating:
    """Rate an engine on grades at speeds that it holds on sustained steam, with a full tender.

    Running resistance is that of still air and the law of the car; starting, wind, cold and the length of grades are
    not in it: `load` checks a train on a line.

    Args:
        performance: The engine.
        grades: Grades, curve resistance included, 0 to 10 % [1].
        speeds: Speeds, above 0 [m/s].
        rail: Rail condition, such as `dry` or `wet`.
        car: The car to rate for.

    Raises:
        OutOfRange: A grade or speed out of range, a rail condition or law that is not known, or a car that is not
            heavier loaded than empty.

    References:
        [Army603] for the trailing load, [CanadianNationalRules] and [AREA1970] for adjusted tonnage.
    """
    car.check()
    for grade in grades:
        if not 0.0 <= grade <= 0.1:
            figures = {"least": 0.0, "most": 0.1, "found": grade}
            raise OutOfRange.by(
                [Fault("grades", "must be between {least} and {most}, found {found}", "grade", figures)]
            )
    top = performance.map.max_speed
    for speed in speeds:
        if not 0.0 < speed <= top:
            figures = {"least": 0.0, "most": top, "found": speed}
            raise OutOfRange.by(
                [
                    Fault(
                        "speeds",
                        "must be above {least} and at most {most} for this engine, found {found}",
                        "m/s",
                        figures,
                    )
                ]
            )
    ordered, steps = tuple(sorted(set(grades))), tuple(sorted(set(speeds)))
    points = [curve_point(performance, speed, rail) for speed in steps]
    return TonnageRating(
        performance=performance,
        rail=rail,
        car=car,
        grades=ordered,
        speeds=steps,
        ratings=tuple(_rating(performance, car, grade, point) for grade in ordered for point in points),
    )


def _rating(performance: Performance, car: RatingCar, grade: float, point: CurvePoint) -> Rating:
    engine = performance.locomotive
    by_grade = float(grade_resistance(grade=grade))
    own = engine.mass + engine.tender.empty_mass + full_tender_load(engine)
    pull = point.drawbar_pull - own * by_grade
    pair = {
        "light_mass": car.empty_mass,
        "light_resistance": car.resistance(car.empty_mass, point.speed),
        "loaded_mass": car.loaded_mass,
        "loaded_resistance": car.resistance(car.loaded_mass, point.speed),
    }

    def load(per_mass: float) -> float:
        if pull <= 0.0:
            return 0.0
        return gross_trailing_load(
            drawbar_pull=pull,
            weather_factor=1.0,
            rolling_resistance=per_mass,
            grade_resistance=by_grade,
            curve_resistance=0.0,
        )

    adjusted = load(resistance_per_added_mass(**pair))
    factor = car_factor(**pair, grade_resistance=by_grade)
    both = adjusted_tonnage(mass=car.loaded_mass + car.empty_mass, cars=2, car_factor=factor)
    return Rating(
        grade=grade,
        speed=point.speed,
        pull=pull,
        loaded=load(pair["loaded_resistance"] / car.loaded_mass),
        empty=load(pair["light_resistance"] / car.empty_mass),
        adjusted=adjusted,
        car_factor=factor,
        pairs=int(adjusted / both),
        limit=point.limit,
    )
