"""The command line: each command reads its options, computes a result and renders it."""

# In the order of the help.
# isort: off
from locosim.cli import (
    excursion,
    day,
    load,
    consists,
    vary,
    batch,
    timetable,
    economy,
    water,
    helper_engine,
    risk,
    engine,
    route,
    test_sheet,
    fit,
    template,
)

# isort: on
from locosim.cli.app import app, main

__all__ = [
    "app",
    "batch",
    "consists",
    "day",
    "economy",
    "engine",
    "excursion",
    "fit",
    "helper_engine",
    "load",
    "main",
    "risk",
    "route",
    "template",
    "test_sheet",
    "timetable",
    "vary",
    "water",
]
