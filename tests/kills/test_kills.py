"""A few kills in the suite; `python -m tests.kills` runs hundreds."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.kills.killed import kill_at_random


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
def test_a_killed_command_leaves_nothing_half_written_and_its_repeat_is_the_same(tmp_path: Path) -> None:
    found = list(kill_at_random(tmp_path, 5, seed=7))
    assert [fault for killed in found for fault in killed.faults] == []
    assert any(killed.in_time for killed in found)
