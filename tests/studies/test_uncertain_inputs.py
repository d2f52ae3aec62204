"""Uncertain inputs: what the file gives, the usual ones, the assumptions, and the excursion of a sample."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.engine.accuracy import sustained_power_band
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Crew, Excursion, Outcome, Stop, UncertainInput, Uncertainty
from locosim.model.assumptions import CHANCE, DOUBT, RULE
from locosim.model.uncertainty import USUAL
from locosim.planning.check import run_and_check
from locosim.studies.uncertain_inputs import _READ_WHEN, SampledExcursions, nearby_maps, uncertain_inputs

LINE = trials.line([(4000.0, 0.001), (4000.0, 0.006)], stops=(5000.0,), speed_limit=15.0)


def excursion(
    *inputs: UncertainInput, usual: str = "no", assumptions: str = "none", **changes: Any
) -> Excursion:
    stops = (Stop(station="A"), Stop(station="B", arrive=36900.0), Stop(station="C"))
    made = trials.excursion(LINE, made_of=trials.train(trials.coaches(5)), stops=stops)
    uncertainty = Uncertainty(usual=usual, assumptions=assumptions, inputs=inputs)
    return replace(made, uncertainty=uncertainty, **changes)


def sampled(given: Excursion, *figures: float) -> Excursion:
    return SampledExcursions(given, uncertain_inputs(given).inputs).excursion(np.array(figures))


def test_values_factors_and_differences_apply_to_the_excursion() -> None:
    given = excursion(
        UncertainInput(key="weather.headwind", mean="5 m/s", deviation="1 m/s"),
        UncertainInput(key="weather.temperature", applies_as="difference", mean="0 K", deviation="9 degF"),
        UncertainInput(key="train.vehicles[*].empty_mass", applies_as="factor", mean="1", deviation="2 %"),
    )
    inputs = uncertain_inputs(given).inputs
    assert inputs[1].distribution.deviation == pytest.approx(5.0)  # type: ignore[attr-defined]
    made = sampled(given, 6.5, -4.0, 1.1)
    assert made.weather.headwind == 6.5
    assert made.weather.temperature == pytest.approx(given.weather.temperature - 4.0)
    assert made.train.vehicles[0].empty_mass == pytest.approx(1.1 * given.train.vehicles[0].empty_mass)
    assert made.route is given.route
    assert made.locomotive is given.locomotive


def test_people_are_whole() -> None:
    given = excursion(
        UncertainInput(key="train.vehicles[1].people", applies_as="factor", mean="1", deviation="0.1")
    )
    assert sampled(given, 0.9).train.vehicles[0].people == 43  # of 48


def test_a_rail_of_a_stretch_is_the_worse_of_both() -> None:
    one = UncertainInput(
        key="rail",
        distribution="outcomes",
        outcomes=(Outcome(value="as given", probability=0.5), Outcome(value="wet", probability=0.5)),
        from_station="B",
        to_station="A",
    )
    given = excursion(one)
    assert uncertain_inputs(given).inputs[0].label == "rail between B and A"
    zones = sampled(given, 1.0).route.rail_condition_zones
    stations = {station.name: station.chainage for station in given.route.stations}
    assert [(zone.start, zone.end, zone.rail) for zone in zones] == [(stations["A"], stations["B"], "wet")]
    assert sampled(given, 0.0).route.rail_condition_zones[0].rail == given.rail
    made = SampledExcursions(given, uncertain_inputs(given).inputs)
    assert made.excursion(np.array([1.0])).route is made.excursion(np.array([1.0])).route


def test_an_input_of_the_file_replaces_the_usual_one_of_its_key() -> None:
    found = uncertain_inputs(
        excursion(UncertainInput(key="weather.headwind", mean="9 m/s", deviation="1 m/s"), usual="yes")
    )
    winds = [each for each in found.inputs if each.key == "weather.headwind"]
    assert [each.distribution.mean for each in winds] == [9.0]  # type: ignore[attr-defined]
    assert {"rail", "fuel.heating_value"} <= {each.key for each in found.inputs}


def test_the_usual_rail_is_never_better_than_the_one_given() -> None:
    found = uncertain_inputs(excursion(usual="yes", rail="greasy"))
    assert set(found.inputs[0].outcomes) == {"greasy"}


def test_usual_inputs_that_do_not_apply_are_named() -> None:
    train = trials.train(trials.coaches(5, people=0))
    found = uncertain_inputs(replace(excursion(usual="yes"), train=train))
    assert ("people on board", "there is none") in found.unused
    assert ("load of the cars", "there is none") in found.unused


def test_every_usual_input_says_where_its_figures_come_from() -> None:
    assert all(each.source for each in USUAL)
    assert all("assumed" in each.source or "[" in each.source for each in USUAL)


@pytest.mark.parametrize("wanted", ["all", CHANCE, DOUBT, "none"])
def test_assumptions_are_drawn_by_their_nature(wanted: str) -> None:
    natures = {name: data.metadata["nature"] for name, data in Assumptions.declared().items()}
    found = {each.key.partition(".")[2] for each in uncertain_inputs(excursion(assumptions=wanted)).inputs}
    assert {natures[name] for name in found} == {"all": {CHANCE, DOUBT}, "none": set()}.get(wanted, {wanted})
    assert RULE not in {natures[name] for name in found}


@pytest.mark.parametrize("method", ["cycle", "handbook"])
def test_every_assumption_that_is_read_is_drawn_from_low_to_high(method: str) -> None:
    found = uncertain_inputs(excursion(assumptions="all", method=method))
    drawn = {each.key.partition(".")[2]: each.distribution for each in found.inputs}
    assert {"steam_rate_factor", "superheater_factor", "unburned_factor", "max_back_pressure"} <= set(drawn)
    for name, distribution in drawn.items():
        data = Assumptions.declared()[name].metadata
        assert (distribution.low, distribution.high) == (data["low"], data["high"])  # type: ignore[attr-defined]
    natures = {name: each.metadata["nature"] for name, each in Assumptions.declared().items()}
    assert set(natures) - set(drawn) - set(_READ_WHEN) == {
        n for n, nature in natures.items() if nature == RULE
    }
    assert found.unused == ()


def test_the_error_of_the_model_takes_the_place_of_its_causes() -> None:
    given = excursion(assumptions="all", method="cycle")
    given = replace(given, uncertainty=replace(given.uncertainty, model_error="yes"))
    found = uncertain_inputs(given)
    (power,) = [each for each in found.inputs if each.key == "assumptions.power_factor"]
    # 80 % of published figures lie within the band: as many samples do.
    band = sustained_power_band(method="cycle", compound=False, anchored=False).within
    low, high = power.values(np.array([0.1, 0.9]))
    assert (low, high) == pytest.approx((1.0 / (1.0 + band), 1.0 + band))
    assert {name for name, _ in found.unused} >= {
        "steam_rate_factor",
        "superheater_factor",
        "unburned_factor",
    }
    assert not {"assumptions.steam_rate_factor", "assumptions.superheater_factor"} & {
        e.key for e in found.inputs
    }


def test_a_band_with_all_published_figures_on_one_side_is_no_distribution() -> None:
    given = excursion(method="handbook")
    given = replace(given, uncertainty=replace(given.uncertainty, model_error="yes"))
    assert dict(uncertain_inputs(given).unused)["error of the model"].startswith(
        "all published figures lie on one"
    )


def test_maps_are_interpolated_where_an_assumption_of_a_map_is_drawn() -> None:
    for assumptions, method, wanted in (("all", "handbook", False), ("none", "cycle", False)):
        given = excursion(assumptions=assumptions, method=method)
        assert (nearby_maps(given, uncertain_inputs(given).inputs) is not None) is wanted


# What is left out as not read moves no figure; with what reads it, it is drawn.
@pytest.mark.parametrize(
    "habit", ["hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops"]
)
def test_assumptions_left_out_as_not_read_change_nothing(habit: str) -> None:
    given = excursion(crew=Crew(habit=habit), method="handbook")
    drawn = {
        each.key for each in uncertain_inputs(replace(given, uncertainty=Uncertainty(usual="no"))).inputs
    }
    before = [(f.rule, f.place, f.value) for f in run_and_check(given).findings]
    for name in _READ_WHEN:
        data = Assumptions.declared()[name].metadata
        if f"assumptions.{name}" in drawn or data["nature"] == RULE:
            continue
        for end in (data["low"], data["high"]):
            changed = replace(given, assumptions=replace(given.assumptions, **{name: end}))
            assert [(f.rule, f.place, f.value) for f in run_and_check(changed).findings] == before, name


@pytest.mark.parametrize(
    ("one", "problem"),
    [
        (UncertainInput(key="weather.headwnd", mean="1 m/s", deviation="1 m/s"), "did you mean 'headwind'"),
        (UncertainInput(key="weather", mean="1 m/s", deviation="1 m/s"), "not a single value"),
        (UncertainInput(key="rail", mean="1", deviation="1"), 'write distribution = "outcomes"'),
        (UncertainInput(key="weather.headwind", mean="3", deviation="1 m/s"), "mean: "),
        (UncertainInput(key="weather.headwind", mean="3 m/s", deviation="0 m/s"), "must be above 0"),
        (UncertainInput(key="train.vehicles.load", mean="1 t", deviation="1 t"), r"write vehicles\[1\]"),
        (UncertainInput(key="train.vehicles[7].load", mean="1 t", deviation="1 t"), "has 1 items"),
        (
            UncertainInput(
                key="weather.headwind", distribution="triangular", low="1 m/s", likely="5 m/s", high="3 m/s"
            ),
            "must lie between",
        ),
        (
            UncertainInput(key="weather.headwind", distribution="uniform", low="4 m/s", high="3 m/s"),
            "above low",
        ),
        (
            UncertainInput(key="crew.max_speed", applies_as="factor", mean="1", deviation="0.1"),
            "the file gives no value",
        ),
        (
            UncertainInput(
                key="rail",
                distribution="outcomes",
                outcomes=(Outcome(value="wett", probability=1.0),),
            ),
            "did you mean 'wet'",
        ),
        (
            UncertainInput(
                key="rail",
                distribution="outcomes",
                outcomes=(Outcome(value="wet", probability=1.0),),
                from_station="A",
                to_station="Nowhere",
            ),
            "must be a station",
        ),
    ],
)
def test_an_input_that_does_not_fit_is_named(one: UncertainInput, problem: str) -> None:
    with pytest.raises(OutOfRange, match=problem) as refused:
        uncertain_inputs(excursion(one))
    assert "uncertainty.inputs[1]" in str(refused.value)


def test_figures_of_another_distribution_are_refused() -> None:
    with pytest.raises(OutOfRange, match="does not belong to"):
        UncertainInput(
            key="weather.headwind", distribution="uniform", low="1 m/s", high="2 m/s", mean="1 m/s"
        )
    with pytest.raises(OutOfRange, match="is required"):
        UncertainInput(key="weather.headwind", mean="1 m/s")
    with pytest.raises(OutOfRange, match="add to 1"):
        UncertainInput(key="rail", distribution="outcomes", outcomes=(Outcome(value="wet", probability=0.5),))
    one = UncertainInput(key="weather.headwind", mean="1 m/s", deviation="1 m/s")
    with pytest.raises(OutOfRange, match="given twice"):
        Uncertainty(inputs=(one, one))
