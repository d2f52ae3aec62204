"""Results of a check by name, each with its kind of quantity: the columns of a study."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.errors import OutOfRange, suggestion
from locosim.frozen import frozen
from locosim.planning.bands import deciding_assumptions
from locosim.planning.check import Check, worst_finding
from locosim.planning.finding import Finding
from locosim.planning.station_times import station_times

Value = float | str | None  # in SI; None where there is none

ASSUMPTIONS = "assumptions"  # a column that needs a check with all bands
# Rules of the check, for columns of one rule.
RULES = (
    "start", "climb", "coupler", "time", "steam", "adhesion", "pressure", "crown sheet", "water glass",
    "glass in braking", "ash", "water", "fuel", "stopping distance", "descending grade", "axle load", "curve",
    "curve speed", "driving-wheel speed", "piston speed", "data range", "thin air", "stall", "end of run",
)  # fmt: skip


@frozen
class ResultColumn:
    """A result of a check.

    Attributes:
        name: Its name, which is also the heading of its column.
        kind: Kind of quantity of the value, in SI; None for a text.
        meaning: What it is, in a few words.
        value: Its value in a check; None where the check has none.
    """

    name: str
    kind: str | None
    meaning: str
    value: Callable[[Check], Value]


def result_columns(names: Iterable[str]) -> tuple[ResultColumn, ...]:
    """Result columns by their names.

    Args:
        names: Such as `verdict`, `time`, `margin:steam` or `late:Quernby`.

    Raises:
        OutOfRange: A name that is not known; the message says which are.
    """
    return tuple(map(result_column, names))


def known_columns() -> tuple[tuple[str, str], ...]:
    """Names of the result columns, each with what it is; those of one rule or station with an example."""
    return (
        *((column.name, column.meaning) for column in RESULT_COLUMNS.values()),
        *((f"{name}:{example}", f"{meaning} {example}") for name, (_, meaning, example, _) in _OF.items()),
    )


def result_column(name: str) -> ResultColumn:
    """A result column by its name; raises as `result_columns`."""
    if name in RESULT_COLUMNS:
        return RESULT_COLUMNS[name]
    what, colon, of = name.partition(":")
    if not colon or what not in _OF:
        known = [*RESULT_COLUMNS, *(f"{each}:{_OF[each][2]}" for each in _OF)]
        raise OutOfRange(f"{name!r} is not a result; {suggestion(name, known)}")
    of = of.strip()
    if what in ("margin", "verdict") and of not in RULES:
        raise OutOfRange(f"{name!r}: {of!r} is not a rule; {suggestion(of, RULES)}")
    kind, meaning, _, value = _OF[what]
    return ResultColumn(name=f"{what}:{of}", kind=kind, meaning=f"{meaning} {of}", value=partial(value, of))


def _worst(value: Callable[[Finding], Value]) -> Callable[[Check], Value]:
    def of(check: Check) -> Value:
        found = worst_finding(check)
        return None if found is None else value(found)

    return of


def _if_arrived(value: Callable[[Check], float]) -> Callable[[Check], Value]:
    return lambda check: float(value(check)) if check.journey.arrived else None


def _least_value(rule: str, sign: float, check: Check) -> Value:
    """Least of the values of a rule, or the greatest with a negative sign; None where the rule finds nothing."""
    values = [sign * f.value for f in check.findings if f.rule == rule and np.isfinite(f.value)]
    return sign * min(values) if values else None


def _rule_margin(rule: str, check: Check) -> Value:
    return min((f.margin for f in check.findings if f.rule == rule), default=None)


def _rule_verdict(rule: str, check: Check) -> Value:
    return next((f.verdict for f in check.findings if f.rule == rule), None)


def _latest(check: Check) -> Value:
    late = [each.late for each in station_times(check.journey) if each.late is not None]
    return max(late) if late and check.journey.arrived else None


def _late_at(station: str, check: Check) -> Value:
    return next((each.late for each in station_times(check.journey) if each.station == station), None)


def _arrival_at(station: str, check: Check) -> Value:
    return next((each.arrive for each in station_times(check.journey) if each.station == station), None)


def _least_cover(check: Check) -> Value:
    cover = check.journey.crown_cover
    return float(cover.min()) if check.journey.transient_boiler and len(cover) else None


def _longest_cutoff(check: Check) -> Value:
    cutoff = check.journey.cutoff
    return float(cutoff.max()) if len(cutoff) else None


_COLUMNS: tuple[tuple[str, str | None, str, Callable[[Check], Value]], ...] = (
    ("verdict", None, "clear, tight or stop", lambda check: check.verdict),
    ("margin", "ratio", "margin of the worst finding", _worst(lambda f: f.margin)),
    ("rule", None, "rule of the worst finding", _worst(lambda f: f.rule)),
    ("place", None, "place of the worst finding", _worst(lambda f: f.place)),
    (
        ASSUMPTIONS,
        None,
        "assumptions within whose range the verdict may be another one",
        lambda check: ", ".join(deciding_assumptions(check)) or None,
    ),
    ("outcome", None, "arrived, or what ended the run", lambda check: check.journey.outcome),
    (
        "time",
        "time",
        "from the first departure to the last arrival",
        _if_arrived(lambda c: c.journey.duration),
    ),
    ("late", "time", "greatest lateness at a booked stop", _latest),
    ("arrival", "clock", "arrival at the last stop", _if_arrived(lambda c: float(c.journey.time[-1]))),
    ("distance", "distance", "distance run", lambda check: check.journey.distance),
    ("water", "water", "water taken from the tender", _if_arrived(lambda c: c.journey.water_used)),
    ("fuel", "small_mass", "fuel fired", _if_arrived(lambda c: c.journey.fuel_fired)),
    ("steam", "small_mass", "steam used", _if_arrived(lambda c: c.journey.steam_used)),
    (
        "pressure",
        "pressure",
        "least boiler pressure, by the gauge",
        lambda check: float(check.journey.pressure.min()) - ATMOSPHERE,
    ),
    ("climbing speed", "speed", "least speed on a climb at full effort", partial(_least_value, "climb", 1.0)),
    ("highest speed", "speed", "highest speed", lambda check: float(check.journey.speed.max())),
    (
        "mean speed",
        "speed",
        "distance over time, stops included",
        _if_arrived(lambda c: c.journey.distance / c.journey.duration),
    ),
    ("cutoff", "ratio", "longest cutoff used", _longest_cutoff),
    ("crown cover", "small_length", "least water over the crown sheet", _least_cover),
    ("coupler force", "force", "greatest pull on a coupler", partial(_least_value, "coupler", -1.0)),
    (
        "steam share",
        "ratio",
        "least share of the sustained evaporation that suffices",
        lambda check: check.runs.need.share,
    ),
    (
        "adhesion share",
        "ratio",
        "least share of the rail's adhesion that suffices",
        lambda check: check.runs.adhesion_need.share,
    ),
    ("trailing mass", "mass", "mass of the train", lambda check: check.journey.excursion.train.mass),
)
RESULT_COLUMNS: dict[str, ResultColumn] = {
    name: ResultColumn(name=name, kind=kind, meaning=meaning, value=value)
    for name, kind, meaning, value in _COLUMNS
}
# Columns of one rule or station: kind, meaning, example and value.
_OF: dict[str, tuple[str | None, str, str, Callable[[str, Check], Value]]] = {
    "margin": ("ratio", "least margin of", "steam", _rule_margin),
    "verdict": (None, "verdict of", "steam", _rule_verdict),
    "late": ("time", "lateness at", "STATION", _late_at),
    "arrival": ("clock", "arrival at", "STATION", _arrival_at),
}
