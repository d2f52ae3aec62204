"""Where a description came from: the files it was read from and the changes made to them."""

from __future__ import annotations

from locosim.frozen import frozen


@frozen
class FileUsed:
    """A file that was read.

    Attributes:
        path: Path as the reader opened it.
        sha256: SHA-256 of its content, 64 hexadecimal digits.
    """

    path: str
    sha256: str


@frozen
class Provenance:
    """The files a description was read from, and the changes in effect.

    Attributes:
        files: Files, the one named by the user first, each once.
        changes: Changes in effect, as `key.path=value`; a change that a later one replaced is not listed.
    """

    files: tuple[FileUsed, ...]
    changes: tuple[str, ...] = ()
