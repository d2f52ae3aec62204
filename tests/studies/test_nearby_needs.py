"""Needs to expect of samples: how near they are to the needs found, and that nothing but the time depends on them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.needs import SHARE_STEP
from locosim.model import Excursion, Outcome, Stop, UncertainInput, Uncertainty
from locosim.physics.types import Floats
from locosim.planning.check import run_and_check
from locosim.planning.checker import Checker
from locosim.planning.finding import Finding
from locosim.planning.trial_runs import Needs, find_needs
from locosim.studies.nearby_needs import NearbyNeeds
from locosim.studies.uncertain_inputs import SampledExcursions, uncertain_inputs

LINE = trials.line([(4000.0, 0.001), (6000.0, 0.007), (4000.0, -0.004)], stops=(9000.0,), speed_limit=17.0)
INPUTS = (
    UncertainInput(key="train.vehicles[*].empty_mass", applies_as="factor", mean="1", deviation="5 %"),
    UncertainInput(key="assumptions.resistance_factor", mean="1", deviation="0.1"),
    UncertainInput(
        key="rail",
        distribution="outcomes",
        outcomes=(Outcome(value="as given", probability=0.7), Outcome(value="wet", probability=0.3)),
    ),
)


@pytest.fixture(scope="module")
def given() -> Excursion:
    stops = (Stop(station="A"), Stop(station="B"), Stop(station="C", arrive=37320.0))
    made = trials.excursion(LINE, made_of=trials.train(trials.coaches(6)), stops=stops)
    return replace(made, uncertainty=Uncertainty(usual="no", assumptions="none", inputs=INPUTS))


def nearby(given: Excursion) -> tuple[SampledExcursions, NearbyNeeds]:
    inputs = uncertain_inputs(given).inputs
    excursions = SampledExcursions(given, inputs)
    return excursions, NearbyNeeds(excursions, inputs, None)


def found(excursion: Excursion) -> Needs:
    return find_needs(excursion, compute_excursion_performance(excursion))


def shares(needs: Needs | None) -> Floats:
    """Steam and adhesion, for the same mass."""
    assert needs is not None
    return np.array([need.share * need.search.capacity for need in needs])  # type: ignore[operator, union-attr]


SAMPLES = np.array([[1.04, 0.93, 0.0], [0.93, 1.1, 1.0], [1.08, 1.15, 0.0], [0.95, 0.9, 1.0]])


def test_they_are_much_nearer_than_the_need_as_given(given: Excursion) -> None:
    excursions, needs = nearby(given)
    off, as_given = [], shares(found(given))
    for sample in SAMPLES:
        here = shares(found(excursions.excursion(sample)))
        off.append([shares(needs.expected(sample)) / here - 1.0, as_given / here - 1.0])
    expected, without = np.abs(off).mean(axis=(0, 2))
    assert expected < 0.25 * without


def test_nothing_but_the_time_depends_on_them(given: Excursion) -> None:
    excursions, needs = nearby(given)
    checker = Checker(run_and_check(given))
    for sample in SAMPLES:
        excursion = excursions.excursion(sample)
        checks = [checker.check(excursion, near=near) for near in (None, needs.expected(sample))]
        one, other = (check.runs for check in checks)
        for need, same in ((one.need, other.need), (one.adhesion_need, other.adhesion_need)):
            assert need.set_by == same.set_by
            assert need.share == pytest.approx(same.share, rel=0.0, abs=1.001 * SHARE_STEP)
        assert [figures(each) for each in checks[0].findings] == [
            figures(each) for each in checks[1].findings
        ]


def figures(finding: Finding) -> tuple[object, ...]:
    """What of a finding may not differ: all but the margins of both needs."""
    by_need = finding.rule in ("steam", "adhesion")
    return (finding.rule, finding.place, finding.verdict, None if by_need else finding.margin)


def test_without_needs_at_the_medians_none_are_expected(given: Excursion) -> None:
    """No resistance factor below 0 is allowed: nothing can be computed at such a median."""
    inputs = [
        replace(each, paths=(("assumptions", "resistance_factor"),))
        for each in uncertain_inputs(given).inputs
    ]
    shifted = [replace(each, distribution=replace(each.distribution, mean=-5.0)) for each in inputs[:2]]  # type: ignore[type-var]
    excursions = SampledExcursions(given, shifted)
    assert NearbyNeeds(excursions, shifted, None).expected(np.array([1.0, 1.0])) is None
