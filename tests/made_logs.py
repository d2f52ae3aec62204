"""Road logs made by the model driven by a schedule, so that only the noise added is unknown."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.performance import Performance
from locosim.journey.kernel.logged_steps import BY_CUTOFF, SHUT, LoggedRows, follow_log
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion
from locosim.model.road_log import RoadLog
from locosim.physics.types import Floats

PRESSURE = 12.6e5  # gauge [Pa]


@dataclass(frozen=True)
class Turn:
    """The engine worked in one way for a time: a cutoff, or 0 with the throttle shut."""

    seconds: float
    cutoff: float


def made_log(
    excursion: Excursion,
    performance: Performance,
    turns: tuple[Turn, ...],
    *,
    place: float,
    speed: float,
    step: float = 5.0,
) -> RoadLog:
    """A log without noise: the train runs from a place [m] at a speed [m/s] as the turns say."""
    prepared = prepare(excursion, performance, transient_boiler=True)
    times = np.arange(0.0, sum(turn.seconds for turn in turns) + 0.5 * step, step)
    ends = np.cumsum([turn.seconds for turn in turns])
    cutoffs = np.array(
        [turns[min(int(np.searchsorted(ends, t, side="right")), len(turns) - 1)].cutoff for t in times]
    )
    x, v = [place - float(prepared.chainage[0])], [speed]
    contents = prepared.start.tender_water + prepared.start.tender_fuel
    for k in range(len(times) - 1):
        ahead = v[-1] * step
        for _ in range(3):  # the distance covered and the grades on it
            rows = LoggedRows(
                time=times[k : k + 2],
                distance=np.array([x[-1], x[-1] + ahead]),
                driving=np.array([BY_CUTOFF if cutoffs[k] > 0.0 else SHUT, -1]),
                cutoff=cutoffs[k : k + 2],
                pressure=np.full(2, PRESSURE + ATMOSPHERE),
                contents=np.full(2, contents),
                acceleration=np.zeros(2),
                stretch=np.array([0, -1]),
            )
            speeds, covered = follow_log(
                prepared.line, prepared.load, prepared.engine, prepared.boiler, rows, np.array([v[-1]])
            )
            ahead = float(covered[1])
        x.append(x[-1] + ahead)
        v.append(float(speeds[1]))
    blank = np.full(len(times), np.nan)
    return RoadLog(
        name="made",
        time=times + 36000.0,
        place=np.array(x) + prepared.chainage[0],
        speed=np.array(v),
        throttle=np.where(cutoffs > 0.0, 1.0, 0.0),
        cutoff=np.where(cutoffs > 0.0, cutoffs, np.nan),
        pressure=np.full(len(times), PRESSURE),
        braking=np.zeros(len(times), dtype=bool),
        tender_water=blank,
        fuel_fired=blank,
    )


def with_noise(log: RoadLog, spread: float, time: float, random: np.random.Generator) -> RoadLog:
    """A log with noise of a spread [m/s] on the speed, which hangs together over a time [s]; 0 for none."""
    noise = random.normal(0.0, spread, len(log.time))
    if time > 0.0:
        correlation = float(np.exp(-(log.time[1] - log.time[0]) / time))
        for k in range(1, len(noise)):
            noise[k] = correlation * noise[k - 1] + np.sqrt(1.0 - correlation**2) * noise[k]
    return replace(log, speed=log.speed + noise)


def least_and_most(trials: int, share: float) -> Floats:
    """Least and largest count of successes that are within a 99.8 % interval of a binomial."""
    from scipy.stats import binom

    return np.array([binom.ppf(0.001, trials, share), binom.ppf(0.999, trials, share)])
