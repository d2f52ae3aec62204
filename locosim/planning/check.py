"""The check: every rule applied to one run of one excursion."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.model import Excursion
from locosim.planning.finding import VERDICTS, Finding, worst_verdict
from locosim.planning.rules import adhesion as adhesion_rules
from locosim.planning.rules import boiler as boiler_rules
from locosim.planning.rules import braking as braking_rules
from locosim.planning.rules import clearance as clearance_rules
from locosim.planning.rules import data_range as data_range_rules
from locosim.planning.rules import stall as stall_rules
from locosim.planning.rules import supplies as supply_rules
from locosim.planning.rules import timekeeping as timekeeping_rules
from locosim.planning.rules import traction as traction_rules

RULES: tuple[Callable[[Journey], list[Finding]], ...] = (
    stall_rules.stalling,
    traction_rules.starting,
    traction_rules.climbing,
    adhesion_rules.adhesion,
    traction_rules.couplers,
    boiler_rules.steaming,
    boiler_rules.pressure,
    boiler_rules.crown_cover,
    boiler_rules.water_glass,
    boiler_rules.ash,
    supply_rules.water,
    supply_rules.fuel,
    timekeeping_rules.timekeeping,
    braking_rules.stopping,
    braking_rules.descending,
    clearance_rules.axle_load,
    clearance_rules.curves,
    clearance_rules.rotation,
    data_range_rules.data_range,
)

END_RULES = ("stall", "end of run")  # listed before other findings of the same verdict: they end the run


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Check:
    """Findings of all rules on one run.

    Attributes:
        verdict: Worst verdict of the findings.
        findings: Worst verdict first, then least margin first.
        journey: The run.
    """

    verdict: str
    findings: tuple[Finding, ...]
    journey: Journey


def run_and_check(excursion: Excursion, performance: Performance | None = None) -> Check:
    """Run an excursion and apply every rule to the run.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine, if already computed.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    known = performance if performance is not None else compute_excursion_performance(excursion)
    return check_journey(run_journey(excursion, known, transient_boiler=True))


def check_journey(journey: Journey) -> Check:
    """Apply every rule to a run."""
    findings = [finding for rule in RULES for finding in rule(journey)]
    findings.sort(key=lambda f: (-VERDICTS.index(f.verdict), f.rule not in END_RULES, f.margin))
    return Check(
        verdict=worst_verdict(f.verdict for f in findings), findings=tuple(findings), journey=journey
    )
