"""The rule of adhesion: what the rail holds against the pull she uses, or the pull she would need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY
from locosim.journey.kernel import arrays as records
from locosim.journey.run import Journey
from locosim.journey.setup.prepare import rail_condition_at
from locosim.physics.traction.adhesion import adhesion_limited_effort, adhesion_speed_factors
from locosim.physics.types import Floats
from locosim.planning.finding import Finding, margin_above, verdict_for
from locosim.planning.locations import location_name, step_ranges
from locosim.planning.rules.stall import BEST_RAIL

MIN_SPEED = 0.5  # slower, the rule `start` judges [m/s]
SPEED_TOLERANCE = 1e-9  # a gain of speed in a step that is none [m/s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _RimEfforts:
    """Pulls at the rim in each step, all of shape (n,).

    Attributes:
        speed: At the middle of the step [m/s].
        coefficient: Of adhesion at that speed [1].
        available: What the rail holds [N].
        used: What she gives [N].
        to_hold_speed: What would hold the speed: all resistance, less what helpers give and her machine friction [N].
        pulling: Whether the throttle is open, and the brake off.
        adhesion_limited: Whether the rail alone keeps her from holding the speed.
        min_speed: Lowest speed she falls to in the stretch in which she is held back [m/s]; infinite elsewhere.
    """

    speed: Floats
    coefficient: Floats
    available: Floats
    used: Floats
    to_hold_speed: Floats
    pulling: npt.NDArray[np.bool_]
    adhesion_limited: npt.NDArray[np.bool_]
    min_speed: Floats


def adhesion(journey: Journey) -> list[Finding]:
    """Is there rail for the pull, where it is scarcest?

    A step asks for the pull she uses, or for that of holding the speed where it is less: wheels that slip while
    she gains speed are the driver's to catch. Where the rail holds her back and her speed falls, she uses all of
    it, which is tight; where her momentum does not carry her on faster than the least climbing speed, the step
    asks for the pull of holding the speed, which is more than there is.
    """
    efforts = _rim_efforts(journey)
    criteria = journey.excursion.criteria
    # The run never pulls more than the rail holds; the middle of a step is known to a rounding only.
    needed = np.minimum(np.minimum(efforts.used, efforts.to_hold_speed), efforts.available)
    cannot_climb = efforts.adhesion_limited & (efforts.min_speed < criteria.min_climbing_speed)
    needed = np.where(cannot_climb, efforts.to_hold_speed, needed)
    relevant = efforts.pulling & (needed > 0.0)
    if not relevant.any():
        return []
    capacity_ratio = np.where(relevant, efforts.available / np.maximum(needed, 1.0), np.inf)
    worst = int(np.lexsort((-efforts.to_hold_speed / efforts.available, capacity_ratio))[0])
    margin = margin_above(float(efforts.available[worst]), float(needed[worst]))
    weight = journey.performance.mass_on_drivers * GRAVITY
    chainage = float(journey.chainage[worst])
    rail = rail_condition_at(journey.excursion, chainage)
    return [
        Finding(
            rule="adhesion",
            verdict=verdict_for(margin, criteria.tight_margin),
            place=location_name(journey, chainage),
            chainage=chainage,
            value=float(efforts.available[worst]),
            limit=float(needed[worst]),
            kind="force",
            margin=margin,
            because=_because(efforts, worst, cannot_climb=bool(cannot_climb[worst]))
            + f"; the {rail} rail at {{speed}} is taken to hold {{coefficient}}",
            remedy=f"take cars off{'' if rail == BEST_RAIL else ', sand the rail'}, or do not run on such a rail"
            if margin < criteria.tight_margin
            else "",
            facts={
                "share": (float(needed[worst]) / weight, "ratio"),
                "hold": (float(efforts.to_hold_speed[worst]) / weight, "ratio"),
                "least": (float(efforts.min_speed[worst]), "speed"),
                "coefficient": (float(efforts.coefficient[worst]), "ratio"),
                "speed": (float(efforts.speed[worst]), "speed"),
            },
        )
    ]


def _because(efforts: _RimEfforts, step: int, *, cannot_climb: bool) -> str:
    if cannot_climb and efforts.min_speed[step] == 0.0:
        return "holding speed takes {hold} of the weight on drivers, and her momentum does not carry her over"
    if cannot_climb:
        return "holding speed takes {hold} of the weight on drivers, and she falls to {least}"
    if efforts.adhesion_limited[step]:
        return (
            "she uses all the rail holds, where holding speed takes {hold} of the weight on drivers; her momentum "
            "carries her on at {least} and more"
        )
    return "she pulls with {share} of the weight on drivers"


def _rim_efforts(journey: Journey) -> _RimEfforts:
    friction = journey.performance.map.friction
    speed = np.sqrt(0.5 * (journey.speed[:-1] ** 2 + journey.speed[1:] ** 2))
    coefficient = journey.adhesion * adhesion_speed_factors(speed)
    pulling = (journey.effort > 0.0) & (journey.brake == 0.0)
    falling = journey.speed[1:] <= journey.speed[:-1] + SPEED_TOLERANCE
    adhesion_limited = pulling & falling & (journey.limit == records.ADHESION)
    least = np.full(len(speed), np.inf)
    for part in step_ranges(pulling & falling):
        # A stretch that ends where the run does, short of the last call, ends at a stand.
        stands = part.last == len(speed) and journey.outcome == "stalled"
        least[part.first : part.last] = 0.0 if stands else journey.speed[part.last]
    return _RimEfforts(
        speed=speed,
        coefficient=coefficient,
        available=np.asarray(
            adhesion_limited_effort(
                mass_on_drivers=journey.performance.mass_on_drivers, coefficient=coefficient
            )
        ),
        used=journey.effort - friction,
        to_hold_speed=journey.total_resistance - journey.helper_effort - friction,
        pulling=pulling & (speed > MIN_SPEED),
        adhesion_limited=adhesion_limited & (speed > MIN_SPEED),
        min_speed=np.where(adhesion_limited, least, np.inf),
    )
