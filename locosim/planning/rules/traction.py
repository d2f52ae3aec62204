"""Rules of traction: starting, climbing and coupler pull."""

from __future__ import annotations

from dataclasses import replace

from locosim.engine.performance import Performance
from locosim.journey.climbing import SlowestStep, StepsRun, slowest_steps
from locosim.journey.coupler_force import highest_pull
from locosim.journey.result import Journey
from locosim.journey.setup.prepare import adhesion_at, rail_condition_at
from locosim.journey.setup.train_forces import StartingDemand, starting_demand
from locosim.planning.finding import (
    CLEAR,
    TIGHT,
    Explanation,
    Finding,
    Location,
    VerdictScale,
    at_least,
    at_most,
    judge,
)
from locosim.planning.locations import location_at
from locosim.planning.rules.stall import BEST_RAIL, limiting_factor, remedy_for, starting_capacity
from locosim.recent import keep_recent


def starting(journey: Journey) -> list[Finding]:
    """Start at every stop, on its grade and rail, with the acceleration of the criteria.

    The verdict is that of the mean over a slow revolution, unless the engine stands at its worst crank angle and cannot
    move the train from there even with the slack in, picking up the cars one by one. That is no reason to stop: the
    engineer reverses and sets back, which moves the cranks (common practice, no source). The start is then tight at
    best.
    """
    stops = journey.excursion.stops[:-1]
    return [
        _start_finding(journey, number, demand)
        for number, demand in zip(range(len(stops)), journey.starting_demands, strict=True)
    ]


def _start_finding(journey: Journey, number: int, demand: StartingDemand) -> Finding:
    excursion, criteria = journey.excursion, journey.excursion.criteria
    station = excursion.stops[number].station
    chainage = excursion.route_as_run.station(station).chainage
    by_cylinders, by_rail = starting_capacity(journey, chainage)
    rail = rail_condition_at(excursion, chainage)
    rail_limited = by_rail <= by_cylinders
    coefficient = adhesion_at(excursion, chainage)
    helper_effort = min(demand.helper_effort, coefficient * demand.helper_adhesive_weight)
    available = min(by_cylinders, by_rail) + helper_effort
    needed = demand.total + demand.inertia * criteria.min_starting_acceleration
    excess = _excess_mass(journey, number, demand, needed - available) if needed > available else 0.0
    limit = f"the {rail} rail" if rail_limited else "the cylinders"
    helpers = ", plus {helpers} from the helpers" if helper_effort else ""
    worst = min(_worst_starting_effort(journey.performance), by_rail) + helper_effort
    with_slack = _demand_with_slack(journey, demand)
    moves = worst >= with_slack
    explanation = Explanation(
        because=f"rim tractive effort {{own}}, limited by {limit}{helpers}; starting resistance {{starting}}, gravity "
        f"{{gravity}}, curves {{curve}}, and {{acceleration}} of acceleration; "
        + _worst_angle_text(worst, demand.total, with_slack),
        remedy=_start_remedy(broken=available < needed, rail_limited=rail_limited, rail=rail, moves=moves),
        facts={
            "worst": (worst, "force"),
            "at_rest": (demand.total, "force"),
            "with_slack": (with_slack, "force"),
            "own": (available - helper_effort, "force"),
            "helpers": (helper_effort, "force"),
            "acceleration": (criteria.min_starting_acceleration, "acceleration"),
            "excess": (excess, "mass"),
            **{part: (getattr(demand, part), "force") for part in ("starting", "gravity", "curve")},
        },
    )
    compared = at_least(available, needed, "force")
    scale = VerdictScale(criteria.tight_margin, mildest=CLEAR if moves else TIGHT)
    return judge("start", compared, Location(station, chainage), scale, explanation)


@keep_recent(4)
def _worst_starting_effort(performance: Performance) -> float:
    """Rim tractive effort of the train engine at rest at its worst crank angle, at working pressure [N]."""
    pressure = performance.locomotive.boiler.absolute_pressure
    _, worst, _ = performance.map.starting_efforts(pressure)
    return max(float(performance.map.rim_effort(worst)), 0.0)


def _demand_with_slack(journey: Journey, demand: StartingDemand) -> float:
    """Force that starts the train with the slack in: breakaway of the engines and one car, weight of all cars [N].

    The cars break away one by one as the slack runs out (common practice, no source), shared out by mass. Gravity and
    curves count for the whole train, whose last car must not roll back.
    """
    train = journey.excursion.train
    heaviest = max((vehicle.mass for vehicle in train.vehicles), default=0.0)
    together = demand.mass - train.mass + heaviest
    return demand.starting * together / demand.mass + demand.gravity + demand.curve


