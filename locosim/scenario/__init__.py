"""Scenario files: TOML and CSV to the model, all problems at once, and starter files."""

from locosim.scenario.reader import load_excursion, load_locomotive, load_route, load_train

__all__ = ["load_excursion", "load_locomotive", "load_route", "load_train"]
