"""The check: every rule applied to the run it judges."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.model import Excursion
from locosim.planning.finding import NOTE, Finding, severity, worst_verdict
from locosim.planning.rules import adhesion as adhesion_rules
from locosim.planning.rules import boiler as boiler_rules
from locosim.planning.rules import braking as braking_rules
from locosim.planning.rules import clearance as clearance_rules
from locosim.planning.rules import data_range as data_range_rules
from locosim.planning.rules import stall as stall_rules
from locosim.planning.rules import supplies as supply_rules
from locosim.planning.rules import timekeeping as timekeeping_rules
from locosim.planning.rules import traction as traction_rules
from locosim.planning.trial_runs import Needs, TrialRuns, compute_trial_runs

Rule = Callable[[Journey], list[Finding]]

# What the train can do is judged at full effort: an eased run is slower, and a lighter train is eased more.
FULL_EFFORT_RULES: tuple[Rule, ...] = (
    traction_rules.starting,
    traction_rules.climbing,
    traction_rules.couplers,
    timekeeping_rules.timekeeping,
)
# What the run does to boiler, supplies and brakes is judged on the booked run.
BOOKED_RULES: tuple[Rule, ...] = (
    boiler_rules.pressure,
    boiler_rules.crown_cover,
    boiler_rules.water_glass,
    boiler_rules.water_glass_in_braking,
    boiler_rules.ash,
    supply_rules.water,
    supply_rules.fuel,
    braking_rules.stopping,
    braking_rules.descending,
    clearance_rules.axle_load,
    clearance_rules.curves,
    clearance_rules.curve_speeds,
    clearance_rules.rotation,
    data_range_rules.data_range,
)

END_RULES = ("stall", "end of run")  # listed before other findings of the same verdict: they end the run


@frozen(eq=False)
class Check:
    """Findings of all rules on the runs of one excursion.

    Attributes:
        verdict: Worst verdict of the findings.
        findings: Worst verdict first, then least margin first.
        runs: The runs they rest on.
    """

    verdict: str
    findings: tuple[Finding, ...]
    runs: TrialRuns

    @property
    def journey(self) -> Journey:
        """The run to the booked times."""
        return self.runs.booked


def run_and_check(
    excursion: Excursion,
    performance: Performance | None = None,
    *,
    begin: TrialRuns | None = None,
    near: Needs | None = None,
) -> Check:
    """Run an excursion and apply every rule to the runs.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine, if already computed.
        begin: Runs of a similar excursion, from which the searches begin.
        near: Needs of one, from which the search for the needs alone begins; nothing but the time depends on them.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    known = performance if performance is not None else compute_excursion_performance(excursion)
    return check_runs(compute_trial_runs(excursion, known, begin=begin, near=near))


def check_runs(runs: TrialRuns) -> Check:
    """Apply every rule to the run it judges."""
    return sorted_check(judge_runs(runs), runs)


def judge_runs(runs: TrialRuns) -> list[Finding]:
    """Findings of all rules, in the order of the rules."""
    return [
        *stall_rules.stalling(runs.full_effort if runs.full_effort.outcome == "stalled" else runs.booked),
        *judge_full_effort(runs.full_effort),
        *boiler_rules.steaming(runs.full_effort, runs.need),
        *adhesion_rules.adhesion(runs.full_effort, runs.adhesion_need),
        *judge_booked(runs.booked),
    ]


def judge_full_effort(journey: Journey) -> list[Finding]:
    """Findings of the rules that judge the run at full effort."""
    return [finding for rule in FULL_EFFORT_RULES for finding in rule(journey)]


def judge_booked(journey: Journey) -> list[Finding]:
    """Findings of the rules that judge the booked run."""
    return [finding for rule in BOOKED_RULES for finding in rule(journey)]


def sorted_check(findings: Sequence[Finding], runs: TrialRuns) -> Check:
    """The check of some findings: worst verdict first, then least margin first."""
    ordered = sort_findings(findings)
    return Check(verdict=worst_verdict(f.verdict for f in ordered), findings=tuple(ordered), runs=runs)


def sort_findings(findings: Sequence[Finding]) -> list[Finding]:
    """Findings with the worst verdict first, then with the least margin first."""
    return sorted(findings, key=lambda f: (-severity(f.verdict), f.rule not in END_RULES, f.margin))


def worst_finding(check: Check) -> Finding | None:
    """The finding with the worst verdict, and of those the one with the least margin; None where there is none."""
    return next((finding for finding in check.findings if finding.verdict != NOTE), None)
