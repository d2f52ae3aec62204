"""The risk of an excursion as text."""

from __future__ import annotations

import numpy as np

from locosim.engine.map.store import MAP_ASSUMPTIONS
from locosim.model.assumptions import CHANCE, DOUBT
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import method_lines
from locosim.report.text.failure_words import (
    PERCENT,
    driver_cells,
    failure_sentence,
    interval_text,
    percent,
    probability_text,
    side_text,
    telling_sides,
)
from locosim.report.text.layout import margin_text, paragraph, table
from locosim.studies.failure_statistics import Influence, Side
from locosim.studies.risk import VERDICTS, FailureMode, Risk
from locosim.studies.uncertain_inputs import POWER_FACTOR, SampledInput

MAX_SENTENCES, MAX_DRIVERS, MAX_PAIRS = 8, 8, 6
SHOWN_MARGIN = (
    0.5  # a finding that never fails is listed where a twentieth of the samples has a margin below this
)
LOW_END = 0.05
MEANING = (
    "These are probabilities only so far as the distributions of the inputs are right, and within the model: a failure "
    "that no input or rule stands for does not count"
)
WITHOUT_MODEL_ERROR = (
    ", nor does the error of the model, below under accuracy; `--change uncertainty.model_error=yes` draws that of the "
    "power."
)
WITH_MODEL_ERROR = (
    ". The error of the model is drawn as one factor on the power at a given steam rate, and so on steam, water and "
    "fuel; at starting, where the cylinders are the limit, it is left out."
)
INTERPOLATED = (
    "Assumptions that the cylinders depend on: performance maps were computed as given and toward both ends; that of a "
    "sample is interpolated between them, within about 1 % of its power."
)


def risk_text(risk: Risk) -> str:
    """Write how often an excursion fails, by what, and what drives it."""
    parts = [
        paragraph(headline(risk)),
        "\n".join(map(paragraph, [_subject(risk), *method_lines(risk.performance)])),
        "\n".join(map(paragraph, verdict_lines(risk))),
        "\n".join(paragraph(line, indent="  ", first="") for line in failure_lines(risk)),
        table(MODE_HEADERS, mode_rows(risk), left=1, wrapped=(0,)),
        _together(risk),
        _drivers(risk),
        "\n".join(map(paragraph, note_lines(risk))),
        paragraph(accuracy_text("risk", risk.performance.method, made_from(risk))),
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part).replace(PERCENT, " %")


def headline(risk: Risk) -> str:
    """The answer in a line."""
    found = risk.plan.probability
    of = "" if found.count in (0, found.samples) else f" of {found.samples:,} samples"
    return f"{risk.excursion.name}: fails in {probability_text(found)}{of}".replace(PERCENT, " %")


def _subject(risk: Risk) -> str:
    excursion = risk.excursion
    chance = sum(each.nature == CHANCE for each in risk.inputs.inputs)
    doubt = len(risk.inputs.inputs) - chance
    return (
        f"{excursion.locomotive.name} with {excursion.train.name}; {excursion.route_as_run.name}. "
        f"{len(risk.inputs.inputs)} inputs varied, {chance} by chance from trip to trip and {doubt} in doubt on every "
        f"trip; Latin hypercube, seed {risk.seed}. As given, the check is {risk.base.verdict.upper()}."
    )


def verdict_lines(risk: Risk) -> list[str]:
    """How often each verdict comes out, and samples that could not be computed."""
    parts = [f"{verdict} in {probability_text(risk.verdict_probability(verdict))}" for verdict in VERDICTS]
    lines = [f"The check is {'; '.join(parts)}."]
    if risk.not_computed:
        number, reason = risk.not_computed[0]
        lines.append(
            f"{len(risk.not_computed)} of {risk.asked:,} samples could not be computed, and are not in these figures; "
            f"if all of them fail, the plan fails in {probability_text(risk.at_worst)}. The first is sample {number}: "
            f"{reason}"
        )
    return lines


def failure_lines(risk: Risk) -> list[str]:
    """A sentence for each finding that fails."""
    failing = risk.failing
    lines = [failure_sentence(mode, risk.inputs.inputs) for mode in failing[:MAX_SENTENCES]]
    if len(failing) > MAX_SENTENCES:
        lines.append(f"{len(failing) - MAX_SENTENCES} more findings fail; see the table.")
    return lines


MODE_HEADERS = (
    "finding",
    "fails in",
    "95 %\nconfidence",
    "margin\nas given",
    "a twentieth\nbelow",
    "not\njudged in",
)


def mode_rows(risk: Risk) -> list[tuple[str, ...]]:
    """Findings that fail, and those that come near, as table rows."""
    shown = [mode for mode in risk.modes if mode.probability.count > 0 or low_margin(mode) < SHOWN_MARGIN]
    return [
        (
            mode.name,
            f"{mode.probability.count:,}" if mode.probability.count else "none",
            interval_text(mode.probability),
            ""
            if mode.example is None or not np.isfinite(mode.example.margin)
            else margin_text(mode.example.margin),
            margin_text(low_margin(mode)) if np.isfinite(low_margin(mode)) else "",
            f"{mode.not_judged:,}" if mode.not_judged else "",
        )
        for mode in [risk.plan, *shown]
    ]


