"""A line examined, and a line made, as text."""

from __future__ import annotations

from locosim.report.caution import CAUTION
from locosim.report.text.layout import format_text, paragraph, table
from locosim.survey.examination import CurveSpeed, RouteExamination
from locosim.survey.heights import heights_of
from locosim.survey.made_route import MadeRoute
from locosim.survey.momentum_grades import MomentumGrades
from locosim.survey.roughness import MAX_NOISE_SPACING, TOLERATED_GRADE, Roughness, Smoothing
from locosim.units import label, show, show_number

CURVES_SHOWN = 8  # the sharpest, unless all are wanted


def route_text(found: RouteExamination, *, everything: bool = False) -> str:
    """Write what a line is like.

    Args:
        found: The line examined.
        everything: Whether to list every curve.
    """
    parts = [
        _heading(found),
        _ruling(found),
        _momentum(found.momentum),
        _curves(found, everything=everything),
        paragraph(_roughness_text(found.roughness)),
        "\n".join(["Missing from the file:", *(paragraph(text, indent="  ") for text in found.missing)])
        if found.missing
        else "",
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part)


def _heading(found: RouteExamination) -> str:
    route = found.route
    up, down = found.steepest_rise, found.steepest_fall
    sentences = [
        f"{route.name}: {show(route.end - route.start, 'distance')}, {_milepost(route.start)} to "
        f"{show_number(route.end, 'distance')}, {len(route.stations)} stations, speed limit "
        f"{show(route.speed_limit, 'speed')}.",
        f"Total rise {show(found.rise, 'length')}, total fall {show(found.fall, 'length')}.",
    ]
    for name, piece in (("rise", up), ("fall", down)):
        if piece.grade:
            sentences.append(
                f"Steepest {name} {show(abs(piece.grade), 'grade')}, {show(piece.end - piece.start, 'length')} "
                f"long, at {_milepost(piece.start)}."
            )
    return paragraph(" ".join(sentences))


def _ruling(found: RouteExamination) -> str:
    if not found.ruling:
        return ""
    place = "milepost\n" + label("distance")
    headers = (
        "train\n" + label("length"),
        "ruling\n" + label("grade"),
        "of it grade\n" + label("grade"),
        place,
        "backward\n" + label("grade"),
        "of it grade\n" + label("grade"),
        place,
    )
    rows = [
        (
            show_number(each.length, "length"),
            show_number(each.forward, "grade"),
            show_number(each.forward_grade, "grade"),
            show_number(each.forward_place, "distance"),
            show_number(each.backward, "grade"),
            show_number(each.backward_grade, "grade"),
            show_number(each.backward_place, "distance"),
        )
        for each in found.ruling
    ]
    note = (
        "Ruling grade by length of train: the steepest mean of grade and curve resistance under it, with the milepost "
        f"of its head; law of curve resistance {found.route.curve_resistance_law}."
    )
    return f"{paragraph(note)}\n\n{table(headers, rows, left=0)}"


def _momentum(found: MomentumGrades) -> str:
    limits = "the speed limits of the line" if found.entry_speed is None else show(found.entry_speed, "speed")
    train = f"A train of {show(found.length, 'length')}, at most at {limits}"
    least = f"and nowhere below {show(found.min_speed, 'speed')}"
    if found.stated:
        note = f"Momentum grades above a ruling grade of {show(found.ruling, 'grade')}. {train}, must be {least}."
    else:
        note = (
            f"Momentum grades. {train} {least}, can be loaded for a ruling grade of "
            f"{show(found.ruling, 'grade')} instead of {show(found.without, 'grade')}, if it takes every run and "
            "never stops where momentum is needed."
        )
    if not found.stretches and not found.stated:
        note = f"Momentum grades: none; with momentum too the ruling grade is {show(found.ruling, 'grade')}."
    if not found.stretches:
        return paragraph(note if not found.stated else f"{note} No stretch needs momentum.")
    headers = (
        "from\n" + label("distance"),
        "slowest at\n" + label("distance"),
        "to\n" + label("distance"),
        "rise above\nruling " + label("length"),
        "steepest\n" + label("grade"),
        "entry\n" + label("speed"),
        "required\n" + label("speed"),
        "slowest\n" + label("speed"),
        "stations on it",
    )
    rows = [
        (
            show_number(each.start, "distance"),
            show_number(each.slowest_place, "distance"),
            show_number(each.end, "distance"),
            show_number(each.rise, "length"),
            show_number(each.steepest, "grade"),
            show_number(each.entry_speed, "speed"),
            show_number(each.required_speed, "speed"),
            "stalls" if each.lowest_speed == 0.0 else show_number(each.lowest_speed, "speed"),
            ", ".join(each.stations) or "none",
        )
        for each in found.stretches
    ]
    closing = (
        "The engine is taken to balance train and ruling grade at every speed, and 5 % is allowed for the wheels. It "
        "is a rule for a first look; `check` runs the train."
    )
    return f"{paragraph(note)}\n\n{table(headers, rows, left=0, wrapped=(8,))}\n{paragraph(closing)}"