def _worst_angle_text(worst: float, at_rest: float, with_slack: float) -> str:
    """What the engine does at rest at its worst crank angle."""
    if worst >= at_rest:
        return "at rest at the worst crank angle it is {worst}, enough to move the train"
    if worst >= with_slack:
        return (
            "at rest at the worst crank angle it is {worst}, less than the {at_rest} that moves all cars at once, but "
            "enough with the slack in ({with_slack})"
        )
    return (
        "at rest at the worst crank angle it is {worst}, less than the {with_slack} that moves the train even with the "
        "slack in: the engineer may have to reverse and set back"
    )


def _excess_mass(journey: Journey, number: int, demand: StartingDemand, shortage: float) -> float:
    """Mass of cars too much for the start, taken evenly from the whole train; all of it where none starts [kg].

    What the engines need for themselves, and what helpers give, does not change with the cars.
    """
    excursion, train = journey.excursion, journey.excursion.train
    helpers = [helper for helper in journey.helpers if helper.first_stop <= number < helper.last_stop]
    light = replace(excursion, train=replace(train, vehicles=()))
    chainage = excursion.route_as_run.station(excursion.stops[number].station).chainage
    alone = starting_demand(light, helpers, chainage)
    acceleration = excursion.criteria.min_starting_acceleration
    by_cars = demand.total - alone.total + (demand.inertia - alone.inertia) * acceleration
    return train.mass * min(shortage / by_cars, 1.0) if by_cars > 0.0 else train.mass


def _start_remedy(*, broken: bool, rail_limited: bool, rail: str, moves: bool) -> str:
    """Remedy for a start that lacks tractive effort, or is near to it."""
    if broken:
        sand = ", sand the rail" if rail_limited and rail != BEST_RAIL else ""
        return f"take {{excess}} off the train, move the stop{sand} or add a helper engine"
    set_back = "" if moves else "set back if the engine does not move, and "
    return f"{'keep sand dry and ' if rail_limited else ''}{set_back}start with the slack in"


def climbing(journey: Journey) -> list[Finding]:
    """Lowest speed on every climb, away from where a stop or a speed limit keeps the speed low."""
    run = StepsRun(journey.chainage, 0.5 * journey.speed**2, journey.grade, journey.limit)
    return [_climb_finding(journey, slowest) for slowest in slowest_steps(run, journey.excursion.assumptions)]


def _climb_finding(journey: Journey, slowest: SlowestStep) -> Finding:
    criteria = journey.excursion.criteria
    worst, speed = slowest.step, slowest.speed
    chainage = float(journey.chainage[worst + 1])
    falls = float(journey.speed[worst + 1]) <= speed
    code = int(journey.limit[worst])
    explanation = Explanation(
        because=f"speed {'falls to' if falls else 'creeps at'} {{speed}} on a climb of {{length}}, on {{grade}} under "
        f"the train, limited by {limiting_factor(journey, code)}",
        remedy=remedy_for(journey, code, chainage),
        facts={
            "speed": (speed, "speed"),
            "length": (float(journey.chainage[slowest.last] - journey.chainage[slowest.first]), "distance"),
            "grade": (float(journey.grade[worst]), "grade"),
        },
    )
    compared = at_least(speed, journey.excursion.min_climbing_speed, "speed")
    scale = VerdictScale(criteria.tight_margin)
    return judge("climb", compared, location_at(journey, chainage), scale, explanation)


def couplers(journey: Journey) -> list[Finding]:
    """Highest pull in a coupler of the train against the strength of the weakest."""
    if len(journey.brake) == 0:
        return []
    worst, pull = highest_pull(journey)
    explanation = Explanation(
        because="pull in the most heavily loaded coupler, at {speed}; slack action adds to it and is not computed",
        # Less cutoff or steam hardly changes it: the start or the weight on the grade sets it.
        remedy="take cars off, or put a helper engine at the rear",
        facts={"speed": (float(journey.speed[worst]), "speed")},
    )
    compared = at_most(pull, journey.excursion.train.max_coupler_pull, "force")
    location = location_at(journey, float(journey.chainage[worst]))
    scale = VerdictScale(journey.excursion.criteria.tight_margin)
    return [judge("coupler", compared, location, scale, explanation)]
