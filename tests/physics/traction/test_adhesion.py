"""Adhesion by rail and speed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from locosim.cli import options
from locosim.errors import OutOfRange
from locosim.physics.traction import adhesion, rail_conditions


def test_every_condition_is_plausible_and_has_its_source() -> None:
    for name, condition in rail_conditions.ADHESION_BY_RAIL_CONDITION.items():
        assert 0.05 <= condition.coefficient <= 0.35, name
        assert condition.reference.startswith("[") or "from memory" in condition.reference, name


def test_conditions_rank_from_best_to_worst() -> None:
    order = ["dry sanded", "dry", "moist", "wet", "greasy", "frost"]
    found = [rail_conditions.rail_adhesion_coefficient(condition=name) for name in order]
    assert found == sorted(found, reverse=True)


def test_unknown_condition_is_refused_with_the_known_names() -> None:
    with pytest.raises(OutOfRange, match="rail condition 'oily' is not known; write one of dry sanded"):
        rail_conditions.rail_adhesion_coefficient(condition="oily")


def test_adhesion_falls_with_speed_from_that_at_rest() -> None:
    speeds = np.linspace(0, 40, 81)
    found = adhesion.adhesion_speed_factors(speeds)
    assert found[0] == 1.0
    assert np.all(np.diff(found) < 0)
    assert found[-1] > 0.5
    # The compiler multiplies by the reciprocal of a constant.
    assert found == pytest.approx([adhesion.adhesion_speed_factor(speed) for speed in speeds], rel=1e-15)


def test_an_uneven_torque_costs_effort() -> None:
    even = adhesion.adhesion_limited_effort(mass_on_drivers=80e3, coefficient=0.25)
    assert even == pytest.approx(0.25 * 80e3 * 9.80665)
    uneven = adhesion.adhesion_limited_effort(mass_on_drivers=80e3, coefficient=0.25, peak_effort_ratio=1.11)
    assert uneven == pytest.approx(even / 1.11)


def test_rail_conditions_come_from_best_to_worst_and_the_help_gives_each_coefficient() -> None:
    coefficients = [
        condition.coefficient for condition in rail_conditions.ADHESION_BY_RAIL_CONDITION.values()
    ]
    assert coefficients == sorted(coefficients, reverse=True)
    text = Path(options.__file__).read_text(encoding="utf-8").replace('"\n        "', "")
    for name, condition in rail_conditions.ADHESION_BY_RAIL_CONDITION.items():
        assert f"{name} {condition.coefficient:.2f}" in text


def test_sand_makes_a_dry_rail_better_than_a_wet_one() -> None:
    assert [rail_conditions.sanded_rail_condition(condition=c) for c in ("dry", "wet", "frost", "wet washed")] == [
        "dry sanded", "wet sanded", "wet sanded", "wet washed",
    ]  # fmt: skip
