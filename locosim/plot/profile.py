"""The profile of a run: elevation, mean grades, mileposts, and the findings that are not clear."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from locosim.journey.result import Journey
from locosim.physics.types import Floats
from locosim.planning.finding import CLEAR, NOTE, STOP, Finding
from locosim.planning.station_times import line_chainage
from locosim.plot.figure import COLORS, TEXT_BOX, axis_label
from locosim.plot.panels import PANEL_WIDTH, distance_from_start, fill, line_end, line_length
from locosim.units import label, number, show_number

CHARACTER, LINE = 4.7, 11.0  # width of a character and height of a line of the type used [pt]
MIN_GRADE_WIDTH = 26.0  # narrowest stretch that gets its grade written [pt]
PROFILE_TOLERANCE = 0.02  # departure of the simplified profile from the true one, as a share of its height
MAX_LEVELS = 6  # lines of type for findings
STRIP = 0.86  # height of the panel at which the strip of grades begins [1]


def profile(axes: Axes, journey: Journey) -> Axes:
    """Elevation of the rail above the start, to the last stop, with mean grades and mileposts."""
    x, height = profile_points(journey)
    places = np.array([distance_from_start(journey, float(place)) for place in x])
    rise = np.asarray(number(height, "length"))
    low, high = float(np.min(rise)), float(np.max(rise))
    fill(axes, places, rise, low, color=COLORS[4], alpha=0.25)
    axes.plot(places, rise, color=COLORS[4])
    axes.set_ylim(low, low + max(high - low, 1.0) / (STRIP - 0.04))
    axes.set_ylabel(axis_label("elevation\nfrom start", "length"))
    _mark_grades(axes, journey, x, height)
    return _mark_mileposts(axes, journey)


def profile_points(journey: Journey) -> tuple[Floats, Floats]:
    """Chainage [m] and elevation above the start [m] at each change of grade, from the first stop to the last."""
    line = journey.excursion.route_as_run
    places, heights = [line.start], [0.0]
    for start, end, grade in line.grade_segments():
        places.append(end)
        heights.append(heights[-1] + grade * (end - start))
    first, last = float(journey.chainage[0]), line_end(journey)
    inside = [place for place in places if first < place < last]
    x = np.array([first, *inside, last])
    height = np.interp(x, places, heights)
    return x, height - height[0]


def simplified(x: Floats, y: Floats, tolerance: float) -> list[int]:
    """Indices of the points of a line of fewer points, nowhere farther from it than a tolerance in `y`."""
    keep, waiting = {0, len(x) - 1}, [(0, len(x) - 1)]
    while waiting:
        a, b = waiting.pop()
        if b - a < 2:
            continue
        straight = np.interp(x[a : b + 1], x[[a, b]], y[[a, b]])
        off = np.abs(y[a : b + 1] - straight)
        worst = a + int(np.argmax(off))
        if off[worst - a] > tolerance:
            keep.add(worst)
            waiting += [(a, worst), (worst, b)]
    return sorted(keep)


def _mark_mileposts(axes: Axes, journey: Journey) -> Axes:
    """Write the mileposts, as the line counts them, below the profile."""
    excursion = journey.excursion
    start = float(number(line_chainage(excursion, float(journey.chainage[0])), "distance"))
    sign = 1.0 if excursion.direction == "forward" else -1.0
    posts = axes.secondary_xaxis(
        "bottom", functions=(lambda x: start + sign * np.asarray(x), lambda x: sign * (np.asarray(x) - start))
    )
    low, high = sorted((start, start + sign * line_length(journey)))
    posts.set_xticks(
        [post for post in MaxNLocator(8, steps=[1, 2, 5, 10]).tick_values(low, high) if low <= post <= high]
    )
    posts.tick_params(labelsize=7.5, pad=1.5, length=3)
    posts.set_xlabel(axis_label("milepost", "distance"), fontsize=7.5, labelpad=1.0)
    axes.tick_params(axis="x", length=0)
    return axes


def _mark_grades(axes: Axes, journey: Journey, x: Floats, height: Floats) -> None:
    """Write the mean grade of each stretch in a strip above the profile, with a line at each change."""
    scale = PANEL_WIDTH / line_length(journey)
    corners = simplified(x, height, PROFILE_TOLERANCE * max(float(np.ptp(height)), 10.0))
    transform = axes.get_xaxis_transform()
    for a, b in pairwise(corners):
        left, right = (distance_from_start(journey, float(x[k])) for k in (a, b))
        if b != corners[-1]:
            axes.plot([right, right], [STRIP, 1.0], transform=transform, color=COLORS[4], linewidth=0.7)
        if (right - left) * scale >= MIN_GRADE_WIDTH:
            grade = float((height[b] - height[a]) / (x[b] - x[a]))
            axes.text(
                0.5 * (left + right), 0.5 * (STRIP + 1.0), show_number(grade, "grade"), transform=transform,
                ha="center", va="center", fontsize=7.5, color=COLORS[5],
            )  # fmt: skip
    axes.text(
        1.004, 0.5 * (STRIP + 1.0), f"grade [{label('grade')}]", transform=axes.transAxes, ha="left", va="center",
        fontsize=7.5, color=COLORS[5],
    )  # fmt: skip


class _Row(NamedTuple):
    """A line of type on the profile: where it is taken, in points."""

    taken: list[tuple[float, float]]

    def free(self, left: float, right: float) -> bool:
        return left >= 0.0 and right <= PANEL_WIDTH and all(right < a or left > b for a, b in self.taken)


def mark_findings(axes: Axes, journey: Journey, findings: Sequence[Finding]) -> Axes:
    """Mark the findings that are not clear on the profile, each with its rule, in as many lines as they need."""
    span = line_length(journey)
    scale = PANEL_WIDTH / span
    marked = _findings_by_place(journey, findings, span)
    rows = [_Row([]) for _ in range(MAX_LEVELS)]
    rows[0].taken.extend((place * scale - 5.0, place * scale + 5.0) for place, _, _ in marked)
    for place, verdict, text in marked:
        axes.plot(
            [place], [0.06], transform=axes.get_xaxis_transform(), marker="^", color=COLORS[1],
            fillstyle="full" if verdict == STOP else "none", clip_on=False, zorder=5,
        )  # fmt: skip
        level, right = _free_level(rows, place * scale, CHARACTER * len(text))
        offset = (7.0 if right else -7.0) if level == 0 else (2.0 if right else -2.0)
        axes.annotate(
            text, (place, 0.06), xycoords=axes.get_xaxis_transform(), fontsize=8.5, color=COLORS[1],
            xytext=(offset, -3 + LINE * level), textcoords="offset points",
            ha="left" if right else "right", bbox=TEXT_BOX,
        )  # fmt: skip
    return axes


def _findings_by_place(
    journey: Journey, findings: Sequence[Finding], span: float
) -> list[tuple[float, str, str]]:
    """Distance, worst verdict and text of the findings at each place that are tight or stop."""
    places: dict[float, list[Finding]] = {}
    for finding in findings:
        if finding.verdict not in (CLEAR, NOTE) and finding.chainage is not None:
            place = min(max(distance_from_start(journey, finding.chainage), 0.0), span)
            near = next((known for known in places if abs(known - place) < 0.008 * span), place)
            places.setdefault(near, []).append(finding)
    marked = []
    for place, found in sorted(places.items()):
        texts = [
            f"{verdict}: {', '.join(dict.fromkeys(f.rule for f in found if f.verdict == verdict))}"
            for verdict in dict.fromkeys(f.verdict for f in found)
        ]
        marked.append((place, found[0].verdict, "; ".join(texts)))
    return marked


def _free_level(rows: Sequence[_Row], x: float, size: float) -> tuple[int, bool]:
    """Line of type with room for a text at a place, and whether it stands to the right of it; takes the room."""
    for level, row in enumerate(rows):
        gap = 7.0 if level == 0 else 2.0
        for right in (True, False):
            left_edge = x + gap if right else x - gap - size
            if row.free(left_edge, left_edge + size):
                row.taken.append((left_edge, left_edge + size + 4.0))
                return level, right
    return len(rows) - 1, x < 0.5 * PANEL_WIDTH
