"""Pull in the couplers, step by step, against figures worked out here."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.journey.coupler_force import coupler_force, highest_pull
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup.helper_performance import build_helpers
from locosim.model import CustomResistance, Excursion, Helper, Train, Weather
from locosim.physics.types import Floats

MPH, POUND_PER_TON = 0.44704, 4.4482216 / 907.18474
A, B, C = 0.010, 0.0, 2.0e-5  # running resistance of the trial cars [N/kg], with v in m/s


def cars(count: int = 6) -> Train:
    own = CustomResistance(a=A, b=B, c=C)
    return trials.train(trials.coaches(count, resistance_law="custom", custom_resistance=own))


def run(excursion: Excursion) -> Journey:
    """The run with steady boiler pressure."""
    return run_journey(excursion, trials.performance(excursion), transient_boiler=False)


def middles(journey: Journey) -> tuple[Floats, Floats]:
    """Speed and acceleration in the middle of each step [m/s, m/s²]."""
    speed = 0.5 * (journey.speed[1:] + journey.speed[:-1])
    return speed, np.diff(0.5 * journey.speed**2) / np.diff(journey.chainage)


def level(**changes: object) -> Excursion:
    calm = {"weather": Weather(temperature=288.15), "made_of": cars(), **changes}
    return trials.excursion(trials.line([(6000.0, 0.0)]), **calm)


def test_the_pull_falls_in_a_line_from_rest_to_6_mph_and_then_is_the_running_resistance() -> None:
    """16 lb per short ton at rest, 5 lb at 6 mph [Henderson1907]; above that the law of the cars alone."""
    journey = run(level())
    speed, acceleration = middles(journey)
    train = journey.excursion.train
    running = A + C * speed**2
    starting = (16.0 - (16.0 - 5.0) * speed / (6.0 * MPH)) * POUND_PER_TON
    per_mass = np.where(speed < 6.0 * MPH, np.maximum(running, starting), running)
    pull = train.mass * per_mass + (train.mass + train.rotating_mass) * acceleration
    gaining = (acceleration > 0.0) & (speed < 10.0 * MPH)
    slow = gaining & (speed < 5.5 * MPH)
    assert np.count_nonzero(slow) >= 4
    assert np.count_nonzero(gaining & ~slow) >= 4
    assert coupler_force(journey)[gaining] == pytest.approx(pull[gaining], rel=1e-6)


def test_a_headwind_adds_to_the_pull_what_the_law_of_the_cars_says() -> None:
    """The same run, once in a headwind of 10 m/s."""
    journey = run(level())
    windy = replace(journey, excursion=level(weather=Weather(temperature=288.15, headwind=10.0)))
    speed, acceleration = middles(journey)
    steady = (speed > 4.0) & (acceleration > 0.0)
    more = coupler_force(windy)[steady] - coupler_force(journey)[steady]
    mass = journey.excursion.train.mass
    assert more == pytest.approx(mass * C * ((speed[steady] + 10.0) ** 2 - speed[steady] ** 2), rel=1e-6)


def test_a_headwind_on_a_pusher_leaves_it_less_to_push_with() -> None:
    """One car and a pusher that gives nothing: the pull is what both need."""
    pusher = Helper(locomotive=trials.locomotive(), place="rear")
    asked = level(made_of=cars(1), helpers=(pusher,))
    journey = run(asked)
    idle = replace(journey, helper_effort=np.zeros_like(journey.helper_effort))
    wind = Weather(temperature=288.15, headwind=10.0)
    windy = replace(idle, excursion=replace(asked, weather=wind))
    speed, acceleration = middles(journey)
    steady = (speed > 4.0) & (acceleration > 0.0)
    more = coupler_force(windy)[steady] - coupler_force(idle)[steady]
    helper = build_helpers(asked)[0]
    c = asked.train.mass * C + helper.resistance[2]
    assert helper.resistance[2] > 0.2 * c  # the pusher counts beside the car
    assert more == pytest.approx(c * ((speed[steady] + 10.0) ** 2 - speed[steady] ** 2), rel=1e-6)


def test_a_pusher_that_gives_nothing_is_one_more_vehicle() -> None:
    """Its friction, its turning parts and its own resistance hang on the couplers."""
    pusher = Helper(locomotive=trials.locomotive(), place="rear")
    asked = level(made_of=cars(1), helpers=(pusher,))
    journey = run(asked)
    idle = replace(journey, helper_effort=np.zeros_like(journey.helper_effort))
    speed, acceleration = middles(journey)
    steady = (speed > 4.0) & (acceleration > 0.0)
    train, helper = asked.train, build_helpers(asked)[0]
    a, b, c = helper.resistance
    need = train.mass * (A + C * speed**2) + a + b * speed + c * speed**2 + helper.friction
    need += (train.mass + train.rotating_mass + helper.mass + helper.rotating) * acceleration
    assert helper.friction > 0.0
    assert coupler_force(idle)[steady] == pytest.approx(need[steady], rel=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_the_highest_pull_is_that_of_the_step_in_which_it_is_highest(seed: int) -> None:
    """Over sags, crests and curves, in wind from both sides, pulled and pushed."""
    random = np.random.default_rng(seed)
    pieces = [(float(random.uniform(50.0, 900.0)), float(random.uniform(-0.02, 0.03))) for _ in range(12)]
    helper = (Helper(locomotive=trials.locomotive(), place=str(random.choice(["front", "rear"]))),)
    journey = run(
        trials.excursion(
            trials.line([(2000.0, 0.0), *pieces]),
            made_of=cars(int(random.integers(1, 16))),
            weather=Weather(temperature=280.0, headwind=float(random.uniform(-12.0, 12.0))),
            helpers=helper if seed % 3 == 0 else (),
        )
    )
    pull = coupler_force(journey)
    step, highest = highest_pull(journey)
    assert highest == pytest.approx(np.max(pull), rel=1e-12)
    assert pull[step] == pytest.approx(highest, rel=1e-12)
