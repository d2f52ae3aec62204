"""Assisting engines: what they weigh, what they pull, and where they are on the train.

An assisting engine is taken to give its sustained pull wherever the train engine gives its own, and to see to
its own water and coal. Where several help at once their pulls and their adhesion are added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY
from locosim.engine.own_resistance import engine_resistance, full_contents
from locosim.engine.performance import performance_of
from locosim.journey.kernel.arrays import Codes
from locosim.journey.setup.weather import air_density_ratio, plain_start
from locosim.model import Assistance, Diesel, Excursion, Locomotive
from locosim.physics.resistance.grade_and_curve import BROKEN_AWAY
from locosim.physics.resistance.laws import LAWS
from locosim.physics.types import Floats

SPEED_STEP = 0.5  # of the table of pull over speed [m/s]
SPEEDS = 100
DIESEL_ROTATING = 0.1  # equivalent mass of its motors and wheels over its mass; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Helper:
    """An assisting engine as the run sees it.

    Attributes:
        name: Its name.
        place: `front` or `rear`.
        first: Index of the call where it comes on.
        last: Index of the call where it comes off.
        mass: With full tender [kg].
        rotating: Equivalent mass of its turning wheels [kg].
        length: [m]
        pull: Sustained pull at its rim over the even speeds [N].
        adhesive_weight: [N]
        resistance: Its own resistance as a + b v + c v², without its machine friction [N].
        friction: Its machine friction, which it overcomes before the rail [N].
        starting: Its resistance at rest, friction not among it [N].
        broken_away: What that has fallen to when it has broken away [N].
        speed_greatest: What it is passed for [m/s].
    """

    name: str
    place: str
    first: int
    last: int
    mass: float
    rotating: float
    length: float
    pull: Floats
    adhesive_weight: float
    resistance: tuple[float, float, float]
    friction: float
    starting: float
    broken_away: float
    speed_greatest: float | None

    @property
    def at_rest(self) -> float:
        """All that holds it at rest on the level [N]."""
        return self.starting + self.friction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assisted:
    """All assistance along a run, step by step.

    Attributes:
        on: Which helper is on in each step, shape (helpers, n).
        row: Row of the tables in each step; -1 where nobody helps.
        pull: Table of pull over speed for each combination of helpers, shape (rows, speeds) [N].
        adhesion: Adhesive weight of each combination, shape (rows,) [N].
        mass: Mass of the helpers in each step, rotating mass among it, shape (n,) [kg].
        resistance: a, b, c of the helpers in each combination, shape (rows, 3).
        starting: Their resistance at rest and broken away, shape (rows, 2) [N].
        friction: Their machine friction, shape (rows,) [N].
    """

    on: npt.NDArray[np.bool_]
    row: Codes
    pull: Floats
    adhesion: Floats
    mass: Floats
    resistance: Floats
    starting: Floats
    friction: Floats


def helpers_of(excursion: Excursion) -> tuple[Helper, ...]:
    """Work out every assisting engine of an excursion."""
    names = [call.station for call in excursion.calls]
    return tuple(_helper(helper, names, excursion) for helper in excursion.assistance)


def _helper(assistance: Assistance, names: Sequence[str], excursion: Excursion) -> Helper:
    first = 0 if assistance.from_station is None else names.index(assistance.from_station)
    last = len(names) - 1 if assistance.to_station is None else names.index(assistance.to_station)
    if assistance.locomotive is not None:
        return _steam(assistance.locomotive, assistance.place, first, last, excursion)
    assert assistance.diesel is not None
    return _diesel(assistance.diesel, assistance.place, first, last, excursion)


def _steam(locomotive: Locomotive, place: str, first: int, last: int, excursion: Excursion) -> Helper:
    oil = (locomotive.boiler.firing == "oil", excursion.locomotive.boiler.firing == "oil")
    # What the train engine burns is on hand for her too, unless one of the two burns oil.
    fuel = excursion.fuel if oil[0] == oil[1] else None
    performance = performance_of(locomotive, method=excursion.method, fuel=fuel)
    contents = full_contents(locomotive)
    a, b, c = engine_resistance(locomotive, contents)
    mass = locomotive.mass + locomotive.tender.mass_empty + contents
    pressure = locomotive.boiler.absolute_pressure
    top = performance.map.greatest_speed

    def pull(speed: float) -> float:
        at = min(speed, top)
        most, _ = performance.map.greatest_pull(speed=at, pressure=pressure, steam=performance.cylinder_steam)
        return most * at / speed if speed > top else most

    return Helper(
        name=locomotive.name,
        place=place,
        first=first,
        last=last,
        mass=mass,
        rotating=locomotive.rotating_allowance * (mass - contents),
        length=locomotive.length + locomotive.tender.length,
        pull=np.array([pull(k * SPEED_STEP) for k in range(SPEEDS)]),
        adhesive_weight=performance.adhesive_mass * GRAVITY,
        resistance=(a, b, c * air_density_ratio(excursion)),
        friction=performance.map.friction,
        starting=max(plain_start(excursion) * mass, a),
        broken_away=BROKEN_AWAY * mass,
        speed_greatest=locomotive.speed_greatest,
    )


def _diesel(diesel: Diesel, place: str, first: int, last: int, excursion: Excursion) -> Helper:
    """A diesel: constant power below its greatest pull; its running resistance by [Davis1926]."""
    speeds = np.maximum(np.arange(SPEEDS) * SPEED_STEP, 1e-6)
    law = LAWS["davis_1926_locomotive"]
    per = law(axle_load=diesel.mass / diesel.axles, axles=diesel.axles, frontal_area=diesel.frontal_area)
    a, b, c = (float(k) * diesel.mass for k in per)
    return Helper(
        name=diesel.name,
        place=place,
        first=first,
        last=last,
        mass=diesel.mass,
        rotating=DIESEL_ROTATING * diesel.mass,
        length=diesel.length,
        pull=np.minimum(diesel.starting_pull, diesel.rail_power / speeds),
        adhesive_weight=diesel.mass * GRAVITY,
        resistance=(a, b, c * air_density_ratio(excursion)),
        friction=0.0,
        starting=max(plain_start(excursion) * diesel.mass, a),
        broken_away=BROKEN_AWAY * diesel.mass,
        speed_greatest=None,
    )


def assisted(helpers: Sequence[Helper], calls: Sequence[int], steps: int) -> Assisted:
    """Lay the helpers out over the steps of a run.

    Args:
        helpers: The assisting engines.
        calls: Index of the node of each call.
        steps: Number of steps.
    """
    on = np.zeros((len(helpers), steps), dtype=bool)
    for k, helper in enumerate(helpers):
        on[k, calls[helper.first] : calls[helper.last]] = True
    combinations, which = np.unique(on, axis=1, return_inverse=True)
    some = np.asarray(combinations.sum(axis=0) > 0)
    pull = np.array([h.pull for h in helpers]).reshape(len(helpers), SPEEDS)
    return Assisted(
        on=on,
        row=np.where(some[which], which, -1).astype(np.int8),
        pull=combinations.T @ pull,
        adhesion=combinations.T @ np.array([h.adhesive_weight for h in helpers]),
        mass=np.array([h.mass + h.rotating for h in helpers]) @ on,
        resistance=combinations.T @ np.array([h.resistance for h in helpers]).reshape(len(helpers), 3),
        starting=combinations.T
        @ np.array([(h.starting, h.broken_away) for h in helpers]).reshape(len(helpers), 2),
        friction=combinations.T @ np.array([h.friction for h in helpers]),
    )
