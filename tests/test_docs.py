"""The pages agree with the program: every console block is run, and every link leads to a file."""

from __future__ import annotations

import difflib
import doctest
import re
from pathlib import Path

import pytest

from docs.build.refresh_docs import PAGES, ROOT, Shell, refreshed, same, working_folder

ALL_PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")])
LINK = re.compile(r"\]\(([^)#:]+)(?:#[^)]*)?\)")
# Words that would promise what no computation can.
PROMISES = re.compile(r"\b(is|are|be|was) safe\b|\bsafely\b|\bguarantee", re.IGNORECASE)


@pytest.mark.parametrize("page", PAGES)
def test_console_blocks_print_what_the_page_shows(page: str) -> None:
    before, now = (ROOT / page).read_text(encoding="utf-8"), refreshed(page)
    changed = "\n".join(difflib.unified_diff(before.splitlines(), now.splitlines(), page, "now", lineterm=""))
    assert before == now, f"run `python -m docs.build.refresh_docs` and review the changes:\n{changed}"


def test_numbers_agree_to_their_last_digit_and_words_exactly() -> None:
    assert same("1,035 lbf at 12.3 mph", "1,036 lbf at 12.3 mph")
    assert not same("1,035 lbf at 12.3 mph", "1,037 lbf at 12.3 mph")
    assert not same("12.3 mph", "12.3 km/h")
    assert not same("12.3 mph", "12.34 mph")


@pytest.mark.parametrize("path", ALL_PAGES, ids=lambda path: path.stem)
def test_links_lead_to_files(path: Path) -> None:
    missing = [
        link for link in LINK.findall(path.read_text(encoding="utf-8")) if not (path.parent / link).exists()
    ]
    assert missing == []


@pytest.mark.parametrize("path", ALL_PAGES, ids=lambda path: path.stem)
def test_python_sessions_on_the_pages_run(path: Path) -> None:
    failed, _ = doctest.testfile(str(path), module_relative=False, encoding="utf-8")
    assert failed == 0


@pytest.mark.parametrize("path", ALL_PAGES, ids=lambda path: path.stem)
def test_no_page_promises_what_a_computation_cannot(path: Path) -> None:
    assert PROMISES.findall(path.read_text(encoding="utf-8")) == []


def test_a_block_whose_filter_no_longer_matches_is_an_error() -> None:
    with working_folder(), pytest.raises(ValueError, match="prints nothing"):
        Shell().run("cat scenarios/trains/wooden_six.toml | grep -i zeppelin")


def test_the_readme_states_the_job_then_two_commands_then_one_answer_and_one_curve() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 120
    assert "haul" in text.split("\n\n")[1]
    install, tests = re.findall(r"```sh\n(.*?)\n```", text, re.S)
    assert "pip install" in install
    assert "locosim check" in install
    assert "pytest" in tests
    answer, curve = re.findall(r"```console\n(.*?)```", text, re.S)
    assert answer.startswith("$ locosim check")
    assert curve.startswith("$ locosim curve")
    assert text.index("```sh") < text.index("approves nothing for service") < text.index("```console")
