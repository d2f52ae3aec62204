"""A line examined, and a line made, as JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from locosim.model import Route
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from
from locosim.report.text.layout import format_text_si
from locosim.survey.examination import CurveSpeed, GradeStretch, RouteExamination
from locosim.survey.heights import heights_of
from locosim.survey.made_route import MadeRoute
from locosim.survey.roughness import Smoothing


def route_json(found: RouteExamination) -> str:
    """Write a line examined as JSON."""
    momentum, rough = found.momentum, found.roughness
    content = {
        "route": _route(found.route),
        "total_rise_m": found.rise,
        "total_fall_m": found.fall,
        "steepest_rise": _stretch(found.steepest_rise),
        "steepest_fall": _stretch(found.steepest_fall),
        "stretches": [_stretch(each) for each in found.stretches],
        "stretches_within_m": found.stretch_tolerance,
        "ruling_grades": [
            {
                "train_length_m": each.length,
                "forward": each.forward,
                "forward_grade_alone": each.forward_grade,
                "forward_chainage_m": each.forward_place,
                "backward": each.backward,
                "backward_grade_alone": each.backward_grade,
                "backward_chainage_m": each.backward_place,
            }
            for each in found.ruling
        ],
        "momentum": {
            "ruling_grade": momentum.ruling,
            "ruling_grade_stated": momentum.stated,
            "ruling_grade_without_momentum": momentum.without,
            "train_length_m": momentum.length,
            "highest_speed_m_s": momentum.entry_speed,
            "lowest_speed_allowed_m_s": momentum.min_speed,
            "stretches": [
                {
                    "start_m": each.start,
                    "slowest_place_m": each.slowest_place,
                    "end_m": each.end,
                    "rise_above_ruling_m": each.rise,
                    "steepest_grade": each.steepest,
                    "entry_speed_m_s": each.entry_speed,
                    "required_speed_m_s": each.required_speed,
                    "lowest_speed_m_s": each.lowest_speed,
                    "stations": list(each.stations),
                }
                for each in momentum.stretches
            ],
        },
        "curves": [_curve(each) for each in found.curves],
        "curved_length_m": found.curved_length,
        "roughness": {
            "by_elevation": rough.by_elevation,
            "spacing_m": rough.spacing,
            "rounding_step_m": rough.step,
            "false_grade": rough.false_grade,
            "height_error_m": rough.noise,
            "smoothing_advised": _smoothing(rough.smoothing),
        },
        "missing": list(found.missing),
    }
    return envelope("route show", None, made_from(found), content)


def _route(route: Route) -> dict[str, Any]:
    """A line with its profile and stations."""
    heights = heights_of(route)
    return {
        "name": route.name,
        "start_m": route.start,
        "end_m": route.end,
        "speed_limit_m_s": route.speed_limit,
        "axle_load_limit_kg": route.axle_load_limit,
        "stations": [asdict(station) for station in route.stations],
        "chainage_m": heights.chainage,
        "height_m": heights.height,
    }


def _stretch(stretch: GradeStretch) -> dict[str, float]:
    return {"start_m": stretch.start, "end_m": stretch.end, "grade": stretch.grade}


def _curve(each: CurveSpeed) -> dict[str, float | None]:
    return {
        "start_m": each.curve.start,
        "end_m": each.curve.end,
        "radius_m": each.curve.radius,
        "superelevation_m": each.curve.superelevation,
        "speed_limit_m_s": each.limit,
        "balanced_speed_m_s": each.balanced_speed,
        "allowed_speed_m_s": each.allowed_speed,
        "superelevation_needed_at_limit_m": each.required_superelevation,
    }


def _smoothing(change: Smoothing | None) -> dict[str, float] | None:
    """What smoothing changes; lengths, heights and rises in m."""
    return None if change is None else asdict(change)


def made_route_json(made: MadeRoute) -> str:
    """Write a line that was made as JSON."""
    fit = made.curvature.geometry if made.curvature else None
    content = {
        "route": _route(made.route),
        "curves": [asdict(curve) for curve in made.route.curves],
        "notes": [format_text_si(note.text, note.facts) for note in made.notes],
        "smoothing": _smoothing(made.smoothing),
        "positions": None
        if fit is None
        else {"error_m": fit.noise, "window_m": fit.window, "largest_offset_m": fit.max_offset},
    }
    return envelope("route make", None, made_from(made), content)
