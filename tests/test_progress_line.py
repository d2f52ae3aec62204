"""The line of progress: shown on a terminal alone, with the time left, and cleared at the end."""

from __future__ import annotations

import pytest

from locosim.cli import progress_line
from locosim.cli.progress_line import ProgressLine, duration_text


def test_a_pipe_sees_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with ProgressLine("rows") as line:
        line.show(1, 2)
    assert line.done == 1
    assert capsys.readouterr().err == ""


def test_a_terminal_sees_share_problems_and_time_left(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    now = iter([0.0, 10.0, 10.1, 30.0])
    monkeypatch.setattr(progress_line.time, "monotonic", lambda: next(now))
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    with ProgressLine("rows") as line:
        line.show(250, 1000, problems=2)
        line.show(251, 1000)  # too soon
        line.show(500, 1000, left=75.0)
    shown = capsys.readouterr().err
    assert "250 of 1,000 rows (25 %), 2 not checked, 30 s left" in shown
    assert "251" not in shown
    assert "500 of 1,000 rows (50 %), 1 min 15 s left" in shown
    assert shown.endswith("\r\x1b[K")


def test_durations_have_their_two_largest_units() -> None:
    assert [duration_text(each) for each in (5.4, 65.0, 7260.0)] == ["5 s", "1 min 5 s", "2 h 1 min"]
