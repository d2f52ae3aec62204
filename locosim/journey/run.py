"""One run of an excursion: run, booked, and put into words of the line."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from locosim.engine.performance import Performance
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel import integrate as kernel
from locosim.journey.kernel.arrays import Course
from locosim.journey.ledgers import Ledger, close_ledgers
from locosim.journey.setup.helper_engines import Helper
from locosim.journey.setup.prepare import STEP, Prepared, prepare
from locosim.journey.setup.train_forces import Demand
from locosim.journey.setup.water_space import boiler_space, cover_along
from locosim.model import Excursion
from locosim.physics.boiler.water_level import CHIMNEY_LEADING, CHIMNEY_TRAILING, surface_tilt
from locosim.physics.types import Floats

OUTCOMES = {
    records.ARRIVED: "arrived",
    records.STALLED: "stalled",
    records.PRESSURE_LOST: "pressure lost",
    records.WATER_GONE: "tender empty",
    records.FUEL_GONE: "fuel gone",
    records.CROWN_BARE: "crown sheet bare",
}
LIMITS = {
    records.FREE: "line speed",
    records.ADHESION: "adhesion",
    records.CYLINDERS: "cylinders",
    records.STEAM: "steam",
    records.COASTING: "coasting",
    records.BRAKING: "braking",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRecord:
    """A stop as it went.

    Attributes:
        station: Name of the station.
        chainage: In the direction of travel [m].
        arrive: Clock time of arrival [s].
        leave: Clock time of departure [s].
        water_arriving: Water on the tender on arrival [kg].
        fuel_arriving: Fuel on the tender on arrival [kg].
        water_leaving: Water on the tender on departure [kg].
        fuel_leaving: Fuel on the tender on departure [kg].
    """

    station: str
    chainage: float
    arrive: float
    leave: float
    water_arriving: float
    fuel_arriving: float
    water_leaving: float
    fuel_leaving: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Journey:
    """A run, node by node: n steps between n + 1 nodes, cut off where the train came to a stand.

    Attributes:
        excursion: What was run.
        performance: With what the engine could do.
        outcome: `arrived`, or what ended the run.
        ended_at: Chainage where it ended [m].
        chainage: In the direction of travel, shape (n + 1,) [m].
        grade: Mean sine of the slope under the whole train, shape (n,) [1].
        engine_grade: The same under the engine, shape (n,) [1].
        speed: Shape (n + 1,) [m/s].
        top_speed: What limits and stops allow, shape (n + 1,) [m/s].
        time: Clock time of arrival at each node, shape (n + 1,) [s].
        leaving: Clock time of leaving each node, shape (n + 1,) [s].
        pressure: Absolute boiler pressure, shape (n + 1,) [Pa].
        boiler_water: Shape (n + 1,) [kg].
        firing: Shape (n + 1,) [kg/s].
        tender_water: On leaving each node, shape (n + 1,) [kg].
        tender_fuel: On leaving each node, shape (n + 1,) [kg].
        pull: Indicated pull at the rim, shape (n,) [N].
        assist_pull: Pull of assisting engines, shape (n,) [N].
        against: Machine friction, running resistance, curves and gravity, shape (n,) [N].
        brake: Brake force of the train, shape (n,) [N].
        cutoff: 0 where the regulator is shut, shape (n,) [1].
        steam: To the cylinders, shape (n,) [kg/s].
        feed: Shape (n,) [kg/s].
        limit: What held the pull, a code of `LIMITS`, shape (n,).
        adhesion: Coefficient at rest on the rail there, shape (n,) [1].
        crown_cover: Least water over the crown sheet, shape (n,) [m]; empty where the boiler has no geometry.
        glass: Water in the glass above its lowest reading, shape (n,) [m]; empty likewise.
        demands: What starting takes at each call but the last.
        helpers: Assisting engines.
        helping: Which of them is on in each step, shape (helpers, n).
        stops: Stops reached.
        ledgers: Books of the run, all closed.
        live_boiler: Whether pressure and water were carried along.
    """

    excursion: Excursion
    performance: Performance
    outcome: str
    ended_at: float
    chainage: Floats
    grade: Floats
    engine_grade: Floats
    speed: Floats
    top_speed: Floats
    time: Floats
    leaving: Floats
    pressure: Floats
    boiler_water: Floats
    firing: Floats
    tender_water: Floats
    tender_fuel: Floats
    pull: Floats
    assist_pull: Floats
    against: Floats
    brake: Floats
    cutoff: Floats
    steam: Floats
    feed: Floats
    limit: records.Codes
    adhesion: Floats
    crown_cover: Floats
    glass: Floats
    demands: tuple[Demand, ...]
    helpers: tuple[Helper, ...]
    helping: npt.NDArray[np.bool_]
    stops: tuple[StopRecord, ...]
    ledgers: tuple[Ledger, ...]
    live_boiler: bool

    @property
    def arrived(self) -> bool:
        """Whether the train reached the last call."""
        return self.outcome == "arrived"

    @property
    def duration(self) -> float:
        """Time from the first departure to the end of the run [s]."""
        return float(self.time[-1] - self.stops[0].leave) if self.stops else 0.0

    @property
    def distance(self) -> float:
        """Distance run [m]."""
        return float(self.ended_at - self.chainage[0])

    def _booked(self, name: str, item: str) -> float:
        book = next(b for b in self.ledgers if b.name.startswith(name))
        return dict(book.entries)[item]

    @property
    def fuel_burnt(self) -> float:
        """Fuel burnt, standing times among it [kg]."""
        return -self._booked("fuel", "burnt")

    @property
    def steam_used(self) -> float:
        """Steam for all purposes [kg]."""
        items = ("steam to the cylinders", "steam to auxiliaries", "safety valves")
        return -sum(self._booked("water", item) for item in items)

    @property
    def water_used(self) -> float:
        """Water the tender gave [kg]: for the steam, less exhaust steam fed back, and for what the boiler gained."""
        into_boiler = self._booked("water of the boiler", "feed") if self.live_boiler else self.steam_used
        return into_boiler - self._booked("water", "exhaust steam fed back, less the steam of pumps")


def run_prepared(prepared: Prepared) -> Course:
    """Run the kernel on prepared arrays."""
    return kernel.run(prepared.line, prepared.load, prepared.engine, prepared.boiler, prepared.start)


def run_journey(
    excursion: Excursion, performance: Performance, *, step: float = STEP, live_boiler: bool = False
) -> Journey:
    """Run an excursion once and close its books.

    Args:
        excursion: What is run.
        performance: What its engine can do.
        step: Greatest distance between nodes [m].
        live_boiler: Carry pressure and water along.

    Raises:
        OutOfRange: The excursion asks for something its route has not.
        ArithmeticError: A book does not close; a fault of locosim.
    """
    prepared = prepare(excursion, performance, step=step, live_boiler=live_boiler)
    if live_boiler:
        prepared = expecting(prepared)
    return journey_of(excursion, performance, prepared, run_prepared(prepared))


def expecting(prepared: Prepared) -> Prepared:
    """Let the fireman know the road: run once with steady pressure, and fire for the steam that comes next.

    He fires for the mean over the lag of his fire from now, or from half a lag ahead, whichever is more:
    common practice, no source.
    """
    steady = replace(prepared, boiler=prepared.boiler._replace(live=False))
    course = run_prepared(steady)
    done = course.reached
    arrive, leave = course.nodes[records.ARRIVE], course.nodes[records.LEAVE]
    drawn = course.steps[records.DRAWN]
    used = np.concatenate([[0.0], np.cumsum(drawn * (arrive[1:] - leave[:-1]))])
    lag = prepared.boiler.fire_lag
    now = leave[:-1]
    # Both ends of each stand, so that a stand draws nothing.
    clock = np.column_stack((arrive, leave))[: done + 1].ravel()
    total = np.repeat(used[: done + 1], 2)
    soon = np.interp(now + lag, clock, total) - np.interp(now, clock, total)
    later = np.interp(now + 1.5 * lag, clock, total) - np.interp(now + 0.5 * lag, clock, total)
    expected = np.maximum(soon, later) / lag
    # Where the steady run did not come to, the fire is kept at what the boiler sustains.
    expected[done:] = prepared.boiler.sustained_steam
    firing = expected[0] / prepared.boiler.sustained_steam * prepared.boiler.firing_greatest
    return replace(
        prepared,
        line=prepared.line._replace(expected=expected),
        start=prepared.start._replace(firing=max(firing, prepared.boiler.firing_least)),
    )


def journey_of(excursion: Excursion, performance: Performance, prepared: Prepared, course: Course) -> Journey:
    """Put a course into words of the line, and close its books."""
    n = course.reached
    node = course.nodes[:, : n + 1]
    step = course.steps[:, :n]
    chainage = prepared.chainage
    ended = course.stall_distance + chainage[0] if course.status != records.ARRIVED else chainage[-1]
    stops = tuple(
        StopRecord(
            station=call.station,
            chainage=float(chainage[i]),
            arrive=float(node[records.ARRIVE, i]),
            leave=float(node[records.LEAVE, i]),
            water_arriving=float(node[records.WATER_IN, i]),
            fuel_arriving=float(node[records.FUEL_IN, i]),
            water_leaving=float(node[records.WATER_OUT, i]),
            fuel_leaving=float(node[records.FUEL_OUT, i]),
        )
        for call, i in zip(excursion.calls, prepared.calls, strict=True)
        if i <= n
    )
    cover, glass = _cover(prepared, performance, node, excursion.engine_facing)
    return Journey(
        excursion=excursion,
        performance=performance,
        outcome=OUTCOMES[course.status],
        ended_at=float(ended),
        chainage=chainage[: n + 1],
        grade=prepared.grade[:n],
        engine_grade=prepared.engine_grade[:n],
        speed=np.sqrt(2.0 * node[records.ENERGY]),
        top_speed=np.sqrt(2.0 * prepared.line.envelope[: n + 1]),
        time=node[records.ARRIVE],
        leaving=node[records.LEAVE],
        pressure=node[records.PRESSURE],
        boiler_water=node[records.BOILER_WATER],
        firing=node[records.FIRING],
        tender_water=node[records.WATER_OUT],
        tender_fuel=node[records.FUEL_OUT],
        pull=step[records.PULL],
        assist_pull=step[records.ASSIST],
        against=step[records.AGAINST],
        brake=step[records.BRAKE],
        cutoff=step[records.CUTOFF],
        steam=step[records.DRAWN],
        feed=step[records.FEED],
        limit=course.limit[:n],
        adhesion=prepared.line.adhesion[:n],
        crown_cover=cover,
        glass=glass,
        demands=prepared.demands,
        helpers=prepared.helpers,
        helping=prepared.helping[:, :n],
        stops=stops,
        ledgers=close_ledgers(course, prepared.start, live=prepared.boiler.live),
        live_boiler=prepared.boiler.live,
    )


def _cover(prepared: Prepared, performance: Performance, node: Floats, facing: str) -> tuple[Floats, Floats]:
    """Cover of the crown sheet and glass in each step, with the tilt of grade and acceleration."""
    space = boiler_space(performance.locomotive.boiler)
    n = node.shape[1] - 1
    if space is None or n == 0:
        return np.zeros(0), np.zeros(0)
    run = np.diff(prepared.chainage[: n + 1])
    acceleration = np.diff(node[records.ENERGY]) / run
    leading = CHIMNEY_LEADING if facing == "chimney_first" else CHIMNEY_TRAILING
    tilt = surface_tilt(gradient=prepared.engine_grade[:n], acceleration=acceleration, leading=leading)
    water = 0.5 * (node[records.BOILER_WATER, 1:] + node[records.BOILER_WATER, :-1])
    return cover_along(space, water, tilt)
