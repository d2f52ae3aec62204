"""Feed devices: mass and heat of each, against the handbook's table of coal used."""

from __future__ import annotations

import pytest

from locosim.constants import ZERO_CELSIUS
from locosim.errors import OutOfRange
from locosim.physics.boiler import feed
from locosim.physics.steam import properties as steam

PRESSURE = 1.45e6
COLD = ZERO_CELSIUS + (60.0 - 32.0) / 1.8
EXHAUST = {"exhaust_pressure": 1.3e5, "exhaust_enthalpy": 2.62e6, "exhaust_available": 0.16}


def every_device():
    given = {"pressure": PRESSURE, "tender_water_temperature": COLD}
    return {
        "injector": feed.live_steam_injector(**given),
        "exhaust injector": feed.exhaust_steam_injector(**given, exhaust_enthalpy=2.62e6),
        "pump": feed.pump_without_heater(**given),
        "closed heater": feed.pump_with_closed_heater(**given, **EXHAUST),
    }


@pytest.mark.parametrize("name", every_device())
def test_heat_of_the_feed_is_the_heat_supplied(name):
    found = every_device()[name]
    water = steam.enthalpy(pressure=PRESSURE, temperature=COLD)
    live = steam.vapor_enthalpy(pressure=PRESSURE)
    assert found.net_enthalpy == pytest.approx(found.enthalpy - found.live_steam * live, rel=1e-12)
    if "injector" in name:
        assert found.tender_water + found.live_steam + found.exhaust_steam == pytest.approx(1.0, rel=1e-12)
        brought = found.tender_water * water + found.live_steam * live + found.exhaust_steam * 2.62e6
        assert found.enthalpy == pytest.approx(brought, rel=1e-12)
    if name == "closed heater":
        left = 2.62e6 - steam.liquid_enthalpy(pressure=1.3e5)
        assert found.enthalpy == pytest.approx(water + found.exhaust_steam * left, rel=1e-12)


def test_injector_returns_the_heat_of_its_steam():
    found = every_device()["injector"]
    assert found.enthalpy_of_net_water == pytest.approx(
        steam.enthalpy(pressure=PRESSURE, temperature=COLD), rel=1e-12
    )
    delivery = steam.temperature_at_enthalpy(pressure=PRESSURE, enthalpy=found.enthalpy)
    assert 330.0 < delivery < 355.0  # 140 to 180 degF, common practice, no source


def test_an_injector_delivers_at_150_degrees():
    """[TEA1919]: water enters the boiler at about 150 degF, from a tender at 60 degF (our reading)."""
    found = every_device()["injector"]
    delivery = steam.temperature_at_enthalpy(pressure=PRESSURE, enthalpy=found.enthalpy)
    assert (delivery - ZERO_CELSIUS) * 1.8 + 32.0 == pytest.approx(150.0, abs=10.0)


def test_a_heater_takes_a_seventh_of_the_exhaust_and_saves_a_tenth_of_the_coal():
    """[DinglerHeater1915]: feed heated from 15 to 90 degC by 1/7 of the exhaust, coal saving 10 %."""
    found = every_device()["closed heater"]
    delivery = steam.temperature_at_enthalpy(pressure=PRESSURE, enthalpy=found.enthalpy)
    assert delivery - ZERO_CELSIUS == pytest.approx(90.0, abs=4.0)
    assert found.exhaust_steam == pytest.approx(1.0 / 7.0, rel=0.06)
    assert 1.0 - relative_coal(found) == pytest.approx(0.10, abs=0.025)


def test_injector_refuses_hot_water():
    with pytest.raises(OutOfRange, match=r"an injector does not lift water of 330\.0 K"):
        feed.live_steam_injector(pressure=PRESSURE, tender_water_temperature=330.0)
    with pytest.raises(OutOfRange, match="does not need exhaust steam"):
        feed.exhaust_steam_injector(
            pressure=PRESSURE,
            tender_water_temperature=COLD,
            exhaust_enthalpy=2.6e6,
            delivery_temperature=295.0,
        )


def relative_coal(water):
    """Heat for each unit of steam that reaches the engine, over that with a pump and no heater."""
    plain = feed.pump_without_heater(pressure=PRESSURE, tender_water_temperature=COLD)

    def heat(each):
        return (steam.vapor_enthalpy(pressure=PRESSURE) - each.enthalpy) / (1.0 - each.live_steam)

    return heat(water) / heat(plain)


def test_coal_of_a_heated_pump_by_the_handbook():
    # [Babcock1919], feeding devices, from memory: a pump with a heater to 200 degF uses 0.879 of the plain pump's
    # coal
    delivery = ZERO_CELSIUS + (200.0 - 32.0) / 1.8
    water = steam.enthalpy(pressure=PRESSURE, temperature=delivery)
    live = steam.vapor_enthalpy(pressure=PRESSURE)
    at_200 = feed.FeedWater(
        enthalpy=water,
        live_steam=feed.PUMP_STEAM,
        exhaust_steam=0.15,
        tender_water=1.0,
        net_enthalpy=water - feed.PUMP_STEAM * live,
    )
    assert relative_coal(at_200) == pytest.approx(0.879, abs=0.005)
    # the steam of the pump comes from the injector in the same table, 0.985, so this is only a regression test
    assert relative_coal(every_device()["injector"]) == pytest.approx(0.985, abs=0.001)


def test_exhaust_heat_saves_coal():
    devices = every_device()
    for name in ("exhaust injector", "closed heater"):
        assert relative_coal(devices[name]) < 0.92
        assert devices[name].exhaust_steam < 0.16
    assert devices["exhaust injector"].tender_water < 0.9  # its exhaust steam returns as water
    assert devices["closed heater"].tender_water == 1.0
    hottest = steam.saturation_temperature(pressure=1.3e5)
    delivery = steam.temperature_at_enthalpy(pressure=PRESSURE, enthalpy=devices["closed heater"].enthalpy)
    assert COLD < delivery < hottest


def test_little_exhaust_heats_little():
    short = EXHAUST | {"exhaust_available": 0.03}
    found = feed.pump_with_closed_heater(pressure=PRESSURE, tender_water_temperature=COLD, **short)
    assert found.exhaust_steam == 0.03
    assert found.enthalpy < every_device()["closed heater"].enthalpy


def test_exhaust_at_atmospheric_pressure_is_wet_steam():
    assert feed.atmospheric_exhaust_enthalpy() == pytest.approx(
        0.419e6 + 0.95 * 2.2565e6, rel=1e-3
    )  # from memory
