"""No command opens a network connection."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# Sockets of the network are forbidden; those between processes of one machine are not.
FORBIDDEN = """
import socket, sys
def audit(event, arguments):
    if event in ("socket.connect", "socket.bind", "socket.getaddrinfo", "socket.sendto"):
        local = isinstance(arguments[0], socket.socket) and arguments[0].family == socket.AF_UNIX
        if not local:
            raise SystemExit(f"{event} {arguments[1:]}")
    if event == "urllib.Request":
        raise SystemExit(event)
sys.addaudithook(audit)
"""


@pytest.mark.parametrize(
    "arguments",
    [
        ["check", "scenarios/excursions/spring_special.toml", "--no-remedies", "--report", "{folder}/a.html"],
        [
            "run",
            "scenarios/excursions/spring_special.toml",
            "--csv",
            "{folder}/a.csv",
            "--plot",
            "{folder}/a.svg",
        ],
        ["curve", "scenarios/engines/campion.toml"],
        ["route", "show", "scenarios/routes/quernby_line.toml"],
        ["new", "engine", "{folder}/engine.toml"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_no_command_uses_the_network(arguments: list[str], tmp_path: Path) -> None:
    words = [word.format(folder=tmp_path) for word in arguments]
    script = f"{FORBIDDEN}\nsys.argv = {['locosim', *words]!r}\nfrom locosim.cli import main\nmain()"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr


def test_the_ban_bites() -> None:
    script = f"{FORBIDDEN}\nsocket.create_connection(('127.0.0.1', 9), timeout=1.0)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "socket." in done.stderr
