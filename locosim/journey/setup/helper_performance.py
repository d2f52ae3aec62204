"""Helpers: their mass, effort and resistance, and where along the run they are on.

A helper is assumed to give its sustained effort wherever the train engine gives full effort, and to carry its own
water and coal. Efforts and adhesion of several helpers are added.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from locosim.constants import GRAVITY
from locosim.engine.map.nearby import NearbyMaps
from locosim.engine.own_resistance import engine_resistance_coefficients, full_tender_load
from locosim.engine.performance import Performance, compute_performance
from locosim.frozen import frozen
from locosim.journey.kernel.arrays import Codes
from locosim.journey.setup.weather import (
    at_rest_per_mass,
    broken_away_per_mass,
    engine_at_rest,
    in_weather,
)
from locosim.model import Diesel, Excursion, Helper, Locomotive
from locosim.physics.resistance.laws import LAWS
from locosim.physics.types import Floats
from locosim.recent import keep_recent

HELPER_SPEED_STEP = 0.5  # of the table of effort by speed [m/s]
HELPER_SPEED_COUNT = 100


@frozen(eq=False)
class HelperPerformance:
    """What a helper can do.

    Attributes:
        name: Its name.
        place: `front` or `rear`.
        first_stop: Index of the stop where it is coupled.
        last_stop: Index of the stop where it is uncoupled.
        mass: With full tender [kg].
        rotating: Equivalent mass of its turning parts [kg].
        length: [m]
        effort: Sustained effort at its rim by even speeds, less the machine friction that goes with it [N].
        adhesive_weight: [N]
        resistance: Its own resistance as a + b v + c v², without its machine friction [N].
        friction: Its machine friction without steam, at the rim [N].
        starting: Its resistance at rest with bearings as cold as the air, without friction [N].
        rolling_start: What that has fallen to when it has broken away [N].
        max_speed: Its speed limit [m/s].
    """

    name: str
    place: str
    first_stop: int
    last_stop: int
    mass: float
    rotating: float
    length: float
    effort: Floats
    adhesive_weight: float
    resistance: tuple[float, float, float]
    friction: float
    starting: float
    rolling_start: float
    max_speed: float | None

    @property
    def total_starting(self) -> float:
        """Resistance at rest on level track, with machine friction without steam [N]."""
        return self.starting + self.friction

    def effort_at(self, speed: Floats | float) -> Floats:
        """Effort at a speed [N], from its table.

        Args:
            speed: Any shape [m/s].
        """
        return np.asarray(np.interp(speed, HELPER_SPEED_STEP * np.arange(len(self.effort)), self.effort))


@frozen(eq=False)
class HelperSchedule:
    """Helpers along a run, step by step.

    Attributes:
        active: Which helper is on in each step, shape (helpers, n).
        row: Row of the tables in each step; -1 without helper.
        effort: Effort by speed for each combination of helpers, shape (rows, speeds) [N].
        adhesion: Adhesive weight of each combination, shape (rows,) [N].
        mass: Mass of the helpers in each step, with their rotating mass, shape (n,) [kg].
        resistance: a, b, c of the helpers in each combination, shape (rows, 3).
        starting: Their resistance at rest and broken away, shape (rows, 2) [N].
        friction: Their machine friction without steam, shape (rows,) [N].
    """

    active: npt.NDArray[np.bool_]
    row: Codes
    effort: Floats
    adhesion: Floats
    mass: Floats
    resistance: Floats
    starting: Floats
    friction: Floats


def build_helpers(excursion: Excursion, maps: NearbyMaps | None = None) -> tuple[HelperPerformance, ...]:
    """Compute every helper of an excursion.

    Args:
        excursion: The excursion.
        maps: Maps to interpolate those of the helpers from; None to compute them.
    """
    names = [stop.station for stop in excursion.stops]
    return tuple(_build_helper(helper, names, excursion, maps) for helper in excursion.helpers)


def _build_helper(
    helper: Helper, names: Sequence[str], excursion: Excursion, maps: NearbyMaps | None
) -> HelperPerformance:
    first_stop = 0 if helper.from_station is None else names.index(helper.from_station)
    last_stop = len(names) - 1 if helper.to_station is None else names.index(helper.to_station)
    if helper.locomotive is not None:
        performance = _steam_helper_performance(helper.locomotive, excursion, maps)
        return _steam_helper(performance, helper.place, first_stop, last_stop, excursion)
    assert helper.diesel is not None
    return _diesel_helper(helper.diesel, helper.place, first_stop, last_stop, excursion)


def _steam_helper_performance(
    locomotive: Locomotive, excursion: Excursion, maps: NearbyMaps | None
) -> Performance:
    oil = (locomotive.boiler.firing == "oil", excursion.locomotive.boiler.firing == "oil")
    # A helper burns the fuel of the train engine, unless one of the two burns oil.
    fuel = excursion.fuel if oil[0] == oil[1] else None
    return compute_performance(
        locomotive, method=excursion.method, fuel=fuel, assumptions=excursion.assumptions, maps=maps
    )


def _steam_helper(
    performance: Performance, place: str, first_stop: int, last_stop: int, excursion: Excursion
) -> HelperPerformance:
    locomotive = performance.locomotive
    contents = full_tender_load(locomotive)
    resistance = in_weather(engine_resistance_coefficients(locomotive, contents), excursion, "plain")
    mass = locomotive.mass + locomotive.tender.empty_mass + contents
    return HelperPerformance(
        name=locomotive.name,
        place=place,
        first_stop=first_stop,
        last_stop=last_stop,
        mass=mass,
        rotating=locomotive.rotating_mass_fraction * (mass - contents),
        length=locomotive.length + locomotive.tender.length,
        effort=_sustained_effort(performance),
        adhesive_weight=performance.mass_on_drivers * GRAVITY,
        resistance=resistance,
        friction=performance.map.friction,
        starting=max(engine_at_rest(excursion, locomotive, contents), resistance.a),
        rolling_start=broken_away_per_mass(excursion) * mass,
        max_speed=locomotive.max_speed,
    )


@keep_recent(8)
def _sustained_effort(performance: Performance) -> Floats:
    """Sustained effort by speed, less the friction that goes with it [N]; above the map's speeds, at constant power."""
    pressure, top = performance.locomotive.boiler.absolute_pressure, performance.map.max_speed
    steam = performance.sustained_cylinder_steam
    efforts = np.empty(HELPER_SPEED_COUNT)
    for k in range(HELPER_SPEED_COUNT):
        speed = k * HELPER_SPEED_STEP
        at = min(speed, top)
        effort, _ = performance.map.max_effort(speed=at, pressure=pressure, steam=steam)
        efforts[k] = effort * at / speed if speed > top else effort
    return (1.0 - performance.map.friction_share) * efforts


