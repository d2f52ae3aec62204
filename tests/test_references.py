"""Every reference key has one entry in docs/references.md, and every entry is used."""

from __future__ import annotations

import re
import tokenize
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
ENTRY = re.compile(r"^\*\*\[(?P<key>[^\]]+)\]\*\* (?P<rest>.+)\n(?P<taken>.+)$", re.MULTILINE)
# A key begins with a capital letter and has four or more characters; units in brackets, [N/Pa] or [kg], do not match.
INVENTED = "invented"  # written in a scenario instead of a key where its numbers have no source
KEY = re.compile(r"(?<![\w\])])\[([A-Z][A-Za-z0-9]{3,})\]")


def listed() -> list[str]:
    text = (ROOT / "docs" / "references.md").read_text(encoding="utf-8")
    return [entry["key"] for entry in ENTRY.finditer(text)]


def texts() -> Iterator[tuple[Path, str]]:
    """Comments and strings of Python files, and the whole of data files."""
    for path in sorted(
        [*ROOT.glob("locosim/**/*.py"), *ROOT.glob("tests/**/*.py"), *ROOT.glob("docs/build/**/*.py")]
    ):
        if path == Path(__file__):
            continue
        with tokenize.open(path) as file:
            for token in tokenize.generate_tokens(file.readline):
                if token.type in (tokenize.COMMENT, tokenize.STRING):
                    yield path, token.string
    for pattern in ("locosim/**/*.csv", "scenarios/**/*.toml", "scenarios/**/*.csv", "docs/build/**/*.toml"):
        for path in sorted(ROOT.glob(pattern)):
            yield path, path.read_text(encoding="utf-8")


def used() -> dict[str, Path]:
    keys = {key: path for path, text in texts() for key in KEY.findall(text)}
    for path in sorted(ROOT.glob("tests/published/*.toml")):
        keys[tomllib.loads(path.read_text(encoding="utf-8"))["reference"]] = path
    for path in sorted(ROOT.glob("scenarios/**/*.toml")):
        for key in tomllib.loads(path.read_text(encoding="utf-8")).get("references", ()):
            keys[key] = path
    keys.pop(INVENTED, None)
    return keys


def test_every_key_has_an_entry() -> None:
    known = set(listed())
    missing = {key: str(path.relative_to(ROOT)) for key, path in used().items() if key not in known}
    assert not missing, "write an entry for these in docs/references.md"


def test_no_entry_stands_twice() -> None:
    assert [key for key, times in Counter(listed()).items() if times > 1] == []


def test_every_entry_is_used() -> None:
    assert sorted(set(listed()) - set(used())) == []


def test_every_entry_has_two_lines() -> None:
    """Each entry is two lines: the work and where to read it, then what locosim uses from it."""
    text = (ROOT / "docs" / "references.md").read_text(encoding="utf-8")
    assert len(listed()) == len(re.findall(r"^\*\*\[", text, re.MULTILINE)) > 0
