"""The command line: each command reads its options, computes a result and renders it."""

from locosim.cli.app import app, main

__all__ = ["app", "main"]
