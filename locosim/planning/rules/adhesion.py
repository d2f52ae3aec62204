"""Rule of adhesion: what the rail can carry against the least pull that keeps the times and the climbing speed."""

from __future__ import annotations

import math

from locosim.constants import GRAVITY
from locosim.journey.needs import Need
from locosim.journey.result import Journey
from locosim.journey.setup.prepare import adhesion_at, rail_condition_at
from locosim.physics.traction.adhesion import adhesion_limited_effort
from locosim.planning.finding import Comparison, Explanation, Finding, VerdictScale, at_least, judge
from locosim.planning.locations import location_at
from locosim.planning.rules.stall import BEST_RAIL

NEED_REASONS = {
    "time": "with less, the train is late here",
    "climb": "with less, it climbs too slowly here",
    "stall": "with less, it stalls here",
}


def adhesion(journey: Journey, need: Need) -> list[Finding]:
    """Adhesion of the rail against the least adhesion with which the run can be made.

    Where no adhesion suffices, because the cylinders limit the train, it is a note: the rules of time, climb and stall
    judge the train then.

    Args:
        journey: A run of the excursion.
        need: Its adhesion need.
    """
    performance, criteria = journey.performance, journey.excursion.criteria
    rail = rail_condition_at(journey.excursion, need.chainage)
    coefficient = adhesion_at(journey.excursion, need.chainage)
    available = float(
        adhesion_limited_effort(mass_on_drivers=performance.mass_on_drivers, coefficient=coefficient)
    )
    location = location_at(journey, need.chainage)
    scale = VerdictScale(criteria.tight_margin, note=need.share is None)
    if need.share is None:
        compared = Comparison(math.inf, available, "force", -math.inf)
        explanation = Explanation(
            because="a better rail would not help: the cylinders or the speed limits set the pace, or the train "
            "leaves too late; see stall, climb and time",
            remedy="see these findings",
            value_text="not what limits the train",
        )
        return [judge("adhesion", compared, location, scale, explanation)]
    explanation = Explanation(
        because=f"the run needs adhesion of {{share}} of the weight on drivers, as of the rail at rest: "
        f"{NEED_REASONS[need.set_by]}; adhesion of the {rail} rail is taken as {{coefficient}}",
        remedy=f"take cars off{'' if rail == BEST_RAIL else ', sand the rail'}, or do not run on such a rail",
        facts={
            "share": (need.share * available / (performance.mass_on_drivers * GRAVITY), "ratio"),
            "coefficient": (coefficient, "ratio"),
        },
    )
    compared = at_least(available, need.share * available, "force")
    return [judge("adhesion", compared, location, scale, explanation)]
