"""The house as drawn: which way imports run, who may import what, and which files stand where."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "locosim"

# Each room may import from itself and from the rooms named; everything may import errors and compiled.
BELOW = {
    "constants": set(),
    "physics": {"constants"},
    "model": {"physics", "constants"},
    "engine": {"model", "physics", "constants"},
    "journey": {"engine", "model", "physics", "constants"},
    "planning": {"journey", "engine", "model", "physics", "constants"},
    "units": {"constants"},
    "report": {"units", "planning", "journey", "engine", "model", "physics", "constants"},
    "plot": {"units", "planning", "journey", "engine", "model", "physics", "constants"},
    "scenario": {"units", "model", "physics", "constants"},
    "rendering": {
        "report", "plot", "planning", "journey", "engine", "model", "physics", "constants",
    },
    "library": {
        "rendering", "units", "report", "plot", "scenario", "planning", "journey", "engine", "model", "physics",
        "constants",
    },
    "cli": {
        "library", "rendering", "units", "report", "plot", "scenario", "planning", "journey", "engine", "model",
        "physics", "constants",
    },
    "": {"library", "model"},  # the public names, loaded on first use
    "__main__": {"cli"},
    "errors": set(),
    "compiled": {"constants"},
    "code_digest": set(),
}  # fmt: skip
ANYWHERE = {"errors", "compiled", "code_digest"}
ONLY_IN = {
    "pint": {"units"},
    "matplotlib": {"plot"},
    "numba": {"compiled"},
    "typer": {"cli"},
    "jinja2": {"report"},
    "seuif97": {"physics"},
}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "locosim", "scenarios", "tests", "docs"}


def _modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def _name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _room(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


@cache
def _imports(path: Path) -> tuple[tuple[str, bool], ...]:
    """Names of modules a file imports, and whether it does so when it is itself imported."""
    known = {_name(p) for p in _modules()}
    tree = ast.parse(path.read_text(encoding="utf-8"))
    at_import = set(map(id, _outside_functions(tree)))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports by full name, not relative"
            base = node.module or ""
            names = [
                f"{base}.{alias.name}" if f"{base}.{alias.name}" in known else base for alias in node.names
            ]
        else:
            continue
        found += [(name, id(node) in at_import) for name in names]
    return tuple(found)


def _outside_functions(tree: ast.AST) -> list[ast.AST]:
    """Nodes run on import: not in functions, and not under TYPE_CHECKING."""
    found, waiting = [], [tree]
    while waiting:
        node = waiting.pop()
        found.append(node)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        waiting += list(ast.iter_child_nodes(node))
    return found


@pytest.mark.parametrize("path", _modules(), ids=_name)
def test_imports_run_one_way(path: Path) -> None:
    room = _room(_name(path))
    assert room == "" or room in BELOW, f"{room}: a room that the design does not have"
    allowed = BELOW.get(room, set()) | ANYWHERE | {room, ""}
    for name, _ in _imports(path):
        if name.split(".")[0] == "locosim":
            assert _room(name) in allowed, f"{_name(path)} imports {name}: {room} may not know {_room(name)}"


@pytest.mark.parametrize("path", _modules(), ids=_name)
def test_libraries_stay_in_their_rooms(path: Path) -> None:
    for name, _ in _imports(path):
        rooms = ONLY_IN.get(name.split(".")[0])
        assert rooms is None or _room(_name(path)) in rooms, f"{_name(path)} imports {name}"


def test_a_wrong_import_would_be_seen(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    wrong.write_text("def f():\n    from locosim.report import text\nimport pint\n", encoding="utf-8")
    assert set(_imports(wrong)) == {("locosim.report.text", False), ("pint", True)}


def test_no_modules_import_each_other_in_a_circle() -> None:
    known = {_name(path) for path in _modules()}
    graph = {
        _name(path): {name for name, at_import in _imports(path) if at_import and name in known}
        for path in _modules()
    }
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, f"circle: {' -> '.join([*trail, name])}"
        if name not in done:
            for other in sorted(graph[name] - {name}):
                visit(other, (*trail, name))
            done.add(name)

    for name in sorted(graph):
        visit(name, ())


def test_the_command_line_starts_without_heavy_libraries() -> None:
    code = "import sys, locosim.cli; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.split()
    assert {"scipy", "pint", "numba", "matplotlib", "numpy", "jinja2", "seuif97"} & set(loaded) == set()


def test_no_file_is_a_drawer_for_odds_and_ends() -> None:
    drawers = ("util", "utils", "helper", "helpers", "manager", "managers", "misc", "common")
    assert [path for path in _modules() if path.stem in drawers] == []


def test_top_level_holds_what_the_owner_fixed() -> None:
    listed = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT)
    if listed.returncode == 0 and listed.stdout:
        names = {line.partition("/")[0].strip('"') for line in listed.stdout.splitlines()}
    else:  # not a clone: look at the folder itself
        names = set(os.listdir(ROOT))
    names = {name for name in names if not name.startswith(".")}
    assert names <= TOP_LEVEL
    assert names >= TOP_LEVEL


def test_every_folder_of_the_package_is_a_package() -> None:
    for path in _modules():
        assert (path.parent / "__init__.py").exists(), f"{path.parent} has no __init__.py"
