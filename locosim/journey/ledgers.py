"""Books of energy, heat, water and fuel, closed after every run."""

from __future__ import annotations

from dataclasses import dataclass

from locosim.journey.kernel import arrays as r
from locosim.journey.kernel.arrays import InitialState, RunArrays

CLOSURE_TOLERANCE = 1e-9  # residual allowed, relative to throughput


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """What came in, what went out and what is stored, of one thing.

    Attributes:
        name: What is booked, with its unit.
        entries: Each item and its amount; positive came in, negative went out.
        stored: Growth of what is stored.
        residual: Entries less growth, relative to throughput.
    """

    name: str
    entries: tuple[tuple[str, float], ...]
    stored: float
    residual: float


def close_ledger(name: str, stored: float, entries: dict[str, float], initial: float = 0.0) -> Ledger:
    """Close one book.

    Args:
        name: What is booked.
        stored: Growth of what is stored.
        entries: Item and amount.
        initial: Size of what is stored, which sets the grain of the arithmetic beside the throughput.
    """
    throughput = sum(abs(amount) for amount in entries.values()) + abs(stored) + abs(initial)
    residual = (sum(entries.values()) - stored) / throughput if throughput > 0.0 else 0.0
    return Ledger(name=name, entries=tuple(entries.items()), stored=stored, residual=residual)


def close_ledgers(arrays: RunArrays, start: InitialState, *, transient: bool) -> tuple[Ledger, ...]:
    """Close all books of a run.

    Args:
        arrays: What happened.
        start: State before the run.
        transient: Whether the boiler's state was carried along.

    Raises:
        ArithmeticError: When a book does not close to 1e-9 of its throughput; that is a fault of locosim.
    """
    sums, last = arrays.sums, arrays.last_node
    water = arrays.nodes[r.BOILER_WATER, last] - start.water if transient else 0.0
    ledgers = [
        close_ledger(
            "train energy [J]",
            arrays.final_energy,
            {
                "engine": sums[r.INDICATED_WORK],
                "helper engines": sums[r.HELPER_WORK],
                "machine friction": -sums[r.FRICTION_WORK],
                "running resistance": -sums[r.RESISTANCE_WORK],
                "curves": -sums[r.CURVE_WORK],
                "gravity": -sums[r.GRAVITY_WORK],
                "brakes": -sums[r.BRAKE_WORK],
                "carried off by used water and fuel": -sums[r.USED_SUPPLIES_ENERGY],
            },
        ),
        close_ledger(
            "water [kg]",
            arrays.nodes[r.WATER_ON_DEPARTURE, last] - start.tender_water + water,
            {
                "taken en route": sums[r.WATER_TAKEN],
                "steam to the cylinders": -sums[r.CYLINDER_STEAM],
                "steam to auxiliaries": -sums[r.AUXILIARY_STEAM],
                "safety valves": -sums[r.SAFETY_VALVE_STEAM],
                "exhaust steam returned to the boiler, less pump steam": sums[r.RETURNED_EXHAUST],
            },
            start.tender_water,
        ),
        close_ledger(
            "fuel [kg]",
            arrays.nodes[r.FUEL_ON_DEPARTURE, last] - start.tender_fuel,
            {"taken en route": sums[r.FUEL_TAKEN], "burned": -sums[r.FUEL_BURNED]},
            start.tender_fuel,
        ),
    ]
    if transient:
        ledgers += [
            close_ledger(
                "boiler heat [J]",
                arrays.final_heat - arrays.initial_heat,
                {
                    "fire": sums[r.FIRE_HEAT],
                    "feed": sums[r.FEED_HEAT],
                    "steam": -sums[r.HEAT_IN_STEAM],
                    "standing losses": -sums[r.RADIATION_LOSS],
                },
                arrays.initial_heat,
            ),
            close_ledger(
                "boiler water [kg]",
                water,
                {
                    "feed": sums[r.FEED_WATER],
                    "steam": -(sums[r.CYLINDER_STEAM] + sums[r.AUXILIARY_STEAM] + sums[r.SAFETY_VALVE_STEAM]),
                },
                start.water,
            ),
        ]
    for ledger in ledgers:
        if not abs(ledger.residual) <= CLOSURE_TOLERANCE:
            raise ArithmeticError(
                f"account of {ledger.name} is open by {ledger.residual:.2e} of its throughput"
            )
    return tuple(ledgers)
