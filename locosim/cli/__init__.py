"""The command line: each command reads its options, computes a result and renders it."""

from locosim.cli import excursion, day, load, consists, timetable, water, engine, route, test_sheet, template  # isort: skip # in the order of the help
from locosim.cli.app import app, main

__all__ = [
    "app",
    "consists",
    "day",
    "engine",
    "excursion",
    "load",
    "main",
    "route",
    "template",
    "test_sheet",
    "timetable",
    "water",
]
