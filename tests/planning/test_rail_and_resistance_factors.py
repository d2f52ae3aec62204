"""The assumed factors of adhesion and of running resistance reach starting, adhesion, running and needs."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.journey.setup.prepare import adhesion_at
from locosim.journey.setup.train_forces import train_load, vehicle_coefficients
from locosim.journey.setup.weather import in_weather
from locosim.model import Assumptions, Excursion, Stop
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION
from locosim.planning.check import Check, run_and_check

LINE = trials.line([(4000.0, 0.001), (6000.0, 0.008)], stops=(9000.0,), speed_limit=17.0)


def excursion(**assumptions: float) -> Excursion:
    stops = (Stop(station="A"), Stop(station="B"), Stop(station="C", arrive=38000.0))
    made = trials.excursion(LINE, made_of=trials.train(trials.coaches(5)), stops=stops, rail="wet")
    return replace(made, assumptions=Assumptions(**assumptions))


def value(check: Check, rule: str) -> float:
    return next(f.value for f in check.findings if f.rule == rule)


def test_the_adhesion_factor_scales_what_the_rail_carries() -> None:
    as_given, low = run_and_check(excursion()), run_and_check(excursion(adhesion_factor=0.8))
    assert value(low, "start") == pytest.approx(0.8 * value(as_given, "start"))
    assert value(low, "adhesion") == pytest.approx(0.8 * value(as_given, "adhesion"))
    assert low.runs.full_effort.duration > as_given.runs.full_effort.duration
    wet = ADHESION_BY_RAIL_CONDITION["wet"].coefficient
    assert adhesion_at(excursion(adhesion_factor=0.8), 3000.0) == pytest.approx(0.8 * wet)


def test_the_resistance_factor_scales_running_resistance_and_not_the_start() -> None:
    as_given, high = excursion(), excursion(resistance_factor=1.25)
    coach = as_given.train.vehicles[0]
    plain, raised = (in_weather(vehicle_coefficients(coach), each, "plain") for each in (as_given, high))
    assert tuple(raised) == pytest.approx([1.25 * each for each in plain])
    loads = [train_load(each) for each in (as_given, high)]
    assert loads[1].a == pytest.approx(1.25 * loads[0].a)
    assert loads[1].starting == pytest.approx(loads[0].starting)  # breaking away is a law of its own
    steam = [value(run_and_check(each), "steam") for each in (as_given, high)]
    assert steam[1] > 1.02 * steam[0]
