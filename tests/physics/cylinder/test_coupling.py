"""How chest, exhaust and walls are moved from one revolution to the next, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from plain_python import in_plain_python
from scipy.optimize import brentq

from locosim.physics.cylinder import coupling as c
from locosim.physics.cylinder import revolution as r
from locosim.physics.cylinder import solver
from locosim.physics.steam import nozzle_flow, property_table
from locosim.physics.steam.nozzle_flow import SUPERHEATED_EXPONENT
from locosim.physics.steam.property_table import steam_table

TABLE = steam_table()


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, c, nozzle_flow, property_table)


def memory(value: float = 0.0, response: float = 0.0, slope: float = 0.0) -> np.ndarray:
    return np.array([value, response, slope, 0.0])


def tally(**values: float) -> np.ndarray:
    made = np.zeros(r.TALLY_SIZE)
    for name, value in values.items():
        made[getattr(r, name)] = value
    return made


def test_a_wall_moves_to_where_no_heat_is_left() -> None:
    kept = memory()
    # the first time half of the conductance is counted on
    assert c.wall_step(tally(WALL_HEAT=30.0, WALL_CONDUCTANCE=10.0), kept, 400.0) == pytest.approx(6.0)
    assert kept.tolist() == [400.0, 30.0, 0.5, 0.0]
    # 6 K took 18 J away: 0.3 of the conductance, of which 0.7 is learned: 0.5 + 0.7 (0.3 - 0.5) = 0.36
    assert c.wall_step(tally(WALL_HEAT=12.0, WALL_CONDUCTANCE=10.0), kept, 406.0) == pytest.approx(12.0 / 3.6)
    assert kept.tolist() == pytest.approx([406.0, 12.0, 0.36, 0.0])


@pytest.mark.parametrize(
    ("heat", "learned"),
    [
        (29.9, 0.5),
        (29.8, 0.5),
        (29.7, 0.5 + 0.7 * (0.03 - 0.5)),
        (16.0, 0.5 + 0.7 * 0.9),
        (14.0, 0.5),
        (40.0, 0.5),
    ],
)
def test_a_wall_learns_only_what_can_be(heat: float, learned: float) -> None:
    # 1 K, of a conductance of 10 J/K: shares of 0.01, 0.02, 0.03, 1.4, 1.6 and below 0
    kept = memory(400.0, 30.0, 0.5)
    c.wall_step(tally(WALL_HEAT=heat, WALL_CONDUCTANCE=10.0), kept, 401.0)
    assert kept[c.SLOPE] == pytest.approx(learned)


def test_a_wall_moves_20_kelvin_at_most_and_forgets_where_it_did_not_move() -> None:
    for sign in (1.0, -1.0):
        step = c.wall_step(tally(WALL_HEAT=sign * 1e4, WALL_CONDUCTANCE=10.0), memory(), 400.0)
        assert step == sign * 20.0
    kept = memory(400.0, 30.0, 0.9)
    c.wall_step(tally(WALL_HEAT=30.0, WALL_CONDUCTANCE=10.0), kept, 400.0 + 1e-8)
    assert kept[c.SLOPE] == 0.5
    c.wall_step(tally(WALL_HEAT=28.0, WALL_CONDUCTANCE=10.0), memory(400.0, 30.0, 0.9), 399.0)
    kept = memory(400.0, 30.0, 0.9)
    c.wall_step(tally(WALL_HEAT=36.0, WALL_CONDUCTANCE=10.0), kept, 399.0)  # colder by 1 K: 6 J more
    assert kept[c.SLOPE] == pytest.approx(0.9 + 0.7 * (0.6 - 0.9))


def test_a_pressure_moves_by_the_secant() -> None:
    kept = memory()
    assert c.secant_step(kept, 10e5, 9e5) == pytest.approx(-1e5)
    assert kept.tolist() == pytest.approx([10e5, 9e5, 0.0, 0.1])
    # the pressure fell by 1 bar and the target rose by 0.5 bar: slope -0.5, learned -0.35
    assert c.secant_step(kept, 9e5, 9.5e5) == pytest.approx(0.5e5 / 1.35)
    assert kept.tolist() == pytest.approx([9e5, 9.5e5, -0.35, 0.5 / 9.0])
    assert c.secant_step(memory(), 10e5, 20e5) == pytest.approx(3e5)
    assert c.secant_step(memory(), 10e5, 1e5) == pytest.approx(-3e5)


@pytest.mark.parametrize(
    ("target", "learned"), [(10.4e5, 0.28), (10.6e5, 0.0), (-8.5e5, -12.95), (-11e5, 0.0)]
)
def test_a_pressure_learns_only_what_can_be(target: float, learned: float) -> None:
    kept = memory(10e5, 10e5)  # up by 1 bar: slopes of 0.4, 0.6, -18.5 and -21
    c.secant_step(kept, 11e5, target)
    assert kept[c.SLOPE] == pytest.approx(learned, abs=1e-9)
    kept = memory(10e5, 10e5, 0.3)
    c.secant_step(kept, 10e5, 9e5)
    assert kept[c.SLOPE] == 0.3


def state(stages: int) -> c.CycleState:
    return c.CycleState(
        np.zeros(c.ENGINE_SIZE),
        np.zeros((stages, c.STAGE_SIZE)),
        np.zeros((stages, 2, r.TALLY_SIZE)),
        np.zeros((stages, 2, c.MEMORY_SIZE)),
        np.zeros((stages + 1, c.MEMORY_SIZE)),
        np.zeros(r.TALLY_SIZE),
    )


def test_the_balance_of_a_compound_by_hand() -> None:
    made = state(2)
    made.stages[:, c.BACK_ENTHALPY] = [2.8e6, 2.5e6]
    high = {
        "STEAM_IN": 0.30,
        "STEAM_RETURNED": 0.05,
        "EXHAUST_OUT": 0.24,
        "WORK": 4e4,
        "CONDENSING_HEAT": 3e4,
    }
    low = {
        "STEAM_IN": 0.28,
        "STEAM_RETURNED": 0.02,
        "EXHAUST_OUT": 0.30,
        "EXHAUST_RETURNED": 0.05,
        "WORK": 3e4,
    }
    low["EXHAUST_HEAT"] = 0.30 * 2.55e6
    made.tallies[0, 0], made.tallies[0, 1] = tally(**high), tally(**(high | {"WORK": 5e4}))
    made.tallies[1, 0], made.tallies[1, 1] = tally(**low), tally(**low)
    point = np.array([2.0, 0.01, 14e5, 3.0e6, 1e5, 0.02])  # two revolutions in a second
    cylinders = np.zeros((2, 13))
    cylinders[:, 0] = [2.0, 3.0]
    residual = c.close_balance(cylinders, point, made)
    steam_in, steam_out = 2 * 2 * 0.25, 3 * 2 * 0.25  # of one revolution [kg]
    work = 2 * 9e4 + 3 * 6e4
    heat_out = 3 * 2 * (0.30 * 2.55e6 - 0.05 * 2.5e6)
    engine = made.engine
    assert engine[c.STEAM] == pytest.approx(2.0 * steam_in)
    assert engine[c.POWER] == pytest.approx(2.0 * work)
    assert engine[c.MEAN_EXHAUST_ENTHALPY] == pytest.approx(heat_out / steam_out)
    assert engine[c.MASS_RESIDUAL] == pytest.approx((steam_in - steam_out) / steam_in)
    assert engine[c.HEAT_RESIDUAL] == pytest.approx((3.0e6 - work - heat_out) / 3.0e6)
    assert residual == pytest.approx(max(0.5, abs(engine[c.HEAT_RESIDUAL])))
    assert made.stages[:, c.FLOW] == pytest.approx([2.0 * steam_in, 2.0 * 3 * 2 * 0.26])
    assert made.stages[0, [c.WORK_FRONT, c.WORK_BACK]].tolist() == [4e4, 5e4]
    assert made.stages[0, c.WALL_CONDENSATION_SHARE] == pytest.approx(6e4 / 2e6 / 0.6)
    assert made.stages[1, c.WALL_CONDENSATION_SHARE] == 0.0
    nothing = state(1)
    assert c.close_balance(cylinders[:1], point, nothing) == 0.0
    assert nothing.engine[c.POWER] == 0.0


def settled(stages: int, *, revolutions: float) -> c.CycleState:
    """A state after a revolution, with steam of some 3 MJ/kg everywhere."""
    made = state(stages)
    made.engine[c.REVOLUTIONS] = revolutions
    made.engine[c.CHOKED_FLOW] = 5.0
    made.engine[c.STEAM] = 2.0
    made.stages[:, c.CHEST_PRESSURE] = [10e5, 4e5][:stages]
    made.stages[:, c.BACK_PRESSURE] = [4e5, 1.2e5][-stages:]
    made.stages[:, c.CHEST_ENTHALPY] = 2.9e6
    made.stages[:, c.BACK_ENTHALPY] = 2.7e6
    made.stages[:, c.FLOW] = [2.0, 2.2][:stages]
    made.stages[:, c.WALL_FRONT] = made.stages[:, c.WALL_BACK] = 420.0
    made.tallies[:] = tally(
        STEAM_IN=0.3, STEAM_RETURNED=0.1, ENTHALPY_RETURNED=0.1 * 2.85e6, EXHAUST_OUT=0.2, EXHAUST_HEAT=0.2 * 2.6e6,
        WALL_HEAT=30.0, WALL_CONDUCTANCE=10.0,
    )  # fmt: skip
    c.update_flow_work(made.stages, TABLE)
    return made


POINT = np.array([2.0, 1.5e-3, 14e5, 3.0e6, 1.0e5, 0.012])
BOILER_FLOW_WORK = 2.1e5


def passed(upstream: float, flow_work: float, area: float, downstream: float) -> float:
    """Zeuner's ellipse."""
    k = SUPERHEATED_EXPONENT
    critical = (2.0 / (k + 1.0)) ** (k / (k - 1.0))
    share = min((1.0 - downstream / upstream) / (1.0 - critical), 1.0)
    choked = k**0.5 * (2.0 / (k + 1.0)) ** (0.5 * (k + 1.0) / (k - 1.0))
    return area * choked * upstream / flow_work**0.5 * (share * (2.0 - share)) ** 0.5


