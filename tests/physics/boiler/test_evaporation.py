"""Evaporation by grate and by surfaces: inverses, ends and trends."""

from __future__ import annotations

import numpy as np
import pytest

from locosim.physics.boiler import evaporation as ev

RATE = 0.45359237 / (0.3048**2 * 3600)


def test_the_line_passes_through_its_published_points() -> None:
    """[Bruce1952] chart 16: 7.5 at 50 and 5.0 at 200 lb per square foot and hour."""
    found = ev.evaporation_per_coal(firing_rate_per_grate_area=np.array([50.0, 200.0]) * RATE)
    assert found == pytest.approx([7.5, 5.0])


def test_evaporation_is_greatest_where_it_is_said_to_be() -> None:
    rates = np.linspace(1, 400, 4000) * RATE
    made = ev.grate_evaporation(grate_area=1.0, firing_rate_per_grate_area=rates)
    assert rates[made.argmax()] / RATE == pytest.approx(250, abs=0.2)
    assert made.max() == pytest.approx(250 * 250 / 60 * RATE, rel=1e-6)


def test_clarks_two_forms_are_one_rule() -> None:
    """21.2 is the root of 1/0.002225: the two printed constants agree to 0.05 %."""
    water = ev.clark_evaporation(heating_surface=74.0, grate_area=0.9)
    assert ev.clark_heating_surface(water=water, grate_area=0.9) == pytest.approx(74.0, rel=5e-4)


def test_surfaces_add_up() -> None:
    """Firebox of 100 square feet at 55 lb and tubes of 1,000 at 10 lb: 15,500 lb an hour."""
    foot2, pound_hour = 0.09290304, 0.45359237 / 3600
    found = ev.cole_evaporation(
        firebox_surface=100 * foot2, tube_surface=1000 * foot2, tube_rate=10 * pound_hour / foot2
    )
    assert found / pound_hour == pytest.approx(15_500)


def test_german_rating_by_the_whole_surface() -> None:
    """133.1 m² at 57 kg/(m² h), [GermanRules] from memory: 7,586.7 kg an hour."""
    assert ev.surface_evaporation(evaporative_heating_surface=133.1) * 3600 == pytest.approx(
        7_586.7, rel=1e-9
    )


def test_efficiency_falls_with_the_yield() -> None:
    found = ev.boiler_efficiency(equivalent_evaporation_per_coal=np.array([11.0, 7.0]), heating_value=3.3e7)
    assert np.all((found > 0.4) & (found < 0.8))
    assert found[0] > found[1]


def test_goss_lines_at_ten_pounds_a_square_foot() -> None:
    """[Goss1907], [Goss1910], from memory, worked by hand: E = a - 10 b."""
    found = {
        name: ev.goss_evaporation_per_coal(line=line, evaporation_per_surface=10 * RATE)
        for name, line in ev.GOSS_LINES.items()
    }
    by_hand = {"saturated_first_boiler": 7.12, "saturated_1907": 9.095, "superheated_1910": 9.566}
    assert found == pytest.approx(by_hand)


def test_grate_at_its_customary_limit() -> None:
    """120 lb of coal at 6 1/3 lb of water each: 760 lb an hour from a square foot."""
    assert ev.grate_evaporation(grate_area=1.0) / RATE == pytest.approx(760)
