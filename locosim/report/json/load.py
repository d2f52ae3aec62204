"""The largest load as JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from locosim.planning.finding import Finding
from locosim.planning.load import LoadRating
from locosim.planning.load_search import LargestLoad
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from


def load_json(rating: LoadRating) -> str:
    """Write the largest load of an excursion as JSON."""
    varied = rating.varied
    content = {
        "excursion": rating.excursion.name,
        "varied": varied.what,
        "by_mass": varied.vehicle is None,
        "mass_step_kg": varied.step if varied.vehicle is None else None,
        "accepted_verdict": rating.verdict,
        "not_clear_without_load": _finding(rating.not_clear),
        "whole": _load(rating.whole),
        "sections": [_load(each) for each in rating.sections],
        "conditions": [_load(each) for each in rating.conditions],
        "number_without_momentum": rating.without_momentum,
        "trailing_mass_without_momentum_kg": None
        if rating.without_momentum is None
        else varied.at(rating.without_momentum).mass,
        "momentum_grades": [
            {
                "foot_m": each.entry,
                "end_m": each.end,
                "steepest_grade": each.steepest,
                "required_speed_m_s": each.required,
                "speed_m_s": each.speed,
                "allowed_speed_m_s": each.allowed,
                "lowest_speed_m_s": each.lowest,
            }
            for each in rating.momentum
        ],
    }
    return envelope("load", rating.performance.method, made_from(rating), content)


def _load(load: LargestLoad) -> dict[str, Any]:
    """One load with its proof."""
    return {
        "plan": load.name,
        "figure": None if load.fact is None else dict(zip(("si", "kind"), load.fact, strict=True)),
        "number": load.number,
        "trailing_mass_kg": load.mass,
        "verdict": None if load.check is None else load.check.verdict,
        "next_larger_verdict": None if load.refused is None else load.refused.verdict,
        "next_larger_fails_by": _finding(load.limit),
        "rests_on_assumptions": list(load.rests_on),
        "note": load.note,
    }


def _finding(finding: Finding | None) -> dict[str, Any] | None:
    if finding is None:
        return None
    kept = ("rule", "verdict", "place", "chainage", "value", "limit", "kind", "margin")
    found = asdict(finding)
    return {key: found[key] for key in kept}
