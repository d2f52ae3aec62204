"""The run as a continuous problem for a general solver: the reference for the kernel.

Nothing of the kernel, the mesh or the averaged forces is used. The train is a row of vehicles, each with its mass
spread over its length; the speed limit is a function of chainage; the map is read with numpy and scipy. The boiler
is steady; time is the variable, and the state is chainage, speed, and water and fuel carried.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import RegularGridInterpolator

from locosim.engine.performance import Performance
from locosim.journey.setup.train_forces import train_load
from locosim.model import Excursion
from locosim.physics.resistance.grade_and_curve import per_degree
from locosim.physics.resistance.starting import BREAKAWAY_SPEED
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION

G = 9.80665
DRIFTING = 0.10  # cylinder steam with the throttle shut, over the area of the pistons [kg/(s m²)]


@dataclass(frozen=True)
class Arrival:
    """Time and supplies at a stop, by the reference."""

    time: float
    water: float
    fuel: float


class Continuous:
    """Forces and limits of one excursion as functions of chainage and speed."""

    def __init__(self, excursion: Excursion, performance: Performance) -> None:
        self.excursion, self.performance = excursion, performance
        self.line = excursion.route_as_run
        self.load = train_load(excursion)
        self.at_rest = self.load.starting
        self.stops = [self.line.station(call.station).chainage for call in excursion.stops]
        self.deceleration = excursion.criteria.service_deceleration
        self._vehicles()
        self._profile()
        self._map()
        self.adhesion = ADHESION_BY_RAIL_CONDITION[excursion.rail].coefficient

    def _vehicles(self) -> None:
        engine, tender = self.excursion.locomotive, self.excursion.locomotive.tender
        rows = [(engine.mass, engine.length), (tender.empty_mass, tender.length)]
        for vehicle in self.excursion.train.vehicles:
            rows += [(vehicle.mass, vehicle.length)] * vehicle.count
        self.mass = np.array([mass for mass, _ in rows])
        self.rear = np.cumsum([length for _, length in rows])
        self.front = np.concatenate([[0.0], self.rear[:-1]])
        self.length = float(self.rear[-1])

    starting = True
    at_rest = 0.0  # starting resistance at rest, with bearings cold at the first stop [N]

    def _profile(self) -> None:
        pieces = self.line.grade_segments()
        far = 5e3
        self.at = np.array([pieces[0][0] - far, *(end for _, end, _ in pieces), pieces[-1][1] + far])
        grades = [grade for _, _, grade in pieces]
        grades = [*grades, grades[-1]]
        sines = np.sin(np.arctan(grades))
        self.climbed = np.concatenate([[0.0], np.cumsum(sines * np.diff(self.at))])

    def _map(self) -> None:
        performance_map = self.performance.map
        pressure = self.performance.locomotive.boiler.absolute_pressure
        self.speeds, self.cutoffs = performance_map.speeds, performance_map.cutoffs
        self.efforts, self.steams = (
            RegularGridInterpolator((performance_map.pressures,), table)([pressure])[0]
            for table in (performance_map.effort, performance_map.steam)
        )
        supply, auxiliaries = self.performance.supply, self.performance.locomotive.auxiliaries
        self.allowed = supply.sustained * self.excursion.crew.steam_allowance - auxiliaries.continuous_demand
        rising = int(np.argmax(supply.steam)) + 1
        self.heat, self.firing = supply.heat[:rising], supply.firing_rates[:rising]

    def _at_speed(self, table: Any, speed: float) -> Any:
        place = min(speed / self.speeds[1], len(self.speeds) - 1.000001)
        k = int(place)
        return table[k] + (place - k) * (table[k + 1] - table[k])

    def gravity(self, place: float, contents: float) -> float:
        """Weight along the track of all vehicles, and of water and fuel on the tender."""
        front = np.interp(place - self.front, self.at, self.climbed)
        rear = np.interp(place - self.rear, self.at, self.climbed)
        sines = (front - rear) / (self.rear - self.front)
        return float(G * (self.mass @ sines + contents * sines[1]))

    def curves(self, place: float) -> float:
        """Curve resistance of the vehicles on curves."""
        force = 0.0
        for curve in self.line.curves:
            over = np.minimum(place - self.front, curve.end) - np.maximum(place - self.rear, curve.start)
            share = np.maximum(over, 0.0) / (self.rear - self.front)
            force += float(self.mass @ share) * float(per_degree(radius=curve.radius))
        tender = self.excursion.locomotive.tender
        full = 1000.0 * (tender.water_capacity + self.excursion.train.water) + tender.fuel_capacity
        # Curve resistance counts the water and fuel of a full tender.
        return force * (1.0 + full / float(np.sum(self.mass)))

    def resistance(self, place: float, speed: float, contents: float) -> float:
        """Total resistance, with machine friction without steam."""
        load = self.load
        air = speed + load.wind
        running = load.a + load.b * speed + load.c * air * abs(air)
        running += (load.a_contents + load.b_contents * speed) * contents
        # Breakaway resistance ends once the train has been fast enough; slowing down does not bring it back.
        if self.starting:
            share = min(speed / BREAKAWAY_SPEED, 1.0)
            running = max(running, self.at_rest + share * (load.rolling_start - self.at_rest))
        return running + self.gravity(place, contents) + self.curves(place) + self.performance.map.friction

    def max_effort(self, speed: float) -> float:
        """Highest indicated effort within cutoff, steam and rail."""
        effort, steam = self._at_speed(self.efforts, speed), self._at_speed(self.steams, speed)
        highest = float(effort[-1])
        if steam[-1] > self.allowed:
            highest = float(np.interp(self.allowed, steam, effort))
        speed_factor = (7.5 / (3.6 * speed + 44) + 0.161) / (7.5 / 44 + 0.161)
        rail = self.adhesion * speed_factor * G * self.performance.mass_on_drivers
        return min(highest, (rail + self.performance.map.friction) / self.kept)

    @property
    def kept(self) -> float:
        """Share of the indicated effort that friction of the piston thrust leaves."""
        return 1.0 - self.performance.map.friction_share

    def use(self, speed: float, effort: float) -> tuple[float, float]:
        """Water and fuel used per second."""
        supply, auxiliaries = self.performance.supply, self.performance.locomotive.auxiliaries
        steam = auxiliaries.continuous_demand
        if effort > 0.0:
            efforts, steams = self._at_speed(self.efforts, speed), self._at_speed(self.steams, speed)
            # Of equal efforts the first setting, which is the first point of a flat stretch.
            first = np.concatenate([[True], np.diff(efforts) > 0.0])
            steam += float(np.interp(effort, efforts[first], steams[first]))
        else:
            units = self.performance.locomotive.engine_units
            bores = [c.bore for unit in units for c in unit.cylinders for _ in range(c.number)]
            steam += DRIFTING * sum(math.pi / 4.0 * bore**2 for bore in bores) + auxiliaries.blower
        return steam, float(np.interp(steam * supply.evaporation_heat, self.heat, self.firing))

    def top(self, place: float) -> float:
        """Highest speed allowed, with distance to brake for everything ahead."""
        at_most = 0.5 * self.line.speed_limit**2
        for limit in self.line.speed_limits:
            if place <= limit.end + self.length:
                ahead = max(limit.start - place, 0.0)
                at_most = min(at_most, 0.5 * limit.speed**2 + self.deceleration * ahead)
        for stop in self.stops[1:]:
            if place <= stop:
                at_most = min(at_most, self.deceleration * (stop - place))
        return float(np.sqrt(2.0 * at_most))

    def kinks(self) -> list[float]:
        """Chainages where the slope of the speed limit changes."""
        limits = self.line.speed_limits
        kinks = {x for limit in limits for x in (limit.start, limit.end + self.length)}
        speeds = {self.line.speed_limit, *(limit.speed for limit in limits)}
        targets = [(limit.start, limit.speed) for limit in limits] + [(s, 0.0) for s in self.stops[1:]]
        for start, slow in targets:
            kinks |= {start - (fast**2 - slow**2) / (2 * self.deceleration) for fast in speeds if fast > slow}
            kinks.add(start)
        # Where two braking curves meet, or one meets the end of a limit, `_piece` finds it.
        return sorted(kinks)


def run_continuous(excursion: Excursion, performance: Performance) -> list[Arrival]:
    """Run from stop to stop with the general solver at a tight tolerance."""
    case = Continuous(excursion, performance)
    tender = excursion.locomotive.tender
    water, fuel = 1000.0 * tender.water_capacity, tender.fuel_capacity
    clock, arrivals = excursion.departure, [Arrival(excursion.departure, water, fuel)]
    for number, (start, stop) in enumerate(zip(case.stops, case.stops[1:], strict=False), start=1):
        state = np.array([start, 0.0, water, fuel])
        clock, state = _leg(case, clock, state, stop)
        arrivals.append(Arrival(clock, float(state[2]), float(state[3])))
        call, station = (
            excursion.stops[number],
            excursion.route_as_run.station(excursion.stops[number].station),
        )
        dwell = call.dwell
        if call.take_water == "fill":
            taken = 1000.0 * tender.water_capacity - float(state[2])
            dwell = max(dwell, taken / (1000.0 * station.water_rate))
            state[2] += taken
        auxiliaries = performance.locomotive.auxiliaries
        steam = auxiliaries.continuous_demand + auxiliaries.blower
        firing = float(np.interp(steam * performance.supply.evaporation_heat, case.heat, case.firing))
        water, fuel = float(state[2]) - dwell * steam, float(state[3]) - dwell * firing
        clock += dwell
        warm, cold = case.load.starting_warm, case.load.starting
        case.at_rest = warm + (cold - warm) * (1.0 - math.exp(-dwell / 3600.0))
    return arrivals


def _leg(case: Continuous, clock: float, state: Any, stop: float) -> tuple[float, Any]:
    """Run from rest to rest, at full effort or at the limit by turns."""
    pushing = case.starting = True
    for _ in range(200):
        if stop - state[0] < 1e-6:
            return clock, state
        clock, state, pushing = (_push if pushing else _follow)(case, clock, state, stop)
    raise AssertionError("the reference did not arrive")


def _solve(rates: Callable[..., Any], clock: float, state: Any, events: list[Any]) -> tuple[float, Any, int]:
    for event in events:
        event.terminal = True
    found = solve_ivp(
        rates,
        (clock, clock + 3e4),
        state,
        method="DOP853",
        rtol=1e-9,
        atol=1e-9,
        events=events,
        max_step=20.0,
    )
    assert found.status == 1, found.message
    which = next(k for k, times in enumerate(found.t_events) if len(times))
    return float(found.t[-1]), found.y[:, -1], which


def _push(case: Continuous, clock: float, state: Any, stop: float) -> tuple[float, Any, bool]:
    """Run at full effort until the limit is met."""
    rotating = case.load.mass + case.load.rotating

    def rates(_: float, y: Any) -> list[float]:
        place, speed, water, fuel = y
        speed = max(speed, 0.0)
        effort = case.max_effort(speed)
        contents = water + fuel
        steam, firing = case.use(speed, effort)
        acceleration = (case.kept * effort - case.resistance(place, speed, contents)) / (rotating + contents)
        return [speed, acceleration, -steam, -firing]

    def met(_: float, y: Any) -> float:
        return float(y[1] - case.top(y[0]) - 1e-9)

    def broken_away(_: float, y: Any) -> float:
        return float(y[1] - BREAKAWAY_SPEED)

    met.direction = broken_away.direction = 1.0  # type: ignore[attr-defined]
    clock, state, which = _solve(rates, clock, state, [met, broken_away] if case.starting else [met])
    case.starting = case.starting and which == 0 and float(state[1]) < BREAKAWAY_SPEED
    return clock, state, which == 1


def _piece(case: Continuous, place: float, stop: float) -> tuple[float, float, float, float]:
    """Next stretch of the limit with one acceleration: its end, speed at both ends, and acceleration."""
    end = min([stop, *(k for k in case.kinks() if k > place + 1e-7)])
    v0 = case.top(place)
    while True:
        v1, middle = case.top(end), case.top(0.5 * (place + end))
        if abs(0.5 * (v0**2 + v1**2) - middle**2) <= 1e-6:
            return end, v0, v1, (v1**2 - v0**2) / (2 * (end - place))
        # Two braking curves meet within: halve until they do not.
        end = 0.5 * (place + end)


def _follow(case: Continuous, clock: float, state: Any, stop: float) -> tuple[float, Any, bool]:
    """Run at the limit up to its next kink, with the effort or brake needed, or until the effort falls short."""
    place = float(state[0])
    end, v0, v1, slope = _piece(case, place, stop)
    if slope > 1e-6:  # the limit rises: the train leaves it at once
        return clock, np.array([place, v0, *state[2:]]), True
    rotating = case.load.mass + case.load.rotating

    def needed(y: Any) -> float:
        contents = float(y[2] + y[3])
        net = case.resistance(y[0], y[1], contents) + slope * (rotating + contents)
        return net / case.kept if net > 0.0 else net

    def rates(_: float, y: Any) -> list[float]:
        speed = max(float(y[1]), 0.0)
        steam, firing = case.use(speed, needed(y))
        return [speed, slope, -steam, -firing]

    def failing(_: float, y: Any) -> float:
        return needed(y) - case.max_effort(max(float(y[1]), 0.0))

    def there(_: float, y: Any) -> float:
        return float(y[0] - end)

    def stood(_: float, y: Any) -> float:
        return float(y[1])

    failing.direction = there.direction = 1.0  # type: ignore[attr-defined]
    stood.direction = -1.0  # type: ignore[attr-defined]
    start = np.array([place, v0, *state[2:]])
    if failing(0.0, start) > 0.0:
        return clock, start, True
    clock, state, which = _solve(
        rates, clock, start, [failing, there, stood] if v1 == 0.0 else [failing, there]
    )
    if which == 2 or v1 == 0.0:
        state[0] = stop
    rising = which == 1 and case.top(end + 1e-3) > case.top(end) + 1e-9
    if rising:
        state[0] = end + 1e-6  # over the edge of the limit
    return clock, state, which == 0 or rising
