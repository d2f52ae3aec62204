"""The samples of a risk as a table: one row for each, with its inputs, its verdict and the margin of every finding."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.studies.risk import FailureMode, Risk
from locosim.studies.uncertain_inputs import SampledInput


def input_heading(each: SampledInput) -> str:
    """Heading of an input, with the unit of its figures in SI."""
    kind = {"factor": "factor", "difference": f"difference, {each.unit}".rstrip(", ")}.get(
        each.applies_as, each.unit
    )
    return f"{each.label} [{kind}]" if kind and not each.outcomes else each.label


def input_value(each: SampledInput, figure: float) -> Any:
    """A figure of an input, or the outcome."""
    return str(each.outcomes[int(figure)]) if each.outcomes else float(figure)


def risk_csv(risk: Risk) -> str:
    """Write the samples in SI; what they were made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    inputs, modes = risk.inputs.inputs, sorted(risk.modes, key=lambda mode: mode.name)
    found = risk.plan.probability
    source = source_columns(
        made_from(risk),
        f"{risk.excursion.name}: fails in {found.count} of {found.samples}, seed {risk.seed}",
        risk.performance.method,
    )
    headings = [input_heading(each) for each in inputs]
    results = [text for mode in modes for text in (f"{mode.name} fails", f"{mode.name} margin [1]")]
    writer.writerow(["sample", *headings, "verdict", "margin [1]", *results, *source])
    for row, (number, sample) in enumerate(zip(risk.numbers, risk.samples, strict=True)):
        writer.writerow(
            [
                number,
                *(_cell(input_value(each, figure)) for each, figure in zip(inputs, sample, strict=True)),
                risk.verdicts[row],
                _cell(risk.plan.margins[row]),
                *(cell for mode in modes for cell in _result_cells(mode, row)),
                *(source.values() if row == 0 else [""] * len(source)),
            ]
        )
    return out.getvalue()


def _result_cells(mode: FailureMode, row: int) -> tuple[str, str]:
    return ("yes" if mode.fails[row] else "no", _cell(mode.margins[row]))


def _cell(value: Any) -> str:
    if isinstance(value, str):
        return value
    return f"{value:.7g}" if np.isfinite(value) else ""
