"""Driving with the least cost: exact level-track cases, brute force on small lines, and the plan on the kernel."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from locosim.journey.kernel.least_cost import Choices, drive, fill_values, move

CASES = Path(__file__).resolve().parents[1] / "published" / "least_work_level_track.csv"
BRAKE = 0.3  # of the cases [m/s²]
SPEEDS, LENGTH = 600, 25.0


def cases() -> list[dict[str, float]]:
    rows = csv.DictReader(line for line in CASES.read_text().splitlines() if not line.startswith("#"))
    return [{key: float(value) for key, value in row.items() if key != "case"} for row in rows]


def level_track(case: dict[str, float]) -> Choices:
    """Unit mass on level track, power P, resistance a + c v², brake 0.3 m/s²; cost is the work of the engine."""
    length, a, c = case["X_m"], case["a"], case["c"]
    even = np.arange(0.0, length + 1e-9, LENGTH)
    x = np.unique(
        np.concatenate([even, 200.0 * (np.arange(61) / 60) ** 3, length - 400.0 * (np.arange(21) / 20) ** 2])
    )
    x = x[np.concatenate([[True], np.diff(x) > 1e-6])]
    fastest = 1.3 * case["V_hold"]
    speed = np.linspace(0.0, fastest, SPEEDS)
    braking = (BRAKE + a) / (2.0 * c) * np.expm1(2.0 * c * (length - x))
    effort = case["P_W_per_kg"] / np.maximum(speed, 0.5 * speed[1])
    return Choices(
        length=np.diff(x),
        top=np.minimum(0.5 * fastest**2, braking),
        floor=np.zeros(len(x)),
        slope=np.zeros(len(x) - 1),
        inertia=np.ones(len(x) - 1),
        row=np.zeros(len(x) - 1, dtype=np.int8),
        speed_step=float(speed[1]),
        resistance=(a + c * speed**2)[None, :],
        effort=effort[None, :],
        rate=np.broadcast_to(case["P_W_per_kg"] * np.linspace(0.0, 1.0, 9), (1, SPEEDS, 9)).copy(),
        shut_rate=0.0,
        opening=0.0,
    )


def driven(choices: Choices, price: float) -> tuple[float, float, np.ndarray]:
    """Time, cost and v²/2 of the driving at a price of time."""
    n = len(choices.length)
    values, energies = np.zeros((2, n + 1, choices.rate.shape[1])), np.zeros(n + 1)
    fill_values(choices, price, values)
    reached, time, cost = drive(choices, price, values, energies, np.zeros(n))
    assert reached == n
    return time, cost, energies


@pytest.mark.parametrize("case", cases(), ids=["A", "B", "D"])
def test_the_work_on_level_track_is_the_exact_one_to_a_thousandth(case: dict[str, float]) -> None:
    choices = level_track(case)
    low, high = 0.2, 4.0
    for _ in range(16):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if driven(choices, middle)[0] > case["T_s"] else (low, middle)
    time, work, energies = driven(choices, high)
    assert time <= case["T_s"]
    assert work == pytest.approx(case["J_J_per_kg"], rel=1e-3)
    assert work < case["J_nocoast"]
    # The source: test the work tightly and the speed held loosely.
    assert math.sqrt(2.0 * float(energies.max())) == pytest.approx(case["V_hold"], rel=0.03)


def small_line(seed: int, opening: float = 0.0) -> Choices:
    """Six steps with random grades, a weak engine and a cost that rises faster than the effort."""
    draw = np.random.default_rng(seed)
    steps, speeds = 6, 400
    speed = np.linspace(0.0, 20.0, speeds)
    share = np.linspace(0.0, 1.0, 13)
    power = draw.uniform(0.5, 1.5)
    effort = np.minimum(0.3, power / np.maximum(speed, 0.1))
    return Choices(
        length=np.full(steps, 250.0),
        top=np.array([*np.full(steps, 150.0), 20.0]),
        floor=np.zeros(steps + 1),
        slope=draw.uniform(-0.02, 0.03, steps),
        inertia=np.ones(steps),
        row=np.zeros(steps, dtype=np.int8),
        speed_step=float(speed[1]),
        resistance=(0.01 + 5e-5 * speed**2)[None, :],
        effort=effort[None, :],
        rate=(0.1 + (effort * speed)[:, None] * (share + 0.5 * share**2))[None, :, :],
        shut_rate=0.1,
        opening=opening,
    )


def brute_force(choices: Choices, price: float, levels: int) -> float:
    """Least total cost over every sequence of shares."""
    states = {
        (0.0, True): 0.0
    }  # v²/2, and whether the throttle is open: opening it at the start costs nothing
    for i in range(len(choices.length)):
        after: dict[tuple[float, bool], float] = {}
        for (energy, was_open), total in states.items():
            for level in range(levels + 1):
                found = move(choices, i, energy, level / levels)
                if found.energy >= 0.0:
                    is_open = found.share > 0.0
                    cost = total + found.cost + price * found.time
                    cost += choices.opening if is_open and not was_open else 0.0
                    state = (found.energy, is_open)
                    after[state] = min(after.get(state, math.inf), cost)
        states = after
    return min(states.values())


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("price", [0.05, 0.5, 3.0])
@pytest.mark.parametrize("opening", [0.0, 8.0])
def test_small_lines_are_driven_as_by_brute_force(seed: int, price: float, opening: float) -> None:
    choices = small_line(seed, opening)
    time, cost, _ = driven(choices, price)
    # Brute force has four shares, and the plan any: it may be a little better, and must not be worse.
    best = brute_force(choices, price, 4)
    assert cost + price * time <= 1.002 * best
    assert cost + price * time >= 0.93 * best


def openings(choices: Choices, price: float) -> int:
    """How often the throttle is opened after the start."""
    n = len(choices.length)
    values, shares = np.zeros((2, n + 1, choices.rate.shape[1])), np.zeros(n)
    fill_values(choices, price, values)
    drive(choices, price, values, np.zeros(n + 1), shares)
    return int(np.sum((shares[1:] > 0.0) & (shares[:-1] <= 0.0)))


def test_a_dearer_opening_means_fewer_openings() -> None:
    case = cases()[0]
    track = level_track(case)
    # Cost with a part that does not depend on the effort: steam and shut off in turn is then the cheapest.
    wasteful = track._replace(rate=track.rate + 0.3 * case["P_W_per_kg"])
    counts = [openings(wasteful._replace(opening=opening), 0.6) for opening in (0.0, 20.0, 1e6)]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > 10
    assert counts[2] <= 1


def test_a_higher_price_of_time_is_never_slower_and_never_cheaper() -> None:
    choices = level_track(cases()[0])
    found = [driven(choices, price)[:2] for price in (0.2, 0.6, 2.0)]
    assert [time for time, _ in found] == sorted((time for time, _ in found), reverse=True)
    assert [cost for _, cost in found] == sorted(cost for _, cost in found)
