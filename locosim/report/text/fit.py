"""Constants fitted to a road log as text."""

from __future__ import annotations

from locosim.report.caution import CAUTION, METHODS
from locosim.report.made_from import made_from
from locosim.report.text.layout import in_reader_units, paragraph, table
from locosim.studies.log_fit import ComparedReadings, FittedConstant, LogFit
from locosim.units import label, show, show_number

COVERS = (
    "The intervals cover the noise of the log alone, at 95 %. They do not cover errors of the grades, of the noted "
    "cutoffs and pressures, or of the constants that were given: what is wrong there goes into what was fitted."
)

SMALL_SPREAD = 10.0  # of water or fuel, below which it is shown in small units [kg]


def fit_text(fit: LogFit) -> str:
    """Write the constants with their intervals, how they hang together, the errors left, and the changes."""
    head = f"{fit.excursion.name}: constants from the road log {fit.laid.log.name}"
    parts = [
        paragraph(head),
        _constants(fit.constants),
        _correlations(fit),
        _readings(fit.compared),
        _times(fit),
        *(paragraph(f"Note: {in_reader_units(note)}") for note in fit.notes),
        paragraph(COVERS),
        "Changes for check and the other commands:\n"
        + "\n".join(f'  --change "{text}"' for text in fit.changes),
        paragraph(f"Method: {METHODS[fit.performance.method]}."),
        paragraph(_made_from(fit)),
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part)


def _shown(constant: FittedConstant, value: float) -> str:
    return show_number(value, constant.kind, constant.digits)


def _named(constant: FittedConstant) -> str:
    """Name of a constant with its unit."""
    unit = label(constant.kind)
    return f"{constant.name} [{unit}]" if unit else constant.name


def _constants(constants: tuple[FittedConstant, ...]) -> str:
    headers = ("constant", "in the\nfiles", "fitted", "95 %\ninterval", "believable\nrange")
    rows = [
        (
            _named(each),
            _shown(each, each.before),
            _shown(each, each.value),
            f"{_shown(each, each.low)} to {_shown(each, each.high)}",
            f"{_shown(each, each.believable_low)} to {_shown(each, each.believable_high)}",
        )
        for each in constants
    ]
    return table(headers, rows, left=1)


def _correlations(fit: LogFit) -> str:
    """Correlation of the errors of each pair of constants."""
    names = [each.name for each in fit.constants]
    pairs = [
        f"{names[one]} and {names[two]} {round(fit.correlation[one, two], 2) + 0.0:+.2f}"
        for two in range(len(names))
        for one in range(two)
    ]
    return paragraph(f"Correlation of the errors: {'; '.join(pairs)}.") if pairs else ""


def _readings(compared: tuple[ComparedReadings, ...]) -> str:
    headers = (
        "readings",
        "number",
        "stretches",
        "spread about\nthe model",
        "with the\nfiles as they are",
        "hang together\nover",
    )
    rows = [
        (
            each.kind,
            f"{len(each.row):,}",
            str(each.group_count),
            _spread(each, each.spread),
            _spread(each, each.spread_before),
            f"{each.correlation_time:.0f} s" if each.correlation_time else "-",
        )
        for each in compared
    ]
    return table(headers, rows, left=1)


def _spread(compared: ComparedReadings, spread: float) -> str:
    """A spread of readings about a model: finely for a speed, and where water and fuel are off by little."""
    if compared.kind == "speed":
        return show(spread, "speed", 2)
    if compared.kind == "place" or max(compared.spread, compared.spread_before) >= SMALL_SPREAD:
        return show(spread, compared.error_quantity)
    return show(spread, "small_water" if compared.kind == "water" else "smallest_mass")


def _times(fit: LogFit) -> str:
    spent = fit.laid.times_by_state()
    used = [(state, time) for state, time in spent.items() if state.endswith("in the fit")]
    unused = [(state, time) for state, time in spent.items() if not state.endswith("in the fit")]
    coasting = sum(time for state, time in used if state.startswith("throttle shut"))
    total = show(sum(time for _, time in used), "time")
    text = f"In the fit: {total}, of it {show(coasting, 'time')} with the throttle shut."
    if unused:
        spans = ", ".join(f"{state} {show(time, 'time')}" for state, time in unused)
        text += f" Left out: {spans}."
    return paragraph(text)


def _made_from(fit: LogFit) -> str:
    source = made_from(fit)
    return f"Made from {', '.join(path for path, _ in source.files)}." if source.files else ""
