"""The end of a run short of the last call: where, what held her, and what would have let her on."""

from __future__ import annotations

from locosim.journey.kernel import arrays as records
from locosim.journey.run import Journey
from locosim.journey.setup.prepare import rail_at
from locosim.physics.traction.adhesion import CONDITIONS, adhesive_pull
from locosim.planning.finding import STOP, Finding, at_least
from locosim.planning.locations import place_name

PULLING = (records.ADHESION, records.CYLINDERS, records.STEAM)
FIRST_MOVE = 1.0  # speed at which the steam allowed must carry a start [m/s]; ours
SANDED = "dry sanded"  # no rail holds more

ENDED = {
    "tender empty": ("the tender runs dry", "add a water stop or a water car"),
    "fuel gone": ("the fuel runs out", "add a fuel stop"),
    "pressure lost": (
        "the pressure falls out of the range the engine was computed for",
        "let the crew draw less steam (crew.steam_allowance), or take cars off",
    ),
    "crown sheet bare": (
        "the water falls to where the crown sheet is bare",
        "let the crew draw less steam (crew.steam_allowance), take cars off or mend the feed",
    ),
}


def stalling(journey: Journey) -> list[Finding]:
    """Does the run end where it should?"""
    if journey.arrived:
        return []
    last = len(journey.grade) - 1
    route = float(journey.excursion.line.station(journey.excursion.calls[-1].station).chainage)
    asked = route - float(journey.chainage[0])
    stalled = journey.outcome == "stalled"
    because, remedy = _stalled(journey) if stalled else ENDED[journey.outcome]
    return [
        Finding(
            rule="stall" if stalled else "end of run",
            verdict=STOP,
            place=place_name(journey, journey.ended_at),
            chainage=journey.ended_at,
            value=journey.distance,
            limit=asked,
            kind="distance",
            margin=at_least(journey.distance, asked),
            because=because + (", {here} after the start" if last >= 0 else ""),
            remedy=remedy,
            facts={
                "grade": (float(journey.grade[last]) if last >= 0 else 0.0, "gradient"),
                "here": (journey.distance, "distance"),
                "drawn": (_allowed(journey), "steam_rate"),
                "auxiliary": (journey.performance.locomotive.auxiliaries.steady, "steam_rate"),
            },
        )
    ]


def _stalled(journey: Journey) -> tuple[str, str]:
    """Why she stands, and what would mend it."""
    code = _held_by(journey)
    remedy = more_pull(journey, code, journey.ended_at)
    if journey.speed[-1] > 0.0:
        return f"she comes to a stand at {{grade}} under the train, held by {holder(journey, code)}", remedy
    if code == records.STEAM:
        return (
            "she does not start: the crew draws at most {drawn} of steam, of which the auxiliaries take "
            "{auxiliary}, and what is left does not move the train",
            remedy,
        )
    return f"she does not start, held by {holder(journey, code)}", remedy


def _held_by(journey: Journey) -> int:
    """What held the pull where she stalled; the step she did not get through is not among those of the run."""
    if journey.speed[-1] > 0.0 and int(journey.limit[-1]) in PULLING:
        return int(journey.limit[-1])
    performance = journey.performance
    left = max(_allowed(journey) - performance.locomotive.auxiliaries.steady, 0.0)
    pressure = float(journey.pressure[-1])
    given, by = performance.map.greatest_pull(speed=FIRST_MOVE, pressure=pressure, steam=left)
    by_cylinders, by_rail = at_rest(journey, journey.ended_at)
    if by == "steam" and given - performance.map.friction < min(by_cylinders, by_rail):
        demand = journey.demands[len(journey.stops) - 1]
        if given - performance.map.friction + demand.assist < demand.total:
            return records.STEAM
    return records.CYLINDERS if by_cylinders < by_rail else records.ADHESION


def _allowed(journey: Journey) -> float:
    """Steam the crew draws at most, for all purposes [kg/s]."""
    return journey.excursion.crew.steam_allowance * journey.performance.supply.sustained


def at_rest(journey: Journey, chainage: float) -> tuple[float, float]:
    """Pull at the rim at rest, by the cylinders at working pressure and by the rail there [N]."""
    performance = journey.performance
    pressure = performance.locomotive.boiler.absolute_pressure
    by_cylinders, _ = performance.map.greatest_pull(speed=0.0, pressure=pressure)
    coefficient = CONDITIONS[rail_at(journey.excursion, chainage)].coefficient
    by_rail = adhesive_pull(adhesive_mass=performance.adhesive_mass, coefficient=coefficient)
    return by_cylinders - performance.map.friction, float(by_rail)


def holder(journey: Journey, code: int) -> str:
    """What held the pull, in words."""
    if code == records.STEAM:
        return f"the boiler ({journey.performance.supply.binding.name})"
    return {records.ADHESION: "adhesion", records.CYLINDERS: "the cylinders"}.get(
        code, "nothing but the line speed"
    )


def more_pull(journey: Journey, code: int, chainage: float) -> str:
    """What gives a train that is held more pull, or asks for less, by what holds it."""
    crew = journey.excursion.crew
    advice = ["take cars off", "ask for an assisting engine"]
    if code == records.ADHESION and rail_at(journey.excursion, chainage) != SANDED:
        advice.append("sand the rail")
    if code == records.CYLINDERS and crew.cutoff_greatest is not None:
        advice.append("let the crew use a longer cutoff (crew.cutoff_greatest)")
    if code == records.STEAM and crew.habit == "steady_steam":
        advice.append("let the crew draw more steam (crew.habit, crew.steam_allowance)")
    elif code == records.STEAM and crew.steam_allowance < 1.0:
        advice.append("let the crew draw more steam (crew.steam_allowance)")
    return f"{', '.join(advice[:-1])} or {advice[-1]}"
