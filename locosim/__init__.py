"""Steam locomotive performance: engine, boiler, train and line, and the check of a proposed excursion.

The names below are loaded on first use, so that `import locosim` takes no time.

    >>> import locosim as ls
    >>> engine = ls.load_engine("scenarios/engines/teasel.toml", changes=["boiler.grate_area=36 ft^2"])
    >>> round(engine.boiler.grate_area, 2)  # m², as everything is in SI
    3.34

Read files: `load_engine`, `load_train`, `load_route`, `load_excursion`, `load_day`.
One engine: `speed_curve`, `tonnage_rating`, `cutoff_table`, `indicator_diagram`, `boiler_table`.
Two engines: `compare`.
Its test sheet: `compare_test_sheet`, `anchored_engine`.
An excursion: `run`, `check`, `largest_load`, `timetable`, `economy`, `water_stops`, `helper_plan`.
A day of several legs: `check_day`.
Several on one line: `consists`. Many: `batch`.
One or two inputs over ranges and lists: `vary`.
A road log: `fit`.
A line: `show_route`, `make_route`, `smooth_route`, `reverse_route`, `join_routes`, `cut_route`, `write_route`.
Results have `rows`, `to_rows`, `to_pandas`, `text`, `json`, `plot` and `save`; docs/library.md shows them.
Descriptions: `Locomotive`, `Train`, `Route`, `Excursion`, `Assumptions` and the other classes of `locosim.model`.
Errors that an input causes are a `LocosimError`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

_MODULE_OF = {  # names of `__all__` that are not here are classes of `locosim.model`
    "batch": "library.batch_results",
    "check_day": "library.day_results",
    "load_day": "loading",
    "load_engine": "loading",
    "load_excursion": "loading",
    "load_route": "loading",
    "load_train": "loading",
    "boiler_table": "library.engine_results",
    "anchored_engine": "library.engine_results",
    "compare": "library.comparison_results",
    "compare_test_sheet": "library.engine_results",
    "economy": "library.economy_results",
    "cutoff_table": "library.engine_results",
    "indicator_diagram": "library.engine_results",
    "speed_curve": "library.engine_results",
    "check": "library.excursion_results",
    "consists": "library.consist_results",
    "largest_load": "library.load_results",
    "tonnage_rating": "library.load_results",
    "run": "library.excursion_results",
    "risk": "library.risk_results",
    "water_stops": "library.supply_results",
    "helper_plan": "library.helper_results",
    "fit": "library.fit_results",
    "cut_route": "library.route_results",
    "join_routes": "library.route_results",
    "make_route": "library.route_results",
    "reverse_route": "library.route_results",
    "show_route": "library.route_results",
    "timetable": "library.timetable_results",
    "vary": "library.vary_results",
    "smooth_route": "library.route_results",
    "write_route": "library.route_results",
    "LocosimError": "errors",
}

if TYPE_CHECKING:
    from locosim.errors import LocosimError
    from locosim.library.batch_results import batch
    from locosim.library.comparison_results import compare
    from locosim.library.consist_results import consists
    from locosim.library.day_results import check_day
    from locosim.library.economy_results import economy
    from locosim.library.engine_results import (
        anchored_engine,
        boiler_table,
        compare_test_sheet,
        cutoff_table,
        indicator_diagram,
        speed_curve,
    )
    from locosim.library.excursion_results import check, run
    from locosim.library.fit_results import fit
    from locosim.library.helper_results import helper_plan
    from locosim.library.load_results import largest_load, tonnage_rating
    from locosim.library.risk_results import risk
    from locosim.library.route_results import (
        cut_route,
        join_routes,
        make_route,
        reverse_route,
        show_route,
        smooth_route,
        write_route,
    )
    from locosim.library.supply_results import water_stops
    from locosim.library.timetable_results import timetable
    from locosim.library.vary_results import vary
    from locosim.loading import load_day, load_engine, load_excursion, load_route, load_train
    from locosim.model import (
        Assumptions,
        Auxiliaries,
        Boiler,
        Correlation,
        Crew,
        CrewHours,
        Criteria,
        Curve,
        CustomResistance,
        Cylinders,
        Day,
        Diesel,
        EngineTestRow,
        EngineTestSheet,
        EngineUnit,
        Excursion,
        FeedDevice,
        Flues,
        Fuel,
        Helper,
        Layover,
        Leg,
        Locomotive,
        Outcome,
        PoppetGear,
        ProfilePoint,
        RailConditionZone,
        Route,
        SpeedLimit,
        Station,
        SteamPassages,
        Stop,
        Superheater,
        Tender,
        Train,
        Tubes,
        Tunnel,
        UncertainInput,
        Uncertainty,
        ValveGear,
        Vehicle,
        Weather,
    )  # fmt: skip

__all__ = [
    "Assumptions",
    "Auxiliaries",
    "Boiler",
    "Correlation",
    "Crew",
    "CrewHours",
    "Criteria",
    "Curve",
    "CustomResistance",
    "Cylinders",
    "Day",
    "Diesel",
    "EngineTestRow",
    "EngineTestSheet",
    "EngineUnit",
    "Excursion",
    "FeedDevice",
    "Flues",
    "Fuel",
    "Helper",
    "Layover",
    "Leg",
    "Locomotive",
    "LocosimError",
    "Outcome",
    "PoppetGear",
    "ProfilePoint",
    "RailConditionZone",
    "Route",
    "SpeedLimit",
    "Station",
    "SteamPassages",
    "Stop",
    "Superheater",
    "Tender",
    "Train",
    "Tubes",
    "Tunnel",
    "UncertainInput",
    "Uncertainty",
    "ValveGear",
    "Vehicle",
    "Weather",
    "anchored_engine",
    "batch",
    "boiler_table",
    "check",
    "check_day",
    "compare",
    "compare_test_sheet",
    "consists",
    "cut_route",
    "cutoff_table",
    "economy",
    "fit",
    "helper_plan",
    "indicator_diagram",
    "join_routes",
    "largest_load",
    "load_day",
    "load_engine",
    "load_excursion",
    "load_route",
    "load_train",
    "make_route",
    "reverse_route",
    "risk",
    "run",
    "show_route",
    "smooth_route",
    "speed_curve",
    "timetable",
    "tonnage_rating",
    "vary",
    "water_stops",
    "write_route",
]


def __getattr__(name: str) -> Any:
    """Load a public name on first use."""
    if name not in __all__:
        raise AttributeError(f"module 'locosim' has no attribute {name!r}")
    value = getattr(import_module(f"locosim.{_MODULE_OF.get(name, 'model')}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
