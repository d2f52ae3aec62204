"""Rules of braking: stopping distance, and holding the train on a descending grade."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from locosim.constants import WATER_DENSITY
from locosim.journey.result import Journey
from locosim.physics.operation.braking import GALTON_SPEEDS, max_holding_speed, stopping_distance_with_shoes
from locosim.physics.types import Floats
from locosim.planning.finding import Comparison, Explanation, Fact, Finding, VerdictScale, at_most, judge
from locosim.planning.locations import StepRange, descents, location_at, range_length

HALF_SERVICE = 0.5  # of a full service application, the most used to balance a grade [NTSB1990]
VACUUM_APPLICATION_TIME = 1.4  # to full application, per car: 12 to 16 s for 10 cars [Dingler1877]
# Of grade against speed, by which a few steps that stop hard are found.
HARD_WEIGHTS = (0.01, 0.3, 1.0, 3.0, 100.0)
MAX_BRAKE_DATA_SPEED = GALTON_SPEEDS[1]  # end of the table of shoe friction [m/s]


def braking_ratio(journey: Journey) -> Floats:
    """Shoe force of cars, engine and tender over the weight of train and engines in each step, shape (n,) [1].

    The brakes of helpers are not counted, but their weight is. Water and fuel count at their maximum over the run.
    """
    excursion = journey.excursion
    locomotive, train = excursion.locomotive, excursion.train
    force = sum(v.braking_ratio * v.empty_mass * v.count for v in train.vehicles)
    force += locomotive.braking_ratio * locomotive.mass_on_drivers
    force += locomotive.tender.braking_ratio * locomotive.tender.empty_mass
    # Water in the cars is part of the tender water.
    mass = locomotive.mass + locomotive.tender.empty_mass + train.mass - WATER_DENSITY * train.water
    mass += float(np.max(journey.tender_water + journey.tender_fuel))
    helper_mass = np.array([helper.mass for helper in journey.helpers]) @ journey.helper_active
    return np.asarray(force / (mass + helper_mass))


def brake_delay(journey: Journey) -> float:
    """Time at constant speed that stands for the application of the brakes [s].

    With a simple vacuum brake it is half the time to full application, where that is longer than the criterion.
    """
    excursion = journey.excursion
    delay = excursion.criteria.brake_reaction_time
    if excursion.train.brake == "air":
        return delay
    cars = sum(vehicle.count for vehicle in excursion.train.vehicles)
    return max(delay, 0.5 * VACUUM_APPLICATION_TIME * cars)


def stopping(journey: Journey) -> list[Finding]:
    """Longest full service stop from the speed and on the grade of any step of the run."""
    if len(journey.grade) == 0:
        return []
    criteria = journey.excursion.criteria
    ratio = braking_ratio(journey)
    speed = 0.5 * (journey.speed[:-1] + journey.speed[1:])
    grade = np.minimum(journey.grade, 0.0)
    hardest = _hardest_to_stop(speed, grade, ratio)
    distances = stopping_distance_with_shoes(
        speed=speed[hardest],
        braking_ratio=ratio[hardest],
        grade=grade[hardest],
        reaction_time=brake_delay(journey),
    )
    longest = int(np.argmax(distances))
    distance, step = float(distances[longest]), hardest[longest]
    facts: dict[str, Fact] = {
        "speed": (float(speed[step]), "speed"),
        "grade": (float(journey.grade[step]), "grade"),
        "ratio": (float(ratio[step]), "ratio"),
    }
    compared = at_most(distance, criteria.max_stopping_distance, "length")
    location = location_at(journey, float(journey.chainage[step]))
    scale = VerdictScale(criteria.tight_margin)
    return [
        judge("stopping distance", compared, location, scale, _stop_explanation(journey, distance, facts))
    ]


def _stop_explanation(journey: Journey, distance: float, facts: dict[str, Fact]) -> Explanation:
    stops, braked = math.isfinite(distance), facts["ratio"][0] > 0.0
    slower = "run slower there" if braked else "give the vehicles brakes: every braking_ratio is 0"
    return Explanation(
        because="a full service stop from {speed} on {grade}, with the brake shoes at {ratio} of the total "
        f"weight, {'takes this distance' if stops else 'does not stop the train'}; "
        f"{_counted_brakes(journey)}",
        remedy=f"{slower}, or prove the brakes by test",
        facts=facts,
        value_text="" if stops else "does not stop",
    )


def _counted_brakes(journey: Journey) -> str:
    """Which engine brakes are counted."""
    locomotive = journey.excursion.locomotive
    counted = [("engine", locomotive.braking_ratio), ("tender", locomotive.tender.braking_ratio)]
    names = [name for name, ratio in counted if ratio > 0.0]
    if not names:
        return "the brakes of the engines are not counted, since locomotive.braking_ratio is 0"
    return f"the brakes of {' and '.join(names)} are counted, those of helpers are not"


def _hardest_to_stop(speed: Floats, grade: Floats, ratio: Floats) -> list[int]:
    """Steps that can have the longest stop: for each braking ratio, those with no other step as fast and as steep."""
    found = []
    for value in np.unique(ratio):
        steps = np.flatnonzero(ratio == value)
        steps = steps[_beyond_the_hardest(speed[steps], grade[steps])]
        order = steps[np.lexsort((grade[steps], -speed[steps]))]
        steepest = np.minimum.accumulate(grade[order])
        found += [int(order[0]), *(int(i) for i in order[1:][steepest[1:] < steepest[:-1]])]
    return found


def _beyond_the_hardest(speed: Floats, grade: Floats) -> npt.NDArray[np.intp]:
    """Steps that are faster or steeper than each of a few hard ones, and these: few are left to sort."""
    fall = -float(np.min(grade)) or 1.0
    hard = {int(np.argmax(speed - weight * float(np.max(speed)) / fall * grade)) for weight in HARD_WEIGHTS}
    left = np.ones(len(speed), dtype=np.bool_)
    for step in sorted(hard):
        beyond = (speed > speed[step]) | (grade < grade[step])
        beyond[step] = True
        left &= beyond
    return np.flatnonzero(left)


def descending(journey: Journey) -> list[Finding]:
    """Speed on each long descent against the speed that half a service application can hold."""
    ratio = HALF_SERVICE * braking_ratio(journey)
    return [_descent_finding(journey, descent, ratio) for descent in descents(journey)]


def _descent_finding(journey: Journey, descent: StepRange, ratio: Floats) -> Finding:
    """Worst part of a descent; a helper that comes on or off divides it into parts."""
    steps = np.arange(descent.first, descent.last)
    parts = [
        _holding_comparison(journey, steps[ratio[steps] == value], float(value))
        for value in np.unique(ratio[steps])
    ]
    compared, grade = min(parts, key=lambda part: (part[0].margin, part[0].value, part[0].limit, part[1]))
    can_hold = compared.limit > 0.0
    slower = "run slower, set retainers by local rule, or " if can_hold else ""
    explanation = Explanation(
        because="down {grade} for {length}, half a service application holds the train "
        f"{'up to {holds}' if can_hold else 'at no speed'}; brake shoes lose friction with speed and heat",
        remedy=f"{slower}add braked weight",
        facts={
            "grade": (grade, "grade"),
            "length": (range_length(journey, descent), "distance"),
            "holds": (compared.limit, "speed"),
        },
    )
    location = location_at(journey, float(journey.chainage[descent.first]))
    scale = VerdictScale(journey.excursion.criteria.tight_margin)
    return judge("descending grade", compared, location, scale, explanation)


def _holding_comparison(
    journey: Journey, steps: np.ndarray[tuple[int], np.dtype[np.int_]], ratio: float
) -> tuple[Comparison, float]:
    """Highest speed in some steps against the speed that can be held there, and their steepest grade [1]."""
    grade = float(np.min(journey.grade[steps]))
    speed = float(max(np.max(journey.speed[steps]), np.max(journey.speed[steps + 1])))
    resistance = journey.excursion.assumptions.low_running_resistance
    holds = float(max_holding_speed(grade=grade, braking_ratio=ratio, resistance=resistance))
    compared = at_most(speed, holds, "speed")
    if holds >= MAX_BRAKE_DATA_SPEED * 0.999 and speed <= MAX_BRAKE_DATA_SPEED:
        # Beyond the table the holding speed is not known, but within it the shoes hold every speed.
        compared = compared._replace(margin=max(compared.margin, 1.0))
    return compared, grade
