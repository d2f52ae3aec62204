"""The end of a run short of the last call: where, what held her, and what would have let her on."""

from __future__ import annotations

from locosim.journey.kernel import arrays as records
from locosim.journey.run import Journey
from locosim.journey.setup.prepare import rail_condition_at
from locosim.physics.traction.adhesion import adhesion_limited_effort
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.planning.finding import STOP, Finding, margin_above
from locosim.planning.locations import location_name

TRACTION_LIMITS = (records.ADHESION, records.CYLINDERS, records.STEAM)
CREEP_SPEED = 1.0  # speed at which the steam allowed must carry a start [m/s]; ours
BEST_RAIL = "dry sanded"  # no rail holds more

END_MESSAGES = {
    "out of water": ("the tender runs dry", "add a water stop or a water car"),
    "out of fuel": ("the fuel runs out", "add a fuel stop"),
    "pressure too low": (
        "the pressure falls out of the range the engine was computed for",
        "let the crew draw less steam (crew.steam_allowance), or take cars off",
    ),
    "crown sheet uncovered": (
        "the water falls to where the crown sheet is bare",
        "let the crew draw less steam (crew.steam_allowance), take cars off or mend the feed",
    ),
}


def stalling(journey: Journey) -> list[Finding]:
    """Does the run end where it should?"""
    if journey.arrived:
        return []
    last = len(journey.grade) - 1
    route = float(journey.excursion.route_as_run.station(journey.excursion.stops[-1].station).chainage)
    planned_distance = route - float(journey.chainage[0])
    stalled = journey.outcome == "stalled"
    because, remedy = _stall_message(journey) if stalled else END_MESSAGES[journey.outcome]
    return [
        Finding(
            rule="stall" if stalled else "end of run",
            verdict=STOP,
            place=location_name(journey, journey.end_chainage),
            chainage=journey.end_chainage,
            value=journey.distance,
            limit=planned_distance,
            kind="distance",
            margin=margin_above(journey.distance, planned_distance),
            because=because + (", {here} after the start" if last >= 0 else ""),
            remedy=remedy,
            facts={
                "grade": (float(journey.grade[last]) if last >= 0 else 0.0, "grade"),
                "here": (journey.distance, "distance"),
                "drawn": (_max_steam_drawn(journey), "steam_rate"),
                "auxiliary": (journey.performance.locomotive.auxiliaries.continuous_demand, "steam_rate"),
            },
        )
    ]


def _stall_message(journey: Journey) -> tuple[str, str]:
    """Why she stands, and what would mend it."""
    code = _limiting_code(journey)
    remedy = remedy_for(journey, code, journey.end_chainage)
    if journey.speed[-1] > 0.0:
        return (
            f"she comes to a stand at {{grade}} under the train, held by {limiting_factor(journey, code)}",
            remedy,
        )
    if code == records.STEAM:
        return (
            "she does not start: the crew draws at most {drawn} of steam, of which the auxiliaries take "
            "{auxiliary}, and what is left does not move the train",
            remedy,
        )
    return f"she does not start, held by {limiting_factor(journey, code)}", remedy


def _limiting_code(journey: Journey) -> int:
    """What held the pull where she stalled; the step she did not get through is not among those of the run."""
    if journey.speed[-1] > 0.0 and int(journey.limit[-1]) in TRACTION_LIMITS:
        return int(journey.limit[-1])
    performance = journey.performance
    left = max(_max_steam_drawn(journey) - performance.locomotive.auxiliaries.continuous_demand, 0.0)
    pressure = float(journey.pressure[-1])
    effort, by = performance.map.max_effort(speed=CREEP_SPEED, pressure=pressure, steam=left)
    by_cylinders, by_rail = starting_capacity(journey, journey.end_chainage)
    if by == "steam" and effort - performance.map.friction < min(by_cylinders, by_rail):
        demand = journey.starting_demands[len(journey.stops) - 1]
        if effort - performance.map.friction + demand.helper_effort < demand.total:
            return records.STEAM
    return records.CYLINDERS if by_cylinders < by_rail else records.ADHESION


def _max_steam_drawn(journey: Journey) -> float:
    """Steam the crew draws at most, for all purposes [kg/s]."""
    return journey.excursion.crew.steam_allowance * journey.performance.supply.sustained


def starting_capacity(journey: Journey, chainage: float) -> tuple[float, float]:
    """Pull at the rim at rest, by the cylinders at working pressure and by the rail there [N]."""
    performance = journey.performance
    pressure = performance.locomotive.boiler.absolute_pressure
    by_cylinders, _ = performance.map.max_effort(speed=0.0, pressure=pressure)
    coefficient = rail_adhesion_coefficient(condition=rail_condition_at(journey.excursion, chainage))
    by_rail = adhesion_limited_effort(mass_on_drivers=performance.mass_on_drivers, coefficient=coefficient)
    return by_cylinders - performance.map.friction, float(by_rail)


def limiting_factor(journey: Journey, code: int) -> str:
    """What held the pull, in words."""
    if code == records.STEAM:
        return f"the boiler ({journey.performance.supply.binding.name})"
    return {records.ADHESION: "adhesion", records.CYLINDERS: "the cylinders"}.get(
        code, "nothing but the line speed"
    )


def remedy_for(journey: Journey, code: int, chainage: float) -> str:
    """What gives a train that is held more pull, or asks for less, by what holds it."""
    crew = journey.excursion.crew
    advice = ["take cars off", "ask for an assisting engine"]
    if code == records.ADHESION and rail_condition_at(journey.excursion, chainage) != BEST_RAIL:
        advice.append("sand the rail")
    if code == records.CYLINDERS and crew.max_cutoff is not None:
        advice.append("let the crew use a longer cutoff (crew.max_cutoff)")
    if code == records.STEAM and crew.habit == "steady_steam":
        advice.append("let the crew draw more steam (crew.habit, crew.steam_allowance)")
    elif code == records.STEAM and crew.steam_allowance < 1.0:
        advice.append("let the crew draw more steam (crew.steam_allowance)")
    return f"{', '.join(advice[:-1])} or {advice[-1]}"
