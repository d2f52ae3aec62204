"""No command opens a network connection."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.kills.killed import COMMANDS, lay_out

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


RUN_ALL = f"""{FORBIDDEN}
from pathlib import Path
from tests.fuzz.judge import run_command
from tests.kills.killed import COMMANDS, on_small_railway
for command in COMMANDS:
    status, _, error = run_command(on_small_railway(command))
    for file in Path("out").glob("a*"):
        file.unlink()
    if status not in (0, 1):
        sys.exit(f"{{command}}: {{status}} {{error}}")
print(len(COMMANDS))
"""


def test_no_command_uses_the_network(tmp_path: Path) -> None:
    place = tmp_path / "railway"
    lay_out(place)
    done = subprocess.run(
        [sys.executable, "-c", RUN_ALL], capture_output=True, text=True, check=False, cwd=place,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.stdout.strip() == str(len(COMMANDS)), done.stderr


def test_the_ban_bites() -> None:
    script = f"{FORBIDDEN}\nsocket.create_connection(('127.0.0.1', 9), timeout=1.0)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "socket." in done.stderr
