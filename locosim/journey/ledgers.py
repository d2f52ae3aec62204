"""Books of energy, heat, water and fuel, closed after every run."""

from __future__ import annotations

from dataclasses import dataclass

from locosim.journey.kernel import arrays as r
from locosim.journey.kernel.arrays import Course, Start

CLOSED = 1e-9  # residual allowed, relative to throughput


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


def ledger(name: str, stored: float, entries: dict[str, float], held: float = 0.0) -> Ledger:
    """Close one book.

    Args:
        name: What is booked.
        stored: Growth of what is stored.
        entries: Item and amount.
        held: Size of what is stored, which sets the grain of the arithmetic beside the throughput.
    """
    throughput = sum(abs(amount) for amount in entries.values()) + abs(stored) + abs(held)
    residual = (sum(entries.values()) - stored) / throughput if throughput > 0.0 else 0.0
    return Ledger(name=name, entries=tuple(entries.items()), stored=stored, residual=residual)


def close_ledgers(course: Course, start: Start, *, live: bool) -> tuple[Ledger, ...]:
    """Close all books of a run.

    Args:
        course: What happened.
        start: State before the run.
        live: Whether the boiler's state was carried along.

    Raises:
        ArithmeticError: When a book does not close to 1e-9 of its throughput; that is a fault of locosim.
    """
    sums, last = course.sums, course.reached
    water = course.nodes[r.BOILER_WATER, last] - start.water if live else 0.0
    books = [
        ledger(
            "energy of the train [J]",
            course.energy_last,
            {
                "engine": sums[r.PULL_WORK],
                "assisting engines": sums[r.ASSIST_WORK],
                "machine friction": -sums[r.FRICTION_WORK],
                "running resistance": -sums[r.RESISTANCE_WORK],
                "curves": -sums[r.CURVE_WORK],
                "gravity": -sums[r.GRAVITY_WORK],
                "brakes": -sums[r.BRAKE_WORK],
                "carried off by water and fuel": -sums[r.SHED_ENERGY],
            },
        ),
        ledger(
            "water [kg]",
            course.nodes[r.WATER_OUT, last] - start.tender_water + water,
            {
                "taken on the way": sums[r.WATER_TAKEN],
                "steam to the cylinders": -sums[r.CYLINDER_STEAM],
                "steam to auxiliaries": -sums[r.AUXILIARY_STEAM],
                "safety valves": -sums[r.SAFETY_STEAM],
                "exhaust steam fed back, less the steam of pumps": sums[r.FED_BACK],
            },
            start.tender_water,
        ),
        ledger(
            "fuel [kg]",
            course.nodes[r.FUEL_OUT, last] - start.tender_fuel,
            {"taken on the way": sums[r.FUEL_TAKEN], "burnt": -sums[r.FUEL_BURNT]},
            start.tender_fuel,
        ),
    ]
    if live:
        books += [
            ledger(
                "heat of the boiler [J]",
                course.heat_last - course.heat_first,
                {
                    "fire": sums[r.FIRE_HEAT],
                    "feed": sums[r.FEED_HEAT],
                    "steam": -sums[r.STEAM_HEAT],
                    "standing losses": -sums[r.LOST_HEAT],
                },
                course.heat_first,
            ),
            ledger(
                "water of the boiler [kg]",
                water,
                {
                    "feed": sums[r.FEED_WATER],
                    "steam": -(sums[r.CYLINDER_STEAM] + sums[r.AUXILIARY_STEAM] + sums[r.SAFETY_STEAM]),
                },
                start.water,
            ),
        ]
    for book in books:
        if not abs(book.residual) <= CLOSED:
            raise ArithmeticError(f"ledger of {book.name} is open by {book.residual:.2e} of its throughput")
    return tuple(books)
