"""Questions answered side by side: the answers are those of one process, whatever happens to the others."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FORKS = sys.platform == "linux" and len(os.sched_getaffinity(0)) > 1
needs_cores = pytest.mark.skipif(not FORKS, reason="a process forks only on Linux, with more than one core")


def script(text: str, **environment: str) -> str:
    """Output of a script in a process with a single thread."""
    done = subprocess.run(
        [sys.executable, "-c", text],
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", **environment},
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


BEGIN = """
import os, signal, threading, time
from functools import partial
from locosim.side_by_side import answer_each, answering_side_by_side
me = os.getpid()
def number_and_process(number):
    time.sleep(0.02)
    return number, os.getpid()
def ask(function, count=8, **more):
    with answering_side_by_side():
        return answer_each([partial(function, k) for k in range(count)], **more)
def processes(found):
    return len({process for _, process in found})
"""


@needs_cores
def test_answers_come_in_order_from_several_processes_and_none_is_left() -> None:
    text = """
found = ask(number_and_process)
print([k for k, _ in found], processes(found) > 1)
try:
    os.waitpid(-1, os.WNOHANG)
except ChildProcessError:
    print("none left", len(os.listdir("/proc/self/fd")) <= 6)
"""
    assert script(BEGIN + text).splitlines() == [f"{[*range(8)]} True", "none left True"]


@needs_cores
def test_one_process_answers_unless_asked_with_a_thread_or_within_an_answer() -> None:
    text = """
print(processes(answer_each([partial(number_and_process, k) for k in range(4)])))
done = threading.Event()
threading.Thread(target=done.wait).start()
print(processes(ask(number_and_process)))
done.set()
time.sleep(0.2)
within = ask(lambda k: (k, processes(answer_each([partial(number_and_process, j) for j in range(3)]))))
print({inner for _, inner in within}, processes(ask(number_and_process)) > 1)
"""
    assert script(BEGIN + text).splitlines() == ["1", "1", "{1} True"]


@needs_cores
def test_the_first_question_that_fails_raises_its_error() -> None:
    text = """
class Odd(Exception):
    def __init__(self, one, two):
        super().__init__("an error that cannot be pickled")
def fail(k):
    time.sleep(0.02)
    if k in (3, 4, 6):
        raise Odd(k, k) if k == 3 else ValueError(k)
    return k
try:
    ask(fail)
except Odd as wrong:
    print(wrong)
"""
    assert script(BEGIN + text) == "an error that cannot be pickled"


@needs_cores
def test_what_a_killed_process_or_a_pickle_loses_is_found_again() -> None:
    text = """
def killed(k):
    time.sleep(0.02)
    if os.getpid() != me and k > 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return k
print(ask(killed))
print([each() for each in ask(lambda k: (time.sleep(0.02), lambda: k)[1])])
"""
    assert script(BEGIN + text).splitlines() == [str([*range(8)])] * 2


@needs_cores
def test_objects_that_both_have_come_back_as_the_same() -> None:
    text = """
from dataclasses import dataclass
@dataclass(frozen=True)
class Plan:
    line: tuple
plan, other = Plan((1, 2, 3)), Plan((4, 5, 6))
found = ask(lambda k: (time.sleep(0.02), os.getpid(), plan, plan.line, other), known=[plan])
elsewhere = [each for each in found if each[1] != me]
print(len(elsewhere) > 0, all(a is plan and b is plan.line and c == other for _, _, a, b, c in elsewhere))
print(any(each[4] is other for each in elsewhere))
"""
    assert script(BEGIN + text).splitlines() == ["True True", "False"]


@needs_cores
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_ends_all_processes(number: signal.Signals) -> None:
    text = """
import sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored in a job in the background
signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
def wait(k):
    os.write(1, b"begun" + bytes([10]))
    time.sleep(60)
try:
    ask(wait)
except KeyboardInterrupt:
    sys.exit(130)
"""
    program = subprocess.Popen(
        [sys.executable, "-c", BEGIN + text],
        stdout=subprocess.PIPE, text=True, cwd=ROOT, start_new_session=True,
    )  # fmt: skip
    assert program.stdout is not None
    for _ in range(2):
        assert program.stdout.readline() == "begun\n"
    start = time.monotonic()
    if number == signal.SIGINT:
        os.killpg(program.pid, number)  # as a terminal does
    else:
        program.send_signal(number)
    assert program.wait(timeout=30) == (130 if number == signal.SIGINT else 143)
    assert program.stdout.read() == ""  # its other end is closed in every process
    program.stdout.close()
    assert time.monotonic() - start < 30


COMMAND = """
import io, os, sys
from contextlib import redirect_stdout
from locosim import side_by_side
from locosim.cli import main
forks, fork = [], os.fork
def counted():
    forks.append(1)
    return fork()
os.fork = counted
if {alone}:
    side_by_side.may_fork = lambda: False
sys.argv = ["locosim", *{words}]
try:
    main()
except SystemExit:
    pass
print("forks", len(forks), "BLAS", os.environ["OPENBLAS_NUM_THREADS"])
"""


@needs_cores
@pytest.mark.parametrize(
    "words",
    [
        ("check", "scenarios/excursions/winter_freight.toml", "--json"),
        ("load", "scenarios/excursions/summit_express.toml", "--json"),
        ("consists", "scenarios/excursions/spring_special.toml", "scenarios/excursions/harvest_excursion.toml"),
    ],
)  # fmt: skip
def test_a_command_that_forks_gives_the_bytes_of_one_that_does_not(words: tuple[str, ...]) -> None:
    """Two processes each, of two seconds: the whole command is what must not differ."""
    both = [script(COMMAND.format(words=words, alone=alone)).rpartition("forks ") for alone in (False, True)]
    assert both[0][0] == both[1][0]
    assert len(both[0][0]) > 1000
    forks = [int(each[2].split()[0]) for each in both]
    assert forks[0] > 0
    assert forks[1] == 0


@needs_cores
def test_garbage_is_collected_however_often_questions_are_asked() -> None:
    text = """
import gc, weakref
class Ring:
    def __init__(self):
        self.own = self
alive = weakref.WeakSet()
gc.set_threshold(3000, 2, 2)
for _ in range(30):
    for _ in range(200):
        alive.add(Ring())
    ask(number_and_process, count=2)
print(len(alive) < 3000, processes(ask(number_and_process)) > 1)
"""
    assert script(BEGIN + text) == "True True"
