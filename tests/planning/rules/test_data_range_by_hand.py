"""Figures outside published data on made-up runs: engine and vehicles, thin air, and the end of the map."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.journey.kernel.arrays import MAP_END, STEAM
from locosim.model import CustomResistance
from locosim.physics.resistance.laws import PublishedRange
from locosim.planning.finding import CLEAR, NOTE
from locosim.planning.rules import data_range

PLAN = trials.excursion(
    trials.line([(8000.0, 0.0)]),
    made_of=trials.train(
        trials.coaches(2, name="one", empty_mass=30e3, people=0, resistance_law="davis_1926_freight"),
        trials.coaches(1, name="two", empty_mass=20e3, people=0, resistance_law="davis_1926_freight"),
    ),
)
ENGINE = PLAN.locomotive
# 19 t on the truck and 51 t of a full tender, on two and four axles
ENGINE_MASS, ENGINE_AXLES = 70e3, 6


def test_the_axles_that_a_law_serves_are_those_of_the_engine_and_of_each_row_of_vehicles() -> None:
    engine, one, two = data_range._carried(PLAN)
    assert (engine.name, engine.law, engine.mass) == ("trial engine", "davis_1926_locomotive", ENGINE_MASS)
    assert engine.axle_load == pytest.approx(ENGINE_MASS / ENGINE_AXLES)
    assert (one.name, one.law, one.mass, one.axle_load) == ("one", "davis_1926_freight", 30e3, 7.5e3)
    assert (two.name, two.mass) == ("two", 20e3)
    measured = replace(ENGINE, carrying_resistance=CustomResistance(a=0.02))
    tanks = replace(ENGINE.tender, axles=0, empty_mass=0.0, length=0.0)
    for other in (measured, replace(ENGINE, truck_axles=0, mass=51e3, tender=tanks)):
        assert [c.name for c in data_range._carried(replace(PLAN, locomotive=other))] == ["one", "two"]
    on_truck = replace(ENGINE, tender=tanks)
    assert next(iter(data_range._carried(replace(PLAN, locomotive=on_truck)))).axle_load == pytest.approx(
        (19e3 + 28e3) / 2
    )


@pytest.mark.parametrize(
    ("limits", "fastest", "expected"),
    [
        ({}, 99.0, []),
        ({"min_axle_load": 7.4e3}, 9.0, [("two", "axle load", 5e3, 7.4e3)]),
        ({"min_axle_load": 7.6e3}, 9.0, [("two", "axle load", 5e3, 7.6e3)]),  # the farther of both
        ({"min_axle_load": 5e3}, 9.0, []),
        ({"min_mass": 25e3}, 9.0, [("two", "mass", 20e3, 25e3)]),
        ({"max_mass": 19e3}, 9.0, [("one", "mass", 30e3, 19e3)]),
        ({"max_mass": 30e3}, 9.0, []),
        ({"max_published_speed": 8.0}, 9.0, [("one", "speed", 9.0, 8.0)]),
        ({"max_published_speed": 9.0}, 9.0, []),
        (
            {"min_axle_load": 6e3, "max_published_speed": 8.0}, 9.0,
            [("one", "speed", 9.0, 8.0), ("two", "axle load", 5e3, 6e3)],
        ),
    ],
)  # fmt: skip
def test_each_figure_of_a_law_is_noted_once_where_it_is_farthest_outside(
    limits: dict[str, float], fastest: float, expected: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(data_range, "PUBLISHED_RANGES", {"davis_1926_freight": PublishedRange(**limits)})
    found = data_range._law_findings(PLAN, fastest)
    figures = [f.because.split("published for this ")[1].split(",")[0].split(";")[0] for f in found]
    shown = [(f.place, figure, f.value, f.limit) for f, figure in zip(found, figures, strict=True)]
    assert sorted(shown) == sorted(expected)
    for each, figure in zip(found, figures, strict=True):
        assert (each.rule, each.verdict) == ("data range", NOTE)
        assert ("grows without limit" in each.because) == (figure == "axle load")
        assert each.remedy.startswith("choose another law")
        # 4 lb for each short ton
        assert each.facts["example"] == (pytest.approx(4.0 * 4.4482216 / 907.18474), "specific_resistance")


def journey(speed: float, *, limit: int = MAP_END, altitude: float = 0.0, draft: Any = None) -> Any:
    excursion = replace(
        PLAN, train=trials.train(trials.coaches(1)), route=replace(PLAN.route, altitude=altitude)
    )
    performance = SimpleNamespace(
        map=SimpleNamespace(max_speed=20.0),
        supply=SimpleNamespace(draft=draft),
        locomotive=ENGINE,
        assumptions="assumed",
    )
    return SimpleNamespace(
        excursion=excursion,
        performance=performance,
        speed=np.array([1.0, speed, 2.0]),
        limit=np.array([STEAM, limit]),
    )


@pytest.mark.parametrize(("speed", "verdict"), [(20.0 * 0.9989, CLEAR), (20.0 * 0.99905, NOTE), (20.0, NOTE)])
def test_a_run_within_a_thousandth_of_the_end_of_the_map_is_held_by_it(speed: float, verdict: str) -> None:
    (found,) = data_range.data_range(journey(speed))
    assert (found.verdict, found.value, found.limit, found.kind) == (verdict, speed, 20.0, "speed")
    assert data_range.data_range(journey(speed, limit=STEAM)) == []


@pytest.mark.parametrize(("thin", "noted"), [(0.81, False), (0.79, True)])
def test_thin_air_is_noted_where_the_fire_needs_more_draft_than_the_front_end_raises(
    thin: float, noted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """0.16 at sea level, and 0.2 raised: enough down to 0.8 of the air."""
    monkeypatch.setattr(data_range, "front_end", lambda *asked: SimpleNamespace(required_ratio=0.16))
    monkeypatch.setattr(data_range, "vacuum_ratio", lambda engine: 0.2)
    monkeypatch.setattr(data_range, "standard_pressure_ratio", lambda *, altitude: {2000.0: thin}[altitude])
    found = data_range.data_range(journey(5.0, limit=STEAM, altitude=2000.0, draft="known"))
    assert len(found) == noted
    for each in found:
        assert (each.rule, each.verdict, each.place) == ("thin air", NOTE, "whole line")
        assert (each.value, each.limit) == (pytest.approx(0.16 / thin), 0.2)
        assert each.facts == {"altitude": (2000.0, "length"), "thin": (thin, "ratio")}
    for other in (
        journey(5.0, limit=STEAM, altitude=0.0, draft="known"),
        journey(5.0, limit=STEAM, altitude=2000.0),
    ):
        assert data_range.data_range(other) == []
