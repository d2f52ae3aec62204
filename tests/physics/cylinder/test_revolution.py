"""One revolution of one end of a cylinder, against its differential equations solved by another method."""

from __future__ import annotations

import math
from types import ModuleType
from typing import NamedTuple

import numpy as np
import pytest
from cylinders import express
from plain_python import in_plain_python
from scipy.integrate import solve_ivp

from locosim.physics.cylinder import port_flow, revolution, valve_gear, wall_heat
from locosim.physics.cylinder.design_rules import FITTED_CONSTANTS
from locosim.physics.cylinder.port_flow import PortSteam
from locosim.physics.cylinder.revolution import BoundaryConditions
from locosim.physics.cylinder.valve_gear import ValveMotion, harmonic_motion
from locosim.physics.steam import nozzle_flow, property_table
from locosim.physics.steam import properties as steam
from locosim.physics.steam.property_table import steam_table

MODULES: tuple[ModuleType, ...] = (port_flow, revolution, valve_gear, wall_heat, nozzle_flow, property_table)
TABLE = steam_table()
SPEED = 3.0  # revolutions in a second
STEPS = 720
BORE, STROKE, CLEARANCE = express.bore, express.stroke, express.clearance
AREA = math.pi / 4.0 * BORE**2
SUMS = {
    "in": revolution.STEAM_IN,
    "returned": revolution.STEAM_RETURNED,
    "enthalpy returned": revolution.ENTHALPY_RETURNED,
    "out": revolution.EXHAUST_OUT,
    "exhaust heat": revolution.EXHAUST_HEAT,
    "drawn back": revolution.EXHAUST_RETURNED,
    "work": revolution.WORK,
    "wall heat": revolution.WALL_HEAT,
    "conductance": revolution.WALL_CONDUCTANCE,
    "condensing": revolution.CONDENSING_HEAT,
}
NAMES = list(SUMS)


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, *MODULES)


class Case(NamedTuple):
    """Steam on both sides, the wall, and the valves."""

    pressures: tuple[float, float]
    enthalpies: tuple[float, float]
    wall: float
    valves: ValveMotion
    start: tuple[float, float]  # trapped at the far dead center: pressure and enthalpy


def gear(cutoff: float) -> ValveMotion:
    return harmonic_motion(cutoff=cutoff, lap=express.lap, lead=express.lead)


POPPETS = ValveMotion(
    0.0, 0.0, admission_angle=-0.3, cutoff_angle=1.2, release_angle=2.6, compression_angle=5.2,
    steam_area=0.009, exhaust_area=0.013, lift_angle=0.4,
)  # fmt: skip
CASES = {
    "superheated": Case((13e5, 1.25e5), (3.1e6, 2.75e6), 440.0, gear(0.3), (1.6e5, 2.8e6)),
    "wet": Case((12e5, 1.2e5), (2.74e6, 2.5e6), 415.0, gear(0.45), (1.5e5, 2.55e6)),
    "wire-drawn": Case((3e5, 1.3e5), (2.95e6, 2.8e6), 395.0, gear(0.2), (1.3e5, 2.8e6)),
    "nearly dry": Case((12e5, 1.2e5), (2.86e6, 2.6e6), 425.0, gear(0.4), (1.5e5, 2.65e6)),
    "poppets": Case((13e5, 1.25e5), (3.1e6, 2.75e6), 440.0, POPPETS, (1.6e5, 2.8e6)),
}


def state_at(pressure: float, enthalpy: float) -> tuple[float, float]:
    """Density and specific energy."""
    density = steam.density_at_enthalpy(pressure=pressure, enthalpy=enthalpy)
    return density, enthalpy - pressure / density


def position(angle: float) -> float:
    """Piston by the triangle of crank and rod, as a fraction of the stroke."""
    n = express.rod_ratio
    return 0.5 * (1.0 + n - math.cos(angle) - math.sqrt(n**2 - math.sin(angle) ** 2))


