"""Least squares of a model against a road log: constants, and the level from which each stretch begins."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.optimize import least_squares

from locosim.physics.types import Floats
from locosim.studies.log_constants import FUEL, MOTION, WATER, Constant
from locosim.studies.log_model import LogModel
from locosim.studies.log_noise import find_correlation_time, independent

MAX_ROUNDS = 6  # in which spread and correlation of the errors are found
SETTLED = 0.01  # relative change of both at which the rounds end
STEP = 0.01  # of a constant in a difference, in half widths of its believable range
SPEED_STEP = 0.01  # of a first speed likewise [m/s]
# Of errors, to begin with [m/s, m, kg, kg].
FIRST_SPREADS = {"speed": 0.3, "place": 10.0, WATER: 50.0, FUEL: 50.0}


@dataclass(slots=True)
class Estimate:
    """Present estimate: constants in half widths of their range from its middle, and levels of each kind of reading."""

    scaled: Floats
    levels: list[Floats]
    spreads: list[float]
    times: list[float]


class LogProblem:
    """Least squares of a model against a log for some constants."""

    def __init__(self, model: LogModel, constants: tuple[Constant, ...]) -> None:
        self.model, self.constants = model, constants
        self.readings = [r for r in model.readings if any(model.touches(c, r) for c in constants)]
        self.middle = np.array([0.5 * (c.low + c.high) for c in constants])
        self.half = np.array([0.5 * (c.high - c.low) for c in constants])
        before = np.array([c.value(model.excursion) for c in constants])
        self.state = Estimate(
            scaled=(before - self.middle) / self.half,
            levels=[model.first_levels(r) for r in self.readings],
            spreads=[
                FIRST_SPREADS[model.laid.observed if r.kind == MOTION else r.kind] for r in self.readings
            ],
            times=[0.0] * len(self.readings),
        )

    def values(self, scaled: Floats) -> dict[str, float]:
        """Values of the constants by name."""
        return {
            c.name: float(value)
            for c, value in zip(self.constants, self.middle + self.half * scaled, strict=True)
        }

    def error(self, number: int, scaled: Floats, levels: Floats) -> Floats:
        """Model less logged, for readings of one kind."""
        readings = self.readings[number]
        return self.model.predict(readings, self.values(scaled), levels) - readings.value

    def slopes(self, number: int, scaled: Floats, levels: Floats) -> tuple[Floats, Floats]:
        """Derivatives of the error by the constants and by the levels."""
        readings = self.readings[number]
        base = self.error(number, scaled, levels)
        by_constant = np.zeros((len(base), len(scaled)))
        for k, constant in enumerate(self.constants):
            if self.model.touches(constant, readings):
                moved = scaled.copy()
                # Inward from a bound of the search.
                step = STEP if self.middle[k] + self.half[k] * (scaled[k] + STEP) <= constant.most else -STEP
                moved[k] += step
                by_constant[:, k] = (self.error(number, moved, levels) - base) / step
        return by_constant, self.by_level(number, scaled, levels, base)

    def by_level(self, number: int, scaled: Floats, levels: Floats, base: Floats) -> Floats:
        """Each level moves the readings of its own group only, so all of a kind are moved at once."""
        readings = self.readings[number]
        own = np.zeros((len(base), len(levels)))
        at = np.arange(len(base))
        count = readings.group_count
        if readings.kind != MOTION:
            own[at, readings.group] = 1.0
            return own
        moved = levels.copy()
        moved[:count] += SPEED_STEP
        own[at, readings.group] = (self.error(number, scaled, moved) - base) / SPEED_STEP
        if len(levels) > count:
            own[at, count + readings.group] = 1.0
        return own

    def weighted(self, number: int, values: Floats) -> Floats:
        """Errors or derivatives made independent, over the spread of the readings."""
        state = self.state
        made = independent(values, self.readings[number].spacing, state.times[number])
        return np.asarray(made / state.spreads[number])

    def unpack(self, vector: Floats) -> tuple[Floats, list[Floats]]:
        """Constants and levels from one vector."""
        ends = np.cumsum([len(self.constants), *(len(levels) for levels in self.state.levels)])
        return vector[: ends[0]], [vector[a:b] for a, b in pairwise(ends)]

    def all_errors(self, vector: Floats) -> Floats:
        """Weighted errors of all readings."""
        scaled, levels = self.unpack(vector)
        return np.concatenate(
            [self.weighted(k, self.error(k, scaled, levels[k])) for k in range(len(self.readings))]
        )

    def all_slopes(self, vector: Floats) -> Floats:
        """Their derivatives by constants and levels."""
        scaled, levels = self.unpack(vector)
        count = [len(each) for each in levels]
        rows = []
        for k in range(len(self.readings)):
            by_constant, by_level = self.slopes(k, scaled, levels[k])
            wide = np.zeros((len(by_constant), len(vector)))
            wide[:, : len(scaled)] = self.weighted(k, by_constant)
            start = len(scaled) + sum(count[:k])
            wide[:, start : start + count[k]] = self.weighted(k, by_level)
            rows.append(wide)
        return np.concatenate(rows)

    def solve(self) -> None:
        """Find constants and levels for the present spreads and correlations."""
        start = np.concatenate([self.state.scaled, *self.state.levels])
        low, high = np.full(len(start), -np.inf), np.full(len(start), np.inf)
        for k, constant in enumerate(self.constants):
            low[k] = (constant.least - self.middle[k]) / self.half[k]
            high[k] = (constant.most - self.middle[k]) / self.half[k]
        start[: len(self.constants)] = np.clip(
            start[: len(self.constants)], low[: len(self.constants)], high[: len(self.constants)]
        )
        found = least_squares(
            self.all_errors,
            start,
            jac=self.all_slopes,
            bounds=(low, high),
            x_scale="jac",
            xtol=1e-7,
            ftol=1e-9,
        )
        scaled, levels = self.unpack(found.x)
        self.state.scaled, self.state.levels = scaled, [each.copy() for each in levels]

    def settle(self) -> None:
        """Solve, and find spread and correlation of the errors, in turns."""
        for _ in range(MAX_ROUNDS):
            self.solve()
            before = [*self.state.spreads, *self.state.times]
            self._update_errors()
            after = [*self.state.spreads, *self.state.times]
            if np.allclose(before, after, rtol=SETTLED, atol=1e-9):
                break

    def _update_errors(self) -> None:
        state = self.state
        errors, slopes = [], []
        for k, readings in enumerate(self.readings):
            errors.append(self.error(k, state.scaled, state.levels[k]))
            slopes.append(np.hstack(self.slopes(k, state.scaled, state.levels[k])))
            if readings.kind == MOTION:  # the others are too few to show how they hang together
                state.times[k] = find_correlation_time(errors[k], slopes[k], readings.spacing)
        freedoms = self.freedoms()
        for k, error in enumerate(errors):
            made = independent(error, self.readings[k].spacing, state.times[k])
            state.spreads[k] = float(np.sqrt(made @ made / freedoms[k]))

    def vector(self) -> Floats:
        """The present estimate as one vector."""
        return np.concatenate([self.state.scaled, *self.state.levels])

    def freedoms(self) -> Floats:
        """Readings of each kind less what was fitted to them."""
        q, _ = np.linalg.qr(self.all_slopes(self.vector()))
        taken = np.sum(q**2, axis=1)
        ends = np.cumsum([0, *(len(r.row) for r in self.readings)])
        return np.array([max(b - a - taken[a:b].sum(), 0.5) for a, b in pairwise(ends)])
