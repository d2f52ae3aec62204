"""The rule of adhesion: what the rail holds against the pull she uses, or the pull she would need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY
from locosim.journey.kernel import arrays as records
from locosim.journey.run import Journey
from locosim.journey.setup.prepare import rail_at
from locosim.physics.traction.adhesion import adhesion_coefficient, adhesive_pull
from locosim.physics.types import Floats
from locosim.planning.finding import Finding, at_least, verdict_of
from locosim.planning.locations import place_name, stretches
from locosim.planning.rules.stall import SANDED

MOVING = 0.5  # slower, the rule `start` judges [m/s]
SAME_SPEED = 1e-9  # a gain of speed in a step that is none [m/s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pulls:
    """Pulls at the rim in each step, all of shape (n,).

    Attributes:
        speed: At the middle of the step [m/s].
        coefficient: Of adhesion at that speed [1].
        rail: What the rail holds [N].
        used: What she gives [N].
        hold: What would hold the speed: all resistance, less what helpers give and her machine friction [N].
        pulling: Whether the regulator is open, and the brake off.
        held_back: Whether the rail alone keeps her from holding the speed.
        least: Lowest speed she falls to in the stretch in which she is held back [m/s]; infinite elsewhere.
    """

    speed: Floats
    coefficient: Floats
    rail: Floats
    used: Floats
    hold: Floats
    pulling: npt.NDArray[np.bool_]
    held_back: npt.NDArray[np.bool_]
    least: Floats


def adhesion(journey: Journey) -> list[Finding]:
    """Is there rail for the pull, where it is scarcest?

    A step asks for the pull she uses, or for that of holding the speed where it is less: wheels that slip while
    she gains speed are the driver's to catch. Where the rail holds her back and her speed falls, she uses all of
    it, which is tight; where her momentum does not carry her on faster than the least climbing speed, the step
    asks for the pull of holding the speed, which is more than there is.
    """
    pulls = _pulls(journey)
    criteria = journey.excursion.criteria
    # The run never pulls more than the rail holds; the middle of a step is known to a rounding only.
    needed = np.minimum(np.minimum(pulls.used, pulls.hold), pulls.rail)
    stuck = pulls.held_back & (pulls.least < criteria.climbing_speed_least)
    needed = np.where(stuck, pulls.hold, needed)
    relevant = pulls.pulling & (needed > 0.0)
    if not relevant.any():
        return []
    room = np.where(relevant, pulls.rail / np.maximum(needed, 1.0), np.inf)
    worst = int(np.lexsort((-pulls.hold / pulls.rail, room))[0])
    margin = at_least(float(pulls.rail[worst]), float(needed[worst]))
    weight = journey.performance.adhesive_mass * GRAVITY
    chainage = float(journey.chainage[worst])
    rail = rail_at(journey.excursion, chainage)
    return [
        Finding(
            rule="adhesion",
            verdict=verdict_of(margin, criteria.margin_tight),
            place=place_name(journey, chainage),
            chainage=chainage,
            value=float(pulls.rail[worst]),
            limit=float(needed[worst]),
            kind="force",
            margin=margin,
            because=_because(pulls, worst, stuck=bool(stuck[worst]))
            + f"; the {rail} rail at {{speed}} is taken to hold {{coefficient}}",
            remedy=f"take cars off{'' if rail == SANDED else ', sand the rail'}, or do not run on such a rail"
            if margin < criteria.margin_tight
            else "",
            facts={
                "share": (float(needed[worst]) / weight, "ratio"),
                "hold": (float(pulls.hold[worst]) / weight, "ratio"),
                "least": (float(pulls.least[worst]), "speed"),
                "coefficient": (float(pulls.coefficient[worst]), "ratio"),
                "speed": (float(pulls.speed[worst]), "speed"),
            },
        )
    ]


def _because(pulls: _Pulls, step: int, *, stuck: bool) -> str:
    if stuck and pulls.least[step] == 0.0:
        return "holding speed takes {hold} of the weight on drivers, and her momentum does not carry her over"
    if stuck:
        return "holding speed takes {hold} of the weight on drivers, and she falls to {least}"
    if pulls.held_back[step]:
        return (
            "she uses all the rail holds, where holding speed takes {hold} of the weight on drivers; her momentum "
            "carries her on at {least} and more"
        )
    return "she pulls with {share} of the weight on drivers"


def _pulls(journey: Journey) -> _Pulls:
    friction = journey.performance.map.friction
    speed = np.sqrt(0.5 * (journey.speed[:-1] ** 2 + journey.speed[1:] ** 2))
    coefficient = np.asarray(adhesion_coefficient(coefficient_at_rest=journey.adhesion, speed=speed))
    pulling = (journey.pull > 0.0) & (journey.brake == 0.0)
    falling = journey.speed[1:] <= journey.speed[:-1] + SAME_SPEED
    held_back = pulling & falling & (journey.limit == records.ADHESION)
    least = np.full(len(speed), np.inf)
    for part in stretches(pulling & falling):
        # A stretch that ends where the run does, short of the last call, ends at a stand.
        stands = part.last == len(speed) and journey.outcome == "stalled"
        least[part.first : part.last] = 0.0 if stands else journey.speed[part.last]
    return _Pulls(
        speed=speed,
        coefficient=coefficient,
        rail=np.asarray(
            adhesive_pull(adhesive_mass=journey.performance.adhesive_mass, coefficient=coefficient)
        ),
        used=journey.pull - friction,
        hold=journey.against - journey.assist_pull - friction,
        pulling=pulling & (speed > MOVING),
        held_back=held_back & (speed > MOVING),
        least=np.where(held_back, least, np.inf),
    )
