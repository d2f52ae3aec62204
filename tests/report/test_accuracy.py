"""Every answer states the bands of its figures."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
import trials

import locosim as ls
from locosim.engine.accuracy import bands
from locosim.rendering import RENDERERS
from locosim.report.accuracy import FIGURES, accuracy, accuracy_text
from locosim.report.made_from import MadeFrom

SOURCE = MadeFrom(locomotives=("engine",))


@pytest.fixture(scope="module")
def answers():
    engine = trials.locomotive()
    return {
        "curve": ls.speed_curve(engine, step="20 mph"),
        "cutoff": ls.cutoff_table(engine, "30 mph"),
        "diagram": ls.indicator_diagram(engine, "30 mph", "30 %"),
        "boiler": ls.boiler_table(engine),
        "compare": ls.compare(engine, replace(engine, name="other")),
    }


@pytest.mark.parametrize("command", ["curve", "cutoff", "diagram", "boiler", "compare"])
def test_text_json_and_library_agree(answers, command):
    answer = answers[command]
    text = " ".join(answer.text().split())
    written = json.loads(answer.json())["accuracy"]
    assert [each["figure"] for each in written] == list(answer.accuracy) == list(FIGURES[command])
    for each in written:
        band = answer.accuracy[each["figure"]]
        assert (each["within"], each["tests"]) == (band.within, band.rows)
        assert f"{each['figure']} ±{100 * each['within']:.0f} % (n = {each['tests']})" in text
    assert len(re.findall("Accuracy:", text)) == 1
    assert "80 % of tests outside the fit lie within" in text


def test_the_check_states_water_fuel_and_time_once():
    text = accuracy_text("check", "cycle", SOURCE)
    for word in ("water", "fuel", "times"):
        assert text.count(word) == 1


def test_every_command_that_computes_an_engine_has_bands():
    missing = {name for name in RENDERERS if not name.startswith("route")} - set(FIGURES)
    missing -= {"fit"}  # its constants have intervals of their own
    assert missing == set()


def test_an_anchored_engine_has_the_band_of_anchored_engines():
    anchored = MadeFrom(locomotives=("engine",), anchored=True)
    assert accuracy("curve", "cycle", anchored)["sustained power"] is bands()["sustained_power_anchored"]
    compound = MadeFrom(locomotives=("engine",), compound=True)
    assert accuracy("curve", "cycle", compound)["sustained power"] is bands()["sustained_power_compound"]


def test_the_handbook_says_how_low_it_is():
    text = accuracy_text("curve", "handbook", SOURCE)
    assert "above it" in text
    assert "no band is known" in text
    assert bands()["sustained_power_handbook"].one_sided
