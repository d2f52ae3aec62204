"""Rule of adhesion: what the rail can carry against the tractive effort used or needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY
from locosim.journey.kernel import arrays as records
from locosim.journey.result import Journey
from locosim.journey.setup.prepare import rail_condition_at
from locosim.physics.traction.adhesion import adhesion_limited_effort, adhesion_speed_factors
from locosim.physics.types import Floats
from locosim.planning.finding import Explanation, Finding, VerdictScale, at_least, judge
from locosim.planning.locations import location_at, step_ranges
from locosim.planning.rules.stall import BEST_RAIL

MIN_SPEED = 0.5  # below this the rule `start` applies [m/s]
SPEED_TOLERANCE = 1e-9  # a gain of speed in a step that counts as none [m/s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _RimEfforts:
    """Tractive efforts at the rim in each step, all of shape (n,).

    Attributes:
        speed: At the middle of the step [m/s].
        coefficient: Of adhesion at that speed [1].
        available: Limit by adhesion [N].
        used: Given by the engine [N].
        to_hold_speed: Needed to hold the speed: all resistance, less the helpers and the machine friction [N].
        working: Whether the throttle is open, the brake off and the speed above `MIN_SPEED`.
        adhesion_limited: Whether adhesion alone lets the speed fall.
        min_speed: Lowest speed of the stretch in which it falls [m/s]; infinite elsewhere.
    """

    speed: Floats
    coefficient: Floats
    available: Floats
    used: Floats
    to_hold_speed: Floats
    working: npt.NDArray[np.bool_]
    adhesion_limited: npt.NDArray[np.bool_]
    min_speed: Floats


def adhesion(journey: Journey) -> list[Finding]:
    """Adhesion where it is scarcest.

    A step needs the tractive effort used, or that of holding the speed where it is less: wheels that slip while the
    train accelerates are left to the engineer. Where adhesion lets the speed fall, all of it is used, which is tight.
    Where momentum does not carry the train on above the lowest climbing speed, the step needs the effort that holds
    the speed, which is more than adhesion allows.
    """
    efforts = _rim_efforts(journey)
    criteria = journey.excursion.criteria
    # The run never uses more than adhesion allows; the middle of a step is known to rounding only.
    needed = np.minimum(np.minimum(efforts.used, efforts.to_hold_speed), efforts.available)
    cannot_climb = efforts.adhesion_limited & (efforts.min_speed < criteria.min_climbing_speed)
    needed = np.where(cannot_climb, efforts.to_hold_speed, needed)
    relevant = efforts.working & (needed > 0.0)
    if not relevant.any():
        return []
    capacity_ratio = np.where(relevant, efforts.available / np.maximum(needed, 1.0), np.inf)
    worst = int(np.lexsort((-efforts.to_hold_speed / efforts.available, capacity_ratio))[0])
    location = location_at(journey, float(journey.chainage[worst]))
    compared = at_least(float(efforts.available[worst]), float(needed[worst]), "force")
    explanation = _explanation(journey, efforts, worst, cannot_climb=bool(cannot_climb[worst]))
    return [judge("adhesion", compared, location, VerdictScale(criteria.tight_margin), explanation)]


def _explanation(journey: Journey, efforts: _RimEfforts, step: int, *, cannot_climb: bool) -> Explanation:
    weight = journey.performance.mass_on_drivers * GRAVITY
    rail = rail_condition_at(journey.excursion, float(journey.chainage[step]))
    used = min(efforts.used[step], efforts.to_hold_speed[step], efforts.available[step])
    return Explanation(
        because=f"{_because(efforts, step, cannot_climb=cannot_climb)}; adhesion of the {rail} rail at {{speed}} is "
        "taken as {coefficient}",
        remedy=f"take cars off{'' if rail == BEST_RAIL else ', sand the rail'}, or do not run on such a rail",
        facts={
            "share": (float(used) / weight, "ratio"),
            "hold": (float(efforts.to_hold_speed[step]) / weight, "ratio"),
            "least": (float(efforts.min_speed[step]), "speed"),
            "coefficient": (float(efforts.coefficient[step]), "ratio"),
            "speed": (float(efforts.speed[step]), "speed"),
        },
    )


def _because(efforts: _RimEfforts, step: int, *, cannot_climb: bool) -> str:
    if cannot_climb and efforts.min_speed[step] == 0.0:
        return "holding the speed needs {hold} of the weight on drivers, and momentum does not carry the train over"
    if cannot_climb:
        return "holding the speed needs {hold} of the weight on drivers, and speed falls to {least}"
    if efforts.adhesion_limited[step]:
        return (
            "all the adhesion is used, where holding the speed needs {hold} of the weight on drivers; momentum carries "
            "the train on at {least} or more"
        )
    return "the engine uses {share} of the weight on drivers"


def _rim_efforts(journey: Journey) -> _RimEfforts:
    friction = journey.performance.map.friction_at(journey.effort)
    speed = np.sqrt(0.5 * (journey.speed[:-1] ** 2 + journey.speed[1:] ** 2))
    coefficient = journey.adhesion * adhesion_speed_factors(speed)
    available = adhesion_limited_effort(
        mass_on_drivers=journey.performance.mass_on_drivers, coefficient=coefficient
    )
    working = (journey.effort > 0.0) & (journey.brake == 0.0)
    falling = working & (journey.speed[1:] <= journey.speed[:-1] + SPEED_TOLERANCE)
    adhesion_limited = falling & (journey.limit == records.ADHESION)
    return _RimEfforts(
        speed=speed,
        coefficient=coefficient,
        available=np.asarray(available),
        used=journey.effort - friction,
        to_hold_speed=journey.total_resistance - journey.helper_effort - friction,
        working=working & (speed > MIN_SPEED),
        adhesion_limited=adhesion_limited & (speed > MIN_SPEED),
        min_speed=np.where(adhesion_limited, _lowest_speed(journey, falling), np.inf),
    )


def _lowest_speed(journey: Journey, falling: npt.NDArray[np.bool_]) -> Floats:
    """Speed at the end of the stretch in which each step lies, shape (n,) [m/s]; infinite where speed rises."""
    lowest = np.full(len(falling), np.inf)
    for part in step_ranges(falling):
        stalls = part.last == len(falling) and journey.outcome == "stalled"
        lowest[part.first : part.last] = 0.0 if stalls else journey.speed[part.last]
    return lowest
