"""Entry speeds: what a train must bring to the foot of each grade that it cannot climb at a steady speed."""

from __future__ import annotations

import numpy as np

from locosim.compiled import in_python
from locosim.constants import GRAVITY
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.physics.operation.momentum import velocity_head
from locosim.physics.traction.adhesion import adhesion_speed_factor
from locosim.physics.types import Floats

SPEED_STEP = 0.5  # of the table of surplus pull [m/s]
MIN_HEAD = 0.1  # gained by the run at a grade, below which it is not listed [m]
SLOWEST = 0.5  # lowest speed at which a steady pull is asked [m/s]


@frozen
class MomentumGrade:
    """A grade that a train climbs only on the speed it brings.

    Attributes:
        entry: Chainage of the foot, where the required speed is highest, in the direction of travel [m].
        end: Chainage where steady pull suffices again [m].
        steepest: Steepest mean grade under the train between them [1].
        required: Speed required at the foot [m/s].
        speed: Speed there in the run at full effort [m/s].
        allowed: Speed that limits and stops allow there [m/s].
        lowest: Lowest speed of that run on the grade [m/s].
    """

    entry: float
    end: float
    steepest: float
    required: float
    speed: float
    allowed: float
    lowest: float


def steady_surplus(prepared: PreparedRun, speed: float) -> Floats:
    """Pull left over at a steady speed in each step: at the rim, on sustained steam, with full supplies.

    Args:
        prepared: The run.
        speed: Speed [m/s].

    Returns:
        Pull of the engines less resistance, grade and curves; negative where the train loses speed, shape (n,) [N].
    """
    line, load = prepared.line, prepared.load
    contents = prepared.start.tender_water + prepared.start.tender_fuel
    running = (
        load.a
        + load.a_contents * contents
        + (load.b + load.b_contents * contents) * speed
        + load.c * (speed + load.wind) * abs(speed + load.wind)
    )
    resistance = line.gravity + contents * GRAVITY * line.grade + line.curve + running
    return np.asarray(_pull(prepared, speed) + _helper_pull(prepared, speed) - resistance)


def _pull(prepared: PreparedRun, speed: float) -> Floats:
    """Rim tractive effort of the train engine within adhesion, cylinders and sustained steam [N]."""
    performance, line = prepared.performance, prepared.line
    share = min(prepared.excursion.crew.steam_allowance, 1.0)
    steam = share * performance.supply.sustained - performance.locomotive.auxiliaries.continuous_demand
    cutoff = min(float(np.max(line.max_cutoff)), float(performance.map.cutoffs[-1]))
    pressure = performance.locomotive.boiler.absolute_pressure
    effort, _ = performance.map.max_effort(
        speed=speed, pressure=pressure, steam=max(steam, 0.0), cutoff=cutoff
    )
    by_rail = line.adhesion * in_python(adhesion_speed_factor)(speed) * prepared.engine.adhesive_weight
    return np.asarray(np.minimum(performance.map.rim_effort(effort), by_rail))


def _helper_pull(prepared: PreparedRun, speed: float) -> Floats:
    """Pull of the helpers less their own running resistance and friction [N]."""
    engine, line = prepared.engine, prepared.line
    by_row = []
    for row in range(len(engine.helper_adhesive_weight)):
        table = engine.helper_effort[row]
        effort = np.interp(speed, engine.helper_speed_step * np.arange(len(table)), table)
        by_rail = line.adhesion * in_python(adhesion_speed_factor)(speed) * engine.helper_adhesive_weight[row]
        a, b, c = engine.helper_resistance[row]
        by_row.append(
            np.minimum(effort, by_rail) - engine.helper_friction[row] - (a + b * speed + c * speed**2)
        )
    if not by_row:
        return np.zeros(len(line.grade))
    found = np.choose(np.maximum(line.helper_row, 0), by_row)
    return np.asarray(np.where(line.helper_row >= 0, found, 0.0))


def holds_everywhere(prepared: PreparedRun) -> bool:
    """Whether the train holds its least climbing speed on every grade without a run at it."""
    least = max(prepared.excursion.min_climbing_speed, SLOWEST)
    return bool(np.all(steady_surplus(prepared, least) >= 0.0))


def momentum_grades_of(journey: Journey) -> tuple[MomentumGrade, ...]:
    """Grades on which a run lives on momentum, each with the entry speed it needs.

    The required speed is found backward from the end of each grade: the kinetic energy that with steady pull at full
    effort just leaves the least climbing speed. A grade right after a stop, where the train cannot have that speed,
    is not one of them.

    Args:
        journey: A run at full effort that arrives.

    References:
        Mechanics; the trade's rule with a velocity head is in `locosim.survey.momentum_grades`.
    """
    prepared = prepare(journey.excursion, journey.performance)
    required = _required_energy(prepared)
    floor = float(np.min(required))
    above = required > floor * (1.0 + 1e-9)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], above.astype(int), [0]])))
    found = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        entry = first + int(np.argmax(required[first:last]))
        end = min(int(last), len(journey.speed) - 1)
        speed = float(np.sqrt(2.0 * required[entry]))
        gained = float(velocity_head(speed=speed)) - floor / GRAVITY
        if gained < MIN_HEAD or required[entry] > prepared.max_energy[entry] or end <= entry:
            continue
        found.append(
            MomentumGrade(
                entry=float(prepared.chainage[entry]),
                end=float(prepared.chainage[end]),
                steepest=float(np.max(journey.grade[entry:end])),
                required=speed,
                speed=float(journey.speed[entry]),
                allowed=float(np.sqrt(2.0 * prepared.max_energy[entry])),
                lowest=float(np.min(journey.speed[entry : end + 1])),
            )
        )
    return tuple(found)


def _required_energy(prepared: PreparedRun) -> Floats:
    """v²/2 that each node needs so that the speed does not fall below the least climbing speed beyond [J/kg]."""
    least = max(prepared.excursion.min_climbing_speed, SLOWEST)
    top = max(float(np.sqrt(2.0 * np.max(prepared.max_energy))), least + SPEED_STEP)
    top = min(top, prepared.performance.map.max_speed)
    speeds = np.linspace(least, max(top, least), max(int((top - least) / SPEED_STEP), 1) + 1)
    load, line = prepared.load, prepared.line
    mass = load.mass + load.rotating + prepared.start.tender_water + prepared.start.tender_fuel
    gains = np.array([steady_surplus(prepared, float(v)) for v in speeds])
    gains *= np.diff(prepared.chainage) / (mass + line.helper_mass)
    floor, step = 0.5 * least**2, float(speeds[1] - speeds[0]) if len(speeds) > 1 else 1.0
    columns, last = gains.T.tolist(), len(speeds) - 1
    stops = set(prepared.stop_nodes)
    required = np.full(len(prepared.chainage), floor)
    need = floor
    for i in range(len(columns) - 1, -1, -1):
        place = min((float(np.sqrt(2.0 * need)) - least) / step, float(last))
        k = min(int(place), max(last - 1, 0))
        below, above = columns[i][k], columns[i][min(k + 1, last)]
        need = max(floor, need - (below + (place - k) * (above - below)))
        if i in stops:
            need = floor
        required[i] = need
    return required
