"""The example railway that an installed program writes, and the page of a package index."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from docs.build.index_page import index_page
from locosim.cli import app
from locosim.errors import LocosimError, OutputExists
from locosim.loading import load_excursion
from locosim.scenario.example import example_files, write_example

ROOT = Path(__file__).resolve().parents[2]


def contents(folder: Path) -> dict[str, bytes]:
    return {str(file.relative_to(folder)): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def test_the_example_is_written_whole_and_can_be_read(tmp_path: Path) -> None:
    folder = tmp_path / "railway"
    result = CliRunner().invoke(app, ["new", "example", str(folder)])
    assert result.exit_code == 0, result.output
    assert contents(folder) == contents(ROOT / "scenarios")
    assert os.listdir(tmp_path) == ["railway"]  # nothing beside it
    assert load_excursion(folder / "excursions" / "spring_special.toml").name.startswith("Spring special")


def test_a_folder_that_exists_is_left_alone(tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text("name = 'mine'", encoding="utf-8")
    for path in (tmp_path, mine):
        with pytest.raises(OutputExists, match="exists; name a folder that does not exist yet"):
            write_example(path)
    assert os.listdir(tmp_path) == ["mine.toml"]
    assert mine.read_text(encoding="utf-8") == "name = 'mine'"


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(LocosimError, match="cannot be written: no such file or directory"):
        write_example(tmp_path / "none" / "railway")
    with pytest.raises(LocosimError, match="cannot be written"):
        write_example(tmp_path / ("a" * 300))
    assert os.listdir(tmp_path) == []


def test_a_copy_that_fails_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written = []

    def full(self: Path, data: bytes) -> int:
        written.append(self)
        if len(written) == 5:
            raise OSError(28, "No space left on device")
        return len(data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(LocosimError, match="no space left on device"):
        write_example(tmp_path / "railway")
    assert os.listdir(tmp_path) == []


def test_the_wheel_takes_the_example_along() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wheel = settings["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert wheel["force-include"] == {"scenarios": "locosim/example"}
    assert example_files() == ROOT / "scenarios"  # a clone has no copy in the package


def test_the_index_page_has_no_link_to_a_file() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    page = index_page(readme)
    targets = re.findall(r"\]\(([^)]*)\)", page)
    assert re.search(r"\]\(docs/", readme)  # there are such links to turn
    assert all(target.startswith(("https://", "#")) for target in targets)
    assert "docs/guide.md: how to check an excursion" in page
    assert index_page("[a](https://x.org) [b](#c) [d](e.md)").startswith(
        "[a](https://x.org) [b](#c) d (e.md)"
    )
