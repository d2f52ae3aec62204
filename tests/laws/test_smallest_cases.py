"""Smallest random cases that broke a law once, as shrunk by `python -m tests.laws --shrink`."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials
from cases import Case, build

from locosim.journey.kernel import arrays as records
from locosim.journey.run import run_prepared
from locosim.journey.setup.prepare import prepare
from locosim.journey.timetable import TIME_TOLERANCE, drive_to_timetable

TIME_NOT_USED = {
    # The bearings are warm at the second start; the search took them as cold as at the first, and was 46 s early.
    "warm bearings": Case(stop=0.3, slack=1.2, cars=14, kelvin=258),
    # Shut off at 1.8 m/s, below the speed of breaking away, the train crept down the grade or did not: 8 s early.
    "creeping down a grade": Case(pieces=((3000, -5), (6000, -5), (4000, -5)), limit=8, slack=1.2),
    # An ease that lost the last climb ended the search, whatever could still be eased before it.
    "no reserve on the climb": Case(pieces=((3000, 0), (3000, 20)), slack=1.1, cars=8, tubes=107),
    "momentum grade": Case(pieces=((3000, -20), (1000, 20)), slack=1.35),
    "climb after a fall": Case(
        pieces=((4700, -20), (5900, 0), (2400, 14), (5100, -14)),
        limit=18,
        slack=1.35,
        cars=14,
        car=44,
        allowance=1.3,
        bore=55,
        grate=2.4,
    ),
}


@pytest.mark.parametrize("case", TIME_NOT_USED.values(), ids=TIME_NOT_USED)
def test_time_in_hand_is_used(case: Case) -> None:
    excursion = build(case)
    assert excursion is not None
    driving = drive_to_timetable(prepare(excursion, trials.performance(excursion)))
    arrays = run_prepared(replace(driving.prepared, boiler=driving.prepared.boiler._replace(transient=False)))
    for section, ease, aim in zip(driving.sections, driving.ease, driving.aims, strict=True):
        late = float(arrays.nodes[records.ARRIVE, driving.prepared.stop_nodes[section.last_stop]]) - aim
        assert late <= 0.1
        assert ease == 1.0 or late >= -TIME_TOLERANCE - 0.1
