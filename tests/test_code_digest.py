"""Hash of code by its meaning: it changes with whatever can change results, not with comments."""

from __future__ import annotations

from pathlib import Path

import pytest

from locosim.code_digest import code_digest

SOURCE = '"""What it is."""\n\n\ndef twice(x):\n    """Double it."""\n    return 2 * x  # twice\n'
PATTERNS = ("room/**/*.py", "room/*.csv")


def digest(folder: Path, source: str, *, name: str = "room/inner/law.py", table: str = "a,b\n1,2\n") -> str:
    package = folder / "package"
    path = package / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(source, encoding="utf-8")
    (package / "room" / "table.csv").write_text(table, encoding="utf-8")
    try:
        return code_digest(PATTERNS, folder / "cache", package=package)
    finally:
        path.unlink()


@pytest.mark.parametrize(
    "same",
    [
        SOURCE.replace("Double it", "Two times the argument"),
        SOURCE.replace("  # twice", ""),
        SOURCE.replace("2 * x", "(2\n        * x)"),
        SOURCE.replace('    """Double it."""\n', ""),
        "# a line\n" + SOURCE,
    ],
)
def test_comments_and_layout_do_not_count(same: str, tmp_path: Path) -> None:
    assert same != SOURCE
    assert digest(tmp_path, same) == digest(tmp_path, SOURCE)


@pytest.mark.parametrize("other", [SOURCE.replace("2 *", "3 *"), SOURCE.replace("twice(x)", "double(x)"), ""])
def test_code_in_sub_folders_counts(other: str, tmp_path: Path) -> None:
    assert digest(tmp_path, other) != digest(tmp_path, SOURCE)


def test_data_and_file_names_count(tmp_path: Path) -> None:
    assert digest(tmp_path, SOURCE, table="a,b\n1,3\n") != digest(tmp_path, SOURCE)
    assert digest(tmp_path, SOURCE, name="room/law.py") != digest(tmp_path, SOURCE)


def test_the_stored_result_is_used_and_a_damaged_one_is_not(tmp_path: Path) -> None:
    first = digest(tmp_path, SOURCE)
    (stored,) = (tmp_path / "cache" / "code").iterdir()
    stored.write_text("f" * 64, encoding="ascii")
    assert digest(tmp_path, SOURCE) == "f" * 64
    stored.write_text("half a ha", encoding="ascii")
    assert digest(tmp_path, SOURCE) == first


def test_a_cache_that_cannot_be_written_is_ignored(tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("not a folder", encoding="utf-8")
    assert len(digest(tmp_path, SOURCE)) == 64
