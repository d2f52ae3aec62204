"""Scenario files: the reader of TOML and CSV files, changes to them, and templates."""

from locosim.scenario.files import KeptFiles
from locosim.scenario.reader import (
    load_day,
    load_excursion,
    load_locomotive,
    load_route,
    load_train,
    split_assumption_changes,
)

__all__ = [
    "KeptFiles",
    "load_day",
    "load_excursion",
    "load_locomotive",
    "load_route",
    "load_train",
    "split_assumption_changes",
]
