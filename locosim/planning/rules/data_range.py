"""Rule of data: published laws used outside the range of their data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from locosim.constants import POUND_FORCE, SHORT_TON
from locosim.engine.boiler.front_end import front_end, vacuum_ratio
from locosim.engine.own_resistance import full_tender_load
from locosim.journey.kernel.arrays import MAP_END
from locosim.journey.result import Journey
from locosim.model import Excursion
from locosim.physics.resistance.air import standard_pressure_ratio
from locosim.physics.resistance.laws import PUBLISHED_RANGES
from locosim.planning.finding import (
    WHOLE_LINE,
    Comparison,
    Explanation,
    Finding,
    Location,
    VerdictScale,
    at_least,
    at_most,
    judge,
)
from locosim.planning.rules.braking import MAX_BRAKE_DATA_SPEED

OUTSIDE_DATA = VerdictScale(note=True)  # the result may be right, but nobody measured it
HELD_BY_THE_MAP = VerdictScale(
    tight_margin=1e-3, note=True
)  # the run reaches the last speed of the map, never beyond


def data_range(journey: Journey) -> list[Finding]:
    """Vehicles and speeds outside the range that their resistance law or the brake-shoe data were published for."""
    fastest = float(np.max(journey.speed))
    found = [*_law_findings(journey.excursion, fastest), *_thin_air_findings(journey)]
    if np.any(journey.limit == MAP_END):
        explanation = Explanation(
            because="the train could run faster, but the performance map of the engine ends at this speed",
            remedy="give the engine's max_speed, the crew's, or a limit of the line",
        )
        compared = at_most(fastest, journey.performance.map.max_speed, "speed")
        found.append(judge("data range", compared, WHOLE_LINE, HELD_BY_THE_MAP, explanation))
    if fastest > MAX_BRAKE_DATA_SPEED:
        explanation = Explanation(
            because="the data on brake-shoe friction end below this speed; stops are longer than computed",
            remedy="run slower, or prove the brakes by test",
        )
        compared = at_most(fastest, MAX_BRAKE_DATA_SPEED, "speed")
        found.append(judge("data range", compared, WHOLE_LINE, OUTSIDE_DATA, explanation))
    return found


EXAMPLE_RESISTANCE = 4.0 * POUND_FORCE / SHORT_TON  # of a car on level track, for the example of a key [N/kg]
GROWS = ", below which its term in 1 over the axle load grows without limit"


class _Carried(NamedTuple):
    """What a law of resistance is used for."""

    name: str
    law: str
    axle_load: float  # [kg]
    mass: float  # [kg]
    remedy: str


def _law_findings(excursion: Excursion, fastest: float) -> list[Finding]:
    """Figures that a resistance law was not published for, each once for a law: where it is farthest from them."""
    worst: dict[tuple[str, str], tuple[Comparison, _Carried]] = {}
    for carried in _carried(excursion):
        for figure, each in _compared(carried, fastest):
            before = worst.get((carried.law, figure))
            if each.margin < 0.0 and (before is None or each.margin < before[0].margin):
                worst[carried.law, figure] = (each, carried)
    return [
        judge(
            "data range",
            each,
            Location(carried.name, None),
            OUTSIDE_DATA,
            Explanation(
                because=f"the resistance law {law} was not published for this {figure}"
                f"{GROWS if figure == 'axle load' else ''}; {carried.remedy}",
                remedy=carried.remedy,
                facts={"example": (EXAMPLE_RESISTANCE, "specific_resistance")},
            ),
        )
        for (law, figure), (each, carried) in worst.items()
    ]


def _carried(excursion: Excursion) -> Iterator[_Carried]:
    """The axles of engine and tender that the law of locomotives serves, with full supplies, and the vehicles."""
    engine = excursion.locomotive
    axles = engine.truck_axles + engine.tender.axles
    if axles > 0 and engine.carrying_resistance is None:
        mass = engine.mass - engine.mass_on_drivers + engine.tender.empty_mass + full_tender_load(engine)
        yield _Carried(
            name=engine.name,
            law="davis_1926_locomotive",
            axle_load=mass / axles,
            mass=mass,
            remedy='write a measured one in the engine file, as carrying_resistance.a = "{example}", or allow '
            "for the doubt (assumptions.resistance_factor)",
        )
    for vehicle in excursion.train.vehicles:
        yield _Carried(
            name=vehicle.name,
            law=vehicle.resistance_law,
            axle_load=vehicle.axle_load,
            mass=vehicle.mass,
            remedy='choose another law, or write a measured one: resistance_law = "custom" and '
            'custom_resistance.a = "{example}"',
        )


def _compared(carried: _Carried, fastest: float) -> tuple[tuple[str, Comparison], ...]:
    """Each figure of the published range of a law with that of its use."""
    known = PUBLISHED_RANGES.get(carried.law)
    if known is None:
        return ()
    return (
        ("axle load", at_least(carried.axle_load, known.min_axle_load, "mass")),
        ("mass", at_least(carried.mass, known.min_mass, "mass")),
        ("mass", at_most(carried.mass, known.max_mass, "mass")),
        ("speed", at_most(fastest, known.max_published_speed, "speed")),
    )


def _thin_air_findings(journey: Journey) -> list[Finding]:
    """Draft that the fire requires in the air of a line above the sea, where it is more than the front end raises."""
    excursion, performance = journey.excursion, journey.performance
    if excursion.route.altitude <= 0.0 or performance.supply.draft is None:
        return []
    end = front_end(performance.locomotive, performance.supply, performance.assumptions)
    thin = standard_pressure_ratio(altitude=excursion.route.altitude)
    # Drop of pressure in the tubes: in proportion to the volume of the gas, so to the inverse of the air pressure.
    explanation = Explanation(
        because="draft at the front-end limit, as a share of the back pressure: at {altitude} the air has {thin} of "
        "its pressure at sea level, and the gas of the same fire needs that much more draft; the steam supply was "
        "computed without it",
        remedy="allow for less steam (crew.steam_allowance), or improve the front end",
        facts={"altitude": (excursion.route.altitude, "length"), "thin": (thin, "ratio")},
    )
    compared = at_most(end.required_ratio / thin, vacuum_ratio(performance.locomotive), "ratio")
    found = judge("thin air", compared, WHOLE_LINE, OUTSIDE_DATA, explanation)
    return [found] if compared.margin < 0.0 else []
