"""Files a command writes: whole or not at all, and never over an existing file unless forced."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from locosim.errors import LocosimError, OutputExists
from locosim.report.output_files import HTML_SUFFIXES, IMAGE_SUFFIXES, check_outputs_writable, write


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_what_is_not_a_regular_file_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "plot.svg"
    os.mkfifo(path)
    with pytest.raises(LocosimError, match="is not a regular file"):
        write(path, b"new", force=True)
    assert not path.is_file()
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_and_its_file_is_written(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    real, link = tmp_path / "real" / "plot.svg", tmp_path / "plot.svg"
    real.write_bytes(b"old")
    real.chmod(0o640)
    link.symlink_to(real)
    with pytest.raises(OutputExists, match="--force"):
        write(link, b"new", force=False)
    write(link, b"new", force=True)
    assert link.is_symlink()
    assert real.read_bytes() == b"new"
    assert real.stat().st_mode & 0o777 == 0o640
    assert sorted(path.name for path in (tmp_path / "real").iterdir()) == ["plot.svg"]


def test_a_broken_link_is_refused(tmp_path: Path) -> None:
    link = tmp_path / "plot.svg"
    link.symlink_to(tmp_path / "none.svg")
    for force in (True, False):
        with pytest.raises(LocosimError, match="is a broken link"):
            write(link, b"new", force=force)
    assert list(tmp_path.iterdir()) == [link]


def test_two_options_may_not_name_one_file(tmp_path: Path) -> None:
    there = tmp_path / "a.svg"
    there.write_bytes(b"old")
    link = tmp_path / "b.svg"
    link.symlink_to(there)
    for other in (there, tmp_path / "." / "a.svg", link):
        wanted = {"--plot": (there, IMAGE_SUFFIXES), "--report": (other, HTML_SUFFIXES)}
        with pytest.raises(LocosimError, match="is named by both --plot and --report"):
            check_outputs_writable(wanted, force=True)


@pytest.mark.parametrize("name", ["r.txt", "r", "r.html.gz"])
def test_a_name_with_another_suffix_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(LocosimError, match=r"must end in \.html, \.htm; write for example r.*\.html"):
        check_outputs_writable({"--report": (tmp_path / name, HTML_SUFFIXES)}, force=False)
    check_outputs_writable(
        {"--report": (tmp_path / "r.HTM", HTML_SUFFIXES), "--plot": (None, IMAGE_SUFFIXES)}, force=False
    )
