"""Motion over one step: resistance, effort within steam, cylinders and adhesion, and the effort that meets a limit."""

from __future__ import annotations

import math

from locosim.compiled import compiled_inline
from locosim.constants import GRAVITY
from locosim.engine.map.interpolation import between, max_effort
from locosim.journey.kernel.arrays import (
    ADHESION,
    AT_ALLOWED_SPEED,
    BRAKING,
    COASTING,
    CYLINDERS,
    STEAM,
    Engine,
    Forces,
    Line,
    Load,
    StepConditions,
    TractiveStep,
)
from locosim.physics.resistance.starting import starting_resistance
from locosim.physics.traction.adhesion import adhesion_speed_factor

MAX_ACCELERATION = 1.5  # more than any train reaches [m/s²]
# Work against resistance over a part of a step, over twice the kinetic energy. A midpoint step is stable up to 2 at a
# speed kept by steam, and swings no more below 1; ours.
MAX_WORK_RATIO = 0.25
MAX_SUBSTEPS = 64


@compiled_inline
def train_resistance(load: Load, at: StepConditions, speed: float) -> float:
    """Resistance of the train on straight level track, or of breaking away where that is more [N]."""
    air_speed = speed + load.wind
    force = load.a + load.b * speed + load.c * air_speed * abs(air_speed)
    force += (load.a_contents + load.b_contents * speed) * at.contents
    if at.starting > 0.0:
        force = starting_resistance(speed, force, at.starting, load.rolling_start)
    return float(force)


@compiled_inline
def helper_resistance(load: Load, engine: Engine, at: StepConditions, row: int, speed: float) -> float:
    """Resistance of the helpers on straight level track, or of breaking away where that is more [N]."""
    own = engine.helper_resistance[row]
    air_speed = speed + load.wind
    force = own[0] + own[1] * speed + own[2] * air_speed * abs(air_speed)
    if at.starting > 0.0:
        rest = engine.helper_starting[row]
        force = starting_resistance(speed, force, rest[0], rest[1])
    return float(force)


@compiled_inline
def resisting_force(line: Line, load: Load, engine: Engine, at: StepConditions, speed: float) -> float:
    """Machine friction without steam, running resistance, curves and gravity, helpers included [N]."""
    force = train_resistance(load, at, speed) + line.curve[at.i] + engine.friction
    force += line.gravity[at.i] + at.contents * GRAVITY * line.grade[at.i]
    row = line.helper_row[at.i]
    if row >= 0:
        force += helper_resistance(load, engine, at, row, speed) + engine.helper_friction[row]
    return float(force)


@compiled_inline
def friction_at(engine: Engine, effort: float) -> float:
    """Machine friction at an indicated effort: `physics.traction.machine_friction` for compiled code [N]."""
    return engine.friction + engine.friction_share * effort


@compiled_inline
def full_effort_forces(line: Line, load: Load, engine: Engine, at: StepConditions, energy: float) -> Forces:
    """Forces on the train with the engine at full effort, at a kinetic energy per mass [J/kg]."""
    speed = math.sqrt(2.0 * max(energy, 0.0))
    effort, steam_limited, place = max_effort(
        engine.grid, at.pressure, speed, at.max_steam, line.max_cutoff[at.i], at.guess
    )
    limit = STEAM if steam_limited else CYLINDERS
    coefficient = line.adhesion[at.i] * adhesion_speed_factor(speed)
    # Machine friction is overcome inside the engine; the rail carries the rest.
    by_rail = coefficient * engine.adhesive_weight
    adhesion_limit = (by_rail + engine.friction) / (1.0 - engine.friction_share)
    if effort > adhesion_limit:
        effort, limit = adhesion_limit, ADHESION
    thrust_friction = engine.friction_share * effort
    helper_effort = 0.0
    row = line.helper_row[at.i]
    if row >= 0:
        helper_effort = min(
            between(engine.helper_effort[row], 0.0, engine.helper_speed_step, speed),
            coefficient * engine.helper_adhesive_weight[row] + engine.helper_friction[row],
        )
    total_resistance = resisting_force(line, load, engine, at, speed) + thrust_friction
    return Forces(total_resistance, effort, helper_effort, thrust_friction, limit, place)


