"""The table of a boiler: its points, and the boiler forced beyond them."""

from __future__ import annotations

import pytest
import trials

from locosim.engine.boiler.boiler_table import boiler_table
from locosim.errors import OutOfRange

ENGINE = trials.locomotive()
GRATE = ENGINE.boiler.grate_area


def test_the_table_has_a_point_for_each_step_up_to_the_most_steam() -> None:
    first = boiler_table(ENGINE, method="cycle")
    supply = first.supply
    top = float(supply.firing_rates[int(supply.steam.argmax())]) / GRATE
    quarters = boiler_table(ENGINE, method="cycle", step=0.25 * top)
    assert len(quarters.points) == 4
    assert [point.firing_rate_per_grate_area for point in quarters.points] == pytest.approx(
        [0.25 * top, 0.5 * top, 0.75 * top, top]
    )
    assert quarters.points[-1].steam == pytest.approx(float(supply.steam.max()))
    for point in quarters.points:
        assert point.steam_per_fuel == pytest.approx(point.steam / point.fuel)
        assert point.fuel == pytest.approx(point.firing_rate_per_grate_area * GRATE)
    for step in (0.99 * top / 500, 1.01 * top):
        with pytest.raises(OutOfRange, match="step must be between"):
            boiler_table(ENGINE, method="cycle", step=step)


def test_a_forced_boiler_names_the_limits_it_exceeds() -> None:
    supply = boiler_table(ENGINE, method="cycle").supply
    least, most = (float(supply.firing_rates[k]) / GRATE for k in (1, -1))
    low, high = boiler_table(ENGINE, method="cycle", firing_rates=(least, most)).forced
    assert low.exceeded == ()
    reached = {limit.name for limit in supply.limits if limit.reached and limit.steam < high.point.steam}
    assert reached
    assert set(high.exceeded) == reached
    for rate in (0.99 * least, 1.01 * most):
        with pytest.raises(OutOfRange, match="firing_rates must be between"):
            boiler_table(ENGINE, method="cycle", firing_rates=(rate,))
