"""Damaged and odd inputs end with status 0, 1 or 2 and a message, and touch no file that they do not name."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest
from typer.main import get_command

from tests.fuzz import judge
from tests.fuzz.commands import NOT_DRAWN, command_cases, commands
from tests.fuzz.judge import Bench, _json_faults, _text_faults, output_faults
from tests.fuzz.many_cases import CORPUS, each_drawn, for_each_case
from tests.fuzz.strategies import RUN_CHANGES, FuzzCase, read_case

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="measures memory as Unix does")


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(tmp_path_factory.mktemp("fuzz") / "railway")


@pytest.mark.parametrize("number", range(4))
def test_damaged_files_and_odd_options_end_with_a_status_and_a_message(bench: Bench, number: int) -> None:
    statuses: Counter[int] = Counter()

    def judge_case(case: FuzzCase) -> None:
        judged = bench.judge(case)
        statuses[judged.status] += 1
        assert not judged.faults, (judged.faults, case.arguments, case.text()[:3000])

    for_each_case(judge_case, number, 500, whole_runs=0)
    assert sum(statuses.values()) == 500
    assert min(statuses[0], statuses[2]) > 50  # both readable and unreadable ones were tried


def test_processes_share_the_cases_of_a_seed_without_repeats() -> None:
    shares: list[set[str]] = [set(), set()]
    for job, share in enumerate(shares):
        for_each_case(lambda case, share=share: share.add(case.text()), 5, 20, share=(job, 2))  # type: ignore[misc]
    assert [len(share) for share in shares] == [20, 20]
    assert not shares[0] & shares[1]


def test_a_command_is_declared_once_for_all_cases(monkeypatch: pytest.MonkeyPatch) -> None:
    """Kept anew for each case, the declarations took 4 GB in a run of 100,000."""
    declared: list[object] = []
    monkeypatch.setattr(judge, "_DECLARED", {})
    monkeypatch.setattr(judge, "get_command", lambda app: declared.append(app) or get_command(app))
    for words in (["rating"], ["rating"], ["route", "show"], ["route", "show"], ["no_such"], ["none"]):
        assert judge.run_command(words)[0] == 2
    assert len(declared) == len(judge._DECLARED) == 3


def test_each_command_is_drawn() -> None:
    drawn: Counter[str] = Counter()
    each_drawn(command_cases(), 1, 600, lambda case: drawn.update(_words_of(case)))
    assert set(drawn) == set(commands())


def _words_of(case: FuzzCase) -> list[str]:
    return [words for words in commands() if case.arguments[: len(words.split())] == words.split()]


@pytest.mark.parametrize("words", sorted(commands()))
def test_each_option_of_each_command_is_drawn(words: str) -> None:
    drawn: set[str] = set()
    options = {option for each in commands()[words] if each.name not in NOT_DRAWN for option in each.options}
    for number in range(1, 9):
        each_drawn(command_cases(words), number, 60, lambda case: drawn.update(case.arguments))
        if options <= drawn:
            break
    assert options - drawn == set()


@pytest.mark.parametrize("path", sorted(CORPUS.glob("*.json")), ids=lambda path: path.stem)
def test_what_once_failed_does_not_fail_again(bench: Bench, path: Path) -> None:
    assert bench.judge(read_case(path)).faults == []


@pytest.mark.parametrize("change", RUN_CHANGES[:5])
def test_the_books_of_odd_runs_close(bench: Bench, change: str) -> None:
    judged = bench.judge(
        FuzzCase({}, ["run", "excursions/spring_special.toml", "--json", "--change", change])
    )
    assert judged.faults == []
    assert judged.status in (0, 1)


@pytest.mark.parametrize("name", ["odd/garden.toml", "odd/tank_engine.toml", "odd/high_line.toml"])
@pytest.mark.parametrize("command", ["run", "check"])
def test_the_books_of_odd_engines_close(bench: Bench, name: str, command: str) -> None:
    judged = bench.judge(FuzzCase({}, [command, name, "--json"]))
    assert judged.faults == []
    assert judged.status in (0, 1)


@pytest.mark.parametrize(
    "output",
    ['{"a": NaN}', '{"a": Infinity}', '{"verdict": "safe"}', '{"legs": [{"verdict": ""}]}', '"text"', "{",
     '{"ledgers": {"water [kg]": 0.01}}'],
)  # fmt: skip
def test_the_judge_finds_bad_results(output: str) -> None:
    assert _json_faults(output)


@pytest.mark.parametrize("word", ["nan", "inf", "None"])
def test_the_judge_finds_words_of_python_in_texts(word: str) -> None:
    assert _text_faults(f"arrives {word}, late", FuzzCase({}, ["run"]))
    assert not _text_faults(f"arrives {word}, late", FuzzCase({}, ["run", f"name={word}"]))
    assert not _text_faults("found inf", FuzzCase({}, ["run", "route=1e400"]))
    assert not _text_faults("financed", FuzzCase({}, ["run"]))


@pytest.mark.parametrize(
    ("name", "content"),
    [("made.csv", b"a,b\r\n1\r\n"), ("made.csv", b"a,b\r\n1,nan\r\n"), ("made.png", b"\x89PNG"), ("made.svg", b""),
     ("made.html", b"<!doctype html><html>")],
)  # fmt: skip
def test_the_judge_finds_bad_files(name: str, content: bytes, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(content)
    assert output_faults(tmp_path / name)
