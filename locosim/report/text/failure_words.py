"""Failures in words: probabilities with their intervals, and the side of an input on which the failures are."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.studies.failure_statistics import Influence, Probability, Side
from locosim.studies.risk import ANYWHERE, FailureMode
from locosim.studies.uncertain_inputs import SampledInput
from locosim.units import show

PERCENT = "\N{NO-BREAK SPACE}%"  # no line begins with the sign
NEARLY_ALL, MOST = 0.9, 0.6  # of the failures
NOT_BY_CHANCE = 0.01  # a side is named where chance gives it less often
MAX_SIDES = 2

# A failure of each rule; {limit} and {place} are filled in.
SENTENCES = {
    "time": "late by more than {limit} at {place}",
    "stall": "stalls{on}",
    "end of run": "does not reach the last stop{on}",
    "start": "does not start with the acceleration asked for at {place}",
    "climb": "slower than {limit} on the climb {place}",
    "steam": "needs more steam than the boiler sustains{on}",
    "adhesion": "needs more adhesion than the rail gives{on}",
    "coupler": "coupler pull above {limit}{on}",
    "pressure": "boiler pressure below {limit}{on}",
    "crown sheet": "less water over the crown sheet than {limit}{on}",
    "water glass": "water below the glass for longer than {limit}{on}",
    "glass in braking": "water below the glass in braking{on}",
    "ash": "more ash than {limit}{on}",
    "water": "water below the reserve at {place}",
    "fuel": "fuel below the reserve at {place}",
    "stopping distance": "stopping distance above {limit}{on}",
    "descending grade": "train not held by the brakes{on}",
    "axle load": "axle load above {limit}",
    "curve speed": "too fast on a curve{on}",
    "driving-wheel speed": "driving wheels faster than {limit}{on}",
    "piston speed": "pistons faster than {limit}{on}",
}
_KINDS = {
    "m/s": "speed",
    "K": "temperature",
    "J/kg": "heating_value",
    "kg": "mass",
    "kg/s": "fuel_rate",
    "Pa": "pressure",
    "s": "time",
    "N": "force",
    "N/kg": "specific_resistance",
    "m/s^2": "acceleration",
    "m^2": "area",
    "grade": "grade",
    "clock": "clock",
    "curve": "curve",
    "": "number",
}


def percent(share: float) -> str:
    """A share in percent: two significant figures below 10 %, whole above."""
    return f"{100.0 * share:.2g}{PERCENT}" if share < 0.0995 else f"{100.0 * share:.0f}{PERCENT}"


def probability_text(found: Probability) -> str:
    """A probability with its interval; a bound where the event never happened, or always."""
    if found.samples == 0:
        return "not computed"
    if found.count == 0:
        return f"none of {found.samples:,}: at most {percent(found.high)}, 95 % confidence"
    if found.count == found.samples:
        return f"all of {found.samples:,}: at least {_at_least(found.low)}, 95 % confidence"
    return f"{percent(found.estimate)} ({interval_text(found)})"


def _at_least(share: float) -> str:
    return f"{100.0 * share:.3g}{PERCENT}"


def interval_text(found: Probability) -> str:
    """The interval of a probability."""
    if found.count == 0:
        return f"at most {percent(found.high)}"
    if found.count == found.samples:
        return f"at least {_at_least(found.low)}"
    return f"{percent(found.low).removesuffix(PERCENT)} to {percent(found.high)}"


def failure_text(mode: FailureMode) -> str:
    """What fails, as the beginning of a sentence."""
    where = mode.where[0][0] if mode.where else mode.place
    on = f", most often {where}" if len(mode.where) > 1 else f", {where}" if where != ANYWHERE else ""
    limit = "its limit" if mode.limit is None else _limit_text(*mode.limit)
    template = SENTENCES.get(mode.rule, "{rule} fails{on}")
    text = template.format(
        limit=limit, place=mode.place if mode.place != ANYWHERE else where, on=on, rule=mode.rule
    )
    return text[0].upper() + text[1:]


def _limit_text(limit: float, kind: str) -> str:
    """A limit in the reader's units; a time in whole minutes as such."""
    return (
        f"{limit / 60.0:.0f} min"
        if kind == "time" and limit % 60.0 == 0.0 and limit > 0.0
        else show(limit, kind)
    )


