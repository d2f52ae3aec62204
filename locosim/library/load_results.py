"""Functions and results about loads: the largest load of an excursion, and the tonnage rating of an engine."""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter

from locosim.engine.performance import compute_performance
from locosim.engine.speed_curve import usual_speeds
from locosim.engine.tonnage_rating import USUAL_SPEEDS, Rating, RatingCar, TonnageRating, rate_tonnage
from locosim.library.quantities import Quantity, quantity
from locosim.library.table import Column, Result, column
from locosim.model import Assumptions, Excursion, Fuel, Locomotive
from locosim.planning.load import LoadQuestion, LoadRating, find_load
from locosim.planning.load_search import LargestLoad
from locosim.report.load_table import kinds_and_loads
from locosim.report.rating_table import COLUMNS as RATING_COLUMNS
from locosim.report.text.load import condition_name, headline


class LoadResult(Result[LoadRating]):
    """The largest load of an excursion: over all, by section and by condition."""

    command = "load"

    @property
    def rows(self) -> tuple[LargestLoad, ...]:
        """Every load, over all first, in SI."""
        return tuple(load for _, load in kinds_and_loads(self.content))

    @property
    def number(self) -> int | None:
        """Largest number of vehicles, or of steps of mass above empty cars; None where no load will do."""
        return self.content.whole.number

    @property
    def mass(self) -> float | None:
        """Mass behind the tender with it [kg]; None likewise."""
        return self.content.whole.mass

    @property
    def verdict(self) -> str:
        """Worst verdict that was accepted: `tight` where no load is clear."""
        return self.content.verdict

    def title(self) -> str:
        """The answer in a line."""
        return headline(self.content)

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row over all, for each section and for each condition."""
        loads = self.rows
        by_count = self.content.varied.vehicle is not None
        number = [column(self.content.varied.what, None, loads, lambda each: each.number)] if by_count else []
        return [
            Column("kind", None, [kind for kind, _ in kinds_and_loads(self.content)]),
            column("plan", None, loads, condition_name),
            *number,
            column("trailing mass", "mass", loads, lambda each: each.mass),
            column("next larger fails by", None, loads, lambda each: each.limit and each.limit.rule),
            column("where", None, loads, lambda each: each.limit and each.limit.place),
            column("margin", "ratio", loads, lambda each: each.limit and each.limit.margin),
        ]


def largest_load(
    excursion: Excursion,
    *,
    vehicle: str | None = None,
    verdict: str = "clear",
    by_mass: bool = False,
    mass_step: Quantity | None = None,
    conditions: bool = True,
) -> LoadResult:
    """Find the largest load of an excursion, by whole vehicles or by mass, and prove that the next larger fails.

    Args:
        excursion: Engine, train, route, stops and conditions.
        vehicle: Name of the vehicles whose number is varied; if omitted, the cars of which the train has most.
        verdict: Worst verdict that is accepted, `clear` or `tight`.
        by_mass: Keep the cars and vary what all of them are loaded with.
        mass_step: Step of the mass, as text with a unit or in kg; only by mass, 1 tonne if omitted.
        conditions: Whether to repeat the search by section and under other conditions.

    Raises:
        OutOfRange: No such vehicle or verdict, a step by number or not above 0, or the excursion needs something that
            its route or engine does not have.
        UnitError: A step that is not a mass.
    """
    question = LoadQuestion(
        vehicle=vehicle,
        verdict=verdict,
        by_mass=by_mass,
        mass_step=None if mass_step is None else quantity(mass_step, "kg", "mass_step"),
        conditions=conditions,
    )
    return LoadResult(find_load(excursion, question))


class RatingResult(Result[TonnageRating]):
    """Tonnage rating of an engine: a table over grade and speed."""

    command = "rating"

    @property
    def rows(self) -> tuple[Rating, ...]:
        """Ratings grade by grade, in SI."""
        return self.content.ratings

    def title(self) -> str:
        """Engine and rail."""
        return f"{self.content.performance.locomotive.name}: tonnage rating, {self.content.rail} rail"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each grade and speed."""
        named = [column(name, kind, self.rows, attrgetter(each)) for name, kind, each in RATING_COLUMNS]
        return [*named, column("limited by", None, self.rows, lambda each: each.limit)]


def tonnage_rating(
    engine: Locomotive,
    *,
    grades: Sequence[Quantity] = ("0 %", "0.5 %", "1 %", "1.5 %", "2 %", "2.5 %", "3 %"),
    speeds: Sequence[Quantity] = (),
    rail: str = "dry",
    car: RatingCar | None = None,
    fuel: Fuel | None = None,
    method: str = "cycle",
    assumptions: Assumptions = Assumptions(),
) -> RatingResult:
    """Rate an engine: trailing load by grade and speed, with the car factor of adjusted tonnage.

    Args:
        engine: The engine.
        grades: Grades with curve resistance in them, texts or rises over runs.
        speeds: Speeds to be held, texts with their unit or numbers in m/s; 10 to 35 mph, as far as the engine is
            permitted, if left out.
        rail: Rail condition, such as `dry` or `wet`.
        car: The car to rate for, a `locosim.engine.tonnage_rating.RatingCar`; a freight car if left out.
        fuel: Fuel; the engine's usual one when left out.
        method: `cycle`, from cylinders and boiler, or `handbook`, from published averages.
        assumptions: Assumed figures.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A grade, speed, rail, car, fuel or method that does not apply.
    """
    performance = compute_performance(engine, method=method, fuel=fuel, assumptions=assumptions)
    usual = usual_speeds(USUAL_SPEEDS, engine)
    rating = rate_tonnage(
        performance,
        grades=[quantity(each, "grade", "grades") for each in grades],
        speeds=[quantity(each, "m/s", "speeds") for each in speeds] or usual,
        rail=rail,
        car=car or RatingCar(),
    )
    return RatingResult(rating)
