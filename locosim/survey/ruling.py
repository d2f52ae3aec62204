"""Ruling grade by train length: the steepest grade averaged over the train, with and without the curves on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locosim.constants import GRAVITY
from locosim.frozen import frozen
from locosim.model import Route
from locosim.physics.resistance.grade_and_curve import CURVE_LAWS
from locosim.survey.heights import Heights, heights_of


@frozen
class RulingGrade:
    """The steepest grade under a train of one length, in both directions.

    Attributes:
        length: Length of the train [m].
        forward: Ruling grade in the direction of the chainage, curve resistance included [1].
        forward_grade: Mean grade alone under the train there [1].
        forward_place: Chainage of the head of the train there [m].
        backward, backward_grade, backward_place: The same in the opposite direction.
    """

    length: float
    forward: float
    forward_grade: float
    forward_place: float
    backward: float
    backward_grade: float
    backward_place: float


def resisting_heights(route: Route, *, backward: bool = False) -> Heights:
    """Heights with the curve resistance added as if it were a rise: its slope is the grade that a train feels.

    Args:
        route: The line.
        backward: For a train in the opposite direction, to which the line falls where it rises; the heights are
            still by increasing chainage, and curves lower them instead.
    """
    heights = heights_of(route)
    law = CURVE_LAWS[route.curve_resistance_law]
    places = [heights.chainage]
    for curve in route.curves:
        places.append(np.clip([curve.start, curve.end], route.start, route.end))
    chainage = np.unique(np.concatenate(places))
    rise = np.zeros(len(chainage))
    for curve in route.curves:
        grade = law(radius=curve.radius, rigid_wheelbase=0.0) / GRAVITY
        rise += grade * (np.clip(chainage, curve.start, curve.end) - curve.start)
    rise -= rise[0]
    return Heights(chainage, heights.at(chainage) + (-rise if backward else rise))


def ruling_grades(route: Route, lengths: Sequence[float]) -> tuple[RulingGrade, ...]:
    """Ruling grade of a line for several lengths of train.

    Args:
        route: The line.
        lengths: Lengths of train; those longer than the line are left out [m].
    """
    up, down, bare = resisting_heights(route), resisting_heights(route, backward=True), heights_of(route)
    found = []
    for length in lengths:
        if length > route.end - route.start:
            continue
        forward, head = _steepest(up, length)
        backward, rear = _steepest(Heights(-down.chainage[::-1], down.height[::-1]), length)
        found.append(
            RulingGrade(
                length=length,
                forward=forward,
                forward_grade=_mean_grade(bare, head - length, head),
                forward_place=head,
                backward=backward,
                backward_grade=-_mean_grade(bare, -rear, -rear + length),
                backward_place=-rear,
            )
        )
    return tuple(found)


def _steepest(heights: Heights, length: float) -> tuple[float, float]:
    """Steepest mean grade over a length, and the place of its far end.

    The mean grade is linear between the places where the head or the rear of the train passes a point of the
    profile, so that it is greatest at one of them.
    """
    first, last = heights.chainage[0] + length, heights.chainage[-1]
    heads = np.unique(np.clip(np.concatenate([heights.chainage, heights.chainage + length]), first, last))
    grades = (heights.at(heads) - heights.at(heads - length)) / length
    steepest = int(np.argmax(np.round(grades, 9)))  # the first of equal ones
    return float(grades[steepest]), float(heads[steepest])


def _mean_grade(heights: Heights, start: float, end: float) -> float:
    """Mean grade between two places."""
    return float((heights.at(end) - heights.at(start)) / (end - start))
