"""Resistance of vehicles, curves and grades."""
