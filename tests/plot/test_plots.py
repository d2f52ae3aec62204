"""Pictures: the right data with the right labels, nothing clipped, no text over another."""

from __future__ import annotations

import itertools
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
from locosim.plot.run import plot_check, plot_run, stations
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
        found = dict((name, place) for place, name in stations(journey))
    # Chainages of the route file: Ambersyke 0.6 km, Hoaram 26.5 km, Quernby 64 km.
    assert found["Ambersyke"] == pytest.approx(0.0)
    assert found["Hoaram"] == pytest.approx(25.9)
    assert found["Quernby"] == pytest.approx(63.4)


def test_what_is_not_clear_is_marked_and_what_is_clear_is_not() -> None:
    answer = answered("harvest_excursion")
    figure = plot_check(answer)
    written = {t.get_text() for axes in figure.axes for t in axes.texts}
    for finding in answer.findings:
        marked = f"{finding.verdict}: {finding.rule}" in written
        assert marked == (finding.verdict != "clear" and finding.chainage is not None)


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
