"""Compiled functions as plain Python: called one by one, the compiler would take seconds for each."""

from __future__ import annotations

from types import ModuleType

import pytest


def in_plain_python(monkeypatch: pytest.MonkeyPatch, *modules: ModuleType) -> None:
    """Replace every compiled function that modules define or import by its plain one."""
    for module in modules:
        for name, each in list(vars(module).items()):
            if hasattr(each, "py_func"):
                monkeypatch.setattr(module, name, each.py_func)
