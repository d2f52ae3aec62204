"""Rule of arrival: a run that ends short of the last stop, why, and the remedy."""

from __future__ import annotations

from locosim.engine.performance import Performance
from locosim.journey.kernel import arrays as records
from locosim.journey.result import Journey
from locosim.journey.setup.prepare import adhesion_at, rail_condition_at
from locosim.physics.traction.adhesion import adhesion_limited_effort
from locosim.planning.finding import STOP, Explanation, Finding, VerdictScale, at_least, judge
from locosim.planning.locations import location_at
from locosim.recent import keep_recent

TRACTION_LIMITS = (records.ADHESION, records.CYLINDERS, records.STEAM)
BEST_RAIL = "dry sanded"  # no rail condition gives more adhesion

END_MESSAGES = {
    "out of water": ("the tender runs out of water", "add a water stop or a water car"),
    "out of fuel": ("the fuel runs out", "add a fuel stop"),
    "pressure too low": (
        "boiler pressure falls below the range the engine was computed for",
        "use less steam (crew.steam_allowance), or take cars off",
    ),
    "crown sheet uncovered": (
        "the water falls to where the crown sheet is bare",
        "use less steam (crew.steam_allowance), take cars off or mend the feed",
    ),
}


def stalling(journey: Journey) -> list[Finding]:
    """Finding where the run ends short of the last stop; none where the train arrives."""
    if journey.arrived:
        return []
    last = len(journey.grade) - 1
    end = float(journey.excursion.route_as_run.station(journey.excursion.stops[-1].station).chainage)
    stalled = journey.outcome == "stalled"
    because, remedy = _stall_message(journey) if stalled else END_MESSAGES[journey.outcome]
    because = because.replace("the tender", f"the {journey.excursion.locomotive.coupled_behind}")
    explanation = Explanation(
        because=because + (", {here} after the start" if last >= 0 else ""),
        remedy=remedy,
        facts={
            "grade": (float(journey.grade[last]) if last >= 0 else 0.0, "grade"),
            "here": (journey.distance, "distance"),
            "allowed": (_max_steam(journey), "steam_rate"),
            "auxiliary": (journey.performance.locomotive.auxiliaries.continuous_demand, "steam_rate"),
        },
    )
    compared = at_least(journey.distance, end - float(journey.chainage[0]), "distance")
    location = location_at(journey, journey.end_chainage)
    rule = "stall" if stalled else "end of run"
    return [judge(rule, compared, location, VerdictScale(mildest=STOP), explanation)]


def _stall_message(journey: Journey) -> tuple[str, str]:
    """Reason of a stall, and its remedy."""
    code = _limiting_code(journey)
    limit, remedy = limiting_factor(journey, code), remedy_for(journey, code, journey.end_chainage)
    if journey.speed[-1] > 0.0:
        return f"the train stalls on {{grade}}, limited by {limit}", remedy
    if code == records.STEAM:
        return (
            "the train does not start: the crew uses at most {allowed} of steam, the auxiliaries take {auxiliary} of "
            "it, and the rest does not move the train",
            remedy,
        )
    return f"the train does not start, limited by {limit}", remedy


def _limiting_code(journey: Journey) -> int:
    """Limit of the tractive effort where the train stalled; the step it did not finish is not part of the run."""
    if journey.speed[-1] > 0.0 and int(journey.limit[-1]) in TRACTION_LIMITS:
        return int(journey.limit[-1])
    by_cylinders, by_rail = starting_capacity(journey, journey.end_chainage)
    if _steam_limits_start(journey, min(by_cylinders, by_rail)):
        return records.STEAM
    return records.CYLINDERS if by_cylinders < by_rail else records.ADHESION


def _steam_limits_start(journey: Journey, capacity: float) -> bool:
    """Whether the allowed steam gives less than `capacity` [N] at creep speed, and not enough to start."""
    performance = journey.performance
    steam = max(_max_steam(journey) - performance.locomotive.auxiliaries.continuous_demand, 0.0)
    effort, by = performance.map.max_effort(
        speed=journey.excursion.assumptions.creep_speed, pressure=float(journey.pressure[-1]), steam=steam
    )
    rim_effort = float(performance.map.rim_effort(effort))
    if by != "steam" or rim_effort >= capacity:
        return False
    demand = journey.starting_demands[len(journey.stops) - 1]
    return bool(rim_effort + demand.helper_effort < demand.total)


def _max_steam(journey: Journey) -> float:
    """Steam the crew uses at most at full effort, for all purposes [kg/s]."""
    return min(journey.excursion.crew.steam_allowance, 1.0) * journey.performance.supply.sustained


def starting_capacity(journey: Journey, chainage: float) -> tuple[float, float]:
    """Rim tractive effort at rest, by the cylinders at working pressure and by the rail at a chainage [N]."""
    performance = journey.performance
    coefficient = adhesion_at(journey.excursion, chainage)
    by_rail = adhesion_limited_effort(mass_on_drivers=performance.mass_on_drivers, coefficient=coefficient)
    return _by_cylinders_at_rest(performance), float(by_rail)


@keep_recent(4)
def _by_cylinders_at_rest(performance: Performance) -> float:
    """Rim tractive effort at rest that the cylinders give at working pressure, the same at every stop [N]."""
    pressure = performance.locomotive.boiler.absolute_pressure
    by_cylinders, _ = performance.map.max_effort(speed=0.0, pressure=pressure)
    return float(performance.map.rim_effort(by_cylinders))


def limiting_factor(journey: Journey, code: int) -> str:
    """Name of a limit of the tractive effort."""
    if code == records.STEAM:
        return f"the boiler ({journey.performance.supply.binding.name})"
    return {records.ADHESION: "adhesion", records.CYLINDERS: "the cylinders"}.get(code, "line speed alone")


def remedy_for(journey: Journey, code: int, chainage: float) -> str:
    """Remedy for a train short of tractive effort, by what limits it."""
    crew = journey.excursion.crew
    advice = ["take cars off", "add a helper engine"]
    if code == records.ADHESION and rail_condition_at(journey.excursion, chainage) != BEST_RAIL:
        advice.append("sand the rail")
    if code == records.CYLINDERS and crew.max_cutoff is not None:
        advice.append("allow a longer cutoff (crew.max_cutoff)")
    if code == records.STEAM and crew.habit == "steady_steam":
        advice.append("use more steam (crew.habit, crew.steam_allowance)")
    elif code == records.STEAM and crew.steam_allowance < 1.0:
        advice.append("use more steam (crew.steam_allowance)")
    return f"{', '.join(advice[:-1])} or {advice[-1]}"