def opening(angle: float, valves: ValveMotion) -> tuple[float, float]:
    """Flow areas to steam and exhaust, discharge included, without the leaks."""
    coefficients = (
        FITTED_CONSTANTS.admission_discharge_coefficient,
        FITTED_CONSTANTS.exhaust_discharge_coefficient,
    )
    if valves.lift_angle:
        lifts = []
        for opens, closes in (
            (valves.admission_angle, valves.cutoff_angle),
            (valves.release_angle, valves.compression_angle),
        ):
            turned = angle if angle >= opens else angle + 2.0 * math.pi
            if turned > opens + 2.0 * math.pi:
                turned -= 2.0 * math.pi
            lifts.append(np.interp(turned, [opens, opens + 0.4, closes - 0.4, closes], [0.0, 1.0, 1.0, 0.0]))
        return coefficients[0] * 0.009 * lifts[0], coefficients[1] * 0.013 * lifts[1]
    x = valves.lap_and_lead * math.cos(angle) + valves.link_amplitude * math.sin(angle)
    widths = np.clip([x - express.lap, -x - express.exhaust_lap], 0.0, express.port_width)
    return coefficients[0] * express.port_length * widths[0], coefficients[1] * express.port_length * widths[
        1
    ]


def flow(area: float, pressure: float, flow_work: float, drop: float, wetness: float) -> float:
    """Zeuner's ellipse with the exponent 1.30 of superheated and 1.13 of wet steam, between them in proportion."""

    def constants(k: float) -> tuple[float, float]:
        return (2.0 / (k + 1.0)) ** (k / (k - 1.0)), math.sqrt(k) * (2.0 / (k + 1.0)) ** (
            0.5 * (k + 1.0) / (k - 1.0)
        )

    dry, wet = constants(1.30), constants(1.13)
    critical, choked = (a + (b - a) * wetness for a, b in zip(dry, wet, strict=True))
    share = min(drop / (pressure * (1.0 - critical)), 1.0)
    return area * choked * pressure / math.sqrt(flow_work) * math.sqrt(share * (2.0 - share))


def wall_rate(temperature: float, pressure: float, energy: float, wall: float) -> tuple[float, float, float]:
    """Heat to the wall, conductance that carries it, and heat that condenses steam, for each m2."""
    wet, dry = FITTED_CONSTANTS.wet_wall_heat_transfer, FITTED_CONSTANTS.dry_wall_heat_transfer
    if energy < 0.0:
        if wall <= temperature:
            return wet * (temperature - wall), wet, wet * (temperature - wall)
        conductance = dry + (wet - dry) * min(-energy / 20e3, 1.0)
        return conductance * (temperature - wall), conductance, 0.0
    condensing = 0.0
    if wall < temperature:
        boiling = steam.saturation_temperature(pressure=pressure)
        part = max(1.0 - energy / FITTED_CONSTANTS.quench_energy, 0.0) * wet
        condensing = part * max(boiling - wall, 0.0)
        if condensing > 0.0:
            return dry * (temperature - wall) + condensing, dry + part, condensing
    return dry * (temperature - wall), dry, 0.0


