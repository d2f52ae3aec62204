"""Help for an excursion as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from locosim.planning.doubling import Doubling
from locosim.planning.finding import Finding
from locosim.planning.helper_plan import HelperPlan, HelperService, RefusedPair
from locosim.planning.light_engine import Used, used_on
from locosim.planning.station_times import line_chainage
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def helper_plan_json(plan: HelperPlan) -> str:
    """Write the help for an excursion as JSON."""
    excursion = plan.alone.journey.excursion
    return envelope(
        "helper",
        plan.performance.method,
        made_from(plan),
        {
            "excursion": excursion.name,
            "help_needed": plan.needed,
            "verdict_alone": plan.alone.verdict,
            "stopped_alone": [_finding(f) for f in plan.need.alone],
            "starts_lacking": [{"station": name, "force_N": force} for name, force in plan.need.starts],
            "pulls": [
                {
                    "force_N": each.force,
                    "from_milepost_m": line_chainage(excursion, each.start),
                    "to_milepost_m": line_chainage(excursion, each.end),
                    "rules_failing_if_begun_later": _rules(each.later_start),
                    "rules_failing_if_ended_earlier": _rules(each.earlier_end),
                }
                for each in plan.need.stretches
            ],
            "rules_failing_with_less_pull": _rules(plan.need.with_less),
            "helper": plan.helper_name,
            "place": plan.helper.place,
            "service": _service(plan.service),
            "refused": [_pair(pair) for pair in plan.refused],
            "doubling": _doubling(plan.doubling),
        },
    )


def _rules(findings: Sequence[Finding]) -> list[str]:
    return list(dict.fromkeys(finding.rule for finding in findings))


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "place": finding.place,
        "value": finding.value,
        "limit": finding.limit,
        "margin": finding.margin,
    }


def _pair(pair: RefusedPair) -> dict[str, Any]:
    return {"from": pair.coupled, "to": pair.cut_off, "finding": _finding(pair.finding)}


def _used(used: Used | None) -> dict[str, float] | None:
    return (
        None
        if used is None
        else {f"{name}_{'s' if name == 'time' else 'kg'}": v for name, v in asdict(used).items()}
    )


def _service(service: HelperService | None) -> dict[str, Any] | None:
    if service is None:
        return None
    answer, back = service.answer, service.back
    return {
        "from": service.coupled,
        "to": service.cut_off,
        "new_stops": list(service.new_stops),
        "verdict": answer.verdict,
        "rules_not_clear": list(
            dict.fromkeys(f.rule for f in answer.findings if f.verdict in ("tight", "stop"))
        ),
        "arrival_s": answer.journey.stops[-1].arrive if answer.journey.arrived else None,
        "helping": _used(service.helping),
        "light_return": None if back is None else {"outcome": back.outcome, **(_used(used_on(back)) or {})},
        "round_trip": _used(service.round_trip),
        "shorter_refused": [_pair(pair) for pair in service.refused],
    }


def _doubling(doubling: Doubling | None) -> dict[str, Any] | None:
    if doubling is None:
        return None
    return {
        "foot": doubling.foot,
        "top": doubling.top,
        "works": doubling.works,
        "parts_kg": [part.mass for part in doubling.parts],
        "verdicts_of_trips": [check.verdict for check in doubling.trips],
        "verdicts_of_rest": [check.verdict for check in doubling.rest],
        "switching_s": doubling.switching,
        "used": _used(doubling.used),
        "through_with_helper_s": doubling.through,
    }
