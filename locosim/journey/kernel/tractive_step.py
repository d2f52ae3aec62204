"""What moves the train over one step: resistance, pull within steam, cylinders and adhesion, and what just suffices."""

from __future__ import annotations

import math

from locosim.compiled import compiled_lean
from locosim.constants import GRAVITY
from locosim.engine.map.interpolation import between, greatest_pull
from locosim.journey.kernel.arrays import (
    ADHESION,
    BRAKING,
    COASTING,
    CYLINDERS,
    FREE,
    STEAM,
    Boiler,
    Effort,
    Engine,
    Line,
    Load,
)

GREATEST_ACCELERATION = 1.5  # beyond what any train on the rails gains [m/s²]


@compiled_lean
def adhesion_share(speed: float) -> float:
    """Coefficient of adhesion at a speed over that at rest, the shape of [CurtiusKniffler1944]."""
    return (7.5 / (3.6 * speed + 44.0) + 0.161) / (7.5 / 44.0 + 0.161)


@compiled_lean
def resistance(load: Load, contents: float, speed: float, starting: float) -> float:
    """Resistance of the whole train on straight level track [N]; more while it breaks away from a stand."""
    through_air = speed + load.wind
    force = load.a + load.b * speed + load.c * through_air * abs(through_air)
    force += (load.a_contents + load.b_contents * speed) * contents
    if starting > 0.0 and speed < load.starting_speed:
        part = speed / load.starting_speed
        force = max(force, load.starting * (1.0 - part) + load.broken_away * part)
    return float(force)


@compiled_lean
def traction(
    line: Line,
    load: Load,
    engine: Engine,
    i: int,
    energy: float,
    contents: float,
    pressure: float,
    steam_most: float,
    starting: float,
    guess: int,
) -> tuple[float, float, int, float]:
    """Forces on the train in a step at a kinetic energy per mass, with the engine at full effort.

    Returns resistance with gravity, curves and machine friction [N], indicated pull [N], what holds the pull,
    and the pull of assistance [N].
    """
    speed = math.sqrt(2.0 * max(energy, 0.0))
    against = resistance(load, contents, speed, starting) + line.curve[i] + engine.friction
    against += line.gravity[i] + contents * GRAVITY * line.grade[i]
    pull, by_steam = greatest_pull(engine.grid, pressure, speed, steam_most, line.cutoff_most[i], guess)
    limit = STEAM if by_steam else CYLINDERS
    share = line.adhesion[i] * adhesion_share(speed)
    # Friction of the machine is overcome inside the engine; the rail carries what is left.
    by_rail = share * engine.adhesive_weight + engine.friction
    if pull > by_rail:
        pull, limit = by_rail, ADHESION
    help_pull = 0.0
    row = line.assist[i]
    if row >= 0:
        help_pull = min(
            between(engine.assist_pull[row], 0.0, engine.assist_speed_step, speed),
            share * engine.assist_adhesion[row] + engine.assist_friction[row],
        )
        own = engine.assist_resistance[row]
        through_air = speed + load.wind
        running = own[0] + own[1] * speed + own[2] * through_air * abs(through_air)
        if starting > 0.0 and speed < load.starting_speed:
            part = speed / load.starting_speed
            running = max(
                running, engine.assist_starting[row, 0] * (1.0 - part) + engine.assist_starting[row, 1] * part
            )
        against += running + engine.assist_friction[row]
    return against, pull, limit, help_pull


@compiled_lean
def steam_allowed(line: Line, boiler: Boiler, i: int, pressure: float) -> float:
    """Steam the driver lets the cylinders have [kg/s].

    Above the pressure floor it is the driver's share of what the boiler sustains, less what the auxiliaries
    take. Below the floor the draught goes down with the pressure, at twice the fall, so that the fire wins.
    """
    most = line.steam_share[i] * boiler.sustained_steam
    if boiler.live and pressure < boiler.pressure_floor:
        most = min(most, boiler.sustained_steam * max(2.0 * pressure / boiler.pressure_floor - 1.0, 0.0))
    return float(max(most - boiler.auxiliary_steam, 0.0))


@compiled_lean
def effort(
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
) -> Effort:
    """Find pull, brake and speed over one step: full effort, or what just meets the envelope.

    A step the train does not get through comes back with an energy at its end that is not above zero.
    """
    h = line.distance[i + 1] - line.distance[i]
    top = line.envelope[i + 1]
    inertia = load.mass + contents + load.rotating + line.assist_mass[i]
    if top - e < GREATEST_ACCELERATION * h:
        # The envelope is within reach: see first whether an eased effort, or the brake, just meets it.
        e_mid = 0.5 * (e + top)
        against, pull, limit, assist = traction(
            line, load, engine, i, e_mid, contents, pressure, allowed, starting, guess
        )
        needed = against + (top - e) * inertia / h
        if needed <= pull + assist:
            return eased(e_mid, top, against, needed, pull, assist)
    against, pull, limit, assist = traction(
        line, load, engine, i, e, contents, pressure, allowed, starting, guess
    )
    e_mid = e + 0.5 * h * (pull + assist - against) / inertia
    if e_mid <= 0.0:
        return Effort(e_mid, 2.0 * e_mid - e, against, pull, assist, 0.0, limit)
    against, pull, limit, assist = traction(
        line, load, engine, i, e_mid, contents, pressure, allowed, starting, guess
    )
    e_next = e + h * (pull + assist - against) / inertia
    if e_next <= top:
        return Effort(e_mid, e_next, against, pull, assist, 0.0, limit)
    return eased(e_mid, top, against, against + (top - e) * inertia / h, pull, assist)


@compiled_lean
def eased(e_mid: float, top: float, against: float, needed: float, pull: float, assist: float) -> Effort:
    """Share the pull that is needed between train engine and assistance, or brake."""
    if needed > 0.0:
        share = needed / (pull + assist)
        return Effort(e_mid, top, against, share * pull, share * assist, 0.0, FREE)
    return Effort(e_mid, top, against, 0.0, 0.0, -needed, BRAKING if needed < 0.0 else COASTING)
