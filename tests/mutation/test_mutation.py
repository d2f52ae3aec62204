"""The mutants are what they say: each parses, differs in one place, and is killed by a test that looks there."""

from __future__ import annotations

import ast
from collections import Counter

import pytest

from tests.mutation import trials_of_mutants
from tests.mutation.__main__ import EQUIVALENT, read_equivalent, wilson
from tests.mutation.mutants import ROOMS, ROOT, Mutant, all_mutants, mutants_of, of_rooms, sample
from tests.mutation.reach import TestFile
from tests.mutation.stored import touched_by, touches_compiled

SOURCE = '''"""A file."""
LIMIT: float = 2.0


def share(*, part: float, whole: float = 4) -> float:
    """Divide."""
    if part < 0.0 and whole:
        raise ValueError(f"{part + 1} is below zero")
    total = max(part, whole)
    return combine(
        first=part / total,
        second=LIMIT,
    )
'''


@pytest.fixture(scope="module")
def files() -> dict[str, list[Mutant]]:
    return all_mutants()


def test_each_fault_is_made_at_its_place():
    found = {mutant.change for mutant in mutants_of("share.py", SOURCE)}
    assert found == {
        "2.0 -> 2.2",
        "4 -> 5",
        "part < 0.0 and whole -> (part < 0.0) or (whole)",
        "part < 0.0 and whole -> (not (part < 0.0 and whole))",
        "part < 0.0 -> part <= 0.0",
        "part < 0.0 -> part >= 0.0",
        "0.0 -> 1.0",
        'raise ValueError(f"{part + 1} is below zero") -> pass',
        "max -> min",
        "part / total -> (part) * (total)",
        "combine( first=part / total, second=LIMIT, ) -> combine(first=LIMIT, second=part / total)",
    }


def test_a_mutant_changes_its_place_alone_and_still_parses(files):
    for mutant in sample(files, 60, 7):
        source = (ROOT / "locosim" / mutant.file).read_text(encoding="utf-8")
        changed = mutant.applied(source)
        ast.parse(changed)
        assert changed != source
        before, after = source.splitlines(), changed.splitlines()
        assert before[: mutant.line - 1] == after[: mutant.line - 1]
        assert before[mutant.end_line :] == after[len(after) - len(before) + mutant.end_line :]


def test_lines_are_drawn_alike_and_once(files):
    drawn = sample(files, 2000, 3)
    assert len({(mutant.file, mutant.line) for mutant in drawn}) == 2000
    assert drawn == sample(files, 2000, 3) != sample(files, 2000, 4)
    lines = {name: len({mutant.line for mutant in found}) for name, found in files.items()}
    planning = sum(count for name, count in lines.items() if name.startswith("planning/")) / sum(
        lines.values()
    )
    share = Counter(mutant.file.split("/")[0] for mutant in drawn)["planning"] / 2000
    assert share == pytest.approx(planning, abs=0.03)


def test_a_draw_may_be_of_some_rooms_alone(files):
    chosen = of_rooms(files, ["planning", "journey/kernel"])
    assert {mutant.file.split("/")[0] for mutant in sample(chosen, 200, 1)} == {"planning", "journey"}
    assert all(file.startswith(("planning/", "journey/kernel/")) for file in chosen)
    assert sum(len(of_rooms(files, [room])) for room in ROOMS) == len(files)


def test_the_tests_of_a_mutant_reach_its_line_and_those_of_its_room_come_first():
    mutant = Mutant("planning/load.py", 12, 0, 12, 9, 12, "load", "", "a", "b")
    far = TestFile("tests/laws/test_laws.py", 1.0, {"planning/load.py": frozenset({3, 12})})
    near = TestFile("tests/planning/test_load.py", 5.0, {"planning/load.py": frozenset({12})})
    beside = TestFile("tests/planning/test_day.py", 2.0, {"planning/load.py": frozenset({11, 13})})
    assert trials_of_mutants.tests_for(mutant, [far, beside, near]) == [near, far]


def test_machine_code_is_kept_where_a_fault_cannot_touch_it():
    assert "locosim.journey.kernel.integrate" in touched_by("locosim.journey.kernel.fire")
    assert "locosim.physics.cylinder.solver" not in touched_by("locosim.journey.kernel.fire")
    assert touches_compiled("physics/steam/property_table.py")
    assert not touches_compiled("planning/load.py")


def test_an_entry_that_is_no_mutant_is_refused(tmp_path, files):
    assert read_equivalent(EQUIVALENT, files) is not None
    entry = '[[mutant]]\nfile = "planning/load.py"\nfunction = "f"\nline = "x"\nchange = "1 -> 2"\nreason = "none"\n'
    path = tmp_path / "equivalent.toml"
    path.write_text(entry, encoding="utf-8")
    with pytest.raises(SystemExit, match="remove it"):
        read_equivalent(path, files)


def test_the_interval_of_a_share():
    # Wilson's own form solved by hand: it contains p if |9/10 - p| = 1.96 sqrt(p (1 - p) / 10) at both ends
    for end in wilson(9, 10):
        assert abs(0.9 - end) == pytest.approx(1.96 * (end * (1.0 - end) / 10) ** 0.5)
