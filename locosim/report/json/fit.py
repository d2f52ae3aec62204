"""Constants fitted to a road log as JSON."""

from __future__ import annotations

from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from
from locosim.studies.log_fit import LogFit
from locosim.units import si_label


def fit_json(fit: LogFit) -> str:
    """Write constants, intervals, correlations, errors and changes as JSON, in SI."""
    return envelope(
        "fit",
        fit.performance.method,
        made_from(fit),
        {
            "excursion": fit.excursion.name,
            "log": fit.laid.log.name,
            "constants": [
                {
                    "name": each.name,
                    "meaning": each.meaning,
                    "unit": si_label(each.kind),
                    "in_files": each.before,
                    "fitted": each.value,
                    "low_95": each.low,
                    "high_95": each.high,
                    "standard_error": each.standard_error,
                    "degrees_of_freedom": each.freedom,
                    "believable_low": each.believable_low,
                    "believable_high": each.believable_high,
                }
                for each in fit.constants
            ],
            "correlation": fit.correlation,
            "readings": [
                {
                    "kind": each.kind,
                    "number": len(each.row),
                    "stretches": each.group_count,
                    "spread": each.spread,
                    "spread_with_files_as_they_are": each.spread_before,
                    "correlation_time_s": each.correlation_time,
                    "correlation_left_over": each.left_over,
                }
                for each in fit.compared
            ],
            "time_s": fit.laid.times_by_state(),
            "changes": list(fit.changes),
            "notes": list(fit.notes),
        },
    )