def failure_sentence(mode: FailureMode, inputs: Sequence[SampledInput]) -> str:
    """What fails, how often, and with what."""
    if mode.probability.count in (0, mode.probability.samples):
        return f"{failure_text(mode)}: {probability_text(mode.probability)}."
    text = failure_text(mode)
    comma = "," if ", " in text else ""  # after a place set off by one
    return f"{text}{comma} in {probability_text(mode.probability)}{side_clause(mode, inputs)}."


def telling_sides(mode: FailureMode, inputs: Sequence[SampledInput]) -> list[tuple[SampledInput, Side]]:
    """Inputs with a side that tells the failures, the most telling first; none that chance could give."""
    pairs = zip(inputs, mode.drivers, strict=True)
    found = [(each, driver.side) for each, driver in pairs if driver.side.by_chance < NOT_BY_CHANCE]
    return sorted(found, key=lambda pair: (pair[1].of_samples - pair[1].of_failures, pair[0].label))


def side_clause(mode: FailureMode, inputs: Sequence[SampledInput]) -> str:
    """With what it fails: `, nearly all with the headwind above 5.2 mph (8 % of the samples)`."""
    if mode.probability.count == mode.probability.samples:
        return ""
    found = telling_sides(mode, inputs)[:MAX_SIDES]
    if not found:
        few = mode.probability.count < 10
        return ", too few to tell what drives it" if few else ", from no single input"
    clauses = [
        f"{_how_many(side)} with {side_text(each, side)} ({percent(side.of_samples)} of the samples)"
        for each, side in found
    ]
    return f", {', '.join(clauses)}"


def _how_many(side: Side) -> str:
    if side.of_failures >= 1.0:
        return "all"
    if side.of_failures >= NEARLY_ALL:
        return "nearly all"
    return "most" if side.of_failures >= MOST else f"{percent(side.of_failures)} of them"


def side_text(each: SampledInput, side: Side) -> str:
    """A side of an input in words."""
    if each.outcomes:
        values = " or ".join(dict.fromkeys(str(each.outcomes[number]) for number in side.outcomes))
        return f"{values} {each.label}" if each.key == "rail" else f"{each.label} {values}"
    return f"{each.label} {'below' if side.below else 'above'} {figure_text(each, side.split)}"


def figure_text(each: SampledInput, figure: float) -> str:
    """A figure of an input, in the reader's units."""
    if each.outcomes:
        return str(each.outcomes[int(figure)])
    if each.applies_as == "factor":
        return f"{100.0 * figure:.0f}{PERCENT} of that given"
    if each.applies_as == "difference":
        kind = "temperature_difference" if each.unit == "K" else _kind(each.unit, figure)
        size = _shown(abs(figure), each.unit, kind)
        return f"{size} {'more' if figure >= 0.0 else 'less'} than given"
    return _shown(figure, each.unit, _kind(each.unit, figure))


def _kind(unit: str, figure: float) -> str | None:
    if unit == "m":
        return "small_length" if abs(figure) < 1.0 else "length" if abs(figure) < 2000.0 else "distance"
    return _KINDS.get(unit)


def _shown(figure: float, unit: str, kind: str | None) -> str:
    if kind is None:
        return f"{figure:.3g} {unit}"
    return f"{figure:.3g}" if kind == "number" else show(figure, kind)


def driver_cells(each: Influence) -> tuple[str, str]:
    """Rank correlation and share of the variance, each with its interval."""
    return (
        f"{each.rank_correlation:+.2f} ({each.rank_low:+.2f} to {each.rank_high:+.2f})",
        f"{percent(each.share)} ({percent(each.share_low).removesuffix(PERCENT)} to {percent(each.share_high)})",
    )
