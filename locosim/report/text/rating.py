"""The tonnage rating of an engine as text."""

from __future__ import annotations

from locosim.engine.tonnage_rating import TonnageRating
from locosim.physics.operation.tonnage import adjusted_tonnage
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import heading, with_full_supplies
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number


def rating_text(rating: TonnageRating) -> str:
    """Write the tonnage rating of an engine: loads over grade and speed, then adjusted tonnage by grade."""
    car = rating.car
    cars = (
        f"of cars of {show(car.loaded_mass, 'mass')} loaded and {show(car.empty_mass, 'mass')} empty, {car.axles} "
        f"axles, law {car.law}"
    )
    lines = [
        *heading(rating.performance),
        paragraph(
            f"Trailing load [{label('mass')}] of loaded cars by grade and speed held, {rating.rail} rail; {cars}:"
        ),
        "",
        _loads(rating),
        "",
        paragraph(
            f"At {show(rating.speeds[0], 'speed')}, with adjusted tonnage: a train may have as much as the adjusted "
            "rating, counting its mass and the car factor for each car."
        ),
        "",
        _adjusted(rating),
        "",
        paragraph(example_sentence(rating)),
        paragraph(
            f"Pull is sustained, {with_full_supplies(rating.performance.locomotive)}. Starting, wind, cold, momentum "
            "and the length of a grade are not in a rating; `load` checks a train on a line."
        ),
        *_too_large_cars(rating),
        "",
        paragraph(accuracy_text("rating", rating.performance.method, made_from(rating))),
        "",
        paragraph(CAUTION),
    ]
    return "\n".join(lines)


def _too_large_cars(rating: TonnageRating) -> list[str]:
    """A sentence where the engine does not pull one of the cars that it is rated for."""
    if rating.at(0, 0).loaded >= rating.car.loaded_mass:
        return []
    text = "The engine is too small for such cars; rate it for those of its line with `--loaded-car` and `--empty-car`."
    return [paragraph(text)]


def _loads(rating: TonnageRating) -> str:
    headers = ("grade\n" + label("grade"), *(show(speed, "speed") for speed in rating.speeds))
    rows = [
        (
            show_number(grade, "grade"),
            *(_mass(rating.at(i, k).loaded) for k in range(len(rating.speeds))),
        )
        for i, grade in enumerate(rating.grades)
    ]
    return table(headers, rows, left=0)


def _adjusted(rating: TonnageRating) -> str:
    headers = (
        "grade\n" + label("grade"),
        "pull\n" + label("force"),
        "loaded\n" + label("mass"),
        "cars",
        "empty\n" + label("mass"),
        "cars",
        "car factor\n" + label("mass"),
        "adjusted\n" + label("mass"),
        "limited by",
    )
    rows = [
        (
            show_number(each.grade, "grade"),
            show_number(max(each.pull, 0.0), "force"),
            _mass(each.loaded),
            f"{int(each.loaded / rating.car.loaded_mass):,}",
            _mass(each.empty),
            f"{int(each.empty / rating.car.empty_mass):,}",
            show_number(each.car_factor, "mass"),
            _mass(each.adjusted),
            each.limit,
        )
        for each in (rating.at(i, 0) for i in range(len(rating.grades)))
    ]
    return table(headers, rows, left=0)


def _mass(mass: float) -> str:
    return show_number(mass, "mass", 0) if mass > 0.0 else "none"


def example_sentence(rating: TonnageRating) -> str:
    """A train worked through on the grade in the middle: as many loaded as empty cars, within the adjusted rating."""
    car, each = rating.car, rating.at(len(rating.grades) // 2, 0)
    pairs = each.pairs
    if pairs < 1:
        return ""
    mass = pairs * (car.loaded_mass + car.empty_mass)
    adjusted = adjusted_tonnage(mass=mass, cars=2 * pairs, car_factor=each.car_factor)
    return (
        f"Example on {show(each.grade, 'grade')}: {pairs} loaded and {pairs} empty cars are {show(mass, 'mass')}, "
        f"adjusted {show(adjusted, 'mass')} of {show(each.adjusted, 'mass')}."
    )
