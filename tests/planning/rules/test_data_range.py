"""Laws used outside the range of their data."""

from __future__ import annotations

import trials
from judged import hills, run

from locosim.planning.finding import NOTE
from locosim.planning.rules import data_range as data_range_rules


def test_a_law_used_beyond_its_range_is_a_note() -> None:
    fine = run(hills())
    assert data_range_rules.data_range(fine) == []
    light = trials.coaches(
        2, empty_mass=4e3, people=0, resistance_law="davis_1926_freight", name="light wagon"
    )
    found = data_range_rules.data_range(run(hills(made_of=trials.train(trials.coaches(), light))))
    assert found
    assert {f.verdict for f in found} == {NOTE}
    assert {f.place for f in found} == {"light wagon"}
    assert all("was not published for this" in f.because for f in found)
    assert all(f.margin < 0 for f in found)
