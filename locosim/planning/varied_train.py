"""A train of which one thing is varied: how many vehicles of a kind it has, or what its cars are loaded with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from locosim.errors import Fault, OutOfRange, suggestion
from locosim.frozen import frozen
from locosim.model import Train, Vehicle

MAX_VEHICLES = 300  # identical vehicles in a row that a train file may have
MAX_MASS = 2e7  # trailing mass that is tried; no train was ever heavier [kg]
MASS_STEP = 1000.0  # [kg]
NOT_CARS = ("water_car", "diesel")


def is_car(vehicle: Vehicle) -> bool:
    """Whether a vehicle carries traffic: not an auxiliary water car or a dead diesel."""
    return vehicle.kind not in NOT_CARS


@frozen
class VariedTrain:
    """A train by the number of its vehicles of one kind, or of steps of trailing mass.

    By mass the cars stay, and each is loaded with as much more or less than in the file, down to empty.

    Attributes:
        train: The train as described.
        vehicle: Index of the vehicles whose number is varied; None where the mass is.
        step: Step of the mass [kg].
    """

    train: Train
    vehicle: int | None = None
    step: float = MASS_STEP

    @property
    def what(self) -> str:
        """Name of what is varied: the vehicle, or `trailing mass`."""
        return "trailing mass" if self.vehicle is None else self.train.vehicles[self.vehicle].name

    @property
    def as_described(self) -> int:
        """Number with which the train comes nearest to its description."""
        if self.vehicle is not None:
            return self.train.vehicles[self.vehicle].count
        return max(int((self.train.mass - self._least_mass) / self.step + 1e-9), 0)

    @property
    def max_number(self) -> int:
        """Largest number that is tried."""
        return MAX_VEHICLES if self.vehicle is not None else int((MAX_MASS - self._least_mass) / self.step)

    @property
    def _least_mass(self) -> float:
        """Trailing mass with all cars empty [kg]."""
        return self.train.mass - sum(v.load * v.count for v in self.train.vehicles if is_car(v))

    def at(self, number: int) -> Train:
        """The train by its number, from 0.

        Raises:
            OutOfRange: A train that a file may not describe.
        """
        if self.vehicle is None:
            return self._with_mass(self._least_mass + number * self.step)
        vehicles = list(self.train.vehicles)
        varied = vehicles[self.vehicle]
        vehicles[self.vehicle : self.vehicle + 1] = [replace(varied, count=number)] if number else []
        return replace(self.train, vehicles=tuple(vehicles))

    def _with_mass(self, mass: float) -> Train:
        """The train with each car loaded so much more, or less down to empty, that it has a mass [kg]."""
        cars = sorted((v for v in self.train.vehicles if is_car(v)), key=lambda v: v.load)
        change = mass - self.train.mass
        count = sum(v.count for v in cars)
        added = change / count
        for car in cars:  # those that are empty first take no further part
            if car.load + added >= 0.0:
                break
            change += car.load * car.count
            count -= car.count
            added = change / count if count else 0.0
        vehicles = tuple(
            replace(v, load=max(v.load + added, 0.0)) if is_car(v) else v for v in self.train.vehicles
        )
        return replace(self.train, vehicles=vehicles)


def varied_train(
    train: Train, *, vehicle: str | None = None, by_mass: bool = False, step: float | None = None
) -> VariedTrain:
    """Choose what of a train is varied.

    Args:
        train: The train.
        vehicle: Name of the vehicles whose number is varied; if omitted, the cars of which it has most.
        by_mass: Vary the load of all cars instead.
        step: Step of the mass [kg]; if omitted, `MASS_STEP`.

    Raises:
        OutOfRange: No such vehicle, no vehicle at all, a vehicle by mass, a step of mass by number, or a step that is
            not above 0.
    """
    if step is not None and not by_mass:
        text = "has no effect where the number of vehicles is varied; vary the mass, or leave it out"
        raise OutOfRange.by([Fault("mass_step", text)])
    step = MASS_STEP if step is None else step
    if by_mass and vehicle is not None:
        text = "{found!r} has no effect where the mass of all cars is varied; leave out one of the two"
        raise OutOfRange.by([Fault("vehicle", text.format(found=vehicle))])
    cars = [v for v in train.vehicles if is_car(v)]
    if not (train.vehicles if vehicle else cars):
        raise OutOfRange(f"train {train.name!r} has no cars, so there is no load to vary; add [[vehicles]]")
    if by_mass:
        if not 1.0 <= step <= 1e6:
            figures = {"least": 1.0, "most": 1e6, "found": step}
            raise OutOfRange.by(
                [Fault("mass_step", "must be between {least} and {most}, found {found}", "kg", figures)]
            )
        return VariedTrain(train=train, step=step)
    names = [v.name for v in train.vehicles]
    if vehicle is None:
        most = max(cars, key=lambda v: v.count)
        return VariedTrain(train=train, vehicle=train.vehicles.index(most))
    if vehicle not in names:
        raise OutOfRange.by([Fault("vehicle", f"{vehicle!r} is not in the train; {_advice(vehicle, names)}")])
    return VariedTrain(train=train, vehicle=names.index(vehicle))


def _advice(vehicle: str, names: Sequence[str]) -> str:
    return suggestion(vehicle, list(dict.fromkeys(names)))
