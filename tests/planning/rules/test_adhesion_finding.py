"""Adhesion: the least that a run needs against the rail, by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import trials

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.needs import Need, adhesion_need, steam_need
from locosim.journey.run import run_full_effort
from locosim.model import Crew, Criteria, Excursion
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT, Finding
from locosim.planning.rules.adhesion import adhesion

G = 9.80665
LEAST = 4.4704  # lowest climbing speed, 10 mph [m/s]


def found(excursion: Excursion) -> tuple[Finding, Need]:
    performance = compute_excursion_performance(excursion)
    need = adhesion_need(excursion, performance, steam_need(excursion, performance))
    (finding,) = adhesion(run_full_effort(excursion, performance), need)
    return finding, need


def falling(speed: float) -> float:
    """Adhesion at a speed over that at rest [CurtiusKniffler1944]."""
    return (7.5 / (3.6 * speed + 44) + 0.161) / (7.5 / 44 + 0.161)


def mass(excursion: Excursion) -> float:
    engine = excursion.locomotive
    return engine.mass + engine.tender.empty_mass + 28e3 + excursion.train.mass


def climb(**changes: object) -> Excursion:
    return trials.excursion(trials.line([(2000.0, 0.0), (9000.0, 0.010)], speed_limit=5.0), **changes)


def test_a_long_grade_needs_the_pull_that_holds_the_lowest_climbing_speed() -> None:
    asked = climb(rail="dry")
    finding, need = found(asked)
    assert (need.set_by, finding.verdict) == ("climb", CLEAR)
    rail = ADHESION_BY_RAIL_CONDITION["dry"].coefficient * asked.locomotive.mass_on_drivers * G
    assert finding.value == pytest.approx(rail)
    weight = mass(asked) * G * math.sin(math.atan(0.010))
    pull = finding.limit * falling(LEAST)
    assert weight < pull < weight + 16 * 4.4482216 / 907.18474 * mass(asked)
    assert finding.margin == pytest.approx(1.0 / need.share - 1.0)
    assert finding.facts["share"][0] == pytest.approx(finding.limit / (asked.locomotive.mass_on_drivers * G))


@pytest.mark.parametrize(("share", "verdict"), [(1.30, CLEAR), (1.05, TIGHT), (0.95, STOP)])
def test_adhesion_is_clear_tight_or_stop_by_the_weight_on_the_wheels(share: float, verdict: str) -> None:
    _, need = found(climb(engine=trials.locomotive()))
    enough = need.share * trials.locomotive().mass_on_drivers
    engine = trials.locomotive(mass_on_drivers=share * enough)
    finding, _ = found(climb(engine=replace(engine, mass=trials.locomotive().mass)))
    assert finding.verdict == verdict
    assert finding.margin == pytest.approx(share - 1.0, abs=0.01)


def test_the_pull_needed_is_the_same_on_every_rail() -> None:
    pulls = [found(climb(rail=rail))[0].limit for rail in ("dry", "wet", "very dry")]
    assert pulls == pytest.approx([pulls[0]] * 3, rel=0.005)


def test_a_better_fire_does_not_help_the_rail_nor_does_a_crew_that_saves_steam() -> None:
    asked = climb(engine=trials.locomotive(mass_on_drivers=27e3, mass=70e3))
    margins = [
        found(replace(asked, crew=crew))[0].margin
        for crew in (Crew(), Crew(steam_allowance=0.4), Crew(habit="steady_steam"), Crew(max_firing=0.3))
    ]
    assert margins == pytest.approx([margins[0]] * 4, abs=0.01)


def light(asked: list[tuple[float, float]], **changes: object) -> Excursion:
    """An engine with little weight on its drivers, at line speed to the foot of a hill, on a wet rail."""
    engine = trials.locomotive(mass_on_drivers=36e3, mass=70e3)
    return trials.excursion(trials.line(asked, speed_limit=20.0), engine=engine, rail="wet", **changes)


def test_momentum_carries_a_train_over_a_short_grade_that_adhesion_does_not_hold() -> None:
    # Weight on 1 % asks for 16 % of the weight on drivers, a wet rail has 15 at rest.
    finding, need = found(light([(4000.0, 0.0), (2500.0, 0.010), (3000.0, 0.0)]))
    assert need.share < 1.0
    assert finding.facts["share"][0] < 0.15
    fast, _ = found(
        light([(4000.0, 0.0), (2500.0, 0.010), (3000.0, 0.0)], criteria=Criteria(min_climbing_speed=12.0))
    )
    assert fast.margin < finding.margin
    long, _ = found(light([(4000.0, 0.0), (9000.0, 0.012)]))
    assert long.verdict == STOP
    assert "stalls" in long.because or "climbs too slowly" in long.because


def test_adhesion_is_a_note_where_the_cylinders_limit_the_train() -> None:
    engine = trials.locomotive(bore=0.30)
    finding, need = found(climb(engine=engine, made_of=trials.train(trials.coaches(30))))
    assert need.share is None
    assert finding.verdict == NOTE
    assert "cylinders or the speed limits" in finding.because


def test_the_need_rises_with_every_car() -> None:
    needs = [found(climb(made_of=trials.train(trials.coaches(cars))))[1].share for cars in (2, 4, 6, 8)]
    assert needs == sorted(set(needs))
