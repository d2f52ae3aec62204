"""Console blocks of the pages: run, compared with the page, and updated.

`python -m docs.build.refresh_docs` runs every block, writes its output into the page, and shows each change. A block
may contain `$ locosim ...` and `$ cat FILE`, with the filters `| head -n N`, `| tail -n N`, `| grep -i WORD` and
`| sed -n 'N,Mp'` with numbers or /patterns/, and `$ echo $?` for the exit status of the previous command. A command
that prints nothing is an error, since its filter no longer matches.
"""

from __future__ import annotations

import contextlib
import difflib
import io
import os
import re
import shlex
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGES = ("README.md", "docs/guide.md", "docs/planning.md", "docs/engineering.md", "docs/planners-day.md")
BLOCK = re.compile(r"(?<=```console\n).*?(?=```)", re.S)
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")
COLUMNS = "101"  # gives texts 100 columns wide


class Shell:
    """The few commands a page may show, run in this process in the current folder."""

    def __init__(self) -> None:
        self.status = 0

    def run(self, command: str) -> str:
        """Output of a command line as a terminal shows it; filters apply to standard output only."""
        first, *filters = command.split(" | ")
        out, errors = self._first(shlex.split(first))
        for part in filters:
            out = _filtered(out, shlex.split(part))
        if not out + errors:
            raise ValueError(f"a page shows a command that prints nothing: {command}")
        return out + errors

    def _first(self, words: list[str]) -> tuple[str, str]:
        match words:
            case ["locosim", *arguments]:
                return self._locosim(arguments)
            case ["cat", name]:
                return Path(name).read_text(encoding="utf-8"), ""
            case ["echo", "$?"]:
                return f"{self.status}\n", ""
        raise ValueError(f"a page shows an unknown command: {words}")

    def _locosim(self, arguments: list[str]) -> tuple[str, str]:
        from locosim.cli import main

        out, errors = io.StringIO(), io.StringIO()
        arguments_before, sys.argv = sys.argv, ["locosim", *arguments]
        try:
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
                main()
        except SystemExit as end:
            self.status = end.code if isinstance(end.code, int) else 0
        finally:
            sys.argv = arguments_before
        return out.getvalue(), errors.getvalue()


def _filtered(text: str, words: list[str]) -> str:
    lines = text.splitlines(keepends=True)
    match words:
        case ["head", "-n", count]:
            return "".join(lines[: int(count)])
        case ["tail", "-n", count]:
            return "".join(lines[-int(count) :])
        case ["grep", "-i", word]:
            return "".join(line for line in lines if word.lower() in line.lower())
        case ["sed", "-n", script] if script.endswith("p"):
            return "".join(_between(lines, *script[:-1].partition(",")[::2]))
    raise ValueError(f"a page shows an unknown filter: {words}")


def _between(lines: list[str], first: str, last: str) -> list[str]:
    """Lines from the first address to the last, as in sed; a single line where there is no last address."""
    chosen, inside = [], False
    for number, line in enumerate(lines, 1):
        begins = not inside and _is_at(first, number, line)
        if inside or begins:
            chosen.append(line)
            inside = bool(last) and (begins or not _is_at(last, number, line))
    return chosen


def _is_at(address: str, number: int, line: str) -> bool:
    if address.startswith("/"):
        return re.search(address.strip("/"), line.rstrip("\n")) is not None
    return number == int(address)


@contextlib.contextmanager
def working_folder() -> Iterator[None]:
    """Change to a new folder with a copy of the scenarios, so that a page may show commands that write files."""
    folder_before, columns_before = Path.cwd(), os.environ.get("COLUMNS")
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "scenarios", Path(folder) / "scenarios")
        os.chdir(folder)
        os.environ["COLUMNS"] = COLUMNS
        try:
            yield
        finally:
            os.chdir(folder_before)
            os.environ.pop("COLUMNS")
            if columns_before is not None:
                os.environ["COLUMNS"] = columns_before


def run_block(block: str, shell: Shell) -> str:
    """A block with the current output of its commands."""
    out = ""
    for line in block.splitlines():
        if line.startswith("$ "):
            out += (
                line + "\n" + "".join(f"{printed.rstrip()}\n" for printed in shell.run(line[2:]).splitlines())
            )
    return out


def same(shown: str, now: str) -> bool:
    """Whether two texts agree: words and layout exactly, numbers to one unit of their last digit.

    Another processor may round a number on the boundary the other way.
    """
    if shown == now:
        return True
    if NUMBER.sub("0", shown) != NUMBER.sub("0", now):
        return False
    return all(map(_near, NUMBER.findall(shown), NUMBER.findall(now)))


def _near(shown: str, now: str) -> bool:
    """Whether two numbers have equally many decimals and differ by at most one unit of the last."""
    decimals, same_decimals = (len(text.partition(".")[2]) for text in (shown, now))
    difference = float(shown.replace(",", "")) - float(now.replace(",", ""))
    return decimals == same_decimals and abs(difference) <= 1.01 * 10.0**-decimals


def refreshed(page: str) -> str:
    """A page with the current output in its blocks; blocks that still agree stay unchanged."""
    text = (ROOT / page).read_text(encoding="utf-8")
    with working_folder():
        shell = Shell()

        def update(found: re.Match[str]) -> str:
            now = run_block(found[0], shell)
            return found[0] if same(found[0], now) else now

        return BLOCK.sub(update, text)


def main() -> None:
    """Update every page and show the differences."""
    for page in PAGES:
        path = ROOT / page
        before, after = path.read_text(encoding="utf-8"), refreshed(page)
        sys.stdout.writelines(
            difflib.unified_diff(before.splitlines(True), after.splitlines(True), page, page)
        )
        path.write_text(after, encoding="utf-8")


if __name__ == "__main__":
    main()
