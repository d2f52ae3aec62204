"""Results of the engine commands that need more than one computation: the speed curve and the cutoff table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locosim.engine.boiler.stored_heat import ShortEffort, short_efforts
from locosim.engine.cutoff_table import CutoffPoint, PullOptions, cutoff_table, options_for_effort
from locosim.engine.cylinders.speed_range import min_cycle_speed
from locosim.engine.performance import Performance, cycle_layout
from locosim.engine.speed_curve import CurvePoint, effort_curve, evenly_spaced_speeds, speed_curve
from locosim.frozen import frozen


@frozen
class CompoundFigures:
    """Receiver and division of work of a compound at one operating point.

    Attributes:
        receiver_pressure: Absolute pressure in the receiver [Pa].
        high_pressure_share: Share of the high-pressure cylinders in the work [1].
    """

    receiver_pressure: float
    high_pressure_share: float


@frozen(eq=False)
class SpeedCurve:
    """Tractive effort and power against speed.

    Attributes:
        performance: The engine.
        rail: Condition of the rail.
        points: Sustained effort, one point per speed.
        stages: Receiver pressure and division of work of a compound at each of these points; empty for other engines
            and by the handbook.
        efforts: What stored heat adds for a short effort, one for each fall of pressure; empty without one.
        effort_points: The short effort, one point per speed; empty without one.
    """

    performance: Performance
    rail: str
    points: tuple[CurvePoint, ...]
    stages: tuple[CompoundFigures, ...] = ()
    efforts: tuple[ShortEffort, ...] = ()
    effort_points: tuple[CurvePoint, ...] = ()


@frozen(eq=False)
class CutoffTable:
    """Tractive effort, steam and fuel at each cutoff, at one speed.

    Attributes:
        performance: The engine.
        speed: Train speed [m/s].
        points: Points of one throttle opening after another.
        options: Settings that give a required tractive effort; None where none was required.
    """

    performance: Performance
    speed: float
    points: tuple[CutoffPoint, ...]
    options: PullOptions | None = None


def compute_speed_curve(
    performance: Performance,
    *,
    step: float | None = None,
    rail: str = "dry",
    duration: float | None = None,
) -> SpeedCurve:
    """Compute the sustained speed curve, and that of a short effort.

    Args:
        performance: The engine.
        step: Step of speed [m/s]; a usual one if omitted.
        rail: Condition of the rail.
        duration: Length of the short effort [s]; none if omitted.

    Raises:
        OutOfRange: A step or duration outside its range, or a rail condition that is not known.
    """
    speeds = evenly_spaced_speeds(performance, step)
    points = speed_curve(performance, speeds=speeds, rail=rail)
    stages = _compound_figures(performance, points)
    if duration is None:
        return SpeedCurve(performance=performance, rail=rail, points=points, stages=stages)
    efforts = short_efforts(
        performance.locomotive,
        performance.supply,
        duration=duration,
        assumptions=performance.assumptions,
    )
    effort_points = effort_curve(performance, speeds=speeds, efforts=efforts, rail=rail)
    return SpeedCurve(
        performance=performance,
        rail=rail,
        points=points,
        stages=stages,
        efforts=efforts,
        effort_points=effort_points,
    )


def _compound_figures(performance: Performance, points: Sequence[CurvePoint]) -> tuple[CompoundFigures, ...]:
    """Receiver pressure and division of work at points of a speed curve, at rest those of a slow revolution."""
    locomotive = performance.locomotive
    if not locomotive.compound or performance.method != "cycle":
        return ()
    from locosim.engine.cylinders.operating_points import operating_points

    found = operating_points(
        cycle_layout(locomotive, performance.assumptions),
        speeds=np.maximum([point.speed for point in points], min_cycle_speed(locomotive)),
        cutoffs=np.array([point.cutoff for point in points]),
        pressures=locomotive.boiler.absolute_pressure,
    )
    assert found.receiver_pressure is not None
    return tuple(
        CompoundFigures(receiver_pressure=float(pressure), high_pressure_share=float(share))
        for pressure, share in zip(found.receiver_pressure, found.stage_work_shares[0], strict=True)
    )


def compute_cutoff_table(
    performance: Performance,
    *,
    speed: float,
    throttle_openings: tuple[float, ...] = (),
    effort: float | None = None,
) -> CutoffTable:
    """Compute every cutoff at one speed, and the settings that give a required tractive effort.

    Args:
        performance: The engine.
        speed: Train speed [m/s].
        throttle_openings: Openings of the throttle [1]; fully open if omitted.
        effort: Required tractive effort at the wheel rim [N].

    Raises:
        OutOfRange: A speed, opening or tractive effort outside what the engine covers.
    """
    points = tuple(
        point
        for opening in throttle_openings or (1.0,)
        for point in cutoff_table(performance, speed=speed, throttle=opening)
    )
    options = None
    if effort is not None:
        options = options_for_effort(
            performance, speed=speed, effort=effort, throttle_openings=throttle_openings
        )
    return CutoffTable(performance=performance, speed=speed, points=points, options=options)
