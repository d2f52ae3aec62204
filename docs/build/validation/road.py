"""The 4-8-8-4 on 0.57 %: drawbar pull at one speed, and its train on a long grade."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq

from locosim.constants import (
    BTU,
    FOOT,
    GRAVITY,
    MILE,
    MPH,
    POUND,
    POUND_FORCE,
    SHORT_TON,
)
from locosim.engine.own_resistance import full_tender_load
from locosim.engine.performance import Performance, compute_performance
from locosim.engine.speed_curve import CurvePoint, curve_point
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.model import Crew, Excursion, Fuel, ProfilePoint, Route, Station, Stop, Train, Vehicle
from locosim.physics.resistance.laws import LAWS, specific_resistance

from .comparison import SUSTAINED, Comparison, Grid, Section
from .engines import engine
from .running import POUND_PER_HOUR

SPEED = 41.1 * MPH
GRADE = 0.0057
TRAIN = 3883 * SHORT_TON
CARS = 71  # 70 and the dynamometer car
CAR_LENGTH = 45.0 * FOOT  # assumed
PULL, LEVEL_PULL = 51_000.0, 57_400.0  # [lbf], [Kratville], read
COALS = (8000.0, 9350.0, 11_500.0, 13_500.0)  # [Btu/lb]
NAMED_COAL = 8000.0  # "about 8000 Btu/lb class quoted elsewhere"
PER_SHORT_TON = POUND_FORCE / SHORT_TON


class OnGrade(NamedTuple):
    """The 4-8-8-4 with one coal."""

    heating_value: float  # [Btu/lb]
    point: CurvePoint  # at 41.1 mph
    on_grade: float  # drawbar pull on the grade there [N]
    limit: str
    fuel: float  # [kg/s]
    journey: Journey
    settled: float  # speed at the end of the long grade [m/s]
    balance: float  # speed at which the sustained pull equals the resistance uphill [m/s]


def _fuel(heating_value: float) -> Fuel:
    kind = "subbituminous" if heating_value < 12_000 else "bituminous"
    return Fuel(kind=kind, heating_value=heating_value * BTU / POUND)


def freight() -> Train:
    """The train of the dynamometer run, with equal cars."""
    car = Vehicle(
        name="car and load", count=CARS, empty_mass=22 * SHORT_TON, load=TRAIN / CARS - 22 * SHORT_TON,
        length=CAR_LENGTH, resistance_law="davis_1926_freight", frontal_area=88 * FOOT**2, kind="freight_car",
    )  # fmt: skip
    return Train(name="70 cars and dynamometer car", vehicles=(car,))


def long_grade() -> Route:
    """Level track, then thirty miles of the grade, so that speed and pressure settle."""
    foot, end = 5 * MILE, 35 * MILE
    return Route(
        name="long 0.57 %",
        profile=(
            ProfilePoint(chainage=0.0, grade=0.0),
            ProfilePoint(chainage=foot, grade=GRADE),
            ProfilePoint(chainage=end),
        ),
        stations=(Station(name="foot", chainage=2 * MILE), Station(name="summit", chainage=end)),
        speed_limit=60 * MPH,
    )


@lru_cache
def on_grade(heating_value: float) -> OnGrade:
    """The engine with one coal: at 41.1 mph, and on the long grade with the boiler simulated."""
    locomotive, fuel = engine("up_4000").locomotive, _fuel(heating_value)
    perf = compute_performance(locomotive, fuel=fuel)
    point = curve_point(perf, SPEED, "dry")
    own = locomotive.mass + locomotive.tender.empty_mass + full_tender_load(locomotive)
    excursion = Excursion(
        name="0.57 %",
        locomotive=locomotive,
        train=freight(),
        route=long_grade(),
        stops=(Stop(station="foot"), Stop(station="summit")),
        fuel=fuel,
        crew=Crew(),
        method="cycle",
    )
    journey = run_journey(excursion, perf, transient_boiler=True)
    before_braking = int(np.searchsorted(journey.chainage, journey.chainage[-1] - 2 * MILE))
    return OnGrade(
        heating_value,
        point,
        point.drawbar_pull - own * GRAVITY * GRADE,
        point.limit,
        point.fuel,
        journey,
        float(journey.speed[before_braking]),
        _balance(perf, own),
    )


def _balance(perf: Performance, own: float) -> float:
    """Speed at which the sustained drawbar pull equals the resistance of train and grade [m/s]."""

    def surplus(speed: float) -> float:
        cars = specific_resistance(
            law=LAWS["davis_1926_freight"], speed=speed, axle_load=TRAIN / CARS / 4, axles=4,
            frontal_area=88 * FOOT**2,
        )  # fmt: skip
        uphill = (own + TRAIN) * GRAVITY * GRADE
        return curve_point(perf, speed, "dry").drawbar_pull - uphill - TRAIN * float(cars)

    return float(brentq(surplus, 10 * MPH, 50 * MPH, xtol=1e-3))


def car_resistance(law: str) -> float:
    """Running resistance of the cars at 41.1 mph by one law [N/kg]."""
    return float(
        specific_resistance(
            law=LAWS[law], speed=SPEED, axle_load=TRAIN / CARS / 4, axles=4, frontal_area=88 * FOOT**2
        )
    )


@lru_cache
def big_articulated() -> Section:
    """The dynamometer point, and the same train on a long grade."""
    cases = [on_grade(value) for value in COALS]
    rows = tuple(
        (
            f"{case.heating_value:,.0f}",
            f"{case.point.drawbar_pull / POUND_FORCE:,.0f} lbf",
            f"{100 * (case.point.drawbar_pull / POUND_FORCE / LEVEL_PULL - 1):+.1f} %",
            f"{case.on_grade / POUND_FORCE:,.0f} lbf",
            case.limit,
            f"{100 * case.point.cutoff:.0f} %",
            f"{case.point.steam / POUND_PER_HOUR:,.0f} lb/h",
            f"{case.fuel / POUND_PER_HOUR:,.0f} lb/h",
            f"{case.balance / MPH:.1f} mph",
            f"{case.settled / MPH:.1f} mph",
            f"{case.journey.outcome}",
        )
        for case in cases
    )
    best = cases[-1]
    heads = (
        "coal [Btu/lb]", "drawbar pull at 41.1 mph, level", "error", "on 0.57 %", "limit", "cutoff",
        "steam", "coal",
        "balancing speed by the curve", "final speed of the run", "outcome",
    )  # fmt: skip
    laws = tuple(
        (name, f"{car_resistance(name) / PER_SHORT_TON:.1f} lb/ton",
         f"{(car_resistance(name) + GRAVITY * GRADE) * TRAIN / POUND_FORCE:,.0f} lbf")
        for name in ("davis_1926_freight", "schmidt_1910", "modified_1970", "aar_rp548")
    )  # fmt: skip
    per_ton = PULL / 3883 - 20 * 100 * GRADE
    carried = best.on_grade / (car_resistance("davis_1926_freight") + GRAVITY * GRADE) / SHORT_TON
    return Section(
        title="A 4-8-8-4 on 0.57 %",
        text=(
            "No. 4016 pulled 51,000 lbf at the drawbar at 41.1 mph on 0.57 % ascending, on "
            "straight track and without acceleration, with 3,883 tons in 70 cars and a "
            "dynamometer car; corrected to level track, 57,400 lbf ([Kratville], read at second "
            "hand). Computed: the sustained curve at that speed, and the run of the train up "
            "thirty miles of the grade with the boiler simulated. Boiler and engine are from "
            "memory; the firebox's share of the surface, the valve gear and the cars are assumed. "
            "Coal of about 8,000 Btu/lb is quoted elsewhere for these engines.",
        ),
        comparisons=(
            _pull("with coal of 13,500 Btu/lb", best),
            _pull("with coal of 8,000 Btu/lb", cases[0]),
        ),
        grids=(
            Grid(heads=heads, rows=rows),
            Grid(
                heads=("law", "cars at 41.1 mph", "pull needed for 3,883 tons on 0.57 %"),
                rows=laws,
                caption="Resistance of the train",
            ),
        ),
        after=(
            "**The published figures contradict each other.** 51,000 lbf on 3,883 tons, less 11.4 "
            f"lb per ton for the grade, leaves {per_ton:.1f} lb per ton for 54.7-ton cars at 41 "
            "mph; the published laws above give 2.7 to 3.8 times that. The train therefore "
            "settles far below 41 mph in locosim, although the engine's own pull at 41.1 mph is "
            "within about a tenth of the published pull. With 13,500 Btu/lb coal locosim would "
            f"take {carried:,.0f} tons up at 41.1 mph. The correction of 6,400 lbf corresponds to "
            "561 tons of engine and tender, as it should.",
        ),
        plot="long_grade",
        plot_says="Speed and boiler pressure of the train over miles, up the long grade",
    )


def _pull(which: str, case: OnGrade) -> Comparison:
    return Comparison(
        case=f"drawbar pull on level at 41.1 mph, {which}",
        computed=case.point.drawbar_pull / POUND_FORCE,
        published=LEVEL_PULL,
        unit="lbf",
        source="Kratville",
        status="read",
        judged=SUSTAINED if case.heating_value == NAMED_COAL else "",
        engine="up_4000",
        remark=f"{case.limit}; boiler from memory",
    )
