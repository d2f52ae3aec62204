"""Forces averaged over the train, compared with sums over slices of its vehicles and with elevations."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.errors import OutOfRange
from locosim.journey.kernel import arrays as records
from locosim.journey.run import run_journey
from locosim.journey.setup import train_forces as forces
from locosim.journey.setup.prepare import prepare
from locosim.journey.setup.train_forces import (
    Alignment,
    Block,
    contents_at_start,
    starting_demand,
    train_blocks,
    train_load,
)
from locosim.model import Curve, CustomResistance, ProfilePoint, Train, Weather
from locosim.physics.resistance.grade_and_curve import per_degree
from locosim.physics.resistance.starting import BREAKAWAY_SPEED, PLAIN_BEARINGS, ROLLER_BEARINGS

G = 9.80665
SAWTOOTH = tuple((length, grade) for length in (90.0, 170.0, 260.0) for grade in (0.009, -0.007, 0.0, 0.004))

MIXED = Train(
    name="mixed",
    vehicles=(
        trials.coaches(3),
        trials.coaches(
            2, empty_mass=21e3, load=40e3, people=0, length=12.5, resistance_law="davis_1926_freight"
        ),
        trials.coaches(1, empty_mass=90e3, people=0, axles=6, length=24.0, bearing="roller"),
    ),
)


def slices(excursion: object, head: float, per_vehicle: int = 400) -> tuple[np.ndarray, np.ndarray]:
    """Mass and chainage of thin slices of every vehicle, with the tender empty."""
    engine, train = excursion.locomotive, excursion.train  # type: ignore[attr-defined]
    rows = [(engine.mass, engine.length), (engine.tender.empty_mass, engine.tender.length)]
    for vehicle in train.vehicles:
        rows += [(vehicle.mass, vehicle.length)] * vehicle.count
    masses, places, front = [], [], 0.0
    for mass, length in rows:
        middle = (np.arange(per_vehicle) + 0.5) / per_vehicle * length
        places.append(head - front - middle)
        masses.append(np.full(per_vehicle, mass / per_vehicle))
        front += length
    return np.concatenate(masses), np.concatenate(places)


def grade_at(route: object, place: np.ndarray) -> np.ndarray:
    pieces = route.grade_segments()  # type: ignore[attr-defined]
    starts = [start for start, _, _ in pieces]
    found = np.clip(np.searchsorted(starts, place, side="right") - 1, 0, len(pieces) - 1)
    return np.array([grade for _, _, grade in pieces])[found]


@pytest.mark.parametrize("head", [40.0, 150.0, 1000.0, 1234.5, 1687.0, 2105.0, 3080.0, 3125.0])
def test_weight_along_the_track_is_the_sum_over_slices(head: float) -> None:
    route = trials.line(SAWTOOTH)
    excursion = trials.excursion(route, made_of=MIXED)
    blocks = train_blocks(excursion)
    mass, place = slices(excursion, head)
    expected = G * np.sum(mass * np.sin(np.arctan(grade_at(route, place))))
    found = Alignment(route).grade_force(blocks, np.array([head]))[0]
    assert found == pytest.approx(expected, abs=1e-3 * G * mass.sum() * 0.009)


@pytest.mark.parametrize("head", [1000.0, 1315.0, 1500.0, 1760.0, 2400.0])
def test_curve_resistance_is_the_sum_over_slices_on_a_curve(head: float) -> None:
    curves = (Curve(start=1240.0, end=1390.0, radius=300.0), Curve(start=1500.0, end=1640.0, radius=420.0))
    route = trials.line(SAWTOOTH, curves=curves)
    excursion = trials.excursion(route, made_of=MIXED)
    mass, place = slices(excursion, head)
    expected = sum(
        float(per_degree(radius=curve.radius)) * mass[(place >= curve.start) & (place <= curve.end)].sum()
        for curve in curves
    )
    found = Alignment(route).curve_force(train_blocks(excursion), np.array([head]))[0]
    # Within one slice at each end.
    assert found == pytest.approx(expected, abs=1e-3 * mass.sum() * 0.03)


def test_a_five_degree_curve_adds_four_pounds_a_short_ton() -> None:
    # 0.8 lb per short ton and degree [Army603]; 5 degrees on a 100 ft chord: R = 50 ft / sin 2.5 deg.
    radius = 50 * 0.3048 / math.sin(math.radians(2.5))
    route = trials.line([(3000.0, 0.0)], curves=(Curve(start=10.0, end=3900.0, radius=radius),))
    excursion = trials.excursion(route)
    blocks = train_blocks(excursion)
    found = Alignment(route).curve_force(blocks, np.array([2500.0]))[0] / sum(b.mass for b in blocks)
    assert found == pytest.approx(4.0 * 4.4482216 / 907.18474, rel=1e-6)


def by_elevations() -> tuple[object, np.ndarray, np.ndarray]:
    """A line given by elevations, and the elevations for an independent sum."""
    places = np.array([0.0, 1000.0, 1400.0, 2300.0, 2900.0, 4700.0, 5200.0, 6400.0, 8000.0])
    heights = np.array([212.0, 213.5, 216.2, 210.4, 212.0, 228.9, 228.9, 222.3, 231.0])
    route = trials.line(
        [(7000.0, 0.0)],
        profile=tuple(
            ProfilePoint(chainage=float(x), elevation=float(z)) for x, z in zip(places, heights, strict=True)
        ),
    )
    return route, places, heights


def test_work_against_gravity_is_the_difference_of_elevations() -> None:
    route, places, heights = by_elevations()
    excursion = trials.excursion(route, made_of=MIXED)  # type: ignore[arg-type]
    journey = run_journey(excursion, trials.performance(excursion), transient_boiler=False)
    assert journey.arrived
    work = -dict(journey.ledgers[0].entries)["gravity"]

    def height(x: np.ndarray) -> np.ndarray:
        grades = np.diff(heights) / np.diff(places)
        before, beyond = np.minimum(x - places[0], 0.0), np.maximum(x - places[-1], 0.0)
        return np.interp(x, places, heights) + grades[0] * before + grades[-1] * beyond

    start, end = journey.chainage[0], journey.chainage[-1]
    mass, at_start = slices(excursion, start)
    lifted = G * np.sum(mass * (height(at_start + end - start) - height(at_start)))
    # Water and fuel are lifted with the tender while they are used.
    engine = excursion.locomotive
    offsets = engine.length + (np.arange(200) + 0.5) / 200 * engine.tender.length
    tender = np.array([np.mean(height(x - offsets)) for x in journey.chainage])
    contents = journey.tender_water + journey.tender_fuel
    lifted += G * np.sum(0.5 * (contents[1:] + contents[:-1]) * np.diff(tender))
    # Work goes with the sine, elevation with the tangent: 5e-5 apart at 1 %.
    assert work == pytest.approx(lifted, rel=1e-4)


def test_resistance_of_the_train_is_the_sum_of_its_vehicles() -> None:
    own = CustomResistance(a=0.012, b=3e-4, c=2e-5)
    vehicle = trials.coaches(5, resistance_law="custom", custom_resistance=own)
    bare = trials.excursion(trials.line([(3000.0, 0.0)]))
    more = trials.excursion(bare.route, made_of=trials.train(trials.coaches(), vehicle))
    one, two = train_load(bare), train_load(more)
    mass = 5 * vehicle.mass
    assert two.mass - one.mass == pytest.approx(mass)
    assert two.a - one.a == pytest.approx(0.012 * mass)
    assert two.b - one.b == pytest.approx(3e-4 * mass)
    assert two.c - one.c == pytest.approx(2e-5 * mass)
    assert two.rotating - one.rotating == pytest.approx(
        5 * vehicle.rotating_mass_fraction * vehicle.empty_mass
    )
    assert two.starting - one.starting == pytest.approx(PLAIN_BEARINGS * mass)


def test_water_in_a_car_is_counted_once() -> None:
    route = trials.line([(4000.0, 0.0)])
    car = trials.coaches(1, empty_mass=25e3, people=0, kind="water_car", resistance_law="davis_1926_freight")
    dry, wet = (
        trials.excursion(route, made_of=trials.train(trials.coaches(), replace(car, water=water)))
        for water in (0.0, 40.0)
    )
    # Its water counts as contents, which get lighter along the run.
    assert train_load(wet).mass == pytest.approx(train_load(dry).mass)
    assert contents_at_start(wet) - contents_at_start(dry) == pytest.approx(40e3)
    starting_demands = [starting_demand(excursion, (), 2000.0) for excursion in (dry, wet)]
    assert starting_demands[1].mass - starting_demands[0].mass == pytest.approx(40e3)
    assert starting_demands[1].starting - starting_demands[0].starting == pytest.approx(PLAIN_BEARINGS * 40e3)
    # The journal share of 29 lb an axle does not grow with the load: 25 t of tare carry what is there.
    assert train_load(wet).a < train_load(dry).a


def test_people_weigh_eighty_kilograms() -> None:
    assert trials.coaches(people=100).mass - trials.coaches(people=0).mass == pytest.approx(8000.0)


def test_roller_bearings_start_more_easily() -> None:
    route = trials.line([(3000.0, 0.0)])
    plain, roller = (
        train_load(trials.excursion(route, made_of=trials.train(trials.coaches(8, bearing=bearing))))
        for bearing in ("plain", "roller")
    )
    mass = trials.coaches(8).mass * 8
    assert plain.starting - roller.starting == pytest.approx((PLAIN_BEARINGS - ROLLER_BEARINGS) * mass)


def test_cold_air_resists_in_proportion_to_its_density() -> None:
    route = trials.line([(3000.0, 0.0)])
    mild = train_load(trials.excursion(route))
    cold = train_load(trials.excursion(route, weather=Weather(temperature=253.15, headwind=4.0)))
    # Ideal gas at one pressure: density goes with 1/T.
    assert cold.c / mild.c == pytest.approx(288.15 / 253.15)
    assert (cold.b, cold.wind) == (mild.b, 4.0)
    assert cold.a > mild.a  # stiff oil in the bearings, apart from the air


def test_starting_demand_is_breakaway_resistance_weight_and_curve() -> None:
    grade, radius = 0.008, 350.0
    route = trials.line([(4000.0, grade)], curves=(Curve(start=0.0, end=5000.0, radius=radius),))
    excursion = trials.excursion(route)
    engine, demand = excursion.locomotive, starting_demand(excursion, (), 2000.0)
    contents = 1000.0 * engine.tender.water_capacity + engine.tender.fuel_capacity
    mass = engine.mass + engine.tender.empty_mass + contents + 8 * trials.coaches().mass
    assert demand.mass == pytest.approx(mass)
    assert demand.gravity == pytest.approx(mass * G * math.sin(math.atan(grade)))
    assert demand.starting == pytest.approx(16 * 4.4482216 / 907.18474 * mass)  # [Henderson1907]
    assert demand.curve == pytest.approx(mass * float(per_degree(radius=radius)), rel=1e-6)
    assert demand.total == demand.starting + demand.gravity + demand.curve


def test_the_first_step_of_a_run_meets_the_starting_demand() -> None:
    excursion = trials.excursion(trials.line([(4000.0, 0.004)]))
    performance = trials.performance(excursion)
    journey = run_journey(excursion, performance, transient_boiler=False)
    demand = prepare(excursion, performance).starting_demands[0]
    # The first step is a quarter of a meter; machine friction is in the resistance, not in the demand.
    # Forces are means over its length, where the speed of a constant acceleration from rest is two thirds of the last.
    speed = 2.0 / 3.0 * float(journey.speed[1])
    load = train_load(excursion)
    eased = (load.starting - load.rolling_start) * speed / BREAKAWAY_SPEED
    assert journey.total_resistance[0] - performance.map.friction_at(
        journey.effort[0]
    ) + eased == pytest.approx(demand.total, rel=1e-3)


def test_a_vehicle_uses_its_law_with_axle_load_and_area() -> None:
    vehicle = trials.coaches(resistance_law="davis_1926_freight", empty_mass=30e3, load=20e3, people=0)
    per = forces.vehicle_coefficients(vehicle)
    # [Davis1926] freight: 1.3 + 29/w + 0.045 V + 0.0005 A V²/(w n), lb per short ton, w short tons an axle.
    pound_per_ton, ton, mph = 4.4482216 / 907.18474, 907.18474, 0.44704
    axle = 50e3 / 4 / ton
    area = 11.15 / 0.3048**2
    assert per.a == pytest.approx((1.3 + 29 / axle) * pound_per_ton, rel=1e-6)
    assert per.b == pytest.approx(0.045 * pound_per_ton / mph, rel=1e-6)
    assert per.c == pytest.approx(0.0005 * area / (4 * axle) * pound_per_ton / mph**2, rel=1e-6)


def test_the_curve_resistance_law_is_that_of_the_route() -> None:
    # Roeckl on 400 m: 650/(400 - 55) = 1.884 kg per tonne, from memory in the published values.
    curve = Curve(start=2000.0, end=4000.0, radius=400.0)
    route = trials.line([(6000.0, 0.0)], curves=(curve,), curve_resistance_law="roeckl")
    force = Alignment(route).curve_force([Block(mass=1e5, front=0.0, rear=100.0)], np.array([3000.0]))
    assert float(force[0]) == pytest.approx(1e5 * 9.80665 * 650 / (400 - 55) / 1000, rel=1e-9)


def test_a_curve_tighter_than_the_law_allows_is_rejected() -> None:
    curve = Curve(start=2000.0, end=4000.0, radius=90.0)
    with pytest.raises(OutOfRange, match=r'at least 100 m for curve_resistance_law = "roeckl", found 90 m'):
        trials.line([(6000.0, 0.0)], curves=(curve,), curve_resistance_law="roeckl")


def test_tender_first_the_tender_leads() -> None:
    excursion = trials.excursion(trials.line([(4000.0, 0.0)]), engine_facing="tender_first")
    tender, engine = train_blocks(excursion)[:2]
    made = excursion.locomotive
    assert (tender.mass, engine.mass) == (made.tender.empty_mass, made.mass)
    assert (tender.front, engine.front) == (0.0, made.tender.length)
    assert forces.tender_span(excursion) == (0.0, made.tender.length)
    assert forces.engine_span(excursion) == (made.tender.length, made.tender.length + made.length)


def test_starting_is_never_easier_than_running() -> None:
    """Cars on roller bearings so light that the running law gives more than breakaway resistance."""

    def with_cars(count: int) -> records.Load:
        car = trials.coaches(count, empty_mass=8e3, load=0.0, people=0, axles=4, bearing="roller")
        return train_load(trials.excursion(trials.line([(4000.0, 0.0)]), made_of=trials.train(car)))

    few, many = with_cars(6), with_cars(12)
    assert many.a - few.a > ROLLER_BEARINGS * 6 * 8e3
    assert many.starting - few.starting == pytest.approx(many.a - few.a)
