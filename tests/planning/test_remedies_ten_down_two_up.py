"""Ten miles down and two up: each remedy that is printed improves the figure it is printed for."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import trials

from locosim.model import Assumptions, Crew, Criteria, Excursion
from locosim.planning.changes import Ladder, Trial, ladders
from locosim.planning.check import Check, run_and_check
from locosim.planning.remedies import Remedy, try_remedies

MILE = 1609.344
INCH = 0.0254
TEN_DOWN_TWO_UP = trials.line([(10 * MILE, -0.008), (2 * MILE, 0.016), (3000.0, 0.0)])
THIN = Assumptions(full_bed_depth=6 * INCH, idle_bed_share=0.3)
DEEP = Assumptions(full_bed_depth=10 * INCH, idle_bed_share=0.7)


def excursion(
    assumptions: Assumptions, horizon: float, cars: int, min_pressure: float, rail: str = "dry"
) -> Excursion:
    """A run with a limit of pressure and of climbing speed that it does not keep with room to spare."""
    return trials.excursion(
        TEN_DOWN_TWO_UP,
        made_of=trials.train(trials.coaches(cars)),
        assumptions=assumptions,
        crew=Crew(horizon=horizon),
        rail=rail,
        criteria=Criteria(min_boiler_pressure=min_pressure, min_climbing_speed=9.0),
    )


def trials_of(ladder: Ladder) -> Iterator[Trial]:
    return (ladder.trial(number) for number in range(1, ladder.size + 1))


def tried(check: Check, remedy: Remedy) -> Excursion:
    """The excursion with a remedy, made again from its words."""
    offered = (trial for ladder in ladders(check, remedy.rule) for trial in trials_of(ladder))
    return next(t.excursion for t in offered if (t.change, t.amount) == (remedy.change, remedy.amount))


def least_margin(check: Check, rule: str) -> float:
    assert check.journey.arrived
    return min((f.margin for f in check.findings if f.rule == rule), default=float("inf"))


@pytest.mark.parametrize("assumptions", [THIN, DEEP], ids=["thin bed", "deep bed"])
@pytest.mark.parametrize("horizon", [0.0, 1800.0], ids=["stranger", "knows the road"])
@pytest.mark.parametrize(
    ("cars", "min_pressure", "rail", "rule"),
    [(8, 0.96, "dry", "pressure"), (12, 0.8, "dry", "climb"), (7, 0.8, "wet", "adhesion")],
)
def test_every_printed_remedy_improves_its_figure(
    assumptions: Assumptions, horizon: float, cars: int, min_pressure: float, rail: str, rule: str
) -> None:
    """With a fire that only lagged behind the steam, each advice printed for this line made its figure worse."""
    asked = excursion(assumptions, horizon, cars, min_pressure, rail)
    check = run_and_check(asked, trials.performance(asked))
    remedies = [remedy for remedy in try_remedies(check) if remedy.rule == rule]
    assert remedies
    for remedy in remedies:
        changed = tried(check, remedy)
        after = run_and_check(changed, trials.performance(changed))
        assert least_margin(after, rule) > least_margin(check, rule), remedy