@pytest.mark.parametrize(("revolutions", "part"), [(1, 1.0), (59, 1.0), (60, 0.4), (61, 0.4)])
def test_pressures_and_enthalpies_move_to_what_flows(revolutions: int, part: float) -> None:
    made = settled(1, revolutions=revolutions)
    back_work = made.stages[0, c.BACK_FLOW_WORK]
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    stage = made.stages[0]
    # the cylinders take steam in proportion to the chest pressure: 2 kg/s at 10 bar
    chest = brentq(lambda p: passed(14e5, BOILER_FLOW_WORK, 1.5e-3, p) - 2.0 * p / 10e5, 2e5, 14e5)
    assert stage[c.CHEST_PRESSURE] == pytest.approx(10e5 + part * (chest - 10e5), rel=1e-6)
    back = brentq(lambda p: passed(p, back_work, 0.012, 1.0e5) - 2.0, 1.0001e5, 5e5)
    assert stage[c.BACK_PRESSURE] == pytest.approx(1.2e5 + part * min(back - 1.2e5, 0.36e5), rel=1e-6)
    mixed = (2.0 / 3.0) * 3.0e6 + (1.0 / 3.0) * 2.85e6  # a third of what enters came back out of the cylinder
    assert stage[c.CHEST_ENTHALPY] == pytest.approx(2.9e6 + part * (mixed - 2.9e6))
    assert stage[c.BACK_ENTHALPY] == pytest.approx(2.7e6 + part * (2.6e6 - 2.7e6))
    for pressure, enthalpy, work in (
        (c.CHEST_PRESSURE, c.CHEST_ENTHALPY, c.CHEST_FLOW_WORK),
        (c.BACK_PRESSURE, c.BACK_ENTHALPY, c.BACK_FLOW_WORK),
    ):
        flow_work = stage[work]
        state_then = property_table.steam_state(
            stage[pressure] / flow_work, stage[enthalpy] - flow_work, TABLE
        )
        assert state_then[0] == pytest.approx(flow_work, rel=1e-8)


