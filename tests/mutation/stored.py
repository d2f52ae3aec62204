"""A cache folder for one mutant: machine code and maps that its fault cannot touch are kept, the rest is made again.

A change of one file would make the program compile all of itself again, and compute all maps. What a fault can touch
are the modules that import its module, directly or through others.
"""

from __future__ import annotations

import ast
import hashlib
import os
import shutil
from functools import cache
from pathlib import Path

from locosim.code_digest import code_digest
from locosim.compiled import COMPILED
from locosim.engine.map.store import _CODE as OF_MAPS
from tests.mutation.mutants import ROOT

MAKES_MAPS = "locosim.engine.map.cached"


def cache_for(file: str, tree: Path, kept: Path, folder: Path) -> None:
    """Make the cache folder of a mutant.

    Args:
        file: The file with the fault, below the package.
        tree: The copied tree, which has the fault.
        kept: Cache folder of the source without a fault.
        folder: The folder to make.
    """
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "code").mkdir(parents=True)
    touched = touched_by(module_name(file))
    stored = _newest(kept)
    (folder / stored.name).mkdir(mode=0o700)
    for path in stored.iterdir():
        if not any(path.name.startswith(f"{module}.") for module in touched):
            os.link(path, folder / stored.name / path.name)
    _same_digest(COMPILED, tree, kept, folder)
    if MAKES_MAPS not in touched:
        _same_digest(OF_MAPS, tree, kept, folder)
        (folder / "maps").mkdir()
        for path in (kept / "maps").iterdir():
            os.link(path, folder / "maps" / path.name)


def touches_compiled(file: str) -> bool:
    """Whether a fault in this file changes compiled functions."""
    return any(module in _compiled_modules() for module in touched_by(module_name(file)))


def is_compiled(file: str) -> bool:
    """Whether a file has compiled functions."""
    return module_name(file) in _compiled_modules()


def module_name(file: str) -> str:
    """Dotted name of a file of the package."""
    return "locosim." + file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


@cache
def touched_by(module: str) -> frozenset[str]:
    """A module and all that import it, directly or through others."""
    found, new = {module}, {module}
    while new:
        new = {each for each, imported in _imports().items() if imported & new} - found
        found |= new
    return frozenset(found)


@cache
def _imports() -> dict[str, frozenset[str]]:
    """What each module of the package imports by name."""
    files = {module_name(path.relative_to(ROOT / "locosim").as_posix()): path for path in _sources()}
    found = {}
    for module, path in files.items():
        names: set[str] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        found[module] = frozenset(names & files.keys())
    return found


@cache
def _compiled_modules() -> frozenset[str]:
    return frozenset(
        module_name(path.relative_to(ROOT / "locosim").as_posix())
        for path in _sources()
        if "\n@compiled" in path.read_text(encoding="utf-8")
    )


def _sources() -> list[Path]:
    return sorted((ROOT / "locosim").rglob("*.py"))


def _newest(kept: Path) -> Path:
    """The folder of machine code of the source without a fault."""
    digest = code_digest(COMPILED, kept)
    return next(kept.glob(f"compiled-{digest[:16]}-*"))


def _same_digest(patterns: tuple[str, ...], tree: Path, kept: Path, folder: Path) -> None:
    """Store the hash of the source without a fault as that of the source with it; see `code_digest`."""
    package = tree / "locosim"
    plain = hashlib.sha256()
    for path in sorted({path for pattern in patterns for path in package.glob(pattern)}):
        content = path.read_bytes()
        plain.update(f"{path.relative_to(package).as_posix()} {len(content)} ".encode())
        plain.update(content)
    digest = code_digest(patterns, kept)
    (folder / "code" / plain.hexdigest()).write_text(digest, encoding="ascii")
