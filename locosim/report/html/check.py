"""The check as one HTML file that needs no network, and no script to be read."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from locosim import __version__
from locosim.model import Vehicle
from locosim.planning.answer import Answer
from locosim.planning.finding import CLEAR, Finding
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION, METHODS
from locosim.report.html import readout
from locosim.report.made_from import made_from, made_from_lines
from locosim.report.text import check as check_text
from locosim.report.text import contingencies as contingency_text
from locosim.report.text import finding as finding_text
from locosim.report.text import run as run_text
from locosim.report.text import stations
from locosim.report.text.engine import engine_lines
from locosim.report.text.layout import in_reader_units
from locosim.units import show

# Ids in a picture that refer to each other; two pictures on a page must not share them.
_SVG_IDS = re.compile(r'(?<=[\s<]id=")|(?<=href="#)|(?<=url\(#)')


class Pictures(NamedTuple):
    """Pictures of the page, as SVG.

    Attributes:
        run: The run.
        run_span: Where the run begins and ends in it, as fractions of the width of the picture [1].
        engine: The speed curve of the engine.
    """

    run: bytes
    run_span: tuple[float, float]
    engine: bytes


def check_html(answer: Answer, pictures: Pictures) -> str:
    """Write the answer to a proposed excursion as a page."""
    journey, performance = answer.journey, answer.performance
    script = readout.script()
    return _template().render(
        version=__version__,
        made_from=made_from_lines(made_from(answer)),
        script=script,
        csp_script_hash=readout.csp_script_hash(script),
        samples=readout.samples_json(journey, *pictures.run_span),
        caution=CAUTION,
        name=answer.excursion.name,
        verdict=answer.verdict,
        summary=[
            line
            for line in (*check_text.summary_lines(answer), contingency_text.departure_line(answer))
            if line
        ],
        flagged=[_finding_block(answer, finding) for finding in answer.findings if finding.verdict != CLEAR],
        run_svg=_inline_svg(pictures.run, "run"),
        stop_headers=[head.replace("\n", ", ") for head in run_text.stop_headers(journey)],
        stops=run_text.stop_rows(journey),
        station_headers=[head.replace("\n", " ") for head in stations.station_headers()],
        stations=stations.station_rows(journey),
        finding_headers=finding_text.HEADERS,
        findings=[_finding_row(answer, finding) for finding in answer.findings],
        steady=check_text.steady_line([f for f in answer.findings if f.verdict == CLEAR]),
        contingency_headers=contingency_text.HEADERS,
        contingencies=contingency_text.contingency_rows(answer),
        contingency_summary=contingency_text.contingency_outcome(answer) if answer.contingencies else "",
        engine=[performance.locomotive.name, *engine_lines(performance)],
        engine_svg=_inline_svg(pictures.engine, "engine"),
        vehicles=[_vehicle(vehicle) for vehicle in answer.excursion.train.vehicles],
        method=f"Method: {METHODS[performance.method]}. "
        + accuracy_text("check", performance.method, made_from(answer)),
        notes=[in_reader_units(note) for note in performance.notes],
        totals=run_text.totals_line(journey),
        ledger_headers=run_text.LEDGER_HEADERS,
        ledgers=run_text.ledger_rows(journey),
    )


def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("locosim.report.html", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("check_page.html")


def _finding_block(answer: Answer, finding: Finding) -> dict[str, Any]:
    """A finding that is not clear, for the page."""
    return {
        "verdict": finding.verdict,
        "rule": finding.rule,
        "place": finding_text.place_text(answer, finding),
        "figures": finding_text.figures_text(finding),
        "lines": [
            finding_text.reason_text(finding),
            *finding_text.band_lines(answer, finding),
            *finding_text.remedy_lines(answer, finding),
        ],
    }


def _finding_row(answer: Answer, finding: Finding) -> tuple[str, ...]:
    """A row of the table of all findings, with mileposts, which tell findings of one rule apart."""
    verdict, rule, _, *figures = finding_text.finding_row(finding)
    return verdict, rule, finding_text.place_text(answer, finding), *figures


def _vehicle(vehicle: Vehicle) -> tuple[str, ...]:
    law = vehicle.resistance_law.replace("_", " ")
    return vehicle.name, str(vehicle.count), show(vehicle.mass, "mass"), law


def _inline_svg(picture: bytes, prefix: str) -> str:
    """An SVG picture as part of the page: without its XML header, with ids of its own."""
    text = picture.decode("utf-8")
    return _SVG_IDS.sub(f"{prefix}-", text[text.index("<svg") :])
