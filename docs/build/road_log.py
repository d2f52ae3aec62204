"""The made road log of scenarios/logs: a run of the model with stated constants and stated noise.

`python -m docs.build.road_log` writes it again. The run is that of the Spring special with a crew that coasts, driven
by locosim itself; nothing in it was measured.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from locosim.constants import ATMOSPHERE, KMH, WATER_DENSITY
from locosim.engine.performance import compute_excursion_performance
from locosim.journey.result import Journey
from locosim.journey.run import run_to_timetable
from locosim.loading import load_excursion
from locosim.physics.types import Floats
from locosim.studies.log_constants import with_values

ROOT = Path(__file__).resolve().parents[2]
EXCURSION = ROOT / "scenarios" / "excursions" / "spring_special.toml"
FILE = ROOT / "scenarios" / "logs" / "spring_special.csv"
TRUE = {
    "car_rolling": 1.12,
    "machine_friction_share": 0.095,
    "steam_rate_factor": 1.04,
    "unburned_factor": 1.25,
}
STEP = 5.0  # between rows [s]
SPEED_NOISE, NOISE_TIME = 0.12, 12.0  # standard deviation [m/s], and time over which it hangs together [s]
WATER_NOISE, FUEL_NOISE = 60.0, 5.0  # of the float in the tank, and of counted shovels [kg]
READING = 240.0  # least time between readings of water, and of fuel [s]
SAME_LEVEL, SAME_FIRE = (
    0.003,
    0.03,
)  # by which boiler water and bed differ from that of work, at a reading [1]
SEED = 14
HEAD = """\
# Road log of the Spring special, Ambersyke to Quernby: made by locosim, not measured.
# The run of spring_special.toml with car_rolling 1.12, machine_friction_share 0.095, steam_rate_factor 1.04 and
# unburned_factor 1.25, where the files have 1, 0.08, 1 and 1. Noise added: to the speed 0.12 m/s, which hangs together
# over 12 s; to the water 60 kg and to the fuel 5 kg, each reading by itself. All else as the model has it.
# Cutoff and throttle are the mean up to the next row. Water was read with the glass at working level, and fuel with the
# fire as it is at work.
time,place [km],speed [km/h],throttle [%],cutoff [%],pressure [bar],brake,tender_water [m^3],fuel_fired [kg]
"""


def true_run() -> Journey:
    """The run that was logged."""
    excursion = with_values(load_excursion(EXCURSION), TRUE)
    return run_to_timetable(excursion, compute_excursion_performance(excursion))


def correlated_noise(count: int, spread: float, correlation: float, random: np.random.Generator) -> Floats:
    """First-order noise with a correlation between neighbors."""
    noise = random.normal(0.0, spread, count)
    for k in range(1, count):
        noise[k] = correlation * noise[k - 1] + np.sqrt(1.0 - correlation**2) * noise[k]
    return noise


def mean_ahead(journey: Journey, times: Floats, values: Floats) -> Floats:
    """Mean of a value of the steps from each time to the next."""
    seconds = journey.time[1:] - journey.departure_time[:-1]
    ends = np.stack([journey.departure_time[:-1], journey.time[1:]]).T.ravel()
    sums = np.concatenate([[0.0], np.cumsum(values * seconds)])
    total = np.interp([*times, times[-1] + STEP], ends, np.repeat(sums, 2)[1:-1])
    return np.diff(total) / STEP


def reading_rows(times: Floats, fit_to_read: np.ndarray) -> np.ndarray:
    """Rows with a reading: the first that is fit after the least time since the last one."""
    chosen, last = np.zeros(len(times), dtype=bool), -np.inf
    for k, time in enumerate(times):
        if fit_to_read[k] and time >= last + READING:
            chosen[k], last = True, time
    return chosen


def rows_of(journey: Journey) -> list[str]:
    """Rows of the log."""
    random = np.random.default_rng(SEED)
    times = np.arange(journey.time[0], journey.time[-1] + STEP, STEP)
    node_times = np.stack([journey.time, journey.departure_time]).T.ravel()
    noise = correlated_noise(len(times), SPEED_NOISE, float(np.exp(-STEP / NOISE_TIME)), random)

    def at(values: Floats) -> Floats:
        """Values at the times of the rows; between arrival and departure they stand still."""
        return np.interp(times, node_times, np.repeat(values, 2))

    speed = at(journey.speed)
    speed = np.where(speed > 0.0, np.maximum(speed + noise, 0.0), 0.0)
    place, pressure, water = at(journey.chainage), at(journey.pressure) - ATMOSPHERE, at(journey.tender_water)
    # A tank that was filled at a stop did not fire less.
    fired = at(journey.tender_fuel[0] - journey.tender_fuel)
    standing = speed == 0.0
    cutoff, throttle, brake = (
        mean_ahead(journey, times, each) for each in (journey.cutoff, journey.throttle, journey.brake)
    )
    working = float(np.median(journey.grate_fuel[journey.firing > 0.8 * journey.firing.max()]))
    of_water = reading_rows(
        times, np.abs(at(journey.boiler_water) / journey.boiler_water[0] - 1.0) < SAME_LEVEL
    )
    of_fuel = reading_rows(times, np.abs(at(journey.grate_fuel) / working - 1.0) < SAME_FIRE)
    fired = fired + random.normal(0.0, FUEL_NOISE, len(times)) * of_fuel
    rows = []
    for j, time in enumerate(times):
        whole = round(float(time))
        clock = f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"
        shut = standing[j] or throttle[j] <= 0.0
        cells = [
            clock,
            f"{place[j] / 1000:.3f}",
            f"{speed[j] / KMH:.1f}",
            "0" if shut else f"{100 * throttle[j]:.0f}",
            "" if shut else f"{100 * cutoff[j]:.1f}",
            f"{pressure[j] / 1e5:.2f}",
            "on" if standing[j] or brake[j] > 0.0 else "off",
            f"{(water[j] + random.normal(0.0, WATER_NOISE)) / WATER_DENSITY:.3f}" if of_water[j] else "",
            f"{max(fired[j], 0.0):.0f}" if of_fuel[j] else "",
        ]
        rows.append(",".join(cells))
    return rows


def content() -> str:
    """The whole file."""
    return HEAD + "\n".join(rows_of(true_run())) + "\n"


if __name__ == "__main__":
    FILE.parent.mkdir(exist_ok=True)
    FILE.write_text(content(), encoding="utf-8")
