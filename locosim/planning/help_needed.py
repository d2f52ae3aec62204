"""Where a train needs help: the least pull, and from which milepost to which.

The pull is that of a helper at its coupler, without its weight, wherever the train engine gives full effort. A pull
suffices when no rule that judges what the train can do stops: stall, climb, adhesion, time and steam. More pull never
hurts, nor does pull over a longer stretch; so the least pull over the whole run is found by bisection, then the last
place where it may begin, and the first where it may end. More pull is needed over a shorter stretch: the same is done
for a few larger pulls. Momentum counts, in the run at full effort.
"""

from __future__ import annotations

from collections.abc import Callable

from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.needs import adhesion_need, steam_need
from locosim.journey.run import run_full_effort
from locosim.journey.setup.assisting_pull import AssistingPull
from locosim.model import Excursion
from locosim.planning.finding import NOTE, Finding
from locosim.planning.rules.adhesion import adhesion
from locosim.planning.rules.boiler import steaming
from locosim.planning.rules.stall import stalling
from locosim.planning.rules.timekeeping import timekeeping
from locosim.planning.rules.traction import climbing

HELP_RULES = ("stall", "start", "climb", "adhesion", "time", "steam")
PULL_STEP = 0.005  # to which the least pull is found, over itself [1]
PLACE_STEP = 100.0  # to which its ends are found [m]
MAX_PULL = 4e6  # [N]
MAX_MOVES = 50  # of the ends of a stretch after the bisection
LARGER = (1.0, 1.25, 1.5, 2.0)  # pulls that are tried, over the least


@frozen
class HelpStretch:
    """Where a pull is needed, and the proof that less would not do.

    Attributes:
        force: Pull at the coupler [N].
        start: Chainage in the direction of travel where it must begin at the latest [m].
        end: Where it may end at the earliest [m].
        later_start: What fails where it begins a step later.
        earlier_end: What fails where it ends a step earlier.
    """

    force: float
    start: float
    end: float
    later_start: tuple[Finding, ...]
    earlier_end: tuple[Finding, ...]


@frozen
class HelpNeeded:
    """Help that a train needs.

    Attributes:
        alone: What stops without help, by the rules that a pull can help.
        stretches: The least pull and some larger ones, each with its stretch; empty where none is needed or none helps.
        with_less: What fails with a pull smaller by `PULL_STEP` over the whole run.
        starts: Pull that the start at each stop lacks, by its station [N].
    """

    alone: tuple[Finding, ...]
    stretches: tuple[HelpStretch, ...]
    with_less: tuple[Finding, ...]
    starts: tuple[tuple[str, float], ...]


def find_help_needed(
    excursion: Excursion, performance: Performance, stopping: tuple[Finding, ...]
) -> HelpNeeded:
    """Find the help that an excursion without helpers needs.

    Args:
        excursion: The excursion, without helpers.
        performance: Performance of its engine.
        stopping: Findings of its check that stop.
    """
    alone = tuple(finding for finding in stopping if finding.rule in HELP_RULES)
    starts = tuple((f.place, f.limit - f.value) for f in alone if f.rule == "start")
    line = excursion.route_as_run
    first, last = (line.station(excursion.stops[k].station).chainage for k in (0, -1))

    def failures(pull: AssistingPull) -> tuple[Finding, ...]:
        return pull_failures(excursion, performance, pull)

    if not [finding for finding in alone if finding.rule != "start"]:
        return HelpNeeded(alone=alone, stretches=(), with_less=(), starts=starts)
    low, high = 0.0, 10e3
    while failures(AssistingPull(force=high, start=first, end=last)):
        low, high = high, 2.0 * high
        if high > MAX_PULL:
            return HelpNeeded(alone=alone, stretches=(), with_less=(), starts=starts)
    while high - low > PULL_STEP * high:
        middle = 0.5 * (low + high)
        low, high = (
            (middle, high) if failures(AssistingPull(force=middle, start=first, end=last)) else (low, middle)
        )
    return HelpNeeded(
        alone=alone,
        stretches=tuple(_stretch(failures, share * high, first, last) for share in LARGER),
        with_less=failures(AssistingPull(force=low, start=first, end=last)),
        starts=starts,
    )


def pull_failures(excursion: Excursion, performance: Performance, pull: AssistingPull) -> tuple[Finding, ...]:
    """What stops with a pull from outside, the start left out; that is judged where the helper stands."""
    journey = run_full_effort(excursion, performance, pull=pull)
    found = [*stalling(journey), *climbing(journey), *timekeeping(journey)]
    broken = tuple(finding for finding in found if finding.margin < 0.0 and finding.rule != "end of run")
    if broken:
        return broken
    steam = steam_need(excursion, performance, pull=pull)
    rail = adhesion_need(excursion, performance, steam, pull=pull)
    needs = [*steaming(journey, steam), *adhesion(journey, rail)]
    return tuple(finding for finding in needs if finding.margin < 0.0 and finding.verdict != NOTE)


def _stretch(
    failures: Callable[[AssistingPull], tuple[Finding, ...]], force: float, first: float, last: float
) -> HelpStretch:
    """The shortest stretch of a pull: its start as late as may be, then its end as early.

    A fireman who expects less help fires more, so what suffices over a stretch may fail by a hair over a longer one:
    both ends are moved on as long as that suffices, and what fails a step beyond each is that of the final stretch.
    """

    def over(start: int, end: int) -> tuple[Finding, ...]:
        return failures(
            AssistingPull(force=force, start=first + start * PLACE_STEP, end=last - end * PLACE_STEP)
        )

    steps = int((last - first) / PLACE_STEP)
    start = _most(lambda k: not over(k, 0), steps)
    end = _most(lambda k: not over(start, k), steps - start)
    for _ in range(MAX_MOVES):
        later, earlier = over(start + 1, end), over(start, end + 1)
        if later and earlier:
            break
        start, end = start + (not later), end + (bool(later) and not earlier)
    return HelpStretch(
        force=force,
        start=first + start * PLACE_STEP,
        end=last - end * PLACE_STEP,
        later_start=later,
        earlier_end=earlier,
    )


def _most(suffices: Callable[[int], bool], most: int) -> int:
    """Most steps that suffice, by bisection; none does."""
    low, high = 0, most + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if suffices(middle) else (low, middle)
    return low