def _curves(found: RouteExamination, *, everything: bool) -> str:
    if not found.curves:
        return ""
    sharpest = sorted(found.curves, key=lambda each: each.curve.radius)
    share = found.curved_length / (found.route.end - found.route.start)
    note = (
        f"{len(sharpest)} curves on {show(found.curved_length, 'distance')}, {share:.0%} of the line; sharpest "
        f"{show(sharpest[0].curve.radius, 'curve')} at {_milepost(sharpest[0].curve.start)}."
    )
    too_fast = [
        each for each in found.curves if each.allowed_speed is not None and each.allowed_speed < each.limit
    ]
    if too_fast:
        note += f" On {len(too_fast)} of them the speed limit is above what the superelevation allows."
    shown = list(found.curves) if everything else sharpest[:CURVES_SHOWN]
    if len(shown) < len(sharpest):
        note += f" The {len(shown)} sharpest:"
    return f"{paragraph(note)}\n\n{_curve_table(shown)}"


def _curve_table(curves: list[CurveSpeed]) -> str:
    headers = (
        "from\n" + label("distance"),
        "to\n" + label("distance"),
        "curve\n" + label("curve"),
        "limit\n" + label("speed"),
        "superelevation\n" + label("small_length"),
        "balanced\n" + label("speed"),
        "allowed\n" + label("speed"),
        "needed at limit\n" + label("small_length"),
    )
    rows = [
        (
            show_number(each.curve.start, "distance"),
            show_number(each.curve.end, "distance"),
            show_number(each.curve.radius, "curve"),
            show_number(each.limit, "speed"),
            _or_dash(each.curve.superelevation, "small_length"),
            _or_dash(each.balanced_speed, "speed"),
            _or_dash(each.allowed_speed, "speed"),
            show_number(each.required_superelevation, "small_length"),
        )
        for each in curves
    ]
    return table(headers, rows, left=0)


def _milepost(chainage: float) -> str:
    """A place as the line counts it: milepost 12.34, or km 12.34."""
    unit, place = label("distance"), show_number(chainage, "distance")
    return f"milepost {place}" if unit == "mi" else f"{unit} {place}"


def _or_dash(value: float | None, kind: str) -> str:
    return "-" if value is None else show_number(value, kind)


def _roughness_text(rough: Roughness) -> str:
    if not rough.by_elevation:
        return "The profile is given by grades: its heights have no rounding to look for."
    sentences = [
        f"The profile is given by elevations, a point each {show(rough.spacing, 'length')} (median)."
    ]
    if rough.step is not None:
        sentences.append(_rounding_text(rough))
    if rough.spacing > MAX_NOISE_SPACING:
        sentences.append("Points are too far apart to show random errors of their heights.")
    else:
        sentences.append(f"Random errors of a height are about {show(rough.noise, 'length', 2)}.")
    if rough.smoothing is None:
        sentences.append("No smoothing is advised.")
    else:
        sentences.append(
            f"Smoothing is advised: {_smoothing_text(rough.smoothing)} `route smooth` writes that line."
        )
    return " ".join(sentences)


def _rounding_text(rough: Roughness) -> str:
    step = rough.step or 0.0
    text = f"Heights are rounded to {show(step, 'length', 2)}"
    if rough.false_grade < TOLERATED_GRADE:
        return (
            f"{text}, which makes false grades of at most {show(rough.false_grade, 'grade', 3)} between them."
        )
    return (
        f"{text}: one such step between two points is a false grade of {show(rough.false_grade, 'grade')}, so "
        "that grades over less than several points, and ruling grades of short trains, are not to be trusted."
    )


def _smoothing_text(change: Smoothing) -> str:
    return (
        f"over {show(change.length, 'length')} it changes heights by {show(change.mean_change, 'length', 1)} "
        f"(root mean square), at most {show(change.max_change, 'length', 1)}, and by "
        f"{show(change.end_change, 'length', 1)} at the ends; total rise "
        f"{show(change.rise_before, 'length')} becomes {show(change.rise_after, 'length')}, and the "
        f"steepest grade {show(change.steepest_before, 'grade')} becomes {show(change.steepest_after, 'grade')}."
    )


def made_route_text(made: MadeRoute) -> str:
    """Write what a line that was made is like, and what was done."""
    route = made.route
    heights = heights_of(route).height
    sentences = [
        f"{route.name}: {show(route.end - route.start, 'distance')}, {_milepost(route.start)} to "
        f"{show_number(route.end, 'distance')}, {len(route.stations)} stations from {route.stations[0].name} to "
        f"{route.stations[-1].name}, {len(route.profile)} points of the profile, {len(route.curves)} curves, net rise "
        f"{show(float(heights[-1] - heights[0]), 'length')}."
    ]
    if made.smoothing is not None and made.smoothing.length:
        sentences.append(f"Smoothed: {_smoothing_text(made.smoothing)}")
    elif made.smoothing is not None:
        sentences.append("Heights were not smoothed.")
    if made.curvature is not None:
        fit = made.curvature.geometry
        sentences.append(
            f"Curves from positions with errors of about {show(fit.noise, 'length', 1)}, over windows of "
            f"{show(fit.window, 'length')}; the line is nowhere farther than "
            f"{show(fit.max_offset, 'length', 1)} from the points."
        )
    notes = [paragraph(format_text(note.text, note.facts)) for note in made.notes]
    return "\n\n".join(
        part for part in (paragraph(" ".join(sentences)), "\n".join(notes), paragraph(CAUTION)) if part
    )