@compiled_inline
def solve_tractive_step(line: Line, load: Load, engine: Engine, at: StepConditions, e: float) -> TractiveStep:
    """Find effort, brake and speed over one step: full effort up to the speed allowed, and what then just keeps to it.

    A step the train does not get through returns an energy at its end that is not above zero.
    """
    h = line.distance[at.i + 1] - line.distance[at.i]
    top = line.shutoff[at.i + 1]
    if top - e < MAX_ACCELERATION * h:
        # The limit is within reach: try first whether a reduced effort, or none, just meets it.
        forces = full_effort_forces(line, load, engine, at, 0.5 * (e + top))
        if gain_of(line, load, at, forces) >= top - e:
            return limited_step(line, load, engine, at, forces, e)
    step = run_at_full_effort(line, load, engine, at, e)
    if step.e_next <= top:
        return step
    thrust_friction = engine.friction_share * step.effort
    forces = Forces(
        step.total_resistance, step.effort, step.helper_effort, thrust_friction, step.limit, step.place
    )
    return limited_step(line, load, engine, at, forces, e)


@compiled_inline
def time_over(h: float, e: float, e_next: float) -> float:
    """Time over a length [m] from v²/2 at its start to that at its end [s]; 0 for a train that does not move."""
    speeds = math.sqrt(2.0 * e) + math.sqrt(2.0 * max(e_next, 0.0))
    return 2.0 * h / speeds if speeds > 0.0 else 0.0


@compiled_inline
def gain_of(line: Line, load: Load, at: StepConditions, forces: Forces) -> float:
    """What full effort adds to v²/2 over a step [J/kg]."""
    h = line.distance[at.i + 1] - line.distance[at.i]
    inertia = load.mass + at.contents + load.rotating + line.helper_mass[at.i]
    return float(h / inertia * (forces.effort + forces.helper_effort - forces.total_resistance))


@compiled_inline
def substeps(line: Line, load: Load, at: StepConditions, resistance: float, e_mid: float) -> int:
    """Number of parts of a step at full effort.

    Steam gives a crawling train more effort the slower it is. Over a step in which the work against its resistance
    is more than its kinetic energy, a midpoint step would swing about the speed it keeps.

    Args:
        line: The line.
        load: Mass and resistance of the train.
        at: Conditions of the step.
        resistance: Of the train, with grade and curve [N].
        e_mid: v²/2 at the middle, from the forces at the start [J/kg].
    """
    if e_mid <= 0.0:
        return MAX_SUBSTEPS
    h = line.distance[at.i + 1] - line.distance[at.i]
    work_ratio = resistance * h / (2.0 * e_mid * (load.mass + at.contents))
    return int(min(max(math.ceil(work_ratio / MAX_WORK_RATIO), 1.0), MAX_SUBSTEPS))


@compiled_inline
def run_at_full_effort(line: Line, load: Load, engine: Engine, at: StepConditions, e: float) -> TractiveStep:
    """Step at full effort, in parts, whatever the speed allowed; a train that stalls ends below zero.

    The parts are equal, but from rest they grow one by one, because there the resistance falls with the speed.
    """
    h = line.distance[at.i + 1] - line.distance[at.i]
    start, time, covered = e, 0.0, 0.0
    resistance, effort, helper_effort = 0.0, 0.0, 0.0
    count, e_mid = MAX_SUBSTEPS, e
    for k in range(MAX_SUBSTEPS):
        if k == count:
            break
        forces = full_effort_forces(line, load, engine, at, e)
        gain = gain_of(line, load, at, forces)
        if k == 0:
            count = substeps(line, load, at, forces.total_resistance, e + 0.5 * gain)
        part = 1.0 / count if start > 0.0 else (2.0 * k + 1.0) / count**2
        e_mid = e + 0.5 * part * gain
        e_next = 2.0 * e_mid - e
        if e_mid > 0.0:
            forces = full_effort_forces(line, load, engine, at, e_mid)
            e_next = e + part * gain_of(line, load, at, forces)
        if e_mid <= 0.0 or e_next <= 0.0:
            # As if its energy fell evenly to where it stalls.
            covered += part * e / (e - e_next) if e_next < e else 0.0
            return full_effort_step(forces, 0.0, start - start / covered if covered > 0.0 else e_next, 0.0)
        covered += part
        resistance += part * forces.total_resistance
        effort += part * forces.effort
        helper_effort += part * forces.helper_effort
        time += time_over(part * h, e, e_next)
        e = e_next
    mean = Forces(resistance, effort, helper_effort, 0.0, forces.limit, forces.place)
    return full_effort_step(mean, e_mid if count == 1 else 0.5 * (h / time) ** 2, e, time)


