"""Water and fuel stops as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from locosim.planning.finding import CLEAR, NOTE
from locosim.planning.supply_plans import SUPPLIES, SupplyPlan, SupplyStop, Taking
from locosim.planning.supply_stretches import Gap
from locosim.planning.water_stops import MAX_ALIKE, LeastSet, Refusal, WaterStops
from locosim.report.accuracy import accuracy, accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import fuel_word, method_lines
from locosim.report.text.finding import band_lines
from locosim.report.text.layout import finer_kind, format_text, paragraph, table
from locosim.units import label, show, show_number

AMPLE = 9.0  # use over that computed, from which no percentage is given [1]
USE_BANDS = ("water for the work computed", "fuel for the work computed")
REFUSED_SHOWN = 4  # of the smaller sets that were run


def water_stops_text(found: WaterStops) -> str:
    """Write the least set of water and fuel stops, what proves it, and what else was found."""
    excursion = found.excursion
    train = excursion.train
    behind = "light"
    if train.vehicles:
        behind = (
            f"with {train.name}, {show(train.mass, 'mass')} behind the {excursion.locomotive.coupled_behind}"
        )
    head = f"{excursion.locomotive.name} {behind}; {excursion.route_as_run.name}; {excursion.rail} rail."
    parts = [
        paragraph(f"{excursion.name}: {_headline(found)}"),
        "\n".join(map(paragraph, [head, _places(found), *method_lines(found.performance)])),
        *_least_set(found),
        *map(_gap, [found] * len(found.gaps), found.gaps),
        _proof(found),
        *_runner_up(found),
        paragraph(_water_car(found)),
        *_verdict(found),
        paragraph(accuracy_text("water", found.performance.method, made_from(found))),
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part)


def _fuel(found: WaterStops) -> str:
    return fuel_word(found.excursion.fuel.kind)


def _headline(found: WaterStops) -> str:
    best = found.least.best
    if best is None:
        return f"NOT ENOUGH {' AND '.join(_supply_word(found, gap.supply) for gap in found.gaps).upper()} ON THIS LINE"
    taken = {supply for stop in best.stops for supply in stop.takings} or set(SUPPLIES)
    what = " AND ".join(_supply_word(found, supply) for supply in SUPPLIES if supply in taken)
    return f"{_stops(len(best.stops))} for {what}".upper()


def _stops(count: int) -> str:
    return "no stop" if count == 0 else "1 stop" if count == 1 else f"{count} stops"


def _supply_word(found: WaterStops, supply: str) -> str:
    return "water" if supply == "water" else _fuel(found)


def _amount(value: float, supply: str) -> str:
    return show(value, finer_kind("water" if supply == "water" else "mass", value))


def _places(found: WaterStops) -> str:
    """The places to choose from, and the reserves."""
    names = [
        f"{place.station} ({' and '.join(_supply_word(found, supply) for supply in place.offers)})"
        for place in found.places
    ]
    closed = f" Out of use: {', '.join(found.closed)}." if found.closed else ""
    criteria, holder = found.excursion.criteria, found.excursion.locomotive.coupled_behind
    return (
        f"Places on the way: {', '.join(names) or 'none'}.{closed} Reserve: {100 * criteria.water_reserve:.0f} % of "
        f"the {holder}'s water and {100 * criteria.fuel_reserve:.0f} % of its {_fuel(found)}, on arrival at each "
        "filling and at the end."
    )


def _least_set(found: WaterStops) -> Sequence[str]:
    """The least set; by another name where a smaller one may exist."""
    least = found.least
    if least.best is None:
        return ()
    return _plan_parts(found, least.best, "Least set" if least.proven else "Least set found")


def _plan_parts(found: WaterStops, plan: SupplyPlan, name: str) -> list[str]:
    holder = found.excursion.locomotive.coupled_behind
    stations = ", ".join(plan.stations) or f"no stop; what the {holder} holds at the start lasts"
    cost = plan.arrival - float(found.least.without_stops.time[-1])
    late = (
        f"{show(cost, 'time')} later than without any stop for supplies" if cost >= 0.5 else "no later for it"
    )
    text = f"{name}: {stations}. Arrives {show(plan.arrival, 'clock')}, {late}."
    text += f" {_spare_text(found, plan)}"
    return [paragraph(text), _plan_table(found, plan)]


def _spare_text(found: WaterStops, plan: SupplyPlan) -> str:
    """How much more may be used, beside the accuracy of what is computed."""
    if plan.spare_use > AMPLE:
        return f"The reserves are kept even with {1 + AMPLE:.0f} times as much used as computed."
    text = f"The reserves are kept with up to {100 * plan.spare_use:.0f} % more used than computed"
    bands = accuracy("water", found.performance.method, made_from(found))
    within = max((bands[name].within for name in USE_BANDS if name in bands), default=0.0)
    return f"{text}, which is less than the accuracy below." if plan.spare_use < within else f"{text}."


def _plan_table(found: WaterStops, plan: SupplyPlan) -> str:
    if not plan.stops:
        return ""
    headers = ("stop", "milepost\n" + label("distance"), "takes", "left on\narrival", "filled\nwith",
               "least to\ntake", "filling\ntime", "stands")  # fmt: skip
    rows = [
        _row(found, stop, supply, taking) for stop in plan.stops for supply, taking in stop.takings.items()
    ]
    return table(headers, rows, left=1, wrapped=(0,))


def _row(found: WaterStops, stop: SupplyStop, supply: str, taking: Taking) -> tuple[str, ...]:
    return (
        f"{stop.place.station}{'' if stop.place.stops else ' (new stop)'}",
        show_number(stop.place.milepost, "distance"),
        _supply_word(found, supply),
        _amount(taking.left, supply),
        _amount(taking.taken, supply),
        _amount(taking.least, supply),
        show(taking.time, "time"),
        show(stop.stand, "time"),
    )


def _proof(found: WaterStops) -> str:
    """What was done to find a smaller set: those run, those left out by the reach, and those neither."""
    least = found.least
    if least.best is not None and not least.best.stops:
        return ""
    if least.best is None:
        head = "Refused, each run and judged by the check, the nearest to the reserve first:"
    elif least.proven:
        head = "No smaller set will do. Refused, each run and judged by the check, the nearest first:"
    else:
        head = "Smaller sets refused, each run and judged by the check, the nearest first:"
    lines = [paragraph(head)]
    lines += [paragraph(_refusal(each), indent="    ", first="  ") for each in least.refused[:REFUSED_SHOWN]]
    more = len(least.refused) - REFUSED_SHOWN
    if more > 0:
        lines.append(f"  and {more} more.")
    lines += map(paragraph, _not_run(least))
    return "\n".join(lines)


def _not_run(least: LeastSet) -> Iterator[str]:
    """Sets that were not run, and why."""
    if least.left_out:
        bound = "no choice of stops suffices" if least.fewest_by_reach is None else (
            f"at least {_stops(least.fewest_by_reach)} {'is' if least.fewest_by_reach == 1 else 'are'} needed"
        )  # fmt: skip
        yield (
            f"{_sets(least.left_out)} not run, because a tank would not last between the fillings even with a tenth "
            f"less used than by a run that never stops for supplies. With so much used, {bound}."
        )
    if least.untried:
        more = f"{_sets(least.untried)} not run either and may do: only {MAX_ALIKE} of each number of stops are run."
        yield more if least.best is None else f"{more} A smaller set is not ruled out."
    if least.capped:
        yield f"More than {MAX_ALIKE} sets of this size may do; only the first {MAX_ALIKE} were run and compared."


def _sets(count: int) -> str:
    return "1 set was" if count == 1 else f"{count:,} sets were"


def _refusal(refusal: Refusal) -> str:
    stations = " and ".join(refusal.stations) if len(refusal.stations) < 3 else ", ".join(refusal.stations)
    finding = refusal.finding
    return f"{stations or 'No stop'}: {format_text(finding.because, finding.facts)}, at {finding.place}."


def _runner_up(found: WaterStops) -> list[str]:
    best, other = found.least.best, found.least.runner_up
    if best is None or not best.stops:
        return []
    if other is None:
        fewest = len(best.stops)
        if fewest == len(found.places):
            return [paragraph("Runner-up: none; every place of the line is in the least set.")]
        run = f"of the sets of {fewest} or {_stops(fewest + 1)} that were run"
        return [paragraph(f"Runner-up: none; {run}, no other keeps the reserves.")]
    return _plan_parts(found, other, "Runner-up")


def _gap(found: WaterStops, gap: Gap) -> str:
    what = _supply_word(found, gap.supply)
    text = (
        f"Between {gap.start} and {gap.end} a full tank does not last: {_amount(gap.short, gap.supply)} of {what} is "
        f"short at {gap.end}, the reserve counted."
    )
    if not gap.stretches:
        return paragraph(f"{text} No places were found for stops from which the train would start and go on.")
    lines = [paragraph(f"{text} {what.capitalize()} is needed in each of these stretches:")]
    for stretch in gap.stretches:
        line = f"milepost {show_number(stretch.earliest, 'distance')} to {show_number(stretch.latest, 'distance')}"
        if stretch.beyond > -1e9:
            line += f"; with a stop 100 m beyond, {_amount(-stretch.beyond, gap.supply)} would be short there"
        lines.append(paragraph(f"{line}.", indent="    ", first="  "))
    return "\n".join(lines)


def _holder(found: WaterStops) -> str:
    return "tender" if found.excursion.locomotive.coupled_behind == "tender" else "tanks"


def _water_car(found: WaterStops) -> str:
    effect, best = found.water_car, found.least.best
    car = f"{_amount(effect.water, 'water')} of water, {show(effect.mass, 'mass')}"
    what = (
        f"With an auxiliary water car like the {_holder(found)} ({car})"
        if effect.put_on
        else f"Without its water cars ({car})"
    )
    if effect.stalls:
        return f"{what}, the train does not arrive."
    if effect.plan is None:
        none = "the places of the line do not suffice" if effect.proven else "no set that was run suffices"
        return f"{what}, {none}."
    text = f"{what}: {_stops(len(effect.plan.stops))}"
    if effect.plan.stops:
        text += f" ({', '.join(effect.plan.stations)})"
    if not effect.proven:
        text += ", if not fewer"
    if best is None:
        return f"{text}; without it they do not suffice." if effect.put_on else f"{text}."
    later = effect.plan.arrival - best.arrival
    times = f"arrives {show(abs(later), 'time')} {'later' if later > 0 else 'earlier'}"
    return f"{text}; {times if abs(later) >= 0.5 else 'arrives at the same time'}."


def _verdict(found: WaterStops) -> Sequence[str]:
    """What the check says of the least set."""
    answer = found.answer
    if answer is None:
        return ()
    kept = "the reserves are kept" if found.confirmed else "a reserve is broken"
    open_rules = dict.fromkeys(f.rule for f in answer.findings if f.verdict not in (CLEAR, NOTE))
    rest = f" Not clear: {', '.join(open_rules)}." if open_rules else ""
    lines = [f"The check of the excursion with the least set: {answer.verdict.upper()}; {kept}.{rest}"]
    for finding in answer.findings:
        if finding.verdict not in (CLEAR, NOTE) and finding.rule in SUPPLIES:
            lines.append(
                f"{finding.rule.capitalize()} at {finding.place}: {format_text(finding.because, finding.facts)}, "
                f"{finding.verdict.upper()}."
            )
        lines += [f"{finding.rule.capitalize()}: {line}" for line in band_lines(answer, finding)]
    return ("\n".join(map(paragraph, lines)),)
