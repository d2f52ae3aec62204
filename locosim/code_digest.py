"""Hash of source code by what it computes: comments, docstrings and layout do not count.

Machine code and performance maps are stored under such a hash, so they stay valid as long as the code that made them
computes the same. Parsing takes a tenth of a second, so the result is itself stored under the hash of the plain bytes.
"""

from __future__ import annotations

import ast
import contextlib
import hashlib
import re
from collections.abc import Sequence
from pathlib import Path

from locosim.files_on_disk import write_whole

PACKAGE = Path(__file__).parent
_DIGEST = re.compile(r"[0-9a-f]{64}")


def code_digest(patterns: Sequence[str], cache: Path, *, package: Path = PACKAGE) -> str:
    """Hash of the code, and of the bytes of data files, that match the patterns.

    Args:
        patterns: Glob patterns below the package, `**` for all sub-folders.
        cache: Folder in which results are stored; if it cannot be written, nothing is stored.
        package: Folder of the package.

    Returns:
        A hexadecimal SHA-256.
    """
    paths = sorted({path for pattern in patterns for path in package.glob(pattern)})
    contents = [(path.relative_to(package).as_posix(), path.read_bytes()) for path in paths]
    plain = hashlib.sha256()
    for name, content in contents:
        plain.update(f"{name} {len(content)} ".encode())
        plain.update(content)
    stored = cache / "code" / plain.hexdigest()
    with contextlib.suppress(OSError, UnicodeDecodeError):
        found = stored.read_text(encoding="ascii")
        if _DIGEST.fullmatch(found):
            return found
    meaning = hashlib.sha256()
    for name, content in contents:
        meaning.update(f"{name} ".encode())
        meaning.update(_meaning(content) if name.endswith(".py") else content)
    _store(stored, meaning.hexdigest())
    return meaning.hexdigest()


def _meaning(source: bytes) -> bytes:
    """The syntax tree of Python source, without docstrings and positions."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                node.body = node.body[1:]
    return ast.dump(tree).encode()


def _store(path: Path, text: str) -> None:
    """Write a file; a folder that cannot be written is no error."""
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text.encode("ascii"))