@compiled_inline
def limited_step(
    line: Line, load: Load, engine: Engine, at: StepConditions, forces: Forces, e: float
) -> TractiveStep:
    """Step in which full effort would exceed the speed allowed: reduced effort, coasting or braking.

    A train that enters it below the speed allowed is first at full effort, until it reaches that speed. Forces are
    means over the step; its limit is that of the later part.

    Args:
        line: The line.
        load: Mass and resistance of the train.
        engine: Machine friction and helpers.
        at: Conditions of the step.
        forces: At full effort.
        e: v²/2 at the start [J/kg].
    """
    h = line.distance[at.i + 1] - line.distance[at.i]
    inertia = load.mass + at.contents + load.rotating + line.helper_mass[at.i]
    top, start_top, envelope = line.shutoff[at.i + 1], line.shutoff[at.i], line.envelope[at.i + 1]
    e_mid = 0.5 * (e + top)
    # Friction of the piston thrust falls with the effort.
    pull = forces.effort - forces.thrust_friction + forces.helper_effort
    without_thrust = forces.total_resistance - forces.thrust_friction
    full_part, e_full = 0.0, e
    if e < start_top:
        rise = gain_of(line, load, at, forces) - (top - start_top)
        full_part = min((start_top - e) / rise, 1.0) if rise > 0.0 else 1.0
        e_full = start_top + full_part * (top - start_top)
    needed = without_thrust + (top - e) * inertia / h
    share, brake, limit = full_part, 0.0, COASTING
    if needed <= 0.0 and top < envelope:
        if full_part <= 0.0:
            return coast(line, load, engine, at, e)
        # It coasts from there; the curve only shows where the throttle is shut.
        top = e + (full_part * pull - without_thrust) * h / inertia
        if top > envelope:
            brake, limit = (top - envelope) * inertia / h, BRAKING
            top = envelope
    elif needed > full_part * pull:
        share, limit = needed / pull, AT_ALLOWED_SPEED
    elif needed < full_part * pull:
        brake, limit = full_part * pull - needed, BRAKING
    full_time = time_over(full_part * h, e, e_full)
    time, later_effort = full_time, 0.0
    if full_part < 1.0:
        time += time_over((1.0 - full_part) * h, e_full, top)
        later_effort = forces.effort * (share - full_part) / (1.0 - full_part)
    return TractiveStep(
        e_mid,
        top,
        without_thrust + share * forces.thrust_friction,
        share * forces.effort,
        share * forces.helper_effort,
        brake,
        limit,
        time,
        full_time,
        forces.effort,
        forces.limit,
        forces.place,
        e_full,
        later_effort,
    )


@compiled_inline
def coast(line: Line, load: Load, engine: Engine, at: StepConditions, e: float) -> TractiveStep:
    """Step with the throttle shut, braked only where the train would exceed the envelope."""
    h = line.distance[at.i + 1] - line.distance[at.i]
    top = line.envelope[at.i + 1]
    inertia = load.mass + at.contents + load.rotating + line.helper_mass[at.i]
    resistance = resisting_force(line, load, engine, at, math.sqrt(2.0 * e))
    e_mid = e - 0.5 * h * resistance / inertia
    resistance = resisting_force(line, load, engine, at, math.sqrt(2.0 * max(e_mid, 0.0)))
    e_next = e - h * resistance / inertia
    if e_next <= top:
        return step_with_throttle_shut(h, e, e_mid, e_next, resistance, 0.0)
    e_mid = 0.5 * (e + top)
    resistance = resisting_force(line, load, engine, at, math.sqrt(2.0 * e_mid))
    brake = max((e - top) * inertia / h - resistance, 0.0)
    return step_with_throttle_shut(h, e, e_mid, top, resistance, brake)


@compiled_inline
def step_with_throttle_shut(
    h: float, e: float, e_mid: float, e_next: float, resistance: float, brake: float
) -> TractiveStep:
    """Step of a length [m] without steam."""
    limit = BRAKING if brake > 0.0 else COASTING
    time = time_over(h, e, e_next)
    return TractiveStep(e_mid, e_next, resistance, 0.0, 0.0, brake, limit, time, 0.0, 0.0, limit, 0.0, e, 0.0)


@compiled_inline
def full_effort_step(forces: Forces, e_mid: float, e_next: float, time: float) -> TractiveStep:
    """Step at full effort."""
    return TractiveStep(
        e_mid,
        e_next,
        forces.total_resistance,
        forces.effort,
        forces.helper_effort,
        0.0,
        forces.limit,
        time,
        time,
        forces.effort,
        forces.limit,
        forces.place,
        e_next,
        0.0,
    )