def _diesel_helper(
    diesel: Diesel, place: str, first_stop: int, last_stop: int, excursion: Excursion
) -> HelperPerformance:
    """Diesel helper: constant power up to its starting effort; running resistance by [Davis1926]."""
    speeds = np.maximum(np.arange(HELPER_SPEED_COUNT) * HELPER_SPEED_STEP, 1e-6)
    law = LAWS["davis_1926_locomotive"]
    per = law(axle_load=diesel.mass / diesel.axles, axles=diesel.axles, frontal_area=diesel.frontal_area)
    a, b, c = (float(k) * diesel.mass for k in per)
    resistance = in_weather((a, b, c), excursion, "plain")
    return HelperPerformance(
        name=diesel.name,
        place=place,
        first_stop=first_stop,
        last_stop=last_stop,
        mass=diesel.mass,
        rotating=excursion.assumptions.diesel_rotating_share * diesel.mass,
        length=diesel.length,
        effort=np.minimum(diesel.starting_tractive_effort, diesel.rail_power / speeds),
        adhesive_weight=diesel.mass * GRAVITY,
        resistance=resistance,
        friction=0.0,
        starting=max(at_rest_per_mass(excursion, "plain") * diesel.mass, resistance.a),
        rolling_start=broken_away_per_mass(excursion) * diesel.mass,
        max_speed=None,
    )


def schedule_helpers(
    helpers: Sequence[HelperPerformance], stop_nodes: Sequence[int], steps: int
) -> HelperSchedule:
    """Find which helpers are on in each step of a run.

    Args:
        helpers: The helpers.
        stop_nodes: Index of the node of each stop.
        steps: Number of steps.
    """
    on = np.zeros((len(helpers), steps), dtype=bool)
    for k, helper in enumerate(helpers):
        on[k, stop_nodes[helper.first_stop] : stop_nodes[helper.last_stop]] = True
    if helpers:
        combinations, which = np.unique(on, axis=1, return_inverse=True)
        which = which.ravel()  # numpy 2.0 gives it the dimensions of `on`
    else:  # the same, without sorting columns that have no rows
        combinations, which = on[:, :1], np.zeros(steps, dtype=np.intp)
    any_active = np.asarray(combinations.sum(axis=0) > 0)
    effort = np.array([h.effort for h in helpers]).reshape(len(helpers), HELPER_SPEED_COUNT)
    return HelperSchedule(
        active=on,
        row=np.where(any_active[which], which, -1).astype(np.int8),
        effort=combinations.T @ effort,
        adhesion=combinations.T @ np.array([h.adhesive_weight for h in helpers]),
        mass=np.array([h.mass + h.rotating for h in helpers]) @ on,
        resistance=combinations.T @ np.array([h.resistance for h in helpers]).reshape(len(helpers), 3),
        starting=combinations.T
        @ np.array([(h.starting, h.rolling_start) for h in helpers]).reshape(len(helpers), 2),
        friction=combinations.T @ np.array([h.friction for h in helpers]),
    )
