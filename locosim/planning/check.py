"""The check: every rule, held against one run of one excursion."""

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
from locosim.planning.rules import clearance as passing_rules
from locosim.planning.rules import running as running_rules
from locosim.planning.rules import stall as stall_rules
from locosim.planning.rules import supplies as supply_rules
from locosim.planning.rules import traction as pulling_rules

RULES: tuple[Callable[[Journey], list[Finding]], ...] = (
    stall_rules.stalling,
    pulling_rules.starting,
    pulling_rules.climbing,
    adhesion_rules.adhesion,
    pulling_rules.couplers,
    boiler_rules.steaming,
    boiler_rules.pressure,
    boiler_rules.crown_cover,
    boiler_rules.glass,
    boiler_rules.ash,
    supply_rules.water,
    supply_rules.fuel,
    running_rules.timekeeping,
    running_rules.stopping,
    running_rules.descending,
    passing_rules.axle_load,
    passing_rules.curves,
    passing_rules.rotation,
    running_rules.data_range,
)

END_RULES = ("stall", "end of run")  # what ends the run is said first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Check:
    """An excursion judged.

    Attributes:
        verdict: The gravest of the findings' verdicts.
        findings: Gravest first, then by least margin.
        journey: The run they were found on.
    """

    verdict: str
    findings: tuple[Finding, ...]
    journey: Journey


def check_excursion(excursion: Excursion, performance: Performance | None = None) -> Check:
    """Run an excursion and hold every rule against it.

    Args:
        excursion: What is asked.
        performance: What its engine can do, when already known.

    Raises:
        OutOfRange: The excursion asks for something its route or engine has not.
    """
    known = performance if performance is not None else compute_excursion_performance(excursion)
    journey = run_journey(excursion, known, transient_boiler=True)
    return check_journey(journey)


def check_journey(journey: Journey) -> Check:
    """Hold every rule against a run."""
    findings = [finding for rule in RULES for finding in rule(journey)]
    findings.sort(key=lambda f: (-VERDICTS.index(f.verdict), f.rule not in END_RULES, f.margin))
    return Check(
        verdict=worst_verdict([f.verdict for f in findings]), findings=tuple(findings), journey=journey
    )