def test_the_receiver_has_the_pressure_at_which_both_stages_flow_alike() -> None:
    made = settled(2, revolutions=1)
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    assert made.stages[1, c.CHEST_PRESSURE] == pytest.approx(4e5 * 2.0 / 2.2)
    assert made.stages[0, c.BACK_PRESSURE] == made.stages[1, c.CHEST_PRESSURE]
    # the low-pressure chest is fed with the exhaust of the other stage
    assert made.stages[1, c.CHEST_ENTHALPY] == pytest.approx((2.0 * 2.6e6 + 2.85e6) / 3.0)
    none = settled(2, revolutions=1)
    none.stages[0, c.FLOW] = -1.0
    c.update_couplings(POINT, none, BOILER_FLOW_WORK, TABLE)
    assert none.stages[1, c.CHEST_PRESSURE] == pytest.approx(4e5 * 0.7)  # 30 % at most


@pytest.mark.parametrize(
    ("revolutions", "drift", "moves"),
    [(1, 89.0, True), (1, 90.0, False), (3, 1e3, False), (4, 1e3, True), (61, 1e3, True)],
)
def test_a_wall_waits_for_the_steam_three_revolutions_at_most(
    revolutions: int, drift: float, moves: bool
) -> None:
    # steam that drifts by less than 1.5 times the 30 J of wall heat counts as steady
    made = settled(1, revolutions=revolutions)
    made.wall_memory[:, :, c.DRIFT] = 0.5 * drift
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    step = 6.0 * (0.4 if revolutions > 60 else 1.0)
    for wall in (c.WALL_FRONT, c.WALL_BACK):
        assert made.stages[0, wall] == pytest.approx(420.0 + (step if moves else 0.0))


def test_nothing_is_mixed_where_nothing_flows() -> None:
    made = settled(1, revolutions=1)
    made.tallies[:, :, [r.STEAM_IN, r.EXHAUST_OUT]] = 0.0
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    assert made.stages[0, c.CHEST_ENTHALPY] == 2.9e6
    assert made.stages[0, c.BACK_ENTHALPY] == 2.7e6


