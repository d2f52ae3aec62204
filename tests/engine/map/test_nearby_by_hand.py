"""Maps for other assumptions worked by hand: weights of the temperatures, levels, and the map put together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.map import nearby
from locosim.engine.map.nearby import Levels, MapsOfEngine, NearbyMaps, _Temperatures
from locosim.engine.map.store import StoredMap
from locosim.model import Assumptions, FeedDevice, Locomotive

BASE = Assumptions()
RATES = np.array([0.0, 0.8, 1.6, 2.4, 3.2])
USUAL = np.array([450.0, 500.0, 540.0, 570.0, 590.0])
STEAM = np.array([[[0.0, 0.5, 1.0, 2.4, 3.0]]])
LOWER, HIGHER = np.array([[[-0.2, -20.0, -30.0, -40.0, -50.0]]]), np.array([[[0.3, 10.0, 20.0, 25.0, 30.0]]])


def temperatures(**by_name: Levels) -> _Temperatures:
    return _Temperatures(
        steam=STEAM, rates=RATES, usual=USUAL, by_name=by_name, lower=LOWER, higher=HIGHER,
        maps=(trials.small_map(), trials.small_map()),
    )  # fmt: skip


def expected_weights(change: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of the parabola through the three maps, by fitting it; no map counts as nearer than 1 K."""
    low, high = np.minimum(LOWER, -1.0), np.maximum(HIGHER, 1.0)
    at = np.clip(np.interp(STEAM, RATES, change), 1.5 * low, 1.5 * high)
    found = np.empty((2, *STEAM.shape))
    for k in np.ndindex(STEAM.shape):
        for which in (0, 1):
            values = [0.0, 0.0, 0.0]
            values[2 * which] = 1.0
            found[(which, *k)] = np.polyval(np.polyfit([low[k], 0.0, high[k]], values, 2), at[k])
    return found[0], found[1]


@pytest.mark.parametrize("value", [0.8, 0.9, 1.0, 1.2, 1.3])
def test_weights_are_those_of_a_parabola_through_three_maps(value: float) -> None:
    shift = np.array([[-4.0, -30.0, -40.0, -50.0, -90.0], [0.0] * 5, [3.0, 8.0, 30.0, 20.0, 60.0]])
    levels = Levels((0.8, 1.0, 1.3), shift)
    found = temperatures(superheater_factor=levels).weights(replace(BASE, superheater_factor=value), 1.0)
    change = np.array([np.interp(value, (0.8, 1.0, 1.3), shift[:, k]) for k in range(5)])
    for mine, theirs in zip(found, expected_weights(change), strict=True):
        assert mine == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("factor", [0.9, 1.1, 1.3])
def test_more_steam_for_the_same_work_is_hotter_as_more_steam_is(factor: float) -> None:
    change = np.interp(factor * RATES, RATES, USUAL) - USUAL
    assert np.any(change != 0.0)
    for mine, theirs in zip(temperatures().weights(BASE, factor), expected_weights(change), strict=True):
        assert mine == pytest.approx(theirs, abs=1e-9)


def uneven(seed: int) -> StoredMap:
    draw = np.random.default_rng(seed)
    made = trials.small_map()
    return replace(
        made,
        throttles=draw.uniform(-0.4, 1.8, (2, 3, 4)), effort=draw.random((2, 3, 4)), steam=draw.random((2, 3, 4)) - 0.1,
        back_pressure=draw.random((2, 3, 4)), peak_effort_ratio=1.0 + draw.random(), unit_effort_shares=(0.3, 0.7),
        min_starting_effort_ratio=draw.random(), live_steam_starting_effort=draw.random(),
    )  # fmt: skip


