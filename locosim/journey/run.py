"""Simulation of an excursion: one run, or a run with the fireman's forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locosim.engine.performance import Performance
from locosim.journey.kernel import arrays as records
from locosim.journey.kernel import integrate as kernel
from locosim.journey.kernel.arrays import RunArrays
from locosim.journey.result import Journey, build_journey
from locosim.journey.setup.prepare import MAX_STEP, PreparedRun, prepare
from locosim.model import Excursion
from locosim.physics.types import Floats


def run_journey(
    excursion: Excursion, performance: Performance, *, step: float = MAX_STEP, transient_boiler: bool = False
) -> Journey:
    """Simulate an excursion and close its ledgers.

    Args:
        excursion: The excursion.
        performance: What its engine can do.
        step: Longest distance between nodes [m].
        transient_boiler: Compute boiler pressure and water along the run; without it pressure is constant and steam
            is limited to the sustained evaporation.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    prepared = prepare(excursion, performance, step=step, transient_boiler=transient_boiler)
    if transient_boiler:
        prepared = with_firing_forecast(prepared)
    return build_journey(prepared, run_prepared(prepared))


def run_full_effort(excursion: Excursion, performance: Performance) -> Journey:
    """Simulate an excursion at full effort: the allowed steam wherever the train may go faster, whatever the habit.

    Args:
        excursion: The excursion.
        performance: What its engine can do.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    crew = replace(excursion.crew, habit="hold_speed_limit")
    prepared = prepare(replace(excursion, crew=crew), performance, transient_boiler=True)
    prepared = with_firing_forecast(replace(prepared, excursion=excursion))
    return build_journey(prepared, run_prepared(prepared))


def run_to_timetable(excursion: Excursion, performance: Performance) -> Journey:
    """Simulate an excursion run to its booked times, not ahead of them.

    Args:
        excursion: The excursion.
        performance: What its engine can do.

    Raises:
        OutOfRange: Water or fuel is to be taken where the route has none.
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    return run_journey(excursion, performance, transient_boiler=True)


def run_prepared(prepared: PreparedRun) -> RunArrays:
    """Run the kernel on prepared arrays."""
    return kernel.run(prepared.line, prepared.load, prepared.engine, prepared.boiler, prepared.start)


def with_firing_forecast(prepared: PreparedRun) -> PreparedRun:
    """Return the run with the steam the fireman expects, from a run with steady pressure.

    He fires for the mean over one lag of the fire from now, or from some way ahead, whichever is more: common
    practice, no source.
    """
    boiler = prepared.boiler
    steady = run_prepared(replace(prepared, boiler=boiler._replace(transient=False)))
    lead = prepared.excursion.assumptions.firing_lead_lags
    forecast_steam = _mean_steam_ahead(steady, boiler.fire_lag, lead)
    # Beyond the end of the steady run he fires for the sustained evaporation.
    forecast_steam[steady.last_node :] = boiler.sustained_steam
    firing = forecast_steam[0] / boiler.sustained_steam * boiler.max_firing
    return replace(
        prepared,
        line=prepared.line._replace(forecast_steam=forecast_steam),
        start=prepared.start._replace(firing=max(firing, boiler.min_firing)),
    )


def _mean_steam_ahead(arrays: RunArrays, lag: float, lead: float) -> Floats:
    """Larger of the mean cylinder steam over a lag from now and over a lag from `lead` lags on, shape (n,) [kg/s]."""
    reached = arrays.last_node + 1
    arrive, leave = arrays.nodes[records.ARRIVE], arrays.nodes[records.DEPART]
    drawn = arrays.steps[records.CYLINDER_STEAM_RATE]
    used = np.concatenate([[0.0], np.cumsum(drawn * (arrive[1:] - leave[:-1]))])
    now = leave[:-1]
    # Both ends of each stop, so that a stop draws nothing.
    clock = np.column_stack((arrive, leave))[:reached].ravel()
    total = np.repeat(used[:reached], 2)
    soon = np.interp(now + lag, clock, total) - np.interp(now, clock, total)
    later = np.interp(now + (1.0 + lead) * lag, clock, total) - np.interp(now + lead * lag, clock, total)
    return np.asarray(np.maximum(soon, later) / lag)
