"""Heat balances of 1888 on brown coal and vacuum against nozzle of 1890, neither used in a fit."""

from __future__ import annotations

import pytest

from docs.build.validation import heat
from docs.build.validation.tables import rows_of

PARTS = (*heat.UNBURNED, "flue_gas", "radiation", "wet_steam", "injector", "spray")


def found(section, what):
    return [c for c in section.comparisons if what in c.case]


@pytest.mark.parametrize(("trial", "total"), [("A", 2394.3), ("B", 2943.1), ("C", 2905.6), ("D", 3072.9)])
def test_the_printed_losses_add_up(trial, total):
    (row,) = [row for row in rows_of("gollner_1888") if row["trial"] == trial]
    assert sum(float(row[part]) for part in PARTS) == pytest.approx(
        total, abs=0.15
    )  # half the last digit, ten times


def test_flue_gas_agrees_within_a_fifth():
    # the part of the balance that the tubes decide; gas area and firebox are assumed
    for each in found(heat.heat_balances_1888(), "flue gas"):
        assert abs(each.error) < 0.20, each.case


def test_brown_coal_burns_worse_than_the_line_fitted_to_bituminous_coal():
    # A known disagreement, printed in docs/validation.md: 27 to 43 % unburned, of which most went up the stack. If it
    # goes, the pages must be changed.
    for each in found(heat.heat_balances_1888(), "unburned"):
        assert each.computed < 0.6 * each.published, each.case


def test_vacuum_against_nozzle_follows_the_momentum_of_the_blast():
    # [DinglerCompound1890]; the law of the draft limit, vacuum as back pressure, lies a quarter low
    (momentum,) = found(heat.vacuum_1890(), "momentum")
    (back_pressure,) = found(heat.vacuum_1890(), "back pressure")
    assert abs(momentum.error) < 0.10
    assert -0.35 < back_pressure.error < -0.20
