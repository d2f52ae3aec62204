"""Pictures: the right data with the right labels, nothing clipped, no text over another."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from locosim.engine.command_results import compute_cutoff_table, compute_speed_curve
from locosim.engine.indicator_diagram import indicator_diagram
from locosim.engine.performance import Performance, compute_performance
from locosim.planning.answer import Answer, check_excursion
from locosim.plot.diagram import plot_diagram
from locosim.plot.engine import plot_curve, plot_cutoff
from locosim.plot.figure import figure_bytes
from locosim.plot.run import plot_check, plot_run
from locosim.plot.station_names import spread, stations
from locosim.scenario import load_excursion, load_locomotive
from locosim.units import SYSTEMS, unit_system

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
NAMES = ("spring_special", "summit_express", "winter_freight", "harvest_excursion")


@cache
def answered(name: str) -> Answer:
    excursion = load_excursion(SCENARIOS / "excursions" / f"{name}.toml", ["method=handbook"])
    return check_excursion(excursion, contingencies=False)


@cache
def engine(name: str) -> Performance:
    return compute_performance(load_locomotive(SCENARIOS / "engines" / f"{name}.toml"), method="handbook")


def drawn(figure: Figure) -> Figure:
    FigureCanvasAgg(figure).draw()
    return figure


def texts(figure: Figure) -> list[Text]:
    """Texts that are drawn: figures of ticks beyond the ends of an axis are not."""
    beyond = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                if not low <= tick.get_loc() <= high:
                    beyond |= {tick.label1, tick.label2}
    return [t for t in figure.findobj(Text) if t.get_visible() and t.get_text().strip() and t not in beyond]


def hold_within(figure: Figure) -> None:
    """No text reaches out of the picture."""
    width, height = figure.canvas.get_width_height()
    for text in texts(figure):
        box = text.get_window_extent()
        if box.width > 0:
            inside = box.x0 >= -1 and box.y0 >= -1 and box.x1 <= width + 1 and box.y1 <= height + 1
            assert inside, f"{text.get_text()!r} is clipped at {box}"


def hold_apart(written: list[Text]) -> None:
    """No level text covers another."""
    boxes = [(t.get_text(), t.get_window_extent()) for t in written]
    for (one, a), (other, b) in itertools.combinations(boxes, 2):
        assert not a.padded(-1).overlaps(b.padded(-1)), f"{one!r} and {other!r} overlap"


def hold_units(axes: Axes) -> None:
    name = axes.get_ylabel()
    assert name == "limited by" or ("[" in name and name.endswith("]")), name


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", NAMES)
def test_a_run_is_whole_and_every_axis_has_its_unit(name: str, system: str) -> None:
    answer = answered(name)
    with unit_system(system):
        figure = drawn(plot_check(answer))
    hold_within(figure)
    drawn_texts = texts(figure)
    for axes in figure.axes:
        hold_units(axes)
        hold_apart([t for t in axes.texts if t.get_rotation() == 0.0])
        hold_apart([t for t in axes.get_yticklabels() if t in drawn_texts])
        legend = axes.get_legend()
        if legend is not None:
            hold_apart(legend.get_texts())
    assert answer.excursion.name in figure.get_suptitle()


def test_a_run_shows_speed_over_distance_in_the_units_asked_for() -> None:
    journey = answered("spring_special").journey
    with unit_system("metric"):
        figure = plot_run(journey)
    line = next(line for line in figure.axes[0].lines if line.get_label() == "run")
    assert np.allclose(line.get_xdata(), (journey.chainage - journey.chainage[0]) / 1000)
    assert np.allclose(line.get_ydata(), journey.speed * 3.6)


def test_stations_stand_where_they_are() -> None:
    journey = answered("spring_special").journey
    with unit_system("metric"):
        found = {station.name: station.place for station in stations(journey)}
    # Chainages of the route file: Ambersyke 0.6 km, Hoaram 26.5 km, Quernby 64 km.
    assert found["Ambersyke"] == pytest.approx(0.0)
    assert found["Hoaram"] == pytest.approx(25.9)
    assert found["Quernby"] == pytest.approx(63.4)


def test_what_is_tight_or_stop_is_marked_and_what_is_clear_is_not() -> None:
    answer = answered("harvest_excursion")
    figure = plot_check(answer)
    profile = next(axes for axes in figure.axes if axes.get_ylabel().startswith("elevation"))
    written = " ".join(t.get_text() for t in profile.texts)
    for finding in answer.findings:
        if finding.chainage is not None and finding.rule not in (
            "climb",
            "steam",
        ):  # both verdicts, and a note
            assert (finding.rule in written) == (finding.verdict in ("tight", "stop")), finding.rule
    assert "stop: stall, climb" in written
    assert "tight: climb" in written


def test_a_stalled_run_shows_the_line_to_its_end_and_says_so_in_the_title() -> None:
    answer = answered("harvest_excursion")
    figure = drawn(plot_check(answer))
    line = answer.excursion.route_as_run
    whole = line.station("Dunlarch").chainage - line.station("Fennick Junction").chainage
    assert figure.axes[0].get_xlim() == pytest.approx((0.0, whole / 1609.344))
    assert answer.journey.distance < 0.5 * whole
    assert "Dunlarch" in {t.get_text() for t in figure.axes[0].texts}
    assert figure.get_suptitle().startswith(f"{answer.excursion.name}: STOP, stalled at milepost 25.")
    assert plot_run(answer.journey).get_suptitle().startswith(f"{answer.excursion.name}: stalled at milepost")


def test_grades_and_mileposts_are_on_the_profile() -> None:
    answer = answered("harvest_excursion")
    figure = drawn(plot_check(answer))
    profile = next(axes for axes in figure.axes if axes.get_ylabel().startswith("elevation"))
    written = {t.get_text() for t in profile.texts}
    assert "1.84" in written  # the ruling grade, percent, of the bundled line
    assert "grade [%]" in written
    (posts,) = profile.child_axes
    assert posts.get_xlabel() == "milepost [mi]"
    # The line begins at milepost 0.5 and the panel at 0.
    assert posts.get_xlim()[0] == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("seed", range(10))
def test_names_of_close_stations_do_not_collide(seed: int) -> None:
    """Ten lines with stations added at random, close together: lines of type lie apart, across their direction."""
    chance = random.Random(seed)
    journey = answered(chance.choice(NAMES)).journey
    route = journey.excursion.route
    low, high = route.stations[0].chainage, route.stations[-1].chainage
    places = sorted({round(chance.uniform(low, high), -2) for _ in range(chance.choice([5, 15, 60]))})
    known = [station.chainage for station in route.stations]
    added = [
        replace(route.stations[0], name=f"{'Long ' * chance.randint(0, 4)}Siding {k}", chainage=place)
        for k, place in enumerate(places)
        if all(abs(place - other) > 50.0 for other in known)
    ]
    every = tuple(sorted([*route.stations, *added], key=lambda station: station.chainage))
    crowded = replace(journey, excursion=replace(journey.excursion, route=replace(route, stations=every)))
    figure = drawn(plot_run(crowded))
    hold_within(figure)
    names = [t for t in figure.axes[0].texts if t.get_rotation() > 0.0]
    for stop in journey.excursion.stops:
        assert stop.station in {t.get_text() for t in names}
    inches = (figure.axes[0].transData.transform((name.xy[0], 0.0))[0] / figure.dpi for name in names)
    anchors = sorted(72.0 * x + name.xyann[0] for x, name in zip(inches, names, strict=True))
    # Across the direction of the type, at 55 degrees, there is more than the height of a line of 8.5 points.
    assert np.min(np.diff(anchors)) * np.sin(np.radians(55)) > 8.5


def test_places_are_moved_apart_no_farther_than_they_must() -> None:
    """By hand: three at 10 with a spacing of 4 go to 6, 10 and 14; one far away stays."""
    assert spread(np.array([10.0, 10.0, 10.0, 40.0]), 4.0) == pytest.approx([6.0, 10.0, 14.0, 40.0])
    assert spread(np.zeros(0), 4.0).size == 0


def test_a_train_that_does_not_start_gives_a_sentence_and_no_panels() -> None:
    excursion = load_excursion(
        SCENARIOS / "excursions" / "spring_special.toml", ["method=handbook", "train.vehicles[2].count=250"]
    )
    journey = check_excursion(excursion, contingencies=False).journey
    assert journey.outcome == "stalled"
    figure = drawn(plot_run(journey))
    assert any("does not leave the first station" in text.get_text() for text in texts(figure))
    hold_within(figure)


def test_a_run_without_a_transient_boiler_leaves_its_panels_out() -> None:
    from locosim.journey.run import run_journey

    answer = answered("spring_special")
    plain = run_journey(answer.excursion, answer.performance, transient_boiler=False)
    labels = [axes.get_ylabel() for axes in drawn(plot_run(plain)).axes]
    assert not any("pressure" in label for label in labels)
    assert any("speed" in label for label in labels)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ["campion", "teasel", "monkshood"])
def test_pictures_of_engines_are_whole(name: str, system: str) -> None:
    performance = engine(name)
    curve = compute_speed_curve(performance, step=2.0)
    cutoffs = compute_cutoff_table(performance, speed=curve.points[len(curve.points) // 2].speed)
    with unit_system(system):
        figures = plot_curve(curve), plot_cutoff(cutoffs)
    for figure in figures:
        drawn(figure)
        hold_within(figure)
        for axes in figure.axes:
            hold_units(axes)
            hold_apart([t for t in axes.texts if t.get_rotation() == 0.0])
        assert performance.locomotive.name in figure.axes[0].get_title(loc="left")


def test_at_rest_the_panel_of_steam_for_work_says_that_none_is_done() -> None:
    performance = engine("teasel")
    figure = drawn(plot_cutoff(compute_cutoff_table(performance, speed=0.0)))
    hold_within(figure)
    pull, _, work = figure.axes
    assert np.all(np.asarray(pull.lines[0].get_ydata()) > 0.0)
    assert [t.get_text() for t in work.texts] == ["no power"]
    assert not work.get_yticks().size


def test_a_picture_is_the_same_byte_for_byte() -> None:
    journey = answered("spring_special").journey
    for suffix in (".png", ".svg", ".pdf"):
        pair = [figure_bytes(plot_run(journey), suffix, ["made from a file"]) for _ in range(2)]
        assert pair[0] == pair[1]


def test_a_picture_names_what_it_was_made_from_below_the_panels_and_in_its_metadata() -> None:
    line = "Files (SHA-256): " + ", ".join(
        f"scenarios/engines/engine_{i}.toml (0123456789ab)" for i in range(9)
    )
    journey = answered("spring_special").journey
    figure = plot_run(journey)
    height = figure.get_size_inches()[1]
    assert line.encode() in figure_bytes(figure, ".png", [line])
    assert figure.get_size_inches()[1] > height
    drawn(figure)
    hold_within(figure)
    (footer,) = figure.texts[1:]  # after the title
    assert footer.get_text().replace("\n", " ") == line
    lowest = min(axes.get_tightbbox().y0 for axes in figure.axes)
    assert footer.get_window_extent().y1 < lowest
    assert line.encode() in figure_bytes(plot_run(journey), ".svg", [line])


@pytest.mark.parametrize(("speed", "cutoff"), [(1.4, 0.40), (1.4, 0.80), (18.0, 0.25), (18.0, 0.60)])
def test_nothing_lies_over_the_curves_of_a_diagram_and_none_leaves_it(speed: float, cutoff: float) -> None:
    point = indicator_diagram(
        load_locomotive(SCENARIOS / "engines" / "campion.toml"), speed=speed, cutoff=cutoff, throttle=1.0
    )
    figure = drawn(plot_diagram(point))
    hold_within(figure)
    axes = figure.axes[0]
    legend = axes.get_legend()
    assert legend is not None
    hold_apart([*legend.get_texts(), axes.xaxis.label])
    assert not legend.get_window_extent().overlaps(axes.get_window_extent())
    low, high = axes.get_ylim()
    for line in axes.lines:
        assert low <= np.min(line.get_ydata())
        assert np.max(line.get_ydata()) <= high
