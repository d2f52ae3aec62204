"""Recovery shared among the sections of a timetable: in proportion to running time, or where it saves most fuel."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import ARRIVED
from locosim.journey.setup.easing import SectionDriving, build_section
from locosim.journey.setup.prepare import prepare
from locosim.journey.timetable import SectionSearch, state_on_arrival
from locosim.model import Excursion
from locosim.physics.types import Floats

SAME_FUEL = 1e-7  # of the fuel of a section, for a step away from shares that are as good


def shared_evenly(running: Sequence[float], steps: int) -> tuple[int, ...]:
    """Share steps of recovery in proportion to running times, by the largest remainder.

    Args:
        running: Least running time of each section [s].
        steps: Steps of recovery to share.

    Returns:
        Steps of each section; their sum is `steps`.
    """
    exact = np.array(running) * steps / sum(running)
    shares = np.floor(exact + 1e-9).astype(int)
    largest = np.argsort(-(exact - shares), kind="stable")
    shares[largest[: steps - int(shares.sum())]] += 1
    return tuple(int(share) for share in shares)


def least_fuel_shares(fuel: Floats, steps: int, near: Sequence[int]) -> tuple[int, ...]:
    """Share steps of recovery so that the fuel is least, by exact search (dynamic programming over the sections).

    Args:
        fuel: Fuel of each section with 0, 1, 2 ... steps of recovery, shape (sections, steps + 1) [kg].
        steps: Steps of recovery to share.
        near: Shares to stay near to where it makes no difference to the fuel.

    Returns:
        Steps of each section; their sum is `steps`.
    """
    best = np.full(steps + 1, np.inf)
    best[0] = 0.0
    choices = []
    for row, wished in zip(fuel, near, strict=True):
        cost = row + SAME_FUEL * abs(row[0]) * (np.arange(steps + 1) - wished) ** 2
        # totals[k, e]: k steps in all, e of them in this section.
        totals = np.full((steps + 1, steps + 1), np.inf)
        for given in range(steps + 1):
            totals[given:, given] = best[: steps + 1 - given] + cost[given]
        choices.append(np.argmin(totals, axis=1))
        best = np.min(totals, axis=1)
    shares, left = [], steps
    for choice in reversed(choices):
        shares.append(int(choice[left]))
        left -= shares[-1]
    return tuple(reversed(shares))


def fuel_by_recovery(excursion: Excursion, performance: Performance, *, steps: int, step: float) -> Floats:
    """Fuel of each section with 0, 1, 2 ... steps of recovery, driven as a booked run is, with constant pressure.

    Args:
        excursion: The excursion booked in the least times, an arrival at every stop.
        performance: Performance of its engine.
        steps: Most steps of recovery.
        step: A step [s].

    Returns:
        Fuel burned in the section and at the stops at its ends, shape (sections, steps + 1) [kg].
    """
    prepared = prepare(excursion, performance)
    start = prepared.start
    table = np.zeros((len(excursion.stops) - 1, steps + 1))
    for number in range(len(excursion.stops) - 1):
        booked = excursion.stops[number + 1].arrive
        assert booked is not None
        first, last = prepared.stop_nodes[number : number + 2]
        search = SectionSearch(prepared, build_section(prepared, first, last, start), start)
        departure = search.departure
        driving: SectionDriving | None = None
        for count in range(steps + 1):
            # The engineer keeps the share of the running time that his crew keeps in hand.
            running = booked + count * step - departure
            driving = search.most_eased(departure + (1.0 - excursion.crew.recovery) * running, driving)
            # A train that needs less than its booked time waits at the stop for its departure, and burns fuel there.
            table[number, count] = search.fuel_until_departure(driving.ease, count * step)
        arrays = search.run(0.0)
        if arrays.status != ARRIVED:
            break
        start = state_on_arrival(start, arrays)
    return table