def low_margin(mode: FailureMode) -> float:
    """Margin that a twentieth of the samples lies below [1]; not a number without any."""
    judged = mode.margins[np.isfinite(mode.margins)]
    return float(np.quantile(judged, LOW_END)) if len(judged) else float("nan")


def together_pairs(risk: Risk) -> list[tuple[FailureMode, FailureMode, int]]:
    """Pairs of findings that fail together, most samples first: the rarer one, the other, and how often both."""
    failing = risk.failing
    pairs = [
        (second, first, risk.together(first, second))
        for place, first in enumerate(failing)
        for second in failing[place + 1 :]
    ]
    return sorted(
        (pair for pair in pairs if pair[2]), key=lambda pair: (-pair[2], pair[0].name, pair[1].name)
    )


def _together(risk: Risk) -> str:
    pairs = together_pairs(risk)
    if len(risk.failing) < 2:
        return ""
    alone = [f"{mode.name} {risk.alone(mode):,}" for mode in risk.failing if risk.alone(mode)]
    lines = [
        f"Fails alone, of {risk.plan.probability.count:,} samples that fail: {', '.join(alone)}."
        if alone
        else "No finding fails alone."
    ]
    if not pairs:
        return paragraph(" ".join([*lines, "No two findings fail together."]))
    rows = [
        (rarer.name, other.name, f"{both:,} of {rarer.probability.count:,}")
        for rarer, other, both in pairs[:MAX_PAIRS]
    ]
    headers = ("when this fails", "this fails too", "in")
    return f"{paragraph(lines[0])}\n\n{table(headers, rows, left=2, wrapped=(0, 1))}"


def strongest(mode: FailureMode, inputs: tuple[SampledInput, ...]) -> list[tuple[SampledInput, Influence]]:
    """Inputs by their share of the variance; those whose interval begins at 0 are left out."""
    pairs = [pair for pair in zip(inputs, mode.drivers, strict=True) if pair[1].share_low > 0.0]
    return sorted(pairs, key=lambda pair: (-pair[1].share, pair[0].label))


def _drivers(risk: Risk) -> str:
    """What drives the margin of the plan and of the finding that fails most often."""
    parts = []
    for mode in (risk.plan, *risk.failing[:2]):
        found = strongest(mode, risk.inputs.inputs)[:MAX_DRIVERS]
        if not found:
            continue
        sides = {each.label: side for each, side in telling_sides(mode, risk.inputs.inputs)}
        rows = [
            (
                each.label,
                *driver_cells(influence),
                _side_cell(each, sides),
            )
            for each, influence in found
        ]
        of = f"the margin of {mode.name}" if mode.by_margin else f"whether the {mode.name} fails"
        headers = ("input", "rank\ncorrelation", "share of the\nvariance", "failures")
        parts.append(f"{paragraph(f'What drives {of}:')}\n{table(headers, rows, left=1, wrapped=(0, 3))}")
    return "\n\n".join(parts)


def _side_cell(each: SampledInput, sides: dict[str, Side]) -> str:
    side = sides.get(each.label)
    if side is None:
        return ""
    return f"{percent(side.of_failures)} with {side_text(each, side)}"


def note_lines(risk: Risk) -> list[str]:
    """What the figures mean and leave out."""
    doubts = [each.label for each in risk.inputs.inputs if each.nature == DOUBT]
    lines = [
        "Intervals of probabilities: Clopper and Pearson, which take the samples as independent; a Latin hypercube "
        "rarely scatters more. Shares of the variance count what an input does by itself; what is missing from 100 % "
        "comes from inputs acting together, or was not told from chance.",
        MEANING + (WITH_MODEL_ERROR if risk.draws(POWER_FACTOR) else WITHOUT_MODEL_ERROR),
    ]
    if risk.performance.method == "cycle" and risk.draws(*MAP_ASSUMPTIONS):
        lines.append(INTERPOLATED)
    if doubts:
        lines.append(
            "Inputs in doubt are the same on every trip: part of a probability is then not how often trips fail, but "
            "how likely it is that they do. `--change uncertainty.assumptions=chance` leaves the assumed ones at their "
            "values."
        )
    if not risk.excursion.uncertainty.correlations:
        lines.append(
            "Inputs are independent of each other; wind and temperature too. All cars have the same factor, unless an "
            'input has items = "apart".'
        )
    if risk.inputs.unused:
        by_reason: dict[str, list[str]] = {}
        for name, reason in risk.inputs.unused:
            by_reason.setdefault(reason, []).append(name.replace("_", " "))
        left = "; ".join(f"{', '.join(names)} ({reason})" for reason, names in by_reason.items())
        lines.append(f"Not varied: {left}.")
    return lines