@pytest.mark.parametrize("own_factor", [False, True])
def test_a_map_is_that_of_the_base_with_each_change(own_factor: bool) -> None:
    base, low, high = uneven(1), uneven(2), replace(uneven(3), unit_effort_shares=(0.4, 0.6))
    maps = MapsOfEngine(
        parts=(), base=base, assumptions=replace(BASE, steam_rate_factor=1.1), temperatures=None, own_factor=own_factor,
        by_name={"heater_exhaust_share": ((0.0, 0.1, 0.2), (low, base, high))},
    )  # fmt: skip
    asked = replace(BASE, heater_exhaust_share=0.15, steam_rate_factor=1.32)
    found = maps.at(asked)
    factor = 1.0 if own_factor else 1.2

    def half(name: str) -> np.ndarray:
        return np.asarray(0.5 * (getattr(base, name) + getattr(high, name)))

    assert found.effort == pytest.approx(np.maximum.accumulate(half("effort"), axis=2))
    rising = np.maximum.accumulate(half("steam"), axis=2)
    assert found.steam == pytest.approx(factor * np.maximum(rising, 0.0))
    openings = np.maximum.accumulate(half("throttles"), axis=2)
    assert found.throttles == pytest.approx(np.clip(openings, 0.0, 1.0))
    assert found.back_pressure == pytest.approx(half("back_pressure"))
    for name in ("peak_effort_ratio", "min_starting_effort_ratio", "live_steam_starting_effort"):
        assert getattr(found, name) == pytest.approx(float(half(name)))
    assert found.unit_effort_shares == pytest.approx((0.35, 0.65))
    assert np.array_equal(found.speeds, base.speeds)
    assert np.max(openings) > 1.2


def test_a_map_goes_with_the_temperature_of_its_steam() -> None:
    base, cool, hot = uneven(1), uneven(4), uneven(5)
    warmth = _Temperatures(
        steam=np.broadcast_to(np.linspace(0.1, 2.9, 12).reshape(3, 4), (2, 3, 4)).copy(), rates=RATES, usual=USUAL,
        by_name={}, lower=np.full((2, 3, 4), -30.0), higher=np.full((2, 3, 4), 20.0), maps=(cool, hot),
    )  # fmt: skip
    maps = MapsOfEngine(
        parts=(), base=base, assumptions=BASE, temperatures=warmth, own_factor=False, by_name={}
    )
    asked = replace(BASE, steam_rate_factor=1.2 * BASE.steam_rate_factor)
    found, (to_cool, to_hot) = maps.at(asked), warmth.weights(asked, 1.2)
    assert np.any(np.abs(to_cool) > 0.05)
    assert np.any(np.abs(to_hot) > 0.05)

    def moved(name: str) -> np.ndarray:
        at = getattr(base, name)
        return np.asarray(at + to_cool * (getattr(cool, name) - at) + to_hot * (getattr(hot, name) - at))

    assert found.back_pressure == pytest.approx(moved("back_pressure"))
    assert found.effort == pytest.approx(np.maximum.accumulate(moved("effort"), axis=2))
    rising = np.maximum.accumulate(moved("steam"), axis=2)
    assert found.steam == pytest.approx(1.2 * np.maximum(rising, 0.0))


def test_levels_are_the_ends_of_the_range_and_the_base() -> None:
    data = Assumptions.declared()["superheater_factor"].metadata
    low, high, usual = float(data["low"]), float(data["high"]), BASE.superheater_factor
    assert nearby._levels("superheater_factor", BASE) == (low, usual, high)
    assert nearby._levels("superheater_factor", replace(BASE, superheater_factor=high)) == (low, high)
    found = nearby._at_levels("superheater_factor", BASE)
    assert [each.superheater_factor for each in found] == [low, usual, high]


def test_what_of_an_engine_reads_an_assumption() -> None:
    simple = trials.locomotive()
    heated = trials.locomotive(
        feed_devices=(FeedDevice(name="x", kind="exhaust_steam_injector", max_rate=3.0),)
    )
    plain = trials.locomotive(feed_devices=(FeedDevice(name="x", kind="injector", max_rate=3.0),))
    for name in ("throttle_area_ratio", "steam_rate_factor"):
        assert not nearby._is_read(name, simple)
    for name in ("low_pressure_cutoff_offset", "low_pressure_cutoff_slope"):
        assert not nearby._is_read(name, simple)
    for name in ("heater_exhaust_share", "max_heater_steam_share"):
        assert nearby._is_read(name, heated)
        assert not nearby._is_read(name, plain)
    both = trials.locomotive(feed_devices=(*heated.feed_devices, *plain.feed_devices))
    assert nearby._is_read("heater_exhaust_share", both)
    for name in ("superheater_factor", "tender_water_temperature", "unburned_factor"):
        assert nearby._is_read(name, simple)
    unit = simple.engine_units[0]
    low = replace(unit.cylinders[0], bore=0.8, steam_source="receiver")
    compound = replace(simple, engine_units=(replace(unit, cylinders=(unit.cylinders[0], low)),))
    assert nearby._is_read("low_pressure_cutoff_offset", compound) is True


