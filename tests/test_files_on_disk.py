"""Files are written whole or not at all, and no file that was read is overwritten."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from locosim import files_on_disk
from locosim.errors import LocosimError
from locosim.files_on_disk import note_read, noting_reads, was_read, write_whole, writing_whole
from locosim.report.output_files import check_writable, write
from locosim.scenario.template import write_template


def full_disk(*_: object, **__: object) -> None:
    """A disk without space."""
    raise OSError(28, "No space left on device")


@pytest.fixture(params=["nameless", "beside"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """The way a file is written whole: without a name, or beside, as where the system has no nameless files."""
    if request.param == "beside":
        monkeypatch.setattr(files_on_disk, "_open_nameless", lambda folder: None)
    elif files_on_disk._open_nameless(Path.cwd()) is None:
        pytest.skip("the system has no files without a name")
    return str(request.param)


@pytest.mark.usefixtures("way")
def test_a_failed_write_leaves_the_old_file_and_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"old")
    monkeypatch.setattr(Path, "replace", full_disk)
    with pytest.raises(OSError, match="No space"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.usefixtures("way")
def test_an_interrupted_write_leaves_no_temporary_file(tmp_path: Path) -> None:
    def write_half() -> None:
        with writing_whole(tmp_path / "a.csv") as file:
            file.write(b"half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_half()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("way")
def test_a_file_written_over_another_keeps_its_permissions(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    write_whole(path, b"old")
    assert path.stat().st_mode & 0o777 == 0o666 & ~files_on_disk._umask()
    path.chmod(0o640)
    write_whole(path, b"new")
    assert (path.read_bytes(), path.stat().st_mode & 0o777) == (b"new", 0o640)
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.usefixtures("way")
def test_a_new_file_is_never_written_over_another(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    write_whole(path, b"first", new=True)
    with pytest.raises(FileExistsError):
        write_whole(path, b"second", new=True)
    assert path.read_bytes() == b"first"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_system_without_links_is_written_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def without_links(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", without_links)
    path = tmp_path / "a.csv"
    for content in (b"first", b"second"):
        write_whole(path, content)
        assert path.read_bytes() == content
    write_whole(tmp_path / "b.csv", b"new", new=True)
    assert sorted(tmp_path.iterdir()) == [path, tmp_path / "b.csv"]


def test_a_template_on_a_full_disk_leaves_no_empty_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "link", full_disk)
    monkeypatch.setattr(Path, "hardlink_to", full_disk)
    monkeypatch.setattr(Path, "touch", full_disk)
    with pytest.raises(LocosimError, match="cannot be written: no space left"):
        write_template("engine", tmp_path / "engine.toml")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_was_read_is_not_overwritten_even_by_force(tmp_path: Path) -> None:
    path, link, other = tmp_path / "line.csv", tmp_path / "link.csv", tmp_path / "other.csv"
    path.write_bytes(b"heights")
    other.write_bytes(b"results")
    link.symlink_to(path)
    with noting_reads():
        note_read(path)
        assert was_read(link)
        for named in (path, link):
            with pytest.raises(LocosimError, match="a file that this command reads"):
                write(named, b"results", force=True)
        write(other, b"new", force=True)
    assert path.read_bytes() == b"heights"
    assert other.read_bytes() == b"new"
    write(path, b"results", force=True)  # the command is over


def test_names_that_the_system_refuses_are_errors_that_say_so(tmp_path: Path) -> None:
    circle = tmp_path / "circle.png"
    circle.symlink_to(circle)
    for path in (circle, tmp_path / ("a" * 300 + ".png")):
        with pytest.raises(LocosimError, match=r"link|too long"):
            check_writable(path, force=True)


@pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() != 0, reason="only the administrator may become another user"
)
def test_a_folder_that_may_not_be_searched_is_an_error(tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o700)
    script = (
        "import os; from pathlib import Path; from locosim.report.output_files import check_writable\n"
        "from locosim.errors import LocosimError\n"
        "os.setuid(65534)\n"
        f"try:\n    check_writable(Path({str(closed / 'a.png')!r}), force=True)\n"
        "except LocosimError as error:\n    print(error)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert "Traceback" not in done.stderr
    assert "permission denied" in done.stdout or "not writable" in done.stdout or "not exist" in done.stdout
