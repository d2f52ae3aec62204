"""The description on the page of a package index: README.md with its links to files written as text.

An index page has no files beside it, so that a link to `docs/guide.md` would lead nowhere. Hatch runs this when it
builds a wheel or a source archive; it is no part of the package.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

_FILE_LINK = re.compile(r"\[([^\]]+)\]\((?!https?://|#)([^)]+)\)")
_NOTE = "The pages and files named here are in the source archive of this release."


def index_page(readme: str) -> str:
    """The description: each link to a file becomes its text, with the path where the text is another.

    Args:
        readme: README.md.
    """

    def as_text(link: re.Match[str]) -> str:
        return link[1] if link[1] == link[2] else f"{link[1]} ({link[2]})"

    return f"{_FILE_LINK.sub(as_text, readme).rstrip()}\n\n{_NOTE}\n"


def get_metadata_hook() -> Any:
    """The hook that hatch asks for; only a build has hatchling."""
    from hatchling.metadata.plugin.interface import MetadataHookInterface

    class IndexPageHook(MetadataHookInterface):  # type: ignore[misc]
        def update(self, metadata: dict[str, Any]) -> None:
            readme = Path(self.root, "README.md").read_text(encoding="utf-8")
            metadata["readme"] = {"content-type": "text/markdown", "text": index_page(readme)}

    return IndexPageHook
