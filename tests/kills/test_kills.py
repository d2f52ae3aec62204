"""A few kills in the suite; `python -m tests.kills` runs hundreds."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.fuzz.commands import OUTPUTS, commands
from tests.kills.killed import COMMANDS, kill_at_random, words


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
def test_a_killed_command_leaves_nothing_half_written_and_its_repeat_is_the_same(tmp_path: Path) -> None:
    found = list(kill_at_random(tmp_path, 5, seed=7))
    assert [fault for killed in found for fault in killed.faults] == []
    assert any(killed.in_time for killed in found)


def test_each_output_of_each_command_is_in_the_list() -> None:
    listed = {(command[0], word) for command in COMMANDS for word in words(command) if word.startswith("--")}
    outputs = {
        (name, each.options[0])
        for name, parameters in commands().items()
        for each in parameters
        if each.name in OUTPUTS
    }
    assert outputs <= listed
    assert {command[0] for command in COMMANDS} == set(commands())
    assert {("new", "engine"), ("new", "example")} <= {command[:2] for command in COMMANDS}
