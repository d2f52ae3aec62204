"""Constants of an engine and its train from a road log, by least squares, with intervals.

Readings of the speed (or place), of the water left and of the fuel fired are compared with a model that is driven as
the log says. Constants, and the level from which each stretch begins, are those with the least squares of errors that
were made independent of each other; docs/theory/road-log.md describes the method.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.special import stdtrit

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.model import Excursion
from locosim.model.road_log import RoadLog
from locosim.physics.types import Floats
from locosim.studies.log_constants import (
    FUEL,
    MOTION,
    WATER,
    Constant,
    changes_for,
    constants_named,
    with_values,
)
from locosim.studies.log_fit import ComparedReadings, FittedConstant, LogFit
from locosim.studies.log_model import LogModel
from locosim.studies.log_noise import independent
from locosim.studies.log_problem import LogProblem
from locosim.studies.told_apart import mixed_up, refusal

CONFIDENCE = 0.95
OUTLIER = 5.0  # spreads: one reading in a million by chance
STRONG = 0.95  # correlation of two constants that is worth a note
LEFT_OVER = 2.5  # standard deviations of a correlation left over that is worth a note


def fit_log(
    log: RoadLog,
    excursion: Excursion,
    names: Sequence[str] = (),
    *,
    performance: Performance | None = None,
) -> LogFit:
    """Fit constants of an engine and its train to a road log.

    Args:
        log: The log.
        excursion: Engine, train, route, weather and stops of the trip.
        names: Constants to fit, of `locosim.studies.log_constants.NAMES`; those that such a log usually shows if
            omitted.
        performance: What the engine can do; computed if omitted.

    Raises:
        OutOfRange: A constant that is not known; a log that shows nothing of one, or does not tell some apart, with
            their names and what kind of log would; or one that wants a value no file may give.
    """
    model = LogModel(log, excursion, performance or compute_excursion_performance(excursion))
    chosen = list(names or usual_names(model))
    left_out: list[str] = []
    while True:
        constants = constants_named(chosen, excursion)
        _check_readings(model, constants)
        problem = LogProblem(model, constants)
        problem.settle()
        groups = mixed_up(problem.constants, _own_slopes(problem))
        if not groups:
            break
        if names or len(chosen) == 1:
            raise OutOfRange(f"{refusal(groups)}; or fit fewer of them, and give the others as changes")
        # Of what was not asked for by name, the last one that takes part is left as it is.
        last = max((name for group in groups for name in group.names), key=chosen.index)
        chosen.remove(last)
        left_out.append(f"{last} was not fitted: {refusal(groups)}.")
    _check_bounds(problem)
    return _result(problem, left_out)


def usual_names(model: LogModel) -> tuple[str, ...]:
    """Constants that a log with such readings usually shows."""
    kinds = {readings.kind for readings in model.readings}
    driving = model.laid.rows.driving[model.laid.rows.stretch >= 0]
    names = []
    if MOTION in kinds:
        names.append("car_rolling" if model.excursion.train.vehicles else "machine_friction")
        if (driving == 1).any() and (driving == 0).any():
            names.append("machine_friction_share")
    if WATER in kinds:
        names.append("steam_rate_factor")
    if FUEL in kinds:
        names.append("unburned_factor")
    return tuple(names)


def _check_readings(model: LogModel, constants: Sequence[Constant]) -> None:
    """Refuse constants of which no reading tells."""
    if not model.readings:
        left = ", ".join(
            f"{state}: {time / 60:.0f} min" for state, time in model.laid.times_by_state().items()
        )
        raise OutOfRange(
            "the log has no stretch with the throttle shut, or wide open at a noted cutoff, that lasts a minute, and "
            f"no row of readings of water or fuel ({left}); note throttle, cutoff and brake"
        )
    for constant in constants:
        if not any(model.touches(constant, readings) for readings in model.readings):
            raise OutOfRange(f"the log shows nothing of {constant.name}: it needs {constant.needs}")


def _own_slopes(problem: LogProblem) -> Floats:
    """Weighted derivatives by the constants, without what the levels explain."""
    slopes = problem.all_slopes(problem.vector())
    count = len(problem.constants)
    q, _ = np.linalg.qr(slopes[:, count:])
    return np.asarray(slopes[:, :count] - q @ (q.T @ slopes[:, :count]))


def _check_bounds(problem: LogProblem) -> None:
    values = problem.values(problem.state.scaled)
    for constant in problem.constants:
        value, room = values[constant.name], 1e-3 * (constant.high - constant.low)
        if not constant.least + room < value < constant.most - room:
            raise OutOfRange(
                f"the log wants {constant.name} at {value:.3g}, the end of what was searched ({constant.least:.3g} to "
                f"{constant.most:.3g}); check its columns and units, the excursion it was made on, and the other "
                "constants"
            )


def _result(problem: LogProblem, left_out: Sequence[str]) -> LogFit:
    model, state = problem.model, problem.state
    values = problem.values(state.scaled)
    fitted = with_values(model.excursion, values)
    covariance, freedom = _covariance(problem)
    errors = np.sqrt(np.diag(covariance))
    constants = tuple(
        _fitted(problem, k, float(errors[k]), float(freedom[k])) for k in range(len(problem.constants))
    )
    compared = tuple(_compared(problem, k) for k in range(len(problem.readings)))
    correlation = covariance / np.outer(errors, errors)
    return LogFit(
        excursion=model.excursion,
        fitted=fitted,
        performance=model.performance,
        laid=model.laid,
        constants=constants,
        correlation=correlation,
        compared=compared,
        changes=changes_for(values, fitted),
        notes=(*left_out, *model.laid.notes, *_notes(constants, correlation, compared)),
    )


def _covariance(problem: LogProblem) -> tuple[Floats, Floats]:
    """Covariance of the constants in half widths of their ranges, and degrees of freedom by Satterthwaite."""
    slopes = problem.all_slopes(problem.vector())
    count = len(problem.constants)
    inverse = np.linalg.pinv(slopes)[:count]
    ends = np.cumsum([0, *(len(r.row) for r in problem.readings)])
    parts = np.array([np.sum(inverse[:, a:b] ** 2, axis=1) for a, b in pairwise(ends)])
    freedom = parts.sum(axis=0) ** 2 / np.sum(parts**2 / problem.freedoms()[:, None], axis=0)
    return inverse @ inverse.T, freedom


def _fitted(problem: LogProblem, k: int, error: float, freedom: float) -> FittedConstant:
    constant, half = problem.constants[k], float(problem.half[k])
    value = float(problem.middle[k] + half * problem.state.scaled[k])
    reach = float(stdtrit(freedom, 0.5 + 0.5 * CONFIDENCE)) * error * half
    return FittedConstant(
        name=constant.name,
        meaning=constant.meaning,
        kind=constant.kind,
        before=constant.value(problem.model.excursion),
        value=value,
        low=value - reach,
        high=value + reach,
        standard_error=error * half,
        freedom=freedom,
        believable_low=constant.low,
        believable_high=constant.high,
    )


def _compared(problem: LogProblem, k: int) -> ComparedReadings:
    model, state, readings = problem.model, problem.state, problem.readings[k]
    error = problem.error(k, state.scaled, state.levels[k])
    made = independent(error, readings.spacing, state.times[k])
    before = _error_before(problem, k)
    return ComparedReadings(
        kind=model.laid.observed if readings.kind == MOTION else readings.kind,
        row=readings.row,
        time=model.laid.log.time[readings.row],
        distance=model.laid.rows.distance[readings.row],
        group=readings.group,
        logged=readings.value,
        model=readings.value + error,
        spread=state.spreads[k],
        spread_before=float(np.sqrt(before @ before / max(len(before) - len(state.levels[k]), 1))),
        correlation_time=state.times[k],
        left_over=_neighbor_correlation(made, readings.spacing),
    )


def _error_before(problem: LogProblem, k: int) -> Floats:
    """Errors with the constants of the files, each group at the level that suits these best."""
    before = np.array([c.value(problem.model.excursion) for c in problem.constants])
    scaled, levels = (before - problem.middle) / problem.half, problem.state.levels[k].copy()
    for _ in range(3):
        error = problem.error(k, scaled, levels)
        slope = problem.by_level(k, scaled, levels, error)
        levels = levels - np.linalg.lstsq(slope, error, rcond=None)[0]
    return problem.error(k, scaled, levels)


def _neighbor_correlation(made: Floats, spacing: Floats) -> float:
    same = np.isfinite(spacing[1:])
    one, other = made[:-1][same], made[1:][same]
    return float(one @ other / np.sqrt((one @ one) * (other @ other))) if len(one) else 0.0


def _notes(
    constants: Sequence[FittedConstant], correlation: Floats, compared: Sequence[ComparedReadings]
) -> list[str]:
    notes = []
    for one, constant in enumerate(constants):
        if not constant.believable:
            notes.append(
                f"{constant.name} lies outside its believable range: look for an error in the log or in another "
                "constant before using it."
            )
        for two in range(one):
            if abs(correlation[one, two]) > STRONG:
                notes.append(
                    f"{constants[two].name} and {constant.name} are hardly told apart (correlation "
                    f"{correlation[one, two]:+.2f}): use both from this log or neither."
                )
    for each in compared:
        far = int(np.sum(np.abs(each.error) > OUTLIER * each.spread))
        if far:
            notes.append(
                f"{far} of {len(each.row)} readings of {each.kind} lie more than {OUTLIER:.0f} spreads from the model: "
                "look at them in the picture."
            )
        if abs(each.left_over) * np.sqrt(len(each.row)) > LEFT_OVER:
            notes.append(
                f"The errors of {each.kind} hang together in another way than assumed (correlation left over "
                f"{each.left_over:+.2f}): the intervals may be too narrow."
            )
    return notes
