"""Random excursions as flat cases of plain numbers, so that a shrunk one can be read and written into a test."""

from __future__ import annotations

import math
from dataclasses import MISSING, dataclass, fields, replace

import trials
from hypothesis import strategies as st

from locosim.journey.run import run_full_effort
from locosim.model import (
    Crew,
    CustomResistance,
    Cylinders,
    EngineUnit,
    Excursion,
    Fuel,
    Locomotive,
    Route,
    SpeedLimit,
    Train,
    Weather,
)

HABITS = ("hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Case:
    """An excursion in plain numbers; defaults are the simplest, and a shrunk case names only what differs.

    Attributes:
        pieces: Lengths [m] and grades [per mille] of the line, after a first kilometer at the first grade.
        stop: Place of a stop on the way, as a share of the line; 0 for none.
        limit: Speed limit of the line [m/s].
        slow: Start of a piece of 400 m with a low speed limit, as a share of the line; 0 for none.
        slow_limit: That speed limit [m/s].
        slack: Booked running time over that at full effort; 0 where nothing is booked.
        cars: Cars of the train.
        car: Mass of each, loaded [t].
        law: Law of resistance of the cars.
        rail: Condition of the rail.
        kelvin: Temperature of the air [K].
        wind: Headwind [m/s].
        heat: Heating value of the coal [MJ/kg].
        habit: Habit of the crew.
        allowance: Steam allowance of the crew [1].
        horizon: Of the fireman [min].
        recovery: Recovery time the engineer keeps [per cent].
        bore: Of the two cylinders [cm].
        wheel: Driver diameter [cm].
        gauge: Working pressure [bar].
        factor: Factor of adhesion.
        grate: Grate area [m²].
        tubes: Tube surface [m²].
        superheater: Whether there is one.
        firing: By hand or by stoker.
        injector: Rate of each of the two injectors [kg/s].
        water: Share of the tender's water at the start [per cent].
    """

    pieces: tuple[tuple[int, int], ...] = ((3000, 0),)
    stop: float = 0.0
    limit: int = 15
    slow: float = 0.0
    slow_limit: int = 8
    slack: float = 0.0
    cars: int = 6
    car: int = 40
    law: str = "davis_1926_passenger"
    rail: str = "dry"
    kelvin: int = 288
    wind: int = 0
    heat: int = 30
    habit: str = "hold_speed_limit"
    allowance: float = 1.0
    horizon: int = 30
    recovery: int = 0
    bore: int = 52
    wheel: int = 157
    gauge: int = 13
    factor: float = 4.2
    grate: float = 3.0
    tubes: int = 140
    superheater: bool = True
    firing: str = "stoker"
    injector: float = 3.0
    water: int = 100

    def __repr__(self) -> str:
        """Name only what differs from the default."""
        told = [
            f"{each.name}={getattr(self, each.name)!r}" for each in fields(self) if self._differs(each.name)
        ]
        return f"Case({', '.join(told)})"

    def _differs(self, name: str) -> bool:
        default = next(each.default for each in fields(self) if each.name == name)
        return default is MISSING or getattr(self, name) != default


def _tenths(low: float, high: float, simplest: float, *, of: int = 10) -> st.SearchStrategy[float]:
    """Decimals between two ends, which shrink toward the simplest."""
    ends = round((low - simplest) * of), round((high - simplest) * of)
    return st.integers(*ends).map(lambda steps: round(simplest + steps / of, 3))


def _integers(low: int, high: int, simplest: int) -> st.SearchStrategy[int]:
    return st.integers(low - simplest, high - simplest).map(lambda step: simplest + step)


def cases() -> st.SearchStrategy[Case]:
    """Random cases within the range of what has been built."""
    piece = st.tuples(st.integers(3, 60).map(lambda n: 100 * n), st.integers(-20, 20))
    return st.builds(
        Case,
        pieces=st.lists(piece, min_size=1, max_size=7).map(tuple),
        stop=st.sampled_from([0.0, 0.5, 0.3, 0.7]),
        limit=_integers(8, 26, 15),
        slow=st.sampled_from([0.0, 0.0, 0.2, 0.45, 0.8]),
        slow_limit=_integers(4, 14, 8),
        slack=st.sampled_from([0.0, 1.1, 1.02, 1.05, 1.2, 1.35]),
        cars=_integers(1, 16, 6),
        car=_integers(18, 70, 40),
        law=st.sampled_from(["davis_1926_passenger", "davis_1926_freight", "custom"]),
        rail=st.sampled_from(["dry", "dry", "very dry", "wet"]),
        kelvin=_integers(250, 308, 288),
        wind=_integers(-6, 10, 0),
        heat=_integers(18, 34, 30),
        habit=st.sampled_from(HABITS),
        allowance=_tenths(0.6, 1.4, 1.0),
        horizon=st.sampled_from([30, 30, 0, 5, 90]),
        recovery=st.sampled_from([0, 0, 0, 3]),
        bore=_integers(36, 68, 52),
        wheel=_integers(115, 205, 157),
        gauge=_integers(9, 21, 13),
        factor=_tenths(3.4, 5.2, 4.2),
        grate=_tenths(1.2, 6.5, 3.0),
        tubes=_integers(60, 320, 140),
        superheater=st.booleans().map(lambda saturated: not saturated),
        firing=st.sampled_from(["stoker", "hand"]),
        injector=_tenths(1.5, 5.0, 3.0),
        water=_integers(40, 100, 100),
    )


def build(case: Case) -> Excursion | None:
    """The excursion of a case; None where times are to be booked and the train does not arrive at full effort."""
    route = _line(case)
    excursion = trials.excursion(
        route,
        engine=_engine(case),
        made_of=_train(case),
        rail=case.rail,
        weather=Weather(temperature=float(case.kelvin), headwind=float(case.wind)),
        crew=Crew(
            habit=case.habit,
            steam_allowance=case.allowance,
            horizon=60.0 * case.horizon,
            recovery=case.recovery / 100,
        ),
        fuel=Fuel(heating_value=1e6 * case.heat),
        initial_water=case.water / 100,
    )
    return _booked(excursion, case.slack) if case.slack else excursion


def _line(case: Case) -> Route:
    pieces = [(float(length), grade / 1000.0) for length, grade in case.pieces]
    total = 1000.0 + sum(length for length, _ in pieces)
    slow = ()
    if case.slow:
        start = case.slow * total
        slow = (SpeedLimit(start=start, end=start + 400.0, speed=float(case.slow_limit)),)
    stops = (case.stop * (total - 1000.0),) if case.stop else ()
    return trials.line(pieces, stops=stops, speed_limit=float(case.limit), speed_limits=slow)


def _train(case: Case) -> Train:
    own = CustomResistance(a=0.015, b=2e-4, c=1e-5) if case.law == "custom" else None
    cars = trials.coaches(
        case.cars, empty_mass=1e3 * case.car, people=0, resistance_law=case.law, custom_resistance=own
    )
    return trials.train(cars)


def _engine(case: Case) -> Locomotive:
    bore, stroke, wheel, pressure = 0.01 * case.bore, 0.65, 0.01 * case.wheel, 1e5 * case.gauge
    rated = 0.85 * pressure * bore**2 * stroke / wheel
    made = trials.locomotive(
        bore=bore,
        stroke=stroke,
        wheel=wheel,
        pressure=pressure,
        mass_on_drivers=case.factor * rated / 9.80665,
        grate=case.grate,
        superheater=case.superheater,
    )
    boiler = replace(made.boiler, tube_surface=float(case.tubes), firing=case.firing)
    devices = tuple(replace(device, max_rate=case.injector) for device in made.feed_devices)
    unit: EngineUnit = replace(
        made.engine_units[0], cylinders=(Cylinders(number=2, bore=bore, stroke=stroke),)
    )
    return replace(made, boiler=boiler, feed_devices=devices, engine_units=(unit,))


def _booked(excursion: Excursion, slack: float) -> Excursion | None:
    """Book the times of the run at full effort, times the slack."""
    free = run_full_effort(replace(excursion, initial_water=1.0), trials.performance(excursion))
    if not free.arrived:
        return None
    clock = excursion.departure
    stops = [excursion.stops[0]]
    for before, here, stop in zip(free.stops, free.stops[1:], excursion.stops[1:], strict=False):
        clock = math.ceil(clock + slack * (here.arrive - before.depart))
        stops.append(replace(stop, arrive=float(clock), depart=clock + stop.dwell))
        clock += stop.dwell
    stops[-1] = replace(stops[-1], depart=None)
    return replace(excursion, stops=tuple(stops))
