"""The one table of renderers: every result in every medium it can be written in.

A renderer takes a result and returns text, or a figure for `plot`. All of them show values in the system of units in
force; `locosim.units.unit_system` sets it.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from locosim.planning.answer import Answer

# Command and medium to module and function; named by text, so that a command imports only what it uses.
RENDERERS: dict[str, dict[str, str]] = {
    "check": {
        "text": "locosim.report.text.check:check_text",
        "json": "locosim.report.json.check:check_json",
        "plot": "locosim.plot.run:plot_check",
        "html": "locosim.rendering:check_page",
    },
    "run": {
        "text": "locosim.report.text.run:run_text",
        "json": "locosim.report.json.run:run_json",
        "plot": "locosim.plot.run:plot_run",
        "csv": "locosim.report.csv:run_csv",
    },
    "timetable": {
        "text": "locosim.report.text.timetable:timetable_text",
        "json": "locosim.report.json.timetable:timetable_json",
        "plot": "locosim.plot.timetable:plot_timetable",
        "csv": "locosim.report.timetable_csv:timetable_csv",
    },
    "water": {
        "text": "locosim.report.text.water_stops:water_stops_text",
        "json": "locosim.report.json.water_stops:water_stops_json",
        "plot": "locosim.plot.water_stops:plot_water_stops",
        "csv": "locosim.report.supply_table:water_stops_csv",
    },
    "day": {
        "text": "locosim.report.text.day:day_text",
        "json": "locosim.report.json.day:day_json",
        "plot": "locosim.plot.day:plot_day",
        "csv": "locosim.report.day_table:day_csv",
    },
    "helper": {
        "text": "locosim.report.text.helper_plan:helper_plan_text",
        "json": "locosim.report.json.helper_plan:helper_plan_json",
        "plot": "locosim.plot.helper_plan:plot_helper_plan",
        "csv": "locosim.report.pull_table:helper_plan_csv",
    },
    "economy": {
        "text": "locosim.report.text.economy:economy_text",
        "json": "locosim.report.json.economy:economy_json",
        "plot": "locosim.plot.economy:plot_economy",
        "csv": "locosim.report.card_csv:card_csv",
    },
    "fit": {
        "text": "locosim.report.text.fit:fit_text",
        "json": "locosim.report.json.fit:fit_json",
        "plot": "locosim.plot.fit:plot_fit",
        "csv": "locosim.report.fit_table:fit_csv",
    },
    "curve": {
        "text": "locosim.report.text.curve:curve_text",
        "json": "locosim.report.json.curve:curve_json",
        "plot": "locosim.plot.engine:plot_curve",
    },
    "cutoff": {
        "text": "locosim.report.text.cutoff:cutoff_text",
        "json": "locosim.report.json.cutoff:cutoff_json",
        "plot": "locosim.plot.engine:plot_cutoff",
    },
    "diagram": {
        "text": "locosim.report.text.diagram:diagram_text",
        "json": "locosim.report.json.diagram:diagram_json",
        "plot": "locosim.plot.diagram:plot_diagram",
    },
    "boiler": {
        "text": "locosim.report.text.boiler:boiler_text",
        "json": "locosim.report.json.boiler:boiler_json",
        "plot": "locosim.plot.boiler:plot_boiler",
    },
    "test-sheet": {
        "text": "locosim.report.text.test_sheet:sheet_text",
        "json": "locosim.report.json.test_sheet:sheet_json",
        "plot": "locosim.plot.test_sheet:plot_sheet",
    },
    "compare": {
        "text": "locosim.report.text.compare:compare_text",
        "json": "locosim.report.json.compare:compare_json",
        "plot": "locosim.plot.compare:plot_compare",
    },
    "load": {
        "text": "locosim.report.text.load:load_text",
        "json": "locosim.report.json.load:load_json",
        "plot": "locosim.plot.load:plot_load",
        "csv": "locosim.report.load_table:load_csv",
    },
    "risk": {
        "text": "locosim.report.text.risk:risk_text",
        "json": "locosim.report.json.risk:risk_json",
        "plot": "locosim.plot.risk:plot_risk",
        "csv": "locosim.report.risk_table:risk_csv",
    },
    "rating": {
        "text": "locosim.report.text.rating:rating_text",
        "json": "locosim.report.json.rating:rating_json",
        "plot": "locosim.plot.rating:plot_rating",
        "csv": "locosim.report.rating_table:rating_csv",
    },
    "consists": {
        "text": "locosim.report.text.consists:consists_text",
        "json": "locosim.report.json.consists:consists_json",
        "plot": "locosim.plot.consists:plot_consists",
        "csv": "locosim.report.consist_table:consists_csv",
    },
    "vary": {
        "text": "locosim.report.text.vary:vary_text",
        "json": "locosim.report.json.vary:vary_json",
        "plot": "locosim.plot.vary:plot_variation",
        "csv": "locosim.report.vary_table:vary_csv",
    },
    "batch": {
        "text": "locosim.report.text.batch:batch_text",
        "json": "locosim.report.json.batch:batch_json",
        "plot": "locosim.plot.batch:plot_batch",
        "csv": "locosim.report.batch_table:batch_csv",
    },
    "route show": {
        "text": "locosim.report.text.route:route_text",
        "json": "locosim.report.json.route:route_json",
        "plot": "locosim.plot.route:plot_route",
        "csv": "locosim.report.track_chart:track_chart_csv",
    },
    "route make": {
        "text": "locosim.report.text.route:made_route_text",
        "json": "locosim.report.json.route:made_route_json",
        "plot": "locosim.plot.route:plot_made_route",
    },
}


def renderer(command: str, medium: str) -> Callable[..., Any]:
    """The renderer of a command's result in a medium."""
    module, _, name = RENDERERS[command][medium].partition(":")
    found: Callable[..., Any] = getattr(import_module(module), name)
    return found


def file_content(command: str, medium: str, result: Any, suffix: str) -> bytes:
    """A result as the content of a file.

    Args:
        command: Command that made the result.
        medium: `plot`, `csv` or `html`.
        result: The result.
        suffix: Suffix of the file, which gives the format of a picture.
    """
    rendered = renderer(command, medium)(result)
    if medium != "plot":
        return str(rendered).encode()
    from locosim.plot.figure import figure_bytes
    from locosim.report.made_from import made_from, made_from_lines

    return figure_bytes(rendered, suffix, made_from_lines(made_from(result)))


def check_page(answer: Answer) -> str:
    """The answer to a proposed excursion as a page, with pictures of the run and of the engine."""
    from locosim.engine.command_results import compute_speed_curve
    from locosim.engine.speed_curve import usual_speed
    from locosim.plot.engine import plot_curve
    from locosim.plot.figure import figure_bytes
    from locosim.plot.run import plot_check, run_span
    from locosim.report.html.check import Pictures, check_html

    run = plot_check(answer)
    run_svg = figure_bytes(run, ".svg")  # drawn first, which places the panels
    curve = compute_speed_curve(
        answer.performance, step=usual_speed(1.0, answer.performance.locomotive), rail=answer.excursion.rail
    )
    pictures = Pictures(run_svg, run_span(run, answer.journey), figure_bytes(plot_curve(curve), ".svg"))
    return check_html(answer, pictures)
