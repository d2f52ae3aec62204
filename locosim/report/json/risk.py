"""The risk of an excursion as JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from
from locosim.studies.failure_statistics import CONFIDENCE, Influence, Probability, Side
from locosim.studies.risk import VERDICTS, FailureMode, Risk
from locosim.studies.uncertain_inputs import SampledInput

DIGITS = 6  # significant figures of statistics: sums may differ in the last digits between machines
QUANTILES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)


def risk_json(risk: Risk) -> str:
    """Write how often an excursion fails, by what, and what drives it; the samples themselves are in the CSV."""
    inputs = risk.inputs.inputs
    content = {
        "excursion": risk.excursion.name,
        "samples": risk.count,
        "seed": risk.seed,
        "method_of_sampling": "Latin hypercube",
        "confidence": CONFIDENCE,
        "interval": "Clopper-Pearson; one-sided where the count is 0 or all",
        "verdict_as_given": risk.base.verdict,
        "verdicts": {verdict: _probability(risk.verdict_probability(verdict)) for verdict in VERDICTS},
        "plan": _mode(risk.plan, inputs),
        "findings": [_mode(mode, inputs) for mode in risk.modes],
        "failing_together": [
            {"first": first.name, "second": second.name, "samples": risk.together(first, second)}
            for place, first in enumerate(risk.failing)
            for second in risk.failing[place + 1 :]
        ],
        "alone": {mode.name: risk.alone(mode) for mode in risk.failing},
        "inputs": [_input(each) for each in inputs],
        "not_varied": [{"name": name, "reason": reason} for name, reason in risk.inputs.unused],
        "not_computed": [{"sample": number, "problem": text} for number, text in risk.not_computed],
        "if_all_not_computed_fail": _probability(risk.at_worst),
    }
    return envelope("risk", risk.performance.method, made_from(risk), content)


def _rounded(value: float) -> float | None:
    return float(f"{value:.{DIGITS}g}") if np.isfinite(value) else None


def _probability(found: Probability) -> dict[str, Any]:
    return {
        "count": found.count,
        "samples": found.samples,
        "estimate": _rounded(found.estimate),
        "low": _rounded(found.low),
        "high": _rounded(found.high),
    }


def _mode(mode: FailureMode, inputs: tuple[SampledInput, ...]) -> dict[str, Any]:
    judged = mode.margins[np.isfinite(mode.margins)]
    return {
        "rule": mode.rule,
        "place": mode.place,
        "fails_at": [{"place": place, "samples": count} for place, count in mode.where],
        "probability": _probability(mode.probability),
        "not_judged": mode.not_judged,
        "limit": None if mode.limit is None else {"si": mode.limit[0], "kind": mode.limit[1]},
        "value_as_given": None if mode.example is None else mode.example.value,
        "margin_as_given": None if mode.example is None else mode.example.margin,
        "margin_quantiles": {
            f"{quantile:g}": _rounded(float(np.quantile(judged, quantile))) for quantile in QUANTILES
        }
        if len(judged)
        else {},
        "drivers_of": "margin" if mode.by_margin else "failing",
        "drivers": [
            {"input": each.label, **_influence(driver, each)}
            for each, driver in zip(inputs, mode.drivers, strict=True)
        ],
    }


def _influence(driver: Influence, each: SampledInput) -> dict[str, Any]:
    return {
        "rank_correlation": _rounded(driver.rank_correlation),
        "rank_correlation_interval": [_rounded(driver.rank_low), _rounded(driver.rank_high)],
        "variance_share": _rounded(driver.share),
        "variance_share_interval": [_rounded(driver.share_low), _rounded(driver.share_high)],
        "failures_on_side": _side(driver.side, each),
    }


def _side(side: Side, each: SampledInput) -> dict[str, Any] | None:
    if side.of_samples == 0.0:
        return None
    split = (
        {"outcomes": [str(each.outcomes[number]) for number in side.outcomes]}
        if each.outcomes
        else {"side": "below" if side.below else "above", "split_si": _rounded(side.split)}
    )
    return split | {
        "share_of_failures": _rounded(side.of_failures),
        "share_of_samples": _rounded(side.of_samples),
        "probability_by_chance": _rounded(side.by_chance),
    }


def _input(each: SampledInput) -> dict[str, Any]:
    figures = {name: getattr(each.distribution, name) for name in each.distribution.__slots__}  # type: ignore[attr-defined]
    if each.outcomes:
        figures["outcomes"] = [str(outcome) for outcome in each.outcomes]
    return {
        "name": each.label,
        "key": each.key,
        "distribution": type(each.distribution).__name__.lower(),
        "figures_si": figures,
        "applies_as": each.applies_as,
        "given_si": list(each.given),
        "stretch_m": each.stretch,
        "nature": each.nature,
        "source": each.source,
    }