def test_a_wall_and_a_pressure_learn_from_the_smallest_values() -> None:
    # a wall of 0.5 K and a change of half a pascal would be odd, but count
    kept = memory(0.5, 30.0, 0.5)
    c.wall_step(tally(WALL_HEAT=26.0, WALL_CONDUCTANCE=10.0), kept, 1.5)
    assert kept[c.SLOPE] == pytest.approx(0.5 + 0.7 * (0.4 - 0.5))
    kept = memory(0.5, 0.5)
    c.secant_step(kept, 0.6, 0.54)
    assert kept[c.SLOPE] == pytest.approx(0.7 * 0.4)
    # before the first revolution there is nothing to learn from
    kept = memory(0.0, 0.0, 0.3)
    c.secant_step(kept, 10e5, 2e5)
    assert kept[c.SLOPE] == 0.3
    # a change of less than a ten millionth is rounding
    for change, slope in ((0.09, 0.2), (0.12, 0.2 + 0.7 * (-0.5 - 0.2))):
        kept = memory(10e5, 10e5, 0.2)
        c.secant_step(kept, 10e5 + change, 10e5 - 0.5 * change)
        assert kept[c.SLOPE] == pytest.approx(slope, abs=1e-6)


def test_a_stage_through_which_hardly_anything_flows() -> None:
    """No less than a ten thousandth of the choked flow counts, so that the pressures stay within reason."""
    made = settled(2, revolutions=1)
    made.stages[:, c.FLOW] = [1e-9, 2e-3]
    made.stages[1, c.CHEST_PRESSURE] = 4e5
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    # 5e-4 of 2e-3 kg/s: 30 % at most
    assert made.stages[1, c.CHEST_PRESSURE] == pytest.approx(4e5 * 0.7)
    made = settled(2, revolutions=1)
    made.stages[:, c.FLOW] = [1e-9, 6e-4]
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    assert made.stages[1, c.CHEST_PRESSURE] == pytest.approx(4e5 * 5.0 / 6.0)
    made = settled(2, revolutions=1)
    made.stages[:, c.FLOW] = [6e-4, 1e-9]
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    assert made.stages[1, c.CHEST_PRESSURE] == pytest.approx(4e5 * 6.0 / 5.0)


def test_each_end_has_its_own_wall() -> None:
    made = settled(1, revolutions=1)
    made.stages[0, [c.WALL_FRONT, c.WALL_BACK]] = [430.0, 410.0]
    made.tallies[0, 1] = tally(WALL_HEAT=-20.0, WALL_CONDUCTANCE=10.0)
    made.wall_memory[0, 0] = [425.0, 40.0, 0.5, 0.0]  # up by 5 K, 10 J less: 0.2 of the conductance
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    front = 0.5 + 0.7 * (0.2 - 0.5)
    assert made.stages[0, c.WALL_FRONT] == pytest.approx(430.0 + 30.0 / (10.0 * front))
    assert made.stages[0, c.WALL_BACK] == pytest.approx(410.0 - 4.0)


def test_the_back_pressure_learns_in_its_own_memory() -> None:
    """Of two stages the third memory is that of the nozzle."""
    made = settled(2, revolutions=1)
    made.engine[c.STEAM] = 0.4
    c.update_couplings(POINT, made, BOILER_FLOW_WORK, TABLE)
    target = made.pressure_memory[2, c.PREVIOUS_RESPONSE]
    assert made.pressure_memory[2, c.PREVIOUS_VALUE] == 1.2e5
    assert passed(
        target, settled(2, revolutions=1).stages[1, c.BACK_FLOW_WORK], 0.012, 1.0e5
    ) == pytest.approx(0.4)
    assert made.pressure_memory[:2, c.PREVIOUS_VALUE].tolist() == [10e5, 4e5]


def test_a_state_that_is_not_found_is_not_a_number(monkeypatch: pytest.MonkeyPatch) -> None:
    found = c.flow_work_at(10e5, 2.9e6, TABLE)
    # from p/rho follow density and energy, and from them the pressure
    assert property_table.steam_state(10e5 / found, 2.9e6 - found, TABLE)[0] == pytest.approx(found, rel=1e-8)
    monkeypatch.setattr(c, "FLOW_WORK_ITERATIONS", 3)
    assert np.isnan(c.flow_work_at(10e5, 2.9e6, TABLE))


@pytest.mark.parametrize("stages", [1, 2])
def test_a_new_point_forgets_the_one_before(stages: int) -> None:
    made = state(stages)
    for array in made:
        array.fill(7.0)
    getattr(solver._clear, "py_func", solver._clear)(made)
    for kept in (made.pressure_memory, made.wall_memory, made.tallies):
        assert np.all(kept == 0.0)
