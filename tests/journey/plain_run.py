"""Run a short journey and write its arrays to a file: for the comparison of compiled and plain runs."""

from __future__ import annotations

import sys

import numpy as np
import trials

from locosim import compiled
from locosim.journey.run import run_journey
from locosim.model import Stop


def main(target: str) -> None:
    """Run a hill with a stop, boiler alive, and keep what happened."""
    route = trials.line([(800.0, 0.0), (1500.0, 0.012), (900.0, -0.01), (800.0, 0.002)], stops=(2500.0,))
    asked = trials.excursion(
        route, stops=(Stop(station="A"), Stop(station="B", take_water="fill"), Stop(station="C"))
    )
    journey = run_journey(asked, trials.performance(asked), transient_boiler=True)
    names = ("time", "speed", "pressure", "boiler_water", "firing", "tender_water", "tender_fuel")
    steps = ("effort", "total_resistance", "brake", "cutoff", "steam", "feed", "limit")
    np.savez(
        target,
        compiled=compiled.available,
        **{name: getattr(journey, name) for name in (*names, *steps)},
    )


if __name__ == "__main__":
    main(sys.argv[1])
