"""The check of a day as JSON."""

from __future__ import annotations

from typing import Any

from locosim.journey.ledgers import Ledger
from locosim.planning.answer import Answer
from locosim.planning.day import DayAnswer, DayRemedy, LegAnswer
from locosim.planning.finding import CLEAR, NOTE, Finding
from locosim.planning.helper_duty import Help
from locosim.planning.layover import Carried, LayoverRecord
from locosim.planning.light_engine import Used
from locosim.planning.station_times import station_times
from locosim.report.json.check import finding_content, finding_figures, station_content
from locosim.report.json.envelope import envelope
from locosim.report.json.run import totals
from locosim.report.made_from import made_from
from locosim.report.text.day import day_method, first_amounts
from locosim.report.text.layout import format_text_si


def day_json(answer: DayAnswer) -> str:
    """Write the answer to a proposed day as JSON."""
    return envelope(
        "day",
        day_method(answer),
        made_from(answer),
        {
            "day": answer.day.name,
            "verdict": answer.verdict,
            "findings": [_finding(answer, finding) for finding in answer.findings],
            "legs": [_leg(answer, leg) for leg in answer.legs],
            "crews": [
                {
                    "crew": duty.crew,
                    "on_duty_s": duty.start,
                    "off_duty_s": duty.end,
                    "time_s": duty.time,
                    "breaks_s": duty.breaks,
                    "light_runs": [
                        {"to": run.station, "start_s": run.start, "end_s": run.end} for run in duty.light_runs
                    ],
                    "longest_without_break_s": duty.time_without_break,
                }
                for duty in answer.duties
            ],
            "engines": [
                {
                    "engine": each.engine,
                    "water_kg": _ledger(each.water, first[0]),
                    "fuel_kg": _ledger(each.fuel, first[1]),
                }
                for each, first in zip(answer.supplies, first_amounts(answer), strict=True)
            ],
            "helpers": [_help(each) for helps in answer.helps for each in helps],
        },
    )


def _help(help: Help) -> dict[str, Any]:
    return {
        "helper": help.engine,
        "leg": help.leg,
        "from": help.coupled,
        "to": help.cut_off,
        "start_s": help.start,
        "end_s": help.end,
        "helping": _used(help.helping),
        "light_run": None if help.back is None else _used(help.back.used),
        "tender_kg": {"water": help.tender[0], "fuel": help.tender[1]} if help.helping else None,
    }


def _used(used: Used | None) -> dict[str, float] | None:
    return None if used is None else {"time_s": used.time, "water_kg": used.water, "fuel_kg": used.fuel}


def _finding(answer: DayAnswer, finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "verdict": finding.verdict,
        "place": finding.place,
        **finding_figures(finding),
        "changes_tried": list(answer.changes_tried.get((finding.rule, finding.place), ())),
        "remedies": [_remedy(remedy) for remedy in answer.remedies_for(finding)],
    }


def _remedy(remedy: DayRemedy) -> dict[str, Any]:
    return {
        "kind": remedy.kind,
        "change": format_text_si(remedy.change, remedy.facts),
        "amount": remedy.amount,
        "verdict": remedy.verdict,
        "verdict_of_day": remedy.whole_verdict,
        "not_clear": list(remedy.remaining),
    }


def _leg(day: DayAnswer, leg: LegAnswer) -> dict[str, Any]:
    excursion = leg.leg.excursion
    content: dict[str, Any] = {
        "leg": leg.number,
        "excursion": excursion.name,
        "locomotive": leg.leg.engine,
        "engine_facing": excursion.engine_facing,
        "train": excursion.train.name,
        "route": excursion.route_as_run.name,
        "crew": leg.leg.crew,
        "layover": None if leg.layover is None else _layover(leg.layover),
        "verdict": leg.verdict or None,
        "not_run": leg.not_run or None,
    }
    if leg.answer is None:
        return content
    answer = leg.answer
    return content | {
        "outcome": answer.journey.outcome,
        "findings": [_leg_finding(day, leg.number, answer, finding) for finding in answer.findings],
        "stations": [station_content(times) for times in station_times(answer.journey)],
        "totals": totals(answer.journey),
    }


def _leg_finding(day: DayAnswer, number: int, answer: Answer, finding: Finding) -> dict[str, Any]:
    """A finding of a leg, with the remedies that were run in the day."""
    return finding_content(answer, finding) | {
        "changes_tried": list(day.changes_tried.get((finding.rule, f"leg {number}"), ())),
        "remedies": [_remedy(remedy) for remedy in day.leg_remedies(number, finding.rule)]
        if finding.verdict not in (CLEAR, NOTE)
        else [],
    }


def _layover(layover: LayoverRecord) -> dict[str, Any]:
    return {
        "station": layover.station,
        "arrival_s": layover.arrive,
        "booked_departure_s": layover.booked,
        "departure_s": layover.departure,
        "work": [{"work": task.name, "time_s": task.time} for task in layover.tasks],
        "cars_left": dict(layover.cars_left),
        "cars_taken": dict(layover.cars_taken),
        "water_kg": None if layover.water is None else _carried(layover.water),
        "fuel_kg": None if layover.fuel is None else _carried(layover.fuel),
    }


def _carried(carried: Carried) -> dict[str, float]:
    return {
        "at_end_of_last_leg": carried.end,
        "left_in_cars": carried.left,
        "in_cars_taken": carried.brought,
        "taken_on": carried.taken,
        "used_standing": carried.used,
        "at_start": carried.start,
    }


def _ledger(ledger: Ledger, start: float) -> dict[str, Any]:
    return {
        "at_first": start,
        "entries": dict(ledger.entries),
        "left": start + ledger.stored,
        "residual": ledger.residual,
    }
