"""Machine friction between indicated and drawbar power: two laws against every published pair at hand."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from locosim.constants import HORSEPOWER, INCH, MPH, POUND_FORCE, PSI
from locosim.engine.own_resistance import engine_resistance_at_speed, machine_friction_at_no_effort
from locosim.model import Assumptions, Locomotive
from locosim.physics.traction import machine_friction
from locosim.physics.traction.tractive_effort import effort_per_pressure

from .comparison import Grid, Section
from .engines import engine
from .tables import measured

ROAD = ("nyc_j1", "nyc_j3a", "lms_coronation")
LMS_SPEED = 69.0  # [mph], assumed: that of the later run


class Pair(NamedTuple):
    """Indicated and drawbar figure of one engine, SI, and the computed drawbar figures."""

    name: str
    indicated: float  # [W]
    drawbar: float  # [W]
    speed: float  # [m/s]
    by_law: float  # drawbar power by weight and thrust [W]
    by_weight: float  # by the older law of weight alone [W]
    by_law_there: float | None  # by weight and thrust at the speed of the indicated power [W]


def losses(locomotive: Locomotive, effort: float) -> tuple[float, float]:
    """Machine friction by weight and thrust, and by weight alone [N]."""
    return (
        machine_friction.machine_friction(
            at_no_effort=machine_friction_at_no_effort(locomotive),
            thrust_share=Assumptions().machine_friction_share,
            effort=effort,
        ),
        machine_friction.cole_1914(mass_on_drivers=locomotive.mass_on_drivers),
    )


def road_pairs() -> Iterator[Pair]:
    """Engines with both powers published, at the speed of the drawbar power."""
    for name in ROAD:
        locomotive = engine(name).locomotive
        indicated = next(row for row in measured("indicated power") if row["engine"] == name)
        drawbar = next(row for row in measured("drawbar power") if row["engine"] == name)
        speed = float(drawbar["speed_mph"] or LMS_SPEED) * MPH
        power = float(indicated["value"]) * HORSEPOWER
        by_law, by_weight = _left(locomotive, power, speed)
        there = float(indicated["speed_mph"]) * MPH if indicated["speed_mph"] else None
        yield Pair(
            locomotive.name, power, float(drawbar["value"]) * HORSEPOWER, speed, by_law, by_weight,
            None if there is None else _left(locomotive, power, there)[0],
        )  # fmt: skip


def _left(locomotive: Locomotive, power: float, speed: float) -> list[float]:
    """Drawbar power left of an indicated power by either law [W]."""
    own = engine_resistance_at_speed(locomotive, speed)
    return [power - (loss + own) * speed for loss in losses(locomotive, power / speed)]


def plant_pairs() -> Iterator[Pair]:
    """The Purdue tests with mean pressure and drawbar pull: no carrying wheels, no air."""
    locomotive = engine("purdue_saturated").locomotive
    per_pressure = float(effort_per_pressure(bore=16 * INCH, stroke=24 * INCH, driver_diameter=69 * INCH))
    for name, mph, mep_psi, pull in (("30-15-120", 31.2, 74.04, 5288.0), ("30-16-120", 30.0, 75.42, 6137.0)):
        effort, speed = mep_psi * PSI * per_pressure, mph * MPH
        by_law, by_weight = ((effort - loss) * speed for loss in losses(locomotive, effort))
        yield Pair(
            f"Purdue, test {name}, on the plant",
            effort * speed, pull * POUND_FORCE * speed, speed, by_law, by_weight, None,
        )  # fmt: skip


@lru_cache
def friction_pairs() -> Section:
    """Each pair with the drawbar power that either law gives from the published indicated power."""
    pairs = [*road_pairs(), *plant_pairs()]
    rows = tuple(
        (
            pair.name,
            f"{pair.speed / MPH:.0f} mph",
            f"{pair.indicated / HORSEPOWER:,.0f} hp",
            f"{pair.drawbar / HORSEPOWER:,.0f} hp",
            *(
                f"{power / HORSEPOWER:,.0f} hp ({100 * (power / pair.drawbar - 1):+.1f} %)"
                for power in (pair.by_law, pair.by_weight)
            ),
            "" if pair.by_law_there is None else f"{pair.by_law_there / HORSEPOWER:,.0f} hp",
        )
        for pair in pairs
    )
    errors = [
        np.sqrt(np.mean([(getattr(pair, law) / pair.drawbar - 1) ** 2 for pair in pairs]))
        for law in ("by_law", "by_weight")
    ]
    nearer = sum(abs(p.by_law - p.drawbar) < abs(p.by_weight - p.drawbar) for p in pairs)
    heads = (
        "pair", "speed", "indicated, published", "drawbar, published", "drawbar by weight and thrust",
        "drawbar by weight alone", "by weight and thrust, at the speed of the indicated power",
    )  # fmt: skip
    return Section(
        title="Machine friction: indicated against drawbar power",
        text=(
            "Published indicated power less machine friction and, on the road, the resistance of engine and tender by "
            "[Davis1926], at the speed of the published drawbar power. The two maxima of an engine are of different "
            "runs and speeds. Two laws of friction: the one locosim uses, by weight and thrust; and 22.2 lb per short "
            "ton on drivers at any effort [Cole1914], the older one. None of these pairs was used in a fit: the two "
            "coefficients of the law are chosen by hand.",
        ),
        grids=(Grid(heads=heads, rows=rows),),
        after=(
            f"Root mean square of the errors: {100 * errors[0]:.1f} % by weight and thrust, {100 * errors[1]:.1f} % by "
            f"weight alone; the law by weight and thrust is nearer in {nearer} of {len(pairs)} pairs. **These pairs do "
            "not decide between the two laws:** the two New York Central pairs favor weight alone, the more so at the "
            "speed of the indicated power, and the two Purdue tests differ from each other by more than the laws do. "
            "The law by weight and thrust is kept for its form [Bourne1865]; the laws differ most where no pair is at "
            "hand, at light work and at starting.",
        ),
    )