def solve(case: Case) -> tuple[dict[str, float], np.ndarray]:
    """Sums of a revolution by a Runge-Kutta method; pressure, density and superheat energy over its steps."""
    density, energy = state_at(*case.start)
    volume = AREA * STROKE * (CLEARANCE + 1.0)
    sides = [(p, p / state_at(p, h)[0], h) for p, h in zip(case.pressures, case.enthalpies, strict=True)]
    leak = FITTED_CONSTANTS.leakage_area_ratio * AREA
    omega = 2.0 * math.pi * SPEED

    def inside(angle: float, mass: float, energy: float) -> tuple[float, float, float, float, float]:
        volume = AREA * STROKE * (CLEARANCE + position(angle))
        flow_work, temperature, superheat = property_table.steam_state(mass / volume, energy / mass, TABLE)
        return volume, flow_work * mass / volume, flow_work, temperature, superheat

    def rates(time: float, y: np.ndarray) -> list[float]:
        angle = (math.pi + omega * time) % (2.0 * math.pi)
        mass, energy = y[0], y[1]
        _, pressure, flow_work, temperature, superheat = inside(angle, mass, energy)
        n, sine = express.rod_ratio, math.sin(angle)
        turn = 0.5 * (sine + sine * math.cos(angle) / math.sqrt(n**2 - sine**2))
        swept = AREA * STROKE * turn * omega
        wetness = min(max(-superheat / 4e3, 0.0), 1.0)
        enthalpy = energy / mass + flow_work
        entering = []  # steam and exhaust
        for area, (p, fw, _), wet in zip(opening(angle, case.valves), sides, (0.0, 1.0), strict=True):
            if p >= pressure:
                entering.append(flow(area + leak, p, fw, p - pressure, wet))
            else:
                entering.append(-flow(area + leak, pressure, flow_work, pressure - p, wetness))
        carried = [m * (h if m > 0.0 else enthalpy) for m, (_, _, h) in zip(entering, sides, strict=True)]
        surface = 2.0 * AREA * FITTED_CONSTANTS.wall_area_ratio + math.pi * BORE * STROKE * position(angle)
        heat, conductance, condensing = (
            surface * each for each in wall_rate(temperature, pressure, superheat, case.wall)
        )
        work = pressure * swept
        return [
            sum(entering),
            sum(carried) - heat - work,
            max(entering[0], 0.0),
            max(-entering[0], 0.0),
            max(-carried[0], 0.0),
            max(-entering[1], 0.0),
            max(-carried[1], 0.0),
            max(entering[1], 0.0),
            work,
            heat,
            conductance,
            condensing,
        ]

    first = [density * volume, density * volume * energy, *[0.0] * len(NAMES)]
    times = np.linspace(0.0, 1.0 / SPEED, STEPS + 1)[1:]
    found = solve_ivp(
        rates, (0.0, 1.0 / SPEED), first, rtol=1e-6, atol=1e-7, t_eval=times, max_step=1.0 / SPEED / 300
    )
    track = []
    for t, y in zip(found.t, found.y.T, strict=True):
        volume, pressure, _, _, superheat = inside(math.pi + omega * t, *y[:2])
        track.append((pressure, y[0] / volume, superheat))
    return dict(zip(NAMES, found.y[2:, -1], strict=True)), np.array(track).T


