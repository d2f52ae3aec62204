"""Tables of published figures of engines, read from tests/published/engines."""

from __future__ import annotations

import csv
from functools import lru_cache

from locosim.model import Auxiliaries, Boiler, Cylinders, EngineUnit, Locomotive, Superheater, Tender

from .engines import FOLDER

FIREBOX_SHARE = 0.075  # of the evaporating surface where none is printed; assumed
SUPERHEATER_SHARE = 0.35  # of the evaporating surface where none is printed; assumed
MASS_PER_AXLE = 18e3  # [kg] on a driving axle where none is printed; assumed, affects no indicated figure


def rows_of(name: str) -> list[dict[str, str]]:
    """Rows of a CSV file in the folder of engines."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def measured(quantity: str) -> list[dict[str, str]]:
    """Rows of the measured figures of one quantity."""
    return [row for row in rows_of("measured") if row["quantity"] == quantity]


@lru_cache
def german_classes() -> tuple[tuple[dict[str, str], Locomotive], ...]:
    """The German classes, each with its printed row."""
    return tuple((row, german_class(row)) for row in rows_of("german_classes"))


def german_class(row: dict[str, str]) -> Locomotive:
    """One German class; figures not printed are assumed by the constants above."""

    def printed(key: str) -> float | None:
        return float(row[key]) if row[key] else None

    evaporating = float(row["evaporating_m2"])
    firebox = printed("firebox_m2") or FIREBOX_SHARE * evaporating
    coupled = int(row["wheels"].split("-")[1]) // 2
    adhesive = 1000.0 * (printed("adhesive_t") or 0.0) or MASS_PER_AXLE * coupled
    unit = EngineUnit(
        driver_diameter=float(row["driver_mm"]) / 1000,
        driving_axles=coupled,
        mass_on_drivers=adhesive,
        cylinders=(
            Cylinders(
                number=int(row["cylinders"]),
                bore=float(row["bore_mm"]) / 1000,
                stroke=float(row["stroke_mm"]) / 1000,
            ),
        ),
    )
    return Locomotive(
        name=f"German class {row['class']}",
        mass=1000.0 * (printed("mass_t") or 0.0) or 1.3 * adhesive,
        length=14.0,
        truck_axles=2,
        boiler=Boiler(
            working_pressure_gauge=1e5 * float(row["pressure_bar"]),
            grate_area=float(row["grate_m2"]),
            firebox_surface=firebox,
            tube_surface=evaporating - firebox,
            superheater=Superheater(surface=printed("superheater_m2") or SUPERHEATER_SHARE * evaporating),
            firing="stoker",
        ),
        engine_units=(unit,),
        tender=Tender(empty_mass=25e3, water_capacity=25.0, fuel_capacity=8e3, axles=4),
        # The steam of the rating is that of the cylinders alone.
        auxiliaries=Auxiliaries(air_compressor_steam=0.0, dynamo=0.0),
    )
