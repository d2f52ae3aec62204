"""What moves the train over one step: resistance, pull within steam, cylinders and adhesion, and what just suffices."""

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
    Boiler,
    Engine,
    Line,
    Load,
    TractiveStep,
)
from locosim.physics.resistance.starting import starting_resistance
from locosim.physics.traction.adhesion import adhesion_speed_factor

MAX_ACCELERATION = 1.5  # beyond what any train on the rails gains [m/s²]


@compiled_inline
def resistance(load: Load, contents: float, speed: float, starting: float) -> float:
    """Resistance of the whole train on straight level track [N]; more while it breaks away from a stand."""
    air_speed = speed + load.wind
    force = load.a + load.b * speed + load.c * air_speed * abs(air_speed)
    force += (load.a_contents + load.b_contents * speed) * contents
    if starting > 0.0:
        force = starting_resistance(speed, force, load.starting, load.rolling_start)
    return float(force)


@compiled_inline
def full_effort_forces(
    line: Line,
    load: Load,
    engine: Engine,
    i: int,
    energy: float,
    contents: float,
    pressure: float,
    max_steam: float,
    starting: float,
    guess: int,
) -> tuple[float, float, int, float]:
    """Forces on the train in a step at a kinetic energy per mass, with the engine at full effort.

    Returns resistance with gravity, curves and machine friction [N], indicated pull [N], what holds the pull,
    and the pull of helpers [N].
    """
    speed = math.sqrt(2.0 * max(energy, 0.0))
    total_resistance = resistance(load, contents, speed, starting) + line.curve[i] + engine.friction
    total_resistance += line.gravity[i] + contents * GRAVITY * line.grade[i]
    effort, steam_limited = max_effort(engine.grid, pressure, speed, max_steam, line.max_cutoff[i], guess)
    limit = STEAM if steam_limited else CYLINDERS
    share = line.adhesion[i] * adhesion_speed_factor(speed)
    # Friction of the machine is overcome inside the engine; the rail carries what is left.
    adhesion_limit = share * engine.adhesive_weight + engine.friction
    if effort > adhesion_limit:
        effort, limit = adhesion_limit, ADHESION
    helper_effort = 0.0
    row = line.helper_row[i]
    if row >= 0:
        helper_effort = min(
            between(engine.helper_effort[row], 0.0, engine.helper_speed_step, speed),
            share * engine.helper_adhesive_weight[row] + engine.helper_friction[row],
        )
        own = engine.helper_resistance[row]
        air_speed = speed + load.wind
        running = own[0] + own[1] * speed + own[2] * air_speed * abs(air_speed)
        if starting > 0.0:
            at_rest = engine.helper_starting[row]
            running = starting_resistance(speed, running, at_rest[0], at_rest[1])
        total_resistance += running + engine.helper_friction[row]
    return total_resistance, effort, limit, helper_effort


@compiled_inline
def allowed_steam(line: Line, boiler: Boiler, i: int, pressure: float) -> float:
    """Steam the driver lets the cylinders have [kg/s].

    Above the pressure floor it is the driver's share of what the boiler sustains, less what the auxiliaries
    take. Below the floor the draft goes down with the pressure, at twice the fall, so that the fire wins.
    """
    most = line.steam_share[i] * boiler.sustained_steam
    if boiler.transient and pressure < boiler.pressure_floor:
        most = min(most, boiler.sustained_steam * max(2.0 * pressure / boiler.pressure_floor - 1.0, 0.0))
    return float(max(most - boiler.auxiliary_steam, 0.0))


@compiled_inline
def solve_tractive_step(
    line: Line,
    load: Load,
    engine: Engine,
    i: int,
    e: float,
    contents: float,
    pressure: float,
    allowed: float,
    starting: float,
    guess: int,
) -> TractiveStep:
    """Find pull, brake and speed over one step: full effort, or what just meets the envelope.

    A step the train does not get through comes back with an energy at its end that is not above zero.
    """
    h = line.distance[i + 1] - line.distance[i]
    top = line.envelope[i + 1]
    inertia = load.mass + contents + load.rotating + line.helper_mass[i]
    if top - e < MAX_ACCELERATION * h:
        # The envelope is within reach: see first whether an eased effort, or the brake, just meets it.
        e_mid = 0.5 * (e + top)
        total_resistance, effort, limit, helper_effort = full_effort_forces(
            line, load, engine, i, e_mid, contents, pressure, allowed, starting, guess
        )
        needed = total_resistance + (top - e) * inertia / h
        if needed <= effort + helper_effort:
            return reduced_effort(e_mid, top, total_resistance, needed, effort, helper_effort)
    total_resistance, effort, limit, helper_effort = full_effort_forces(
        line, load, engine, i, e, contents, pressure, allowed, starting, guess
    )
    e_mid = e + 0.5 * h * (effort + helper_effort - total_resistance) / inertia
    if e_mid <= 0.0:
        return TractiveStep(e_mid, 2.0 * e_mid - e, total_resistance, effort, helper_effort, 0.0, limit)
    total_resistance, effort, limit, helper_effort = full_effort_forces(
        line, load, engine, i, e_mid, contents, pressure, allowed, starting, guess
    )
    e_next = e + h * (effort + helper_effort - total_resistance) / inertia
    if e_next <= top:
        return TractiveStep(e_mid, e_next, total_resistance, effort, helper_effort, 0.0, limit)
    return reduced_effort(
        e_mid, top, total_resistance, total_resistance + (top - e) * inertia / h, effort, helper_effort
    )


@compiled_inline
def reduced_effort(
    e_mid: float, top: float, total_resistance: float, needed: float, effort: float, helper_effort: float
) -> TractiveStep:
    """Share the pull that is needed between train engine and helpers, or brake."""
    if needed > 0.0:
        share = needed / (effort + helper_effort)
        return TractiveStep(
            e_mid, top, total_resistance, share * effort, share * helper_effort, 0.0, AT_ALLOWED_SPEED
        )
    return TractiveStep(
        e_mid, top, total_resistance, 0.0, 0.0, -needed, BRAKING if needed < 0.0 else COASTING
    )
