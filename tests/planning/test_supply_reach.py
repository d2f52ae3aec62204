"""Fewest fillings by shortest path, against every choice tried, and against a published spacing."""

from __future__ import annotations

import random
from itertools import combinations

import pytest

from locosim.planning.supply_reach import Reach, Tank


def random_reach(seed: int) -> Reach:
    drawn = random.Random(seed)
    count = drawn.randint(0, 8)
    tanks = []
    for _ in range(drawn.randint(1, 2)):
        steps = [drawn.choice([0.0, drawn.random(), 3.0 * drawn.random()]) for _ in range(count + 1)]
        full = 1.0 + 4.0 * drawn.random()
        tanks.append(
            Tank(
                first=full * drawn.random(),
                full=full,
                used=tuple(sum(steps[: k + 1]) for k in range(count + 1)),
                offered=tuple(drawn.random() < 0.75 for _ in range(count)),
            )
        )
    return Reach(tanks=tuple(tanks))


def lasts(tank: Tank, chosen: tuple[int, ...]) -> bool:
    """Emptied leg by leg, filled where chosen; no call of the code under test."""
    left, before = tank.first, 0.0
    for place, used in enumerate(tank.used):
        left, before = left - (used - before), used
        filled = place in chosen and place < len(tank.offered) and tank.offered[place]
        if (filled or place == len(tank.used) - 1) and left < -1e-9:
            return False
        if filled:
            left = tank.full
    return True


@pytest.mark.parametrize("batch", range(10))
def test_the_fewest_stops_and_every_choice_of_them_are_those_of_all_choices_tried(batch: int) -> None:
    needed = set()
    for seed in range(100 * batch, 100 * batch + 100):
        reach = random_reach(seed)
        by_size = {
            size: [
                chosen
                for chosen in combinations(range(reach.count), size)
                if all(lasts(tank, chosen) for tank in reach.tanks)
            ]
            for size in range(reach.count + 1)
        }
        fewest = next((size for size, found in by_size.items() if found), None)
        assert reach.fewest() == fewest
        needed.add(fewest)
        for size, found in by_size.items():
            assert sorted(reach.choices(size)) == found
            assert reach.number(size) == len(found)
            for chosen in combinations(range(reach.count), size):
                filled = [[k for k in chosen if tank.offered[k]] for tank in reach.tanks]
                assert reach.suffices(filled) == (chosen in found)
    assert {None, 0, 1, 2} <= needed


def test_a_smaller_tank_never_needs_fewer_stops() -> None:
    for seed in range(300):
        reach = random_reach(seed)
        tank = reach.tanks[0]
        smaller = Reach(
            tanks=(
                Tank(first=0.9 * tank.first, full=0.9 * tank.full, used=tank.used, offered=tank.offered),
                *reach.tanks[1:],
            )
        )
        before, after = reach.fewest(), smaller.fewest()
        assert after is None or (before is not None and after >= before)


def test_forty_places_are_no_more_than_the_recursion_bears() -> None:
    used = tuple(float(k + 1) for k in range(41))
    tank = Tank(first=4.5, full=4.5, used=used, offered=(True,) * 40)
    reach = Reach(tanks=(tank, Tank(first=9.5, full=9.5, used=used, offered=(True, False) * 20)))
    assert reach.fewest() == 10


def test_water_stations_at_the_spacing_published_in_1914_are_just_enough() -> None:
    # [Glaser1914]: 8 m³ for use of a 10 m³ tender with 2 m³ in reserve, 0.16 m³/km,
    # so 50 km from station to station, and 25 km where one out of use must be passed.
    def reach(spacing: float, length: float) -> Reach:
        places = [spacing * (k + 1) for k in range(round(length / spacing) - 1)]
        used = tuple(0.16 * at for at in (*places, length))
        return Reach(tanks=(Tank(first=8.0, full=8.0, used=used, offered=(True,) * len(places)),))

    assert reach(50.0, 200.0).fewest() == 3  # each one
    assert reach(50.5, 202.0).fewest() is None
    quarter = reach(25.0, 200.0)
    assert quarter.fewest() == 3
    for out in range(7):
        tank = quarter.tanks[0]
        offered = tuple(place != out for place in range(7))
        without = Reach(tanks=(Tank(first=8.0, full=8.0, used=tank.used, offered=offered),))
        assert without.fewest() is not None