def simulate(case: Case, steps: int) -> tuple[np.ndarray, np.ndarray]:
    """Tally and pressures by the module."""
    rows = np.empty((4, steps + 1))
    revolution.fill_geometry(express, FITTED_CONSTANTS, rows)
    density, energy = state_at(*case.start)
    tally, pressures = np.full(revolution.TALLY_SIZE, 7.0), np.empty(steps + 1)
    tally[revolution.MASS] = density * rows[0, steps // 2]
    tally[revolution.ENERGY] = tally[revolution.MASS] * energy
    chest, exhaust = (
        PortSteam(p, p / state_at(p, h)[0], h, wetness)
        for p, h, wetness in zip(case.pressures, case.enthalpies, (0.0, 1.0), strict=True)
    )
    revolution.simulate_revolution(
        express, FITTED_CONSTANTS, BoundaryConditions(SPEED, case.valves, chest, exhaust, case.wall),
        (rows[0], rows[2]), pressures, tally, TABLE,
    )  # fmt: skip
    return tally, pressures


@pytest.mark.parametrize("name", CASES)
def test_a_revolution_is_that_of_its_differential_equations(name: str) -> None:
    case = CASES[name]
    expected, (pressures, densities, superheats) = solve(case)
    tally, found = simulate(case, STEPS)
    # With 360 steps the mean pressure is within 0.3 % of that with twice as many; the error goes with the step.
    half = STEPS // 2
    assert [*found[half + 1 : -1], *found[: half + 1]] == pytest.approx(pressures, rel=1.5e-3)
    assert found[0] == found[-1]
    mass, heat = expected["in"] + expected["returned"], abs(expected["wall heat"]) + expected["condensing"]
    scales = {"work": abs(expected["work"]), "wall heat": heat, "conductance": expected["conductance"]}
    scales |= {"enthalpy returned": 3e6 * mass, "exhaust heat": 3e6 * mass, "condensing": heat}
    for key, entry in SUMS.items():
        # Heat goes by the difference of two temperatures; the conductance only guides the iteration of the wall.
        part = {"conductance": 5e-3, "wall heat": 3e-3, "condensing": 3e-3}.get(key, 1.5e-3)
        allowed = part * scales.get(key, mass)
        assert tally[entry] == pytest.approx(expected[key], abs=allowed), key
    assert tally[revolution.MAX_DENSITY] == pytest.approx(densities.max(), rel=3e-3)
    assert tally[revolution.MIN_DENSITY] == pytest.approx(densities.min(), rel=3e-3)
    assert tally[revolution.WETTEST] == pytest.approx(min(superheats.min(), 0.0), abs=2e3)


@pytest.mark.parametrize("name", CASES)
def test_mass_and_energy_of_a_revolution_close_to_rounding(name: str) -> None:
    case = CASES[name]
    tally, _ = simulate(case, 120)
    density, energy = state_at(*case.start)
    volume = AREA * STROKE * (CLEARANCE + 1.0)
    t = tally
    gained = t[revolution.STEAM_IN] - t[revolution.STEAM_RETURNED] - t[revolution.EXHAUST_OUT]
    gained += t[revolution.EXHAUST_RETURNED]
    assert t[revolution.MASS] - density * volume == pytest.approx(gained, abs=1e-12)
    heat = t[revolution.STEAM_IN] * case.enthalpies[0] - t[revolution.ENTHALPY_RETURNED]
    heat += t[revolution.EXHAUST_RETURNED] * case.enthalpies[1] - t[revolution.EXHAUST_HEAT]
    heat -= t[revolution.WORK] + t[revolution.WALL_HEAT]
    assert t[revolution.ENERGY] - density * volume * energy == pytest.approx(heat, abs=1e-6)


def test_steam_of_a_step_is_counted_where_it_goes() -> None:
    tally = np.zeros(revolution.TALLY_SIZE)
    tally[revolution.MIN_DENSITY] = 1e9
    steam_then = revolution.CylinderSteam(2.0, 0.0, 0.0, 0.0, 0.0, -30.0)
    wall = wall_heat.WallHeat(5.0, 6.0, 4.0)
    revolution.add_to_tally(tally, revolution.StepTransfer(0.3, -0.1, 10.0, 9.0, wall), steam_then, 0.5)
    assert tally.tolist() == [0, 0, 0.3, 0, 0, 0, 0, 0.1, 9.0, 5.0, 6.0, 4.0, -30.0, 4.0, 4.0]
    steam_then = revolution.CylinderSteam(2.0, 0.0, 0.0, 0.0, 0.0, 10.0)
    revolution.add_to_tally(tally, revolution.StepTransfer(-0.2, 0.4, 10.0, 1.0, wall), steam_then, 1.0)
    assert tally.tolist() == pytest.approx(
        [0, 0, 0.3, 0.2, 2.0, 0.4, 4.0, 0.1, 10.0, 10.0, 12.0, 8.0, -30, 4, 2]
    )


def test_volumes_and_walls_of_both_ends() -> None:
    rows = np.empty((4, 13))
    revolution.fill_geometry(express, FITTED_CONSTANTS, rows)
    back_area = AREA - math.pi / 4.0 * express.rod_diameter**2
    swept, ends = np.ptp(rows, axis=1), rows.min(axis=1)
    barrel = math.pi * BORE * STROKE
    assert swept == pytest.approx([AREA * STROKE, back_area * STROKE, barrel, barrel])
    clearance_wall = 2.0 * AREA * FITTED_CONSTANTS.wall_area_ratio
    assert ends == pytest.approx(
        [AREA * STROKE * CLEARANCE, back_area * STROKE * CLEARANCE, clearance_wall, clearance_wall]
    )
    quarter = position(math.pi / 2.0)  # past half the stroke by the obliquity of the rod
    assert quarter > 0.5
    assert rows[0, 3] == pytest.approx(AREA * STROKE * (CLEARANCE + quarter))
    assert rows[1, 3] == pytest.approx(back_area * STROKE * (CLEARANCE + 1.0 - quarter))
    assert rows[2, 3] == pytest.approx(clearance_wall + barrel * quarter)
    assert rows[3, 3] == pytest.approx(clearance_wall + barrel * (1.0 - quarter))


def test_no_more_than_half_of_the_steam_leaves_in_a_step() -> None:
    density, energy = state_at(5e5, 2.8e6)
    volume = 0.01
    steam_then = revolution.steam_in_cylinder(density * volume, density * volume * energy, volume, TABLE)
    side = PortSteam(1e5, 1.7e5, 2.7e6, 1.0)
    boundary = BoundaryConditions(1.0, POPPETS, side, side, 400.0)
    transfer = wall_heat.WallTransfer(1e-3, 1e-4, 86e3)
    for areas in ((1e-9, 10.0), (10.0, 1e-9)):
        step = revolution.CrankStep(volume, volume, *areas, transfer)
        after, moved = revolution.advance(steam_then, step, boundary, TABLE)
        out = moved.exhausted if areas[1] > 1.0 else -moved.admitted
        assert out == pytest.approx(0.5 * steam_then.mass, rel=0.5)
        assert out <= 0.5 * steam_then.mass
        assert after.pressure >= 0.9e5


def test_rows_of_numbers_are_read_in_the_order_of_their_names() -> None:
    numbers = np.arange(1.0, 14.0)
    assert revolution.cylinder_from_row(numbers) == revolution.Cylinder(*numbers)
    assert revolution.constants_from_row(numbers[:7]) == revolution.CycleConstants(*numbers[:7])
    bare = revolution.Cylinder(*numbers[:11])
    assert (bare.lead_rise, bare.travel) == (0.0, 0.0)  # a lead that is the same in all gears


@pytest.mark.parametrize(("steam_area", "exhaust_area"), [(2e-7, 5e-7), (5e-7, 2e-7), (3e-7, 3e-7)])
@pytest.mark.parametrize("bar", [2.0, 6.0, 11.0])
def test_the_wider_port_comes_second_and_sees_the_pressure_the_other_leaves(
    steam_area: float, exhaust_area: float, bar: float
) -> None:
    """The mass through each raises or lowers the pressure of the end by its stiffness over the mean volume."""
    inside = PortSteam(1.02e5 * bar, 2.0e5, 2.80e6, 0.3)
    chest, exhaust = PortSteam(10e5, 2.3e5, 3.0e6, 0.0), PortSteam(1.2e5, 1.75e5, 2.6e6, 1.0)
    step = revolution.CrankStep(0.010, 0.012, steam_area, exhaust_area, (0.0, 0.0, 1.0))  # type: ignore[arg-type]
    boundary = BoundaryConditions(3.0, ValveMotion(0.03, 0.05), chest, exhaust, 430.0)
    k, volume, pressure = 1.25, 0.011, 1e5 * bar
    moved = {}
    ports = [("steam", steam_area, chest), ("exhaust", exhaust_area, exhaust)]
    for name, area, outside in ports if steam_area < exhaust_area else ports[::-1]:
        moved[name] = port_flow.port_flow(area, inside, outside, pressure, k, volume)
        stiffness = k * inside.flow_work
        if moved[name] > 0.0:  # what enters brings its own enthalpy
            stiffness += (k - 1.0) * (outside.enthalpy - inside.enthalpy)
        pressure += moved[name] * stiffness / volume
    admitted, exhausted, after = revolution.solve_port_flows(step, inside, boundary, 1e5 * bar, k)
    assert (admitted, exhausted) == pytest.approx((moved["steam"], -moved["exhaust"]))
    assert after == pytest.approx(pressure)
    assert (admitted > 0.0) == (bar < 10.0)
    assert exhausted > 0.0


def steam_of(bar: float, enthalpy: float, volume: float) -> revolution.CylinderSteam:
    density, energy = state_at(1e5 * bar, enthalpy)
    return revolution.steam_in_cylinder(density * volume, density * volume * energy, volume, TABLE)


@pytest.mark.parametrize(("bar", "enthalpy"), [(8.0, 2.90e6), (5.0, 2.60e6), (2.0, 2.75e6)])
@pytest.mark.parametrize("wall", [380.0, 440.0, 520.0])
def test_a_step_is_tried_and_then_taken_with_the_means(
    bar: float, enthalpy: float, wall: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What leaves counts with its enthalpy halfway to the pressure at the end, dh = dp/rho, then at the mean."""
    asked: list[tuple[float, float, float]] = []
    found: list[revolution.CylinderSteam] = []
    plain = revolution.steam_in_cylinder

    def seen(
        mass: float, energy: float, volume: float, table: property_table.SteamTable
    ) -> revolution.CylinderSteam:
        asked.append((mass, energy, volume))
        found.append(plain(mass, energy, volume, table))
        return found[-1]

    start = steam_of(bar, enthalpy, 0.020)
    monkeypatch.setattr(revolution, "steam_in_cylinder", seen)
    transfer = wall_heat.WallTransfer(4.0, 0.5, FITTED_CONSTANTS.quench_energy)
    step = revolution.CrankStep(0.020, 0.022, 4e-7, 9e-7, transfer)
    chest, exhaust = PortSteam(9e5, 2.2e5, 2.95e6, 0.0), PortSteam(1.3e5, 1.75e5, 2.6e6, 1.0)
    boundary = BoundaryConditions(SPEED, ValveMotion(0.03, 0.05), chest, exhaust, wall)
    end, moved = revolution.advance(start, step, boundary, TABLE)

    wetness = min(max(-start.superheat_energy / 4e3, 0.0), 1.0)
    k = 1.30 + (1.13 - 1.30) * wetness
    inside = PortSteam(start.pressure, start.flow_work, start.energy / start.mass + start.flow_work, wetness)
    first = wall_heat.wall_heat(
        start.temperature, start.pressure, start.superheat_energy, start.mass, wall, transfer
    )
    shrunk = 0.5 * k * 0.002 / 0.021  # p V^k constant over the step, by its mean volume
    alone = start.pressure * (1.0 - shrunk) / (1.0 + shrunk) - (k - 1.0) * first.heat / 0.021
    admitted, exhausted, pressure = revolution.solve_port_flows(step, inside, boundary, alone, k)
    assert (moved.admitted, moved.exhausted) == pytest.approx((admitted, exhausted))
    assert admitted > 0.0
    assert exhausted > 0.0

    def energy(leaving: float, heat: float, last: float) -> float:
        work = 0.5 * (start.pressure + last) * 0.002
        return start.energy + admitted * 2.95e6 - exhausted * leaving - heat - work

    halfway = inside.enthalpy + 0.5 * start.flow_work * (pressure / start.pressure - 1.0)
    mass = start.mass + admitted - exhausted
    assert asked[0] == pytest.approx((mass, energy(halfway, first.heat, pressure), 0.022), rel=1e-12)
    trial = found[0]
    mean = 0.5 * (inside.enthalpy + trial.energy / trial.mass + trial.flow_work)
    heat = revolution.mean_wall_heat(start, trial, first, wall, transfer)
    assert asked[1] == pytest.approx((mass, energy(mean, heat.heat, trial.pressure), 0.022), rel=1e-12)
    assert end == found[1]
    assert moved.outflow_enthalpy == pytest.approx(mean)
    assert moved.work == pytest.approx(0.5 * (start.pressure + trial.pressure) * 0.002)
    assert moved.wall == heat
    last = wall_heat.wall_heat(
        trial.temperature, trial.pressure, trial.superheat_energy, trial.mass, wall, transfer
    )
    if wall < max(start.temperature, trial.temperature):
        assert heat == pytest.approx(tuple(0.5 * (a + b) for a, b in zip(first, last, strict=True)))
    else:
        warm = wall_heat.warm_wall_heat(
            (start.temperature, trial.temperature), (start.superheat_energy, trial.superheat_energy),
            0.5 * (start.mass + trial.mass), wall, transfer,
        )  # fmt: skip
        assert heat == pytest.approx(tuple(warm))
