"""Evaporation by the handbook."""

from __future__ import annotations

import numpy as np
import pytest

from locosim.physics.boiler import evaporation as ev

RATE = 0.45359237 / (0.3048**2 * 3600)


def test_the_line_passes_through_its_published_points() -> None:
    """[Bruce1952] chart 16: 7.5 at 50 and 5.0 at 200 lb per square foot and hour."""
    found = ev.evaporation_per_coal(firing_rate_per_grate_area=np.array([50.0, 200.0]) * RATE)
    assert found == pytest.approx([7.5, 5.0])


def test_german_rating_by_the_whole_surface() -> None:
    """133.1 m² at 57 kg/(m² h), [GermanRules] from memory: 7,586.7 kg an hour."""
    assert ev.surface_evaporation(evaporative_heating_surface=133.1) * 3600 == pytest.approx(
        7_586.7, rel=1e-9
    )


def test_goss_lines_at_ten_pounds_a_square_foot() -> None:
    """[Goss1907], [Goss1910], from memory, worked by hand: E = a - 10 b."""
    found = {
        name: ev.goss_evaporation_per_coal(line=line, evaporation_per_surface=10 * RATE)
        for name, line in ev.GOSS_LINES.items()
    }
    by_hand = {"saturated_first_boiler": 7.12, "saturated_1907": 9.095, "superheated_1910": 9.566}
    assert found == pytest.approx(by_hand)
