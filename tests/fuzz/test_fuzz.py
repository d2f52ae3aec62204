"""Damaged and odd inputs end with status 0, 1 or 2 and a message, and touch no file that they do not name."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.fuzz.__main__ import CORPUS, run_examples
from tests.fuzz.judge import Bench, _json_faults
from tests.fuzz.strategies import RUN_CHANGES, FuzzCase, read_case

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="measures memory as Unix does")


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(tmp_path_factory.mktemp("fuzz") / "railway")


@pytest.mark.parametrize("number", range(4))
def test_damaged_files_end_with_a_status_and_a_message(bench: Bench, number: int) -> None:
    statuses: Counter[int] = Counter()

    def judge(case: FuzzCase) -> None:
        judged = bench.judge(case)
        statuses[judged.status] += 1
        assert not judged.faults, (judged.faults, case.arguments, case.text()[:3000])

    run_examples(judge, number, 200, whole_runs=0)
    assert min(statuses[0], statuses[2]) > 20  # both readable and unreadable ones were tried


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


@pytest.mark.parametrize(
    "output",
    ['{"a": NaN}', '{"a": Infinity}', '{"verdict": "safe"}', '{"ledgers": {"water [kg]": 0.01}}', "{"],
)
def test_the_judge_finds_bad_results(output: str) -> None:
    assert _json_faults(output)
