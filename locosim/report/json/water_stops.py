"""Water and fuel stops as JSON."""

from __future__ import annotations

from typing import Any

from locosim.planning.supply_plans import SupplyPlan
from locosim.planning.water_stops import Refusal, WaterStops
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from
from locosim.report.text.layout import format_text_si


def water_stops_json(found: WaterStops) -> str:
    """Write the water and fuel stops as JSON."""
    least, effect = found.least, found.water_car
    return envelope(
        "water",
        found.performance.method,
        made_from(found),
        {
            "excursion": found.excursion.name,
            "places": [
                {
                    "station": place.station,
                    "milepost_m": place.milepost,
                    "offers": list(place.offers),
                    "stops_anyhow": place.stops,
                }
                for place in found.places
            ],
            "closed": list(found.closed),
            "least_set": _plan(least.best),
            "runner_up": _plan(least.runner_up),
            "later_than_without_stops_s": found.cost if least.best else None,
            "refused": [_refusal(each) for each in least.refused],
            "smaller_sets_not_run": least.left_out + least.untried,
            "smaller_sets_untried": least.untried,
            "fewest_stops_by_use_without_stops": least.fewest_by_reach,
            "gaps": [
                {
                    "supply": gap.supply,
                    "from": gap.start,
                    "to": gap.end,
                    "short_kg": gap.short,
                    "stretches": [
                        {
                            "earliest_milepost_m": stretch.earliest,
                            "latest_milepost_m": stretch.latest,
                            "spare_one_step_beyond_kg": stretch.beyond,
                        }
                        for stretch in gap.stretches
                    ],
                }
                for gap in found.gaps
            ],
            "water_car": {
                "put_on": effect.put_on,
                "water_kg": effect.water,
                "mass_kg": effect.mass,
                "does_not_arrive": effect.stalls,
                "least_set": _plan(effect.plan),
            },
            "check": None
            if found.answer is None
            else {
                "verdict": found.answer.verdict,
                "reserves_kept": found.confirmed,
                "rules_not_clear": list(
                    dict.fromkeys(f.rule for f in found.answer.findings if f.verdict in ("tight", "stop"))
                ),
            },
        },
    )


def _plan(plan: SupplyPlan | None) -> dict[str, Any] | None:
    if plan is None:
        return None
    return {
        "arrival_s": plan.arrival,
        "more_use_allowed": plan.spare_use,
        "stops": [
            {
                "station": stop.place.station,
                "milepost_m": stop.place.milepost,
                "stops_anyhow": stop.place.stops,
                "arrival_s": stop.arrive,
                "stand_s": stop.stand,
                "takings": {
                    supply: {
                        "left_kg": taking.left,
                        "taken_kg": taking.taken,
                        "least_kg": taking.least,
                        "filling_time_s": taking.time,
                    }
                    for supply, taking in stop.takings.items()
                },
            }
            for stop in plan.stops
        ],
    }


def _refusal(refusal: Refusal) -> dict[str, Any]:
    finding = refusal.finding
    return {
        "stations": list(refusal.stations),
        "rule": finding.rule,
        "place": finding.place,
        "margin": finding.margin,
        "because": format_text_si(finding.because, finding.facts),
    }