def test_the_maps_of_an_engine_with_superheater_are_three(monkeypatch: pytest.MonkeyPatch) -> None:
    """That of the base, and two with 0.6 and 1.5 of the heat to the superheater; our own choice."""
    asked: list[Locomotive] = []

    def stand_in(locomotive: Locomotive, assumptions: Assumptions) -> StoredMap:
        asked.append(locomotive)
        return trials.small_map()

    monkeypatch.setattr(nearby, "stored_map", stand_in)
    engine = trials.locomotive()
    NearbyMaps(BASE, ("superheater_factor",), [engine])
    factors = [each.boiler.superheater_factor for each in asked[1:]]
    assert factors == pytest.approx([0.6 * BASE.superheater_factor, 1.5 * BASE.superheater_factor])
    asked.clear()
    own = replace(engine, boiler=replace(engine.boiler, superheater_factor=0.8))
    NearbyMaps(BASE, ("steam_rate_factor",), [own])
    assert [each.boiler.superheater_factor for each in asked] == pytest.approx([0.8, 0.48, 1.2])
    for drawn in ((), ("throttle_area_ratio",), ("low_pressure_cutoff_offset",)):
        asked.clear()
        NearbyMaps(BASE, drawn, [engine])
        assert asked == [engine]


def test_temperatures_of_an_engine_are_those_of_its_layouts(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[Locomotive, Assumptions]] = []

    def stand_in(locomotive: Locomotive, assumptions: Assumptions) -> StoredMap:
        asked.append((locomotive, assumptions))
        return trials.small_map(0.2)

    monkeypatch.setattr(nearby, "stored_map", stand_in)
    engine = trials.locomotive(
        feed_devices=(FeedDevice(name="x", kind="exhaust_steam_injector", max_rate=3.0),)
    )
    drawn = ("superheater_factor", "heater_exhaust_share", "steam_rate_factor")
    (found,) = NearbyMaps(BASE, drawn, [engine])._engines
    assert found.own_factor is False
    assert found.assumptions == BASE
    warmth = found.temperatures
    assert warmth is not None
    # evenly from none to a fifth more than the most of the map
    assert warmth.rates[[0, -1]] == pytest.approx([0.0, 1.2 * 0.2 * 23.0])
    assert np.diff(warmth.rates) == pytest.approx(np.full(len(warmth.rates) - 1, warmth.rates[1]))
    assert np.array_equal(warmth.steam, trials.small_map(0.2).steam)

    def along(locomotive: Locomotive, assumptions: Assumptions) -> np.ndarray:
        return np.asarray(build_cycle_layout(locomotive, assumptions).steam_temperature(warmth.rates))

    usual = along(engine, BASE)
    assert np.array_equal(warmth.usual, usual)
    levels = warmth.by_name["superheater_factor"]
    assert levels.at == nearby._levels("superheater_factor", BASE)
    for value, change in zip(levels.at, levels.changes, strict=True):
        assert change == pytest.approx(along(engine, replace(BASE, superheater_factor=value)) - usual)
    for factor, change in ((0.6, warmth.lower), (1.5, warmth.higher)):
        boiler = replace(engine.boiler, superheater_factor=factor * BASE.superheater_factor)
        expected = along(replace(engine, boiler=boiler), BASE) - usual
        assert change == pytest.approx(np.interp(warmth.steam, warmth.rates, expected))
    assert np.all(warmth.lower.ravel()[1:] < 0.0)
    at, maps = found.by_name["heater_exhaust_share"]
    assert at == nearby._levels("heater_exhaust_share", BASE)
    assert [each.heater_exhaust_share for _, each in asked[1 : 1 + len(at)]] == list(at)
    assert len(maps) == len(at)
    passages = replace(engine.steam_passages, steam_rate_factor=1.1)
    (own,) = NearbyMaps(BASE, ("steam_rate_factor",), [replace(engine, steam_passages=passages)])._engines
    assert own.own_factor is True
