"""Feed of several devices together, and of none."""

from __future__ import annotations

import math

import pytest
import trials

from locosim.engine.boiler.by_heat_balance import heat_balance_supply
from locosim.engine.boiler.feed_devices import FeedSource, feed_sources, mixed_feed
from locosim.model import Assumptions, Crew, FeedDevice, Fuel

HOT = FeedSource(rate=2.0, enthalpy=400e3, tender_water=0.9)
COLD = FeedSource(rate=3.0, enthalpy=60e3, tender_water=1.0)


def test_the_hottest_feed_is_used_first_and_mixed_with_the_next() -> None:
    assert mixed_feed([HOT, COLD], 1.0) == FeedSource(rate=1.0, enthalpy=400e3, tender_water=0.9)
    mean = mixed_feed([HOT, COLD], 4.0)
    assert mean.rate == 4.0
    assert mean.enthalpy == pytest.approx((2.0 * 400e3 + 2.0 * 60e3) / 4.0)
    assert mean.tender_water == pytest.approx((2.0 * 0.9 + 2.0) / 4.0)
    assert mixed_feed([HOT, COLD], 9.0).rate == 5.0
    assert mixed_feed([HOT, COLD], 0.0) == HOT


def test_an_engine_without_devices_has_tender_water_at_any_rate() -> None:
    engine = trials.locomotive(feed_devices=())
    (source,) = feed_sources(engine, Assumptions(tender_water_temperature=290.0))
    assert source.rate == math.inf
    assert source.tender_water == 1.0
    assert source.enthalpy == pytest.approx(4187.0 * (290.0 - 273.15), rel=0.03)  # 4.187 kJ/(kg K)
    limits = {limit.name for limit in heat_balance_supply(engine, Fuel(), Crew()).limits}
    with_pump = trials.locomotive(feed_devices=(FeedDevice(name="pump", max_rate=1.0),))
    extra = {limit.name for limit in heat_balance_supply(with_pump, Fuel(), Crew()).limits} - limits
    assert len(extra) == 1
    assert "feed" in extra.pop()
